"""A night in the closed oven against the slow network of `naive_oven`, from the state in which the day left it."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import Design, Sky, load_catalogue, simulate, table_of
from noonhearth.model.meal import load_of

_spec = importlib.util.spec_from_file_location("naive_oven", Path(__file__).with_name("naive_oven.py"))
assert _spec is not None
assert _spec.loader is not None
naive = importlib.util.module_from_spec(_spec)
sys.modules["naive_oven"] = naive
_spec.loader.exec_module(naive)

SIMULATE = sys.modules["noonhearth.model.simulate"]
HOT = 333.15  # K
PIECE = 900.0  # s; Radau starts afresh
HOURS = 4  # enough for every case to fall below 60 degC
CASES = {  # what is changed of the half kilogram of rice
    "rice": {"food_mass": 0.4},
    "stew under two panes": {"food": "stew", "food_mass": 1.2, "panes": 2, "start_temperature": 335.0},
    "roast": {"food": "chicken", "food_mass": 0.9, "start_temperature": 340.0},
    "oil": {"food": "vegetable-oil", "food_mass": 0.8},
}


def evening_of(sky: Sky, day: int, tilt: float, wind_share: float):
    """What the twin asks of a moment [s] after the day: weather between minutes, and no sun."""
    evening = sky.evening
    minutes = 60.0 * np.arange(evening.air_temperature.shape[1])
    columns = {
        "air": evening.air_temperature[day],
        "sky": evening.sky_temperature[day],
        "wind": wind_share * evening.wind_speed[day],
        "pressure": evening.pressure[day],
        "vapour": evening.vapour_pressure[day],
    }

    def now(time: float):
        weather = {name: float(np.interp(time, minutes, column)) for name, column in columns.items()}
        return naive.Now(**weather, pot=0.0, sheet=0.0, cover=0.0, tilt=tilt)

    return now


def twin_night(run: xr.Dataset, sky: Sky, design: Design, build, day: int) -> np.ndarray:
    """Ten temperatures and the water, a row a minute. float64[minute, 11]"""
    end = run.isel(design=0, day=day, time=-1)
    start = np.append(end["temperature"].to_numpy(), float(end["water"]))
    tilt = np.pi / 2 - float(end["aim_elevation"])
    now = evening_of(sky, day, tilt, design.value("wind_share"))
    phase = naive.DRY
    if start[10] > 0:
        phase = naive.BOILING if start[0] >= build.boiling_temperature - 1e-9 else naive.HEATING
    rows, state = [start], start
    for begin in np.arange(0.0, HOURS * 3600.0, PIECE):
        span = (begin, begin + PIECE)
        more, state, phase, _ = naive.piece_rows(build, now, span, state, phase, 60.0, **naive.RADAU)
        rows.extend(more)
    return np.array(rows)


def coldest_of(shells: np.ndarray, mass: np.ndarray, build, design: Design) -> np.ndarray:
    """Coldest place by hand: the parabola through core and mean, held at the centre and at the surface."""
    solid, water = float(build.solid_capacity), 4186.0 * mass
    shares = np.column_stack(
        [solid / 3 + water, np.full_like(water, solid / 3), np.full_like(water, solid / 3)]
    )
    mean = (shares * shells).sum(axis=1) / shares.sum(axis=1)
    load = load_of(table_of([design]), load_catalogue().foods)
    core = shells[:, 2]
    centre = core - load.centre_offset[0] * (mean - core)
    surface = core + load.surface_offset[0] * (mean - core)
    return np.minimum(centre, surface)


@pytest.mark.parametrize("change", CASES.values(), ids=CASES.keys())
def test_night_follows_radau(
    design: Design, sky: Sky, change: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    built = []
    real = SIMULATE.build_of
    monkeypatch.setattr(SIMULATE, "build_of", lambda *a, **k: built.append(real(*a, **k)) or built[-1])
    mine = design.with_factors(**change)
    run = simulate(mine, sky, rays=8, histories=True)
    build = naive.lane_of(built[0], 0)
    for day in range(sky.days):
        night = twin_night(run, sky, mine, build, day)
        slow = coldest_of(night[:, :3], night[:, 10], build, mine)
        ours = run["evening_food_temperature"].isel(design=0, day=day).to_numpy()[: len(slow)]
        assert np.abs(ours - slow).max() < 0.02  # K; measured: 0.007
        late = np.flatnonzero(slow < HOT)[0]
        fall = slow[late - 1] - slow[late]  # K a minute
        cold_after = 60.0 * (late - 1 + (slow[late - 1] - HOT) / fall)
        assert float(run["warm_for"][0, day]) == pytest.approx(cold_after, abs=0.5)  # s; measured: 0.14
