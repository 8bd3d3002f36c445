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
from .sampling import Sample, point_of
from .scene import Scene
from .trace import clear_cover
from .vectors import Vector, tangents

COVER = int(Surface.COVER)
LOST = int(Surface.LOST)


@kernel
def rows_of(numbers: tuple[int, int], each: int) -> range:
    """Rows that the rays of a block belong to."""
    return range(numbers[0] // each, (numbers[1] - 1) // each + 1)


@kernel
def slots_of(numbers: tuple[int, int], each: int, row: int) -> tuple[int, int]:
    """Slots of a row's rays in a block: the first, and the one behind the last."""
    return max(row * each - numbers[0], 0), min((row + 1) * each, numbers[1]) - numbers[0]


@kernel
def set_off_from_sun(rays: Rays, sample: Sample, numbers: tuple[int, int], suns: Array, sine: float) -> None:
    """Rays from an evenly bright disc, `sine` being that of its angular radius.

    All weigh the same: the cosine's slope across the disc moves the mean direction by
    less than a tenth of a milliradian up to 87 degrees of incidence. Light from behind
    the mouth plane sets off upwards and never enters.
    """
    disc = sample.disc[:, point_of(sample, numbers[0]) :]
    for k in rows_of(numbers, sample.each):
        low, high = slots_of(numbers, sample.each, k)
        dx, dy, dz = rays.dx[0, low:high], rays.dy[0, low:high], rays.dz[0, low:high]
        p, q = disc[0, low:high], disc[1, low:high]
        sun = suns[k, 0], suns[k, 1], suns[k, 2]
        t, s = tangents(sun)
        if sun[2] <= 0.0:
            dx[:], dy[:], dz[:] = 0.0, 0.0, 1.0
            continue
        for i in range(high - low):
            a, b = sine * p[i], sine * q[i]
            c = math.sqrt(1.0 - a * a - b * b)
            dx[i] = -(a * t[0] + b * s[0] + c * sun[0])
            dy[i] = -(a * t[1] + b * s[1] + c * sun[1])
            dz[i] = -(a * t[2] + b * s[2] + c * sun[2])


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
def set_off_from_dome(rays: Rays, sample: Sample, numbers: tuple[int, int], ups: Array, ground: bool) -> None:
    """Rays from an evenly bright sky, or ground. An oven that looks straight up sees no ground."""
    disc = sample.disc[:, point_of(sample, numbers[0]) :]
    for k in rows_of(numbers, sample.each):
        low, high = slots_of(numbers, sample.each, k)
        dx, dy, dz = rays.dx[0, low:high], rays.dy[0, low:high], rays.dz[0, low:high]
        p, q = disc[0, low:high], disc[1, low:high]
        up = ups[k, 0], ups[k, 1], ups[k, 2]
        if up[2] * (1.0 if ground else -1.0) >= 1.0:
            dx[:], dy[:], dz[:] = 0.0, 0.0, 1.0
            continue
        for i in range(high - low):
            back = _dome_direction(p[i], q[i], up, ground)
            dx[i], dy[i], dz[i] = -back[0], -back[1], -back[2]


@kernel
def facet_of(u: float, count: int, half_width: float) -> tuple[np.uint32, float]:
    """A facet, and how far sideways on it in units of its apothem, from one uniform number.

    `half_width` of a facet is in units of its apothem too: tan(pi / count).
    """
    j = min(np.uint32(u * count), np.uint32(count - 1))
    return j, half_width * (2.0 * (u * count - j) - 1.0)


@kernel
def polygon_point(
    out: float, count: int, half_width: float, fx: Array, fy: Array, u: float
) -> tuple[float, float]:
    """Point on the outline of a polygon with apothem `out`; evenly over an area if that goes with a square root."""
    j, side = facet_of(u, count, half_width)
    return out * (fx[j] + side * fy[j]), out * (fy[j] - side * fx[j])


@kernel
def spread_over_mouth(scene: Scene, rays: Rays, sample: Sample, numbers: tuple[int, int]) -> None:
    """Places of a block's rays, evenly over the mouth."""
    x, y, z, number, flights = rays.x[0], rays.y[0], rays.z[0], rays.number[0], rays.flights[0]
    fx, fy, count, top = scene.facet_x[0], scene.facet_y[0], scene.facet_count[0], scene.top[0]
    reach, half_width = scene.apothem[0] + scene.flare[0] * top, math.tan(math.pi / count)
    first = point_of(sample, numbers[0])  # a block never runs over the end of the sequence
    turn, root = sample.turn[first:], sample.root[first:]
    for i in range(numbers[1] - numbers[0]):
        x[i], y[i] = polygon_point(reach * root[i], count, half_width, fx, fy, turn[i])
        z[i] = top
        number[i], flights[i] = numbers[0] + i, 0
    rays.waiting[0] = numbers[1] - numbers[0]


@kernel
def _pass_cover(scene: Scene, rays: Rays) -> None:
    """Of each waiting ray, what gets in: `weight`; and what is sent back or never came: `left`."""
    dz, weight, left, table = rays.dz[0], rays.weight[0], rays.left[0], scene.cover_table
    if scene.cover_interface != 0:
        for i in range(rays.waiting[0]):
            weight[i] = 1.0 if dz[i] < 0.0 else 0.0
            left[i] = 1.0 - weight[i]
        return
    for i in range(rays.waiting[0]):
        through, back = clear_cover(table, max(-dz[i], 0.0))
        weight[i] = through if dz[i] < 0.0 else 0.0
        left[i] = back if dz[i] < 0.0 else 1.0


@kernel
def enter(
    scene: Scene,
    rays: Rays,
    sample: Sample,
    numbers: tuple[int, int],
    ups: Array,
    shares: Array,
    paths: Array,
) -> None:
    """Take a block's rays through the mouth, and through the cover if one lies there."""
    _pass_cover(scene, rays)
    for k in rows_of(numbers, sample.each):
        low, high = slots_of(numbers, sample.each, k)
        weight, left, row = rays.weight[0, low:high], rays.left[0, low:high], rays.row[0, low:high]
        rays.ux[0, low:high], rays.uy[0, low:high], rays.uz[0, low:high] = ups[k, 0], ups[k, 1], ups[k, 2]
        enters, lost = 0.0, 0.0
        for i in range(high - low):
            row[i] = k
            enters += weight[i]
            lost += left[i]
        shares[k, COVER] += (high - low) - enters - lost
        shares[k, LOST] += lost
    if paths.shape[1] > 0:
        for i in range(rays.waiting[0]):
            n = rays.number[0, i]
            paths[n, 0, 0], paths[n, 0, 1], paths[n, 0, 2] = rays.x[0, i], rays.y[0, i], rays.z[0, i]
