"""Directions: frames around a normal, mirrors that are not quite flat, diffuse emission.

Right-handed axes, z up out of the mouth. Every function takes and returns bare
floats: a tuple of arrays handed to an uninlined function costs more than the sum here.
"""

import math

from ..compiled import kernel


@kernel
def tangents(nx, ny, nz):
    """Two unit vectors that complete the unit vector n to a right-handed frame (t, b, n).

    Source
    ------
    Duff, Burgess, Christensen, Hery, Kensler, Liani and Villemin, "Building an
    orthonormal basis, revisited", J. Computer Graphics Techniques 6(1), 2017, listing 3.
    """
    sign = math.copysign(1.0, nz)
    a = -1.0 / (sign + nz)
    b = nx * ny * a
    return 1.0 + sign * nx * nx * a, sign * b, -sign * nx, b, sign + ny * ny * a, -ny


@kernel
def combine(nx, ny, nz, across, along, up):
    """across * t + along * b + up * n in the frame of `tangents`."""
    tx, ty, tz, bx, by, bz = tangents(nx, ny, nz)
    return (
        across * tx + along * bx + up * nx,
        across * ty + along * by + up * ny,
        across * tz + along * bz + up * nz,
    )


@kernel
def mirrored(dx, dy, dz, nx, ny, nz):
    """Direction d after a mirror whose normal is n, of any length."""
    scale = 2.0 * (dx * nx + dy * ny + dz * nz) / (nx * nx + ny * ny + nz * nz)
    return dx - scale * nx, dy - scale * ny, dz - scale * nz


@kernel
def mirrored_rough(dx, dy, dz, nx, ny, nz, across, along):
    """Direction d after a mirror whose normal n leans by two small slopes. [rad]

    A grazing ray can come off a leaning facet pointing into the wall; it then
    glances off the mean plane as well, so that no light leaves through a wall.
    """
    mx, my, mz = combine(nx, ny, nz, across, along, 1.0)
    rx, ry, rz = mirrored(dx, dy, dz, mx, my, mz)
    if rx * nx + ry * ny + rz * nz < 0.0:
        return mirrored(rx, ry, rz, nx, ny, nz)
    return rx, ry, rz


@kernel
def diffuse(nx, ny, nz, share, cosine, sine):
    """Lambertian direction about the unit normal n.

    `share` uniform in (0, 1) is the squared sine of the polar angle; `cosine` and
    `sine` give its azimuth. Uniform on the unit disc, lifted to the hemisphere
    (Nusselt's analogue), which is the cosine law.
    """
    radius = math.sqrt(share)
    return combine(nx, ny, nz, radius * cosine, radius * sine, math.sqrt(1.0 - share))
