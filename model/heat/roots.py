"""Roots that compile to vector instructions, which the library's power function does not.

One inverse twelfth root gives the third, the fourth and the sixth root of a number by products alone: no
division, no square root, and the compiler sees that several roots of one number share it.
"""

import numpy as np

from ..compiled import inlined

_LEAST = 1e-300  # stands for zero, which has no inverse root
# 13/12 of the exponent bias, in units of the high word, less what makes the worst guess best.
_START = 1072693248.0 * 13.0 / 12.0 - 57500.0
_TWELFTH = 1.0 / 12.0
# Binomial series of (1 - e)^(-1/12).
_SECOND, _THIRD, _FOURTH = 13.0 / 288.0, 325.0 / 10368.0, 12025.0 / 497664.0


@inlined
def _corrected(y: float, x: float, fourth: float) -> float:
    """A better inverse twelfth root of `x`, by the first terms of the series in the rest e = 1 - x y^12."""
    square = y * y
    four = square * square
    e = 1.0 - x * four * (four * four)
    return y + y * (e * (_TWELFTH + e * (_SECOND + e * (_THIRD + e * fourth))))


@inlined
def _inverse_twelfth_root(x: float) -> float:
    """x^(-1/12), within 1e-13 of itself.

    The high word of a float is nearly its logarithm; minus a twelfth of it guesses the root within
    3 %, a series of three terms leaves 3e-4, one of four nothing but rounding.

    Source
    ------
    The guess: Kahan, "Computing a real cube root", University of California, Berkeley, 1991 (from memory,
    held by the tests). The series: binomial theorem.
    """
    high_word = np.int32(np.float64(x).view(np.int64) >> 32)
    guess = np.int32(_START - _TWELFTH * np.float64(high_word))
    y = np.int64(np.int64(guess) << 32).view(np.float64)
    return _corrected(_corrected(y, x, 0.0), x, _FOURTH)


@inlined
def cube_root(x: float) -> float:
    """Cube root of a number from 0 to 1e200, within 1e-12 of itself."""
    x = max(x, _LEAST)
    y = _inverse_twelfth_root(x)
    four = (y * y) * (y * y)
    return x * (four * four)


@inlined
def fourth_root(x: float) -> float:
    """Fourth root of such a number."""
    return cube_root(x) * _inverse_twelfth_root(max(x, _LEAST))


@inlined
def sixth_root(x: float) -> float:
    """Sixth root of such a number."""
    y = _inverse_twelfth_root(max(x, _LEAST))
    return cube_root(x) * (y * y)
