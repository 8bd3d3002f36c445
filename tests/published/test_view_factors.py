"""View factors between surfaces of ovens that are plain boxes.

Light from an even sky through a mouth is what a diffuse emitter in the mouth would send,
so the shares of `dome_shares` in a black oven are view factors from the mouth.

Sources: the closed forms of Howell, A Catalog of Radiation Heat Transfer Configuration
Factors (C-11 parallel rectangles, C-14 perpendicular rectangles, C-78 cylinder and
annulus, B-3 element and rectangle), evaluated here; printed values beside them are those
of the same formulas evaluated apart from this project.
"""

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from noonhearth.model.light import (
    Optics,
    Surface,
    dome_shares,
    exchange_areas,
    funnel,
    mouth_area,
    plate_area,
    wall_area,
)
from noonhearth.model.light.exchange import one_way_areas

HOWELL = "Howell, A Catalog of Radiation Heat Transfer Configuration Factors"
UPRIGHT = np.array([[0.0, 0.0, 1.0]])
RAYS = 1 << 18
SPREAD = 5e-4  # half the standard error of that many independent rays at a share of one half
PI = math.pi


def black_prism(
    facets: int,
    width: float,
    depth: float,
    *,
    radius: float = 1e-5,
    height: float = 1e-5,
    centre: float | None = None,
    facet_angle: float = 0.0,
    wall_reflectance: float = 0.0,
) -> Optics:
    return funnel(
        facets=facets,
        mouth=width,
        depth=depth,
        facet_angle=facet_angle,
        wall_reflectance=wall_reflectance,
        plate_reflectance=0.0,
        pot_radius=radius,
        pot_height=height,
        pot_centre=0.5 * depth if centre is None else centre,
    )


def parallel_squares(ratio: float) -> float:
    """Howell C-11 with equal sides, ratio = side over gap."""
    x = 1.0 + ratio**2
    a = math.log(math.sqrt(x * x / (1.0 + 2.0 * ratio**2)))
    b = 2.0 * ratio * math.sqrt(x) * math.atan(ratio / math.sqrt(x)) - 2.0 * ratio * math.atan(ratio)
    return 2.0 / (PI * ratio**2) * (a + b)


@pytest.mark.parametrize(
    ("ratio", "printed"),
    [(0.5, "0.0685896"), (1, "0.1998249"), (2, "0.4152533"), (4, "0.6320364"), (10, "0.8269945")],
)
def test_parallel_squares(ratio: float, printed: str, published: Any) -> None:
    assert parallel_squares(ratio) == pytest.approx(float(printed), abs=6e-8)
    sky, _ = dome_shares(black_prism(4, 1.0, 1.0 / ratio), pot_up=UPRIGHT, rays=RAYS)
    what = f"parallel squares, side over gap {ratio} [1]"
    published(f"{HOWELL}, C-11", what, printed, sky[0, Surface.PLATE], within=SPREAD, kind="worked")


@pytest.mark.parametrize(("depth", "printed"), [(1.0, "0.2000438"), (2.0, "0.2328526"), (0.5, "0.1461867")])
def test_perpendicular_squares(depth: float, printed: str, published: Any) -> None:
    """A square mouth sees each of four walls of that height alike."""
    sky, _ = dome_shares(black_prism(4, 1.0, depth), pot_up=UPRIGHT, rays=RAYS)
    ours, what = sky[0, Surface.WALLS] / 4.0, f"perpendicular squares, height over side {depth:g} [1]"
    published(f"{HOWELL}, C-14", what, printed, ours, within=SPREAD / 4.0, kind="worked")


@pytest.mark.parametrize("half_angle_deg", [15, 30, 45])
def test_cone_side_to_base(half_angle_deg: float) -> None:
    """sin(half angle), a pyramid's too: its base is the side's own shadow."""
    psi = math.radians(half_angle_deg)
    pyramid = black_prism(24, 1.0, 0.499999 / math.tan(psi), facet_angle=psi, centre=0.1)
    area = exchange_areas(
        pyramid, pot_up=UPRIGHT, pot_emittance=1.0, wall_emittance=1.0, cover_emittance=1.0, rays=1 << 16
    )[0, 2]
    assert area / wall_area(pyramid) == pytest.approx(math.sin(psi), rel=2e-3)


