"""What a search was asked for, read back from its result: factors, goals, limits and what was kept beside."""

from __future__ import annotations

import numpy as np
import xarray as xr

from ..judging.outcomes import Column, Outcomes, Output, reached_key
from ..judging.space import Space
from ..methods.trials import Goal, Limit, SearchTask, margin_variable

SHOWN = "shown"  # designs of the front that are shown one by one
_EXCESS = "excess over the limit: "  # how the meaning of a margin begins


def factors_of(dataset: xr.Dataset, space: Space) -> dict[str, Column]:
    """Columns of the designs of a search, in the types that they were made in."""
    kinds = {"choice": np.str_, "integer": np.int64, "real": np.float64}
    return {p.name: dataset[p.name].to_numpy().astype(kinds[p.kind]) for p in space.parameters}


def task_of(dataset: xr.Dataset, space: Space) -> SearchTask:
    """Goals and limits of a search, and the outputs beside them."""
    goals, also, limits = [], [], []
    for key, variable in dataset.data_vars.items():
        about = variable.attrs
        words = {"name": str(key), "unit": about.get("units", ""), "meaning": about.get("long_name", "")}
        match about.get("role"):
            case "goal":
                goals.append(Goal(**words, direction=about["direction"]))
            case "output":
                also.append(Output(**words))
            case "limit":
                limits.append((words, float(about["scale"])))
    reached = {margin_variable(reached_key(goal.name)): reached_key(goal.name) for goal in goals}
    return SearchTask(
        space=space,
        goals=tuple(goals),
        limits=tuple(
            Limit(
                name=reached.get(words["name"], words["name"].removeprefix("margin_")),
                unit=words["unit"],
                meaning=words["meaning"].removeprefix(_EXCESS),
                scale=scale,
            )
            for words, scale in limits
        ),
        also=tuple(also),
    )


def outcomes_of(dataset: xr.Dataset, task: SearchTask) -> Outcomes:
    """What became of each trial."""
    return Outcomes(
        values={name: dataset[name].to_numpy() for name in task.value_names},
        status=dataset["status"].to_numpy(),
        margins={name: dataset[margin_variable(name)].to_numpy() for name in task.margin_names},
    )
