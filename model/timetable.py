"""When to put the food in: the latest start, and how many meals a day, from runs that start later and later."""

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .design import Design
from .simulate import simulate
from .sky import Sky

Floats = NDArray[np.float64]

EVERY = 15  # minutes between the starts that are run; between them a straight line
TURNAROUND = 900.0  # s from done to the next pot in the oven: common practice, no source


def timetable(
    design: Design, sky: Sky, *, every: int = EVERY, turnaround: float = TURNAROUND, **how: Any
) -> xr.Dataset:
    """What each start of the day leads to.

    A start at the sky's own first minute is the design as it is; a later one meets an oven that has stood empty
    and cold until then.

    Parameters
    ----------
    every : int   [min]
        Between starts.
    turnaround : float   [s]
        From done to the next pot.
    how
        Passed on to `simulate`: rays, seed, catalogue.

    Returns
    -------
    Dataset
        `done_by_start` [s from the start; nan: not that day] over (day, start); `latest_start` [s from the sky's
        first minute; nan: no start gets done] and `meals` over day.
    """
    starts = [k for k in range(0, sky.steps, every) if sky.sun_from(k)]
    alone = design.with_factors(kept_for=0.0)  # what becomes of it after the day is not asked here
    how["evening"] = False
    done = np.array([simulate(alone, sky.later(k), **how)["done_after"].to_numpy()[0] for k in starts]).T
    seconds = sky.step * np.array(starts, np.float64)
    latest = np.array([_latest(seconds, one) for one in done])
    meals = np.array([_meals(seconds, one, turnaround) for one in done], np.float64)
    return xr.Dataset(
        {
            "done_by_start": (
                ("day", "start"),
                done,
                {"units": "s", "long_name": "start to done; nan: not done that day"},
            ),
            "latest_start": (
                "day",
                latest,
                {
                    "units": "s",
                    "long_name": "latest start that still gets done, from the first one; nan: none does",
                },
            ),
            "meals": ("day", meals, {"units": "1", "long_name": "meals done one after another in a day"}),
        },
        coords={
            "start": (
                "start",
                seconds,
                {"units": "s", "long_name": "when the food is put in, from the first start"},
            )
        },
    )


def _latest(starts: Floats, done: Floats) -> float:
    """Last start of those run that still gets done. [s]"""
    reached = np.flatnonzero(np.isfinite(done))
    return float(starts[reached[-1]]) if reached.size else np.nan


def _meals(starts: Floats, done: Floats, turnaround: float) -> int:
    """Meals one after another, each started as soon as the last is out; a start between two is interpolated."""
    count, clock = 0, float(starts[0])
    while clock <= starts[-1]:
        cooking = float(np.interp(clock, starts, done))  # nan where either neighbour is never done
        if not np.isfinite(cooking):
            break
        count += 1
        clock += cooking + turnaround
    return count
