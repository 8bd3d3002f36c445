"""Where a measured curve that starts at zero first passes a level.

A curve is known at a few points outwards from the origin. It may bend, have a kink, fall before it rises, or end
where there is no value; and it is a little noisy. Only its first passage counts: what lies beyond is out of reach of
one who may not pass.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RESOLVED = 0.05  # of its outer end: a bracket this narrow is narrower than what noise leaves to be told
_NEAR = 3  # points on each side of the passage that the local parabola is laid through


class Passage(NamedTuple):
    """Where a curve passes a level, and how steeply."""

    at: float
    slope: float


def first_over(y: Floats, level: float) -> int | None:
    """First point that is at the level or over it, or has no value; None if there is none."""
    over = np.flatnonzero(~(y < level))
    return int(over[0]) if over.size else None


def points_between(t: Floats, y: Floats, level: float) -> Floats:
    """Where to measure next so that the passage is closed in on; empty where it is close enough, or there is none.

    Parameters
    ----------
    t, y : float64[point]
        From the origin outwards.
    level : float
        Above zero.
    """
    outer = first_over(y, level)
    if not outer:
        return np.empty(0)
    a, b = t[outer - 1], t[outer]
    if b - a <= RESOLVED * b:
        return np.empty(0)
    if np.isnan(y[outer]):
        return np.array([(2 * a + b) / 3, (a + 2 * b) / 3])
    width = b - a
    guess = a + width * (level - y[outer - 1]) / (y[outer] - y[outer - 1])
    inside = np.clip(np.array([guess - width / 8, guess + width / 8]), a + width / 16, b - width / 16)
    return np.asarray(np.unique(inside))


def passage(t: Floats, y: Floats, level: float) -> Passage:
    """The first passage, from a parabola laid through the points nearest to it by weighted least squares.

    Parameters
    ----------
    t, y : float64[point]
        From the origin outwards, with a point under the level followed by one at or over it.
    level : float

    Returns
    -------
    Passage
        From the straight line between the two points where the parabola does not pass the level near them.
    """
    outer = first_over(y, level)
    assert outer
    (a, b), (low, high) = t[outer - 1 : outer + 1], y[outer - 1 : outer + 1]
    guess = a + (b - a) * (level - low) / (high - low)
    c, b_1, b_2 = _parabola(t, y - level, _window(y, outer), guess)
    # The root at which a parabola rises, in the form that holds for a straight line as well.
    slope = math.sqrt(max(b_1**2 - 4 * b_2 * c, 0.0))
    at = guess - 2 * c / (b_1 + slope) if b_1 + slope > 0 else math.nan
    if not (slope > 0 and max(2 * a - b, 0.0) < at < 2 * b - a):
        return Passage(float(guess), float((high - low) / (b - a)))
    return Passage(float(at), slope)


def _parabola(t: Floats, y: Floats, near: NDArray[np.int64], middle: float) -> list[float]:
    """Coefficients of the parabola through some points, round a middle where it fits most closely."""
    x = t[near] - middle
    weight = (1 - (np.abs(x) / (1.1 * np.abs(x).max())) ** 3) ** 3  # tricube
    degree = min(2, len(x) - 1)
    found = np.polynomial.polynomial.polyfit(x, y[near], degree, w=np.sqrt(weight))
    return [float(value) for value in np.pad(found, (0, 2 - degree))]


def _window(y: Floats, outer: int) -> NDArray[np.int64]:
    """The points next to the passage, as far outwards as there are values without a gap."""
    beyond = np.flatnonzero(np.isnan(y[outer:]))
    last = outer + (int(beyond[0]) if beyond.size else len(y) - outer)
    return np.arange(max(outer - _NEAR, 0), min(outer + _NEAR, last))
