"""Angles between the faces of a funnel, and the length of sheet that a fold takes up."""

import math
from collections.abc import Iterator
from itertools import pairwise

from ..oven import Funnel


def turn(angle: float, facets: int) -> float:
    """Angle by which the sheet turns from one facet to the next; the inside angle is pi less this. [rad]

    Parameters
    ----------
    angle : float
        Of the facets from the axis. [rad]
    facets : int

    Source
    ------
    Closed form: normals cos(angle) outwards and sin(angle) downwards, turned by 2 pi / facets about the axis.
    """
    return math.acos(math.cos(angle) ** 2 * math.cos(2 * math.pi / facets) + math.sin(angle) ** 2)


def flange_fold(facet_turn: float) -> float:
    """Fold back of flanges that lie back to back behind an edge, in the plane that halves it. [rad]"""
    return (math.pi - facet_turn) / 2


def allowance(fold: float, *, thickness: float, radius: float, neutral: float, measured: str) -> float:
    """Sheet to add between two faces measured to the sharp edge in which they would meet. [m]

    Parameters
    ----------
    fold : float
        Angle by which the sheet turns, 0 to below pi. [rad]
    thickness, radius : float
        Of the sheet, and inside the fold. [m]
    neutral : float
        Depth of the layer that keeps its length, of the thickness.
    measured : "inside" or "outside"
        Of the fold: on which side the faces were measured. Outside it is mostly below zero: sheet to take away.

    Source
    ------
    Arc of the neutral layer, fold (radius + neutral thickness), less what both faces lose to the arc, twice the
    tangent length. Lengths of straight stock in workshop handbooks are this arc for right angles:
    1.57 R + 0.55 T to 0.71 T (from memory), neutral 0.35 to 0.45.
    """
    lost = radius if measured == "inside" else radius + thickness
    return fold * (radius + neutral * thickness) - 2 * lost * math.tan(fold / 2)


def fold_angles(funnel: Funnel) -> Iterator[tuple[str, float]]:
    """Angles between bright faces at each kind of edge, from the lowest; over pi the edge stands inwards. [rad]"""
    wall = funnel.wall
    angles = [float(angle) for angle in wall.angle[wall.rise > 0][::-1]]
    for number, angle in enumerate(angles, start=1):
        name = f"between facets of tier {number}" if len(angles) > 1 else "between facets"
        yield name, math.pi - turn(angle, funnel.facets)
    for number, (lower, upper) in enumerate(pairwise(angles), start=1):
        yield f"between tiers {number} and {number + 1}", math.pi + upper - lower
    yield "between facets and back plate", math.pi / 2 + angles[0]
