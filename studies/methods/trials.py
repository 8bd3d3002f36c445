"""What a search is asked for and what it tried: goals, limits, and every trial so far.

A goal that was never reached (censored: nan) has no value to invent. Where the limit `reached_key(goal)` is
listed, such a row counts as exceeding that limit, by the margin the evaluator gives; without that limit a
missing goal is a failure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import NOT_FINITE, OK, Column, Outcomes, Output, checked, join, reached_key
from ..judging.space import Space
from .front import non_dominated

Batches = list[tuple[dict[str, Column], Outcomes]]

_RESERVED = (
    *("trial", "trial_run", "status", "generation", "feasible", "on_front", "reason"),
    *("run", "run_seed", "generation_number", "hypervolume", "run_hypervolume"),
)


@dataclass(frozen=True, kw_only=True)
class Goal(Output):
    """An output to make as small or as large as can be."""

    direction: Literal["minimize", "maximize"]

    @property
    def sign(self) -> float:
        """1 where smaller is better, -1 where larger is."""
        return 1.0 if self.direction == "minimize" else -1.0


@dataclass(frozen=True, kw_only=True)
class Limit(Output):
    """A bound that must not be exceeded; its outcome is a margin, above zero when exceeded.

    Parameters
    ----------
    scale : float   [the limit's unit]
        An excess that weighs one; excesses of several limits are added after division by it.
    """

    scale: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Generation:
    """How far a search is, told after each generation; `done` and `total` count all searches, the rest this one."""

    run: int
    number: int
    done: int
    total: int
    failed: int
    feasible: int
    front: int


@dataclass(frozen=True, kw_only=True)
class SearchTask:
    """What is searched, checked once."""

    space: Space
    goals: tuple[Goal, ...]
    limits: tuple[Limit, ...]
    also: tuple[Output, ...]
    reference: Mapping[str, float] | None = None

    def __post_init__(self) -> None:
        """Refuse a task without a goal, with a name used twice, or with half a reference point."""
        if not self.goals:
            raise ValueError("a search needs at least one goal")
        if any(limit.scale <= 0.0 for limit in self.limits):
            raise ValueError("a limit's scale must be above zero")
        names = [*self.space.names, *self.value_names, *map(margin_variable, self.margin_names), *_RESERVED]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"name used twice in a search: {', '.join(twice)}")
        if self.reference is not None and set(self.reference) != {goal.name for goal in self.goals}:
            raise ValueError("the reference point of the hypervolume names every goal and nothing else")

    @property
    def value_names(self) -> list[str]:
        """Names of the outcomes kept: goals first."""
        return [output.name for output in (*self.goals, *self.also)]

    @property
    def margin_names(self) -> list[str]:
        """Names of the limits."""
        return [limit.name for limit in self.limits]


def judged(task: SearchTask, outcomes: Outcomes) -> Outcomes:
    """Marks rows with a missing goal that no limit accounts for; refuses one that contradicts itself."""
    status = outcomes.status.copy()
    for goal in task.goals:
        missing = np.isnan(outcomes.values[goal.name]) & (status == OK)
        key = reached_key(goal.name)
        if key not in task.margin_names:
            status[missing] = NOT_FINITE
        elif np.any(outcomes.margins[key][missing] <= 0.0):
            raise ValueError(f"goal {goal.name} is nan in a row whose margin says it was reached")
    marked = Outcomes(
        values=outcomes.values, status=status, margins=outcomes.margins, failures=outcomes.failures
    )
    return checked(marked, rows=outcomes.rows, values=task.value_names, margins=task.margin_names)


def feasible_rows(task: SearchTask, outcomes: Outcomes) -> NDArray[np.bool_]:
    """Rows that ran, reached every goal and exceed no limit."""
    feasible: NDArray[np.bool_] = outcomes.status == OK
    for goal in task.goals:
        feasible &= np.isfinite(outcomes.values[goal.name])
    for limit in task.limits:
        feasible &= outcomes.margins[limit.name] <= 0.0
    return feasible


def points_of(task: SearchTask, outcomes: Outcomes) -> NDArray[np.float64]:
    """Goals turned so that smaller is better: float64[row, goal]."""
    return np.column_stack([goal.sign * outcomes.values[goal.name] for goal in task.goals])


def margin_variable(limit: str) -> str:
    """Name under which the margin of a limit is stored."""
    return f"margin_{limit.replace(' ', '_')}"


class Archive:
    """Every trial of a search so far, batch by batch, and the front after each batch.

    A design tried again (children may be copies of a parent) stands on the front once, where it came first.
    """

    def __init__(self, task: SearchTask) -> None:
        self.task = task
        self.batches: Batches = []
        self.fronts: list[NDArray[np.float64]] = []
        self.rivals: list[NDArray[np.bool_]] = []
        self._seen: set[bytes] = set()
        self._failed = 0
        self._feasible = 0

    def add(self, columns: dict[str, Column], outcomes: Outcomes) -> None:
        """Keep one generation."""
        feasible = feasible_rows(self.task, outcomes)
        self.batches.append((columns, outcomes))
        self._failed += outcomes.failed
        self._feasible += int(feasible.sum())
        self.rivals.append(feasible & self._new(columns))
        points = points_of(self.task, outcomes)[self.rivals[-1]]
        pool = np.vstack([self.fronts[-1], points]) if self.fronts else points
        self.fronts.append(pool[non_dominated(pool)])

    def _new(self, columns: dict[str, Column]) -> NDArray[np.bool_]:
        """Which designs were not tried before."""
        new = []
        for row in self.task.space.matrix(columns):
            new.append(row.tobytes() not in self._seen)
            self._seen.add(row.tobytes())
        return np.array(new)

    def on_front(self) -> NDArray[np.bool_]:
        """Which trials form the front: bool[trial]."""
        rivals = np.concatenate(self.rivals)
        front = np.zeros(rivals.size, dtype=bool)
        front[rivals] = non_dominated(points_of(self.task, self.outcomes())[rivals])
        return front

    def outcomes(self) -> Outcomes:
        """Outcomes of every trial, in order."""
        return join([outcomes for _, outcomes in self.batches])

    def report(self, run: int, *, before: int, total: int) -> Generation:
        """How far the searches are: this is number `run`, after `before` trials of others."""
        return Generation(
            run=run,
            number=len(self.batches) - 1,
            done=before + self.rows,
            total=total,
            failed=self._failed,
            feasible=self._feasible,
            front=len(self.fronts[-1]),
        )

    @property
    def rows(self) -> int:
        """Number of trials."""
        return sum(outcomes.rows for _, outcomes in self.batches)
