"""Rays followed from cell to cell until they are absorbed or lost.

Each cell of the stack is convex and keeps a queue of the rays inside it. One sweep
takes a cell's whole queue to the next surface (`_find_walls`, `_find_rest`: loops
the compiler turns into vector code), settles what each ray leaves there and how it goes
on, and packs the survivors to the front of their queue or into a neighbour's.
"""

import math
from typing import Final

import numpy as np

from ..compiled import kernel
from .facets import Array, Surface
from .rays import Rays
from .sampling import Sample, bits_of_bounce, point_of, table_index, uniform, word_index
from .scene import (
    BASE,
    BOTTOM,
    DIFFUSED,
    GONE,
    GREY,
    GROUP,
    LEDGE,
    LID,
    MIRRORED,
    PANE,
    PASSING,
    PLATE,
    SIDE,
    TOP,
    Scene,
)
from .vectors import combine, mirrored

BOUNCE_CAP: Final = 1000  # flights of one ray; what it then carries goes to the surface it stands on
FAINT: Final = 0.2  # least weight a ray goes on with; see `_roulette`
TOUCHING: Final = 1e-30  # m; gap of a ray on or, by rounding, outside a wall it flies towards

# What the end of a cell is.
_PLATE: Final = 0
_OPENING: Final = 1
_MOUTH: Final = 2
_PANE_OUTSIDE: Final = 3  # clear cover, the world behind it
_PANE_INSIDE: Final = 4  # clear cover, another cell behind it
_GREY_COVER: Final = 5

LOST: Final = int(Surface.LOST)

Near = tuple[float, float, int]
Fate = tuple[int, float, float]


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
def _sooner(near: Near, meets: bool, gap: float, speed: float, what: int) -> Near:
    """What is reached first: what was so far, or another thing at gap / speed if it is met at all."""
    closer = meets & (gap * near[1] < near[0] * speed)
    return gap if closer else near[0], speed if closer else near[1], what if closer else near[2]


@kernel
def _find_rest(scene: Scene, cell: int, rays: Rays) -> None:
    """End of each flight: the nearest of facet, end plane and pot; its distance goes into `gap`.

    Distances stay fractions until the end, and are compared undivided. A ray parallel to the
    pot's axis meets its side at a speed of zero, which is never sooner.
    """
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    ux, uy, uz = rays.ux[cell], rays.uy[cell], rays.uz[cell]
    gap, speed, struck = rays.gap[cell], rays.speed[cell], rays.struck[cell]
    top, base = scene.top[cell], scene.bottom[cell]
    centre, half, radius2 = scene.pot_centre, scene.pot_half_height, scene.pot_radius**2
    for i in range(rays.waiting[cell]):
        near = gap[i], speed[i], struck[i]

        up = dz[i] > 0.0
        left = top - z[i] if up else z[i] - base
        near = _sooner(near, True, left if left > 0.0 else 0.0, abs(dz[i]), TOP if up else BASE)

        h = z[i] - centre
        along = x[i] * ux[i] + y[i] * uy[i] + h * uz[i]
        climb = dx[i] * ux[i] + dy[i] * uy[i] + dz[i] * uz[i]
        square = x[i] * x[i] + y[i] * y[i] + h * h
        inward = x[i] * dx[i] + y[i] * dy[i] + h * dz[i]
        b = inward - along * climb
        c = square - along * along - radius2
        root = b * b - (1.0 - climb * climb) * c
        pace = math.sqrt(root if root > 0.0 else 0.0) - b  # it meets the side at c / pace
        level = abs(along * pace + climb * c) <= half * pace
        near = _sooner(near, (b < 0.0) & (c > 0.0) & (root > 0.0) & level, c, pace, SIDE)

        down = climb < 0.0
        rate = -climb if down else climb
        above = (along if down else -along) - half  # it meets the plane of lid or bottom at above / rate
        out = (square - half * half - radius2) * rate * rate + above * (2.0 * inward * rate + above)
        near = _sooner(near, (above >= 0.0) & (out <= 0.0), above, rate, LID if down else BOTTOM)
        gap[i], struck[i] = near[0] / near[1], near[2]


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
def in_opening(facet_x: Array, facet_y: Array, count: int, apothem: float, x: float, y: float) -> bool:
    """Whether a point lies within a cross section of a cell, given its facets and its apothem there."""
    farthest = 0.0
    for j in range(count):
        farthest = max(farthest, facet_x[j] * x + facet_y[j] * y)
    return farthest <= apothem


@kernel
def clear_cover(table: Array, cosine: float) -> tuple[float, float]:
    """Transmittance and reflectance of the clear cover at a cosine of incidence."""
    place = cosine * (table.shape[1] - 1)
    node = np.uint32(min(place, table.shape[1] - 2.0))
    part = place - node
    through = table[0, node] + part * (table[0, node + 1] - table[0, node])
    back = table[1, node] + part * (table[1, node + 1] - table[1, node])
    return through, back


