"""A `Sky` from a weather file: whole days of it, brought from hours to minutes."""

import datetime
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .air_outside import dew_below, sky_emittance_berdahl_martin, sky_emittance_unsworth_monteith
from .constants import STEFAN_BOLTZMANN
from .irradiance import clear_irradiance, mapped_turbidity
from .minutes import interpolated, sunlight_minutes
from .sky import EVENING, Ambient, Sky, evening_hour_angle
from .sun import YEAR, Place, SkyError, SunPath, all_days, clock_window, refuse_both, sun_path
from .weather_year import HOURS, WeatherYear, weather_year

__all__ = ["WeatherYear", "file_sky", "weather_year"]

Floats = NDArray[np.float64]

_TWILIGHT = 0.05  # sine of the elevation below which diffuse light may pass what falls from outside the air
_FAR = math.radians(
    1.0
)  # a place further than this from its file's station has other weather and another sun


def file_sky(
    path: str | Path,
    *,
    start: datetime.time,
    stop: datetime.time,
    months: Sequence[int] | None = None,
    dates: Sequence[datetime.date] | None = None,
    place: Place | None = None,
    albedo: float = 0.2,
    year: int = YEAR,
) -> Sky:
    """Days of a weather file: every day of the given months, or the given dates.

    Parameters
    ----------
    path
        A TMY3 (.csv), EPW (.epw) or TMY2 (.tm2) file.
    start, stop : datetime.time
        Window on the clock of the place, whole minutes.
    months, dates
        One of them. The year of a date does not matter.
    place : Place
        To give the file another name, altitude or clock, one with summer time say. Without it the clock is
        local standard time. At most one degree from the file's own.

    Raises
    ------
    SkyError
        As `weather_year`; a place too far away; an empty choice; a day on which the sun stays down.
    """
    weather = weather_year(path)
    place = _near(place, weather.place)
    chosen = _dates(months, dates, year)
    times = clock_window(place, chosen, start, stop)
    new_year = np.datetime64(f"{year}-01-01T00:00", "ns")
    hour = (times - new_year) / np.timedelta64(1, "h") + weather.standard_offset
    sun, dni, dhi = _sunlight(weather, place, hour, new_year)
    ghi = dni * np.maximum(sun.to_sun[..., 2], 0) + dhi
    after = hour[:, -1:] + np.arange(EVENING + 1) / 60
    return Sky(
        place=place,
        source=weather.title,
        times=sun.times,
        to_sun=sun.to_sun,
        extraterrestrial=sun.extraterrestrial,
        day_path=np.arange(len(chosen)),
        day_weight=np.ones(len(chosen)),
        day_month=np.array([d.month for d in chosen]),
        day_label=tuple(f"{d:%d %b}" for d in chosen),
        dni=dni,
        dhi=dhi,
        ghi=ghi,
        **_ambient(weather, hour, sun.hour_angle)._asdict(),
        evening=_ambient(weather, after, evening_hour_angle(sun.hour_angle)),
        albedo=albedo,
    )


def _ambient(weather: WeatherYear, hour: Floats, hour_angle: Floats) -> Ambient:
    """Air and sky at fractional hours of the year."""
    air, dew, wind, pressure, cloud = (
        interpolated(column, hour - 1)  # a reading at the end of hour i is one of instant i + 1
        for column in (
            weather.air_temperature,
            weather.dew_point,
            weather.wind_speed,
            weather.pressure,
            weather.cloud,
        )
    )
    dew = dew_below(dew, air)
    clear = sky_emittance_berdahl_martin(dew_point=dew, hour_angle=hour_angle, pressure=pressure)
    emittance = sky_emittance_unsworth_monteith(clear=clear, cloud=cloud)
    infrared = interpolated(weather.infrared, hour - 0.5)
    modelled = STEFAN_BOLTZMANN * emittance * air**4
    long_wave = np.where(np.isfinite(infrared), infrared, modelled)
    return Ambient(
        air_temperature=air,
        dew_point=dew,
        sky_temperature=(long_wave / STEFAN_BOLTZMANN) ** 0.25,
        wind_speed=wind,
        pressure=pressure,
    )


def _near(place: Place | None, station: Place) -> Place:
    if place is None:
        return station
    east = (place.longitude - station.longitude + math.pi) % (2 * math.pi) - math.pi
    if abs(place.latitude - station.latitude) > _FAR or abs(east) > _FAR:
        raise SkyError(
            f"{place.name} is more than 1 deg from the file's station {station.name} "
            f"({math.degrees(station.latitude):.2f} N, {math.degrees(station.longitude):.2f} E): "
            "take a file from nearer by"
        )
    return place


def _dates(
    months: Sequence[int] | None, dates: Sequence[datetime.date] | None, year: int
) -> list[datetime.date]:
    refuse_both(months, dates)
    if months is not None:
        return all_days(months, year)
    assert dates is not None
    if any((d.month, d.day) == (2, 29) for d in dates):
        raise SkyError("29 February is not in a typical year: choose 28 February")
    return [d.replace(year=year) for d in dates]


def _sunlight(
    weather: WeatherYear, place: Place, hour: Floats, new_year: np.datetime64
) -> tuple[SunPath, Floats, Floats]:
    """The sun, its beam and the diffuse light at the window's instants; float64[day, time] both. [W/m2]

    Whole hours of the file are made, from the one before the window to the one after it, and cut.
    """
    begin = np.floor(hour[:, 0]).astype(np.int64) - 1
    count = int((np.ceil(hour[:, -1]).astype(np.int64) - begin).max()) + 1
    minute = begin[:, None] * 60 + np.arange(count * 60 + 1)
    offset = np.timedelta64(round(weather.standard_offset * 60), "m")
    path = sun_path(new_year - offset + minute * np.timedelta64(60, "s"), place)
    clear = clear_irradiance(path, place, mapped_turbidity(place, path.times[:, path.times.shape[1] // 2]))
    clean = clear_irradiance(path, place, np.ones(len(path.times)))  # dry air without dust, by definition
    rows = (begin[:, None] + np.arange(count)) % HOURS
    dni = sunlight_minutes(weather.dni[rows], clear.dni, clean.dni)
    outside = path.extraterrestrial[:, None] * np.maximum(path.to_sun[..., 2], _TWILIGHT)
    dhi = sunlight_minutes(weather.dhi[rows], clear.ghi, outside)
    cut = np.rint((hour - begin[:, None]) * 60).astype(np.int64)
    window = path._replace(
        times=np.take_along_axis(path.times, cut, axis=1),
        to_sun=np.take_along_axis(path.to_sun, cut[..., None], axis=1),
        hour_angle=np.take_along_axis(path.hour_angle, cut, axis=1),
    )
    return window, np.take_along_axis(dni, cut, axis=1), np.take_along_axis(dhi, cut, axis=1)
