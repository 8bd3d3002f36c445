"""The tables of a config file: what each key may hold.

Bounds, defaults and meanings of everything built come from the model's descriptions.
"""

import datetime
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from ..model import (
    INTERVALS,
    LIMITS,
    MERITS,
    Box,
    ByHand,
    Cell,
    Cover,
    Drive,
    DriveTrain,
    Fixed,
    Funnel,
    Jacket,
    Meal,
    Motor,
    Place,
    Pot,
    Price,
    Quantity,
    Sight,
    Stand,
    Surroundings,
    specs,
    suggestion,
)
from .quantity import QuantityError, parse, parse_clock
from .schema import Section, annotation_of, section


def _clock(text: Any) -> datetime.time:
    if isinstance(text, datetime.time):
        return text
    minutes = round(parse_clock(text) / 60)
    return datetime.time(minutes // 60 % 24, minutes % 60)


def _monthly(dimension: str, value: Any) -> float | tuple[float, ...]:
    if isinstance(value, list):
        if len(value) != 12:
            raise QuantityError(f"{len(value)} values: give one, or twelve from January on")
        return tuple(parse(text, dimension) for text in value)
    return parse(value, dimension)


Clock = Annotated[datetime.time, BeforeValidator(_clock)]
MonthlyTemperature = Annotated[Any, BeforeValidator(partial(_monthly, "temperature"))]
MonthlySpeed = Annotated[Any, BeforeValidator(partial(_monthly, "speed"))]
Months = Annotated[list[Annotated[int, Field(strict=True, ge=1, le=12)]], Field(min_length=1)]
Share = Annotated[float, BeforeValidator(lambda text: parse(text, "share")), Field(ge=0, le=1)]


def _price(text: Any) -> Price:
    try:
        return Price.read(text)
    except ValueError as error:
        raise QuantityError(str(error)) from error


class AirSection(Section):
    """Mean daily low and high, dew point and wind: one value, or twelve from January on."""

    low: MonthlyTemperature
    high: MonthlyTemperature
    dew_point: MonthlyTemperature
    wind_speed: MonthlySpeed


class _Window(Section):
    start: Clock = Field(description="clock time at which the food is loaded")
    stop: Clock = Field(description="clock time at which the day ends")
    albedo: Share = 0.2


class ClearSection(_Window):
    """Cloudless days by the clear-sky model."""

    source: Literal["clear"]
    months: Months | None = None
    dates: list[datetime.date] | None = None
    air: AirSection
    turbidity: Annotated[float, Field(ge=1, le=12)] | None = None


class ClearnessSection(_Window):
    """Days drawn from the mean clearness index of each month."""

    source: Literal["clearness"]
    months: Months
    clearness: list[float]
    days_per_month: Annotated[int, Field(strict=True, ge=1, le=31)] = 10
    air: AirSection


class FileSection(_Window):
    """Days of a weather file: TMY3 or EPW."""

    source: Literal["file"]
    path: str = Field(description="weather file, from the folder of the config")
    months: Months | None = None
    dates: list[datetime.date] | None = None


SkySection = Annotated[ClearSection | ClearnessSection | FileSection, Field(discriminator="source")]


def _vary(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise QuantityError('name at least one factor, for example facet_angle = ["30 deg", "45 deg"]')
    return value


Varies = Annotated[dict[str, Any], BeforeValidator(_vary)]
Base = Literal["config", "chosen"]


def _merit_names(known: dict[str, Any], names: Any) -> Any:
    for name in names if isinstance(names, list) else [names]:
        if name not in known:
            raise QuantityError(
                f'"{name}" is no {"limit" if known is LIMITS else "merit"}; {suggestion(str(name), known)}'
            )
    return names


Merits = Annotated[list[str], BeforeValidator(partial(_merit_names, MERITS))]
Limits = Annotated[list[str], BeforeValidator(partial(_merit_names, LIMITS))]


class DaySection(Section):
    """One design on one day, minute by minute."""

    kind: Literal["day"]
    base: Base = "chosen"
    day: Annotated[int, Field(strict=True, ge=1)] | None = Field(
        None, description="which of the days, from 1"
    )


class SearchSection(Section):
    """The best designs for one to three goals."""

    kind: Literal["search"]
    vary: Varies
    goals: Annotated[Merits, Field(min_length=1, max_length=3)]
    limits: Limits = Field(default_factory=list)
    trials: Annotated[int, Field(strict=True, ge=8)] = 400
    population: Annotated[int, Field(strict=True, ge=4)] = 40
    pick: str = Field("knee", description='"knee", or the goal whose best design is chosen')


class SensitivitySection(Section):
    """Sobol indices: which factors matter, alone and together."""

    kind: Literal["sensitivity"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1)]
    base_samples: Annotated[int, Field(strict=True, ge=16)] = 256
    second_order: bool = False


class ScreeningSection(Section):
    """Morris screening: which factors may be left alone."""

    kind: Literal["screening"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1)]
    trajectories: Annotated[int, Field(strict=True, ge=4)] = 20
    levels: Annotated[int, Field(strict=True, ge=4, multiple_of=2)] = 4


