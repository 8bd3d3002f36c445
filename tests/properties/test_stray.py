"""Light thrown back: plane mirrors and roof mirrors give one sun, a pot in the way takes its part."""

import math

import numpy as np
import pytest

from noonhearth.model import Design, Sky, load_catalogue, stray_of_day
from noonhearth.model.light import Optics, funnel
from noonhearth.model.stray import PLAIN, Stray, stray_light

AXIS = [0.0, 0.0, 1.0]


def open_funnel(facet_angle: float, **changes: float) -> Optics:
    """A grain of a pot in a square metre's funnel."""
    shape = {
        "facets": 4,
        "mouth": 1.0,
        "depth": 0.49,
        "pot_radius": 1e-4,
        "pot_height": 1e-4,
        "pot_centre": 0.2,
    }
    return funnel(facet_angle=facet_angle, **(shape | changes))  # type: ignore[arg-type]


def test_a_plane_mirror_gives_plain_sun_at_every_distance() -> None:
    """Conservation of radiance: a flat mirror cannot concentrate."""
    found = stray_light(open_funnel(0.0, depth=0.03, pot_centre=0.015), to_sun=AXIS, pot_up=AXIS)
    assert found.returned == pytest.approx(1.0)
    assert (found.concentration > 0.9).all()
    assert (found.concentration < PLAIN).all()
    assert found.plain_beyond == found.distance[0]


def test_a_roof_of_mirrors_sends_the_sun_back() -> None:
    """Two mirrors at a right angle send light back where it came from (Euclid); the dark plate keeps its part."""
    roof = open_funnel(math.radians(45), plate_reflectance=0.0)
    found = stray_light(roof, to_sun=AXIS, pot_up=AXIS)
    assert found.returned == pytest.approx(1.0 - 0.02**2, abs=2e-3)
    assert (found.concentration < PLAIN).all()


def test_slanting_walls_bring_light_together_somewhere() -> None:
    """A steep eight-sided funnel over a bright plate is a rough concave mirror: more than one sun near its axis."""
    shape = {"facets": 8, "mouth": 0.6, "depth": 0.3, "facet_angle": math.radians(20)}
    found = stray_light(
        funnel(**shape, pot_radius=1e-4, pot_height=1e-4, pot_centre=0.1),  # type: ignore[arg-type]
        to_sun=[0.0, math.sin(0.2), math.cos(0.2)],
        pot_up=AXIS,
    )
    assert found.strongest > 1.5


def test_a_pot_takes_light_out_of_the_way() -> None:
    shape = {"facets": 8, "mouth": 0.6, "depth": 0.3, "facet_angle": math.radians(30)}
    grain, pot = (
        stray_light(
            funnel(**shape, pot_radius=radius, pot_height=0.1, pot_centre=0.12),  # type: ignore[arg-type]
            to_sun=AXIS,
            pot_up=AXIS,
        )
        for radius in (1e-3, 0.1)
    )
    assert pot.returned < 0.7 * grain.returned


def test_cut_into_tiers_a_funnel_throws_back_the_same() -> None:
    """A narrow shaft of perfect mirrors under slanting light: many bounces, and openings that count as corners."""
    off, psi, levels = math.radians(35), math.radians(3), np.array([1.6, 1.1, 0.6, 0.0])
    whole = open_funnel(psi, mouth=0.3, depth=1.6)
    across = 0.3 - 2 * (1.6 - levels) * math.tan(psi)
    cut = whole._replace(
        facet_count=np.array([4, 4, 4]),
        top_across=across[:-1],
        bottom_across=across[1:],
        top_height=levels[:-1],
        bottom_height=levels[1:],
        wall_reflectance=np.ones(3),
        wall_slope_error=np.zeros(3),
    )
    sun = [0.0, math.sin(off), math.cos(off)]
    one, three = (stray_light(oven, to_sun=sun, pot_up=AXIS) for oven in (whole, cut))
    assert one.returned > 0.99
    assert three.returned == pytest.approx(one.returned, abs=1e-3)
    assert three.concentration == pytest.approx(one.concentration, abs=0.12)  # counts of a few hundred rays


def test_where_it_ends() -> None:
    distance = np.array([1.0, 2.0, 3.0])
    assert Stray(distance, np.array([2.0, 1.5, 1.0]), 0.5).plain_beyond == 3.0
    assert math.isnan(Stray(distance, np.array([1.0, 1.0, 1.5]), 0.5).plain_beyond)
    assert Stray(distance, np.array([1.0, 1.0, 1.0]), 0.5).plain_beyond == 1.0


def test_a_day_keeps_its_strongest(design: Design, sky: Sky) -> None:
    found = stray_of_day(design, sky, 0, catalogue=load_catalogue(), every=90)
    assert 0.2 < found.returned < 1.0
    assert found.strongest > 0.5
