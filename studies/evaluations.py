"""Evaluating many designs: in chunks, on several threads, and never the same design twice.

`EvaluationLog` remembers what became of each design. A study that was interrupted is started again with the
same seed and the same log: it asks for the same designs in the same order, finds the finished ones in the
log, and ends with the same bits as if it had never stopped. That is the whole of resuming.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .outcomes import Columns, Evaluate, Outcomes, checked, join
from .space import Space, row_count, take
from .workers import Progress, map_chunks

_MAGIC = b"noonhearth evaluations 1\n"
_SUFFIX = ".evaluations"


class LogError(ValueError):
    """A log that cannot be used; the message names the file and the next move."""


class EvaluationLog:
    """Outcomes by design, in memory and, if a folder is given, on disk.

    On disk each batch is one file that is written beside its name and then renamed, so a file is there whole
    or not at all; a checksum guards its contents. Two processes may add to one folder: names never collide.

    Parameters
    ----------
    space : Space
        The factors of the designs.
    values, margins : sequences of str
        Names of the outcomes that are kept.
    key : str
        Whatever decides the outcomes besides the design: a hash of model version and effective config.
    folder : Path, optional
        Made if missing; None keeps the log in memory only.

    Raises
    ------
    LogError
        The folder holds another study's designs, or a damaged file.
    """

    def __init__(
        self,
        space: Space,
        *,
        values: Sequence[str],
        margins: Sequence[str],
        key: str,
        folder: Path | None = None,
    ) -> None:
        self.space = space
        self._header: dict[str, Any] = {
            "key": key,
            "factors": [repr(parameter) for parameter in space.parameters],
            "values": list(values),
            "margins": list(margins),
        }
        self._rows: dict[bytes, tuple[int, NDArray[np.float64]]] = {}
        self._folder = folder
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            for path in sorted(folder.glob(f"*{_SUFFIX}")):
                self._remember(*_read_shard(path, self._header))

    def __len__(self) -> int:
        """Number of designs remembered."""
        return len(self._rows)

    def recall(self, columns: Columns) -> Outcomes:
        """Outcomes of designs that are all remembered.

        Raises
        ------
        KeyError
            A design is not.
        """
        found = [self._rows[key] for key in self._keys(columns)]
        numbers = np.array([row for _, row in found], dtype=np.float64).reshape(len(found), -1)
        status = np.array([code for code, _ in found], dtype=np.int64)
        return self._outcomes(status, numbers)

    def expect(self, values: Sequence[str], margins: Sequence[str]) -> None:
        """Refuse a study that wants other outcomes than the log keeps."""
        if list(values) != self._header["values"] or list(margins) != self._header["margins"]:
            raise LogError("the log keeps other outcomes than this study wants")

    def unseen(self, columns: Columns) -> NDArray[np.int64]:
        """First row of each different design that is not remembered, in order."""
        rows: dict[bytes, int] = {}
        for number, key in enumerate(self._keys(columns)):
            if key not in self._rows:
                rows.setdefault(key, number)
        return np.fromiter(rows.values(), dtype=np.int64, count=len(rows))

    def add(self, columns: Columns, outcomes: Outcomes) -> None:
        """Remember designs; on disk before this returns."""
        numbers = np.column_stack(
            [outcomes.values[name] for name in self._header["values"]]
            + [outcomes.margins[name] for name in self._header["margins"]]
        )
        matrix = self.space.matrix(columns)
        if self._folder is not None:
            _write_shard(self._folder, self._header, matrix, outcomes.status, numbers)
        self._remember(matrix, outcomes.status, numbers)

    def _remember(
        self, matrix: NDArray[np.float64], status: NDArray[np.int64], numbers: NDArray[np.float64]
    ) -> None:
        for key, code, row in zip(_row_bytes(matrix), status.tolist(), numbers, strict=True):
            self._rows[key] = (code, row)

    def _keys(self, columns: Columns) -> list[bytes]:
        return _row_bytes(self.space.matrix(columns))

    def _outcomes(self, status: NDArray[np.int64], numbers: NDArray[np.float64]) -> Outcomes:
        values, margins = self._header["values"], self._header["margins"]
        return Outcomes(
            values={name: numbers[:, k] for k, name in enumerate(values)},
            status=status,
            margins={name: numbers[:, len(values) + k] for k, name in enumerate(margins)},
        )


def evaluate_rows(
    evaluate: Evaluate,
    columns: Columns,
    *,
    values: Sequence[str],
    margins: Sequence[str],
    workers: int,
    chunk_rows: int,
    progress: Progress | None = None,
    log: EvaluationLog | None = None,
) -> Outcomes:
    """Checked outcomes of designs; with a log, only of those it does not hold, and each once.

    Parameters
    ----------
    evaluate : Evaluate
    columns : Columns
    values, margins : sequences of str
        Names of the outcomes wanted.
    workers : int
        Threads.
    chunk_rows : int
        Designs in one call of `evaluate`, at most.
    progress : callable, optional
        (rows done, rows to do, rows failed) of the designs that need evaluating.
    log : EvaluationLog, optional
        Read first, added to after every chunk: an interrupt loses at most the chunks in work.
    """
    if chunk_rows < 1:
        raise ValueError(f"chunk_rows = {chunk_rows}, allowed 1 or more")
    if log is not None:
        log.expect(values, margins)
    wanted = np.arange(row_count(columns)) if log is None else log.unseen(columns)
    chunks = [wanted[start : start + chunk_rows] for start in range(0, wanted.size, chunk_rows)]
    results = map_chunks(
        partial(_evaluate_chunk, evaluate, tuple(values), tuple(margins)),
        (take(columns, index) for index in chunks),
        workers=workers,
        total=wanted.size,
        tally=lambda outcomes: (outcomes.rows, outcomes.failed),
        progress=progress,
    )
    if log is None:
        return join(list(results))
    for index, outcomes in zip(chunks, results, strict=True):
        log.add(take(columns, index), outcomes)
    return log.recall(columns)


def _evaluate_chunk(
    evaluate: Evaluate, values: tuple[str, ...], margins: tuple[str, ...], columns: Columns
) -> Outcomes:
    return checked(evaluate(columns), rows=row_count(columns), values=values, margins=margins)


def _row_bytes(matrix: NDArray[np.float64]) -> list[bytes]:
    return [row.tobytes() for row in np.ascontiguousarray(matrix, dtype="<f8")]


def _write_shard(
    folder: Path,
    header: dict[str, Any],
    matrix: NDArray[np.float64],
    status: NDArray[np.int64],
    numbers: NDArray[np.float64],
) -> None:
    payload = io.BytesIO()
    np.savez(payload, matrix=matrix, status=status, numbers=numbers)
    body = payload.getvalue()
    digest = hashlib.sha256(body).hexdigest()
    line = json.dumps({**header, "sha256": digest}).encode() + b"\n"
    handle, partial_name = tempfile.mkstemp(dir=folder, suffix=".partial")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(_MAGIC + line + body)
            file.flush()
            os.fsync(file.fileno())
        os.replace(partial_name, folder / f"{digest[:20]}{_SUFFIX}")
    except BaseException:
        Path(partial_name).unlink(missing_ok=True)
        raise


def _read_shard(
    path: Path, header: dict[str, Any]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """Designs, status and numbers of one file, after checking that they are whole and of this study."""
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
            "of its own, or delete the old one"
        )
    with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
        return arrays["matrix"], arrays["status"], arrays["numbers"]
