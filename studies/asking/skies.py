"""The [sky] table of a config, and the Sky it describes."""

import dataclasses
import datetime
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from ...model import Air, Place, Sky, clear_sky, clearness_sky, file_sky
from .fields import Clock, Months, Share
from .quantity import QuantityError, parse
from .schema import Section


def _monthly(dimension: str, value: Any) -> float | tuple[float, ...]:
    if isinstance(value, list):
        if len(value) != 12:
            raise QuantityError(f"{len(value)} values: give one, or twelve from January on")
        return tuple(parse(text, dimension) for text in value)
    return parse(value, dimension)


MonthlyTemperature = Annotated[Any, BeforeValidator(partial(_monthly, "temperature"))]
MonthlySpeed = Annotated[Any, BeforeValidator(partial(_monthly, "speed"))]


class AirSection(Section):
    """Mean daily low and high, dew point and wind: one value, or twelve from January on."""

    low: MonthlyTemperature = Field(description="mean daily low of the air")
    high: MonthlyTemperature = Field(description="mean daily high of the air")
    dew_point: MonthlyTemperature = Field(description="mean dew point")
    wind_speed: MonthlySpeed = Field(description="mean wind at the weather mast, 10 m up")


class _Window(Section):
    start: Clock = Field(description="clock time at which the food is loaded")
    stop: Clock = Field(description="clock time at which the day ends")
    albedo: Share = Field(0.2, description="share of sunlight that the ground throws back")


class ClearSection(_Window):
    """Cloudless days by the clear-sky model."""

    source: Literal["clear"]
    months: Months | None = None
    dates: list[datetime.date] | None = Field(None, description="single days, instead of months")
    air: AirSection
    turbidity: Annotated[float, Field(ge=1, le=12)] | None = Field(
        None, description="Linke turbidity; that of the place and month if left out"
    )


class ClearnessSection(_Window):
    """Days drawn from the mean clearness index of each month."""

    source: Literal["clearness"]
    months: Months
    clearness: list[float] = Field(description="mean clearness index of each of the months")
    days_per_month: Annotated[int, Field(strict=True, ge=1, le=31)] = Field(
        10, description="days drawn for each month"
    )
    air: AirSection


class FileSection(_Window):
    """Days of a weather file: TMY3 or EPW."""

    source: Literal["file"]
    path: str = Field(description="weather file, from the folder of the config")
    months: Months | None = None
    dates: list[datetime.date] | None = Field(None, description="single days, instead of months")


SkySection = Annotated[ClearSection | ClearnessSection | FileSection, Field(discriminator="source")]


def sky_of(section: ClearSection | ClearnessSection | FileSection, place: Place, folder: Path) -> Sky:
    """The days that a sound [sky] table describes; a weather file is named from `folder`.

    Raises
    ------
    DescriptionError, SkyError
        The numbers contradict each other, or the file cannot be used.
    """
    window: dict[str, Any] = {"start": section.start, "stop": section.stop, "albedo": section.albedo}
    match section:
        case ClearSection(months=months, dates=dates, turbidity=turbidity):
            days: dict[str, Any] = {"months": months, "dates": dates, "turbidity": turbidity}
            return clear_sky(place, air=air_of(section.air), **days, **window)
        case ClearnessSection(months=months, clearness=clearness, days_per_month=number):
            drawn: dict[str, Any] = {"clearness": clearness, "days_per_month": number}
            return clearness_sky(place, air=air_of(section.air), months=months, **drawn, **window)
        case FileSection(months=months, dates=dates):
            return file_sky(folder / section.path, place=place, months=months, dates=dates, **window)


def air_of(section: AirSection) -> Air:
    """The air outside that an [air] table describes."""
    return Air(**{f.name: getattr(section, f.name) for f in dataclasses.fields(Air)})
