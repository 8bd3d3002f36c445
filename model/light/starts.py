"""Evenly spread points on the surfaces rays start from, each from two uniform numbers."""

import math

from ..compiled import kernel
from .sampling import fraction, lattice_word, word_index


@kernel
def disc_point(scene, key, number):
    """Point of the unit disc from the lattice's third and fourth coordinates."""
    radius = math.sqrt(fraction(lattice_word(key, number, 2)))
    turn = word_index(lattice_word(key, number, 3))
    return radius * scene.circle[0, turn], radius * scene.circle[1, turn]


@kernel
def _facet_of(scene, cell, u):
    """A facet's outward direction, and how far along it sideways in (-1, 1)."""
    count = scene.facet_count[cell]
    turn = u * count
    facet = min(int(turn), count - 1)
    return scene.facet_x[cell, facet], scene.facet_y[cell, facet], 2.0 * (turn - facet) - 1.0


@kernel
def polygon_point(scene, cell, z, u, v):
    """Point of a cell's cross section at height z: a facet's triangle, then a point in it."""
    ex, ey, side = _facet_of(scene, cell, u)
    reach = (scene.apothem[cell] + scene.flare[cell] * z) * math.sqrt(v)
    slide = reach * side * math.tan(math.pi / scene.facet_count[cell])
    return reach * ex + slide * ey, reach * ey - slide * ex, z


@kernel
def wall_point(scene, cell, u, v):
    """Point on a cell's facets, and the inward normal there; the height solves area(z) = v area."""
    ex, ey, side = _facet_of(scene, cell, u)
    flare, base = scene.flare[cell], scene.bottom[cell]
    wide = scene.apothem[cell] + flare * scene.top[cell]
    narrow = scene.apothem[cell] + flare * base
    at = math.sqrt(narrow * narrow + v * (wide * wide - narrow * narrow))
    z = base + v * (wide + narrow) / (at + narrow) * (scene.top[cell] - base)
    slide = at * side * math.tan(math.pi / scene.facet_count[cell])
    scale = 1.0 / math.sqrt(1.0 + flare * flare)
    place = at * ex + slide * ey, at * ey - slide * ex, z
    return place, (-scale * ex, -scale * ey, scale * flare)


@kernel
def pot_point(scene, up, part, u, v, frame):
    """Point on the pot's lid (part 0), side (1) or bottom (2), and the outward normal there.

    `frame` holds two unit vectors across the pot's axis, as `tangents` gives them.
    """
    tx, ty, tz, bx, by, bz = frame
    c, s = math.cos(2.0 * math.pi * u), math.sin(2.0 * math.pi * u)
    ox, oy, oz = c * tx + s * bx, c * ty + s * by, c * tz + s * bz
    half = scene.pot_half_height
    radius = scene.pot_radius * (1.0 if part == 1 else math.sqrt(v))
    along = half * (2.0 * v - 1.0) if part == 1 else half * (1.0 - part)
    place = (
        radius * ox + along * up[0],
        radius * oy + along * up[1],
        radius * oz + along * up[2] + scene.pot_centre,
    )
    if part == 1:
        return place, (ox, oy, oz)
    facing = 1.0 - part
    return place, (facing * up[0], facing * up[1], facing * up[2])
