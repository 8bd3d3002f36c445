"""How far each factor of a chosen design may move before it matters, and where a better one may lie."""

import json
import math
from collections.abc import Sequence

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from ...methods.front import goals
from .phrases import said, spoken


def slack_text(search: xr.Dataset, name: str, goal: str) -> str:
    """The loss of a goal that counts as none where this factor moves."""
    attrs = search[goal].attrs
    slack = float(search["flat_slack"].sel(flat_goal=goal, slice_factor=name))
    text = said(slack, difference_of(str(attrs["dimension"])), search.attrs, digits=2)
    return f"{text} {attrs['units']}" if attrs["dimension"] == "money" else text


def noise_sentences(search: xr.Dataset, factors: Sequence[str]) -> list[str]:
    """Say where the rays are too few to tell apart what nobody would notice."""
    first = goals(search)[0]
    one = search.sel(flat_goal=first, slice_factor=list(factors))
    drowned = (one["flat_telling"] >= one["flat_slack"]) & (one["flat_telling"] > 0)
    names = [name for name, lost in zip(factors, drowned.to_numpy(), strict=True) if lost]
    if not names:
        return []
    told = ", ".join(f"{slack_text(search, name, first)} for {spoken(name)}" for name in names)
    return [
        f"With so few rays the least difference in {spoken(first)} that can be told is {told}: less counts as none "
        "below; more rays tell more."
    ]


def flat_sentence(search: xr.Dataset, name: str) -> str | None:
    """How far one factor may move before a goal is noticeably worse; None where it may not."""
    names = goals(search)
    first = f"costs at most {slack_text(search, name, names[0])} of {spoken(names[0])}"
    if search[name].dtype.kind in "UO":
        return _words_sentence(search, name, first)
    spans = [flat_span(search, name, goal) for goal in names]
    (low, high), all_low, all_high = spans[0], max(s[0] for s in spans), min(s[1] for s in spans)
    if low == high:
        return None
    told = f"{spoken(name)} anywhere from {_span_text(search, name, low, high)} {first}"
    if len(names) == 1 or (all_low, all_high) == (low, high):
        return f"{told}{_NO_OTHER if len(names) > 1 else ''}."
    if all_low >= all_high:
        return f"{told}; any move costs more than the slack of another goal."
    others = ", ".join(f"{slack_text(search, name, goal)} of {spoken(goal)}" for goal in names[1:])
    return f"{told}; from {_span_text(search, name, all_low, all_high)} also at most {others}."


_NO_OTHER = ", and no other goal loses more than its slack"


def _words_sentence(search: xr.Dataset, name: str, first: str) -> str | None:
    """Which other words are as good as the chosen one by the first goal, and what they cost in the others."""
    names = goals(search)
    own = str(search[name].to_numpy()[search.attrs["chosen_trial"]])
    one = search["flat_words"].sel(slice_factor=name)
    alike = {goal: json.loads(str(one.sel(flat_goal=goal).item())) for goal in names}
    told = []
    for word in alike[names[0]]:
        if word != own:
            lost = [spoken(goal) for goal in names[1:] if word not in alike[goal]]
            more = f", and more than the slack of {' and '.join(lost)}" if lost else _NO_OTHER
            told.append(f"{word} in place of {own} {first}{more if len(names) > 1 else ''}")
    return f"{'; '.join(told)}." if told else None


def flat_span(search: xr.Dataset, name: str, goal: str) -> tuple[float, float]:
    """Ends of the range in which one goal stays within its slack, whole numbers for a count. [the factor's unit]"""
    one = search.sel(slice_factor=name, flat_goal=goal)
    low, high = float(one["flat_low"]), float(one["flat_high"])
    if str(search[name].attrs["dimension"]) == "count":
        return float(math.ceil(low - 1e-9)), float(math.floor(high + 1e-9))
    return low, high


def _span_text(search: xr.Dataset, name: str, low: float, high: float) -> str:
    unit = str(search[name].attrs["dimension"])
    low_text, high_text = (said(end, unit, search.attrs, digits=3) for end in (low, high))
    return f"{low_text} to {high_text}"


def better_sentences(search: xr.Dataset, factors: Sequence[str]) -> list[str]:
    """Where moving one factor alone would have been better in a goal and worse in none."""
    told = []
    for name in factors:
        better = float(search["flat_better"].sel(slice_factor=name))
        if np.isnan(better):
            continue
        factor = search[name]
        if factor.dtype.kind in "UO":
            text = json.loads(str(search["slice_words"].sel(slice_factor=name).item()))[int(better)]
        else:
            text = said(better, str(factor.attrs["dimension"]), search.attrs, digits=3)
        told.append(f"{spoken(name)} {text}")
    if not told:
        return []
    return [
        f"All else as chosen, {' or '.join(told)} would better a goal by more than its slack and worsen none: "
        "the search has not ended; more trials would pay."
    ]


def edge_sentences(search: xr.Dataset, factors: Sequence[str]) -> list[str]:
    """Warn where the choice lies at an end of the range that was searched: the best may lie beyond."""
    row, at_edge = int(search.attrs["chosen_trial"]), []
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
