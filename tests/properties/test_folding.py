"""Patterns folded back into space and measured by an independent mesh library: seams, areas, angles, planes of light.

Folding here is a rigid turn of whatever lies beyond a fold line, with the bend as a part of a cylinder; nothing of it
is taken from the code that draws the patterns. Rings of tiers are set on each other by their corners alone.
"""

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
    Funnel,
    Jacket,
    Meal,
    Oven,
    Pot,
    Workshop,
    blanks_of,
    fold_angles,
    load_catalogue,
)
from noonhearth.model.light.facets import facet_area, facing, flare
from noonhearth.model.pack import optics_of_design

CATALOGUE = load_catalogue()
HUNDREDTH = 1e-5  # m: 0.01 mm

SHAPES = {
    "one tier": {"facets": 8},
    "odd": {"facets": 5, "facet_angle": math.radians(25)},
    "two tiers opening": {"facets": 8, "tiers": 2, "second_bend": 0.2, "second_from": 0.4},
    "two tiers closing": {"facets": 12, "tiers": 2, "facet_angle": 0.6, "second_bend": -0.25},
    "three tiers": {"facets": 7, "tiers": 3, "facet_angle": 0.3, "second_bend": 0.15, "third_bend": 0.1},
    "many facets": {"facets": 24, "facet_angle": 0.45},
}
ARCHETYPES = ("covered funnel", "funnel over box")
JOINTS = ("butt", "seam", "strip")


def design_of(shape: str, archetype: str) -> Design:
    fields = {"mouth": 0.9, "depth": 0.4, "facet_angle": 0.42, "mirror": "anodised-sheet"} | SHAPES[shape]
    box = Box(archetype=archetype, box_across=0.8, box_depth=0.25) if archetype == ARCHETYPES[1] else Box()
    return Design(
        oven=Oven(
            funnel=Funnel(**fields),
            cover=Cover(cover="tempered-glass"),
            jacket=Jacket(insulation="mineral-wool", insulation_thickness=0.03, skin="plywood"),
            pot=Pot(
                pot_metal="steel",
                pot_finish="matt-black-paint",
                pot_diameter=0.1,
                pot_height=0.1,
                pot_lift=0.05,
            ),
            box=box,
        ),
        aiming=ByHand(azimuth_every=1200.0),
        meal=Meal(food="rice", food_mass=0.5),
    )


def mirror_pieces(design: Design, shop: Workshop) -> dict[int, list[Blank]]:
    """Facets by tier, from the lowest."""
    tiers: dict[int, list[Blank]] = {}
    for piece in blanks_of(design, catalogue=CATALOGUE, workshop=shop):
        if piece.part == "mirror" and "tier" in piece.name:
            tiers.setdefault(int(piece.name.rpartition(" ")[2]), []).append(piece)
    return tiers


def about(point: np.ndarray, along: np.ndarray, angle: float) -> np.ndarray:
    return trimesh.transformations.rotation_matrix(angle, along, point)


def bent(line: np.ndarray, angle: float, thickness: float, radius: float, neutral: float) -> np.ndarray:
    """Where whatever lies to the right of a fold line (as drawn, upwards) goes; the drawn face comes inside.

    The sheet lies below the drawn face. As much of it as the neutral layer's arc is rolled round a cylinder above.
    """
    along = np.append((line[1] - line[0]) / np.linalg.norm(line[1] - line[0]), 0.0)
    out = np.array([along[1], -along[0], 0.0])
    arc = angle * (radius + neutral * thickness)
    begin = np.append(line[0], 0.0) - arc / 2 * out
    shift = trimesh.transformations.translation_matrix(-arc * out)
    turn = about(begin + np.array([0.0, 0.0, radius]), along, -angle)
    return turn @ shift


def flat(points: np.ndarray) -> np.ndarray:
    return np.column_stack([points, np.zeros(len(points))])


def moved(points: np.ndarray, how: np.ndarray) -> np.ndarray:
    return trimesh.transform_points(points, how)


