"""What a report says of the place and its sun, from what every result keeps of them."""

import calendar
import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ..words.phrases import later, listed, said
from .sections import Said, Table


def site_said(result: xr.Dataset) -> list[Said]:
    """Where the oven stands, under which days, and what sun they bring."""
    attrs = result.attrs
    site = json.loads(str(attrs["site"]))
    loaded, window = str(attrs["loaded_at"]), float(attrs["window"])
    mean = {name: _mean(site, name) for name in ("beam_hours", "beam", "beam_day", "clearness")}
    hours = said(mean["beam_hours"], "time", attrs, digits=2)
    return [
        Said("place", f"{attrs['place']} lies at {_position(site, attrs)}.", "site"),
        Said(
            "sky",
            f"Its days come from: {attrs['sky']}. They stand for {float(attrs['days_meant']):.0f} days of "
            f"{_months(site)}.",
            "site",
        ),
        Said(
            "sun",
            f"From {loaded} to {later(attrs, window)} the beam is above 120 W/m2 for {hours} a day; it brings "
            f"{_per_day(mean['beam_day'])} kWh/m2 facing the sun, {mean['beam']:.0f} W/m2 on average, at a "
            f"clearness of {mean['clearness']:.2f} (global light over that outside the air).",
            "site",
        ),
        *_apart(site),
    ]


def site_table(result: xr.Dataset) -> Table:
    """Months of the sky, by what their days mean."""
    site, attrs = json.loads(str(result.attrs["site"])), result.attrs
    heads = (
        "month",
        "days",
        "clearness",
        "beam above 120 W/m2, a day",
        "beam facing the sun",
        "its energy, a day",
        "air, least to greatest",
    )
    rows = [
        (
            calendar.month_name[month],
            f"{site['days'][k]:.0f}",
            f"{site['clearness'][k]:.2f}",
            said(site["beam_hours"][k], "time", attrs, digits=2),
            f"{site['beam'][k]:.0f} W/m2",
            f"{_per_day(site['beam_day'][k])} kWh/m2",
            f"{said(site['air_low'][k], 'temperature', attrs, digits=3)} to "
            f"{said(site['air_high'][k], 'temperature', attrs, digits=3)}",
        )
        for k, month in enumerate(site["month"])
    ]
    clock = f"from {attrs['loaded_at']} to {later(attrs, float(attrs['window']))}"
    return Table(f"{attrs['place']}, {clock}: means of each month.", heads, rows)


def _position(site: Mapping[str, Any], attrs: Mapping[Any, Any]) -> str:
    """Latitude, longitude and altitude as one says them."""
    north, east = (math.degrees(site[name]) for name in ("latitude", "longitude"))
    height = said(site["altitude"], "length", attrs, digits=3)
    across = f"{abs(north):.1f} deg {'north' if north >= 0 else 'south'}"
    along = f"{abs(east):.1f} deg {'east' if east >= 0 else 'west'}"
    return f"{across}, {along}, {height} up"


def _months(site: Mapping[str, Any]) -> str:
    names = [calendar.month_name[month] for month in site["month"]]
    return "the whole year" if len(names) == 12 else listed(names)


def _mean(site: Mapping[str, Any], name: str) -> float:
    """Over all months, by the days they mean."""
    return float(np.average(site[name], weights=site["days"]))


def _per_day(joules: float) -> str:
    return f"{joules / 3.6e6:.1f}"


def _apart(site: Mapping[str, Any]) -> list[Said]:
    """The months with the most and the least beam, where there are several."""
    if len(site["month"]) < 2:
        return []
    most, least = int(np.argmax(site["beam_day"])), int(np.argmin(site["beam_day"]))
    told = [
        f"{calendar.month_name[site['month'][k]]} brings the {word} beam, {_per_day(site['beam_day'][k])} kWh/m2 a day"
        for k, word in ((most, "most"), (least, "least"))
    ]
    text = f"{'; '.join(told)}."
    return [Said("months", text, "site")]
