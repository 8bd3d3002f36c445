"""The pot left in the closed oven after the day: what must hold of any evening, and that it costs nothing unasked."""

import dataclasses
import datetime as dt
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest
import xarray as xr

from noonhearth.model import (
    Air,
    Design,
    Place,
    Sky,
    clear_sky,
    clearness_sky,
    file_sky,
    load_catalogue,
    simulate,
)
from noonhearth.model.design import Table
from noonhearth.model.evening import Kept, lukewarm_while_kept
from noonhearth.model.lanes import Lanes
from noonhearth.model.limits import LUKEWARM_ALLOWANCE, LUKEWARM_ALLOWANCE_HOT_DAY
from noonhearth.model.meal import Cooked, cooked
from noonhearth.model.sky import EVENING, SkyError

RAYS = 8
MIAMI = Path(pvlib.__file__).parent / "data" / "12839.tm2"
AIR = Air(low=285.0, high=301.0, dew_point=tuple(np.linspace(275, 282, 12)), wind_speed=2.0)


@pytest.fixture(scope="module")
def quick(design: Design) -> Design:
    """Rice that is done within the three hours of the test sky."""
    return design.with_factors(food_mass=0.4)


@pytest.fixture(scope="module")
def evening(quick: Design, sky: Sky) -> xr.Dataset:
    return simulate(quick, sky, rays=RAYS, histories=True)


def test_the_evening_begins_where_the_day_ends(evening: xr.Dataset) -> None:
    food = evening["evening_food_temperature"]
    np.testing.assert_array_equal(food.isel(evening=0), evening["food_temperature"].isel(time=-1))
    np.testing.assert_array_equal(
        evening["evening_air_temperature"].isel(evening=0), evening["air_temperature"].isel(time=-1)
    )
    assert food.sizes["evening"] == EVENING + 1
    assert (
        food.diff("evening").isel(evening=slice(10, None)) < 0
    ).all()  # some minutes of boiling over, then it cools


