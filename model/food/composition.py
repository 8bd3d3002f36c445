"""Heat capacity, density and conductivity of a food from what it is made of.

Polynomials in degC for the six components, fitted from -40 to 150 degC (water from 0), and mixed by mass
(heat capacity) or by volume (density, conductivity in parallel); air in pores after Eucken.
"""

import math
from dataclasses import dataclass, fields
from typing import Any

from ..constants import ZERO_CELSIUS

# Choi & Okos, Effects of temperature and composition on the thermal properties of foods, in Food Engineering
# and Process Applications 1 (1986), 93-101; reprinted in ASHRAE Refrigeration 2006, chapter 9, tables 1, 2;
# and Ibarz & Barbosa-Canovas, Unit Operations in Food Engineering (2003). ASHRAE prints 4.1289 for the first
# coefficient of water's heat capacity: 1.1 % low at 20 degC, a misprint of the 4.1762 that Ibarz prints.
_HEAT_CAPACITY = {  # J kg-1 K-1
    "water": (4176.2, -9.0864e-2, 5.4731e-3),
    "protein": (2008.2, 1.2089, -1.3129e-3),
    "fat": (1984.2, 1.4733, -4.8008e-3),
    "carbohydrate": (1548.8, 1.9625, -5.9399e-3),
    "fibre": (1845.9, 1.8306, -4.6509e-3),
    "ash": (1092.6, 1.8896, -3.6817e-3),
}
_CONDUCTIVITY = {  # W m-1 K-1
    "water": (0.57109, 1.7625e-3, -6.7036e-6),
    "protein": (0.17881, 1.1958e-3, -2.7178e-6),
    "fat": (0.18071, -2.7604e-4, -1.7749e-7),
    "carbohydrate": (0.20141, 1.3874e-3, -4.3312e-6),
    "fibre": (0.18331, 1.2497e-3, -3.1683e-6),
    "ash": (0.32962, 1.4011e-3, -2.9069e-6),
}
_DENSITY = {  # kg m-3
    "water": (997.18, 3.1439e-3, -3.7574e-3),
    "protein": (1329.9, -0.51840, 0.0),
    "fat": (925.59, -0.41757, 0.0),
    "carbohydrate": (1599.1, -0.31046, 0.0),
    "fibre": (1311.5, -0.36589, 0.0),
    "ash": (2423.8, -0.28063, 0.0),
}
LOWEST, HIGHEST = 273.15, 423.15  # K; range of the fit that holds for all six
_AIR_CONDUCTIVITY = 0.029  # W m-1 K-1; dry air at 335 K, Incropera et al., table A.4


@dataclass(frozen=True, kw_only=True)
class Composition:
    """Mass fractions of a food; their sum is 1 within the rounding of food tables.

    Carbohydrate is without fibre. Tables round each fraction, so 0.98 to 1.02 is accepted and scaled to 1.
    """

    water: float = 0.0
    protein: float = 0.0
    fat: float = 0.0
    carbohydrate: float = 0.0
    fibre: float = 0.0
    ash: float = 0.0

    def __post_init__(self) -> None:
        total = sum(self.fractions.values())
        if min(self.fractions.values()) < 0 or not 0.98 <= total <= 1.02:
            raise ValueError(f"composition {self.fractions} sums to {total:g}: 0 or more each, 1 in all")
        for name, fraction in self.fractions.items():
            object.__setattr__(self, name, fraction / total)

    @property
    def fractions(self) -> dict[str, float]:
        """Component -> mass fraction."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def specific_heat(self, temperature: float) -> float:
        """Heat capacity of the food. [J kg-1 K-1]

        Source
        ------
        Choi & Okos (1986), mass-weighted sum.

        Examples
        --------
        >>> round(Composition(water=1.0).specific_heat(293.15), 1)
        4176.6
        """
        return sum(x * _at(_HEAT_CAPACITY[name], temperature) for name, x in self.fractions.items())

    def dry_heat_capacity(self, temperature: float) -> float:
        """Share of the heat capacity that is not water's, per kilogram of the whole food. [J kg-1 K-1]"""
        return self.specific_heat(temperature) - self.water * _at(_HEAT_CAPACITY["water"], temperature)

    def density(self, temperature: float, *, porosity: float = 0.0) -> float:
        """Density, pores included. [kg m-3]

        Source
        ------
        Choi & Okos (1986), volumes added; ASHRAE Refrigeration 2006, chapter 9, Eq. 6, for the pores.
        """
        return (1 - porosity) / sum(self._volumes(temperature).values())

    def conductivity(self, temperature: float, *, porosity: float = 0.0) -> float:
        """Conductivity, air in the pores included. [W m-1 K-1]

        Source
        ------
        Choi & Okos (1986), parallel model on volume fractions. Pores: Eucken, Forschung 11:6 (1940), small
        round pores in a whole, as ASHRAE Refrigeration 2006, chapter 9.
        """
        volumes = self._volumes(temperature)
        whole = sum(volumes.values())
        k = sum(v / whole * _at(_CONDUCTIVITY[name], temperature) for name, v in volumes.items())
        a = 3 * k / (2 * k + _AIR_CONDUCTIVITY)
        return k * (1 - (1 - a * _AIR_CONDUCTIVITY / k) * porosity) / (1 + (a - 1) * porosity)

    def diffusivity(self, temperature: float, *, porosity: float = 0.0) -> float:
        """How fast warmth spreads: k / (rho c). [m2 s-1]"""
        return self.conductivity(temperature, porosity=porosity) / (
            self.density(temperature, porosity=porosity) * self.specific_heat(temperature)
        )

    def _volumes(self, temperature: float) -> dict[str, float]:
        """Volume of each component per kilogram of food. [m3 kg-1]"""
        return {name: x / _at(_DENSITY[name], temperature) for name, x in self.fractions.items()}


def component(name: str, temperature: float) -> dict[str, float]:
    """Heat capacity, conductivity and density of one pure component. [J kg-1 K-1, W m-1 K-1, kg m-3]"""
    tables: dict[str, dict[str, Any]] = {
        "specific_heat": _HEAT_CAPACITY,
        "conductivity": _CONDUCTIVITY,
        "density": _DENSITY,
    }
    return {quantity: _at(table[name], temperature) for quantity, table in tables.items()}


def _at(coefficients: tuple[float, float, float], temperature: float) -> float:
    """A component's polynomial at a temperature in kelvin, inside the range of the fit."""
    if not LOWEST <= temperature <= HIGHEST or math.isnan(temperature):
        raise ValueError(f"temperature = {temperature:g} K: the fit holds from {LOWEST:g} to {HIGHEST:g} K")
    t = temperature - ZERO_CELSIUS
    a, b, c = coefficients
    return a + b * t + c * t * t
