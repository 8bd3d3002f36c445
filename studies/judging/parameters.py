"""One factor of a study: what it may be, how it is drawn, and what is refused.

Mapping from the unit interval
------------------------------
Whatever samples sees a factor as u in [0, 1]. A real factor is `low + u (high - low)`, or the same in the
logarithm. An integer, a stepped real and a choice take one of their n values, each owning a bin of width 1/n:
value number `floor(n u)`, with u = 1 in the last bin. So every value of a discrete factor has the same share of a
uniform sample, and a Sobol index of it is the index of a factor uniform over its values.

A factor with a `spread` is not uniform: its value is the quantile u of that distribution, and bins are as wide as
the shares of their values. Only samples know of it; `ranged` gives the plain factor for what goes by ends alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..asking.distributions import Distribution, Normal, Shares, Triangle
from ..asking.quantity import difference_of, show, si_unit
from ..asking.units import DIMENSIONS
from .outcomes import Column

Kind = Literal["real", "integer", "choice"]

# Grid designs land on bin edges such as 3 * (1/3), which may round to just below the edge. A nudge far under
# any bin width and far over the rounding error puts them in the bin that exact arithmetic would choose.
_EDGE = 1e-9

# Of a bell, the middle part that stands for its range where only ends count; and how much of it may be cut off
# by the range before that is worth a word.
_MIDDLE = 0.95
_CUT_SAID = 0.001


class SpaceError(ValueError):
    """A factor or a design that cannot be; the message names it and says what is allowed."""


@dataclass(frozen=True, kw_only=True)
class Parameter:
    """One factor: its name, what it may be, and what it means.

    Parameters
    ----------
    name : str
        A Python identifier; the name of the column.
    kind : "real", "integer" or "choice"
    meaning : str
        One phrase for reports.
    low, high : float, optional   [SI unit of the dimension]
        Both ends allowed; not for a choice.
    choices : tuple of str
        Only for a choice; at least two.
    dimension : str
        A key of `units.DIMENSIONS`; fixes the unit.
    step : float, optional   [same]
        Distance of allowed values; must divide the range. 1 for an integer unless given.
    log : bool
        Uniform in the logarithm; real factors without a step only.
    spread : Normal, Triangle or Shares, optional
        How it is drawn, if not uniformly: a bell or a triangle for a real factor without a step, shares for a
        discrete one.
    drawn : str
        How it is drawn, in words, where its range and spread do not say it all.
    """

    name: str
    kind: Kind
    meaning: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    dimension: str = "count"
    step: float | None = None
    log: bool = False
    spread: Distribution | None = None
    drawn: str = ""

    def __post_init__(self) -> None:
        """Refuse what could not be sampled, naming the factor."""
        fault = self._fault()
        if fault:
            raise SpaceError(f"{self.name}: {fault}")

    def _fault(self) -> str | None:
        if not self.name.isidentifier():
            return "a factor's name is a single word of letters, digits and underscores"
        if self.dimension not in DIMENSIONS:
            return f"unknown dimension {self.dimension!r}"
        fault = self._choice_fault() if self.kind == "choice" else self._range_fault()
        return fault or self._spread_fault()

    def _choice_fault(self) -> str | None:
        if self.low is not None or self.high is not None or self.step is not None or self.log:
            return "a choice has no low, high, step or log"
        if len(self.choices) < 2 or len(set(self.choices)) != len(self.choices) or "" in self.choices:
            return f"a choice needs at least two different words, got {list(self.choices)}"
        return None

    def _range_fault(self) -> str | None:
        if self.choices or self.low is None or self.high is None:
            return f"a factor of kind {self.kind} has low and high, and no choices"
        if not (np.isfinite(self.low) and np.isfinite(self.high) and self.low < self.high):
            return f"low must be below high and both finite, got {self.low} and {self.high}"
        if self.log and (self.kind != "real" or self.step is not None or self.low <= 0.0):
            return "log is for real factors above zero without a step"
        if self.kind == "integer" and any(float(x) != int(x) for x in (self.low, self.high, self.step or 1)):
            return f"an integer has whole low, high and step, got {self.low}, {self.high}, {self.step}"
        if self.step is not None:
            steps = (self.high - self.low) / self.step if self.step > 0.0 else 0.0
            if steps < 1.0 or not np.isclose(steps, round(steps), rtol=1e-9, atol=0.0):
                return f"step {self.step} must divide the range {self.low} to {self.high} evenly"
        return None

    def _spread_fault(self) -> str | None:
        if self.spread is None:
            return None
        values = self.values
        if isinstance(self.spread, Shares):
            return (
                "shares are for words and whole numbers" if values is None else self.spread.fault(values.size)
            )
        if values is not None or self.log:
            return "a normal or a triangle is for real factors without a step or log"
        return self.spread.fault(*self.range)

    @property
    def unit(self) -> str:
        """SI unit text of the column; "1" for counts and choices."""
        return si_unit(self.dimension)

    @cached_property
    def values(self) -> Column | None:
        """Every allowed value of a discrete factor, in order; None for a continuous one."""
        if self.kind == "choice":
            return np.array(self.choices, dtype=np.str_)
        if self.kind == "real" and self.step is None:
            return None
        low, high = self.range
        number = round((high - low) / (self.step or 1.0)) + 1
        if self.kind == "integer":
            return np.linspace(low, high, number).round().astype(np.int64)
        return np.linspace(low, high, number)

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest value of a factor that is not a choice."""
        if self.low is None or self.high is None:
            raise SpaceError(f"{self.name}: a choice has no range")
        return float(self.low), float(self.high)

    def from_unit(self, u: NDArray[np.float64]) -> Column:
        """Values of the factor at positions in [0, 1].

        Parameters
        ----------
        u : float64[row]

        Returns
        -------
        float64[row] | int64[row] | str[row]
        """
        if u.size and not (np.min(u) >= 0.0 and np.max(u) <= 1.0):
            raise SpaceError(f"{self.name}: positions must lie in [0, 1]")
        values = self.values
        if values is not None:
            return values[self._numbers(u, values.size)]
        low, high = self.range
        if isinstance(self.spread, Normal | Triangle):
            x = self.spread.quantile(u, low, high)
        else:
            x = low * (high / low) ** u if self.log else low + u * (high - low)
        return np.where(u == 1.0, high, np.clip(x, low, high))  # any form may round past or short of high

    def _numbers(self, u: NDArray[np.float64], values: int) -> NDArray[np.int64]:
        """Number of the discrete value at each position."""
        if isinstance(self.spread, Shares):
            return self.spread.index(u, _EDGE)
        return np.minimum((u * values + _EDGE).astype(np.int64), values - 1)

    def ranged(self) -> Parameter:
        """The factor uniform between its ends; of a bell, between those of its middle 95 %."""
        if self.spread is None:
            return self
        low, high = self.low, self.high
        if isinstance(self.spread, Normal):
            tails = np.array([0.5 - _MIDDLE / 2, 0.5 + _MIDDLE / 2])
            low, high = map(float, self.spread.quantile(tails, *self.range))
        return replace(self, low=low, high=high, spread=None)

    def shown(self, value: Any) -> str:
        """A value as text with its unit."""
        return str(value) if self.kind == "choice" else show(float(value), self.dimension)

    @property
    def drawn_as(self) -> str:
        """How the factor is drawn, in words."""
        if self.drawn:
            return self.drawn
        if isinstance(self.spread, Shares):
            each = zip(self.values if self.values is not None else (), self.spread.each, strict=True)
            return ", ".join(f"{self.shown(value)} {100 * share:.3g} %" for value, share in each)
        if self.kind == "choice":
            return ", ".join(self.choices) + ", each as often"
        low, high = map(self.shown, self.range)
        if isinstance(self.spread, Normal):
            return self._bell(self.spread)
        if isinstance(self.spread, Triangle):
            return f"{low} to {high}, most often near {self.shown(self.spread.likely)}"
        return f"{low} to {high}, evenly" + (" in its logarithm" if self.log else "")

    def _bell(self, bell: Normal) -> str:
        """A bell in words, with what the range cuts off it if that is worth a word."""
        deviation = show(bell.deviation, difference_of(self.dimension))
        cut = [
            f"{100 * share:.2g} % of it cut off {side} {self.shown(end)}"
            for share, side, end in zip(bell.cut(*self.range), ("below", "above"), self.range, strict=True)
            if share > _CUT_SAID
        ]
        told = f"normal, {self.shown(bell.mean)} with a standard deviation of {deviation}"
        return ", ".join([told, *cut])

    def index(self, column: Column) -> NDArray[np.float64]:
        """Number of each value of a discrete factor in its list of allowed values."""
        values = self.values
        if values is None:
            raise SpaceError(f"{self.name}: a continuous factor has no numbered values")
        if self.kind == "choice":
            lookup = {word: float(i) for i, word in enumerate(self.choices)}
            return np.array([lookup[str(word)] for word in column], dtype=np.float64)
        distance = np.abs(np.asarray(column)[:, np.newaxis] - values[np.newaxis, :])
        return np.asarray(distance.argmin(axis=1), dtype=np.float64)

    def checked(self, column: Sequence[Any] | Column) -> Column:
        """The column in the factor's own type; refuses values that are not allowed.

        Raises
        ------
        SpaceError
            The first value outside, with what is allowed.
        """
        raw = np.asarray(column)
        if self.kind == "choice":
            outside = [str(word) for word in raw if str(word) not in self.choices]
            if outside:
                raise SpaceError(f"{self.name} = {outside[0]!r}, allowed {', '.join(self.choices)}")
            return raw.astype(np.str_)
        low, high = self.range
        numbers = raw.astype(np.float64)
        allowed = (numbers >= low) & (numbers <= high)
        if self.values is not None:
            span = self.values[1] - self.values[0]
            nearest = self.values[self.index(numbers).astype(np.int64)]
            allowed &= np.abs(numbers - nearest) <= 1e-9 * span
            numbers = np.where(allowed, nearest, numbers)
        if not allowed.all():
            step = f" in steps of {self.step or 1:g}" if self.values is not None else ""
            first = numbers[~allowed][0]
            raise SpaceError(f"{self.name} = {first:g} {self.unit}, allowed {low:g} to {high:g}{step}")
        return numbers.astype(np.int64) if self.kind == "integer" else numbers
