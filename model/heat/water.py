"""Water in and over the pot: fits good enough for a heat balance, and cheap.

Fitted over 273.16 to 410 K to the saturation line of IAPWS-95 (Wagner and Pruss, "The
IAPWS formulation 1995", J. Phys. Chem. Ref. Data 31 (2002) 387). The exact formulas,
slower, belong to the food package.
"""

from ..compiled import inlined

_PER_60_K = 1.0 / 60.0
SPECIFIC_HEAT = 4187.9  # J kg-1 K-1; mean of 20 to 95 degC at 1 atm, IAPWS-95


@inlined
def _eighth_root_of_pressure(temperature: float) -> tuple[float, float]:
    """Eighth root of the saturation pressure and its slope; the eighth power is smooth and positive."""
    y = (temperature - 333.15) * _PER_60_K
    root = 3.4473204 + y * (1.1967495 + y * (-0.038878 + y * (-0.0142563 + y * 0.0038141)))
    slope = (1.1967495 + y * (-0.077756 + y * (-0.0427689 + y * 0.0152564))) * _PER_60_K
    return root, slope


@inlined
def saturation_pressure(temperature: float) -> float:
    """Saturation pressure, within 0.03 %. [Pa]"""
    root, _ = _eighth_root_of_pressure(temperature)
    square = root * root
    return square * square * square * square


@inlined
def saturation_slope(temperature: float) -> float:
    """Change of the saturation pressure with temperature. [Pa/K]"""
    root, slope = _eighth_root_of_pressure(temperature)
    square = root * root
    return 8.0 * square * square * square * root * slope


@inlined
def latent_heat(temperature: float) -> float:
    """Heat of vaporisation, within 0.1 %. [J/kg]"""
    y = (temperature - 333.15) * _PER_60_K
    return 2.357996e6 + y * (-1.486363e5 - y * 7.4085e3)
