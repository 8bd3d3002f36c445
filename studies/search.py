"""Search for designs that are good by several goals and exceed no limit; optuna lives here only.

NSGA-II, one generation in one batch: a population is asked for, evaluated in one go, and told back.

Rows that failed are told "failed" and have no children; they stay in the result with their status. A row that
exceeds limits is told by how much, each margin divided by its limit's scale so that kelvin and metres can be
added. A goal that was never reached (censored: nan) has no value to invent: where the limit
`reached_key(goal)` is listed, the row counts as exceeding that limit, by the margin the evaluator gives. Such
rows rank behind every row within limits and among themselves by how far they were from reaching the goal.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import optuna
import xarray as xr
from numpy.typing import NDArray
from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)
from optuna.samplers import NSGAIISampler
from optuna.samplers.nsgaii import PolynomialMutation, SBXCrossover
from optuna.study import Study
from optuna.trial import FrozenTrial, Trial, TrialState

from .evaluations import EvaluationLog, evaluate_rows
from .front import hypervolume, non_dominated
from .outcomes import NOT_FINITE, OK, Column, Evaluate, Outcomes, Output, join, reached_key
from .space import Parameter, Space
from .workers import Progress

# Deb, Pratap, Agarwal and Meyarivan, A fast and elitist multiobjective genetic algorithm: NSGA-II, IEEE
# Trans. Evol. Comput. 6 (2002) 182, section IV: crossover probability 0.9, distribution indices 20 and 20.
_CROSSOVER_PROBABILITY = 0.9
_CROSSOVER_INDEX = 20.0
_MUTATION_INDEX = 20.0

# Room left between the worst trial within limits and the reference point, so that extremes count too.
_REFERENCE_ROOM = 0.1

_RESERVED = ("trial", "status", "generation", "feasible", "on_front", "hypervolume", "generation_number")


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
    """How far a search is, told after each generation."""

    number: int
    done: int
    total: int
    failed: int
    feasible: int
    front: int


@dataclass(frozen=True, kw_only=True)
class _Task:
    """What is searched, checked once."""

    space: Space
    goals: tuple[Goal, ...]
    limits: tuple[Limit, ...]
    also: tuple[Output, ...]

    def __post_init__(self) -> None:
        if not self.goals:
            raise ValueError("a search needs at least one goal")
        if any(limit.scale <= 0.0 for limit in self.limits):
            raise ValueError("a limit's scale must be above zero")
        names = [*self.space.names, *self.value_names, *map(_margin_variable, self.margin_names), *_RESERVED]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"name used twice in a search: {', '.join(twice)}")

    @property
    def value_names(self) -> list[str]:
        return [output.name for output in (*self.goals, *self.also)]

    @property
    def margin_names(self) -> list[str]:
        return [limit.name for limit in self.limits]


def search(
    space: Space,
    evaluate: Evaluate,
    *,
    goals: Sequence[Goal],
    limits: Sequence[Limit] = (),
    also: Sequence[Output] = (),
    trials: int,
    population: int,
    seed: int,
    known: Sequence[Mapping[str, Any]] = (),
    reference: Mapping[str, float] | None = None,
    workers: int = 1,
    chunk_rows: int | None = None,
    log: EvaluationLog | None = None,
    on_generation: Callable[[Generation], None] | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Every design tried, with its goals, margins and status, and which of them form the front.

    The same arguments give the same bits, whatever `workers`, `chunk_rows` and the state of `log`.

    Parameters
    ----------
    space : Space
    evaluate : Evaluate
    goals, limits, also : sequences
        What is optimised, what must hold, what is kept beside.
    trials : int
        Designs in all; at least one population.
    population : int
        Designs in a generation, at least 4.
    seed : int
        1 or more.
    known : sequence of dict, optional
        Designs to try first, one value per factor.
    reference : dict of float, optional
        Reference point of the hypervolume, by goal; else the worst trial within limits and a tenth of the
        range more.
    workers, chunk_rows : int
        Threads, and designs per call of `evaluate`; a whole generation in one call unless given.
    log : EvaluationLog, optional
        Designs in it are not evaluated again.
    on_generation, progress : callable, optional
        Told after each generation; after each chunk.

    Returns
    -------
    Dataset
        Dimension `trial` (factors are coordinates) and `generation_number` (hypervolume of all trials so far).

    Raises
    ------
    ValueError
        Counts, seed, names or a known design that cannot be; outcomes that break the evaluator's contract.
    """
    task = _Task(space=space, goals=tuple(goals), limits=tuple(limits), also=tuple(also))
    _check_counts(trials=trials, population=population, seed=seed, known=len(known))
    memory = log or EvaluationLog(space, values=task.value_names, margins=task.margin_names, key="")
    parts: list[tuple[dict[str, Column], Outcomes]] = []
    with _quiet():
        sampler = _sampler(population, seed)
        study = optuna.create_study(directions=[goal.direction for goal in task.goals], sampler=sampler)
        for design in _encoded(space, known):
            study.enqueue_trial(design)
        for start in range(0, trials, population):
            asked = [study.ask(_distributions(space)) for _ in range(min(population, trials - start))]
            columns = _decoded(space, asked)
            outcomes = evaluate_rows(
                evaluate,
                columns,
                values=task.value_names,
                margins=task.margin_names,
                workers=workers,
                chunk_rows=chunk_rows or population,
                progress=progress,
                log=memory,
            )
            outcomes = _judged(task, outcomes)
            sampler.close_generation(_tell(study, task, asked, outcomes))
            parts.append((columns, outcomes))
            if on_generation is not None:
                on_generation(_report(task, parts, trials))
    return _dataset(task, parts, reference, seed=seed, population=population)


