"""The [[cook]] tables of a config, or the same keys from Python, as records with what became of every reading."""

import datetime
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from ...model import SENSORS, Catalogue, Meal, Place, RecordError, load_catalogue
from ..asking.cook_tables import CookSection, LoggerSection
from ..asking.quantity import show_clock
from ..asking.schema import sentence
from .cleaned import Judged, doubles_finding, judged
from .in_the_sun import elevations, hour_finding, hour_off, silences, sun_findings
from .joined import Joined, joined
from .readings import Part, parts_of
from .sheets import SERIES
from .touched import Cleaning, Finding, LogError, LoggedCook

Floats = NDArray[np.float64]

_MOST_TOLD = 4  # silences told one by one
_LONGEST = 86_400.0  # s
_AT_LEAST = 2  # instants


def records_of(
    tables: Sequence[Any],
    *,
    files: Mapping[str, bytes],
    place: Place,
    catalogue: Catalogue,
    faults: list[str],
) -> tuple[LoggedCook, ...] | None:
    """The cooks of a config; None if one of them cannot be read.

    Parameters
    ----------
    tables : sequence of dict
        The [[cook]] tables as they stand in the file.
    files : dict of bytes
        By the names that the tables give them.
    place : Place
    catalogue : Catalogue
    faults : list of str
        Takes what is wrong with the logs, with paths; keys that cannot be are left to the check of the whole config.
    """
    records: list[LoggedCook] = []
    names = [table.get("name") for table in tables if isinstance(table, dict)]
    sound = True
    for number, table in enumerate(tables, start=1):
        found = []
        if isinstance(table, dict) and names.count(table.get("name")) > 1:
            found.append(
                f'name = "{table["name"]}": another cook is called so; studies ask for cooks by name'
            )
        section, unsound = _sound_part(table, catalogue)
        try:
            if section is not None:
                records.append(logged_cook(section, files=files, place=place, catalogue=catalogue))
        except LogError as error:
            found += [fault for fault in error.faults if not _is_of(fault, unsound)]
        faults.extend(f"cook[{number}].{fault}" for fault in found)
        sound = sound and not found and not unsound
    return tuple(records) if sound else None


def _sound_part(table: Any, catalogue: Catalogue) -> tuple[CookSection | None, Mapping[str, list[str]]]:
    """A table without the keys that cannot be, so that the faults of its log show as well; those keys' faults."""
    context = {"catalogue": catalogue.names()}
    try:
        return CookSection.model_validate(table, context=context), {}
    except ValidationError as error:
        faults = [fault for fault in error.errors() if fault["loc"]]
        unsound: dict[str, list[str]] = {}
        for fault in faults:
            unsound.setdefault(str(fault["loc"][0]), []).append(sentence(fault, CookSection))
        if not isinstance(table, dict):
            return None, {"table": ["no table"]}
    rest = {"name": "unnamed"} | {key: value for key, value in table.items() if key not in unsound}
    try:
        return CookSection.model_validate(rest, context=context), unsound
    except ValidationError:
        return None, unsound


def _is_of(fault: str, keys: Mapping[str, list[str]]) -> bool:
    """Whether a fault is about keys that were left out for being unsound, or about what they may have given."""
    if keys and (fault.startswith("no ") or ("logger" in keys and ": is missing" in fault)):
        return True
    return re.split(r"[.:\[ =]", fault, maxsplit=1)[0] in keys


