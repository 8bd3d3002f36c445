"""Tiered funnels against troughs with known answers: straight, bent and compound parabolic.

A square stack of perfect mirrors holds a trough. Light that falls in square to one pair of
sides and near enough to their middle planes never meets the other pair: it stays in its plane,
and what it does is plane geometry, whatever the number of tiers.

Sources: Hollands, "A concentrator for thin-film solar cells", Solar Energy 13 (1971) 149, for
the straight trough; Winston, "Principles of solar concentrators of a novel design", Solar Energy
16 (1974) 89, and Rabl, "Optical and thermal properties of compound parabolic concentrators",
Solar Energy 18 (1976) 497, for the compound parabola (the formulas also in Duffie and Beckman,
Solar Engineering of Thermal Processes, chapter 7). Formulas from memory; where a formula could
be misremembered it is held against quadrature here.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad

from noonhearth.model.light import (
    Optics,
    Surface,
    beam_shares,
    dome_shares,
    mouth_area,
    plate_area,
    slant_height,
    stack,
    walk,
)

Array = NDArray[np.float64]

UP = np.array([0.0, 0.0, 1.0])
BOUNCES = 40  # corners kept beyond the openings on the way down and up


def mirrors(facets: int, across: Sequence[float], heights: Sequence[float]) -> Optics:
    """Perfect tiers over a black plate, from the mouth down; the pot is a speck of dust on the axis."""
    tiers = len(heights) - 1
    return stack(
        facets=[facets] * tiers,
        across=list(pairwise(across)),
        heights=heights,
        wall_reflectance=[1.0] * tiers,
        wall_slope_error=[0.0] * tiers,
        plate_reflectance=0.0,
        plate_slope_error=0.0,
        cover_interface=-1,
        cover_index=1.5,
        cover_extinction_length=0.0,
        cover_panes=1,
        pot_radius=1e-6,
        pot_height=1e-6,
        pot_centre=0.005,
        pot_absorptance=1.0,
        sun_half_angle=0.0,
    )


class Trough(NamedTuple):
    """What becomes of light in the plane of a trough."""

    caught: float  # share that ends on the plate
    bounces: NDArray[np.int64]  # of each ray


def in_plane(optics: Optics, off: float, rays: int = 1 << 14) -> Trough:
    """Light in the plane across the facets 0 and 2 of a square stack, at an angle from the axis."""
    tiers = len(optics.facet_count)
    paths = walk(
        optics, to_sun=[0.0, math.sin(off), math.cos(off)], pot_up=UP, rays=rays, points=2 * tiers + BOUNCES
    )
    narrow = min(optics.bottom_across.min(), optics.top_across.min())
    paths = paths[np.abs(paths[:, 0, 0]) < 0.499 * narrow]
    levels = np.append(optics.top_height, 0.0)
    z = paths[..., 2]
    ends = np.isfinite(z).sum(axis=1)
    assert ends.max() < 2 * tiers + BOUNCES
    at_level = (np.abs(z[..., None] - levels) < 1e-12).any(axis=-1)
    last = z[np.arange(len(z)), ends - 1]
    return Trough(
        caught=float((np.abs(last) < 1e-12).mean()), bounces=(np.isfinite(z) & ~at_level).sum(axis=1)
    )


# -- straight ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tiers", [1, 3])
@pytest.mark.parametrize(
    ("psi_deg", "ratio"), [(10, "2.87939"), (15, "2.73205"), (20, "2.53209"), (22.5, "2.41421"), (30, "2.0")]
)
def test_straight_trough_takes_all_in_one_bounce(psi_deg: float, ratio: str, tiers: int) -> None:
    """C = 1 + 2 cos 2 psi; the share that bounces is 1 - 1 / C. Facets may be cut into tiers of one angle."""
    psi = math.radians(psi_deg)
    depth = 1.0 / (math.tan(2.0 * psi) - math.tan(psi))
    heights = np.linspace(depth, 0.0, tiers + 1)
    trough = mirrors(4, 1.0 + 2.0 * heights * math.tan(psi), heights)
    assert trough.top_across[0] == pytest.approx(float(ratio), abs=6e-6)
    found = in_plane(trough, 0.0)
    assert found.caught == 1.0
    assert found.bounces.max() == 1
    assert found.bounces.mean() == pytest.approx(1.0 - 1.0 / float(ratio), abs=2e-3)


def test_higher_than_that_it_loses_or_bounces_twice() -> None:
    """The check above can fail: a fifth more depth, and the light off the rim needs a second mirror."""
    psi = math.radians(20.0)
    depth = 1.2 / (math.tan(2.0 * psi) - math.tan(psi))
    assert (
        in_plane(mirrors(4, [1.0 + 2.0 * depth * math.tan(psi), 1.0], [depth, 0.0]), 0.0).bounces.max() == 2
    )


# -- bent --------------------------------------------------------------------------------------------------


def bent(lower_deg: float, upper_deg: float, bend_at: float) -> Optics:
    """Two tiers over a plate 1 wide, as high as light off the rim still reaches the plate's far edge."""
    lower, upper = math.radians(lower_deg), math.radians(upper_deg)
    edge = 1.0 + 2.0 * bend_at * math.tan(lower)
    # half the mouth + half the plate = depth tan 2 psi, with the mouth 2 (depth - bend_at) tan psi past the edge
    depth = (0.5 * edge + 0.5 - bend_at * math.tan(upper)) / (math.tan(2.0 * upper) - math.tan(upper))
    mouth = edge + 2.0 * (depth - bend_at) * math.tan(upper)
    return mirrors(4, [mouth, edge, 1.0], [depth, bend_at, 0.0])


