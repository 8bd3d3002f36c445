"""What came out the second time beside what a result says, to the last bit."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import source_hash
from .content import APART, plain_item
from .kept_files import without_files
from .provenance import STAMPED


@dataclass(frozen=True, kw_only=True)
class Rerun:
    """What came of making a result, or a row of it, once more.

    Parameters
    ----------
    what : str
        What was made again.
    compared : int
        How many numbers and texts were compared.
    differences : tuple of str
        A sentence for everything that is not the same to the last bit.
    notes : tuple of str
        What else is not as it was: the model, the libraries.
    """

    what: str
    compared: int
    differences: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def same(self) -> bool:
        """Whether everything came out the same to the last bit."""
        return not self.differences

    def sentences(self) -> list[str]:
        """What came of it, in words."""
        if self.same:
            return [
                f"{self.what}, made again: all {self.compared} values the same to the last bit.",
                *self.notes,
            ]
        why = self.notes or (
            "Model and libraries are as they were: it is another processor, or a fault here.",
        )
        return [f"{self.what}, made again: not the same.", *self.differences, *why]


@dataclass(frozen=True, kw_only=True)
class RowAgain:
    """A row as it is stored, and as it came out now: by name, number and unit."""

    what: str
    stored: Mapping[str, float]
    now: Mapping[str, float]
    units: Mapping[str, str]


def compared_row(row: RowAgain, notes: tuple[str, ...]) -> Rerun:
    """One row beside itself."""
    differences = []
    for name, stored in row.stored.items():
        if _apart(np.array([stored]), np.array([row.now[name]])).any():
            unit = row.units.get(name, "1")
            unit = "" if unit == "1" else f" {unit}"
            differences.append(f"{name}: {stored!r}{unit} in the file, {row.now[name]!r}{unit} now.")
    return Rerun(what=row.what, compared=len(row.stored), differences=tuple(differences), notes=notes)


def compared(
    stored: xr.Dataset, now: xr.Dataset, notes: tuple[str, ...], place: tuple[int, ...] | None = None
) -> Rerun:
    """A whole result, or one place of it along the dimensions of `status`, beside itself.

    What only tells where it came from is left out.
    """
    what = f"The study {stored.attrs['study_name']}"
    stored = without_files(stored)
    if place is not None:
        at = dict(zip(stored["status"].dims, place, strict=True))
        what += ", " + ", ".join(f"{dimension} {number}" for dimension, number in at.items())
        stored, now = (
            dataset.isel({dimension: number for dimension, number in at.items() if dimension in dataset.dims})
            for dataset in (stored, now)
        )
    differences = [*_variables_apart(stored, now), *_attributes_apart(stored.attrs, now.attrs)]
    return Rerun(
        what=what,
        compared=sum(variable.size for variable in stored.variables.values()),
        differences=tuple(differences),
        notes=notes,
    )


def _variables_apart(stored: xr.Dataset, now: xr.Dataset) -> Iterator[str]:
    for name in sorted(map(str, {*stored.variables, *now.variables})):
        if name not in stored.variables or name not in now.variables:
            yield f"{name} is there only {'now' if name in now.variables else 'in the file'}."
            continue
        one, other = stored[name].values, now[name].values
        if one.shape != other.shape:
            yield f"{name} has the shape {one.shape} in the file, {other.shape} now."
            continue
        apart = _apart(one.ravel(), other.ravel())
        if apart.any():
            first = int(np.argmax(apart))
            a, b = one.ravel()[first], other.ravel()[first]
            yield f"{name}: {apart.sum()} of {apart.size} values differ, first {a!s} in the file, {b!s} now."


def _apart(one: NDArray[Any], other: NDArray[Any]) -> NDArray[np.bool_]:
    """Where two arrays differ in any bit; nan is nan."""
    if one.dtype.kind == other.dtype.kind == "f" and one.dtype == other.dtype:
        bits = f"u{one.dtype.itemsize}"
        return np.asarray((one.view(bits) != other.view(bits)) & ~(np.isnan(one) & np.isnan(other)))
    return np.asarray(one.astype(str) != other.astype(str))


def _attributes_apart(stored: Mapping[Any, Any], now: Mapping[Any, Any]) -> Iterator[str]:
    for name in sorted(map(str, {*stored, *now} - {*STAMPED, *APART})):
        one, other = plain_item(stored.get(name)), plain_item(now.get(name))
        if repr(one) != repr(other):  # so that nan is itself
            yield f"Attribute {name}: {one} in the file, {other} now."


def notes_on(dataset: xr.Dataset) -> tuple[str, ...]:
    """What is not as it was when a result was made, a sentence each."""
    notes = []
    then, now = str(dataset.attrs["model_hash"]), source_hash()
    if then != now:
        notes.append(f"The model has changed: it was {then}, now it is {now}.")
    for package, number in json.loads(dataset.attrs["versions"]).items():
        current = _version(package)
        if current and current != number:
            notes.append(f"{package} was {number}, now it is {current}.")
    return tuple(notes)


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None
