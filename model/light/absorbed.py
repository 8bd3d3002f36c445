"""Sun, sky and ground added up: watts into pot, mirror sheet and cover at every instant of every day."""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import kernel
from .facets import Array, Ints, Surface

LID, SIDE, BOTTOM = int(Surface.LID), int(Surface.SIDE), int(Surface.BOTTOM)
WALLS, PLATE, COVER = int(Surface.WALLS), int(Surface.PLATE), int(Surface.COVER)
ABSORBERS = ("pot", "sheet", "cover")
"""What takes light in, in the order of the last axis of all watts."""


class Sources(NamedTuple):
    """What shines on every day, float64[day, instant] each. [W/m2]"""

    beam: Array  # facing the sun
    sky: Array  # on a horizontal plane
    ground: Array  # what a horizontal plane sends up


class Courses(NamedTuple):
    """Ways of aiming over the courses of the sun that they meet."""

    row_of_day: Ints  # [day]
    elevation: Array  # [way, row, instant] rad, of the axis
    up: Array  # [way, row, instant] sine of it
    facing: Array  # [way, row, instant] cosine between axis and sun, 0 behind the mouth


class Domes(NamedTuple):
    """Shares of even sky and ground, traced at a few elevations of the axis, of which the first `used` are meant."""

    used: Ints  # [dome]
    nodes: Array  # [dome, node] rad
    sky: Array  # [dome, node, surface]
    ground: Array  # [dome, node, surface]


class Lights(NamedTuple):
    """What meets in each of the lights that fall into different ovens."""

    beam: Ints  # [light] among the shares of the beam
    dome: Ints  # [light] among the domes
    way: Ints  # [light] among the ways of aiming
    area: Array  # [light] m2, of the mouth
    beam_share: Array  # [light] of the sky's beam that reaches the mouth
    clear: Array  # [light] what fog on the cover leaves of all light


@kernel
def _taken(shares: Array) -> tuple[float, float, float]:
    """What each absorber takes of the shares of all surfaces."""
    return shares[LID] + shares[SIDE] + shares[BOTTOM], shares[WALLS] + shares[PLATE], shares[COVER]


@kernel
def _taken_of_dome(domes: Domes, dome: int, elevation: float, taken: Array) -> None:
    """What each absorber takes of sky (row 0) and ground (1): the polynomial through the nodes."""
    nodes, used = domes.nodes[dome], domes.used[dome]
    taken[:] = 0.0
    for node in range(used):
        weight = 1.0
        for other in range(used):
            if other != node:
                weight *= (elevation - nodes[other]) / (nodes[node] - nodes[other])
        sky, ground = _taken(domes.sky[dome, node]), _taken(domes.ground[dome, node])
        for k in range(3):
            taken[0, k] += weight * sky[k]
            taken[1, k] += weight * ground[k]


def dome_shares_at(domes: Domes, dome: int, elevation: Array) -> tuple[Array, Array]:
    """What each surface takes of sky and of ground at settings of the axis, float64[instant, surface] each. [-]

    The same polynomials as in the watts, for all surfaces.

    Parameters
    ----------
    elevation : float64[instant]   [rad]
    """
    used = int(domes.used[dome])
    nodes = domes.nodes[dome, :used]
    weight = np.ones((len(elevation), used))
    for node in range(used):
        for other in range(used):
            if other != node:
                weight[:, node] *= (elevation - nodes[other]) / (nodes[node] - nodes[other])
    return weight @ domes.sky[dome, :used], weight @ domes.ground[dome, :used]


@kernel
def _absorbed_kernel(
    lights: Lights, beams: Array, domes: Domes, courses: Courses, sources: Sources, watts: Array
) -> None:
    """Fill `watts` float64[light, day, instant, absorber]."""
    of_dome = np.empty((2, 3))
    for n in range(watts.shape[0]):
        beam, way, clear = beams[lights.beam[n]], lights.way[n], lights.clear[n]
        for day in range(watts.shape[1]):
            row, at = courses.row_of_day[day], math.nan
            for i in range(watts.shape[2]):
                elevation, up = courses.elevation[way, row, i], courses.up[way, row, i]
                if elevation != at:  # the setting is held for long
                    _taken_of_dome(domes, lights.dome[n], elevation, of_dome)
                    at = elevation
                of_beam = _taken(beam[row, i])
                direct = sources.beam[day, i] * lights.beam_share[n] * courses.facing[way, row, i]
                sky = sources.sky[day, i] * 0.5 * (1.0 + up)
                ground = sources.ground[day, i] * 0.5 * (1.0 - up)
                for k in range(3):
                    power = direct * of_beam[k] + sky * of_dome[0, k] + ground * of_dome[1, k]
                    watts[n, day, i, k] = lights.area[n] * clear * power


def absorbed_watts(lights: Lights, beams: Array, domes: Domes, courses: Courses, sources: Sources) -> Array:
    """Watts into each oven under every day, float64[light, day, instant, absorber]; see `ABSORBERS`. [W]

    Parameters
    ----------
    beams : float64[beam, row, instant, surface]
        Shares of the beam at the mouth through a clear cover.
    """
    watts = np.empty((len(lights.beam), *sources.beam.shape, len(ABSORBERS)))
    _absorbed_kernel(lights, beams, domes, courses, sources, watts)
    return watts


@kernel
def _sunniest_kernel(watts: Array, width: int, place: Ints, mean: Array) -> None:
    """Fill `place` int64[light, 2] and `mean` float64[light, absorber]."""
    total = np.zeros((watts.shape[2] + 1, 3))
    for n in range(watts.shape[0]):
        best = -math.inf
        for day in range(watts.shape[1]):
            for i in range(watts.shape[2]):
                for k in range(3):
                    total[i + 1, k] = total[i, k] + watts[n, day, i, k]
            for i in range(watts.shape[2] + 1 - width):
                into_pot = (total[i + width, 0] - total[i, 0]) / width
                if into_pot > best:
                    best, place[n, 0], place[n, 1] = into_pot, day, i
                    for k in range(3):
                        mean[n, k] = (total[i + width, k] - total[i, k]) / width


def sunniest(watts: Array, width: int) -> tuple[Ints, Ints, Array]:
    """The run of so many instants in which each pot takes in most: its day, first instant and mean watts.

    Parameters
    ----------
    watts : float64[light, day, instant, absorber]   [W]
    width : int
        Instants, no more than there are.

    Returns
    -------
    day, start : int64[light]
    mean : float64[light, absorber]   [W]
    """
    place, mean = np.zeros((len(watts), 2), np.int64), np.zeros((len(watts), len(ABSORBERS)))
    _sunniest_kernel(watts, width, place, mean)
    return place[:, 0], place[:, 1], mean
