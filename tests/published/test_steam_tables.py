"""Boiling against the steam tables and the standard atmosphere.

Wagner, W. and Pruss, A., J. Phys. Chem. Ref. Data 22 (1993) 783-787 and IAPWS SR1-86 (table of check values,
from memory); IAPWS R7-97 (2012), industrial formulation 1997, tables 35 and 36 (from memory); the full
equation of state IAPWS-95 as CoolProp computes it; US Standard Atmosphere 1976 as `fluids` does.
"""

import doctest
from typing import Any

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from noonhearth.model.food import (
    boiling,
    boiling_temperature,
    latent_heat,
    pressure_at_altitude,
    saturation_pressure,
)

IAPWS_86 = (
    "Wagner and Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783; IAPWS SR1-86, check values (from memory)"
)
IF97 = "IAPWS R7-97 (2012), tables 35 and 36 (from memory)"

# IAPWS SR1-86: T/K, p/Pa, and h" - h' from the printed enthalpies, J/kg
CHECK_POINTS = [
    (273.16, "611.657", 2500.5e3 - 0.611786, 0.05e3),
    (373.1243, "101325", 2675.7e3 - 419.05e3, 0.06e3),
]
INDUSTRIAL_PRESSURE = [(300.0, "0.353658941e4"), (500.0, "0.263889776e7"), (600.0, "0.123443146e8")]
INDUSTRIAL_BOILING = [(0.1e6, "372.755919"), (1e6, "453.035632"), (10e6, "584.149488")]
ALTITUDES = np.array([0.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0])


@pytest.mark.parametrize(("temperature", "pressure", "heat", "printed_to"), CHECK_POINTS)
def test_release_check_points(
    temperature: float, pressure: str, heat: float, printed_to: float, published: Any
) -> None:
    ours = saturation_pressure(temperature)
    published(IAPWS_86, f"saturation pressure at {temperature} K [Pa]", pressure, ours)
    what = f"heat of evaporation at {temperature} K [J/kg]"
    published(IAPWS_86, what, f"{heat:.6g}", latent_heat(temperature), within=printed_to)


@pytest.mark.parametrize(("temperature", "pressure"), INDUSTRIAL_PRESSURE)
def test_industrial_formulation_pressure(temperature: float, pressure: str, published: Any) -> None:
    # Two fits of the same skeleton tables: they differ by up to 0.012 %.
    ours = saturation_pressure(temperature)
    published(IF97, f"saturation pressure at {temperature:.0f} K [Pa]", pressure, ours, rel=1.5e-4)


@pytest.mark.parametrize(("pressure", "temperature"), INDUSTRIAL_BOILING)
def test_industrial_formulation_boiling(pressure: float, temperature: str, published: Any) -> None:
    ours = boiling_temperature(pressure)
    published(IF97, f"boiling at {pressure / 1e6:g} MPa [K]", temperature, ours, within=0.01)


def test_whole_line_against_the_equation_of_state() -> None:
    temperature = np.linspace(274.0, 460.0, 94)
    pressure = [coolprop.PropsSI("P", "T", t, "Q", 0, "Water") for t in temperature]
    vapour, liquid = (
        np.array([coolprop.PropsSI("H", "T", t, "Q", q, "Water") for t in temperature]) for q in (1, 0)
    )
    np.testing.assert_allclose(saturation_pressure(temperature), pressure, rtol=1e-4)
    np.testing.assert_allclose(latent_heat(temperature), vapour - liquid, rtol=2e-4)


def test_latent_heat_where_the_liquid_counts() -> None:
    """Near the critical point the liquid's density matters as much as the vapour's; no oven gets there."""
    temperature = np.linspace(500.0, 635.0, 28)
    vapour, liquid = (
        np.array([coolprop.PropsSI("H", "T", t, "Q", q, "Water") for t in temperature]) for q in (1, 0)
    )
    np.testing.assert_allclose(latent_heat(temperature), vapour - liquid, rtol=7e-4)


def test_boiling_by_altitude_against_the_equation_of_state() -> None:
    expected = [coolprop.PropsSI("T", "P", ATMOSPHERE_1976(z).P, "Q", 0, "Water") for z in ALTITUDES]
    np.testing.assert_allclose(boiling_temperature(pressure_at_altitude(ALTITUDES)), expected, atol=0.002)


def test_latent_heat_by_altitude_against_the_equation_of_state() -> None:
    temperature = boiling_temperature(pressure_at_altitude(ALTITUDES))
    heat = [
        coolprop.PropsSI("H", "T", t, "Q", 1, "Water") - coolprop.PropsSI("H", "T", t, "Q", 0, "Water")
        for t in temperature
    ]
    np.testing.assert_allclose(latent_heat(temperature), heat, rtol=2e-4)


def test_a_kelvin_less_every_three_hundred_metres() -> None:
    """The rule of thumb of camp cooks; holds within 0.07 K to 5000 m."""
    rule = boiling_temperature(101_325.0) - ALTITUDES / 300
    np.testing.assert_allclose(boiling_temperature(pressure_at_altitude(ALTITUDES)), rule, atol=0.07)


def test_boiling_off_a_tenth_of_a_kilogram(published: Any) -> None:
    """Steam tables, 100 degC: 2256.4 kJ/kg (Incropera et al., table A.6: 2257; printed to 1 kJ/kg)."""
    where = "Incropera et al., Fundamentals of Heat and Mass Transfer, table A.6"
    published(where, "heat of evaporation at 100 degC [kJ/kg]", "2257", latent_heat(373.15) / 1e3, within=0.6)


@pytest.mark.parametrize("altitude", [-400.0, 0.0, 1000.0, 2500.0, 5000.0, 8848.0, 11_000.0])
def test_standard_atmosphere(altitude: float) -> None:
    assert pressure_at_altitude(altitude) == pytest.approx(ATMOSPHERE_1976(altitude).P, rel=2e-6)


def test_standard_atmosphere_as_printed(published: Any) -> None:
    """ISO 2533:1975, table 5 by geometric height: 1000 m 898.762 hPa, 5000 m 540.483 hPa; from memory."""
    for altitude, printed in ((1000.0, "898.762"), (5000.0, "540.483")):
        ours = pressure_at_altitude(altitude) / 100
        where = "ISO 2533:1975, table 5 (from memory)"
        published(where, f"standard atmosphere at {altitude:.0f} m [hPa]", printed, ours, within=0.006)


@pytest.mark.parametrize("pressure", np.geomspace(1300.0, 1.9e7, 9))
def test_boiling_inverts_saturation(pressure: float) -> None:
    assert saturation_pressure(boiling_temperature(pressure)) == pytest.approx(pressure, rel=1e-13)


@pytest.mark.parametrize(
    ("call", "hint"),
    [
        (lambda: saturation_pressure(95.0), "95 degC"),
        (lambda: latent_heat(np.array([373.0, 100.0])), "100 degC"),
        (lambda: boiling_temperature(1013.25), "101325 Pa"),
        (lambda: boiling_temperature(float("nan")), "allowed"),
        (lambda: pressure_at_altitude(20_000.0), "allowed"),
    ],
)
def test_slips_of_unit_are_refused_with_the_remedy(call, hint: str) -> None:
    with pytest.raises(ValueError, match=hint):
        call()


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(boiling) == (0, 2)
