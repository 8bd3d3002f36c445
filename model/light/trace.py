"""Rays followed from cell to cell until they are absorbed or lost.

Each cell of the stack is convex and keeps a queue of the rays inside it. One sweep
takes a cell's whole queue to the next surface (`_find_walls`, `_find_rest`: loops
the compiler turns into vector code), then settles ray by ray what that surface does
(`_settle`), packing the survivors to the front of their queue or into a neighbour's.
"""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import kernel
from .facets import Array, Ints, Surface
from .sampling import bits_of_bounce, lattice_word, table_index, uniform, word_index
from .scene import GROUP
from .vectors import diffuse, mirrored_rough

BLOCK = 1024  # rays in flight; their state, 120 kB a cell, stays in the second-level cache
BOUNCE_CAP = 1000  # flights of one ray; what it still carries then goes to the surface it stands on
FAINT = 0.2  # least weight a ray goes on with; see `_roulette`
TOUCHING = 1e-30  # m; gap given to a ray on or, by rounding, outside a wall it flies towards

# what a flight ends on; below these, the number of a facet
_TOP, _BASE, _LID, _SIDE, _BOTTOM = 100, 101, 102, 103, 104
# what becomes of the light that is not absorbed
_PASSES, _MIRRORED, _DIFFUSED = 0, 1, 2

LID, SIDE, BOTTOM = int(Surface.LID), int(Surface.SIDE), int(Surface.BOTTOM)
WALLS, PLATE, COVER, LOST = int(Surface.WALLS), int(Surface.PLATE), int(Surface.COVER), int(Surface.LOST)


class Rays(NamedTuple):
    """Rays in flight, [cell, slot] each, with the count waiting in each cell."""

    waiting: Ints  # [cell]
    x: Array  # m, in the oven frame
    y: Array
    z: Array
    dx: Array  # unit vector of travel
    dy: Array
    dz: Array
    along: Array  # m, position along the pot's axis from its centre
    climb: Array  # direction's component along the pot's axis
    weight: Array  # share of its first power that the ray still carries
    number: Ints  # its place in the lattice
    row: Ints  # the sample (time or tilt) it belongs to
    flights: Ints  # flights ended so far
    gap: Array  # scratch: room to the nearest wall, then distance to what is struck [m]
    speed: Array  # scratch: approach to that wall
    struck: Ints  # scratch: what is struck


@kernel
def empty_rays(cells):
    """Room for a block of rays in each cell."""
    floats = np.empty((11, cells, BLOCK))
    ints = np.zeros((4, cells, BLOCK), np.int64)
    return Rays(
        np.zeros(cells, np.int64),
        floats[0],
        floats[1],
        floats[2],
        floats[3],
        floats[4],
        floats[5],
        floats[6],
        floats[7],
        floats[8],
        ints[0],
        ints[1],
        ints[2],
        floats[9],
        floats[10],
        ints[3],
    )


@kernel
def put(rays, cell, slot, place, direction, weight, labels, centre, up):
    """Write one ray into a slot. `labels` is (number, row, flights), `up` the pot's axis."""
    rays.x[cell, slot], rays.y[cell, slot], rays.z[cell, slot] = place
    rays.dx[cell, slot], rays.dy[cell, slot], rays.dz[cell, slot] = direction
    rays.number[cell, slot], rays.row[cell, slot], rays.flights[cell, slot] = labels
    rays.weight[cell, slot] = weight
    rays.along[cell, slot] = place[0] * up[0] + place[1] * up[1] + (place[2] - centre) * up[2]
    rays.climb[cell, slot] = direction[0] * up[0] + direction[1] * up[1] + direction[2] * up[2]


@kernel
def _find_walls(scene, cell, rays):
    """Nearest facet of each waiting ray: its gap, approach speed and number.

    Gaps and speeds are compared as fractions, so one division a ray remains.
    """
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    gap, speed, struck = rays.gap[cell], rays.speed[cell], rays.struck[cell]
    count = rays.waiting[cell]
    apothem, flare = scene.apothem[cell], scene.flare[cell]
    for i in range(count):
        gap[i], speed[i], struck[i] = 1.0, 0.0, 0
    for first in range(0, scene.facet_count[cell], GROUP):
        ax, bx, cx, ex = scene.facet_x[cell, first : first + GROUP]
        ay, by, cy, ey = scene.facet_y[cell, first : first + GROUP]
        for i in range(count):
            room, rise = apothem + flare * z[i], flare * dz[i]
            near = gap[i], speed[i], struck[i]
            near = _nearer(near, room - ax * x[i] - ay * y[i], ax * dx[i] + ay * dy[i] - rise, first)
            near = _nearer(near, room - bx * x[i] - by * y[i], bx * dx[i] + by * dy[i] - rise, first + 1)
            near = _nearer(near, room - cx * x[i] - cy * y[i], cx * dx[i] + cy * dy[i] - rise, first + 2)
            near = _nearer(near, room - ex * x[i] - ey * y[i], ex * dx[i] + ey * dy[i] - rise, first + 3)
            gap[i], speed[i], struck[i] = near


