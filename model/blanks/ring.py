"""One tier's facets laid flat: alone, with flanges, or several in a strip; and the boards behind them.

In a facet's plane u runs sideways and v up the slant, v = r sin(angle) + z cos(angle) for a point at height z whose
distance from the axis, square to the facet, is r. The same u and v serve the faces of every layer behind the facet, so
faces drawn over each other stand as they will stand.
"""

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..tiers import Wall, jacket
from .blank import Floats
from .fold import allowance, flange_fold, turn
from .workshop import Workshop

LEAST_SLANT = 1e-6  # m; a tier that its neighbours hide is no piece


class Ring(NamedTuple):
    """One tier of a layer: corners lower left, lower right, upper right, upper left as seen from the axis."""

    tier: int  # from 1, the lowest
    angle: float  # rad, from the axis
    facets: int
    inner: Floats  # [corner, 2] face towards the axis
    outer: Floats  # [corner, 2] face away from it


def rings(funnel: Wall, facets: int, *, begin: float, thickness: float) -> list[Ring]:
    """Every tier of the layer that begins so far behind the mirror and is so thick, from the lowest.

    Parameters
    ----------
    funnel : Wall
        Of one design, columns of length one.
    begin, thickness : float   [m]
    """
    near, far = (jacket(funnel, np.array([depth])) for depth in (begin, begin + thickness))
    found: list[Ring] = []
    for place in range(len(funnel.angle))[::-1]:
        inner, outer = (_facet(wall, place, facets) for wall in (near, far))
        if min(np.ptp(inner[:, 1]), np.ptp(outer[:, 1])) > LEAST_SLANT and float(funnel.rise[place, 0]) > 0:
            angle = float(funnel.angle[place, 0])
            found.append(Ring(len(found) + 1, angle, facets, inner, outer))
    return found


def _facet(wall: Wall, place: int, facets: int) -> Floats:
    angle = float(wall.angle[place, 0])
    corners = []
    for edge, sign in ((place + 1, -1), (place + 1, 1), (place, 1), (place, -1)):
        apothem, level = float(wall.across[edge, 0]) / 2, float(wall.level[edge, 0])
        v = apothem * math.sin(angle) + level * math.cos(angle)
        corners.append((sign * apothem * math.tan(math.pi / facets), v))
    return np.array(corners)


def with_flanges(ring: Ring, thickness: float, shop: Workshop) -> tuple[Floats, list[tuple[Floats, float]]]:
    """A facet of sheet with a flange at either side, to be folded back: outline and folds.

    The sharp outer edge of a fold is the edge of the mirror; flange ends are cut back at 45 degrees, so that those of
    two tiers, or a flange and the rim, do not meet.
    """
    fold = flange_fold(turn(ring.angle, ring.facets))
    measures = {"thickness": thickness, "radius": shop.bend_radius, "neutral": shop.neutral}
    reach = shop.flange + allowance(fold, measured="outside", **measures)
    low_left, low_right, up_right, up_left = ring.inner
    right, left = _flange(low_right, up_right, reach), _flange(up_left, low_left, reach)
    outline = np.array([low_left, low_right, *right, up_right, up_left, *left])
    folds = [(np.array([low_right, up_right]), -fold), (np.array([up_left, low_left]), -fold)]
    return outline, folds


def _flange(begin: Floats, end: Floats, reach: float) -> list[Floats]:
    """The two far corners of a flange on the right of an edge."""
    along = (end - begin) / np.linalg.norm(end - begin)
    out = np.array([along[1], -along[0]])
    return [begin + reach * (out + along), end + reach * (out - along)]


def strip(
    ring: Ring, number: int, thickness: float, shop: Workshop
) -> tuple[Floats, list[tuple[Floats, float]]]:
    """So many facets in one piece, side by side with what each fold takes up between them: outline and folds."""
    fold = turn(ring.angle, ring.facets)
    measures = {"thickness": thickness, "radius": shop.bend_radius, "neutral": shop.neutral}
    gap = allowance(fold, measured="inside", **measures)
    facet = ring.inner - ring.inner[0]
    side = facet[2] - facet[1]
    lean = math.atan2(
        side[0], side[1]
    )  # of the right edge from upright; the left one leans as far the other way
    placed, begin, heading = [], np.zeros(2), 0.0
    for _ in range(number):
        cosine, sine = math.cos(heading), math.sin(heading)
        corners = begin + facet @ np.array([[cosine, sine], [-sine, cosine]])
        placed.append(corners)
        along = (corners[2] - corners[1]) / np.linalg.norm(corners[2] - corners[1])
        begin = corners[1] + gap * np.array([along[1], -along[0]])
        heading -= 2 * lean
    below = [corner for one in placed for corner in one[:2]]
    above = [corner for one in placed[::-1] for corner in one[2:]]
    folds = [
        (np.array([(one[1] + two[0]) / 2, (one[2] + two[3]) / 2]), fold) for one, two in pairwise(placed)
    ]
    return np.array([*below, *above]), folds
