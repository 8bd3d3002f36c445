"""Flat pieces put together again: edges meet, areas and volumes are those of the solid, folds end where they should."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from noonhearth.model import ByHand, Cover, Design, Funnel, Jacket, Meal, Oven, Pot, load_catalogue
from noonhearth.model.blanks import (
    Blank,
    Workshop,
    allowance,
    blanks_of,
    flange_fold,
    fold_angles,
    turn,
)
from noonhearth.model.blanks.blank import polygon_area, regular
from noonhearth.model.blanks.ring import Ring, rings, strip
from noonhearth.model.tiers import Wall, jacket, wall

CATALOGUE = load_catalogue()
HUNDREDTH = 1e-5  # m


def wall_with(tiers: int, angle: float, bend: float, mouth: float = 0.6, depth: float = 0.3) -> Wall:
    fields = {"mouth": mouth, "depth": depth, "tiers": tiers, "facet_angle": angle, "second_bend": bend}
    fields |= {"third_bend": bend, "second_from": 0.5, "third_from": 0.5}
    return wall(**{name: np.array([value]) for name, value in fields.items()})


shapes = st.tuples(
    st.integers(3, 24), st.integers(1, 3), st.floats(0.0, 0.6), st.floats(-0.25, 0.15), st.floats(0.002, 0.08)
).filter(lambda s: float(wall_with(*s[1:4]).narrowest[0]) > 0.05)


def in_space(ring: Ring, face: np.ndarray, behind: float, facet: int) -> np.ndarray:
    """Corners of a face of the so-many-th piece in the frame of the oven, from its plane's u and v. [m]"""
    u, v = face.T
    # The plane lies so far behind one whose v = r sin + z cos; its distance from the origin follows from a corner.
    middle = 2 * math.pi * facet / ring.facets
    out = np.array([math.sin(middle), math.cos(middle), 0.0])
    sideways = np.array([math.cos(middle), -math.sin(middle), 0.0])
    up = math.sin(ring.angle) * out + np.array([0.0, 0.0, math.cos(ring.angle)])
    normal = math.cos(ring.angle) * out - np.array([0.0, 0.0, math.sin(ring.angle)])
    return u[:, None] * sideways + v[:, None] * up + behind * normal


def plane_of(funnel: Wall, ring: Ring, place: int) -> float:
    """Distance of a tier's mirror plane from the middle of the back plate, along its normal. [m]"""
    apothem, level = float(funnel.across[place, 0]) / 2, float(funnel.level[place, 0])
    return apothem * math.cos(ring.angle) - level * math.sin(ring.angle)


@given(shapes)
@settings(max_examples=60, deadline=None)
def test_facets_meet_along_their_edges(shape: tuple[int, int, float, float, float]) -> None:
    facets, tiers, angle, bend, thickness = shape
    funnel = wall_with(tiers, angle, bend)
    found = rings(funnel, facets, begin=0.0, thickness=thickness)
    top = None
    for ring in found:
        place = 3 - ring.tier  # edges are counted from the mouth
        for face, behind in ((ring.inner, 0.0), (ring.outer, thickness)):
            if len(found) < tiers and behind:
                continue  # a tier that vanishes behind its neighbours leaves no edges to meet
            depth = plane_of(funnel, ring, place + 0) + behind
            one, other = (in_space(ring, face, depth, k) for k in (0, 1))
            # Facets are numbered clockwise: the right side of one is the left side of the next.
            assert np.abs(one[[1, 2]] - other[[0, 3]]).max() < HUNDREDTH
            if behind == 0.0:
                if top is not None:
                    assert np.abs(one[[0, 1]] - top).max() < HUNDREDTH
                top = one[[3, 2]]


@given(shapes)
@settings(max_examples=40, deadline=None)
def test_boards_fill_the_jacket(shape: tuple[int, int, float, float, float]) -> None:
    """Volume of all boards with their bevels against the space between two stacks of frusta."""
    facets, tiers, angle, bend, thickness = shape
    funnel = wall_with(tiers, angle, bend)
    found = rings(funnel, facets, begin=0.0, thickness=thickness)
    if len(found) < tiers:
        return
    corners = facets * math.tan(math.pi / facets)

    def stack(one: Wall) -> float:
        rise, top, low = one.rise[:, 0], one.across[:-1, 0], one.across[1:, 0]
        return float((corners / 12 * rise * (top**2 + low**2 + top * low)).sum())

    outer = jacket(funnel, np.array([thickness]))
    between = stack(outer) - stack(funnel)

    def volume(face: np.ndarray, other: np.ndarray) -> float:
        return piece(thickness, face, other).volume

    near, far = (regular(facets, float(one.across[-1, 0])) for one in (funnel, outer))
    boards = sum(facets * volume(ring.outer, ring.inner) for ring in found) + volume(far, near)
    assert boards == pytest.approx(between, rel=1e-9)


