"""Where water boils, and what it costs: saturation line of water, and the standard atmosphere.

The saturation line follows the international supplementary equations, explicit in temperature; boiling
temperature is their inverse by Newton steps. Everything here takes a float or an array and gives the same.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..constants import STANDARD_GRAVITY, STANDARD_PRESSURE

Real = TypeVar("Real", float, NDArray[np.float64])

CRITICAL_TEMPERATURE = 647.096  # K; Wagner & Pruss (1993), section 2
CRITICAL_PRESSURE = 22.064e6  # Pa; the same
CRITICAL_DENSITY = 322.0  # kg m-3; the same
TRIPLE_TEMPERATURE = 273.16  # K; the same; lower end of all equations

_PRESSURE = (  # Wagner & Pruss (1993), Eq. 1: coefficient, power of tau
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
_LIQUID = (  # Eq. 2
    (1.99274064, 1 / 3),
    (1.09965342, 2 / 3),
    (-0.510839303, 5 / 3),
    (-1.75493479, 16 / 3),
    (-45.5170352, 43 / 3),
    (-6.74694450e5, 110 / 3),
)
_VAPOUR = (  # Eq. 3
    (-2.03150240, 2 / 6),
    (-2.68302940, 4 / 6),
    (-5.38626492, 8 / 6),
    (-17.2991605, 18 / 6),
    (-44.7586581, 37 / 6),
    (-63.9201063, 71 / 6),
)

_MOLAR_GAS_CONSTANT_1976 = 8.31432  # J mol-1 K-1; the value the 1976 atmosphere was computed with
_MOLAR_MASS_AIR = 0.0289644  # kg mol-1; US Standard Atmosphere 1976, table 3
_SEA_LEVEL_TEMPERATURE = 288.15  # K; the same, table 2
_LAPSE_RATE = 0.0065  # K m-1; the same, table 4
_EARTH_RADIUS = 6_356_766.0  # m; the same, Eq. 18
LOWEST_ALTITUDE, HIGHEST_ALTITUDE = -1000.0, 11_000.0  # m; below the Dead Sea to the top of the first layer


def saturation_pressure(temperature: Real) -> Real:
    """Pressure at which water boils at `temperature`. [Pa]

    Within 0.02 % of the full equation of state, triple point to critical point.

    Parameters
    ----------
    temperature : float or array   [K]
        273.16 to 647.096.

    Raises
    ------
    ValueError
        Outside that range.

    Source
    ------
    Wagner & Pruss, International equations for the saturation properties of ordinary water substance,
    J. Phys. Chem. Ref. Data 22:783 (1993), Eq. 1 (IAPWS supplementary release SR1-86).

    Examples
    --------
    The release's check point of 373.1243 K.

    >>> round(float(saturation_pressure(373.1243)) / 1e6, 6)
    0.101325
    """
    _refuse_outside(temperature, TRIPLE_TEMPERATURE, CRITICAL_TEMPERATURE, "temperature", "K")
    log_pressure, _ = _log_pressure_and_slope(temperature)
    pressure: Real = CRITICAL_PRESSURE * np.exp(log_pressure)
    return pressure


def latent_heat(temperature: Real) -> Real:
    """Heat that turns a kilogram of boiling water into steam. [J kg-1]

    Clapeyron's equation on the saturation line: T (dp/dT) (1/rho" - 1/rho').

    Parameters
    ----------
    temperature : float or array   [K]
        273.16 to 647.096.

    Raises
    ------
    ValueError
        Outside that range.

    Source
    ------
    Wagner & Pruss (1993), as `saturation_pressure`, Eqs. 1-3.
    """
    _refuse_outside(temperature, TRIPLE_TEMPERATURE, CRITICAL_TEMPERATURE, "temperature", "K")
    tau = 1 - temperature / CRITICAL_TEMPERATURE
    liquid = CRITICAL_DENSITY * (1 + sum(b * tau**power for b, power in _LIQUID))
    vapour = CRITICAL_DENSITY * np.exp(sum(c * tau**power for c, power in _VAPOUR))
    log_pressure, slope = _log_pressure_and_slope(temperature)
    heat: Real = temperature * slope * CRITICAL_PRESSURE * np.exp(log_pressure) * (1 / vapour - 1 / liquid)
    return heat


def boiling_temperature(pressure: Real) -> Real:
    """Temperature at which water boils under `pressure`. [K]

    Parameters
    ----------
    pressure : float or array   [Pa]
        1200 to 2.0e7; the floor lies above any air pressure written in hPa, so that slip is refused.

    Raises
    ------
    ValueError
        Outside that range.

    Source
    ------
    Inverse of `saturation_pressure` by Newton steps in ln p against 1/T, which is nearly a straight line:
    five steps reach rounding from any start used here.

    Examples
    --------
    >>> round(float(boiling_temperature(101_325.0)), 4)
    373.1243
    """
    _refuse_outside(pressure, 1200.0, 2.0e7, "pressure", "Pa")
    wanted = np.log(pressure / CRITICAL_PRESSURE)
    inverse = (1 - wanted / 7.5) / CRITICAL_TEMPERATURE  # 7.5: mean slope of ln p over Tc/T on the line
    for _ in range(6):
        temperature = 1 / inverse
        log_pressure, slope = _log_pressure_and_slope(temperature)
        inverse = inverse + (log_pressure - wanted) / (slope * temperature**2)
    boiling: Real = 1 / inverse
    return boiling


def pressure_at_altitude(altitude: Real) -> Real:
    """Air pressure of the standard atmosphere. [Pa]

    The weather moves the true pressure by some 2 %, the boiling point by some 0.5 K.

    Parameters
    ----------
    altitude : float or array   [m]
        Geometric height above the sea, -1000 to 11 000.

    Raises
    ------
    ValueError
        Outside that range.

    Source
    ------
    US Standard Atmosphere 1976 (NOAA-S/T 76-1562), Eqs. 18 and 33a; ISO 2533:1975 is the same there.
    """
    _refuse_outside(altitude, LOWEST_ALTITUDE, HIGHEST_ALTITUDE, "altitude", "m")
    geopotential = _EARTH_RADIUS * altitude / (_EARTH_RADIUS + altitude)
    ratio = 1 - _LAPSE_RATE * geopotential / _SEA_LEVEL_TEMPERATURE
    exponent = STANDARD_GRAVITY * _MOLAR_MASS_AIR / (_MOLAR_GAS_CONSTANT_1976 * _LAPSE_RATE)
    pressure: Real = STANDARD_PRESSURE * ratio**exponent
    return pressure


def _log_pressure_and_slope(temperature: Real) -> tuple[Real, Real]:
    """ln(p / pc) and d(ln p)/dT of Eq. 1 and its derivative. [1], [K-1]"""
    # Newton may overshoot past the critical point, where the powers of a negative tau are not real
    tau = np.maximum(1 - temperature / CRITICAL_TEMPERATURE, 0.0)
    total = sum(a * tau**power for a, power in _PRESSURE)
    steepness = sum(a * power * tau ** (power - 1) for a, power in _PRESSURE)
    log_pressure = CRITICAL_TEMPERATURE / temperature * total
    return log_pressure, -(log_pressure + steepness) / temperature


def _refuse_outside(value: Real, low: float, high: float, name: str, unit: str) -> None:
    """Raise, with the range and the first offender, unless all of `value` lies within it."""
    values = np.atleast_1d(np.asarray(value, dtype=np.float64))
    bad = ~((values >= low) & (values <= high))
    if bad.any():
        first = float(values[bad].flat[0])
        raise ValueError(f"{name} = {first:g} {unit}: allowed {low:g} to {high:g} {unit}{_hint(name, first)}")


def _hint(name: str, value: float) -> str:
    if name == "temperature" and 0 <= value <= 200:
        return f"; did you mean {value:g} degC = {value + 273.15:g} K?"
    if name == "pressure" and 300 <= value <= 1100:
        return f"; did you mean {value:g} hPa = {100 * value:g} Pa?"
    return ""
