"""Evaluating many designs: in chunks, by many workers, and never the same design twice.

`EvaluationLog` remembers what became of each design. A study that was interrupted is started again with the
same seed and the same log: it asks for the same designs in the same order, finds the finished ones in the
log, and ends with the same bits as if it had never stopped. That is the whole of resuming.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import STOPPED, Columns, Evaluate, Outcomes, join
from ..judging.space import Space, row_count, take
from .faults import Done, Verdict, evaluated, evaluated_apart
from .known_rows import NONE, KnownRows, first_of_each
from .shards import Batch, LogError, Shards
from .workers import Progress, Workers, map_chunks

__all__ = ["EvaluationLog", "LogError", "evaluate_rows"]

# What is finished is written down this often: rarely enough that even a slow disk costs next to nothing, often enough
# that a power cut costs next to nothing too.
_WRITTEN_EVERY = 1.0  # s


class EvaluationLog:
    """Outcomes by design, in memory and, if a folder is given, on disk (`shards`).

    Parameters
    ----------
    space : Space
        The factors of the designs.
    values, margins : sequences of str
        Names of the outcomes that are kept.
    key : str or dict of str
        Whatever decides the outcomes besides the design, such as a hash of the model's version and one of the
        effective config; given by name, a refusal can say what differs.
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
        key: str | Mapping[str, str],
        folder: Path | None = None,
    ) -> None:
        self.space = space
        self._values, self._margins = list(values), list(margins)
        self._rows = KnownRows(space.size, len(self._values) + len(self._margins))
        self._failures: dict[int, str] = {}
        self._shards: Shards | None = None
        if folder is not None:
            header: dict[str, Any] = dict(key) if isinstance(key, Mapping) else {"key": key}
            header |= {
                "factors": [repr(parameter) for parameter in space.parameters],
                "values": self._values,
                "margins": self._margins,
            }
            self._shards = Shards(folder, header)
            for batch in self._shards.read():
                self._remember(batch)

    def __len__(self) -> int:
        """Number of designs remembered."""
        return len(self._rows)

    @property
    def ran(self) -> bool:
        """Whether the model came through on any design remembered."""
        return self._rows.ran(STOPPED)

    def recall(self, columns: Columns) -> Outcomes:
        """Outcomes of designs that are all remembered.

        Raises
        ------
        KeyError
            A design is not.
        """
        places = self._rows.places(self.space.matrix(columns))
        if (places == NONE).any():
            row = int(np.argmax(places == NONE))
            raise KeyError(f"design {row + 1} of {places.size} is not in the log")
        status, numbers = self._rows.status(places), self._rows.numbers(places)
        stopped = np.flatnonzero(status == STOPPED).tolist()
        first_margin = len(self._values)
        return Outcomes(
            values={name: numbers[:, k] for k, name in enumerate(self._values)},
            status=status,
            margins={name: numbers[:, first_margin + k] for k, name in enumerate(self._margins)},
            failures={row: self._failures[int(places[row])] for row in stopped},
        )

    def expect(self, values: Sequence[str], margins: Sequence[str]) -> None:
        """Refuse a study that wants other outcomes than the log keeps."""
        if list(values) != self._values or list(margins) != self._margins:
            raise LogError("the log keeps other outcomes than this study wants")

    def unseen(self, columns: Columns) -> NDArray[np.int64]:
        """First row of each different design that is not remembered, in order."""
        matrix = self.space.matrix(columns)
        unknown: NDArray[np.int64] = np.flatnonzero(self._rows.places(matrix) == NONE)
        return unknown[first_of_each(matrix[unknown])]

    def add(self, columns: Columns, outcomes: Outcomes) -> None:
        """Remember designs; on disk before this returns."""
        numbers = np.empty((outcomes.rows, len(self._values) + len(self._margins)))
        for k, name in enumerate(self._values):
            numbers[:, k] = outcomes.values[name]
        for k, name in enumerate(self._margins, start=len(self._values)):
            numbers[:, k] = outcomes.margins[name]
        matrix = self.space.matrix(columns)
        batch = Batch(matrix, outcomes.status, numbers, dict(outcomes.failures))
        if self._shards is not None:
            self._shards.write(batch)
        self._remember(batch)

    def _remember(self, batch: Batch) -> None:
        first = len(self._rows)
        new = self._rows.add(batch.matrix, batch.status, batch.numbers)
        if batch.failures:
            places = dict(zip(new.tolist(), range(first, first + new.size), strict=True))
            kept = {places[row]: reason for row, reason in batch.failures.items() if row in places}
            self._failures |= kept


