"""Where and when: the place, the days, the clock window, and where the sun stands in it."""

import datetime
import math
import re
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from .constants import ZERO_CELSIUS
from .described import DescriptionError, check, quantity

Floats = NDArray[np.float64]

YEAR = 2025  # the sun of one ordinary year stands for all: declination within 0.1 deg of any other year's
STEP = 60.0  # s; every sky is given at whole minutes

SOLAR_CONSTANT_ASTM = 1366.1  # W m-2; ASTM E490-00. Today's value is 1361 (IAU 2015 B3), but clear-sky fits,
# turbidity maps and published clearness indices were made with 1366-1367: 1361 would move all by -0.4 %.

DELTA_T = 69.0  # s; terrestrial time less UT1 in the 2020s (IERS, from memory); 10 s move the sun by 1e-4 deg

_KNOT = 10  # minutes between exact sun positions
_REFRACTING_AIR = 285.15  # K; 12 degC, the yearly mean the position algorithm takes where none is known
_SUNSET_REFRACTION = 0.5667  # deg at the horizon; Reda & Andreas 2004, appendix A.2

MEAN_DAY = (17, 16, 16, 15, 15, 11, 17, 16, 15, 15, 14, 10)
"""Day of each month whose extraterrestrial irradiation is the month's mean.

Klein, S. A., Calculation of monthly average insolation on tilted surfaces, Solar Energy 19 (1977) 325-329;
as tabled in Duffie & Beckman, Solar Engineering of Thermal Processes, table 1.6.1.
"""


class SkyError(ValueError):
    """A sky that cannot be made, in one sentence with the next move."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A spot on the earth and the clock kept there."""

    latitude: float = quantity("angle", -math.pi / 2, math.pi / 2, "north of the equator")
    longitude: float = quantity("angle", -math.pi, math.pi, "east of Greenwich")
    altitude: float = quantity("length", -430.0, 6000.0, "above the sea", default=0.0)
    timezone: str  # IANA name, or a fixed offset such as UTC+05:30
    name: str = "unnamed place"

    def __post_init__(self) -> None:
        for field, most in (("latitude", math.pi / 2), ("longitude", math.pi)):
            value = getattr(self, field)
            if most < abs(value) <= math.degrees(most):
                raise DescriptionError(
                    [f"place.{field} = {value:g} rad, allowed +-{most:.5f}; did you mean {value:g} deg?"]
                )
        check(self, "place")
        self.zone  # noqa: B018  (an unknown zone is refused now, not at the first sunrise)

    @property
    def zone(self) -> datetime.tzinfo:
        """The clock as a time zone."""
        offset = re.fullmatch(r"UTC([+-])(\d\d):(\d\d)", self.timezone)
        if offset:
            minutes = int(offset[2]) * 60 + int(offset[3])
            return datetime.timezone(datetime.timedelta(minutes=minutes if offset[1] == "+" else -minutes))
        try:
            return zoneinfo.ZoneInfo(self.timezone)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError) as error:
            raise DescriptionError(
                [
                    f"place.timezone = {self.timezone!r} is not known: give an IANA name such as "
                    "Asia/Kolkata or a fixed offset such as UTC+05:30"
                ]
            ) from error

    @property
    def pressure(self) -> float:
        """Air pressure of the standard atmosphere at this altitude. [Pa]"""
        return float(pvlib.atmosphere.alt2pres(self.altitude))


class SunAngles(NamedTuple):
    """Sun as seen from a place, in radians: `elevation` with refraction, `geometric` without."""

    azimuth: Floats
    elevation: Floats
    geometric: Floats


def sun_angles(
    times: pd.DatetimeIndex,
    place: Place,
    *,
    pressure: float | None = None,
    air_temperature: float = _REFRACTING_AIR,
    delta_t: float = DELTA_T,
) -> SunAngles:
    """Azimuth and elevation of the sun's middle. [rad]

    Parameters
    ----------
    times : DatetimeIndex[time]
        Instants; must know their time zone.
    place : Place
        Where.
    pressure, air_temperature : float   [Pa], [K]
        Air that bends the ray; the standard atmosphere's pressure if none is given.
    delta_t : float   [s]
        Terrestrial time less UT1.

    Raises
    ------
    SkyError
        If the times are naive.

    Source
    ------
    Reda, I. and Andreas, A., Solar position algorithm for solar radiation applications, Solar Energy 76
    (2004) 577-589, through pvlib; +-0.0003 deg in the years -2000 to 6000.
    """
    if times.tz is None:
        raise SkyError("times without a time zone: localise them first, for instance with tz_localize('UTC')")
    table = pvlib.solarposition.spa_python(
        times,
        math.degrees(place.latitude),
        math.degrees(place.longitude),
        altitude=place.altitude,
        pressure=place.pressure if pressure is None else pressure,
        temperature=air_temperature - ZERO_CELSIUS,
        delta_t=delta_t,
        atmos_refract=_SUNSET_REFRACTION,
    )
    columns = ("azimuth", "apparent_elevation", "elevation")
    return SunAngles(*(np.radians(table[name].to_numpy(np.float64)) for name in columns))


class SunPath(NamedTuple):
    """The sun over the same clock window of several days.

    times : datetime64[ns][path, time], UTC.  to_sun : float64[path, time, 3], east-north-up, refracted.
    hour_angle : float64[path, time] rad, 0 at true noon, then positive.  declination : float64[path] rad.
    extraterrestrial : float64[path] W/m2, on a plane facing the sun.
    """

    times: NDArray[np.datetime64]
    to_sun: Floats
    hour_angle: Floats
    declination: Floats
    extraterrestrial: Floats


