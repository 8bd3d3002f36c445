"""The model of a measured cook: it says what `simulate` says, a hot pot cools as in the slow network, light is kept."""

import datetime
import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from noonhearth.model import (
    Air,
    AsBuilt,
    ByHand,
    CookModel,
    CookRecord,
    DescriptionError,
    Design,
    Drive,
    Meal,
    Place,
    clear_sky,
    load_catalogue,
    lossy,
    simulate,
    table_of,
)
from noonhearth.model.cooks import daylight
from noonhearth.model.cooks.start import oven_start
from noonhearth.model.heat import Node
from noonhearth.model.meal import load_of

pytestmark = pytest.mark.compiled

_spec = importlib.util.spec_from_file_location(
    "naive_oven", Path(__file__).parents[1] / "twins" / "naive_oven.py"
)
assert _spec is not None
assert _spec.loader is not None
naive = importlib.util.module_from_spec(_spec)
sys.modules.setdefault("naive_oven", naive)
_spec.loader.exec_module(naive)

DATE = datetime.date(2025, 1, 17)
START = datetime.datetime(2025, 1, 17, 10, tzinfo=datetime.UTC)
AIR = Air(low=293.15, high=306.15, dew_point=280.15, wind_speed=2.0)
HOW = {"rays": 8, "seed": 3}
NODES = {"pot": "pot", "plate": "sheet", "air_inside": "air", "cover": "cover_inner"}
MEALS = {
    "rice": Meal(food="rice", food_mass=0.5),
    "water": Meal(food="water", food_mass=1.5),
    "milk": Meal(food="milk", food_mass=1.5),
    "roast": Meal(food="chicken", food_mass=0.9),
}


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="module")
def day(place: Place):
    return clear_sky(place, start=datetime.time(10), stop=datetime.time(14), air=AIR, dates=[DATE])


def recorded(design: Design, sky, catalogue, *, every=1, first=0, rays=8, **changes) -> CookRecord:
    """A cook as thermometers without a fault would have read it, from minute `first` on."""
    run = simulate(design, sky, catalogue=catalogue, histories=True, evening=False, rays=rays, seed=3).isel(
        design=0, day=0
    )
    run = run.isel(time=slice(first, None, every))
    temperatures = {name: run["temperature"].sel(node=node).to_numpy() for name, node in NODES.items()}
    food = run["food_temperature"].to_numpy()
    if design.meal.food != "chicken":  # a thermometer in the midst of what stirs itself, or swims
        load = load_of(table_of([design]), catalogue.foods)
        shells = run["temperature"].sel(node=["outer", "middle", "core"]).to_numpy()
        food = midst(load.solid_capacity[0], run["water"].to_numpy(), shells)
    time = run["time"].to_numpy()
    seconds, plan = np.arange(60.0 * first, time[-1], 60.0), design.aiming
    by_hand = isinstance(plan, ByHand)
    return replace(
        CookRecord(
            name="a cook",
            start=START,
            time=time,
            temperatures={"food": food, **temperatures},
            air=run["air_temperature"].to_numpy(),
            irradiance=run["dni"].to_numpy(),
            diffuse=run["dhi"].to_numpy(),
            plane="beam",
            wind=run["wind_speed"].to_numpy() * design.value("wind_share"),
            azimuth_settings=tuple(s for s in seconds if by_hand and s % plan.azimuth_every == 0),
            elevation_settings=tuple(s for s in seconds if by_hand and s % plan.elevation_every == 0),
            meal=design.meal,
        ),
        **changes,
    )


