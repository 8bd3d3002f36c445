"""Long-wave exchange between pot, walls and cover, from the same tracer.

Gebhart's form: surface i sends A_i eps_i sigma T_i^4, of which the share B_ij ends in j
after any number of reflections; A_i eps_i B_ij is the total exchange area, and the net
flow from i to j is that times sigma (T_i^4 - T_j^4). Mirrors stay specular in the long
wave, pot and cover are opaque and diffuse. Walls and plate are one node.
"""

import math
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Optics, Surface, cavity, checked, mouth_area, plate_area, polygon_area, wall_area
from .intake import directions, sampling
from .sampling import fraction, key_of, lattice_word
from .scene import Scene, thermal_scene
from .starts import disc_point, polygon_point, pot_point, wall_point
from .trace import BLOCK, empty_rays, in_opening, put, trace
from .vectors import combine, tangents

_POT, _WALLS, _COVER = 0, 1, 2
_NODES: Final = (
    [Surface.LID, Surface.SIDE, Surface.BOTTOM],
    [Surface.WALLS, Surface.PLATE],
    [Surface.COVER, Surface.LOST],
)


@kernel
def _part_of(edges, u):
    """Which part of an area a uniform number falls in, and where within it.

    `edges` are the running sums of the parts' areas, ending with 1.
    """
    part = 0
    while part < edges.shape[0] - 1 and u >= edges[part]:
        part += 1
    low = edges[part - 1] if part > 0 else 0.0
    return part, (u - low) / (edges[part] - low)


@kernel
def _wall_start(scene, part, u, v):
    """Point, inward normal and cell of the walls: facets (0), upper (1) or lower (2) end of a cell."""
    cell = part // 3
    kind = part % 3
    if kind == 0:
        place, normal = wall_point(scene, cell, u, v)
        return place, normal, cell
    z, facing = (scene.top[cell], -1.0) if kind == 1 else (scene.bottom[cell], 1.0)
    return polygon_point(scene, cell, z, u, v), (0.0, 0.0, facing), cell


@kernel
def _on_wall(scene, part, place):
    """False for points of a cell's end that lie in the opening to the next cell."""
    cell, kind = part // 3, part % 3
    neighbour = cell + (-1 if kind == 1 else 1)
    if kind == 0 or neighbour == scene.top.shape[0]:
        return True
    return not in_opening(scene, neighbour, place[0], place[1], place[2])


@kernel
def _cell_at(scene, z):
    """The cell a height belongs to."""
    cell = 0
    while cell < scene.top.shape[0] - 1 and z < scene.bottom[cell]:
        cell += 1
    return cell


@kernel
def _start(scene, source, edges, up, frame, key, number):
    """Point, normal and cell of a ray that leaves a node, and whether the node has that point."""
    u, v = fraction(lattice_word(key, number, 0)), fraction(lattice_word(key, number, 1))
    part, u = _part_of(edges, u)
    if source == _POT:
        place, normal = pot_point(scene, up, part, u, v, frame)
        return place, normal, _cell_at(scene, place[2]), True
    if source == _WALLS:
        place, normal, cell = _wall_start(scene, part, u, v)
        return place, normal, cell, _on_wall(scene, part, place)
    return polygon_point(scene, 0, scene.top[0], u, v), (0.0, 0.0, -1.0), 0, True


@kernel
def exchange_kernel(scene, source, edges, pot_up, rays_each, seed, shares):
    """Powers that end on each surface, in rays, when one node emits diffusely."""
    key = key_of(seed)
    rays = empty_rays(scene.top.shape[0])
    paths = np.empty((0, 0, 3))
    held = 0
    for row in range(pot_up.shape[0]):
        up = pot_up[row, 0], pot_up[row, 1], pot_up[row, 2]
        frame = tangents(up[0], up[1], up[2])
        for number in range(row * rays_each, (row + 1) * rays_each):
            place, normal, cell, real = _start(scene, source, edges, up, frame, key, number)
            if not real:
                continue
            across, along = disc_point(scene, key, number)
            out = math.sqrt(max(1.0 - across * across - along * along, 0.0))
            direction = combine(normal[0], normal[1], normal[2], across, along, out)
            slot = rays.waiting[cell]
            rays.waiting[cell] += 1
            put(rays, cell, slot, place, direction, 1.0, (number, row, 0), scene.pot_centre, up)
            held += 1
            if held == BLOCK:
                trace(scene, rays, key, pot_up, shares, paths)
                held = 0
    trace(scene, rays, key, pot_up, shares, paths)