def folded_strip(piece: Blank, number: int, shop: Workshop) -> list[np.ndarray]:
    """Facets of a strip in space, the first one in the plane of the drawing."""
    corners = piece.outline
    facets = [
        flat(np.array([corners[2 * k], corners[2 * k + 1], corners[::-1][2 * k], corners[::-1][2 * k + 1]]))
        for k in range(number)
    ]
    facets = [facet[[0, 1, 3, 2]] if _crossed(facet) else facet for facet in facets]
    how = np.eye(4)
    found = [facets[0]]
    # Later folds lie in the part that earlier ones move: so the first turn is the outermost.
    for facet, (line, angle) in zip(facets[1:], piece.folds, strict=True):
        how = how @ bent(line, angle, piece.thickness, shop.bend_radius, shop.neutral)
        found.append(moved(facet, how))
    return found


def _crossed(quad: np.ndarray) -> bool:
    x, y = quad[:, 0], quad[:, 1]
    area = abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)
    x, y = quad[[0, 1, 3, 2]][:, 0], quad[[0, 1, 3, 2]][:, 1]
    return area < abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)


def single_facets(piece: Blank, joint: str) -> np.ndarray:
    """Bright face of a piece that is one facet: of flanged ones between its folds, of bevelled ones the smaller."""
    if joint == "seam":
        (right, _), (left, _) = piece.folds
        return flat(np.array([left[1], right[0], right[1], left[0]]))
    return flat(piece.inner)


