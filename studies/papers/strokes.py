"""Lines and words of a sheet, in millimetres, whatever they are drawn with."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..asking.quantity import System
from .measures import length_words
from .nesting import Placed, Sheet

Floats = NDArray[np.float64]

# What a line means; drawings keep each kind on a layer of its own.
CUT, FAR_FACE, FOLD, MARK, STOCK, BAR, WORDS = "CUT", "FAR_FACE", "FOLD", "MARK", "STOCK", "BAR", "WORDS"
MEANINGS = {
    CUT: "cut here",
    FAR_FACE: "edge of the smaller face: bevel to it",
    FOLD: "fold here",
    MARK: "mark, do not cut",
    STOCK: "edge of the stock sheet",
    BAR: "100 mm and 4 in: measure before you cut",
}
INCH = 25.4  # mm
BARS = ((100.0, "100 mm"), (4 * INCH, "4 in"))  # mm, and what stands beside
BAR_APART = 8.0  # mm
MARGIN = 30.0  # mm, below the sheet for the bars and the title
LETTER = 5.0  # mm
SMALL = 3.5  # mm; numbers at marks


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line through points."""

    layer: str
    points: Floats  # [point, 2] mm
    closed: bool


@dataclass(frozen=True)
class Words:
    """Words from a point to the right."""

    text: str
    at: tuple[float, float]  # mm, lower left
    height: float  # mm


def strokes_of(sheet: Sheet, system: System = "metric") -> Iterator[Stroke | Words]:
    """Everything on a sheet: its edge, the pieces, their folds and names, bars to measure, a title below."""
    width, length = 1e3 * sheet.width, 1e3 * sheet.length
    yield Stroke(STOCK, np.array([[0, 0], [width, 0], [width, length], [0, length]], float), closed=True)
    for placed in sheet.placed:
        yield from strokes_of_piece(placed)
    low = -MARGIN / 3
    yield from bars((0.0, low), LETTER)
    thick, wide, long = (length_words(side, system) for side in (sheet.thickness, sheet.width, sheet.length))
    yield Words(f"{sheet.material}, {thick} thick, sheet {wide} x {long}", (140.0, low - LETTER / 2), LETTER)


def bars(at: tuple[float, float], height: float) -> Iterator[Stroke | Words]:
    """Bars of 100 mm and, below it, of 4 in, with ends and names, from their left end."""
    for number, (length, name) in enumerate(BARS):
        x, y = at[0], at[1] - BAR_APART * number
        yield Stroke(BAR, np.array([[x, y], [x + length, y]]), closed=False)
        for end in (x, x + length):
            yield Stroke(BAR, np.array([[end, y - 2], [end, y + 2]]), closed=False)
        yield Words(name, (x + BARS[1][0] + 3, y - height / 2), height)


def strokes_of_piece(placed: Placed) -> Iterator[Stroke | Words]:
    """One piece where it lies, with what it is and how to bevel and fold it."""
    blank = placed.blank

    def there(points: Floats) -> Floats:
        return 1e3 * placed.on_sheet(points)

    yield Stroke(CUT, there(blank.outline), closed=True)
    for hole in blank.holes:
        yield Stroke(CUT, there(hole), closed=True)
    if any(abs(bevel) > math.radians(0.05) for bevel in blank.bevels):
        yield Stroke(FAR_FACE, there(blank.inner), closed=True)
    for line, _ in blank.folds:
        yield Stroke(FOLD, there(line), closed=False)
    for mark in blank.marks:
        yield from _marked(there(mark.points), mark.text)
    yield from _named(placed)


def _marked(points: Floats, text: str) -> Iterator[Stroke | Words]:
    """A line to mark; words alone stand about their point."""
    if len(points) > 1:
        yield Stroke(MARK, points, closed=False)
    if text:
        alone = len(points) == 1
        x, y = points[0] if alone else points[len(points) // 2]
        aside = -0.3 * SMALL * len(text) if alone else 2.0
        yield Words(text, (float(x) + aside, float(y) - SMALL / 2 + (0.0 if alone else SMALL)), SMALL)


def _named(placed: Placed) -> Iterator[Words]:
    """Name and instructions in the middle, or below the hole there."""
    blank = placed.blank
    lines = [_name(placed), *_instructions(placed)]
    room = min(blank.size)
    x, y = blank.outline.mean(axis=0)
    if blank.holes:
        low, hole = blank.outline[:, 1].min(), blank.holes[0][:, 1].min()
        y, room = (low + hole) / 2, hole - low
    middle = 1e3 * placed.on_sheet(np.array([[x, y]]))[0]
    height = min(LETTER, 1e3 * room / (2 * len(lines) + 1))
    for k, text in enumerate(lines):
        down = (k - (len(lines) - 1) / 2) * 1.6 * height
        yield Words(text, (float(middle[0]) - 0.3 * height * len(text), float(middle[1]) - down), height)


def _name(placed: Placed) -> str:
    several = placed.blank.count > 1
    return placed.blank.name + (f": piece {placed.number} of {placed.blank.count}" if several else "")


def _instructions(placed: Placed) -> Iterator[str]:
    """Bevels and folds in words, and what to mind."""
    blank = placed.blank
    bevels = sorted({round(math.degrees(bevel), 1) for bevel in blank.bevels} - {0.0})
    if bevels:
        yield f"bevels {', '.join(f'{bevel:g}' for bevel in bevels)} deg from square"
    folds = sorted({round(math.degrees(abs(fold)), 1) for _, fold in blank.folds})
    if folds:
        yield f"fold by {', '.join(f'{fold:g}' for fold in folds)} deg"
    yield from blank.note.split("; ") if blank.note else ()