@kernel
def _at_interface(end: int, table: Array, grey: float, cosine: float, chance: float) -> Fate:
    """What a ray meets at a cover or an opening, the share that goes on, and of the rest the part that is let out."""
    if end == _OPENING:
        return PASSING, 1.0, 0.0
    if end == _MOUTH:
        return GONE, 0.0, 0.0
    if end == _GREY_COVER:
        return GREY, grey, 0.0
    through, back = clear_cover(table, cosine)
    if end == _PANE_OUTSIDE:
        return PANE, back, through / (1.0 - back)
    return PASSING if chance * (through + back) < through else PANE, through + back, 0.0


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
def _meet(scene: Scene, cell: int, rays: Rays) -> None:
    """Move each ray to what it strikes; the normal there and the share that goes on are looked up.

    Tables in place of cases: which one a ray meets cannot be guessed, and a wrong guess costs
    more than the arithmetic of all of them.
    """
    x, y, z = rays.x[cell], rays.y[cell], rays.z[cell]
    dx, dy, dz = rays.dx[cell], rays.dy[cell], rays.dz[cell]
    ux, uy, uz = rays.ux[cell], rays.uy[cell], rays.uz[cell]
    nx, ny, nz = rays.nx[cell], rays.ny[cell], rays.nz[cell]
    gap, struck, kept = rays.gap[cell], rays.struck[cell], rays.kept[cell]
    normal_x, normal_y, normal_z = scene.normal_x[cell], scene.normal_y[cell], scene.normal_z[cell]
    along_pot, off_pot, keeps, centre = scene.along_pot, scene.off_pot, scene.keeps[cell], scene.pot_centre
    for i in range(rays.waiting[cell]):
        x[i] += gap[i] * dx[i]
        y[i] += gap[i] * dy[i]
        z[i] += gap[i] * dz[i]
        what = np.uint32(struck[i])
        h = z[i] - centre
        off = off_pot[what]
        up = along_pot[what] - off * (x[i] * ux[i] + y[i] * uy[i] + h * uz[i])
        nx[i] = normal_x[what] + off * x[i] + up * ux[i]
        ny[i] = normal_y[what] + off * y[i] + up * uy[i]
        nz[i] = normal_z[what] + off * h + up * uz[i]
        kept[i] = keeps[what]


@kernel
def _meet_ends(scene: Scene, cell: int, rays: Rays, sample: Sample) -> int:
    """What the rays at an end of the cell meet; their slots go to `at_end`, and how many they are is returned."""
    x, y, z, dz, at_end = rays.x[cell], rays.y[cell], rays.z[cell], rays.dz[cell], rays.at_end
    struck, kept, outside = rays.struck[cell], rays.kept[cell], rays.outside
    number, flights, ledge, key = rays.number[cell], rays.flights[cell], scene.ledge[cell], sample.key
    fx, fy, facets, apothem, flare = (
        scene.facet_x,
        scene.facet_y,
        scene.facet_count,
        scene.apothem,
        scene.flare,
    )
    table, grey, keeps = scene.cover_table, scene.cover_reflectance, scene.keeps[cell]
    ends = _end_of(scene, cell, True), _end_of(scene, cell, False)
    count = 0
    for i in range(rays.waiting[cell]):
        what = struck[i]
        at_end[count] = i
        count += 1 if (what == TOP) | (what == BASE) else 0
    for k in range(count):
        at = np.uint32(at_end[k])
        side = 0 if dz[at] > 0.0 else 1
        other = cell - 1 + 2 * side
        if ledge[side] and not in_opening(
            fx[other], fy[other], facets[other], apothem[other] + flare[other] * z[at], x[at], y[at]
        ):
            met = LEDGE, keeps[LEDGE], 0.0
        elif ends[side] == _PLATE:
            met = PLATE, keeps[PLATE], 0.0
        else:
            chance = uniform(bits_of_bounce(key, number[at], flights[at]), 0)
            met = _at_interface(ends[side], table, grey, abs(dz[at]), chance)
        struck[at], kept[at], outside[k] = met
    return count


@kernel
def _leave(cell: int, rays: Rays, sample: Sample) -> None:
    """What each ray leaves behind, and what it goes on with."""
    weight, kept, left, bits = rays.weight[cell], rays.kept[cell], rays.left[cell], rays.bits[cell]
    number, flights, key = rays.number[cell], rays.flights[cell], sample.key
    for i in range(rays.waiting[cell]):
        bits[i] = bits_of_bounce(key, number[i], flights[i])
    for i in range(rays.waiting[cell]):
        flights[i] += 1
        carried = _roulette(weight[i], kept[i], uniform(bits[i], 1))
        carried = carried if flights[i] < BOUNCE_CAP else 0.0
        left[i] = weight[i] - carried
        weight[i] = carried


