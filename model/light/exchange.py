"""Long-wave exchange between pot, walls and cover, from the same tracer.

Gebhart's form: surface i sends A_i eps_i sigma T_i^4, of which the share B_ij ends in j
after any number of reflections; A_i eps_i B_ij is the total exchange area, and the net
flow from i to j is that times sigma (T_i^4 - T_j^4). Mirrors stay specular in the long
wave, pot and cover are opaque and diffuse. Walls and plate are one node.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Optics, Ovens, Surface, facet_area, ledge_flags, mouth_areas, polygon_area
from .intake import Runs, directions, one_run
from .ovens import cavities, checked, side_by_side
from .rays import BLOCK, Rays, no_rays
from .sampling import Sample, fraction, point_of, sample
from .scene import Emittances, Scene, Scenes, scene_of, thermal_scenes
from .starts import facet_of, polygon_point
from .trace import in_opening, trace
from .vectors import Vector, combine

_NODES: Final = (
    [Surface.LID, Surface.SIDE, Surface.BOTTOM],
    [Surface.WALLS, Surface.PLATE],
    [Surface.COVER, Surface.LOST],
)
_FACETS: Final = 0
_UPPER_END: Final = 1
_LOWER_END: Final = 2


@kernel
def _part_of(edges: Array, u: float) -> tuple[int, float]:
    """Which part of an area a uniform number falls in, and where within it.

    `edges` are the running sums of the parts' shares of the area, ending with 1.
    """
    part = 0
    while part < edges.shape[0] - 1 and u >= edges[part]:
        part += 1
    low = edges[part - 1] if part > 0 else 0.0
    return part, (u - low) / (edges[part] - low)


@kernel
def _pot_point(
    part: int, u: float, v: float, radius: float, half: float, up: Vector
) -> tuple[Vector, Vector]:
    """Point on the pot's lid (part 0), side (1) or bottom (2) from its centre, and the normal there."""
    c, s = math.cos(2.0 * math.pi * u), math.sin(2.0 * math.pi * u)
    if part == 1:
        out = combine(up, c, s, 0.0)
        return combine(up, radius * c, radius * s, half * (2.0 * v - 1.0)), out
    reach, facing = radius * math.sqrt(v), 1.0 - part
    return combine(up, reach * c, reach * s, facing * half), (facing * up[0], facing * up[1], facing * up[2])


@kernel
def _start_on_pot(
    scene: Scene, rays: Rays, edges: Array, sample: Sample, numbers: tuple[int, int], ups: Array
) -> None:
    """Rays from all over the pot, in whichever cell each point of it hangs."""
    bottom, cells = scene.bottom, scene.top.shape[0]
    radius, half, centre = scene.pot_radius, scene.pot_half_height, scene.pot_centre
    for i in range(numbers[0], numbers[1]):
        k, n = i // sample.each, point_of(sample, i)
        up = ups[k, 0], ups[k, 1], ups[k, 2]
        part, u = _part_of(edges, sample.turn[n])
        place, normal = _pot_point(part, u, fraction(sample.points[1, n]), radius, half, up)
        cell = 0
        while cell < cells - 1 and place[2] + centre < bottom[cell]:
            cell += 1
        a, b = sample.disc[0, n], sample.disc[1, n]
        ray = combine(normal, a, b, math.sqrt(1.0 - a * a - b * b))
        slot = rays.waiting[cell]
        rays.waiting[cell] = slot + 1
        rays.x[cell, slot], rays.y[cell, slot], rays.z[cell, slot] = place[0], place[1], place[2] + centre
        rays.dx[cell, slot], rays.dy[cell, slot], rays.dz[cell, slot] = ray
        rays.number[cell, slot], rays.row[cell, slot] = i, k


@kernel
def _facet_height(low: float, high: float, v: float) -> float:
    """Height on a facet, 0 to 1, that leaves the share v of its area below; apothems at its two ends."""
    at = math.sqrt(low * low + v * (high * high - low * low))
    return v * (high + low) / (at + low)


