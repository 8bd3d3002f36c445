"""Measured cooks sorted by what a procedure can make of each, and the logs made of them."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..cooks import CookRecord
from ..cooks.weather import Outdoors, outdoors
from ..food import Food
from ..irradiance import Irradiance
from ..sun import Place
from .clause import ProcedureError
from .log import Log
from .measured import log_of_record, why_estimate
from .planes import FACING, LEVEL

Role = Literal["cooking power", "first figure", "second figure", "none"]

NOT_COVERED = (
    "an empty cook gives a figure of merit only with the mirror covered; if it was, name it in `covered`"
)


@dataclass(frozen=True, kw_only=True)
class TestedCook:
    """A cook, what it serves for, and its log; or why it serves for nothing."""

    __test__ = False  # no test of pytest's

    record: CookRecord
    role: Role
    log: Log | None = None
    outdoors: Outdoors | None = None  # the weather it stood under; None where nobody read the air
    why_not: str = ""
    estimates: tuple[str, ...] = ()  # what keeps its figure from being published

    @property
    def name(self) -> str:
        """The cook's own."""
        return self.record.name


def tested_cooks(
    records: Sequence[CookRecord],
    *,
    place: Place,
    foods: Mapping[str, Food],
    covered: Collection[str],
    measured_only: bool,
    albedo: float,
) -> list[TestedCook]:
    """Each cook with its role: water under the open mirror, water or nothing under the covered one.

    Parameters
    ----------
    covered : names
        Cooks during which the mirror was covered.
    measured_only : bool
        Leave out what would be no more than an estimate.
    """
    cooks = [_tested(record, place, foods, record.name in covered, albedo) for record in records]
    return [_without_estimate(cook) for cook in cooks] if measured_only else cooks


def _without_estimate(cook: TestedCook) -> TestedCook:
    if not cook.estimates:
        return cook
    return replace(cook, log=None, estimates=(), why_not="; ".join(cook.estimates))


def cooks_for(role: Role, cooks: Sequence[TestedCook]) -> Iterator[tuple[TestedCook, Log]]:
    """Those that serve for a procedure, with their logs."""
    for cook in cooks:
        if cook.role == role and cook.log is not None:
            yield cook, cook.log


def _tested(
    record: CookRecord, place: Place, foods: Mapping[str, Food], covered: bool, albedo: float
) -> TestedCook:
    role, why_not = _role(record, covered)
    under = None if record.air is None else outdoors(record, place, albedo=albedo)
    cook = TestedCook(record=record, role=role, why_not=why_not, outdoors=under)
    if role == "none":
        return cook
    plane = FACING if role == "cooking power" else LEVEL
    try:
        log = log_of_record(
            record,
            place=place,
            plane=plane,
            sensor="plate" if role == "first figure" else "food",
            sunlight=None if under is None else _sunlight(record, under),
            water_mass=_water(record, foods),
            albedo=albedo,
        )
    except ProcedureError as error:
        return replace(cook, why_not=str(error))
    return replace(cook, log=log, estimates=tuple(why_estimate(record, plane)))


def _sunlight(record: CookRecord, under: Outdoors) -> Irradiance:
    """Beam, diffuse and global at the instants of a record; nan where its instrument was silent. float64[record]"""
    measured = record.weather("irradiance")
    silent = np.zeros(len(record.instants), bool) if measured is None else np.isnan(measured)
    parts = (getattr(under.sky, name)[0] for name in Irradiance._fields)
    at = (np.interp(record.instants, under.minutes, part) for part in parts)
    return Irradiance(*(np.where(silent, np.nan, values) for values in at))


def _role(record: CookRecord, covered: bool) -> tuple[Role, str]:
    if record.meal is None:
        return ("first figure", "") if covered else ("none", f"{record.name}: {NOT_COVERED}")
    if record.meal.food != "water":
        return "none", f"{record.name}: the pot held {record.meal.food}; the procedures heat water"
    return ("second figure" if covered else "cooking power"), ""


def _water(record: CookRecord, foods: Mapping[str, Food]) -> float:
    """Water in the pot at the start. [kg]"""
    if record.meal is None:
        return 0.0
    return float(record.meal.contents(1.0, foods).water_mass)
