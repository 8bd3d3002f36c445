"""Rays followed from cell to cell until they are absorbed or lost.

Each cell of the stack is convex and keeps a queue of the rays inside it. One sweep
takes a cell's whole queue to the next surface (`_find_walls`, `_find_rest`: loops
the compiler turns into vector code), then settles ray by ray what that surface does
(`_settle`), packing the survivors to the front of their queue or into a neighbour's.
"""

import math
from typing import Final

from ..compiled import kernel
from .facets import Array, Surface
from .rays import Rays
from .sampling import Sample, bits_of_bounce, table_index, uniform, word_index
from .scene import GROUP, Scene
from .vectors import Vector, combine, mirrored

BOUNCE_CAP: Final = 1000  # flights of one ray; what it then carries goes to the surface it stands on
FAINT: Final = 0.2  # least weight a ray goes on with; see `_roulette`
TOUCHING: Final = 1e-30  # m; gap of a ray on or, by rounding, outside a wall it flies towards

# What a flight ends on; below these, the number of a facet.
_TOP: Final = 100
_BASE: Final = 101
_LID: Final = 102
_SIDE: Final = 103
_BOTTOM: Final = 104

# What becomes of the light that is not absorbed.
_PASSES: Final = 0
_MIRRORED: Final = 1
_DIFFUSED: Final = 2

# What the end of a cell is.
_PLATE: Final = 0
_OPENING: Final = 1
_MOUTH: Final = 2
_PANE_OUTSIDE: Final = 3  # clear cover, the world behind it
_PANE_INSIDE: Final = 4  # clear cover, another cell behind it
_GREY_COVER: Final = 5

WALLS: Final = int(Surface.WALLS)
PLATE: Final = int(Surface.PLATE)
COVER: Final = int(Surface.COVER)
LOST: Final = int(Surface.LOST)

Near = tuple[float, float, int]
Fate = tuple[int, float, float, int, float]


@kernel
def _nearer(near: Near, gap: float, speed: float, facet: int) -> Near:
    """The wall reached first, of two given as (gap, speed, facet); fractions compared undivided."""
    room = gap if gap > TOUCHING else TOUCHING
    closer = speed * near[0] > near[1] * room
    return room if closer else near[0], speed if closer else near[1], facet if closer else near[2]


@kernel
def _find_walls(scene: Scene, cell: int, rays: Rays) -> None:
    """Nearest facet of each waiting ray: its gap, approach speed and number."""
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    gap, speed, struck = rays.gap[cell], rays.speed[cell], rays.struck[cell]
    fx, fy = scene.facet_x[cell], scene.facet_y[cell]
    apothem, flare = scene.apothem[cell], scene.flare[cell]
    count = rays.waiting[cell]
    for i in range(count):
        gap[i], speed[i], struck[i] = 1.0, 0.0, 0
    for j in range(0, scene.facet_count[cell], GROUP):
        ax, bx, cx, ex = fx[j], fx[j + 1], fx[j + 2], fx[j + 3]
        ay, by, cy, ey = fy[j], fy[j + 1], fy[j + 2], fy[j + 3]
        for i in range(count):
            room, rise = apothem + flare * z[i], flare * dz[i]
            near = gap[i], speed[i], struck[i]
            near = _nearer(near, room - ax * x[i] - ay * y[i], ax * dx[i] + ay * dy[i] - rise, j)
            near = _nearer(near, room - bx * x[i] - by * y[i], bx * dx[i] + by * dy[i] - rise, j + 1)
            near = _nearer(near, room - cx * x[i] - cy * y[i], cx * dx[i] + cy * dy[i] - rise, j + 2)
            near = _nearer(near, room - ex * x[i] - ey * y[i], ex * dx[i] + ey * dy[i] - rise, j + 3)
            gap[i], speed[i], struck[i] = near