@kernel
def _start_on_walls(scene: Scene, rays: Rays, edges: Array, sample: Sample, numbers: tuple[int, int]) -> None:
    """Rays from facets, ledges and plate. Ends of cells are covered whole; what falls in an opening is dropped."""
    facet_x, facet_y, facet_count = scene.facet_x, scene.facet_y, scene.facet_count
    apothem, flare, cells = scene.apothem, scene.flare, scene.top.shape[0]
    for i in range(numbers[0], numbers[1]):
        n = point_of(sample, i)
        part, u = _part_of(edges, sample.turn[n])
        v, cell, kind = fraction(sample.points[1, n]), part // 3, part % 3
        z = scene.top[cell] if kind == _UPPER_END else scene.bottom[cell]
        count = facet_count[cell]
        half_width = math.tan(math.pi / count)
        if kind == _FACETS:
            rise = scene.top[cell] - z
            low = apothem[cell] + flare[cell] * z
            z += rise * _facet_height(low, low + flare[cell] * rise, v)
            j, side = facet_of(u, count, half_width)
            out, upright = apothem[cell] + flare[cell] * z, 1.0 / math.sqrt(1.0 + flare[cell] ** 2)
            ex, ey = facet_x[cell, j], facet_y[cell, j]
            x, y = out * (ex + side * ey), out * (ey - side * ex)
            normal = -upright * ex, -upright * ey, upright * flare[cell]
        else:
            out = (apothem[cell] + flare[cell] * z) * sample.root[n]
            x, y = polygon_point(out, count, half_width, facet_x[cell], facet_y[cell], u)
            normal = 0.0, 0.0, -1.0 if kind == _UPPER_END else 1.0
            other = cell - 1 if kind == _UPPER_END else cell + 1
            if other < cells and in_opening(
                facet_x[other], facet_y[other], facet_count[other], apothem[other] + flare[other] * z, x, y
            ):
                continue
        a, b = sample.disc[0, n], sample.disc[1, n]
        ray = combine(normal, a, b, math.sqrt(1.0 - a * a - b * b))
        slot = rays.waiting[cell]
        rays.waiting[cell] = slot + 1
        rays.x[cell, slot], rays.y[cell, slot], rays.z[cell, slot] = x, y, z
        rays.dx[cell, slot], rays.dy[cell, slot], rays.dz[cell, slot] = ray
        rays.number[cell, slot], rays.row[cell, slot] = i, i // sample.each


@kernel
def _start_at_mouth(scene: Scene, rays: Rays, sample: Sample, numbers: tuple[int, int]) -> None:
    """Rays from the cover, or through the open mouth."""
    top = scene.top[0]
    fx, fy, count = scene.facet_x[0], scene.facet_y[0], scene.facet_count[0]
    reach, half_width = scene.apothem[0] + scene.flare[0] * top, math.tan(math.pi / count)
    for i in range(numbers[0], numbers[1]):
        slot, n = i - numbers[0], point_of(sample, i)
        a, b = sample.disc[0, n], sample.disc[1, n]
        out = reach * sample.root[n]
        rays.x[0, slot], rays.y[0, slot] = polygon_point(out, count, half_width, fx, fy, sample.turn[n])
        rays.dx[0, slot], rays.dy[0, slot], rays.dz[0, slot] = a, b, -math.sqrt(1.0 - a * a - b * b)
        rays.z[0, slot], rays.number[0, slot], rays.row[0, slot] = top, i, i // sample.each
    rays.waiting[0] = numbers[1] - numbers[0]


@kernel
def _set_pots(rays: Rays, ups: Array) -> None:
    """Full weight and the pot's axis for all waiting rays."""
    for cell in range(rays.waiting.shape[0]):
        for i in range(rays.waiting[cell]):
            k = rays.row[cell, i]
            rays.ux[cell, i], rays.uy[cell, i], rays.uz[cell, i] = ups[k, 0], ups[k, 1], ups[k, 2]
            rays.weight[cell, i], rays.flights[cell, i] = 1.0, 0


