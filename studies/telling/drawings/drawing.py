"""What all figures share: a figure with its numbers and caption, the colours, the clock.

Colours are the colour-blind safe set of Okabe and Ito (2008), "Color universal design", in their order.
"""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...asking import quantity
from ..words.phrases import spoken, system_of

BLACK, ORANGE, SKY, GREEN, YELLOW, BLUE, RED, PURPLE = (
    "#000000",
    "#E69F00",
    "#56B4E9",
    "#009E73",
    "#F0E442",
    "#0072B2",
    "#D55E00",
    "#CC79A7",
)
GREY = "#8a8a8a"
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


@dataclass(frozen=True)
class Drawn:
    """A figure, the numbers behind it, and what to read from it."""

    name: str
    figure: Figure
    table: pd.DataFrame
    caption: str

    @cached_property
    def svg(self) -> bytes:
        """The figure as an SVG file, drawn once for all who want it; equal data give equal bytes."""
        buffer = io.BytesIO()
        with mpl.rc_context(STYLE):
            self.figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
        return buffer.getvalue()


def clock_hours(day: xr.Dataset, one: xr.Dataset) -> np.ndarray[Any, Any]:
    """Hours on the clock of the place."""
    local = (
        pd.DatetimeIndex(one["clock"].to_numpy()).tz_localize("UTC").tz_convert(str(day.attrs["timezone"]))
    )
    first = local[0].hour + local[0].minute / 60
    return np.asarray(first + one["time"].to_numpy() / 3600)


def clock_text(hour: float) -> str:
    """Clock time of hours since midnight, past the next one too."""
    minutes = round(60 * hour) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def on_the_clock(axes: Axes) -> None:
    """Write hours along the axis as times of day."""
    axes.xaxis.set_major_formatter(lambda hour, _: clock_text(hour))


def shown(values: Any, dimension: str, attrs: Mapping[Any, Any]) -> tuple[np.ndarray[Any, Any], str]:
    """Values [SI] in the unit a builder reads them in, and that unit ("" for plain numbers).

    `attrs` are those of the result, which say in which units it is told.
    """
    numbers, unit = quantity.shown(values, dimension, system_of(attrs))
    return numbers, "" if unit == "1" else unit


def column(array: xr.DataArray, attrs: Mapping[Any, Any]) -> tuple[np.ndarray[Any, Any], str]:
    """A variable in the unit a builder reads it in; money keeps its currency. `attrs` are those of the result."""
    values, unit = shown(array.to_numpy(), str(array.attrs["dimension"]), attrs)
    return values, str(array.attrs["units"]) if array.attrs["dimension"] == "money" else unit


def axis_text(name: object, unit: str) -> str:
    """Label of an axis."""
    return f"{spoken(name)} [{unit}]" if unit else spoken(name)


def printed(unit: str) -> str:
    """A unit as it is printed beside an axis: "°C" for "degC"; text files keep the plain spelling."""
    return {"degC": "°C", "degF": "°F", "deg": "°", "W/m2": "W/m²", "kWh/m2": "kWh/m²"}.get(unit, unit)
