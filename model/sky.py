"""What the oven stands under: sun, irradiance, air and sky temperature, minute by minute, day by day.

Three makers: `clear_sky` and `clearness_sky` here, `file_sky` in `weather`. All give the same `Sky`.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .air_outside import (
    Air,
    dew_below,
    diurnal_temperature_erbs,
    sky_temperature_berdahl_martin,
    sky_temperature_swinbank,
    vapour_pressure_magnus,
)
from .clearness import clearness_days_bendt
from .irradiance import Irradiance, clear_irradiance, clearness_irradiance, mapped_turbidity
from .sun import (
    STEP,
    YEAR,
    Place,
    SkyError,
    SunPath,
    clock_window,
    days_in_month,
    mean_days,
    refuse_both,
    sun_path,
)

__all__ = [
    "EVENING",
    "Air",
    "Ambient",
    "Place",
    "Sky",
    "SkyError",
    "clear_sky",
    "clearness_sky",
    "sky_temperature_berdahl_martin",
    "sky_temperature_swinbank",
]

Floats = NDArray[np.float64]

EVENING = 720  # minutes after the day that are known: what is still hot then keeps warm till the morning
_TURNING = 2 * math.pi / 1440  # rad a minute, of the hour angle


class Ambient(NamedTuple):
    """What surrounds an oven, but for the light of the sun; float64[day, time] each."""

    air_temperature: Floats  # K
    dew_point: Floats  # K
    sky_temperature: Floats  # K
    wind_speed: Floats  # m/s at the height it was measured
    pressure: Floats  # Pa

    @property
    def vapour_pressure(self) -> Floats:
        """Partial pressure of water vapour in the air. float64[day, time] [Pa]"""
        return vapour_pressure_magnus(self.dew_point)


@dataclass(frozen=True, kw_only=True, eq=False)
class Sky:
    """Days of weather on one clock window; arrays are instants a minute apart and cannot be written to.

    A path is one course of the sun. Several days may share it: a month is one path under days of different
    clearness. `day_weight` says how many real days each stands for.
    """

    place: Place
    source: str
    times: NDArray[np.datetime64]  # [path, time] UTC
    to_sun: Floats  # [path, time, 3] unit vectors, east-north-up, bent by refraction
    extraterrestrial: Floats  # [path] W/m2, facing the sun outside the air
    day_path: NDArray[np.int64]  # [day]
    day_weight: Floats  # [day] real days meant
    day_month: NDArray[np.int64]  # [day] 1 to 12
    day_label: tuple[str, ...]  # [day]
    dni: Floats  # [day, time] W/m2, beam on a plane facing the sun
    dhi: Floats  # [day, time] W/m2, diffuse on a horizontal plane
    ghi: Floats  # [day, time] W/m2, global on a horizontal plane
    air_temperature: Floats  # [day, time] K
    dew_point: Floats  # [day, time] K
    sky_temperature: Floats  # [day, time] K
    wind_speed: Floats  # [day, time] m/s at the height it was measured, 10 m in files
    pressure: Floats  # [day, time] Pa
    evening: Ambient  # [day, EVENING + 1] from the last instant of the day on, through dusk and night
    albedo: float = 0.2  # of the ground around
    by_night: bool = False  # whether a day may pass without sun, as the cooling of a pot does

    def __post_init__(self) -> None:
        days, steps = len(self.day_path), self.times.shape[1]
        for name, array in self.evening._asdict().items():
            if array.shape != (days, EVENING + 1):
                raise SkyError(
                    f"sky.evening.{name} has shape {array.shape}, needed {(days, EVENING + 1)}: [day, minute]"
                )
            array.setflags(write=False)
        for name in (
            "dni",
            "dhi",
            "ghi",
            "air_temperature",
            "dew_point",
            "sky_temperature",
            "wind_speed",
            "pressure",
        ):
            array = getattr(self, name)
            if array.shape != (days, steps):
                raise SkyError(f"sky.{name} has shape {array.shape}, needed {(days, steps)}: [day, time]")
            if not np.isfinite(array).all():
                day = self.day_label[int(np.argmin(np.isfinite(array).all(axis=1)))]
                raise SkyError(f"sky.{name} is not finite on {day}: look at its source")
        if not 0 <= self.albedo <= 1:
            raise SkyError(f"sky.albedo = {self.albedo:g}, allowed 0 to 1")
        if not self.by_night:
            _refuse_night(self.place, self.times, self.to_sun)
        for array in (v for v in vars(self).values() if isinstance(v, np.ndarray)):
            array.setflags(write=False)

    @property
    def days(self) -> int:
        """Number of days of weather."""
        return len(self.day_path)

    @property
    def steps(self) -> int:
        """Minutes in the window, one fewer than instants."""
        return int(self.times.shape[1]) - 1

    @property
    def step(self) -> float:
        """Time between instants. [s]"""
        return STEP

    def sun_from(self, minute: int) -> bool:
        """Whether the sun is up on every path at some time from this minute on."""
        return bool((self.to_sun[:, minute:, 2].max(axis=1) > 0).all()) and minute < self.steps

    def later(self, minute: int) -> "Sky":
        """The same days from a later minute on."""
        by_time = ("times", "to_sun", "dni", "dhi", "ghi", "air_temperature", "dew_point", "sky_temperature")
        cut = {name: getattr(self, name)[:, minute:] for name in (*by_time, "wind_speed", "pressure")}
        return replace(self, **cut)

    def only(self, days: Sequence[int]) -> "Sky":
        """Some of the days, in the order given and as often as named, and the courses of the sun they need.

        Raises
        ------
        SkyError
            No day, or one that there is not; days count from 0.
        """
        picked = np.asarray(days, np.int64)
        if not picked.size or picked.min() < 0 or picked.max() >= self.days:
            raise SkyError(f"days {list(days)}: at least one is needed, each from 0 to {self.days - 1}")
        paths, day_path = np.unique(self.day_path[picked], return_inverse=True)
        by_path: dict[str, Any] = {
            name: getattr(self, name)[paths] for name in ("times", "to_sun", "extraterrestrial")
        }
        by_day: dict[str, Any] = {
            name: array[picked]
            for name, array in vars(self).items()
            if isinstance(array, np.ndarray) and name not in (*by_path, "day_path")
        }
        return replace(
            self,
            **by_path,
            **by_day,
            day_path=day_path.ravel(),
            day_label=tuple(self.day_label[day] for day in picked),
            evening=Ambient(*(column[picked] for column in self.evening)),
        )

    @property
    def elevation(self) -> Floats:
        """Elevation of the sun, with refraction. float64[path, time] [rad]"""
        return np.arcsin(np.clip(self.to_sun[..., 2], -1, 1))

    @property
    def azimuth(self) -> Floats:
        """Azimuth of the sun, clockwise from north. float64[path, time] [rad]"""
        return np.arctan2(self.to_sun[..., 0], self.to_sun[..., 1]) % (2 * np.pi)

    @property
    def vapour_pressure(self) -> Floats:
        """Partial pressure of water vapour in the air. float64[day, time] [Pa]"""
        return vapour_pressure_magnus(self.dew_point)

    @property
    def beam_day(self) -> Floats:
        """Beam irradiation of each day within the window, facing the sun. float64[day] [J/m2]"""
        return np.asarray(np.trapezoid(self.dni, dx=STEP, axis=1))


def clear_sky(
    place: Place,
    *,
    start: datetime.time,
    stop: datetime.time,
    air: Air,
    months: Sequence[int] | None = None,
    dates: Sequence[datetime.date] | None = None,
    turbidity: float | None = None,
    albedo: float = 0.2,
    year: int = YEAR,
) -> Sky:
    """Cloudless days: given dates, or the mean day of each given month.

    Parameters
    ----------
    place : Place
        Where; its clock is the one of `start` and `stop`.
    start, stop : datetime.time
        Window on that clock, whole minutes.
    air : Air
        Temperatures, dew point and wind, for the year or by month.
    months, dates
        One of them: months from 1 to 12, each shown by its mean day and weighing as many days as it has,
        or single dates weighing one day each.
    turbidity : float
        Linke turbidity; from the world map by place and date if not given.

    Raises
    ------
    SkyError
        Neither or both of months and dates; an empty window; a day on which the sun stays down.
    """
    chosen, weights = _chosen_days(months, dates, year)
    path = sun_path(clock_window(place, chosen, start, stop), place)
    haze = (
        mapped_turbidity(place, path.times[:, path.times.shape[1] // 2])
        if turbidity is None
        else np.full(len(chosen), turbidity)
    )
    parts = clear_irradiance(path, place, haze)
    return _sky_of(
        place,
        path,
        parts,
        air=air,
        day_path=np.arange(len(chosen)),
        day_weight=weights,
        day_month=np.array([d.month for d in chosen]),
        day_label=tuple(f"{d:%d %b} clear" for d in chosen),
        albedo=albedo,
        source="clear sky (Ineichen & Perez 2002)",
    )


def _refuse_night(place: Place, times: NDArray[np.datetime64], to_sun: Floats) -> None:
    highest = to_sun[..., 2].max(axis=1)
    if (highest > 0).all():
        return
    path = int(np.argmin(highest))
    clock = pd.DatetimeIndex(times[path]).tz_localize("UTC").tz_convert(place.zone)
    raise SkyError(
        f"the sun stays down at {place.name} on {clock[0]:%d %B} from {clock[0]:%H:%M} to "
        f"{clock[-1]:%H:%M}: it comes no higher than {math.degrees(math.asin(highest[path])):.1f} deg; "
        "leave that day out or choose another window"
    )


def _chosen_days(
    months: Sequence[int] | None, dates: Sequence[datetime.date] | None, year: int
) -> tuple[list[datetime.date], Floats]:
    refuse_both(months, dates)
    if dates is not None:
        return list(dates), np.ones(len(dates))
    assert months is not None
    return mean_days(months, year), np.array([days_in_month(m) for m in months], np.float64)


def clearness_sky(
    place: Place,
    *,
    start: datetime.time,
    stop: datetime.time,
    air: Air,
    months: Sequence[int],
    clearness: Sequence[float],
    days_per_month: int = 5,
    albedo: float = 0.2,
    year: int = YEAR,
) -> Sky:
    """Months known by their mean clearness index alone: equally likely days from dark to clear for each.

    The sun runs as on the month's mean day (Klein 1977). Days follow Bendt et al. 1981, their diffuse share
    Erbs et al. 1982, the course of the day Collares-Pereira & Rabl 1979 and Liu & Jordan 1960. Minutes are
    those of the long-term average day of that clearness: passing clouds are smoothed out.

    Parameters
    ----------
    months, clearness : [month]
        Months from 1 to 12, and the mean clearness index of each: global over extraterrestrial irradiation.
    days_per_month : int
        Days that stand for each month.

    Raises
    ------
    SkyError
        Lists of unequal length, an impossible clearness index, a day on which the sun stays down.
    """
    if len(months) != len(clearness):
        raise SkyError(f"clearness has {len(clearness)} values for {len(months)} months: give one for each")
    if not 1 <= days_per_month <= 31:
        raise SkyError(f"days_per_month = {days_per_month}, allowed 1 to 31")
    chosen = mean_days(months, year)
    path = sun_path(clock_window(place, chosen, start, stop), place)
    _refuse_night(place, path.times, path.to_sun)  # relations of the daily sun mean nothing there
    try:
        indices = np.concatenate([clearness_days_bendt(mean=k, days=days_per_month) for k in clearness])
    except ValueError as error:
        raise SkyError(str(error)) from error
    day_path = np.repeat(np.arange(len(months)), days_per_month)
    month = np.asarray(months)[day_path]
    return _sky_of(
        place,
        path,
        clearness_irradiance(path, place, day_path=day_path, clearness=indices),
        air=air,
        day_path=day_path,
        day_weight=np.array([days_in_month(m) for m in month]) / days_per_month,
        day_month=month,
        day_label=tuple(f"{chosen[p]:%B}, clearness {k:.2f}" for p, k in zip(day_path, indices, strict=True)),
        albedo=albedo,
        source="monthly clearness index (Bendt et al. 1981, Erbs et al. 1982, Collares-Pereira & Rabl 1979)",
    )


def _sky_of(
    place: Place,
    path: SunPath,
    parts: Irradiance,
    *,
    air: Air,
    day_path: NDArray[np.int64],
    day_weight: Floats,
    day_month: NDArray[np.int64],
    day_label: tuple[str, ...],
    albedo: float,
    source: str,
) -> Sky:
    hour_angle = path.hour_angle[day_path]
    month = [column[day_month - 1, None] for column in air.by_month()]
    return Sky(
        place=place,
        source=source,
        times=path.times,
        to_sun=path.to_sun,
        extraterrestrial=path.extraterrestrial,
        day_path=day_path.astype(np.int64),
        day_weight=day_weight.astype(np.float64),
        day_month=day_month.astype(np.int64),
        day_label=day_label,
        dni=parts.dni,
        dhi=parts.dhi,
        ghi=parts.ghi,
        **_ambient(month, hour_angle, place.pressure)._asdict(),
        evening=_ambient(month, evening_hour_angle(hour_angle), place.pressure),
        albedo=albedo,
    )


def evening_hour_angle(hour_angle: Floats) -> Floats:
    """The sun's hour angle from the last instant of a day on, for as long as evenings are known. [rad]"""
    return hour_angle[:, -1:] + _TURNING * np.arange(EVENING + 1)


def _ambient(month: Sequence[Floats], hour_angle: Floats, pressure: float) -> Ambient:
    """Air and sky at some hour angles of days whose means of low, high, dew point and wind are known."""
    low, high, dew, wind = month
    temperature = diurnal_temperature_erbs(low=low, high=high, hour_angle=hour_angle)
    dew_point = dew_below(np.broadcast_to(dew, temperature.shape), temperature)
    return Ambient(
        air_temperature=temperature,
        dew_point=dew_point,
        sky_temperature=sky_temperature_berdahl_martin(
            air_temperature=temperature, dew_point=dew_point, hour_angle=hour_angle, pressure=pressure
        ),
        wind_speed=np.broadcast_to(wind, temperature.shape).copy(),
        pressure=np.full_like(temperature, pressure),
    )
