"""What is told of the design that a search chose: slices through it, their noise, and known designs beside it."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import LIMITS, MERITS, Design
from ..asking.known import columns_of
from ..judging.evaluate import BY_DAY, OvenEvaluator
from ..judging.outcomes import Outcomes
from ..judging.reasons import reasons
from ..judging.space import Space
from ..methods.flatness import TELLING
from ..methods.trials import Goal, Limit
from ..setting import Setting

Floats = NDArray[np.float64]

# What a builder would not notice, by dimension; of money, a share of what the chosen design costs.
SLACK = {"time": 120.0, "share": 0.01, "temperature": 2.0, "mass": 0.5, "count": 1.0}
MONEY_SLACK = 0.02


def slack_by_goal(goals: Sequence[Goal], asked: Mapping[str, float], best: xr.Dataset) -> dict[str, float]:
    """The loss of each goal that nobody would notice: as asked, or by its dimension."""

    def usual(goal: str) -> float:
        return SLACK.get(MERITS[goal].dimension, MONEY_SLACK * abs(float(best[goal])))

    return {goal.name: asked.get(goal.name, usual(goal.name)) for goal in goals}


class Rays(NamedTuple):
    """What other seeds of the rays make of a design, and of its differences from others, by goal."""

    fresh: dict[str, float]  # the chosen design's mean; what it was chosen by may have been luck
    alone: dict[str, float]  # its standard deviation
    apart: dict[
        str, Floats
    ]  # that of its difference from each other: the same rays serve both, so it is often less


def rays_by_goal(runs: Iterable[Outcomes], goals: Sequence[Goal]) -> Rays:
    """Mean and noise of each goal.

    Parameters
    ----------
    runs : iterable of Outcomes
        One for each seed: the chosen design first, then the others.
    goals : sequence of Goal
    """
    found = list(runs)
    tables = {goal.name: np.array([outcomes.values[goal.name] for outcomes in found]) for goal in goals}
    return Rays(
        fresh={name: float(table[:, 0].mean()) for name, table in tables.items()},
        alone={name: float(_spread(table[:, :1])[0]) for name, table in tables.items()},
        apart={name: _spread(table[:, 1:] - table[:, :1]) for name, table in tables.items()},
    )


def told_of_rays(rays: Rays, goals: Sequence[Goal]) -> xr.Dataset:
    """`fresh_<goal>` of the chosen design, nan where not every seed reaches it, and `noise_<goal>`."""
    variables = {}
    for goal in goals:
        mean = f"the chosen design under other seeds of the rays, mean: {goal.meaning}"
        spread = f"standard deviation over seeds of the rays: {goal.meaning}"
        for name, values, text in (("fresh", rays.fresh, mean), ("noise", rays.alone, spread)):
            attributes = {"units": goal.unit, "long_name": text, "dimension": MERITS[goal.name].dimension}
            variables[f"{name}_{goal.name}"] = ((), values[goal.name], attributes)
    return xr.Dataset(variables)


def _spread(table: Floats) -> Floats:
    """Standard deviation of each column over the rows that have a value; 0 where fewer than two do."""
    known = np.isfinite(table)  # at the edge of being done, some seeds may say never
    count = known.sum(axis=0)
    mean = np.where(known, table, 0.0).sum(axis=0) / np.maximum(count, 1)
    squares = np.where(known, (table - mean) ** 2, 0.0).sum(axis=0)
    return np.asarray(np.sqrt(np.where(count > 1, squares / np.maximum(count - 1, 1), 0.0)))


def beside_known(
    evaluate: OvenEvaluator,
    space: Space,
    designs: Mapping[str, Mapping[str, Any]],
    *,
    chosen: Mapping[str, Any],
    goals: Sequence[Goal],
    limits: Sequence[Limit],
    seeded: Sequence[bool],
    noise: Mapping[str, float],
) -> xr.Dataset:
    """Each known design beside the chosen one, under the same days and draws.

    `noise` is the standard deviation of each goal over seeds of the rays.

    Returns
    -------
    Dataset over known
        `known_<goal>`; `known_gain_<goal>` and `known_days_<goal>` for goals of single days: by how much the chosen
        one is better on the middle one of the same days, and on what share of them.
    """
    ran = evaluate.ran(columns_of(space, [chosen, *designs.values()]))
    outcomes = evaluate.outcomes(ran)
    reason = reasons(outcomes, limits, evaluate.rule)[1:]
    variables: dict[str, tuple[Any, str, str]] = {
        "known_status": (outcomes.status[1:], "1", "0 ran to the end, else why not"),
        "known_seeded": (np.array(seeded, np.int8), "1", "1 where it lies in what was searched: tried first"),
        "known_reason": (np.array(reason, np.str_), "1", "why it is not feasible; empty where it is"),
    }
    for goal in goals:
        variables[f"known_{goal.name}"] = (outcomes.values[goal.name][1:], goal.unit, goal.meaning)
        variables[f"known_telling_{goal.name}"] = (
            np.full(len(designs), TELLING * np.sqrt(2.0) * noise[goal.name]),
            goal.unit,
            f"difference of two designs that noise alone seldom makes: {goal.meaning}",
        )
        if goal.name in BY_DAY and not goal.name.startswith("share_"):
            gain, share = evaluate.better_days(ran, goal.name)
            text = f"the chosen design is better in: {goal.meaning.partition(',')[0]}"
            middle = f"by how much, on the middle one of the same days, {text}"
            variables[f"known_gain_{goal.name}"] = (gain[1:], goal.unit, middle)
            variables[f"known_days_{goal.name}"] = (
                share[1:],
                "1",
                f"share of the same days on which {text}",
            )
    return xr.Dataset(
        {
            name: ("known", values, {"units": unit, "long_name": text})
            for name, (values, unit, text) in variables.items()
        },
        coords={"known": ("known", list(designs), {"units": "1", "long_name": "design known before"})},
    )


def verdict(setting: Setting, design: Design) -> xr.Dataset:
    """Every merit and limit of a design, as plain numbers."""
    whole = setting.simulated(design).isel(design=0)[[*MERITS, *LIMITS]].reset_coords(drop=True)
    return whole.rename({name: f"chosen_{name}" for name in whole.data_vars})
