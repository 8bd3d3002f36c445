"""Phrases that the sentences on several kinds of study share."""

from collections.abc import Sequence
from typing import Any

import xarray as xr

from ..asking.quantity import parse_clock, show, show_clock


def spoken(name: object) -> str:
    """A variable's name as words."""
    return str(name).replace("_", " ")


def later(attrs: dict[str, Any], seconds: float) -> str:
    """Clock time so long after loading; past midnight it says so."""
    clock = parse_clock(attrs["loaded_at"]) + seconds
    return show_clock(clock) if clock <= 86_400.0 else f"{show_clock(clock - 86_400.0)} the next day"


def limit_sentences(limits: dict[str, Any]) -> list[str]:
    """Which safety limits a design exceeds, and by how much; one sentence if it exceeds none."""
    over = []
    for margin in limits.values():
        value = float(margin)
        if value > 0:
            dimension = str(margin.attrs["dimension"])
            over.append(f"OVER A LIMIT: {margin.attrs['long_name']}, by {show(value, dimension, digits=3)}.")
    return over or ["No safety limit is exceeded on any of the days."]


def factor_text(column: xr.DataArray, row: int) -> str:
    value = column.to_numpy()[row]
    if column.dtype.kind in "UO":
        return str(value)
    return show(float(value), str(column.attrs["dimension"]), digits=3)


def listed(words: Sequence[str]) -> str:
    """Words in a row, the last two joined by "and"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
