"""What a cook, a builder and a payer ask of a run: one number per design from its days.

`MERITS` and `LIMITS` are the only lists of these names. A time that is never reached is nan, never a large
number; how often that happens is a merit of its own (`share_done`), so nothing hides in a mean.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .described import SI

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Merit:
    """A figure of merit: its dimension, which way is better, and what it means."""

    dimension: str
    better: Literal["less", "more"]
    meaning: str

    def unit(self, currency: str) -> str:
        """Unit as stored; money is in the user's own."""
        return currency or "1" if self.dimension == "money" else SI[self.dimension]


MERITS: dict[str, Merit] = {
    "time_to_done": Merit(
        dimension="time", better="less", meaning="loading to done, on the middle one of the days"
    ),
    "time_to_safe": Merit(
        dimension="time", better="less", meaning="loading to safe to eat, on the middle one of the days"
    ),
    "share_done": Merit(
        dimension="share", better="more", meaning="share of days on which the meal gets done"
    ),
    "share_safe": Merit(
        dimension="share", better="more", meaning="share of days on which it gets safe to eat"
    ),
    "cook_value": Merit(
        dimension="time",
        better="more",
        meaning="cook value at the end, as time at 100 degC, mean of the days",
    ),
    "peak_temperature": Merit(
        dimension="temperature", better="more", meaning="hottest contents of a day, mean of the days"
    ),
    "plateau_temperature": Merit(
        dimension="temperature",
        better="more",
        meaning="what a dry pot tends to at the clearest day's best sun",
    ),
    "hold_time": Merit(
        dimension="time", better="more", meaning="time above 60 degC once done, mean of the days it is done"
    ),
    "keep_warm_time": Merit(
        dimension="time",
        better="more",
        meaning="time above 60 degC in the closed oven after the day's end, on the middle one of the days; "
        "at 12 h: that long or longer",
    ),
    "light_to_pot": Merit(
        dimension="share",
        better="more",
        meaning="share of the mouth's beam light the pot takes in, mean of the days",
    ),
    "reaims": Merit(dimension="count", better="less", meaning="times the oven is re-aimed during one cook"),
    "attention_time": Merit(dimension="time", better="less", meaning="time spent re-aiming during one cook"),
    "mass": Merit(dimension="mass", better="less", meaning="mass of funnel, cover, jacket and pot"),
    "material_cost": Merit(
        dimension="money", better="less", meaning="material of funnel, cover, jacket and pot"
    ),
}

LIMITS: dict[str, Merit] = {
    "cover_over": Merit(
        dimension="temperature_difference",
        better="less",
        meaning="cover's inner face above its service limit",
    ),
    "insulation_over": Merit(
        dimension="temperature_difference",
        better="less",
        meaning="mirror sheet above its own or the insulation's limit",
    ),
    "glue_over": Merit(
        dimension="temperature_difference", better="less", meaning="mirror sheet above the glue's limit"
    ),
    "skin_over": Merit(
        dimension="temperature_difference", better="less", meaning="outer skin above its own service limit"
    ),
    "touch_over": Merit(
        dimension="temperature_difference",
        better="less",
        meaning="outer skin above the burn threshold for a touch",
    ),
    "lukewarm_over": Merit(
        dimension="time",
        better="less",
        meaning="time between 5 and 60 degC beyond what food-safety bodies allow",
    ),
    "wind_over": Merit(
        dimension="speed", better="less", meaning="design gust above the wind that tips or slides the oven"
    ),
}


def middle(values: Floats, weight: Floats) -> Floats:
    """Weighted median along the last axis, counting nan as never: nan where it falls among the never.

    values : float64[..., day], weight : float64[day]
    """
    ranked = np.where(np.isnan(values), np.inf, values)
    order = np.argsort(ranked, axis=-1, kind="stable")
    passed = np.cumsum(weight[order], axis=-1)
    index = np.argmax(passed >= 0.5 * weight.sum() * (1 - 1e-12), axis=-1)[..., None]
    found = np.take_along_axis(np.take_along_axis(ranked, order, axis=-1), index, axis=-1)[..., 0]
    return np.where(np.isfinite(found), found, np.nan)


def mean(values: Floats, weight: Floats) -> Floats:
    """Weighted mean along the last axis over the days that have a value; nan where none has."""
    has = ~np.isnan(values)
    total = (has * weight).sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((np.where(has, values, 0.0) * weight).sum(axis=-1) / total)


def over_days(days: Mapping[str, Floats], weight: Floats) -> dict[str, Floats]:
    """The merits of each design from the outcomes of its days, float64[design] each.

    Parameters
    ----------
    days : float64[design, day] each
        `done_after`, `safe_after` (nan: never), `cook_dose`, `peak_contents`, `held_hot`, `light_share`, and
        `warm_for` if the evenings were followed.
    weight : float64[day]
        Real days meant by each.
    """
    done, safe = days["done_after"], days["safe_after"]
    evening = {"keep_warm_time": middle(days["warm_for"], weight)} if "warm_for" in days else {}
    return evening | {
        "time_to_done": middle(done, weight),
        "time_to_safe": middle(safe, weight),
        "share_done": (~np.isnan(done) * weight).sum(axis=-1) / weight.sum(),
        "share_safe": (~np.isnan(safe) * weight).sum(axis=-1) / weight.sum(),
        "cook_value": mean(days["cook_dose"], weight),
        "peak_temperature": mean(days["peak_contents"], weight),
        "hold_time": mean(np.where(np.isnan(done), np.nan, days["held_hot"]), weight),
        "light_to_pot": mean(days["light_share"], weight),
    }
