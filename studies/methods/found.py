"""What a fit found: values, what is known of them together, and what follows for intervals and predictions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from .coordinates import Coordinates
from .independence import Scatter
from .least_squares import Predict, Prior, with_slopes

Floats = NDArray[np.float64]

CONFIDENCE = 0.95


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """Parameters fitted to observations, and how well they are known.

    Parameters
    ----------
    names : tuple of str
    coordinates : Coordinates
        Scaled ones in which `covariance` and `directions` stand: logarithms, or shares of the range.
    values, low, high : float64[parameter]
        Estimate, and the ends of its 95 % interval from the Jacobian.
    covariance, correlation : float64[parameter, parameter]
        With the prior; the covariance in coordinates.
    singular_values : float64[parameter]
        Of the weighted Jacobian without the prior, falling; one over each is the standard error along its direction.
    directions : float64[parameter, parameter]
        A row for each singular value, in coordinates.
    predicted, residuals : float64[observation]
        nan where nothing was observed or predicted.
    jacobian : float64[observation, parameter]
        Of the predictions by the coordinates.
    series : tuple of Scatter
        How each series scatters.
    draws : float64[draw, parameter]
        Refits to resampled residuals; none where none were asked for.
    at_bound : int8[parameter]
        -1 at its lower bound, 1 at its upper one.
    freedom : float
        Independent readings less parameters, or those of how surely their scatter is known, if these are fewer.
    converged : bool
    """

    names: tuple[str, ...]
    coordinates: Coordinates
    values: Floats
    low: Floats
    high: Floats
    covariance: Floats
    correlation: Floats
    singular_values: Floats
    directions: Floats
    predicted: Floats
    residuals: Floats
    jacobian: Floats
    series: tuple[Scatter, ...]
    draws: Floats
    at_bound: NDArray[np.int8]
    freedom: float
    converged: bool

    @property
    def quantile(self) -> float:
        """Standard errors from the estimate to the end of an interval."""
        return quantile_of(self.freedom)

    @property
    def errors(self) -> Floats:
        """Standard errors in coordinates, float64[parameter]."""
        return np.sqrt(np.diag(self.covariance))

    def spread(self, jacobian: Floats) -> Floats:
        """Standard error of predictions whose Jacobian by the coordinates is given, float64[observation]."""
        return np.asarray(np.sqrt(np.einsum("op,pq,oq->o", jacobian, self.covariance, jacobian)))


def told_apart(found: Fitted, prior: Prior | None, count: int) -> tuple[Floats, Floats]:
    """Singular values and directions of the first parameters, the rest being unknown too.

    Of the readings and of the prior of the rest, without the prior of the first ones.

    Parameters
    ----------
    found : Fitted
    prior : Prior, optional
        That of the fit.
    count : int
        How many are looked at; the rest, such as offsets of thermometers, only stand in their way.

    Returns
    -------
    singular_values : float64[parameter]
        Falling.
    directions : float64[parameter, parameter]
        A row for each, in coordinates.
    """
    rows = found.singular_values[:, None] * found.directions
    known = prior_in(found.coordinates, prior).deviation ** -2.0
    whole = rows.T @ rows + np.diag(np.where(np.arange(len(known)) < count, 0.0, known))
    beside, across = whole[count:, count:], whole[:count, count:]
    own = whole[:count, :count] - across @ np.linalg.pinv(beside, hermitian=True) @ across.T
    return directions_of(own)


def widened(found: Fitted, more: Floats) -> Fitted:
    """A fit with errors of another kind added to those of its readings.

    Parameters
    ----------
    found : Fitted
    more : float64[parameter, parameter]
        Covariance of the first parameters in coordinates; the rest is left as it is.
    """
    covariance = found.covariance.copy()
    covariance[: len(more), : len(more)] += more
    return replace(
        found, covariance=covariance, **ends_of(found.coordinates, found.values, covariance, found.freedom)
    )


def ends_of(axes: Coordinates, values: Floats, covariance: Floats, freedom: float) -> dict[str, Any]:
    """Intervals and correlations."""
    errors, (low, high) = np.sqrt(np.diag(covariance)), axes.ends
    x, reach = axes.of(values), quantile_of(freedom) * errors
    return {
        "low": axes.values(np.maximum(x - reach, low)),
        "high": axes.values(np.minimum(x + reach, high)),
        "correlation": covariance / np.outer(errors, errors),
    }


def foretold(predict: Predict, found: Fitted) -> tuple[Floats, Floats]:
    """What the fitted parameters say of any observations, and its standard error by what is not known of them.

    Returns
    -------
    predicted, error : float64[observation]
    """
    axes = found.coordinates
    predicted, slopes = with_slopes(lambda x: predict(axes.values(x)), axes.of(found.values), axes.ends)
    return predicted, found.spread(slopes)


def directions_of(information: Floats) -> tuple[Floats, Floats]:
    """Singular values of the weighted Jacobian, falling, and the direction of each; its largest part is positive."""
    squares, vectors = np.linalg.eigh(information)
    directions = vectors.T[::-1]
    largest = np.argmax(np.abs(directions), axis=1)
    signs = np.sign(directions[np.arange(len(largest)), largest])
    return np.sqrt(np.maximum(squares[::-1], 0.0)), directions * signs[:, None]


def prior_in(axes: Coordinates, prior: Prior | None) -> Prior:
    """The prior in coordinates."""
    if prior is None:
        nothing = np.full(axes.size, np.inf)
        return Prior(np.zeros(axes.size), nothing)
    middle = np.asarray(prior.middle, np.float64)
    stated = np.asarray(prior.deviation, np.float64)
    known = np.isfinite(stated)
    deviation = np.where(known, axes.deviation(np.where(known, stated, 1.0), middle), np.inf)
    return Prior(np.where(known, axes.of(middle), 0.0), np.asarray(deviation))


def quantile_of(freedom: float) -> float:
    """Standard errors from an estimate to the end of its 95 % interval."""
    return float(student.ppf(0.5 + CONFIDENCE / 2, freedom))
