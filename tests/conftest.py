"""A small oven under a short sky, shared by the tests of the whole model. Invented, like every demo."""

import datetime
import math

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
