"""A file written whole or not at all, with a seal by which damage is known before any library looks into it.

The seal is a line with the SHA-256 of all bytes before it, behind the end that HDF5 keeps in its own header and
reads up to; so every netCDF reader opens the file, and a damaged one cannot take our reader down.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

FORMAT = "noonhearth result"  # stands in every file, so that one without its seal is told from a stranger's

_HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"
_SEAL = b"\nnoonhearth sha256 "
_SEAL_LENGTH = len(_SEAL) + 64 + 1
_LEFT_BEHIND = 3600.0  # s; no file takes that long to write, so its writer was killed


def write_sealed(
    path: Path, make: Callable[[Path], object], check: Callable[[Path], object] = lambda partial: None
) -> None:
    """Write a file by `make`, so that at any moment there is the old file, or the new one, or none.

    Parameters
    ----------
    path : Path
    make : callable
        Writes an HDF5 file under the name it is given, in the folder of `path`.
    check : callable, optional
        Told the sealed file before it takes its name; raises to keep the old one.
    """
    # Not tempfile: it would make a file that only its owner may read, and the result would stay so.
    partial = path.with_name(f".{path.name}.{secrets.token_hex(8)}.partial")
    try:
        make(partial)
        with partial.open("rb+") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            file.write(_SEAL + digest.encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
        check(partial)
        os.replace(partial, path)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise
    _remove_left_behind(path)


def _remove_left_behind(path: Path) -> None:
    """Partial files of writers that were killed in the middle."""
    for partial in path.parent.iterdir():
        if not (partial.name.startswith(f".{path.name}.") and partial.name.endswith(".partial")):
            continue
        with suppress(OSError):
            if time.time() - partial.stat().st_mtime > _LEFT_BEHIND:
                partial.unlink()


def fault_of(path: Path) -> str | None:
    """What keeps a file from being read, as the rest of a sentence that begins with its name; None if it is whole."""
    if path.is_dir():
        return "is a folder; name a file in it"
    try:
        contents = path.read_bytes()
    except FileNotFoundError:
        return "does not exist; there is no file of this name"
    except OSError as error:
        return f"cannot be read: {error.strerror or error}"
    return _damage(contents)


def _damage(contents: bytes) -> str | None:
    if not contents:
        return "is empty"
    if not contents.startswith(_HDF5_SIGNATURE):
        return "is not a netCDF-4 file, so no result of this program"
    body, seal = contents[:-_SEAL_LENGTH], contents[-_SEAL_LENGTH:]
    if seal == _SEAL + hashlib.sha256(body).hexdigest().encode() + b"\n":
        return None
    if _is_cut_off(contents):
        return "is damaged, its end is missing: take a copy that is whole, or run the study again"
    if FORMAT.encode() not in contents:
        return "is a netCDF file, but no result of this program"
    return "is damaged, or was changed by another program: run the study again, or take a copy that is whole"


def _is_cut_off(contents: bytes) -> bool:
    """Whether a file is shorter than its HDF5 header says; the headers of other versions than these are not asked.

    Source
    ------
    HDF5 File Format Specification 3.0, II.A, disk format level 0A, file signature and superblock.
    """
    place = {0: 40, 2: 28, 3: 28}.get(contents[8] if len(contents) > 8 else -1)
    if place is None or len(contents) < place + 8:
        return len(contents) < 96
    return int.from_bytes(contents[place : place + 8], "little") > len(contents)
