"""Whether the days of a test share one line, and what the line is worth if each day counts once."""

import math
from collections.abc import Hashable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats


class DayEffect(NamedTuple):
    """Parallel lines, one for each day, beside the one line through all."""

    offsets: dict[Hashable, float]  # of each day's line above the common one at its own mean x, in y
    chance: float  # of days that differ so much, were they of one line; nan where it cannot be judged
    low: float  # of the line at x, every day taken as one observation; nan from fewer than two days
    high: float


def day_effect(
    x: ArrayLike, y: ArrayLike, days: Sequence[Hashable], *, at: float, confidence: float
) -> DayEffect:
    """Days compared by lines of one slope and own heights (analysis of covariance).

    Ten-minute points of one day share its sky, its load and its tester; where days differ by more than points of a
    day scatter, the interval of the one line takes too many observations for independent ones.

    Parameters
    ----------
    x, y : float64[observation]
    days : sequence
        Day of each observation.
    at : float
        x of the interval.
    confidence : float

    Source
    ------
    Snedecor, G. W. and Cochran, W. G., Statistical Methods, 8th edition, 1989, chapter 18 (from memory).
    """
    x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
    names = list(dict.fromkeys(days))
    member = np.array([[day == name for name in names] for day in days], np.float64)
    each = member.sum(axis=0)
    if len(names) < 2:
        return DayEffect({names[0]: 0.0} if names else {}, math.nan, math.nan, math.nan)
    mean_x, mean_y = member.T @ x / each, member.T @ y / each
    across, up = x - member @ mean_x, y - member @ mean_y
    spread = float(across @ across)
    slope = float(across @ up) / spread if spread > 0 else math.nan
    levels = mean_y + slope * (at - mean_x)
    half = stats.t.ppf(0.5 + confidence / 2, len(names) - 1) * levels.std(ddof=1) / math.sqrt(len(names))
    one = np.polynomial.Polynomial.fit(x, y, 1)
    return DayEffect(
        dict(zip(names, (mean_y - one(mean_x)).tolist(), strict=True)),
        _chance(float(np.square(y - one(x)).sum()), up - slope * across, len(names)),
        float(levels.mean() - half),
        float(levels.mean() + half),
    )


def _chance(together: float, left: NDArray[np.float64], days: int) -> float:
    """Upper tail of F for own heights against one; nan where no freedom is left to judge by."""
    freedom, apart = len(left) - days - 1, float(left @ left)
    if freedom < 1 or not apart > 0:
        return math.nan
    return float(stats.f.sf((together - apart) / (days - 1) / (apart / freedom), days - 1, freedom))