def _check_counts(*, trials: int, population: int, seed: int, known: int) -> None:
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 1:
        raise ValueError(f"seed = {seed!r}, allowed a whole number from 1")
    if population < 4:
        raise ValueError(f"population = {population}, allowed 4 or more")
    if trials < population:
        raise ValueError(f"trials = {trials}, allowed {population} (one population) or more")
    if known > population:
        raise ValueError(f"{known} known designs do not fit a population of {population}")


class _Sampler(NSGAIISampler):
    """NSGA-II told where each generation ends.

    optuna counts the trials that completed to find a trial's generation, so one failed trial would make the
    whole next batch a second helping of the same generation (and at generation 0 a random one). It also walks
    through every earlier trial at every question. Here a generation is a batch, whatever failed in it.
    """

    def __init__(self, **arguments: Any) -> None:
        super().__init__(**arguments)
        self._populations: list[list[FrozenTrial]] = []
        self._parents: dict[int, list[FrozenTrial]] = {0: []}

    def close_generation(self, told: list[FrozenTrial]) -> None:
        """Make the completed trials of a batch the newest population."""
        self._populations.append([trial for trial in told if trial.state == TrialState.COMPLETE])

    def get_trial_generation(self, study: Study, trial: FrozenTrial) -> int:
        """Number of batches closed before this trial was asked for."""
        return len(self._populations)

    def get_population(self, study: Study, generation: int) -> list[FrozenTrial]:
        """Completed trials of a batch."""
        return self._populations[generation]

    def get_parent_population(self, study: Study, generation: int) -> list[FrozenTrial]:
        """The best so far; empty, which means random designs, while there are not two to cross."""
        if generation not in self._parents:
            self._parents[generation] = self.select_parent(study, generation)
        parents = self._parents[generation]
        return parents if len(parents) > 1 else []


def _sampler(population: int, seed: int) -> _Sampler:
    with warnings.catch_warnings():
        # Both operators are the published ones; only their signatures may still change.
        warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
        return _Sampler(
            population_size=population,
            seed=seed,
            crossover=SBXCrossover(eta=_CROSSOVER_INDEX),
            crossover_prob=_CROSSOVER_PROBABILITY,
            mutation=PolynomialMutation(eta=_MUTATION_INDEX),
        )


@contextmanager
def _quiet() -> Iterator[None]:
    """optuna's own messages off for the time of a search, then as the user had them."""
    before = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.WARNING)
    try:
        yield
    finally:
        optuna.logging.set_verbosity(before)


