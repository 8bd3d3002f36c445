"""Parameters of a model fitted to what was measured, with honest intervals; knows no oven.

Weighted least squares in scaled coordinates (logarithms of what can only be above zero), in two stages: the second
weighs every series of readings by how it scattered round the first, and by how many independent readings it is
worth. Priors are further residuals. Intervals come from the Jacobian of the second stage, with Student's t for the
independent readings less the parameters (or for how surely their scatter is known), and, where asked, from a block
bootstrap of the residuals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import t as student

from .coordinates import Coordinates
from .independence import Scatter
from .least_squares import (
    ROBUST_FROM,
    Predict,
    Prior,
    Readings,
    Weight,
    by_reading,
    robust_factor,
    scatters,
    solved,
    with_slopes,
)
from .resampling_blocks import Problem, resampled

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
_STAGES = 2  # fits that only find out how the readings scatter
_LEAST_FREEDOM = 3.0  # degrees of freedom that intervals are given for at least; fewer say nothing at all


class FitError(ValueError):
    """Observations that nothing can be fitted to; a sentence that says why."""


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


def fitted(
    predict: Predict,
    observed: Floats,
    *,
    names: Sequence[str],
    start: ArrayLike,
    bounds: tuple[ArrayLike, ArrayLike],
    logs: Sequence[bool] | None = None,
    prior: Prior | None = None,
    noise: ArrayLike = 1.0,
    series: NDArray[np.int64] | None = None,
    time: Floats | None = None,
    robust: bool = False,
    bootstrap: int = 0,
    seed: int = 1,
) -> Fitted:
    """Parameters that bring predictions nearest to observations.

    Parameters
    ----------
    predict : callable
        Rows of parameters, float64[row, parameter], to float64[row, observation].
    observed : float64[observation]
        nan where nothing was observed.
    names : sequence of str
    start : float64[parameter]
        Inside the bounds.
    bounds : (low, high) of float64[parameter]
    logs : sequence of bool, optional
        Which parameters are fitted in their logarithm; those whose lower bound is above zero if left out.
    prior : Prior, optional
        Of a parameter in its logarithm, the deviation counts relative to the middle.
    noise : float or float64[observation]
        Stated standard deviation of a reading: weighs the readings of the first stage against each other and
        against the prior. The later ones take what the residuals show.
    series : int64[observation], optional
        Number of the series that each observation belongs to, from 0; one series if left out.
    time : float64[observation], optional
        Rising within a series; even steps if left out.
    robust : bool
        Readings far off count less: the loss grows with the deviation, no longer with its square, from
        `ROBUST_FROM` deviations on (the smooth form of Huber's, as in scipy's "soft_l1").
    bootstrap : int
        Refits to residuals drawn again in blocks.
    seed : int
        Of these draws.

    Raises
    ------
    FitError
        Fewer observations than parameters.

    Source
    ------
    D. M. Bates and D. G. Watts, Nonlinear Regression Analysis (Wiley, 1988), ch. 2, from memory: intervals from the
    Jacobian. Series weighted by what they left: feasible generalised least squares, W. H. Greene, Econometric
    Analysis, from memory. With a robust loss, the covariance carries P. J. Huber's factor E[psi^2] / E[psi']^2
    (Robust Statistics, 1981, ch. 7, from memory).
    """
    axes = Coordinates.over(bounds, logs)
    whole = _Whole(predict, np.asarray(observed, np.float64), axes, noise, series, time)
    x = axes.of(np.asarray(start, np.float64))
    known = whole.known(x)
    if known.sum() < len(names):
        raise FitError(
            f"{known.sum()} readings cannot tell {len(names)} factors apart: give more, or fit fewer factors"
        )
    fit = _staged(whole.only(known), x, _prior_in(axes, prior), robust)
    draws = np.empty((0, len(names)))
    if bootstrap:
        draws = axes.values(resampled(fit.problem, fit.x, draws=bootstrap, seed=seed))
    return _told(tuple(names), whole, known, fit, draws)


class _Whole(NamedTuple):
    """Observations, what predicts them, and what is stated of them."""

    predict: Predict
    observed: Floats
    axes: Coordinates
    noise: ArrayLike
    series: NDArray[np.int64] | None
    time: Floats | None

    def known(self, x: Floats) -> NDArray[np.bool_]:
        """Which observations were read and are predicted."""
        found = self.predict(self.axes.values(x[np.newaxis]))[0]
        return np.asarray(np.isfinite(found) & np.isfinite(self.observed))

    def only(self, known: NDArray[np.bool_]) -> Readings:
        """Those alone."""
        count = len(self.observed)
        series = np.zeros(count, np.int64) if self.series is None else np.asarray(self.series)
        time = np.arange(count, dtype=np.float64) if self.time is None else self.time
        return Readings(
            predict=lambda x: self.predict(self.axes.values(x))[:, known],
            observed=self.observed[known],
            axes=self.axes,
            noise=np.broadcast_to(np.asarray(self.noise, np.float64), self.observed.shape)[known],
            parts=tuple(np.flatnonzero(series[known] == k) for k in range(int(series.max(initial=0)) + 1)),
            time=time[known],
        )


class _Fit(NamedTuple):
    """The last stage."""

    x: Floats
    problem: Problem
    predicted: Floats
    series: tuple[Scatter, ...]
    information: Floats  # of the readings, without the prior [parameter, parameter]
    converged: bool


def _prior_in(axes: Coordinates, prior: Prior | None) -> Prior:
    """The prior in coordinates."""
    if prior is None:
        nothing = np.full(axes.size, np.inf)
        return Prior(np.zeros(axes.size), nothing)
    middle = np.asarray(prior.middle, np.float64)
    stated = np.asarray(prior.deviation, np.float64)
    known = np.isfinite(stated)
    deviation = np.where(known, axes.deviation(np.where(known, stated, 1.0), middle), np.inf)
    return Prior(np.where(known, axes.of(middle), 0.0), np.asarray(deviation))


def _staged(readings: Readings, start: Floats, prior: Prior, robust: bool) -> _Fit:
    """Fits one after another, each with the weights that the one before left; the prior comes in with the last.

    Before that it would make residuals of its own where it is wrong, they would make the readings look slow, and that
    would make the prior stronger.
    """
    nothing = Prior(prior.middle, np.full(readings.axes.size, np.inf))
    weight = Weight(1.0 / readings.noise, np.full(len(readings.noise), ROBUST_FROM if robust else np.inf))
    x = start
    for _ in range(_STAGES):
        x, _ = solved(readings, x, nothing, weight)
        predicted, jacobian = with_slopes(readings.predict, x, readings.axes.ends)
        residual = readings.observed - predicted
        series = scatters(readings, residual, jacobian * weight.each[:, None], robust)
        deviation = by_reading(readings, [scatter.deviation for scatter in series])
        slow = np.sqrt(by_reading(readings, [scatter.slowness for scatter in series]))
        weight = Weight(1.0 / (deviation * slow), ROBUST_FROM / slow if robust else weight.caps)
    factor = robust_factor(readings, residual / deviation) if robust else np.ones(len(residual))
    x, converged = solved(readings, start, prior, weight)
    predicted, jacobian = with_slopes(readings.predict, x, readings.axes.ends)
    information = jacobian.T @ (jacobian * (weight.each**2 / factor)[:, None])
    problem = Problem(
        predict=readings.predict,
        predicted=predicted,
        residual=readings.observed - predicted,
        jacobian=jacobian,
        weight=weight.each,
        caps=weight.caps,
        parts=readings.parts,
        slowness=np.array([scatter.slowness for scatter in series]),
        deviation=np.array([scatter.deviation for scatter in series]),
        prior_middle=prior.middle,
        prior_weight=1.0 / prior.deviation,
        ends=readings.axes.ends,
    )
    return _Fit(x, problem, predicted, series, information, converged)


def _told(
    names: tuple[str, ...], whole: _Whole, known: NDArray[np.bool_], fit: _Fit, draws: Floats
) -> Fitted:
    axes = whole.axes
    whole_information = fit.information + np.diag(fit.problem.prior_weight**2)
    covariance: Floats = np.asarray(np.linalg.pinv(whole_information, hermitian=True), np.float64)
    effective = sum(scatter.effective for scatter in fit.series if scatter.readings)
    freedom = min(effective - len(names), sum(scatter.freedom for scatter in fit.series))
    freedom = max(freedom, _LEAST_FREEDOM)
    singular, directions = _directions(fit.information)
    low, high = axes.ends
    near = 1e-6
    values = axes.values(fit.x)
    at_bound = (fit.x >= high - near).astype(np.int8) - (fit.x <= low + near).astype(np.int8)
    return Fitted(
        names=names,
        coordinates=axes,
        values=values,
        covariance=covariance,
        **_ends(axes, values, covariance, freedom),
        singular_values=singular,
        directions=directions,
        predicted=_spread_out(fit.predicted, known),
        residuals=_spread_out(fit.problem.residual, known),
        jacobian=_spread_out(fit.problem.jacobian, known),
        series=fit.series,
        draws=draws,
        at_bound=at_bound,
        freedom=freedom,
        converged=fit.converged,
    )


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
    known = _prior_in(found.coordinates, prior).deviation ** -2.0
    whole = rows.T @ rows + np.diag(np.where(np.arange(len(known)) < count, 0.0, known))
    beside, across = whole[count:, count:], whole[:count, count:]
    own = whole[:count, :count] - across @ np.linalg.pinv(beside, hermitian=True) @ across.T
    return _directions(own)


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
        found, covariance=covariance, **_ends(found.coordinates, found.values, covariance, found.freedom)
    )


def _ends(axes: Coordinates, values: Floats, covariance: Floats, freedom: float) -> dict[str, Any]:
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


def _directions(information: Floats) -> tuple[Floats, Floats]:
    """Singular values of the weighted Jacobian, falling, and the direction of each; its largest part is positive."""
    squares, vectors = np.linalg.eigh(information)
    directions = vectors.T[::-1]
    largest = np.argmax(np.abs(directions), axis=1)
    signs = np.sign(directions[np.arange(len(largest)), largest])
    return np.sqrt(np.maximum(squares[::-1], 0.0)), directions * signs[:, None]


def _spread_out(values: Floats, known: NDArray[np.bool_]) -> Floats:
    found = np.full((len(known), *values.shape[1:]), np.nan)
    found[known] = values
    return found


def quantile_of(freedom: float) -> float:
    """Standard errors from an estimate to the end of its 95 % interval."""
    return float(student.ppf(0.5 + CONFIDENCE / 2, freedom))
