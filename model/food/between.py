"""What a temperature history does between its samples.

A line is late by a second or two where the food turns: with minutes of samples, a history that bends by 0.2 K in a
minute sags 0.025 K below its curve. So between two samples runs the cubic with the slopes of a parabola at either
end. Where the sun jumps at a sample or water begins to boil between two, a parabola across the corner would be wrong
on both sides of it: there the slope comes from the side that is straight, and where both ends have theirs from
outside, two straight lines meet in a corner.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STRAIGHT = 0.15  # of the bend across a sample: a bend beside it that is less marks a corner
_HALVINGS = 40  # of a step: a picosecond


class Around(NamedTuple):
    """Changes from sample to sample around one step, float64[lane] each; nan beyond the ends of the history."""

    before_last: Floats
    last: Floats
    here: Floats
    next: Floats
    after_next: Floats


def around(history: Floats, index: NDArray[np.int64]) -> Around:
    """Changes around the step that ends at sample `index`, for each lane.

    Parameters
    ----------
    history : float64[lane, time]
    index : int64[lane]
        1 or more.
    """
    moments = index[:, None] + np.arange(-3, 3)
    known = (moments >= 0) & (moments < history.shape[1])
    values = np.take_along_axis(history, np.clip(moments, 0, history.shape[1] - 1), axis=1)
    return Around(*np.diff(np.where(known, values, np.nan), axis=1).T)


def share_until(start: Floats, change: Around, required: Floats | float) -> Floats:
    """Share of a step after which a history that begins it below `required` and ends it above comes up to it.

    Parameters
    ----------
    start : float64[lane]
        Sample at the beginning of the step.
    change : Around
        Of the step.
    required : float or float64[lane]
    """
    rise, here = required - start, change.here
    first, first_outside = _slope(change.before_last, change.last, here, change.next)
    last, last_outside = _slope(change.after_next, change.next, here, change.last)
    corner = first_outside & last_outside & (abs(last) < 0.1 * abs(first))
    return np.where(corner, _corner_share(rise, here, first, last), _curve_share(rise, here, first, last))


def _slope(beyond: Floats, beside: Floats, here: Floats, across: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Slope at one end of a step, and whether it comes from outside of it.

    `beside` is the change on the other side of the sample, `beyond` the one after that, `across` the change past
    the other end of the step.
    """
    outside, middle, inside = abs(beside - beyond), abs(here - beside), abs(across - here)
    own = inside < _STRAIGHT * middle
    foreign = (outside < _STRAIGHT * middle) & ~own
    alone = np.where(np.isnan(across), here, here - 0.5 * (across - here))
    own |= np.isnan(beside)
    slope = np.where(foreign, beside + 0.5 * (beside - beyond), 0.5 * (beside + here))
    return np.where(own, alone, slope), foreign


def _corner_share(rise: Floats, here: Floats, first: Floats, last: Floats) -> Floats:
    """Share at which two straight lines with a corner between have risen by `rise`."""
    with np.errstate(divide="ignore", invalid="ignore"):
        by_first = np.where(first > 0, rise / first, np.inf)
        by_last = np.where(last > 0, 1 - (here - rise) / last, -np.inf)
    share = np.where(first > last, np.fmax(by_first, by_last), np.fmin(by_first, np.fmax(by_last, 0.0)))
    return np.asarray(np.clip(share, 0.0, 1.0))


def _curve_share(rise: Floats, here: Floats, first: Floats, last: Floats) -> Floats:
    """The same for the cubic with these slopes at its ends, no steeper than keeps it rising.

    Source
    ------
    Fritsch and Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17 (1980) 238: slopes
    within three times the change.
    """
    first, last = np.clip(first, 0.0, 3.0 * here), np.clip(last, 0.0, 3.0 * here)
    low, high = np.zeros_like(here), np.ones_like(here)
    for _ in range(_HALVINGS):
        x = 0.5 * (low + high)
        risen = x * (first + x * (3 * here - 2 * first - last + x * (first + last - 2 * here)))
        up = risen >= rise
        low, high = np.where(up, low, x), np.where(up, x, high)
    return high
