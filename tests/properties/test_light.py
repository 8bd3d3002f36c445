"""What must hold of any oven in any light."""

import math
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import qmc

from noonhearth.model.light import (
    Optics,
    Surface,
    beam_shares,
    cavity,
    clearance,
    dome_shares,
    exchange_areas,
    funnel,
    mouth_area,
    plate_area,
    slant_height,
    stack,
    walk,
    wall_area,
)
from noonhearth.model.light.facets import opening_area, polygon_area
from noonhearth.model.light.sampling import gaussian, points, sample, sobol_points
from noonhearth.model.light.vectors import tangents

AXIS = np.array([[0.0, 0.0, 1.0]])
POT = [Surface.LID, Surface.SIDE, Surface.BOTTOM]


def direction(tilt: float, azimuth: float) -> list[list[float]]:
    """Row with a unit vector leaning from the optical axis towards an azimuth."""
    return [[math.sin(tilt) * math.sin(azimuth), math.sin(tilt) * math.cos(azimuth), math.cos(tilt)]]


def oven(**changes: Any) -> Optics:
    settings = {
        "facets": 8,
        "mouth": 0.6,
        "depth": 0.3,
        "facet_angle": 0.45,
        "wall_reflectance": 0.88,
        "wall_slope_error": 0.003,
        "plate_reflectance": 0.85,
        "plate_slope_error": 0.003,
        "cover_panes": 1,
        "cover_extinction_length": 0.0125,
        "pot_radius": 0.09,
        "pot_height": 0.10,
        "pot_centre": 0.12,
        "pot_absorptance": 0.93,
        **changes,
    }
    return funnel(**settings)


def tiers(**changes: Any) -> Optics:
    settings = {
        "facets": [8, 6],
        "across": [(0.9, 0.45), (0.5, 0.5)],
        "heights": [0.6, 0.25, 0.0],
        "wall_reflectance": [0.88, 0.8],
        "wall_slope_error": [0.003, 0.01],
        "plate_reflectance": 0.8,
        "plate_slope_error": 0.01,
        "cover_interface": 1,
        "cover_index": 1.491,
        "cover_extinction_length": 0.02,
        "cover_panes": 2,
        "pot_radius": 0.09,
        "pot_height": 0.10,
        "pot_centre": 0.12,
        "pot_absorptance": 0.9,
        "sun_half_angle": 0.00465,
        **changes,
    }
    return stack(**settings)


ovens = st.builds(
    oven,
    facets=st.integers(3, 24),
    depth=st.floats(0.2, 0.5),
    facet_angle=st.floats(-0.1, 0.5),
    wall_reflectance=st.floats(0.0, 1.0),
    wall_slope_error=st.floats(0.0, 0.05),
    plate_reflectance=st.floats(0.0, 1.0),
    cover_panes=st.integers(0, 2),
    pot_absorptance=st.floats(0.0, 1.0),
    pot_radius=st.floats(0.02, 0.08),
)
azimuths = st.floats(0.0, 2.0 * math.pi)


@settings(max_examples=60, deadline=None)
@given(optics=ovens, off=st.floats(0.0, 1.5), tilt=st.floats(0.0, 1.2), toward=azimuths, lean=azimuths)
def test_shares_add_up(optics: Optics, off: float, tilt: float, toward: float, lean: float) -> None:
    ups = direction(tilt, lean)
    for shares in (
        beam_shares(optics, to_sun=direction(off, toward), pot_up=ups, rays=256),
        *dome_shares(optics, pot_up=ups, rays=256),
    ):
        assert shares.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
        assert shares.min() >= -1e-15


