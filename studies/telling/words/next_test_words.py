"""Which test cook should come next, in words."""

import json
from typing import Any

import xarray as xr

from ...asking.quantity import show
from .phrases import listed
from .protocol_words import ratio_words, within

_HARDLY = 0.9  # of the reach before, above which another cook is hardly worth it


def next_test_sentences(result: xr.Dataset) -> list[str]:
    """The next test of an oven that was fitted to cooks; none where its result holds none."""
    if "next_test" not in result.attrs:
        return []
    told: dict[str, Any] = json.loads(str(result.attrs["next_test"]))
    worst = max(range(len(told["factors"])), key=lambda k: float(told["before"][k]))
    before, after = float(told["before"][worst]), float(told["after"][worst])
    name = ratio_words(told["factors"][worst])
    if after > _HARDLY * before:
        return [
            f"What is known worst is {name}, {within(before)}; one more cook would hardly help ({within(after)}): test "
            "on more days, or look at the instruments."
        ]
    others = [
        f"{ratio_words(factor)} from {_percent(one)} to {_percent(two)}"
        for factor, one, two in zip(told["factors"], told["before"], told["after"], strict=True)
        if two < _HARDLY * one
    ]
    return [f"Next test: {_way(told)}. It would bring {listed(others)} (95 % intervals)."]


def _way(told: dict[str, Any]) -> str:
    """What to do."""
    parts = [f"a cook of {show(told['heat_up'], 'time')} in the sun"]
    if told["empty"] > 0:
        parts = [
            f"the empty oven in the sun for {show(told['empty'], 'time')} (hotter than with food: stay under the "
            "limits of cover and insulation)"
        ]
    if told["shade"] > 0:
        parts.append(f"then {show(told['shade'], 'time')} with the whole mouth shaded, still reading")
    if told["new"]:
        parts.append(f"with one more thermometer, at the {listed(told['new'])}")
    return ", ".join(parts)


def _percent(share: float) -> str:
    return "unknown" if share >= 1 else f"{100 * share:.2g} %"
