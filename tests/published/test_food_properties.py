"""Heat capacity, density and conductivity of foods from their composition.

Choi, Y. and Okos, M. R., in Food Engineering and Process Applications 1 (1986) 93-101, worked by hand for the
compositions of ASHRAE Refrigeration 2006, chapter 9, table 3 (USDA); measured heat capacities of Geankoplis,
Transport Processes and Separation Process Principles, 4th ed. (2003), table A.4-1; IAPWS-95 by CoolProp.
"""

import doctest
from typing import Any

import CoolProp.CoolProp as coolprop
import numpy as np
import pytest

from noonhearth.model.food import Composition, component, composition, find_food

CHOI = "Choi and Okos, Food Engineering and Process Applications 1 (1986) 93"
GEANKOPLIS = "Geankoplis, Transport Processes and Separation Process Principles, 4th ed. (2003)"

POTATO = {
    "water": 0.7896,
    "protein": 0.0207,
    "fat": 0.0010,
    "carbohydrate": 0.1638,
    "fibre": 0.0160,
    "ash": 0.0089,
}
CHICKEN = {"water": 0.7476, "protein": 0.2309, "fat": 0.0124, "ash": 0.0102}
BEEF = {"water": 0.648, "protein": 0.207, "fat": 0.134, "ash": 0.010}
MILK = {"water": 0.8769, "protein": 0.0328, "fat": 0.0366, "carbohydrate": 0.0465, "ash": 0.0072}
EGG = {"water": 0.7533, "protein": 0.1249, "fat": 0.1002, "carbohydrate": 0.0122, "ash": 0.0094}
RICE = {"water": 0.116, "protein": 0.071, "fat": 0.007, "carbohydrate": 0.787, "fibre": 0.013, "ash": 0.006}

# Sum of fraction times polynomial, worked apart from the code under test, J/(kg K) at 20 and 60 degC.
WORKED = [
    ("potato", POTATO, "3642", "3665"),
    ("chicken breast", CHICKEN, "3628", "3650"),
    ("lean beef", BEEF, "3408", "3433"),
    ("whole milk", MILK, "3885", "3903"),
    ("whole egg", EGG, "3632", "3653"),
    ("dry rice", RICE, "1922", "1975"),
]


@pytest.mark.parametrize(("name", "fractions", "cold", "hot"), WORKED, ids=[row[0] for row in WORKED])
def test_choi_okos_heat_capacity(
    name: str, fractions: dict[str, float], cold: str, hot: str, published: Any
) -> None:
    # The worked figures take the fractions as printed; the class scales their sum to one.
    printed_sum = sum(fractions.values())
    food = Composition(**fractions)
    for celsius, text in ((20, cold), (60, hot)):
        ours = food.specific_heat(celsius + 273.15) * printed_sum
        published(
            CHOI, f"heat capacity of {name}, {celsius} degC [J/(kg K)]", text, ours, within=0.6, kind="worked"
        )


def test_choi_okos_water_as_printed(published: Any) -> None:
    water = Composition(water=1.0)
    published(CHOI, "heat capacity of water, 20 degC [J/(kg K)]", "4176.6", water.specific_heat(293.15))
    published(
        CHOI, "heat capacity of water, 60 degC [J/(kg K)]", "4190.4", water.specific_heat(333.15), within=0.06
    )


@pytest.mark.parametrize("warm", [20.0, 40.0, 60.0, 80.0, 90.0])
@pytest.mark.parametrize(
    ("quantity", "key", "error"),
    # Largest errors of the fit here; Choi & Okos state 0.4, 0.5 and 0.1 % of standard error (from memory).
    [("specific_heat", "C", 0.0020), ("conductivity", "L", 0.0100), ("density", "D", 0.0030)],
)
def test_choi_okos_water_against_the_equation_of_state(
    quantity: str, key: str, error: float, warm: float
) -> None:
    true = coolprop.PropsSI(key, "T", warm + 273.15, "P", 101_325, "Water")
    assert component("water", warm + 273.15)[quantity] == pytest.approx(true, rel=error)


