"""How a difference between two designs is spoken of: its direction, its size, the ends of its interval."""

import math
from typing import NamedTuple

import xarray as xr

from ...asking.quantity import display_unit, show, to_unit
from .phrases import system_of


class Way(NamedTuple):
    """How a difference is spoken of, with {} for its size: the rival has less, or more."""

    less: str
    more: str
    there: str = "have a value"  # what a design does that has a value at all


WAYS = {
    "time_to_done": Way("is done {} earlier", "is done {} later", "get done"),
    "time_to_safe": Way("is safe to eat {} earlier", "is safe to eat {} later", "get safe"),
    "share_done": Way("gets done on {} fewer", "gets done on {} more", "gets done"),
    "share_safe": Way("gets safe on {} fewer", "gets safe on {} more", "gets safe"),
    "cook_value": Way("cooks {} less", "cooks {} more"),
    "peak_temperature": Way("stays {} cooler", "gets {} hotter"),
    "hold_time": Way("keeps hot {} shorter", "keeps hot {} longer", "get done"),
    "keep_warm_time": Way("keeps warm {} shorter", "keeps warm {} longer"),
    "light_to_pot": Way("takes in {} less of the light", "takes in {} more of the light"),
}


def said(whole: xr.Dataset, merit: str, value: float) -> str:
    """A difference with its verb: "is done 11 min earlier"."""
    way = WAYS[merit]
    return (way.less if value < 0 else way.more).format(size_of(whole, merit, abs(value)))


def one_end(whole: xr.Dataset, merit: str, value: float) -> str:
    """One end of an interval, with its direction but without its verb."""
    phrase = WAYS[merit].less if value < 0 else WAYS[merit].more
    return _bare(phrase).format(size_of(whole, merit, abs(value)))


def _bare(phrase: str) -> str:
    """A way of speaking from the size on: "{} earlier"."""
    return phrase[phrase.index("{}") :]


def size_of(whole: xr.Dataset, merit: str, size: float) -> str:
    """The size of a difference; shares of days as days."""
    if merit.startswith("share_"):
        days = round(size * days_meant(whole))
        return "1 day" if days == 1 else f"{days} days"
    return show(size, gap_of(whole, merit), system_of(whole.attrs), digits=2)


def span(whole: xr.Dataset, merit: str, low: float, high: float) -> str:
    """Both ends of an interval on one side of nothing, in one unit and to the same digit: "9 to 14 min"."""
    near, far = sorted((abs(low), abs(high)))
    if merit.startswith("share_"):
        return f"{near * days_meant(whole):.0f} to {size_of(whole, merit, far)}"
    dimension = gap_of(whole, merit)
    unit = display_unit(dimension, magnitude=far, system=system_of(whole.attrs))
    ends = [to_unit(end, unit, dimension) for end in (near, far)]
    decimals = max(1 - math.floor(math.log10(ends[1])), 0)
    return f"{ends[0]:.{decimals}f} to {ends[1]:.{decimals}f}{'' if unit == '1' else f' {unit}'}"


def days_meant(result: xr.Dataset) -> float:
    """Real days meant by all days."""
    return float(result.attrs["days_meant"])


def gap_of(whole: xr.Dataset, merit: str) -> str:
    """Dimension of the differences of a merit."""
    return str(whole[f"{merit}_difference"].attrs["dimension"])
