"""A log held against the sun: night, clocks that cannot be right, and silences."""

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...model import Place, sun_angles
from .touched import Finding

Floats = NDArray[np.float64]

_LOW = 0.0  # rad; the sun's middle on the horizon
_TWILIGHT = 30.0  # W/m2; more cannot come from a sun below the horizon
_HIGH = 0.35  # rad, 20 deg; a sun so high is seen by any instrument under any cloud
_BLACK = 5.0  # W/m2
_SILENCE = 5.0  # usual steps between readings
_SHORTEST = 300.0  # s
_KNOT = 300.0  # s between exact positions of the sun; between them it moves almost evenly
_SEVERAL = 3  # readings
_LONG_ENOUGH = 9000.0  # s of a day's course, in which an hour shows
_FAR_LESS = 0.25  # of what the told hour leaves
_CLEAR = 0.35  # of the scatter of the series: more left of it is cloud


def elevations(start: float, time: Floats, place: Place) -> Floats:
    """Height of the sun at the instants of a record, to 0.01 deg. float64[record] [rad]"""
    knots = np.arange(time[0], time[-1] + _KNOT, _KNOT) if time[-1] - time[0] > _KNOT else time[[0, -1]]
    index = pd.to_datetime((1e9 * (start + knots)).astype(np.int64), utc=True)
    return np.interp(time, knots, sun_angles(pd.DatetimeIndex(index), place).geometric)


def sun_findings(
    elevation: Floats, irradiance: Floats | None, *, shaded: NDArray[np.bool_], name: str
) -> Iterator[Finding]:
    """What the height of the sun says of a log's clock and readings.

    Parameters
    ----------
    elevation : float64[record]   [rad]
    irradiance : float64[record], optional   [W/m2]
    shaded : bool[record]
        While the mouth was covered, which an instrument on the oven would see.
    name : str
        Of the cook, for sentences.
    """
    night = elevation < _LOW
    if night.any():
        sentence = (
            f"{name}: {int(night.sum())} of {len(night)} readings were taken with the sun below the horizon."
        )
        yield Finding("night", sentence)
    if irradiance is None:
        return
    move = "look at the zone and at the clock of the logger (zone, offset in its time)"
    bright = night & (irradiance > _TWILIGHT)
    if bright.sum() >= _SEVERAL:
        most = float(np.nanmax(irradiance[bright]))
        text = f"{name}: the instrument saw up to {most:.0f} W/m2 with the sun below the horizon: {move}."
        yield Finding("clock against the sun", text)
    black = (elevation > _HIGH) & (irradiance < _BLACK) & ~shaded
    if black.sum() >= max(_SEVERAL, 0.5 * int((elevation > _HIGH).sum())):
        seen = f"{name}: the instrument saw nothing at {int(black.sum())} readings with the sun high"
        text = f"{seen}: {move}, or at its wire."
        yield Finding("clock against the sun", text)


def hour_off(start: float, time: Floats, irradiance: Floats, place: Place) -> int:
    """Whole hours by which a level instrument's day lies late by the log's clock; 0 where it does not, or is unclear.

    A logger that was left on winter time, or on another zone's, is an hour or more off. The height of the sun at the
    told times is fitted to what a level instrument saw, and so are those of some hours before and after; another hour
    is believed if it leaves far less. Under broken cloud, or in a short log, nothing is said.

    Parameters
    ----------
    start : float   [s]
        Of instant 0, since 1970 in UTC.
    time, irradiance : float64[record]   [s], [W/m2]
    place : Place
    """
    read = np.isfinite(irradiance)
    if read.sum() < _SEVERAL or np.ptp(time[read]) < _LONG_ENOUGH:
        return 0
    left = {
        hours: _left_by(start - 3600.0 * hours, time[read], irradiance[read], place) for hours in range(-3, 4)
    }
    best = min(left, key=lambda hours: left[hours])
    clear = left[best] < _CLEAR * float(np.std(irradiance[read]))
    return best if clear and left[best] < _FAR_LESS * left[0] else 0


def _left_by(start: float, time: Floats, irradiance: Floats, place: Place) -> float:
    """What a clear day's course leaves of a series, root of the mean square. [W/m2]

    Global light on the level goes with a power of the sine of the height near 1.15 (Haurwitz and others, from memory).
    """
    course = np.maximum(np.sin(elevations(start, time, place)), 0.0) ** 1.15
    scale = float(course @ irradiance) / max(float(course @ course), 1e-9)
    return float(np.sqrt(np.mean((irradiance - scale * course) ** 2)))


def hour_finding(hours: int, name: str) -> Finding:
    """What to say of a log whose day lies late or early."""
    way = "late" if hours > 0 else "early"
    return Finding(
        "clock against the sun",
        f"{name}: by this log's clock the sun runs {abs(hours)} h {way}: the logger kept another zone's time, or "
        f'winter time in summer; write zone, or offset = "{-hours} h", in its time.',
    )


def silences(time: Floats) -> list[tuple[float, float]]:
    """Spans without any reading, far longer than the usual step. [s]"""
    steps = np.diff(time)
    if not steps.size:
        return []
    long = steps > max(_SILENCE * float(np.median(steps)), _SHORTEST)
    return [(float(time[k]), float(time[k + 1])) for k in np.flatnonzero(long)]
