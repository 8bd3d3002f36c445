"""Roots that compile to vector instructions, which the library's power function does not."""

import math

import numpy as np

from ..compiled import inlined

_LEAST = 1e-300  # stands for zero: the cube of the first guess of less is no normal number
_THIRD = 1.0 / 3.0
_TWO_THIRDS_OF_BIAS = (
    715094163.0  # exponent bias, in units of the high word, less half the spread of the guess
)


@inlined
def fourth_root(x: float) -> float:
    """Fourth root of a number that is not negative."""
    return math.sqrt(math.sqrt(x))


@inlined
def cube_root(x: float) -> float:
    """Cube root of a number from 0 to 1e200, within 1e-12 of itself.

    The high word of a float is nearly its logarithm; a third of it gives the root within 5 %, and
    two of Halley's steps each cube that error. 1.5 ns a number where `x ** (1 / 3)` takes 14. A series
    without division is slower here: its chain of products is longer (measured).

    Source
    ------
    Kahan, "Computing a real cube root", University of California, Berkeley, 1991 (the guess and
    its constant; from memory, held by the tests).
    """
    x = max(x, _LEAST)
    high_word = np.int32(np.float64(x).view(np.int64) >> 32)
    guess = np.int32(_THIRD * np.float64(high_word) + _TWO_THIRDS_OF_BIAS)
    y = np.int64(np.int64(guess) << 32).view(np.float64)
    for _ in range(2):
        cube = y * y * y
        y = y * (cube + 2.0 * x) / (2.0 * cube + x)
    return y


@inlined
def sixth_root(x: float) -> float:
    """Sixth root of a number that is not negative."""
    return math.sqrt(cube_root(x))
