"""Figures of a season study: what is best where, what one would build there alone, what one design loses."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...methods.regret import NONE
from ..words.phrases import spoken
from ..words.season_phrases import factor_names, fitting_text
from .drawing import Drawn, axis_text, column, shown
from .season_maps import BRIGHT_IS_HIGH, BRIGHT_IS_LOW, grid_of, map_on, panels, table_of

Floats = NDArray[np.float64]
MOST_FACTORS = 4


def best(season: xr.Dataset) -> Drawn | None:
    """The goal of the best design of each place and month."""
    if "built" not in season.attrs:
        return None
    goal = str(season.attrs["goal"])
    values, unit = column(season["best"], season.attrs)
    colours = BRIGHT_IS_LOW if season[goal].attrs["direction"] == "minimize" else BRIGHT_IS_HIGH
    title = axis_text(f"best {spoken(goal)}", unit)
    grid = grid_of(season)
    figure, (axes,) = panels(grid, 1)
    map_on(axes, grid, values, title=title, colours=colours)
    caption = f"The best {spoken(goal)} of all designs tried; the brighter the better; hatched: none serves."
    return Drawn("best", figure, table_of(season, **{title: values}), caption)


def own(season: xr.Dataset) -> Drawn | None:
    """What one would build for each place and month alone, factor by factor."""
    if "built" not in season.attrs:
        return None
    rows, names = season["fitting_design"].to_numpy(), factor_names(season)
    grid = grid_of(season)
    drawn = names[:MOST_FACTORS]
    figure, axes = panels(grid, len(drawn))
    columns = {}
    for number, name in enumerate(names):
        values, unit, words = _factor(season[name], rows, season.attrs)
        title = axis_text(name, unit)
        columns[title] = (
            np.array([*words, ""])[np.nan_to_num(values, nan=-1).astype(int)] if words else values
        )
        if number < len(drawn):
            map_on(
                axes[number],
                grid,
                values,
                title=title,
                words=words,
                span=_least_span(season[name], season.attrs),
            )
    rest = f" Of {len(names)} factors, the first {len(drawn)} are drawn." if len(names) > len(drawn) else ""
    caption = f"What one would build for each place and month alone: {fitting_text(season)}.{rest}"
    return Drawn("own", figure, table_of(season, **columns), caption)


def lost(season: xr.Dataset) -> Drawn | None:
    """What the one design loses, and what the better one of two does."""
    if "built" not in season.attrs:
        return None
    goal, one = spoken(season.attrs["goal"]), int(season.attrs["built"])
    pair, slack = season["pair_regret"], xr.full_like(season["pair_regret"], season.attrs["slack"])
    grid = grid_of(season)
    (lost_by_one, lost_by_two, slack), unit = _together([season["regret"][one], pair, slack], season.attrs)
    figure, axes = panels(grid, 2)
    top = float(np.nanmax([lost_by_one, lost_by_two, slack])) or 1.0
    titles = [
        axis_text(f"{goal} lost, {which}", unit) for which in ("one design", "the better of two, A and B")
    ]
    letters = {int(season.attrs["second"]): " B", int(season.attrs["first"]): " A", NONE: ""}
    used = tuple(letters[int(row)] for row in season["used_design"].to_numpy())
    map_on(axes[0], grid, lost_by_one, title=titles[0], colours=BRIGHT_IS_LOW, top=top, missing="no")
    map_on(
        axes[1], grid, lost_by_two, title=titles[1], colours=BRIGHT_IS_LOW, top=top, missing="no", notes=used
    )
    table = table_of(
        season, **{titles[0]: lost_by_one, titles[1]: lost_by_two, "used": [n.strip() for n in used]}
    )
    caption = (
        "By how much the best design of each place and month is better than the one built everywhere, and than the "
        "better of two; hatched: it does not serve there."
    )
    return Drawn("lost", figure, table, caption)


def days(season: xr.Dataset) -> Drawn | None:
    """On what share of a month's days the one design gets its meal done."""
    if "built" not in season.attrs:
        return None
    values, unit = column(season["chosen_share_done"], season.attrs)
    title = axis_text("days on which the meal gets done with the one design", unit)
    grid = grid_of(season)
    figure, (axes,) = panels(grid, 1)
    map_on(
        axes, grid, values, title=title, top=float(shown([1.0], "share", season.attrs)[0][0]), missing="no"
    )
    caption = (
        "Share of each month's days on which the one design gets the meal done; the rest need another fire."
    )
    return Drawn("days", figure, table_of(season, **{title: values}), caption)


def _factor(
    factor: xr.DataArray, rows: NDArray[np.int64], attrs: Mapping[Any, Any]
) -> tuple[Floats, str, tuple[str, ...]]:
    """A factor of one design for each cell, as numbers to draw; the words they stand for, if any."""
    values = factor.to_numpy()
    words: tuple[str, ...] = ()
    if factor.dtype.kind in "UOi":
        different, places = np.unique(values, return_inverse=True)
        words, numbers, unit = tuple(map(str, different)), places.astype(np.float64), ""
    else:
        numbers, unit = shown(values, str(factor.attrs["dimension"]), attrs)
    return np.where(rows == NONE, np.nan, numbers[rows]), unit, words


def _least_span(factor: xr.DataArray, attrs: Mapping[Any, Any]) -> float:
    """Colours go over a tenth at least of what was tried."""
    if factor.dtype.kind in "UOi":
        return 0.0
    tried = shown(factor.to_numpy(), str(factor.attrs["dimension"]), attrs)[0]
    return 0.1 * float(np.ptp(tried))


def _together(arrays: list[xr.DataArray], attrs: Mapping[Any, Any]) -> tuple[Floats, str]:
    """Several variables of one kind in one unit."""
    stacked = xr.concat(
        [array.reset_coords(drop=True) for array in arrays], "which", combine_attrs="override"
    )
    return column(stacked, attrs)
