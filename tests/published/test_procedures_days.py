"""Whether days share a line: against full linear models by numpy, and as often as chance says."""

import numpy as np
import pytest
from scipy import stats

from noonhearth.model.procedures import day_effect, fitted_line


def observations(rng: np.random.Generator, *, between: float) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Twelve points on each of three days about a falling line, days set off by so much."""
    days = np.repeat(["a", "b", "c"], 12)
    x = rng.uniform(10, 60, 36)
    offset = np.repeat(rng.normal(0, between, 3), 12) if between else 0.0
    return x, 80 - 0.9 * x + rng.normal(0, 2, 36) + offset, days.tolist()


def test_the_chance_is_that_of_two_nested_linear_models():
    """Design matrices and their residual sums by numpy's least squares; F by scipy."""
    x, y, days = observations(np.random.default_rng(5), between=2.0)
    own = (np.array(days)[:, None] == np.array(["a", "b", "c"])).astype(float)
    ends = [np.column_stack([np.ones(36), x]), np.column_stack([own, x])]
    one, apart = (float(np.linalg.lstsq(design, y, rcond=None)[1][0]) for design in ends)
    expected = stats.f.sf((one - apart) / 2 / (apart / 32), 2, 32)
    found = day_effect(x, y, days, at=50.0, confidence=0.95)
    assert found.chance == pytest.approx(expected, rel=1e-9)
    coefficients = np.linalg.lstsq(ends[1], y, rcond=None)[0]
    levels = coefficients[:3] + 50 * coefficients[3]
    low, high = stats.t.interval(0.95, 2, levels.mean(), stats.sem(levels))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-9)


def test_offsets_are_mean_residuals_of_the_common_line():
    x, y, days = observations(np.random.default_rng(6), between=4.0)
    left = y - np.array([fitted_line(x, y).at(one) for one in x])
    found = day_effect(x, y, days, at=50.0, confidence=0.95)
    for k, day in enumerate("abc"):
        assert found.offsets[day] == pytest.approx(left[12 * k : 12 * k + 12].mean(), rel=1e-9)


def test_days_of_one_line_are_told_apart_as_often_as_chance_has_it():
    """1000 tests of like days: chances below 0.05 in 3.5 to 6.5 % (two standard errors are 1.4 %)."""
    rng = np.random.default_rng(7)
    chances = [
        day_effect(*observations(rng, between=0.0), at=50.0, confidence=0.95).chance for _ in range(1000)
    ]
    assert 0.035 < np.mean(np.array(chances) < 0.05) < 0.065


def test_the_interval_by_days_holds_where_that_of_the_points_does_not():
    """Days off by three times the scatter of their points: of 500 tests, by days 93 to 97 % hold the truth."""
    rng = np.random.default_rng(8)
    by_days, by_points = [], []
    for _ in range(500):
        x, y, days = observations(rng, between=6.0)
        found = day_effect(x, y, days, at=50.0, confidence=0.95)
        low, high = fitted_line(x, y).interval_at(50.0)
        by_days.append(found.low <= 35.0 <= found.high)
        by_points.append(low <= 35.0 <= high)
    assert 0.93 < np.mean(by_days) < 0.97
    assert np.mean(by_points) < 0.70


def test_a_single_day_is_not_judged():
    x, y, _ = observations(np.random.default_rng(9), between=0.0)
    found = day_effect(x, y, ["a"] * 36, at=50.0, confidence=0.95)
    assert np.isnan([found.chance, found.low, found.high]).all()
    assert found.offsets == {"a": 0.0}
