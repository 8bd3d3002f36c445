"""Flat-mirror funnels with known answers.

Aimed funnels, perfect mirrors, a collimated beam and a black back plate of width w; the
height h = w / (tan 2 psi - tan psi) lets the ray at the mouth's edge just reach the far
edge of the plate, the classical trough condition of Hollands, "A concentrator for
thin-film solar cells", Solar Energy 13, 1971. A square funnel's first bounce is the
trough's closed form; for the other entries the areas of the mouth's images on the plate
were integrated by quadrature and checked by a planar and a mesh tracer outside this
project. Ray counts set the tolerance: 2^18 points are good to a few 1e-5.
"""

import math
from typing import Any

import numpy as np
import pytest

from noonhearth.model.light import Optics, Surface, beam_shares, funnel, mouth_area, walk
from noonhearth.model.light.cover import cover_shares

AXIS = np.array([[0.0, 0.0, 1.0]])
RAYS = 1 << 18


def trough_funnel(facets: int, psi_deg: float, *, wall_reflectance: float = 1.0) -> Optics:
    """Funnel over a black plate 1 wide; the pot is a speck of dust on the axis."""
    psi = math.radians(psi_deg)
    depth = 1.0 / (math.tan(2.0 * psi) - math.tan(psi))
    return funnel(
        facets=facets,
        mouth=1.0 + 2.0 * depth * math.tan(psi),
        depth=depth,
        facet_angle=psi,
        wall_reflectance=wall_reflectance,
        plate_reflectance=0.0,
        pot_radius=1e-5,
        pot_height=1e-5,
        pot_centre=0.01,
        sun_half_angle=0.0,
    )


def caught(optics: Optics, *, azimuth: float = 0.0, off_deg: float = 0.0) -> float:
    """Share of the beam that reaches the plate, off axis towards an azimuth."""
    off = math.radians(off_deg)
    sun = [[math.sin(off) * math.sin(azimuth), math.sin(off) * math.cos(azimuth), math.cos(off)]]
    return float(beam_shares(optics, to_sun=sun, pot_up=AXIS, rays=RAYS)[0, Surface.PLATE])


@pytest.mark.parametrize(
    ("psi_deg", "height"), [(10, "5.32926"), (15, "3.23205"), (20, "2.10469"), (22.5, "1.70711")]
)
def test_trough_height(psi_deg: float, height: str) -> None:
    assert trough_funnel(4, psi_deg).top_height[0] == pytest.approx(float(height), abs=6e-6)


@pytest.mark.parametrize(
    ("psi_deg", "ratio"), [(10, "2.87939"), (15, "2.73205"), (20, "2.53209"), (22.5, "2.41421"), (30, "2.0")]
)
def test_mouth_is_the_trough_concentration(psi_deg: float, ratio: str) -> None:
    """C = 1 + 2 cos(2 psi)."""
    optics = trough_funnel(4, psi_deg)
    assert optics.top_across[0] == pytest.approx(float(ratio), abs=6e-6)
    assert mouth_area(optics) == pytest.approx((1.0 + 2.0 * math.cos(2.0 * math.radians(psi_deg))) ** 2)


@pytest.mark.parametrize(
    ("facets", "psi_deg", "share", "tolerance"),
    [
        (4, 30, 0.85, 5e-4),
        (8, 30, 0.25 + math.sqrt(0.5), 5e-5),  # 0.957107: closed form, optical concentration 3.82843
        (24, 30, 0.995667, 1e-4),
        (4, 15, 1.0, 5e-5),
        (4, 20, 0.8975, 5e-4),
        (4, 22.5, 0.8579, 5e-4),
    ],
)
def test_share_that_reaches_the_plate(facets: int, psi_deg: float, share: float, tolerance: float) -> None:
    assert caught(trough_funnel(facets, psi_deg)) == pytest.approx(share, abs=tolerance)


@pytest.mark.parametrize("psi_deg", [15, 20, 22.5, 30])
@pytest.mark.parametrize("facets", [4, 8])
def test_black_walls_leave_the_direct_light(psi_deg: float, facets: int) -> None:
    """Direct light is the plate's share of the mouth."""
    optics = trough_funnel(facets, psi_deg, wall_reflectance=0.0)
    assert caught(optics) == pytest.approx(optics.top_across[0] ** -2.0, abs=1e-4)