def read_cook(
    place: Place, *, folder: Path | str = ".", catalogue: Catalogue | None = None, **keys: Any
) -> LoggedCook:
    """A test cook from its logs; `keys` are those of a [[cook]] table of a config.

    Parameters
    ----------
    place : Place
        Where it was cooked: its clock is that of logs that name no zone.
    folder : Path or str
        From which files are named.
    catalogue : Catalogue, optional
        Foods that the meal may be of.

    Raises
    ------
    LogError
        Keys that cannot be, and columns that the files do not have; every fault at once.

    Examples
    --------
    >>> import math
    >>> yard = Place(latitude=math.radians(14), longitude=0.0, timezone="UTC")
    >>> form = '''time,food
    ... 2026-03-01 10:00,22.5
    ... 2026-03-01 10:10,31.0'''
    >>> record = read_cook(
    ...     yard, name="first", typed=form, time={"column": "time"}, food={"column": "food", "unit": "degC"},
    ...     irradiance="clear sky", meal={"food": "water", "food_mass": "1 kg"},
    ... )
    >>> record.temperature("food").tolist()
    [295.65, 304.15]
    """
    known = catalogue or load_catalogue()
    section, unsound = _sound_part(keys, known)
    faults = [fault for found in unsound.values() for fault in found]
    if section is not None:
        named = [*section.files, *(name for logger in section.logger for name in logger.files)]
        files = {
            name: (Path(folder) / name).read_bytes() for name in named if (Path(folder) / name).is_file()
        }
        try:
            record = logged_cook(section, files=files, place=place, catalogue=known)
            if not faults:
                return record
        except LogError as error:
            faults += [fault for fault in error.faults if not _is_of(fault, unsound)]
    raise LogError(faults)


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
    cleaning = _cleaning(section.name, parts, whole, found, kept)
    since = time - time[0]
    shaded = tuple((_after(start, begin), _after(start, end)) for begin, end in section.shaded)
    cleaning = _held_against_the_sun(
        cleaning,
        section.name,
        since,
        values,
        start=start,
        place=place,
        shaded=shaded,
        level=sun.plane == "level",
    )
    given = {name: values.get(name) for name in ("air", "irradiance", "diffuse", "wind")}
    measured = "irradiance" in values
    if not measured and sun.source == "instrument":
        raise LogError(
            ['irradiance: not one reading of it is left; look at its column, or write "clear sky"']
        )
    return LoggedCook(
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
        notes=tuple(_notes(section.name, cleaning, measured=measured)),
        units={name: unit for name, unit in _units(section).items() if name in values},
        cleaning=cleaning,
        **given,
    )


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
    name: str, parts: Sequence[Part], whole: Joined, found: Judged, kept: NDArray[np.bool_]
) -> Cleaning:
    touched = [entry for part in parts for entry in part.touched] + whole.touched + found.touched
    readings = int(sum(np.isfinite(values).sum() for values in found.values.values()))
    findings = [finding for part in parts for finding in part.findings] + found.findings
    findings += doubles_finding(touched, readings)
    return Cleaning(
        rows=sum(part.rows for part in parts),
        readings=readings,
        touched=tuple(touched),
        findings=tuple(findings),
        raw={series: values[kept] for series, values in whole.values.items()},
    )


def _held_against_the_sun(
    cleaning: Cleaning,
    name: str,
    time: Floats,
    values: Mapping[str, Floats],
    *,
    start: datetime.datetime,
    place: Place,
    shaded: Sequence[tuple[float, float]],
    level: bool,
) -> Cleaning:
    """The same with what the sun and silences of the log say."""
    covered = np.zeros(len(time), bool)
    for begin, end in shaded:
        covered |= (time >= begin) & (time < end)
    height = elevations(start.timestamp(), time, place)
    more = [
        *sun_findings(height, values.get("irradiance"), shaded=covered, name=name),
        *_silent(name, time, start),
    ]
    more += _unheard_spans(name, time, shaded)
    if level and "irradiance" in values:
        hours = hour_off(start.timestamp(), time, np.where(covered, np.nan, values["irradiance"]), place)
        more += [hour_finding(hours, name)] if hours else []
    return Cleaning(
        rows=cleaning.rows,
        readings=cleaning.readings,
        touched=cleaning.touched,
        findings=(*cleaning.findings, *more),
        raw=cleaning.raw,
    )


def _silent(name: str, time: Floats, start: datetime.datetime) -> Iterator[Finding]:
    spans = silences(time)
    for begin, end in spans[:_MOST_TOLD]:
        times = [f"{start + datetime.timedelta(seconds=seconds):%H:%M}" for seconds in (begin, end)]
        yield Finding(
            "gap",
            f"{name}: nothing was read from {times[0]} to {times[1]} ({(end - begin) / 60.0:.0f} min); if the clock "
            "jumped there instead, write jumps in its time.",
        )
    if len(spans) > _MOST_TOLD:
        yield Finding("gap", f"{name}: {len(spans) - _MOST_TOLD} more gaps like these.")


def _unheard_spans(name: str, time: Floats, shaded: Sequence[tuple[float, float]]) -> Iterator[Finding]:
    for begin, end in shaded:
        if not ((time >= begin) & (time < end)).any():
            yield Finding(
                "shade",
                f"{name}: no reading lies in the shaded span from {begin / 60:.0f} min after the start.",
            )


def _notes(name: str, cleaning: Cleaning, *, measured: bool) -> Iterator[str]:
    """What was done to a log, in sentences."""
    if not measured:
        yield (
            f"{name}: sunlight was not measured; a clear sky stands in for it, and all that is said of light leans on "
            "that."
        )
    lost = sum(math.isnan(entry.became) for entry in cleaning.touched)
    if cleaning.touched:
        yield f"{name}: {cleaning.readings} readings kept, {lost} cells or rows left out, each with its reason."
    yield from (finding.sentence for finding in cleaning.findings)
