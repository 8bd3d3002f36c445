"""Parameters of a fit in scaled coordinates: logarithms of what is above zero, shares of the range of the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Coordinates(NamedTuple):
    """How parameters are scaled: one unit is a factor of e of a logarithmic one, else the whole range.

    Parameters
    ----------
    low, high : float64[parameter]
        Bounds of the parameters, allowed themselves.
    logs : bool[parameter]
    """

    low: Floats
    high: Floats
    logs: NDArray[np.bool_]

    @classmethod
    def over(
        cls, bounds: tuple[ArrayLike, ArrayLike], logs: Sequence[bool] | NDArray[np.bool_] | None
    ) -> Coordinates:
        """Coordinates over bounds; logarithms where the lower one is above zero, unless said.

        Raises
        ------
        ValueError
            Bounds that do not rise, or a logarithm of what may be zero.
        """
        low, high = (np.atleast_1d(np.asarray(end, np.float64)) for end in bounds)
        picked = low > 0 if logs is None else np.asarray(logs, np.bool_)
        if not (low < high).all():
            raise ValueError("every lower bound must be below its upper one")
        if (picked & (low <= 0)).any():
            raise ValueError("what is fitted in its logarithm must have bounds above zero")
        return cls(low, high, picked)

    @property
    def size(self) -> int:
        """Number of parameters."""
        return len(self.low)

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Bounds in coordinates."""
        return self.of(self.low), self.of(self.high)

    def of(self, values: Floats) -> Floats:
        """Coordinates of parameters, float64[..., parameter]."""
        plain = values / (self.high - self.low)
        return np.where(self.logs, np.log(np.where(self.logs, values, 1.0)), plain)

    def values(self, x: Floats) -> Floats:
        """Parameters at coordinates, float64[..., parameter]."""
        plain = x * (self.high - self.low)
        return np.where(self.logs, np.exp(np.where(self.logs, x, 0.0)), plain)

    def deviation(self, stated: Floats, middle: Floats) -> Floats:
        """A standard deviation in coordinates, to first order, float64[parameter]."""
        return np.where(self.logs, stated / np.where(self.logs, middle, 1.0), stated / (self.high - self.low))

    def stated(self, deviation: Floats, middle: Floats) -> Floats:
        """The other way: a standard deviation of the parameters, to first order, float64[parameter]."""
        return np.where(self.logs, deviation * middle, deviation * (self.high - self.low))