@kernel
def _find_rest(scene: Scene, cell: int, rays: Rays) -> None:
    """End of each flight: the nearest of facet, end plane and pot; its distance goes into `gap`.

    A ray parallel to the pot's axis has a zero quadratic coefficient; the root is written
    so that it then comes out infinite or nan, and every comparison with nan is false.
    """
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    ux, uy, uz = rays.ux[cell], rays.uy[cell], rays.uz[cell]
    gap, speed, struck = rays.gap[cell], rays.speed[cell], rays.struck[cell]
    top, base = scene.top[cell], scene.bottom[cell]
    centre, half, radius2 = scene.pot_centre, scene.pot_half_height, scene.pot_radius**2
    for i in range(rays.waiting[cell]):
        t, what = gap[i] / speed[i], struck[i]

        up = dz[i] > 0.0
        left = top - z[i] if up else z[i] - base
        left = (left if left > 0.0 else 0.0) / abs(dz[i])
        what = (_TOP if up else _BASE) if left < t else what
        t = left if left < t else t

        h = z[i] - centre
        along = x[i] * ux[i] + y[i] * uy[i] + h * uz[i]
        climb = dx[i] * ux[i] + dy[i] * uy[i] + dz[i] * uz[i]
        square = x[i] * x[i] + y[i] * y[i] + h * h
        inward = x[i] * dx[i] + y[i] * dy[i] + h * dz[i]
        b = inward - along * climb
        c = square - along * along - radius2
        root = b * b - (1.0 - climb * climb) * c
        side = c / (math.sqrt(root if root > 0.0 else 0.0) - b)
        hits = (b < 0.0) & (c > 0.0) & (root > 0.0) & (abs(along + side * climb) <= half) & (side < t)
        what = _SIDE if hits else what
        t = side if hits else t

        down = climb < 0.0
        flat = ((half if down else -half) - along) / climb
        out2 = square + flat * (2.0 * inward + flat) - half * half
        hits = (flat >= 0.0) & (out2 <= radius2) & (flat < t)
        what = (_LID if down else _BOTTOM) if hits else what
        gap[i] = flat if hits else t
        struck[i] = what


@kernel
def _end_of(scene: Scene, cell: int, above: bool) -> int:
    """What closes a cell above or below, within the opening if it is one."""
    interface = cell if above else cell + 1
    if interface == scene.top.shape[0]:
        return _PLATE
    if interface != scene.cover_interface:
        return _OPENING if interface > 0 else _MOUTH
    if scene.cover_reflectance >= 0.0:
        return _GREY_COVER
    return _PANE_INSIDE if interface > 0 else _PANE_OUTSIDE


@kernel
def in_opening(facet_x: Array, facet_y: Array, cell: int, apothem: float, x: float, y: float) -> bool:
    """Whether a point lies within a cross section of a cell, given its apothem there."""
    farthest = 0.0
    for j in range(facet_x.shape[1]):
        farthest = max(farthest, facet_x[cell, j] * x + facet_y[cell, j] * y)
    return farthest <= apothem


@kernel
def clear_cover(table: Array, cosine: float) -> tuple[float, float]:
    """Transmittance and reflectance of the clear cover at a cosine of incidence."""
    place = cosine * (table.shape[1] - 1)
    node = min(int(place), table.shape[1] - 2)
    part = place - node
    through = table[0, node] + part * (table[0, node + 1] - table[0, node])
    back = table[1, node] + part * (table[1, node + 1] - table[1, node])
    return through, back


@kernel
def _at_interface(end: int, table: Array, grey: float, cosine: float, chance: float) -> Fate:
    """Surface, share kept, share let out, fate and roughness of a ray at a cover or an opening."""
    if end == _OPENING:
        return WALLS, 1.0, 0.0, _PASSES, 0.0
    if end == _MOUTH:
        return LOST, 0.0, 0.0, _PASSES, 0.0
    if end == _GREY_COVER:
        return COVER, grey, 0.0, _DIFFUSED, 0.0
    through, back = clear_cover(table, cosine)
    if end == _PANE_OUTSIDE:
        return COVER, back, through, _MIRRORED, 0.0
    fate = _PASSES if chance * (through + back) < through else _MIRRORED
    return COVER, through + back, 0.0, fate, 0.0


@kernel
def _pot_normal(what: int, x: float, y: float, h: float, up: Vector) -> Vector:
    """Outward unit normal of the pot at a struck point, given from the pot's centre."""
    if what == _LID:
        return up
    if what == _BOTTOM:
        return -up[0], -up[1], -up[2]
    along = x * up[0] + y * up[1] + h * up[2]
    nx, ny, nz = x - along * up[0], y - along * up[1], h - along * up[2]
    scale = 1.0 / math.sqrt(nx * nx + ny * ny + nz * nz)
    return nx * scale, ny * scale, nz * scale


@kernel
def _roulette(weight: float, kept: float, chance: float) -> float:
    """Weight a ray goes on with: `weight * kept` on average, but 0 or at least FAINT.

    What it does not carry on it leaves behind, so power is conserved ray by ray, not only
    on average; a plain weight cut would favour the surfaces struck first.
    """
    rest = weight * kept
    least = min(FAINT, weight)
    faint = least if chance * least < rest else 0.0
    return rest if rest >= least else faint


