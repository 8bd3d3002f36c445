"""Readings of any rhythm as values at whole minutes, without losing what lies between them."""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator, make_interp_spline

from ..sun import STEP

Floats = NDArray[np.float64]

LONGEST_GAP = 900.0  # s without a reading that a straight line may bridge, or
USUAL_GAP = 1.5  # times the usual time between readings where that is more


def minute_values(time: Floats, values: Floats, minutes: Floats, *, averaged: bool = False) -> Floats:
    """Values at minutes that hold as much as the readings: each is the mean over its minute. float64[minute]

    Instants are joined by straight lines. Means since the reading before are taken as steps of a running total,
    which is joined by a monotone curve (Fritsch, F. N. and Butland, J., SIAM J. Sci. Stat. Comput. 5 (1984)
    300-304, through scipy), so that no interval gains or loses and nothing falls below zero. Before the first
    reading and after the last the nearest one is held.

    Parameters
    ----------
    time, values : float64[record]
        Readings, zero or more; those that are nan are left out. [s], any unit
    minutes : float64[minute]   [s]
        Where values are wanted, a minute apart.
    averaged : bool
        Whether each reading is the mean since the one before; the first then since as long before as the second.
    """
    read = np.isfinite(values)
    time, values = time[read], values[read]
    if len(time) < 2:
        return np.full(len(minutes), values[0])
    if averaged:
        total, begin = _running_total(time, values), float(2 * time[0] - time[1])
    else:
        total, begin = make_interp_spline(time, values, k=1).antiderivative(), float(time[0])
    begin, end = max(begin, float(minutes[0])), min(float(time[-1]), float(minutes[-1]))
    low, high = (np.clip(minutes + side * STEP / 2, begin, end) for side in (-1, 1))
    width = high - low
    inside = width > 1e-6
    mean = np.maximum(total(high) - total(low), 0.0) / np.where(
        inside, width, 1.0
    )  # rounding aside it is not below
    return np.asarray(np.where(inside, mean, np.where(minutes < time[0], values[0], values[-1])))


def _running_total(time: Floats, values: Floats) -> PchipInterpolator:
    edges = np.concatenate([[2 * time[0] - time[1]], time])
    return PchipInterpolator(edges, np.concatenate([[0.0], np.cumsum(values * np.diff(edges))]))


def gaps(time: Floats, values: Floats) -> list[tuple[float, float]]:
    """Spans without a reading that are too long for a straight line, ends of the record among them. [s]"""
    at = time[np.isfinite(values)]
    if len(at) < 2:
        return [(float(time[0]), float(time[-1]))]
    longest = max(LONGEST_GAP, USUAL_GAP * float(np.median(np.diff(at))))
    edges = np.concatenate([time[:1], at, time[-1:]])
    wide = np.flatnonzero(np.diff(edges) > longest)
    return [(float(edges[k]), float(edges[k + 1])) for k in wide]


def outside_spans(spans: list[tuple[float, float]], minutes: Floats) -> NDArray[np.bool_]:
    """Whether each minute lies in none of the spans; their ends are still read. bool[minute]"""
    known = np.ones(len(minutes), bool)
    for begin, end in spans:
        known &= (minutes <= begin) | (minutes >= end)
    return known
