"""The tables of a config file: what each key may hold.

Bounds, defaults and meanings of everything built come from the model's descriptions; the table of a study stands
with its kind, in `kinds`.
"""

from typing import Annotated, Literal

from pydantic import Field

from ...model import (
    AsBuilt,
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
    Stand,
    Surroundings,
    Workshop,
)
from ..kinds import StudySection
from .cook_tables import CookSection
from .price_list import PricesSection
from .quantity import System
from .schema import Section, section
from .skies import SkySection

FunnelSection = section(Funnel, "FunnelSection")
CoverSection = section(Cover, "CoverSection")
JacketSection = section(Jacket, "JacketSection")
PotSection = section(Pot, "PotSection")
BoxSection = section(Box, "BoxSection")
StandSection = section(Stand, "StandSection")
SurroundingsSection = section(Surroundings, "SurroundingsSection")
AsBuiltSection = section(
    AsBuilt,
    "AsBuiltSection",
    file=(
        str | None,
        Field(
            None, description="result of a fit, from the config's folder: every factor as its cooks found it"
        ),
    ),
)
WorkshopSection = section(Workshop, "WorkshopSection")
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


class ConfigSection(Section):
    """A whole config file."""

    title: str = Field(min_length=1, description="heads every page of the run")
    seed: Annotated[int, Field(strict=True, ge=1)] = Field(
        1, description="of rays, samples and searches: same config and seed, same numbers"
    )
    rays: Annotated[int, Field(strict=True, ge=4, le=4096)] = Field(
        32, description="rays a minute of beam light"
    )
    shown_in: System = Field(
        "metric", description="units of words, figures and papers; stored numbers are always SI"
    )
    materials: str | None = Field(None, description="TOML file of own materials, from the config's folder")
    foods: str | None = Field(None, description="TOML file of own foods, from the config's folder")
    place: PlaceSection  # type: ignore[valid-type]
    sky: SkySection
    oven: OvenSection
    aiming: AimingSection
    meal: MealSection  # type: ignore[valid-type]
    surroundings: SurroundingsSection = Field(default_factory=SurroundingsSection)  # type: ignore[valid-type]
    as_built: AsBuiltSection = Field(default_factory=AsBuiltSection)  # type: ignore[valid-type]
    prices: PricesSection | None = None
    workshop: WorkshopSection = Field(default_factory=WorkshopSection)  # type: ignore[valid-type]
    cook: list[CookSection] = Field([], description="test cooks of this oven, by their logs")
    study: Annotated[list[StudySection], Field(min_length=1)]
