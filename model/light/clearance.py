"""How far the hung pot stays from the walls at each tilt.

The support function of a convex body is its farthest reach along a direction; for a
cylinder it is closed form. Across a facet everything happens in the plane of the facet's
horizontal direction and the optical axis: there the walls are a chain of segments.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from .facets import Array, Optics, checked, ledge_flags
from .intake import directions

_FAN: Final = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 361)  # rad, trial separating directions


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
    along = np.clip(np.sum(direction * axis, axis=-1), -1.0, 1.0)
    return np.asarray(0.5 * height * np.abs(along) + radius * np.sqrt(1.0 - along**2))


def clearance(optics: Optics, *, pot_up: ArrayLike) -> Array:
    """Least distance from the pot to any facet, ledge, plate, mouth or cover plane, float64[tilt]. [m]

    Negative where the pot cuts through, by how much it would have to move. Exact for one
    cell and for tiers that open ever wider (a convex whole). Elsewhere never too large:
    each wall segment is kept apart by the best of half a degree's steps of separating
    planes, and taken to run on sideways.

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
    oven = checked(optics)
    walls: Array = np.min(
        [_from_chain(oven, ups, azimuth, chain) for azimuth, chain in _chains(oven)], axis=0
    )
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


def _chains(optics: Optics) -> list[tuple[float, Array]]:
    """Facet azimuths, each with its wall segments float64[segment, end, (out, up)].

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
        chain = np.array(segments)
        chains += [(2.0 * np.pi * j / count[k], chain) for j in range(int(count[k]))]
    return chains


def _convex(optics: Optics) -> bool:
    """Whether the whole stack is convex: one kind of polygon, joined flush, no cell leaning out more than the next."""
    across = np.append(optics.top_across, optics.bottom_across[-1])
    lean = np.diff(across) / np.diff(np.append(optics.top_height, 0.0))
    flush = np.array_equal(optics.top_across[1:], optics.bottom_across[:-1])
    alike = bool(np.all(optics.facet_count == optics.facet_count[0]))
    return flush and alike and bool(np.all(np.diff(lean) >= -1e-12))


def _from_chain(optics: Optics, ups: Array, azimuth: float, chain: Array) -> Array:
    """Least distance to the wall segments on one side. [m]"""
    run = chain[:, 0] - chain[:, 1]
    lean = np.arctan2(-run[:, 0], np.abs(run[:, 1]))  # of the segment's outward normal above the horizontal
    if _convex(optics):
        fan = lean[:, None]
    else:
        fan = np.concatenate([lean[:, None], np.broadcast_to(_FAN, (len(chain), len(_FAN)))], axis=1)
    out, up = np.cos(fan), np.sin(fan)
    wall = np.min(out[:, None] * chain[:, :, 0, None] + up[:, None] * chain[:, :, 1, None], axis=1)
    normal = np.stack([out * np.sin(azimuth), out * np.cos(azimuth), up], axis=-1)
    reach = reach_cylinder(
        normal[None], axis=ups[:, None, None], radius=optics.pot_radius, height=optics.pot_height
    )
    free = wall - optics.pot_centre * up - reach
    return np.asarray(free.max(axis=2).min(axis=1))