PostHeight = annotation_of(specs(Sight)["post_height"])
Shadow = annotation_of(
    Quantity(dimension="length", low=1e-4, high=0.5, meaning="shadow that counts as centred")
)
Span = annotation_of(Quantity(dimension="time", low=60.0, high=86_400.0, meaning="whole minutes"))


class AimingSectionOfStudy(Section):
    """How the oven is kept on the sun: what it takes, what it costs in light, what else could be done."""

    kind: Literal["aiming"]
    base: Base = "chosen"
    post_height: PostHeight = Field(0.10, description="tip of the sight's post above its plate")  # type: ignore[valid-type]
    centred_within: Shadow = Field(3e-3, description="shadow that still counts as centred")  # type: ignore[valid-type]
    cloud: Span = Field(1800.0, description="length of a cloud for a drive to ride out")  # type: ignore[valid-type]
    intervals: Annotated[list[Span], Field(min_length=2)] = Field(  # type: ignore[valid-type]
        list(INTERVALS), description="between settings by hand, to compare"
    )


StudySection = Annotated[
    DaySection | SearchSection | SensitivitySection | ScreeningSection | AimingSectionOfStudy,
    Field(discriminator="kind"),
]


FunnelSection = section(Funnel, "FunnelSection")
CoverSection = section(Cover, "CoverSection")
JacketSection = section(Jacket, "JacketSection")
PotSection = section(Pot, "PotSection")
BoxSection = section(Box, "BoxSection")
StandSection = section(Stand, "StandSection")
SurroundingsSection = section(Surroundings, "SurroundingsSection")
PlaceSection = section(Place, "PlaceSection")
MealSection = section(Meal, "MealSection")
FixedSection = section(Fixed, "FixedSection", how=(Literal["fixed"], ...))
ByHandSection = section(ByHand, "ByHandSection", how=(Literal["by hand"], ...))
TrainSection = section(DriveTrain, "TrainSection", without=("base_radius",))
CellSection = section(Cell, "CellSection")
MotorSection = section(Motor, "MotorSection")
DriveSection = section(
    Drive,
    "DriveSection",
    optional=("start_share", "stop_share", "speed"),
    how=(Literal["drive"], ...),
    train=(TrainSection | None, None),
    cell=(CellSection | None, None),
    motor=(MotorSection | None, None),
)


class OvenSection(Section):
    """The oven by its parts."""

    funnel: FunnelSection  # type: ignore[valid-type]
    cover: CoverSection  # type: ignore[valid-type]
    jacket: JacketSection  # type: ignore[valid-type]
    pot: PotSection  # type: ignore[valid-type]
    box: BoxSection = Field(default_factory=BoxSection)  # type: ignore[valid-type]
    stand: StandSection = Field(default_factory=StandSection)  # type: ignore[valid-type]


AimingSection = Annotated[
    FixedSection | ByHandSection | DriveSection, Field(discriminator="how")  # type: ignore[valid-type]
]


class PricesSection(Section):
    """What material costs here: name in the catalogue -> "12 per kg", "30 per m2" or "9 each"."""

    currency: str
    materials: dict[str, Annotated[Any, BeforeValidator(_price)]]


class ConfigSection(Section):
    """A whole config file."""

    title: str = Field(min_length=1)
    seed: Annotated[int, Field(strict=True, ge=1)] = 1
    rays: Annotated[int, Field(strict=True, ge=4, le=4096)] = Field(
        32, description="rays a minute of beam light"
    )
    materials: str | None = Field(None, description="TOML file of own materials, from the config's folder")
    foods: str | None = Field(None, description="TOML file of own foods, from the config's folder")
    place: PlaceSection  # type: ignore[valid-type]
    sky: SkySection
    oven: OvenSection
    aiming: AimingSection
    meal: MealSection  # type: ignore[valid-type]
    surroundings: SurroundingsSection = Field(default_factory=SurroundingsSection)  # type: ignore[valid-type]
    prices: PricesSection | None = None
    study: Annotated[list[StudySection], Field(min_length=1)]
