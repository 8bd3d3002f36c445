"""One hash of all that a result says, the same on every machine and however its file was written.

`docs/results-format.md` describes it for those who want to compute it without this program.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import xarray as xr

# When a result was made, and what the file says of itself, are no part of what it says.
APART = ("created", "format", "format_version", "content_hash")


def content_hash(dataset: xr.Dataset) -> str:
    """SHA-256 of every variable and attribute but those of `APART`, in hexadecimal.

    Examples
    --------
    >>> one = xr.Dataset({"a": ("x", [1.0, 2.0])}, attrs={"created": "yesterday"})
    >>> content_hash(one) == content_hash(one.assign_attrs(created="today"))
    True
    >>> content_hash(one) == content_hash(one.assign(a=("x", [1.0, 2.5])))
    False
    """
    digest = hashlib.sha256()
    for name, variable in sorted(dataset.variables.items(), key=lambda item: str(item[0])):
        kind, contents = _plain(variable.values)
        shape = " ".join(f"{dimension} {size}" for dimension, size in variable.sizes.items())
        digest.update(f"variable {name} ({shape}) {kind}\n".encode())
        digest.update(contents)
        digest.update("".join(_lines(variable.attrs)).encode())
    digest.update("".join(_lines({k: v for k, v in dataset.attrs.items() if k not in APART})).encode())
    return digest.hexdigest()


def _plain(values: np.ndarray[Any, Any]) -> tuple[str, bytes]:
    """Type and bytes of an array that do not depend on the machine: little endian, row after row."""
    if values.dtype.kind in "UO":
        return "text", b"".join(str(text).encode() + b"\0" for text in values.ravel())
    if values.dtype.kind == "M":
        values = values.astype("datetime64[ns]").astype(np.int64)
        return "time", values.astype("<i8").tobytes()
    kind = values.dtype.newbyteorder("<")
    return str(kind.str).lstrip("<|"), np.ascontiguousarray(values, dtype=kind).tobytes()


def _lines(attributes: Mapping[Any, Any]) -> Iterator[str]:
    for name, value in sorted(attributes.items(), key=lambda item: str(item[0])):
        yield f"attribute {name} {json.dumps(plain_item(value), ensure_ascii=False)}\n"


def plain_item(value: Any) -> Any:
    """A number, a text or a list; a list of one is as good as its only item, for files do not tell them apart."""
    plain = value.tolist() if isinstance(value, (np.ndarray, np.generic)) else value
    plain = list(plain) if isinstance(plain, tuple) else plain
    return plain[0] if isinstance(plain, list) and len(plain) == 1 else plain
