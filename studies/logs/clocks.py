"""The times of a log as instants: formats, zones and their changes, logs that count, clocks that were wrong."""

import datetime
import math
import re
import zoneinfo
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ...model import DescriptionError, Place
from ..asking.cook_tables import TimeSection
from ..asking.quantity import parse
from .cells import reading
from .sheets import Sheet
from .touched import Finding, LogError, Touched

Floats = NDArray[np.float64]
Naive = datetime.datetime

_FIRST, _LAST = 1970, 2200  # years; a clock that says another was never set
_EXCEL_EPOCH = Naive(1899, 12, 30)  # of the 1900 date system, which counts a 29 February 1900 that never was
_NO_DATE = 1900  # the year that strptime gives to times without a date
_DAY = datetime.timedelta(days=1)
_ONE_DIGIT = re.compile(r"^(\d{4}-\d\d-\d\d)[T ](\d:)")
_TRIED = (
    "%d/%m/%Y %H:%M:%S",
    "%d/%m/%Y %H:%M",
    "%d.%m.%Y %H:%M:%S",
    "%d.%m.%Y %H:%M",
    "%m/%d/%Y %I:%M:%S %p",
)


@dataclass(frozen=True)
class Told:
    """What the time columns of a log say.

    Parameters
    ----------
    time : float64[row]   [s]
        Since 1970 in UTC; nan where the cell tells none.
    touched : list of Touched
    findings : list of Finding
    """

    time: Floats
    touched: list[Touched]
    findings: list[Finding]


def told_times(sheet: Sheet, section: TimeSection, place: Place) -> Told:
    """The instants of a log's rows.

    Raises
    ------
    LogError
        A column, format or zone that does not fit the file; each sentence begins with the key.
    """
    cells = list(_time_cells(sheet, section))
    zone = _zone(section, place)
    reader = _reader(section)
    moments = [_moment(reader, cell) for cell in cells]
    if section.day is not None or section.clock_column is not None:
        moments = list(_dated(moments, section.day))
    if not any(moment is not None for moment in moments):
        raise LogError([_none_read(sheet, section, cells)])
    if all(moment is None or moment.year == _NO_DATE for moment in moments):
        raise LogError(
            [f"day: is missing; {sheet.file} tells clock times without a date, write day = 2026-03-01"]
        )
    time, findings = _instants(moments, zone, sheet.file)
    time = _shifted(time, moments, section)
    rows = zip(sheet.rows, cells, time, strict=True)
    touched = [
        Touched(series="row", file=sheet.file, row=line, said=cell, reason="untimed")
        for (line, _), cell, instant in rows
        if math.isnan(instant)
    ]
    return Told(time, touched, findings)


def zone_of(name: str) -> datetime.tzinfo:
    """A time zone by its IANA name or as an offset such as UTC+05:30.

    Raises
    ------
    LogError
        No such zone.
    """
    try:
        return Place(latitude=0.0, longitude=0.0, timezone=name).zone
    except DescriptionError as error:
        near = zoneinfo.available_timezones() if "/" in name else ()
        hint = next((known for known in sorted(near) if known.casefold() == name.casefold()), "Asia/Kolkata")
        raise LogError(
            [f'zone = "{name}": is not known; write a name such as {hint}, or UTC+05:30']
        ) from error


def _zone(section: TimeSection, place: Place) -> datetime.tzinfo:
    return place.zone if section.zone is None else zone_of(section.zone)


def _time_cells(sheet: Sheet, section: TimeSection) -> Iterator[str]:
    """The text of each row's time: date and clock joined where they stand apart, a date said once held on to."""
    column = _place(sheet, section.column, "column")
    second = None if section.clock_column is None else _place(sheet, section.clock_column, "clock_column")
    date = ""
    for _, cells in sheet.rows:
        first = cells[column] if column < len(cells) else ""
        if second is None:
            yield first
            continue
        date = first.removesuffix(" 00:00:00") or date
        clock = cells[second] if second < len(cells) else ""
        yield f"{date} {clock}" if clock else ""


def _place(sheet: Sheet, column: str | int, key: str) -> int:
    try:
        return sheet.index(column)
    except LogError as error:
        raise LogError([f'{key} = "{column}": {fault}' for fault in error.faults]) from error


def _reader(section: TimeSection) -> Callable[[str], Naive]:
    """Text to a moment, with or without a zone; it raises ValueError or OverflowError where it finds none."""
    if section.since is not None and section.unit is not None:
        since, unit = section.since, parse(f"1 {section.unit}", "time")
        return lambda text: since + datetime.timedelta(seconds=_number(text.replace(",", ".")) * unit)
    if section.format == "excel":
        return lambda text: _of_serial(text)
    if section.format is not None:
        form = section.format
        return lambda text: _formatted(text, form)
    return _iso


def _number(text: str) -> float:
    found = reading(text)
    if isinstance(found, str):
        # Counts of seconds may well be greater than any reading.
        found = float(text) if text.replace(".", "", 1).isdigit() else math.nan
    if not math.isfinite(found):
        raise ValueError(f"{text!r} is no number")
    return found