def piece(thickness: float, face: np.ndarray, other: np.ndarray) -> Blank:
    what = {"name": "board", "part": "insulation", "material": "mineral-wool", "count": 1}
    return Blank(**what, thickness=thickness, outline=face, inner=other)


def test_a_board_is_the_solid_that_trimesh_makes_of_its_corners() -> None:
    funnel = wall_with(2, 0.35, 0.2)
    for ring in rings(funnel, 7, begin=0.001, thickness=0.04):
        near, far = (
            np.column_stack([face, np.full(4, depth)])
            for face, depth in ((ring.inner, 0.0), (ring.outer, 0.04))
        )
        solid = trimesh.Trimesh(np.vstack([near, far])).convex_hull
        assert piece(0.04, ring.outer, ring.inner).volume == pytest.approx(solid.volume, rel=1e-9)


@pytest.mark.parametrize("facets", [3, 5, 8, 16])
@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0])
def test_bevels_halve_the_turn(facets: int, degrees: float) -> None:
    """Turn between facets from normals of a solid by trimesh, not from our formula."""
    angle = math.radians(degrees)
    funnel = wall_with(1, angle, 0.0, mouth=1.2)
    (ring,) = rings(funnel, facets, begin=0.0, thickness=0.03)
    ends = [
        np.column_stack([regular(facets, float(across)), np.full(facets, float(level))])
        for across, level in zip(funnel.across[[0, -1], 0], funnel.level[[0, -1], 0], strict=True)
    ]
    solid = trimesh.Trimesh(np.vstack(ends)).convex_hull
    angles = solid.face_adjacency_angles[solid.face_adjacency_angles > 1e-6]
    edges = solid.face_adjacency_edges[solid.face_adjacency_angles > 1e-6]
    upright = np.ptp(solid.vertices[edges][:, :, 2], axis=1) > 0.1
    assert angles[upright] == pytest.approx(np.full(facets, turn(angle, facets)), abs=1e-9)
    butt = next(b for b in pieces("butt", facets, angle) if b.part == "insulation")
    assert butt.bevels[1] == pytest.approx(turn(angle, facets) / 2, abs=1e-9)
    assert butt.bevels[3] == pytest.approx(turn(angle, facets) / 2, abs=1e-9)
    assert butt.bevels[0] == pytest.approx((math.pi / 2 - angle) / 2, abs=1e-9)  # against the back
    assert ring.outer[2, 1] - ring.inner[2, 1] == pytest.approx(
        0.03 * math.tan(angle), abs=1e-12
    )  # a level rim


def pieces(joint: str, facets: int, angle: float) -> list:
    design = Design(
        oven=Oven(
            funnel=Funnel(facets=facets, mouth=1.2, depth=0.3, facet_angle=angle, mirror="anodised-sheet"),
            cover=Cover(cover="tempered-glass"),
            jacket=Jacket(insulation="mineral-wool", insulation_thickness=0.03, skin="plywood"),
            pot=Pot(
                pot_metal="steel",
                pot_finish="matt-black-paint",
                pot_diameter=0.18,
                pot_height=0.12,
                pot_lift=0.05,
            ),
        ),
        aiming=ByHand(azimuth_every=1200.0),
        meal=Meal(food="rice", food_mass=0.5),
    )
    return blanks_of(design, catalogue=CATALOGUE, workshop=Workshop(joint=joint))


def walked(fold: float, thickness: float, radius: float, neutral: float, flat: float) -> np.ndarray:
    """Cross-section of a fold by small steps along the neutral layer: where it ends. [m]

    Starts at the origin along x; the fold takes the middle of `flat`, which is as long as the neutral arc or longer.
    """
    arc = fold * (radius + neutral * thickness)
    steps = 200_000
    s = (np.arange(steps) + 0.5) * flat / steps
    begin = (flat - arc) / 2
    heading = np.clip((s - begin) / arc, 0.0, 1.0) * fold
    return np.array([np.cos(heading).sum(), np.sin(heading).sum()]) * flat / steps


@pytest.mark.parametrize("measured", ["inside", "outside"])
@pytest.mark.parametrize("fold", [0.2, 0.67, 1.4])
def test_a_fold_brings_two_faces_to_their_edge(fold: float, measured: str) -> None:
    """Two faces of 50 mm to the sharp edge: after folding, lines along both faces meet 50 mm from either end."""
    thickness, radius, neutral, face = 0.0008, 0.002, 0.4, 0.05
    add = allowance(fold, thickness=thickness, radius=radius, neutral=neutral, measured=measured)
    end = walked(fold, thickness, radius, neutral, 2 * face + add)
    # Faces lie beside the neutral layer: inside the fold is to the left of the way walked.
    aside = neutral * thickness if measured == "inside" else -(1 - neutral) * thickness
    begin = np.array([0.0, aside])
    last = end + aside * np.array([-math.sin(fold), math.cos(fold)])
    edge = begin + np.array([face, 0.0])
    back = last - face * np.array([math.cos(fold), math.sin(fold)])
    assert np.abs(edge - back).max() < HUNDREDTH


