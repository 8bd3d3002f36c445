"""The [[cook]] tables of a config: where the log of a test cook lies and what stands in its columns.

One table is one cook. Its own keys say how its files are written; a second logger with another form has a
[[cook.logger]] table with the same keys.
"""

import datetime
import re
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from ...model import CookRecord, Meal, Plane, suggestion
from .quantity import QuantityError, parse, parse_clock
from .schema import Section, section
from .units import DIMENSIONS

_DAY = 86_400.0  # s


def _column(value: Any) -> str | int:
    if isinstance(value, bool) or not isinstance(value, (str, int)) or value in ("", 0):
        raise QuantityError(f"{value!r} is no column; write its name, or its number from 1 on")
    return value


def _unit(dimension: str, text: Any) -> str:
    units = DIMENSIONS[dimension]
    if not isinstance(text, str) or units.find(text) is None:
        names = [unit.name for unit in units.units]
        raise QuantityError(f'"{text}" is no unit of {units.noun}; {suggestion(str(text), names)}')
    return text


def _light_unit(text: Any) -> str:
    if isinstance(text, str) and DIMENSIONS["voltage"].find(text) is not None:
        return text
    return _unit("irradiance", text)


def _sensitivity(text: Any) -> float | None:
    """ "12.5 uV per W/m2" as V for each W/m2."""
    if text is None:
        return None
    halves = str(text).split(" per ")
    if len(halves) != 2:
        raise QuantityError(f'"{text}": write volts for sunlight, for example "12.5 uV per W/m2"')
    share = re.match(r"[\d.]", halves[1].strip())
    value = parse(halves[0], "voltage") / parse(halves[1] if share else f"1 {halves[1]}", "irradiance")
    if not value > 0:
        raise QuantityError(f'"{text}": must be above zero')
    return value


def _offset(text: Any) -> float:
    seconds = parse(text, "time")
    if abs(seconds) > 2 * _DAY:
        raise QuantityError(f'"{text}" is more than two days; look at the date in the file instead')
    return seconds


def _seconds(text: Any) -> float:
    """A clock time as seconds since midnight."""
    if isinstance(text, datetime.time):
        return 3600.0 * text.hour + 60.0 * text.minute + text.second
    return parse_clock(text)


def _since(text: Any) -> datetime.datetime | None:
    if text is None or isinstance(text, datetime.datetime):
        return text
    try:
        return datetime.datetime.fromisoformat(str(text))
    except ValueError as error:
        raise QuantityError(f'"{text}" is no date and time; write it as "2026-03-01 09:30"') from error


def _sunlight(value: Any) -> Any:
    """ "clear sky" is short for { source = "clear sky" }."""
    return {"source": value} if isinstance(value, str) else value


def _span(value: Any) -> Any:
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise QuantityError(f'{value!r}: a beginning and an end are needed, for example ["12:30", "13:00"]')
    return tuple(value)


def _text(reader: Callable[[Any], Any], example: str) -> Any:
    """A value that a config writes as text, and what the schema for editors says of it."""
    return BeforeValidator(reader), WithJsonSchema({"type": "string", "description": f'such as "{example}"'})


_COLUMN_SCHEMA = WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "integer", "minimum": 1}]})
Column = Annotated[Any, BeforeValidator(_column), _COLUMN_SCHEMA]
TemperatureUnit = Annotated[str, BeforeValidator(partial(_unit, "temperature"))]
SpeedUnit = Annotated[str, BeforeValidator(partial(_unit, "speed"))]
TimeUnit = Annotated[str, BeforeValidator(partial(_unit, "time"))]
LightUnit = Annotated[str, BeforeValidator(_light_unit)]
Sensitivity = Annotated[float | None, *_text(_sensitivity, "12.5 uV per W/m2")]
Offset = Annotated[float, *_text(_offset, "-3 min")]
ClockSeconds = Annotated[float, *_text(_seconds, "10:05")]
Since = Annotated[datetime.datetime | None, *_text(_since, "2026-03-01 09:30")]
ClockSpan = Annotated[tuple[ClockSeconds, ClockSeconds], BeforeValidator(_span)]


class TimeSection(Section):
    """How a log tells the time."""

    column: Column = Field(description="name of the column, or its number from 1 on")
    clock_column: Column | None = Field(None, description="second column, where date and clock stand apart")
    format: str | None = Field(
        None, description='how it is written, as in "%d/%m/%Y %I:%M %p", or "excel"; ISO 8601 if left out'
    )
    day: datetime.date | None = Field(None, description="date of a log that holds clock times alone")
    since: Since = Field(None, description="instant from which a log counts")
    unit: TimeUnit | None = Field(None, description="in which it counts from `since`")
    zone: str | None = Field(None, description="IANA name or UTC+05:30; the clock of the place if left out")
    offset: Offset = Field(0.0, description="added to every time of a clock that was wrong")
    jumps: list[tuple[ClockSeconds, Offset]] = Field(
        [], description="from the reading at a clock time on, the clock is put forward by so much"
    )


class ThermometerSection(Section):
    """One thermometer."""

    column: Column = Field(description="name of the column, or its number from 1 on")
    unit: TemperatureUnit = Field(description="degC, degF or K")


class WindSection(Section):
    """Wind at the oven's height."""

    column: Column = Field(description="name of the column, or its number from 1 on")
    unit: SpeedUnit = Field(description="m/s, km/h or mph")


