"""Pages to print for the field: the plate of the aiming sight at full size, and tables."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages

from ..asking.quantity import System
from .measures import cell, length_words
from .page import ABOUT, EDGE, PAPERS, STYLE, draw, paper_of
from .sight_plate import Plate
from .strokes import Words, bars

LETTER = 3.0  # mm
LINE = 4.6  # mm, from row to row
HEAD = 8.0  # mm that a title takes
APART = 6.0  # mm between tables
WIDEST = 1.9  # mm a letter, in tables that have room


class Printed(NamedTuple):
    """A table to print."""

    title: str
    frame: pd.DataFrame
    cautions: tuple[str, ...] = ()


def write_sight(plate: Plate, path: Path, paper: str, *, about: str = "", system: System = "metric") -> None:
    """The plate of the sight at 1:1: rings by what a shadow that reaches them costs in light."""
    width, height = PAPERS[paper]
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (-width / 2, -height / 2))
        outside = []
        for number, (loss, radius) in enumerate(zip(plate.loss, plate.ring_radius, strict=True)):
            if np.isfinite(radius) and 1e3 * radius < width / 2 - EDGE:
                _ring(axes, radius, f"{100 * loss:.0f} % less light", 60 - 35 * number, system)
            else:
                outside.append(f"{100 * loss:.0f} %")
        _ring(axes, plate.centred_within, "centred", 45, system)
        axes.plot([-6, 6], [0, 0], color="black", linewidth=0.5)
        axes.plot([0, 0], [-6, 6], color="black", linewidth=0.5)
        lines = (
            [about, *_instructions(plate, outside, system)]
            if about
            else _instructions(plate, outside, system)
        )
        left, top = -width / 2 + EDGE, height / 2 - EDGE - 5
        draw([Words(text, (left, top - 6 * k), LETTER) for k, text in enumerate(lines)], axes)
        low = -height / 2 + EDGE + 15
        draw(
            [*bars((-60.0, low), LETTER), Words("Print at 100 % and measure:", (-60.0, low + 5), LETTER)],
            axes,
        )
        figure.savefig(path, metadata=ABOUT)


def _instructions(plate: Plate, outside: Sequence[str], system: System) -> list[str]:
    post, wide = length_words(plate.post_height, system), length_words(plate.post_width, system)
    lines = [
        "EYES: look at the shadow, never at the sun or into the mirrors; stand beside the oven, not before its mouth.",
        f"Aiming sight: a post {post} high and at least {wide} wide, square on the cross.",
        "Fix the plate flat in the plane of the mouth, this edge up the slope.",
        "Aim until the tip of the shadow is on the cross.",
    ]
    if outside:
        lines.append(f"Beyond this paper or further than was looked at: {' and '.join(outside)} less light.")
    return lines


def _ring(axes: Axes, radius: float, text: str, degrees: float, system: System) -> None:
    """A ring with its name beside it in some direction; neighbouring rings are named in others."""
    turn, towards, size = np.linspace(0, 2 * np.pi, 361), np.radians(degrees), 1e3 * radius
    axes.plot(size * np.cos(turn), size * np.sin(turn), color="black", linewidth=0.6)
    at = (float(size * np.cos(towards)) + 1.5, float(size * np.sin(towards)) + 1.5)
    draw([Words(f"{text}: {length_words(radius, system)}", at, LETTER)], axes)


def write_tables(tables: Sequence[Printed], path: Path, paper: str) -> int:
    """Tables one below the other, those that do not fit on the next page; the number of pages."""
    height = PAPERS[paper][1] - 2 * EDGE - 10
    lines = int((height - HEAD) / LINE) - 1
    pages: list[list[Printed]] = [[]]
    room = height
    for part in (part for table in tables for part in _parts(table, lines)):
        needed = _height(part) + APART
        if needed > room and pages[-1]:
            pages.append([])
            room = height
        pages[-1].append(part)
        room -= needed
    with mpl.rc_context(STYLE), PdfPages(path, metadata=ABOUT) as written:
        for page in pages:
            figure, axes = paper_of(*PAPERS[paper], (0, 0))
            top = PAPERS[paper][1] - EDGE - 8
            for part in page:
                _draw_table(axes, part, top, PAPERS[paper][0])
                top -= _height(part) + APART
            written.savefig(figure)
    return len(pages)


def _parts(table: Printed, lines: int) -> list[Printed]:
    """A table in pieces that a page holds, title and cautions on each."""
    step = max(1, lines - len(table.cautions))
    cuts = range(0, max(len(table.frame), 1), step)
    return [table._replace(frame=table.frame.iloc[first : first + step]) for first in cuts]


def _height(table: Printed) -> float:
    return HEAD + LINE * (1 + len(table.frame) + len(table.cautions))


def _draw_table(axes: Axes, table: Printed, top: float, width: float) -> None:
    """Title, columns as wide as their longest cell, cautions below."""
    left, begin = EDGE + 5.0, top - HEAD
    draw([Words(table.title, (left, top), 1.4 * LETTER)], axes)
    rows = _texts(table.frame)
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    scale = min(WIDEST, (width - 2 * EDGE - 10) / (sum(widths) + 2 * len(widths)))  # mm a letter
    at = left
    for k, letters in enumerate(widths):
        draw([Words(row[k], (at, begin - LINE * line), 1.45 * scale) for line, row in enumerate(rows)], axes)
        at += scale * (letters + 2)
    low = begin - LINE * len(rows)
    draw([Words(text, (left, low - LINE * k), 0.95 * LETTER) for k, text in enumerate(table.cautions)], axes)


def _texts(frame: pd.DataFrame) -> list[list[str]]:
    """Names and cells as text; the unit of a value stands in its column's name or in a column of its own."""
    names = [str(column) for column in frame.columns]
    units = [name.partition("[")[2].removesuffix("]") for name in names]
    rows = [names]
    for row in frame.itertuples(index=False):
        beside = str(row[names.index("unit")]) if "unit" in names else ""
        rows.append([cell(value, unit or beside) for value, unit in zip(row, units, strict=True)])
    return rows
