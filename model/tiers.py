r"""The wall of a funnel as rings of facets, one above the other, each at its own angle.

             mouth  __________________     edge 0, at the depth
                    \                /
      second tier    \              /      facet_angle + second_bend from the axis
                      \____________/       edge 1, at second_from of the depth
       lowest tier     |          |        facet_angle from the axis
                       |__________|        throat, on the back plate

All rings have the same number of facets, in line, and meet flush. A bend above zero opens the next ring
wider (the edge stands into the funnel), one below zero closes it in. Everything is a column, one value per
design; a tier that a design lacks has no height and lies at the throat.
"""

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ANGLE_FIELDS = ("tiers", "facet_angle", "second_bend", "third_bend")
"""Fields of a funnel that give the angles of its tiers: the arguments of `angles`."""
WALL_FIELDS = ("mouth", "depth", "second_from", "third_from", *ANGLE_FIELDS)
"""Fields of a funnel that shape its wall: the arguments of `wall`."""

FLATTEST = math.radians(80)  # of a tier from the axis; flatter ones are all rim and no funnel
HAIR = 1e-6  # m
ROUNDING = 1e-12  # that an angle made of bends may be over by


class Wall(NamedTuple):
    """A wall from the mouth inwards. Shapes [tier, ...] and [edge, ...], an edge more than tiers."""

    angle: Floats  # rad, of each tier from the axis, within `FLATTEST` of it
    across: Floats  # m, across the flats at each edge
    level: Floats  # m, of each edge above the back plate

    @property
    def width(self) -> Floats:
        """`across`, but a hair where the facets have met, so that areas stay areas. [m]"""
        return np.maximum(self.across, HAIR)

    @property
    def throat(self) -> Floats:
        """Across the flats of the back plate. [m]"""
        return np.asarray(self.across[-1])

    @property
    def narrowest(self) -> Floats:
        """Across the flats of the narrowest edge; not above zero where the facets meet. [m]"""
        return np.asarray(self.across.min(axis=0))

    @property
    def rise(self) -> Floats:
        """Height of each tier, along the axis. [m]"""
        return np.asarray(self.level[:-1] - self.level[1:])

    @property
    def slant(self) -> Floats:
        """Length of each tier's facets, along their middle. [m]"""
        return self.rise / np.cos(self.angle)


def wall(
    *,
    mouth: Any,
    depth: Any,
    tiers: Any,
    facet_angle: Any,
    second_bend: Any,
    second_from: Any,
    third_bend: Any,
    third_from: Any,
) -> Wall:
    """The wall that the fields of a funnel describe, numbers or columns; see `Funnel` for their meaning."""
    two, three = np.asarray(tiers) >= 2, np.asarray(tiers) >= 3
    angle = angles(tiers=tiers, facet_angle=facet_angle, second_bend=second_bend, third_bend=third_bend)
    low = second_from * depth
    high = low + third_from * (depth - low)
    level = depth, np.select([three, two], [high, low], 0.0), np.where(three, low, 0.0), 0.0
    return _stacked(mouth, np.clip(angle, -FLATTEST, FLATTEST), np.stack(np.broadcast_arrays(*level)))


def angles(*, tiers: Any, facet_angle: Any, second_bend: Any, third_bend: Any) -> Floats:
    """Angle of each tier from the axis, from the mouth inwards; the lowest stands for tiers there are not. [rad]"""
    two, three = np.asarray(tiers) >= 2, np.asarray(tiers) >= 3
    second = facet_angle + second_bend
    uppermost = np.select([three, two], [second + third_bend, second], facet_angle)
    return np.stack(np.broadcast_arrays(uppermost, np.where(three, second, facet_angle), facet_angle))


def flat(**given: Any) -> NDArray[np.bool_]:
    """Whether some tier leans further from the axis than `FLATTEST`; takes what `angles` takes."""
    steepest = np.abs(angles(**given)).max(axis=0)
    return np.asarray(steepest > FLATTEST * (1 + ROUNDING))


def jacket(inner: Wall, thickness: Any) -> Wall:
    """Facets and plate moved out by a thickness, neighbours carried on until they meet, the rim level with the mouth.

    A short tier between thick ones can vanish behind its neighbours, a low one that closes in behind the rim.
    """
    tangent = np.tan(inner.angle)
    out = 2 * thickness / np.cos(inner.angle)
    upper, lower = inner.angle[:-1], inner.angle[1:]
    # Where two offset planes meet; this form holds for equal angles too.
    drop = thickness * np.sin((upper + lower) / 2) / np.cos((upper - lower) / 2)
    edge = np.where(inner.level[1:-1] > 0, inner.level[1:-1] - drop, -thickness)
    on_plate = inner.across[:-1] - 2 * inner.level[:-1] * tangent + out  # each outer plane, carried to z = 0
    hidden = edge[0] < edge[1]
    edge[:, hidden] = ((on_plate[2] - on_plate[0])[hidden] / (2 * (tangent[0] - tangent[2])[hidden]))[None]
    depth = inner.level[0]
    edge = np.minimum(edge, depth)
    at_rim = on_plate + 2 * depth * tangent
    mouth = np.select([edge[1] >= depth, edge[0] >= depth], [at_rim[2], at_rim[1]], inner.across[0] + out[0])
    return _stacked(mouth, inner.angle, np.stack([depth, *edge, -thickness * np.ones_like(depth)]))


def _stacked(mouth: Any, angle: Floats, level: Floats) -> Wall:
    """A wall from its mouth, the angles of its tiers and the heights of its edges."""
    narrowing = 2 * (level[:-1] - level[1:]) * np.tan(angle)
    below = mouth - np.cumsum(narrowing, axis=0)
    return Wall(angle, np.concatenate([np.broadcast_to(mouth, below.shape[1:])[None], below]), level)
