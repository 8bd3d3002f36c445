"""One factor moved at a time round a chosen design: how flat the choice is."""

import json
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ...methods.front import goals
from ..words.flat_words import flat_span
from .drawing import BLUE, GREEN, GREY, RED, Drawn, axis_text, column, shown


def slices(search: xr.Dataset) -> Drawn | None:
    """Every goal while one factor at a time leaves the chosen design, and the range that costs nothing."""
    if "slice_value" not in search:
        return None
    idle = str(search.attrs.get("idle_factors", "")).split()
    factors = [str(name) for name in search["slice_factor"].to_numpy() if str(name) not in idle]
    names = goals(search)
    figure = Figure(figsize=(2.1 * len(factors) + 0.7, 1.9 * len(names) + 0.7))
    panels = figure.subplots(len(names), len(factors), sharex="col", sharey="row", squeeze=False)
    rows = []
    for g, goal in enumerate(names):
        for f, name in enumerate(factors):
            rows += _panel(panels[g, f], search, name, goal)
            panels[g, f].label_outer()
    table = pd.DataFrame(
        rows, columns=["goal", "factor", "unit", "value", "value of the goal", "keeps the limits"]
    )
    caption = (
        "One factor moved, all others as chosen (diamond). Green: the range that costs no more than the slack and what "
        "the rays can tell; a grey cross: over a limit, or no answer in another goal."
    )
    return Drawn("slices", figure, table, caption)


def _panel(panel: Axes, search: xr.Dataset, name: str, goal: str) -> list[tuple[Any, ...]]:
    """One goal over one factor; the numbers drawn."""
    one = search.sel(slice_factor=name)
    x, x_unit, words = _slice_axis(one, search[name])
    y, y_unit = column(search[f"slice_{goal}"], search.attrs)
    y = y[list(search["slice_factor"].to_numpy()).index(name)]
    kept, known = one["slice_kept"].to_numpy() == 1, np.isfinite(x)
    _flat_band(panel, search, name, goal)
    panel.plot(
        x[known], np.where(kept, y, np.nan)[known], "o-" if not words else "o", color=BLUE, markersize=3
    )
    over = known & ~kept & np.isfinite(y)
    panel.plot(x[over], y[over], "x", color=GREY, markersize=5)
    at = _chosen_place(one, search[name].to_numpy()[search.attrs["chosen_trial"]], words)
    panel.plot(x[at], y[at], "D", color=RED, markersize=6)
    if words:
        panel.set_xticks(range(len(words)), words, rotation=30, ha="right")
        panel.set_xlim(-0.5, len(words) - 0.5)
    elif _dimension(search, name) == "count":
        panel.xaxis.set_major_locator(MaxNLocator(integer=True))
    panel.set(xlabel=axis_text(name, x_unit), ylabel=axis_text(goal, y_unit))
    numbers = zip(x[known], y[known], kept[known].astype(int), strict=True)
    return [(axis_text(goal, y_unit), name, x_unit, *three) for three in numbers]


def _flat_band(panel: Axes, search: xr.Dataset, name: str, goal: str) -> None:
    """Shade what costs no more than the slack: a range, or the words as good as the chosen one."""
    if search[name].dtype.kind in "UO":
        one = search.sel(slice_factor=name, flat_goal=goal)
        words = json.loads(str(one["slice_words"].item()))
        for word in json.loads(str(one["flat_words"].item())):
            place = words.index(word)
            panel.axvspan(place - 0.3, place + 0.3, color=GREEN, alpha=0.2, linewidth=0)
        return
    low, high = flat_span(search, name, goal)
    ends, _ = shown(
        np.append([low, high], search["slice_value"].sel(slice_factor=name)),
        _dimension(search, name),
        search.attrs,
    )
    panel.axvspan(ends[0], ends[1], color=GREEN, alpha=0.2, linewidth=0)


def _dimension(search: xr.Dataset, name: str) -> str:
    return str(search[name].attrs["dimension"])


def _slice_axis(one: xr.Dataset, factor: xr.DataArray) -> tuple[np.ndarray[Any, Any], str, list[str]]:
    """Places along the axis, their unit, and the words of a choice."""
    raw = one["slice_value"].to_numpy()
    if factor.dtype.kind in "UO":
        return raw, "", [str(word) for word in json.loads(str(one["slice_words"].item()))]
    x, unit = shown(raw, str(factor.attrs["dimension"]), one.attrs)
    return x, unit, []


def _chosen_place(one: xr.Dataset, chosen: Any, words: list[str]) -> int:
    """Number of the slice's point that is the chosen one."""
    if words:
        return words.index(str(chosen))
    return int(np.nanargmin(np.abs(one["slice_value"].to_numpy() - float(chosen))))
