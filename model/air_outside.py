"""Air around the oven: its daily course, its moisture, and the temperature of the clear sky above it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .constants import ZERO_CELSIUS
from .described import DescriptionError

Floats = NDArray[np.float64]
Monthly = float | tuple[float, ...]

_ALLOWED = {
    "low": (180.0, 330.0, "K"),
    "high": (180.0, 335.0, "K"),
    "dew_point": (180.0, 310.0, "K"),
    "wind_speed": (0.0, 40.0, "m/s"),
}


@dataclass(frozen=True, kw_only=True)
class Air:
    """Mean daily low and high [K], dew point [K] and wind [m/s]: one number, or twelve from January on."""

    low: Monthly
    high: Monthly
    dew_point: Monthly
    wind_speed: Monthly

    def __post_init__(self) -> None:
        faults = []
        for name, (least, most, unit) in _ALLOWED.items():
            values = np.atleast_1d(np.asarray(getattr(self, name), np.float64))
            if values.shape not in ((1,), (12,)):
                faults.append(f"air.{name} has {values.size} values: give one, or twelve from January on")
            elif not ((values >= least) & (values <= most)).all():
                faults.append(
                    f"air.{name} = {getattr(self, name)} {unit}, allowed {least:g} to {most:g} {unit}"
                )
        if not faults:
            low, high, *_ = self.by_month()
            if (low > high).any():
                faults.append("air.low is above air.high: swap them, or look at that month")
        if faults:
            raise DescriptionError(faults)

    def by_month(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Low, high, dew point and wind, January first. float64[12] each"""
        fields = (self.low, self.high, self.dew_point, self.wind_speed)
        low, high, dew, wind = (np.broadcast_to(np.asarray(f, np.float64), 12) for f in fields)
        return low, high, dew, wind


def diurnal_temperature_erbs(*, low: Floats, high: Floats, hour_angle: Floats) -> Floats:
    """Air temperature in the course of the average day of a month. [K]

    The published shape has a swing of 0.98 about a mean that is not quite midway; it is stretched so that
    the given low and high are reached.

    Parameters
    ----------
    low, high : float64[...]   [K]
        Of the mean day.
    hour_angle : float64[...]   [rad]
        Of the sun, 0 at noon: the shape's hours are taken as solar.

    Source
    ------
    Erbs, D. G., Klein, S. A. and Beckman, W. A., Estimation of degree-days and ambient temperature bin data
    from monthly-average temperatures, ASHRAE Journal 25(6) (1983) 60-65. Coefficients from memory; they
    are held up by ASHRAE's tabled daily course in the tests.
    """
    clock = np.linspace(-np.pi, np.pi, 1441)
    least, most = _shape_erbs(clock).min(), _shape_erbs(clock).max()
    return np.asarray(low + (high - low) * (_shape_erbs(hour_angle) - least) / (most - least))


def _shape_erbs(hour_angle: Floats) -> Floats:
    t = hour_angle + np.pi - 2 * np.pi / 24  # the source's t* = 2 pi (t - 1)/24, t in hours after midnight
    return np.asarray(
        0.4632 * np.cos(t - 3.805)
        + 0.0984 * np.cos(2 * t - 0.360)
        + 0.0168 * np.cos(3 * t - 0.822)
        + 0.0138 * np.cos(4 * t - 3.513)
    )


def vapour_pressure_magnus(dew_point: Floats) -> Floats:
    """Vapour pressure of water at its dew point, over water. [Pa]

    Source: World Meteorological Organization, Guide to Meteorological Instruments and Methods of Observation
    (WMO-No. 8, 2008), annex 4.B; -45 to 60 degC.
    """
    celsius = dew_point - ZERO_CELSIUS
    return np.asarray(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))


def dew_point_magnus(*, air_temperature: Floats, relative_humidity: Floats) -> Floats:
    """Dew point of air at a relative humidity between 0 (excluded) and 1. [K]

    Source: as `vapour_pressure_magnus`, solved for the temperature.
    """
    log = np.log(relative_humidity * vapour_pressure_magnus(air_temperature) / 611.2)
    return np.asarray(ZERO_CELSIUS + 243.12 * log / (17.62 - log))


def dew_below(dew_point: Floats, air_temperature: Floats) -> Floats:
    """Dew point that the air can hold: where the night is colder than it, dew has fallen. [K]"""
    return np.minimum(dew_point, air_temperature)


def sky_emittance_berdahl_martin(
    *, dew_point: Floats, hour_angle: Floats | float, pressure: Floats | float
) -> Floats:
    """Emittance of the clear sky, as a black body of the air's temperature would be 1.

    Fitted between dew points of -20 and 30 degC.

    Parameters
    ----------
    dew_point : float64[...]   [K]
    hour_angle : float64[...]   [rad]
        Of the sun, 0 at noon.
    pressure : float64[...]   [Pa]

    Source
    ------
    Berdahl, P. and Martin, M., Emissivity of clear skies, Solar Energy 32 (1984) 663-664; the square is that
    of (dew point in degC)/100.
    """
    dew = (dew_point - ZERO_CELSIUS) / 100
    hourly = -0.013 * np.cos(hour_angle)  # cos(2 pi t/24) with t from midnight is -cos(hour angle)
    emittance = 0.711 + 0.56 * dew + 0.73 * dew**2 + hourly + 0.00012 * (np.asarray(pressure) / 100 - 1000)
    return np.asarray(np.minimum(emittance, 1.0))


def sky_emittance_unsworth_monteith(*, clear: Floats, cloud: Floats) -> Floats:
    """Emittance of a sky of which the share `cloud` is covered, from that of the clear sky.

    Source
    ------
    Unsworth, M. H. and Monteith, J. L., Long-wave radiation at the ground, Quarterly Journal of the Royal
    Meteorological Society 101 (1975) 13-24. From memory.
    """
    return np.asarray((1 - 0.84 * cloud) * clear + 0.84 * cloud)


def sky_temperature_berdahl_martin(
    *, air_temperature: Floats, dew_point: Floats, hour_angle: Floats | float, pressure: Floats | float
) -> Floats:
    """Black-body temperature of the clear sky. [K]

    Used under cloud as well, it makes the sky too cold by up to some 15 K: the losses of dark days are
    overstated, on which little is cooked. Parameters and source as `sky_emittance_berdahl_martin`.
    """
    emittance = sky_emittance_berdahl_martin(dew_point=dew_point, hour_angle=hour_angle, pressure=pressure)
    return np.asarray(emittance**0.25 * air_temperature)


def sky_temperature_swinbank(air_temperature: Floats) -> Floats:
    """Black-body temperature of the clear sky from the air's alone, for dry places without a dew point. [K]

    Source: Swinbank, W. C., Long-wave radiation from clear skies, Quarterly Journal of the Royal
    Meteorological Society 89 (1963) 339-348.
    """
    return np.asarray(0.0552 * np.asarray(air_temperature) ** 1.5)
