"""An oven fitted to test cooks: how it differs from its description, how surely, and what cannot be told apart."""

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import Design
from ..judging.measured import Measured, Series
from ..judging.next_test import next_test
from ..judging.posterior import Posterior
from ..methods.between import variance_between
from ..methods.fitting import FitError
from ..methods.found import Fitted, told_apart, widened
from ..methods.least_squares import Prior
from .cooks_fitted import fitted_to, measured_in, models_of, noise_of, prior_of, start_of
from .fit_readings import FitRun
from .fit_result import fit_dataset
from .fit_table import FitSection, fit_faults, fit_ready
from .kind import Kind, StudyError, Work, middle_day

Floats = NDArray[np.float64]

WEAK = 0.5  # of a logarithm or of a range: how far a cook by itself is held to all together

_TELLING = 0.5  # of that: a cook that knows a factor no better says nothing of its own


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    ready, rounds = work.ready, work.section.other_seeds + 1
    names = tuple(factor.name for factor in ready.factors)
    measured = measured_in(work, ready.used, names)
    held = Measured(models_of(work, ready.held), names) if ready.held else None
    try:
        first = fitted_to(work, measured, noise_of(work, measured), bootstrap=0)
        noise = noise_of(work, measured, first)
        found = fitted_to(work, measured, noise, bootstrap=work.section.bootstrap)
        work.progress(1, rounds, 0)
        apart = told_apart(found, prior_of(work, measured, noise), len(names))
        rays = _of_rays(work, found, noise)
        by_cook = _by_cook(work, measured, noise, found)
    except FitError as error:
        raise StudyError([f"cooks: {error}"]) from error
    work.progress(rounds, rounds, 0)
    between = _between(found, *by_cook)
    by_readings = found.errors[: len(names)]
    found = widened(found, rays + np.diag(between / len(ready.used)))
    run = FitRun(
        factors=ready.factors,
        start=start_of(work),
        measured=measured,
        held=held,
        found=found,
        posterior=_posterior(work, found),
        apart=apart,
        by_readings=by_readings,
        rays=np.sqrt(np.diag(rays)),
        by_cook=by_cook,
        between=np.sqrt(between),
    )
    about = _about(work) | _next_test(work, run.posterior, noise)
    return fit_dataset(run).assign_attrs(about), run.posterior.built(work.design)


def _next_test(work: Work, posterior: Posterior, noise: dict[Series, float]) -> dict[str, str]:
    """The cook that would tell most of what is left, for the result; nothing where no ratio was fitted."""
    by_sensor = {one.sensor: deviation for one, deviation in sorted(noise.items(), key=lambda item: item[1])}
    text = next_test(work.setting, posterior, by_sensor, day=middle_day(work.setting.sky.ghi))
    return {} if text is None else {"next_test": text}


def _of_rays(work: Work, found: Fitted, noise: dict[Series, float]) -> Floats:
    """Covariance of the factors, in coordinates, when other rays are traced: float64[factor, factor]."""
    count = len(work.ready.factors)
    each = [found.values]
    for number in range(1, work.section.other_seeds + 1):
        other = work.within(seed=work.setting.seed + number)
        measured = measured_in(other, work.ready.used, found.names[:count])
        each.append(fitted_to(other, measured, noise, bootstrap=0, start=found.values).values)
        work.progress(number, work.section.other_seeds + 1, 0)
    if len(each) < 2:
        return np.zeros((count, count))
    return np.cov(found.coordinates.of(np.array(each))[:, :count], rowvar=False).reshape(count, count)


def _by_cook(
    work: Work, measured: Measured, noise: dict[Series, float], found: Fitted
) -> tuple[Floats, Floats]:
    """What each cook would say alone, and its standard error in coordinates: float64[cook, factor] both.

    Each is held weakly to what all say, so that a cook that cannot tell factors apart has an answer.
    """
    count, cooks = len(work.ready.factors), len(measured.models)
    if cooks == 1:
        return found.values[np.newaxis, :count], found.errors[np.newaxis, :count]
    values, errors = np.full((cooks, count), np.nan), np.full((cooks, count), np.nan)
    weak = found.coordinates.stated(np.full(len(found.values), WEAK), found.values)
    for number in range(cooks):
        alone = measured.only(number)
        own = {Series(0, one.sensor): value for one, value in noise.items() if one.cook == number}
        shifts = prior_of(work, alone, own)
        prior = Prior(
            np.concatenate([found.values[:count], shifts.middle[count:]]),
            np.concatenate([weak[:count], shifts.deviation[count:]]),
        )
        start = np.concatenate([found.values[:count], np.zeros(len(alone.names) - count)])
        one = fitted_to(work, alone, own, start=start, prior=prior)
        values[number], errors[number] = one.values[:count], one.errors[:count]
    return values, errors


def _between(found: Fitted, values: Floats, errors: Floats) -> Floats:
    """Variance of each factor from cook to cook, in coordinates; of cooks that tell it. float64[factor]"""
    count = values.shape[1]
    padded = np.pad(values, ((0, 0), (0, len(found.values) - count)), constant_values=1.0)
    x = found.coordinates.of(padded)[:, :count]
    telling = np.where(errors < _TELLING * WEAK, errors, np.nan)
    return np.array([variance_between(x[:, k], telling[:, k]) for k in range(count)])


def _posterior(work: Work, found: Fitted) -> Posterior:
    """What is known of the factors, offsets of thermometers left aside."""
    factors = work.ready.factors
    count = len(factors)
    return Posterior(
        names=tuple(factor.name for factor in factors),
        values=tuple(found.values[:count].tolist()),
        covariance=tuple(tuple(row) for row in found.covariance[:count, :count].tolist()),
        low=tuple(factor.low for factor in factors),
        high=tuple(factor.high for factor in factors),
        logs=tuple(factor.logs for factor in factors),
        described={name: work.design.value(name) for name in work.design.factors},
    )


def _about(work: Work) -> dict[str, Any]:
    section = work.section
    return {
        "study": "fit",
        "robust": int(section.robust),
        "bootstrap": section.bootstrap,
        "other_seeds": section.other_seeds,
        "seed": work.setting.seed,
        "intervals": "95 % intervals from the Jacobian, with Student's t for independent readings: each series counts "
        "for its readings over their integrated autocorrelation time (Bayley and Hammersley 1946, Geyer 1992); what "
        "other rays move, and how far cooks differ (DerSimonian and Laird 1986), is added",
    }


FIT = Kind(
    word="fit", section=FitSection, carry_out=_carry_out, faults=fit_faults, ready=fit_ready, chooses=True
)
