"""Directions: frames around a normal, mirrors that are not quite flat, diffuse emission.

Right-handed axes, z up out of the mouth. Every function takes and returns bare
floats: a tuple of arrays handed to an uninlined function costs more than the sum here.
"""

from ..compiled import kernel

Vector = tuple[float, float, float]


@kernel
def tangents(n: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors t and b that complete the unit vector n to a right-handed frame (t, b, n).

    Source
    ------
    Duff, Burgess, Christensen, Hery, Kensler, Liani and Villemin, "Building an
    orthonormal basis, revisited", J. Computer Graphics Techniques 6(1), 2017, listing 3.
    """
    x, y, z = n
    sign = 1.0 if z >= 0.0 else -1.0
    a = -1.0 / (sign + z)
    b = x * y * a
    return (1.0 + sign * x * x * a, sign * b, -sign * x), (b, sign + y * y * a, -y)


@kernel
def combine(n: Vector, across: float, along: float, up: float) -> Vector:
    """across * t + along * b + up * n in the frame of `tangents`."""
    t, b = tangents(n)
    return (
        across * t[0] + along * b[0] + up * n[0],
        across * t[1] + along * b[1] + up * n[1],
        across * t[2] + along * b[2] + up * n[2],
    )


@kernel
def mirrored(d: Vector, n: Vector) -> Vector:
    """Direction d after a mirror whose normal is n, of any length."""
    square = n[0] * n[0] + n[1] * n[1] + n[2] * n[2]
    scale = 2.0 * (d[0] * n[0] + d[1] * n[1] + d[2] * n[2]) / square
    return d[0] - scale * n[0], d[1] - scale * n[1], d[2] - scale * n[2]
