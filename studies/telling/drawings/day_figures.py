"""Figures of one design on its days: minute by minute, the evening after, and all days."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ....model import DANGER_HIGH, DANGER_LOW
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
    clock_hours,
    clock_text,
    on_the_clock,
    printed,
    shown,
)


def day_curve(day: xr.Dataset) -> Drawn | None:
    """One day: temperatures with marks of food and cover, the sun, and how far the oven is off it, with re-aimings."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0, day=int(day.attrs["shown_day"]))
    hours = clock_hours(day, one)
    figure = Figure(figsize=(6.8, 6.8))
    heat, light, aim = figure.subplots(3, 1, sharex=True, height_ratios=(3, 1.7, 1))
    table = pd.DataFrame({"clock [h]": hours, **_temperatures(heat, one, hours)})
    _cover_mark(heat, one)
    _mark_times(heat, one, hours[0])
    heat.legend(fontsize=7.5, ncols=3, loc="upper center", bbox_to_anchor=(0.5, 1.24))
    _light_panel(light, one, hours)
    off = np.degrees(one["aim_off_axis"].to_numpy())
    aim.plot(hours, off, color=PURPLE, linewidth=1, label="off the sun")
    settings = hours[resettings(one)]
    if 0 < settings.size <= _MOST_MARKS:
        aim.plot(settings, np.zeros_like(settings), "|", color=BLACK, markersize=9, label="moved")
        aim.legend(fontsize=7.5, ncols=2)
    aim.set(ylabel="off the sun [°]", xlabel=f"clock time, {one['day_label'].item()}")
    aim.set_ylim(bottom=0)
    on_the_clock(aim)
    table["beam [W/m2]"] = one["dni"].to_numpy()
    table["sky on a level plane [W/m2]"] = one["dhi"].to_numpy()
    for part in ("pot", "sheet", "cover"):
        table[f"{_NAMES.get(part, part)} takes in [W]"] = one["absorbed"].sel(absorber=part).to_numpy()
    table["sun above the horizon [deg]"] = np.degrees(one["sun_elevation"].to_numpy())
    table["off the sun [deg]"] = off
    table["moved"] = np.isin(np.arange(len(hours)), resettings(one)).astype(int)
    caption = (
        f"{one['day_label'].item()}: the day that is shown; {len(resettings(one))} times the stand is moved."
        if 0 < settings.size <= _MOST_MARKS
        else f"{one['day_label'].item()}: the day that is shown."
    )
    return Drawn("day", figure, table, caption)


_MOST_MARKS = 80  # settings of the stand in a day; a drive turns too often to be marked
_NODES = {
    "pot": ("pot", BLACK),
    "cover_inner": ("cover, inner face", SKY),
    "sheet": ("mirror sheet", ORANGE),
    "shell": ("outer skin", GREEN),
}
_NAMES = {"sheet": "mirror sheet"}


def resettings(one: xr.Dataset) -> NDArray[np.int64]:
    """Instants at which the stand has begun to move after it stood: settings by hand, runs of a drive."""
    turned = np.abs(np.diff(one["aim_azimuth"].to_numpy())) > 0
    tilted = np.abs(np.diff(one["aim_elevation"].to_numpy())) > 0
    moves = turned | tilted
    return np.flatnonzero(moves & ~np.concatenate([[False], moves[:-1]])) + 1


def _temperatures(axes: Axes, one: xr.Dataset, hours: NDArray[np.float64]) -> dict[str, Any]:
    """Draw food, oven and air; the columns drawn."""
    lines = [("food, coldest part", one["food_temperature"], RED, "-", 2.2)]
    lines += [
        (name, one["temperature"].sel(node=node), colour, "-", 1.0) for node, (name, colour) in _NODES.items()
    ]
    lines += [("outside air", one["air_temperature"], GREY, ":", 1.5)]
    columns = {}
    for name, kelvin, colour, line, width in lines:
        values, unit = shown(kelvin.to_numpy(), "temperature", one.attrs)
        axes.plot(hours, values, line, color=colour, linewidth=width, label=name)
        columns[f"{name} [{unit}]"] = values
    _danger(axes, one.attrs)
    axes.set_ylabel(f"temperature [{printed(unit)}]")
    return columns


def _danger(axes: Axes, attrs: Mapping[Any, Any]) -> None:
    """Shade where germs grow."""
    (low, high), unit = shown([DANGER_LOW, DANGER_HIGH], "temperature", attrs)
    label = f"{low:.0f} to {high:.0f} {printed(unit)}: germs grow"
    axes.axhspan(low, high, color=YELLOW, alpha=0.18, linewidth=0, label=label)


def _cover_mark(axes: Axes, one: xr.Dataset) -> None:
    """What the cover bears, where that is near enough to be seen; else in words."""
    if "cover_limit" not in one:
        return
    (limit, hottest), unit = shown(
        [float(one["cover_limit"]), float(one["temperature"].sel(node="cover_inner").max())],
        "temperature",
        one.attrs,
    )
    text = f"the cover bears {limit:.0f} {printed(unit)}"
    if limit < axes.get_ylim()[1]:
        axes.axhline(limit, color=SKY, linewidth=1.2, linestyle="-.")
        axes.text(
            0.01, limit, text, color=BLUE, fontsize=8, va="bottom", transform=axes.get_yaxis_transform()
        )
        return
    text += f"; hottest here {hottest:.0f} {printed(unit)}"
    axes.text(0.99, 0.03, text, color=BLUE, fontsize=8, ha="right", transform=axes.transAxes)


