"""Where the light and the heat of the shown day go, in two sentences."""

from collections.abc import Mapping
from typing import Any

import xarray as xr

from .phrases import listed, said

_LIGHT = {
    "into the pot": ("lid", "side", "bottom"),
    "into mirrors and plate": ("walls", "plate"),
    "into the cover": ("cover",),
}
_LOST = {
    "off as steam": ("steam",),
    "through the cover": ("cover_convection", "cover_radiation"),
    "through the skin": ("shell_convection", "shell_radiation"),
    "out with leaking air": ("leak",),
}
_TAKEN = ["pot_absorbed", "sheet_absorbed", "cover_absorbed"]


def flow_sentences(day: xr.Dataset) -> list[str]:
    """What became of the light at the mouth, and of the heat that it left in the oven; the largest part first."""
    if "light_ending" not in day:
        return []
    one = day.sel(span="whole day")
    return [_light(one, day.attrs), _heat(one, day.attrs)]


def _light(one: xr.Dataset, attrs: Mapping[Any, Any]) -> str:
    ending = one["light_ending"].sum("source")
    whole = float(ending.sum())
    parts = {name: float(ending.sel(surface=list(each)).sum()) for name, each in _LIGHT.items()}
    lost = _percent(float(ending.sel(surface="lost")), whole)
    return (
        f"Of {said(whole, 'energy', attrs, digits=3)} of light that came to the mouth that day "
        f"{_shares(parts, whole, 'went')}; {lost} was sent back or missed."
    )


def _heat(one: xr.Dataset, attrs: Mapping[Any, Any]) -> str:
    flow = one["heat_flow"]
    whole = float(flow.sel(flow=_TAKEN).sum())
    parts = {name: float(flow.sel(flow=list(each)).sum()) for name, each in _LOST.items()}
    stays = _percent(float(flow.sel(flow="stored")), whole)
    return (
        f"Of the {said(whole, 'energy', attrs, digits=3)} of heat that this left in the oven "
        f"{_shares(parts, whole, 'went')}; {stays} was still in food and oven at the day's end."
    )


def _shares(parts: dict[str, float], whole: float, verb: str) -> str:
    """What parts of a whole did in percent, the largest first."""
    first, *others = sorted(parts, key=lambda name: -parts[name])
    told = [f"{_percent(parts[first], whole)} {verb} {first}"]
    return listed([*told, *(f"{_percent(parts[name], whole)} {name}" for name in others)])


def _percent(part: float, whole: float) -> str:
    return f"{100 * part / whole:.0f} %"
