"""Figures of one design on its days: minute by minute, the evening after, and all days."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

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
)


def day_curve(day: xr.Dataset) -> Drawn | None:
    """One day: temperatures with food marks, light, and how far the oven is off the sun."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0, day=int(day.attrs["shown_day"]))
    hours = clock_hours(day, one)
    figure = Figure(figsize=(6.8, 6.4))
    heat, light, aim = figure.subplots(3, 1, sharex=True, height_ratios=(3, 1.7, 1))
    parts = {"pot": (BLACK, "-"), "cover_inner": (SKY, "-"), "sheet": (ORANGE, "-"), "shell": (GREEN, "-")}
    names = {"cover_inner": "cover, inner face", "sheet": "mirror sheet", "shell": "outer skin"}
    celsius = {"food, coldest part": one["food_temperature"].to_numpy() - 273.15}
    heat.plot(hours, celsius["food, coldest part"], color=RED, linewidth=2.2, label="food, coldest part")
    for node, (colour, line) in parts.items():
        celsius[names.get(node, node)] = one["temperature"].sel(node=node).to_numpy() - 273.15
        label = names.get(node, node)
        heat.plot(hours, celsius[label], line, color=colour, linewidth=1, label=label)
    heat.plot(hours, one["air_temperature"].to_numpy() - 273.15, ":", color=GREY, label="outside air")
    heat.axhspan(5, 60, color=YELLOW, alpha=0.18, linewidth=0, label="5 to 60 °C: germs grow")
    _mark_times(heat, one, hours[0])
    heat.set_ylabel("temperature [°C]")
    heat.legend(fontsize=7.5, ncols=2)
    _light_panel(light, one, hours)
    off = np.degrees(one["aim_off_axis"].to_numpy())
    aim.plot(hours, off, color=PURPLE, linewidth=1)
    aim.set(ylabel="off the sun [°]", xlabel=f"clock time, {one['day_label'].item()}")
    on_the_clock(aim)
    table = pd.DataFrame({"clock [h]": hours, **{f"{k} [degC]": v for k, v in celsius.items()}})
    table["beam [W/m2]"], table["pot takes in [W]"] = (
        one["dni"].to_numpy(),
        one["absorbed"].sel(absorber="pot"),
    )
    table["off the sun [deg]"] = off
    return Drawn(
        "day", figure, table, f"{one['day_label'].item()}: the day whose sun is in the middle of all days."
    )


def evening_curve(day: xr.Dataset) -> Drawn | None:
    """The food of the shown day left in the closed oven, until it is lukewarm and beyond."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0, day=int(day.attrs["shown_day"]))
    food = one["evening_food_temperature"].to_numpy() - 273.15
    if np.isnan(food).any():
        return None
    hours = float(clock_hours(day, one)[-1]) + one["evening"].to_numpy() / 3600
    air = one["evening_air_temperature"].to_numpy() - 273.15
    figure = Figure(figsize=(6.2, 3.0))
    axes = figure.subplots()
    axes.plot(hours, food, color=RED, linewidth=2.2, label="food, coldest part")
    axes.plot(hours, air, ":", color=GREY, label="outside air")
    axes.axhspan(5, 60, color=YELLOW, alpha=0.18, linewidth=0, label="5 to 60 °C: germs grow")
    if float(one["still_warm"]) == 0:
        falls = hours[0] + float(one["warm_for"]) / 3600
        axes.axvline(falls, color=RED, linewidth=0.9, linestyle="--")
        axes.text(falls, axes.get_ylim()[1], f" {clock_text(falls)}", color=RED, fontsize=8, va="top")
    axes.set(ylabel="temperature [°C]", xlabel=f"clock time, {one['day_label'].item()} and the night after")
    on_the_clock(axes)
    axes.legend(fontsize=7.5)
    table = pd.DataFrame({"clock [h]": hours, "food, coldest part [degC]": food, "outside air [degC]": air})
    return Drawn("evening", figure, table, "The meal left in the closed oven after the day, without any sun.")


def _light_panel(axes: Axes, one: xr.Dataset, hours: np.ndarray[Any, Any]) -> None:
    axes.plot(hours, one["absorbed"].sel(absorber="pot").to_numpy(), color=RED, label="pot takes in [W]")
    axes.plot(
        hours,
        one["absorbed"].sel(absorber="sheet").to_numpy(),
        color=ORANGE,
        label="mirror sheet takes in [W]",
    )
    axes.plot(hours, one["dni"].to_numpy(), color=GREY, linewidth=1, label="beam facing the sun [W/m²]")
    axes.set_ylabel("light")
    axes.set_ylim(bottom=0)
    axes.legend(fontsize=7.5)


def _mark_times(axes: Axes, one: xr.Dataset, start: float) -> None:
    for name, text in (("safe_after", "safe"), ("done_after", "done")):
        after = float(one[name])
        if np.isfinite(after):
            axes.axvline(start + after / 3600, color=RED, linewidth=0.9, linestyle="--")
            axes.text(start + after / 3600, axes.get_ylim()[0] + 3, f" {text}", color=RED, fontsize=8)


def days_done(day: xr.Dataset) -> Drawn | None:
    """When the meal is done on each of the days, against the sun of the day."""
    if int(day["status"][0]) != 0:
        return None
    one = day.isel(design=0)
    step = float(day["time"][1] - day["time"][0])
    sun = (day["dni"].sum("time") * step / 3.6e6).to_numpy()
    done = one["done_after"].to_numpy() / 3600
    dose = one["peak_contents"].to_numpy() - 273.15
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
    table["beam [kWh/m2]"], table["done after [h]"], table["hottest food [degC]"] = sun, done, dose
    return Drawn("days", figure, table, "Each point is one kind of day of the season.")
