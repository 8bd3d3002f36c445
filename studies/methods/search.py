"""Search for designs that are good by several goals and exceed no limit; optuna lives here only.

NSGA-II, or NSGA-III for four goals, one generation in one batch: a population is asked for, evaluated in one go, and
told back. The same search may be made from several seeds; how near they end to each other is the evidence that they
have ended.

Rows that failed are told "failed" and have no children; they stay in the result with their status. A row that
exceeds limits is told by how much, each margin divided by its limit's scale so that kelvin and metres can be
added. A goal that was never reached (censored: nan) has no value to invent: where the limit
`reached_key(goal)` is listed, the row counts as exceeding that limit, by the margin the evaluator gives. Such
rows rank behind every row within limits and among themselves by how far they were from reaching the goal.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
import optuna
import xarray as xr
from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)
from optuna.samplers import BaseGASampler, NSGAIIISampler, NSGAIISampler
from optuna.samplers.nsgaii import PolynomialMutation, SBXCrossover
from optuna.study import Study
from optuna.trial import FrozenTrial, TrialState, create_trial

from ..judging.outcomes import OK, Column, Evaluate, Outcomes, Output
from ..judging.space import Parameter, Space
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import Progress, Workers
from .trials import Archive, Generation, Goal, Limit, SearchTask, judged
from .tried import Explain, trials_dataset

__all__ = ["Generation", "Goal", "Limit", "search"]

# Deb, Pratap, Agarwal and Meyarivan, A fast and elitist multiobjective genetic algorithm: NSGA-II, IEEE Trans.
# Evol. Comput. 6 (2002) 182, section IV: crossover probability 0.9, one mutation per child on average, and
# distribution indices of 20. We take wider ones: with 2500 trials (population 50, 8 factors, 3 seeds) on ZDT2
# indices of 20 left the search stuck at one end of the front (hypervolume 0.11 to 0.41 of 0.543), indices of 5
# did not (0.47 to 0.52), and ZDT1 came out the same (0.85 to 0.86 of 0.877).
_CROSSOVER_PROBABILITY = 0.9
_CROSSOVER_INDEX = 5.0
_MUTATION_INDEX = 5.0

# Among four goals nearly every design stands on the front, and crowding no longer leads: with 1500 trials on DTLZ2
# of four goals (population 50, two seeds) NSGA-II reached 0.68 and 0.73 of the volume, directions 0.77 to 0.85. Of
# three goals it is 0.88 for both. Deb and Jain, An evolutionary many-objective optimization algorithm using
# reference-point-based nondominated sorting, IEEE Trans. Evol. Comput. 18 (2014) 577.
_MANY_GOALS = 4


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
    seeds: int = 1,
    known: Sequence[Mapping[str, Any]] = (),
    reference: Mapping[str, float] | None = None,
    explain: Explain | None = None,
    workers: Workers = 1,
    chunk_rows: int | None = None,
    log: EvaluationLog | None = None,
    on_generation: Callable[[Generation], None] | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Every design tried, with its goals, margins and status, and which of them form the front.

    The same arguments give the same bits, whatever `workers`, `chunk_rows` and the state of `log`. The first of
    several searches is the one that would be made alone.

    Parameters
    ----------
    space : Space
    evaluate : Evaluate
    goals, limits, also : sequences
        What is optimised, what must hold, what is kept beside.
    trials : int
        Designs in each search; at least one population.
    population : int
        Designs in a generation, at least 4.
    seed : int
        1 or more.
    seeds : int
        Searches, each from the next seed; a design that one has evaluated is not evaluated by another.
    known : sequence of dict, optional
        Designs that every search tries first, one value per factor.
    reference : dict of float, optional
        Reference point of the hypervolume, by goal; else the worst of the front over all searches and a tenth of
        its range more.
    explain : callable, optional
        Outcomes to a sentence per row on why it is not feasible; kept as `reason`.
    workers, chunk_rows : int
        Threads, and designs per call of `evaluate`; a whole generation in one call unless given.
    log : EvaluationLog, optional
        Designs in it are not evaluated again.
    on_generation, progress : callable, optional
        Told after each generation; after each chunk.

    Returns
    -------
    Dataset
        Dimension `trial` (factors are coordinates), `run` for the searches, and `generation_number` for the
        hypervolume so far.

    Raises
    ------
    ValueError
        Counts, seed, names or a known design that cannot be; outcomes that break the evaluator's contract.
    """
    task = SearchTask(
        space=space, goals=tuple(goals), limits=tuple(limits), also=tuple(also), reference=reference
    )
    _check_counts(trials=trials, population=population, seed=seed, seeds=seeds, known=len(known))
    memory = log
    if memory is None:
        memory = EvaluationLog(space, values=task.value_names, margins=task.margin_names, key="")

    def outcomes_of(columns: dict[str, Column]) -> Outcomes:
        found = evaluate_rows(
            evaluate,
            columns,
            values=task.value_names,
            margins=task.margin_names,
            workers=workers,
            chunk_rows=chunk_rows or population,
            progress=progress,
            log=memory,
        )
        return judged(task, found)

    runs: list[Archive] = []
    own_seeds = [seed + number for number in range(seeds)]
    with _quiet():
        for number, own in enumerate(own_seeds):
            archive = Archive(task)
            for columns, outcomes in _generations(task, outcomes_of, known, trials, population, own):
                archive.add(columns, outcomes)
                if on_generation is not None:
                    on_generation(archive.report(number + 1, before=number * trials, total=seeds * trials))
            runs.append(archive)
    return trials_dataset(runs, seeds=own_seeds, explain=explain).assign_attrs(
        seed=seed,
        population=population,
        sampler=f"optuna {optuna.__version__} NSGA-{'II' if len(goals) < _MANY_GOALS else 'III'}, "
        f"crossover probability {_CROSSOVER_PROBABILITY:g}, crossover (SBX) index {_CROSSOVER_INDEX:g}, "
        f"mutation (polynomial) index {_MUTATION_INDEX:g}",
    )


