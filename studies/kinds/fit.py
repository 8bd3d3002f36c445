"""An oven fitted to test cooks: how it differs from its description, how surely, and what cannot be told apart."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from ...model import CookModel, CookRecord, Design
from ..judging.measured import FOOD, Measured, Series
from ..judging.posterior import Posterior
from ..logs import usual_air
from ..methods.fitting import FitError, Fitted, fitted, told_apart
from ..methods.least_squares import Prior
from .fit_result import FitRun, fit_dataset
from .fit_table import NOISE, FitSection, fit_faults, fit_ready
from .kind import Kind, StudyError, Work

_REACH = 10.0  # standard deviations that a shift may be at most


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    ready = work.ready
    names = tuple(factor.name for factor in ready.factors)
    work.progress(0, 1, 0)
    measured = _measured(work, _models(work, ready.used), names)
    held = Measured(_models(work, ready.held), names) if ready.held else None
    try:
        first = _fitted(work, measured, _noise(work, measured), bootstrap=0)
        noise = _noise(work, measured, first)
        found = _fitted(work, measured, noise, bootstrap=work.section.bootstrap)
    except FitError as error:
        raise StudyError([f"cooks: {error}"]) from error
    work.progress(1, 1, 0)
    run = FitRun(
        factors=ready.factors,
        start=_start(work),
        measured=measured,
        held=held,
        found=found,
        posterior=_posterior(work, found),
        apart=told_apart(found, _prior(work, measured, noise), len(names)),
    )
    return fit_dataset(run).assign_attrs(_about(work)), run.posterior.built(work.design)


def _measured(work: Work, models: Sequence[CookModel], names: tuple[str, ...]) -> Measured:
    """All readings that are fitted to, with what else than the factors may be off."""
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


def _models(work: Work, records: Sequence[CookRecord]) -> tuple[CookModel, ...]:
    """The model of each cook; its light is traced here."""
    setting = work.setting
    how: dict[str, Any] = {
        "place": setting.sky.place,
        "catalogue": setting.catalogue,
        "rays": setting.rays,
        "seed": setting.seed,
        "albedo": setting.sky.albedo,
        "air": usual_air(setting.sky),
    }
    return tuple(CookModel(work.design, record, **how) for record in records)


def _start(work: Work) -> np.ndarray[Any, Any]:
    """The factors as the design has them, or the middle of their range where it leaves them to a material."""
    values = [work.design.value(factor.name) for factor in work.ready.factors]
    return np.array(
        [
            (factor.low + factor.high) / 2 if value is None else min(max(value, factor.low), factor.high)
            for factor, value in zip(work.ready.factors, values, strict=True)
        ]
    )


def _fitted(work: Work, measured: Measured, noise: dict[Series, float], *, bootstrap: int) -> Fitted:
    factors, prior = work.ready.factors, _prior(work, measured, noise)
    count = len(factors)
    reach = _REACH * prior.deviation[count:]
    each = np.array([noise[one] for one in measured.series])
    return fitted(
        measured,
        np.where(measured.started, measured.temperature, np.nan),
        names=measured.names,
        start=np.concatenate([_start(work), np.zeros(len(reach))]),
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
        "seed": work.setting.seed,
        "intervals": "95 % intervals from the Jacobian, with Student's t for independent readings: each series counts "
        "for its readings over their integrated autocorrelation time (Bayley and Hammersley 1946, Geyer 1992)",
    }


FIT = Kind(
    word="fit", section=FitSection, carry_out=_carry_out, faults=fit_faults, ready=fit_ready, chooses=True
)