def evening_curve(day: xr.Dataset) -> Drawn | None:
    """The food of the shown day left in the closed oven, until it is lukewarm and beyond."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0, day=int(day.attrs["shown_day"]))
    food, unit = shown(one["evening_food_temperature"].to_numpy(), "temperature", day.attrs)
    if np.isnan(food).any():
        return None
    hours = float(clock_hours(day, one)[-1]) + one["evening"].to_numpy() / 3600
    air, _ = shown(one["evening_air_temperature"].to_numpy(), "temperature", day.attrs)
    figure = Figure(figsize=(6.2, 3.0))
    axes = figure.subplots()
    axes.plot(hours, food, color=RED, linewidth=2.2, label="food, coldest part")
    axes.plot(hours, air, ":", color=GREY, label="outside air")
    _danger(axes, day.attrs)
    if float(one["still_warm"]) == 0:
        falls = hours[0] + float(one["warm_for"]) / 3600
        axes.axvline(falls, color=RED, linewidth=0.9, linestyle="--")
        axes.text(falls, axes.get_ylim()[1], f" {clock_text(falls)}", color=RED, fontsize=8, va="top")
    axes.set(
        ylabel=f"temperature [{printed(unit)}]",
        xlabel=f"clock time, {one['day_label'].item()} and the night after",
    )
    on_the_clock(axes)
    axes.legend(fontsize=7.5)
    table = pd.DataFrame(
        {"clock [h]": hours, f"food, coldest part [{unit}]": food, f"outside air [{unit}]": air}
    )
    return Drawn("evening", figure, table, "The meal left in the closed oven after the day, without any sun.")


def _light_panel(axes: Axes, one: xr.Dataset, hours: NDArray[np.float64]) -> None:
    """Beam and sky, and what the oven takes in of them; the sun's height beside."""
    axes.plot(hours, one["dni"].to_numpy(), color=GREY, linewidth=1, label="beam facing the sun [W/m²]")
    axes.plot(
        hours, one["dhi"].to_numpy(), "--", color=GREY, linewidth=1, label="sky on a level plane [W/m²]"
    )
    axes.plot(hours, one["absorbed"].sel(absorber="pot").to_numpy(), color=RED, label="pot takes in [W]")
    axes.plot(
        hours,
        one["absorbed"].sel(absorber="sheet").to_numpy(),
        color=ORANGE,
        label="mirror sheet takes in [W]",
    )
    axes.set_ylabel("light [W/m² or W]")
    axes.set_ylim(bottom=0)
    height = axes.twinx()
    height.plot(hours, np.degrees(one["sun_elevation"].to_numpy()), ":", color=BLUE, linewidth=1.2)
    height.set_ylabel("sun's height [°]", color=BLUE)
    height.set_ylim(0, 90)
    height.grid(visible=False)
    axes.legend(
        fontsize=7,
        ncols=4,
        loc="lower center",
        bbox_to_anchor=(0.5, 0.98),
        columnspacing=1.0,
        handlelength=1.2,
    )


def _mark_times(axes: Axes, one: xr.Dataset, start: float) -> None:
    """When the food is safe and when it is done."""
    for name, text, level in (("safe_after", "safe", 0.03), ("done_after", "done", 0.1)):
        after = float(one[name])
        if np.isfinite(after):
            at = start + after / 3600
            axes.axvline(at, color=RED, linewidth=0.9, linestyle="--")
            mark = f" {text} {clock_text(at)}"
            axes.text(at, level, mark, color=RED, fontsize=8, transform=axes.get_xaxis_transform())


def days_done(day: xr.Dataset) -> Drawn | None:
    """When the meal is done on each of the days, against the sun of the day."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0)
    step = float(day["time"][1] - day["time"][0])
    sun = (day["dni"].sum("time") * step / 3.6e6).to_numpy()
    done = one["done_after"].to_numpy() / 3600
    dose, degrees = shown(one["peak_contents"].to_numpy(), "temperature", day.attrs)
    figure = Figure(figsize=(6.2, 3.4))
    axes = figure.subplots()
    reached = np.isfinite(done)
    axes.plot(sun[reached], done[reached], "o", color=BLUE, label="done after")
    if (~reached).any():
        top = float(day["time"][-1]) / 3600
        axes.plot(
            sun[~reached], np.full((~reached).sum(), top), "x", color=RED, label="not done by the day's end"
        )
    axes.set(xlabel="beam sunlight from loading to the day's end [kWh/m²]", ylabel="hours from loading")
    axes.set_ylim(bottom=0)
    axes.legend()
    table = pd.DataFrame({"day": day["day_label"].to_numpy(), "days meant": day["day_weight"].to_numpy()})
    table["beam [kWh/m2]"], table["done after [h]"], table[f"hottest food [{degrees}]"] = sun, done, dose
    return Drawn("days", figure, table, "Each point is one kind of day of the season.")
