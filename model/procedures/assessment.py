"""Measured cooks under the published procedures, as one Dataset: figures, intervals, and what voids which."""

import json
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from ..catalogue import Catalogue, load_catalogue
from ..cooks import CookRecord
from ..design import Design
from ..food import boiling_temperature
from ..sun import Place
from .areas import aperture_area_of, mean_intercept_area
from .assessment_table import cook_variables, curve_variables, interval_variables, scalar_variables
from .clause import ProcedureError
from .cooking_power import (
    CLAUSES_READ,
    REPORTED_AT,
    CookingPower,
    Edition,
    Interval,
    cooking_power,
    intervals_of,
)
from .cooks_tested import TestedCook, cooks_for, tested_cooks
from .day_effect import DayEffect, day_effect
from .figures_of_merit import Heating, Stagnation, heating_test, stagnation_test
from .log import Log


@dataclass(frozen=True, kw_only=True)
class Assessed:
    """All that the procedures make of some cooks."""

    cooks: tuple[TestedCook, ...]
    areas: tuple[float, ...]  # m2, intercept area of each cook
    aperture_area: float  # m2
    power_logs: tuple[tuple[str, Log], ...]  # name of the cook, log
    intervals: tuple[Interval, ...]
    power: CookingPower | None
    days: DayEffect
    stagnations: dict[str, Stagnation]
    heatings: dict[str, Heating]
    refused: dict[str, str]  # figure -> why there is none


def assess_standard(
    records: Sequence[CookRecord],
    *,
    design: Design,
    place: Place,
    catalogue: Catalogue | None = None,
    edition: Edition = "2003",
    covered: Collection[str] = (),
    intercept_area: float | None = None,
    aperture_area: float | None = None,
    confidence: float = 0.95,
    measured_only: bool = False,
    albedo: float = 0.2,
) -> xr.Dataset:
    """Standardised cooking power and figures of merit of an oven from its measured cooks.

    Parameters
    ----------
    records : sequence of CookRecord
        Water under the open mirror goes to the cooking power; with the mirror covered, an empty oven with a
        thermometer on its plate gives the first figure of merit, and water the second.
    design : Design
        The oven; gives the areas that are left out.
    place : Place
        Gives solar noon and the boiling point.
    edition : "1997" or "2003"
        Water temperatures that count.
    covered : names of cooks
        During which the mirror was covered.
    intercept_area, aperture_area : float, optional   [m2]
    confidence : float
        Of the interval at 50 K.
    measured_only : bool
        Leave out cooks whose irradiance was not measured on the plane that the standard names; otherwise it is
        converted, or a clear sky's, and `estimates` says so.
    albedo : float
        Of the ground, as a plane that faces the sun sees it.

    Returns
    -------
    Dataset over cook, interval, curve
        `standardised_power` of each ten minutes with `reasons` why it does not count; the line and its interval;
        the attributes `faults`, `estimates`, `refused` and `from_memory` hold sentences, as JSON.
    """
    foods = (catalogue or load_catalogue()).foods
    cooks = tested_cooks(
        records, place=place, foods=foods, covered=covered, measured_only=measured_only, albedo=albedo
    )
    areas = tuple(intercept_area or mean_intercept_area(cook.record, design, cook.outdoors) for cook in cooks)
    found = _assessed(
        cooks,
        areas=areas,
        aperture_area=aperture_area or aperture_area_of(design),
        boiling=float(boiling_temperature(place.pressure)),
        edition=edition,
        confidence=confidence,
    )
    variables = cook_variables(found, place) | interval_variables(found)
    variables |= curve_variables(found, confidence) | scalar_variables(found, confidence)
    coordinates = {"cook": ("cook", np.array([c.name for c in cooks], np.str_), _NAMES)}
    return xr.Dataset(variables, coords=coordinates).assign_attrs(
        edition=edition,
        area_given=int(intercept_area is not None),
        faults=json.dumps(_faults(found)),
        estimates=json.dumps([text for cook in cooks for text in cook.estimates]),
        refused=json.dumps(found.refused),
        clauses_read=json.dumps([f"{clause.says} ({clause.source})" for clause in CLAUSES_READ]),
        from_memory=json.dumps(_from_memory(found)),
    )


