"""What a test report says of place, oven, load, aiming and weather, and of each cook: pairs and cells of text."""

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr

from ...asking.quantity import show
from ..words.phrases import listed, system_of
from ..words.standard_words import beside_si

COLUMNS = ("cook", "date", "for", "water", "per m2", "mean sun", "mean wind", "count", "off the line")
"""Heads of the columns of `cook_cells`."""


def facts(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    """What was tested, where and how: a name and a text each."""
    for part in (_place, _oven, _load, _aiming, _weather):
        yield from part(result)


def _place(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    site = json.loads(str(result.attrs["site"]))
    latitude, longitude = math.degrees(site["latitude"]), math.degrees(site["longitude"])
    yield (
        "place",
        f"{result.attrs['place']}: {abs(latitude):.2f} deg {'N' if latitude >= 0 else 'S'}, {abs(longitude):.2f} deg "
        f"{'E' if longitude >= 0 else 'W'}, {site['altitude']:.0f} m above the sea",
    )
    yield "dates", listed(sorted(set(_used(result)["date"].to_numpy().tolist()))) or "no cook was used"


def _used(result: xr.Dataset) -> xr.Dataset:
    """The cooks that serve for a figure."""
    return result.isel(cook=np.flatnonzero(result["status"].to_numpy() == 0))


def _oven(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    design = json.loads(str(result.attrs["design"]))

    def length(name: str) -> str:
        return show(float(design[name]), "length", system_of(result.attrs), digits=3)

    yield (
        "oven",
        f"{design['archetype']}, {design['facets']} facets of {design['mirror']} at "
        f"{show(float(design['facet_angle']), 'angle', digits=3)}, mouth {length('mouth')}, depth {length('depth')}; "
        f"{design['panes']} x {design['cover']}; {length('insulation_thickness')} {design['insulation']}; pot of "
        f"{design['pot_metal']}, {design['pot_finish']}, {length('pot_diameter')} by {length('pot_height')}",
    )
    given = "as given" if result.attrs["area_given"] else "from its shape and aiming"
    areas = _used(result)["intercept_area"].to_numpy()
    if len(areas):
        yield "intercept area", f"{show(float(areas.mean()), 'area', digits=3)}, {given}, mean of the test"
    instruments = [line for line in str(result.attrs["instruments"]).split("\n") if line]
    yield "instruments", "; ".join(instruments) or "not stated"


def _load(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    loaded = used.isel(cook=np.flatnonzero(used["water_mass"].to_numpy() > 0))
    if not loaded.sizes["cook"]:
        return
    per_area = loaded["water_mass"].to_numpy() / loaded["intercept_area"].to_numpy()
    yield (
        "water",
        f"{_range(loaded['water_mass'].to_numpy(), 'kg', 2)}; {_range(per_area, 'kg/m2', 1)} of intercept area",
    )


def _aiming(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    every = used["setting_every"].to_numpy() / 60
    start, stop = (np.degrees(used[name].to_numpy()) for name in ("sun_from", "sun_to"))
    if len(start):
        yield (
            "sun's azimuth",
            f"{_range(start, 'deg', 0)} at the first readings, {_range(stop, 'deg', 0)} at the last",
        )
    known = np.isfinite(every)
    if known.any():
        count = int(used["settings"].to_numpy()[known].sum())
        yield "aiming", f"azimuth set {count} times, at most {every[known].max():.0f} min apart"
    else:
        yield "aiming", "settings were not logged"


def _weather(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    if not used.sizes["cook"]:
        return
    planes = listed(sorted(set(used["plane"].to_numpy().tolist())))
    measured = (
        "measured" if (used["irradiance_measured"].to_numpy() == 1).all() else "a clear sky's, not measured"
    )
    yield "irradiance", f"{_least_to_most(used, 'irradiance', 'W/m2', 0)}; {measured}; instrument: {planes}"
    air = _least_to_most(used, "air", "degC", 1, offset=-273.15)
    if beside_si(result) == "inch":
        air += f" ({_least_to_most(used, 'air', 'degF', 0, offset=-459.67 / 1.8, scale=1.8)})"
    yield "air", air
    wind = used["wind_mean"].to_numpy()
    known = np.isfinite(wind)
    if known.any():
        yield "wind", f"{_least_to_most(used, 'wind', 'm/s', 1)}, means {_range(wind[known], 'm/s', 1)}"
    if not known.all():
        yield "wind" if not known.any() else "", f"not measured in {(~known).sum()} of {known.size} cooks"


def _least_to_most(
    used: xr.Dataset, name: str, unit: str, digits: int, *, offset: float = 0.0, scale: float = 1.0
) -> str:
    ends = np.array([np.nanmin(used[f"{name}_least"].to_numpy()), np.nanmax(used[f"{name}_most"].to_numpy())])
    return _range(scale * (ends + offset), unit, digits)


def _range(values: Any, unit: str, digits: int) -> str:
    """ "5 to 7 kg", or "5 kg" where that is all."""
    low, high = f"{np.min(values):.{digits}f}", f"{np.max(values):.{digits}f}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def cook_cells(result: xr.Dataset, number: int) -> list[str]:
    """A line of the table of cooks."""
    one = result.isel(cook=number)
    own = result["interval_cook"].to_numpy() == number
    counts = f"{int(result['counted'].to_numpy()[own].sum())} of {int(own.sum())}" if own.any() else "-"
    mass, offset = float(one["water_mass"]), float(one["day_offset"])
    return [
        str(one["cook"].item()),
        str(one["date"].item()),
        str(one["role"].item()) if int(one["status"]) == 0 else "not used",
        f"{mass:.2f} kg" if mass > 0 else "-",
        f"{mass / float(one['intercept_area']):.1f} kg" if mass > 0 else "-",
        _or_dash(float(one["irradiance_mean"]), ".0f", "W/m2"),
        _or_dash(float(one["wind_mean"]), ".1f", "m/s"),
        counts,
        _or_dash(offset, "+.1f", "W"),
    ]


def _or_dash(value: float, form: str, unit: str) -> str:
    return f"{value:{form}} {unit}" if math.isfinite(value) else "-"