def test_warm_until_the_curve_crosses(evening: xr.Dataset) -> None:
    for day in range(evening.sizes["day"]):
        one = evening.isel(design=0, day=day)
        warm_for = float(one["warm_for"])
        food = one["evening_food_temperature"].to_numpy()
        assert food[int(warm_for // 60)] > 333.15 > food[int(warm_for // 60) + 1]
        assert np.interp(warm_for, one["evening"], food) == pytest.approx(
            333.15, abs=1e-3
        )  # it bends a little
        assert one["still_warm"] == 0
    assert evening["keep_warm_time"].item() in evening["warm_for"].to_numpy()


def test_the_day_does_not_know_of_the_evening(quick: Design, sky: Sky, evening: xr.Dataset) -> None:
    """Leaving it out takes away its own variables alone; all others are the same to the last bit."""
    without = simulate(quick, sky, rays=RAYS, evening=False, histories=True)
    own = {"warm_for", "still_warm", "keep_warm_time", "evening_food_temperature", "evening_air_temperature"}
    assert set(evening.data_vars) - set(without.data_vars) == own
    for name in without.data_vars:
        np.testing.assert_array_equal(without[name], evening[name], err_msg=str(name))


def test_nobody_pays_for_an_evening_that_is_not_asked_for(
    quick: Design, sky: Sky, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed = []
    march = Lanes.into_evening

    def counted(lanes: Lanes, build: object, which: np.ndarray) -> object:
        followed.append(which.tolist())
        return march(lanes, build, which)  # type: ignore[arg-type]

    monkeypatch.setattr(Lanes, "into_evening", counted)
    cold = quick.with_factors(beam_share=0.3)  # not done by the end: nothing to keep
    simulate([quick, cold], sky, rays=RAYS, evening=False)
    assert followed == []
    simulate([quick, cold], sky, rays=RAYS)
    assert followed == [[0, 1]]
    simulate([quick, quick.with_factors(kept_for=60.0)], sky, rays=RAYS, evening=False)
    assert followed == [[0, 1], [2, 3]]


@pytest.mark.parametrize(
    "better",
    [
        {"insulation_thickness": 0.10},
        {"food_mass": 0.5},
        {"panes": 2},
        {"wind_share": 0.2},
        {"leak_area": 1e-5},
        {"pot_wall": 0.004},
    ],
    ids=lambda change: next(iter(change)),
)
def test_what_holds_heat_keeps_food_warm_for_longer(
    quick: Design, sky: Sky, better: dict[str, float]
) -> None:
    both = simulate([quick, quick.with_factors(**better)], sky, rays=RAYS)
    assert (both["warm_for"][1] > both["warm_for"][0] + 10).all()


def test_a_row_of_the_evening_does_not_depend_on_its_neighbours(
    quick: Design, sky: Sky, evening: xr.Dataset
) -> None:
    raw = quick.with_factors(beam_share=0.3, elevation_every=900.0)  # not followed, and tilted otherwise
    others = [raw, quick, quick.with_factors(wind_share=0.1)]
    batch = simulate(others, sky, rays=RAYS, histories=True).isel(design=1)
    for name in ("warm_for", "still_warm", "keep_warm_time", "evening_food_temperature"):
        np.testing.assert_array_equal(batch[name], evening[name].isel(design=0), err_msg=name)


def test_a_meal_that_is_not_done_is_not_kept_warm(quick: Design, sky: Sky) -> None:
    raw = simulate(quick.with_factors(beam_share=0.3), sky, rays=RAYS, histories=True)
    assert np.isnan(raw["done_after"]).all()
    assert (raw["warm_for"] == 0).all()
    assert raw["keep_warm_time"] == 0
    assert np.isnan(raw["evening_food_temperature"]).all()


def test_lukewarm_time_until_the_meal_counts_against_the_allowance(
    quick: Design, sky: Sky, evening: xr.Dataset
) -> None:
    """Eaten within the warm time nothing is added; two hours later, two hours."""
    warm_for = float(evening["warm_for"].min())
    late = warm_for + 7200.0
    table = Table(quick, {"kept_for": np.array([0.0, 0.9 * warm_for, late])}, 3)
    result = simulate(table, sky, rays=RAYS)
    plain = evening["lukewarm"].to_numpy()[0]
    np.testing.assert_array_equal(result["lukewarm"][:2], [plain, plain])
    np.testing.assert_allclose(result["lukewarm"][2], plain + late - evening["warm_for"][0], rtol=1e-12)
    hottest = sky.air_temperature.max(axis=1)
    allowance = np.where(hottest > 305.37, LUKEWARM_ALLOWANCE_HOT_DAY, LUKEWARM_ALLOWANCE)
    excess = result["lukewarm"] - allowance
    for row in range(3):
        assert result["lukewarm_over"][row].item() in excess[row]
    assert result["lukewarm_over"][2] > 0 > result["lukewarm_over"][0]


def test_a_meal_that_cools_within_the_day_has_stood_since() -> None:
    """Done at noon, below 60 degC half an hour before the end, eaten an hour after it: an hour and a half."""
    meals = Cooked(*(np.array([[value]]) for value in (3600.0, 3600.0, 0.0, 600.0, 0.0, 1800.0)))
    kept = Kept(np.zeros((1, 1)), np.zeros((1, 1)), np.empty(0, np.int64), np.empty((0, EVENING + 1)))
    assert lukewarm_while_kept(meals, kept, np.array([3600.0])).item() == 5400.0
    assert lukewarm_while_kept(meals, kept, np.array([0.0])).item() == 0.0
    never_safe = meals._replace(safe_after=np.array([[np.nan]]))  # its cooling is in `lukewarm` already
    assert lukewarm_while_kept(never_safe, kept, np.array([3600.0])).item() == 3600.0


def test_cooling_by_day_is_measured_where_it_is_coldest(design: Design) -> None:
    """Doses go by the centre; hot and lukewarm times by the coldest part, which cools first."""
    foods = load_catalogue().foods
    centre = np.full((1, 1, 241), 370.0)
    coldest = np.concatenate([np.full(181, 370.0), np.linspace(370.0, 310.0, 61)[1:]])[None, None]
    meals = cooked(Table(design, {}, 1), centre, coldest, step=60.0, foods=foods)
    below = (333.15 - 310.0) * 60.0  # s: a kelvin a minute
    assert meals.cooled.item() == pytest.approx(below)
    assert meals.held_hot.item() == pytest.approx(240 * 60.0 - below - meals.done_after.item(), abs=60.0)
    assert meals.cook_dose.item() == pytest.approx(240 * 60.0 * 10 ** ((370.0 - 373.15) / 33.0))


# ---- the air of the evening


def place(**more: object) -> Place:
    fields = {"latitude": math.radians(25), "longitude": 0.0, "timezone": "UTC"}
    return Place(**(fields | more))  # type: ignore[arg-type]


def skies(stop: dt.time) -> list[Sky]:
    """From each maker of skies, days up to a clock time."""
    window = {"start": dt.time(9), "stop": stop}
    return [
        clear_sky(place(), **window, air=AIR, months=[3, 7]),
        clearness_sky(place(), **window, air=AIR, months=[6], clearness=[0.5], days_per_month=2),
        file_sky(MIAMI, **window, dates=[dt.date(2025, 4, 3), dt.date(2025, 12, 31)]),
    ]


def test_the_air_of_the_evening_is_that_of_a_longer_day() -> None:
    """What a day to nine in the evening has from three on; the sun's hour angle is taken to run evenly."""
    for short, long in zip(skies(dt.time(15)), skies(dt.time(21)), strict=True):
        for name, column in short.evening._asdict().items():
            np.testing.assert_array_equal(column[:, 0], getattr(short, name)[:, -1])
            tolerance = {"rtol": 0, "atol": 2e-3} if name.endswith("temperature") else {"rtol": 1e-12}
            np.testing.assert_allclose(column[:, :361], getattr(long, name)[:, -361:], **tolerance)


def test_a_winter_night_goes_over_the_new_year() -> None:
    """The last evening of a file goes on with its first morning, nothing missing, by steps as small as any."""
    *_, file = skies(dt.time(15))
    for column in file.evening:
        assert np.isfinite(column).all()
    assert np.abs(np.diff(file.evening.air_temperature, axis=1)).max() < 0.1


def test_air_cools_after_the_warmest_hour() -> None:
    clear, clearness, _ = skies(dt.time(16))
    for sky in (clear, clearness):
        air = sky.evening.air_temperature
        assert (np.diff(air, axis=1) <= 0).all()
        assert (air[:, -1] < 0.7 * 285 + 0.3 * 301).all()
        assert (sky.evening.dew_point <= air).all()
        assert (sky.evening.sky_temperature < air).all()


def test_an_evening_that_does_not_fit_is_refused(sky: Sky) -> None:
    short = sky.evening._replace(wind_speed=sky.evening.wind_speed[:, 1:])
    with pytest.raises(SkyError, match=rf"sky\.evening\.wind_speed has shape \(2, {EVENING}\)"):
        dataclasses.replace(sky, evening=short)
