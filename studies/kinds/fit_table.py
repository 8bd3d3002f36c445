"""The table of a fit in a config: which cooks, which factors, what is known beforehand; and what is wrong with it."""

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Annotated, Any, Literal, NamedTuple

import numpy as np
from pydantic import BeforeValidator, Field

from ...model import SENSORS, CookRecord, Design, Quantity, Spec, suggestion
from ..asking.cook_tables import CookNames, cook_faults, cooks_named
from ..asking.fields import Base, amounts
from ..asking.quantity import QuantityError, parse, show
from ..asking.schema import Section, allowed, read_quantity
from ..methods.least_squares import Prior
from .kind import Given, StudyError

RATIOS = ("light_ratio", "loss_ratio", "coupling_ratio")
NOISE = 0.5  # K; a thermocouple on a cheap logger, reading to reading; common practice, no source


BySensor = Annotated[
    dict[str, float],
    BeforeValidator(
        partial(
            amounts,
            of="place of a thermometer",
            known=SENSORS,
            dimension="temperature_difference",
            most=50.0,
            hint='write it by thermometer, for example { food = "0.5 K" }',
        )
    ),
]
"""Temperature differences by thermometer. [K]"""


class FitSection(Section):
    """An oven fitted to test cooks: how it differs from its description, and how surely."""

    kind: Literal["fit"]
    base: Base = Field("config", description="the design whose factors are fitted")
    cooks: CookNames = None
    hold_out: list[str] = Field(
        default_factory=list, description="cooks that are not fitted to, but predicted and compared"
    )
    factors: list[str] | dict[str, Any] = Field(
        list(RATIOS),
        min_length=1,
        description="what is fitted: names, or a table of names with [low, high] for each",
    )
    prior: dict[str, Any] = Field(
        default_factory=dict,
        description="by factor: [middle, standard deviation], known before the cooks; near its description if left out",
    )
    noise: BySensor = Field(
        default_factory=dict, description="by thermometer: standard deviation of a reading; 0.5 K if left out"
    )
    offset: BySensor = Field(
        default_factory=dict,
        description="by thermometer: standard deviation of what it may be off by in all readings of a cook",
    )
    robust: bool = Field(False, strict=True, description="readings that are far off count less")
    other_seeds: Annotated[int, Field(strict=True, ge=0, le=16)] = Field(
        3, description="fits with other rays, to tell what the ray tracer's own noise does"
    )
    bootstrap: Annotated[int, Field(strict=True, ge=0, le=2000)] = Field(
        200, description="fits to resampled residuals, as a check of the intervals"
    )


class Factor(NamedTuple):
    """One factor that is fitted."""

    name: str
    spec: Quantity
    low: float
    high: float
    logs: bool
    prior: tuple[float, float]  # middle and standard deviation, infinite where nothing is known


class FitReady(NamedTuple):
    """What a fit needs beyond numbers."""

    factors: tuple[Factor, ...]
    used: tuple[CookRecord, ...]
    held: tuple[CookRecord, ...]

    def prior(self, shifts: Sequence[float]) -> Prior:
        """Of the factors and, after them, of shifts round zero with these deviations."""
        known = [factor.prior for factor in self.factors] + [(0.0, deviation) for deviation in shifts]
        middle, deviation = np.array(known, np.float64).T
        return Prior(middle, deviation)


def fit_faults(section: FitSection, given: Given) -> Iterator[str]:
    """Sentences, each beginning with the key, on what is wrong beyond single keys."""
    yield from cook_faults(section.cooks, given.cooks)
    yield from _held_faults(section, given)
    if given.design is not None:
        yield from _read_factors(section, given.design)[1]


def _held_faults(section: FitSection, given: Given) -> Iterator[str]:
    if given.cooks is None:
        return
    there = [record.name for record in given.cooks]
    for name in section.hold_out:
        if name not in there:
            yield f'hold_out: "{name}" is no cook; {suggestion(name, there)}'
        elif name in (section.cooks or ()):
            yield f'hold_out: "{name}" is fitted to as well; take it out of `cooks` or of `hold_out`'
    if there and set(section.cooks or there) <= set(section.hold_out):
        yield "hold_out: no cook is left to fit to"


def _used(section: FitSection, known: tuple[CookRecord, ...] | None) -> tuple[CookRecord, ...]:
    """Cooks that are fitted to; none where they are unsound."""
    return tuple(
        record for record in cooks_named(section.cooks, known) if record.name not in section.hold_out
    )


def fit_ready(section: FitSection, given: Given) -> FitReady:
    """The factors and the cooks.

    Raises
    ------
    StudyError
        Every fault of them.
    """
    assert given.design is not None
    factors, faults = _read_factors(section, given.design)
    if faults:
        raise StudyError(faults)
    held = cooks_named(section.hold_out, given.cooks) if section.hold_out else ()
    return FitReady(tuple(factors), _used(section, given.cooks), held)


def _read_factors(section: FitSection, design: Design) -> tuple[list[Factor], list[str]]:
    """The factors, and a sentence on each one that cannot be fitted."""
    asked: Mapping[str, Any] = (
        section.factors if isinstance(section.factors, dict) else dict.fromkeys(section.factors)
    )
    found, faults = [], []
    for name, ends in asked.items():
        try:
            spec = _fittable(name, design.factors)
            low, high = _ends(ends, spec)
            found.append(_factor(name, spec, low, high, section.prior.get(name)))
        except QuantityError as error:
            faults.append(f"factors.{name}: {error}")
    for name in section.prior:
        if name not in asked:
            faults.append(f"prior.{name}: is not fitted; what is fitted is {', '.join(asked)}")
    return found, faults


def _fittable(name: str, factors: Mapping[str, Spec]) -> Quantity:
    spec = factors.get(name)
    if spec is None:
        raise QuantityError(f"no field of this design; {suggestion(name, factors)}")
    if not isinstance(spec, Quantity):
        raise QuantityError("is no number that can be a little more or less; leave it out")
    return spec


def _ends(value: Any, spec: Quantity) -> tuple[float, float]:
    if value is None:
        return spec.low, spec.high
    if not isinstance(value, list) or len(value) != 2:
        raise QuantityError('two ends are needed, for example ["0.5", "2"]')
    low, high = (read_quantity(spec, end) for end in value)
    if low is None or high is None or not low < high:
        raise QuantityError(f"the first end must be below the second, got {value[0]} and {value[1]}")
    return low, high


def _factor(name: str, spec: Quantity, low: float, high: float, prior: Any) -> Factor:
    logs = low > 0 and spec.dimension != "temperature"
    if prior is None:
        return Factor(name, spec, low, high, logs, (low if logs else 0.0, math.inf))
    if not isinstance(prior, list) or len(prior) != 2:
        raise QuantityError('prior: a middle and a standard deviation are needed, for example ["1", "0.2"]')
    dimension = "temperature_difference" if spec.dimension == "temperature" else spec.dimension
    middle, deviation = parse(prior[0], spec.dimension), parse(prior[1], dimension)
    if not low <= middle <= high:
        raise QuantityError(f"prior: {prior[0]} is outside what is fitted, {_range(low, high, spec)}")
    if not deviation > 0:
        raise QuantityError(f"prior: a standard deviation of {prior[1]} must be above zero")
    return Factor(name, spec, low, high, logs, (middle, deviation))


def _range(low: float, high: float, spec: Quantity) -> str:
    if (low, high) == (spec.low, spec.high):
        return allowed(spec)
    return f"{show(low, spec.dimension)} to {show(high, spec.dimension)}"
