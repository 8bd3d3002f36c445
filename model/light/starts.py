"""Where rays start and which way they set off, each a loop over one block of points.

A block is started in two passes: `set_off_...` picks directions and drops what never
enters, then `spread_over_...` picks places. Both read the ray's own point of the sequence:
its first two coordinates place it, the next two give its direction.
"""

import math

import numpy as np

from ..compiled import kernel
from .facets import Array, Surface
from .rays import Rays
from .sampling import Sample, fraction, word_index
from .scene import Scene
from .trace import clear_cover
from .vectors import Vector, combine

COVER = int(Surface.COVER)
LOST = int(Surface.LOST)


@kernel
def disc_point(radius_word: np.uint32, turn_word: np.uint32, circle: Array) -> tuple[float, float]:
    """Evenly spread point of the unit disc."""
    radius = math.sqrt(fraction(radius_word))
    turn = word_index(turn_word)
    return radius * circle[0, turn], radius * circle[1, turn]


@kernel
def set_off_from_sun(
    scene: Scene,
    rays: Rays,
    sample: Sample,
    numbers: tuple[int, int],
    suns: Array,
    sine: float,
    shares: Array,
) -> None:
    """Rays from an evenly bright disc, `sine` being that of its angular radius.

    All weigh the same: the cosine's slope across the disc moves the mean direction by
    less than a tenth of a milliradian up to 87 degrees of incidence. Light from behind
    the mouth plane never enters.
    """
    circle, points, slot = scene.circle, sample.points, 0
    dx, dy, dz, number, row = rays.dx[0], rays.dy[0], rays.dz[0], rays.number[0], rays.row[0]
    for i in range(numbers[0], numbers[1]):
        k = i // sample.each
        sun = suns[k, 0], suns[k, 1], suns[k, 2]
        a, b = disc_point(points[2, i], points[3, i], circle)
        a, b = sine * a, sine * b
        back = combine(sun, a, b, math.sqrt(1.0 - a * a - b * b))
        if sun[2] <= 0.0 or back[2] <= 0.0:
            shares[k, LOST] += 1.0
            continue
        dx[slot], dy[slot], dz[slot], number[slot], row[slot] = -back[0], -back[1], -back[2], i, k
        slot += 1
    rays.waiting[0] = slot


@kernel
def _dome_direction(a: float, b: float, up: Vector, ground: bool) -> Vector:
    """Direction to one part of a hemisphere over z, cosine-weighted, from a point of the unit disc.

    Cosine-weighted directions are evenly spread over the unit disc below the hemisphere,
    where the world's horizon is half an ellipse: it cuts every chord along the tilt at the
    same fraction. So a point is moved along its chord, to one side of that cut, and stays
    evenly spread.
    """
    half = math.sqrt(1.0 - a * a)
    low, high = (-1.0, -up[2]) if ground else (-up[2], 1.0)
    b = half * (low + 0.5 * (high - low) * (b / half + 1.0))
    lean = math.hypot(up[0], up[1])
    tx, ty = (up[0] / lean, up[1] / lean) if lean > 0.0 else (0.0, 1.0)
    return b * tx - a * ty, b * ty + a * tx, math.sqrt(max(1.0 - a * a - b * b, 0.0))


@kernel
def set_off_from_dome(
    scene: Scene,
    rays: Rays,
    sample: Sample,
    numbers: tuple[int, int],
    ups: Array,
    ground: bool,
    shares: Array,
) -> None:
    """Rays from an evenly bright sky, or ground. An oven that looks straight up sees no ground."""
    circle, points, slot = scene.circle, sample.points, 0
    dx, dy, dz, number, row = rays.dx[0], rays.dy[0], rays.dz[0], rays.number[0], rays.row[0]
    for i in range(numbers[0], numbers[1]):
        k = i // sample.each
        up = ups[k, 0], ups[k, 1], ups[k, 2]
        a, b = disc_point(points[2, i], points[3, i], circle)
        back = _dome_direction(a, b, up, ground)
        if back[2] <= 0.0 or up[2] * (1.0 if ground else -1.0) >= 1.0:
            shares[k, LOST] += 1.0
            continue
        dx[slot], dy[slot], dz[slot], number[slot], row[slot] = -back[0], -back[1], -back[2], i, k
        slot += 1
    rays.waiting[0] = slot


@kernel
def polygon_point(reach: float, count: int, fx: Array, fy: Array, u: float, v: float) -> tuple[float, float]:
    """Evenly spread point of a polygon with apothem `reach`: a facet's triangle, a point in it."""
    j, side = facet_of(u, count)
    out = reach * math.sqrt(v)
    return out * (fx[j] + side * fy[j]), out * (fy[j] - side * fx[j])


@kernel
def facet_of(u: float, count: int) -> tuple[int, float]:
    """A facet, and how far sideways on it in units of its apothem, from one uniform number."""
    j = min(int(u * count), count - 1)
    return j, math.tan(math.pi / count) * (2.0 * (u * count - j) - 1.0)


@kernel
def spread_over_mouth(scene: Scene, rays: Rays, sample: Sample) -> None:
    """Places of the waiting rays, evenly over the mouth."""
    x, y, z, number, points = rays.x[0], rays.y[0], rays.z[0], rays.number[0], sample.points
    fx, fy, count, top = scene.facet_x[0], scene.facet_y[0], scene.facet_count[0], scene.top[0]
    reach = scene.apothem[0] + scene.flare[0] * top
    for i in range(rays.waiting[0]):
        u, v = fraction(points[0, number[i]]), fraction(points[1, number[i]])
        x[i], y[i] = polygon_point(reach, count, fx, fy, u, v)
        z[i] = top


@kernel
def enter(scene: Scene, rays: Rays, ups: Array, shares: Array, paths: Array) -> None:
    """Take the waiting rays through the mouth, and through the cover if one lies there."""
    dz, row, weight, flights, table = (
        rays.dz[0],
        rays.row[0],
        rays.weight[0],
        rays.flights[0],
        scene.cover_table,
    )
    ux, uy, uz = rays.ux[0], rays.uy[0], rays.uz[0]
    covered = scene.cover_interface == 0
    for i in range(rays.waiting[0]):
        weight[i], flights[i] = 1.0, 0
        ux[i], uy[i], uz[i] = ups[row[i], 0], ups[row[i], 1], ups[row[i], 2]
        if covered:
            through, back = clear_cover(table, -dz[i])
            shares[row[i], COVER] += 1.0 - through - back
            shares[row[i], LOST] += back
            weight[i] = through
        if paths.shape[1] > 0:
            k = rays.number[0, i]
            paths[k, 0, 0], paths[k, 0, 1], paths[k, 0, 2] = rays.x[0, i], rays.y[0, i], rays.z[0, i]
