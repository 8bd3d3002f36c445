"""How far the hung pot stays from the walls at each tilt.

The support function of a convex body is its farthest reach along a direction; for a
cylinder it is closed form. Two convex bodies are as far apart as the best plane between
them has room on both sides.

Across a facet everything happens in the plane of the facet's horizontal direction and the
optical axis, if the facet is taken to run on sideways as a strip. That costs nothing: the
cross section of a cell is convex, so beyond its corners, within its heights, the strip lies
outside the cavity, and whoever reaches it from inside has passed a true wall on the way.
"""

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..compiled import kernel
from .facets import Array, Ints, Optics, Ovens, facing, ledge_flags
from .intake import Runs, directions, one_run
from .ovens import checked, side_by_side

_FAN: Final = 36  # steps of trial directions of separating planes, from straight down to straight up
_STEP: Final = math.pi / _FAN  # rad
_ZOOMS: Final = 8  # each narrows the search fourfold: from 5 degrees to a ten-thousandth of one
_NEAR: Final = 4  # trials to either side in each of them

Line = tuple[float, float, float, float]  # two ends, each (out, up) [m]


class _Outlines(NamedTuple):
    """What stands round the pots of many ovens: strips behind facets, given by their cross sections, and pots."""

    facets: Ints  # [oven, strip] alike all round; 0 where there is none
    line: Array  # [oven, strip, 4] m, see `Line`
    lean: Array  # [oven, strip] rad, of the outward normal over the horizontal
    convex: NDArray[np.bool_]  # [oven]
    mouth: Array  # [oven] m, height over the back plate
    cover: Array  # [oven] m, of a cover between cells; of the back plate where there is none
    radius: Array  # [oven] m
    half_height: Array  # [oven] m
    centre: Array  # [oven] m


class _Pot(NamedTuple):
    """A pot, and its axis in the plane across a facet."""

    radius: float
    half_height: float
    centre: float
    out: float
    up: float


@kernel
def _reach(along: float, radius: float, half_height: float) -> float:
    """Support function of a cylinder about its centre, from the cosine between direction and axis. [m]

    Source
    ------
    Closed form: half the height along the axis plus the disc's reach across it.
    """
    cosine = min(max(along, -1.0), 1.0)
    return half_height * abs(cosine) + radius * math.sqrt(1.0 - cosine * cosine)


@kernel
def _room(line: Line, pot: _Pot, angle: float) -> float:
    """Room between a strip and the pot along a direction given by its angle over the horizontal. [m]"""
    c, s = math.cos(angle), math.sin(angle)
    wall = min(line[0] * c + line[1] * s, line[2] * c + line[3] * s)
    return wall - pot.centre * s - _reach(pot.out * c + pot.up * s, pot.radius, pot.half_height)


@kernel
def _widest(line: Line, pot: _Pot, lean: float, enough: float) -> float:
    """Most room of all directions, or of those tried until there is enough. Where there is room it has one peak.

    The strip's own normal is tried first: where the pot faces it flat, the peak is there.
    """
    best, middle, step = _room(line, pot, lean), lean, _STEP
    for k in range(_FAN + 1):
        if best >= enough:
            return best
        angle = -0.5 * math.pi + k * _STEP
        room = _room(line, pot, angle)
        best, middle = (room, angle) if room > best else (best, middle)
    for _ in range(_ZOOMS):
        first = middle
        for k in range(-_NEAR, _NEAR + 1):
            angle = min(max(first + k * step / _NEAR, -0.5 * math.pi), 0.5 * math.pi)
            room = _room(line, pot, angle)
            best, middle = (room, angle) if room > best else (best, middle)
        step *= 0.25
    return best


@kernel
def _from_strip(outlines: _Outlines, oven: int, strip: int, up: Array, faces: Array, enough: float) -> float:
    """Least room between the pot and one strip behind all its facets. [m]"""
    line = outlines.line[oven, strip]
    ends, lean = (line[0], line[1], line[2], line[3]), outlines.lean[oven, strip]
    least, count = math.inf, outlines.facets[oven, strip]
    for j in range(count):
        out = up[0] * faces[0, count, j] + up[1] * faces[1, count, j]
        pot = _Pot(outlines.radius[oven], outlines.half_height[oven], outlines.centre[oven], out, up[2])
        room = _room(ends, pot, lean) if outlines.convex[oven] else _widest(ends, pot, lean, enough)
        least = min(least, room)
    return least


