"""Numbers that look random and are not: lattice points, hashed bits, two tables.

A ray's number decides everything about it. Its start and first scatter come from
an extensible rank-1 lattice: any run of 2^m consecutive numbers is itself a lattice,
so every minute is well covered and so is the day they add up to. Later choices come
from a hash of (seed, ray, bounce), so results do not depend on blocks or threads.
"""

import math
from functools import cache
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..compiled import kernel

TABLE_BITS: Final = 12
TABLE_SIZE: Final = 1 << TABLE_BITS

_LOW_TABLE: Final = np.uint64(TABLE_SIZE - 1)
_LOW_20: Final = np.uint64((1 << 20) - 1)
_LOW_32: Final = np.uint64((1 << 32) - 1)
_SHIFT_TABLE: Final = np.uint64(32 - TABLE_BITS)
_GOLDEN: Final = np.uint64(0x9E3779B97F4A7C15)
_MIX_1: Final = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2: Final = np.uint64(0x94D049BB133111EB)
_BOUNCES: Final = np.uint64(1 << 10)  # counters kept apart for each ray; above trace.BOUNCE_CAP

# Cools, Kuo and Nuyens, "Constructing embedded lattice rules for multivariate integration",
# SIAM J. Sci. Comput. 28(6), 2006, 2162-2188: base 2, up to 2^20 points, order-2 weights.
_LATTICE: Final = (1, 182667, 469891, 498753, 110745, 446247)
LATTICE_DIMENSIONS: Final = len(_LATTICE)


@kernel
def scramble(counter):
    """64 well-mixed bits from a uint64.

    Source
    ------
    Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014,
    figure 16, with the multipliers of Stafford's "variant 13".
    """
    bits = counter * _GOLDEN
    bits = (bits ^ (bits >> np.uint64(30))) * _MIX_1
    bits = (bits ^ (bits >> np.uint64(27))) * _MIX_2
    return bits ^ (bits >> np.uint64(31))


@kernel
def key_of(seed):
    """The 64 bits that stand for a seed."""
    return scramble(np.uint64(seed))


@kernel
def bits_of_bounce(key, ray, bounce):
    """64 bits that belong to one bounce of one ray. `key` is `key_of(seed)`."""
    return scramble(key + np.uint64(ray) * _BOUNCES + np.uint64(bounce))


@kernel
def table_index(bits, part):
    """Bits 0-11 (part 0) or 12-23 (part 1) as an index into a table."""
    return np.int64((bits >> np.uint64(TABLE_BITS * part)) & _LOW_TABLE)


@kernel
def uniform(bits, part):
    """Bits 24-43 (part 0) or 44-63 (part 1) as a number in (0, 1)."""
    low = (bits >> np.uint64(24 + 20 * part)) & _LOW_20
    return (np.float64(np.int64(low)) + 0.5) * 2.0**-20


@kernel
def reversed_bits(number):
    """The low 32 bits of a uint64 in reverse order: van der Corput's sequence times 2^32."""
    b = number
    b = ((b >> np.uint64(1)) & np.uint64(0x55555555)) | ((b & np.uint64(0x55555555)) << np.uint64(1))
    b = ((b >> np.uint64(2)) & np.uint64(0x33333333)) | ((b & np.uint64(0x33333333)) << np.uint64(2))
    b = ((b >> np.uint64(4)) & np.uint64(0x0F0F0F0F)) | ((b & np.uint64(0x0F0F0F0F)) << np.uint64(4))
    b = ((b >> np.uint64(8)) & np.uint64(0x00FF00FF)) | ((b & np.uint64(0x00FF00FF)) << np.uint64(8))
    return ((b >> np.uint64(16)) | (b << np.uint64(16))) & _LOW_32


@kernel
def lattice_word(key, number, dimension):
    """Coordinate of lattice point `number`, shifted by the seed, as 32 bits in a uint64."""
    shift = scramble(key ^ np.uint64(dimension + 1))
    return (reversed_bits(np.uint64(number)) * np.uint64(_LATTICE[dimension]) + shift) & _LOW_32


@kernel
def fraction(word):
    """A 32-bit word as a number in (0, 1)."""
    return (np.float64(np.int64(word)) + 0.5) * 2.0**-32


@kernel
def word_index(word):
    """A 32-bit word as an index into a table."""
    return np.int64(word >> _SHIFT_TABLE)


@cache
def circle() -> NDArray[np.float64]:
    """Cosine and sine of evenly spaced angles, float64[2, TABLE_SIZE].

    A twelfth-bit azimuth integrates every harmonic below the 4096th exactly.
    """
    angle = (np.arange(TABLE_SIZE) + 0.5) * (2.0 * math.pi / TABLE_SIZE)
    return np.stack([np.cos(angle), np.sin(angle)])


@cache
def gaussian() -> NDArray[np.float64]:
    """Quantiles of the normal law at evenly spaced probabilities, float64[TABLE_SIZE].

    Scaled to unit variance; the farthest is 3.7 standard deviations out.
    """
    inverse = NormalDist().inv_cdf
    quantile = np.array([inverse((k + 0.5) / TABLE_SIZE) for k in range(TABLE_SIZE)])
    return quantile / quantile.std()
