"""The designs of a search as plain lists, in the units a builder reads, for the page to look through."""

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...methods.front import goals, oriented
from ..drawings.drawing import column, shown
from ..words.phrases import spoken
from .page_shown import designs_shown

DIGITS = 5


def explorer(search: xr.Dataset) -> dict[str, Any] | None:
    """Every design tried with its goals, and one factor moved at a time; None where nothing was found.

    Returns
    -------
    dict
        `columns` (name, unit, role, better), `rows`, `front` and `chosen` (row numbers), `names` of some of the front,
        `slices` by factor, and of the front what is kept of each, `shown`.
    """
    if "chosen_trial" not in search.attrs:
        return None
    wanted = goals(search)
    names = [str(name) for name in search["slice_factor"].to_numpy()]
    columns: list[dict[str, Any]] = []
    values: list[list[Any]] = []
    for name, role in [*((name, "factor") for name in names), *((name, "goal") for name in wanted)]:
        numbers, unit = _column(search[name], search.attrs)
        better = {"minimize": "less", "maximize": "more"}.get(str(search[name].attrs.get("direction")), "")
        columns.append({"name": spoken(name), "unit": unit, "role": role, "better": better})
        values.append(numbers)
    columns.append({"name": "within limits", "unit": "", "role": "verdict", "better": ""})
    values.append(["yes" if one else "no" for one in search["feasible"].to_numpy() == 1])
    return {
        "columns": columns,
        "rows": [list(row) for row in zip(*values, strict=True)],
        "front": np.flatnonzero(search["on_front"].to_numpy() == 1).tolist(),
        "chosen": int(search.attrs["chosen_trial"]),
        "names": _names(search, wanted),
        "slices": [_slice(search, name, k, wanted) for k, name in enumerate(names)],
        "shown": designs_shown(search),
    }


def _names(search: xr.Dataset, wanted: list[str]) -> dict[int, str]:
    """What designs of the front are known for: the chosen one, and the best by each goal."""
    members = np.flatnonzero(search["on_front"].to_numpy() == 1)
    points = oriented(search)[members]
    names: dict[int, list[str]] = {int(search.attrs["chosen_trial"]): ["the chosen one"]}
    for k, goal in enumerate(wanted):
        if members.size:
            names.setdefault(int(members[points[:, k].argmin()]), []).append(f"best {spoken(goal)}")
    return {trial: ", ".join(words) for trial, words in names.items()}


def _column(array: xr.DataArray, attrs: Mapping[Any, Any]) -> tuple[list[Any], str]:
    if array.dtype.kind in "UO":
        return [str(word) for word in array.to_numpy()], ""
    numbers, unit = column(array, attrs)
    return _plain(numbers), unit


def _plain(numbers: Any) -> list[float | None]:
    """Numbers as JSON has them, rounded; nothing where there is no number."""
    return [float(f"{x:.{DIGITS}g}") if np.isfinite(x) else None for x in np.asarray(numbers, np.float64)]


def _slice(search: xr.Dataset, name: str, k: int, wanted: list[str]) -> dict[str, Any]:
    """Goals while one factor leaves the chosen design."""
    raw = search["slice_value"].to_numpy()[k]
    known = np.isfinite(raw)
    words = json.loads(str(search["slice_words"].to_numpy()[k]) or "[]")
    at: list[Any] = [str(word) for word in words]
    unit = ""
    if not words:
        numbers, unit = shown(raw[known], str(search[name].attrs["dimension"]), search.attrs)
        at = _plain(numbers)
    found = []
    for goal in wanted:
        values, goal_unit = column(search[f"slice_{goal}"], search.attrs)
        found.append({"name": spoken(goal), "unit": goal_unit, "values": _plain(values[k][known])})
    chosen = search[name].to_numpy()[int(search.attrs["chosen_trial"])]
    place = words.index(str(chosen)) if words else int(np.argmin(np.abs(raw[known] - float(chosen))))
    return {"name": spoken(name), "unit": unit, "at": at, "goals": found, "chosen": place}
