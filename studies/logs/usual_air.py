"""Air for cooks whose log has none: as the config's own days have it."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ...model import Air, Sky

Floats = NDArray[np.float64]


def usual_air(sky: Sky) -> Air:
    """Mean low, high, dew point and wind of each month of a sky's days; other months have the mean of all.

    Lows and highs are those between the first and the last minute of the days, so an early morning may have been
    colder.
    """
    temperature, dew, wind = sky.air_temperature, sky.dew_point, sky.wind_speed

    def monthly(of_days: Callable[[Floats], Floats], series: Floats) -> tuple[float, ...]:
        each = of_days(series)
        means = [each[sky.day_month == month] for month in range(1, 13)]
        return tuple(float(days.mean() if days.size else each.mean()) for days in means)

    return Air(
        low=monthly(lambda days: days.min(axis=1), temperature),
        high=monthly(lambda days: days.max(axis=1), temperature),
        dew_point=monthly(lambda days: days.mean(axis=1), dew),
        wind_speed=monthly(lambda days: days.mean(axis=1), wind),
    )
