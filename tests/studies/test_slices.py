"""Slices and flat ranges on functions whose answers are closed forms."""

import numpy as np
import pytest

from noonhearth.studies.methods.slices import flat_range, slices
from noonhearth.studies.outcomes import Columns, Outcomes, Output
from noonhearth.studies.space import Parameter, Space

SPACE = Space(
    (
        Parameter(name="x", kind="real", meaning="position", low=0.0, high=10.0),
        Parameter(name="n", kind="integer", meaning="count", low=1, high=3),
        Parameter(name="word", kind="choice", meaning="word", choices=("a", "b")),
    )
)


def bowl(columns: Columns) -> Outcomes:
    """(x - 4)^2 + n, and one more for b: every slice is known."""
    y = (columns["x"] - 4.0) ** 2 + columns["n"] + (columns["word"] == "b")
    return Outcomes(values={"y": y}, status=np.zeros(len(y), np.int64), margins={})


def test_one_factor_moves_and_the_others_stay() -> None:
    found = slices(
        SPACE, bowl, {"x": 4.0, "n": 2, "word": "a"}, outputs=[Output(name="y", unit="1", meaning="y")]
    )
    x = found["slice_value"].sel(slice_factor="x").to_numpy()
    np.testing.assert_allclose(found["slice_y"].sel(slice_factor="x"), (x - 4.0) ** 2 + 2.0)
    assert found["slice_y"].sel(slice_factor="n").to_numpy()[:3].tolist() == [1.0, 2.0, 3.0]
    assert found["slice_y"].sel(slice_factor="word").to_numpy()[:2].tolist() == [2.0, 3.0]
    assert np.isnan(found["slice_y"].sel(slice_factor="word").to_numpy()[2:]).all()


def test_the_chosen_value_is_one_of_the_points() -> None:
    found = slices(
        SPACE, bowl, {"x": 3.3, "n": 2, "word": "a"}, outputs=[Output(name="y", unit="1", meaning="y")]
    )
    assert 3.3 in found["slice_value"].sel(slice_factor="x").to_numpy()


@pytest.mark.parametrize(
    ("sign", "slack", "expected"),
    [(1.0, 2.0, (2.0, 8.0)), (1.0, 100.0, (0.0, 10.0)), (-1.0, 1.0, (0.0, 10.0))],
)
def test_flat_range_of_a_valley(sign: float, slack: float, expected: tuple[float, float]) -> None:
    """|x - 4| on the left, half as steep on the right: straight lines, so crossings are exact."""
    x = np.linspace(0.0, 10.0, 11)
    y = np.where(x < 4.0, 4.0 - x, 0.5 * (x - 4.0))
    assert flat_range(x, y, at=4.0, slack=slack, sign=sign) == pytest.approx(expected)


def test_flat_range_ends_where_the_goal_is_never_reached() -> None:
    x = np.linspace(0.0, 4.0, 5)
    y = np.array([1.0, 1.0, 1.0, np.nan, np.nan])
    low, high = flat_range(x, y, at=2.0, slack=0.5, sign=1.0)
    assert low == 0.0
    assert 2.0 <= high < 3.0


def test_flat_range_stops_at_the_first_hill() -> None:
    x = np.arange(7.0)
    y = np.array([0.0, 0.0, 0.0, 0.0, 9.0, 0.0, 0.0])
    low, high = flat_range(x, y, at=2.0, slack=1.0, sign=1.0)
    assert (low, high) == pytest.approx((0.0, 3.0 + 1.0 / 9.0))