class DiffuseSection(Section):
    """Diffuse light on a horizontal plane."""

    column: Column = Field(description="name of the column, or its number from 1 on")
    unit: LightUnit = Field(description="W/m2, kW/m2, mV or V")
    sensitivity: Sensitivity = Field(None, description="volts for sunlight, of an instrument read in mV")


class SunlightSection(Section):
    """Sunlight: an instrument's column, or the clear sky in its place."""

    source: Literal["instrument", "clear sky"] = Field(
        "instrument", description="clear sky stands in where nobody measured, and every result says so"
    )
    column: Column | None = Field(None, description="name of the column, or its number from 1 on")
    unit: LightUnit | None = Field(None, description="W/m2, kW/m2, mV or V")
    sensitivity: Sensitivity = Field(None, description="volts for sunlight, of an instrument read in mV")
    plane: Plane = Field("level", description="what the instrument lies on or looks at")
    averaged: bool = Field(False, description="true where each reading is the mean since the one before")


class LoggerSection(Section):
    """One logger, or one handwritten form: its files and what stands in them."""

    files: list[str] = Field(
        [], description="CSV, TSV or xlsx files in the order of time, from the config's folder"
    )
    typed: str | None = Field(None, description="readings typed in here instead of a file, a row a line")
    separator: Annotated[str, Field(min_length=1, max_length=1)] | None = Field(
        None, description="between cells; found by itself if left out"
    )
    decimal: Literal[".", ","] | None = Field(None, description="decimal mark; found by itself if left out")
    header_row: Annotated[int, Field(strict=True, ge=0)] | None = Field(
        None,
        description="line with the column names, from 1 on; 0 for none; the first filled one if left out",
    )
    comment: str = Field("#", description="lines that begin so are passed over")
    encoding: str | None = Field(None, description="of the text; found by itself if left out")
    sheet: str | None = Field(None, description="of a workbook; the first if left out")
    missing: list[str] = Field([], description="texts that mean no reading, beyond the usual ones")
    time: TimeSection | None = Field(None, description="how it tells the time")
    food: ThermometerSection | None = Field(None, description="thermometer in the food or water")
    pot: ThermometerSection | None = Field(None, description="thermometer on the pot's wall")
    plate: ThermometerSection | None = Field(None, description="thermometer on the plate under the pot")
    air_inside: ThermometerSection | None = Field(None, description="thermometer in the air of the oven")
    cover: ThermometerSection | None = Field(None, description="thermometer on the cover's inner face")
    air: ThermometerSection | None = Field(None, description="thermometer in the shade outside")
    irradiance: Annotated[SunlightSection | None, BeforeValidator(_sunlight)] = Field(
        None, description='sunlight; "clear sky" where nobody measured it'
    )
    diffuse: DiffuseSection | None = Field(None, description="diffuse light on a horizontal plane")
    wind: WindSection | None = Field(None, description="wind at the oven")
    reaim_column: Column | None = Field(
        None, description="column in which any mark means that the oven was set to the sun then"
    )


CookMealSection = section(Meal, "CookMealSection", without=("kept_for",))


class CookSection(LoggerSection):
    """One test cook: its log, what was in the pot, and what was done meanwhile.

    Clock times are those of the place.
    """

    name: str = Field(min_length=1, description="by which studies ask for it")
    logger: list[LoggerSection] = Field([], description="further loggers of the same cook")
    meal: CookMealSection | None = Field(None, description="what was in the pot")  # type: ignore[valid-type]
    empty: bool = Field(False, description="true where the pot was dry, instead of a meal")
    reaimed: list[ClockSeconds] = Field([], description="when the oven was set to the sun, both ways")
    turned: list[ClockSeconds] = Field([], description="when it was turned to the sun's azimuth alone")
    tilted: list[ClockSeconds] = Field([], description="when it was tilted to the sun's height alone")
    shaded: list[ClockSpan] = Field([], description="from when to when no sun was let in")
    leave_out: list[Literal["spikes", "stuck"]] = Field(
        ["spikes"], description="checks whose readings are left out of what studies use"
    )


CookNames = Annotated[
    list[str] | None,
    Field(min_length=1, description="cooks by their names; all of the config if left out"),
]
"""The key `cooks` of a study: which of the config's cooks it is about; its default is None."""


def cook_faults(names: Sequence[str] | None, known: Sequence[CookRecord] | None) -> Iterator[str]:
    """Sentences, each beginning with the key `cooks`, on names that no cook has; none where cooks are unsound."""
    if known is None:
        return
    there = [record.name for record in known]
    if not there:
        yield "cooks: there is none; write a [[cook]] table for each log"
        return
    for name in names or ():
        if name not in there:
            yield f'cooks: "{name}" is no cook; {suggestion(name, there)}'
    if names and len(set(names)) < len(names):
        yield "cooks: a name stands twice; write each once"


def cooks_named(names: Sequence[str] | None, known: Sequence[CookRecord] | None) -> tuple[CookRecord, ...]:
    """The cooks of these names in that order; all where none is named, none where cooks are unsound."""
    if known is None:
        return ()
    by_name = {record.name: record for record in known}
    return tuple(by_name.values()) if names is None else tuple(by_name[name] for name in names)
