"""Designs on which the model stops with an error: found, marked and kept, and told from a model that is broken.

A chunk that fails is split in halves until the designs are found that fail by themselves. They get the status
`STOPPED` and keep what the error said; all others keep their numbers. If every design fails in the same way it is not
the designs that are at fault, and the error itself comes through.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from ..judging.outcomes import STOPPED, Columns, Evaluate, Outcomes, checked, join
from ..judging.space import row_count, take
from .workers import WorkerLost

# Designs in a row that fail in one and the same way before the model is held to be broken. A Sobol sample repeats a
# bad value over a whole base, and half of its bases may well have one; this many would have to stand side by side.
_BROKEN_AFTER = 512

# The same for a call that holds fewer, such as a generation, if all of them fail; and for lost workers, each of which
# costs seconds.
_BROKEN_CALL = 32
_BROKEN_LOST = 8

_LOST = "worker lost"  # how the reason of a design begins that took its worker down

Done = tuple[Columns, Outcomes]


class BrokenError(RuntimeError):
    """A model that stops on every design, on the workers but not here; the message says how."""


def evaluated(
    evaluate: Evaluate, values: Sequence[str], margins: Sequence[str], columns: Columns
) -> Outcomes:
    """Checked outcomes of a chunk; designs on which `evaluate` stops or gives rubbish are marked.

    A want of memory comes through: it is the machine's, not the design's.
    """
    try:
        return checked(evaluate(columns), rows=row_count(columns), values=values, margins=margins)
    except MemoryError:
        raise
    except Exception as error:  # whatever it is: one bad design must not end a study of a million
        if row_count(columns) == 1:
            return _stopped(values, margins, reason_of(error))
    return join([evaluated(evaluate, values, margins, half) for half in _halves(columns)])


def evaluated_apart(
    values: Sequence[str],
    margins: Sequence[str],
    run: Callable[[Columns], Outcomes],
    columns: Columns,
    lost: WorkerLost,
) -> Outcomes:
    """Outcomes of a chunk whose worker died: halves run with nothing beside them, until the designs are found.

    Parameters
    ----------
    run : callable
        Runs designs on some worker, with nothing beside them.
    lost : WorkerLost
        How the worker died; other chunks may have been in work beside this one, so no design is marked for it.

    Raises
    ------
    WorkerLost
        Several designs one after another take their workers down.
    """
    trail = 0

    def outcomes_of(part: Columns) -> Outcomes:
        nonlocal trail
        try:
            outcomes = run(part)
        except WorkerLost as again:
            if row_count(part) > 1:
                return join([outcomes_of(half) for half in _halves(part)])
            trail += 1
            if trail == _BROKEN_LOST:
                raise
            return _stopped(values, margins, f"{_LOST}: {again}")
        trail = 0
        return outcomes

    return join([outcomes_of(part) for part in (_halves(columns) if row_count(columns) > 1 else [columns])])


def reason_of(error: Exception) -> str:
    """Kind, text and place of an error, in a line."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__}: {error} ({Path(place.filename).name}, line {place.lineno})"


def stopped_variables(outcomes: Outcomes) -> dict[str, Any]:
    """Designs on which the model stopped, by number, and what it said; for a Dataset, and empty if there are none."""
    if not outcomes.failures:
        return {}
    rows = sorted(outcomes.failures)
    row = {
        "units": "1",
        "long_name": "number of a design on which the model stopped, in the order of the sample",
    }
    reason = {"units": "1", "long_name": "error with which the model stopped on it"}
    return {
        "stopped_row": ("stopped", rows, row),
        "stopped_reason": ("stopped", [outcomes.failures[row] for row in rows], reason),
    }


class Verdict:
    """Whether what stops is single designs, or the model on every one.

    Parameters
    ----------
    work : callable
        `evaluated`, for an evaluator.
    rows : int
        Designs of this call.
    ran : bool
        Whether the model is known to have come through on some design before.
    """

    def __init__(self, work: partial[Outcomes], *, rows: int, ran: bool) -> None:
        self._work, self._rows, self._ran = work, rows, ran
        self._seen = self._trail = 0
        self._kind: tuple[str, str] | None = None

    def trusted(self, done: Iterable[Done]) -> Iterator[Done]:
        """What is done, until the model is held to be broken.

        Raises
        ------
        Exception
            What the model raises on every design.
        """
        for columns, outcomes in done:
            self._follow(outcomes)
            if self._broken:
                stopped = np.flatnonzero(outcomes.status == STOPPED)
                self._raise_again(take(columns, stopped), outcomes.failures[int(stopped[-1])])
            yield columns, outcomes

    def _follow(self, outcomes: Outcomes) -> None:
        """Count on how many designs, one after another, the model has now stopped in one way."""
        self._seen += outcomes.rows
        if not outcomes.failures:
            self._trail, self._ran = 0, True
            return
        for row, status in enumerate(outcomes.status.tolist()):
            if status != STOPPED:
                self._trail, self._ran = 0, True
                continue
            kind = _kind(outcomes.failures[row])
            self._trail = self._trail + 1 if kind == self._kind else 1
            self._kind = kind

    @property
    def _broken(self) -> bool:
        all_alike = self._trail == self._seen == self._rows
        return self._trail >= _BROKEN_AFTER or (all_alike and (not self._ran or self._rows >= _BROKEN_CALL))

    def _raise_again(self, designs: Columns, reason: str) -> None:
        """The error itself, from one more run here; only told of if it took a worker down or stays away."""
        told = f"This came of each of {self._trail} designs one after another, so it is not the designs."
        evaluate, values, margins = self._work.args
        try:
            if not reason.startswith(_LOST):
                checked(evaluate(designs), rows=row_count(designs), values=values, margins=margins)
        except Exception as error:
            error.add_note(told)
            raise
        raise BrokenError(f"the model stopped: {reason}. {told}")

    @property
    def open(self) -> bool:
        """Whether the last design stopped, so that those before it may yet turn out not to be at fault."""
        return self._trail > 0


def _kind(reason: str) -> tuple[str, str]:
    """What makes two failures the same: the kind of error and its place; the text may name the design."""
    return reason.partition(":")[0], reason.rpartition(" (")[2]


def _halves(columns: Columns) -> tuple[Columns, Columns]:
    middle = row_count(columns) // 2
    return take(columns, slice(0, middle)), take(columns, slice(middle, None))


def _stopped(values: Sequence[str], margins: Sequence[str], reason: str) -> Outcomes:
    """Outcomes of one design on which the model stopped."""
    return Outcomes(
        values={name: np.full(1, np.nan) for name in values},
        status=np.array([STOPPED], np.int64),
        margins={name: np.full(1, np.nan) for name in margins},
        failures={0: reason},
    )
