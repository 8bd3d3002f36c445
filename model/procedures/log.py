"""What a test of a cooker records, measured or simulated."""

import datetime
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from ..constants import ZERO_CELSIUS
from ..irradiance import Irradiance
from .clause import ProcedureError
from .planes import facing_the_sun

Floats = NDArray[np.float64]

_COLDEST = 180.0  # K; no air on earth is colder, so a smaller number was meant in degC
_SERIES = ("temperature", "air_temperature", "irradiance", "wind_speed")


class Spoilt(NamedTuple):
    """A span of a log in which nothing counts, and why."""

    start: float  # s
    stop: float  # s
    why: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Log:
    """One day's records of a test; read-only arrays over the same instants, a single number for a steady one.

    Between two records everything is taken to run straight.
    """

    time: ArrayLike  # [record] s, rising, on any clock
    temperature: ArrayLike  # [record] K; of the water, or of the plate in a test without load
    air_temperature: ArrayLike  # [record] K
    irradiance: ArrayLike  # [record] W/m2; global, on the plane the standard names
    wind_speed: ArrayLike | None  # [record] m/s, at the cooker; None where nobody measured it
    water_mass: float = 0.0  # kg, pot not counted
    solar_noon: float | None = None  # s on the same clock; the time of day is not judged without it
    name: str = "log"
    date: datetime.date | None = None  # without it every log stands for a day of its own
    spoilt: tuple[Spoilt, ...] = ()  # the mouth shaded, a thermometer silent

    def __post_init__(self) -> None:
        time = _array(self.time)
        if time.ndim != 1 or len(time) < 2 or not (np.diff(time) > 0).all():
            raise ProcedureError(f"{self.name}.time must rise from record to record, and have two or more")
        object.__setattr__(self, "time", _locked(time))
        for field in _SERIES:
            if field == "wind_speed" and self.wind_speed is None:
                continue
            object.__setattr__(self, field, _locked(self._filled(field, time)))
        if self.water_mass < 0:
            raise ProcedureError(f"{self.name}.water_mass = {self.water_mass:g} kg, allowed 0 or more")

    def _filled(self, field: str, time: Floats) -> Floats:
        """A series over all records, checked."""
        values = _array(getattr(self, field))
        if values.shape not in ((), time.shape):
            raise ProcedureError(f"{self.name}.{field} has shape {values.shape}, needed {time.shape}")
        values = np.broadcast_to(values, time.shape).copy()
        if not np.isfinite(values).all():
            gap = time[np.argmin(np.isfinite(values))]
            raise ProcedureError(f"{self.name}.{field} has no number at {gap:g} s: leave that record out")
        if field.endswith("temperature") and values.min() < _COLDEST:
            least = values.min()
            raise ProcedureError(
                f"{self.name}.{field} = {least:g} K; did you mean {least + ZERO_CELSIUS:g} K, that is degC?"
            )
        return values

    def series(self, name: str) -> Floats:
        """One of the series as an array. float64[record]"""
        return np.asarray(getattr(self, name), np.float64)

    def at(self, name: str, time: ArrayLike) -> Floats:
        """A series at other instants within the log."""
        return np.asarray(np.interp(_array(time), self.series("time"), self.series(name)))

    def mean(self, name: str, start: float, stop: float) -> float:
        """Mean of a series over a span of time, exact for straight lines between records."""
        times = self.within(start, stop)
        return float(np.trapezoid(self.at(name, times), times) / (stop - start))

    def extremes(self, name: str, start: float, stop: float) -> tuple[float, float]:
        """Least and greatest of a series over a span of time."""
        values = self.at(name, self.within(start, stop))
        return float(values.min()), float(values.max())

    def within(self, start: float, stop: float) -> Floats:
        """Instants of the records inside a span, and its two ends."""
        time = self.series("time")
        return np.concatenate([[start], time[(time > start) & (time < stop)], [stop]])

    def spoilt_by(self, start: float, stop: float) -> list[str]:
        """Why a span cannot count, each reason once."""
        touching = (one.why for one in self.spoilt if one.start < stop and one.stop > start)
        return list(dict.fromkeys(touching))

    def longest_gap(self, start: float, stop: float) -> float:
        """Longest time between two records one after the other that touch a span. [s]"""
        time = self.series("time")
        gaps = np.diff(time)[(time[1:] > start) & (time[:-1] < stop)]
        return float(gaps.max())


def log_of(
    dataset: xr.Dataset, *, design: int = 0, day: int = 0, node: str | None = None, albedo: float = 0.2
) -> Log:
    """A simulated day as the log a tester would have kept.

    The irradiance is that of a plane facing the sun: the beam, the diffuse light as from an evenly bright sky,
    and the ground's; the wind is the weather's times the design's `wind_share`.

    Parameters
    ----------
    dataset : Dataset
        From `simulate(..., histories=True)`.
    design, day : int
        Which of its rows.
    node : str
        Log the temperature of this node instead of the food's, such as "pot" for a test without load.
    albedo : float
        Of the ground around, as in the sky that was simulated.

    Raises
    ------
    ProcedureError
        A result without histories, a design that did not run, or food that is not water.
    """
    if "food_temperature" not in dataset:
        raise ProcedureError("the result has no time series: simulate(..., histories=True)")
    one = dataset.isel(design=design, day=day)
    if int(one["status"]) != 0:
        raise ProcedureError(f"design {design} did not run: look at its status")
    food = str(one["food"].item())
    if node is None and food != "water":
        raise ProcedureError(f"the pot holds {food}; the procedures heat water: Meal(food='water', ...)")
    temperature = one["food_temperature"] if node is None else one["temperature"].sel(node=node)
    elevation = one["sun_elevation"].to_numpy()
    sunlight = Irradiance(*(one[name].to_numpy() for name in Irradiance._fields))
    return Log(
        time=one["time"].to_numpy(),
        temperature=temperature.to_numpy(),
        air_temperature=one["air_temperature"].to_numpy(),
        irradiance=facing_the_sun(sunlight, elevation=elevation, albedo=albedo),
        wind_speed=one["wind_speed"].to_numpy() * float(one["wind_share"]),
        water_mass=float(one["water"][0]) if node is None else 0.0,
        solar_noon=_noon(one["time"].to_numpy(), elevation),
        name=str(one["day_label"].item()),
    )


def _noon(time: Floats, elevation: Floats) -> float | None:
    """When the sun stands highest; None if that is not within the log. [s]"""
    highest = int(np.argmax(elevation))
    return float(time[highest]) if 0 < highest < len(time) - 1 else None


def _array(values: ArrayLike) -> Floats:
    return np.asarray(values, np.float64)


def _locked(values: Floats) -> Floats:
    own = values.copy()
    own.setflags(write=False)
    return own
