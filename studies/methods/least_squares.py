"""One weighted least squares fit to readings without gaps, and how its residuals scatter; in coordinates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from .coordinates import Coordinates
from .independence import Scatter, scatter_of

Floats = NDArray[np.float64]
Predict = Callable[[Floats], Floats]  # rows[row, parameter] -> [row, observation]

STEP = 0.005  # of a coordinate, for the Jacobian: half a per cent of a ratio
ROBUST_FROM = 2.0  # deviations from which a reading counts less, where asked
_LEAST_NOISE = 0.05  # of the stated deviation: a series that is met better by chance does not rule the others
_NORMAL_MAD = 1.4826  # deviations of a normal distribution per median absolute deviation


class Prior(NamedTuple):
    """What is known of parameters beforehand: middle and standard deviation, infinite where nothing is."""

    middle: Floats
    deviation: Floats


class Readings(NamedTuple):
    """What is fitted to, without gaps; predictions are of coordinates."""

    predict: Predict
    observed: Floats
    axes: Coordinates
    noise: Floats
    parts: tuple[NDArray[np.int64], ...]  # by series: its readings
    time: Floats


class Weight(NamedTuple):
    """What each reading counts for."""

    each: Floats  # one over the deviation of as much as it counts for
    caps: Floats  # weighted residual from which it counts less


def solved(readings: Readings, x: Floats, prior: Prior, weight: Weight) -> tuple[Floats, bool]:
    """Coordinates of least squares, from a start; and whether the solver was content."""
    own = np.isfinite(prior.deviation)
    prior_slopes = np.diag(1.0 / prior.deviation)[own]
    last: list[tuple[Floats, Floats, Floats]] = []  # where, predictions, slopes: one batch for both

    def told(x: Floats) -> tuple[Floats, Floats, Floats]:
        if not last or not np.array_equal(last[0][0], x):
            last[:] = [(x.copy(), *with_slopes(readings.predict, x, readings.axes.ends))]
        return last[0]

    def residual(x: Floats) -> Floats:
        beside = (x - prior.middle)[own] / prior.deviation[own]
        return np.concatenate([(told(x)[1] - readings.observed) * weight.each, beside])

    def slopes(x: Floats) -> Floats:
        return np.concatenate([told(x)[2] * weight.each[:, None], prior_slopes])

    every = np.concatenate([weight.caps, np.full(int(own.sum()), np.inf)])
    loss = "linear" if np.isinf(weight.caps).all() else lambda z: _bent(z, every)
    low, high = readings.axes.ends
    inside = np.clip(x, low + 1e-9, high - 1e-9)
    found = least_squares(residual, inside, slopes, (low, high), loss=loss, xtol=1e-7, ftol=1e-9, gtol=1e-9)
    return np.asarray(found.x), bool(found.status > 0)


def _bent(z: Floats, caps: Floats) -> Floats:
    """Loss of squared residuals, its slope and the slope of that: straight beyond each one's own cap."""
    square = caps**2
    capped = np.isfinite(square)
    root = np.sqrt(1.0 + np.where(capped, z / square, 0.0))
    value = np.where(capped, 2.0 * np.where(capped, square, 1.0) * (root - 1.0), z)
    bend = np.where(capped, -0.5 / np.where(capped, square, 1.0) / root**3, 0.0)
    return np.stack([value, 1.0 / root, bend])


def with_slopes(predict: Predict, x: Floats, ends: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Predictions and their Jacobian by the coordinates, in one batch.

    Parameters
    ----------
    predict : callable
        Of coordinates.
    x : float64[parameter]
    ends : (low, high) of float64[parameter]
    """
    low, high = ends
    count = len(x)
    ahead, behind = np.minimum(x + STEP, high), np.maximum(x - STEP, low)
    rows = np.tile(x, (2 * count + 1, 1))
    rows[np.arange(count), np.arange(count)] = ahead
    rows[count + np.arange(count), np.arange(count)] = behind
    found = predict(rows)
    slopes = (found[:count] - found[count : 2 * count]) / (ahead - behind)[:, None]
    return found[-1], np.ascontiguousarray(slopes.T)


def scatters(readings: Readings, residual: Floats, slopes: Floats, robust: bool) -> tuple[Scatter, ...]:
    """How each series scatters, with what the fit took from it given back."""
    hat = np.einsum("op,pq,oq->o", slopes, np.linalg.pinv(slopes.T @ slopes, hermitian=True), slopes)
    found = []
    for part in readings.parts:
        if not len(part):
            found.append(Scatter(1.0, 1.0, 0, 0.0))
            continue
        own = residual[part]
        if robust:
            middle = _NORMAL_MAD * float(np.median(np.abs(own)))
            own = np.clip(own, -3 * middle, 3 * middle)
        least = _LEAST_NOISE * float(np.median(readings.noise[part]))
        found.append(scatter_of(own, readings.time[part], taken=float(hat[part].sum()), least=least))
    return tuple(found)


def robust_factor(readings: Readings, z: Floats) -> Floats:
    """By how much the bent loss widens the variance of a fit; the same for all readings of a series."""
    root = 1.0 + (z / ROBUST_FROM) ** 2
    pull, slope = z / np.sqrt(root), root**-1.5
    factors = [
        (pull[part] ** 2).mean() / slope[part].mean() ** 2 if len(part) else 1.0 for part in readings.parts
    ]
    return np.maximum(by_reading(readings, factors), 1.0)


def by_reading(readings: Readings, by_series: Sequence[float]) -> Floats:
    """A number of each series for each of its readings."""
    found = np.ones(len(readings.observed))
    for part, value in zip(readings.parts, by_series, strict=True):
        found[part] = value
    return found