@pytest.mark.parametrize(
    ("lower_deg", "upper_deg", "bend_at"),
    [(30.0, 20.0, 0.8), (35.0, 25.0, 0.4), (15.0, 25.0, 0.5), (5.0, 20.0, 0.3)],
    ids=["closing in", "closing in, low", "opening out", "opening out, low"],
)
def test_bent_trough_takes_all_in_one_bounce(lower_deg: float, upper_deg: float, bend_at: float) -> None:
    """Each tier turns light by twice its angle: onto the plate, if the foot of the upper tier's light is on it."""
    trough = bent(lower_deg, upper_deg, bend_at)
    foot = 0.5 * trough.top_across[1] - bend_at * math.tan(2.0 * math.radians(upper_deg))
    assert abs(foot) <= 0.5  # the premise
    found = in_plane(trough, 0.0)
    assert found.caught == 1.0
    assert found.bounces.max() == 1
    assert found.bounces.mean() == pytest.approx(1.0 - 1.0 / trough.top_across[0], abs=2e-3)


def planar(optics: Optics, off: float, rays: int = 20_001) -> float:
    """Share caught, by a tracer of its own in two dimensions: segments from end to end, nothing of the model."""
    half = 0.5 * np.append(optics.top_across, optics.bottom_across[-1])
    levels = np.append(optics.top_height, 0.0)
    right = np.stack([half, levels], axis=1)
    chain = np.concatenate(
        [right, right[::-1] * [-1.0, 1.0]]
    )  # down the right side, over the plate, up the left
    start, run = chain, np.roll(chain, -1, axis=0) - chain  # the last one closes the mouth
    plate, mouth = len(levels) - 1, len(chain) - 1
    place = np.stack(
        [half[0] * np.linspace(-1.0, 1.0, rays + 2)[1:-1], np.full(rays, levels[0] - 1e-12)], axis=1
    )
    ray = np.tile([-math.sin(off), -math.cos(off)], (rays, 1))
    normal = np.stack([run[:, 1], -run[:, 0]], axis=1) / np.linalg.norm(run, axis=1)[:, None]
    caught = 0
    for _ in range(100):
        speed = ray @ normal.T
        gap = ((start[None] - place[:, None]) * normal).sum(axis=-1)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = gap / speed
        along = ((place[:, None] + t[..., None] * ray[:, None] - start) * run).sum(-1) / (run**2).sum(-1)
        t = np.where((t > 1e-9) & (along >= -1e-9) & (along <= 1.0 + 1e-9), t, np.inf)
        hit = t.argmin(axis=1)
        place = place + np.take_along_axis(t, hit[:, None], 1) * ray
        n = normal[hit]
        ray = ray - 2.0 * (ray * n).sum(axis=1, keepdims=True) * n
        caught += int((hit == plate).sum())
        left = (hit != plate) & (hit != mouth)
        place, ray = place[left], ray[left]
        if not len(ray):
            return caught / rays
    raise AssertionError("light is caught for ever")


