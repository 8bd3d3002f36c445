"""The dataset of a search: every trial, which of them form the front, and how the front grew.

A search may be several: the same one from several seeds, whose trials stand one after another, with one front over
all, and with the volume that each had reached after each generation, from one reference point.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import Outcomes
from ..judging.space import Space
from .front import hypervolume, non_dominated
from .trials import Archive, Batches, Goal, SearchTask, feasible_rows, margin_variable, points_of

# Room left between the worst of the front and the reference point, so that extremes count too: Ishibuchi, Imada,
# Setoguchi and Nojima, How to specify a reference point in hypervolume calculation, Evol. Comput. 26 (2018) 411
# (from memory), who warn that a point far away makes all fronts look alike.
_REFERENCE_ROOM = 0.1

# Volumes of four goals cost a third of a second at 200 points and four times that at double; eight show the course.
_VOLUMES_OF_MANY_GOALS = 8

Explain = Callable[[Outcomes], Sequence[str]]


def trials_dataset(runs: Sequence[Archive], *, seeds: Sequence[int], explain: Explain | None) -> xr.Dataset:
    """Every trial, search by search in the order tried, and the hypervolume after each generation.

    Parameters
    ----------
    runs : sequence of Archive
        Searches of one task, with as many generations each.
    seeds : sequence of int
        Of each search.
    explain : callable, optional
        A sentence on each row that is not feasible, kept as `reason`.
    """
    archive = _joined(runs)
    task, outcomes = archive.task, archive.outcomes()
    feasible = feasible_rows(task, outcomes)
    variables = _output_variables(task, outcomes) | _flags(runs, archive, feasible)
    if explain is not None:
        told = ["" if good else str(text) for good, text in zip(feasible, explain(outcomes), strict=True)]
        text = {"units": "1", "long_name": "why the design is not feasible; empty where it is"}
        variables["reason"] = ("trial", np.array(told, np.str_), text)
    measured = _measured(len(runs[0].fronts), len(task.goals))
    volumes, corner = _volumes(runs, points_of(task, outcomes)[feasible], measured)
    return xr.Dataset(
        variables | volumes,
        coords=_coordinates(task.space, archive.batches, measured, seeds),
        attrs={
            "study": "search",
            "trials": outcomes.rows,
            "hypervolume_goals": " ".join(goal.name for goal in task.goals),
            "hypervolume_reference": [
                goal.sign * float(x) for goal, x in zip(task.goals, corner, strict=True)
            ],
        },
    )


def _flags(runs: Sequence[Archive], archive: Archive, feasible: NDArray[np.bool_]) -> dict[str, Any]:
    """What each trial is besides its numbers."""
    generation = [
        np.repeat(np.arange(len(run.batches)), [part.rows for _, part in run.batches]) for run in runs
    ]
    number = np.repeat(np.arange(1, len(runs) + 1), [run.rows for run in runs])
    flags = {
        "status": (
            archive.outcomes().status,
            "0 ran to the end, -1 numbers not finite, -2 the model stopped, else the evaluator's own code",
        ),
        "trial_run": (number, "number of the search that tried the design"),
        "generation": (np.concatenate(generation), "generation in which the design was tried"),
        "feasible": (feasible.astype(np.int8), "1 where every goal was reached and no limit exceeded"),
        "on_front": (
            archive.on_front().astype(np.int8),
            "1 where no feasible trial is better, nor an earlier one the same",
        ),
    }
    return {
        name: ("trial", column, {"units": "1", "long_name": text}) for name, (column, text) in flags.items()
    }


def _volumes(
    runs: Sequence[Archive], feasible: NDArray[np.float64], measured: NDArray[np.int64]
) -> tuple[dict[str, Any], NDArray[np.float64]]:
    """Hypervolume of all searches together and of each, after each generation measured; its reference point."""
    goals = runs[0].task.goals
    final = np.vstack([run.fronts[-1] for run in runs])
    corner = _reference(runs[0].task, feasible, final[non_dominated(final)])
    each = np.array([[hypervolume(run.fronts[k], corner) for k in measured] for run in runs])
    together = each[0]
    if len(runs) > 1:
        pools = [np.vstack([run.fronts[k] for run in runs]) for k in measured]
        together = np.array([hypervolume(pool[non_dominated(pool)], corner) for pool in pools])
    unit = " ".join(goal.unit for goal in goals if goal.unit != "1") or "1"
    text = "volume between the front so far and the reference point"
    return {
        "hypervolume": ("generation_number", together, {"units": unit, "long_name": text}),
        "run_hypervolume": (
            ("run", "generation_number"),
            each,
            {"units": unit, "long_name": f"{text}, of each search by itself"},
        ),
    }, corner


def _output_variables(task: SearchTask, outcomes: Outcomes) -> dict[str, Any]:
    variables: dict[str, Any] = {}
    for output in (*task.goals, *task.also):
        attributes = {"units": output.unit, "long_name": output.meaning, "role": "output"}
        if isinstance(output, Goal):
            attributes |= {"role": "goal", "direction": output.direction}
        variables[output.name] = ("trial", outcomes.values[output.name], attributes)
    for limit in task.limits:
        variables[margin_variable(limit.name)] = (
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


def _coordinates(
    space: Space, parts: Batches, measured: NDArray[np.int64], seeds: Sequence[int]
) -> dict[str, Any]:
    rows = sum(part.rows for _, part in parts)
    counted = {
        "trial": ("trial", np.arange(rows), "number of the trial"),
        "generation_number": ("generation_number", measured, "number of the generation"),
        "run": ("run", np.arange(1, len(seeds) + 1), "number of the search"),
        "run_seed": ("run", np.array(seeds, np.int64), "seed of the search"),
    }
    coordinates: dict[str, Any] = {
        name: (dim, numbers, {"units": "1", "long_name": text})
        for name, (dim, numbers, text) in counted.items()
    }
    for p in space.parameters:
        column = np.concatenate([columns[p.name] for columns, _ in parts])
        coordinates[p.name] = ("trial", column, {"units": p.unit, "long_name": p.meaning, "role": "factor"})
    return coordinates


def _joined(runs: Sequence[Archive]) -> Archive:
    """The trials of several searches as if they were one."""
    if len(runs) == 1:
        return runs[0]
    whole = Archive(runs[0].task)
    for run in runs:
        for columns, outcomes in run.batches:
            whole.add(columns, outcomes)
    return whole


def _reference(
    task: SearchTask, feasible: NDArray[np.float64], front: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Reference point of the hypervolume, in goals turned to be minimised; nan while nothing is feasible.

    A little worse than the worst of the front in every goal; where the whole front agrees on a goal, than the worst
    trial within limits.
    """
    if task.reference is not None:
        return np.array([goal.sign * task.reference[goal.name] for goal in task.goals])
    if len(feasible) == 0:
        return np.full(len(task.goals), np.nan)
    worst, best = front.max(axis=0), front.min(axis=0)
    agreed = worst == best
    worst = np.where(agreed, feasible.max(axis=0), worst)
    best = np.where(agreed, feasible.min(axis=0), best)
    return np.asarray(worst + _REFERENCE_ROOM * (worst - best))


def _measured(generations: int, goals: int) -> NDArray[np.int64]:
    """Generations after which the volume is taken: all of them, or some evenly spaced and the last."""
    if goals < 4 or generations <= _VOLUMES_OF_MANY_GOALS:
        return np.arange(generations)
    return np.linspace(0, generations - 1, _VOLUMES_OF_MANY_GOALS).round().astype(np.int64)
