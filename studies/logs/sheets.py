"""The bytes of a log as rows of text: CSV and its relatives, or a sheet of a workbook."""

import csv
import datetime
import io
import re
import warnings
import xml.etree.ElementTree
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from ...model import suggestion
from ..asking.cook_tables import LoggerSection
from .touched import LogError

_SEPARATORS = (",", ";", "\t", "|")
_WORKBOOK = b"PK\x03\x04"  # how every zip archive, so every xlsx file, begins
_MOST_ROWS = 400_000  # ten readings a second for eleven hours
# What openpyxl raises on workbooks that are damaged, which is nearly anything (seen by flipping bytes).
_DAMAGED = (
    *(zipfile.BadZipFile, zlib.error, xml.etree.ElementTree.ParseError, EOFError, OSError),
    *(KeyError, ValueError, TypeError, IndexError, AttributeError, RuntimeError, AssertionError),
)
_COMMA = re.compile(r"[+-]?\d+,\d+")
_POINT = re.compile(r"[+-]?\d+\.\d+")


@dataclass(frozen=True)
class Sheet:
    """A log as text.

    Parameters
    ----------
    file : str
    names : tuple of str
        Over the columns; empty where the log has none.
    rows : list of (line, cells)
        Lines count from 1 as an editor counts them.
    decimal : "." or ","
    notes : tuple of str
        What was found by itself rather than told.
    """

    file: str
    names: tuple[str, ...]
    rows: list[tuple[int, list[str]]]
    decimal: str = "."
    notes: tuple[str, ...] = field(default=())

    def index(self, column: str | int) -> int:
        """Place of a column, from 0 on.

        Raises
        ------
        LogError
            No such column, with the nearest name; or several of this name.
        """
        if isinstance(column, int):
            widest = max((len(cells) for _, cells in self.rows), default=len(self.names))
            if column > max(widest, len(self.names)):
                raise LogError([f"{self.file} has {widest} columns"])
            return column - 1
        found = [place for place, name in enumerate(self.names) if name == column]
        found = found or [
            i for i, name in enumerate(self.names) if name.casefold() == column.strip().casefold()
        ]
        if len(found) == 1:
            return found[0]
        if found:
            numbers = " and ".join(str(place + 1) for place in found)
            raise LogError(
                [f"{self.file} has columns {numbers} of this name; write the number of the one meant"]
            )
        raise LogError([self._no_column(column)])

    def _no_column(self, column: str) -> str:
        if not self.names:
            return f"{self.file} has no line of names; write the column's number"
        for line, cells in self.rows[:30]:
            if column in (cell.strip() for cell in cells):
                return f"{self.file} has this name in line {line}; write header_row = {line}"
        return f"{self.file} has no column of this name; {suggestion(column, [n for n in self.names if n])}"


def sheet_of(file: str, contents: bytes, form: LoggerSection) -> Sheet:
    """The rows of a log.

    Parameters
    ----------
    file : str
        Its name; the ending `.xlsx` tells a workbook.
    contents : bytes
    form : LoggerSection
        How it is written.

    Raises
    ------
    LogError
        It cannot be read at all; what to do about it.
    """
    if contents[:4] == _WORKBOOK or file.lower().endswith((".xlsx", ".xlsm")):
        lines, decimal = _workbook_rows(file, contents, form.sheet), "."
        notes: list[str] = []
    else:
        lines, decimal, notes = _text_rows(file, contents, form)
    names, rows = _under_header(lines, form)
    if not rows:
        raise LogError([f"files: {file} holds no row of readings"])
    return Sheet(file, names, rows, form.decimal or decimal, tuple(f"{file}: {note}" for note in notes))


def _text_rows(
    file: str, contents: bytes, form: LoggerSection
) -> tuple[list[tuple[int, list[str]]], str, list[str]]:
    """Rows of a text, its decimal mark, and what was found by itself."""
    text, notes = _decoded(contents, form.encoding)
    numbered = [
        (line, text) for line, text in enumerate(re.split(r"\r\n|\n|\r", text), start=1) if text.strip()
    ]
    if len(numbered) > _MOST_ROWS:
        raise LogError(
            [f"files: {file} has more than {_MOST_ROWS} rows; leave out what is no part of the cook"]
        )
    plain = [(line, text) for line, text in numbered if not (form.comment and text.startswith(form.comment))]
    separator = form.separator or _separator([text for _, text in plain])
    # Each line by itself: a stray quote must not swallow those below it.
    rows = [(line, _cells(text, separator)) for line, text in plain]
    decimal = _decimal(rows, separator)
    if decimal == "," and form.decimal is None:
        notes.append('numbers are written with a comma, as in "21,5"')
    return rows, decimal, notes


