"""The lines of an oven cut along its axis, and the edges that one sees who looks into it: what a drawing shows.

Lengths in m, oven frame: z along the axis from the back plate, or the floor of the box, y up the slope of the mouth.
The cut is the plane of y and z, in which the oven tilts and which goes through the middle of facet 0; on the lower
side a funnel of an odd number of facets shows a corner.
"""

import math

import numpy as np
from numpy.typing import NDArray

from .oven import ARCHETYPES, Box, Funnel, Oven
from .tiers import Wall, jacket

Floats = NDArray[np.float64]
Line = list[tuple[float, float]]  # corners (y, z)

OUTLINES = ("mirror", "back plate", "insulation", "cover")
"""Parts that are cut."""


def outlines_of(oven: Oven) -> dict[str, list[Line]]:
    """Lines of the cut by part, each a row of corners (y, z); that of the insulation is closed. [m]"""
    return _boxed(oven) if oven.box.archetype == ARCHETYPES[1] else _covered(oven)


def _covered(oven: Oven) -> dict[str, list[Line]]:
    """A funnel under its cover: the jacket lies its thickness off facets and plate."""
    funnel = oven.funnel
    wall, outer = funnel.wall, jacket(funnel.wall, oven.jacket.insulation_thickness)
    right, left = _sides(wall, funnel)
    return {
        "mirror": [right, left],
        "back plate": [[left[-1], right[-1]]],
        "insulation": [_ring([*left, *right[::-1]], *_sides(outer, funnel))],
        "cover": [[left[0], right[0]]],
    }


def _boxed(oven: Oven) -> dict[str, list[Line]]:
    """An open funnel over a box: insulation on all sides of the box, and on its top round the funnel."""
    funnel, box, thickness = oven.funnel, oven.box, oven.jacket.insulation_thickness
    right, left = ([(y, z + box.box_depth) for y, z in side] for side in _sides(funnel.wall, funnel))
    half, tall, flare = box.box_across / 2, box.box_depth, math.tan(float(funnel.wall.angle[-1]))
    out = half + thickness
    skin = [
        (min(right[-1][0] + thickness * flare, out), tall + thickness),
        (out, tall + thickness),
        (out, -thickness),
    ]
    mirrored = [(-y, z) for y, z in skin]
    mirrored[0] = max(left[-1][0] - thickness * flare, -out), tall + thickness
    inside = [left[-1], *_lining(box), right[-1]]
    return {
        "mirror": [right, left],
        "back plate": [_lining(box)[1:3]],
        "insulation": [_ring(inside, skin, mirrored)],
        "cover": [[left[-1], right[-1]]],
    }


def _lining(box: Box) -> Line:
    """Inner faces of the box, from the upper left corner round its floor to the upper right."""
    half = box.box_across / 2
    return [(-half, box.box_depth), (-half, 0.0), (half, 0.0), (half, box.box_depth)]


def _sides(wall: Wall, funnel: Funnel) -> tuple[Line, Line]:
    """The wall's line from the mouth down, on the side of facet 0 and on the other."""
    corner = 1.0 if funnel.facets % 2 == 0 else 1.0 / math.cos(math.pi / funnel.facets)
    edges = list(zip(wall.across.tolist(), wall.level.tolist(), strict=True))
    right: Line = [(across / 2, level) for across, level in edges]
    left: Line = [(-corner * across / 2, level) for across, level in edges]
    return _once(right), _once(left)


def _once(line: Line) -> Line:
    """A line without the corners of tiers that have no height."""
    return [point for k, point in enumerate(line) if k == 0 or point != line[k - 1]]


def _ring(inside: Line, right: Line, left: Line) -> Line:
    """What lies between an inner line from left to right and the two sides of an outer one, closed."""
    return [*inside, *right, *left[::-1], inside[0]]


def edges_from_the_mouth(oven: Oven) -> list[tuple[str, float, int]]:
    """Part, width across the flats [m] and facets of every edge that one sees who looks in, each part's widest first.

    The parts are the jacket, the mirror and the box.
    """
    facets, thickness = oven.funnel.facets, oven.jacket.insulation_thickness
    edges = [("mirror", float(across), facets) for across in _once_across(oven.funnel.wall)]
    if oven.box.archetype == ARCHETYPES[1]:
        across = oven.box.box_across
        return [("jacket", across + 2 * thickness, 4), *edges, ("box", across, 4)]
    return [("jacket", float(jacket(oven.funnel.wall, thickness).across.max()), facets), *edges]


def _once_across(wall: Wall) -> list[float]:
    """Widths of the edges, without those of tiers that have no height."""
    levels = wall.level.tolist()
    return [across for k, across in enumerate(wall.across.tolist()) if k == 0 or levels[k] != levels[k - 1]]


def filled(lines: dict[str, list[Line]]) -> Floats:
    """Lines of all parts in one array, float64[part, corner, yz]: nan between two lines and after the last."""
    rows = [
        [corner for line in lines[part] for corner in (*line, (math.nan, math.nan))][:-1] for part in OUTLINES
    ]
    filled = np.full((len(rows), max(map(len, rows)), 2), np.nan)
    for row, corners in zip(filled, rows, strict=True):
        row[: len(corners)] = corners
    return filled
