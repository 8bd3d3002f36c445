"""The whole model compiled and as plain Python: the same numbers, but for the last bits of powers and roots.

Run with compilation off (`NUMBA_DISABLE_JIT=1`) the other way round, this is what shows coverage every kernel's lines;
the ovens are therefore few, their rays fewer and their day a quarter of an hour, but every branch is taken by one.
"""

import datetime
import json
import math
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numba
import numpy as np
import pytest

from noonhearth.model import (
    Air,
    Box,
    ByHand,
    Cover,
    Design,
    Drive,
    Fixed,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Place,
    Pot,
    Sky,
    clear_sky,
    load_catalogue,
    off_axis_light,
    simulate,
    stray,
    sunlight,
)
from noonhearth.model.food import cook_value, time_between

DEG = math.pi / 180
RAYS = 2
FEW = 16  # rays for domes, exchange and stray light


def short_sky() -> Sky:
    """A quarter of an hour at noon, and one early in the morning with the sun behind the mouth for a while."""
    place = Place(latitude=14 * DEG, longitude=-2 * DEG, altitude=300.0, timezone="UTC", name="yard")
    air = Air(low=293.15, high=306.15, dew_point=280.15, wind_speed=2.0)
    return clear_sky(
        place, start=datetime.time(12), stop=datetime.time(12, 15), air=air, months=[1, 4], turbidity=3.0
    )


def ovens() -> Iterator[Design]:
    """One of every kind: panes, archetypes, back plates, aimings, wet and dry and solid food."""
    usual = Oven(
        funnel=Funnel(mouth=0.60, depth=0.30, facet_angle=30 * DEG, mirror="anodised-sheet"),
        cover=Cover(cover="tempered-glass", cover_thickness=0.0032),
        jacket=Jacket(insulation="mineral-wool", insulation_thickness=0.05, skin="plywood"),
        pot=Pot(
            pot_metal="steel",
            pot_finish="matt-black-paint",
            pot_diameter=0.18,
            pot_height=0.14,
            pot_wall=0.001,
            pot_lift=0.05,
        ),
    )
    by_hand = ByHand(azimuth_every=300.0, elevation_every=600.0)
    rice = Design(oven=usual, aiming=by_hand, meal=Meal(food="rice", food_mass=0.5))
    yield rice
    yield rice.with_factors(food="water", food_mass=0.02, start_temperature=343.0)
    yield rice.with_factors(panes=2, slope_error=0.01, fog=0.1, food="chicken", food_mass=0.8)
    yield rice.with_factors(back_plate="dark", facets=5, soiling=0.3, pot_finish="bare-stainless")
    boxed = replace(
        usual,
        box=Box(archetype="funnel over box", box_across=0.32, box_depth=0.26),
        pot=replace(usual.pot, pot_lift=0.07, pot_diameter=0.16, pot_height=0.12),
    )
    yield replace(rice, oven=boxed, meal=Meal(food="rice", food_mass=0.3))
    yield replace(
        rice,
        oven=replace(boxed, box=replace(boxed.box, box_lining="mirror")),
        meal=Meal(food="rice", food_mass=0.3),
    )
    yield replace(rice, aiming=Fixed(fixed_azimuth=170 * DEG, fixed_elevation=15 * DEG))
    drive = Drive(
        fin_height=0.3,
        cell_width=0.02,
        start_share=0.2,
        stop_share=0.1,
        speed=2e-3,
        elevation_every=600.0,
        morning_azimuth=170 * DEG,
    )
    yield replace(rice, aiming=drive)


def with_few_rays() -> None:
    """Domes, exchange and stray light from a handful of rays: alike in both, and quick as plain Python."""
    sunlight.DOME_RAYS = sunlight.EXCHANGE_RAYS = stray.RAYS = FEW


def told() -> dict[str, list[float]]:
    """Every number of every oven, and of what stands beside `simulate`, as plain lists."""
    sky, catalogue = short_sky(), load_catalogue()
    numbers: dict[str, Any] = {}
    for k, design in enumerate(ovens()):
        run = simulate(design, sky, rays=RAYS, histories=True)
        assert (run["status"] == 0).all(), (k, run["status"].values)
        for name in ("temperature", "food_temperature", "water", "beam_ends", "aim_azimuth", "steam_heat"):
            numbers[f"{k} {name}"] = run[name].to_numpy()
        numbers[f"{k} plateau"] = run["plateau_temperature"].to_numpy()
    first = next(ovens())
    numbers["off axis"] = off_axis_light(
        first, 1.0, catalogue=catalogue, angles=np.array([0.0, 0.2]), rays=RAYS
    ).kept
    numbers["stray"] = stray.stray_of_day(first, sky, 0, catalogue=catalogue).concentration
    ramp = np.linspace(280.0, 372.0, 30)
    numbers["cook value"] = cook_value(ramp, step=60.0)
    numbers["lukewarm"] = [time_between(ramp, step=60.0).total]
    return {name: np.asarray(value, float).ravel().tolist() for name, value in numbers.items()}


OTHER = """
import importlib.util, json, sys, warnings
warnings.simplefilter("ignore")
spec = importlib.util.spec_from_file_location("plain", sys.argv[1])
plain = sys.modules["plain"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(plain)
plain.with_few_rays()
print(json.dumps(plain.told()))
"""


def test_compiled_and_plain_give_the_same_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name in ((sunlight, "DOME_RAYS"), (sunlight, "EXCHANGE_RAYS"), (stray, "RAYS")):
        monkeypatch.setattr(module, name, FEW)
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