def test_handbook_lengths_of_right_angles() -> None:
    """Straight stock for a right angle: 1.57 R + 0.64 T for half-hard sheet (workshop handbooks, from memory)."""
    thickness, radius = 0.001, 0.003
    arc = (
        allowance(math.pi / 2, thickness=thickness, radius=radius, neutral=0.407, measured="inside")
        + 2 * radius
    )
    assert arc == pytest.approx(1.57 * radius + 0.64 * thickness, rel=1e-3)


def test_flanges_lie_back_to_back() -> None:
    """Fold, facet, fold: twice the fold and the turn make half a circle, so neighbouring flanges are parallel."""
    assert 2 * flange_fold(turn(0.5, 8)) + turn(0.5, 8) == pytest.approx(math.pi, abs=1e-12)
    piece = next(b for b in pieces("seam", 8, 0.5) if b.part == "mirror")
    assert len(piece.outline) == 8
    assert [fold for _, fold in piece.folds] == pytest.approx([-flange_fold(turn(0.5, 8))] * 2)


@pytest.mark.parametrize("number", [2, 5, 8])
def test_a_strip_without_thickness_is_the_facets_side_by_side(number: int) -> None:
    funnel = wall_with(1, 0.5, 0.0)
    (ring,) = rings(funnel, 8, begin=0.0, thickness=0.001)
    outline, folds = strip(ring, number, 0.0, Workshop(joint="strip", bend_radius=0.0))
    assert polygon_area(outline) == pytest.approx(number * polygon_area(ring.inner), rel=1e-12)
    side = np.linalg.norm(ring.inner[2] - ring.inner[1])
    assert len(folds) == number - 1
    for line, fold in folds:
        assert np.linalg.norm(line[1] - line[0]) == pytest.approx(side, rel=1e-12)
        assert fold == pytest.approx(turn(0.5, 8))


def test_a_strip_gains_what_its_folds_take_up() -> None:
    funnel = wall_with(1, 0.5, 0.0)
    (ring,) = rings(funnel, 8, begin=0.0, thickness=0.001)
    shop = Workshop(joint="strip", bend_radius=0.002)
    outline, folds = strip(ring, 3, 0.001, shop)
    gap = allowance(turn(0.5, 8), thickness=0.001, radius=0.002, neutral=shop.neutral, measured="inside")
    side = np.linalg.norm(ring.inner[2] - ring.inner[1])
    assert polygon_area(outline) - 3 * polygon_area(ring.inner) == pytest.approx(2 * gap * side, rel=1e-9)
    assert len(folds) == 2


@pytest.mark.parametrize("joint", ["butt", "seam", "strip"])
def test_every_facet_is_cut_once(joint: str) -> None:
    mirror = [b for b in pieces(joint, 10, 0.4) if b.part == "mirror" and "facet" in b.name]
    per_piece = [int(b.name.split()[0]) if b.name[0].isdigit() else 1 for b in mirror]
    assert sum(b.count * n for b, n in zip(mirror, per_piece, strict=True)) == 10


@pytest.mark.parametrize("bend", [0.2, -0.2])
def test_inside_angles_are_those_between_faces_of_the_solid(bend: float) -> None:
    """Normals of neighbouring mirror planes in space; where the edge stands inwards the angle is over half a turn."""
    funnel = pieces_funnel(2, 0.4, bend)
    told = dict(fold_angles(funnel))

    def normal(angle: float, facet: int) -> np.ndarray:
        middle = 2 * math.pi * facet / funnel.facets
        out = np.array([math.sin(middle), math.cos(middle), 0.0])
        return math.cos(angle) * out - math.sin(angle) * np.array([0.0, 0.0, 1.0])

    between = math.acos(normal(0.4, 0) @ normal(0.4, 1))
    assert told["between facets of tier 1"] == pytest.approx(math.pi - between)
    tiers = math.copysign(math.acos(normal(0.4, 0) @ normal(0.4 + bend, 0)), bend)
    assert told["between tiers 1 and 2"] == pytest.approx(math.pi + tiers)
    plate = math.acos(normal(0.4, 0) @ np.array([0.0, 0.0, -1.0]))
    assert told["between facets and back plate"] == pytest.approx(math.pi - plate)


def pieces_funnel(tiers: int, angle: float, bend: float) -> Funnel:
    return Funnel(
        mouth=1.2, depth=0.3, facet_angle=angle, mirror="anodised-sheet", tiers=tiers, second_bend=bend
    )
