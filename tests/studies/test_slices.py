"""Slices and flat ranges on functions whose answers are closed forms."""

import json
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space
from noonhearth.studies.methods.flatness import TELLING, flat_range, flatness
from noonhearth.studies.methods.slices import neighbours, slices
from noonhearth.studies.methods.trials import Goal, Limit

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


GOALS = [
    Goal(name="y", unit="s", meaning="y", direction="minimize"),
    Goal(name="z", unit="K", meaning="z", direction="maximize"),
]
LIMITS = [Limit(name="wall", unit="m", meaning="room at the wall")]
CHOSEN: dict[str, object] = {"x": 4.0, "n": 2, "word": "a"}


def walled(columns: Columns) -> Outcomes:
    """|x - 4| + n - 2 and half a unit more for b; x itself; a wall at 6.5, and nothing can be built below 1.5."""
    x = columns["x"]
    y = np.abs(x - 4.0) + columns["n"] - 2.0 + 0.5 * (columns["word"] == "b")
    return Outcomes(
        values={"y": y, "z": 10.0 * x},
        status=(x < 1.5).astype(np.int64),
        margins={"wall": x - 6.5},
    )


def _flat(evaluate: Any = walled, *, slack: float = 1.0, noise: float = 0.0, **chosen: object) -> xr.Dataset:
    picked = CHOSEN | chosen
    around = slices(SPACE, evaluate, picked, outputs=GOALS, limits=LIMITS)
    by_goal = {"y": np.full(3, noise), "z": np.zeros(3)}
    return xr.merge(
        [around, flatness(around, picked, goals=GOALS, slack={"y": slack, "z": 15.0}, noise=by_goal)]
    )


def _span(flat: xr.Dataset, goal: str, factor: str) -> tuple[float, float]:
    one = flat.sel(flat_goal=goal, slice_factor=factor)
    return float(one["flat_low"]), float(one["flat_high"])


def test_each_goal_has_a_flat_range_of_its_own() -> None:
    """Closed forms: |x - 4| <= 1; 10 x >= 40 - 15, up to the last point before the wall."""
    flat = _flat()
    assert _span(flat, "y", "x") == pytest.approx((3.0, 5.0))
    assert _span(flat, "z", "x") == pytest.approx((2.5, 6.0))
    assert _span(flat, "y", "n") == (1.0, 3.0)
    assert _span(_flat(slack=0.4), "y", "n") == pytest.approx((1.0, 2.4))


def test_a_flat_range_ends_at_a_limit_and_where_nothing_can_be_built() -> None:
    assert _span(_flat(slack=50.0), "y", "x") == pytest.approx((2.0, 6.0))


def test_words_within_the_slack_are_named() -> None:
    assert json.loads(str(_flat(slack=0.6)["flat_words"].sel(flat_goal="y", slice_factor="word").item())) == [
        "a",
        "b",
    ]
    assert json.loads(str(_flat(slack=0.4)["flat_words"].sel(flat_goal="y", slice_factor="word").item())) == [
        "a"
    ]
    assert str(_flat()["flat_words"].sel(flat_goal="y", slice_factor="x").item()) == ""


def test_the_slack_is_never_less_than_what_noise_may_make() -> None:
    flat = _flat(slack=0.1, noise=0.5)
    assert float(flat["flat_slack"].sel(flat_goal="y", slice_factor="x")) == TELLING * 0.5
    assert _span(flat, "y", "x") == pytest.approx((2.5, 5.5))
    assert float(flat["flat_slack"].sel(flat_goal="z", slice_factor="x")) == 15.0


def _noisy(seed: int, spread: float) -> Any:
    """A plain slope in z and a flat y on which noise alone makes hills and valleys."""

    def evaluate(columns: Columns) -> Outcomes:
        noise = np.random.default_rng(seed).normal(0.0, spread, len(columns["x"]))
        return Outcomes(
            values={"y": noise, "z": np.zeros(len(noise))},
            status=np.zeros(len(noise), np.int64),
            margins={"wall": np.full(len(noise), -1.0)},
        )

    return evaluate


def test_a_slice_does_not_call_noise_a_better_design() -> None:
    """Of 40 slices through pure noise hardly one is told as better; with the noise left out, nearly all are."""
    told = {0.0: 0, np.sqrt(2.0): 0}
    for seed in range(40):
        for known in told:
            flat = _flat(_noisy(seed, 1.0), slack=1e-3, noise=float(known))
            told[known] += int(np.isfinite(flat["flat_better"].sel(slice_factor="x")))
    assert told[0.0] > 30
    assert told[np.sqrt(2.0)] <= 2


def test_a_better_point_of_a_slice_is_found_and_told() -> None:
    """Chosen off the best: x = 4 is better by 2 in y, and z is left out of the way by a slope of none."""

    def flat_z(columns: Columns) -> Outcomes:
        plain = walled(columns)
        return Outcomes(
            values={**plain.values, "z": 0.0 * columns["x"]}, status=plain.status, margins=plain.margins
        )

    assert float(_flat(flat_z, x=6.0)["flat_better"].sel(slice_factor="x")) == 4.0
    assert np.isnan(_flat(flat_z, x=6.0, slack=3.0)["flat_better"].sel(slice_factor="x"))  # not worth telling
    assert np.isnan(_flat(x=6.0)["flat_better"].sel(slice_factor="x"))  # z gets worse: a trade, no error
    assert np.isnan(_flat(flat_z)["flat_better"]).sel(slice_factor="x")
    assert float(_flat(flat_z, slack=0.5)["flat_better"].sel(slice_factor="n")) == 1.0


def test_neighbours_are_the_nearest_that_keep_the_limits() -> None:
    around = slices(SPACE, walled, CHOSEN | {"x": 6.2}, outputs=GOALS, limits=LIMITS)
    near = neighbours(around, CHOSEN | {"x": 6.2})
    assert near[0] == {"x": pytest.approx(6.0), "n": 2, "word": "a"}
    assert near[1]["n"] in (1, 3)
    assert near[2] == {"x": 6.2, "n": 2, "word": "b"}

    def alone(columns: Columns) -> Outcomes:
        plain = walled(columns)
        return Outcomes(
            values=plain.values, status=(columns["x"] != 6.2).astype(np.int64), margins=plain.margins
        )

    around = slices(SPACE, alone, CHOSEN | {"x": 6.2}, outputs=GOALS, limits=LIMITS)
    assert neighbours(around, CHOSEN | {"x": 6.2})[0] == CHOSEN | {"x": 6.2}


def test_a_point_without_a_number_ends_the_range() -> None:
    """z is missing beyond 5: no answer there, however good y is."""

    def gap(columns: Columns) -> Outcomes:
        plain = walled(columns)
        values = {**plain.values, "z": np.where(columns["x"] > 5.5, np.nan, plain.values["z"])}
        return Outcomes(values=values, status=plain.status, margins=plain.margins)

    assert _span(_flat(gap, slack=50.0), "y", "x") == pytest.approx((2.0, 5.0))