@settings(max_examples=25, deadline=None)
@given(
    facets=st.integers(3, 16),
    off=st.floats(0.0, 0.6),
    tilt=st.floats(0.0, 0.8),
    toward=azimuths,
    k=st.integers(1, 15),
)
def test_turning_by_a_facet_changes_nothing(
    facets: int, off: float, tilt: float, toward: float, k: int
) -> None:
    turn = 2.0 * math.pi * k / facets
    shares = [
        beam_shares(
            oven(facets=facets), to_sun=direction(off, toward + a), pot_up=direction(tilt, a), rays=1 << 14
        )[0]
        for a in (0.0, turn)
    ]
    assert shares[0] == pytest.approx(shares[1], abs=8e-3)  # 2^14 rays, two standard errors of random ones


@settings(max_examples=25, deadline=None)
@given(facets=st.integers(3, 16), off=st.floats(0.0, 0.6), tilt=st.floats(0.0, 0.8), toward=azimuths)
def test_left_is_right(facets: int, off: float, tilt: float, toward: float) -> None:
    shares = [
        beam_shares(oven(facets=facets), to_sun=direction(off, a), pot_up=direction(tilt, 0.0), rays=1 << 14)[
            0
        ]
        for a in (toward, -toward)
    ]
    assert shares[0] == pytest.approx(shares[1], abs=8e-3)


def test_turned_by_a_fraction_of_a_facet_it_does_change() -> None:
    """The symmetry tests can fail: half a facet off, the shares differ."""
    shares = [
        beam_shares(oven(facets=4), to_sun=direction(0.3, a), pot_up=direction(0.3, a), rays=1 << 14)[0]
        for a in (0.0, math.pi / 4)
    ]
    assert np.abs(shares[0] - shares[1]).max() > 0.02


@settings(max_examples=25, deadline=None)
@given(optics=ovens, low=st.floats(0.0, 0.9), step=st.floats(0.05, 0.1), off=st.floats(0.0, 0.4))
def test_brighter_walls_never_darken_the_pot(optics: Optics, low: float, step: float, off: float) -> None:
    pot = [
        beam_shares(
            optics._replace(wall_reflectance=np.array([rho]), pot_absorptance=1.0),
            to_sun=direction(off, 1.0),
            pot_up=direction(0.5, 0.0),
            rays=1 << 13,
        )[0, POT].sum()
        for rho in (low, low + step)
    ]
    assert pot[1] >= pot[0] - 3e-3  # the last faint rays are settled by lot


def test_dark_walls_leave_direct_light_only() -> None:
    """Every path then ends at its first corner."""
    dark = oven(wall_reflectance=0.0, plate_reflectance=0.0, pot_absorptance=1.0)
    paths = walk(dark, to_sun=direction(0.2, 1.0)[0], pot_up=AXIS[0], rays=512, points=4)
    assert np.isnan(paths[:, 2:]).all()
    assert np.isfinite(paths[:, :2]).all()


def test_rough_walls_let_no_ray_into_them() -> None:
    """A ray turned into its own wall would strike it again on the spot: no flight has length zero."""
    rough = oven(facet_angle=0.05, wall_slope_error=0.3, wall_reflectance=1.0, cover_panes=0)
    paths = walk(rough, to_sun=direction(1.4, 1.0)[0], pot_up=AXIS[0], rays=2048, points=12)
    flights = np.linalg.norm(np.diff(paths, axis=1), axis=2)
    assert (flights[np.isfinite(flights)] > 1e-12).all()
    assert np.isfinite(flights[:, 3]).sum() > 500


def test_nothing_arrives_from_behind() -> None:
    suns = np.array([[0.0, 0.6, -0.8], [0.0, 1.0, 0.0], [0.0, 0.6, 0.8]])
    shares = beam_shares(oven(), to_sun=suns, pot_up=np.repeat(AXIS, 3, axis=0), rays=64)
    assert shares[:2, Surface.LOST].tolist() == [1.0, 1.0]
    assert shares[:2].sum() == 2.0
    assert shares[2, POT].sum() > 0.1


def test_upright_oven_sees_no_ground() -> None:
    _, ground = dome_shares(oven(), pot_up=AXIS, rays=64)
    assert ground[0, Surface.LOST] == 1.0
    assert ground.sum() == 1.0


