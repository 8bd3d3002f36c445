"""Figures of results: each takes a Dataset and gives a matplotlib figure; none of them simulates."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import xarray as xr

from .drawing import Drawn
from .tellings import telling_of

STYLE: Any = {
    "svg.hashsalt": "noonhearth",  # so that equal data give equal bytes
    "svg.fonttype": "none",
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "legend.frameon": False,
    "figure.constrained_layout.use": True,
}


def drawn(dataset: xr.Dataset) -> Iterator[Drawn]:
    """All figures of a result, by the kind of study it holds."""
    with mpl.rc_context(STYLE):
        for maker in telling_of(dataset).figures:
            found = maker(dataset)
            if found is not None:
                yield found


def save(drawing: Drawn, folder: Path, *, prefix: str) -> list[Path]:
    """Write the figure as SVG and its numbers as CSV; equal data give equal bytes."""
    svg, csv = (folder / f"{prefix}-{drawing.name}.{ending}" for ending in ("svg", "csv"))
    with mpl.rc_context(STYLE):
        drawing.figure.savefig(svg, metadata={"Date": None, "Creator": None})
    drawing.table.to_csv(csv, index=False, float_format="%.6g")
    return [svg, csv]