_NAMES = {"units": "1", "long_name": "name of the cook"}


def _assessed(
    cooks: Sequence[TestedCook],
    *,
    areas: tuple[float, ...],
    aperture_area: float,
    boiling: float,
    edition: Edition,
    confidence: float,
) -> Assessed:
    logs = [(cook.name, log) for cook, log in cooks_for("cooking power", cooks)]
    used = [area for cook, area in zip(cooks, areas, strict=True) if cook.role == "cooking power"]
    refused: dict[str, str] = {}
    power = None
    try:
        power = cooking_power(
            [log for _, log in logs],
            boiling_temperature=boiling,
            intercept_area=sum(used) / len(used) if used else None,
            confidence=confidence,
            edition=edition,
        )
    except ProcedureError as error:
        refused["cooking power"] = str(error) if logs else _none_for("cooking power", cooks)
    intervals = intervals_of([log for _, log in logs], boiling_temperature=boiling, edition=edition)
    stagnations = _stagnations(cooks, refused)
    return Assessed(
        cooks=tuple(cooks),
        areas=areas,
        aperture_area=aperture_area,
        power_logs=tuple(logs),
        intervals=intervals,
        power=power,
        days=_days(intervals, [log for _, log in logs], confidence),
        stagnations=stagnations,
        heatings=_heatings(cooks, stagnations, aperture_area, refused),
        refused=refused,
    )


def _none_for(role: str, cooks: Sequence[TestedCook]) -> str:
    """Why no cook serves for a figure."""
    wanted = {
        "cooking power": "cooks of water under the open mirror",
        "first figure": "an empty cook with the mirror covered and a thermometer on the plate",
        "second figure": "a cook of water with the mirror covered",
    }[role]
    tried = [cook.why_not for cook in cooks if cook.role == role]
    return "; ".join(tried) or f"there is none without {wanted}"


def _stagnations(cooks: Sequence[TestedCook], refused: dict[str, str]) -> dict[str, Stagnation]:
    found, said = {}, []
    for cook, log in cooks_for("first figure", cooks):
        try:
            found[cook.name] = stagnation_test(log)
        except ProcedureError as error:
            said.append(str(error))
    if not found:
        refused["first figure"] = "; ".join(said) or _none_for("first figure", cooks)
    return found


def _heatings(
    cooks: Sequence[TestedCook],
    stagnations: dict[str, Stagnation],
    aperture_area: float,
    refused: dict[str, str],
) -> dict[str, Heating]:
    """Second figures, by the mean of the first ones."""
    if not stagnations:
        refused["second figure"] = "the second figure of merit needs the first"
        return {}
    first = sum(one.first_figure for one in stagnations.values()) / len(stagnations)
    found, said = {}, []
    for cook, log in cooks_for("second figure", cooks):
        try:
            found[cook.name] = heating_test(log, first=first, aperture_area=aperture_area)
        except ProcedureError as error:
            said.append(str(error))
    if not found:
        refused["second figure"] = "; ".join(said) or _none_for("second figure", cooks)
    return found


def _days(intervals: Sequence[Interval], logs: Sequence[Log], confidence: float) -> DayEffect:
    counted = [interval for interval in intervals if not interval.void]
    if len(counted) < 3:
        return DayEffect({}, math.nan, math.nan, math.nan)
    return day_effect(
        [interval.temperature_difference for interval in counted],
        [interval.standardised_power for interval in counted],
        [logs[interval.log].date for interval in counted],
        at=REPORTED_AT.value,
        confidence=confidence,
    )


def _faults(found: Assessed) -> dict[str, list[str]]:
    """What the standards ask and this test does not fulfil, by figure."""
    first = [f"{name}: {fault}" for name, one in found.stagnations.items() for fault in one.faults]
    second = [f"{name}: {fault}" for name, one in found.heatings.items() for fault in one.faults]
    return {
        "cooking power": list(found.power.faults) if found.power else [],
        "first figure": first,
        "second figure": second,
    }


def _from_memory(found: Assessed) -> list[str]:
    """Clauses that nobody has read for this package, each once."""
    outcomes = [found.power, *found.stagnations.values(), *found.heatings.values()]
    return list(dict.fromkeys(note for one in outcomes if one is not None for note in one.notes))