@kernel
def _trace_exchange(
    scene: Scene, source: int, edges: Array, rays: Rays, ups: Array, sample: Sample, shares: Array
) -> None:
    """Power that ends on each surface of one oven, in rays."""
    paths = np.empty((0, 0, 3))
    total = sample.each * ups.shape[0]
    for first in range(0, total, BLOCK):
        numbers = first, min(first + BLOCK, total)
        if source == 0:
            _start_on_pot(scene, rays, edges, sample, numbers, ups)
        elif source == 1:
            _start_on_walls(scene, rays, edges, sample, numbers)
        else:
            _start_at_mouth(scene, rays, sample, numbers)
        _set_pots(rays, ups)
        trace(scene, rays, sample, shares, paths)


@kernel
def exchange_kernel(
    scenes: Scenes, source: int, edges: Array, runs: Runs, ups: Array, sample: Sample, shares: Array
) -> None:
    """Power that ends on each surface, in rays, when pots (0), walls (1) or mouths (2) emit diffusely."""
    rays, done = no_rays(scenes.top.shape[1]), 0
    for run in range(runs.oven.shape[0]):
        oven, first, last = runs.oven[run], runs.first[run], runs.last[run]
        own = shares[done : done + last - first]
        _trace_exchange(scene_of(scenes, oven), source, edges[oven], rays, ups[first:last], sample, own)
        done += last - first


def _wall_parts(ovens: Ovens, emittances: Emittances) -> Array:
    """Emittance times area of what rays start from, openings included, float64[oven, part]. [m2]

    Parts are facets, upper and lower end of each cell; the last lower end is the back plate.
    """
    count, rows, last = ovens.facet_count, np.arange(len(ovens.cells)), ovens.cells - 1
    ledge, cells = ledge_flags(ovens), np.arange(count.shape[1])
    parts = np.zeros((*count.shape, 3))
    parts[..., _FACETS] = facet_area(ovens)
    parts[..., _UPPER_END] = ledge[..., 0] * polygon_area(count, ovens.top_across)
    parts[..., _LOWER_END] = ledge[..., 1] * polygon_area(count, ovens.bottom_across)
    parts *= emittances.wall[:, None, None]
    plates = polygon_area(count[rows, last], ovens.bottom_across[rows, last])
    parts[rows, last, _LOWER_END] = emittances.plate * plates
    parts[cells > last[:, None]] = 0.0
    return parts.reshape(len(rows), 3 * len(cells))


def _pot_parts(ovens: Ovens, emittances: Emittances) -> Array:
    """Emittance times area of lid, side and bottom, float64[oven, part]. [m2]"""
    end = math.pi * ovens.pot_radius**2
    side = 2.0 * math.pi * ovens.pot_radius * ovens.pot_height
    return emittances.pot[:, None] * np.stack([end, side, end], axis=1)


def _mouths(ovens: Ovens, emittances: Emittances) -> Array:
    """Emittance times area of cover or open mouth, float64[oven, part]. [m2]"""
    emittance = np.where(ovens.cover_interface == 0, emittances.cover, 1.0)
    return np.asarray((emittance * mouth_areas(ovens))[:, None])


def _sent_in_runs(
    ovens: Ovens, emittances: Emittances, runs: Runs, ups: Array, *, rays: int, seed: int
) -> Array:
    """A_i eps_i B_ij among pot, walls and cover as traced from i, float64[row of a run, from, to]. [m2]"""
    for name, values in emittances._asdict().items():
        astray = ~((values >= 0.0) & (values <= 1.0))
        if astray.any():
            raise ValueError(f"{name}_emittance = {values[astray][0]}, allowed [0, 1]")
    chosen = sample(int(runs.rows.max(initial=0)), rays=rays, seed=seed)
    inner = cavities(checked(ovens))
    scenes = thermal_scenes(inner, emittances)
    of_row = np.repeat(runs.oven, runs.rows)
    sent = np.empty((len(of_row), 3, 3))
    for source, parts in enumerate(part(inner, emittances) for part in (_pot_parts, _wall_parts, _mouths)):
        sums = np.cumsum(parts, axis=1)
        total = sums[:, -1:]
        edges = np.divide(sums, total, out=np.ones_like(sums), where=total > 0.0)
        shares = np.zeros((len(of_row), len(Surface)))
        exchange_kernel(scenes, source, edges, runs, ups, chosen, shares)
        power = np.stack([shares[:, node].sum(axis=1) for node in _NODES], axis=1)
        sent[:, source] = total[of_row] * power / rays
    return sent


