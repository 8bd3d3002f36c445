"""The turning base: a disc with its pivot, degrees to read the azimuth by, and the track of a drive's wheel.

Seen from above with the mouth upwards on the drawing. Degrees run anticlockwise from the line towards the mouth, so
that a pointer fixed on the ground at true north shows the azimuth of the axis: as the disc turns clockwise by an
angle, the mark that many degrees behind the mouth comes under the pointer.
"""

import math
from collections.abc import Iterator

import numpy as np

from ..design import Design
from ..ways import Drive
from .blank import Blank, Floats, Mark, circle
from .workshop import Workshop

CLOSEST = 0.002  # m; marks nearer to each other cannot be told apart
STEPS = (1, 2, 5, 10)  # deg, between marks
LETTERS = 0.010  # m that a number takes inside its mark
TICKS = {1: 0.006, 5: 0.009, 10: 0.013}  # m, by the degrees that a mark is a multiple of
TRACK = "track of the wheel: the edge, all round"
SIDE_OF_CROSS = 0.020  # m, beyond the pivot


def base_of(design: Design, shop: Workshop) -> Blank:
    """The turning base of a design. It is board, so no part of the mass and cost that merits add up."""
    radius, aiming = design.oven.stand.base_radius, design.aiming
    hole = shop.pivot_hole / 2
    marks = [*_degrees(radius), *_cross(hole, radius)]
    note = "read the azimuth at a pointer fixed at true north; wind tips ovens: weigh it down"
    if isinstance(aiming, Drive):
        note = "its edge is the track of the wheel: true to the pivot; " + note
        marks += [Mark(_arc(radius, 245.0, 295.0)), Mark(0.86 * radius * _towards(180)[None], TRACK)]
    return Blank(
        name="turning base",
        part="base_board",
        material=shop.base_board,
        thickness=shop.base_thickness,
        count=1,
        outline=circle(radius),
        inner=circle(radius),
        holes=(circle(hole, 72),),
        marks=tuple(marks),
        across=2 * radius,
        note=note,
    )


def degree_step(radius: float) -> int:
    """Degrees between marks: as few as can still be told apart at the edge."""
    return next((step for step in STEPS if radius * math.radians(step) >= CLOSEST), STEPS[-1])


def _degrees(radius: float) -> Iterator[Mark]:
    """A mark every so many degrees, every tenth with its number."""
    for degrees in range(0, 360, degree_step(radius)):
        length = max(reach for multiple, reach in TICKS.items() if degrees % multiple == 0)
        inwards = -_towards(degrees)
        end = radius * _towards(degrees)
        text = f"{degrees}" if degrees % 10 == 0 else ""
        begin = end + (length + LETTERS * bool(text)) * inwards
        yield Mark(np.array([end + length * inwards, end]), "")
        if text:
            yield Mark(begin[None], text)


def _cross(hole: float, radius: float) -> Iterator[Mark]:
    """Lines through the pivot, and the one towards the mouth."""
    reach = hole + SIDE_OF_CROSS
    yield Mark(np.array([[-reach, 0.0], [reach, 0.0]]))
    yield Mark(np.array([[0.0, -reach], [0.0, reach]]))
    middle = 0.6 * radius
    yield Mark(np.array([[0.0, middle], [0.0, 0.4 * radius]]), "towards the mouth")


def _towards(degrees: float) -> Floats:
    """Unit vector so many degrees anticlockwise of the mouth."""
    angle = math.radians(degrees)
    return np.array([-math.sin(angle), math.cos(angle)])


def _arc(radius: float, begin: float, end: float) -> Floats:
    """Along the edge, angles from the x axis. [deg]"""
    turn = np.radians(np.linspace(begin, end, 51))
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])
