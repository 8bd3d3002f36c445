"""Pages to print for the field: the plate of the aiming sight at full size, and tables."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from numpy.typing import NDArray

from ..asking.quantity import System
from .measures import cell, length_words
from .page import ABOUT, EDGE, PAPERS, POINT, STYLE, draw, paper_of
from .sight_plate import Plate
from .strokes import Words, bars

LETTER = 3.0  # mm
ABOVE, BELOW = 72.0, 32.0  # mm that words and bars take above and below the rings of the sight
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
    room = (height - 2 * EDGE - ABOVE - BELOW) / 2
    drawn = 1e3 * np.nan_to_num(plate.ring_radius, nan=np.inf) < min(room, width / 2 - EDGE)
    left, low = -width / 2, -(EDGE + BELOW + room)  # of the page, from the cross
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (left, low))
        for number in map(int, np.flatnonzero(drawn)):
            _ring(axes, float(plate.ring_radius[number]), _share(plate.loss[number]), 60 - 35 * number)
        _ring(axes, plate.centred_within, "", 0)
        axes.plot([-6, 6], [0, 0], color="black", linewidth=0.5)
        axes.plot([0, 0], [-6, 6], color="black", linewidth=0.5)
        lines = _instructions(plate, drawn, about, system)
        at, top = left + EDGE + 5, low + height - EDGE - 5
        draw([Words(text, (at, top - 6 * k), LETTER) for k, text in enumerate(lines)], axes)
        print_so = Words("Print at 100 % and measure:", (-60.0, low + EDGE + 20), LETTER)
        draw([*bars((-60.0, low + EDGE + 15), LETTER), print_so], axes)
        figure.savefig(path, metadata=ABOUT)


def _instructions(plate: Plate, drawn: NDArray[np.bool_], about: str, system: System) -> list[str]:
    """What the plate is for, and what its rings mean."""
    post, wide = length_words(plate.post_height, system), length_words(plate.post_width, system)
    centred = length_words(plate.centred_within, system)
    lines = [
        "EYES: look at the shadow, never at the sun or into the mirrors; stand beside the oven, not before its mouth.",
        *([about] if about else []),
        f"Aiming sight: a post {post} high and at least {wide} wide, square on the cross.",
        "Fix the plate flat in the plane of the mouth, this edge up the slope.",
        f"Aim until the tip of the shadow is in the small ring, {centred} round the cross.",
        "Inside a ring the pot takes in at most so much less light of the sun:",
    ]
    for loss, radius, angle in zip(
        plate.loss[drawn], plate.ring_radius[drawn], plate.ring_angle[drawn], strict=True
    ):
        lines.append(
            f"   {_share(loss)}: {length_words(radius, system)}, {math.degrees(angle):.1f} deg off the sun"
        )
    if not drawn.all():
        beyond = " and ".join(map(_share, plate.loss[~drawn]))
        lines.append(f"Beyond this paper or further than was looked at: {beyond} less light.")
    return lines


def _share(loss: float) -> str:
    return f"{100 * loss:.0f} %"


def _ring(axes: Axes, radius: float, name: str, degrees: float) -> None:
    """A ring, its name on it in some direction; neighbouring rings are named in others."""
    turn, towards, size = np.linspace(0, 2 * np.pi, 361), np.radians(degrees), 1e3 * radius
    axes.plot(size * np.cos(turn), size * np.sin(turn), color="black", linewidth=0.6)
    if name:
        at = (float(size * np.cos(towards)), float(size * np.sin(towards)))
        behind = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
        axes.text(*at, name, fontsize=LETTER / POINT, ha="center", va="center", bbox=behind)


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
