"""The tracer against a mesh ray caster and a bounce loop of its own.

Triangles are intersected by trimesh with embree; starts are plain random, outcomes are
weighted; nothing of the model is used but its description of an oven. Surfaces agree
within the larger of 0.3 % of the light and four standard errors, and the errors of all
ovens together are no larger than chance.
"""

import math
from typing import NamedTuple

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from trimesh.ray.ray_pyembree import RayMeshIntersector

from noonhearth.model.light import Optics, Surface, beam_shares, funnel, stack

Array = NDArray[np.float64]

RAYS = 60_000
POT_SIDES = 360
STEP = 2e-6  # m, off the surface: embree works in single precision
WALL, PLATE, LEVEL, POT = (
    0,
    1,
    2,
    3,
)  # what a triangle belongs to; LEVEL is a plane between cells or the mouth


class Mesh(NamedTuple):
    caster: RayMeshIntersector
    corners: Array  # [triangle, corner, xyz]
    normals: Array
    kind: NDArray[np.int64]
    index: NDArray[np.int64]  # cell of a wall, interface of a level, part of the pot


def outline(facets: int, across: float, z: float) -> Array:
    azimuth = 2.0 * np.pi * (np.arange(facets) - 0.5) / facets
    reach = 0.5 * across / math.cos(math.pi / facets)
    return np.stack([reach * np.sin(azimuth), reach * np.cos(azimuth), np.full(facets, z)], axis=1)


def fan(ring: Array) -> list[Array]:
    middle = ring.mean(axis=0)
    return [np.array([middle, a, b]) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]


def band(lower: Array, upper: Array) -> list[Array]:
    """Quads between two rings, stretched sideways a little so that no ray slips through a corner."""
    triangles = []
    for k in range(len(lower)):
        a, b, c, d = lower[k - 1], lower[k], upper[k], upper[k - 1]
        stretch = 1e-5 * (b - a) / np.linalg.norm(b - a)
        a, b, c, d = a - stretch, b + stretch, c + stretch, d - stretch
        triangles += [np.array([a, b, c]), np.array([a, c, d])]
    return triangles


def mesh_of(optics: Optics, up: Array) -> Mesh:
    pieces: list[tuple[list[Array], int, int]] = []
    cells = len(optics.facet_count)
    for k in range(cells):
        n = int(optics.facet_count[k])
        top = outline(n, optics.top_across[k], optics.top_height[k])
        base = outline(n, optics.bottom_across[k], optics.bottom_height[k])
        pieces.append((band(base, top), WALL, k))
        wide = max(optics.top_across[k], optics.bottom_across[k - 1]) if k else optics.top_across[0]
        pieces.append((fan(outline(4, 2.2 * wide, optics.top_height[k])), LEVEL, k))
    pieces.append((fan(1.0001 * base), PLATE, cells - 1))
    to_up = trimesh.geometry.align_vectors([0.0, 0.0, 1.0], up)[:3, :3]
    turn = 2.0 * np.pi * np.arange(POT_SIDES) / POT_SIDES
    ring = np.stack([np.cos(turn), np.sin(turn), 0.0 * turn], axis=1) * optics.pot_radius
    ring *= math.sqrt(2.0 * math.pi / POT_SIDES / math.sin(2.0 * math.pi / POT_SIDES))  # same area
    half, centre = np.array([0.0, 0.0, 0.5 * optics.pot_height]), np.array([0.0, 0.0, optics.pot_centre])
    lid, bottom = (ring + half) @ to_up.T + centre, (ring - half) @ to_up.T + centre
    pieces += [(fan(lid), POT, 0), (band(bottom, lid), POT, 1), (fan(bottom), POT, 2)]
    corners = np.concatenate([np.array(triangles) for triangles, _, _ in pieces])
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    tags = [(kind, index) for triangles, kind, index in pieces for _ in triangles]
    kind, index = np.array(tags).T
    body = trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False)
    return Mesh(RayMeshIntersector(body), corners, normals, kind, index)


def pane(cosine: Array, index: float, extinction_length: float, panes: int) -> tuple[Array, Array]:
    """Transmittance and reflectance by the textbook, for one pane or two."""
    inside = np.sqrt(1.0 - (1.0 - cosine**2) / index**2)
    a = np.exp(-extinction_length / inside)
    through, back = 0.0, 0.0
    for r in (
        ((cosine - index * inside) / (cosine + index * inside)) ** 2,
        ((inside - index * cosine) / (inside + index * cosine)) ** 2,
    ):
        t = a * (1.0 - r) ** 2 / (1.0 - (r * a) ** 2)
        b = r * (1.0 + a * t)
        if panes == 2:
            t, b = t * t / (1.0 - b * b), b + t * t * b / (1.0 - b * b)
        through, back = through + 0.5 * t, back + 0.5 * b
    return through, back


