"""The turning base and how the oven stands on it, against circles, a compass in space and a mesh that is turned."""

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from noonhearth.model import (
    Blank,
    Box,
    ByHand,
    Cover,
    Design,
    Drive,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Pot,
    Stand,
    Workshop,
    blanks_of,
    ground_gap,
    load_catalogue,
    pot_gap,
    trunnion_height,
)

CATALOGUE = load_catalogue()
DRIVE = Drive(
    fin_height=0.06, cell_width=0.02, start_share=0.25, stop_share=0.05, speed=1e-3, elevation_every=3600.0
)


def design_of(
    aiming: ByHand | Drive, *, radius: float = 0.30, axis: float = 0.45, boxed: bool = False
) -> Design:
    return Design(
        oven=Oven(
            funnel=Funnel(facets=8, mouth=0.8, depth=0.4, facet_angle=0.45, mirror="anodised-sheet"),
            cover=Cover(cover="tempered-glass"),
            jacket=Jacket(
                insulation="mineral-wool", insulation_thickness=0.05, skin="plywood", skin_thickness=0.006
            ),
            pot=Pot(
                pot_metal="steel",
                pot_finish="matt-black-paint",
                pot_diameter=0.18,
                pot_height=0.12,
                pot_lift=0.06,
            ),
            box=Box(archetype="funnel over box", box_across=0.5, box_depth=0.3) if boxed else Box(),
            stand=Stand(base_radius=radius, axis_height=axis),
        ),
        aiming=aiming,
        meal=Meal(food="rice", food_mass=0.5),
    )


def base_of(design: Design, **workshop: object) -> Blank:
    pieces = blanks_of(design, catalogue=CATALOGUE, workshop=Workshop(**workshop))
    [base] = [piece for piece in pieces if piece.name == "turning base"]
    return base


@pytest.mark.parametrize("radius", [0.06, 0.30, 1.5])
def test_the_base_is_a_disc_with_its_pivot_in_the_middle(radius: float) -> None:
    base = base_of(design_of(DRIVE, radius=radius), pivot_hole=0.012, base_thickness=0.015)
    assert np.linalg.norm(base.outline, axis=1) == pytest.approx(
        np.full(len(base.outline), radius), rel=1e-12
    )
    disc, hole = math.pi * radius**2, math.pi * 0.006**2
    assert base.area == pytest.approx(disc - hole, rel=3e-5)  # a polygon of 720 corners
    assert base.volume == pytest.approx(0.015 * base.area, rel=1e-9)
    [pivot] = base.holes
    assert np.linalg.norm(pivot, axis=1) == pytest.approx(np.full(len(pivot), 0.006), rel=1e-12)
    # Between corners the wheel would drop by less than a tenth of a millimetre even on the largest.
    assert radius * (1 - math.cos(math.pi / len(base.outline))) < 1e-4


def ticks_of(base: Blank) -> np.ndarray:
    """Outer ends of the marks that run square to the edge."""
    ends = [mark.points[-1] for mark in base.marks if len(mark.points) == 2]
    return np.array([end for end in ends if np.linalg.norm(end) == pytest.approx(base.across / 2, rel=1e-9)])


@pytest.mark.parametrize(("radius", "step"), [(0.05, 5), (0.06, 2), (0.30, 1), (3.0, 1)])
def test_degree_marks_are_even_and_far_enough_apart(radius: float, step: int) -> None:
    """2 pi r / 360 is 2 mm at r = 115 mm: below it marks are every 2 or 5 degrees."""
    base = base_of(design_of(ByHand(azimuth_every=1200.0), radius=radius))
    ticks = ticks_of(base)
    azimuth = np.sort(np.degrees(np.arctan2(ticks[:, 0], ticks[:, 1])) % 360)
    assert len(azimuth) == 360 // step
    assert np.diff(azimuth) == pytest.approx(np.full(len(azimuth) - 1, step), abs=1e-9)
    assert radius * math.radians(step) >= 0.002


