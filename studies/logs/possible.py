"""What readings of a cook can be: limits of each series, and units that were taken for others."""

import math

import numpy as np
from numpy.typing import NDArray

from ..asking.quantity import Numbers, show
from ..asking.units import DIMENSIONS

Floats = NDArray[np.float64]

POSSIBLE = {
    "food": (253.15, 573.15),
    "pot": (233.15, 723.15),
    "plate": (233.15, 723.15),
    "air_inside": (233.15, 723.15),
    "cover": (233.15, 623.15),
    "air": (223.15, 333.15),
    "irradiance": (0.0, 1800.0),
    "diffuse": (0.0, 1200.0),
    "wind": (0.0, 60.0),
}
"""Lowest and highest value [SI] that a series of a cook can have; beyond it the wire or the unit is wrong.

Common practice, no source; the sun through gaps in clouds has been seen at 1.8 kW/m2.
"""

DARK = 20.0  # W/m2; what an instrument may show below zero, since its dome cools to the sky at night
TEMPERATURES = ("food", "pot", "plate", "air_inside", "cover", "air")
LIGHT = ("irradiance", "diffuse")

_UNITS = ("degC", "degF", "K")
_START = (273.65, 368.15)  # K; food that is put in is neither frozen nor boiling
_SHADE = (253.15, 322.15)  # K; air in the shade where anyone cooks with the sun
_WET = 388.15  # K; food with water boils below it at any altitude, with room for a poor thermometer
_HOTTEST = 573.15  # K; frying and baking, dry pots and plates
_COLD_START = (
    25.0  # K; a thermometer that starts so much above the air started in a hot oven, or is in another unit
)
_LEAST = 3  # readings to judge from
_KILOWATTS = 3.0  # no series of sunlight in W/m2 stays below it, none in kW/m2 gets above it
_MILLIVOLTS = 60.0  # full sun on an instrument read in mV


def out_of_range(series: str, values: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which readings are impossible, and which are a little below zero in the dark.

    Parameters
    ----------
    series : str
    values : float64[reading]   [SI]
    """
    low, high = POSSIBLE[series]
    dark = (values < 0.0) & (values >= -DARK) if series in LIGHT else np.zeros(values.shape, bool)
    return ((values < low) | (values > high)) & ~dark, dark


def likelier_unit(
    series: str, values: Floats, unit: str, *, air: Floats | None = None, wet: bool = True
) -> str | None:
    """The unit that readings seem to be written in, if it is another one than was said.

    Parameters
    ----------
    series : str
    values : float64[reading]
        As the file has them, in its own unit; nan where there is none.
    unit : str
        As the table says.
    air : float64[reading], optional   [K]
        Air in the shade: an oven that starts cold starts there.
    wet : bool
        Whether the food holds water, so that it cannot be hotter than boiling.
    """
    read = values[np.isfinite(values)]
    if len(read) < _LEAST:
        return None
    if series in LIGHT:
        return _likelier_light(read, unit)
    if series not in TEMPERATURES:
        return None
    usual = np.array([np.median(read[:5]), np.median(read), np.percentile(read, 95)])
    fits = {
        other: _plausible(series, _kelvin(usual, other), air, wet=wet and series == "food")
        for other in _UNITS
    }
    others = [other for other in _UNITS if other != _canonical(unit) and fits[other]]
    return others[0] if not fits[_canonical(unit)] and len(others) == 1 else None


def unit_sentence(series: str, unit: str, likelier: str, usual: float) -> str:
    """Why a unit is doubted, and what to do."""
    if series in LIGHT and likelier == "mV":
        return (
            f"{series} lies at {usual:.4g} {unit} in the middle, too little for sunshine: if the column is in mV, "
            'write unit = "mV" and the sensitivity of the instrument.'
        )
    meant = "" if series in LIGHT else f", which would be {show(_kelvin(usual, likelier), 'temperature')}"
    return f'{series} lies at {usual:.4g} {unit} in the middle; was unit = "{likelier}" meant{meant}?'


def _canonical(unit: str) -> str:
    found = DIMENSIONS["temperature"].find(unit)
    return found.name if found else unit


def _kelvin(values: Numbers, unit: str) -> Numbers:
    found = DIMENSIONS["temperature"].find(unit)
    assert found is not None
    return (values + found.offset) * found.scale


def _plausible(series: str, usual: Floats, air: Floats | None, *, wet: bool) -> bool:
    """Whether readings that begin, lie and end up so look like this series of a cook. [K]"""
    start, middle, top = usual.tolist()
    if series == "air":
        return bool(_SHADE[0] <= middle <= _SHADE[1])
    if top > (_WET if wet else _HOTTEST) or start < _START[0]:
        return False
    if series == "food":
        return bool(start <= _START[1])
    outside = math.nan if air is None or not np.isfinite(air).any() else float(np.nanmedian(air))
    return not start > outside + _COLD_START


def _likelier_light(read: Floats, unit: str) -> str | None:
    top = float(np.percentile(read, 95))
    if unit.startswith("kW"):
        return "W/m2" if top > _KILOWATTS else None
    if not unit.startswith("W"):
        return None
    if 0.1 < top < _KILOWATTS:
        return "kW/m2"
    return "mV" if _KILOWATTS <= top < _MILLIVOLTS else None