def evaluate_rows(
    evaluate: Evaluate,
    columns: Columns,
    *,
    values: Sequence[str],
    margins: Sequence[str],
    workers: Workers,
    chunk_rows: int,
    progress: Progress | None = None,
    log: EvaluationLog | None = None,
) -> Outcomes:
    """Checked outcomes of designs; with a log, only of those it does not hold, and each once.

    A design on which `evaluate` stops with an error, or which takes its worker down, is marked `STOPPED` and keeps
    the reason; the others go on (`faults`).

    Parameters
    ----------
    evaluate : Evaluate
    columns : Columns
    values, margins : sequences of str
        Names of the outcomes wanted.
    workers : int or Crew
        Threads, or whoever else does the work.
    chunk_rows : int
        Designs in one call of `evaluate`, at most.
    progress : callable, optional
        (rows done, rows to do, rows failed) of the designs that need evaluating.
    log : EvaluationLog, optional
        Read first, added to about once a second: an interrupt loses at most the chunks in work, and a power cut a
        second more.

    Raises
    ------
    Exception
        What `evaluate` raises on every design.
    """
    if chunk_rows < 1:
        raise ValueError(f"chunk_rows = {chunk_rows}, allowed 1 or more")
    if log is not None:
        log.expect(values, margins)
    wanted = np.arange(row_count(columns)) if log is None else log.unseen(columns)
    chunks = [wanted[start : start + chunk_rows] for start in range(0, wanted.size, chunk_rows)]
    work = partial(evaluated, evaluate, tuple(values), tuple(margins))
    results = map_chunks(
        work,
        (take(columns, index) for index in chunks),
        workers=workers,
        total=wanted.size,
        tally=lambda outcomes: (outcomes.rows, outcomes.failed),
        progress=progress,
        rescue=partial(evaluated_apart, tuple(values), tuple(margins)),
    )
    verdict = Verdict(work, rows=wanted.size, ran=log is not None and log.ran)
    with closing(results):
        trusted = verdict.trusted(
            (take(columns, index), outcomes) for index, outcomes in zip(chunks, results, strict=True)
        )
        if log is None:
            return join([outcomes for _, outcomes in trusted])
        _write_down(trusted, verdict, log)
    return log.recall(columns)


def _write_down(done: Iterable[Done], verdict: Verdict, log: EvaluationLog) -> None:
    """Add what is done to the log about once a second, and at the end, however that comes."""
    waiting: list[Done] = []
    last = time.monotonic()
    try:
        for one in done:
            waiting.append(one)
            if not verdict.open and time.monotonic() - last >= _WRITTEN_EVERY:
                _add(waiting, log)
                waiting, last = [], time.monotonic()
    except BaseException:
        ran = [_without_stopped(*one) for one in waiting] if verdict.open else waiting
        _add(ran, log)
        raise
    _add(waiting, log)


def _add(done: Sequence[Done], log: EvaluationLog) -> None:
    done = [(columns, outcomes) for columns, outcomes in done if outcomes.rows]
    if done:
        columns = {name: np.concatenate([part[name] for part, _ in done]) for name in log.space.names}
        log.add(columns, join([outcomes for _, outcomes in done]))


def _without_stopped(columns: Columns, outcomes: Outcomes) -> Done:
    """Only the designs the model came through: the rest may be no fault of theirs."""
    ran = np.flatnonzero(outcomes.status != STOPPED)
    return take(columns, ran), outcomes.take(ran)
