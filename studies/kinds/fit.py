"""An oven fitted to test cooks: how it differs from its description, how surely, and what cannot be told apart."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import CookModel, CookRecord, DescriptionError, Design, RecordError
from ..judging.measured import FOOD, Measured, Series
from ..judging.next_test import next_test
from ..judging.posterior import Posterior
from ..methods.fitting import FitError, Fitted, fitted, told_apart, widened
from ..methods.least_squares import Prior
from .cook import cook_model
from .fit_result import FitRun, fit_dataset
from .fit_table import NOISE, FitSection, fit_faults, fit_ready
from .kind import Kind, StudyError, Work, middle_day

Floats = NDArray[np.float64]

_REACH = 10.0  # standard deviations that a shift may be at most


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    ready, rounds = work.ready, work.section.other_seeds + 1
    names = tuple(factor.name for factor in ready.factors)
    measured = _measured(work, ready.used, names)
    held = Measured(_models(work, ready.held), names) if ready.held else None
    try:
        first = _fitted(work, measured, _noise(work, measured), bootstrap=0)
        noise = _noise(work, measured, first)
        found = _fitted(work, measured, noise, bootstrap=work.section.bootstrap)
        work.progress(1, rounds, 0)
        apart = told_apart(found, _prior(work, measured, noise), len(names))
        rays = _of_rays(work, found, noise)
    except FitError as error:
        raise StudyError([f"cooks: {error}"]) from error
    work.progress(rounds, rounds, 0)
    found = widened(found, rays)
    run = FitRun(
        factors=ready.factors,
        start=_start(work),
        measured=measured,
        held=held,
        found=found,
        posterior=_posterior(work, found),
        apart=apart,
        rays=np.sqrt(np.diag(rays)),
    )
    about = _about(work) | _next_test(work, run.posterior, noise)
    return fit_dataset(run).assign_attrs(about), run.posterior.built(work.design)


def _next_test(work: Work, posterior: Posterior, noise: dict[Series, float]) -> dict[str, str]:
    """The cook that would tell most of what is left, for the result; nothing where no ratio was fitted."""
    by_sensor = {one.sensor: deviation for one, deviation in sorted(noise.items(), key=lambda item: item[1])}
    text = next_test(work.setting, posterior, by_sensor, day=middle_day(work.setting.sky.ghi))
    return {} if text is None else {"next_test": text}


def _models(work: Work, records: Sequence[CookRecord]) -> tuple[CookModel, ...]:
    """The model of each cook; its light is traced here."""
    try:
        return tuple(cook_model(work, record) for record in records)
    except (DescriptionError, RecordError) as error:
        raise StudyError([f"cooks: {fault}" for fault in error.faults]) from error


def _of_rays(work: Work, found: Fitted, noise: dict[Series, float]) -> Floats:
    """Covariance of the factors, in coordinates, when other rays are traced: float64[factor, factor]."""
    count = len(work.ready.factors)
    each = [found.values]
    for number in range(1, work.section.other_seeds + 1):
        other = work.within(seed=work.setting.seed + number)
        measured = _measured(other, work.ready.used, found.names[:count])
        each.append(_fitted(other, measured, noise, bootstrap=0, start=found.values).values)
        work.progress(number, work.section.other_seeds + 1, 0)
    if len(each) < 2:
        return np.zeros((count, count))
    return np.cov(found.coordinates.of(np.array(each))[:, :count], rowvar=False).reshape(count, count)


def _measured(work: Work, records: Sequence[CookRecord], names: tuple[str, ...]) -> Measured:
    """All readings that are fitted to, with what else than the factors may be off."""
    models = _models(work, records)
    series = Measured(models, names).series
    return Measured(
        models,
        names,
        offsets=tuple(one for one in series if one.sensor in work.section.offset),
        starts=tuple(one.cook for one in series if one.sensor == FOOD),
    )


def _noise(work: Work, measured: Measured, first: Fitted | None = None) -> dict[Series, float]:
    """Deviation of a reading of each series: as stated, else as a first fit found it, else as usual. [K]"""
    stated = work.section.noise
    found = [NOISE] * len(measured.series) if first is None else [one.deviation for one in first.series]
    return {
        one: stated.get(one.sensor, deviation) for one, deviation in zip(measured.series, found, strict=True)
    }


def _prior(work: Work, measured: Measured, noise: dict[Series, float]) -> Prior:
    """What is known before the cooks: of factors, of offsets of thermometers, of the food's first reading."""
    offsets = [work.section.offset[one.sensor] for one in measured.offsets]
    starts = [noise[Series(cook, FOOD)] for cook in measured.starts]
    prior: Prior = work.ready.prior([*offsets, *starts])
    return prior


def _start(work: Work) -> Floats:
    """The factors as the design has them, or the middle of their range where it leaves them to a material."""
    values = [work.design.value(factor.name) for factor in work.ready.factors]
    return np.array(
        [
            (factor.low + factor.high) / 2 if value is None else min(max(value, factor.low), factor.high)
            for factor, value in zip(work.ready.factors, values, strict=True)
        ]
    )


def _fitted(
    work: Work, measured: Measured, noise: dict[Series, float], *, bootstrap: int, start: Floats | None = None
) -> Fitted:
    factors, prior = work.ready.factors, _prior(work, measured, noise)
    count = len(factors)
    reach = _REACH * prior.deviation[count:]
    each = np.array([noise[one] for one in measured.series])
    return fitted(
        measured,
        np.where(measured.started, measured.temperature, np.nan),
        names=measured.names,
        start=np.concatenate([_start(work), np.zeros(len(reach))]) if start is None else start,
        bounds=([f.low for f in factors] + (-reach).tolist(), [f.high for f in factors] + reach.tolist()),
        logs=[factor.logs for factor in factors] + [False] * len(reach),
        prior=prior,
        noise=each[measured.numbers],
        series=measured.numbers,
        time=measured.time,
        robust=work.section.robust,
        bootstrap=bootstrap,
        seed=work.setting.seed,
    )


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
        "other rays move is added",
    }


FIT = Kind(
    word="fit", section=FitSection, carry_out=_carry_out, faults=fit_faults, ready=fit_ready, chooses=True
)
