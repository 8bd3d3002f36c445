"""Quantities of a design moved both ways, one at a time, until a goal is so much worse or they can go no further.

Each quantity is moved both ways from the design, in steps of the accuracy with which it is made. A few points are
spread over the range first; where the goal passes a level between two of them, more are put there. All quantities go
through these rounds together, so that a round is one batch. What is looked for is the first passage: a quantity that
must cross a bad stretch to be good again is not allowed to.

The range tried ends where the quantity itself ends (a share at zero), where a design can no longer be built, or where
it never reaches the goal. Each is told apart from a passage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import OK, Column
from ..judging.space import Parameter
from .crossing import first_over, passage, points_between
from .repeats import Repeats, Worse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FIRST = (
    1.0,
    2.0,
    3.0,
    4.0,
    6.0,
    8.0,
)  # accuracies off, in the first round; a hump between two of them is not seen
REACH = FIRST[-1]  # beyond what is called not critical, so that it can be told
ROUNDS = 3  # of closing in: each makes a bracket some four times narrower
SIDES = (-1, 1)


class Ends(IntEnum):
    """Why a quantity may go no further, or that it may."""

    PASSED = 0  # the goal is so much worse there
    BEYOND = 1  # it is not so much worse anywhere in the range tried
    NEVER = 2  # further on the goal is never reached
    UNBUILT = 3  # further on it cannot be built or run
    LAST = 4  # there are no values further on, and up to there it is not so much worse


@dataclass(frozen=True, kw_only=True)
class Toleranced:
    """A quantity of a design that never comes out exactly.

    Parameters
    ----------
    parameter : Parameter
        A real one without a step; its range is all that is possible, not what the workshop does.
    at : float   [SI]
        As designed.
    accuracy : float   [SI]
        Half the width of what the workshop's work usually spreads over.
    """

    parameter: Parameter
    at: float
    accuracy: float

    @property
    def name(self) -> str:
        """Of the quantity."""
        return self.parameter.name

    def room(self, way: int) -> float:
        """How far it can go one way before its possible values end, in accuracies."""
        low, high = self.parameter.range
        return max(high - self.at if way > 0 else self.at - low, 0.0) / self.accuracy

    def moved(self, off: Floats) -> Floats:
        """Its value so many accuracies off the design. [SI]"""
        return np.clip(self.at + off * self.accuracy, *self.parameter.range)


def at_design(parts: Sequence[Toleranced], rows: int) -> dict[str, Column]:
    """Columns of designs with every quantity as designed."""
    return {part.name: np.full(rows, part.at) for part in parts}


@dataclass
class Sweep:
    """One quantity moved one way: what was found so far, from the design outwards."""

    part: Toleranced
    way: int
    off: Floats = field(default_factory=lambda: np.zeros(1))  # accuracies
    excess: Floats = field(default_factory=lambda: np.zeros(1))
    doubt: Floats = field(default_factory=lambda: np.zeros(1))
    status: Ints = field(default_factory=lambda: np.zeros(1, np.int64))

    @property
    def limit(self) -> float:
        """How far the range tried goes, in accuracies."""
        return min(self.part.room(self.way), REACH)

    def first(self) -> Floats:
        """Where to measure first; nowhere if the design stands at the end of what is possible."""
        limit = self.limit
        return np.array([off for off in FIRST if off < limit] + [limit] * (limit > 0))

    def closer(self, levels: Sequence[float]) -> Floats:
        """Where to measure next."""
        return np.unique(np.concatenate([points_between(self.off, self.excess, level) for level in levels]))

    def add(self, off: Floats, found: Worse) -> None:
        """Sort in what was measured."""
        order = np.argsort(np.concatenate([self.off, off]), kind="stable")
        self.off = np.concatenate([self.off, off])[order]
        self.excess = np.concatenate([self.excess, found.excess])[order]
        self.doubt = np.concatenate([self.doubt, found.doubt])[order]
        self.status = np.concatenate([self.status, found.status])[order]

    def ends(self, level: float) -> Ends:
        """Why it may go no further before the goal is worse by `level`."""
        outer = first_over(self.excess, level)
        if outer is None:
            return Ends.BEYOND if self.limit == REACH else Ends.LAST
        if np.isfinite(self.excess[outer]):
            return Ends.PASSED
        return Ends.NEVER if self.status[outer] == OK else Ends.UNBUILT

    def allowed(self, level: float) -> tuple[float, float]:
        """How far it may go, and the standard error of that; nan where nothing stops it. [accuracies]"""
        ends = self.ends(level)
        outer = first_over(self.excess, level)
        if outer is None:
            return np.nan, np.nan
        if ends is not Ends.PASSED:
            inner = self.off[outer - 1]
            return float(inner), float((self.off[outer] - inner) / 2)
        at, slope = passage(self.off, self.excess, level)
        return at, self.noise / slope

    @property
    def noise(self) -> float:
        """Standard error of a change, over all points of the sweep; nan where it was measured once only."""
        known = self.doubt[1:][np.isfinite(self.doubt[1:])]
        return float(np.sqrt(np.mean(known**2))) if known.size else np.nan

    @property
    def stopped_by(self) -> int:
        """Status of the first design that could not be run; 0 if all could."""
        return int(self.status[np.argmax(self.status != OK)])

    def at_accuracy(self) -> float:
        """How much worse the goal is when it is off by just its accuracy, or as far as it goes."""
        return float(np.interp(min(1.0, self.limit), self.off, self.excess))


def swept(parts: Sequence[Toleranced], measure: Repeats, levels: Sequence[float]) -> list[Sweep]:
    """Every quantity moved both ways, alone.

    Parameters
    ----------
    parts : sequence of Toleranced
    measure : Repeats
        Around the design of the parts.
    levels : sequence of float   [unit of the goal]
        How much worse, rising, above zero.

    Returns
    -------
    list of Sweep
        Two for each quantity, in the order of `SIDES`.
    """
    sweeps = [Sweep(part, way) for part in parts for way in SIDES]
    wanted = [sweep.first() for sweep in sweeps]
    for _ in range(ROUNDS + 1):
        _measure(parts, sweeps, wanted, measure)
        wanted = [sweep.closer(levels) for sweep in sweeps]
    return sweeps


def _measure(
    parts: Sequence[Toleranced], sweeps: Sequence[Sweep], wanted: Sequence[Floats], measure: Repeats
) -> None:
    """One round: all points of all sweeps in one batch."""
    ends = np.cumsum([0, *(len(off) for off in wanted)])
    if not ends[-1]:
        return
    columns = at_design(parts, int(ends[-1]))
    for sweep, off, start, end in zip(sweeps, wanted, ends, ends[1:], strict=False):
        columns[sweep.part.name][start:end] = sweep.part.moved(sweep.way * off)
    found = measure(columns)
    for sweep, off, start, end in zip(sweeps, wanted, ends, ends[1:], strict=False):
        sweep.add(off, found.part(slice(start, end)))
