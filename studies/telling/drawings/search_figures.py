"""Figures of a search: its front, the ways to choose along it, and whether several searches agree."""

from collections.abc import Iterator
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ...methods.front import goals
from ..words.phrases import spoken
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn, axis_text, column

Floats = NDArray[np.float64]

_KNOWN = (
    (ORANGE, "s"),
    (GREEN, "^"),
    (PURPLE, "v"),
    (BLACK, "P"),
)  # a colour and a mark for each known design
_MOST_LINES = 60  # of a figure of parallel lines; more are a blur


def front(search: xr.Dataset) -> Drawn | None:
    """All designs tried in each plane of two goals, with the front, the known designs and the chosen one."""
    names = goals(search)
    if len(names) < 2 or not search["feasible"].any():
        return None
    pairs = list(combinations(range(len(names)), 2))
    across = min(len(pairs), 3)
    down = -(-len(pairs) // across)
    size = (6.2, 4.0) if len(pairs) == 1 else (3.3 * across, 3.0 * down + 0.5)
    figure = Figure(figsize=size)
    panels = figure.subplots(down, across, squeeze=False).ravel()
    columns = [column(search[name], search.attrs) for name in names]
    for (a, b), panel in zip(pairs, panels, strict=True):
        _plane(panel, search, names[a], names[b], line=len(names) == 2)
    handles, labels = panels[0].get_legend_handles_labels()
    if len(pairs) == 1:
        panels[0].legend()
    else:
        figure.legend(handles, labels, loc="outside lower center", ncols=4)
    table = pd.DataFrame({axis_text(n, unit): v for n, (v, unit) in zip(names, columns, strict=True)})
    feasible, on_front = search["feasible"].to_numpy() == 1, search["on_front"].to_numpy() == 1
    table["within limits"], table["on front"] = feasible.astype(int), on_front.astype(int)
    if "reason" in search:
        table["why not"] = search["reason"].to_numpy()
    more = (
        ""
        if len(names) == 2
        else " A front of several goals is a surface: each panel looks at it from one side."
    )
    caption = (
        f"{int(feasible.sum())} of {len(feasible)} designs keep the limits that were asked for; "
        f"{int(on_front.sum())} of them are not beaten in all goals at once.{more}"
    )
    return Drawn("front", figure, table, caption)


def _plane(panel: Axes, search: xr.Dataset, first: str, second: str, *, line: bool) -> None:
    """Every design by two goals."""
    (x, x_unit), (y, y_unit) = column(search[first], search.attrs), column(search[second], search.attrs)
    feasible, on_front = search["feasible"].to_numpy() == 1, search["on_front"].to_numpy() == 1
    panel.scatter(x[feasible], y[feasible], s=9, color=SKY, label="tried")
    over = np.isfinite(x) & np.isfinite(y) & ~feasible
    if over.any():
        panel.scatter(x[over], y[over], s=9, color=GREY, marker="x", linewidth=0.7, label="over a limit")
    order = np.flatnonzero(on_front)[np.argsort(x[on_front], kind="stable")]
    # With a third goal the front is no line in the plane of two.
    style = "o-" if line else "o"
    panel.plot(x[order], y[order], style, color=BLUE, markersize=4, linewidth=1, label="front")
    for name, color, mark, place in _known(search, first, second):
        panel.plot(*place, mark, color=color, markersize=6, label=name)
    chosen = search.attrs.get("chosen_trial")
    if chosen is not None:
        panel.plot(x[chosen], y[chosen], "D", color=RED, markersize=7, label="chosen")
    panel.set(xlabel=axis_text(first, x_unit), ylabel=axis_text(second, y_unit))


def _known(search: xr.Dataset, *names: str) -> Iterator[tuple[str, str, str, list[float]]]:
    """Name, colour, mark and shown goals of each known design that has them all."""
    if "known" not in search.coords:
        return
    for k, name in enumerate(search["known"].to_numpy()):
        color, mark = _KNOWN[k % len(_KNOWN)]
        values = [_shown_like(search, goal, float(search[f"known_{goal}"][k])) for goal in names]
        if np.isfinite(values).all():
            yield str(name), color, mark, values


def _shown_like(search: xr.Dataset, goal: str, value: float) -> float:
    """A value in the unit that the trials of a goal are shown in."""
    together = search[goal].copy(data=np.append(search[goal].to_numpy()[1:], value))
    return float(column(together, search.attrs)[0][-1])


def choices(search: xr.Dataset) -> Drawn | None:
    """The front as lines over three or more goals: what is gained in one is lost in another."""
    names = goals(search)
    members = np.flatnonzero(search["on_front"].to_numpy() == 1)
    if len(names) < 3 or len(members) < 2:
        return None
    chosen = search.attrs.get("chosen_trial")
    lines = members[:: -(-len(members) // _MOST_LINES)]
    figure = Figure(figsize=(1.9 * len(names) + 1.4, 3.8))
    axes = figure.subplots()
    ends = [_ends(search, name, members) for name in names]
    places = range(len(names))
    for row in lines:
        axes.plot(places, _heights(search, names, ends, row), "-", color=SKY, linewidth=0.8)
    for name, color, mark, values in _known(search, *names):
        heights = [(v - worst) / (best - worst) for v, (best, worst, _) in zip(values, ends, strict=True)]
        axes.plot(places, heights, f"{mark}--", color=color, markersize=5, linewidth=1, label=name)
    if chosen is not None:
        axes.plot(
            places, _heights(search, names, ends, int(chosen)), "D-", color=RED, linewidth=2, label="chosen"
        )
    axes.set_xticks(places, [axis_text(n, unit) for n, (_, _, unit) in zip(names, ends, strict=True)])
    for place, (best, worst, _) in zip(places, ends, strict=True):
        axes.text(place, 1.06, f"{best:.3g}", ha="center", va="bottom")
        axes.text(place, -0.06, f"{worst:.3g}", ha="center", va="top")
    axes.set(ylim=(-0.45, 1.45), yticks=[0, 1], yticklabels=["worst", "best"])
    axes.grid(False, axis="y")
    if axes.get_legend_handles_labels()[1]:
        figure.legend(loc="outside lower center", ncols=3)
    return Drawn(
        "choices",
        figure,
        _front_table(search, names, members),
        f"Each line is one of {len(members)} designs of the front, from its best value (top) to its worst (bottom) in "
        "each goal; lines that cross are a trade.",
    )


def _ends(search: xr.Dataset, name: str, members: NDArray[np.int64]) -> tuple[float, float, str]:
    """Best and worst shown value of a goal on the front, and the unit; apart by at least a little."""
    values, unit = column(search[name], search.attrs)
    least, most = float(values[members].min()), float(values[members].max())
    most = most if most > least else least + max(abs(least), 1.0) * 1e-6
    return (most, least, unit) if search[name].attrs["direction"] == "maximize" else (least, most, unit)


def _heights(
    search: xr.Dataset, names: list[str], ends: list[tuple[float, float, str]], row: int
) -> list[float]:
    """Where a design stands between worst (0) and best (1) in each goal."""
    shown = [column(search[name], search.attrs)[0][row] for name in names]
    return [float((v - worst) / (best - worst)) for v, (best, worst, _) in zip(shown, ends, strict=True)]


def _front_table(search: xr.Dataset, names: list[str], members: NDArray[np.int64]) -> pd.DataFrame:
    """Goals and factors of the designs on the front."""
    factors = [str(name) for name, array in search.coords.items() if array.attrs.get("role") == "factor"]
    table: dict[str, Any] = {"trial": members}
    for name in [*names, *factors]:
        if search[name].dtype.kind in "UO":
            table[spoken(name)] = search[name].to_numpy()[members]
        else:
            values, unit = column(search[name], search.attrs)
            table[axis_text(name, unit)] = values[members]
    return pd.DataFrame(table)


def agreement(search: xr.Dataset) -> Drawn | None:
    """How the front of each search grew, beside all of them together."""
    together = search["hypervolume"].to_numpy()
    if search.sizes["run"] < 2 or not together[-1] > 0:
        return None
    tried = (search["generation_number"].to_numpy() + 1) * int(search.attrs["population"])
    tried = np.minimum(tried, search.sizes["trial"] // search.sizes["run"])
    share = 100 * search["run_hypervolume"].to_numpy() / together[-1]
    figure = Figure(figsize=(5.6, 3.2))
    axes = figure.subplots()
    axes.plot(tried, 100 * together / together[-1], color=BLACK, linewidth=2, label="together")
    colours = (BLUE, ORANGE, GREEN, PURPLE, SKY, RED)
    table = pd.DataFrame({"designs of each search": tried, "together [%]": 100 * together / together[-1]})
    for k, seed in enumerate(search["run_seed"].to_numpy()):
        axes.plot(tried, share[k], "o-", color=colours[k % len(colours)], markersize=3, label=f"seed {seed}")
        table[f"seed {seed} [%]"] = share[k]
    axes.set(xlabel="designs of each search", ylabel="volume of the front [% of the last]")
    axes.set_ylim(bottom=0)
    axes.legend()
    caption = (
        f"Searches from {len(share)} seeds, measured from one reference point: they end "
        f"between {share[:, -1].min():.1f} and {share[:, -1].max():.1f} % of what they found together."
    )
    return Drawn("agreement", figure, table, caption)