@kernel
def _nearer(near, gap, speed, facet):
    """The wall reached first of two given as (gap, speed, facet), without dividing."""
    room = gap if gap > TOUCHING else TOUCHING
    closer = speed * near[0] > near[1] * room
    return room if closer else near[0], speed if closer else near[1], facet if closer else near[2]


@kernel
def _find_rest(scene, cell, rays):
    """End of each flight: the nearest of facet, end plane and pot; distance into `gap`.

    A ray parallel to the pot's axis has a zero quadratic coefficient; the root is written
    so that it then comes out infinite or nan, and every comparison with nan is false.
    """
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    along, climb = rays.along[cell], rays.climb[cell]
    gap, speed, struck = rays.gap[cell], rays.speed[cell], rays.struck[cell]
    top, base = scene.top[cell], scene.bottom[cell]
    centre, half, radius2 = scene.pot_centre, scene.pot_half_height, scene.pot_radius**2
    for i in range(rays.waiting[cell]):
        t = gap[i] / speed[i]
        what = struck[i]

        up = dz[i] > 0.0
        left = top - z[i] if up else z[i] - base
        left = (left if left > 0.0 else 0.0) / abs(dz[i])
        what = (_TOP if up else _BASE) if left < t else what
        t = left if left < t else t

        h = z[i] - centre
        square = x[i] * x[i] + y[i] * y[i] + h * h
        inward = x[i] * dx[i] + y[i] * dy[i] + h * dz[i]
        b = inward - along[i] * climb[i]
        c = square - along[i] * along[i] - radius2
        root = b * b - (1.0 - climb[i] * climb[i]) * c
        side = c / (math.sqrt(root if root > 0.0 else 0.0) - b)
        hits = (b < 0.0) & (c > 0.0) & (root > 0.0) & (abs(along[i] + side * climb[i]) <= half) & (side < t)
        what = _SIDE if hits else what
        t = side if hits else t

        down = climb[i] < 0.0
        end = half if down else -half
        flat = (end - along[i]) / climb[i]
        out2 = square + flat * (2.0 * inward + flat) - half * half
        hits = (flat >= 0.0) & (out2 <= radius2) & (flat < t)
        what = (_LID if down else _BOTTOM) if hits else what
        gap[i] = flat if hits else t
        struck[i] = what


@kernel
def _at_wall(scene, cell, facet):
    """Reflectance, roughness and inward normal of a facet."""
    flare = scene.flare[cell]
    scale = 1.0 / math.sqrt(1.0 + flare * flare)
    normal = (-scale * scene.facet_x[cell, facet], -scale * scene.facet_y[cell, facet], scale * flare)
    return scene.wall_reflectance[cell], scene.wall_slope_error[cell], normal


@kernel
def pot_normal(what, place, centre, along, up):
    """Outward unit normal of the pot where it is struck."""
    if what == _LID:
        return up
    if what == _BOTTOM:
        return -up[0], -up[1], -up[2]
    nx, ny, nz = place[0] - along * up[0], place[1] - along * up[1], place[2] - centre - along * up[2]
    scale = 1.0 / math.sqrt(nx * nx + ny * ny + nz * nz)
    return nx * scale, ny * scale, nz * scale


@kernel
def in_opening(scene, cell, x, y, z):
    """Whether a point on the end plane of a cell lies within it."""
    farthest = -1.0
    for facet in range(scene.facet_count[cell]):
        farthest = max(farthest, scene.facet_x[cell, facet] * x + scene.facet_y[cell, facet] * y)
    return farthest <= scene.apothem[cell] + scene.flare[cell] * z


@kernel
def clear_cover(table, cosine):
    """Transmittance and reflectance of the clear cover at a cosine of incidence."""
    place = min(cosine, 1.0) * (table.shape[1] - 1)
    node = min(int(place), table.shape[1] - 2)
    part = place - node
    through = table[0, node] + part * (table[0, node + 1] - table[0, node])
    back = table[1, node] + part * (table[1, node + 1] - table[1, node])
    return through, back


@kernel
def _at_end(scene, cell, above, place, cosine, chance):
    """What the end plane of a cell does: (surface, kept, escaped, fate, roughness).

    `kept` goes on, `escaped` leaves by the mouth, the rest is absorbed by `surface`.
    """
    cells = scene.top.shape[0]
    interface = cell if above else cell + 1
    if interface == cells:
        return PLATE, scene.plate_reflectance, 0.0, _MIRRORED, scene.plate_slope_error
    neighbour = cell - 1 if above else cell + 1
    if scene.ledge[cell, 0 if above else 1] and not in_opening(scene, neighbour, *place):
        return WALLS, scene.wall_reflectance[cell], 0.0, _MIRRORED, scene.wall_slope_error[cell]
    if interface != scene.cover_interface:
        if interface == 0:
            return LOST, 0.0, 1.0, _PASSES, 0.0
        return WALLS, 1.0, 0.0, _PASSES, 0.0
    if scene.cover_reflectance >= 0.0:
        return COVER, scene.cover_reflectance, 0.0, _DIFFUSED, 0.0
    through, back = clear_cover(scene.cover_table, cosine)
    if interface == 0:
        return COVER, back, through, _MIRRORED, 0.0
    fate = _PASSES if chance * (through + back) < through else _MIRRORED
    return COVER, through + back, 0.0, fate, 0.0


