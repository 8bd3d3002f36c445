"""The result file: one netCDF with units, provenance and a checksum, written whole or not at all.

Any netCDF reader opens it. Its last bytes, behind the end that HDF5 keeps in its own header and reads up to,
are a line with the SHA-256 of all bytes before. So a file opened here is known to be whole before any library
looks into it, and a damaged one cannot take that library down.
"""

from __future__ import annotations

import datetime
import hashlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from .provenance import text_hash

FORMAT = "noonhearth result"
FORMAT_VERSION = 1

_REQUIRED = ("title", "config", "config_hash", "model_hash", "versions", "seed", "created", "counts")
_HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"
# Times are kept as whole nanoseconds, which lose nothing; xarray would else pick a unit from the data.
_TIME_ENCODING = {"units": "nanoseconds since 1970-01-01", "dtype": "int64"}
_SEAL = b"\nnoonhearth sha256 "
_SEAL_LENGTH = len(_SEAL) + 64 + 1


class StoreError(ValueError):
    """A dataset that may not be written, or a file that cannot be used; the message says which and why."""


def write(dataset: xr.Dataset, path: Path) -> None:
    """Write a result, so that at any moment there is the old file, or the new one, or none.

    Every variable needs `units` and `long_name`; attributes are text or numbers; the provenance set by
    `provenance.stamp` must be there.

    Raises
    ------
    StoreError
        Names the variable or attribute and what is wrong with it; or the folder that is missing.
    """
    faults = list(_faults(dataset))
    if faults:
        raise StoreError(f"{path} not written: " + "; ".join(faults))
    if not path.parent.is_dir():
        raise StoreError(f"{path} not written: there is no folder {path.parent}")
    stored = dataset.drop_encoding().assign_attrs(format=FORMAT, format_version=FORMAT_VERSION)
    # Not tempfile: it would make a file that only its owner may read, and the result would stay so.
    partial = path.with_name(f".{path.name}.{secrets.token_hex(8)}.partial")
    try:
        stored.to_netcdf(partial, engine="h5netcdf", encoding=_encoding(stored))
        with partial.open("rb+") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            file.write(_SEAL + digest.encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
        os.replace(partial, path)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise


def read(path: Path) -> xr.Dataset:
    """A result that was written by `write`, in memory, checked against its checksum.

    Raises
    ------
    StoreError
        No such file; no result of ours; a newer format; damaged.
    """
    if not path.is_file():
        raise StoreError(f"there is no file {path}")
    fault = _damage(path.read_bytes())
    if fault:
        raise StoreError(f"{path} {fault}")
    with xr.open_dataset(path, engine="h5netcdf", decode_timedelta=False) as opened:
        dataset = opened.load()
    version = dataset.attrs["format_version"]
    if version != FORMAT_VERSION:
        raise StoreError(f"{path} has format version {version}; this program reads version {FORMAT_VERSION}")
    return dataset.drop_encoding()


def _damage(contents: bytes) -> str | None:
    """What is wrong with the bytes of a file, or None if they are a whole result."""
    if not contents:
        return "is empty"
    if not contents.startswith(_HDF5_SIGNATURE):
        return "is not a netCDF-4 file, so no result of this program"
    body, seal = contents[:-_SEAL_LENGTH], contents[-_SEAL_LENGTH:]
    if seal == _SEAL + hashlib.sha256(body).hexdigest().encode() + b"\n":
        return None
    if FORMAT.encode() not in contents:
        return "is a netCDF file, but no result of this program"
    return "is damaged, or was changed by another program: run the study again, or take a copy that is whole"


def _encoding(dataset: xr.Dataset) -> dict[Any, dict[str, Any]]:
    encoding: dict[Any, dict[str, Any]] = {}
    for name, variable in dataset.variables.items():
        if variable.dtype.kind == "M":
            encoding[name] = dict(_TIME_ENCODING)
        elif variable.dtype.kind == "f":
            encoding[name] = {"_FillValue": None}  # nan is nan; a fill value would add an attribute
    return encoding


def _faults(dataset: xr.Dataset) -> Iterator[str]:
    """Everything that keeps a dataset from being written."""
    yield from (f"attribute {name} is missing" for name in _REQUIRED if name not in dataset.attrs)
    if "config_hash" in dataset.attrs and dataset.attrs["config_hash"] != text_hash(
        str(dataset.attrs.get("config"))
    ):
        yield "config_hash is not the hash of config"
    if "created" in dataset.attrs and not _is_utc(str(dataset.attrs["created"])):
        yield 'created is not a time in UTC such as "2026-03-01T12:00:00Z"'
    for name, value in dataset.attrs.items():
        fault = _attribute_fault(value)
        if fault:
            yield f"attribute {name} {fault}"
    for name, variable in dataset.variables.items():
        yield from (f"variable {name}: {fault}" for fault in _variable_faults(variable))


def _is_utc(text: str) -> bool:
    try:
        moment = datetime.datetime.fromisoformat(text)
    except ValueError:
        return False
    return moment.utcoffset() == datetime.timedelta(0)


def _variable_faults(variable: xr.Variable) -> Iterator[str]:
    kind = variable.dtype.kind
    texts = kind == "O" and all(isinstance(item, str) for item in variable.values.ravel())
    if kind == "b":
        yield "true and false are not kept; use int8 with 1 and 0"
    elif kind == "m":
        yield "durations are kept as plain seconds"
    elif kind not in "iufUM" and not texts:
        yield f"cannot hold values of type {variable.dtype}"
    needed = ("long_name",) if kind == "M" else ("units", "long_name")
    for name in needed:
        if not isinstance(variable.attrs.get(name), str) or not variable.attrs[name]:
            yield f"has no {name}"
    for name, value in variable.attrs.items():
        fault = _attribute_fault(value)
        if fault:
            yield f"attribute {name} {fault}"


def _attribute_fault(value: Any) -> str | None:
    if isinstance(value, (bool, np.bool_)):
        return "is true or false; use 1 and 0"
    if value is None:
        return "is None; leave it out"
    if isinstance(value, (str, int, float, np.integer, np.floating)):
        return None
    if isinstance(value, (list, tuple, np.ndarray)):
        array = np.asarray(value)
        if array.ndim == 1 and array.size and array.dtype.kind in "if":
            return None
    return f"is a {type(value).__name__}; use text (JSON for anything nested), a number or a list of numbers"


def describe(dataset: xr.Dataset) -> str:
    """What a result holds, as a plain table."""
    lines = [str(dataset.attrs.get("title", "untitled"))]
    lines += [
        f"{name}: {dataset.attrs[name]}" for name in ("created", "seed", "counts") if name in dataset.attrs
    ]
    rows = [("name", "over", "unit", "least", "most", "meaning")]
    for name, variable in sorted(dataset.variables.items(), key=lambda item: str(item[0])):
        over = " x ".join(f"{dim} {dataset.sizes[dim]}" for dim in variable.dims)
        least, most = _span(variable.values)
        unit, meaning = variable.attrs.get("units", ""), variable.attrs.get("long_name", "")
        rows.append((str(name), over, str(unit), least, most, str(meaning)))
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    table = [
        "  ".join(cell.ljust(width) for cell, width in zip(r, widths, strict=True)).rstrip() for r in rows
    ]
    return "\n".join([*lines, "", *table])


def _span(values: np.ndarray[Any, Any]) -> tuple[str, str]:
    """Least and most of an array as text; of words, in alphabetical order."""
    if values.dtype.kind == "f":
        values = values[np.isfinite(values)]
    if values.size == 0:
        return "-", "-"
    if values.dtype.kind in "UO":
        words = sorted(map(str, values.ravel()))
        return words[0], words[-1]
    least, most = values.min(), values.max()
    return (f"{least:.6g}", f"{most:.6g}") if values.dtype.kind in "iuf" else (str(least), str(most))
