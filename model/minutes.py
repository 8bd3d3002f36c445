"""From hourly means to minutes, losing nothing: sunlight rides on the clear sky, the rest is interpolated."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PER_HOUR = 60
_LEAST_CLEAR = 1.0  # W/m2; mean clear-sky irradiance below which an hour counts as night


def sunlight_minutes(hourly: Floats, clear: Floats, most: Floats) -> Floats:
    """Irradiance of each minute whose means over the hours are those given. float64[day, 60 hour + 1] [W/m2]

    Within an hour the ratio to the clear sky is a straight line whose slope is the smaller of the steps to
    the two neighbours, none where they disagree (the limited reconstruction of finite volumes: van Leer, B.,
    Towards the ultimate conservative difference scheme, J. Comput. Phys. 32 (1979) 101-136). So no minute is
    clearer than the hours about it (by 1/60 at most), and clouds may come and go at an hour's end.

    Parameters
    ----------
    hourly : float64[day, hour]   [W/m2]
        Means over consecutive hours; the first and last serve as neighbours only.
    clear : float64[day, 60 hour + 1]   [W/m2]
        Cloudless irradiance at each minute of those hours, ends included.
    most : float64[day, 60 hour + 1]   [W/m2]
        Bound that no minute passes, kept even at the cost of the mean: near the horizon an hour's mean may
        belong to a clearer sky or flatter land than the model's.
    """
    shape = _by_hour(clear)
    base = _mean(shape)
    lit = base > _LEAST_CLEAR
    ratio = np.where(lit, hourly / np.where(lit, base, 1.0), np.nan)
    slope = _limited_slope(ratio)
    within = np.arange(_PER_HOUR + 1) / _PER_HOUR - 0.5
    line = np.where(lit, ratio, 0.0)[..., None] + slope[..., None] * within
    return np.minimum(_joined(_with_means(line * shape, hourly)), most)


def interpolated(hourly: Floats, hour: Floats) -> Floats:
    """Values at fractional hours of a year closed on itself; `hourly[i]` is that of hour i. float64[...]"""
    before = np.floor(hour).astype(np.int64)
    share = hour - before
    return (1 - share) * hourly[before % len(hourly)] + share * hourly[(before + 1) % len(hourly)]


def _by_hour(minutes: Floats) -> Floats:
    """float64[day, 60 hour + 1] -> float64[day, hour, 61], both ends of each hour included."""
    hours = (minutes.shape[1] - 1) // _PER_HOUR
    return minutes[:, np.arange(hours)[:, None] * _PER_HOUR + np.arange(_PER_HOUR + 1)]


def _with_means(by_hour: Floats, hourly: Floats) -> Floats:
    """Hours scaled to the means given, with equal values where two hours meet.

    There the lower of both is taken, so a dark hour stays dark; the minutes between make up for it.
    """
    got = _mean(by_hour)
    scaled = by_hour * np.where(got > 0, hourly / np.where(got > 0, got, 1.0), 0.0)[..., None]
    edge = np.minimum(scaled[:, 1:, 0], scaled[:, :-1, -1])
    scaled[:, 1:, 0] = scaled[:, :-1, -1] = edge
    inner = scaled[..., 1:-1].sum(axis=-1)
    due = hourly * _PER_HOUR - (scaled[..., 0] + scaled[..., -1]) / 2
    scaled[..., 1:-1] *= np.where(inner > 0, due / np.where(inner > 0, inner, 1.0), 0.0)[..., None]
    return scaled


def _joined(by_hour: Floats) -> Floats:
    """The reverse of `_by_hour`."""
    return np.concatenate([by_hour[:, :, :-1].reshape(len(by_hour), -1), by_hour[:, -1, -1:]], axis=1)


def _mean(by_hour: Floats) -> Floats:
    return np.asarray(np.trapezoid(by_hour, dx=1 / _PER_HOUR, axis=-1))


def _limited_slope(ratio: Floats) -> Floats:
    """Change of the ratio over its hour; 0 beside a night, beside an end, and at a peak or dip."""
    step = np.nan_to_num(np.diff(ratio, axis=1), nan=0.0)
    before, after = step[:, :-1], step[:, 1:]
    slope = np.zeros_like(ratio)
    agree = before * after > 0
    slope[:, 1:-1] = np.where(agree, np.where(np.abs(before) < np.abs(after), before, after), 0.0)
    return slope
