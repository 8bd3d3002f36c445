"""One [[cook]] table and its files as a record with what became of every reading."""

import datetime
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...model import SENSORS, Catalogue, Meal, Place, RecordError
from ..asking.cook_tables import CookSection, LoggerSection
from ..asking.quantity import show_clock
from .cleaned import Judged, doubles_finding, judged
from .joined import Joined, joined
from .noticed import noticed
from .readings import Part, parts_of
from .sheets import SERIES
from .touched import Cleaning, Finding, LogError, LoggedCook

Floats = NDArray[np.float64]

_LONGEST = 86_400.0  # s
_AT_LEAST = 2  # instants


def logged_cook(
    section: CookSection, *, files: Mapping[str, bytes], place: Place, catalogue: Catalogue
) -> LoggedCook:
    """One cook read and cleaned.

    Raises
    ------
    LogError
        Every fault of its table and files; each sentence begins with the key.
    """
    faults = list(_cook_faults(section))
    parts = _all_parts(section, files, place, faults)
    if faults:
        raise LogError(faults)
    whole = joined(parts)
    meal = _meal(section)
    wet = meal is None or catalogue.foods[meal.food].composition.water > 0.0
    found = judged(whole, parts, _units(section), wet=wet, leave_out=section.leave_out)
    faults = found.faults or list(_left_faults(found, whole))
    if faults:
        raise LogError(faults)
    try:
        return _record(section, parts, whole, found, place=place, meal=meal)
    except RecordError as error:
        raise LogError(error.faults) from error


def _forms(section: CookSection) -> Iterator[tuple[str, LoggerSection]]:
    """Every logger of a cook, and the path to its table; a cook's own keys are one unless only others are given."""
    if section.files or section.typed is not None or not section.logger:
        yield "", section
    yield from ((f"logger[{number}].", logger) for number, logger in enumerate(section.logger, start=1))


def _all_parts(
    section: CookSection, files: Mapping[str, bytes], place: Place, faults: list[str]
) -> list[Part]:
    parts = []
    for path, form in _forms(section):
        try:
            parts += parts_of(form, files, place)
        except LogError as error:
            faults.extend(path + fault for fault in error.faults)
    return parts


def _cook_faults(section: CookSection) -> Iterator[str]:
    """What is wrong with a cook's table beyond how its loggers are described."""
    held: Any = section.meal  # a table made at run time, of which no checker knows
    if held is None and not section.empty:
        yield "meal: is missing; write [cook.meal] with food and food_mass, or empty = true for a dry pot"
    if held is not None and section.empty:
        yield "empty: there is a meal too; leave one of the two out"
    forms = [form for _, form in _forms(section)]
    if not any(getattr(form, name) is not None for form in forms for name in SENSORS):
        yield f"no thermometer in the oven is named; write one of {', '.join(SENSORS)}"
    sources = _sunlight(section)
    if not sources:
        yield 'irradiance: is missing; name its column, or write irradiance = "clear sky"'
    elif len({(sun.source, sun.plane) for sun in sources}) > 1:
        yield "irradiance: two loggers have it on different planes, or one the clear sky; keep one"
    for number, (begin, end) in enumerate(section.shaded, start=1):
        if not begin < end:
            yield f"shaded[{number}]: ends at {show_clock(end)}, allowed after its beginning {show_clock(begin)}"


def _sunlight(section: CookSection) -> list[Any]:
    """Every table of sunlight of a cook, also beside loggers that have none."""
    own = [section, *section.logger]
    return [form.irradiance for form in own if form.irradiance is not None]


def _meal(section: CookSection) -> Meal | None:
    held: Any = section.meal
    if held is None:
        return None
    given = {f.name: getattr(held, f.name) for f in fields(Meal) if hasattr(held, f.name)}
    return Meal(**given)


def _units(section: CookSection) -> dict[str, str]:
    """What each series is written in; where loggers differ, the first one's."""
    units: dict[str, str] = {}
    for _, form in _forms(section):
        for name in SERIES:
            unit = getattr(getattr(form, name), "unit", None)
            if unit is not None:
                units.setdefault(name, unit)
    return units