@kernel
def _book(scene: Scene, cell: int, rays: Rays, at_ends: int, shares: Array) -> None:
    """Book what was left behind: at the ends, first what a cover lets out."""
    left, row, struck, surface = rays.left[cell], rays.row[cell], rays.struck[cell], scene.surface
    at_end, outside = rays.at_end, rays.outside
    for k in range(at_ends):
        at = np.uint32(at_end[k])
        lost = outside[k] * left[at]
        shares[np.uint32(row[at]), LOST] += lost
        left[at] -= lost
    for i in range(rays.waiting[cell]):
        shares[np.uint32(row[i]), surface[np.uint32(struck[i])]] += left[i]


@kernel
def _lean(scene: Scene, cell: int, rays: Rays, sample: Sample) -> None:
    """Draw how each ray leaves in the frame of the normal: the leaning mirror's normal, or a diffuse direction."""
    number, flights, struck, fate = rays.number[cell], rays.flights[cell], rays.struck[cell], rays.fate[cell]
    across, along, upward, bits = rays.across[cell], rays.along[cell], rays.upward[cell], rays.bits[cell]
    circle_x, circle_y, gaussian, points = scene.circle[0], scene.circle[1], scene.gaussian, sample.points
    leaves, leans = scene.leaves, scene.leans[cell]
    for i in range(rays.waiting[cell]):
        first, second = table_index(bits[i], 0), table_index(bits[i], 1)
        if flights[i] == 1:
            n = point_of(sample, number[i])
            first, second = word_index(points[4, n]), word_index(points[5, n])
        square = uniform(bits[i], 0)
        radius = math.sqrt(square)
        what = np.uint32(struck[i])
        fate[i] = leaves[what]
        diffuse, slope = fate[i] == DIFFUSED, leans[what]
        across[i] = radius * circle_x[first] if diffuse else slope * gaussian[first]
        along[i] = radius * circle_y[first] if diffuse else slope * gaussian[second]
        upward[i] = math.sqrt(1.0 - square) if diffuse else 1.0


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
        mirror, passes = fate[i] == MIRRORED, fate[i] == PASSING
        dx[i] = d[0] if passes else (r[0] - back * n[0] if mirror else m[0])
        dy[i] = d[1] if passes else (r[1] - back * n[1] if mirror else m[1])
        dz[i] = d[2] if passes else (r[2] - back * n[2] if mirror else m[2])


@kernel
def _hand_over(cell: int, rays: Rays) -> None:
    """Append the rays that passed an opening to the queue of the cell behind it, and end them here."""
    weight, fate, dz = rays.weight[cell], rays.fate[cell], rays.dz[cell]
    for i in range(rays.waiting[cell]):
        if fate[i] != PASSING or weight[i] == 0.0:
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
        goes_on = weight[i] > 0.0  # read before anything is stored, else it waits for the stores
        x[k], y[k], z[k] = x[i], y[i], z[i]
        dx[k], dy[k], dz[k] = dx[i], dy[i], dz[i]
        ux[k], uy[k], uz[k] = ux[i], uy[i], uz[i]
        number[k], row[k], flights[k], weight[k] = number[i], row[i], flights[i], weight[i]
        k += 1 if goes_on else 0
    rays.waiting[cell] = k


@kernel
def _record(cell: int, rays: Rays, paths: Array) -> None:
    """Keep the corners just reached, while there is room for them; and with room for that, what was met and
    what goes on."""
    for i in range(rays.waiting[cell]):
        k, corner = rays.number[cell, i], rays.flights[cell, i]
        if corner < paths.shape[1]:
            paths[k, corner, 0] = rays.x[cell, i]
            paths[k, corner, 1] = rays.y[cell, i]
            paths[k, corner, 2] = rays.z[cell, i]
            if paths.shape[2] > 3:
                paths[k, corner, 3] = rays.struck[cell, i]
                paths[k, corner, 4] = rays.weight[cell, i]


@kernel
def trace(scene: Scene, rays: Rays, sample: Sample, shares: Array, paths: Array) -> None:
    """Follow all waiting rays to their ends and add what each surface takes to `shares`.

    `paths` float64[number, corner, xyz] keeps the corners of each ray's path, or is empty; with five columns, what
    each corner ends on and the power that goes on from it as well.
    """
    while rays.waiting.max() > 0:
        for cell in range(scene.top.shape[0]):
            if rays.waiting[cell] > 0:
                _find_walls(scene, cell, rays)
                _find_rest(scene, cell, rays)
                _meet(scene, cell, rays)
                at_ends = _meet_ends(scene, cell, rays, sample)
                _leave(cell, rays, sample)
                _book(scene, cell, rays, at_ends, shares)
                _lean(scene, cell, rays, sample)
                if paths.shape[1] > 0:
                    _record(cell, rays, paths)
                _turn(cell, rays)
                if scene.top.shape[0] > 1:
                    _hand_over(cell, rays)
                _pack(cell, rays)