def test_diffuse_light_is_a_sum_of_beams() -> None:
    """Cosine-weighted directions of the sky and the ground traced as beams, one by one."""
    optics = oven(sun_half_angle=0.0)
    tilt = 0.9
    up = direction(tilt, 0.0)
    rng = np.random.default_rng(5)
    u = qmc.Sobol(2, scramble=True, rng=rng).random(1 << 12)
    rng.shuffle(u)  # or the rows would march in step with the rays' own points
    radius, turn = np.sqrt(u[:, 0]), 2.0 * np.pi * u[:, 1]
    suns = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1.0 - radius**2)], axis=1)
    beams = beam_shares(optics, to_sun=suns, pot_up=np.repeat(up, len(suns), axis=0), rays=32)
    above = suns @ np.array(up[0]) > 0.0
    assert above.mean() == pytest.approx(0.5 * (1.0 + math.cos(tilt)), abs=2e-3)
    sky, ground = dome_shares(optics, pot_up=up, rays=1 << 16)
    assert beams[above].mean(axis=0) == pytest.approx(sky[0], abs=3e-3)
    assert beams[~above].mean(axis=0) == pytest.approx(ground[0], abs=5e-3)


def test_ray_parallel_to_the_pot() -> None:
    """A collimated beam along the pot's axis meets the lid, never the side, on its way down."""
    optics = oven(
        wall_reflectance=0.0, plate_reflectance=0.0, pot_absorptance=1.0, cover_panes=0, sun_half_angle=0.0
    )
    for tilt in (0.0, 0.3):
        shares = beam_shares(optics, to_sun=direction(tilt, 2.0), pot_up=direction(tilt, 2.0), rays=1 << 16)[
            0
        ]
        lid = math.pi * 0.09**2 * 1.0 / (mouth_area(optics) * math.cos(tilt))
        assert shares[Surface.SIDE] == 0.0
        assert shares[Surface.BOTTOM] == 0.0
        assert shares[Surface.LID] == pytest.approx(lid, abs=2e-3)


@pytest.mark.parametrize("facet_angle", [0.1, 0.45])
def test_perfect_mirrors_give_all_light_back(facet_angle: float) -> None:
    """No absorber at all: what the cap on bounces leaves on the walls is below 1e-9."""
    ideal = oven(
        facet_angle=facet_angle,
        wall_reflectance=1.0,
        plate_reflectance=1.0,
        pot_absorptance=0.0,
        cover_extinction_length=0.0,
        wall_slope_error=0.02,
    )
    shares = beam_shares(ideal, to_sun=direction(0.2, 1.0), pot_up=direction(0.5, 0.0), rays=1 << 15)[0]
    assert 1.0 - shares[Surface.LOST] < 1e-9


def test_faint_light_is_settled_without_bias() -> None:
    """A dull pot under dull walls: roulette at every bounce, yet the mean is that of a full account.

    Prism with mirror walls, a dull plate rho under a perfect mirror "cover" is a geometric
    series; here a mirror prism whose plate alone absorbs gives 1 - rho at once, and what
    comes back through the mouth is rho.
    """
    prism = oven(
        facet_angle=0.0,
        wall_reflectance=1.0,
        plate_reflectance=0.07,
        pot_radius=1e-5,
        pot_height=1e-5,
        cover_panes=0,
    )
    lost = [
        beam_shares(prism, to_sun=direction(0.3, 1.0), pot_up=AXIS, rays=1 << 14, seed=k)[0, Surface.LOST]
        for k in range(1, 17)
    ]
    assert np.mean(lost) == pytest.approx(0.07, abs=4.0 * np.std(lost) / 4.0)
    assert np.std(lost) < 2e-3


