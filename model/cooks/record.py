"""What was recorded of one cook, cleaned and in SI: the one thing that readers of logs make and fits take."""

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..food import Meal

Floats = NDArray[np.float64]
Span = tuple[float, float]
Plane = Literal["level", "facing the sun", "beam"]

SENSORS = {
    "food": "in the food, or in the water",
    "pot": "on the pot's wall",
    "plate": "on the mirror sheet or the plate under the pot",
    "air_inside": "in the air of the oven",
    "cover": "on the inner face of the cover",
}
"""Thermometers that a cook may have, and where they sit."""

PLANES = {
    "level": "global, on a horizontal plane",
    "facing the sun": "global, on a plane kept facing the sun",
    "beam": "beam alone, facing the sun",
}
"""What an instrument for sunlight may measure."""

_COLDEST, _HOTTEST = 180.0, 900.0  # K; outside lies no cook, but a number in degC, or a broken wire
_WEATHER = {"air": "K", "irradiance": "W/m2", "diffuse": "W/m2", "wind": "m/s"}


class RecordError(ValueError):
    """A record that cannot be of a cook: every fault, one sentence each, with the next move."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


@dataclass(frozen=True, kw_only=True, eq=False)
class CookRecord:
    """One cook as it was measured.

    All series are over the same instants; nan where nothing was read. Arrays are locked.

    Parameters
    ----------
    name : str
    start : datetime
        Of instant 0, with its time zone.
    time : float64[record]   [s]
        From `start`, rising.
    temperatures : dict of float64[record]   [K]
        By sensor, of `SENSORS`.
    air, irradiance, diffuse, wind : float64[record], optional   [K, W/m2, W/m2, m/s]
        Outside the oven; None where nobody measured. `diffuse` is on a horizontal plane.
    plane : str
        What `irradiance` is measured on, of `PLANES`.
    averaged : bool
        Whether `irradiance` and `diffuse` are means since the reading before, as some loggers keep them.
    irradiance_measured : bool
        False where a clear sky stands in for an instrument.
    azimuth_settings, elevation_settings : tuple of float   [s]
        When the oven was set to the sun.
    shaded : tuple of (from, to)   [s]
        While no sun was let into the mouth.
    meal : Meal, optional
        What was in the pot; None for an empty one.
    units : dict of str
        What each series was written in, such as {"food": "degF"}; reports say those figures beside SI.
    """

    name: str
    start: datetime.datetime
    time: ArrayLike
    temperatures: Mapping[str, ArrayLike]
    air: ArrayLike | None = None
    irradiance: ArrayLike | None = None
    diffuse: ArrayLike | None = None
    wind: ArrayLike | None = None
    plane: Plane = "facing the sun"
    averaged: bool = False
    irradiance_measured: bool = True
    azimuth_settings: tuple[float, ...] = ()
    elevation_settings: tuple[float, ...] = ()
    shaded: tuple[Span, ...] = ()
    meal: Meal | None = None
    notes: tuple[str, ...] = field(default=())  # sentences on what was cleaned or filled in
    units: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        faults = list(self._faults())
        if faults:
            raise RecordError([f"{self.name}: {fault}" for fault in faults])
        object.__setattr__(self, "time", _locked(self.time))
        locked = {sensor: _locked(values) for sensor, values in self.temperatures.items()}
        object.__setattr__(self, "temperatures", locked)
        for name in _WEATHER:
            values = getattr(self, name)
            object.__setattr__(self, name, None if values is None else _locked(values))

    @property
    def instants(self) -> Floats:
        """When it was read, float64[record]. [s]"""
        return np.asarray(self.time, np.float64)

    @property
    def span(self) -> float:
        """From the first reading to the last. [s]"""
        return float(self.instants[-1] - self.instants[0])

    @property
    def begins(self) -> float:
        """First reading of the food, from which on a cook can be followed; the first instant where it has none. [s]"""
        if "food" not in self.temperatures:
            return float(self.instants[0])
        read = self.instants[np.isfinite(self.temperature("food"))]
        return float(read[0] if read[0] < self.instants[-1] else self.instants[0])

    def temperature(self, sensor: str) -> Floats:
        """What a thermometer read, float64[record]. [K]"""
        return np.asarray(self.temperatures[sensor], np.float64)

    def weather(self, name: str) -> Floats | None:
        """One of air, irradiance, diffuse and wind, float64[record]; None where nobody measured it."""
        values = getattr(self, name)
        return None if values is None else np.asarray(values, np.float64)

    def is_shaded(self, time: ArrayLike) -> NDArray[np.bool_]:
        """Whether the mouth was covered from the sun at each instant."""
        time = np.asarray(time, np.float64)
        spans = np.array(self.shaded, np.float64).reshape(-1, 2)
        return np.asarray(((time[..., None] >= spans[:, 0]) & (time[..., None] < spans[:, 1])).any(axis=-1))

    def _faults(self) -> Iterator[str]:
        if self.start.tzinfo is None:
            yield "start has no time zone: write one"
        time = np.asarray(self.time, np.float64)
        if time.ndim != 1 or len(time) < 2 or not (np.diff(time) > 0).all():
            yield "time must rise from reading to reading, and have two or more"
            return
        if not self.temperatures:
            yield f"no thermometer; a cook has one of {', '.join(SENSORS)}"
        for sensor, values in self.temperatures.items():
            if sensor not in SENSORS:
                yield f'"{sensor}" is no place of a thermometer; there are {", ".join(SENSORS)}'
            yield from _series_faults(sensor, values, time.shape, "K")
        for name, unit in _WEATHER.items():
            if getattr(self, name) is not None:
                yield from _series_faults(name, getattr(self, name), time.shape, unit)
        for begin, end in self.shaded:
            if not begin < end:
                yield f"shaded from {begin:g} to {end:g} s: the end must come after the beginning"


def _series_faults(name: str, values: ArrayLike, shape: tuple[int, ...], unit: str) -> Iterator[str]:
    """What is wrong with one series."""
    array = np.asarray(values, np.float64)
    if array.shape != shape:
        yield f"{name} has shape {array.shape}, needed {shape}"
        return
    read = array[~np.isnan(array)]
    if not len(read):
        yield f"{name} holds no reading: leave it out"
        return
    low, high = (_COLDEST, _HOTTEST) if unit == "K" else (0.0, np.inf)
    worst = read.min() if read.min() < low else read.max()
    if not low <= worst < high:
        yield f"{name} = {worst:g} {unit}, allowed {low:g} to {high:g} {unit}: look at its unit"


def _locked(values: ArrayLike) -> Floats:
    own = np.array(values, np.float64)
    own.setflags(write=False)
    return own
