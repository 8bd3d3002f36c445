"""A straight line through observations, and how well it is known."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from .clause import ProcedureError

FEWEST = 3  # observations; two fix the line and leave nothing to judge it by


@dataclass(frozen=True, kw_only=True)
class Line:
    """y = intercept + slope x by ordinary least squares."""

    intercept: float
    slope: float
    r_squared: float
    standard_error: float  # of one observation about the line
    observations: int
    middle: float  # mean of x
    spread: float  # sum of squares of x about its mean
    low: float  # least x observed
    high: float  # greatest

    @property
    def slope_error(self) -> float:
        """Standard error of the slope."""
        return self.standard_error / math.sqrt(self.spread)

    def at(self, x: float) -> float:
        """The line at x."""
        return self.intercept + self.slope * x

    def error_at(self, x: float) -> float:
        """Standard error of the line at x: of the mean of many observations there, not of a single one."""
        leverage = 1 / self.observations + (x - self.middle) ** 2 / self.spread
        return self.standard_error * math.sqrt(leverage)

    def interval_at(self, x: float, *, confidence: float = 0.95) -> tuple[float, float]:
        """Between what the line lies at x, by Student's t."""
        t = float(stats.t.ppf(0.5 + confidence / 2, self.observations - 2))
        half = t * self.error_at(x)
        return self.at(x) - half, self.at(x) + half


def fitted_line(x: ArrayLike, y: ArrayLike) -> Line:
    """Ordinary least squares of y on x.

    Source
    ------
    Draper, N. R. and Smith, H., Applied Regression Analysis, 3rd edition, 1998, chapter 1 (from memory).

    Raises
    ------
    ProcedureError
        Fewer than three observations, or all at the same x.
    """
    x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
    if len(x) < FEWEST or np.ptp(x) == 0:
        raise ProcedureError(f"{len(x)} observations at {len(np.unique(x))} places make no line: log more")
    across, up = x - x.mean(), y - y.mean()
    spread = float(across @ across)
    slope = float(across @ up) / spread
    left = up - slope * across
    total = float(up @ up)
    return Line(
        intercept=float(y.mean() - slope * x.mean()),
        slope=slope,
        r_squared=1 - float(left @ left) / total if total > 0 else 0.0,
        standard_error=math.sqrt(float(left @ left) / (len(x) - 2)),
        observations=len(x),
        middle=float(x.mean()),
        spread=spread,
        low=float(x.min()),
        high=float(x.max()),
    )
