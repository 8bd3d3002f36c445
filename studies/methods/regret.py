"""What designs lose against the best there is, cell by cell, and which one or two lose least over all cells.

A cell is a situation that every design of a pool was tried in, such as a place and a month. Where a design does not
serve, because it is over a limit or never reaches the goal, it has no regret but nan: counted, never a large number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Rule = Literal["mean", "worst"]

NONE = -1  # in place of the number of a design, where no design serves
_SAME = 1e-9  # of all weight; sums of weights differ by rounding


class Standing(NamedTuple):
    """How choices stand over all cells; a choice is one design, or several of which each cell uses the best."""

    served: Floats  # [choice] weight of the cells served
    score: Floats  # [choice] regret over those cells, by the rule; nan where there are none
    aside: Floats  # [choice] mean over those cells of what decides within the slack; 0 where nothing does


@dataclass(frozen=True, kw_only=True)
class Choices:
    """A pool of designs judged over cells.

    Parameters
    ----------
    worth : float64[design, cell]
        The goal, turned so that less is better; nan where the design does not serve.
    weight : float64[cell]
        Above zero.
    rule : "mean" or "worst"
        Which regret decides over several cells.
    slack : float   [unit of worth]
        What of the goal may be given up for less of `aside`.
    aside : float64[design, cell], optional
        What decides among designs within the slack, less is better; without it the goal alone decides.
    """

    worth: Floats
    weight: Floats
    rule: Rule = "mean"
    slack: float = 0.0
    aside: Floats | None = None

    @cached_property
    def can(self) -> NDArray[np.bool_]:
        """Cells that any design serves. bool[cell]"""
        return np.asarray(np.isfinite(self.worth).any(axis=0))

    @cached_property
    def regret(self) -> Floats:
        """How much worse than the cell's best: float64[design, cell], 0 or more; nan where it does not serve."""
        return np.asarray(self.worth - np.fmin.reduce(self.worth, axis=0))

    @cached_property
    def best(self) -> Ints:
        """The best design of each cell; NONE where none serves. int64[cell]"""
        return np.array([_least(column, 0.0, None) for column in self.worth.T])

    @cached_property
    def fitting(self) -> Ints:
        """Within the slack of each cell's best, the design with the least `aside`. int64[cell]"""
        if self.aside is None:
            return self.best
        columns = zip(self.worth.T, self.aside.T, strict=True)
        return np.array([_least(worth, self.slack, aside) for worth, aside in columns])

    @cached_property
    def standing(self) -> Standing:
        """Every design by itself."""
        return self._standing(self.regret, self.aside)

    @cached_property
    def widest(self) -> Floats:
        """Score of the designs that serve as much as any does, nan for the others. float64[design]"""
        return self._of_those_that_serve_most(self.standing)

    @cached_property
    def one(self) -> int:
        """The design to build if there is to be one: of those that serve most, the one of least regret.

        With `aside`: of those within the slack of that regret, the one with the least of it. NONE where no design
        serves any cell.
        """
        return self._chosen(self.standing)

    @property
    def least_of_one(self) -> float:
        """The least regret, by the rule, of any one design that serves most; nan where none serves."""
        return float(np.fmin.reduce(self.widest, initial=np.nan))

    @property
    def least_of_two(self) -> float:
        """The same of any two designs of which each cell uses the better one."""
        if not self.pairs.score.size:
            return self.least_of_one
        return float(np.fmin.reduce(self._of_those_that_serve_most(self.pairs), initial=np.nan))

    @cached_property
    def two(self) -> tuple[int, int]:
        """The two designs to build if each cell uses the better of them, by the rule of `one`; all pairs are tried."""
        pairs = self.pairs
        chosen = self._chosen(pairs) if pairs.score.size else NONE
        if chosen == NONE:
            return self.one, self.one
        first, second = np.triu_indices(len(self.worth), k=1)
        return int(first[chosen]), int(second[chosen])

    @cached_property
    def pairs(self) -> Standing:
        """Every pair of designs, in the order of `numpy.triu_indices`."""
        rows = [self._pairs_of(design) for design in range(len(self.worth) - 1)]
        if not rows:
            return Standing(*np.empty((3, 0)))
        return Standing(*(np.concatenate(column) for column in zip(*rows, strict=True)))

    def within(self, cells: NDArray[np.bool_]) -> Choices:
        """The same pool judged over some of the cells."""
        aside = None if self.aside is None else self.aside[:, cells]
        return replace(self, worth=self.worth[:, cells], weight=self.weight[cells], aside=aside)

    def used(self, designs: tuple[int, ...]) -> Ints:
        """Which of a few designs each cell uses, the better one there; NONE where none serves. int64[cell]"""
        place = np.array([_least(column, 0.0, None) for column in self.regret[list(designs)].T])
        return np.where(place == NONE, NONE, np.array(designs)[place])

    def _pairs_of(self, design: int) -> Standing:
        """A design with each of those after it."""
        own, others = self.regret[design], self.regret[design + 1 :]
        uses_own = np.isnan(others) | (own <= others)
        better = np.where(uses_own, own, others)
        if self.aside is None:
            return self._standing(better, None)
        return self._standing(better, np.where(uses_own, self.aside[design], self.aside[design + 1 :]))

    def _standing(self, regret: Floats, aside: Floats | None) -> Standing:
        weight = np.where(np.isnan(regret), 0.0, self.weight)
        served = weight.sum(axis=1)
        return Standing(
            served,
            worst(regret) if self.rule == "worst" else mean(regret, self.weight),
            np.zeros(len(regret))
            if aside is None
            else mean(np.where(weight > 0, aside, np.nan), self.weight),
        )

    def _chosen(self, standing: Standing) -> int:
        """Most served first, then regret, then what decides within the slack."""
        score = self._of_those_that_serve_most(standing)
        return _least(score, self.slack, standing.aside if self.aside is not None else None)

    def _of_those_that_serve_most(self, standing: Standing) -> Floats:
        most = standing.served >= standing.served.max() - _SAME * self.weight.sum()
        return np.where(most, standing.score, np.nan)


def mean(values: Floats, weight: Floats) -> Floats:
    """Weighted mean of each row over the cells that have a value; nan where none has. float64[row]"""
    has = ~np.isnan(values)
    total = (has * weight).sum(axis=1)
    sums = (np.where(has, values, 0.0) * weight).sum(axis=1)
    return np.asarray(np.divide(sums, total, out=np.full(len(values), np.nan), where=total > 0))


def worst(values: Floats) -> Floats:
    """Largest of each row over the cells that have a value; nan where none has. float64[row]"""
    return np.asarray(np.fmax.reduce(values, axis=1))


def _least(worth: Floats, slack: float, aside: Floats | None) -> int:
    """Row of least worth, or within `slack` of it the one of least `aside`; NONE where every worth is nan."""
    known = np.flatnonzero(~np.isnan(worth))
    if not known.size:
        return NONE
    if aside is None:
        return int(known[np.argmin(worth[known])])
    close = known[worth[known] <= worth[known].min() + slack]
    second = np.where(np.isnan(aside[close]), np.inf, aside[close])
    return int(close[np.lexsort((worth[close], second))[0]])