def _generations(
    task: SearchTask,
    outcomes_of: Callable[[dict[str, Column]], Outcomes],
    known: Sequence[Mapping[str, Any]],
    trials: int,
    population: int,
    seed: int,
) -> Iterator[tuple[dict[str, Column], Outcomes]]:
    """One search, generation by generation."""
    sampler = _sampler(population, len(task.goals), seed)
    study = optuna.create_study(directions=["minimize"] * len(task.goals), sampler=sampler)
    distributions = _distributions(task.space)
    ahead = _encoded(task.space, known)
    for start in range(0, trials, population):
        count = min(population, trials - start)
        asked = ahead[:count] + [_bred(study, distributions) for _ in range(count - len(ahead))]
        ahead = ahead[count:]
        columns = _decoded(task.space, asked)
        outcomes = outcomes_of(columns)
        sampler.close_generation(_told(task, asked, distributions, outcomes, start))
        yield columns, outcomes


def _check_counts(*, trials: int, population: int, seed: int, seeds: int, known: int) -> None:
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 1:
        raise ValueError(f"seed = {seed!r}, allowed a whole number from 1")
    if seeds < 1:
        raise ValueError(f"seeds = {seeds}, allowed 1 or more")
    if population < 4:
        raise ValueError(f"population = {population}, allowed 4 or more")
    if trials < population:
        raise ValueError(f"trials = {trials}, allowed {population} (one population) or more")
    if known > population:
        raise ValueError(f"{known} known designs do not fit a population of {population}")


_NO_TRIAL = create_trial(state=TrialState.RUNNING)  # for samplers that take a trial and look at none


