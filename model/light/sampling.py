"""Numbers that look random and are not: scrambled Sobol points, hashed bits, two tables.

A ray's number decides everything about it. Its start and its first mirror come from a
point of a scrambled digital sequence: any run of 2^m consecutive points that begins at a
multiple of 2^m is evenly spread, so every minute is well covered and so is the day the
minutes add up to. Later choices come from a hash of (seed, ray, bounce). Neither
depends on blocks, threads or the design: all designs meet the same rays.
"""

import math
from functools import cache, lru_cache
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import kernel

Word = np.uint64
Points = NDArray[np.uint32]
Floats = NDArray[np.float64]

TABLE_BITS: Final = 12
TABLE_SIZE: Final = 1 << TABLE_BITS
PERIOD_BITS: Final = 20  # a million points, 60 MB; rays beyond them start over, with hashes of their own

_GOLDEN: Final = np.uint64(0x9E3779B97F4A7C15)
_MIX_1: Final = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2: Final = np.uint64(0x94D049BB133111EB)
_BOUNCES: Final = np.uint64(1 << 10)  # counters kept apart for each ray; above trace.BOUNCE_CAP

# Joe and Kuo, "Constructing Sobol sequences with better two-dimensional projections", SIAM J.
# Sci. Comput. 30(5), 2008, 2635-2654: coefficients of the primitive polynomial and first
# direction numbers of dimensions 2 to 6 of their table new-joe-kuo-6; dimension 1 has none.
_SOBOL: Final = (
    (0, (1,)),
    (1, (1, 3)),
    (1, (1, 3, 1)),
    (2, (1, 1, 1)),
    (1, (1, 1, 3, 3)),
)


def _direction_numbers(coefficients: int, first: tuple[int, ...]) -> list[int]:
    """The 32 direction numbers of one dimension, as 32-bit fractions."""
    degree = len(first)
    v = [m << (31 - k) for k, m in enumerate(first)]
    for k in range(degree, 32):
        new = v[k - degree] ^ (v[k - degree] >> degree)
        for j in range(1, degree):
            if coefficients >> (degree - 1 - j) & 1:
                new ^= v[k - j]
        v.append(new)
    return v


def sobol_points(count: int) -> Points:
    """The first points of the Sobol sequence in natural order, uint32[dimension, point]."""
    numbers = np.arange(count, dtype=np.uint32)
    directions = [[1 << (31 - k) for k in range(32)], *(_direction_numbers(*row) for row in _SOBOL)]
    points = np.zeros((len(directions), count), dtype=np.uint32)
    for k in range(int(count - 1).bit_length()):
        bit = (numbers >> np.uint32(k)) & np.uint32(1)
        for dimension, v in enumerate(directions):
            points[dimension] ^= bit * np.uint32(v[k])
    return points


def _reversed_bits(words: Points) -> Points:
    """Every 32-bit word with its bits in reverse order."""
    for shift, mask in ((1, 0x55555555), (2, 0x33333333), (4, 0x0F0F0F0F), (8, 0x00FF00FF)):
        s, m = np.uint32(shift), np.uint32(mask)
        words = ((words >> s) & m) | ((words & m) << s)
    return (words >> np.uint32(16)) | (words << np.uint32(16))


def _scrambled(words: Points, seed: np.uint32) -> Points:
    """Nested uniform scramble of the words of one dimension.

    Source
    ------
    Burley, "Practical hash-based Owen scrambling", J. Computer Graphics Techniques 9(4), 2020,
    section 3: a hash in which each bit depends only on the bits above it.
    """
    x = _reversed_bits(words) + seed
    for factor in (0x6C50B47C, 0xB82F1E52, 0xC7AFE638, 0x8D22F6E6):
        x = x ^ (x * np.uint32(factor))
    return _reversed_bits(x)


