"""The result file: one netCDF with units, provenance and a checksum, written whole or not at all.

Any netCDF reader opens it. Opened here it is also checked: that it is ours, that its format is known,
and that its contents are those that were written.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import os
import tempfile
from collections.abc import Iterator, Mapping
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
# What the HDF5 stack is seen to raise on damaged files.
_DAMAGE = (OSError, ValueError, KeyError, IndexError, TypeError, AttributeError, RuntimeError, MemoryError)


class StoreError(ValueError):
    """A dataset that may not be written, or a file that cannot be used; the message says which and why."""


def write(dataset: xr.Dataset, path: Path) -> None:
    """Write a result, so that at any moment there is the old file, or the new one, or none.

    Every variable needs `units` and `long_name`; attributes are text or numbers; the provenance set by
    `provenance.stamp` must be there. The file is read back and compared before it takes its name.

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
    stored.attrs["content_sha256"] = _digest(stored)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".partial")
    os.close(handle)
    partial = Path(name)
    try:
        stored.to_netcdf(partial, engine="h5netcdf", encoding=_encoding(stored))
        _load(partial)
        with partial.open("rb+") as file:
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
    with path.open("rb") as file:
        start = file.read(len(_HDF5_SIGNATURE))
    if not start:
        raise StoreError(f"{path} is empty")
    if start != _HDF5_SIGNATURE:
        raise StoreError(f"{path} is not a netCDF-4 file, so no result of this program")
    return _load(path)


def _load(path: Path) -> xr.Dataset:
    damaged = f"{path} is damaged: run the study again, or take a copy that is whole"
    try:
        with xr.open_dataset(path, engine="h5netcdf", decode_timedelta=False) as opened:
            dataset = opened.load()
    except _DAMAGE as fault:
        raise StoreError(f"{damaged} ({type(fault).__name__})") from fault
    if dataset.attrs.get("format") != FORMAT:
        raise StoreError(f"{path} is a netCDF file, but no result of this program")
    version = dataset.attrs.get("format_version")
    if version != FORMAT_VERSION:
        raise StoreError(f"{path} has format version {version}; this program reads version {FORMAT_VERSION}")
    written = dataset.attrs.pop("content_sha256", None)
    if written != _digest(dataset):
        raise StoreError(f"{damaged} (its contents do not match their checksum)")
    for name in dataset.variables:
        dataset[name].encoding.clear()
    return dataset.drop_encoding()


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


def _digest(dataset: xr.Dataset) -> str:
    """SHA-256 of names, dimensions, types, values and attributes, blind to the order they are stored in."""
    digest = hashlib.sha256(_canonical_attributes(dataset.attrs))
    for name in sorted(map(str, dataset.variables)):
        variable = dataset.variables[name]
        head = [name, name in dataset.coords, list(variable.dims), list(variable.shape)]
        digest.update(json.dumps(head).encode())
        digest.update(_canonical_attributes(variable.attrs))
        digest.update(_canonical_values(variable.values))
    return digest.hexdigest()


def _canonical_values(values: np.ndarray[Any, Any]) -> bytes:
    kind = values.dtype.kind
    if kind in "UO":
        return json.dumps(["text", *map(str, values.ravel().tolist())]).encode()
    if kind == "M":
        values = values.astype("datetime64[ns]").astype(np.int64)
    little = np.ascontiguousarray(values, dtype=values.dtype.newbyteorder("<"))
    return f"{kind}{values.dtype.itemsize}".encode() + little.tobytes()


def _canonical_attributes(attributes: Mapping[Any, Any]) -> bytes:
    plain = {}
    for name, value in attributes.items():
        if name == "content_sha256":
            continue
        listed = np.asarray(value).tolist() if not isinstance(value, str) else value
        # netCDF has no lists of length one: they come back as a plain number.
        plain[str(name)] = listed[0] if isinstance(listed, list) and len(listed) == 1 else listed
    return json.dumps(plain, sort_keys=True).encode()


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