def test_same_bits_again_and_in_threads() -> None:
    suns, ups = np.repeat(direction(0.1, 1.0), 40, axis=0), np.repeat(direction(0.6, 0.0), 40, axis=0)

    def once(_: int) -> bytes:
        return beam_shares(tiers(), to_sun=suns, pot_up=ups, rays=64, seed=7).tobytes()

    with ThreadPoolExecutor(2) as pool:
        assert len(set(pool.map(once, range(6)))) == 1


def test_seed_moves_the_sample() -> None:
    one, other = (beam_shares(oven(), to_sun=AXIS, pot_up=AXIS, rays=256, seed=k) for k in (1, 2))
    assert np.abs(one - other).max() > 1e-4


def test_every_seed_gives_the_same_answer_within_its_error() -> None:
    """A scrambled seed above 2^63 and one below it are both words of 64 bits to every kernel."""
    one = oven()
    keys = [int(sample(1, rays=1, seed=seed).key) for seed in range(1, 9)]
    assert any(key >= 2**63 for key in keys)
    assert any(key < 2**63 for key in keys)
    pot = [
        beam_shares(one, to_sun=AXIS, pot_up=AXIS, rays=1 << 14, seed=seed)[0, POT].sum()
        for seed in range(1, 9)
    ]
    assert np.std(pot) < 0.003 * np.mean(pot)


