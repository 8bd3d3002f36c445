"""Rays in flight: one queue for each cell of the stack, columns side by side.

Columns let the compiler work on four rays at once. Functions that take the whole
tuple loop inside: handing it over costs more than one ray's arithmetic.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import kernel
from .facets import Array, Ints

Words = NDArray[np.uint64]

BLOCK: Final = 1024  # rays in flight; their state, 215 kB a cell, stays in the second-level cache
_STRIDE: Final = BLOCK + 24  # else all columns of a slot fall into one set of the first-level cache


class Rays(NamedTuple):
    """Rays in flight, [cell, slot] each, with the count waiting in each cell."""

    waiting: Ints  # [cell]
    x: Array  # m, in the oven frame
    y: Array
    z: Array
    dx: Array  # unit vector of travel
    dy: Array
    dz: Array
    ux: Array  # the pot's axis, upwards, for this ray
    uy: Array
    uz: Array
    weight: Array  # share of its first power that the ray still carries
    number: Ints  # its place in the lattice
    row: Ints  # the sample (time or tilt) it belongs to
    flights: Ints  # flights ended so far
    gap: Array  # room to the nearest thing ahead, then distance to what is struck [m]
    speed: Array  # approach to it
    struck: Ints  # what is struck, see `scene`
    nx: Array  # unit normal there, into the cell
    ny: Array
    nz: Array
    kept: Array  # share that goes on
    left: Array  # power left behind
    bits: Words  # what this bounce draws from
    fate: Ints  # how the ray goes on
    across: Array  # in that normal's frame: the leaning mirror's normal, or a diffuse direction
    along: Array
    upward: Array
    at_end: Ints  # [number] slots of the rays at an end of a cell
    outside: Array  # [number] of what those leave behind, the part that a cover lets out


@kernel
def no_rays(cells: int) -> Rays:
    """Room for a block of rays in each cell."""
    f = np.empty((19, cells, _STRIDE))
    i = np.zeros((5, cells, _STRIDE), np.int64)
    bits = np.zeros((cells, _STRIDE), np.uint64)
    none, at_end, outside = np.zeros(cells, np.int64), np.zeros(_STRIDE, np.int64), np.empty(_STRIDE)
    state = f[0], f[1], f[2], f[3], f[4], f[5], f[6], f[7], f[8], f[9], i[0], i[1], i[2]
    end = f[10], f[11], i[3], f[12], f[13], f[14], f[15], f[16], bits, i[4], f[17], f[18]
    return Rays(none, *state, *end, np.empty((cells, _STRIDE)), at_end, outside)
