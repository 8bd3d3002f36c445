"""Air and saturated water as the heat balance sees them, against real-fluid equations of state.

CoolProp (Bell, Wronski, Quoilin and Lemort, Ind. Eng. Chem. Res. 53 (2014) 2498) carries the
equations of Lemmon et al. (2000, 2004) for air and IAPWS-95 for water.
"""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from noonhearth.model.heat import air, water

RANGE = np.linspace(250.0, 550.0, 61)
SATURATED = np.linspace(273.16, 410.0, 69)


@pytest.mark.parametrize("pressure", [101325.0, 60e3])
@pytest.mark.parametrize(
    ("ours", "symbol", "tolerance"),
    [
        (lambda t, p: air.conductivity(t), "L", 2e-3),
        (lambda t, p: air.viscosity(t), "V", 1e-3),
        (lambda t, p: air.specific_heat(t), "C", 2e-3),
        (air.density, "D", 1.2e-3),
        (lambda t, p: air.prandtl(t), "PRANDTL", 3e-3),
    ],
)
def test_air(ours, symbol, tolerance, pressure):
    """Each property within a few tenths of a percent, at sea level and at 4200 m."""
    found = np.array([ours(t, pressure) for t in RANGE])
    exact = np.array([PropsSI(symbol, "T", t, "P", pressure, "Air") for t in RANGE])
    assert np.abs(found / exact - 1).max() < tolerance


def test_air_at_standard_pressure_is_a_tighter_fit():
    """The fits themselves: 0.03 %."""
    for ours, symbol in ((air.conductivity, "L"), (air.viscosity, "V"), (air.specific_heat, "C")):
        exact = [PropsSI(symbol, "T", t, "P", 101325.0, "Air") for t in RANGE]
        assert np.abs(np.array([ours(t) for t in RANGE]) / exact - 1).max() < 3e-4


def test_buoyancy_is_put_together_from_the_same_properties():
    """g beta / (nu alpha), with the expansion of the real gas too."""
    for t in RANGE:
        together = 9.80665 / t / (air.kinematic_viscosity(t, 9e4) * air.diffusivity(t, 9e4))
        assert air.buoyancy(t, 9e4) == pytest.approx(together, rel=1e-12)
        expansion, rho, cp, mu, k = (
            PropsSI(s, "T", t, "P", 9e4, "Air")
            for s in ("ISOBARIC_EXPANSION_COEFFICIENT", "D", "C", "V", "L")
        )
        assert air.buoyancy(t, 9e4) == pytest.approx(9.80665 * expansion * rho**2 * cp / (mu * k), rel=8e-3)


def test_prandtl_number_held_constant():
    """0.70 stands for 0.698 to 0.715."""
    exact = np.array([PropsSI("PRANDTL", "T", t, "P", 101325.0, "Air") for t in RANGE])
    assert np.abs(exact / air.PRANDTL - 1).max() < 0.022


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    [(20, "2339.3"), (40, "7384.9"), (60, "19946"), (80, "47415"), (90, "70182"), (100, "101418")],
)
def test_saturation_pressure(celsius, pascal):
    """IAPWS-95 at round temperatures, within the 0.03 % of the fit."""
    assert water.saturation_pressure(celsius + 273.15) == pytest.approx(float(pascal), rel=3e-4)


def test_saturation_line():
    """Pressure, its slope and the heat of vaporisation from the triple point to 410 K."""
    for t in SATURATED:
        pressure = PropsSI("P", "T", t, "Q", 0, "Water")
        slope = PropsSI("d(P)/d(T)|sigma", "T", t, "Q", 0, "Water")
        latent = PropsSI("H", "T", t, "Q", 1, "Water") - PropsSI("H", "T", t, "Q", 0, "Water")
        assert water.saturation_pressure(t) == pytest.approx(pressure, rel=3e-4)
        assert water.saturation_slope(t) == pytest.approx(slope, rel=4e-3)
        assert water.latent_heat(t) == pytest.approx(latent, rel=1e-3)


def test_liquid_specific_heat_is_the_mean_of_a_meal():
    """Enthalpy from 20 to 95 degC at one atmosphere, per kelvin."""
    hot, cold = (PropsSI("H", "T", t, "P", 101325.0, "Water") for t in (368.15, 293.15))
    assert pytest.approx((hot - cold) / 75.0, rel=1e-4) == water.SPECIFIC_HEAT
