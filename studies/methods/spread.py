"""Designs drawn within the accuracy of their making, and what a sample of them tells.

"even": anywhere within the accuracy, as likely (a rectangular distribution: what JCGM 100:2008, 4.3.7, takes where
only limits are known). "normal": the accuracy is two standard deviations. Both are cut where possible values end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from .sweeps import Toleranced

Floats = NDArray[np.float64]
Spread = Literal["even", "normal"]

_ENOUGH = 3  # designs a coefficient of the fit, at least
_Z = 1.96  # 95 % of a normal distribution


class Share(NamedTuple):
    """A share of a sample, and the interval that the true one lies in, 19 times of 20."""

    value: float
    low: float
    high: float


class Explained(NamedTuple):
    """How the variance of the goal is shared out over the quantities."""

    share: Floats  # [quantity] of the variance, by its parabola alone; nan where no fit is possible
    r_squared: float  # adjusted for the number of coefficients
    bent: bool  # parabolas, not straight lines


def offsets(parts: Sequence[Toleranced], u: Floats, *, scale: float, spread: Spread) -> Floats:
    """Designs drawn within some multiple of the accuracies, as accuracies off: float64[draw, quantity].

    Parameters
    ----------
    parts : sequence of Toleranced
    u : float64[draw, quantity]
        Points of the open unit cube.
    scale : float
        Above zero.
    spread : "even" or "normal"
    """
    room = np.array([[part.room(-1), part.room(1)] for part in parts])
    if spread == "even":
        low, high = -np.minimum(room[:, 0], scale), np.minimum(room[:, 1], scale)
        return np.asarray(low + u * (high - low))
    deviation = scale / 2
    below, above = norm.cdf(-room[:, 0] / deviation), norm.cdf(room[:, 1] / deviation)
    drawn = deviation * norm.ppf(below + u * (above - below))
    return np.asarray(np.clip(drawn, -room[:, 0], room[:, 1]))


def share_within(excess: Floats, level: float) -> Share:
    """Share of designs whose goal is at most so much worse; those without a value are not.

    Source
    ------
    Interval: E. B. Wilson, J. Am. Stat. Assoc. 22:209 (1927), for independent draws, from memory. Points that are
    spread evenly on purpose do better than that.
    """
    count, share = excess.size, float((excess <= level).mean())
    middle = (share + _Z**2 / (2 * count)) / (1 + _Z**2 / count)
    half = _Z / (1 + _Z**2 / count) * math.sqrt(share * (1 - share) / count + (_Z / (2 * count)) ** 2)
    return Share(share, max(middle - half, 0.0), min(middle + half, 1.0))


def worst_of_best(excess: Floats, wanted: float) -> float:
    """The largest change among the best `wanted` share of designs; inf where fewer have a value."""
    ranked = np.sort(np.where(np.isnan(excess), np.inf, excess))
    return float(ranked[math.ceil(wanted * excess.size - 1e-9) - 1])


def explained(off: Floats, excess: Floats) -> Explained:
    """Shares of the variance of a change, from a sum of parabolas fitted to designs drawn together.

    The share of a quantity is the variance of its own parabola over the whole variance: its first-order index if the
    change is such a sum. What they leave is interaction and noise: one less the R squared.

    Parameters
    ----------
    off : float64[draw, quantity]
    excess : float64[draw]
        Those that are nan are left out.
    """
    known = np.isfinite(excess)
    z, y, count = off[known], excess[known], off.shape[1]
    bent = known.sum() >= _ENOUGH * (2 * count + 1)
    if known.sum() < _ENOUGH * (count + 1) or not y.std() > 0:
        return Explained(np.full(count, np.nan), np.nan, False)
    terms = np.concatenate([z, z**2], axis=1) if bent else z
    terms = terms - terms.mean(axis=0)
    found = np.linalg.lstsq(terms, y - y.mean(), rcond=None)[0]
    parabolas = (terms * found).reshape(len(y), -1, count).sum(axis=1)
    left = (y - y.mean() - parabolas.sum(axis=1)).var()
    adjusted = 1 - left / y.var() * (len(y) - 1) / (len(y) - terms.shape[1] - 1)
    return Explained(parabolas.var(axis=0) / y.var(), float(adjusted), bool(bent))
