"""How far the hung pot stays from the walls at each tilt.

The support function of a convex body is its farthest reach along a direction; for a
cylinder it is closed form. Two convex bodies are as far apart as the best plane between
them has room on both sides.

Across a facet everything happens in the plane of the facet's horizontal direction and the
optical axis, if the facet is taken to run on sideways as a strip. That costs nothing: the
cross section of a cell is convex, so beyond its corners, within its heights, the strip lies
outside the cavity, and whoever reaches it from inside has passed a true wall on the way.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from .facets import Array, Optics, ledge_flags
from .intake import directions
from .scene import InSunlight, sound

_FAN: Final = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 37)  # rad, trial directions of separating planes
_ZOOMS: Final = 8  # each narrows the search fourfold: from 5 degrees to a ten-thousandth of one
_NEAR: Final = np.linspace(-1.0, 1.0, 9)


def reach_cylinder(direction: Array, *, axis: Array, radius: float, height: float) -> Array:
    """Support function of a cylinder about its centre. [m]

    Parameters
    ----------
    direction, axis : float64[..., xyz]
        Unit vectors, broadcast against each other.

    Source
    ------
    Closed form: half the height along the axis plus the disc's reach across it.
    """
    return _reach(np.sum(direction * axis, axis=-1), radius, height)


def _reach(along: Array, radius: float, height: float) -> Array:
    """Reach of a cylinder along a direction, from the cosine between that and its axis. [m]"""
    cosine = np.clip(along, -1.0, 1.0)
    return np.asarray(0.5 * height * np.abs(cosine) + radius * np.sqrt(1.0 - cosine**2))


def clearance(optics: Optics | InSunlight, *, pot_up: ArrayLike) -> Array:
    """Least distance from the pot to any facet, ledge, plate, mouth or cover plane, float64[tilt]. [m]

    Exact for every stack: by the planes of the facets where the whole is convex (one cell,
    or tiers that close in upwards), else each facet is held to its own heights and the best
    plane between it and the pot is searched for, which falls short by less than a micrometre.
    Negative where the pot cuts through, about as much as it would have to move.

    The mouth plane always counts: light is traced from it, so a pot must stay below it.

    Parameters
    ----------
    pot_up : float64[tilt, xyz]
        The pot's axis (world vertical) in the oven frame.

    Raises
    ------
    ValueError
        If `pot_up` is not rows of unit vectors, or a number of the optics is out of range.
    """
    ups = directions("pot_up", pot_up)
    oven = sound(optics)
    walls: Array = np.min([_from_chain(oven, ups, count, chain) for count, chain in _chains(oven)], axis=0)
    return np.asarray(np.minimum(walls, _from_planes(oven, ups)))


def _from_planes(optics: Optics, ups: Array) -> Array:
    """Distance to the back plate, the mouth and a cover between cells. [m]"""
    axial = np.array([0.0, 0.0, 1.0])
    reach = reach_cylinder(axial, axis=ups, radius=optics.pot_radius, height=optics.pot_height)
    low, high = optics.pot_centre - reach, optics.pot_centre + reach
    free: Array = np.minimum(low, optics.top_height[0] - high)
    if optics.cover_interface > 0:
        level = optics.top_height[optics.cover_interface]
        free = np.minimum(free, np.maximum(level - high, low - level))
    return free


def _chains(optics: Optics) -> list[tuple[int, Array]]:
    """Facets of each cell, and the wall segments across one of them float64[segment, end, (out, up)].

    A ledge runs outwards from its edge. Separating planes that face outwards meet it at the
    edge first, so the edge stands for it.
    """
    count, ledges = optics.facet_count, ledge_flags(optics)
    chains = []
    for k in range(len(count)):
        top = 0.5 * optics.top_across[k], optics.top_height[k]
        base = 0.5 * optics.bottom_across[k], optics.bottom_height[k]
        segments = [(top, base)]
        if k > 0 and (ledges[k, 0] or ledges[k - 1, 1]):
            segments.append((top, top))
        if k + 1 < len(count) and (ledges[k, 1] or ledges[k + 1, 0]):
            segments.append((base, base))
        chains.append((int(count[k]), np.array(segments)))
    return chains


def _convex(optics: Optics) -> bool:
    """Whether the whole stack is convex: one kind of polygon, joined flush, no cell leaning out more than the next."""
    across = np.append(optics.top_across, optics.bottom_across[-1])
    lean = np.diff(across) / np.diff(np.append(optics.top_height, 0.0))
    flush = np.array_equal(optics.top_across[1:], optics.bottom_across[:-1])
    alike = bool(np.all(optics.facet_count == optics.facet_count[0]))
    return flush and alike and bool(np.all(np.diff(lean) >= -1e-12))


def _from_chain(optics: Optics, ups: Array, facets: int, chain: Array) -> Array:
    """Least distance to the wall segments behind all facets of one cell, float64[tilt]. [m]"""
    azimuth = 2.0 * np.pi * np.arange(facets) / facets
    # the pot's axis in the plane across each facet, [tilt, facet, segment, direction]
    out = (ups[:, :1] * np.sin(azimuth) + ups[:, 1:2] * np.cos(azimuth))[..., None, None]
    up = ups[:, 2, None, None, None]
    run = chain[:, 0] - chain[:, 1]
    lean = np.arctan2(-run[:, 0], np.abs(run[:, 1]))[
        :, None
    ]  # of a segment's outward normal over the horizontal

    def free(angle: Array) -> Array:
        """Room between each segment and the pot along directions given by their angle over the horizontal."""
        c, s = np.cos(angle), np.sin(angle)
        wall = np.minimum(*(chain[:, end, 0, None] * c + chain[:, end, 1, None] * s for end in (0, 1)))
        reach = _reach(out * c + up * s, optics.pot_radius, optics.pot_height)
        return np.asarray(wall - optics.pot_centre * s - reach)

    found = free(lean) if _convex(optics) else _widest(free, lean)
    return np.asarray(found.max(axis=-1).min(axis=(1, 2)))


def _widest(free: Callable[[Array], Array], lean: Array) -> Array:
    """Most room of all directions, float64[tilt, facet, segment, 1]. Where there is room it has one peak.

    The segment's own normal is tried as well: where the pot faces it flat, the peak is there.
    """
    fan = np.broadcast_to(_FAN, (len(lean), len(_FAN)))
    angles, step = np.concatenate([fan, lean], axis=1), _FAN[1] - _FAN[0]
    for _ in range(_ZOOMS + 1):
        room = free(angles)
        best = room.argmax(axis=-1)[..., None]
        middle = np.take_along_axis(np.broadcast_to(angles, room.shape), best, axis=-1)
        angles = np.clip(middle + step * _NEAR, -0.5 * np.pi, 0.5 * np.pi)
        step *= 0.25
    return np.asarray(np.take_along_axis(room, best, axis=-1))
