"""Figures of a plan of test cooks: what shade and thermometers are worth, and what more cooks are."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..words.protocol_words import ratio_words
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn

_COLOURS = (BLUE, ORANGE, GREEN, PURPLE, SKY, RED)
_MARKS = ("o", "s", "^", "D", "v", "P")
_TOP = 100.0  # %; what lies above is not known


def shade_and_thermometers(result: xr.Dataset) -> Drawn:
    """How far each ratio is known after one cook, by minutes of shade and by thermometers."""
    figure = Figure(figsize=(7.2, 3.2))
    panels = figure.subplots(1, result.sizes["factor"], sharey=True)
    for axes, name in zip(panels, result["factor"].to_numpy(), strict=True):
        for number, (label, part) in enumerate(_ways(result)):
            minutes = part["shade"].to_numpy() / 60
            known = _percent(part["reach"].sel(cooks=1, factor=name))
            look: dict[str, Any] = {"linestyle": "--" if part["empty"].to_numpy().any() else "-"}
            axes.plot(
                minutes,
                known,
                marker=_MARKS[number % len(_MARKS)],
                color=_COLOURS[number % len(_COLOURS)],
                markersize=4,
                label=label,
                **look,
            )
        _wish(axes, result, name)
        axes.set_title(ratio_words(name), fontsize=9)
        axes.set_xlabel("shade [min]")
    _percent_axis(panels[0])
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2, fontsize=7.5)
    caption = (
        "After one cook; a point at the top stands for a ratio that is not known. Dotted: what is wanted. Dashed: with "
        "one empty cook beside it."
    )
    return Drawn("shade", figure, _table(result), caption)


def more_cooks(result: xr.Dataset) -> Drawn:
    """How far each ratio is known after more and more cooks of the recommended way, and of the simplest."""
    figure = Figure(figsize=(7.2, 3.0))
    panels = figure.subplots(1, result.sizes["factor"], sharey=True)
    cooks = result["cooks"].to_numpy()
    shown = {"recommended": int(result.attrs["recommended"]), "simplest": 0}
    rows = []
    for axes, name in zip(panels, result["factor"].to_numpy(), strict=True):
        for (label, number), colour in zip(shown.items(), (BLUE, ORANGE), strict=True):
            known = _percent(result["reach"].isel(protocol=number).sel(factor=name))
            axes.plot(cooks, known, "o-", color=colour, markersize=3.5, label=label)
            rows += [(label, str(name), int(count), value) for count, value in zip(cooks, known, strict=True)]
        floor = float(_percent(result["floor"][shown["recommended"]].sel(factor=name)))
        axes.axhline(floor, color=GREY, linestyle="--", linewidth=1, label="recommended, without end")
        _wish(axes, result, name)
        axes.set_title(ratio_words(name), fontsize=9)
        axes.set_xlabel("cooks")
    _percent_axis(panels[0])
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=4, fontsize=7.5)
    caption = "Dashed: what the instrument for sunlight leaves however many cooks there are. Dotted: what is wanted."
    table = pd.DataFrame(rows, columns=["way", "ratio", "cooks", "within [%]"])
    return Drawn("cooks", figure, table, caption)


def _ways(result: xr.Dataset) -> list[tuple[str, xr.Dataset]]:
    """Lines of the figure: thermometers, with an empty cook or without."""
    found = []
    for sensors in dict.fromkeys(result["sensors"].to_numpy().tolist()):
        for empty in (0, 1):
            own = (result["sensors"].to_numpy() == sensors) & (result["empty"].to_numpy() == empty)
            if own.any():
                label = " + ".join(sensors.replace("_", " ").split()) if "_" not in sensors else sensors
                found.append(
                    (label + (", one empty cook" if empty else ""), result.isel(protocol=np.flatnonzero(own)))
                )
    return found


def _percent(reach: Any) -> Any:
    """Reach in per cent, at the top where it is not known."""
    return np.minimum(100 * np.asarray(reach, np.float64), _TOP)


def _wish(axes: Axes, result: xr.Dataset, name: object) -> None:
    wish = float(result["wanted"].sel(factor=name))
    if np.isfinite(wish):
        axes.axhline(100 * wish, color=BLACK, linestyle=":", linewidth=1)


def _percent_axis(axes: Axes) -> None:
    axes.set_yscale("log")
    axes.set_ylim(top=1.15 * _TOP)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_ylabel("known within [%]")


def _table(result: xr.Dataset) -> pd.DataFrame:
    """Every way of testing with what one cook and many leave."""
    table = pd.DataFrame(
        {
            "thermometers": result["sensors"].to_numpy(),
            "shade [min]": result["shade"].to_numpy() / 60,
            "empty cook": result["empty"].to_numpy(),
            "cooks needed": result["cooks_needed"].to_numpy(),
        }
    )
    for name in result["factor"].to_numpy():
        table[f"{name}, 1 cook [%]"] = 100 * result["reach"].sel(cooks=1, factor=name).to_numpy()
        table[f"{name}, no end [%]"] = 100 * result["floor"].sel(factor=name).to_numpy()
    return table
