"""Phrases on a region: its designs, places and months, amounts."""

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .phrases import factor_text, listed, said, spoken

Mask = NDArray[np.bool_]


def design_text(season: xr.Dataset, row: int) -> str:
    """The factors of one design, but those without effect."""
    idle = str(season.attrs.get("idle_factors", "")).split()
    names = [name for name in factor_names(season) if name not in idle]
    return ", ".join(f"{spoken(name)} {factor_text(season[name], row, season.attrs)}" for name in names)


def factor_names(season: xr.Dataset) -> list[str]:
    """What varies, in order."""
    return [str(name) for name, column in season.coords.items() if column.attrs.get("role") == "factor"]


def cell_text(season: xr.Dataset, cell: int) -> str:
    """A place and a month."""
    return f"{season['place'].to_numpy()[cell]} in {season['month_name'].to_numpy()[cell]}"


def cells_text(season: xr.Dataset, cells: Mask) -> str:
    """Several of them, place by place."""
    places, months = season["place"].to_numpy(), season["month_name"].to_numpy()
    parts = []
    for place in dict.fromkeys(places[cells].tolist()):
        own = places == place
        every = cells[own].all() and own.sum() > 1
        when = f"all {own.sum()} months" if every else _months_text(months[own].tolist(), cells[own])
        parts.append(f"{place} in {when}")
    return "; ".join(parts)


def _months_text(names: list[str], named: Mask) -> str:
    """Months in a row, three or more that follow each other as from when to when."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], named.astype(int), [0]])))
    texts: list[str] = []
    for first, end in edges.reshape(-1, 2).tolist():
        run = names[first:end]
        texts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    return listed(texts)


def amount(value: float, like: xr.DataArray, season: xr.Dataset, digits: int = 2) -> str:
    """A value with the unit that a variable is read in; money keeps its currency."""
    text = said(value, str(like.attrs["dimension"]), season.attrs, digits=digits)
    money = like.attrs["dimension"] == "money" and like.attrs["units"] != "1"
    return f"{text} {like.attrs['units']}" if money else text


def fitting_text(season: xr.Dataset) -> str:
    """By which rule a design fits one place and month."""
    if "rather" not in season.attrs:
        return "the best one"
    name, slack = (
        str(season.attrs["rather"]),
        amount(float(season.attrs["slack"]), season["regret"], season),
    )
    which = "least" if season[name].attrs["direction"] == "minimize" else "most"
    return f"within {slack} of its best the one with the {which} {spoken(name)}"
