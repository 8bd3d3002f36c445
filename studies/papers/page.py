"""Drawings at full size: a stock sheet as SVG, a single piece as PDF on tiles of paper to be joined."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...model import Blank
from ..asking.quantity import System
from .nesting import Placed, Sheet
from .strokes import (
    BAR,
    CUT,
    FAR_FACE,
    FOLD,
    INCH,
    MARGIN,
    MARK,
    MEANINGS,
    STOCK,
    Stroke,
    Words,
    bars,
    strokes_of,
    strokes_of_piece,
)

POINT = INCH / 72  # mm
PAPERS = {"A4": (210.0, 297.0), "Letter": (8.5 * INCH, 11.0 * INCH)}  # mm; ISO 216, ANSI/ASME Y14.1
EDGE = 10.0  # mm that printers leave blank
OVERLAP = 10.0  # mm that neighbouring tiles share
PENS: dict[str, Any] = {
    CUT: {"color": "black", "linewidth": 0.9},
    FAR_FACE: {"color": "#0072B2", "linewidth": 0.7, "linestyle": (0, (4, 2))},
    FOLD: {"color": "#009E73", "linewidth": 0.7, "linestyle": (0, (8, 2, 1, 2))},
    MARK: {"color": "#CC79A7", "linewidth": 0.5},
    STOCK: {"color": "#8a8a8a", "linewidth": 0.5},
    BAR: {"color": "black", "linewidth": 1.2},
}
ABOUT: dict[str, Any] = {"CreationDate": None, "Producer": None, "Creator": None}  # so that bytes are equal
STYLE: Any = {"svg.hashsalt": "noonhearth", "svg.fonttype": "none", "pdf.fonttype": 42}


def write_svg(sheet: Sheet, path: Path, system: System = "metric") -> None:
    """Write a sheet at 1:1."""
    width, height = 1e3 * sheet.width + 2 * EDGE, 1e3 * sheet.length + MARGIN + 2 * EDGE
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (-EDGE, -MARGIN - EDGE))
        draw(strokes_of(sheet, system), axes)
        figure.savefig(path, metadata={"Date": None, "Creator": None})


def write_pdf(blank: Blank, path: Path, paper: str = "A4") -> int:
    """Write one piece at 1:1 on tiles of paper, with crosses to join them; the number of pages."""
    whole = PAPERS[paper]
    placed = Placed(blank, 1, (0.0, 0.0), 0)
    tiles = list(tiles_of(blank, whole))
    with mpl.rc_context(STYLE), PdfPages(path, metadata=ABOUT) as pages:
        for number, (name, (x, y)) in enumerate(tiles, start=1):
            figure, axes = paper_of(*whole, (x - EDGE, y - EDGE))
            draw(strokes_of_piece(placed), axes)
            title = f"{blank.name}: tile {name}, page {number} of {len(tiles)}; print at 100 % and measure the bars"
            _frame(axes, (x, y), whole, title)
            pages.savefig(figure)
    return len(tiles)


def tiles_of(blank: Blank, paper: tuple[float, float]) -> Iterator[tuple[str, tuple[float, float]]]:
    """Name of each tile, and the lower left corner of what it shows. [mm]"""
    strides = [side - 2 * EDGE - OVERLAP for side in paper]
    across, up = (
        max(1, int(np.ceil((1e3 * side - OVERLAP) / stride)))
        for side, stride in zip(blank.size, strides, strict=True)
    )
    for row in range(up):
        for column in range(across):
            yield f"{row + 1}-{column + 1}", (column * strides[0], row * strides[1])


def legend() -> list[str]:
    """What each kind of line means."""
    return [f"`{layer}`: {meaning}" for layer, meaning in MEANINGS.items()]


def paper_of(width: float, height: float, corner: tuple[float, float]) -> tuple[Figure, Axes]:
    """A figure of so many millimetres whose axes count millimetres from a corner."""
    figure = Figure(figsize=(width / INCH, height / INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(corner[0], corner[0] + width), ylim=(corner[1], corner[1] + height))
    axes.set_axis_off()
    return figure, axes


def draw(marks: Iterable[Stroke | Words], axes: Axes) -> None:
    """Draw what shows on the paper; a tile of a large piece shows little of it."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    window = np.array([[left, low], [right, high]])
    for mark in marks:
        if isinstance(mark, Stroke):
            points = np.vstack([mark.points, mark.points[:1]]) if mark.closed else mark.points
            if (points.max(axis=0) >= window[0]).all() and (points.min(axis=0) <= window[1]).all():
                # A line without its own limits to find: hundreds of degree marks would take seconds.
                axes.add_line(Line2D(*points.T, solid_capstyle="butt", gid=mark.layer, **PENS[mark.layer]))
        elif (np.array(mark.at) <= window[1]).all() and mark.at[1] >= window[0][1] - mark.height:
            axes.text(*mark.at, mark.text, fontsize=mark.height / POINT, clip_on=True)


def _frame(axes: Axes, corner: tuple[float, float], paper: tuple[float, float], title: str) -> None:
    """Edge of a tile, crosses where tiles overlap, a bar to measure on every page."""
    width, height = paper[0] - 2 * EDGE, paper[1] - 2 * EDGE
    x, y = corner
    edge = np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])
    marks: list[Stroke | Words] = [Stroke(STOCK, edge, closed=True)]
    for a in (x + OVERLAP / 2, x + width - OVERLAP / 2):
        for b in (y + OVERLAP / 2, y + height - OVERLAP / 2):
            marks += [
                Stroke(STOCK, np.array([[a - 4, b], [a + 4, b]]), closed=False),
                Stroke(STOCK, np.array([[a, b - 4], [a, b + 4]]), closed=False),
            ]
    marks += [*bars((x + 25.0, y + 17.0), 2.5), Words(title, (x + 25.0, y + 20.0), 2.5)]
    draw(marks, axes)