@kernel
def _from_planes(outlines: _Outlines, oven: int, up: float) -> float:
    """Distance to the back plate, the mouth and a cover between cells. [m]"""
    reach = _reach(up, outlines.radius[oven], outlines.half_height[oven])
    low, high = outlines.centre[oven] - reach, outlines.centre[oven] + reach
    level = outlines.cover[oven]
    free: float = min(low, outlines.mouth[oven] - high, max(level - high, low - level))
    return free


@kernel
def _clearance_kernel(
    outlines: _Outlines, runs: Runs, ups: Array, faces: Array, enough: float, gaps: Array
) -> None:
    """Least distance at every row of all runs."""
    place = 0
    for run in range(runs.oven.shape[0]):
        oven = runs.oven[run]
        for row in range(runs.first[run], runs.last[run]):
            gap = _from_planes(outlines, oven, ups[row, 2])
            for strip in range(outlines.facets.shape[1]):
                gap = min(gap, _from_strip(outlines, oven, strip, ups[row], faces, enough))
            gaps[place] = gap
            place += 1


def clearance(optics: Optics, *, pot_up: ArrayLike) -> Array:
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
    return clearance_in_runs(checked(side_by_side([optics])), one_run(len(ups)), ups)


def clearance_in_runs(ovens: Ovens, runs: Runs, ups: Array, *, enough: float = math.inf) -> Array:
    """What `clearance` gives for every run, one behind the other, float64[row of a run]. [m]

    Parameters
    ----------
    ups : float64[row, xyz]
        As `directions` gives them.
    enough : float   [m]
        What is at least as much need not be known better: the search for the best plane ends there.
    """
    gaps = np.empty(int(runs.rows.sum()))
    _clearance_kernel(_outlines(ovens), runs, ups, facing(), enough, gaps)
    return gaps


def _outlines(ovens: Ovens) -> _Outlines:
    """Strips behind the facets of each cell, and behind its two edges where there is a ledge.

    A ledge runs outwards from its edge. Separating planes that face outwards meet it at the
    edge first, so the edge stands for it.
    """
    ledge, there = ledge_flags(ovens), np.arange(ovens.facet_count.shape[1]) < ovens.cells[:, None]
    top = np.stack([0.5 * ovens.top_across, ovens.top_height], axis=2)
    base = np.stack([0.5 * ovens.bottom_across, ovens.bottom_height], axis=2)
    ends = [np.concatenate(pair, axis=2) for pair in ((top, base), (top, top), (base, base))]
    edge = (ledge[:, 1:, 0] | ledge[:, :-1, 1]) == 1  # at the interface of two cells, on either side
    none = np.zeros((len(there), 1), bool)
    facets = np.stack([there, np.hstack([none, edge]), np.hstack([edge, none])], axis=2)
    line = np.stack(ends, axis=2).reshape(len(there), 3 * there.shape[1], 4)
    run_out, run_up = line[..., 0] - line[..., 2], line[..., 1] - line[..., 3]
    between = np.take_along_axis(ovens.top_height, np.maximum(ovens.cover_interface, 0)[:, None], axis=1)
    return _Outlines(
        facets=(facets * ovens.facet_count[..., None]).reshape(line.shape[:2]),
        line=line,
        lean=np.arctan2(-run_out, np.abs(run_up)),
        convex=_convex(ovens),
        mouth=np.ascontiguousarray(ovens.top_height[:, 0]),
        cover=np.where(ovens.cover_interface > 0, between[:, 0], 0.0),
        radius=ovens.pot_radius,
        half_height=0.5 * ovens.pot_height,
        centre=ovens.pot_centre,
    )


def _convex(ovens: Ovens) -> NDArray[np.bool_]:
    """Whether each whole stack is convex: one kind of polygon, flush, no cell leaning out more than the next."""
    lean = (ovens.top_across - ovens.bottom_across) / (ovens.top_height - ovens.bottom_height)
    flush = ovens.top_across[:, 1:] == ovens.bottom_across[:, :-1]
    alike = ovens.facet_count[:, 1:] == ovens.facet_count[:, :-1]
    closing = lean[:, 1:] - lean[:, :-1] >= -1e-12
    last = np.arange(1, lean.shape[1]) >= ovens.cells[:, None]
    return np.asarray((last | (flush & alike & closing)).all(axis=1))
