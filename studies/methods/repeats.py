"""How much worse each of many designs is than one, measured several times over with what is random drawn anew.

The model traces a limited number of rays, so a small change of a design moves a goal by a little too much or too
little. Evaluators that differ in nothing but their seed tell how much: each gives the change of every design against
the same one, as it sees both. Their mean is the change, their spread its doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import OK, Columns, Evaluate
from ..judging.space import row_count
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import Progress, Workers

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class BaseError(ValueError):
    """The design that all others are held against has no value itself."""


class Worse(NamedTuple):
    """Designs against the first one: how much worse, in the goal's unit. Arrays over the designs."""

    excess: Floats  # mean of the repeats; below zero is better, nan where any of them never got there
    doubt: Floats  # standard error of that mean; nan with one repeat alone
    status: Ints  # 0, or the first repeat's reason why it could not be run
    over: Floats  # [limit, design] excess over each limit, the largest of the repeats; above zero is over

    def part(self, rows: slice) -> Worse:
        """Some of the designs."""
        return Worse(self.excess[rows], self.doubt[rows], self.status[rows], self.over[:, rows])


class AtBase(NamedTuple):
    """What the design itself does."""

    goal: float  # mean of the repeats
    over: Floats  # [limit] excess over each, the largest of the repeats


@dataclass(frozen=True, kw_only=True)
class Repeats:
    """A goal measured by several evaluators that differ only in their seed.

    Parameters
    ----------
    evaluates : sequence of Evaluate
        At least one.
    logs : sequence of EvaluationLog
        One for each of them.
    goal : str
    sign : float
        1 where less of the goal is better, -1 where more is.
    base : dict of one-row columns
        The design that the others are held against.
    limits : sequence of str
        Margins to be told beside the goal.
    workers, chunk_rows
        As for `evaluate_rows`; no number depends on them.
    progress : callable, optional
    """

    evaluates: Sequence[Evaluate]
    logs: Sequence[EvaluationLog]
    goal: str
    sign: float
    base: Columns
    limits: Sequence[str] = ()
    workers: Workers = 1
    chunk_rows: int = 512
    progress: Progress | None = None

    def __call__(self, columns: Columns) -> Worse:
        """How much worse designs are than the base.

        Raises
        ------
        BaseError
            The base itself could not be run, or never reaches the goal in some repeat.
        """
        rows = {name: np.concatenate([self.base[name], column]) for name, column in columns.items()}
        parts = [
            evaluate_rows(
                evaluate,
                rows,
                values=[self.goal],
                margins=list(self.limits),
                workers=self.workers,
                chunk_rows=self.chunk_rows,
                progress=self._told(number, row_count(rows)),
                log=log,
            )
            for number, (evaluate, log) in enumerate(zip(self.evaluates, self.logs, strict=True))
        ]
        goal = self.sign * np.array([part.values[self.goal] for part in parts])
        status = np.array([part.status for part in parts])
        if (status[:, 0] != OK).any():
            raise BaseError("the design itself cannot be run")
        if np.isnan(goal[:, 0]).any():
            raise BaseError("the design itself never reaches the goal")
        excess = goal[:, 1:] - goal[:, :1]
        over = np.array([[part.margins[limit] for limit in self.limits] for part in parts]).max(axis=0)
        return Worse(
            excess=excess.mean(axis=0),
            doubt=_doubt(excess),
            status=_first_reason(status[:, 1:]),
            over=over.reshape(len(self.limits), -1)[:, 1:],
        )

    def at_base(self) -> AtBase:
        """The goal and the limits of the base, in their own sense and unit."""
        over = self(self.base).over[:, 0]
        return AtBase(float(np.mean([log.recall(self.base).values[self.goal][0] for log in self.logs])), over)

    def _told(self, number: int, rows: int) -> Callable[[int, int, int], None] | None:
        """Progress of one repeat as a part of all."""
        progress = self.progress
        if progress is None:
            return None
        before, whole = number * rows, len(self.evaluates) * rows
        return lambda done, total, failed: progress(before + rows - total + done, whole, failed)


def _doubt(excess: Floats) -> Floats:
    """Standard error of the mean over the repeats, float64[design]."""
    count = len(excess)
    if count < 2:
        return np.full(excess.shape[1], np.nan)
    return np.asarray(excess.std(axis=0, ddof=1) / np.sqrt(count))


def _first_reason(status: Ints) -> Ints:
    """The first status of each design that is not OK, int64[design]."""
    first = (status != OK).argmax(axis=0)
    return np.asarray(np.take_along_axis(status, first[None], axis=0)[0])