@kernel
def _meet(scene: Scene, cell: int, rays: Rays, sample: Sample) -> None:
    """Move each ray to what it strikes and note what that is: `struck` becomes the surface."""
    x, y, z, dz = rays.x[cell], rays.y[cell], rays.z[cell], rays.dz[cell]
    dx, dy, gap, struck, number = (
        rays.dx[cell],
        rays.dy[cell],
        rays.gap[cell],
        rays.struck[cell],
        rays.number[cell],
    )
    ux, uy, uz, flights = rays.ux[cell], rays.uy[cell], rays.uz[cell], rays.flights[cell]
    nx, ny, nz, kept, escaped = (
        rays.nx[cell],
        rays.ny[cell],
        rays.nz[cell],
        rays.kept[cell],
        rays.escaped[cell],
    )
    slope, fate, ledge, key = rays.slope[cell], rays.fate[cell], scene.ledge[cell], sample.key
    facet_x, facet_y, apothem, flare = scene.facet_x, scene.facet_y, scene.apothem, scene.flare
    upright = 1.0 / math.sqrt(1.0 + flare[cell] ** 2)
    walls = WALLS, scene.wall_reflectance[cell], 0.0, _MIRRORED, scene.wall_slope_error[cell]
    plate = PLATE, scene.plate_reflectance, 0.0, _MIRRORED, scene.plate_slope_error
    ends = _end_of(scene, cell, True), _end_of(scene, cell, False)
    table, grey, pot_keeps, centre = (
        scene.cover_table,
        scene.cover_reflectance,
        1.0 - scene.pot_absorptance,
        scene.pot_centre,
    )
    for i in range(rays.waiting[cell]):
        x[i] += gap[i] * dx[i]
        y[i] += gap[i] * dy[i]
        z[i] += gap[i] * dz[i]
        what = struck[i]
        if what < _TOP:
            met = walls
            nx[i], ny[i] = -upright * facet_x[cell, what], -upright * facet_y[cell, what]
            nz[i] = upright * flare[cell]
        elif what >= _LID:
            met = what - _LID, pot_keeps, 0.0, _DIFFUSED, 0.0
            nx[i], ny[i], nz[i] = _pot_normal(what, x[i], y[i], z[i] - centre, (ux[i], uy[i], uz[i]))
        else:
            side = what - _TOP
            nx[i], ny[i], nz[i] = 0.0, 0.0, 2.0 * side - 1.0
            other = cell - 1 + 2 * side
            if ledge[side] and not in_opening(
                facet_x, facet_y, other, apothem[other] + flare[other] * z[i], x[i], y[i]
            ):
                met = walls
            elif ends[side] == _PLATE:
                met = plate
            else:
                chance = uniform(bits_of_bounce(key, number[i], flights[i]), 0)
                met = _at_interface(ends[side], table, grey, abs(dz[i]), chance)
        struck[i], kept[i], escaped[i], fate[i], slope[i] = met


@kernel
def _book(scene: Scene, cell: int, rays: Rays, sample: Sample, shares: Array) -> None:
    """Book what stays where each ray is, and draw how the rest leaves in the frame of the normal."""
    weight, kept, escaped, slope = rays.weight[cell], rays.kept[cell], rays.escaped[cell], rays.slope[cell]
    number, row, flights = rays.number[cell], rays.row[cell], rays.flights[cell]
    struck, fate = rays.struck[cell], rays.fate[cell]
    across, along, upward = rays.across[cell], rays.along[cell], rays.upward[cell]
    circle, gaussian, points, key = scene.circle, scene.gaussian, sample.points, sample.key
    for i in range(rays.waiting[cell]):
        bits = bits_of_bounce(key, number[i], flights[i])
        first, second = table_index(bits, 0), table_index(bits, 1)
        if flights[i] == 0:
            first, second = word_index(points[4, number[i]]), word_index(points[5, number[i]])
        flights[i] += 1
        carried = _roulette(weight[i], kept[i], uniform(bits, 1)) if flights[i] < BOUNCE_CAP else 0.0
        lost = escaped[i] * (weight[i] - carried) / (1.0 - kept[i]) if escaped[i] > 0.0 else 0.0
        shares[row[i], LOST] += lost
        shares[row[i], struck[i]] += weight[i] - carried - lost
        weight[i] = carried
        if fate[i] == _DIFFUSED:
            square = uniform(bits, 0)
            radius = math.sqrt(square)
            across[i], along[i] = radius * circle[0, first], radius * circle[1, first]
            upward[i] = math.sqrt(1.0 - square)
        else:
            across[i], along[i], upward[i] = slope[i] * gaussian[first], slope[i] * gaussian[second], 1.0


