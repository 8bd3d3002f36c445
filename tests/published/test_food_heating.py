"""Heat doses against published time and temperature pairs and against closed forms.

UK Food Standards Agency, cooking your food: 60 degC 45 min, 65 degC 10 min, 70 degC 2 min, 75 degC 30 s,
80 degC 6 s; US Pasteurized Milk Ordinance: 63 degC 30 min, 72 degC 15 s; Stumbo, C. R., Thermobacteriology in
Food Processing, 2nd ed. (1973), table of lethal rates, z = 18 degF, 250 degF (from memory).
"""

import math
from typing import Any

import numpy as np
import pytest

from noonhearth.model.food import (
    BandTime,
    HeatNeed,
    cook_value,
    find_food,
    first_time,
    lethality,
    load_foods,
    time_between,
    time_to,
)

PMO = "US Pasteurized Milk Ordinance"
STUMBO = "Stumbo, Thermobacteriology in Food Processing, 2nd ed. (1973), lethal rates (from memory)"
STEP = 60.0
COOKED, MILK, WATER = (find_food(name).kill for name in ("stew", "milk", "water"))
FSA_ROW = [(60.0, 2700.0), (65.0, 600.0), (70.0, 120.0), (75.0, 30.0), (80.0, 6.0)]


def held(celsius: float, seconds: float, moments: int = 121) -> tuple[np.ndarray, float]:
    return np.full(moments, celsius + 273.15), seconds / (moments - 1)


def rule(need: HeatNeed | None) -> HeatNeed:
    assert need is not None
    return need


@pytest.mark.parametrize(("celsius", "seconds"), FSA_ROW)
def test_food_agency_row_is_one_dose(celsius: float, seconds: float) -> None:
    """The agency rounds every time up to a round one, by 4 to 16 %: z = 7.5 K goes through the row."""
    history, step = held(celsius, seconds)
    dose = time_to(history, step=step, need=rule(COOKED)).total
    assert (1.0 if celsius == 70.0 else 1.04) * 119.999 <= dose <= 1.165 * 120


@pytest.mark.parametrize(("celsius", "seconds"), [(63.0, 1800.0), (72.0, 15.0)])
def test_milk_ordinance(celsius: float, seconds: float, published: Any) -> None:
    history, step = held(celsius, seconds)
    dose = time_to(history, step=step, need=rule(MILK)).total
    what = f"dose of {seconds:.0f} s at {celsius:.0f} degC, as time at 63 degC [s]"
    published(PMO, what, "1800", dose, rel=0.005)


def test_water_held_six_minutes_and_not_five() -> None:
    for seconds, safe in ((361.0, True), (300.0, False)):
        history, step = held(65.0, seconds)
        assert time_to(history, step=step, need=rule(WATER)).reached == safe
    history, step = held(64.9, 7200.0)
    assert time_to(history, step=step, need=rule(WATER)).total == 0


@pytest.mark.parametrize(
    ("fahrenheit", "rate"), [(230, "0.077"), (240, "0.278"), (245, "0.527"), (248, "0.774")]
)
def test_lethal_rates_of_stumbo(fahrenheit: float, rate: str, published: Any) -> None:
    kelvin = np.full(2, (fahrenheit - 32) / 1.8 + 273.15)
    reference = (250 - 32) / 1.8 + 273.15
    dose = lethality(kelvin, step=1.0, z=10.0, reference=reference)[-1]
    published(STUMBO, f"lethal rate at {fahrenheit} degF, z = 18 degF [1]", rate, dose, within=0.0006)


def test_an_hour_at_boiling_is_an_hour() -> None:
    history, step = held(100.0, 3600.0)
    assert cook_value(history, step=step)[-1] == pytest.approx(3600, rel=1e-12)