def test_minutes_of_a_day_converge_together() -> None:
    """480 minutes of 64 rays, re-aimed every 20: the day's mean is good to about 0.2 % rms."""
    minute = np.arange(480)
    tilt = 0.5 + 0.35 * ((minute - 240) / 240.0) ** 2
    error = np.radians((minute % 20 - 10) * 0.25)
    suns = np.stack([np.sin(error), 0.0 * error, np.cos(error)], axis=1)
    ups = np.stack([0.0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1)

    def day(rays: int, seed: int) -> float:
        return float(
            beam_shares(oven(), to_sun=suns, pot_up=ups, rays=rays, seed=seed)[:, POT].sum(axis=1).mean()
        )

    true = day(4096, 99)
    error_rms = np.sqrt(np.mean([(day(64, k) / true - 1.0) ** 2 for k in range(1, 17)]))
    assert error_rms < 0.003
    random_rms = math.sqrt((1.0 - true) / true / (480 * 64))
    assert error_rms < 0.6 * random_rms


# -- points ------------------------------------------------------------------------------------------------


def test_points_are_the_sobol_sequence() -> None:
    """scipy's generator runs through the same points in Gray-code order."""
    ours = sobol_points(1 << 10).T / 2.0**32
    theirs = qmc.Sobol(6, scramble=False).random(1 << 10)
    order, other = np.lexsort(ours.T), np.lexsort(theirs.T)
    assert ours[order] == pytest.approx(theirs[other], abs=1e-9)


@pytest.mark.parametrize("seed", [1, 2**40])
def test_scrambled_points_stay_a_net(seed: int) -> None:
    """Owen (1995): every run of 2^m points still puts one in each of 2^m equal slices."""
    for first in (0, 64, 960):
        run = points(1024, seed)[:, first : first + 64]
        slices = np.sort(run >> np.uint32(26), axis=1)
        assert (slices == np.arange(64)).all()
    assert abs(points(1024, seed).mean() / 2.0**32 - 0.5) < 1e-3


def test_table_of_slopes_is_normal() -> None:
    table = gaussian()
    assert table.mean() == pytest.approx(0.0, abs=1e-12)
    assert (table**2).mean() == pytest.approx(1.0, abs=1e-12)
    assert (table**4).mean() == pytest.approx(3.0, abs=0.02)  # cut at 3.7 standard deviations


@settings(max_examples=50, deadline=None)
@given(tilt=st.floats(0.0, math.pi), azimuth=azimuths)
def test_tangents_make_a_right_handed_frame(tilt: float, azimuth: float) -> None:
    n = np.array(direction(tilt, azimuth)[0])
    t, b = (np.array(v) for v in tangents(tuple(n)))
    assert np.cross(t, b) == pytest.approx(n, abs=1e-12)
    assert [t @ t, b @ b, t @ b] == pytest.approx([1.0, 1.0, 0.0], abs=1e-12)


# -- areas -------------------------------------------------------------------------------------------------


@pytest.mark.plain
def test_areas_of_a_square_box() -> None:
    box = oven(facets=4, mouth=0.5, depth=0.2, facet_angle=0.0)
    assert mouth_area(box) == pytest.approx(0.25)
    assert plate_area(box) == pytest.approx(0.25)
    assert wall_area(box) == pytest.approx(4 * 0.5 * 0.2)
    assert slant_height(box) == pytest.approx([0.2])


@pytest.mark.plain
def test_leaning_walls_cast_the_shadow_of_mouth_less_plate() -> None:
    lean = oven(facets=7, facet_angle=0.4)
    assert wall_area(lean) * math.sin(0.4) == pytest.approx(mouth_area(lean) - plate_area(lean), rel=1e-12)


@pytest.mark.plain
@settings(max_examples=30, deadline=None)
@given(n=st.integers(3, 12), m=st.integers(3, 12), ratio=st.floats(0.4, 2.5))
def test_opening_between_two_polygons(n: int, m: int, ratio: float) -> None:
    """Half the integral of the squared radius of the shared outline."""

    azimuth = 2.0 * np.pi * (np.arange(100_000) + 0.5) / 100_000
    radii = [
        apothem / np.cos(azimuth - 2.0 * np.pi / count * np.round(azimuth * count / (2.0 * np.pi)))
        for count, apothem in ((n, 0.5), (m, 0.5 * ratio))
    ]
    area = np.pi * np.mean(np.minimum(*radii) ** 2)
    assert opening_area((n, 1.0), (m, ratio)) == pytest.approx(area, abs=1e-5)
    assert opening_area((n, 1.0), (n, ratio)) == pytest.approx(polygon_area(n, min(1.0, ratio)))


@pytest.mark.plain
def test_ledges_count_as_walls() -> None:
    box = tiers(facets=[4, 4], across=[(0.6, 0.4), (0.5, 0.5)], heights=[0.5, 0.25, 0.0])
    funnel_walls = 4 * 0.5 * (0.6 + 0.4) * math.hypot(0.25, 0.1)
    assert wall_area(box) == pytest.approx(funnel_walls + 4 * 0.5 * 0.25 + (0.25 - 0.16))
    assert wall_area(cavity(box)) == pytest.approx(4 * 0.5 * 0.25)
    assert mouth_area(cavity(box)) == pytest.approx(0.25)
    assert cavity(oven()).cover_interface == 0
    assert cavity(oven(cover_panes=0)).cover_interface == -1


# -- exchange ----------------------------------------------------------------------------------------------


@settings(max_examples=15, deadline=None)
@given(
    tilt=st.floats(0.0, 1.2), pot=st.floats(0.1, 1.0), walls=st.floats(0.02, 1.0), cover=st.floats(0.1, 1.0)
)
def test_exchange_is_within_what_each_can_send(tilt: float, pot: float, walls: float, cover: float) -> None:
    for optics in (oven(), tiers(), tiers(cover_interface=-1), oven(cover_panes=0)):
        inner = cavity(optics)
        area = exchange_areas(
            optics,
            pot_up=direction(tilt, 0.0),
            pot_emittance=pot,
            wall_emittance=walls,
            cover_emittance=cover,
            rays=2048,
        )[0]
        assert (area >= 0.0).all()
        pot_area = 2.0 * math.pi * 0.09 * (0.09 + 0.10)
        top = cover if inner.cover_interface == 0 else 1.0
        # 2048 rays from each end: the mean of both estimates may overshoot a little
        assert area[0] + area[1] <= 1.05 * pot * pot_area
        assert area[0] + area[2] <= 1.05 * top * mouth_area(inner)


# -- clearance ---------------------------------------------------------------------------------------------


def pot_surface(optics: Optics, up: list[float], turn: np.ndarray, way: np.ndarray) -> np.ndarray:
    """Points of the pot: at a turn about its axis, and a share of the way from its bottom's middle to its lid's."""
    t, b = (np.array(v) for v in tangents(tuple(up)))
    radius, height = optics.pot_radius, optics.pot_height
    gone = way * (2.0 * radius + height)
    out = np.clip(np.minimum(gone, 2.0 * radius + height - gone), 0.0, radius)
    rise = np.clip(gone - radius, 0.0, height) - 0.5 * height
    ring = (out * np.cos(turn))[:, None] * t + (out * np.sin(turn))[:, None] * b
    return ring + rise[:, None] * np.array(up) + np.array([0.0, 0.0, optics.pot_centre])


def wall_polygons(optics: Optics) -> list[np.ndarray]:
    """Corners float64[4, xyz] of every facet, and of every ledge between two like polygons."""
    quads = []
    for k, n in enumerate(optics.facet_count.tolist()):
        bands = [
            (optics.bottom_across[k], optics.bottom_height[k], optics.top_across[k], optics.top_height[k])
        ]
        if k > 0 and optics.facet_count[k - 1] == n and optics.bottom_across[k - 1] != optics.top_across[k]:
            level = optics.top_height[k]
            bands.append((optics.bottom_across[k - 1], level, optics.top_across[k], level))
        for j in range(n):
            for low, z_low, high, z_high in bands:
                ring = []
                for across, z, side in (
                    (low, z_low, -1),
                    (low, z_low, 1),
                    (high, z_high, 1),
                    (high, z_high, -1),
                ):
                    turn = 2.0 * math.pi * (j + 0.5 * side) / n
                    reach = 0.5 * across / math.cos(math.pi / n)
                    ring.append((reach * math.sin(turn), reach * math.cos(turn), z))
                quads.append(np.array(ring))
    return quads


def to_polygon(places: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Distance from points to a flat convex polygon: to its plane from above it, else to its edges."""
    normal = np.cross(corners[2] - corners[0], corners[3] - corners[1])
    normal /= np.linalg.norm(normal)
    off_plane = np.abs((places - corners[0]) @ normal)
    above, edges = np.ones(len(places), bool), np.full(len(places), np.inf)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        run = b - a
        above &= (places - a) @ np.cross(normal, run) >= 0.0
        part = np.clip((places - a) @ run / max(run @ run, 1e-30), 0.0, 1.0)
        edges = np.minimum(edges, np.linalg.norm(places - a - part[:, None] * run, axis=1))
    return np.where(above, off_plane, edges)


def nearest(optics: Optics, up: list[float]) -> float:
    """Least distance between points of the pot and walls, mouth, plate and cover: a grid, zoomed in on; signed at the
    ends."""
    walls = wall_polygons(optics)
    turn, way = (v.ravel() for v in np.meshgrid(2.0 * np.pi * np.arange(48) / 48, np.linspace(0.0, 1.0, 25)))
    pot = pot_surface(optics, up, turn, way)
    apart = np.array([to_polygon(pot, corners) for corners in walls])
    near = [walls[k] for k in np.flatnonzero(apart.min(axis=1) < apart.min() + 0.02)]
    starts: list[int] = []
    for i in np.argsort(apart.min(axis=0)).tolist():  # the best few that lie apart
        far = [abs(math.sin(0.5 * (turn[i] - turn[j]))) > 0.1 or abs(way[i] - way[j]) > 0.08 for j in starts]
        if all(far):
            starts.append(i)
        if len(starts) == 5:
            break
    free = min(_zoomed(optics, up, near, turn[i], way[i]) for i in starts)
    lowest = 0.5 * optics.pot_height * up[2] + optics.pot_radius * math.hypot(
        up[0], up[1]
    )  # under the pot's centre
    ends = [optics.pot_centre - lowest, optics.top_height[0] - optics.pot_centre - lowest]
    if optics.cover_interface > 0:
        level = optics.top_height[optics.cover_interface] - optics.pot_centre
        ends.append(max(level - lowest, -level - lowest))
    return float(min(free, *ends))


def _zoomed(optics: Optics, up: list[float], walls: list[np.ndarray], turn: float, way: float) -> float:
    wide, high = 0.2, 0.065
    square = np.meshgrid(np.linspace(-1.0, 1.0, 9), np.linspace(-1.0, 1.0, 9))
    for _ in range(13):
        turns, ways = turn + wide * square[0].ravel(), np.clip(way + high * square[1].ravel(), 0.0, 1.0)
        pot = pot_surface(optics, up, turns, ways)
        found = np.min([to_polygon(pot, corners) for corners in walls], axis=0)
        best = found.argmin()
        turn, way, wide, high = turns[best], ways[best], 0.4 * wide, 0.4 * high
    return float(found.min())


def alike(facets: int, across: list[float], heights: list[float], **changes: Any) -> Optics:
    """Tiers of one kind of polygon that meet flush, uncovered, from the mouth inwards."""
    cells = len(heights) - 1
    both = {"wall_reflectance": [0.9] * cells, "wall_slope_error": [0.0] * cells, "cover_interface": -1}
    ends = list(pairwise(across))
    return tiers(facets=[facets] * cells, across=ends, heights=heights, **(both | changes))


STACKS = {
    "octagon": oven(pot_radius=0.07),
    "triangle": oven(facets=3, pot_radius=0.06),
    "narrowing": oven(facets=5, facet_angle=-0.2, pot_radius=0.1),
    "closing in": alike(8, [0.7, 0.5, 0.3], [0.4, 0.25, 0.0]),
    "opening out": alike(8, [0.7, 0.3, 0.24], [0.3, 0.12, 0.0], pot_radius=0.08, pot_centre=0.14),
    "low edge beside the pot": alike(6, [0.8, 0.3, 0.26], [0.3, 0.08, 0.0], pot_height=0.14, pot_centre=0.16),
    "nearly a ledge": alike(5, [1.2, 0.4, 0.35], [0.3, 0.20, 0.0], pot_radius=0.12, pot_centre=0.19),
    "three, opening out": alike(8, [0.9, 0.45, 0.4, 0.25], [0.4, 0.25, 0.12, 0.0], pot_centre=0.2),
    "three, in and out": alike(3, [1.0, 0.5, 0.55, 0.4], [0.5, 0.35, 0.15, 0.0], pot_centre=0.22),
    "waist": alike(8, [0.7, 0.3, 0.5], [0.5, 0.25, 0.0], pot_radius=0.08, pot_centre=0.25, pot_height=0.2),
    "over a box": tiers(facets=[6, 6], cover_interface=-1, pot_centre=0.22, pot_radius=0.1),
    "under a cover": tiers(facets=[6, 6], pot_centre=0.12, pot_radius=0.1),
}


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize(("tilt", "toward"), [(0.0, 0.0), (0.4, 0.3), (0.9, 2.0)])
def test_clearance_is_the_distance_to_the_nearest_wall(name: str, tilt: float, toward: float) -> None:
    up = direction(tilt, toward)
    found = clearance(STACKS[name], pot_up=up)[0]
    true = nearest(STACKS[name], up[0])
    assert found == pytest.approx(true, abs=1e-6)


def test_an_edge_between_tiers_stands_in_the_way() -> None:
    """Upright pot beside the edge of tiers that open out: to the edge itself, not to the planes it divides."""
    optics = STACKS["low edge beside the pot"]._replace(pot_height=0.12)
    assert clearance(optics, pot_up=AXIS)[0] == pytest.approx(
        math.hypot(0.5 * 0.3 - 0.09, (0.16 - 0.06) - 0.08), abs=1e-7
    )
    assert clearance(optics._replace(pot_radius=0.18), pot_up=AXIS)[0] < 0.0


@pytest.mark.parametrize("tilt", [0.1, 0.4, 0.6])
def test_an_edge_beside_the_leaning_side_of_the_pot(tilt: float) -> None:
    """A waist at the height of the pot's centre: from the edge square to the side, half its width by cos tilt."""
    waist = alike(8, [1.2, 0.3, 1.2], [0.5, 0.25, 0.0], pot_radius=0.08, pot_height=0.2, pot_centre=0.25)
    found = clearance(waist, pot_up=direction(tilt, 0.0))[0]
    assert found == pytest.approx(0.15 * math.cos(tilt) - 0.08, abs=2e-7)


def test_clearance_closed_forms() -> None:
    """Upright pot: to the leaning wall at its lid or bottom edge; lying pot: half its length to the plate."""
    angle, optics = 0.3, oven(facet_angle=0.3, pot_radius=0.07, pot_height=0.1, pot_centre=0.12)
    half = 0.5 * float(optics.bottom_across[0])
    edge = (half + (0.12 - 0.05) * math.tan(angle) - 0.07) * math.cos(angle)
    assert clearance(optics, pot_up=AXIS)[0] == pytest.approx(min(edge, 0.07), abs=1e-12)
    lying = clearance(oven(mouth=2.0, pot_radius=0.07, pot_height=0.3), pot_up=[[1.0, 0.0, 0.0]])[0]
    assert lying == pytest.approx(0.12 - 0.07, abs=1e-12)


def test_pot_that_cuts_through_is_negative() -> None:
    wide = oven(pot_radius=0.25)
    assert clearance(wide, pot_up=AXIS)[0] < -0.05
    tall = oven(pot_height=0.4, pot_centre=0.25)
    assert clearance(tall, pot_up=AXIS)[0] == pytest.approx(0.3 - 0.45, abs=1e-12)


# -- the door ----------------------------------------------------------------------------------------------


@pytest.mark.plain
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"facets": 2}, "facet_count"),
        ({"facets": 25}, "facet_count"),
        ({"facet_angle": 1.3}, "bottom_across"),
        ({"wall_reflectance": 1.2}, "wall_reflectance"),
        ({"wall_slope_error": math.nan}, "wall_slope_error"),
        ({"pot_radius": 0.0}, "pot_radius"),
        ({"cover_index": 0.9}, "cover_index"),
        ({"cover_panes": 3}, "cover_panes"),
    ],
)
def test_refused_ovens(changes: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        oven(**changes)


def test_refused_stacks() -> None:
    with pytest.raises(ValueError, match="unbroken"):
        tiers(heights=[0.6, 0.25, 0.1])
    with pytest.raises(ValueError, match="one value"):
        tiers(facets=[8])
    with pytest.raises(ValueError, match="cover_interface"):
        tiers(cover_interface=2)


@pytest.mark.plain
def test_refused_directions_and_samples() -> None:
    with pytest.raises(ValueError, match="to_sun has shape"):
        beam_shares(oven(), to_sun=[0.0, 0.0, 1.0], pot_up=AXIS, rays=8)
    with pytest.raises(ValueError, match="unit vectors"):
        beam_shares(oven(), to_sun=[[0.0, 0.0, 2.0]], pot_up=AXIS, rays=8)
    with pytest.raises(ValueError, match="rows"):
        beam_shares(oven(), to_sun=AXIS, pot_up=np.repeat(AXIS, 2, axis=0), rays=8)
    with pytest.raises(ValueError, match="rays = 0"):
        beam_shares(oven(), to_sun=AXIS, pot_up=AXIS, rays=0)
    with pytest.raises(ValueError, match="seed = 0"):
        dome_shares(oven(), pot_up=AXIS, rays=8, seed=0)
    with pytest.raises(ValueError, match="pot_emittance"):
        exchange_areas(
            oven(), pot_up=AXIS, pot_emittance=1.1, wall_emittance=0.1, cover_emittance=0.9, rays=8
        )