def frame(normal: Array) -> tuple[Array, Array]:
    helper = np.where(np.abs(normal[:, 2:]) < 0.9, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]])
    first = np.cross(helper, normal)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    return first, np.cross(normal, first)


def rough_mirror(ray: Array, normal: Array, slope: Array, rng: np.random.Generator) -> Array:
    first, second = frame(normal)
    lean = rng.normal(size=(2, len(ray), 1)) * slope[:, None]
    m = normal + lean[0] * first + lean[1] * second
    m /= np.linalg.norm(m, axis=1, keepdims=True)
    out = ray - 2.0 * np.sum(ray * m, axis=1, keepdims=True) * m
    into = np.minimum(np.sum(out * normal, axis=1, keepdims=True), 0.0)
    return out - 2.0 * into * normal


def lambert(normal: Array, rng: np.random.Generator) -> Array:
    first, second = frame(normal)
    u, turn = rng.random((len(normal), 1)), 2.0 * np.pi * rng.random((len(normal), 1))
    return np.sqrt(u) * (np.cos(turn) * first + np.sin(turn) * second) + np.sqrt(1.0 - u) * normal


def within(optics: Optics, cell: int, z: float, points: Array) -> NDArray[np.bool_]:
    n = int(optics.facet_count[cell])
    across = optics.top_across[cell] if z == optics.top_height[cell] else optics.bottom_across[cell]
    azimuth = 2.0 * np.pi * np.arange(n) / n
    out = points[:, :1] * np.sin(azimuth) + points[:, 1:2] * np.cos(azimuth)
    return np.asarray(out.max(axis=1) <= 0.5 * across)


