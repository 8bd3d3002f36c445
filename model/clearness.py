"""From a month's mean clearness index to days, and from a day's to its minutes.

A clearness index is the irradiation of a horizontal plane over that outside the air. All functions take
radians and plain numbers or arrays; equation numbers are those of Duffie & Beckman, Solar Engineering of
Thermal Processes, 4th ed. (2013), which restates the papers named.
"""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

Floats = NDArray[np.float64]

LEAST_CLEARNESS = 0.05  # darkest day of any month; Bendt et al. 1981, Duffie & Beckman section 2.9
_ALMOST_EVEN = 1e-4  # exponent over the range below which the distribution is uniform to 1e-8


def sunset_hour_angle(*, latitude: float, declination: Floats) -> Floats:
    """Hour angle at sunset: 0 where the sun stays down, pi where it stays up. [rad]

    Source: Duffie & Beckman eq. 1.6.10.
    """
    return np.asarray(np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1.0, 1.0)))


def daily_extraterrestrial(*, latitude: float, declination: Floats, normal: Floats) -> Floats:
    """Irradiation of a horizontal plane outside the air over one day; `normal` faces the sun, W/m2. [J/m2]

    Source: Duffie & Beckman eq. 1.10.3.
    """
    sunset = sunset_hour_angle(latitude=latitude, declination=declination)
    level = np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return np.asarray(86_400 / np.pi * normal * (level + sunset * np.sin(latitude) * np.sin(declination)))


def greatest_clearness_hollands_huget(mean: float) -> float:
    """Clearness index of the clearest day of a month of given mean.

    Source
    ------
    Hollands, K. G. T. and Huget, R. G., A probability density function for the clearness index, with
    applications, Solar Energy 30 (1983) 195-209; Duffie & Beckman eq. 2.9.4 and following.
    """
    return 0.6313 + 0.267 * mean - 11.9 * (mean - 0.75) ** 8


def exponent_herzog(mean: float) -> float:
    """Exponent of the distribution of Bendt et al., explicit approximation.

    Source
    ------
    Herzog, M. E., Estimation of hourly and monthly average daily insolation from temperature data
    (1985), as given in Duffie & Beckman eq. 2.9.7, 2.9.8.
    """
    greatest = greatest_clearness_hollands_huget(mean)
    span = greatest - LEAST_CLEARNESS
    xi = span / (greatest - mean)
    return -1.498 + (1.184 * xi - 27.182 * math.exp(-1.5 * xi)) / span


def exponent_bendt(mean: float) -> float:
    """Exponent of the distribution of Bendt et al. whose mean is exactly the one given.

    Herzog's explicit formula reproduces the mean within about 0.01; this solves the mean's own equation.

    Raises
    ------
    ValueError
        If the mean is not between the darkest and the clearest day.

    Source: Duffie & Beckman eq. 2.9.6.
    """
    span = greatest_clearness_hollands_huget(mean) - LEAST_CLEARNESS
    place = (mean - LEAST_CLEARNESS) / span
    if mean <= LEAST_CLEARNESS or not 0.01 < place < 0.99:
        raise ValueError(
            f"monthly clearness index = {mean:g}, allowed about 0.08 to 0.85; it is global over "
            "extraterrestrial irradiation of a horizontal plane, not a percentage"
        )
    return float(brentq(lambda power: _mean_of(power) - place, -200.0, 200.0, xtol=1e-12)) / span


def _mean_of(power: float) -> float:
    """Mean of a variable on [0, 1] with density proportional to exp(power x)."""
    if abs(power) < _ALMOST_EVEN:
        return 0.5 + power / 12
    return 1 / -math.expm1(-power) - 1 / power


def fraction_of_days_bendt(clearness: Floats, *, mean: float) -> Floats:
    """Fraction of a month's days that are less clear than `clearness`.

    Source
    ------
    Bendt, P., Collares-Pereira, M. and Rabl, A., The frequency distribution of daily insolation values,
    Solar Energy 27 (1981) 1-5; Duffie & Beckman eq. 2.9.5.
    """
    power = exponent_bendt(mean)
    span = greatest_clearness_hollands_huget(mean) - LEAST_CLEARNESS
    inside = np.clip(np.asarray(clearness) - LEAST_CLEARNESS, 0.0, span)
    if abs(power * span) < _ALMOST_EVEN:
        return inside / span
    return np.asarray(np.expm1(power * inside) / math.expm1(power * span))


