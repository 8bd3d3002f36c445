"""How many independent readings a series of residuals is worth: neighbours in time err alike.

A thermometer read every ten seconds is wrong in the same way for minutes. The variance of what is fitted to it is
that of a fit to fewer, independent readings: n over the integrated autocorrelation time, as long as what is fitted
changes slowly beside that time.

Source
------
Effective count: G. V. Bayley and J. M. Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184. Where to stop summing
autocorrelations: C. J. Geyer, Stat. Sci. 7 (1992) 473, initial monotone positive sequence. How surely the sum is known:
M. B. Priestley, Spectral Analysis and Time Series (1981), 6.2.3: a sum of autocorrelations up to a lag M has the
relative variance 2 (2 M + 1) / n. All from memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST = 4.0  # independent readings that a series is at least taken for: below, nothing can be told from it
_LONGEST = 0.25  # of the series: no lag beyond can be told from it
_ROUNDS = 3  # of giving back what the fit took away; more of them blow up what chance shows of short series


class Scatter(NamedTuple):
    """How a series scatters round what is fitted to it."""

    deviation: float  # of one reading
    slowness: float  # readings that are worth one independent one; 1 or more
    readings: int
    freedom: float  # degrees of freedom of its variance, which is itself estimated from the readings

    @property
    def effective(self) -> float:
        """Independent readings that it is worth."""
        return self.readings / self.slowness


def scatter_of(residual: Floats, time: Floats, *, taken: float, least: float) -> Scatter:
    """Deviation and slowness of one series of residuals.

    A fit with p parameters takes p slow waves away from a series, and with them variance and correlation; both are
    given back, to first order.

    Parameters
    ----------
    residual : float64[reading]
    time : float64[reading]   [s]
        Rising; gaps and uneven steps are allowed.
    taken : float
        Parameters' worth of freedom that the fit took from this series: its part of the trace of the hat matrix.
    least : float   [unit of the residual]
        A deviation below which none is believed.
    """
    count = len(residual)
    gamma = _autocovariance(residual, time)
    variance, slowness, lag = float(gamma[0]), 1.0, 1
    for _ in range(_ROUNDS):
        lost = min(slowness * taken / count, 0.5)
        variance = float(gamma[0]) / (1 - lost)
        back = variance * lost
        slowness, lag = _slowness((gamma + back) / variance) if variance > 0 else (1.0, 1)
        slowness = min(slowness, max(count / FEWEST, 1.0))
    return Scatter(max(float(np.sqrt(variance)), least), slowness, count, count / (2 * lag + 1))


def _autocovariance(residual: Floats, time: Floats) -> Floats:
    """Mean product of residuals so many middle steps apart; the deviations are from zero, not from their mean."""
    if len(time) < 2:
        return np.array([float(np.mean(residual**2))])
    step = float(np.median(np.diff(time)))
    place = np.round((time - time[0]) / step).astype(np.int64)
    longest = max(int(_LONGEST * len(residual)), 1)
    # Long gaps would make the grid long: no lag reaches across one that is longer than the longest lag.
    place = np.concatenate([[0], np.cumsum(np.clip(np.diff(place), 0, longest + 1))])
    cells = int(place[-1]) + 1
    counts = np.bincount(place, minlength=cells)
    sums = np.bincount(place, weights=residual, minlength=cells)
    mean = np.divide(sums, counts, out=np.zeros(cells), where=counts > 0)
    size = 1 << (2 * cells - 1).bit_length()
    has = _lagged((counts > 0).astype(float), size)[: longest + 1]
    product = _lagged(mean, size)[: longest + 1]
    gamma = np.divide(product, has, out=np.zeros(len(product)), where=has > 0.5)
    gamma[0] = np.mean(residual**2)
    # Divided by all pairs, not by those at the lag: far lags count for little, as they are known badly.
    gamma[1:] *= np.minimum(has[1:] / max(has[0], 1.0), 1.0)
    return np.asarray(gamma)


def _lagged(values: Floats, size: int) -> Floats:
    """Sums of products at every lag."""
    turned = np.fft.rfft(values, size)
    return np.asarray(np.fft.irfft(turned * np.conj(turned), size))


def _slowness(correlation: Floats) -> tuple[float, int]:
    """Integrated autocorrelation time in steps, 1 or more, and the last lag that is summed."""
    rho = correlation[: len(correlation) - len(correlation) % 2]
    if len(rho) < 2:
        return 1.0, 1
    pairs = np.minimum.accumulate(rho.reshape(-1, 2).sum(axis=1))
    positive = pairs > 0
    stop = len(pairs) if positive.all() else int(np.argmin(positive))
    return max(2.0 * float(pairs[:stop].sum()) - 1.0, 1.0), max(2 * stop - 1, 1)
