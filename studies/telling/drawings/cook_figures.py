"""Figures of test cooks: measured beside predicted, the gap between them, and every reading that was touched."""

import json
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ...asking.quantity import difference_of
from ..words.cook_words import local_start
from ..words.phrases import spoken
from .drawing import (
    BLACK,
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    PURPLE,
    RED,
    SKY,
    YELLOW,
    Drawn,
    on_the_clock,
    printed,
    shown,
)

COLOURS = {"food": BLUE, "pot": ORANGE, "plate": GREEN, "air_inside": SKY, "cover": PURPLE}
_REASONS = {
    "missing": GREY,
    "unreadable": BLACK,
    "untimed": BLACK,
    "far": BLACK,
    "moved": SKY,
    "overlap": PURPLE,
    "duplicate": GREEN,
    "impossible": RED,
    "zeroed": YELLOW,
    "spike": ORANGE,
    "stuck": BLUE,
}
_HEIGHT = 2.6  # in for each cook


def course(result: xr.Dataset) -> Drawn:
    """Every cook by the clock: what was measured, what the model says, sunlight, settings and shade."""
    figure, panels = _panels(result)
    tables = []
    for axes, number in zip(panels, range(result.sizes["cook"]), strict=True):
        one = result.isel(cook=number)
        hours = _hours(one, result)
        table: dict[str, Any] = {"cook": str(one["cook"].item()), "clock [h]": hours}
        for sensor in _sensors(one):
            here = one.sel(sensor=sensor)
            for name, style in (
                ("cleaned", _dots(one)),
                ("predicted", {}),
            ):
                values, unit = shown(here[name].to_numpy(), "temperature", result.attrs)
                axes.plot(hours, values, color=COLOURS[sensor], linewidth=1.2, **style)
                table[f"{spoken(sensor)} {name} [{unit}]"] = values
        axes.set_ylabel(f"{one['cook'].item()}\n[{printed(unit)}]")
        sun, unit = shown(one["ghi"].to_numpy(), "irradiance", result.attrs)
        table[f"global on the level [{unit}]"] = sun
        _sunlight(axes, hours, sun, unit)
        _marks(axes, one, result)
        tables.append(pd.DataFrame(table).dropna(subset="clock [h]"))
    _sensor_legend(panels[0], result)
    panels[-1].set_xlabel("clock time")
    caption = (
        "Dots: measured and cleaned; lines: the model of the oven as described. Grey: global light on the level, as "
        "the prediction took it. Ticks below: the oven was set to the sun; grey bands: no sun was let in."
    )
    return Drawn("course", figure, pd.concat(tables, ignore_index=True), caption)


def gaps(result: xr.Dataset) -> Drawn:
    """Predicted less measured by the clock, and in the mean of each part of the cook."""
    figure, panels = _panels(result)
    tables = []
    for axes, number in zip(panels, range(result.sizes["cook"]), strict=True):
        one = result.isel(cook=number)
        hours = _hours(one, result)
        for sensor in _sensors(one):
            here = one.sel(sensor=sensor)
            gap, unit = shown(
                (here["predicted"] - here["cleaned"]).to_numpy(), difference_of("temperature"), result.attrs
            )
            axes.plot(hours, gap, color=COLOURS[sensor], linewidth=1.0)
            tables.append(_parts(here, result, unit))
        axes.axhline(0.0, color=BLACK, linewidth=0.6)
        axes.set_ylabel(f"{one['cook'].item()}\n[{printed(unit)}]")
        on_the_clock(axes)
        _marks(axes, one, result)
    _sensor_legend(panels[0], result)
    panels[-1].set_xlabel("clock time")
    caption = "Predicted less measured: above zero the model is warmer than the oven was."
    return Drawn("gaps", figure, pd.concat(tables, ignore_index=True), caption)


def touched(result: xr.Dataset) -> Drawn | None:
    """Every reading that is not simply kept as it stood, by clock and series; the table lists each."""
    if "touched_cook" not in result:
        return None
    table = _touched_table(result)
    rows = list(dict.fromkeys(table["cook"] + ": " + table["series"]))
    figure = Figure(figsize=(6.8, 1.4 + 0.28 * len(rows)))
    axes = figure.subplots()
    for reason in dict.fromkeys(table["reason"]):
        here = table[table["reason"] == reason].dropna(subset="clock [h]")
        places = [
            rows.index(f"{cook}: {series}") for cook, series in zip(here["cook"], here["series"], strict=True)
        ]
        axes.plot(here["clock [h]"], places, "|", color=_REASONS[reason], markersize=9, label=reason)
    axes.set_yticks(range(len(rows)), rows)
    axes.invert_yaxis()
    axes.set_xlabel("clock time")
    on_the_clock(axes)
    axes.legend(fontsize=7.5, ncols=4, loc="upper left", bbox_to_anchor=(0.0, -0.25))
    meanings = json.loads(result.attrs["reasons"])
    told = "; ".join(f"{reason}: {meanings[reason]}" for reason in dict.fromkeys(table["reason"]))
    caption = f"Readings touched by the cleaning ({told}). Rows without a time stand in the table alone."
    return Drawn("touched", figure, table, caption)


