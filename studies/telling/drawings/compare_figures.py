"""Figures of a comparison: differences with their intervals, and day against day."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...asking.quantity import display_unit, to_unit
from ..words.compare_words import by_day
from ..words.phrases import spoken, system_of
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn, axis_text

_COLOURS = (BLUE, ORANGE, GREEN, PURPLE, SKY, RED, BLACK)
_MARKS = ("o", "s", "^", "D", "v", "P", "X")
_KIND_COLOURS = {"clear": ORANGE, "mixed": GREY, "dull": BLUE}
_MOST_PANELS = 4


def differences(result: xr.Dataset) -> Drawn | None:
    """Paired differences of the first outcome by rival: on all days, by month, by kind of day."""
    merits, rivals = by_day(result), _rivals(result)
    if not merits or not rivals or not np.isfinite(result[f"{merits[0]}_difference"]).any():
        return None
    merit = merits[0]
    groups = [str(name) for name in result["group"].to_numpy()]
    figure = Figure(figsize=(6.6, 0.16 * len(groups) * (len(rivals) + 1) + 1.5))
    axes = figure.subplots()
    rows = _whiskers(axes, result, merit, rivals, groups)
    slack = float(_shown(result, merit, result[f"{merit}_difference"].attrs["slack"])[0])
    axes.axvspan(-slack, slack, color=GREY, alpha=0.15, linewidth=0, label="no difference that counts")
    axes.axvline(0, color=BLACK, linewidth=0.8)
    axes.set_yticks(range(len(groups)), groups)
    axes.invert_yaxis()
    first, unit = str(result["design"][0].item()), _shown(result, merit, 0.0)[1]
    axes.set_xlabel(axis_text(f'{spoken(merit)}, less that of "{first}"', unit))
    handles, texts = axes.get_legend_handles_labels()
    figure.legend(handles, texts, loc="outside upper center", ncols=2, fontsize=8)
    table = pd.DataFrame(
        rows, columns=["rival", "days", *(f"{end} [{unit}]" for end in ("mean", "low", "high"))]
    )
    caption = (
        "Mean differences on the days when both have a value; days on which only one has one are told in the text, "
        f"not averaged. Whiskers: {result.attrs['intervals']}."
    )
    return Drawn("differences", figure, table, caption)


def _rivals(result: xr.Dataset) -> list[str]:
    """Rivals that ran, if the first design did."""
    ran = set(result["design"].to_numpy()[result["status"].to_numpy() == 0].tolist())
    return [
        str(name) for name in result["rival"].to_numpy() if name in ran and result["design"][0].item() in ran
    ]


def _whiskers(axes: Axes, result: xr.Dataset, merit: str, rivals: list[str], groups: list[str]) -> list[Any]:
    rows = []
    for k, rival in enumerate(rivals):
        one = result.sel(rival=rival)
        ends = [f"{merit}_difference{end}" for end in ("", "_low", "_high")]
        mean, low, high = (_shown(result, merit, one[name].to_numpy())[0] for name in ends)
        place = np.arange(len(groups)) + 0.7 * ((k + 0.5) / len(rivals) - 0.5)
        colour, mark = _COLOURS[k % len(_COLOURS)], _MARKS[k % len(_MARKS)]
        whisker = np.array([mean - low, high - mean])
        known = np.isfinite(mean)
        axes.errorbar(
            mean[known],
            place[known],
            xerr=np.nan_to_num(whisker[:, known]),
            fmt=mark,
            color=colour,
            markersize=4.5,
            capsize=2,
            elinewidth=1,
            label=f'"{rival}"',
        )
        rows += list(zip([rival] * len(groups), groups, mean, low, high, strict=True))
    return rows


def _shown(result: xr.Dataset, merit: str, values: Any) -> tuple[np.ndarray[Any, Any], str]:
    """Differences in one unit for the whole figure."""
    difference = result[f"{merit}_difference"]
    largest = float(np.fmax.reduce(np.abs(difference.to_numpy()).ravel(), initial=difference.attrs["slack"]))
    dimension = str(difference.attrs["dimension"])
    unit = display_unit(dimension, magnitude=largest, system=system_of(result.attrs))
    return to_unit(np.asarray(values, np.float64), unit, dimension), "" if unit == "1" else unit


def day_against_day(result: xr.Dataset) -> Drawn | None:
    """The first outcome of every day under the first design, and under each rival."""
    merits, rivals = by_day(result), _rivals(result)[:_MOST_PANELS]
    if not merits or not rivals or merits[0].startswith("share_"):
        return None
    merit, first = merits[0], str(result["design"][0].item())
    days = result[f"{merit}_by_day"]
    if not np.isfinite(days).any():
        return None
    unit = display_unit(
        str(days.attrs["dimension"]),
        magnitude=float(np.nanmax(days.to_numpy(), initial=0.0)),
        system=system_of(result.attrs),
    )
    values = to_unit(days.to_numpy(), unit, str(days.attrs["dimension"]))
    low, high = np.nanmin(values), np.nanmax(values)
    beyond = high + 0.08 * (high - low)
    figure = Figure(figsize=(2.7 * len(rivals) + 0.7, 3.3))
    panels = figure.subplots(1, len(rivals), sharex=True, sharey=True, squeeze=False)[0]
    names = result["design"].to_numpy().tolist()
    table = _days_table(result, values)
    for panel, rival in zip(panels, rivals, strict=True):
        _day_panel(panel, values[0], values[names.index(rival)], result["day_kind"].to_numpy(), beyond)
        panel.plot([low, high], [low, high], color=BLACK, linewidth=0.8)
        panel.set(title=f'"{rival}"', xlabel=axis_text(f'"{first}"', "" if unit == "1" else unit))
    panels[0].set_ylabel(axis_text(spoken(merit), "" if unit == "1" else unit))
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles, texts, loc="outside upper center", ncols=4, fontsize=8)
    caption = (
        "Each point is one kind of day (and draw); on the line both are alike. Crosses beyond the edge: one of the two "
        "never got there on that day."
    )
    return Drawn("days", figure, table, caption)


def _day_panel(panel: Axes, first: Any, other: Any, kinds: Any, beyond: float) -> None:
    for kind, colour in _KIND_COLOURS.items():
        mine = kinds == kind
        if not mine.any():
            continue
        x, y = first[:, mine].ravel(), other[:, mine].ravel()
        both = np.isfinite(x) & np.isfinite(y)
        panel.scatter(x[both], y[both], s=12, color=colour, label=f"{kind} day")
        alone = np.isfinite(x) ^ np.isfinite(y)
        if alone.any():
            at_x, at_y = (np.where(np.isfinite(axis[alone]), axis[alone], beyond) for axis in (x, y))
            panel.scatter(at_x, at_y, s=22, marker="x", color=colour, linewidth=1.1)


def _days_table(result: xr.Dataset, values: Any) -> pd.DataFrame:
    """Values of every design by day and draw."""
    draws, days = result.sizes["draw"], result.sizes["day"]
    table = pd.DataFrame({"day": np.tile(result["day_label"].to_numpy(), draws)})
    table["kind"] = np.tile(result["day_kind"].to_numpy(), draws)
    table["draw"] = np.repeat(result["draw"].to_numpy(), days)
    for k, name in enumerate(result["design"].to_numpy()):
        table[str(name)] = values[k].ravel()
    return table


def outcomes(result: xr.Dataset) -> Drawn | None:
    """Every outcome of single days: the difference of each rival on all days."""
    merits, rivals = by_day(result), _rivals(result)
    if len(merits) < 2 or not rivals:
        return None
    figure = Figure(figsize=(2.6 * len(merits) + 1.0, 0.3 * len(rivals) + 1.4))
    panels = figure.subplots(1, len(merits), sharey=True, squeeze=False)[0]
    tables = []
    for merit, panel in zip(merits, panels, strict=True):
        one = result.sel(group=["all days"])
        rows = []
        for k, rival in enumerate(rivals):
            rows += _whiskers_at(panel, one, merit, rival, k)
        panel.axvline(0, color=BLACK, linewidth=0.8)
        panel.set_xlabel(axis_text(merit, _shown(one, merit, 0.0)[1]))
        tables.append(pd.DataFrame(rows, columns=["outcome", "unit", "rival", "mean", "low", "high"]))
    panels[0].set_yticks(range(len(rivals)), [f'"{rival}"' for rival in rivals])
    panels[0].set_ylim(len(rivals) - 0.5, -0.5)
    first = str(result["design"][0].item())
    caption = (
        f'Mean differences from "{first}" on the days when both have a value, each outcome in its own unit.'
    )
    return Drawn("outcomes", figure, pd.concat(tables), caption)


def _whiskers_at(panel: Axes, one: xr.Dataset, merit: str, rival: str, place: int) -> list[Any]:
    ends = [f"{merit}_difference{end}" for end in ("", "_low", "_high")]
    mean, low, high = (float(_shown(one, merit, one[name].sel(rival=rival).item())[0]) for name in ends)
    if np.isfinite(mean):
        whisker = np.nan_to_num([[mean - low], [high - mean]])
        panel.errorbar([mean], [place], xerr=whisker, fmt="o", color=BLUE, capsize=2, elinewidth=1)
    return [(merit, _shown(one, merit, 0.0)[1], rival, mean, low, high)]