@pytest.mark.parametrize("off_deg", [3.0, 8.0, 15.0, 25.0])
@pytest.mark.parametrize(
    "trough",
    [
        bent(30.0, 20.0, 0.8),
        bent(15.0, 25.0, 0.5),
        mirrors(4, [2.0, 1.4, 1.5, 0.8], [1.6, 1.0, 0.6, 0.0]),  # bulging
        mirrors(4, [1.6, 1.9, 1.0], [1.2, 0.9, 0.0]),  # narrower at the mouth
    ],
    ids=["closing in", "opening out", "bulging", "narrow mouth"],
)
def test_off_axis_as_a_planar_tracer_has_it(trough: Optics, off_deg: float) -> None:
    off = math.radians(off_deg)
    assert in_plane(trough, off).caught == pytest.approx(planar(trough, off), abs=3e-3)


# -- compound parabolic --------------------------------------------------------------------------------------


def parabola(acceptance: float, angle: Array, plate: float) -> tuple[Array, Array]:
    """Half width and height of the compound parabola; the angle runs from 2 acceptance at the mouth.

    Both branches share a polar form about the far edge of the plate (Winston 1974; from memory).
    """
    focal = 0.5 * plate * (1.0 + math.sin(acceptance))
    r = 2.0 * focal / (1.0 - np.cos(angle))
    return r * np.sin(angle - acceptance) - 0.5 * plate, r * np.cos(angle - acceptance)


def compound(acceptance: float, facets: int, tiers: int, plate: float = 0.2) -> Optics:
    """A compound parabola as a stack of flat tiers with their edges on it."""
    x, z = parabola(acceptance, np.linspace(2.0 * acceptance, acceptance + 0.5 * np.pi, tiers + 1), plate)
    z[-1] = 0.0
    return mirrors(facets, 2.0 * x, z)


@pytest.mark.parametrize(
    ("acceptance_deg", "ratio"), [(10, "5.7588"), (20, "2.9238"), (30, "2"), (45, "1.4142")]
)
def test_compound_parabola_concentrates_by_one_over_the_sine(acceptance_deg: float, ratio: str) -> None:
    assert compound(math.radians(acceptance_deg), 4, 8).top_across[0] / 0.2 == pytest.approx(
        float(ratio), abs=6e-5
    )


@pytest.mark.parametrize("acceptance_deg", [20.0, 30.0])
def test_fine_tiers_take_all_within_the_acceptance_and_nothing_beyond(acceptance_deg: float) -> None:
    """Forty tiers, each under a degree and a half of the curve: the step is a step to within a degree."""
    concentrator = compound(math.radians(acceptance_deg), 4, 40)
    for off in (0.0, 0.5 * acceptance_deg, acceptance_deg - 1.0):
        assert in_plane(concentrator, math.radians(off), rays=1 << 12).caught == 1.0
    for off in (acceptance_deg + 1.0, acceptance_deg + 10.0):
        assert in_plane(concentrator, math.radians(off), rays=1 << 12).caught == 0.0


def test_more_tiers_come_nearer_to_the_step() -> None:
    """The share that is lost three degrees within the acceptance: a third of it by a single straight tier."""
    lost = [
        1.0 - in_plane(compound(math.radians(30.0), 4, n), math.radians(27.0)).caught for n in (1, 3, 6, 12)
    ]
    assert lost[0] > 0.3
    assert (np.diff(lost) < 0.0).all()
    assert lost[-1] == 0.0


def arc_ratio(acceptance: float) -> float:
    """Mirror area of both branches over that of the mouth, Rabl 1976 (from memory, see the quadrature below)."""
    s, c = math.sin(acceptance), math.cos(acceptance)
    return s * (1.0 + s) * _rabl(s, c)


def _rabl(s: float, c: float) -> float:
    logarithm = math.log((1.0 + s) * (1.0 + c) / (s * (c + math.sqrt(2.0 * (1.0 + s)))))
    return c / s**2 + logarithm - math.sqrt(2.0) * c / (1.0 + s) ** 1.5