def test_at_88_degrees_the_meal_takes_longer_by_the_closed_form() -> None:
    """10 ** (12 / 33) = 2.31 times as long as at 100 degC."""
    history, step = held(88.0, 36_000.0, 601)
    need = HeatNeed(seconds=1500.0, z=33.0, reference=373.15, least_temperature=0.0, source="closed form")
    assert time_to(history, step=step, need=need).time == pytest.approx(1500 * 10 ** (12 / 33), rel=1e-12)
    assert cook_value(history, step=step)[-1] == pytest.approx(36_000 / 10 ** (12 / 33), rel=1e-12)
    assert {food.cook.z for food in load_foods().values() if food.cook} == {33.0}


@pytest.mark.parametrize("step", [1.0, 60.0, 600.0, 3600.0])
def test_linear_ramp_whatever_the_step(step: float) -> None:
    """Dose of T = 293.15 + r t: z / (r ln 10) (L(end) - L(start)), exact at any step."""
    rate = 80.0 / 7200.0
    time = np.arange(0.0, 7200.0 + step / 2, step)
    dose = lethality(293.15 + rate * time, step=step, z=7.5, reference=343.15)
    first, last = 10 ** ((293.15 - 343.15) / 7.5), 10 ** ((293.15 + rate * time - 343.15) / 7.5)
    np.testing.assert_allclose(dose, 7.5 / (rate * math.log(10)) * (last - first), rtol=1e-12, atol=1e-18)


def test_ramp_counted_only_above_the_least_temperature() -> None:
    rate = 80.0 / 7200.0
    history = 293.15 + rate * np.arange(0.0, 7201.0, 600.0)  # crosses 60 degC exactly at 3600 s
    dose = lethality(history, step=600.0, z=7.5, reference=343.15, least_temperature=334.0)
    expected = 7.5 / (rate * math.log(10)) * (10 ** (30.0 / 7.5) - 10 ** ((334.0 - 343.15) / 7.5))
    assert dose[-1] == pytest.approx(expected, rel=1e-12)
    assert (dose[:7] == 0).all()


def test_time_to_a_dose_on_a_ramp() -> None:
    """t = (z / (r ln 10)) ln(1 + D r ln 10 / (z L0)), to rounding, at a step of ten minutes."""
    rate, required = 80.0 / 7200.0, 120.0
    history = 293.15 + rate * np.arange(0.0, 7201.0, 600.0)
    need = HeatNeed(seconds=required, z=7.5, reference=343.15, least_temperature=0.0, source="closed form")
    k = rate * math.log(10) / 7.5
    expected = math.log1p(required * k / 10 ** ((293.15 - 343.15) / 7.5)) / k
    assert time_to(history, step=600.0, need=need).time == pytest.approx(expected, rel=1e-12)


def test_ramp_down_gives_the_same_dose_as_up() -> None:
    up = np.linspace(300.0, 370.0, 30)
    doses = [lethality(h, step=STEP, z=7.5, reference=343.15)[-1] for h in (up, up[::-1])]
    assert doses[0] == pytest.approx(doses[1], rel=1e-13)


def test_bigelow_sum_is_the_limit_of_short_steps() -> None:
    """The general method of 1920, rates read off a curve and summed; ours closes in with the step squared."""

    def curve(t: np.ndarray) -> np.ndarray:
        return 293.15 + 75.0 * (1 - np.exp(-t / 2700.0)) - 8.0 * np.sin(t / 900.0)

    fine = np.linspace(0.0, 10_800.0, 400_001)
    summed = np.trapezoid(10 ** ((curve(fine) - 343.15) / 7.5), fine)
    errors = [
        lethality(curve(np.arange(0.0, 10_801.0, step)), step=step, z=7.5, reference=343.15)[-1] / summed - 1
        for step in (120.0, 60.0)
    ]
    assert abs(errors[1]) < 1e-3
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.02)


def test_a_dose_that_is_just_enough_at_the_last_moment() -> None:
    need = HeatNeed(seconds=120.0, z=7.5, reference=343.15, least_temperature=333.15, source="closed form")
    found = time_to(np.full(3, 343.15), step=60.0, need=need)
    assert found.reached
    assert found.time == 120.0