def element_to_centred_square(side: float, gap: float, off: float, turn: float) -> float:
    """Howell B-3 summed over the four corners: element parallel to a square, off its axis."""
    x, y = off * math.cos(turn), off * math.sin(turn)

    def corner(a: float, b: float) -> float:
        a, b = a / gap, b / gap
        ra, rb = math.sqrt(1.0 + a * a), math.sqrt(1.0 + b * b)
        return (a / ra * math.atan(b / ra) + b / rb * math.atan(a / rb)) / (2.0 * PI)

    h = 0.5 * side
    return sum(corner(h + s * x, h + t * y) for s in (-1, 1) for t in (-1, 1))


def test_lid_seen_from_a_square_mouth() -> None:
    """By reciprocity from element to rectangle, averaged over the lid by quadrature."""
    side, gap, radius = 0.5, 0.2, 0.1
    ring = [
        quad(lambda r, t=t: 2.0 * r * element_to_centred_square(side, gap, r, t) / radius**2, 0.0, radius)[0]
        for t in np.linspace(0.0, 0.5 * PI, 32, endpoint=False)
    ]
    expected = float(np.mean(ring)) * PI * radius**2 / side**2
    prism = black_prism(4, side, 0.5, radius=radius, height=0.1, centre=0.25)
    sky, _ = dome_shares(prism, pot_up=UPRIGHT, rays=RAYS)
    assert sky[0, Surface.LID] == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("length", "outer_to_inner"),
    [(2.0, 0.3371060), (1.0, 0.2322745)],
)
def test_coaxial_cylinders(length: float, outer_to_inner: float) -> None:
    """Radii 1 and 2. The outer one is a 24-gon of the same area, which sees the pot 0.2 % otherwise.

    The pot fills the height, so its lid lies in the mouth, and what its side sends to the
    walls is the closed form; the two annuli share the rest.
    """
    across = 2.0 * math.sqrt(PI * 2.0**2 / (24.0 * math.tan(PI / 24.0)))
    prism = black_prism(24, across, length, radius=1.0, height=length * (1.0 - 1e-9))
    cover, walls, _ = exchange_areas(
        prism, pot_up=UPRIGHT, pot_emittance=1.0, wall_emittance=1.0, cover_emittance=1.0, rays=1 << 17
    )[0]
    lid, side, outer = PI, 2.0 * PI * length, 4.0 * PI * length
    to_walls = outer * outer_to_inner
    annulus = 0.5 * (side - to_walls)
    assert cover == pytest.approx(lid + annulus, rel=3e-3)
    assert walls == pytest.approx(lid + annulus + to_walls, rel=3e-3)


def test_tilted_mouth_sees_sky_and_ground() -> None:
    """(1 + cos tilt) / 2 of an even hemisphere is sky: the two parts add up to the whole."""
    plate_walls = [Surface.PLATE, Surface.WALLS]
    dust = black_prism(6, 0.5, 0.3)
    whole, _ = dome_shares(dust, pot_up=UPRIGHT, rays=RAYS)
    for tilt_deg, sky_part in ((30, 0.9330127), (60, 0.75), (85, 0.5 * (1.0 + math.cos(math.radians(85))))):
        tilt = math.radians(tilt_deg)
        up = [[0.6 * math.sin(tilt), 0.8 * math.sin(tilt), math.cos(tilt)]]
        sky, ground = dome_shares(dust, pot_up=up, rays=RAYS)
        both = sky_part * sky + (1.0 - sky_part) * ground
        assert both[0, plate_walls] == pytest.approx(whole[0, plate_walls], abs=SPREAD)
        assert abs(sky[0, Surface.PLATE] - ground[0, Surface.PLATE]) > 0.02


@pytest.mark.parametrize(
    ("pot_emittance", "cover_emittance", "tolerance"),
    [(0.95, 0.9, 3e-3), (0.3, 0.9, 1.5e-2), (0.95, 0.2, 3e-3)],
)
def test_infinite_parallel_plates(pot_emittance: float, cover_emittance: float, tolerance: float) -> None:
    """A / (1 / e1 + 1 / e2 - 1) (Christiansen, 1883): perfect mirrors repeat lid and cover endlessly.

    The lid leaves 0.6 % of the 24-gon open, a cavity blacker than the lid.
    """
    prism = black_prism(24, 0.5, 0.1, radius=0.2499999, height=0.08, centre=0.0401, wall_reflectance=1.0)
    area = exchange_areas(
        prism._replace(cover_interface=0),
        pot_up=UPRIGHT,
        pot_emittance=pot_emittance,
        wall_emittance=0.0,
        cover_emittance=cover_emittance,
        rays=1 << 17,
    )[0, 0]
    plates = 1.0 / (1.0 / pot_emittance + 1.0 / cover_emittance - 1.0)
    assert area == pytest.approx(mouth_area(prism) * plates, rel=tolerance)


