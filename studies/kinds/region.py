"""The places and months of a region, and a sky for each place in each month."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, Protocol

import numpy as np
import pandas as pd
from pydantic import BeforeValidator, Field

from ...model import DescriptionError, Place, Sky, SkyError, specs
from ..asking.quantity import QuantityError
from ..asking.schema import annotation_of, made, section
from ..asking.skies import ClearnessSection, ClearSection, FileSection, SkySection, sky_of
from .kind import Given, StudyError

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def _weights(value: Any) -> tuple[float, ...]:
    numbers = value if isinstance(value, list | tuple) else [value]
    for number in numbers:
        if isinstance(number, bool) or not isinstance(number, int | float) or not 0 <= number < math.inf:
            raise QuantityError(f"{number!r} is not a weight; a number is needed, 0 or more, such as 120")
    return tuple(map(float, numbers))


Weights = Annotated[Any, BeforeValidator(_weights)]
Latitude = annotation_of(specs(Place)["latitude"])

SiteSection = section(
    Place,
    "SiteSection",
    sky=(
        SkySection | None,
        Field(None, description="its days, in the form of [sky]; those of the study if left out"),
    ),
    weights=(
        Weights,
        Field((1.0,), description="how much it counts, in all months or by month; 0: not at all"),
    ),
)


class Asked(Protocol):
    """The keys of a study that say where and when."""

    months: list[int]
    latitudes: list[float]
    site: list[Any]
    sky: Any
    weights: list[tuple[float, ...]]
    days_per_month: int


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One place in one month: days that stand for it, and how much it counts."""

    place: Place
    month: int
    weight: float
    sky: Sky

    @property
    def loaded_at(self) -> str:
        """When the food is put in, on the clock of the place."""
        first = pd.Timestamp(self.sky.times[0, 0]).tz_localize("UTC").tz_convert(self.place.zone)
        return f"{first:%H:%M}"


@dataclass(frozen=True, kw_only=True)
class _Spot:
    """A place of the region as it was asked for."""

    path: str  # of its table, for faults
    place: Place
    sky: Any  # its table
    weights: tuple[float, ...]  # by month


def region_faults(section: Asked, given: Given) -> Iterator[str]:
    """What is wrong with places, months and weights, each sentence beginning with its key."""
    if bool(section.latitudes) == bool(section.site):
        yield "latitudes: give either latitudes, or a [[study.site]] table for each place"
        return
    yield from _repeated("months", [MONTHS[month - 1] for month in section.months])
    if section.weights and section.site:
        yield "weights: goes with latitudes; a site has weights of its own"
    if section.site:
        yield from _repeated("site", [site.name for site in section.site])
    elif given.sky is not None:
        yield from _repeated(
            "latitudes", [place.name for place in _along(section.latitudes, given.sky.place)]
        )
    yield from _weight_faults(section)
    yield from _sky_faults(section, given)


def _repeated(key: str, names: Sequence[str]) -> Iterator[str]:
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield f"{key}: {name} stands there twice"


def _weight_faults(section: Asked) -> Iterator[str]:
    rows = section.weights or [site.weights for site in section.site]
    if section.latitudes and len(rows) not in (0, len(section.latitudes)):
        yield f"weights: {len(rows)} for {len(section.latitudes)} latitudes; give one for each"
    for number, row in enumerate(rows, start=1):
        if len(row) not in (1, len(section.months)):
            key = f"weights[{number}]" if section.weights else f"site[{number}].weights"
            known = f"{len(row)} numbers where months has {len(section.months)}"
            yield f"{key}: {known}; give one for all of them, or one for each"
    if rows and not any(any(row) for row in rows):
        yield "weights: all are 0, so that no place counts"


def _sky_faults(section: Asked, given: Given) -> Iterator[str]:
    shared = section.sky or given.sky_table
    for path, table in [("sky", shared)] if section.latitudes else _site_skies(section, shared):
        if table is None:
            yield f"{path}: is missing; describe the days as in [sky], here or for the whole study"
        elif isinstance(table, ClearnessSection):
            unknown = [MONTHS[month - 1] for month in section.months if month not in table.months]
            if unknown:
                yield f"{path}: no clearness is given for {', '.join(unknown)}"
        elif isinstance(table, FileSection) and section.latitudes:
            yield f"{path}: a weather file knows one place; give [[study.site]] tables, each with its file"
        elif table.dates is not None:
            yield f"{path}.dates: leave them out, a region goes by months"