@pytest.mark.parametrize(
    ("psi_deg", "by_bounces", "tolerance"),
    [
        (30, (0.25, 0.50, 0.10), 5e-4),
        (15, (0.13397, 0.46406, 0.3120, 0.0850, 1.0 - 0.13397 - 0.46406 - 0.3120 - 0.0850), 5e-4),
    ],
)
def test_light_by_number_of_bounces(psi_deg: float, by_bounces: tuple[float, ...], tolerance: float) -> None:
    """Square funnel: with reflectance rho the plate gets the sum of p_k rho^k."""
    for rho in (0.3, 0.6, 0.9):
        expected = sum(p * rho**k for k, p in enumerate(by_bounces))
        found = caught(trough_funnel(4, psi_deg, wall_reflectance=rho))
        assert found == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("psi_deg", [15, 20, 22.5, 30])
def test_direct_and_first_bounce_of_a_square(psi_deg: float) -> None:
    """(1 + 4 cos 2 psi) / (1 + 2 cos 2 psi)^2, counted on the paths."""
    trough = 1.0 + 2.0 * math.cos(2.0 * math.radians(psi_deg))
    paths = walk(trough_funnel(4, psi_deg), to_sun=AXIS[0], pot_up=AXIS[0], rays=1 << 16, points=3)
    on_plate = np.abs(paths[:, 1:, 2]) < 1e-12
    assert on_plate[:, 0].mean() == pytest.approx(trough**-2.0, abs=6e-4)
    assert on_plate.any(axis=1).mean() == pytest.approx((2.0 * trough - 1.0) / trough**2, abs=6e-4)


@pytest.mark.parametrize(
    ("facets", "azimuth", "shares"),
    [
        (8, 0.0, ("0.8868", "0.7978", "0.7041")),
        (8, math.pi / 8.0, ("0.8829", "0.7920", "0.6990")),
        (4, 0.0, ("0.8067", "0.7505", "0.6786")),
        (4, math.pi / 2.0, ("0.8067", "0.7505", "0.6786")),
    ],
)
def test_off_axis(facets: int, azimuth: float, shares: tuple[str, ...], published: Any) -> None:
    optics = trough_funnel(facets, 30)
    for off_deg, share in zip((5, 10, 15), shares, strict=True):
        ours = caught(optics, azimuth=azimuth, off_deg=off_deg)
        what = f"{facets} facets at 30 deg, sun {off_deg} deg off toward {math.degrees(azimuth):.1f} deg [1]"
        published(
            "areas of the mouth's images, two other tracers", what, share, ours, within=1e-3, kind="worked"
        )


CONE = {0.0: "1.0000", 2.5: "0.9519", 5.0: "0.9040", 10.0: "0.8083", 15.0: "0.7127"}
"""Share of the light at the mouth that reaches the plate of the round funnel of 30 deg, by degrees off the axis."""


