"""One logger's files as numbers in SI at instants, and what became of every cell that is not simply a number."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...model import Place
from ..asking.cook_tables import LoggerSection
from ..asking.units import DIMENSIONS
from .cells import reading
from .clocks import told_times
from .order import Order, ordered
from .sheets import SERIES, Sheet, sheet_of
from .touched import Finding, LogError, Touched

Floats = NDArray[np.float64]

DIMENSION = {name: "temperature" for name in ("food", "pot", "plate", "air_inside", "cover", "air")} | {
    "irradiance": "irradiance",
    "diffuse": "irradiance",
    "wind": "speed",
}


@dataclass(frozen=True, kw_only=True)
class Part:
    """One file of a logger, in order of time.

    Parameters
    ----------
    file : str
    time : float64[row]   [s]
        Since 1970 in UTC, never falling.
    line : int64[row]
        Of the file.
    values : dict of float64[row]   [SI]
        nan where there is no number.
    written : dict of float64[row]
        The same as the file has them, in its own units.
    cells : dict of list of str
    marked : bool[row]
        Where the column of aiming marks holds one.
    rows : int
        Rows of the file, those left out too.
    touched : list of Touched
    findings : list of Finding
    """

    file: str
    time: Floats
    line: NDArray[np.int64]
    values: dict[str, Floats]
    written: dict[str, Floats]
    cells: dict[str, list[str]]
    marked: NDArray[np.bool_]
    rows: int
    touched: list[Touched] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def parts_of(form: LoggerSection, files: Mapping[str, bytes], place: Place) -> list[Part]:
    """What the files of a logger hold.

    Raises
    ------
    LogError
        Every fault of the table and its files; each sentence begins with the key.
    """
    faults = list(form_faults(form))
    texts = {"typed": form.typed.encode()} if form.typed is not None else {}
    for name in form.files:
        if name in files:
            texts[name] = files[name]
        else:
            faults.append(
                f'files: "{name}" cannot be read; look at its name, and at the folder it is named from'
            )
    parts = []
    for name, contents in texts.items():
        try:
            parts.append(_part(form, sheet_of(Path(name).name, contents, form), place))
        except LogError as error:
            faults.extend(error.faults)
    if faults:
        raise LogError(list(dict.fromkeys(faults)))
    return parts


def form_faults(form: LoggerSection) -> Iterator[str]:
    """What is wrong with a logger's table by itself."""
    if not form.files and form.typed is None:
        yield "files: is missing; name the log, or type its readings in as typed"
    if form.files and form.typed is not None:
        yield "typed: files are named too; leave one of the two out"
    if form.time is None:
        yield 'time: is missing; write time = { column = "name of the column" }'
    else:
        yield from _time_faults(form.time)
    if not any(_measured(form, name) for name in SERIES):
        yield f'no series is named; write such as food = {{ column = "...", unit = "degC" }}, of {", ".join(SERIES)}'
    sun = form.irradiance
    if sun is not None and sun.source == "instrument":
        yield from (
            f"irradiance.{key}: is missing" for key in ("column", "unit") if getattr(sun, key) is None
        )
    if sun is not None and sun.source == "clear sky" and sun.column is not None:
        yield 'irradiance.column: of no effect with source = "clear sky"; leave one of the two out'
    for name in ("irradiance", "diffuse"):
        yield from _sensitivity_faults(name, getattr(form, name))


def _time_faults(time: Any) -> Iterator[str]:
    if (time.since is None) != (time.unit is None):
        yield f"time.{'unit' if time.unit is None else 'since'}: is missing; a log that counts needs both"
    if time.since is not None and time.format is not None:
        yield "time.format: of no effect in a log that counts from `since`; leave one of the two out"
    if time.since is not None and time.clock_column is not None:
        yield "time.clock_column: of no effect in a log that counts from `since`; leave one of the two out"


def _sensitivity_faults(name: str, light: Any) -> Iterator[str]:
    if light is None or light.unit is None:
        return
    volts = DIMENSIONS["voltage"].find(light.unit) is not None
    if volts and light.sensitivity is None:
        yield f'{name}.sensitivity: is missing; volts need it, for example "12.5 uV per W/m2"'
    if not volts and light.sensitivity is not None:
        yield f'{name}.sensitivity: of no effect with unit = "{light.unit}"; leave it out'


