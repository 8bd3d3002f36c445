"""Where the oven stands and what sun its days bring, month by month: what a report says of the place."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...model import Sky

Floats = NDArray[np.float64]

# Beam above which the sun counts as shining: WMO, Guide to Instruments and Methods of Observation (WMO-No. 8),
# volume I, chapter 8 (sunshine duration), from memory.
SHINES = 120.0  # W m-2


def site_of(sky: Sky) -> dict[str, Any]:
    """The place, and the means of each month over its days within the window of the sky.

    Returns
    -------
    dict
        `latitude`, `longitude` [rad], `altitude` [m]; and by month, in the order of the year, `month` (from 1),
        `days` [d] meant, `clearness` [1] (global over extraterrestrial on a horizontal plane), `beam_hours` [s a day]
        with the sun shining, `beam` [W m-2] facing the sun and its sum `beam_day` [J m-2 a day], `air_low` and
        `air_high` [K], the means of the days' least and greatest.
    """
    outside = sky.extraterrestrial[:, None] * np.maximum(np.sin(sky.elevation), 0.0)
    of_days = {
        "beam_hours": (sky.dni[:, :-1] > SHINES).sum(axis=1) * sky.step,
        "beam": sky.beam_day / (sky.steps * sky.step),
        "beam_day": sky.beam_day,
        "air_low": sky.air_temperature.min(axis=1),
        "air_high": sky.air_temperature.max(axis=1),
        "ghi": sky.ghi.sum(axis=1),
        "outside": outside.sum(axis=1)[sky.day_path],
    }
    months = np.unique(sky.day_month)
    means = {name: _by_month(column, sky, months) for name, column in of_days.items()}
    days = [float(sky.day_weight[sky.day_month == month].sum()) for month in months]
    reached, outside_sum = means.pop("ghi"), means.pop("outside")
    clearness = (reached / outside_sum).tolist()
    return {
        "latitude": sky.place.latitude,
        "longitude": sky.place.longitude,
        "altitude": sky.place.altitude,
        "month": months.tolist(),
        "days": days,
        "clearness": clearness,
    } | {name: column.tolist() for name, column in means.items()}


def _by_month(column: Floats, sky: Sky, months: NDArray[np.int64]) -> Floats:
    """Mean of each month, by what its days mean."""
    return np.array(
        [
            np.average(column[sky.day_month == month], weights=sky.day_weight[sky.day_month == month])
            for month in months
        ]
    )
