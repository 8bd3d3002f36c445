"""Dry air at oven temperatures: what natural convection asks of it.

Polynomials in T / 300 K, fitted over 250 to 550 K at 101 325 Pa to the real-fluid
values of the sources below, each within 0.03 %. Conductivity, viscosity and specific
heat are taken as independent of pressure (within 0.1 % from sea level to 5000 m).

Source
------
Lemmon, Jacobsen, Penoncello and Friend, "Thermodynamic properties of air and mixtures
of nitrogen, argon, and oxygen", J. Phys. Chem. Ref. Data 29 (2000) 331.
Lemmon and Jacobsen, "Viscosity and thermal conductivity equations for nitrogen, oxygen,
argon, and air", Int. J. Thermophysics 25 (2004) 21.
"""

from ..compiled import inlined
from ..constants import STANDARD_GRAVITY

GAS_CONSTANT = 287.053  # J kg-1 K-1; dry air, ISO 2533:1975
PER_GAS_CONSTANT = 1.0 / GAS_CONSTANT
PER_300_K = 1.0 / 300.0
PRANDTL = 0.70  # 0.698 to 0.715 over 250 to 550 K: moves a Nusselt number by 0.3 % at most


@inlined
def conductivity(temperature: float) -> float:
    """Thermal conductivity. [W/(m K)]"""
    x = temperature * PER_300_K - 1.0
    return 2.63845e-2 * (0.99994 + x * (0.84462 + x * (-0.13267 + x * 0.03311)))


@inlined
def viscosity(temperature: float) -> float:
    """Dynamic viscosity. [Pa s]"""
    x = temperature * PER_300_K - 1.0
    return 1.85373e-5 * (0.99993 + x * (0.78002 + x * (-0.15841 + x * 0.03969)))


@inlined
def specific_heat(temperature: float) -> float:
    """Specific heat at constant pressure. [J/(kg K)]"""
    x = temperature * PER_300_K - 1.0
    return 1006.374 * (0.99994 + x * (0.01074 + x * (0.03998 - x * 0.00535)))


@inlined
def density(temperature: float, pressure: float) -> float:
    """Density of an ideal gas (the real one differs by 0.1 % at most). [kg/m3]"""
    return pressure / (GAS_CONSTANT * temperature)


@inlined
def kinematic_viscosity(temperature: float, pressure: float) -> float:
    """Kinematic viscosity. [m2/s]"""
    return viscosity(temperature) / density(temperature, pressure)


@inlined
def diffusivity(temperature: float, pressure: float) -> float:
    """Thermal diffusivity. [m2/s]"""
    return conductivity(temperature) / (density(temperature, pressure) * specific_heat(temperature))


@inlined
def prandtl(temperature: float) -> float:
    """Prandtl number. [1]"""
    return specific_heat(temperature) * viscosity(temperature) / conductivity(temperature)


@inlined
def buoyancy(temperature: float, pressure: float) -> float:
    """Rayleigh number per kelvin and cubic metre, g beta / (nu alpha). [1/(K m3)]

    Written out with the ideal gas (beta = 1 / T), so that it costs one division.
    """
    specific_weight = pressure * PER_GAS_CONSTANT
    above = STANDARD_GRAVITY * specific_weight * specific_weight * specific_heat(temperature)
    cubed = temperature * temperature * temperature
    return above / (cubed * viscosity(temperature) * conductivity(temperature))