def rigid(moving: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """The turn and shift that bring points nearest to others, mirror images shut out."""
    how, _, _ = trimesh.registration.procrustes(moving, fixed, reflection=False, scale=False)
    return how


def ring_corners(facets: int, across: float, level: float) -> np.ndarray:
    """Corners of a regular polygon with the middle of a side at +y, clockwise from its left end seen from above."""
    azimuth = 2 * math.pi * (np.arange(facets) - 0.5) / facets
    reach = across / 2 / math.cos(math.pi / facets)
    return np.column_stack([reach * np.sin(azimuth), reach * np.cos(azimuth), np.full(facets, level)])


def rings_in_space(design: Design, joint: str) -> list[list[np.ndarray]]:
    """Facets of each tier from the lowest, in the oven's frame; the plate's corners fix the first ring."""
    funnel = design.oven.funnel
    shop = Workshop(joint=joint, facets_a_strip=funnel.facets, bend_radius=0.002)
    below = ring_corners(funnel.facets, float(funnel.wall.throat), float(funnel.wall.level[-1]))
    found = []
    for pieces in mirror_pieces(design, shop).values():
        (piece,) = pieces
        if joint == "strip":
            facets = folded_strip(piece, funnel.facets, shop)
        else:
            facets = around(single_facets(piece, joint), below)
        feet = np.vstack([facet[[0, 1]] for facet in facets])
        # Seen from the axis the strip runs to the right: clockwise from above, as the corners do.
        wanted = np.vstack([np.array([below[k], below[(k + 1) % len(below)]]) for k in range(len(below))])
        how = rigid(feet, wanted)
        facets = [moved(facet, how) for facet in facets]
        found.append(facets)
        below = np.array([facet[3] for facet in facets])
    return found


def around(facet: np.ndarray, below: np.ndarray) -> list[np.ndarray]:
    """Copies of a loose facet on every side of a polygon, all leaning alike so that neighbours' sides meet.

    The lean is found here from the facet's corners: the one at which two neighbours' upper corners touch.
    """
    count = len(below)
    middle = (below[0] + below[1]) / 2
    outwards = middle * np.array([1.0, 1.0, 0.0]) / np.linalg.norm(middle[:2])
    sideways = (below[1] - below[0]) / np.linalg.norm(below[1] - below[0])
    local = facet - (facet[0] + facet[1]) / 2
    across = (facet[1] - facet[0]) / np.linalg.norm(facet[1] - facet[0])
    up = np.array([-across[1], across[0], 0.0])
    u, v = local @ across, local @ up
    # A corner at half-width u on the ring stands u / tan(pi / n) from the axis: the reach that the slant must give.
    reach = u[2] / math.tan(math.pi / count) - np.linalg.norm(middle[:2])
    lean = math.asin(reach / v[2])
    placed = (
        middle
        + u[:, None] * sideways
        + v[:, None] * (math.sin(lean) * outwards + np.array([0.0, 0.0, math.cos(lean)]))
    )
    turn = -2 * math.pi / count
    return [moved(placed, about(np.zeros(3), np.array([0.0, 0.0, 1.0]), k * turn)) for k in range(count)]


def mesh_of(polygons: list[np.ndarray]) -> trimesh.Trimesh:
    """Polygons as triangles, corners that lie within a hundredth of a millimetre joined."""
    vertices, faces = [], []
    for polygon in polygons:
        first = sum(len(one) for one in vertices)
        vertices.append(polygon)
        faces += [(first, first + k, first + k + 1) for k in range(1, len(polygon) - 1)]
    mesh = trimesh.Trimesh(np.vstack(vertices), np.array(faces), process=False)
    mesh.merge_vertices(digits_vertex=5)
    return mesh


def gap(points: np.ndarray, others: np.ndarray) -> float:
    return float(np.linalg.norm(points - others, axis=1).max())


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("archetype", ARCHETYPES)
@pytest.mark.parametrize("shape", SHAPES)
def test_folded_patterns_are_the_facets_of_the_light_model(shape: str, archetype: str, joint: str) -> None:
    design = design_of(shape, archetype)
    rings = rings_in_space(design, joint)
    funnel, optics = design.oven.funnel, optics_of_design(design, CATALOGUE)
    lift = float(optics.bottom_height[len(rings) - 1])  # of the throat over the floor of a box
    assert len(rings) == funnel.tiers
    for tier, facets in enumerate(rings):
        cell = funnel.tiers - 1 - tier  # the light model counts from the mouth
        for number, facet in enumerate(facets):
            following = facets[(number + 1) % len(facets)]
            assert gap(facet[[1, 2]], following[[0, 3]]) < HUNDREDTH
            # The plane in which light is thrown back: through the cell's ends, leaning by its flare.
            out = np.append(facing()[:, funnel.facets, number], 0.0)
            normal = out - np.array([0.0, 0.0, float(flare(optics)[cell])])
            normal /= np.linalg.norm(normal)
            on_it = out * optics.top_across[cell] / 2 + np.array([0.0, 0.0, optics.top_height[cell] - lift])
            assert np.abs((facet - on_it) @ normal).max() < HUNDREDTH
        assert np.ptp([facet[2, 2] for facet in facets]) < HUNDREDTH
        assert facets[0][2, 2] + lift == pytest.approx(float(optics.top_height[cell]), abs=HUNDREDTH)
        area = mesh_of(facets).area
        assert area == pytest.approx(float(facet_area(optics)[cell]), rel=1e-6)


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("shape", SHAPES)
def test_the_folded_funnel_closes_and_its_angles_are_those_told(shape: str, joint: str) -> None:
    """With the back plate and a lid over the mouth it is watertight; dihedral angles by trimesh."""
    design = design_of(shape, ARCHETYPES[0])
    funnel = design.oven.funnel
    rings = rings_in_space(design, joint)
    plate = next(
        b for b in blanks_of(design, catalogue=CATALOGUE, workshop=Workshop()) if b.name == "back plate"
    )
    turned = flat(plate.outline[:, ::-1])  # a side at +y, as the facets have it
    mouth = np.array([facet[3] for facet in rings[-1]])
    feet = np.array([facet[0] for facet in rings[0]])
    assert max(np.linalg.norm(feet - corner, axis=1).min() for corner in turned) < HUNDREDTH
    mesh = mesh_of([*[facet[::-1] for ring in rings for facet in ring], turned, mouth[::-1]])
    assert mesh.is_watertight
    frusta = 0.0
    for rise, top, low in zip(funnel.wall.rise, funnel.wall.across[:-1], funnel.wall.across[1:], strict=True):
        corners = funnel.facets * math.tan(math.pi / funnel.facets)
        frusta += corners / 12 * float(rise) * float(top**2 + low**2 + top * low)
    assert mesh.volume == pytest.approx(frusta, rel=1e-5)
    told = dict(fold_angles(funnel))
    levels = sorted({round(float(level), 9) for level in funnel.wall.level})
    angles, edges = mesh.face_adjacency_angles, mesh.vertices[mesh.face_adjacency_edges]
    real = angles > 1e-4
    middle, upright = edges[:, :, 2].mean(axis=1), np.ptp(edges[:, :, 2], axis=1) > 1e-3
    tiers = funnel.tiers
    for tier in range(1, tiers + 1):
        name = f"between facets of tier {tier}" if tiers > 1 else "between facets"
        low, high = levels[tier - 1 : tier + 1]
        here = real & upright & (middle > low) & (middle < high)
        assert here.sum() == funnel.facets
        assert angles[here] == pytest.approx(np.full(funnel.facets, math.pi - told[name]), abs=1e-4)
    for tier in range(1, tiers):
        here = real & ~upright & (np.abs(middle - levels[tier]) < 1e-4)
        assert here.sum() == funnel.facets
        between = abs(told[f"between tiers {tier} and {tier + 1}"] - math.pi)
        assert angles[here] == pytest.approx(np.full(funnel.facets, between), abs=1e-4)
    here = real & ~upright & (middle < 1e-4)
    assert here.sum() == funnel.facets
    assert angles[here] == pytest.approx(math.pi - told["between facets and back plate"], abs=1e-4)


@pytest.mark.parametrize("shape", ["one tier", "odd", "three tiers"])
def test_flanges_of_neighbours_lie_back_to_back(shape: str) -> None:
    """Folded back, their faces lie in the plane that halves the turn, as wide as asked for."""
    design = design_of(shape, ARCHETYPES[0])
    shop = Workshop(joint="seam", bend_radius=0.001)
    rings = rings_in_space(design, "seam")
    for facets, pieces in zip(rings, mirror_pieces(design, shop).values(), strict=True):
        (piece,) = pieces
        how = rigid(single_facets(piece, "seam"), facets[0])
        (right, angle), _ = piece.folds
        # The drawn face comes outside: the bend's cylinder lies below the sheet.
        along = np.append(right[1] - right[0], 0.0)
        along /= np.linalg.norm(along)
        out = np.array([along[1], -along[0], 0.0])
        radius, thickness = shop.bend_radius, piece.thickness
        arc = -angle * (radius + shop.neutral * thickness)
        # Sheet flat: tangent length before the sharp edge, then the arc, then the flange.
        begin = np.append(right[0], 0.0) - (radius + thickness) * math.tan(-angle / 2) * out
        turn = about(begin - np.array([0.0, 0.0, radius + thickness]), along, -angle)
        flange = moved(
            moved(flat(piece.outline[[3, 4]]), trimesh.transformations.translation_matrix(-arc * out)), turn
        )
        away = moved(flange, how)
        mirror_edge = facets[0][[1, 2]]
        outwards = np.append(0.5 * (facing()[:, len(facets), 0] + facing()[:, len(facets), 1]), 0.0)
        side = np.cross(mirror_edge[1] - mirror_edge[0], outwards)
        side /= np.linalg.norm(side)
        assert (
            np.abs((away - mirror_edge[0]) @ side).max() < HUNDREDTH
        )  # the bright face is in the halving plane
        width = np.linalg.norm(np.cross(away[0] - mirror_edge[0], mirror_edge[1] - mirror_edge[0]))
        width /= np.linalg.norm(mirror_edge[1] - mirror_edge[0])
        assert width == pytest.approx(shop.flange, abs=HUNDREDTH)


@pytest.mark.parametrize("lining", ["dark", "mirror"])
def test_panels_of_the_box_fill_the_space_between_its_walls(lining: str) -> None:
    """Panels as solids of trimesh share no space; each layer fills what lies between two cuboids, less its hole."""
    design = design_of("one tier", ARCHETYPES[1])
    design = replace(design, oven=replace(design.oven, box=replace(design.oven.box, box_lining=lining)))
    pieces = blanks_of(design, catalogue=CATALOGUE)
    box = design.oven.box
    inside = np.array([box.box_across, box.box_across, box.box_depth])
    for layer in ("box lining", "box insulation", "box skin"):
        found = {b.name.removeprefix(f"{layer}, "): b for b in pieces if b.name.startswith(layer)}
        solids = panels_in_place(found, inside)
        boxes = [np.ptp(solid.bounds, axis=0) for solid in solids]
        thickness = found["floor"].thickness
        outside = inside + 2 * thickness
        whole = np.prod(outside) - np.prod(inside)
        assert sum(np.prod(one) for one in boxes) == pytest.approx(whole, rel=1e-9)
        hole = found["top"].holes[0]
        lost = trimesh.creation.extrude_triangulation(hole, fan(len(hole)), thickness).volume
        assert sum(b.count * b.volume for b in found.values()) == pytest.approx(whole - abs(lost), rel=1e-9)
        bounds = trimesh.util.concatenate(solids).bounds
        assert np.ptp(bounds, axis=0) == pytest.approx(outside, abs=1e-12)
        for k, one in enumerate(solids):
            for other in solids[k + 1 :]:
                shared = np.minimum(one.bounds[1], other.bounds[1]) - np.maximum(
                    one.bounds[0], other.bounds[0]
                )
                assert shared.min() < 1e-12
        inside = outside


def fan(corners: int) -> np.ndarray:
    return np.array([(0, k, k + 1) for k in range(1, corners - 1)])


def panels_in_place(found: dict[str, Blank], inside: np.ndarray) -> list[trimesh.Trimesh]:
    """Floor and top whole, long walls along x, short walls between them, about the middle of the box."""
    t = found["floor"].thickness
    x, y, z = inside / 2
    places = [
        ("floor", (0, 0, -z - t / 2), (0, 1, None)),
        ("top", (0, 0, z + t / 2), (0, 1, None)),
        ("long wall", (0, y + t / 2, 0), (0, None, 1)),
        ("long wall", (0, -y - t / 2, 0), (0, None, 1)),
        ("short wall", (x + t / 2, 0, 0), (None, 0, 1)),
        ("short wall", (-x - t / 2, 0, 0), (None, 0, 1)),
    ]
    solids = []
    for name, middle, sides in places:
        size = [t if side is None else found[name].size[side] for side in sides]
        solids.append(trimesh.creation.box(size, trimesh.transformations.translation_matrix(middle)))
    return solids


@pytest.mark.parametrize("insulation", [0.02, 0.12])
def test_the_top_of_the_box_lets_cover_frame_and_funnel_through(insulation: float) -> None:
    """At the upper face of each layer above the lining its hole is wider than the funnel and the frame there."""
    design = design_of("two tiers opening", ARCHETYPES[1])
    jacket = replace(design.oven.jacket, insulation_thickness=insulation)
    design = replace(design, oven=replace(design.oven, jacket=jacket))
    shop = Workshop()
    by_name = {b.name: b for b in blanks_of(design, catalogue=CATALOGUE, workshop=shop)}
    across = {name: 2 * by_name[name].holes[0][:, 0].max() for name in by_name if name.endswith("top")}
    wall = design.oven.funnel.wall
    throat, level, width = float(wall.throat), wall.level[::-1], wall.across[::-1]
    assert across["box lining, top"] == pytest.approx(throat)
    assert by_name["cover"].size[0] > throat
    for layer, top in (("insulation", insulation), ("skin", insulation + jacket.skin_thickness)):
        hole = across[f"box {layer}, top"]
        assert hole > throat + 2 * shop.frame_width - 1e-9
        assert hole > float(np.interp(top, level, width))


def test_the_frame_shades_no_mirror() -> None:
    """Inner edges of the mitred strips stand on the edge of the mouth; put together they close into a ring."""
    design = design_of("odd", ARCHETYPES[0])
    frame = next(b for b in blanks_of(design, catalogue=CATALOGUE) if b.name == "cover frame")
    facets, mouth = design.oven.funnel.facets, design.oven.funnel.mouth
    inner = frame.outline[[3, 2]]
    assert np.linalg.norm(inner[1] - inner[0]) == pytest.approx(mouth * math.tan(math.pi / facets))
    strips = []
    for k in range(facets):
        placed = flat(np.column_stack([frame.outline[:, 0], mouth / 2 + frame.size[1] - frame.outline[:, 1]]))
        strips.append(moved(placed, about(np.zeros(3), np.array([0, 0, 1.0]), 2 * math.pi * k / facets)))
    for one, other in zip(strips, strips[1:] + strips[:1], strict=True):
        assert gap(one[[0, 3]], other[[1, 2]]) < HUNDREDTH
