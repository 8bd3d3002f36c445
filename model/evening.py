"""After the day: the pot left in the closed oven through dusk and night, and until when its food is hot.

Once the day's window is over the oven stands as it was last set, cover on and turned from the light, while the air
falls along its daily course. No sun is counted even where it is still up, so hot food is promised rather too short.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .food import DANGER_HIGH, coldest_temperature, first_time
from .heat import Build, Histories
from .lanes import Lanes
from .meal import Cooked, Load
from .sky import EVENING

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Kept(NamedTuple):
    """What becomes of meals that are done and hot when the day ends; the first two float64[design, day]."""

    warm_for: (
        Floats  # s the coldest part stays above 60 degC; 0 where the meal is not done or not hot by then
    )
    still_warm: Floats  # 1 where it is above even at the evening's end: warm_for is then a lower bound
    lane: Ints  # [followed] lanes that were
    food: Floats  # float64[followed, EVENING + 1] K, coldest part from the day's last instant on


def kept_warm(
    lanes: Lanes, build: Build, load: Load, *, meals: Cooked, coldest: Floats, asked: NDArray[np.bool_]
) -> Kept:
    """How long every meal keeps hot after the day.

    Parameters
    ----------
    build, load : columns over all designs
    coldest : float64[design, day, time]   [K]
        Of the designs that ran, through the day.
    asked : bool[design]
        Designs to follow; the others get zeros and cost nothing.
    """
    hot = asked[:, None] & ~np.isnan(meals.done_after) & (coldest[..., -1] >= DANGER_HIGH)
    lane = np.flatnonzero(hot)
    warm_for, still_warm = np.zeros(hot.shape), np.zeros(hot.shape)
    if not lane.size:
        return Kept(warm_for, still_warm, lane, np.empty((0, EVENING + 1)))
    histories = lanes.into_evening(build, lane)
    food = coldest_part(histories, load, lanes.good[lane // lanes.days])[:, -EVENING - 1 :]
    fallen = first_time(-food, step=lanes.sky.step, required=-DANGER_HIGH)
    warm_for[hot] = np.where(fallen.reached, fallen.time, EVENING * lanes.sky.step)
    still_warm[hot] = ~fallen.reached
    return Kept(warm_for, still_warm, lane, food)


def coldest_part(hot: Histories, load: Load, design: Ints) -> Floats:
    """Coldest part of the food in lanes of the given designs, float64[lane, instant]. [K]"""
    return coldest_temperature(
        hot.core,
        hot.mean,
        centre_offset=load.centre_offset[design],
        surface_offset=load.surface_offset[design],
        start=load.start[design],
    )


def lukewarm_while_kept(meals: Cooked, kept: Kept, kept_for: Floats) -> Floats:
    """Time below 60 degC from the hottest moment to the meal, where that is after the day, float64[design, day]. [s]

    Zero where the pot is not kept. Food that comes under 5 degC again goes on counting.

    Parameters
    ----------
    kept_for : float64[design]   [s]
        From the day's end to the meal.
    """
    cooled_by_day = np.where(np.isnan(meals.safe_after), 0.0, meals.cooled)  # else counted already
    late = np.maximum(kept_for[:, None] - kept.warm_for, 0.0)
    return np.where(kept_for[:, None] > 0, cooled_by_day + late, 0.0)
