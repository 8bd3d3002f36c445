"""What a design promised, what was built, and what the improved one would do, in sentences."""

import json
import math
from collections.abc import Iterator

import numpy as np
import xarray as xr

from .phrases import factor_text, later, limit_sentences, listed, said, spoken

_CLOCK = ("time_to_done", "time_to_safe")  # told as times of day


def built_sentences(result: xr.Dataset) -> list[str]:
    """Promise, outcome and remedy for each merit; what differs; safety; what the intervals do not hold."""
    return [
        *(_told(result, name) for name in json.loads(result.attrs["outcomes"])),
        *_found(result),
        *_changed(result),
        *_limits(result),
        _caveat(result),
    ]


def _told(result: xr.Dataset, name: str) -> str:
    """One merit of all designs."""
    each = []
    for design in result["design"].to_numpy():
        one = result.sel(design=design)
        each.append(f"{design}, {_value(one, name)}{_between(one, name)}")
    return f"{spoken(name)} ({result[name].attrs['long_name']}): {'; '.join(each)}."


def _text(one: xr.Dataset, name: str, value: float) -> str:
    if not math.isfinite(value):
        return "never"
    if name in _CLOCK:
        return later(one.attrs, value)
    return said(value, str(one[name].attrs["dimension"]), one.attrs, digits=3)


def _value(one: xr.Dataset, name: str) -> str:
    return _text(one, name, float(one[name][0])) if int(one["status"][0]) == 0 else "cannot be built"


def _between(one: xr.Dataset, name: str) -> str:
    """What the cooks leave open, where that is more than nothing."""
    ends = [_text(one, name, float(one[f"{name}_{end}"])) for end in ("low", "high")]
    return "" if ends[0] == ends[1] else f" ({ends[0]} to {ends[1]})"


def _found(result: xr.Dataset) -> Iterator[str]:
    """What the cooks found, beside the description."""
    names = [name for name in json.loads(result.attrs["found"]) if name in result.coords]
    each = []
    for name in names:
        column = result[name]
        before, after = (factor_text(column, row, result.attrs) for row in (0, 1))
        each.append(f"{spoken(name)} {after} (described: {before})")
    if each:
        yield f"The cooks found {listed(each)}."


def _changed(result: xr.Dataset) -> Iterator[str]:
    """What makes the improved design."""
    if not result.attrs["improved"]:
        yield "No study before this one chose another design, so there is no improved one: add a search after the fit."
        return
    found = set(json.loads(result.attrs["found"]))
    each = []
    for name in result.coords:
        if result[name].dims != ("design",) or name in found or name == "design":
            continue
        before, after = (factor_text(result[name], row, result.attrs) for row in (1, 2))
        if before != after:
            each.append(f"{spoken(name)} {after} in place of {before}")
    yield f"Improved: {listed(each)}."


def _limits(result: xr.Dataset) -> Iterator[str]:
    """Safety limits of the last design, by its worst draw."""
    last = result.isel(design=-1)
    worst = {
        name: xr.DataArray(float(np.nanmax(last[name].to_numpy())), attrs=last[name].attrs)
        for name in json.loads(result.attrs["limits"])
        if np.isfinite(last[name].to_numpy()).any()
    }
    which = f"{last['design'].item()}, in the worst draw"
    for sentence in limit_sentences(worst, result.attrs):
        yield f"{sentence.removesuffix('.')} ({which})."


def _caveat(result: xr.Dataset) -> str:
    move = "log a cook of every oven that is built before you promise anything for it"
    if result.attrs["improved"]:
        move = f"the improved design is taken to come out as this oven did, with the same losses and mirrors: {move}"
    return f"{move}. The intervals hold what the cooks leave unknown of the oven; not weather, other cooks or wear."
