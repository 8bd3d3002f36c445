"""Parameters of a model fitted to what was measured, with honest intervals; knows no oven.

Weighted least squares in scaled coordinates (logarithms of what can only be above zero), in two stages: the second
weighs every series of readings by how it scattered round the first, and by how many independent readings it is
worth. Priors are further residuals. Intervals come from the Jacobian of the second stage, with Student's t for the
independent readings less the parameters (or for how surely their scatter is known), and, where asked, from a block
bootstrap of the residuals.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .coordinates import Coordinates
from .found import Fitted, directions_of, ends_of, prior_in
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

_STAGES = 2  # fits that only find out how the readings scatter
_LEAST_FREEDOM = 3.0  # degrees of freedom that intervals are given for at least; fewer say nothing at all


class FitError(ValueError):
    """Observations that nothing can be fitted to; a sentence that says why."""


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
    fit = _staged(whole.only(known), x, prior_in(axes, prior), robust)
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
    singular, directions = directions_of(fit.information)
    low, high = axes.ends
    near = 1e-6
    values = axes.values(fit.x)
    at_bound = (fit.x >= high - near).astype(np.int8) - (fit.x <= low + near).astype(np.int8)
    return Fitted(
        names=names,
        coordinates=axes,
        values=values,
        covariance=covariance,
        **ends_of(axes, values, covariance, freedom),
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


def _spread_out(values: Floats, known: NDArray[np.bool_]) -> Floats:
    found = np.full((len(known), *values.shape[1:]), np.nan)
    found[known] = values
    return found
