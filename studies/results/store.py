"""The result file: one netCDF with units, provenance and checksums, written whole or not at all.

Any netCDF reader opens it; `docs/results-format.md` says what stands in it.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from .content import content_hash
from .kept_files import is_kept_file
from .provenance import text_hash
from .sealed import FORMAT, fault_of, write_sealed

FORMAT_VERSION = (
    2  # 1 kept neither the files a config names, nor the design a study starts from, nor a content hash
)

_REQUIRED = ("title", "config", "config_hash", "model_hash", "versions", "seed", "created", "counts")
# Times are kept as whole nanoseconds, which lose nothing; xarray would else pick a unit from the data.
_TIME_ENCODING = {"units": "nanoseconds since 1970-01-01", "dtype": "int64"}


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
    refuse_missing_folder(path)
    stored = checked(dataset, path)
    write_sealed(
        path,
        lambda partial: stored.to_netcdf(partial, engine="h5netcdf", encoding=encoding_of(stored)),
        lambda partial: trusted(_opened(partial), partial),
    )


def read(path: Path) -> xr.Dataset:
    """A result that was written by `write`, in memory, checked against its checksums.

    Raises
    ------
    StoreError
        No such file; no result of ours; a newer format; damaged.
    """
    refuse_damaged(path)
    return trusted(_opened(path), path)


def refuse_damaged(path: Path) -> None:
    """Raise a `StoreError` that says what keeps a file from being read, unless it is whole."""
    fault = fault_of(path)
    if fault:
        raise StoreError(f"{path} {fault}")


def _opened(path: Path) -> xr.Dataset:
    with xr.open_dataset(path, engine="h5netcdf", decode_timedelta=False) as opened:
        return opened.load()


def checked(dataset: xr.Dataset, path: Path) -> xr.Dataset:
    """A dataset as it will stand in a file, or every fault that keeps it from one."""
    faults = list(_faults(dataset))
    if faults:
        raise StoreError(f"{path} not written: " + "; ".join(faults))
    stored = dataset.drop_encoding().assign_attrs(format=FORMAT, format_version=FORMAT_VERSION)
    return stored.assign_attrs(content_hash=content_hash(stored))


def trusted(dataset: xr.Dataset, path: Path) -> xr.Dataset:
    """A dataset as it came out of a whole file, unless its format or its numbers are not what they should be."""
    refuse_newer(dataset.attrs, path)
    if dataset.attrs.get("format") != FORMAT:
        raise StoreError(f"{path} holds several results, this wants one; noonhearth show lists them")
    if dataset.attrs["format_version"] > 1 and dataset.attrs["content_hash"] != content_hash(dataset):
        raise StoreError(f"{path} does not hold the numbers its content_hash speaks of; run the study again")
    return dataset.drop_encoding()


def refuse_newer(attributes: Mapping[Any, Any], path: Path) -> None:
    """Refuse what a later version of this program wrote: what it means by a name may have changed."""
    version = attributes.get("format_version", 1)
    if version > FORMAT_VERSION:
        raise StoreError(
            f"{path} has format version {version}; this program reads up to version {FORMAT_VERSION}: "
            "update noonhearth"
        )


def refuse_missing_folder(path: Path) -> None:
    """Refuse to write where there is no folder."""
    if not path.parent.is_dir():
        raise StoreError(f"{path} not written: there is no folder {path.parent}")


def encoding_of(dataset: xr.Dataset) -> dict[Any, dict[str, Any]]:
    """How the variables of a dataset are kept in a file."""
    encoding: dict[Any, dict[str, Any]] = {}
    for name, variable in dataset.variables.items():
        if variable.dtype.kind == "M":
            encoding[name] = dict(_TIME_ENCODING)
        elif variable.dtype.kind == "f":
            encoding[name] = {"_FillValue": None}  # nan is nan; a fill value would add an attribute
        elif is_kept_file(variable) and variable.size:
            encoding[name] = {"zlib": True, "complevel": 9}
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
