"""Finished designs on disk: small files that are whole or not there, merged into larger ones as they become many.

A shard is written beside its name and then renamed, and a checksum guards it. Sixteen shards of one size class are
merged into one of the next, so that a study of a million designs leaves some dozens of files and writes each design
a handful of times. Merging renames the new shard before it deletes the old ones: killed in between, designs are there
twice, never missing. Two processes may add to one folder.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

_MAGIC = b"noonhearth evaluations 2\n"
_SUFFIX = ".evaluations"
_PARTIAL = ".partial"
_ABANDONED = 60.0  # s; a shard takes well under one to write, so an older half of one has no writer any more

_MERGED = 16  # shards of one size class that become one, and how much larger the next class is
_LARGE = 32_768  # rows; shards this large stay as they are, so that merging never needs much memory


class LogError(ValueError):
    """A log that cannot be used; the message names the file and the next move."""


class Batch(NamedTuple):
    """Designs and what became of them."""

    matrix: NDArray[np.float64]  # design, factor
    status: NDArray[np.int64]  # design
    numbers: NDArray[np.float64]  # design, outcome
    failures: dict[int, str]  # reason by design


class Shards:
    """The shards of one study in a folder.

    Parameters
    ----------
    folder : Path
        Made if missing.
    header : dict
        What a shard of this study says of itself, as JSON would give it back.
    """

    def __init__(self, folder: Path, header: dict[str, Any]) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder, self._header = folder, header
        self._rows: dict[Path, int] = {}
        _clean(folder)

    def read(self) -> Iterator[Batch]:
        """Every shard, once; what another process merges meanwhile is found under its new name.

        Raises
        ------
        LogError
            A shard of another study, or a damaged one.
        """
        while waiting := sorted(set(self._folder.glob(f"*{_SUFFIX}")) - set(self._rows)):
            for path in waiting:
                try:
                    batch = _read(path, self._header)
                except FileNotFoundError:  # merged by another process since it was listed
                    continue
                self._rows[path] = len(batch.status)
                yield batch

    def write(self, batch: Batch) -> None:
        """Add a shard; on disk before this returns."""
        self._rows[_write(self._folder, self._header, batch)] = len(batch.status)
        while many := self._many():
            self._merge(many)

    def _many(self) -> list[Path]:
        """Shards of one size class that are to be merged; none if no class has so many."""
        classes: dict[int, list[Path]] = {}
        for path, rows in self._rows.items():
            if rows < _LARGE:
                classes.setdefault(_size_class(rows), []).append(path)
        return next((paths for paths in classes.values() if len(paths) >= _MERGED), [])

    def _merge(self, paths: list[Path]) -> None:
        batches = []
        for path in paths:
            del self._rows[path]
            try:
                batches.append(_read(path, self._header))
            except FileNotFoundError:  # another process was first
                continue
        if not batches:
            return
        merged = joined(batches)
        path = _write(self._folder, self._header, merged)
        self._rows[path] = len(merged.status)
        for old in set(paths) - {path}:
            old.unlink(missing_ok=True)


def joined(batches: Sequence[Batch]) -> Batch:
    """The designs of several batches, one after another."""
    starts = np.cumsum([0, *(len(batch.status) for batch in batches)]).tolist()
    return Batch(
        np.concatenate([batch.matrix for batch in batches]),
        np.concatenate([batch.status for batch in batches]),
        np.concatenate([batch.numbers for batch in batches]),
        {
            start + row: reason
            for start, batch in zip(starts, batches, strict=False)
            for row, reason in batch.failures.items()
        },
    )


def _size_class(rows: int) -> int:
    return int(np.emath.logn(_MERGED, max(rows, 1)) + 1e-9)


def _clean(folder: Path) -> None:
    """Remove what killed processes left half written."""
    for path in folder.glob(f"*{_PARTIAL}"):
        try:
            if path.stat().st_mtime < time.time() - _ABANDONED:
                path.unlink()
        except FileNotFoundError:
            continue


def _write(folder: Path, header: dict[str, Any], batch: Batch) -> Path:
    payload = io.BytesIO()
    np.savez(
        payload,
        matrix=batch.matrix,
        status=batch.status,
        numbers=batch.numbers,
        failed=np.fromiter(batch.failures, np.int64, len(batch.failures)),
        reasons=np.array(list(batch.failures.values()), np.str_),
    )
    body = payload.getbuffer()
    digest = hashlib.sha256(body).hexdigest()
    line = json.dumps({**header, "sha256": digest}).encode() + b"\n"
    handle, partial_name = tempfile.mkstemp(dir=folder, suffix=_PARTIAL)
    path = folder / f"{digest[:20]}{_SUFFIX}"
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(_MAGIC + line)
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        os.replace(partial_name, path)
    except BaseException:
        Path(partial_name).unlink(missing_ok=True)
        raise
    return path


def _read(path: Path, header: dict[str, Any]) -> Batch:
    """Designs and outcomes of one shard, after checking that it is whole and of this study."""
    damaged = f"{path} is damaged; delete it and its designs will be evaluated again"
    text = path.read_bytes()
    line, newline, body = text.removeprefix(_MAGIC).partition(b"\n")
    if not text.startswith(_MAGIC) or not newline:
        raise LogError(damaged)
    try:
        stored = json.loads(line)
        digest = stored.pop("sha256")
    except (ValueError, KeyError, AttributeError, TypeError) as fault:
        raise LogError(damaged) from fault
    if digest != hashlib.sha256(body).hexdigest():
        raise LogError(damaged)
    differing = [name for name in header if stored.get(name) != header[name]]
    if differing:
        raise LogError(
            f"{path} belongs to another study (its {', '.join(differing)} differ); give this study a folder "
            f"of its own, or delete {path.parent} to begin anew"
        )
    with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
        reasons = dict(zip(arrays["failed"].tolist(), arrays["reasons"].tolist(), strict=True))
        return Batch(arrays["matrix"], arrays["status"], arrays["numbers"], reasons)
