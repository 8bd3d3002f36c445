"""Cooks of a study made into one row of readings, and fitted to: with what, how sure, from where."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ...model import CookModel, CookRecord, DescriptionError, RecordError
from ..judging.measured import FOOD, Measured, Series
from ..methods.fitting import fitted
from ..methods.found import Fitted
from ..methods.least_squares import Prior
from .cook import cook_model
from .fit_table import NOISE
from .kind import StudyError, Work

Floats = NDArray[np.float64]

UNTOLD = (
    1.0  # of a logarithm or of a range: standard deviation of a factor of which nothing is known beforehand
)
_REACH = 10.0  # standard deviations that a shift may be at most


def measured_in(work: Work, records: Sequence[CookRecord], names: tuple[str, ...]) -> Measured:
    """All readings that are fitted to, with what else than the factors may be off."""
    models = models_of(work, records)
    series = Measured(models, names).series
    return Measured(
        models,
        names,
        offsets=tuple(one for one in series if one.sensor in work.section.offset),
        starts=tuple(one.cook for one in series if one.sensor == FOOD),
    )


def noise_of(work: Work, measured: Measured, first: Fitted | None = None) -> dict[Series, float]:
    """Deviation of a reading of each series: as stated, else as a first fit found it, else as usual. [K]"""
    stated = work.section.noise
    found = [NOISE] * len(measured.series) if first is None else [one.deviation for one in first.series]
    return {
        one: stated.get(one.sensor, deviation) for one, deviation in zip(measured.series, found, strict=True)
    }


def prior_of(work: Work, measured: Measured, noise: dict[Series, float]) -> Prior:
    """What is known before the cooks: of factors, of offsets of thermometers, of the food's first reading.

    A factor of which nothing is said is somewhere near its description, so that one of which no cook tells anything
    stays there.
    """
    factors, start = work.ready.factors, start_of(work)
    offsets = [work.section.offset[one.sensor] for one in measured.offsets]
    starts = [noise[Series(cook, FOOD)] for cook in measured.starts]
    middle, deviation = work.ready.prior([*offsets, *starts])
    untold = np.flatnonzero(np.isinf(deviation[: len(factors)]))
    width = [start[k] if factors[k].logs else factors[k].high - factors[k].low for k in untold]
    middle[untold], deviation[untold] = start[untold], UNTOLD * np.array(width)
    return Prior(middle, deviation)


def start_of(work: Work) -> Floats:
    """The factors as the design has them, or the middle of their range where it leaves them to a material."""
    values = [work.design.value(factor.name) for factor in work.ready.factors]
    return np.array(
        [
            (factor.low + factor.high) / 2 if value is None else min(max(value, factor.low), factor.high)
            for factor, value in zip(work.ready.factors, values, strict=True)
        ]
    )


def fitted_to(
    work: Work,
    measured: Measured,
    noise: dict[Series, float],
    *,
    bootstrap: int = 0,
    start: Floats | None = None,
    prior: Prior | None = None,
) -> Fitted:
    """All that is asked of a fit, of these cooks.

    Parameters
    ----------
    work : Work
    measured : Measured
    noise : dict
        Deviation of a reading of each series. [K]
    bootstrap : int
        Refits to resampled residuals.
    start : float64[parameter], optional
        As the design has it if left out.
    prior : Prior, optional
        That of the study if left out.

    Raises
    ------
    FitError
        Fewer readings than parameters.
    """
    factors, prior = work.ready.factors, prior or prior_of(work, measured, noise)
    count = len(factors)
    reach = _REACH * prior.deviation[count:]
    each = np.array([noise[one] for one in measured.series])
    return fitted(
        measured,
        np.where(measured.started, measured.temperature, np.nan),
        names=measured.names,
        start=np.concatenate([start_of(work), np.zeros(len(reach))]) if start is None else start,
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


def models_of(work: Work, records: Sequence[CookRecord]) -> tuple[CookModel, ...]:
    """The model of each cook; its light is traced here."""
    try:
        return tuple(cook_model(work, record) for record in records)
    except (DescriptionError, RecordError) as error:
        raise StudyError([f"cooks: {fault}" for fault in error.faults]) from error