def _wall_parts(optics: Optics, scene: Scene) -> Array:
    """Areas rays start from: facets, upper and lower end of each cell, openings included. [m2]"""
    parts = np.zeros((len(optics.facet_count), 3))
    for k, facets in enumerate(optics.facet_count.tolist()):
        alone = optics._replace(**{name: getattr(optics, name)[k : k + 1] for name in optics._fields[:7]})
        parts[k, 0] = wall_area(alone)
        parts[k, 1] = scene.ledge[k, 0] * polygon_area(facets, float(optics.top_across[k]))
        parts[k, 2] = scene.ledge[k, 1] * polygon_area(facets, float(optics.bottom_across[k]))
    parts[-1, 2] = plate_area(optics)
    return parts.ravel()


def exchange_areas(
    optics: Optics,
    *,
    pot_up: ArrayLike,
    pot_emittance: float,
    wall_emittance: float,
    cover_emittance: float,
    rays: int,
    seed: int = 1,
) -> Array:
    """Total exchange areas pot-cover, pot-walls and walls-cover of the cavity, float64[tilt, 3]. [m2]

    The cavity is what lies under the cover; an open mouth takes the cover's place and is
    black. Each area is the mean of the estimates from its two ends, so it serves both ways.

    Parameters
    ----------
    pot_up : float64[tilt, xyz]
        The pot's axis (world vertical) in the oven frame.
    pot_emittance, wall_emittance, cover_emittance : float   [-]
        Hemispherical long-wave emittances; the walls' is also the plate's.
    rays : int
        Rays from each of the three nodes at each tilt.

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.

    Source
    ------
    Gebhart, "Surface temperature calculations in radiant surroundings of arbitrary
    complexity", Int. J. Heat Mass Transfer 3, 1961, 341-346.
    """
    ups = directions("pot_up", pot_up)
    count, start = sampling(rays, seed)
    for name, value in (("pot", pot_emittance), ("wall", wall_emittance), ("cover", cover_emittance)):
        if not 0.0 <= value <= 1.0:
            raise ValueError(f"{name}_emittance = {value}, allowed [0, 1]")
    inner = cavity(checked(optics))
    scene: Any = thermal_scene(inner, pot=pot_emittance, walls=wall_emittance, cover=cover_emittance)
    ends = math.pi * inner.pot_radius**2
    areas = (
        np.array([ends, 2.0 * math.pi * inner.pot_radius * inner.pot_height, ends]),
        _wall_parts(inner, scene),
        np.array([mouth_area(inner)]),
    )
    mouth_emittance = cover_emittance if inner.cover_interface == 0 else 1.0
    emittances = (pot_emittance, wall_emittance, mouth_emittance)
    sent = np.empty((3, len(ups), 3))
    for source in (_POT, _WALLS, _COVER):
        shares = np.zeros((len(ups), len(Surface)))
        edges = np.cumsum(areas[source]) / areas[source].sum()
        exchange_kernel(scene, source, edges, ups, count, start, shares)
        power = np.stack([shares[:, node].sum(axis=1) for node in _NODES], axis=1)
        sent[source] = areas[source].sum() * emittances[source] * power / count
    pairs = ((_POT, _COVER), (_POT, _WALLS), (_WALLS, _COVER))
    return np.stack([0.5 * (sent[i][:, j] + sent[j][:, i]) for i, j in pairs], axis=1)
