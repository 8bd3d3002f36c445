"""A pool of designs over the places and months of a region, as a Dataset."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...model import LIMITS, MERITS, Design
from ..asking.quantity import difference_of
from ..judging.space import Space
from ..methods.pool import Pool
from ..methods.regret import NONE, mean, worst
from .labels import attributes
from .region import MONTHS, Cell

DESIGN, CELL, ROUND = "design", "cell", "round"


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The design to build, and what the model says of it in each cell."""

    design: Design
    by_cell: Sequence[xr.Dataset]


def season_table(
    space: Space, pool: Pool, cells: Sequence[Cell], *, started: int = NONE, verdict: Verdict | None = None
) -> xr.Dataset:
    """Every design in every cell, who is best where, what each loses, and the one and the two to build.

    Returns
    -------
    Dataset over (design, cell)
        A cell is one place in one month. Attributes: `goal`, `rather`, `slack`, `rule`; rows of designs, left out
        where there is none: `built`, the two `first` and `second`, `started`; and the least regret, by the rule, that
        one design and that two designs can have.
    """
    question = pool.question
    dataset = xr.Dataset(
        _outcomes(pool) | _regrets(pool) | _choices(pool), coords=_coordinates(space, pool, cells)
    )
    attrs: dict[str, Any] = {
        "study": "season",
        "goal": question.goal.name,
        "rule": question.rule,
        "slack": question.slack,
        "rounds": int(pool.born.max()),
    }
    if question.rather is not None:
        attrs["rather"] = question.rather.name
    attrs |= {"started": started} if started != NONE else {}
    if verdict is not None:
        dataset = dataset.assign(_verdict(verdict))
        first, second = pool.choices.two
        idle = [name for name in space.names if name in verdict.design.idle]
        attrs |= {"built": pool.choices.one, "first": first, "second": second, "idle_factors": " ".join(idle)}
        attrs |= {"least_of_one": pool.choices.least_of_one, "least_of_two": pool.choices.least_of_two}
    return dataset.assign_attrs(attrs)


def _outcomes(pool: Pool) -> dict[str, Any]:
    question, over = pool.question, (DESIGN, CELL)
    variables: dict[str, Any] = {
        "status": (
            over,
            pool.status,
            attributes("0 ran to the end, -1 numbers not finite, else the model's own code"),
        )
    }
    for role, goal in (("goal", question.goal), ("rather", question.rather)):
        if goal is not None:
            about = {"role": role, "direction": goal.direction}
            variables[goal.name] = (over, pool.values[goal.name], attributes(goal.meaning, goal.unit) | about)
    for limit in question.limits:
        text = attributes(f"excess over the limit: {limit.meaning}", limit.unit) | {"role": "limit"}
        variables[f"margin_{limit.name.replace(' ', '_')}"] = (over, pool.margins[limit.name], text)
    return variables


def _regrets(pool: Pool) -> dict[str, Any]:
    choices, goal = pool.choices, pool.question.goal
    about = {"dimension": difference_of(MERITS[goal.name].dimension)}

    def text(meaning: str) -> dict[str, Any]:
        return attributes(f"{goal.name} {meaning}", goal.unit) | about

    mean_regret = mean(choices.regret, choices.weight)
    return {
        "regret": ((DESIGN, CELL), choices.regret, text("worse than that of the cell's best design")),
        "mean_regret": (DESIGN, mean_regret, text("worse than the best, weighted mean of the cells served")),
        "worst_regret": (
            DESIGN,
            worst(choices.regret),
            text("worse than the best, worst of the cells served"),
        ),
        "served": (
            DESIGN,
            choices.standing.served,
            attributes(
                "weight of the cells in which the goal is reached and every limit kept that was asked for",
            ),
        ),
        "pair_regret": (
            CELL,
            np.fmin.reduce(choices.regret[[*choices.two]], axis=0),
            text("worse than the best, with the better one of two designs"),
        ),
    }


def _choices(pool: Pool) -> dict[str, Any]:
    choices, goal = pool.choices, pool.question.goal
    about = {"dimension": MERITS[goal.name].dimension}
    none = f"row of design; {NONE}: none serves"
    best = goal.sign * np.fmin.reduce(choices.worth, axis=0)
    return {
        "best": (CELL, best, attributes(f"{goal.name} of the cell's best design", goal.unit) | about),
        "best_design": (CELL, choices.best, attributes(f"best of the cell, {none}")),
        "fitting_design": (
            CELL,
            choices.fitting,
            attributes(f"within the slack of the cell's best the one to be had rather, {none}"),
        ),
        "used_design": (CELL, choices.used(choices.two), attributes(f"better one of the two, {none}")),
        "best_so_far": (
            (ROUND, CELL),
            pool.best_so_far,
            attributes(f"{goal.name} of the cell's best design after each round", goal.unit) | about,
        ),
    }


def _coordinates(space: Space, pool: Pool, cells: Sequence[Cell]) -> dict[str, Any]:
    numbers = {
        DESIGN: (len(pool.born), "row of the design"),
        CELL: (len(cells), "number of the cell: one place in one month"),
        ROUND: (int(pool.born.max()) + 1, "round of new designs"),
    }
    by_cell: dict[str, tuple[Any, str, str]] = {
        "place": ([cell.place.name for cell in cells], "1", "place"),
        "latitude": ([cell.place.latitude for cell in cells], "rad", "north of the equator"),
        "month": ([cell.month for cell in cells], "1", "month, counted from 1"),
        "month_name": ([MONTHS[cell.month - 1] for cell in cells], "1", "month"),
        "loaded_at": (
            [cell.loaded_at for cell in cells],
            "1",
            "when the food is put in, on the clock of the place",
        ),
        "sky": ([cell.sky.source for cell in cells], "1", "where the days come from"),
        "weight": ([cell.weight for cell in cells], "1", "how much the cell counts"),
        "sun_height": (
            [float(cell.sky.elevation.max()) for cell in cells],
            "rad",
            "highest elevation of the sun while food cooks",
        ),
    }
    factors = {
        p.name: (DESIGN, pool.columns[p.name], attributes(p.meaning, p.unit) | {"role": "factor"})
        for p in space.parameters
    }
    return {
        **{name: (name, np.arange(size), attributes(meaning)) for name, (size, meaning) in numbers.items()},
        **{
            name: (CELL, values, attributes(meaning, unit))
            for name, (values, unit, meaning) in by_cell.items()
        },
        "born": (DESIGN, pool.born, attributes("round in which the design was first tried")),
        **factors,
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    """Every merit and limit of the design to build, by cell."""
    told = {}
    for name in (*MERITS, *LIMITS):
        columns = [result[name] for result in verdict.by_cell]
        values = np.array([float(column[0]) for column in columns])
        told[f"chosen_{name}"] = (
            CELL,
            values,
            {key: columns[0].attrs[key] for key in ("units", "long_name")},
        )
    return told
