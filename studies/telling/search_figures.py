"""Figures of a search: its front, and one factor moved at a time."""

import json
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from ..methods.front import goals
from .drawing import BLUE, GREY, RED, SKY, Drawn, axis_text, column, shown


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