@pytest.mark.parametrize("acceptance_deg", [15.0, 20.0, 30.0, 40.0])
def test_mirror_area_of_the_compound_parabola(acceptance_deg: float) -> None:
    """Slant heights of many tiers add up to the arc; the formula is held against quadrature first."""
    acceptance = math.radians(acceptance_deg)

    def speed(angle: float) -> float:
        step = 1e-6
        (x0, x1), (z0, z1) = parabola(acceptance, np.array([angle - step, angle + step]), 1.0)
        return math.hypot(x1 - x0, z1 - z0) / (2.0 * step)

    arc, _ = quad(speed, 2.0 * acceptance, acceptance + 0.5 * np.pi, epsabs=1e-9)
    assert arc_ratio(acceptance) == pytest.approx(2.0 * arc * math.sin(acceptance), rel=1e-7)
    tiers = compound(acceptance, 4, 100)
    assert 2.0 * slant_height(tiers).sum() / tiers.top_across[0] == pytest.approx(
        arc_ratio(acceptance), rel=1e-4
    )


@pytest.mark.parametrize("acceptance_deg", [20.0, 30.0])
def test_mean_number_of_reflections(acceptance_deg: float) -> None:
    """Rabl 1976 (from memory): (1 + s) {...} / 2 - (1 - s)(1 + 2 s) / (2 s^2), light even within the acceptance.

    Chords tilt what they reflect, so some light bounces once more; that goes with the tiers: twenty and forty of
    them are carried on to infinitely many.
    """
    acceptance = math.radians(acceptance_deg)
    s, c = math.sin(acceptance), math.cos(acceptance)
    formula = 0.5 * (1.0 + s) * _rabl(s, c) - (1.0 - s) * (1.0 + 2.0 * s) / (2.0 * s**2)
    sines = s * (np.arange(40) + 0.5) / 40.0
    counted = [
        np.mean(
            [in_plane(compound(acceptance, 4, n), math.asin(x), rays=1 << 10).bounces.mean() for x in sines]
        )
        for n in (20, 40)
    ]
    assert 2.0 * counted[1] - counted[0] == pytest.approx(formula, abs=0.01)


# -- round -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facets", "across", "heights"),
    [
        (5, [1.0, 0.5, 0.3], [0.5, 0.2, 0.0]),
        (8, [1.0, 0.4, 0.3], [0.4, 0.2, 0.0]),
        (4, [0.9, 0.5, 0.45, 0.2], [0.6, 0.5, 0.1, 0.0]),
        (24, [1.0, 0.6, 0.5, 0.3], [0.5, 0.3, 0.1, 0.0]),
    ],
)
def test_even_sky_reaches_the_plate_by_its_area(
    facets: int, across: list[float], heights: list[float]
) -> None:
    """Etendue: of an even hemisphere over the mouth the plate gets A_plate / A_mouth, whatever the tiers.

    Each mirror that leans outwards turns light from the plate further up, so all of it leaves by the mouth; turned
    round, the plate sees nothing but sky. Concentration is bought with acceptance.
    """
    tiers = mirrors(facets, across, heights)
    shares = [dome_shares(tiers, pot_up=[UP], rays=1 << 16, seed=k)[0][0, Surface.PLATE] for k in range(1, 9)]
    expected = plate_area(tiers) / mouth_area(tiers)
    assert np.mean(shares) == pytest.approx(expected, abs=4.0 * np.std(shares) / math.sqrt(8.0))
    assert np.std(shares) < 0.02 * expected


def test_round_compound_parabola_stays_under_the_limit() -> None:
    """Winston's 3-D limit 1 / sin^2: what 24 facets in 20 tiers catch within 20 deg cannot exceed it, and comes near.

    A plane through the axis is a trough, so light towards a facet's middle is nearly all caught within the
    acceptance and nearly all refused beyond; rays that pass the axis askew blur the step.
    """
    acceptance = math.radians(20.0)
    round_one = compound(acceptance, 24, 20)
    assert mouth_area(round_one) / plate_area(round_one) == pytest.approx(8.5486, abs=6e-5)
    sines = math.sin(acceptance) * np.sqrt((np.arange(16) + 0.5) / 16.0)  # even over the cone's cross section
    suns = np.array([[0.0, x, math.sqrt(1.0 - x * x)] for x in sines])
    within = beam_shares(round_one, to_sun=suns, pot_up=np.tile(UP, (16, 1)), rays=1 << 12)[:, Surface.PLATE]
    assert 0.94 < within.mean() < 1.0
    assert within[:8].min() > 0.999
    beyond = [[0.0, math.sin(math.radians(26.0)), math.cos(math.radians(26.0))]]
    assert beam_shares(round_one, to_sun=beyond, pot_up=[UP], rays=1 << 12)[0, Surface.PLATE] < 1e-3