@kernel
def _bits(key, number, flights):
    """Random bits of a bounce; those of the first scatter by a mirror come from the lattice."""
    bits = bits_of_bounce(key, number, flights)
    if flights == 0:
        across = word_index(lattice_word(key, number, 4))
        along = word_index(lattice_word(key, number, 5))
        bits = ((bits >> np.uint64(24)) << np.uint64(24)) | np.uint64(across) | np.uint64(along << 12)
    return bits


@kernel
def _roulette(weight, kept, chance):
    """Weight a ray goes on with: `weight * kept` on average, but 0 or at least FAINT.

    What it does not carry on it leaves behind, so power is conserved ray by ray, not only
    on average; a plain weight cut would favour the surfaces struck first.
    """
    rest = weight * kept
    least = min(FAINT, weight)
    if rest >= least:
        return rest
    return least if chance * least < rest else 0.0


@kernel
def _settle(scene, cell, rays, key, pot_up, shares, paths):
    """Book what each struck surface absorbs and send the rest on."""
    count = rays.waiting[cell]
    rays.waiting[cell] = 0
    kept_rays = 0
    centre = scene.pot_centre
    for i in range(count):
        number, row, flights = rays.number[cell, i], rays.row[cell, i], rays.flights[cell, i]
        t, what, weight = rays.gap[cell, i], rays.struck[cell, i], rays.weight[cell, i]
        dx, dy, dz = rays.dx[cell, i], rays.dy[cell, i], rays.dz[cell, i]
        place = rays.x[cell, i] + t * dx, rays.y[cell, i] + t * dy, rays.z[cell, i] + t * dz
        up = pot_up[row, 0], pot_up[row, 1], pot_up[row, 2]
        bits = _bits(key, number, flights)
        next_cell = cell
        escaped = 0.0
        if what < _TOP:
            surface, fate = WALLS, _MIRRORED
            kept, roughness, normal = _at_wall(scene, cell, what)
        elif what >= _LID:
            surface, fate = what - _LID, _DIFFUSED
            kept, roughness = 1.0 - scene.pot_absorptance, 0.0
            normal = pot_normal(what, place, centre, rays.along[cell, i] + t * rays.climb[cell, i], up)
        else:
            above = what == _TOP
            surface, kept, escaped, fate, roughness = _at_end(
                scene, cell, above, place, abs(dz), uniform(bits, 0)
            )
            normal = (0.0, 0.0, -1.0 if above else 1.0)
            if fate == _PASSES:
                next_cell = cell - 1 if above else cell + 1

        flights += 1
        carried = _roulette(weight, kept, uniform(bits, 1)) if flights < BOUNCE_CAP else 0.0
        lost = escaped * (weight - carried) / (1.0 - kept) if escaped > 0.0 else 0.0
        shares[row, LOST] += lost
        shares[row, surface] += weight - carried - lost
        if flights < paths.shape[1]:
            paths[number, flights, 0], paths[number, flights, 1], paths[number, flights, 2] = place
        if carried == 0.0:
            continue
        if fate == _MIRRORED:
            across = roughness * scene.gaussian[table_index(bits, 0)]
            along = roughness * scene.gaussian[table_index(bits, 1)]
            dx, dy, dz = mirrored_rough(dx, dy, dz, *normal, across, along)
        elif fate == _DIFFUSED:
            turn = table_index(bits, 0)
            dx, dy, dz = diffuse(*normal, uniform(bits, 0), scene.circle[0, turn], scene.circle[1, turn])
        if next_cell == cell:
            slot = kept_rays
            kept_rays += 1
        else:
            slot = rays.waiting[next_cell]
            rays.waiting[next_cell] += 1
        put(rays, next_cell, slot, place, (dx, dy, dz), carried, (number, row, flights), centre, up)
    rays.waiting[cell] = kept_rays


@kernel
def trace(scene, rays, key, pot_up, shares, paths):
    """Follow all waiting rays to their ends and add what each surface takes to `shares`."""
    cells = scene.top.shape[0]
    while rays.waiting.max() > 0:
        for cell in range(cells):
            if rays.waiting[cell] > 0:
                _find_walls(scene, cell, rays)
                _find_rest(scene, cell, rays)
                _settle(scene, cell, rays, key, pot_up, shares, paths)
