"""Sunlight on the ground, minute by minute: under a cloudless sky, and on days of known clearness."""

import math
import warnings
from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from .clearness import clearness_shape, diffuse_fraction_daily_erbs, sunset_hour_angle
from .sun import Place, SunPath

Floats = NDArray[np.float64]

CLEANEST_TURBIDITY = 2.0  # Linke turbidity of very clean cold air; Ineichen & Perez 2002, introduction


class Irradiance(NamedTuple):
    """Beam facing the sun, diffuse and global on a horizontal plane. [W/m2]"""

    dni: Floats
    dhi: Floats
    ghi: Floats


def clear_irradiance_ineichen(
    *,
    elevation: Floats,
    turbidity: Floats | float,
    extraterrestrial: Floats | float,
    altitude: float,
    pressure: float,
) -> Irradiance:
    """Irradiance under a cloudless sky; zero while the sun is down. [W/m2]

    Parameters
    ----------
    elevation : float64[...]   [rad]
        Of the sun, with refraction.
    turbidity : float | float64[...]
        Linke turbidity at air mass 2; 2 very clean, 3 clean and warm, 5 and more hazy.
    extraterrestrial : float | float64[...]   [W/m2]
        Facing the sun outside the air.
    altitude, pressure : float   [m], [Pa]
        Of the place.

    Source
    ------
    Ineichen, P. and Perez, R., A new airmass independent formulation for the Linke turbidity coefficient,
    Solar Energy 73 (2002) 151-157; air mass of Kasten, F. and Young, A. T., Applied Optics 28 (1989)
    4735-4738; both through pvlib.
    """
    zenith = 90 - np.degrees(elevation)
    relative = pvlib.atmosphere.get_relative_airmass(zenith, model="kastenyoung1989")
    with np.errstate(divide="ignore", invalid="ignore"):  # the cosine of a sun that is down is zero
        parts = pvlib.clearsky.ineichen(
            zenith,
            pvlib.atmosphere.get_absolute_airmass(relative, pressure),
            turbidity,
            altitude=altitude,
            dni_extra=extraterrestrial,
        )
    return Irradiance(*(np.asarray(parts[name], np.float64) for name in ("dni", "dhi", "ghi")))


def mapped_turbidity(place: Place, days: NDArray[np.datetime64]) -> Floats:
    """Linke turbidity of the world map that comes with pvlib, on each day. float64[day]

    Source
    ------
    Remund, J. et al., Worldwide Linke turbidity information, ISES Solar World Congress 2003; by
    month on a 5' grid.
    """
    index = pd.DatetimeIndex(days).tz_localize("UTC")
    with warnings.catch_warnings():  # pvlib 0.16 calls an attribute by the name pandas 3.1 deprecates
        warnings.filterwarnings("ignore", message=".*dayofyear is deprecated")
        series = pvlib.clearsky.lookup_linke_turbidity(
            index, math.degrees(place.latitude), math.degrees(place.longitude)
        )
    return np.asarray(series.to_numpy(), np.float64)


def clear_irradiance(path: SunPath, place: Place, turbidity: Floats) -> Irradiance:
    """Cloudless irradiance along sun paths, `turbidity` float64[path]. float64[path, time] each [W/m2]"""
    return clear_irradiance_ineichen(
        elevation=np.arcsin(np.clip(path.to_sun[..., 2], -1, 1)),
        turbidity=turbidity[:, None],
        extraterrestrial=path.extraterrestrial[:, None],
        altitude=place.altitude,
        pressure=place.pressure,
    )


def clearness_irradiance(
    path: SunPath, place: Place, *, day_path: NDArray[np.int64], clearness: Floats
) -> Irradiance:
    """Irradiance through days of given daily clearness index. float64[day, time] each [W/m2]

    Beam above that of the cleanest air is handed to the diffuse, so the day's global stays what it was.
    """
    declination = path.declination[day_path, None]
    sunset = sunset_hour_angle(latitude=place.latitude, declination=declination)
    shape = clearness_shape(hour_angle=path.hour_angle[day_path], sunset=sunset)
    K = clearness[:, None]
    diffuse_fraction = diffuse_fraction_daily_erbs(clearness=K, sunset=sunset)
    outside = path.extraterrestrial[day_path, None]
    cleanest = clear_irradiance(path, place, np.full(len(path.times), CLEANEST_TURBIDITY)).dni[day_path]
    ghi = K * shape * outside * _level_without_air(path, place)[day_path]
    dni = np.clip(K * outside * (shape - diffuse_fraction), 0.0, cleanest)
    level = np.maximum(path.to_sun[day_path, :, 2], 0.0)
    beam = np.minimum(dni * level, ghi)  # refraction lifts the beam above the irradiance outside the air
    return Irradiance(
        dni=np.where(level > 0, beam / np.where(level > 0, level, 1), 0), dhi=ghi - beam, ghi=ghi
    )


def _level_without_air(path: SunPath, place: Place) -> Floats:
    """Sine of the sun's elevation without refraction, as the daily relations take it. float64[path, time]"""
    declination = path.declination[:, None]
    meridian = math.cos(place.latitude) * np.cos(declination) * np.cos(path.hour_angle)
    return np.asarray(np.maximum(math.sin(place.latitude) * np.sin(declination) + meridian, 0.0))
