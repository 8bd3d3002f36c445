"""Residuals of a fit drawn again in blocks, and the parameters fitted to each set: all refits side by side.

Blocks keep what neighbouring residuals share. Each series is drawn by itself, round its end to its beginning, in
blocks whose length suits its slowness.

Source
------
Blocks: H. R. Kunsch, Ann. Stat. 17 (1989) 1217; round the end: D. N. Politis and J. P. Romano (1992). Their length:
D. N. Politis and H. White, Econom. Rev. 23 (2004) 53, for a first-order autoregression of the same slowness. From
memory. Of short series blocks hold too little of the slow waves: they miss correlation longer than themselves, and
what the fit took away. So their sums are scaled to vary as the deviation and the slowness of the series say.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TURNS = 12  # at most; a refit starts next to its answer
_ENOUGH = 1e-4  # of a coordinate: no step of any draw is longer


class Problem(NamedTuple):
    """A fit at its answer, in coordinates.

    Parameters
    ----------
    predict : callable
        float64[row, parameter] to float64[row, observation].
    predicted, residual, weight, caps : float64[observation]
    jacobian : float64[observation, parameter]
    parts : tuple of int64[reading]
        Observations of each series, in time.
    slowness, deviation : float64[series]
    prior_middle, prior_weight : float64[parameter]
        One over the deviation; 0 where nothing is known.
    ends : (low, high) of float64[parameter]
    """

    predict: Callable[[Floats], Floats]
    predicted: Floats
    residual: Floats
    jacobian: Floats
    weight: Floats
    caps: Floats
    parts: tuple[NDArray[np.int64], ...]
    slowness: Floats
    deviation: Floats
    prior_middle: Floats
    prior_weight: Floats
    ends: tuple[Floats, Floats]


def block_length(count: int, slowness: float) -> int:
    """Readings in a block of a series of so many with this slowness."""
    persistent = (slowness**2 - 1) / (2 * slowness)  # 2 rho / (1 - rho^2) of an autoregression
    return int(min(max(math.ceil((1.5 * count * persistent**2) ** (1 / 3)), 1), max(count // 3, 1)))


def resampled(problem: Problem, x: Floats, *, draws: int, seed: int) -> Floats:
    """Coordinates fitted to redrawn residuals, float64[draw, parameter].

    The Jacobian stays that of the answer; only predictions are made anew, those of all draws in one batch.
    """
    rng = np.random.default_rng(seed)
    wanted = problem.predicted + _drawn(problem, draws, rng)
    middle = problem.prior_middle + rng.standard_normal((draws, len(x))) / np.where(
        problem.prior_weight > 0, problem.prior_weight, np.inf
    )
    slopes = problem.jacobian * problem.weight[:, None]
    inverse = np.linalg.pinv(slopes.T @ slopes + np.diag(problem.prior_weight**2), hermitian=True)
    found = np.tile(x, (draws, 1))
    moving = np.ones(draws, bool)
    for _ in range(_TURNS):
        left = (wanted[moving] - problem.predict(found[moving])) * problem.weight
        left = left / np.sqrt(1.0 + (left / problem.caps) ** 2)
        pull = left @ slopes + (middle[moving] - found[moving]) * problem.prior_weight**2
        after = np.clip(found[moving] + pull @ inverse, *problem.ends)
        far = np.abs(after - found[moving]).max(axis=1) > _ENOUGH
        found[moving] = after
        moving[moving] = far
        if not moving.any():
            break
    return found


def _drawn(problem: Problem, draws: int, rng: np.random.Generator) -> Floats:
    """Residuals of every draw, float64[draw, observation]."""
    found = np.zeros((draws, len(problem.residual)))
    for part, slowness, deviation in zip(problem.parts, problem.slowness, problem.deviation, strict=True):
        count = len(part)
        if not count:
            continue
        length = block_length(count, float(slowness))
        starts = rng.integers(0, count, (draws, -(-count // length)))
        index = (starts[:, :, None] + np.arange(length)).reshape(draws, -1)[:, :count] % count
        own = problem.residual[part] - problem.residual[part].mean()
        found[:, part] = _widening(own, length, float(slowness), float(deviation)) * own[index]
    return found


def _widening(residual: Floats, length: int, slowness: float, deviation: float) -> float:
    """What brings the sums of all blocks of a series to the variance that they should have; 1 or more."""
    round_again = np.concatenate([residual, residual[: length - 1]])
    sums = np.convolve(round_again, np.ones(length), "valid")
    variance = float((sums**2).mean())
    return max(math.sqrt(length * slowness / variance) * deviation, 1.0) if variance > 0 else 1.0