def caught_by_cone(psi_deg: float, off_deg: float, rays: int = 100_000) -> float:
    """Share that reaches the plate of the round funnel over a plate 1 wide, by a tracer of its own."""
    slope = math.tan(math.radians(psi_deg))
    depth = 1.0 / (math.tan(2.0 * math.radians(psi_deg)) - slope)
    k = np.arange(rays) + 0.5
    out, turn = (0.5 + depth * slope) * np.sqrt(k / rays), math.pi * (1.0 + math.sqrt(5.0)) * k  # sunflower
    place = np.stack([out * np.cos(turn), out * np.sin(turn), np.full(rays, depth)], axis=1)
    off = math.radians(off_deg)
    ray = np.tile([-math.sin(off), 0.0, -math.cos(off)], (rays, 1))
    caught = 0
    while len(ray):
        # |place_xy + t ray_xy| = 0.5 + slope (z + t ray_z); the farther crossing is the way out from inside
        radius, growth = 0.5 + slope * place[:, 2], slope * ray[:, 2]
        a = (ray[:, :2] ** 2).sum(axis=1) - growth**2
        b = (place[:, :2] * ray[:, :2]).sum(axis=1) - radius * growth
        c = (place[:, :2] ** 2).sum(axis=1) - radius**2
        root = np.sqrt(np.maximum(b * b - a * c, 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            roots = np.stack([(-b - root) / a, (-b + root) / a])
        wall = np.where((roots > 1e-9) & np.isfinite(roots), roots, np.inf).min(axis=0)
        end = np.where(ray[:, 2] < 0.0, -place[:, 2], depth - place[:, 2]) / ray[:, 2]
        caught += int(((end <= wall) & (ray[:, 2] < 0.0)).sum())
        stays = wall < end
        place, ray = place[stays] + wall[stays, None] * ray[stays], ray[stays]
        inward = -place[:, :2] / np.linalg.norm(place[:, :2], axis=1)[:, None]
        normal = np.column_stack([inward, np.full(len(ray), slope)]) / math.hypot(1.0, slope)
        ray = ray - 2.0 * (ray * normal).sum(axis=1)[:, None] * normal
    return caught / rays


@pytest.mark.parametrize(("off_deg", "share"), CONE.items())
def test_cone_by_its_own_tracer(off_deg: float, share: str) -> None:
    assert caught_by_cone(30.0, off_deg) == pytest.approx(float(share), abs=1e-3)


@pytest.mark.parametrize("corner", [0.0, 1.0], ids=["towards a facet", "towards a corner"])
@pytest.mark.parametrize(("off_deg", "share"), CONE.items())
def test_many_facets_become_a_cone(off_deg: float, share: str, corner: float) -> None:
    """What a polygon of n facets misses goes with 1 / n^2: 12 and 24 carried on to a cone agree with it.

    24 facets themselves catch 0.0044 less on the axis and 0.0012 to 0.0021 less off it.
    """
    cone = float(share)
    twelve, many = (
        caught(trough_funnel(n, 30), off_deg=off_deg, azimuth=corner * math.pi / n) for n in (12, 24)
    )
    assert 0.001 < cone - many < (0.0045 if off_deg == 0.0 else 0.0021)
    assert (4.0 * many - twelve) / 3.0 == pytest.approx(cone, abs=1e-3)


@pytest.mark.parametrize(
    ("angle_deg", "area"), [(0, "0.0314159"), (30, "0.0392070"), (60, "0.0364926"), (90, "0.0240000")]
)
def test_projected_area_of_the_pot(angle_deg: float, area: str, published: Any) -> None:
    """Cylinder r 0.10, h 0.12: pi r^2 |cos| + 2 r h sin, both faces seen one at a time."""
    lean = math.radians(angle_deg)
    box = dark_box(pot_radius=0.10, pot_height=0.12)
    up = [[math.sin(lean) * 0.6, math.sin(lean) * 0.8, math.cos(lean)]]
    pot = beam_shares(box, to_sun=AXIS, pot_up=up, rays=RAYS)[0, :3].sum()
    ours, what = pot * mouth_area(box), f"shadow of a pot seen from {angle_deg} deg [m2]"
    published("pi r^2 cos + 2 r h sin", what, area, ours, rel=1e-3, kind="worked")


def test_mean_projected_area_is_a_quarter_of_the_surface() -> None:
    """Cauchy (1841): 0.0345575 m2 for the cylinder above."""
    box = dark_box(pot_radius=0.10, pot_height=0.12)
    k = np.arange(4096) + 0.5
    cosine, azimuth = 1.0 - 2.0 * k / len(k), math.pi * (1.0 + math.sqrt(5.0)) * k
    sine = np.sqrt(1.0 - cosine**2)
    ups = np.stack([sine * np.cos(azimuth), sine * np.sin(azimuth), cosine], axis=1)
    suns = np.broadcast_to(AXIS, ups.shape)
    pot = beam_shares(box, to_sun=suns, pot_up=ups, rays=64)[:, :3].sum(axis=1).mean()
    assert pot * mouth_area(box) == pytest.approx(0.0345575, rel=1.5e-3)


def dark_box(*, pot_radius: float, pot_height: float) -> Optics:
    """A black square box 0.3 wide with a black pot in the middle."""
    return funnel(
        facets=4,
        mouth=0.3,
        depth=0.3,
        facet_angle=0.0,
        wall_reflectance=0.0,
        plate_reflectance=0.0,
        pot_radius=pot_radius,
        pot_height=pot_height,
        pot_centre=0.15,
        sun_half_angle=0.0,
    )


def test_cover_over_a_mirror_plate() -> None:
    """Prism, mirror plate rho under a cover tau, r, a: tau rho (tau + a) / (1 - r rho) and so on."""
    rho = 0.8
    prism = funnel(
        facets=6,
        mouth=0.5,
        depth=0.2,
        facet_angle=0.0,
        plate_reflectance=rho,
        pot_radius=1e-5,
        pot_height=1e-5,
        pot_centre=0.1,
        cover_panes=2,
        cover_extinction_length=0.05,
        sun_half_angle=0.0,
    )
    off = math.radians(40.0)
    through, back, kept = (
        float(v) for v in cover_shares(math.cos(off), index=1.526, extinction_length=0.05, panes=2)
    )
    rounds = 1.0 / (1.0 - back * rho)
    sun = [[math.sin(off) * 0.6, math.sin(off) * 0.8, math.cos(off)]]
    shares = beam_shares(prism, to_sun=sun, pot_up=AXIS, rays=RAYS)[0]
    assert shares[Surface.PLATE] == pytest.approx(through * (1.0 - rho) * rounds, abs=2e-4)
    assert shares[Surface.COVER] == pytest.approx(kept + through * rho * kept * rounds, abs=2e-4)
    assert shares[Surface.LOST] == pytest.approx(back + through * rho * through * rounds, abs=4e-4)


@pytest.mark.parametrize(("half_angle", "depth"), [(4.65e-3, 10.0), (0.02, 2.0)])
def test_sun_disc_down_a_well(half_angle: float, depth: float) -> None:
    """An even disc of radius R widths on the floor of a square black well: 1 - 8 R / (3 pi) + R^2 / (2 pi).

    The mean of (1 - |x|)(1 - |y|) over the disc; the image's diameter is twice depth times half angle.
    """
    width = 0.5
    well = funnel(
        facets=4,
        mouth=width,
        depth=depth,
        facet_angle=0.0,
        wall_reflectance=0.0,
        plate_reflectance=0.0,
        pot_radius=1e-6,
        pot_height=1e-6,
        pot_centre=0.5,
        sun_half_angle=half_angle,
    )
    plate = beam_shares(well, to_sun=AXIS, pot_up=AXIS, rays=RAYS)[0, Surface.PLATE]
    r = half_angle * depth / width
    assert plate == pytest.approx(1.0 - 8.0 * r / (3.0 * math.pi) + r**2 / (2.0 * math.pi), abs=3e-4)


def test_sun_image_of_a_flat_plate() -> None:
    """A rough flat mirror deep in a black prism spreads the beam by twice its slope error.

    Reflected light leaves by the mouth unless it meets a wall: for a beam of Gaussian spread
    2 sigma, the share that still leaves a square of width w from depth H is a closed form.
    """
    sigma, width, depth = 0.02, 0.2, 1.0
    prism = funnel(
        facets=4,
        mouth=width,
        depth=depth,
        facet_angle=0.0,
        wall_reflectance=0.0,
        plate_slope_error=sigma,
        pot_radius=1e-6,
        pot_height=1e-6,
        pot_centre=0.5,
        sun_half_angle=0.0,
    )
    lost = beam_shares(prism, to_sun=AXIS, pot_up=AXIS, rays=RAYS)[0, Surface.LOST]
    spread = 2.0 * sigma * depth / width  # of the landing point, in widths, normal
    # one axis: E[max(0, 1 - |s|)] for s normal with that spread
    s = spread
    inside = math.erf(1.0 / (s * math.sqrt(2.0))) - s * math.sqrt(2.0 / math.pi) * (
        1.0 - math.exp(-0.5 / s**2)
    )
    assert lost == pytest.approx(inside**2, abs=1.5e-3)  # tan(2 e) against 2 e: 1e-3 of the spread
