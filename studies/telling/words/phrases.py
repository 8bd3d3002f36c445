"""Phrases that the sentences on several kinds of study share."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

import xarray as xr

from ....model import DANGER_HIGH, DANGER_LOW
from ...asking.quantity import System, parse, parse_clock, show, show_clock, to_unit
from ...asking.units import DIMENSIONS


def system_of(attrs: Mapping[Any, Any]) -> System:
    """Units in which a result is told, by its attributes; metric in results from before there was a choice."""
    return "inch" if attrs.get("shown_in") == "inch" else "metric"


def told_in(result: xr.Dataset, units: System | None) -> xr.Dataset:
    """The same result, told in other units; in its own where none are asked for."""
    return result if units is None else result.assign_attrs(shown_in=units)


def said(value: float, dimension: str, attrs: Mapping[Any, Any], *, digits: int = 4) -> str:
    """A value [SI] as text with its unit, in the units of the result whose attributes are given."""
    return show(value, dimension, system_of(attrs), digits=digits)


def retold(words: object, attrs: Mapping[Any, Any]) -> str:
    """Words that a result has stored, which are in metric units, in those in which it is told.

    Only quantities as `show` writes them are touched: a number, a space, the name of a unit; or two numbers with
    "and" or "to" between them before it.
    """
    system = system_of(attrs)
    if system == "metric":
        return str(words)

    def told(found: re.Match[str]) -> str:
        unit = found["unit"]
        text = show(parse(f"{found['last']} {unit}", _METRIC[unit]), _METRIC[unit], system)
        if found["first"] is None:
            return text
        other = show(parse(f"{found['first']} {unit}", _METRIC[unit]), _METRIC[unit], system)
        same = other.rpartition(" ")[2] == text.rpartition(" ")[2]
        return f"{other.rpartition(' ')[0] if same else other} {found['joined']} {text}"

    return _QUANTITY.sub(told, str(words))


def _metric_units() -> dict[str, str]:
    """Dimension of every unit that metric words have and others have not."""
    return {
        unit: name
        for name, dimension in DIMENSIONS.items()
        if dimension.metric != dimension.inch
        for _, unit in dimension.metric
    }


_METRIC = _metric_units()
_NAMES = "|".join(sorted(map(re.escape, _METRIC), key=len, reverse=True))
_NUMBER = r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
_PAIR = rf"(?:(?P<first>{_NUMBER}) (?P<joined>and|to) )?"
_QUANTITY = re.compile(rf"(?<![\w.]){_PAIR}(?P<last>{_NUMBER}) (?P<unit>{_NAMES})(?![\w/])")


def afar(distance: float, attrs: Mapping[Any, Any]) -> str:
    """A distance that one paces off: in metres or feet, however short. `distance` in m."""
    unit = "ft" if system_of(attrs) == "inch" else "m"
    return f"{to_unit(distance, unit, 'length'):.2g} {unit}"


def danger_zone(attrs: Mapping[Any, Any]) -> tuple[str, str]:
    """Between which temperatures germs grow in food, as text: the lower without its unit, "5" and "60 degC"."""
    low, high = (said(end, "temperature", attrs) for end in (DANGER_LOW, DANGER_HIGH))
    return low.partition(" ")[0], high


def spoken(name: object) -> str:
    """A variable's name as words."""
    return str(name).replace("_", " ")


def later(attrs: dict[str, Any], seconds: float) -> str:
    """Clock time so long after loading; past midnight it says so."""
    clock = parse_clock(attrs["loaded_at"]) + seconds
    return show_clock(clock) if clock <= 86_400.0 else f"{show_clock(clock - 86_400.0)} the next day"


def limit_sentences(limits: dict[str, Any], attrs: Mapping[Any, Any]) -> list[str]:
    """Which safety limits a design exceeds, and by how much; one sentence if it exceeds none."""
    over = []
    for margin in limits.values():
        value = float(margin)
        if value > 0:
            dimension = str(margin.attrs["dimension"])
            what = retold(margin.attrs["long_name"], attrs)
            over.append(f"OVER A LIMIT: {what}, by {said(value, dimension, attrs, digits=3)}.")
    return over or ["No safety limit is exceeded on any of the days."]


def factor_text(column: xr.DataArray, row: int, attrs: Mapping[Any, Any]) -> str:
    """A factor of one design, as words or with its unit."""
    value = column.to_numpy()[row]
    if column.dtype.kind in "UO":
        return str(value)
    return said(float(value), str(column.attrs["dimension"]), attrs, digits=3)


def listed(words: Sequence[str]) -> str:
    """Words in a row, the last two joined by "and"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
