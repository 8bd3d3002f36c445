"""Estimators of sensitivity indices and their bootstrap: arrays in, arrays out, all resamples at once.

Letters, as in the sources: A and B are two independent samples of the factors, AB_j is A with factor j (or group j)
taken from B, BA_j is B with factor j taken from A. A *base* is one row of A with everything built on it: the rows
A, AB_1..AB_k, (BA_1..BA_k,) (sides,) B, as `layout` lists them. Bases are independent of each other, rows of one
base are not, so the bootstrap draws whole bases.

Source
------
First and total order: Saltelli, Annoni, Azzini, Campolongo, Ratto and Tarantola, Variance based sensitivity
analysis of model output, Comput. Phys. Commun. 181 (2010) 259, table 2 (b) and (f).
Second order: Saltelli, Making best use of model evaluations to compute sensitivity indices, Comput. Phys.
Commun. 145 (2002) 280.
Elementary effects: Morris, Factorial sampling plans for preliminary computational experiments, Technometrics
33 (1991) 161; mu_star: Campolongo, Cariboni and Saltelli, Environ. Model. Softw. 22 (2007) 1509.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .layout import SIDES, Positions, positions

Array = NDArray[np.float64]


class SobolIndices(NamedTuple):
    """Indices of one output; leading axes are free (none, or one per resample).

    first, total : float64[..., factor]
    second : float64[..., factor, factor]
        Symmetric, nan on the diagonal; of size 0 unless it was asked for.
    """

    first: Array
    total: Array
    second: Array


def sobol_indices(y: Array, layout: Positions) -> SobolIndices:
    """Indices of one output, from all bases; nan if it does not vary.

    Parameters
    ----------
    y : float64[base, position]
        Finite.
    layout : Positions
    """
    return _from_means(_terms(_standardised(y), layout).mean(axis=0), layout)


def sobol_half_widths(
    y: Array, layout: Positions, *, resamples: int, confidence: float, seed: int
) -> SobolIndices:
    """Half width of the interval of each index: normal quantile times bootstrap standard deviation.

    Parameters
    ----------
    y, layout, resamples, seed
        As for `resampled_indices`.
    confidence : float
        Share of intervals that hold the true index, in (0, 1).
    """
    drawn = resampled_indices(y, layout, resamples=resamples, seed=seed)
    return SobolIndices(*(half_width(part, confidence) for part in drawn))


def resampled_indices(y: Array, layout: Positions, *, resamples: int, seed: int) -> SobolIndices:
    """The indices of so many resamples of the bases: every part has the axis resample first.

    Every index is a ratio of means over bases. A resample is the number of times it drew each base, so all
    resamples of all means are one matrix product of these counts with the terms of the means.

    Parameters
    ----------
    y : float64[base, position]
    layout : Positions
    resamples : int
        2 or more.
    seed : int
        1 or more.
    """
    means = base_counts(len(y), resamples, seed) @ _terms(_standardised(y), layout) / len(y)
    return _from_means(means, layout)


@lru_cache(maxsize=4)  # all outputs of a study draw the same, at a quarter, half and all of its samples
def base_counts(bases: int, resamples: int, seed: int) -> Array:
    """How often each resample drew each base: float64[resample, base], not to be written to."""
    drawn = np.random.default_rng(seed).integers(bases, size=(bases, resamples))
    counts = _counts(drawn.T, bases)
    counts.setflags(write=False)
    return counts


def half_width(resampled: Array, confidence: float) -> Array:
    """Half width of an interval from resamples along the first axis."""
    return np.asarray(quantile_of(confidence) * resampled.std(axis=0, ddof=1))


def of_sides(y: Array, layout: Positions) -> tuple[Array, Positions]:
    """The rows by which the two sides are told apart, and their layout as if they were two factors."""
    rows = [0, *range(*layout.sides.indices(y.shape[1])), y.shape[1] - 1]
    return y[:, rows], positions(SIDES)


def _counts(drawn: NDArray[np.int64], number: int) -> Array:
    """How often each resample drew each of the numbers below `number`: float64[resample, number]."""
    shifted = drawn + number * np.arange(len(drawn))[:, np.newaxis]
    counts = np.bincount(shifted.ravel(), minlength=number * len(drawn))
    return counts.reshape(len(drawn), number).astype(np.float64)


def quantile_of(confidence: float) -> float:
    """Of the normal distribution: so many standard deviations to either side hold that share."""
    return NormalDist().inv_cdf(0.5 + confidence / 2.0)


def _standardised(y: Array) -> Array:
    """Output less its mean over all rows, in its standard deviations; nan if it does not vary.

    The first-order estimator multiplies outputs, so it is only sharp for outputs centred on zero.
    """
    return np.full_like(y, np.nan) if np.ptp(y) == 0.0 else (y - y.mean()) / y.std()


def _terms(z: Array, layout: Positions) -> Array:
    """Terms whose means over bases make every index: float64[base, term].

    A + B, A^2 + B^2, then per factor B (AB_j - A) and (A - AB_j)^2; for the second order also A B and, per
    pair, BA_j AB_k.
    """
    a, b, ab, ba = z[:, :1], z[:, -1:], z[:, layout.ab], z[:, layout.ba]
    terms = [a + b, a**2 + b**2, b * (ab - a), (a - ab) ** 2]
    if ba.shape[1]:
        pairs = ba[:, :, np.newaxis] * ab[:, np.newaxis, :]
        terms += [a * b, pairs.reshape(len(z), -1)]
    return np.concatenate(terms, axis=1)


def _from_means(means: Array, layout: Positions) -> SobolIndices:
    """Indices from means of the terms: float64[..., term] to SobolIndices[...]."""
    k = layout.ab.stop - layout.ab.start
    variance = (means[..., 1] / 2.0 - (means[..., 0] / 2.0) ** 2)[..., np.newaxis]
    variance[variance <= 0.0] = np.nan  # of a resample that drew one and the same output only
    first = means[..., 2 : 2 + k] / variance
    total = 0.5 * means[..., 2 + k : 2 + 2 * k] / variance
    if layout.ba.stop == layout.ba.start:
        return SobolIndices(first, total, np.empty((*means.shape[:-1], 0, 0)))
    joint = (means[..., 3 + 2 * k :] - means[..., 2 + 2 * k, np.newaxis]) / variance
    excess = joint.reshape(*joint.shape[:-1], k, k) - first[..., :, np.newaxis] - first[..., np.newaxis, :]
    second = np.full_like(excess, np.nan)
    above, below = np.triu_indices(k, 1)
    second[..., above, below] = second[..., below, above] = excess[..., above, below]
    return SobolIndices(first, total, second)


def elementary_effects(u: Array, y: Array) -> Array:
    """Change of an output per unit of each factor's range along each trajectory.

    Parameters
    ----------
    u : float64[trajectory, point, factor]
        Neighbouring points differ in one factor; each factor moves once.
    y : float64[trajectory, point]

    Returns
    -------
    float64[trajectory, factor]
    """
    moves = np.diff(u, axis=1)
    factor = np.abs(moves).argmax(axis=2)
    steps = np.take_along_axis(moves, factor[:, :, np.newaxis], axis=2)[:, :, 0]
    effects = np.empty((len(u), u.shape[2]))
    np.put_along_axis(effects, factor, np.diff(y, axis=1) / steps, axis=1)
    return effects


def mu_star_half_widths(effects: Array, *, resamples: int, confidence: float, seed: int) -> Array:
    """Half width of the interval of mu_star, whole trajectories drawn anew: float64[factor].

    Parameters
    ----------
    effects : float64[trajectory, factor]
    """
    number = len(effects)
    drawn = np.random.default_rng(seed).integers(number, size=(resamples, number))
    resampled = _counts(drawn, number) @ np.abs(effects) / number
    return half_width(resampled, confidence)