class _ByBatch(BaseGASampler):
    """An evolution told where each generation ends.

    optuna counts the trials that completed to find a trial's generation, so one failed trial would make the
    whole next batch a second helping of the same generation (and at generation 0 a random one). It also walks
    through every earlier trial at every question. Here a generation is a batch, whatever failed in it.
    """

    def __init__(self, **arguments: Any) -> None:
        super().__init__(**arguments)
        self._populations: list[list[FrozenTrial]] = []
        self._parents: dict[int, list[FrozenTrial]] = {0: []}

    def close_generation(self, completed: list[FrozenTrial]) -> None:
        """Make the completed trials of a batch the newest population."""
        self._populations.append(completed)

    def get_trial_generation(self, study: Study, trial: FrozenTrial) -> int:
        """Number of batches closed before this trial was asked for."""
        return len(self._populations)

    def get_population(self, study: Study, generation: int) -> list[FrozenTrial]:
        """Completed trials of a batch."""
        return self._populations[generation]

    def get_parent_population(self, study: Study, generation: int) -> list[FrozenTrial]:
        """The best so far; empty, which means random designs, while there are not two to cross."""
        if generation not in self._parents:
            with warnings.catch_warnings():
                # Where no design has reached a goal yet, its range is empty and all directions are alike.
                warnings.filterwarnings("ignore", "All-NaN slice encountered", RuntimeWarning)
                self._parents[generation] = self.select_parent(study, generation)
        parents = self._parents[generation]
        return parents if len(parents) > 1 else []


class _Crowding(_ByBatch, NSGAIISampler):
    """NSGA-II: keeps those apart from their neighbours along the front."""


class _Directions(_ByBatch, NSGAIIISampler):
    """NSGA-III: keeps those nearest to directions spread evenly over the goals."""


def _sampler(population: int, goals: int, seed: int) -> _Crowding | _Directions:
    with warnings.catch_warnings():
        # Both methods and both operators are the published ones; only their signatures may still change.
        warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
        arguments: dict[str, Any] = {
            "population_size": population,
            "seed": seed,
            "crossover": SBXCrossover(eta=_CROSSOVER_INDEX),
            "crossover_prob": _CROSSOVER_PROBABILITY,
            "mutation": PolynomialMutation(eta=_MUTATION_INDEX),
        }
        if goals < _MANY_GOALS:
            return _Crowding(**arguments)
        return _Directions(**arguments, dividing_parameter=_divisions(population, goals))


def _divisions(population: int, goals: int) -> int:
    """Parts into which each goal is divided, so that there is no more than one direction for each design."""
    parts = 1
    while math.comb(parts + goals, goals - 1) <= population:
        parts += 1
    return parts


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


def _bred(study: Study, distributions: Mapping[str, BaseDistribution]) -> dict[str, Any]:
    """One more design, bred from the parents if there are any; what breeding leaves open is drawn.

    The sampler is asked without a trial in optuna's storage, which copies a trial a dozen times before it is told:
    nothing but the sampler looks at trials here, and it has them by batch.
    """
    bred = study.sampler.sample_relative(study, _NO_TRIAL, dict(sorted(distributions.items())))
    return {
        name: bred[name]
        if name in bred
        else study.sampler.sample_independent(study, _NO_TRIAL, name, distribution)
        for name, distribution in distributions.items()
    }


def _decoded(space: Space, asked: Sequence[Mapping[str, Any]]) -> dict[str, Column]:
    columns: dict[str, Column] = {}
    for p in space.parameters:
        raw = np.array([design[p.name] for design in asked])
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


def _told(
    task: SearchTask,
    asked: Sequence[Mapping[str, Any]],
    distributions: Mapping[str, BaseDistribution],
    outcomes: Outcomes,
    first: int,
) -> list[FrozenTrial]:
    """The designs that ran, as optuna's trials, numbered from `first`; a failed one has no children."""
    told = []
    for row in np.flatnonzero(outcomes.status == OK).tolist():
        # All goals are told as to be minimised: NSGA-III looks for the ideal point at the least of each. An infinity
        # stands for "never" towards optuna alone: the row exceeds a limit, so its goals are not compared with those
        # of any row within limits.
        goals = [goal.sign * float(outcomes.values[goal.name][row]) for goal in task.goals]
        trial = create_trial(
            values=[np.inf if np.isnan(value) else value for value in goals],
            params=dict(asked[row]),
            distributions=dict(distributions),
        )
        trial.number = first + row
        for limit in task.limits:
            trial.set_constraint(limit.name, float(outcomes.margins[limit.name][row]) / limit.scale)
        told.append(trial)
    return told
