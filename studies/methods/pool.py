"""A pool of designs tried in every cell: what was asked of it, and what became of them.

Every design is tried in every cell on the same points, so that within the pool the regrets are exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import OK, Column, Columns, Evaluate, Outcomes, join
from ..judging.space import Parameter, Space, SpaceError, take
from .regret import NONE, Choices, Rule
from .trials import Goal, Limit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CELL = "cell"


@dataclass(frozen=True)
class EachCell:
    """Rows of designs and cells, each handed to the evaluator of its cell."""

    cells: tuple[Evaluate, ...]

    def __call__(self, columns: Columns) -> Outcomes:
        """Outcomes of the rows, in their order."""
        designs = {name: column for name, column in columns.items() if name != CELL}
        rows = [np.flatnonzero(columns[CELL] == cell) for cell in np.unique(columns[CELL])]
        parts = [self.cells[int(columns[CELL][own[0]])](take(designs, own)) for own in rows]
        return join(parts).take(np.argsort(np.concatenate(rows)))


def with_cell(space: Space, cells: int) -> Space:
    """The space with the number of the cell as one more factor."""
    number = Parameter(name=CELL, kind="integer", meaning="number of the cell", low=0, high=max(cells - 1, 1))
    return Space((*space.parameters, number))


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked of a pool.

    Parameters
    ----------
    goal : Goal
        What each cell makes best.
    rather : Goal, optional
        What decides among designs within `slack` of the best.
    limits : sequence of Limit
        Kept wherever a design is said to serve; a goal that may be censored brings its own.
    weight : float64[cell]
        Above zero.
    rule, slack
        As in `Choices`.
    """

    goal: Goal
    weight: Floats
    rather: Goal | None = None
    limits: tuple[Limit, ...] = ()
    rule: Rule = "mean"
    slack: float = 0.0

    @property
    def value_names(self) -> list[str]:
        """Outcomes wanted of an evaluator."""
        return [goal.name for goal in (self.goal, self.rather) if goal is not None]

    @property
    def margin_names(self) -> list[str]:
        """Limits wanted of an evaluator."""
        return [limit.name for limit in self.limits]


@dataclass(frozen=True, kw_only=True)
class Pool:
    """Designs and what became of them in every cell; arrays of outcomes are [design, cell]."""

    question: Question
    columns: dict[str, Column]
    born: Ints  # [design] round it came in
    values: Mapping[str, Floats]
    margins: Mapping[str, Floats]
    status: Ints

    @cached_property
    def choices(self) -> Choices:
        """The designs judged."""
        question = self.question
        worth = question.goal.sign * self.values[question.goal.name]
        rather = question.rather
        return Choices(
            worth=np.where(self.over <= 0, worth, np.nan),
            weight=question.weight,
            rule=question.rule,
            slack=question.slack,
            aside=None if rather is None else rather.sign * self.values[rather.name],
        )

    @cached_property
    def margins_over(self) -> Floats:
        """By how much each limit is exceeded, over its scale; nan where a design did not run.

        float64[design, cell, limit]
        """
        limits = [self.margins[limit.name] / limit.scale for limit in self.question.limits]
        return np.stack([*limits, np.where(self.status == OK, 0.0, np.nan)], axis=-1)

    @property
    def over(self) -> Floats:
        """Excesses of all limits added up; nan where a design did not run. float64[design, cell]"""
        return np.asarray(np.maximum(self.margins_over, 0.0).sum(axis=-1))

    def row_of(self, space: Space, design: Mapping[str, Any]) -> int:
        """Where a design stands in the pool; NONE if it is not there."""
        if not allows(space, design):
            return NONE
        alike = space.matrix(self.columns) == space.matrix(space.columns([design]))
        rows = np.flatnonzero(alike.all(axis=1))
        return int(rows[0]) if rows.size else NONE

    @property
    def best_so_far(self) -> Floats:
        """The goal of each cell's best design after each round; nan where none serves. float64[round, cell]"""
        worth = self.choices.worth
        rounds = [worth[self.born <= number] for number in range(int(self.born.max()) + 1)]
        return self.question.goal.sign * np.array([np.fmin.reduce(part, axis=0) for part in rounds])


def allows(space: Space, row: Mapping[str, Any]) -> bool:
    """Whether a design lies in the space."""
    try:
        space.columns([row])
    except SpaceError:
        return False
    return True
