"""The table of a protocol study in a config: instruments with their errors, ways of testing, what is wanted."""

from collections.abc import Iterator
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from ...model import Quantity
from ..asking.fields import Base, Share, amounts
from ..asking.quantity import show
from ..asking.schema import Section, annotation_of
from ..judging.measured import FOOD
from .fit_table import RATIOS, BySensor
from .kind import Given

Span = annotation_of(
    Quantity(dimension="time", low=60.0, high=43_200.0, meaning="length of a part of a cook")
)
Shade = annotation_of(Quantity(dimension="time", low=0.0, high=21_600.0, meaning="length of a shaded part"))
Pace = annotation_of(Quantity(dimension="time", low=1.0, high=600.0, meaning="between readings"))
Memory = annotation_of(Quantity(dimension="time", low=0.0, high=7200.0, meaning="how long errors stay alike"))
EmptySpan = annotation_of(
    Quantity(dimension="time", low=600.0, high=43_200.0, meaning="length of an empty cook", optional=True)
)


def _by_ratio(noun: str) -> BeforeValidator:
    """Shares by ratio of an oven as built."""
    hint = f'write {noun} by ratio, for example {{ loss_ratio = "5 %" }}'
    of = "ratio of an oven as built"
    return BeforeValidator(partial(amounts, of=of, known=RATIOS, dimension="share", most=2.0, hint=hint))


Wanted = Annotated[dict[str, float], _by_ratio("what is wanted")]
Known = Annotated[dict[str, float], _by_ratio("what is known")]


class ProtocolSection(Section):
    """How many test cooks, and of which kind, would tell the ratios of an oven as built well enough."""

    kind: Literal["protocol"]
    base: Base = Field("chosen", description="the oven to be tested, as it is thought to be")
    sensors: BySensor = Field(
        min_length=1,
        description="thermometers at hand, in the order in which they would be used: deviation of a reading",
    )
    offset: BySensor = Field(
        default_factory=dict, description="by thermometer: deviation of what it may be off by in all readings"
    )
    irradiance_error: Share = Field(
        0.05, description="standard deviation of what the instrument for sunlight may be off by"
    )
    heat_up: Span = Field(7200.0, description="in the sun, from the start of the sky's day")  # type: ignore[valid-type]
    shades: Annotated[list[Shade], Field(min_length=1)] = Field(  # type: ignore[valid-type]
        [900.0, 1800.0, 3600.0], description="shaded parts after it, to be compared with none"
    )
    empty: EmptySpan = Field(  # type: ignore[valid-type]
        None, description="length of one more cook without load; none is considered if left out"
    )
    every: Pace = Field(60.0, description="between readings")  # type: ignore[valid-type]
    alike_for: Memory = Field(  # type: ignore[valid-type]
        300.0, description="time in which errors of readings fade: gusts, stirring, what the model leaves out"
    )
    between_cooks: Share = Field(
        0.03, description="standard deviation of each ratio from cook to cook: dust, lid, wind, aiming"
    )
    wanted: Wanted = Field(
        default_factory=lambda: {"loss_ratio": 0.05},
        min_length=1,
        description="by ratio: how far the upper end of its 95 % interval may be above the estimate",
    )
    prior: Known = Field(
        default_factory=dict, description="by ratio: standard deviation known before any cook"
    )
    most_cooks: Annotated[int, Field(strict=True, ge=1, le=100)] = Field(
        8, description="cooks of one kind that somebody would do at most"
    )
    refits: Annotated[int, Field(strict=True, ge=0, le=2000)] = Field(
        100, description="fits to made-up readings, as a check of what is foretold"
    )


def protocol_faults(section: ProtocolSection, given: Given) -> Iterator[str]:
    """Sentences, each beginning with the key, on what is wrong beyond single keys."""
    for name in section.offset:
        if name not in section.sensors:
            yield f'offset: "{name}" is none of the thermometers at hand: {", ".join(section.sensors)}'
    times: Any = section  # their types are made of descriptions, which no checker follows
    if times.empty is not None and set(section.sensors) == {FOOD}:
        yield "empty: a cook without load needs a thermometer elsewhere than in the food, such as on the pot"
    if times.every > times.heat_up / 10:
        yield f"every = {show(times.every, 'time')}: a heat-up of {show(times.heat_up, 'time')} needs ten or more"
    if given.sky is None:
        return
    day, longest = given.sky.step * given.sky.steps, times.heat_up + max(times.shades)
    if longest > day:
        yield (
            f"heat_up, shades: {show(longest, 'time')} together; the sky's day has {show(day, 'time')}: shorten them, "
            "or begin the day earlier"
        )
    if times.empty is not None and times.empty > day:
        yield f"empty = {show(times.empty, 'time')}: the sky's day has {show(day, 'time')}"
