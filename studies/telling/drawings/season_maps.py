"""A map over a region: places down from north to south, months across, one number in each."""

from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import ScalarFormatter
from numpy.typing import NDArray

from .drawing import GREY

Floats = NDArray[np.float64]

BRIGHT_IS_HIGH, BRIGHT_IS_LOW = (
    "viridis",
    "viridis_r",
)  # lightness goes evenly: readable in grey and colour-blind
_PRINTED = 180  # cells; more numbers than these are too small to read
_SHORT = 6  # letters that fit into a cell
_ROW, _COLUMN, _SIDES, _ENDS = 0.34, 0.56, 2.3, 0.75  # in


@dataclass(frozen=True)
class Grid:
    """Where each cell of a region stands on its maps."""

    places: tuple[str, ...]
    months: tuple[str, ...]
    row: NDArray[np.int64]  # [cell]
    column: NDArray[np.int64]  # [cell]

    def spread(self, values: Floats) -> Floats:
        """Values of cells as a map; nan where there is no cell. float64[row, column]"""
        spread = np.full((len(self.places), len(self.months)), np.nan)
        spread[self.row, self.column] = values
        return spread


def grid_of(season: xr.Dataset) -> Grid:
    """Places from north to south, months in the order they were asked for."""
    place, month = season["place"].to_numpy(), season["month_name"].to_numpy()
    order = np.argsort(-season["latitude"].to_numpy(), kind="stable")
    places = list(dict.fromkeys(place[order].tolist()))
    months = list(dict.fromkeys(month.tolist()))
    return Grid(
        places=tuple(places),
        months=tuple(months),
        row=np.array([places.index(one) for one in place]),
        column=np.array([months.index(one) for one in month]),
    )


def panels(grid: Grid, count: int) -> tuple[Figure, list[Axes]]:
    """A figure of so many maps, one below the other."""
    width = _SIDES + _COLUMN * len(grid.months)
    height = count * (_ENDS + _ROW * len(grid.places))
    figure = Figure(figsize=(max(width, 5.0), max(height, 1.8)))
    return figure, list(figure.subplots(count, 1, squeeze=False)[:, 0])


def map_on(
    axes: Axes,
    grid: Grid,
    values: Floats,
    *,
    title: str,
    colours: str = BRIGHT_IS_HIGH,
    top: float | None = None,
    span: float = 0.0,
    words: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
    missing: str = "none",
) -> None:
    """Draw one number for each cell, hatched and labelled where it is nan.

    Parameters
    ----------
    values : float64[cell]
    top : float, optional
        End of the colours, from 0 on; from the least to the most if not given.
    span : float
        Colours go over this much at least, lest next to nothing look like a lot.
    words : tuple of str
        What the numbers stand for, if they are places in a list.
    notes : tuple of str
        Of each cell, written behind its number.
    missing : str
        What is written where there is no number.
    """
    low, high = (0.0, top) if top is not None else _ends(values, len(words), span)
    palette = mpl.colormaps[colours].resampled(len(words)) if words else mpl.colormaps[colours]
    scale = Normalize(low, high)
    image = axes.imshow(grid.spread(values), cmap=palette, norm=scale, aspect="auto")
    bar = axes.figure.colorbar(
        image, ax=axes, pad=0.02, fraction=0.05, format=ScalarFormatter(useOffset=False)
    )
    if words:
        bar.set_ticks(range(len(words)), labels=list(words))
    bar.outline.set_visible(False)
    texts = _words_of(values, words) if words else _printed(values)
    for cell, value in enumerate(values):
        x, y = grid.column[cell], grid.row[cell]
        if np.isnan(value):
            axes.add_patch(
                Rectangle((x - 0.5, y - 0.5), 1, 1, fill=False, hatch="////", edgecolor=GREY, linewidth=0)
            )
            axes.text(x, y, missing, ha="center", va="center", fontsize=7, backgroundcolor="white")
        elif len(values) <= _PRINTED:
            note = notes[cell] if notes else ""
            ink = _ink(palette(scale(value)))
            axes.text(x, y, f"{texts[cell]}{note}", ha="center", va="center", fontsize=7.5, color=ink)
    axes.set_xticks(range(len(grid.months)), [month[:3] for month in grid.months])
    axes.set_yticks(range(len(grid.places)), list(grid.places))
    axes.set_title(title, loc="left", fontsize=9)
    axes.grid(visible=False)
    axes.tick_params(length=0)
    for spine in axes.spines.values():
        spine.set_visible(False)


def table_of(season: xr.Dataset, **columns: Any) -> pd.DataFrame:
    """Numbers behind a map, a row for each cell."""
    where = {"place": "place", "latitude": "latitude [deg]", "month_name": "month"}
    table = pd.DataFrame({text: season[name].to_numpy() for name, text in where.items()})
    table["latitude [deg]"] = np.degrees(table["latitude [deg]"])
    return table.assign(**columns)


def _ends(values: Floats, words: int, span: float) -> tuple[float, float]:
    """Ends of the colours: of a list of words one bin each, else from the least to the most."""
    if words:
        return -0.5, words - 0.5
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    room = max(span - (high - low), 0.0) / 2 or (0.5 if high == low else 0.0)
    return low - room, high + room


def _words_of(values: Floats, words: tuple[str, ...]) -> list[str]:
    """The words themselves where they are short; the colours say them anyway."""
    short = max(map(len, words)) <= _SHORT
    return [words[int(value)] if short and np.isfinite(value) else "" for value in values]


def _printed(values: Floats) -> list[str]:
    """Numbers as short as they may be with their differences to be seen, in three digits at most."""
    span, most = float(np.nanmax(values) - np.nanmin(values)), float(np.nanmax(np.abs(values)))
    wanted = 0 if span == 0 or span >= 20 else 1 if span >= 4 else 2
    decimals = min(wanted, 2 if most < 10 else 1 if most < 100 else 0)
    return [f"{value:.{decimals}f}" for value in values]


def _ink(colour: tuple[float, ...]) -> str:
    """White on dark, black on bright."""
    red, green, blue = colour[:3]
    return "white" if 0.299 * red + 0.587 * green + 0.114 * blue < 0.5 else "black"
