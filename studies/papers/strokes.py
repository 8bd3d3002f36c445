"""Lines and words of a sheet, in millimetres, whatever they are drawn with."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .nesting import Placed, Sheet

Floats = NDArray[np.float64]

# What a line means; drawings keep each kind on a layer of its own.
CUT, FAR_FACE, FOLD, STOCK, BAR, WORDS = "CUT", "FAR_FACE", "FOLD", "STOCK", "BAR", "WORDS"
MEANINGS = {
    CUT: "cut here",
    FAR_FACE: "edge of the smaller face: bevel to it",
    FOLD: "fold here",
    STOCK: "edge of the stock sheet",
    BAR: "100 mm: measure it before you cut",
}
BAR_LENGTH = 100.0  # mm
MARGIN = 20.0  # mm, below the sheet for the bar and the title
LETTER = 5.0  # mm


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


def strokes_of(sheet: Sheet) -> Iterator[Stroke | Words]:
    """Everything on a sheet: its edge, the pieces, their folds and names, a bar to measure, a title below."""
    width, length = 1e3 * sheet.width, 1e3 * sheet.length
    yield Stroke(STOCK, np.array([[0, 0], [width, 0], [width, length], [0, length]], float), closed=True)
    for placed in sheet.placed:
        yield from strokes_of_piece(placed)
    low = -MARGIN / 2
    yield from bar((0.0, low))
    yield Words("100 mm", (BAR_LENGTH + 3, low - LETTER / 2), LETTER)
    title = f"{sheet.material}, {1e3 * sheet.thickness:.3g} mm thick, sheet {width:.0f} x {length:.0f} mm"
    yield Words(title, (BAR_LENGTH + 40, low - LETTER / 2), LETTER)


def bar(at: tuple[float, float]) -> Iterator[Stroke]:
    """A bar of 100 mm with ends, from its left end."""
    x, y = at
    yield Stroke(BAR, np.array([[x, y], [x + BAR_LENGTH, y]]), closed=False)
    for end in (x, x + BAR_LENGTH):
        yield Stroke(BAR, np.array([[end, y - 2], [end, y + 2]]), closed=False)


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
    middle = there(blank.outline).mean(axis=0)
    lines = [f"{blank.name} {placed.number}/{blank.count}", *_instructions(placed)]
    height = min(LETTER, 1e3 * min(blank.size) / (2 * len(lines) + 1))
    for k, text in enumerate(lines):
        down = (k - (len(lines) - 1) / 2) * 1.6 * height
        yield Words(text, (float(middle[0]) - 0.3 * height * len(text), float(middle[1]) - down), height)


def _instructions(placed: Placed) -> Iterator[str]:
    """Bevels and folds in words, and what to mind."""
    blank = placed.blank
    bevels = sorted({round(math.degrees(bevel), 1) for bevel in blank.bevels} - {0.0})
    if bevels:
        yield f"bevels {', '.join(f'{bevel:g}' for bevel in bevels)} deg from square"
    folds = sorted({round(math.degrees(abs(fold)), 1) for _, fold in blank.folds})
    if folds:
        yield f"fold by {', '.join(f'{fold:g}' for fold in folds)} deg"
    if blank.note:
        yield blank.note