def _decoded(contents: bytes, encoding: str | None) -> tuple[str, list[str]]:
    """The text of a file; a byte that cannot be read is a mark for one, never a stop."""
    notes = []
    if encoding is not None:
        try:
            text = contents.decode(encoding, errors="replace")
        except LookupError as error:
            raise LogError(
                [f'encoding = "{encoding}": is not known; leave it out, or write "utf-8"']
            ) from error
    elif contents[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = contents.decode("utf-16", errors="replace")
    else:
        try:
            text = contents.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = contents.decode("latin-1")
            notes.append('is no UTF-8 and was read as latin-1; write encoding = "..." if names look wrong')
    if "\0" in text:
        notes.append(
            f"{text.count(chr(0))} empty bytes were left out, as a logger writes when its power fails"
        )
    return text.replace("\0", "").removeprefix("\ufeff"), notes


def _separator(lines: Sequence[str]) -> str:
    """The separator that cuts most of the first lines into as many cells; spaces where there is none.

    A comma only if no other is in nearly all lines: numbers may hold one, so it proves little.
    """
    first = lines[:40]
    for separator in _SEPARATORS[1:]:
        if first and sum(separator in line for line in first) >= 0.9 * len(first):
            return separator
    counts = {mark: Counter(line.count(mark) for line in first if mark in line) for mark in _SEPARATORS}
    best = max(_SEPARATORS, key=lambda mark: max(counts[mark].values(), default=0))
    return best if counts[best] else " "


def _cells(line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except (csv.Error, StopIteration, TypeError):
        return [cell.strip() for cell in line.split(separator)]


def _decimal(rows: Sequence[tuple[int, list[str]]], separator: str) -> str:
    """The decimal mark that more of the first cells show."""
    if separator == ",":
        cells = [cell for _, cells in rows[:200] for cell in cells if "," in cell]
    else:
        cells = [cell for _, cells in rows[:200] for cell in cells]
    commas = sum(bool(_COMMA.fullmatch(cell)) for cell in cells)
    points = sum(bool(_POINT.fullmatch(cell)) for cell in cells)
    return "," if commas > points else "."


def _workbook_rows(file: str, contents: bytes, sheet: str | None) -> list[tuple[int, list[str]]]:
    import openpyxl  # type: ignore[import-untyped]  # here, because few logs are workbooks and it takes long to load

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and pictures, which no log needs
            book = openpyxl.load_workbook(io.BytesIO(contents), read_only=True, data_only=True)
            names = list(book.sheetnames)
            if sheet is None or sheet in names:
                return list(_sheet_rows(book[sheet or names[0]]))
    except _DAMAGED as error:
        raise LogError(
            [f"files: {file} is no workbook that can be opened; save it anew as xlsx or CSV"]
        ) from error
    raise LogError([f'sheet = "{sheet}": {file} has no such sheet; {suggestion(sheet, names)}'])


def _sheet_rows(sheet: Any) -> Iterator[tuple[int, list[str]]]:
    sheet.reset_dimensions()  # which damaged or foreign files have wrong
    for line, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        if line > _MOST_ROWS:
            return
        texts = [_cell_text(cell) for cell in cells]
        if any(texts):
            yield line, texts


def _cell_text(value: Any) -> str:
    """What stands in a cell of a workbook, as text: dates in ISO 8601."""
    if value is None:
        return ""
    if isinstance(value, (datetime.datetime, datetime.date, datetime.time)):
        return value.isoformat(" ") if isinstance(value, datetime.datetime) else value.isoformat()
    return repr(value) if isinstance(value, float) else str(value).strip()


def _under_header(
    lines: list[tuple[int, list[str]]], form: LoggerSection
) -> tuple[tuple[str, ...], list[tuple[int, list[str]]]]:
    """Names of the columns, and the rows under them."""
    number = form.header_row
    if number == 0 or (number is None and not any(isinstance(column, str) for column in columns_of(form))):
        return (), lines
    if number is None:
        number = lines[0][0] if lines else 1
    names = next((cells for line, cells in lines if line == number), [])
    return tuple(names), [(line, cells) for line, cells in lines if line > number]


def columns_of(form: LoggerSection) -> Iterator[str | int]:
    """Every column that a logger's table names."""
    if form.time is not None:
        yield from (c for c in (form.time.column, form.time.clock_column) if c is not None)
    for name in SERIES:
        series = getattr(form, name)
        if series is not None and series.column is not None:
            yield series.column
    if form.reaim_column is not None:
        yield form.reaim_column


SERIES = ("food", "pot", "plate", "air_inside", "cover", "air", "irradiance", "diffuse", "wind")
"""Keys of all that a logger may measure."""