def _of_serial(text: str) -> Naive:
    """A spreadsheet's day number, to the millisecond that its digits hold; real dates of a workbook as they are."""
    try:
        days = _number(text.replace(",", "."))
    except ValueError:
        return _iso(text)
    return _EXCEL_EPOCH + datetime.timedelta(milliseconds=round(days * 86_400_000.0))


def _formatted(text: str, form: str) -> Naive:
    try:
        return Naive.strptime(text, form)
    except ValueError:
        return _iso(text)  # which cannot be mistaken for another


def _iso(text: str) -> Naive:
    """ISO 8601, and an hour of one digit as people write it."""
    try:
        return Naive.fromisoformat(_ONE_DIGIT.sub(r"\1 0\2", text))
    except ValueError:
        hour, rest = text.split(":", 1)  # a clock alone, as people write it: 9:05
        clock = datetime.time.fromisoformat(f"{int(hour):02d}:{rest}")
        return Naive.combine(datetime.date(_NO_DATE, 1, 1), clock)


def _moment(reader: Callable[[str], Naive], text: str) -> Naive | None:
    try:
        return reader(text.strip()) if text.strip() else None
    except (ValueError, OverflowError):
        return None


def _dated(moments: Sequence[Naive | None], day: datetime.date | None) -> Iterator[Naive | None]:
    """Clock times given their date; one far earlier than the one before is of the next day."""
    late, last = datetime.timedelta(), None
    for moment in moments:
        if moment is None or moment.year != _NO_DATE or day is None:
            yield moment
            continue
        dated = Naive.combine(day, moment.timetz()) + late
        if last is not None and last - dated > _DAY / 2:
            late += _DAY
            dated += _DAY
        last = dated
        yield dated


def _instants(
    moments: Sequence[Naive | None], zone: datetime.tzinfo, file: str
) -> tuple[Floats, list[Finding]]:
    """Seconds since 1970 in UTC, and what the changes of the zone's clock had to do with them.

    An hour that the clock tells twice is the second one once the log has gone back within it.
    """
    time = np.full(len(moments), np.nan)
    last, second, never, twice = None, False, 0, 0
    for row, moment in enumerate(moments):
        if moment is None or not _FIRST <= moment.year < _LAST:
            continue
        if moment.tzinfo is None:
            apart = (
                moment.replace(tzinfo=zone, fold=0).utcoffset(),
                moment.replace(tzinfo=zone, fold=1).utcoffset(),
            )
            told_twice = apart[0] is not None and apart[1] is not None and apart[0] > apart[1]
            second = told_twice and (second or (last is not None and moment < last))
            twice += second
            never += apart[0] is not None and apart[1] is not None and apart[0] < apart[1]
            last = moment
            moment = moment.replace(tzinfo=zone, fold=int(second))
        time[row] = moment.timestamp()
    return time, list(_changes(file, zone, never, twice))


def _changes(file: str, zone: datetime.tzinfo, never: int, twice: int) -> Iterator[Finding]:
    if twice:
        sentence = f"{file}: {twice} rows are of the hour that {zone} tells twice, and were taken for the second one."
        yield Finding("daylight saving", sentence)
    if never:
        yield Finding(
            "daylight saving",
            f"{file}: {never} rows have times that the clocks of {zone} skip: the logger's clock was not put forward. "
            'Write its own zone, such as zone = "UTC+01:00".',
        )


def _shifted(time: Floats, moments: Sequence[Naive | None], section: TimeSection) -> Floats:
    """Times put right as the table says: of a clock that was wrong all along, or jumped."""
    right = time + section.offset
    faults = []
    for number, (clock, shift) in enumerate(section.jumps, start=1):
        first = next((row for row, moment in enumerate(moments) if _shows(moment, clock)), None)
        if first is None:
            faults.append(f"jumps[{number}]: no reading at that time; write the time as the file has it")
        else:
            right[first:] += shift
    if faults:
        raise LogError(faults)
    return right


def _shows(moment: Naive | None, clock: float) -> bool:
    """Whether a moment's clock shows a time of day, to the minute where that is all that was written."""
    if moment is None:
        return False
    seconds = 3600.0 * moment.hour + 60.0 * moment.minute + moment.second
    return 0.0 <= seconds - clock < (60.0 if clock % 60 == 0 else 1.0)


def _none_read(sheet: Sheet, section: TimeSection, cells: Sequence[str]) -> str:
    """Why not one time could be read, with a format that would."""
    example = next((cell for cell in cells if cell), "")
    if not example:
        return f'column = "{section.column}": {sheet.file} has nothing but empty cells there'
    if section.format is None and section.since is None:
        known = next((form for form in _TRIED if _moment(partial(_formatted, form=form), example)), None)
        hint = "write how it is written, in the letters of strftime"
        if known:
            hint = f'format = "{known}" would read it; look whether day and month are right'
        return f'format: "{example}" in {sheet.file} is no ISO 8601 time; {hint}'
    return f'format: "{example}" in {sheet.file} is no time so written'