def sun_path(times: NDArray[np.datetime64], place: Place) -> SunPath:
    """Sun vectors and what follows from them, for minutes in UTC. datetime64[path, time] -> SunPath

    The position algorithm is run about every ten minutes and a cubic spline laid through the vectors, which
    is true to 1e-7 rad; refraction is that of the standard atmosphere of the place, at each minute.
    """
    geometric = _splined(times, place)
    east, north, up = np.moveaxis(geometric, -1, 0)
    sin, cos = math.sin(place.latitude), math.cos(place.latitude)
    middle = times.shape[1] // 2
    day_of_year = pd.DatetimeIndex(times[:, middle]).day_of_year
    return SunPath(
        times=times,
        to_sun=_refracted(geometric, place.pressure),
        hour_angle=np.arctan2(-east, up * cos - north * sin),
        declination=np.arcsin(up * sin + north * cos)[:, middle],
        extraterrestrial=extraterrestrial_normal_spencer(day_of_year.to_numpy(np.float64)),
    )


def _splined(times: NDArray[np.datetime64], place: Place) -> Floats:
    """Geometric sun vectors. float64[path, time, 3]"""
    last = times.shape[1] - 1
    knots = np.linspace(0, last, max(last // _KNOT, 4) + 1)
    offsets = np.rint(knots * STEP * 1e9).astype("timedelta64[ns]")
    index = pd.DatetimeIndex((times[:, :1] + offsets).ravel()).tz_localize("UTC")
    angles = sun_angles(index, place)
    exact = directions(angles.azimuth, angles.geometric).reshape(len(times), len(knots), 3)
    smooth = CubicSpline(knots, exact, axis=1)(np.arange(last + 1))
    return np.asarray(smooth / np.linalg.norm(smooth, axis=-1, keepdims=True), np.float64)


def _refracted(geometric: Floats, pressure: float) -> Floats:
    """Vectors lifted by refraction. float64[..., 3]"""
    elevation = np.degrees(np.arcsin(np.clip(geometric[..., 2], -1, 1)))
    lift = pvlib.spa.atmospheric_refraction_correction(
        pressure / 100, _REFRACTING_AIR - ZERO_CELSIUS, elevation, _SUNSET_REFRACTION
    )
    azimuth = np.arctan2(geometric[..., 0], geometric[..., 1])
    return directions(azimuth, np.radians(elevation + lift))


def directions(azimuth: Floats, elevation: Floats) -> Floats:
    """Unit vectors in east-north-up of angles of equal shape. float64[..., 3]"""
    flat = np.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), np.sin(elevation)], axis=-1)


def extraterrestrial_normal_spencer(day_of_year: Floats, *, constant: float = SOLAR_CONSTANT_ASTM) -> Floats:
    """Irradiance outside the air on a plane facing the sun. [W/m2]

    Source
    ------
    Spencer, J. W., Fourier series representation of the position of the sun, Search 2 (1971) 172;
    Duffie & Beckman, eq. 1.4.1b; through pvlib.
    """
    return np.asarray(
        pvlib.irradiance.get_extra_radiation(day_of_year, solar_constant=constant, method="spencer"),
        np.float64,
    )


def mean_days(months: Sequence[int], year: int = YEAR) -> list[datetime.date]:
    """The mean day of each month, months counted from 1 (Klein 1977)."""
    return [datetime.date(year, m, MEAN_DAY[m - 1]) for m in _checked(months)]


def all_days(months: Sequence[int], year: int = YEAR) -> list[datetime.date]:
    """Every day of each month, months counted from 1; no 29 February."""
    return [datetime.date(year, m, d + 1) for m in _checked(months) for d in range(days_in_month(m))]


def _checked(months: Sequence[int]) -> Sequence[int]:
    if not months or any(m not in range(1, 13) for m in months):
        raise SkyError(f"months = {list(months)}: give at least one, each a number from 1 to 12")
    return months


def refuse_both(months: Sequence[int] | None, dates: Sequence[datetime.date] | None) -> None:
    """Raise unless exactly one way of naming the days is used."""
    if (months is None) == (dates is None):
        raise SkyError("give either months or dates, not both and not neither")


def days_in_month(month: int) -> int:
    """Days of a month in the ordinary year."""
    return (datetime.date(YEAR + month // 12, month % 12 + 1, 1) - datetime.date(YEAR, month, 1)).days


def clock_window(
    place: Place, dates: Sequence[datetime.date], start: datetime.time, stop: datetime.time
) -> NDArray[np.datetime64]:
    """UTC instants of each minute from `start` to `stop` on the place's clock. datetime64[ns][date, time]

    Every day has as many minutes, also one on which the clock is put forward or back.
    """
    for name, clock in (("start", start), ("stop", stop)):
        if clock.tzinfo is not None or clock.second or clock.microsecond:
            raise SkyError(
                f"{name} = {clock}: give whole minutes on the clock of the place, without a time zone"
            )
    minutes = (stop.hour - start.hour) * 60 + stop.minute - start.minute
    if minutes < 1:
        raise SkyError(f"stop {stop:%H:%M} is not after start {start:%H:%M}: a window lies within one day")
    if not dates:
        raise SkyError("dates is empty: give at least one day")
    local = pd.DatetimeIndex([datetime.datetime.combine(d, start) for d in dates])
    aware = local.tz_localize(place.zone, ambiguous=np.ones(len(dates), bool), nonexistent="shift_forward")
    begin = aware.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[ns]")
    return np.asarray(begin[:, None] + np.arange(minutes + 1) * np.timedelta64(60, "s"), "datetime64[ns]")