@pytest.mark.parametrize("meal", MEALS)
def test_it_says_what_simulate_says_of_the_same_hours(
    design: Design, day, place: Place, catalogue, meal
) -> None:
    """Every thermometer to 0.05 K, of a day whose light, air, wind and settings were read from its histories."""
    oven = replace(design, meal=MEALS[meal])
    record = recorded(oven, day, catalogue)
    model = CookModel(oven, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    found = model.temperatures({})
    assert model.sensors == ("food", "pot", "plate", "air_inside", "cover")
    assert len(model.kept) == 241
    for sensor in ("pot", "plate", "air_inside", "cover"):
        assert np.abs(found[sensor][0] - record.temperature(sensor)).max() < 0.05
    warming = slice(0, 120 if meal == "roast" else None)  # while its centre is the coldest part
    off = np.abs(found["food"][0] - record.temperature("food"))[warming]
    assert off.max() < 0.05
    assert record.temperature("food")[-1] > 350.0


def test_it_says_so_of_a_funnel_over_a_box_and_of_a_drive_that_nobody_sets(
    design: Design, day, place: Place, catalogue
) -> None:
    box = {"archetype": "funnel over box", "box_across": 0.4, "box_depth": 0.25, "panes": 2}
    drive = Drive(
        fin_height=0.05,
        cell_width=0.05,
        start_share=0.15,
        stop_share=0.05,
        speed=3e-3,
        elevation_every=1800.0,
    )
    oven = replace(design.with_factors(**box), aiming=drive)
    record = recorded(oven, day, catalogue)
    assert record.azimuth_settings == ()
    found = CookModel(oven, record, place=place, catalogue=catalogue, air=AIR, **HOW).temperatures({})
    for sensor in ("food", *NODES):
        assert np.abs(found[sensor][0] - record.temperature(sensor)).max() < 0.05


@pytest.mark.parametrize("reading", ["level", "facing the sun"])
def test_a_clear_day_may_be_read_on_any_plane(design: Design, day, place: Place, catalogue, reading) -> None:
    """From the global alone, on a day whose haze is that of the map: within a quarter of a kelvin after four hours."""
    record = recorded(design, day, catalogue)
    dni, dhi, sine = day.dni[0], day.dhi[0], day.to_sun[0, :, 2]
    ground = 0.2 * day.ghi[0] * (1 - sine) / 2
    read = {"level": day.ghi[0], "facing the sun": dni + dhi * (1 + sine) / 2 + ground}[reading]
    record = replace(record, irradiance=read, diffuse=None, plane=reading)
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    assert np.abs(model.temperatures({})["pot"][0] - record.temperature("pot")).max() < 0.25
    assert model.irradiance["dni"] == pytest.approx(dni, rel=0.01)


def test_rows_are_the_designs_they_stand_for(design: Design, day, place: Place, catalogue) -> None:
    """Every row alone, as its own design: light, fabric, meal, aiming and build; to the last bit."""
    record = recorded(design, day, catalogue, every=10)
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    columns = {
        "light_ratio": [1.0, 0.9, 1.1, 1.0],
        "loss_ratio": [1.0, 1.2, 0.8, 1.5],
        "coupling_ratio": [1.0, 0.5, 1.0, 2.0],
        "soiling": [0.0, 0.1, 0.2, 0.1],
        "fog": [0.0, 0.0, 0.1, 0.2],
        "insulation_thickness": [0.05, 0.03, 0.05, 0.02],
        "azimuth_bias": [0.0, 0.1, 0.0, -0.05],
        "food_mass": [0.5, 0.5, 0.6, 0.4],
        "pot_finish": ["matt-black-paint"] * 3 + [catalogue.names()["finishes"][-1]],
    }
    columns = {
        name: np.array(values, object if name == "pot_finish" else float) for name, values in columns.items()
    }
    together = model.temperatures(columns)
    for row in range(4):
        own = {
            name: values[row] if name == "pot_finish" else float(values[row])
            for name, values in columns.items()
        }
        meal = replace(design.meal, food_mass=own["food_mass"])
        alone = CookModel(
            design.with_factors(**own),
            replace(record, meal=meal),
            place=place,
            catalogue=catalogue,
            air=AIR,
            **HOW,
        )
        for sensor, found in alone.temperatures({}).items():
            assert np.abs(found[0] - together[sensor][row]).max() < 1e-9
    again = model.temperatures({name: values[1:2] for name, values in columns.items()})
    assert all((again[sensor][0] == together[sensor][1]).all() for sensor in model.sensors)


def test_light_is_traced_once(design: Design, day, place: Place, catalogue, monkeypatch) -> None:
    traced, asked = daylight.traced, []
    monkeypatch.setattr(
        daylight, "traced", lambda table, *a, **k: asked.append(table.rows) or traced(table, *a, **k)
    )
    record = recorded(design, day, catalogue, every=10)
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    assert asked == [1]
    for name, values in {
        "light_ratio": [0.8, 1.2],
        "loss_ratio": [0.8, 1.2],
        "coupling_ratio": [0.5, 2.0],
        "wind_share": [0.2, 1.0],
        "insulation_thickness": [0.02, 0.08],
        "leak_area": [0.0, 1e-3],
        "food_mass": [0.3, 0.6],
    }.items():
        model.temperatures({name: np.array(values)})
    assert asked == [1]
    model.temperatures({"soiling": np.array([0.1, 0.1, 0.2])})
    assert asked == [1, 2]
    model.temperatures({"soiling": np.array([0.2, 0.1]), "loss_ratio": np.array([1.0, 1.1])})
    assert asked == [1, 2]
    for name in ("fog", "beam_share", "azimuth_bias", "lead"):
        changed = model.temperatures({name: np.array([model.design.value(name), 0.4])})
        assert np.abs(changed["pot"][1] - changed["pot"][0]).max() > 0.5
    assert asked == [1, 2, 1, 1, 1, 1]


def test_ratios_pull_the_way_they_are_called(design: Design, day, place: Place, catalogue) -> None:
    record = recorded(design, day, catalogue, every=10)
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    columns = {
        "light_ratio": np.array([1.0, 1.1, 1.0, 1.0]),
        "loss_ratio": np.array([1.0, 1.0, 1.1, 1.0]),
        "coupling_ratio": np.array([1.0, 1.0, 1.0, 0.3]),
    }
    found = model.temperatures(columns)
    assert found["food"][1, 6] > found["food"][0, 6] + 1.0
    assert found["food"][2, 6] < found["food"][0, 6] - 0.1
    assert found["food"][3, 6] < found["food"][0, 6] - 1.0
    assert found["pot"][3, 6] > found["pot"][0, 6] + 1.0
    assert model.absorbed(columns)[1, :, 0] == pytest.approx(1.1 * model.absorbed()[0, :, 0], rel=1e-12)


def cooling(design: Design, warm: float, *, minutes: int = 240, **given) -> CookRecord:
    """A pot put aside hot, under air and wind that change; every part has a thermometer but wool and skin."""
    time = 60.0 * np.arange(minutes + 1)
    below = {"food": 0.0, "pot": 1.0, "plate": 30.0, "air_inside": 25.0, "cover": 45.0}
    usual = {
        "start": START,
        "temperatures": {sensor: np.full(len(time), warm - fall) for sensor, fall in below.items()},
        "air": 298.0 + 4 * np.sin(time / 5000.0),
        "wind": 2.0 + 1.5 * np.sin(time / 2300.0),
        "meal": design.meal,
    }
    return CookRecord(name="a cooling", time=time, **usual | given)


@pytest.mark.parametrize("meal", ["milk", "rice"])
def test_a_pot_in_the_dark_cools_as_in_the_slow_network(
    design: Design, place: Place, catalogue, meal, monkeypatch
) -> None:
    """Four hours from 85 degC by night against Radau on the network written out node by node."""
    oven = replace(design, meal=MEALS[meal])
    record = cooling(oven, 358.15, start=START.replace(hour=20))
    model = CookModel(oven, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    asked, real = [], lossy.run
    monkeypatch.setattr(lossy, "run", lambda *a, **k: asked.append((a, k)) or real(*a, **k))
    found = model.temperatures({})
    (build, weather, _, intake), how = asked[-1]
    assert intake.max() == 0.0
    slow = slow_night(naive.lane_of(build, 0), weather, how["oven_start"][0])
    for sensor, node in {"pot": Node.POT, "plate": Node.SHEET, "air_inside": Node.AIR}.items():
        # the air was put 7 K off its balance; it comes back within minutes, by 0.14 K another way
        off = np.abs(found[sensor][0] - slow[:, node])[10 if sensor == "air_inside" else 0 :]
        assert off.max() < 0.02
        assert found[sensor][0, 0] == record.temperature(sensor)[0]
    food = midst(build.solid_capacity[0], slow[:, 10], slow[:, :3])
    assert np.abs(found["food"][0] - food).max() < 0.02
    assert found["food"][0, 0] == pytest.approx(358.15)
    assert found["food"][0, -1] < 340.0


def slow_night(build, weather, oven_start: np.ndarray) -> np.ndarray:
    """Ten temperatures and the water, a row a minute. float64[minute, 11]"""
    minutes = 60.0 * np.arange(weather.air_temperature.shape[1])
    columns = dict(zip(("air", "sky", "wind", "pressure"), (column[0] for column in weather), strict=False))
    columns["vapour"] = weather.vapour_pressure[0]
    still = {"tilt": float(weather.tilt[0, 0]), "pot": 0.0, "sheet": 0.0, "cover": 0.0}

    def now(time: float):
        return naive.Now(**{n: float(np.interp(time, minutes, c)) for n, c in columns.items()}, **still)

    y = np.array([*[build.contents_start] * 3, *oven_start, build.water_mass])
    rows = [y]
    for begin in np.arange(0, minutes[-1], 1800.0):
        more, y, _, _ = naive.piece_rows(
            build, now, (begin, begin + 1800.0), y, naive.HEATING, 60.0, **naive.RADAU
        )
        rows.extend(more)
    return np.array(rows)


def midst(solid_capacity: float, water: np.ndarray, shells: np.ndarray) -> np.ndarray:
    """Mean of the contents by what each shell holds, by hand: the water lies in the outer one. float64[minute]"""
    third = np.full(len(water), solid_capacity / 3)
    held = np.column_stack([third + 4186.0 * water, third, third])
    return (held * shells).sum(axis=1) / held.sum(axis=1)


def test_a_cook_that_begins_hot_finds_an_oven_that_is_hot(
    design: Design, day, place: Place, catalogue
) -> None:
    """The rest of a cook from its fiftieth minute on, with a thermometer in the water alone."""
    how = {"place": place, "catalogue": catalogue, "air": AIR, "rays": 64, "seed": 3}
    oven = replace(design, meal=MEALS["water"])
    whole, late = (recorded(oven, day, catalogue, first=first, rays=64) for first in (0, 50))
    water = late.temperature("food")
    assert 330.0 < water[0] < 350.0
    alone = replace(late, temperatures={"food": water})
    found = CookModel(oven, alone, **how).temperatures({})["food"][0]
    assert found[0] == pytest.approx(water[0], abs=0.02)
    assert np.abs(found - water)[:60].max() < 1.0  # measured: 0.65; with an oven as cold as the air 3.9
    probes = CookModel(oven, late, **how).temperatures({})
    for sensor in NODES:
        assert probes[sensor][0, 0] == late.temperature(sensor)[0]
        apart = probes[sensor][0, -60:] - whole.temperature(sensor)[-60:]
        assert abs(apart.mean()) < 1.0  # each minute has other rays


def test_a_cold_pot_finds_an_oven_as_cold_as_the_air(design: Design, day, place: Place, catalogue) -> None:
    """Ten kelvin above the air is no sign of work done; a sheet that is hot has its wool half as hot."""
    record = recorded(design, day, catalogue)
    air = record.weather("air")[0]
    mild = replace(record, temperatures={"food": np.full(241, air + 10.0), "cover": np.full(241, air + 5.0)})
    model = CookModel(design, mild, place=place, catalogue=catalogue, air=AIR, **HOW)
    assert model.temperatures({})["food"][0, 0] == pytest.approx(air + 10.0)
    probed = replace(mild, temperatures={"food": np.full(241, air), "plate": np.full(241, air + 60.0)})
    build = model._maker.design.build
    weather, lane = model._weather(np.ones(1), np.zeros((1, 240)))
    felt = model._at_first(weather, lane, np.zeros((1, 240, 3)), np.ones(1))
    cold, warm = (oven_start(one, build, felt)[0] - felt.air for one in (mild, probed))
    assert cold.tolist() == pytest.approx([0, 0, 0, 0, 0, 5.0, 5.0], abs=0.02)
    assert warm.tolist() == pytest.approx([0, 0, 60.0, 30.0, 0, 0, 0], abs=0.02)


def test_a_pot_put_in_late_is_followed_from_its_first_reading(
    design: Design, day, place: Place, catalogue
) -> None:
    """What is read of the empty oven before is not predicted, the rest as if the cook began there."""
    whole = recorded(design, day, catalogue)
    food = whole.temperature("food").copy()
    food[:50] = np.nan
    late = replace(whole, temperatures=dict(whole.temperatures) | {"food": food})
    model = CookModel(design, late, place=place, catalogue=catalogue, air=AIR, **HOW)
    assert model.kept.tolist() == list(range(50, 241))
    found = model.temperatures({})
    assert np.isnan(found["pot"][0, :50]).all()
    assert found["food"][0, 50] == pytest.approx(food[50], abs=0.02)
    cut = {name: whole.temperature(name)[50:] for name in whole.temperatures}
    weather = {name: whole.weather(name)[50:] for name in ("air", "irradiance", "diffuse", "wind")}
    begun = replace(whole, time=whole.instants[50:], temperatures=cut, **weather)
    again = CookModel(design, begun, place=place, catalogue=catalogue, air=AIR, **HOW).temperatures({})
    for sensor in model.sensors:
        assert again[sensor][0] == pytest.approx(
            found[sensor][0, 50:], abs=0.02
        )  # other half minutes at its start


def test_a_row_that_is_no_number_stays_blank(design: Design, day, place: Place, catalogue) -> None:
    record = recorded(design, day, catalogue, every=10)
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    found = model.temperatures({"loss_ratio": np.array([1.0, np.nan, 1.2])})
    assert np.isfinite(found["pot"][[0, 2]]).all()
    assert np.isnan(found["pot"][1]).all()


def test_a_board_keeps_the_beam_out_and_the_sky_from_the_cover(
    design: Design, day, place: Place, catalogue
) -> None:
    record = recorded(design, day, catalogue, shaded=((3600.0, 5400.0),))
    model = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, albedo=0.0, **HOW)
    bare = CookModel(
        design, replace(record, shaded=()), place=place, catalogue=catalogue, air=AIR, albedo=0.0, **HOW
    )
    grey = replace(record, shaded=(), irradiance=0.0 * day.dni[0])
    diffuse = CookModel(
        design, grey, place=place, catalogue=catalogue, air=AIR, albedo=0.0, **HOW
    ).absorbed()[0]
    watts, open_watts = model.absorbed()[0], bare.absorbed()[0]
    assert watts[60:90] == pytest.approx(daylight.SHADED_DIFFUSE * diffuse[60:90], rel=1e-9)
    assert 0 < watts[60:90, 0].max() < 0.01 * open_watts[60:90, 0].min()
    assert (watts[:60] == open_watts[:60]).all()
    assert (watts[90:] == open_watts[90:]).all()
    weather, _ = model._weather(np.array([1.0]), np.zeros((1, 240)))
    assert weather.sky_temperature[0, 61:90] == pytest.approx(day.air_temperature[0, 61:90])
    assert weather.sky_temperature[0, 100:] == pytest.approx(day.sky_temperature[0, 100:], abs=0.01)
    cooled = model.temperatures({})["pot"][0]
    assert cooled[90] < cooled[60] - 5.0


def test_readings_between_minutes_and_in_gaps(design: Design, day, place: Place, catalogue) -> None:
    every_minute = recorded(design, day, catalogue)
    model = CookModel(design, every_minute, place=place, catalogue=catalogue, air=AIR, **HOW)
    fine = model.temperatures({})["pot"][0]
    time = np.sort(np.random.default_rng(5).uniform(0, 14400, 200))
    time[0] = 0.0

    def at(values):
        return np.interp(time, every_minute.instants, values)

    light = at(every_minute.weather("irradiance"))
    light[80:101] = np.nan
    own = replace(
        every_minute,
        time=time,
        temperatures={"pot": at(fine), "food": at(every_minute.temperature("food"))},
        irradiance=light,
        **{name: at(every_minute.weather(name)) for name in ("air", "diffuse", "wind")},
    )
    sparse = CookModel(design, own, place=place, catalogue=catalogue, air=AIR, **HOW)
    found = sparse.temperatures({})["pot"][0]
    kept = np.zeros(200, bool)
    kept[sparse.kept] = True
    assert not kept[80:101].any()
    assert kept.sum() >= 170
    assert np.isnan(found[~kept]).all()
    assert (
        np.abs(found - at(fine))[kept].max() < 1.5
    )  # a straight line over an hour of light, and another start
    assert any(note.startswith("irradiance: no reading for") for note in sparse.notes)


def test_an_empty_pot_gets_as_hot_as_its_plateau(design: Design, day, place: Place, catalogue) -> None:
    """No meal and no thermometer in the food: against the dry plateau that `simulate` finds under its sunniest hour."""
    record = recorded(design, day, catalogue, meal=None)
    bare = {name: record.temperature(name) for name in ("pot", "plate")}
    model = CookModel(
        design, replace(record, temperatures=bare), place=place, catalogue=catalogue, air=AIR, **HOW
    )
    found = model.temperatures({})["pot"][0]
    assert found.max() > record.temperature("pot").max() + 30.0
    still = simulate(design, day, catalogue=catalogue, evening=False, **HOW)
    hourly = np.convolve(found, np.full(60, 1 / 60), "valid")
    assert hourly.max() == pytest.approx(float(still["plateau_temperature"][0]), abs=3.0)
    with_food = CookModel(
        design, record, place=place, catalogue=catalogue, air=AIR, **HOW
    )  # then its own meal is in it
    assert with_food.temperatures({})["pot"][0].max() < found.max() - 30.0


def test_the_wind_that_was_read_blows_at_the_oven(design: Design, day, place: Place, catalogue) -> None:
    record = recorded(design, day, catalogue)
    read = CookModel(design, record, place=place, catalogue=catalogue, air=AIR, **HOW)
    assert read.design.value("wind_share") == 1.0
    unread = CookModel(design, replace(record, wind=None), place=place, catalogue=catalogue, air=AIR, **HOW)
    assert unread.design.value("wind_share") == design.value("wind_share")
    same = np.abs(unread.temperatures({})["cover"][0] - read.temperatures({})["cover"][0])
    assert same.max() < 0.05  # the air's own wind, of which it takes its share


def test_what_cannot_be_is_refused_or_left_blank(design: Design, day, place: Place, catalogue) -> None:
    record = recorded(design, day, catalogue, every=10)
    how = {"place": place, "catalogue": catalogue, "air": AIR, **HOW}
    model = CookModel(design, record, **how)
    with pytest.raises(
        DescriptionError, match=r"light_ration: no factor of this design; did you mean light_ratio\?"
    ):
        model.temperatures({"light_ration": np.ones(2)})
    with pytest.raises(
        DescriptionError, match=r"light_ratio \(2,\), fog \(3,\): give each one value for every row"
    ):
        model.temperatures({"light_ratio": np.ones(2), "fog": np.zeros(3)})
    found = model.temperatures(
        {"pot_height": np.array([0.14, 0.26, 0.14]), "food_mass": np.array([0.5, 0.5, 9.0])}
    )
    assert np.isfinite(found["food"][0]).all()
    assert np.isnan(found["food"][1:]).all()
    with pytest.raises(DescriptionError, match="a cook: "):
        CookModel(
            replace(design, meal=replace(design.meal, food_mass=9.0)), replace(record, meal=None), **how
        )


def test_an_oven_as_built_is_where_it_starts_from(design: Design, day, place: Place, catalogue) -> None:
    """Ratios that the design carries already are not taken twice."""
    record = recorded(design, day, catalogue, every=10)
    how = {"place": place, "catalogue": catalogue, "air": AIR, **HOW}
    built = CookModel(
        replace(design, as_built=AsBuilt(light_ratio=0.9, loss_ratio=1.2, coupling_ratio=0.6)), record, **how
    )
    plain = CookModel(design, record, **how)
    ratios = {
        "light_ratio": np.array([0.9]),
        "loss_ratio": np.array([1.2]),
        "coupling_ratio": np.array([0.6]),
    }
    for sensor, found in built.temperatures({}).items():
        assert found == pytest.approx(plain.temperatures(ratios)[sensor], abs=1e-9)
    back = built.temperatures({name: np.ones(1) for name in ratios})
    assert back["food"] == pytest.approx(plain.temperatures({})["food"], abs=1e-9)
