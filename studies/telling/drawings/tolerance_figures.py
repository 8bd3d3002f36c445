"""The figure of what each quantity of a design may be off, and the costs as a reader takes them."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...asking.quantity import difference_of
from ...methods.sweeps import REACH, Ends
from ...methods.tolerance import Care
from ..words.phrases import spoken
from ..words.tolerance_quantity import step_text, width_text
from ..words.tolerance_words import care_order
from .drawing import BLACK, GREEN, GREY, ORANGE, RED, Drawn, shown

Values = np.ndarray[Any, Any]

_COLOURS = {Care.CAREFUL: RED, Care.NORMAL: ORANGE, Care.RELAXED: GREEN}
_CARE = {Care.CAREFUL: "measure carefully", Care.NORMAL: "normal care", Care.RELAXED: "not critical"}
_PALE = 0.35


def tolerance_bars(result: xr.Dataset) -> Drawn:
    """What each quantity may be off both ways, in steps of the accuracy with which it is made."""
    names = care_order(result)[::-1]
    figure = Figure(figsize=(7.2, 0.27 * len(names) + 1.5))
    axes = figure.subplots()
    axes.axvspan(-1, 1, color=GREY, alpha=0.25, linewidth=0, label="accuracy of the work")
    for row, name in enumerate(names):
        _bar(axes, row, result.sel(factor=name))
    axes.axvline(0, color=BLACK, linewidth=0.8)
    axes.set_yticks(range(len(names)), [_row_text(result.sel(factor=name)) for name in names], fontsize=7.5)
    axes.set_xlim(-REACH * 1.16, REACH * 1.16)
    axes.set_ylim(-0.7, len(names) - 0.3)
    axes.set_xticks(range(-8, 9, 2), [f"{abs(tick)}" for tick in range(-8, 9, 2)])
    axes.set_xlabel("too little   ←   times the accuracy   →   too much")
    for care, colour in _COLOURS.items():
        axes.barh([0], [0], color=colour, label=_CARE[care])
    axes.plot([], [], "x", color=BLACK, markersize=5, label="stops for good")
    handles, texts = axes.get_legend_handles_labels()
    figure.legend(handles, texts, loc="outside upper center", ncols=5, fontsize=7.5)
    steps = [step_text(result, number) for number in range(result.sizes["level"])]
    paler = f", paler: {' and '.join(steps[1:])}" if steps[1:] else ""
    caption = (
        f"How far each quantity may be off alone before it costs {steps[0]}{paler}. Bars to 8: no such cost in what "
        "was tried; shorter ones without a number: there is no more, or no less, of it. Crosses: further on the oven "
        "cannot be built, or never gets there."
    )
    return Drawn("tolerances", figure, _bar_table(result, names[::-1]), caption)


def _row_text(one: xr.Dataset) -> str:
    return f"{spoken(one['factor'].item())} (±{width_text(one, float(one['accuracy']))})"


def _bar(axes: Axes, row: int, one: xr.Dataset) -> None:
    """Both sides of one quantity, the widest step first so that narrower ones lie on it."""
    colour, accuracy = _COLOURS[Care(int(one["care"]))], float(one["accuracy"])
    for side in range(2):
        half = one.isel(side=side)
        way, tried = int(half["side"]), float(half["tried"]) / accuracy
        for level in range(half.sizes["level"] - 1, -1, -1):
            allowed = float(half["allowed"][level]) / accuracy
            length = tried if np.isnan(allowed) else allowed
            axes.barh(row, way * length, color=colour, height=0.62, alpha=1.0 if level == 0 else _PALE)
        if int(half["ends"].max()) >= Ends.NEVER and int(half["ends"].max()) != Ends.LAST:
            at = float(half["allowed"].max()) / accuracy
            axes.plot(way * at, row, "x", color=BLACK, markersize=5, clip_on=False)
        elif int(half["ends"][0]) == Ends.PASSED:
            text = width_text(half, float(half["allowed"][0]))
            axes.annotate(
                text,
                (way * float(half["allowed"].max()) / accuracy, row),
                xytext=(4 * way, 0),
                textcoords="offset points",
                ha="left" if way > 0 else "right",
                va="center",
                fontsize=6.5,
            )


_ENDS = {
    Ends.PASSED: "costs it",
    Ends.BEYOND: "not in the range tried",
    Ends.NEVER: "never gets there beyond",
    Ends.UNBUILT: "cannot be built beyond",
    Ends.LAST: "ends before",
}


def _bar_table(result: xr.Dataset, names: list[str]) -> pd.DataFrame:
    """What may be off, in the unit a builder reads, a row for each quantity, side and step."""
    rows = []
    for name in names:
        one = result.sel(factor=name)
        dimension = difference_of(str(one["factor_dimension"].item()))
        for side in range(2):
            half = one.isel(side=side)
            lengths = [*half["allowed"].to_numpy(), *half["allowed_error"].to_numpy()]
            numbers, unit = shown(
                [float(one["accuracy"]), float(half["tried"]), *lengths], dimension, result.attrs
            )
            for k, level in enumerate(half["level"].to_numpy()):
                rows.append(
                    {
                        "quantity": name,
                        "side": int(half["side"]),
                        f"worse by [{level_unit(result)}]": shown(
                            level, _level_dimension(result), result.attrs
                        )[0].item(),
                        "allowed": numbers[2 + k],
                        "standard error": numbers[2 + half.sizes["level"] + k],
                        "accuracy": numbers[0],
                        "tried": numbers[1],
                        "unit": unit or "1",
                        "end": _ENDS[Ends(int(half["ends"][k]))],
                        "care": _CARE[Care(int(one["care"]))],
                    }
                )
    return pd.DataFrame(rows)


def _level_dimension(result: xr.Dataset) -> str:
    return difference_of(str(result.attrs["goal_dimension"]))


def level_unit(result: xr.Dataset) -> str:
    """Unit in which the steps are read; "" for plain numbers."""
    return shown(result["level"].to_numpy(), _level_dimension(result), result.attrs)[1]


def costs(result: xr.Dataset, values: Values) -> Values:
    """Costs [SI] in the unit of the steps."""
    level = result["level"].to_numpy()
    scale = shown(level, _level_dimension(result), result.attrs)[0][-1] / level[-1]
    return np.asarray(values * scale)
