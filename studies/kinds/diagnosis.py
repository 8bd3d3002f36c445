"""Which single change would explain that an oven cooks otherwise than its model says, and what would tell the rest."""

from collections.abc import Iterator
from functools import partial
from typing import Annotated, Literal

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pydantic import Field

from ...model import CookModel, CookRecord, Design, Quantity, suggestion
from ..asking.cook_tables import CookNames, cook_faults, cooks_named
from ..asking.fields import Base, Share
from ..asking.schema import Section
from ..judging.measured import Measured
from ..methods.explanations import Explanation, Readings, compared
from ..methods.independence import FEWEST
from .causes import CAUSES, has_cause, plausible_values
from .cook import cook_model
from .diagnosis_result import Diagnosed, diagnosis_dataset
from .fit_table import NOISE, BySensor
from .kind import Given, Kind, StudyError, Work
from .telling_tests import RAYS, separations

Floats = NDArray[np.float64]
Ratio = Literal["light_ratio", "loss_ratio", "coupling_ratio"]

OFFSET = 0.5  # K; a thermocouple of an ordinary class, where it sits; common practice, no source
MODEL_ERROR: dict[Ratio, float] = {"light_ratio": 0.03, "loss_ratio": 0.05, "coupling_ratio": 0.10}
"""How far the model may be off without anything being wrong: a sunlight meter reads 2 to 3 % off, films of air are
known to 5 to 10 % (common practice, no source)."""


class DiagnosisSection(Section):
    """Which single change would explain that an oven cooks otherwise than its model says."""

    kind: Literal["diagnosis"]
    base: Base = Field("config", description="the oven as it should be")
    cooks: CookNames = None
    causes: Annotated[list[str], Field(min_length=2)] | None = Field(
        None, description=f"to choose among: {', '.join(CAUSES)}; all that the oven can have if left out"
    )
    noise: BySensor = Field(
        default_factory=dict, description="by thermometer: standard deviation of a reading; 0.5 K if left out"
    )
    offset: BySensor = Field(
        default_factory=dict,
        description="by thermometer: standard deviation of what it is off by all along; 0.5 K if left out",
    )
    model_error: dict[Ratio, Share] = Field(
        default_factory=lambda: dict(MODEL_ERROR),
        description="standard deviations of what model and sunlight meter are off by themselves",
    )


def _faults(section: DiagnosisSection, given: Given) -> Iterator[str]:
    yield from cook_faults(section.cooks, given.cooks)
    for name in section.causes or ():
        if name not in CAUSES:
            yield f'causes: "{name}" is none; {suggestion(name, CAUSES)}'
        elif given.design is not None and not has_cause(name, given.design):
            yield f'causes: "{name}" changes {CAUSES[name].factor}, which this design does not have; leave it out'


def _ready(section: DiagnosisSection, given: Given) -> tuple[CookRecord, ...]:
    return cooks_named(section.cooks, given.cooks)


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    names = work.section.causes or [name for name in CAUSES if has_cause(name, work.design)]
    models = [cook_model(work, record, least_rays=RAYS) for record in work.ready]
    total = len(names) + 1
    work.progress(0, total, 0)
    measured = Measured(models, ())
    unchanged, readings = measured(np.empty((1, 0)))[0], _readings(work, models, measured)
    count = int((np.isfinite(unchanged) & np.isfinite(readings.observed)).sum())
    if count < FEWEST:
        raise StudyError(
            [
                f"cooks: {count} readings of thermometers can be compared, at least {FEWEST:.0f} are needed: look at "
                "the gaps of light and air in the logs"
            ]
        )
    comparison = compared([_explanation(name, models, work.design) for name in names], unchanged, readings)
    work.progress(len(names), total, 0)
    diagnosed = Diagnosed(work.design, tuple(models), measured, comparison)
    apart = separations(work, comparison)
    work.progress(total, total, 0)
    dataset = diagnosis_dataset(diagnosed, apart)
    return dataset.assign_attrs(study="diagnosis"), work.design


def _explanation(name: str, models: list[CookModel], design: Design) -> Explanation:
    """A cause over its plausible range; a meal's mass is each cook's own times as much."""
    return Explanation(name, partial(_said, models, name, design), plausible_values(name, design))


def _said(models: list[CookModel], name: str, design: Design, values: Floats) -> Floats:
    """What the cooks would have read with a factor at these values, float64[row, reading]."""
    factor = CAUSES[name].factor
    said = [model.temperatures({factor: _own_values(model, factor, design, values)}) for model in models]
    return np.concatenate(
        [rows[sensor] for model, rows in zip(models, said, strict=True) for sensor in model.sensors], axis=1
    )


def _own_values(model: CookModel, factor: str, design: Design, values: Floats) -> Floats:
    """The same change in each cook: where a cook has its own value of a factor, by the same ratio."""
    own, described = model.design.value(factor), design.value(factor)
    if own is None or described is None or own == described or described == 0.0:
        return values
    spec = model.design.factors[factor]
    assert isinstance(spec, Quantity)
    return np.asarray(np.clip(values * (own / described), spec.low, spec.high))


def _shared(work: Work, models: list[CookModel], measured: Measured) -> Floats:
    """What one standard deviation of each error that readings share does to them. float64[error, reading] [K]"""
    section = work.section
    nothing = measured(np.empty((1, 0)))[0]
    rows = []
    for name, share in section.model_error.items():
        own = float(work.design.value(name))
        off = Measured(models, (name,))(np.array([[own * (1.0 + share)]]))[0]
        rows.append(off - nothing)
    for number, one in enumerate(measured.series):
        rows.append(np.where(measured.numbers == number, section.offset.get(one.sensor, OFFSET), 0.0))
    return np.array(rows)


def _noise_of_rays(work: Work, measured: Measured) -> Floats:
    """How far other rays would move each series, which no cause should explain. float64[series] [K]"""
    others = [cook_model(work, record, least_rays=RAYS, again=1) for record in work.ready]
    moved = (Measured(others, ())(np.empty((1, 0))) - measured(np.empty((1, 0))))[0]
    known = np.isfinite(moved)
    of_series = [moved[known & (measured.numbers == number)] for number in range(len(measured.series))]
    return np.array([float(np.sqrt((one**2).mean())) if one.size else 0.0 for one in of_series])


def _readings(work: Work, models: list[CookModel], measured: Measured) -> Readings:
    stated = np.array([work.section.noise.get(one.sensor, NOISE) for one in measured.series])
    return Readings(
        observed=np.where(measured.started, measured.temperature, np.nan),
        series=measured.numbers,
        time=measured.time,
        noise=np.hypot(stated, _noise_of_rays(work, measured)),
        shared=_shared(work, models, measured),
    )


DIAGNOSIS = Kind(
    word="diagnosis", section=DiagnosisSection, carry_out=_carry_out, faults=_faults, ready=_ready
)
