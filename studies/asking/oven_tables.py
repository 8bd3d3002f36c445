"""The tables of a config that say what is built and what it stands under, made into what they describe.

Each is made of its own table if that is sound by itself, so that the faults of one do not hide those of another.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import BaseModel, RootModel, ValidationError

from ...model import (
    AsBuilt,
    Box,
    Cover,
    DescriptionError,
    Design,
    DriveTrain,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Place,
    Pot,
    Sky,
    SkyError,
    Stand,
    Surroundings,
)
from .aiming_parts import Rigged, rigged
from .schema import made
from .sections import (
    AimingSection,
    AsBuiltSection,
    BoxSection,
    CoverSection,
    FunnelSection,
    JacketSection,
    MealSection,
    PotSection,
    StandSection,
    SurroundingsSection,
)
from .skies import SkySection, sky_of

OVEN_PARTS: dict[str, tuple[type, type[BaseModel]]] = {
    "funnel": (Funnel, FunnelSection),
    "cover": (Cover, CoverSection),
    "jacket": (Jacket, JacketSection),
    "pot": (Pot, PotSection),
    "box": (Box, BoxSection),
    "stand": (Stand, StandSection),
}
RootSky = RootModel[SkySection]
RootAiming = RootModel[AimingSection]


def table_of(raw: dict[str, Any], names: dict[str, Any], path: str, section: type[BaseModel]) -> Any:
    """One table of the file by itself; None if it is missing or unsound, which is reported elsewhere."""
    table: Any = raw
    for key in path.split("."):
        table = table.get(key, {}) if isinstance(table, dict) else {}
    try:
        return section.model_validate(table, context={"catalogue": names})
    except ValidationError:
        return None


def made_or_told(described: type, values: Any, path: str, faults: list[str]) -> Any:
    """The described thing, or None with its faults told; None also where there are no values."""
    if values is None:
        return None
    try:
        return made(described, values)
    except DescriptionError as error:
        faults.extend(f"{path}{fault}" for fault in error.faults)
        return None


def design_of(
    part: Callable[[str, type[BaseModel]], Any], faults: list[str]
) -> tuple[Design | None, DriveTrain | None]:
    """The design, and the wheel and motor of its drive where they are given."""
    oven = {
        name: made_or_told(described, part(f"oven.{name}", section), "oven.", faults)
        for name, (described, section) in OVEN_PARTS.items()
    }
    aimed = _rigged(part("aiming", RootAiming), oven["stand"], faults)
    meal = made_or_told(Meal, part("meal", MealSection), "", faults)
    surroundings = made_or_told(Surroundings, part("surroundings", SurroundingsSection), "", faults)
    as_built = made_or_told(AsBuilt, part("as_built", AsBuiltSection), "", faults)
    if aimed is None or None in (meal, surroundings, as_built, *oven.values()):
        return None, None
    try:
        parts = {"aiming": aimed.aiming, "meal": meal, "surroundings": surroundings, "as_built": as_built}
        design = Design(oven=Oven(**oven), **parts)
    except DescriptionError as error:
        faults.extend(f"oven.{fault}" for fault in error.faults)
        return None, None
    return design, aimed.train


def _rigged(root: Any, stand: Stand | None, faults: list[str]) -> Rigged | None:
    try:
        return rigged(root.root, stand) if root else None
    except DescriptionError as error:
        faults.extend(error.faults)
        return None


def sky_or_told(root: Any, place: Place | None, path: Path, faults: list[str]) -> Sky | None:
    if root is None or place is None:
        return None
    try:
        return sky_of(root.root, place, path.parent)
    except DescriptionError as error:
        faults.extend(f"sky.{fault}" for fault in error.faults)
    except SkyError as error:
        faults.append(f"sky: {error}")
    return None
