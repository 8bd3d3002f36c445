"""Figures of results: each takes a Dataset and gives a matplotlib figure; none of them simulates."""

from collections.abc import Iterator
from pathlib import Path

import matplotlib as mpl
import xarray as xr

from .drawings.drawing import STYLE, Drawn
from .tellings import telling_of


def drawn(dataset: xr.Dataset) -> Iterator[Drawn]:
    """All figures of a result, by the kind of study it holds."""
    with mpl.rc_context(STYLE):
        for maker in telling_of(dataset).figures:
            found = maker(dataset)
            if found is not None:
                yield found


def save_sheet(dataset: xr.Dataset, folder: Path, *, prefix: str) -> Path | None:
    """Write the page that a result has to print, as PDF, if its kind has one; equal data give equal bytes."""
    sheet = telling_of(dataset).sheet
    if sheet is None:
        return None
    path = folder / f"{prefix}-report.pdf"
    with mpl.rc_context(STYLE | {"pdf.fonttype": 42, "figure.constrained_layout.use": False}):
        sheet(dataset).savefig(path, metadata={"CreationDate": None, "Producer": None, "Creator": None})
    return path


def save(drawing: Drawn, folder: Path, *, prefix: str) -> list[Path]:
    """Write the figure as SVG and its numbers as CSV; equal data give equal bytes."""
    svg, csv = (folder / f"{prefix}-{drawing.name}.{ending}" for ending in ("svg", "csv"))
    svg.write_bytes(drawing.svg)
    drawing.table.to_csv(csv, index=False, float_format="%.6g")
    return [svg, csv]
