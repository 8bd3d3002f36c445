"""What a measured cook stood under: its readings as one day of weather, minute by minute, with what nobody read."""

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..air_outside import (
    Air,
    dew_below,
    dew_point_magnus,
    diurnal_temperature_erbs,
    sky_temperature_berdahl_martin,
)
from ..irradiance import Irradiance, clear_irradiance, mapped_turbidity
from ..sky import EVENING, Ambient, Sky
from ..sun import STEP, Place, SunPath, sun_path
from .planes import split, sun_of
from .record import PLANES, CookRecord, RecordError
from .resampled import gaps, minute_values, outside_spans

Floats = NDArray[np.float64]

USUAL_HUMIDITY = (
    0.4  # of air whose dew point nobody knows: common practice, no source; 0.2 to 0.7 move a sky by 8 K
)
USUAL_WIND = 1.0  # m/s where nobody knows: an ordinary yard; common practice, no source


class Outdoors(NamedTuple):
    """The hours of one cook as a sky of one day, and how far it can be trusted."""

    sky: Sky
    minutes: Floats  # [minute] s, from the record's own zero
    known: NDArray[
        np.bool_
    ]  # [minute] whether light and air were read about then, or nobody meant to read them
    notes: tuple[str, ...]  # sentences on what was made of the readings, and on what nobody read


def outdoors(record: CookRecord, place: Place, *, air: Air | None = None, albedo: float = 0.2) -> Outdoors:
    """One day of weather from the readings of a cook, on whole minutes from where it begins.

    Parameters
    ----------
    record : CookRecord
    place : Place
        Where it cooked.
    air : Air, optional
        Stands in for air, wind and dew point that nobody read.
    albedo : float
        Of the ground.

    Raises
    ------
    RecordError
        No reading of the air outside, and no `air` either.
    """
    if record.air is None and air is None:
        raise RecordError(
            [f"{record.name}: nobody read the air outside: add a column for it, or a table [sky.air]"]
        )
    steps = int(np.ceil((record.instants[-1] - record.begins) / STEP))
    minutes = np.asarray(record.begins + STEP * np.arange(steps + 1), np.float64)
    path = sun_path(_utc(record, minutes), place)
    told = _Told(record, minutes, known=np.ones(len(minutes), bool), notes=[])
    light = _light(told, path, place, albedo)
    ambient = _ambient(told, path, place, air)
    sky = Sky(
        place=place,
        source=f"measured: {record.name}",
        times=path.times,
        to_sun=path.to_sun,
        extraterrestrial=path.extraterrestrial,
        day_path=np.zeros(1, np.int64),
        day_weight=np.ones(1),
        day_month=np.array([_month(path)]),
        day_label=(record.name,),
        dni=light.dni[None],
        dhi=light.dhi[None],
        ghi=light.ghi[None],
        **ambient._asdict(),
        evening=Ambient(*(np.repeat(column[:, -1:], EVENING + 1, axis=1) for column in ambient)),
        albedo=albedo,
        by_night=True,
    )
    return Outdoors(sky, minutes, told.known, tuple(told.notes))


class _Told(NamedTuple):
    """A record on its minutes, with what is noted on the way."""

    record: CookRecord
    minutes: Floats
    known: NDArray[np.bool_]
    notes: list[str]

    def series(self, name: str, *, averaged: bool = False, needed: bool = True) -> Floats | None:
        """A series of the weather by the minute; None where nobody read it. Gaps of a needed one are unknown."""
        values = self.record.weather(name)
        if values is None:
            return None
        spans = gaps(self.record.instants, values)
        if spans:
            what = "not predicted there" if needed else "bridged by a straight line"
            self.notes.append(f"{name}: no reading for {_lengths(spans)}; {what}")
        if needed:
            self.known[:] &= outside_spans(spans, self.minutes)
        return minute_values(self.record.instants, values, self.minutes, averaged=averaged)


def _lengths(spans: list[tuple[float, float]]) -> str:
    return " and ".join(f"{(end - begin) / 60:.0f} min" for begin, end in spans)


def _utc(record: CookRecord, minutes: Floats) -> NDArray[np.datetime64]:
    start = pd.Timestamp(record.start).tz_convert("UTC").tz_localize(None).to_datetime64()
    return np.asarray((start + (1e9 * minutes).astype("timedelta64[ns]"))[None], "datetime64[ns]")


def _month(path: SunPath) -> int:
    return int(pd.DatetimeIndex(path.times[0]).month[path.times.shape[1] // 2])


def _light(told: _Told, path: SunPath, place: Place, albedo: float) -> Irradiance:
    """Beam, diffuse and global by the minute, float64[minute] each."""
    record = told.record
    clear = clear_irradiance(path, place, mapped_turbidity(place, path.times[:, 0]))
    measured = told.series("irradiance", averaged=record.averaged)
    if not record.irradiance_measured or measured is None:
        told.notes.append("nobody measured the sunlight: a clear sky stands in for it")
    if measured is None:
        return Irradiance(*(part[0] for part in clear))
    diffuse = told.series("diffuse", averaged=record.averaged)
    light = split(measured, diffuse, record.plane, sun=sun_of(path, place, clear), albedo=albedo)
    if diffuse is None and record.irradiance_measured:
        stood_in = "that of a clear sky" if record.plane == "beam" else "from the global by Erbs et al. 1982"
        told.notes.append(f"sunlight was measured {PLANES[record.plane]}; diffuse is {stood_in}")
    return light


def _ambient(told: _Told, path: SunPath, place: Place, air: Air | None) -> Ambient:
    """Air, sky and wind, float64[1, minute] each."""
    temperature = told.series("air")
    low, high, dew, wind_speed = _of_month(air, _month(path))
    if temperature is None:
        told.notes.append("nobody read the air outside: its temperature is that of [sky.air]")
        temperature = diurnal_temperature_erbs(low=low, high=high, hour_angle=path.hour_angle[0])
    wind = told.series("wind", needed=False)
    if wind is None:
        told.notes.append(f"nobody read the wind: {wind_speed:g} m/s stands in for it")
        wind = np.full(len(temperature), wind_speed)
    if air is None:
        told.notes.append(f"the dew point is that of air at a humidity of {100 * USUAL_HUMIDITY:.0f} %")
        humidity = np.full(len(temperature), USUAL_HUMIDITY)
        dew_point = dew_point_magnus(air_temperature=temperature, relative_humidity=humidity)
    else:
        dew_point = dew_below(np.full(len(temperature), dew), temperature)
    sky = sky_temperature_berdahl_martin(
        air_temperature=temperature,
        dew_point=dew_point,
        hour_angle=path.hour_angle[0],
        pressure=place.pressure,
    )
    pressure = np.full(len(temperature), place.pressure)
    return Ambient(*(column[None].copy() for column in (temperature, dew_point, sky, wind, pressure)))


def _of_month(air: Air | None, month: int) -> tuple[Floats, ...]:
    """Low, high, dew point and wind of one month; nan but for the wind where there is no `Air`."""
    if air is None:
        return tuple(np.array([np.nan, np.nan, np.nan, USUAL_WIND]))
    return tuple(np.asarray(column[month - 1]) for column in air.by_month())