def test_never_is_nan_and_false() -> None:
    result = time_to(np.full((2, 3, 10), 300.0), step=STEP, need=rule(COOKED))
    assert np.isnan(result.time).all()
    assert not result.reached.any()
    assert result.time.shape == result.reached.shape == result.total.shape == (2, 3)


def test_first_time_by_a_parabola_inside_the_step() -> None:
    """280, 290, 310 lie on a parabola: 290 + 15 x + 5 x^2 = 300 at x = (sqrt(17) - 3) / 2."""
    history = np.array(
        [[280.0, 290.0, 310.0], [350.0, 340.0, 330.0], [280.0, 281.0, 282.0], [0.0, 300.0, 0.0]]
    )
    found = first_time(history, step=STEP, required=300.0)
    np.testing.assert_allclose(found.time, [60.0 + 30.0 * (math.sqrt(17.0) - 3.0), 0.0, np.nan, 60.0])
    np.testing.assert_array_equal(found.reached, [True, True, False, True])


def test_time_in_the_danger_zone_in_closed_form() -> None:
    """Up from 0 to 100 degC in 100 min and down in 200: 55 and 110 min between 5 and 60 degC."""
    history = 273.15 + np.concatenate([np.linspace(0, 100, 11), np.linspace(100, 0, 21)[1:]])
    found = time_between(history, step=600.0)
    assert found.warming == pytest.approx(55 * 60)
    assert found.cooling == pytest.approx(110 * 60)
    assert found.total == pytest.approx(165 * 60)


@pytest.mark.parametrize("celsius", [5.0, 30.0, 60.0])
def test_food_that_stands_in_the_zone(celsius: float) -> None:
    history, step = held(celsius, 7200.0)
    assert time_between(history, step=step).total == pytest.approx(7200)


def test_food_that_jumps_over_the_zone() -> None:
    assert time_between(np.array([270.0, 370.0]), step=60.0) == BandTime(
        pytest.approx(60.0 * 55 / 100), pytest.approx(0.0)
    )


def test_foods_without_a_rule_of_their_own_have_the_agency_rule() -> None:
    """Only oil needs no killing; poultry must also touch the 165 degF of the US food-safety service."""
    foods = load_foods()
    assert [name for name, food in foods.items() if food.kill is None] == ["vegetable-oil"]
    assert foods["chicken"].safe_peak == pytest.approx((165 - 32) / 1.8 + 273.15, abs=0.06)
    assert foods["stew"].safe_peak == pytest.approx((160 - 32) / 1.8 + 273.15, abs=0.06)
    assert foods["fish"].safe_peak == pytest.approx((145 - 32) / 1.8 + 273.15, abs=0.06)


def test_beans_held_at_80_degrees_never_become_safe() -> None:
    """Bender & Reaidi (1982, from memory): near 80 degC the lectin grows stronger. FDA: boil 30 min."""
    need = rule(find_food("beans").kill)
    history, step = held(80.0, 36_000.0)
    assert time_to(history, step=step, need=need).total == 0
    history, step = held(100.0, 1801.0)
    assert time_to(history, step=step, need=need).reached


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"seconds": 0.0}, "seconds"),
        ({"z": math.inf}, "z ="),
        ({"least_temperature": 400.0}, "least_temperature"),
    ],
)
def test_needs_that_mean_nothing_are_refused(change: dict[str, float], message: str) -> None:
    good = {"seconds": 120.0, "z": 7.5, "reference": 343.15, "least_temperature": 333.15}
    with pytest.raises(ValueError, match=message):
        HeatNeed(source="none", **(good | change))


@pytest.mark.parametrize(
    ("history", "step"), [(np.array(300.0), 60.0), (np.array([300.0]), 60.0), (np.zeros(3), 0.0)]
)
def test_histories_that_are_none(history: np.ndarray, step: float) -> None:
    with pytest.raises(ValueError, match=r"moments|step"):
        cook_value(history, step=step)