def test_heat_to_warm_water_against_steam_tables() -> None:
    """20 to 99 degC at one atmosphere: 330.9 kJ/kg in the steam tables."""
    temperature = np.linspace(293.15, 372.15, 80)
    capacity = [Composition(water=1.0).specific_heat(t) for t in temperature]
    enthalpy = [coolprop.PropsSI("H", "T", t, "P", 101_325, "Water") for t in (293.15, 372.15)]
    assert np.trapezoid(capacity, temperature) == pytest.approx(enthalpy[1] - enthalpy[0], rel=2e-3)
    assert enthalpy[1] - enthalpy[0] == pytest.approx(330.9e3, abs=0.1e3)


# Geankoplis, table A.4-1, mean from 0 to 100 degC: food, its composition at the printed water content (other
# parts in the proportion of USDA tables, from memory), printed kJ/(kg K). Choi & Okos claim some 5 %.
MEASURED = [
    (
        "whole milk",
        {"water": 0.875, "protein": 0.033, "fat": 0.037, "carbohydrate": 0.048, "ash": 0.007},
        3.85,
        3.85,
    ),
    (
        "skim milk",
        {"water": 0.91, "protein": 0.034, "fat": 0.001, "carbohydrate": 0.048, "ash": 0.007},
        3.98,
        4.02,
    ),
    (
        "potatoes",
        {
            "water": 0.75,
            "protein": 0.0246,
            "fat": 0.0012,
            "carbohydrate": 0.1946,
            "fibre": 0.019,
            "ash": 0.0106,
        },
        3.52,
        3.52,
    ),
    (
        "white bread",
        {"water": 0.445, "protein": 0.075, "fat": 0.03, "carbohydrate": 0.41, "fibre": 0.022, "ash": 0.018},
        2.72,
        2.85,
    ),
    (
        "carrots",
        {"water": 0.882, "protein": 0.01, "fat": 0.002, "carbohydrate": 0.067, "fibre": 0.03, "ash": 0.009},
        3.81,
        3.94,
    ),
    (
        "apples",
        {"water": 0.80, "protein": 0.002, "fat": 0.003, "carbohydrate": 0.165, "fibre": 0.027, "ash": 0.003},
        3.73,
        4.02,
    ),
    ("lean beef", {"water": 0.72, "protein": 0.21, "fat": 0.06, "ash": 0.01}, 3.43, 3.43),
]
_LINEAR = "the printed value is 837 + 3349 w (Siebel 1892), which leaves out what fat and protein hold"
_DRY = "the mixing rule is fitted to moist foods; bound water holds less"
MISSED = [
    (
        "poultry",
        {"water": 0.74, "protein": 0.22, "fat": 0.03, "ash": 0.01},
        3.31,
        3.31,
        "ours 3.63; " + _LINEAR,
    ),
    (
        "eggs",
        {"water": 0.7533, "protein": 0.1249, "fat": 0.1002, "carbohydrate": 0.0122, "ash": 0.0094},
        3.18,
        3.18,
        "ours 3.65; " + _LINEAR + ", taken for 70 % of water",
    ),
    (
        "wheat flour",
        {"water": 0.1275, "protein": 0.103, "fat": 0.01, "carbohydrate": 0.728, "fibre": 0.027, "ash": 0.005},
        1.80,
        1.88,
        "ours 2.01; " + _DRY,
    ),
    (
        "dry peas",
        {"water": 0.14, "protein": 0.235, "fat": 0.011, "carbohydrate": 0.34, "fibre": 0.248, "ash": 0.026},
        1.84,
        1.84,
        "ours 2.15; " + _DRY,
    ),
]


@pytest.mark.parametrize(
    ("name", "fractions", "low", "high"),
    [
        *[pytest.param(*row, id=row[0]) for row in MEASURED],
        *[
            pytest.param(
                *row[:4],
                id=row[0],
                marks=pytest.mark.xfail(strict=True, reason=f"published {row[2]}; {row[4]}"),
            )
            for row in MISSED
        ],
    ],
)
def test_measured_heat_capacities(
    name: str, fractions: dict[str, float], low: float, high: float, published: Any
) -> None:
    food = Composition(**fractions)
    mean = np.mean([food.specific_heat(t) for t in np.linspace(273.15, 373.15, 101)]) / 1e3
    # 5 % off either end of what is printed; of a range, the end that is nearer
    nearest = low if mean < (low + high) / 2 else high
    what = f"mean heat capacity of {name}, 0 to 100 degC [kJ/(kg K)]"
    inside = low <= mean <= high
    published(
        f"{GEANKOPLIS}, table A.4-1", what, f"{nearest:.2f}", mean, rel=0.05 + inside * (high - low) / nearest
    )


