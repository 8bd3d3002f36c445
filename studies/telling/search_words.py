"""What a search says: the chosen design, how far it may be off, and how the search went."""

import math
from collections.abc import Sequence

import numpy as np
import xarray as xr

from ..methods.front import goals
from ..methods.slices import flat_range
from ..quantity import difference_of, show
from .phrases import factor_text, later, limit_sentences, spoken

# What a builder would not notice, by dimension: the slack of "costs under ...".
SLACK = {"time": 120.0, "share": 0.01, "temperature": 2.0, "mass": 0.5, "count": 1.0}
MONEY_SLACK = 0.02  # of the chosen design's cost


def search_sentences(search: xr.Dataset) -> list[str]:
    """The chosen design, what it does, how far it may be off, and how the search went."""
    tried, failed = search.sizes["trial"], int((search["status"] != 0).sum())
    if "chosen_trial" not in search.attrs:
        return [
            f"None of {tried} designs keeps every limit and reaches every goal.",
            *_what_stopped(search),
            "Widen the ranges, lengthen the day, cook less, or drop a limit.",
        ]
    row = int(search.attrs["chosen_trial"])
    idle = str(search.attrs.get("idle_factors", "")).split()
    factors = [str(name) for name in search["slice_factor"].to_numpy() if str(name) not in idle]
    design = ", ".join(f"{spoken(name)} {factor_text(search[name], row)}" for name in factors)
    count = int(search["on_front"].sum())
    rule = "the knee" if search.attrs["pick"] == "knee" else f"best {spoken(search.attrs['pick'])}"
    return [
        f"Chosen: {design} ({rule} of {count} designs that no other beats).",
        _meal_sentence(search),
        *_middle_warm_sentence(search),
        *(filter(None, (_flat_sentence(search, name, row) for name in factors))),
        *_edge_sentences(search, factors, row),
        *([f"Of no effect in the chosen design: {', '.join(map(spoken, idle))}."] if idle else []),
        *limit_sentences({name: search[f"chosen_{name}"] for name in _limit_names(search)}),
        f"{tried} designs tried, {failed} could not be built or run, "
        f"{int(search['feasible'].sum())} keep the limits that were asked for and reach every goal.{_settled(search)}",
        *(_what_stopped(search) if 2 * int(search["feasible"].sum()) < tried else []),
    ]


def _limit_names(search: xr.Dataset) -> list[str]:
    names = [str(name).removeprefix("chosen_") for name in search.data_vars]
    return [name for name in names if name.endswith("_over") and f"chosen_{name}" in search]


def _meal_sentence(search: xr.Dataset) -> str:
    attrs = search.attrs
    meal = f"{show(attrs['food_mass'], 'mass')} of {spoken(attrs['food'])} put in at {attrs['loaded_at']}"
    after, share = float(search["chosen_time_to_done"]), float(search["chosen_share_done"])
    days = f"{share * attrs['days_meant']:.0f} of {attrs['days_meant']:.0f} days"
    if math.isnan(after):
        return f"{meal} is done on only {days}."
    return f"{meal} is done by {later(attrs, after)} on the middle day, and gets done on {days}."


def _middle_warm_sentence(search: xr.Dataset) -> list[str]:
    """How long the chosen design keeps a meal hot after the middle day."""
    warm_for = float(search["chosen_keep_warm_time"])
    if not warm_for > 0:
        return []
    end, until = (
        later(search.attrs, search.attrs["window"]),
        later(search.attrs, search.attrs["window"] + warm_for),
    )
    return [f"On the middle day it stays above 60 degC until {until} if left in the closed oven after {end}."]


def _flat_sentence(search: xr.Dataset, name: str, row: int) -> str | None:
    """How far one factor may move before the first goal is noticeably worse."""
    factor, goal = search[name], search[goals(search)[0]]
    if factor.dtype.kind in "UO":
        return None
    dimension = str(goal.attrs["dimension"])
    slack = SLACK.get(dimension, MONEY_SLACK * abs(float(goal[row])))
    sign = -1.0 if goal.attrs["direction"] == "maximize" else 1.0
    one = search.sel(slice_factor=name)
    low, high = flat_range(
        one["slice_value"].to_numpy(),
        one[f"slice_{goal.name}"].to_numpy(),
        at=float(factor[row]),
        slack=slack,
        sign=sign,
    )
    unit = str(factor.attrs["dimension"])
    if unit == "count":
        low, high = math.ceil(low - 1e-9), math.floor(high + 1e-9)
    if low == high:
        return None
    cost = "one" if dimension == "count" else show(slack, difference_of(dimension))
    span = f"{show(low, unit, digits=3)} to {show(high, unit, digits=3)}"
    return f"{spoken(name)} anywhere from {span} costs under {cost} of {spoken(goal.name)}."


def _edge_sentences(search: xr.Dataset, factors: Sequence[str], row: int) -> list[str]:
    """Warn where the choice lies at an end of the range that was searched: the best may lie beyond."""
    at_edge = []
    for name in factors:
        factor = search[name]
        if factor.dtype.kind in "UO":
            continue
        tried = factor.to_numpy()
        span = tried.max() - tried.min()
        if (
            len(np.unique(tried)) > 2
            and min(tried[row] - tried.min(), tried.max() - tried[row]) < 0.02 * span
        ):
            at_edge.append(spoken(name))
    if not at_edge:
        return []
    return [f"{', '.join(at_edge)}: the choice lies at the end of its range; a better one may lie beyond."]


def _what_stopped(search: xr.Dataset) -> list[str]:
    """How many designs each limit stopped."""
    ran = search["status"].to_numpy() == 0
    lines = []
    for name, margin in search.data_vars.items():
        if margin.attrs.get("role") == "limit":
            stopped = int((margin.to_numpy()[ran] > 0).sum())
            if stopped:
                text = spoken(str(name).removeprefix("margin_"))
                lines.append(f"{stopped} designs fail on: {text}.")
    return lines


def _settled(search: xr.Dataset) -> str:
    """Whether the front was still growing in the last quarter of the search."""
    volume = search["hypervolume"].to_numpy()
    if len(volume) < 4 or not np.isfinite(volume[-1]) or volume[-1] <= 0:
        return ""
    gain = 1 - volume[-1 - len(volume) // 4] / volume[-1]
    if gain > 0.01:
        return (
            f" The front still grew by {100 * gain:.1f} % in the last quarter: more trials may find better."
        )
    return " The front hardly grew in the last quarter of the search."