@pytest.mark.parametrize(("plate", "cover"), [(0.9, 0.84), (0.3, 1.0), (1.0, 1.0)])
def test_dull_plate_under_a_cover_between_perfect_mirrors(plate: float, cover: float) -> None:
    """Infinite parallel plates, 1 / (1 / e1 + 1 / e2 - 1): Incropera et al., eq. 13.19, from memory.

    Upright mirrors repeat plate and cover without end; the pot in between is a grain.
    """
    prism = black_prism(8, 0.5, 0.3, radius=5e-4, height=1e-3, centre=0.15, wall_reflectance=1.0)
    area = exchange_areas(
        prism._replace(cover_interface=0),
        pot_up=UPRIGHT,
        pot_emittance=1.0,
        wall_emittance=0.0,
        plate_emittance=plate,
        cover_emittance=cover,
        rays=1 << 16,
    )[0, 2]
    assert area == pytest.approx(mouth_area(prism) / (1.0 / plate + 1.0 / cover - 1.0), rel=5e-3)


@pytest.mark.parametrize("emittances", [(0.9, 0.05, 0.9), (0.3, 0.6, 0.2), (1.0, 1.0, 1.0)])
def test_reciprocity_and_closure(emittances: tuple[float, float, float]) -> None:
    """A_i e_i B_ij = A_j e_j B_ji (Gebhart, 1961), traced from both ends; every row sums to A_i e_i."""
    oven = black_prism(8, 0.5, 0.3, radius=0.1, height=0.12, centre=0.13, facet_angle=0.2)
    oven = oven._replace(cover_interface=0)
    tilt = math.radians(40.0)
    sent = one_way_areas(
        oven,
        pot_up=[[0.0, math.sin(tilt), math.cos(tilt)]],
        pot_emittance=emittances[0],
        wall_emittance=emittances[1],
        cover_emittance=emittances[2],
        rays=1 << 17,
    )[0]
    areas = np.array([2.0 * PI * 0.1 * (0.1 + 0.12), wall_area(oven) + plate_area(oven), mouth_area(oven)])
    assert sent.sum(axis=1) == pytest.approx(areas * emittances, rel=1e-12)
    for i, j in ((0, 1), (0, 2), (1, 2)):
        assert sent[i, j] == pytest.approx(sent[j, i], rel=1e-2)


def test_a_dull_plate_keeps_reciprocity_and_closure() -> None:
    """As above, with a back plate of another emittance than the walls it shares a node with."""
    oven = black_prism(8, 0.5, 0.3, radius=0.1, height=0.12, centre=0.13, facet_angle=0.2)
    oven = oven._replace(cover_interface=0)
    grey = {"pot_emittance": 0.9, "wall_emittance": 0.1, "plate_emittance": 0.95, "cover_emittance": 0.84}
    sent = one_way_areas(oven, pot_up=UPRIGHT, rays=1 << 17, **grey)[0]
    walls = 0.1 * wall_area(oven) + 0.95 * plate_area(oven)
    assert sent.sum(axis=1)[1] == pytest.approx(walls, rel=1e-12)
    for i, j in ((0, 1), (0, 2), (1, 2)):
        assert sent[i, j] == pytest.approx(sent[j, i], rel=1e-2)


def test_perfect_mirrors_join_pot_and_cover() -> None:
    """Between two grey surfaces with mirrors all round, all that one sends ends on the two.

    With a black cover each keeps what it gets: A eps of the pot, whatever the shape.
    """
    oven = black_prism(8, 0.5, 0.3, radius=0.1, height=0.12, centre=0.15, facet_angle=0.3)
    pot = 2.0 * PI * 0.1 * (0.1 + 0.12)
    cover, walls, between = exchange_areas(
        oven, pot_up=UPRIGHT, pot_emittance=0.5, wall_emittance=0.0, cover_emittance=1.0, rays=1 << 16
    )[0]
    assert walls == 0.0
    assert between == 0.0
    assert cover <= 0.5 * pot
    black = exchange_areas(
        oven, pot_up=UPRIGHT, pot_emittance=1.0, wall_emittance=0.0, cover_emittance=1.0, rays=1 << 16
    )[0, 0]
    own = 1.0 - black / pot  # what comes back to the pot from its own images
    assert cover == pytest.approx(pot * 0.5 * (1.0 - own) / (1.0 - 0.5 * own), rel=1e-2)