def test_olive_oil(published: Any) -> None:
    """Geankoplis, 20 degC: table A.4-1 2.01 kJ/(kg K); table A.4-2 0.168 W/(m K), from memory."""
    oil = Composition(fat=1.0)
    ours = oil.specific_heat(293.15) / 1e3
    published(f"{GEANKOPLIS}, table A.4-1", "heat capacity of olive oil, 20 degC [kJ/(kg K)]", "2.01", ours)
    where = f"{GEANKOPLIS}, table A.4-2 (from memory)"
    published(
        where, "conductivity of olive oil, 20 degC [W/(m K)]", "0.168", oil.conductivity(293.15), rel=0.05
    )


@pytest.mark.parametrize(
    ("food", "low", "high", "temperature"),
    [
        # Codex STAN 210-1999, table 2: relative density of vegetable oils 0.899 to 0.926; from memory.
        ("vegetable-oil", 0.899 * 998.2, 0.926 * 998.2, 293.15),
        # Whole milk 1030 at 20 degC, potato tuber 1070 to 1100: food handbooks, from memory; 1 % for the fit.
        ("milk", 0.99 * 1030, 1.01 * 1030, 293.15),
        ("potatoes", 0.99 * 1070, 1.01 * 1100, 293.15),
    ],
)
def test_handbook_densities(food: str, low: float, high: float, temperature: float) -> None:
    assert low <= find_food(food).composition.density(temperature) <= high


def test_potato_spreads_heat_as_measured(published: Any) -> None:
    """Geankoplis, table A.4-2: 0.554 W/(m K), from memory; diffusivity 1.3 to 1.7e-7 m2/s in handbooks."""
    potato = find_food("potatoes").composition
    where = f"{GEANKOPLIS}, table A.4-2 (from memory)"
    published(where, "conductivity of potato [W/(m K)]", "0.554", potato.conductivity(298.15), rel=0.02)
    assert 1.3e-7 <= potato.diffusivity(298.15) <= 1.7e-7


def test_bread_conducts_like_bread() -> None:
    """Crumb and dough 0.1 to 0.4 W/(m K) from 250 to 700 kg/m3: handbooks, from memory."""
    bread = find_food("bread")
    assert 250 <= bread.density <= 700
    assert 0.1 <= bread.conductivity <= 0.4


def test_pores_between_their_two_limits() -> None:
    """Eucken's law lies between layers across and along the heat flow for every porosity."""
    dough = find_food("bread").composition
    solid, air = dough.conductivity(333.15), 0.029
    for porosity in (0.1, 0.3, 0.5, 0.7, 0.9):
        across = 1 / ((1 - porosity) / solid + porosity / air)
        along = (1 - porosity) * solid + porosity * air
        assert across < dough.conductivity(333.15, porosity=porosity) < along
    # a single small pore, Maxwell: k = k0 (1 - 3 p (k0 - ka) / (2 k0 + ka))
    dilute = solid * (1 - 3e-4 * (solid - air) / (2 * solid + air))
    assert dough.conductivity(333.15, porosity=1e-4) == pytest.approx(dilute, rel=1e-7)


@pytest.mark.parametrize("fractions", [{"water": 0.5}, {"water": 1.2, "fat": -0.2}, {"water": 1.03}])
def test_fractions_that_are_no_food(fractions: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="1 in all"):
        Composition(**fractions)


def test_a_temperature_outside_the_fit() -> None:
    with pytest.raises(ValueError, match="the fit holds"):
        Composition(water=1.0).specific_heat(60.0)


def test_example_in_the_docstring() -> None:
    assert doctest.testmod(composition) == (0, 1)
