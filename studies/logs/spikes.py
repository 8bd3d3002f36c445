"""Readings far off their neighbours, and sensors that stand still while others move."""

from collections.abc import Mapping

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

HALF_WINDOW = 3  # readings on each side: up to three in a row can be found, and a step up or down is none
THRESHOLD = 6.0  # robust standard deviations from the median of the window
LEAST = 5.0  # K; smaller ones do no harm, and boiling and lids make many
_NORMAL = 1.4826  # of the median absolute deviation, to the standard deviation of a normal law
_FEWEST = 5  # readings to judge from

STILL = 900.0  # s at least of one and the same number, while
STILL_READINGS = 10  # readings at least, and
MOVED = 8.0  # K that another thermometer in the oven moved meanwhile
_BOILING = 360.0  # K; food near boiling does stand still
_COARSE = 0.6  # K; a thermometer that shows whole degrees stands still by itself


def spikes(values: Floats) -> Mask:
    """Which temperatures lie far off the median of the seven readings round them.

    Parameters
    ----------
    values : float64[record]   [K]
        nan where nothing was read; the neighbours are those that were.

    Source
    ------
    Davies, L. and Gather, U., The identification of multiple outliers, Journal of the American Statistical Association
    88 (1993) 782-792: Hampel's identifier; in a moving window as in Pearson, R. K., Outliers in process modeling and
    identification, IEEE Transactions on Control Systems Technology 10 (2002) 55-63 (both from memory). The least
    distance is ours.
    """
    found = np.zeros(values.shape, bool)
    read = np.flatnonzero(np.isfinite(values))
    if len(read) < _FEWEST:
        return found
    padded = np.pad(values[read], HALF_WINDOW, constant_values=np.nan)
    window = sliding_window_view(padded, 2 * HALF_WINDOW + 1)
    middle = np.nanmedian(window, axis=1)
    spread = _NORMAL * np.nanmedian(np.abs(window - middle[:, None]), axis=1)
    found[read] = np.abs(values[read] - middle) > np.maximum(THRESHOLD * spread, LEAST)
    return found


def stuck(time: Floats, temperatures: Mapping[str, Floats]) -> dict[str, Mask]:
    """Which readings of each thermometer repeat one number while another thermometer in the oven moves.

    Parameters
    ----------
    time : float64[record]   [s]
    temperatures : dict of float64[record]   [K]
    """
    return {
        name: _standing(name, time, values, [o for other, o in temperatures.items() if other != name])
        for name, values in temperatures.items()
    }


def _standing(name: str, time: Floats, values: Floats, others: list[Floats]) -> Mask:
    found = np.zeros(values.shape, bool)
    read = np.flatnonzero(np.isfinite(values))
    steps = np.abs(np.diff(values[read]))
    if len(read) < STILL_READINGS or not others or not steps.any() or steps[steps > 0.0].min() > _COARSE:
        return found
    for run in np.split(read, np.flatnonzero(steps > 0.0) + 1):
        if len(run) < STILL_READINGS or time[run[-1]] - time[run[0]] < STILL:
            continue
        if name == "food" and values[run[0]] > _BOILING:
            continue
        found[run] = any(_range(other[run[0] : run[-1] + 1]) >= MOVED for other in others)
    return found


def _range(values: Floats) -> float:
    read = values[np.isfinite(values)]
    return float(np.ptp(read)) if read.size else 0.0