def _panels(result: xr.Dataset) -> tuple[Figure, list[Axes]]:
    count = result.sizes["cook"]
    figure = Figure(figsize=(6.8, 0.5 + _HEIGHT * count))
    return figure, list(np.atleast_1d(figure.subplots(count, 1)))


def _sensors(one: xr.Dataset) -> list[str]:
    return [str(name) for name in one["sensor"].to_numpy() if one["cleaned"].sel(sensor=name).notnull().any()]


def _dots(one: xr.Dataset) -> dict[str, Any]:
    """How readings are drawn: those of a logger as fine dots, those written by hand as ones that can be seen."""
    few = int(one["time"].notnull().sum()) < 60
    return {"marker": "o" if few else ".", "markersize": 4 if few else 2.5, "linestyle": "none"}


def _hours(one: xr.Dataset, result: xr.Dataset) -> np.ndarray[Any, Any]:
    """Hours on the clock of the place. float64[record]"""
    begin = local_start(one, result)
    return np.asarray(begin.hour + begin.minute / 60 + begin.second / 3600 + one["time"].to_numpy() / 3600)


def _sunlight(axes: Axes, hours: Any, sun: Any, unit: str) -> None:
    """Light behind the temperatures, on its own scale."""
    other = axes.twinx()
    other.fill_between(hours, sun, color=GREY, alpha=0.15, linewidth=0)
    other.set_ylabel(printed(unit), color=GREY, fontsize=8)
    other.set_ylim(bottom=0, top=2.2 * max(float(np.nanmax(sun)), 1.0))
    other.grid(visible=False)
    on_the_clock(axes)


def _marks(axes: Axes, one: xr.Dataset, result: xr.Dataset) -> None:
    """Settings of the oven as ticks, shaded spans as bands."""
    begin = local_start(one, result)
    first = begin.hour + begin.minute / 60 + begin.second / 3600
    for name in ("azimuth_set", "elevation_set"):
        if name in one:
            hours = first + one[name].to_numpy() / 3600
            axes.plot(
                hours,
                np.full(len(hours), 0.0),
                "|",
                color=BLACK,
                markersize=6,
                transform=axes.get_xaxis_transform(),
            )
    if "shade_begin" in one:
        for start, end in zip(one["shade_begin"].to_numpy(), one["shade_end"].to_numpy(), strict=True):
            if np.isfinite(start):
                axes.axvspan(first + start / 3600, first + end / 3600, color=GREY, alpha=0.25, linewidth=0)


def _sensor_legend(axes: Axes, result: xr.Dataset) -> None:
    names = [str(name) for name in result["sensor"].to_numpy()]
    lines = [Line2D([], [], color=COLOURS[name], label=spoken(name)) for name in names]
    axes.legend(handles=lines, fontsize=7.5, ncols=len(lines), loc="lower left", bbox_to_anchor=(0.0, 1.0))


def _parts(here: xr.Dataset, result: xr.Dataset, unit: str) -> pd.DataFrame:
    """Gaps of one thermometer in the parts of a cook."""
    mean, rms = (
        shown(here[name].to_numpy(), difference_of("temperature"), result.attrs)[0]
        for name in ("gap_mean", "gap_rms")
    )
    table = pd.DataFrame(
        {
            "cook": str(here["cook"].item()),
            "thermometer": spoken(here["sensor"].item()),
            "part": here["phase"].to_numpy(),
            f"mean [{unit}]": mean,
            f"rms [{unit}]": rms,
            "readings": here["gap_count"].to_numpy(),
        }
    )
    return table[table["readings"] > 0]


def _touched_table(result: xr.Dataset) -> pd.DataFrame:
    cooks = result["cook"].to_numpy()[result["touched_cook"].to_numpy()]
    time = result["touched_time"].to_numpy()
    zone = str(result.attrs["timezone"])
    local = pd.to_datetime(pd.Series(time), unit="s", utc=True).dt.tz_convert(zone)
    return pd.DataFrame(
        {
            "cook": cooks.astype(str),
            "file": result["touched_file"].to_numpy().astype(str),
            "line": result["touched_row"].to_numpy(),
            "series": result["touched_series"].to_numpy().astype(str),
            "time": local.dt.strftime("%Y-%m-%d %H:%M:%S").fillna(""),
            "clock [h]": local.dt.hour + local.dt.minute / 60 + local.dt.second / 3600,
            "said": result["touched_said"].to_numpy().astype(str),
            "reason": result["touched_reason"].to_numpy().astype(str),
            "became [SI]": result["touched_became"].to_numpy(),
        }
    )