def _left_faults(found: Judged, whole: Joined) -> Iterator[str]:
    """What keeps cleaned readings from being a cook."""
    thermometers = [name for name in found.values if name in SENSORS]
    if not thermometers:
        named = [name for name in whole.values if name in SENSORS]
        first = named[0] if named else "files"
        yield f"{first}: not one temperature is left; look at the columns, units and missing cells"
        return
    instants = np.zeros(len(whole.time), bool)
    for values in found.values.values():
        instants |= np.isfinite(values)
    if instants.sum() < _AT_LEAST:
        yield f"files: readings at {int(instants.sum())} instant are left, at least {_AT_LEAST} are needed"


def _record(
    section: CookSection, parts: list[Part], whole: Joined, found: Judged, *, place: Place, meal: Meal | None
) -> LoggedCook:
    """The record, its settings of the oven told from its first reading on."""
    kept = np.any([np.isfinite(values) for values in found.values.values()], axis=0)
    time, values = whole.time[kept], {name: series[kept] for name, series in found.values.items()}
    start = datetime.datetime.fromtimestamp(float(time[0]), datetime.UTC).astimezone(place.zone)
    marks = [part.time[part.marked] - time[0] for part in parts]
    moments = _moments(section, start, np.unique(np.concatenate([*marks, np.empty(0)])))
    sun = _sunlight(section)[0]
    since = time - time[0]
    shaded = tuple((_after(start, begin), _after(start, end)) for begin, end in section.shaded)
    given: dict[str, Any] = {name: values.get(name) for name in ("air", "irradiance", "diffuse", "wind")}
    measured = "irradiance" in values
    if not measured and sun.source == "instrument":
        raise LogError(
            ['irradiance: not one reading of it is left; look at its column, or write "clear sky"']
        )
    record = LoggedCook(
        name=section.name,
        start=start,
        time=since,
        temperatures={name: series for name, series in values.items() if name in SENSORS},
        plane=sun.plane,
        averaged=sun.averaged,
        irradiance_measured=measured,
        azimuth_settings=moments["turned"],
        elevation_settings=moments["tilted"],
        shaded=shaded,
        meal=meal,
        units={name: unit for name, unit in _units(section).items() if name in values},
        **given,
    )
    cleaning = _cleaning(parts, whole, found, kept, noticed=list(noticed(record, place)))
    return replace(record, cleaning=cleaning, notes=tuple(_notes(record, cleaning)))


def _moments(section: CookSection, start: datetime.datetime, marks: Floats) -> dict[str, tuple[float, ...]]:
    """When the oven was set each way, in seconds from the first reading."""
    both = [*marks.tolist(), *(_after(start, clock) for clock in section.reaimed)]
    return {
        way: tuple(sorted({*both, *(_after(start, clock) for clock in getattr(section, way))}))
        for way in ("turned", "tilted")
    }


def _after(start: datetime.datetime, clock: float) -> float:
    """Seconds from the first reading to a time of day; one far before it is of the next day."""
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    moment = (midnight.replace(tzinfo=None) + datetime.timedelta(seconds=clock)).replace(tzinfo=start.tzinfo)
    seconds = moment.timestamp() - start.timestamp()
    return seconds + _LONGEST if seconds < -_LONGEST / 2 else seconds


def _cleaning(
    parts: Sequence[Part],
    whole: Joined,
    found: Judged,
    kept: NDArray[np.bool_],
    *,
    noticed: Sequence[Finding],
) -> Cleaning:
    """What became of the log of a record whose instants are those `kept`."""
    touched = [entry for part in parts for entry in part.touched] + whole.touched + found.touched
    readings = int(sum(np.isfinite(values).sum() for values in found.values.values()))
    findings = [finding for part in parts for finding in part.findings] + found.findings
    findings += [*doubles_finding(touched, readings), *noticed]
    return Cleaning(
        rows=sum(part.rows for part in parts),
        readings=readings,
        touched=tuple(touched),
        findings=tuple(findings),
        raw={series: values[kept] for series, values in whole.values.items()},
    )


def _notes(record: LoggedCook, cleaning: Cleaning) -> Iterator[str]:
    """What was done to a log, in sentences."""
    name = record.name
    if not record.irradiance_measured:
        yield (
            f"{name}: sunlight was not measured; a clear sky stands in for it, and all that is said of light leans on "
            "that."
        )
    lost = sum(math.isnan(entry.became) for entry in cleaning.touched)
    if cleaning.touched:
        yield f"{name}: {cleaning.readings} readings kept, {lost} cells or rows left out, each with its reason."
    yield from (finding.sentence for finding in cleaning.findings)
