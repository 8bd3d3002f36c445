"""The whole model compiled and as plain Python: the same numbers, but for the last bits of powers and roots.

Run with compilation off (`NUMBA_DISABLE_JIT=1`) the other way round, this is what shows coverage every kernel's lines;
the ovens are therefore few, their rays fewer and their day eight minutes, but every kind of oven is among them.
"""

import datetime
import json
import math
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from noonhearth.model import (
    Air,
    Box,
    ByHand,
    CookModel,
    CookRecord,
    Cover,
    Design,
    Drive,
    DriveTrain,
    Fixed,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Place,
    Pot,
    Sight,
    Sky,
    assess_aiming,
    clear_sky,
    flows_of_day,
    load_catalogue,
    off_axis_light,
    prepare,
    section_of_day,
    simulate,
    stray,
    sunlight,
    timetable,
)
from noonhearth.model.aiming_loss import optics_of_design
from noonhearth.model.light import Optics, angles, beam_shares_of_many
from noonhearth.model.prepare import heat_and_food

Floats = NDArray[np.float64]

DEG = math.pi / 180
RAYS = 2
FEW = 8  # rays where the model takes hundreds: for domes, exchange, stray light, and off the axis


def short_sky() -> Sky:
    """Eight minutes at noon."""
    place = Place(latitude=14 * DEG, longitude=-2 * DEG, altitude=300.0, timezone="UTC", name="yard")
    air = Air(low=293.15, high=306.15, dew_point=280.15, wind_speed=2.0)
    noon = {"start": datetime.time(12), "stop": datetime.time(12, 8)}
    return clear_sky(place, **noon, air=air, months=[4], turbidity=3.0)


def ovens() -> Iterator[Design]:
    """One of every kind: panes, archetypes, tiers, back plates, aimings, wet and solid food."""
    usual = Oven(
        funnel=Funnel(mouth=0.60, depth=0.30, facet_angle=30 * DEG, mirror="anodised-sheet"),
        cover=Cover(cover="tempered-glass", cover_thickness=0.0032),
        jacket=Jacket(insulation="mineral-wool", insulation_thickness=0.05, skin="plywood"),
        pot=Pot(
            pot_metal="steel",
            pot_finish="matt-black-paint",
            pot_diameter=0.16,
            pot_height=0.12,
            pot_wall=0.001,
            pot_lift=0.07,
        ),
    )
    by_hand = ByHand(azimuth_every=120.0, elevation_every=240.0)
    rice = Design(oven=usual, aiming=by_hand, meal=Meal(food="rice", food_mass=0.3))
    yield rice
    yield rice.with_factors(panes=2, slope_error=0.01, fog=0.1, food="chicken", tiers=2, second_bend=-8 * DEG)
    yield rice.with_factors(back_plate="dark", facets=5, facet_angle=20 * DEG, tiers=2, second_bend=10 * DEG)
    boxed = replace(usual, box=Box(archetype="funnel over box", box_across=0.32, box_depth=0.26))
    left = Fixed(fixed_azimuth=170 * DEG, fixed_elevation=15 * DEG)
    yield replace(rice, oven=replace(boxed, box=replace(boxed.box, box_lining="mirror")), aiming=left)
    drive = Drive(
        fin_height=0.3,
        cell_width=0.02,
        start_share=0.2,
        stop_share=0.1,
        speed=2e-3,
        elevation_every=240.0,
        morning_azimuth=120 * DEG,
    )
    yield replace(rice, aiming=drive)


def with_few_rays(set_item: Callable[[Any, str, Any], None]) -> None:
    """A handful of rays where the model takes hundreds: alike in both, and quick as plain Python."""
    for name in ("DOME_RAYS", "GROUND_RAYS", "EXCHANGE_RAYS"):
        set_item(vars(sunlight), name, FEW)
    set_item(vars(angles), "NODE_RAYS", 1)
    set_item(stray.stray_light.__kwdefaults__, "rays", FEW)
    set_item(off_axis_light.__kwdefaults__, "rays", FEW)
    set_item(off_axis_light.__kwdefaults__, "angles", np.array([0.0, 0.2]))


def near_the_axis(optics: Optics) -> Floats:
    """Shares of rows that share their angles: so many that they are read from a table, but for one behind the mouth."""
    off = np.linspace(-0.02, 0.02, 200)
    suns = np.stack([off[::-1], off, np.sqrt(1 - 2 * off**2)], axis=1)
    suns[0] = [0.0, 0.6, -0.8]
    ups = np.tile([0.0, math.sin(0.4), math.cos(0.4)], (200, 1))
    return beam_shares_of_many(optics, to_sun=suns, pot_up=ups, rays=1)