def _measured(form: LoggerSection, name: str) -> bool:
    series = getattr(form, name)
    return series is not None and (series.column is not None or getattr(series, "source", "") == "clear sky")


def _part(form: LoggerSection, sheet: Sheet, place: Place) -> Part:
    assert form.time is not None
    faults, columns = [], {}
    for name in (n for n in SERIES if getattr(form, n) is not None and getattr(form, n).column is not None):
        try:
            columns[name] = sheet.index(getattr(form, name).column)
        except LogError as error:
            faults.extend(
                f'{name}.column = "{getattr(form, name).column}": {fault}' for fault in error.faults
            )
    marks = None
    if form.reaim_column is not None:
        try:
            marks = sheet.index(form.reaim_column)
        except LogError as error:
            faults.extend(f'reaim_column = "{form.reaim_column}": {fault}' for fault in error.faults)
    try:
        told = told_times(sheet, form.time, place)
    except LogError as error:
        faults.extend(f"time.{fault}" for fault in error.faults)
    if faults:
        raise LogError(faults)
    order = ordered(told.time, sheet.file)
    part = _numbers(form, sheet, told.time, order.rows, columns, marks)
    part.touched.extend([*told.touched, *_rows_touched(sheet, told.time, order)])
    notes = [Finding("read as", f"{note}.") for note in sheet.notes]
    part.findings.extend([*notes, *told.findings, *order.findings])
    return part


def _rows_touched(sheet: Sheet, time: Floats, order: Order) -> Iterator[Touched]:
    """Rows that are not used, or used elsewhere."""
    for reason in ("moved", "overlap", "far"):
        for row in getattr(order, reason):
            line, cells = sheet.rows[row]
            instant = float(time[row])
            became = instant if reason == "moved" else math.nan
            said = " ".join(cells)
            yield Touched(
                series="row", file=sheet.file, row=line, said=said, reason=reason, time=instant, became=became
            )


def _numbers(
    form: LoggerSection,
    sheet: Sheet,
    time: Floats,
    rows: NDArray[np.int64],
    columns: Mapping[str, int],
    marks: int | None,
) -> Part:
    """The cells of the rows that are used, as numbers; those that hold none are noted."""
    line = np.array([sheet.rows[row][0] for row in rows], np.int64)
    cells, written, touched = {}, {}, []
    for name, column in columns.items():
        cells[name] = [_cell(sheet.rows[row][1], column) for row in rows]
        unit, missing = getattr(form, name).unit, frozenset(form.missing)
        found = [reading(cell, decimal=sheet.decimal, unit=unit, missing=missing) for cell in cells[name]]
        written[name] = np.array([math.nan if isinstance(one, str) else one for one in found], np.float64)
        touched += [
            Touched(
                series=name,
                file=sheet.file,
                row=int(line[k]),
                said=cells[name][k],
                reason=one,
                time=float(time[rows[k]]),
            )
            for k, one in enumerate(found)
            if isinstance(one, str)
        ]
    marked = [marks is not None and bool(_cell(sheet.rows[row][1], marks)) for row in rows]
    return Part(
        file=sheet.file,
        time=time[rows],
        line=line,
        values={name: converted(numbers, getattr(form, name), name) for name, numbers in written.items()},
        written=written,
        cells=cells,
        marked=np.array(marked, bool),
        rows=len(sheet.rows),
        touched=touched,
    )


def _cell(cells: list[str], column: int) -> str:
    """A short row has nothing in its last columns."""
    return cells[column] if column < len(cells) else ""


def converted(numbers: Floats, series: Any, name: str) -> Floats:
    """Numbers of a column in SI. float64[row]"""
    volts = DIMENSIONS["voltage"].find(series.unit)
    if name in ("irradiance", "diffuse") and volts is not None:
        return np.asarray(numbers * volts.scale / series.sensitivity)
    unit = DIMENSIONS[DIMENSION[name]].find(series.unit)
    assert unit is not None
    return np.asarray((numbers + unit.offset) * unit.scale)
