"""Figures of budgets: what each amount of money buys, and what it is spent on."""

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ...asking.quantity import to_unit
from ..words.budget_words import NOT_COUNTED, money
from ..words.phrases import spoken
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn, axis_text, column, shown

_PARTS = (ORANGE, SKY, GREEN, BLUE, GREY, PURPLE)


def spending(result: xr.Dataset) -> Drawn | None:
    """All designs tried by cost and goal, the front as a stair, and the best of each budget."""
    if "budget" not in result.coords:
        return None
    goal = str(result.attrs["goal"])
    (x, x_unit), (y, y_unit) = (
        column(result["material_cost"], result.attrs),
        column(result[goal], result.attrs),
    )
    feasible, front = result["feasible"].to_numpy() == 1, result["on_front"].to_numpy() == 1
    figure = Figure(figsize=(6.2, 4.0))
    axes = figure.subplots()
    axes.scatter(x[feasible], y[feasible], s=9, color=SKY, label="tried")
    order = np.flatnonzero(front)[np.argsort(x[front], kind="stable")]
    axes.step(x[order], y[order], where="post", color=BLUE, linewidth=1.2, label="best for the money")
    rows = np.unique(result["budget_trial"].to_numpy())
    rows = rows[rows >= 0]
    axes.plot(x[rows], y[rows], "D", color=RED, markersize=7, label="best within a budget")
    for budget in result["budget"].to_numpy():
        axes.axvline(budget, color=GREY, linewidth=0.8, linestyle=":")
    own_goal = to_unit(float(result[f"own_{goal}"]), y_unit or "1", str(result[goal].attrs["dimension"]))
    own = float(result["own_material_cost"]), own_goal
    if np.isfinite(own).all():
        axes.plot(*own, "s", color=BLACK, markersize=6, label="where the study starts")
    axes.set(xlabel=axis_text("material cost", x_unit), ylabel=axis_text(goal, y_unit))
    axes.legend()
    table = pd.DataFrame({axis_text("material cost", x_unit): x, axis_text(goal, y_unit): y})
    table["within limits"], table["on front"] = feasible.astype(int), front.astype(int)
    caption = f"Dotted: the budgets. A design below the stair was not found for that money. {NOT_COUNTED}"
    return Drawn("money", figure, table, caption)


def bills(result: xr.Dataset) -> Drawn | None:
    """The bill of each budget's design, part by part."""
    if "budget" not in result.coords or not (result["budget_trial"] >= 0).any():
        return None
    has = np.flatnonzero(result["budget_trial"].to_numpy() >= 0)
    parts = [str(part) for part in result["part"].to_numpy()]
    figure = Figure(figsize=(0.9 * has.size + 3.0, 3.6))
    axes = figure.subplots()
    floor = np.zeros(has.size)
    place = np.arange(has.size)
    for k, part in enumerate(parts):
        cost = result["part_cost"].to_numpy()[has, k]
        axes.bar(place, cost, bottom=floor, width=0.7, color=_PARTS[k % len(_PARTS)], label=spoken(part))
        floor = floor + cost
    for x, top in zip(place, floor, strict=True):
        axes.text(float(x), float(top), f"{top:.3g}", ha="center", va="bottom", fontsize=8)
    names = [f"for {money(result, float(budget))}" for budget in result["budget"].to_numpy()[has]]
    axes.set_xticks(place, names, rotation=20 if has.size > 3 else 0)
    axes.set_ylabel(axis_text("material cost", str(result["part_cost"].attrs["units"]).replace("1", "")))
    handles, texts = axes.get_legend_handles_labels()
    figure.legend(handles[::-1], texts[::-1], loc="outside right upper")
    return Drawn(
        "bills",
        figure,
        _bill_table(result, has),
        f"Material of the best design within each budget. {NOT_COUNTED}",
    )


def _bill_table(result: xr.Dataset, has: NDArray[np.int64]) -> pd.DataFrame:
    """One line for each part of each design."""
    one = result.isel(budget=has)
    parts = one.sizes["part"]
    cost = str(result["part_cost"].attrs["units"])
    mass, mass_unit = shown(one["part_mass"].to_numpy().ravel(), "mass", result.attrs)
    area, area_unit = shown(one["part_area"].to_numpy().ravel(), "area", result.attrs)
    return pd.DataFrame(
        {
            "budget": np.repeat(one["budget"].to_numpy(), parts),
            "part": np.tile(one["part"].to_numpy(), one.sizes["budget"]),
            "material": one["part_material"].to_numpy().ravel(),
            f"mass [{mass_unit}]": mass,
            f"area [{area_unit}]": area,
            f"cost [{cost}]": one["part_cost"].to_numpy().ravel(),
        }
    )