@lru_cache(maxsize=4)
def _points(bits: int, seed: int) -> Points:
    shifts = np.random.SeedSequence(seed).generate_state(1 + len(_SOBOL), np.uint32)
    points = sobol_points(1 << bits)
    scrambled = np.stack([_scrambled(words, shift) for words, shift in zip(points, shifts, strict=True)])
    scrambled.flags.writeable = False
    return scrambled


def _bits(count: int) -> int:
    return min(max(int(count - 1).bit_length(), 10), PERIOD_BITS)


def points(count: int, seed: int) -> Points:
    """Scrambled points, uint32[dimension, point], `count` or all; read-only and kept for the next design."""
    return _points(_bits(count), seed)


@lru_cache(maxsize=4)
def _spread(bits: int, seed: int) -> tuple[Floats, Floats, Floats]:
    """What every start needs of the first four coordinates, see `Sample`; read-only and kept like the points."""
    words = _points(bits, seed)
    first, second, third = (words[:3] + 0.5) * 2.0**-32
    turn = words[3] >> np.uint32(32 - TABLE_BITS)
    spread = first, np.sqrt(second), np.sqrt(third) * circle()[:, turn]
    for column in spread:
        column.flags.writeable = False
    return spread


class Sample(NamedTuple):
    """The rays of one call: their points, what their hash starts from, how many for each row."""

    points: Points
    key: Word
    each: int
    turn: Floats  # [point] the first coordinate: how far round
    root: Floats  # [point] square root of the second: how far out of the middle of an area
    disc: Floats  # [xy, point] of the next two: evenly over the unit disc


def sample(rows: int, *, rays: int, seed: int) -> Sample:
    """`rays` rays for each of so many rows, from a seed.

    Raises
    ------
    ValueError
        If there is no ray, or the seed is not a positive number.
    """
    if rays < 1:
        raise ValueError(f"rays = {rays}, allowed 1 or more")
    if not 0 < seed < 2**63:
        raise ValueError(f"seed = {seed}, allowed 1 to 2^63 - 1")
    # A kernel hands its word back as a plain int, which the next kernel would take for a signed one below 2^63.
    key = np.uint64(scramble(np.uint64(seed)))
    return Sample(points(rows * rays, seed), key, int(rays), *_spread(_bits(rows * rays), seed))


@kernel
def scramble(counter: Word) -> Word:
    """64 well-mixed bits.

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
def point_of(sample: Sample, number: int) -> np.uint32:
    """Place of a ray's point in the sequence."""
    return np.uint32(number & (sample.points.shape[1] - 1))


@kernel
def bits_of_bounce(key: Word, number: int, bounce: int) -> Word:
    """64 bits that belong to one bounce of one ray; `key` is the scrambled seed."""
    return scramble(key + np.uint64(number) * _BOUNCES + np.uint64(bounce))


@kernel
def table_index(bits: Word, part: int) -> int:
    """Bits 0-11 (part 0) or 12-23 (part 1) as an index into a table."""
    return int((bits >> np.uint64(TABLE_BITS * part)) & np.uint64(TABLE_SIZE - 1))


@kernel
def uniform(bits: Word, part: int) -> float:
    """Bits 24-43 (part 0) or 44-63 (part 1) as a number in (0, 1)."""
    low = (bits >> np.uint64(24 + 20 * part)) & np.uint64((1 << 20) - 1)
    return (np.float64(low) + 0.5) * 2.0**-20


@kernel
def fraction(word: np.uint32) -> float:
    """A coordinate as a number in (0, 1)."""
    return (np.float64(word) + 0.5) * 2.0**-32


@kernel
def word_index(word: np.uint32) -> int:
    """A coordinate as an index into a table."""
    return int(word) >> (32 - TABLE_BITS)


@cache
def circle() -> NDArray[np.float64]:
    """Cosine and sine of evenly spaced angles, float64[2, TABLE_SIZE].

    An azimuth in 4096 steps integrates every harmonic below the 4096th exactly.
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
    return np.asarray(quantile / quantile.std())