def books(design: Design, sky: Sky) -> dict[str, Any]:
    """Where light and heat go, and the ways of rays through the oven."""
    catalogue = load_catalogue()
    flows = flows_of_day(design, sky, 0, catalogue=catalogue, rays=RAYS)
    section = section_of_day(design, sky, 0, catalogue=catalogue)
    return {name: one[name] for one in (flows, section) for name in one if one[name].dtype == float}


def cook(design: Design, sky: Sky) -> Floats:
    """What thermometers of a measured cook would read in ovens as built: described, worse, and with a duller mirror."""
    time = 60.0 * np.arange(9)
    read = {"food": np.full(9, 300.0), "pot": np.full(9, 305.0), "cover": np.full(9, 299.0)}
    record = CookRecord(
        name="short",
        start=sky.times[0, 0].astype("datetime64[s]").item().replace(tzinfo=datetime.UTC),
        time=time,
        temperatures=read,
        air=np.full(9, 298.0),
        irradiance=np.asarray(sky.dni[0]),
        plane="beam",
        azimuth_settings=(120.0,),
        shaded=((300.0, 400.0),),
        meal=design.meal,
    )
    model = CookModel(design, record, place=sky.place, catalogue=load_catalogue(), rays=RAYS)
    said = model.temperatures(
        {"loss_ratio": np.array([1.0, 1.3, 1.0]), "soiling": np.array([0.02, 0.02, 0.3])}
    )
    return np.concatenate([rows.ravel() for rows in said.values()])


def told() -> dict[str, list[float]]:
    """Every number of every oven, and of what stands beside `simulate`, as plain lists."""
    sky, catalogue = short_sky(), load_catalogue()
    numbers: dict[str, Any] = {}
    for k, design in enumerate(ovens()):
        run = simulate(design, sky, rays=RAYS, histories=True)
        assert (run["status"] == 0).all(), (k, run["status"].values)
        for name in ("temperature", "food_temperature", "water", "beam_ends", "aim_azimuth", "steam_heat"):
            numbers[f"{k} {name}"] = run[name]
        numbers[f"{k} plateau"] = run["plateau_temperature"]
    first, *_, driven = ovens()
    train = DriveTrain(wheel_radius=0.006, base_radius=0.3, motor_speed=0.1)
    how: dict[str, Any] = {"sight": Sight(post_height=0.1), "centred_within": 3e-3, "train": train}
    kept = assess_aiming(driven, sky, cloud=120.0, intervals=[240.0], rays=RAYS, **how)
    numbers |= {name: kept[name] for name in ("off_axis_kept", "interval_kept", "kept_fast", "wheel_needed")}
    numbers["start to done"] = timetable(first, sky, every=5, rays=RAYS)["done_by_start"]
    numbers["stray"] = stray.stray_of_day(first, sky, 0, catalogue=catalogue).concentration
    numbers |= {f"books {name}": values for name, values in books(first, sky).items()}
    numbers["cook"] = cook(first, sky)
    numbers["table of angles"] = near_the_axis(optics_of_design(first, catalogue))
    prepare(first, sky, catalogue=catalogue)
    heat_and_food()
    return {name: np.asarray(value, float).ravel().tolist() for name, value in numbers.items()}


OTHER = """
import importlib.util, json, sys, warnings
warnings.simplefilter("ignore")
spec = importlib.util.spec_from_file_location("plain", sys.argv[1])
plain = sys.modules["plain"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(plain)
plain.with_few_rays(lambda where, name, value: where.__setitem__(name, value))
print(json.dumps(plain.told()))
"""


def test_compiled_and_plain_give_the_same_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    with_few_rays(monkeypatch.setitem)
    here = told()
    other = {"NUMBA_DISABLE_JIT": "0" if numba.config.DISABLE_JIT else "1"}
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COV_CORE")}
    outcome = subprocess.run(
        [sys.executable, "-c", OTHER, __file__],
        env=environment | other,
        capture_output=True,
        text=True,
        check=False,
    )
    assert outcome.returncode == 0, outcome.stderr
    there = json.loads(outcome.stdout)
    assert here.keys() == there.keys()
    for name, values in here.items():
        # a ray that meets an edge to the last bit may take the other side: that would show at 1e-2
        assert values == pytest.approx(there[name], rel=1e-8, abs=1e-9, nan_ok=True), name
