"""How well experiments that nobody has done yet would tell parameters: Fisher information; knows no oven.

Parameters come in three parts: those that are wanted, `aims`; what all trials share and nobody wants, such as a
thermometer that reads high; and what is new in every trial. The last are integrated out of each trial at once, the
shared ones stay, because more trials do not average them away. A fault that a fit knows nothing of misleads it.

Source
------
R. A. Fisher's information of normal errors, and D-optimality: V. V. Fedorov, Theory of Optimal Experiments (1972),
ch. 1 and 2. What integrating out leaves is a Schur complement: any text on normal distributions. Both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

Floats = NDArray[np.float64]

NOTHING = (
    1e-9  # information on each parameter that is always there, so that what nobody measures has an error
)
MOST = 9.99  # of itself, that a parameter may be off by where it is said; beyond it is not known at all


def slowness(step: float, memory: float) -> float:
    """Readings that are worth one independent one, of errors that fade as exp(-time / memory).

    Parameters
    ----------
    step : float   [s]
        Between readings.
    memory : float   [s]
        0 for errors that know nothing of each other.

    Source
    ------
    Bayley, G. V. and Hammersley, J. M., J. R. Stat. Soc. Suppl. 8 (1946) 184, for a first-order process (from memory).

    Examples
    --------
    >>> slowness(60.0, 0.0)
    1.0
    >>> round(slowness(60.0, 300.0), 2)  # nearly twice the memory over the step
    10.03
    """
    kept = math.exp(-step / memory) if memory > 0 else 0.0
    return (1 + kept) / (1 - kept)


def information(jacobian: Floats, deviation: ArrayLike, slow: ArrayLike = 1.0) -> Floats:
    """What readings tell of the parameters, float64[parameter, parameter].

    Parameters
    ----------
    jacobian : float64[reading, parameter]
        Rows with a nan tell nothing.
    deviation : float or float64[reading]
        Standard deviation of a reading.
    slow : float or float64[reading]
        Readings that are worth one independent one.
    """
    weight = 1.0 / (np.asarray(deviation, np.float64) ** 2 * np.asarray(slow, np.float64))
    known = np.isfinite(jacobian).all(axis=1)
    own = jacobian[known]
    return np.asarray(own.T @ (own * np.broadcast_to(weight, known.shape)[known][:, None]))


def integrated_out(told: Floats, rest: Sequence[int], deviation: Sequence[float]) -> Floats:
    """Information on the other parameters where those of `rest` are unknown but for their own deviation.

    Parameters
    ----------
    told : float64[parameter, parameter]
    rest : sequence of int
    deviation : sequence of float
        Known of each beforehand; infinite where nothing is.
    """
    others = [k for k in range(len(told)) if k not in set(rest)]
    if not len(rest):
        return told
    beside = told[np.ix_(rest, rest)] + np.diag([one**-2.0 for one in deviation])
    across = told[np.ix_(others, rest)]
    left = told[np.ix_(others, others)] - across @ np.linalg.pinv(beside, hermitian=True) @ across.T
    return np.asarray((left + left.T) / 2)


def varying(told: Floats, spread: Sequence[float]) -> Floats:
    """Information of one trial where the first parameters are a little different in every trial.

    Parameters
    ----------
    told : float64[parameter, parameter]
        Of the trial's own values.
    spread : sequence of float
        Standard deviation of each of the first parameters from trial to trial; 0 where it stays.
    """
    moving = [k for k, one in enumerate(spread) if one > 0]
    if not moving:
        return told
    own = told[np.ix_(moving, moving)] + np.diag([spread[k] ** -2.0 for k in moving])
    across = told[:, moving]
    return np.asarray(told - across @ np.linalg.solve(own, across.T))


def pooled(trials: Sequence[tuple[Floats, int]], prior: Sequence[float]) -> Floats:
    """Information on all parameters after so many trials of each kind, float64[parameter, parameter].

    Parameters
    ----------
    trials : sequence of (information of one, how many)
    prior : sequence of float
        Deviation of each parameter known beforehand; infinite where nothing is.
    """
    whole = np.diag([one**-2.0 + NOTHING for one in prior])
    for told, count in trials:
        whole = whole + count * told
    return whole


def covariance(whole: Floats) -> Floats:
    """Of all parameters, from the information on them; parameters of unlike size are scaled first."""
    scale = 1.0 / np.sqrt(np.diag(whole))
    return np.asarray(np.linalg.inv(whole * np.outer(scale, scale)) * np.outer(scale, scale))


def misled(whole: Floats, fault: int, deviation: float) -> Floats:
    """Covariance of the others where a fit takes one parameter for nil that is off, by its own deviation.

    A fit that knows nothing of a fault pushes it into what it fits: no number of trials takes that away.

    Parameters
    ----------
    whole : float64[parameter, parameter]
        Information on all of them.
    fault : int
        The one that the fit does not know of.
    deviation : float
        Of the fault.
    """
    others = [k for k in range(len(whole)) if k != fault]
    covered = covariance(whole[np.ix_(others, others)])
    pushed = covered @ whole[others, fault]
    return np.asarray(covered + deviation**2 * np.outer(pushed, pushed))


def reach(variance: ArrayLike, confidence: float = 0.95) -> Floats:
    """How far a parameter may be above its estimate, as a share of it, from the variance of its logarithm.

    `MOST` where it is more than that, or not known at all.
    """
    wide = norm.ppf(0.5 + confidence / 2) * np.sqrt(np.asarray(variance, np.float64))
    return np.asarray(np.minimum(np.expm1(np.minimum(wide, 50.0)), MOST))


def correlation(covered: Floats, one: int, other: int) -> float:
    """Of two parameters."""
    return float(covered[one, other] / math.sqrt(covered[one, one] * covered[other, other]))


def sharpness(covered: Floats, aims: int) -> float:
    """Logarithm of the determinant of what is known of the first parameters: larger is better (D-optimality)."""
    return -float(np.linalg.slogdet(covered[:aims, :aims])[1])


def least_count(reached: Floats, wanted: Floats) -> int | None:
    """Trials from which on every wish is met; None where the last number does not.

    Parameters
    ----------
    reached : float64[count, aim]
        After 1, 2, ... trials.
    wanted : float64[aim]
        nan where nothing is wanted.
    """
    met = ((reached <= wanted) | np.isnan(wanted)).all(axis=1)
    return int(np.argmax(met)) + 1 if met.any() else None


def errors_in_a_row(rng: np.random.Generator, shape: tuple[int, int], step: float, memory: float) -> Floats:
    """Errors of unit deviation that fade as exp(-time / memory), each row by itself. float64[row, reading]"""
    kept = math.exp(-step / memory) if memory > 0 else 0.0
    fresh = rng.standard_normal(shape)
    found = np.empty(shape)
    found[:, 0] = fresh[:, 0]
    for k in range(1, shape[1]):
        found[:, k] = kept * found[:, k - 1] + math.sqrt(1 - kept**2) * fresh[:, k]
    return found
