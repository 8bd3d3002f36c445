"""Starts through the day: the first is the run itself, later ones end with the sun, meals follow each other."""

import numpy as np
import pytest

from noonhearth.model import Design, Sky, simulate, timetable
from noonhearth.model.timetable import _latest, _meals


def test_the_first_start_is_the_run_itself(design: Design, sky: Sky) -> None:
    quick = design.with_factors(food_mass=0.1, added_water=1.0)
    table = timetable(quick, sky, every=45, rays=8)
    run = simulate(quick, sky, rays=8)
    np.testing.assert_array_equal(table["done_by_start"].isel(start=0), run["done_after"].isel(design=0))
    assert table["start"].to_numpy().tolist() == [0.0, 2700.0, 5400.0, 8100.0]


def test_a_later_window_is_the_end_of_the_whole_one(sky: Sky) -> None:
    later = sky.later(30)
    assert later.steps == sky.steps - 30
    np.testing.assert_array_equal(later.dni, sky.dni[:, 30:])
    np.testing.assert_array_equal(later.to_sun, sky.to_sun[:, 30:])
    assert sky.sun_from(0)
    assert not sky.sun_from(sky.steps)


@pytest.mark.parametrize(
    ("done", "latest", "meals"),
    [
        ([1000.0, 1000.0, 1000.0, 1000.0, 1000.0], 4000.0, 3),  # 0, 1900, 3800, then past the last start
        ([1000.0, 1000.0, 1000.0, np.nan, np.nan], 2000.0, 2),
        ([9000.0, np.nan, np.nan, np.nan, np.nan], 0.0, 1),
        ([np.nan] * 5, np.nan, 0),
    ],
)
def test_meals_follow_each_other(done: list[float], latest: float, meals: int) -> None:
    starts = np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0])
    np.testing.assert_equal(_latest(starts, np.array(done)), latest)
    assert _meals(starts, np.array(done), 900.0) == meals
