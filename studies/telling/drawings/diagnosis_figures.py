"""Figures of a diagnosis: what each cause leaves, the cooks with the likeliest one, and what tests would tell."""

import math

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from ...asking.quantity import difference_of
from ..words.cook_words import local_start
from ..words.phrases import said, spoken
from .cook_figures import COLOURS
from .drawing import BLUE, GREY, ORANGE, Drawn, on_the_clock, printed, shown


def causes(result: xr.Dataset) -> Drawn:
    """What every cause leaves unexplained at its best; those that are not told apart in colour."""
    names = result["cause"].to_numpy()
    left, unit = shown(result["left"].to_numpy(), difference_of("temperature"), result.attrs)
    before = shown([float(result.attrs["unchanged_left"])], difference_of("temperature"), result.attrs)[0][0]
    tied = result["tied"].to_numpy() == 1
    figure = Figure(figsize=(6.8, 0.9 + 0.27 * len(names)))
    axes = figure.subplots()
    axes.barh(range(len(names)), left, color=[BLUE if one else GREY for one in tied], height=0.65)
    for row, name in enumerate(names):
        axes.text(left[row], row, f" {_change(result.sel(cause=name), result)}", va="center", fontsize=7)
    axes.axvline(before, color=ORANGE, linestyle="--", linewidth=1.2)
    axes.set_yticks(range(len(names)), names)
    axes.invert_yaxis()
    axes.set_xlabel(f"left unexplained, root of the mean square [{printed(unit)}]")
    axes.set_xlim(0.0, 1.35 * max(float(np.nanmax(left)), before))
    axes.grid(visible=False, axis="y")
    table = pd.DataFrame(
        {
            "cause": names,
            "factor": result["factor"].to_numpy(),
            "value [SI]": result["value"].to_numpy(),
            "described [SI]": result["described"].to_numpy(),
            "at an end": result["at_end"].to_numpy(),
            f"left [{unit}]": left,
            "criterion over the best": result["criterion"].to_numpy(),
            "not told from the best": tied.astype(int),
        }
    )
    caption = (
        "Each cause alone at the value where it explains most. Blue: not told from the best; "
        "dashed: as described."
    )
    return Drawn("causes", figure, table, caption)


def _change(one: xr.Dataset, result: xr.Dataset) -> str:
    return said(float(one["value"]), str(one["factor_dimension"].item()), result.attrs, digits=2)


def explained(result: xr.Dataset) -> Drawn:
    """Every cook: measured, as described, and with the likeliest cause."""
    count = result.sizes["cook"]
    figure = Figure(figsize=(6.8, 0.5 + 2.4 * count))
    panels = np.atleast_1d(figure.subplots(count, 1))
    tables, seen = [], set()
    for number, axes in enumerate(panels):
        cook = result["cook"].to_numpy()[number]
        begin = local_start(result.isel(cook=number), result)
        first = begin.hour + begin.minute / 60 + begin.second / 3600
        mine = result.isel(reading=np.flatnonzero(result["reading_cook"].to_numpy() == number))
        for sensor in dict.fromkeys(mine["reading_sensor"].to_numpy()):
            here = mine.isel(reading=np.flatnonzero(mine["reading_sensor"].to_numpy() == sensor))
            hours = first + here["reading_time"].to_numpy() / 3600
            table = {"cook": cook, "thermometer": sensor, "clock [h]": hours}
            for name, style in (
                ("measured", {"marker": ".", "linestyle": "none", "markersize": 3}),
                ("as_described", {"linestyle": ":", "linewidth": 1.0}),
                ("explained", {"linewidth": 1.3}),
            ):
                values, unit = shown(here[name].to_numpy(), "temperature", result.attrs)
                label = f"{spoken(sensor)} {spoken(name)}" if sensor not in seen else None
                axes.plot(hours, values, color=COLOURS[str(sensor)], label=label, **style)
                table[f"{spoken(name)} [{unit}]"] = values
            seen.add(sensor)
            tables.append(pd.DataFrame(table))
        axes.set_ylabel(f"{cook}\n[{printed(unit)}]")
        on_the_clock(axes)
    handles = [line for axes in panels for line in axes.get_legend_handles_labels()[0]]
    panels[0].legend(handles=handles, fontsize=7, ncols=3, loc="lower left", bbox_to_anchor=(0.0, 1.0))
    panels[-1].set_xlabel("clock time")
    best = result["cause"].to_numpy()[0]
    caption = f"Dots: measured; dotted: the model as described; lines: with {best} at its best value."
    return Drawn("explained", figure, pd.concat(tables, ignore_index=True), caption)


def further_tests(result: xr.Dataset) -> Drawn | None:
    """How far each rival would lie from the likeliest cause in further tests."""
    if "apart" not in result:
        return None
    best, *others = [str(name) for name in result["tied_cause"].to_numpy()]
    tests = [str(name) for name in result["test"].to_numpy()]
    figure = Figure(figsize=(6.8, 0.9 + 0.32 * len(tests) * max(len(others), 1)))
    axes = figure.subplots()
    rows: list[str] = []
    table = []
    for name in others:
        gaps, unit = shown(
            result["apart"].sel(tied_cause=best, other_cause=name).to_numpy(),
            difference_of("temperature"),
            result.attrs,
        )
        for test, gap in zip(tests, gaps, strict=True):
            axes.barh(len(rows), 0.0 if math.isnan(gap) else gap, color=BLUE, height=0.6)
            rows.append(f"{name}: {test}")
            table.append({"told from": best, "cause": name, "test": test, f"apart [{unit}]": gap})
    axes.set_yticks(range(len(rows)), rows, fontsize=7.5)
    axes.invert_yaxis()
    axes.set_xlabel(f"from {best}, root of the mean square [{printed(unit)}]")
    axes.grid(visible=False, axis="y")
    caption = (
        f"How far the causes that these cooks do not tell from {best} would lie from it in further tests."
    )
    return Drawn("further-tests", figure, pd.DataFrame(table), caption)
