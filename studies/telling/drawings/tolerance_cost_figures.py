"""Figures of what it costs to be off: the quantities that matter most alone, and ovens with everything off at once."""

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...asking.quantity import difference_of
from ...methods.tolerance import Care
from ..words.phrases import spoken
from ..words.tolerance_words import care_order
from .drawing import BLACK, BLUE, GREY, RED, SKY, Drawn, axis_text, shown
from .tolerance_figures import Values, costs, level_unit

_PANELS = 8  # of curves, and bars of shares
_BINS = 16


def curves(result: xr.Dataset) -> Drawn | None:
    """What was run of the quantities that need care, and where each passes the steps."""
    names = [name for name in care_order(result) if int(result["care"].sel(factor=name)) != Care.RELAXED]
    names = names[:_PANELS]
    if not names:
        return None
    columns = min(len(names), 4)
    rows = -(-len(names) // columns)
    figure = Figure(figsize=(1.9 * columns + 0.4, 1.9 * rows + 0.4))
    panels = figure.subplots(rows, columns, sharey=True, squeeze=False).ravel()
    tables = [_curve(panel, result, name) for name, panel in zip(names, panels, strict=False)]
    for panel in panels[len(names) :]:
        panel.set_axis_off()
    figure.supylabel(_cost_text(result), fontsize=9)
    caption = (
        "Points: what was run, with two standard errors from the rays. Dotted: the steps asked for. Shaded: the "
        "accuracy of the work."
    )
    return Drawn("curves", figure, pd.concat(tables), caption)


def _cost_text(result: xr.Dataset) -> str:
    return axis_text(f"cost in {result.attrs['goal']}", level_unit(result))


def _curve(axes: Axes, result: xr.Dataset, name: str) -> pd.DataFrame:
    """One quantity: what it costs to be off by so much."""
    one = result.sel(factor=name)
    off = _both_sides(one, "point_off")
    known = np.isfinite(off)
    x, unit = shown(off[known], difference_of(str(one["factor_dimension"].item())), result.attrs)
    cost, error = (costs(result, _both_sides(one, f"point_{kind}")[known]) for kind in ("excess", "doubt"))
    widest = np.abs(off[known]).argmax()
    accuracy = float(one["accuracy"]) * x[widest] / off[known][widest]
    axes.axvspan(-accuracy, accuracy, color=GREY, alpha=0.25, linewidth=0)
    axes.errorbar(
        x,
        cost,
        yerr=2 * np.nan_to_num(error),
        fmt="o-",
        color=BLUE,
        markersize=2.5,
        linewidth=0.8,
        elinewidth=0.8,
    )
    levels = costs(result, result["level"].to_numpy())
    for level in levels:
        axes.axhline(level, color=RED, linestyle=":", linewidth=1)
    axes.set_ylim(-1.2 * levels[-1], 1.6 * levels[-1])
    axes.set_title(spoken(name), fontsize=8)
    axes.set_xlabel(f"off [{unit}]" if unit else "off", fontsize=8)
    columns = {
        "off": x,
        "unit": unit or "1",
        f"cost [{level_unit(result) or '1'}]": cost,
        "standard error": error,
    }
    return pd.DataFrame({"quantity": name, **columns})


def _both_sides(one: xr.Dataset, name: str) -> Values:
    """Points of a quantity from the least to the most; the design itself once."""
    return np.concatenate([one[name].to_numpy()[0, ::-1], one[name].to_numpy()[1, 1:]])


def everything_off(result: xr.Dataset) -> Drawn:
    """Ovens drawn with everything off at once: what it costs them, and what of."""
    usual = result.sel(scale=1.0)
    cost = costs(result, usual["drawn_excess"].to_numpy())
    explained = bool(np.isfinite(result["variance_share"]).any())
    figure = Figure(figsize=(7.2 if explained else 4.6, 3.4))
    panels = figure.subplots(
        1, 2 if explained else 1, width_ratios=(3, 2) if explained else None, squeeze=False
    )
    _spread(panels[0, 0], result, cost)
    if explained:
        _shares(panels[0, 1], result)
    table = pd.DataFrame({"oven": result["draw"].to_numpy(), f"cost [{level_unit(result) or '1'}]": cost})
    for k, name in enumerate(result["factor"].to_numpy()):
        dimension = difference_of(str(result["factor_dimension"].to_numpy()[k]))
        numbers, unit = shown(result["drawn_off"].to_numpy()[:, k], dimension, result.attrs)
        table[f"{name} off [{unit or '1'}]"] = numbers
    caption = f"{cost.size} ovens with every quantity off at once within the accuracy of the work."
    if explained:
        fit = 100 * float(result.attrs["r_squared"])
        caption += f" Right: what their spread comes of, each quantity alone; the fit explains {fit:.0f} %."
    return Drawn("together", figure, table, caption)


def _spread(axes: Axes, result: xr.Dataset, cost: Values) -> None:
    """How many ovens cost how much, and the share that keeps each step."""
    known = np.isfinite(cost)
    axes.hist(cost[known], bins=_BINS, color=SKY)
    axes.axvline(0, color=BLACK, linewidth=0.8)
    levels, kept = costs(result, result["level"].to_numpy()), result["within"].sel(scale=1.0).to_numpy()
    for level, share in zip(levels, kept, strict=True):
        axes.axvline(level, color=RED, linestyle=":", linewidth=1.2)
        axes.text(
            level,
            0.98,
            f" {100 * share:.0f} % cost at most {level:g} {level_unit(result)}",
            rotation=90,
            ha="right",
            va="top",
            fontsize=7.5,
            transform=axes.get_xaxis_transform(),
        )
    lost = int((~known).sum())
    axes.set_title(f"{lost} of {cost.size} without a value, not shown" if lost else "", fontsize=8)
    axes.set(xlabel=_cost_text(result), ylabel="ovens")


def _shares(axes: Axes, result: xr.Dataset) -> None:
    """The quantities that most of the spread comes of."""
    share = result["variance_share"].to_numpy()
    order = np.argsort(share, kind="stable")[-_PANELS:]
    axes.barh(range(len(order)), 100 * share[order], color=BLUE)
    names = [spoken(name) for name in result["factor"].to_numpy()[order]]
    axes.set_yticks(range(len(order)), names, fontsize=7.5)
    axes.set_xlabel("share of the spread [%]")