@pytest.mark.parametrize("azimuth", [0, 40, 120, 250, 350])
def test_a_pointer_at_north_reads_the_azimuth_of_the_mouth(azimuth: int) -> None:
    """The disc turned about its pivot by the azimuth, clockwise seen from above: which number lies at north?"""
    base = base_of(design_of(ByHand(azimuth_every=1200.0)))
    numbers = {int(m.text): m.points[0] for m in base.marks if m.text.isdigit()}
    assert sorted(numbers) == list(range(0, 360, 10))
    turn = trimesh.transformations.rotation_matrix(-math.radians(azimuth), [0, 0, 1])
    placed = {n: trimesh.transform_points(np.append(at, 0.0)[None], turn)[0] for n, at in numbers.items()}
    assert max(placed, key=lambda n: placed[n][1]) == azimuth
    mouth = next(m.points for m in base.marks if m.text == "towards the mouth")
    east, north, _ = trimesh.transform_points(np.append(mouth[0], 0.0)[None], turn)[0]
    assert math.degrees(math.atan2(east, north)) % 360 == pytest.approx(azimuth, abs=1e-9)


def test_only_a_drive_has_a_track() -> None:
    by_hand, driven = base_of(design_of(ByHand(azimuth_every=1200.0))), base_of(design_of(DRIVE))
    assert "track of the wheel" not in by_hand.note
    assert "track of the wheel" in driven.note
    assert not any("track" in mark.text for mark in by_hand.marks)
    assert any("track" in mark.text for mark in driven.marks)
    assert "weigh it down" in by_hand.note


@pytest.mark.parametrize("boxed", [False, True])
@pytest.mark.parametrize("degrees", [90.0, 60.0, 20.0])
def test_height_over_the_ground_is_that_of_a_turned_mesh(boxed: bool, degrees: float) -> None:
    """The jacket as a convex hull of its corners, put up by hand here, tilted about the trunnions by trimesh."""
    design = design_of(ByHand(azimuth_every=1200.0), boxed=boxed)
    oven, n, t = design.oven, 8, 0.056
    if boxed:
        rims = [(4, 0.5 + 2 * t, -t), (4, 0.5 + 2 * t, 0.3 + t), (n, 0.8, 0.3 + 0.4)]
    else:
        # An offset of t along the normals: the slanted planes move out by t / cos, the plate down by t.
        throat = 0.8 - 2 * 0.4 * math.tan(0.45)
        wider = 2 * t / math.cos(0.45)
        rims = [(n, throat + wider - 2 * t * math.tan(0.45), -t), (n, 0.8 + wider, 0.4)]
    corners = []
    for sides, across, level in rims:
        turn = 2 * math.pi * (np.arange(sides) + 0.5) / sides
        reach = across / 2 / math.cos(math.pi / sides)
        corners.append(np.column_stack([reach * np.sin(turn), reach * np.cos(turn), np.full(sides, level)]))
    solid = trimesh.Trimesh(np.vstack(corners)).convex_hull
    solid.apply_translation([0, 0, -trunnion_height(design)])
    # From pointing up to pointing at the horizon north: about x, so that y (up the slope) tips towards up.
    solid.apply_transform(trimesh.transformations.rotation_matrix(math.radians(degrees - 90), [-1, 0, 0]))
    lowest = oven.stand.axis_height + solid.bounds[0][2]
    assert ground_gap(design, math.radians(degrees))[0] == pytest.approx(lowest, abs=1e-9)


def test_low_trunnions_are_told_by_a_gap_below_zero() -> None:
    design = design_of(ByHand(azimuth_every=1200.0), axis=0.10)
    assert ground_gap(design, math.pi / 2)[0] < 0  # 0.12 m to the plate and 56 mm of jacket under it
    assert ground_gap(design, math.pi / 2)[0] == pytest.approx(0.10 - 0.12 - 0.056, abs=1e-12)


def test_the_pot_hangs_from_its_middle() -> None:
    """Level: the gap is the least of lift, room above and room beside; here the lift of 60 mm."""
    design = design_of(ByHand(azimuth_every=1200.0))
    assert trunnion_height(design) == pytest.approx(0.06 + 0.06)
    assert pot_gap(design, math.pi / 2, catalogue=CATALOGUE)[0] == pytest.approx(0.06, abs=1e-9)
    lower = replace(design.oven.pot, pot_lift=0.02)
    low = replace(design, oven=replace(design.oven, pot=lower))
    assert pot_gap(low, math.pi / 2, catalogue=CATALOGUE)[0] == pytest.approx(0.02, abs=1e-9)