def _distributions(space: Space) -> dict[str, BaseDistribution]:
    """optuna's view of the space: real factors as they are, ordered values by number, choices by word."""
    return {p.name: _distribution(p) for p in space.parameters}


def _distribution(parameter: Parameter) -> BaseDistribution:
    values = parameter.values
    if values is None:
        low, high = parameter.range
        return FloatDistribution(low, high, log=parameter.log)
    if parameter.kind == "choice":
        return CategoricalDistribution(parameter.choices)
    return IntDistribution(0, values.size - 1)


def _decoded(space: Space, asked: Sequence[Trial]) -> dict[str, Column]:
    columns: dict[str, Column] = {}
    rows = [trial.params for trial in asked]  # a property that copies: read it once
    for p in space.parameters:
        raw = np.array([row[p.name] for row in rows])
        columns[p.name] = p.values[raw] if p.values is not None and p.kind != "choice" else p.checked(raw)
    return columns


def _encoded(space: Space, known: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    if not known:
        return []
    columns: dict[str, Any] = dict(space.columns(known))
    for p in space.parameters:
        if p.values is not None and p.kind != "choice":
            columns[p.name] = p.index(columns[p.name]).astype(np.int64)
    return space.rows(columns)


def _judged(task: _Task, outcomes: Outcomes) -> Outcomes:
    """Rows with a missing goal that no limit accounts for are marked; one that contradicts itself is refused."""
    status = outcomes.status.copy()
    for goal in task.goals:
        missing = np.isnan(outcomes.values[goal.name]) & (status == OK)
        key = reached_key(goal.name)
        if key not in task.margin_names:
            status[missing] = NOT_FINITE
        elif np.any(outcomes.margins[key][missing] <= 0.0):
            raise ValueError(f"goal {goal.name} is nan in a row whose margin says it was reached")
    return Outcomes(values=outcomes.values, status=status, margins=outcomes.margins)


def _tell(study: Study, task: _Task, asked: Sequence[Trial], outcomes: Outcomes) -> list[FrozenTrial]:
    told = []
    for row, trial in enumerate(asked):
        if outcomes.status[row] != OK:
            told.append(study.tell(trial, state=TrialState.FAIL))
            continue
        for limit in task.limits:
            trial.set_constraint(limit.name, float(outcomes.margins[limit.name][row]) / limit.scale)
        # An infinity stands for "never" towards optuna alone: the row exceeds a limit, so its goals are not
        # compared with those of any row within limits.
        goals = [(float(outcomes.values[goal.name][row]), goal.sign * np.inf) for goal in task.goals]
        told.append(study.tell(trial, [never if np.isnan(value) else value for value, never in goals]))
    return told


def _feasible(task: _Task, outcomes: Outcomes) -> NDArray[np.bool_]:
    """Rows that ran, reached every goal and exceed no limit."""
    feasible = outcomes.status == OK
    for goal in task.goals:
        feasible &= np.isfinite(outcomes.values[goal.name])
    for limit in task.limits:
        feasible &= outcomes.margins[limit.name] <= 0.0
    return feasible


def _points(task: _Task, outcomes: Outcomes) -> NDArray[np.float64]:
    """Goals turned so that smaller is better: float64[row, goal]."""
    return np.column_stack([goal.sign * outcomes.values[goal.name] for goal in task.goals])


def _on_front(task: _Task, outcomes: Outcomes) -> NDArray[np.bool_]:
    feasible = _feasible(task, outcomes)
    front = np.zeros(outcomes.rows, dtype=bool)
    front[feasible] = non_dominated(_points(task, outcomes)[feasible])
    return front


def _report(task: _Task, parts: list[tuple[dict[str, Column], Outcomes]], total: int) -> Generation:
    outcomes = join([part for _, part in parts])
    return Generation(
        number=len(parts) - 1,
        done=outcomes.rows,
        total=total,
        failed=outcomes.failed,
        feasible=int(_feasible(task, outcomes).sum()),
        front=int(_on_front(task, outcomes).sum()),
    )


def _reference(
    task: _Task, points: NDArray[np.float64], given: Mapping[str, float] | None
) -> NDArray[np.float64]:
    """Reference point, turned so that smaller is better: float64[goal]; nan without any feasible trial."""
    if given is not None:
        missing = [goal.name for goal in task.goals if goal.name not in given]
        if missing:
            raise ValueError(f"the reference point does not say: {', '.join(missing)}")
        return np.array([goal.sign * given[goal.name] for goal in task.goals])
    if len(points) == 0:
        return np.full(len(task.goals), np.nan)
    worst = points.max(axis=0)
    return worst + _REFERENCE_ROOM * (worst - points.min(axis=0))


def _margin_variable(limit: str) -> str:
    return f"margin_{limit.replace(' ', '_')}"


def _dataset(
    task: _Task,
    parts: list[tuple[dict[str, Column], Outcomes]],
    reference: Mapping[str, float] | None,
    *,
    seed: int,
    population: int,
) -> xr.Dataset:
    outcomes = join([part for _, part in parts])
    generation = np.repeat(np.arange(len(parts)), [part.rows for _, part in parts])
    feasible = _feasible(task, outcomes)
    points = _points(task, outcomes)
    corner = _reference(task, points[feasible], reference)
    volumes = [hypervolume(points[feasible & (generation <= number)], corner) for number in range(len(parts))]
    flags = {
        "status": (outcomes.status, "0 ran to the end, -1 numbers not finite, else the evaluator's own code"),
        "generation": (generation, "generation in which the design was tried"),
        "feasible": (feasible.astype(np.int8), "1 where every goal was reached and no limit exceeded"),
        "on_front": (_on_front(task, outcomes).astype(np.int8), "1 where no feasible trial is better"),
    }
    volume_unit = " ".join(goal.unit for goal in task.goals if goal.unit != "1") or "1"
    return xr.Dataset(
        {
            **_output_variables(task, outcomes),
            **{
                name: ("trial", column, {"units": "1", "long_name": text})
                for name, (column, text) in flags.items()
            },
            "hypervolume": (
                "generation_number",
                np.array(volumes),
                {
                    "units": volume_unit,
                    "long_name": "volume between the front so far and the reference point",
                },
            ),
        },
        coords=_coordinates(task.space, parts),
        attrs={
            "study": "search",
            "seed": seed,
            "population": population,
            "trials": outcomes.rows,
            "sampler": f"optuna {optuna.__version__} NSGA-II, simulated binary crossover index "
            f"{_CROSSOVER_INDEX:g}, polynomial mutation index {_MUTATION_INDEX:g}",
            "hypervolume_goals": " ".join(goal.name for goal in task.goals),
            "hypervolume_reference": [
                goal.sign * float(x) for goal, x in zip(task.goals, corner, strict=True)
            ],
        },
    )


def _output_variables(task: _Task, outcomes: Outcomes) -> dict[str, Any]:
    variables: dict[str, Any] = {}
    for output in (*task.goals, *task.also):
        attributes = {"units": output.unit, "long_name": output.meaning, "role": "output"}
        if isinstance(output, Goal):
            attributes |= {"role": "goal", "direction": output.direction}
        variables[output.name] = ("trial", outcomes.values[output.name], attributes)
    for limit in task.limits:
        variables[_margin_variable(limit.name)] = (
            "trial",
            outcomes.margins[limit.name],
            {
                "units": limit.unit,
                "long_name": f"excess over the limit: {limit.meaning}",
                "role": "limit",
                "scale": limit.scale,
            },
        )
    return variables


def _coordinates(space: Space, parts: list[tuple[dict[str, Column], Outcomes]]) -> dict[str, Any]:
    rows = sum(part.rows for _, part in parts)
    coordinates: dict[str, Any] = {
        "trial": ("trial", np.arange(rows), {"units": "1", "long_name": "number of the trial"}),
        "generation_number": (
            "generation_number",
            np.arange(len(parts)),
            {"units": "1", "long_name": "number of the generation"},
        ),
    }
    for p in space.parameters:
        column = np.concatenate([columns[p.name] for columns, _ in parts])
        coordinates[p.name] = ("trial", column, {"units": p.unit, "long_name": p.meaning, "role": "factor"})
    return coordinates
