"""A measured cook as the log that a standard asks for, and what keeps its figures from being published."""

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..cooks import PLANES, SENSORS, CookRecord
from ..irradiance import Irradiance
from ..sun import Place, directions, sun_angles
from .clause import ProcedureError
from .cooking_power import INTERVAL, TOO_FAR_APART
from .log import Log, Spoilt
from .planes import facing_the_sun

Floats = NDArray[np.float64]

SHADED = "mouth shaded"
_DAY = 86_400.0  # s; a solar day differs by 30 s at most: 8 s in a quarter of it
_ROUNDING = 1e-6  # s; a clock's own, which makes no gap


def log_of_record(
    record: CookRecord,
    *,
    place: Place,
    plane: str,
    sensor: str = "food",
    sunlight: Irradiance | None = None,
    water_mass: float = 0.0,
    albedo: float = 0.2,
) -> Log:
    """A measured cook as a log, from the first instant at which everything is read to the last.

    Each series runs straight between its own readings, so that those of a second, slower logger lose nothing;
    where one is silent for more than ten minutes, or the mouth was shaded, the log is spoilt.

    Parameters
    ----------
    record : CookRecord
    place : Place
        Gives solar noon.
    plane : str
        On which the procedure wants the irradiance: "facing the sun" or "level".
    sensor : str
        Thermometer that stands for the water, or for the plate.
    sunlight : Irradiance of float64[record], optional
        The light taken apart into beam and diffuse: for another plane than the record's, or where nobody measured.
    water_mass : float   [kg]
        0 in a test without load.

    Raises
    ------
    ProcedureError
        A series that nobody measured, or light on another plane that was not taken apart.
    """
    given = dict(_series(record, sensor))
    given["irradiance"] = _irradiance(record, plane, place, sunlight, albedo)
    wind = record.weather("wind")
    read = {name: np.isfinite(values) for name, values in given.items()}
    time = _common(record, read)
    instants = record.instants
    series = {
        name: np.interp(time, instants[read[name]], values[read[name]]) for name, values in given.items()
    }
    return Log(
        time=time,
        **series,
        wind_speed=None if wind is None else _held(time, instants, wind),
        water_mass=water_mass,
        solar_noon=solar_noon(record, place),
        name=record.name,
        date=record.start.astimezone(place.zone).date(),
        spoilt=tuple(_spoilt(record, read)),
    )


def _series(record: CookRecord, sensor: str) -> Iterator[tuple[str, Floats]]:
    if sensor not in record.temperatures:
        raise ProcedureError(
            f"{record.name} has no thermometer {SENSORS[sensor]}: log one as {sensor} = {{ column = ... }}"
        )
    yield "temperature", record.temperature(sensor)
    air = record.weather("air")
    if air is None:
        raise ProcedureError(f"{record.name} has no temperature of the air outside: log one in the shade")
    yield "air_temperature", air


def _irradiance(
    record: CookRecord, plane: str, place: Place, sunlight: Irradiance | None, albedo: float
) -> Floats:
    """What an instrument on the wanted plane would have read, float64[record]. [W/m2]"""
    measured = record.weather("irradiance")
    if measured is not None and record.plane == plane:
        return measured
    if measured is None and sunlight is None:
        raise ProcedureError(f"{record.name} has no irradiance: log it on a plane kept facing the sun")
    if sunlight is None:
        raise ProcedureError(
            f"{record.name}: irradiance is {PLANES[record.plane]}, the standard wants it {PLANES[plane]}"
        )
    if plane == "level":
        return sunlight.ghi
    return facing_the_sun(sunlight, elevation=sun_over(record, place)[1], albedo=albedo)


def sun_over(record: CookRecord, place: Place) -> tuple[Floats, Floats]:
    """Azimuth and elevation of the sun at the instants of a record, float64[record] each. [rad]"""
    start = pd.Timestamp(record.start).tz_convert("UTC")
    sun = sun_angles(start + pd.to_timedelta(record.instants, unit="s"), place)
    return sun.azimuth, sun.elevation


def solar_noon(record: CookRecord, place: Place) -> float:
    """When the sun crosses the meridian on the day of a record, on the record's clock. [s]"""
    start = pd.DatetimeIndex([record.start]).tz_convert("UTC")
    middle = start + pd.Timedelta(seconds=record.span / 2)
    sun = sun_angles(middle, place)
    east, north, up = directions(sun.azimuth, sun.geometric)[0]
    meridian = up * math.cos(place.latitude) - north * math.sin(place.latitude)
    return record.span / 2 - math.atan2(-east, meridian) / (2 * math.pi) * _DAY


def _common(record: CookRecord, read: dict[str, NDArray[np.bool_]]) -> Floats:
    """Instants at which anything was read, from the first at which all began to the last before one ended. [s]"""
    instants = record.instants
    spans = [instants[which][[0, -1]] for which in read.values()]
    begin, end = max(first for first, _ in spans), min(last for _, last in spans)
    if not end - begin >= INTERVAL.value:
        raise ProcedureError(
            f"{record.name}: its series share {max(end - begin, 0) / 60:.0f} min, 10 min is the least: log longer"
        )
    some = np.logical_or.reduce(list(read.values()))
    return np.asarray(instants[some & (instants >= begin) & (instants <= end)])


def _held(time: Floats, instants: Floats, wind: Floats) -> Floats:
    """Wind at other instants; before its first reading and after its last it is taken to blow on."""
    read = np.isfinite(wind)
    return np.asarray(np.interp(time, instants[read], wind[read]))


def _spoilt(record: CookRecord, read: dict[str, NDArray[np.bool_]]) -> Iterator[Spoilt]:
    """Spans in which nothing counts; of the wind the standard does not say how often it is read."""
    yield from (Spoilt(begin, end, SHADED) for begin, end in record.shaded)
    for which in read.values():
        instants = record.instants[which]
        for k in np.flatnonzero(np.diff(instants) > INTERVAL.value + _ROUNDING):
            yield Spoilt(float(instants[k]), float(instants[k + 1]), TOO_FAR_APART)


def why_estimate(record: CookRecord, plane: str) -> list[str]:
    """What keeps a figure from this record from being published as the standard's, in sentences."""
    if record.irradiance is None or not record.irradiance_measured:
        return [f"{record.name}: the irradiance is that of a clear sky; nobody measured it"]
    if record.plane != plane:
        how = "a correlation" if record.diffuse is None else "the diffuse light measured beside it"
        return [
            f"{record.name}: irradiance was measured {PLANES[record.plane]}; it is converted to {PLANES[plane]} "
            f"by {how}"
        ]
    return []