def clearness_days_bendt(*, mean: float, days: int) -> Floats:
    """Clearness indices of equally likely days, from dark to clear. float64[days]

    The distribution is cut into strata of equal probability and each is represented by its own mean, so the
    days average to the month exactly, however few they are. No chance is involved.
    """
    power = exponent_bendt(mean)
    span = greatest_clearness_hollands_huget(mean) - LEAST_CLEARNESS
    edges = np.linspace(0.0, 1.0, days + 1)
    if abs(power * span) < _ALMOST_EVEN:
        return LEAST_CLEARNESS + span * (edges[1:] + edges[:-1]) / 2
    whole = math.expm1(power * span)
    x = np.log1p(edges * whole) / power  # quantiles
    first_moment = (x - 1 / power) * np.exp(power * x) / whole
    return np.asarray(LEAST_CLEARNESS + days * np.diff(first_moment), np.float64)


def diffuse_fraction_daily_erbs(*, clearness: Floats, sunset: Floats) -> Floats:
    """Share of a day's horizontal irradiation that is diffuse.

    Source
    ------
    Erbs, D. G., Klein, S. A. and Duffie, J. A., Estimation of the diffuse radiation fraction for hourly,
    daily and monthly-average global radiation, Solar Energy 28 (1982) 293-302; Duffie & Beckman eq. 2.11.1.
    """
    K = np.asarray(clearness, np.float64)
    winter = np.where(K < 0.715, 1 - 0.2727 * K + 2.4495 * K**2 - 11.9514 * K**3 + 9.3879 * K**4, 0.143)
    rest = np.where(K < 0.722, 1 + 0.2832 * K - 2.5557 * K**2 + 0.8448 * K**3, 0.175)
    # For K below 0.11 the cubic passes 1 by up to 0.8 %.
    return np.minimum(np.where(sunset <= math.radians(81.4), winter, rest), 1.0)


def hour_share_liu_jordan(*, hour_angle: Floats, sunset: Floats) -> Floats:
    """Share of a day's diffuse irradiation that falls within the hour about `hour_angle`. [1/h]

    Source
    ------
    Liu, B. Y. H. and Jordan, R. C., The interrelationship and characteristic distribution of direct,
    diffuse and total solar radiation, Solar Energy 4 (1960) 1-19; Duffie & Beckman eq. 2.13.4.
    """
    above = np.maximum(np.cos(hour_angle) - np.cos(sunset), 0.0)
    return np.asarray(np.pi / 24 * above / (np.sin(sunset) - sunset * np.cos(sunset)))


def hour_share_collares_pereira_rabl(*, hour_angle: Floats, sunset: Floats) -> Floats:
    """Share of a day's global irradiation that falls within the hour about `hour_angle`. [1/h]

    As published: over the whole day it adds up to one within 1 %.

    Source
    ------
    Collares-Pereira, M. and Rabl, A., The average distribution of solar radiation, Solar Energy 22 (1979)
    155-164; Duffie & Beckman eq. 2.13.2.
    """
    a, b = _collares_pereira_rabl(sunset)
    return (a + b * np.cos(hour_angle)) * hour_share_liu_jordan(hour_angle=hour_angle, sunset=sunset)


def clearness_shape(*, hour_angle: Floats, sunset: Floats) -> Floats:
    """Clearness index of the moment over that of the day.

    The shares of Collares-Pereira & Rabl and of Liu & Jordan both carry the factor cos(zenith); their ratio
    does not, so a beam formed with it needs no division by a small cosine. Scaled to give the day exactly.
    """
    a, b = _collares_pereira_rabl(sunset)
    sin, cos = np.sin(sunset), np.cos(sunset)
    whole = a + b * (sunset - sin * cos) / (2 * (sin - sunset * cos))
    return np.asarray((a + b * np.cos(hour_angle)) / whole)


def _collares_pereira_rabl(sunset: Floats) -> tuple[Floats, Floats]:
    late = np.sin(sunset - math.pi / 3)
    return 0.409 + 0.5016 * late, 0.6609 - 0.4767 * late