def one_way_areas(
    optics: Optics,
    *,
    pot_up: ArrayLike,
    pot_emittance: float,
    wall_emittance: float,
    cover_emittance: float,
    plate_emittance: float | None = None,
    rays: int,
    seed: int = 1,
) -> Array:
    """A_i eps_i B_ij among pot, walls and cover as traced from i, float64[tilt, from, to]. [m2]

    Parameters are those of `exchange_areas`. Each row sums to A_i eps_i.
    """
    ups = directions("pot_up", pot_up)
    plate = wall_emittance if plate_emittance is None else plate_emittance
    four = Emittances(*np.array([[pot_emittance], [wall_emittance], [plate], [cover_emittance]], float))
    return _sent_in_runs(side_by_side([optics]), four, one_run(len(ups)), ups, rays=rays, seed=seed)


def exchange_areas(
    optics: Optics,
    *,
    pot_up: ArrayLike,
    pot_emittance: float,
    wall_emittance: float,
    cover_emittance: float,
    plate_emittance: float | None = None,
    rays: int,
    seed: int = 1,
) -> Array:
    """Total exchange areas pot-cover, pot-walls and walls-cover of the cavity, float64[tilt, 3]. [m2]

    The cavity is what lies under the cover; an open mouth takes the cover's place and is
    black. Each area is a mean of the estimates from its two ends, so it serves both ways.

    Parameters
    ----------
    pot_up : float64[tilt, xyz]
        The pot's axis (world vertical) in the oven frame.
    pot_emittance, wall_emittance, cover_emittance : float   [-]
        Hemispherical long-wave emittances.
    plate_emittance : float, optional   [-]
        Of the back plate, which is one node with the walls; the walls' if not given.
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
    sent = one_way_areas(
        optics,
        pot_up=pot_up,
        pot_emittance=pot_emittance,
        wall_emittance=wall_emittance,
        cover_emittance=cover_emittance,
        plate_emittance=plate_emittance,
        rays=rays,
        seed=seed,
    )
    return _areas(sent)


def exchange_areas_in_runs(
    ovens: Ovens, emittances: Emittances, runs: Runs, ups: Array, *, rays: int, seed: int
) -> Array:
    """What `exchange_areas` gives for every run, one behind the other, float64[row of a run, 3]. [m2]

    Parameters
    ----------
    ups : float64[row, xyz]
        As `directions` gives them.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    return _areas(_sent_in_runs(ovens, emittances, runs, ups, rays=rays, seed=seed))


def _areas(sent: Array) -> Array:
    """Pot-cover, pot-walls and walls-cover, float64[row, 3]. [m2]"""
    return np.stack([_both_ways(sent, i, j) for i, j in ((0, 2), (0, 1), (1, 2))], axis=1)


def _both_ways(sent: Array, i: int, j: int) -> Array:
    """The exchange area of two nodes from its two estimates, each by how little it scatters, float64[tilt].

    Of what a node sends, E, the part G reaches the other: between black nodes the estimate of G
    from that end has a variance of G (E - G) over the number of rays. Grey ones scatter less,
    so the weights are then not the best, but each mean is as true.
    """
    half = 0.5 * (sent[:, i, j] + sent[:, j, i])
    spare_i = np.maximum(sent[:, i].sum(axis=1) - half, 0.0)
    spare_j = np.maximum(sent[:, j].sum(axis=1) - half, 0.0)
    both = spare_i + spare_j
    trust = np.divide(spare_j, both, out=np.full_like(both, 0.5), where=both > 0.0)
    return np.asarray(trust * sent[:, i, j] + (1.0 - trust) * sent[:, j, i])