def _site_skies(section: Asked, shared: Any) -> list[tuple[str, Any]]:
    return [(f"site[{number}].sky", site.sky or shared) for number, site in enumerate(section.site, start=1)]


def region_cells(section: Asked, given: Given) -> tuple[Cell, ...]:
    """Every place in every month that counts, with its days.

    Raises
    ------
    StudyError
        Places and days that cannot be; every fault at once, naming the place.
    """
    assert given.sky is not None
    faults: list[str] = []
    cells = []
    for spot in _spots(section, given, faults):
        for month, weight in zip(section.months, spot.weights, strict=True):
            if weight == 0.0:
                continue
            try:
                sky = month_sky(spot.sky, spot.place, month, section.days_per_month, given.folder)
            except (DescriptionError, SkyError) as error:
                faults.append(
                    f"{spot.path}: {spot.place.name} in {MONTHS[month - 1]}: {error}; or give it weight 0"
                )
                continue
            cells.append(Cell(place=spot.place, month=month, weight=weight, sky=sky))
    if faults:
        raise StudyError(faults)
    return tuple(cells)


def _spots(section: Asked, given: Given, faults: list[str]) -> list[_Spot]:
    assert given.sky is not None
    shared = section.sky or given.sky_table

    def by_month(weights: tuple[float, ...]) -> tuple[float, ...]:
        return weights if len(weights) > 1 else weights * len(section.months)

    if section.latitudes:
        rows = section.weights or [(1.0,)] * len(section.latitudes)
        along = zip(_along(section.latitudes, given.sky.place), rows, strict=True)
        return [_Spot(path="latitudes", place=p, sky=shared, weights=by_month(row)) for p, row in along]
    spots = []
    for number, site in enumerate(section.site, start=1):
        path = f"site[{number}]"
        try:
            place = made(Place, site)
        except DescriptionError as error:
            faults.extend(f"{path}.{fault.removeprefix('place.')}" for fault in error.faults)
            continue
        spots.append(_Spot(path=path, place=place, sky=site.sky or shared, weights=by_month(site.weights)))
    return spots


def _along(latitudes: Sequence[float], place: Place) -> list[Place]:
    """The place moved north or south, its clock, longitude and altitude kept."""
    return [replace(place, latitude=latitude, name=latitude_text(latitude)) for latitude in latitudes]


def latitude_text(latitude: float) -> str:
    """A latitude as one says it: "13.5 deg N"."""
    degrees = round(math.degrees(latitude), 2)
    return f"{abs(degrees):g} deg {'N' if degrees > 0 else 'S'}" if degrees else "equator"


def month_sky(table: Any, place: Place, month: int, days: int, folder: Path) -> Sky:
    """Days that stand for a month at a place, from a table in the form of [sky].

    Of a weather file, the month's days are ranked by their beam and cut into that many equal parts; the middle one of
    each stands for it.

    Raises
    ------
    DescriptionError, SkyError
        As `sky_of`.
    """
    match table:
        case ClearSection():
            changed: dict[str, Any] = {"months": [month], "dates": None}
        case ClearnessSection(months=months, clearness=clearness):
            if len(months) != len(clearness):
                raise SkyError(
                    f"clearness has {len(clearness)} values for {len(months)} months: give one for each"
                )
            changed = {
                "months": [month],
                "clearness": [clearness[months.index(month)]],
                "days_per_month": days,
            }
        case _:
            return _few_of(
                sky_of(table.model_copy(update={"months": [month], "dates": None}), place, folder), days
            )
    return sky_of(table.model_copy(update=changed), place, folder)


def _few_of(sky: Sky, days: int) -> Sky:
    """So many of a month's days, from the dullest to the brightest, each standing for an equal part of it."""
    ranked = np.argsort(sky.beam_day, kind="stable")
    middles = ((np.arange(days) + 0.5) / days * sky.days).astype(np.int64)
    few = sky.only(ranked[np.unique(middles)].tolist())
    return replace(few, day_weight=np.full(few.days, sky.day_weight.sum() / few.days))
