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
from .clocks import Told, told_times
from .forms import form_faults
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
    unsound = bool(faults)
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
            sheet = sheet_of(Path(name).name, contents, form)
            if unsound:
                faults.extend(_looked_up(form, sheet, place)[0])
            else:
                parts.append(_part(form, sheet, place))
        except LogError as error:
            faults.extend(error.faults)
    if faults:
        raise LogError(list(dict.fromkeys(faults)))
    return parts


def _part(form: LoggerSection, sheet: Sheet, place: Place) -> Part:
    """One file, in a form that is sound by itself."""
    faults, columns, marks, told = _looked_up(form, sheet, place)
    if faults or told is None:
        raise LogError(faults)
    order = ordered(told.time, sheet.file)
    part = _numbers(form, sheet, told.time, order.rows, columns, marks)
    part.touched.extend([*told.touched, *_rows_touched(sheet, told.time, order)])
    notes = [Finding("read as", f"{note}.") for note in sheet.notes]
    part.findings.extend([*notes, *told.findings, *order.findings])
    return part


def _looked_up(
    form: LoggerSection, sheet: Sheet, place: Place
) -> tuple[list[str], dict[str, int], int | None, Told | None]:
    """Faults of the form in this file, places of its series and marks, and its times."""
    faults: list[str] = []
    columns = {}
    for name in SERIES:
        series = getattr(form, name)
        if series is not None and series.column is not None:
            columns[name] = _found(sheet, f"{name}.column", series.column, faults)
    marks = None if form.reaim_column is None else _found(sheet, "reaim_column", form.reaim_column, faults)
    told = None
    if form.time is not None:
        try:
            told = told_times(sheet, form.time, place)
        except LogError as error:
            faults.extend(f"time.{fault}" for fault in error.faults)
    return faults, columns, marks, told


def _found(sheet: Sheet, key: str, column: str | int, faults: list[str]) -> int:
    """Place of a column; -1 with its fault told."""
    try:
        return sheet.index(column)
    except LogError as error:
        faults.extend(f'{key} = "{column}": {fault}' for fault in error.faults)
        return -1


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
