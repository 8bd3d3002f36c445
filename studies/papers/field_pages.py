"""Pages to print for the field: the plate of the aiming sight at full size, a form for test cooks, tables."""

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from .page import ABOUT, EDGE, PAPERS, STYLE, draw, paper_of
from .strokes import Words, bar

LINES = 52  # of a table on a page
LETTER = 3.0  # mm
LOG_ROWS = 30


def write_sight(aiming: xr.Dataset, path: Path, paper: str) -> None:
    """The plate of the sight at 1:1, from an aiming study: rings by what a shadow that reaches them costs in light."""
    width, height = PAPERS[paper]
    post = 1e3 * float(aiming["post_height"])
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (-width / 2, -height / 2))
        rings = zip(aiming["loss"].to_numpy(), 1e3 * aiming["ring_radius"].to_numpy(), strict=True)
        for number, (loss, radius) in enumerate(rings):
            if np.isfinite(radius) and radius < width / 2 - EDGE:
                _ring(axes, radius, f"{100 * loss:.0f} % less light", towards=np.radians(60 - 35 * number))
        _ring(axes, 1e3 * float(aiming["centred_within"]), "centred", towards=np.radians(45))
        axes.plot([-6, 6], [0, 0], color="black", linewidth=0.5)
        axes.plot([0, 0], [-6, 6], color="black", linewidth=0.5)
        top = height / 2 - EDGE - 5
        wide = 1e3 * float(aiming["post_width"])
        lines = [
            f"Aiming sight: a post {post:.0f} mm high, {wide:.1f} mm wide or wider, square on the cross.",
            "Fix the plate flat in the plane of the mouth, this edge up the slope.",
            "Aim until the tip of the shadow is on the cross.",
            "Look at the shadow, never at the sun or into the mirrors.",
        ]
        at = [(-width / 2 + EDGE, top - 6 * k) for k in range(len(lines))]
        draw([Words(text, place, LETTER) for text, place in zip(lines, at, strict=True)], axes)
        low = -height / 2 + EDGE + 5
        draw(
            [*bar((-50.0, low)), Words("100 mm: print at 100 % and measure", (-50.0, low + 3), LETTER)], axes
        )
        figure.savefig(path, metadata=ABOUT)


def _ring(axes: Axes, radius: float, text: str, *, towards: float) -> None:
    """A ring with its name beside it in some direction; neighbouring rings are named in others."""
    turn = np.linspace(0, 2 * np.pi, 361)
    axes.plot(radius * np.cos(turn), radius * np.sin(turn), color="black", linewidth=0.6)
    at = (float(radius * np.cos(towards)) + 1.5, float(radius * np.sin(towards)) + 1.5)
    draw([Words(f"{text}: {radius:.0f} mm", at, LETTER)], axes)


def write_tables(tables: Sequence[tuple[str, pd.DataFrame]], path: Path, paper: str) -> int:
    """Tables as pages, the heading again on each; the number of pages."""
    pages_written = 0
    with mpl.rc_context(STYLE), PdfPages(path, metadata=ABOUT) as pages:
        for title, frame in tables:
            for first in range(0, max(len(frame), 1), LINES):
                pages.savefig(_table_page(title, frame.iloc[first : first + LINES], paper))
                pages_written += 1
    return pages_written


def _table_page(title: str, frame: pd.DataFrame, paper: str) -> Figure:
    width, height = PAPERS[paper]
    figure, axes = paper_of(width, height, (0, 0))
    top = height - EDGE - 8
    draw([Words(title, (EDGE + 5, top), 1.4 * LETTER)], axes)
    columns = [str(column) for column in frame.columns]
    rows = [columns, *[[str(cell) for cell in row] for row in frame.itertuples(index=False)]]
    widths = [max(len(row[k]) for row in rows) for k in range(len(columns))]
    scale = min(1.9, (width - 2 * EDGE - 10) / (sum(widths) + 2 * len(widths)))  # mm a letter
    at = EDGE + 5.0
    for k, letters in enumerate(widths):
        for line, row in enumerate(rows):
            draw([Words(row[k], (at, top - 10 - 4.6 * line), 1.45 * scale)], axes)
        at += scale * (letters + 2)
    return figure


def write_log_form(path: Path, paper: str, *, sensors: Sequence[str], heading: Sequence[str]) -> None:
    """A form for a test cook: what was cooked, weather, a line every so many minutes."""
    width, height = PAPERS[paper]
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (0, 0))
        top = height - EDGE - 8
        draw([Words("Log of a test cook", (EDGE + 5, top), 1.4 * LETTER)], axes)
        for k, text in enumerate(heading):
            draw([Words(f"{text}:", (EDGE + 5, top - 8 - 6 * k), LETTER)], axes)
            axes.plot([EDGE + 75, width - EDGE - 5], [top - 9 - 6 * k] * 2, color="#8a8a8a", linewidth=0.4)
        begin = top - 14 - 6 * len(heading)
        edges = np.linspace(EDGE + 5, width - EDGE - 5, len(sensors) + 1)
        lines = begin - (begin - EDGE - 12) / (LOG_ROWS + 1) * np.arange(LOG_ROWS + 2)
        for y in lines:
            axes.plot([edges[0], edges[-1]], [y, y], color="#8a8a8a", linewidth=0.4)
        for x in edges:
            axes.plot([x, x], [lines[0], lines[-1]], color="#8a8a8a", linewidth=0.4)
        draw(
            [
                Words(name, (x + 1, lines[1] + 1.5), 0.75 * LETTER)
                for name, x in zip(sensors, edges, strict=False)
            ],
            axes,
        )
        draw([Words(FORM_CAUTION, (EDGE + 5, EDGE + 4), 0.8 * LETTER)], axes)
        figure.savefig(path, metadata=ABOUT)


FORM_CAUTION = (
    "Pot, steam, glass and sheet burn: gloves. Never look into the mirrors. "
    "Throw away food that stood from 5 to 60 degC for two hours."
)