@kernel
def _turn(cell: int, rays: Rays) -> None:
    """Give each ray its new direction: on, mirrored by the leaning normal, or along it if diffuse.

    A grazing ray can come off a leaning mirror pointing into the wall; it then glances off
    the mean plane as well, so that no light leaves through a wall.
    """
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    nx, ny, nz = rays.nx[cell], rays.ny[cell], rays.nz[cell]
    across, along, upward, fate = rays.across[cell], rays.along[cell], rays.upward[cell], rays.fate[cell]
    for i in range(rays.waiting[cell]):
        d, n = (dx[i], dy[i], dz[i]), (nx[i], ny[i], nz[i])
        m = combine(n, across[i], along[i], upward[i])
        r = mirrored(d, m)
        into = r[0] * n[0] + r[1] * n[1] + r[2] * n[2]
        back = 2.0 * into if into < 0.0 else 0.0
        mirror, passes = fate[i] == _MIRRORED, fate[i] == _PASSES
        dx[i] = d[0] if passes else (r[0] - back * n[0] if mirror else m[0])
        dy[i] = d[1] if passes else (r[1] - back * n[1] if mirror else m[1])
        dz[i] = d[2] if passes else (r[2] - back * n[2] if mirror else m[2])


@kernel
def _hand_over(cell: int, rays: Rays) -> None:
    """Append the rays that passed an opening to the queue of the cell behind it, and end them here."""
    weight, fate, dz = rays.weight[cell], rays.fate[cell], rays.dz[cell]
    for i in range(rays.waiting[cell]):
        if fate[i] != _PASSES or weight[i] == 0.0:
            continue
        to = cell - 1 if dz[i] > 0.0 else cell + 1
        k = rays.waiting[to]
        rays.waiting[to] = k + 1
        rays.x[to, k], rays.y[to, k], rays.z[to, k] = rays.x[cell, i], rays.y[cell, i], rays.z[cell, i]
        rays.dx[to, k], rays.dy[to, k], rays.dz[to, k] = rays.dx[cell, i], rays.dy[cell, i], dz[i]
        rays.ux[to, k], rays.uy[to, k], rays.uz[to, k] = rays.ux[cell, i], rays.uy[cell, i], rays.uz[cell, i]
        rays.number[to, k], rays.row[to, k] = rays.number[cell, i], rays.row[cell, i]
        rays.flights[to, k], rays.weight[to, k] = rays.flights[cell, i], weight[i]
        weight[i] = 0.0


@kernel
def _pack(cell: int, rays: Rays) -> None:
    """Close the gaps of ended rays. Every ray is copied, kept or not: no branch to guess wrong."""
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    ux, uy, uz, weight = rays.ux[cell], rays.uy[cell], rays.uz[cell], rays.weight[cell]
    number, row, flights = rays.number[cell], rays.row[cell], rays.flights[cell]
    k = 0
    for i in range(rays.waiting[cell]):
        x[k], y[k], z[k] = x[i], y[i], z[i]
        dx[k], dy[k], dz[k] = dx[i], dy[i], dz[i]
        ux[k], uy[k], uz[k] = ux[i], uy[i], uz[i]
        number[k], row[k], flights[k], weight[k] = number[i], row[i], flights[i], weight[i]
        k += 1 if weight[i] > 0.0 else 0
    rays.waiting[cell] = k


@kernel
def _record(cell: int, rays: Rays, paths: Array) -> None:
    """Keep the corners just reached, while there is room for them."""
    for i in range(rays.waiting[cell]):
        k, corner = rays.number[cell, i], rays.flights[cell, i]
        if corner < paths.shape[1]:
            paths[k, corner, 0] = rays.x[cell, i]
            paths[k, corner, 1] = rays.y[cell, i]
            paths[k, corner, 2] = rays.z[cell, i]


@kernel
def trace(scene: Scene, rays: Rays, sample: Sample, shares: Array, paths: Array) -> None:
    """Follow all waiting rays to their ends and add what each surface takes to `shares`.

    `paths` float64[number, corner, xyz] keeps the corners of each ray's path, or is empty.
    """
    while rays.waiting.max() > 0:
        for cell in range(scene.top.shape[0]):
            if rays.waiting[cell] > 0:
                _find_walls(scene, cell, rays)
                _find_rest(scene, cell, rays)
                _meet(scene, cell, rays, sample)
                _book(scene, cell, rays, sample, shares)
                if paths.shape[1] > 0:
                    _record(cell, rays, paths)
                _turn(cell, rays)
                if scene.top.shape[0] > 1:
                    _hand_over(cell, rays)
                _pack(cell, rays)
