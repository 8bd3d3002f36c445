"""A small oven under a short sky, shared by the tests of the whole model. Invented, like every demo."""

import datetime
import math
from pathlib import Path

import numba
import pytest

from noonhearth.model import (
    Air,
    ByHand,
    Cover,
    Design,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Place,
    Pot,
    Sky,
    clear_sky,
)

DEG = math.pi / 180
TESTS = Path(__file__).parent

# Too slow as plain Python: many rays or many minutes. `test_plain_python.py` goes through the same kernels instead.
COMPILED = {
    "published": {
        *(
            "test_front_benchmarks",
            "test_funnel_closed_forms",
            "test_measured_cookers",
            "test_troughs_of_tiers",
        ),
        "test_view_factors",
    },
    "properties": {
        *("test_aiming_loss", "test_evening", "test_heat", "test_light", "test_prepare", "test_simulate"),
        *("test_stray", "test_tiers", "test_timetable"),
    },
    "twins": {
        *(
            "test_angles",
            "test_evening_twin",
            "test_heat_against_radau",
            "test_light_twin",
            "test_mesh_trace",
        ),
    },
}


def pytest_configure(config: pytest.Config) -> None:
    """With compilation off, numpy's scalars warn of what kernels mean: counters that wrap, "never" as 1/0."""
    if numba.config.DISABLE_JIT:
        config.addinivalue_line("filterwarnings", "ignore:.*encountered in scalar:RuntimeWarning")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With compilation off, leave out the tests that need compiled kernels, by file or marked one by one."""
    if not numba.config.DISABLE_JIT:
        return
    slow = [item for item in items if _needs_a_compiler(item)]
    config.hook.pytest_deselected(items=slow)
    items[:] = [item for item in items if item not in set(slow)]


def _needs_a_compiler(item: pytest.Item) -> bool:
    if item.get_closest_marker("plain"):
        return False
    folder = item.path.relative_to(TESTS).parts[0]
    return item.path.stem in COMPILED.get(folder, set()) or item.get_closest_marker("compiled") is not None


@pytest.fixture(scope="session")
def place() -> Place:
    return Place(latitude=14 * DEG, longitude=-2 * DEG, altitude=300.0, timezone="UTC", name="test yard")


@pytest.fixture(scope="session")
def sky(place: Place) -> Sky:
    """Two clear days, three hours round noon."""
    air = Air(low=293.15, high=306.15, dew_point=280.15, wind_speed=2.0)
    return clear_sky(place, start=datetime.time(10), stop=datetime.time(13), air=air, months=[1, 4])


@pytest.fixture(scope="session")
def design() -> Design:
    """Half a kilogram of rice in an eight-sided funnel."""
    oven = Oven(
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
    aiming = ByHand(azimuth_every=1200.0, elevation_every=3600.0)
    return Design(oven=oven, aiming=aiming, meal=Meal(food="rice", food_mass=0.5))
