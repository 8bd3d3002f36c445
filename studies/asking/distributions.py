"""How a factor is drawn inside its range, where not every value of the range is as likely as any other.

Each kind turns a position in [0, 1] into a value by the inverse of its cumulative distribution, so that an even
sample of positions is a sample of the factor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Floats = NDArray[np.float64]

_WHOLE = 1e-9  # within which shares must add up to one


@dataclass(frozen=True, kw_only=True)
class Normal:
    """A bell round a mean, cut off where the range ends and scaled up by what is cut.

    Parameters
    ----------
    mean, deviation : float   [SI unit of the factor]
        Of the whole bell, before it is cut.
    """

    mean: float
    deviation: float

    def fault(self, low: float, high: float) -> str | None:
        """What is wrong with it over a range, as a phrase; None if nothing."""
        if not (math.isfinite(self.deviation) and self.deviation > 0.0):
            return "the standard deviation of a normal factor must be above zero"
        if not low <= self.mean <= high:
            return f"the mean {self.mean:g} of a normal factor must lie within {low:g} to {high:g}"
        return None

    def quantile(self, u: Floats, low: float, high: float) -> Floats:
        """Values at positions in [0, 1]."""
        return np.asarray(stats.truncnorm.ppf(u, *self._ends(low, high), self.mean, self.deviation))

    def cut(self, low: float, high: float) -> tuple[float, float]:
        """Share of the whole bell that is cut off below and above."""
        below, above = self._ends(low, high)
        return float(stats.norm.cdf(below)), float(stats.norm.sf(above))

    def _ends(self, low: float, high: float) -> tuple[float, float]:
        """Ends of the range in standard deviations from the mean."""
        return (low - self.mean) / self.deviation, (high - self.mean) / self.deviation


@dataclass(frozen=True, kw_only=True)
class Triangle:
    """Likeliest at one value, falling straight to nothing at both ends of the range.

    Parameters
    ----------
    likely : float   [SI unit of the factor]
    """

    likely: float

    def fault(self, low: float, high: float) -> str | None:
        """What is wrong with it over a range, as a phrase; None if nothing."""
        if low <= self.likely <= high:
            return None
        return f"the likely value {self.likely:g} of a triangle must lie within {low:g} to {high:g}"

    def quantile(self, u: Floats, low: float, high: float) -> Floats:
        """Values at positions in [0, 1]."""
        return np.asarray(stats.triang.ppf(u, (self.likely - low) / (high - low), low, high - low))


@dataclass(frozen=True, kw_only=True)
class Shares:
    """How often each value of a discrete factor is drawn, in the order of its values.

    Parameters
    ----------
    each : tuple of float
        Shares above zero that add up to one.
    """

    each: tuple[float, ...]

    def fault(self, values: int) -> str | None:
        """What is wrong with it for so many values, as a phrase; None if nothing."""
        if len(self.each) != values:
            return f"{len(self.each)} shares for {values} values"
        if not all(math.isfinite(share) and share > 0.0 for share in self.each):
            return "every share must be above zero; leave out what never comes"
        whole = math.fsum(self.each)
        return None if abs(whole - 1.0) <= _WHOLE else f"shares add up to {whole:.6g}, needed 1"

    def index(self, u: Floats, edge: float) -> NDArray[np.int64]:
        """Number of the value at each position; a position within `edge` below a bound is past it."""
        bounds = np.cumsum(self.each)[:-1]
        return np.asarray(np.searchsorted(bounds, u + edge, side="right"), np.int64)


Distribution = Normal | Triangle | Shares
