"""Merits from days: medians that count never, means that leave it out, and what a history says of a meal."""

import numpy as np
import pytest

from noonhearth.model import Design, Table, load_catalogue
from noonhearth.model.meal import cooked, inner_radius, load_of, overflows
from noonhearth.model.merit import LIMITS, MERITS, mean, middle, over_days

NEVER = np.nan


@pytest.mark.parametrize(
    ("values", "weight", "expected"),
    [
        ([3.0, 1.0, 2.0], [1, 1, 1], 2.0),
        ([1.0, 2.0, 3.0, 4.0], [1, 1, 1, 1], 2.0),  # the lower of the two middle days
        ([1.0, 2.0, NEVER], [1, 1, 1], 2.0),
        ([1.0, NEVER, NEVER], [1, 1, 1], NEVER),
        ([1.0, NEVER], [1, 1], 1.0),  # done on half of the days is done on the middle one
        ([5.0, 1.0], [3, 1], 5.0),
        ([NEVER, NEVER], [1, 1], NEVER),
    ],
)
def test_middle_counts_never_as_later_than_any_day(
    values: list[float], weight: list[float], expected: float
) -> None:
    np.testing.assert_equal(middle(np.array(values), np.array(weight, float)), expected)


def test_middle_is_the_repeated_median() -> None:
    """Against numpy on days written out as often as they weigh."""
    rng = np.random.default_rng(3)
    for _ in range(50):
        values, weight = rng.normal(size=7), rng.integers(1, 6, size=7)
        written_out = np.sort(np.repeat(values, weight))
        expected = np.quantile(written_out, 0.5, method="inverted_cdf")
        assert middle(values, weight.astype(float)) == expected


def test_mean_leaves_out_days_without_a_value() -> None:
    assert mean(np.array([1.0, NEVER, 4.0]), np.array([1.0, 5.0, 2.0])) == pytest.approx(3.0)
    assert np.isnan(mean(np.array([NEVER]), np.array([1.0])))


def test_shares_of_days_are_weighed() -> None:
    days = {
        name: np.array([[1.0, 2.0, 3.0]])
        for name in ("cook_dose", "peak_contents", "held_hot", "light_share", "safe_after")
    }
    merits = over_days(days | {"done_after": np.array([[10.0, NEVER, NEVER]])}, np.array([31.0, 28.0, 3.0]))
    assert merits["share_done"][0] == pytest.approx(0.5)
    assert merits["share_safe"][0] == 1.0
    assert merits["time_to_done"][0] == 10.0
    assert merits["hold_time"][0] == 1.0


def test_every_merit_and_limit_comes_out(design: Design, sky: object) -> None:
    from noonhearth.model import simulate

    result = simulate(design, sky, rays=8)  # type: ignore[arg-type]
    assert {*MERITS, *LIMITS} <= set(map(str, result.data_vars))
    for name in result.variables:
        assert result[name].attrs["long_name"], name
        assert "units" in result[name].attrs or result[name].dtype.kind == "M", name


def histories(design: Design, celsius: list[float]) -> np.ndarray:
    return np.array(celsius)[None, None, :] + 273.15


def test_boiling_rice_is_done_when_its_cook_value_is_full(design: Design) -> None:
    """At a constant 100 degC one minute is worth one minute: the food's own requirement is the time."""
    foods = load_catalogue().foods
    need = foods["rice"].cook
    assert need is not None
    history = np.full((1, 1, 200), 373.15)
    outcome = cooked(Table(design, {}, 1), history, history, step=60.0, foods=foods)
    assert outcome.done_after[0, 0] == pytest.approx(need.seconds, rel=1e-9)
    assert outcome.cook_dose[0, 0] == pytest.approx(199 * 60.0)
    assert outcome.held_hot[0, 0] == pytest.approx(199 * 60.0 - need.seconds)
    assert outcome.lukewarm[0, 0] == 0.0


def test_lukewarm_food_is_neither_safe_nor_done(design: Design) -> None:
    foods = load_catalogue().foods
    history = np.full((1, 1, 100), 313.15)
    outcome = cooked(Table(design, {}, 1), history, history, step=60.0, foods=foods)
    assert np.isnan(outcome.done_after[0, 0])
    assert np.isnan(outcome.safe_after[0, 0])
    assert outcome.lukewarm[0, 0] == pytest.approx(99 * 60.0)
    assert outcome.held_hot[0, 0] == 0.0


def test_meal_keeps_its_water_and_its_heat(design: Design) -> None:
    """Water by food composition plus what is added; capacity within 1 % of the sum of its parts."""
    foods = load_catalogue().foods
    table = Table(design, {"food": np.array(["water", "vegetable-oil", "chicken"], dtype=object)}, 3)
    load = load_of(table, foods)
    assert load.water_mass[0] == pytest.approx(0.5)
    assert load.solid_capacity[0] == pytest.approx(0.0, abs=1e-6)
    assert load.water_mass[1] == 0.0
    chicken = foods["chicken"]
    own = 0.5 * chicken.composition.water
    assert load.water_mass[2] == pytest.approx(0.15 * own)
    whole = load.solid_capacity[2] + load.water_mass[2] * 4186
    assert whole == pytest.approx(0.5 * chicken.composition.specific_heat(333.15), rel=0.01)


def test_a_meal_overflows_at_the_brim(design: Design) -> None:
    table = Table(design, {"food": np.array(["water", "water"], dtype=object)}, 2)
    brim = np.pi * inner_radius(table)[0] ** 2 * (0.14 - 0.002) * 983.2  # kg, water at 60 degC (IAPWS)
    table = Table(design, {"food": table["food"], "food_mass": np.array([0.995, 1.005]) * brim}, 2)
    assert overflows(table, load_of(table, load_catalogue().foods)).tolist() == [False, True]