def starts(optics: Optics, sun: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Points of the mouth by rejection from its bounding square, and rays from the solar disc."""
    top = float(optics.top_height[0])
    points = rng.uniform(-1.0, 1.0, (6 * RAYS, 2)) * optics.top_across[0]
    points = points[within(optics, 0, top, points)][:RAYS]
    assert len(points) == RAYS
    first, second = frame(sun[None])
    reach = math.sin(optics.sun_half_angle) * np.sqrt(rng.random((RAYS, 1)))
    turn = 2.0 * np.pi * rng.random((RAYS, 1))
    back = reach * (np.cos(turn) * first + np.sin(turn) * second) + np.sqrt(1.0 - reach**2) * sun
    return np.column_stack([points, np.full(RAYS, top)]), -back


def mesh_shares(optics: Optics, sun: Array, up: Array, seed: int) -> tuple[Array, Array]:
    """Shares and their standard errors."""
    rng = np.random.default_rng(seed)
    mesh = mesh_of(optics, up)
    place, ray = starts(optics, sun, rng)
    taken = np.zeros((RAYS, len(Surface)))
    weight, number = np.ones(RAYS), np.arange(RAYS)
    cover = (optics.cover_index, optics.cover_extinction_length, optics.cover_panes)
    cells = len(optics.facet_count)
    if optics.cover_interface == 0:
        through, back = pane(-ray[:, 2], *cover)
        taken[:, Surface.COVER], taken[:, Surface.LOST] = 1.0 - through - back, back
        weight = through
    place = place + STEP * ray
    for _ in range(400):
        if len(ray) == 0:
            break
        triangle = mesh.caster.intersects_first(place, ray)
        leaked = triangle < 0
        taken[number[leaked], Surface.LOST] += weight[leaked]
        assert leaked.mean() < 1e-2
        place, ray, weight, number = (v[~leaked] for v in (place, ray, weight, number))
        triangle = triangle[~leaked]
        kind, index = mesh.kind[triangle], mesh.index[triangle]
        normal = mesh.normals[triangle]
        t = np.sum((mesh.corners[triangle, 0] - place) * normal, axis=1) / np.sum(ray * normal, axis=1)
        place = place + t[:, None] * ray
        normal = np.where(np.sum(normal * ray, axis=1, keepdims=True) > 0.0, -normal, normal)
        keep, slope, fate = (
            np.ones(len(ray)),
            np.zeros(len(ray)),
            np.zeros(len(ray), int),
        )  # 0 on, 1 mirror, 2 diffuse
        surface = np.full(len(ray), int(Surface.WALLS))

        wall = kind == WALL
        cell = np.where(wall, index, 0)
        for k in range(cells):  # ledges are walls of the cell the ray is in
            level = (kind == LEVEL) & (index == k)
            if k == 0 or not level.any():
                continue
            z = float(optics.top_height[k])
            shut = level & ~(
                within(optics, k - 1, float(optics.bottom_height[k - 1]), place) & within(optics, k, z, place)
            )
            wall |= shut
            cell[shut] = np.where(ray[shut, 2] < 0.0, k - 1, k)
        keep[wall], slope[wall] = optics.wall_reflectance[cell[wall]], optics.wall_slope_error[cell[wall]]
        fate[wall] = 1
        plate = kind == PLATE
        surface[plate], keep[plate] = Surface.PLATE, optics.plate_reflectance
        slope[plate], fate[plate] = optics.plate_slope_error, 1
        pot = kind == POT
        surface[pot], keep[pot], fate[pot] = index[pot], 1.0 - optics.pot_absorptance, 2

        out = np.zeros(len(ray))
        covered = (kind == LEVEL) & ~wall & (index == optics.cover_interface)
        if covered.any():
            through, back = pane(np.abs(ray[covered, 2]), *cover)
            surface[covered] = Surface.COVER
            if optics.cover_interface == 0:
                keep[covered], out[covered], fate[covered] = back, through, 1
            else:
                keep[covered] = through + back
                fate[covered] = rng.random(len(through)) * (through + back) >= through
        mouth = (kind == LEVEL) & (index == 0) & ~covered
        surface[mouth], keep[mouth] = Surface.LOST, 0.0
        taken[number, Surface.LOST] += weight * out
        taken[number, surface] += weight * (1.0 - keep - out)
        weight = weight * keep

        low = (weight > 0.0) & (weight < 0.02)  # ordinary roulette
        weight[low] = np.where(rng.random(low.sum()) < weight[low] / 0.02, 0.02, 0.0)
        mirror, diffuse = fate == 1, fate == 2
        ray[mirror] = rough_mirror(ray[mirror], normal[mirror], slope[mirror], rng)
        ray[diffuse] = lambert(normal[diffuse], rng)
        place = place + STEP * (ray + np.where(fate[:, None] > 0, normal, -normal))  # back, or on through
        alive = weight > 0.0
        place, ray, weight, number = (v[alive] for v in (place, ray, weight, number))
    assert len(ray) <= 3  # caught in a corner by the step off the surface
    taken[number, Surface.LOST] += weight
    return taken.mean(axis=0), taken.std(axis=0, ddof=1) / math.sqrt(RAYS)


COMMON = {
    "wall_reflectance": 0.88,
    "wall_slope_error": 0.003,
    "plate_reflectance": 0.85,
    "plate_slope_error": 0.01,
    "pot_absorptance": 0.93,
    "pot_radius": 0.09,
    "pot_height": 0.10,
}


def pile(
    facets: list[int], across: list[tuple[float, float]], heights: list[float], **changes: float
) -> Optics:
    settings = {
        "plate_reflectance": 0.85,
        "plate_slope_error": 0.01,
        "cover_interface": -1,
        "cover_index": 1.491,
        "cover_extinction_length": 0.03,
        "cover_panes": 1,
        "pot_radius": 0.09,
        "pot_height": 0.10,
        "pot_centre": 0.12,
        "pot_absorptance": 0.9,
        "sun_half_angle": 0.00465,
        **changes,
    }
    return stack(
        facets=facets,
        across=across,
        heights=heights,
        wall_reflectance=[0.9 - 0.03 * k for k in range(len(facets))],
        wall_slope_error=[0.004 + 0.004 * k for k in range(len(facets))],
        **settings,
    )


def single(facets: int, mouth: float, depth: float, angle_deg: float, **changes: float) -> Optics:
    settings = {**COMMON, "pot_centre": 0.12, **changes}
    return funnel(facets=facets, mouth=mouth, depth=depth, facet_angle=math.radians(angle_deg), **settings)


# name: oven, tilt, azimuth and elevation error (degrees)
CASES = {
    "octagon under glass": (single(8, 0.6, 0.3, 27, cover_panes=1, cover_extinction_length=0.0125), 45, 0, 0),
    "octagon, two panes, off": (single(8, 0.6, 0.3, 27, cover_panes=2, cover_extinction_length=0.03), 30, 6, -3),
    "square, open": (single(4, 0.7, 0.35, 30), 40, 0, 4),
    "triangle": (single(3, 0.8, 0.4, 22), 20, 3, 0),
    "five facets, rough foil": (single(5, 0.7, 0.35, 27, wall_slope_error=0.03), 50, 0, 0),
    "sixteen, steep and deep": (single(16, 0.7, 0.6, 20, pot_centre=0.2), 60, 2, 2),
    "24, dull pot": (single(24, 0.6, 0.3, 25, pot_absorptance=0.4, cover_panes=1), 0, 10, 0),
    "prism, black plate": (single(6, 0.4, 0.3, 0, plate_reflectance=0.0), 35, 12, 8),
    "narrowing upwards": (single(6, 0.4, 0.3, -8, cover_panes=1), 10, 20, 0),
    "two tiers": (pile([8, 8], [(1.0, 0.55), (0.55, 0.3)], [0.5, 0.25, 0.0], cover_interface=0), 40, 3, 1),
    "funnel over a glazed box": (
        pile([8, 8], [(1.0, 0.45), (0.5, 0.5)], [0.6, 0.25, 0.0], cover_interface=1), 30, 2, 2),
    "octagon over a square box": (
        pile([8, 4], [(1.0, 0.45), (0.5, 0.4)], [0.6, 0.25, 0.0], cover_interface=1, cover_panes=2), 45, 0, 5),
    "box wider and narrower": (
        pile([6, 6, 4], [(0.9, 0.6), (0.5, 0.7), (0.6, 0.35)], [0.7, 0.45, 0.25, 0.0], pot_centre=0.3), 25, 4, 0),
    "tiers opening out": (
        pile([8, 8], [(0.7, 0.504), (0.504, 0.351)], [0.35, 0.21, 0.0], cover_interface=0), 40, 3, -4),
    "tiers closing in, two panes": (
        pile([6, 6], [(0.7, 0.61), (0.61, 0.30)], [0.4, 0.2, 0.0], cover_interface=0, cover_panes=2), 25, 5, 0),
    "three tiers, in and out": (
        pile([5, 5, 5], [(0.8, 0.5), (0.5, 0.46), (0.46, 0.25)], [0.45, 0.3, 0.15, 0.0], pot_centre=0.15), 55, 0, 6),
    "narrower at the mouth": (pile([12, 12], [(0.5, 0.62), (0.62, 0.3)], [0.4, 0.25, 0.0]), 30, 8, 8),
    "bent funnel over a glazed box": (
        pile([6, 6, 4], [(0.9, 0.6), (0.6, 0.45), (0.55, 0.55)], [0.65, 0.5, 0.25, 0.0], cover_interface=2), 35, 2, 3),
    "glazed under a collar": (pile([5, 7], [(0.6, 0.6), (0.5, 0.3)], [0.4, 0.25, 0.0], cover_interface=1), 15, 8, 8),
}  # fmt: skip


def outcome(name: str) -> tuple[Array, Array, Array]:
    optics, tilt_deg, azimuth_deg, elevation_deg = CASES[name]
    tilt, across, along = (math.radians(v) for v in (tilt_deg, azimuth_deg, elevation_deg))
    up = np.array([0.0, math.sin(tilt), math.cos(tilt)])
    sun = np.array([math.sin(across), math.cos(across) * math.sin(along), math.cos(across) * math.cos(along)])
    ours = beam_shares(optics, to_sun=[sun], pot_up=[up], rays=1 << 17)[0]
    return ours, *mesh_shares(optics, sun, up, seed=1 + list(CASES).index(name))


@pytest.fixture(scope="module")
def scores() -> dict[str, Array]:
    return {}


@pytest.mark.parametrize("name", CASES)
def test_shares_agree_with_the_mesh(name: str, scores: dict[str, Array]) -> None:
    ours, theirs, error = outcome(name)
    assert theirs.sum() == pytest.approx(1.0, abs=0.01)
    assert (np.abs(ours - theirs) <= np.maximum(0.003, 4.0 * error)).all(), (ours, theirs, error)
    scores[name] = ((ours - theirs) / np.maximum(error, 1e-9))[theirs > 1e-3]


def test_all_together_differ_no_more_than_chance(scores: dict[str, Array]) -> None:
    """Root mean square of all deviations in standard errors; one expects 1, and 1.3 is far out."""
    pooled = np.concatenate(list(scores.values()))
    assert len(scores) == len(CASES)
    assert np.sqrt(np.mean(pooled**2)) < 1.3
