"""Figures of results: each takes a Dataset and gives a matplotlib figure; none of them simulates."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from .aiming_figures import following, intervals, rings
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
from .front import goals
from .quantity import difference_of, display_unit, to_unit
from .reading import spoken

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
    makers: dict[str, tuple[Callable[[xr.Dataset], Drawn | None], ...]] = {
        "search": (front, slices),
        "sobol": (indices, convergence),
        "morris": (effects,),
        "day": (day_curve, evening_curve, days_done),
        "aiming": (following, intervals, rings),
    }
    with mpl.rc_context(STYLE):
        for maker in makers[str(dataset.attrs["study"])]:
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


def shown(values: Any, dimension: str) -> tuple[np.ndarray[Any, Any], str]:
    """Values [SI] in the unit a builder reads them in, and that unit ("" for plain numbers)."""
    numbers = np.asarray(values, np.float64)
    finite = np.abs(numbers[np.isfinite(numbers)])
    unit = display_unit(dimension, magnitude=float(finite.max(initial=0.0)))
    return to_unit(numbers, unit, dimension), "" if unit == "1" else unit


def column(array: xr.DataArray) -> tuple[np.ndarray[Any, Any], str]:
    """A variable in the unit a builder reads it in; money keeps its currency."""
    values, unit = shown(array.to_numpy(), str(array.attrs["dimension"]))
    return values, str(array.attrs["units"]) if array.attrs["dimension"] == "money" else unit


def axis_text(name: object, unit: str) -> str:
    """Label of an axis."""
    return f"{spoken(name)} [{unit}]" if unit else spoken(name)


def front(search: xr.Dataset) -> Drawn | None:
    """All designs tried, by the first two goals, with the front and the chosen one."""
    names = goals(search)
    if len(names) < 2 or not search["feasible"].any():
        return None
    (x, x_unit), (y, y_unit) = (column(search[name]) for name in names[:2])
    feasible, on_front = search["feasible"].to_numpy() == 1, search["on_front"].to_numpy() == 1
    figure = Figure(figsize=(6.2, 4.0))
    axes = figure.subplots()
    axes.scatter(x[feasible], y[feasible], s=9, color=SKY, label="tried")
    over = np.isfinite(x) & np.isfinite(y) & ~feasible
    if over.any():
        axes.scatter(x[over], y[over], s=9, color=GREY, marker="x", linewidth=0.7, label="over a limit")
    order = np.flatnonzero(on_front)[np.argsort(x[on_front], kind="stable")]
    # With a third goal the front is no line in the plane of the first two.
    axes.plot(
        x[order],
        y[order],
        "o-" if len(names) == 2 else "o",
        color=BLUE,
        markersize=4,
        linewidth=1,
        label="front: none is better in all",
    )
    chosen = search.attrs.get("chosen_trial")
    if chosen is not None:
        axes.plot(x[chosen], y[chosen], "D", color=RED, markersize=8, label="chosen")
    axes.set(xlabel=axis_text(names[0], x_unit), ylabel=axis_text(names[1], y_unit))
    axes.legend()
    table = pd.DataFrame(
        {axis_text(n, u): v for n, v, u in zip(names, (x, y), (x_unit, y_unit), strict=False)}
    )
    table["within limits"], table["on front"] = feasible.astype(int), on_front.astype(int)
    caption = (
        f"{int(feasible.sum())} of {len(x)} designs keep the limits that were asked for; "
        f"{int(on_front.sum())} of them are not beaten in all goals at once."
    )
    return Drawn("front", figure, table, caption)


def slices(search: xr.Dataset) -> Drawn | None:
    """The first goal while one factor at a time leaves the chosen design."""
    if "slice_value" not in search:
        return None
    goal = goals(search)[0]
    y, y_unit = column(search[f"slice_{goal}"])
    factors = [str(name) for name in search["slice_factor"].to_numpy()]
    figure = Figure(figsize=(2.5 * len(factors) + 0.6, 2.8))
    panels = figure.subplots(1, len(factors), sharey=True, squeeze=False)[0]
    rows = []
    for k, (name, panel) in enumerate(zip(factors, panels, strict=True)):
        x, x_unit, words = _slice_axis(search, name, k)
        known = np.isfinite(x)
        panel.plot(x[known], y[k][known], "o-", color=BLUE, markersize=3)
        panel.plot(*_chosen_on_slice(search, name, x, y[k], words), "D", color=RED, markersize=7)
        if words:
            panel.set_xticks(range(len(words)), words, rotation=30, ha="right")
        panel.set_xlabel(axis_text(name, x_unit))
        rows += [(name, x_unit, a, b) for a, b in zip(x[known], y[k][known], strict=True)]
    panels[0].set_ylabel(axis_text(goal, y_unit))
    table = pd.DataFrame(rows, columns=["factor", "unit", "value", axis_text(goal, y_unit)])
    return Drawn(
        "slices", figure, table, "One factor moved, all others as chosen; the diamond is the choice."
    )


def _slice_axis(search: xr.Dataset, name: str, k: int) -> tuple[np.ndarray[Any, Any], str, list[str]]:
    factor, raw = search[name], search["slice_value"].to_numpy()[k]
    if factor.dtype.kind in "UO":
        return raw, "", [str(word) for word in json.loads(str(search["slice_words"].to_numpy()[k]))]
    x, unit = shown(raw, str(factor.attrs["dimension"]))
    return x, unit, []


def _chosen_on_slice(
    search: xr.Dataset, name: str, x: np.ndarray[Any, Any], y: np.ndarray[Any, Any], words: list[str]
) -> tuple[float, float]:
    chosen = search[name].to_numpy()[search.attrs["chosen_trial"]]
    if words:
        place = words.index(str(chosen))
        return float(place), float(y[place])
    raw = search["slice_value"].sel(slice_factor=name).to_numpy()
    at = int(np.nanargmin(np.abs(raw - float(chosen))))
    return float(x[at]), float(y[at])


def indices(sobol: xr.Dataset) -> Drawn:
    """First and total indices of every output, with intervals."""
    last = sobol.isel(base_samples=-1)
    outputs = [str(name) for name in last["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.4, 0.42 * last.sizes["factor"] + 1.4))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    order = np.argsort(np.nanmax(np.nan_to_num(last["total"].to_numpy()), axis=0), kind="stable")
    place = np.arange(len(order))
    for name, panel in zip(outputs, panels, strict=True):
        one = last.sel(output=name)
        for kind, shift, colour in (("total", -0.18, ORANGE), ("first", 0.18, BLUE)):
            panel.barh(place + shift, one[kind].to_numpy()[order], height=0.34, color=colour, label=kind)
            panel.errorbar(
                one[kind].to_numpy()[order],
                place + shift,
                xerr=one[f"{kind}_half_width"].to_numpy()[order],
                fmt="none",
                ecolor=BLACK,
                elinewidth=0.9,
                capsize=2,
            )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xlabel("share of variance")
        panel.axvline(0, color=BLACK, linewidth=0.6)
    panels[0].set_yticks(place, [spoken(n) for n in last["factor"].to_numpy()[order]])
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles[::-1], texts[::-1], loc="outside upper right", ncols=2)
    caption = (
        "Share of each output's variance over the ranges studied: by a factor alone (first) and with all "
        f"its interactions (total). Whiskers: {100 * float(sobol.attrs['confidence']):.0f} % intervals."
    )
    variables = ["first", "first_half_width", "total", "total_half_width"]
    table = last[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    return Drawn("indices", figure, table, caption)


def convergence(sobol: xr.Dataset) -> Drawn:
    """Total indices from a quarter, half and all of the samples."""
    outputs = [str(name) for name in sobol["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.2, 3.0))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    colours = [BLUE, ORANGE, GREEN, RED, PURPLE, SKY, BLACK, YELLOW]
    sizes = sobol["base_samples"].to_numpy()
    for name, panel in zip(outputs, panels, strict=True):
        for k, factor in enumerate(sobol["factor"].to_numpy()):
            one = sobol.sel(output=name, factor=factor)
            panel.errorbar(
                np.arange(len(sizes)) + 0.04 * k,
                one["total"].to_numpy(),
                yerr=one["total_half_width"].to_numpy(),
                color=colours[k % len(colours)],
                marker="o",
                markersize=3,
                linewidth=1,
                capsize=2,
                linestyle="-" if k < len(colours) else "--",
                label=spoken(factor),
            )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xticks(range(len(sizes)), [str(size) for size in sizes])
        panel.set_xlabel("base samples")
    panels[0].set_ylabel("total index")
    figure.legend(*panels[0].get_legend_handles_labels(), loc="outside right upper")
    table = sobol[["total", "total_half_width"]].to_dataframe().reset_index()
    table = table[["output", "base_samples", "factor", "total", "total_half_width"]]
    return Drawn(
        "convergence", figure, table, "Indices that still move when the samples double are not settled."
    )


def effects(morris: xr.Dataset) -> Drawn:
    """Mean size of each factor's effect on every output, largest first."""
    outputs = [str(name) for name in morris["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.4, 0.34 * morris.sizes["factor"] + 1.3))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    sizes = morris["mu_star"].to_numpy()
    order = np.argsort((sizes / np.nanmax(sizes, axis=1, keepdims=True)).max(axis=0), kind="stable")
    place = np.arange(len(order))
    for k, (name, panel) in enumerate(zip(outputs, panels, strict=True)):
        dimension = str(morris["output_dimension"].to_numpy()[k])
        values, unit = shown(sizes[k], difference_of(dimension))
        scale = values[np.nanargmax(sizes[k])] / np.nanmax(sizes[k])
        panel.barh(place, values[order], color=BLUE)
        wide = morris["mu_star_half_width"].to_numpy()[k] * scale
        panel.errorbar(
            values[order], place, xerr=wide[order], fmt="none", ecolor=BLACK, elinewidth=0.9, capsize=2
        )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xlabel(axis_text("mean size of the change", unit))
    panels[0].set_yticks(place, [spoken(n) for n in morris["factor"].to_numpy()[order]])
    variables = ["mu", "mu_star", "mu_star_half_width", "sigma"]
    table = morris[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    return Drawn(
        "effects", figure, table, "Change of each output while one factor crosses its range (SI in the CSV)."
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
