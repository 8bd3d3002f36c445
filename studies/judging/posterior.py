"""What test cooks leave unknown of an oven: factors that are known together, drawn together.

A fit knows some factors each to an interval, and their combinations better or worse than that: more light and more
loss may be as likely as less of both, though more light and less loss is ruled out. Studies that draw them one by one
would meet ovens that the cooks rule out. So what varies is a few numbers that have nothing to do with each other, one
along each principal direction of the fit; the factors follow from them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import Design
from ..asking.distributions import Normal
from ..methods.coordinates import Coordinates
from .outcomes import Column, Columns, Evaluate, Outcomes
from .parameters import Parameter
from .robust import common_draws
from .space import Space

Floats = NDArray[np.float64]

STEM = "unknown"  # of the names of what varies: unknown_1 is the direction that is known worst
_REACH = 4.0  # standard deviations; beyond lies one draw of 16 000


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """Factors of an oven as test cooks know them, jointly: a bell in the scaled coordinates of the fit.

    Parameters
    ----------
    names : tuple of str
    values : tuple of float   [SI]
        Estimates.
    covariance : tuple of tuples of float
        In coordinates: logarithms, or shares of the range.
    low, high : tuple of float   [SI]
        Bounds of the fit; draws stay within.
    logs : tuple of bool
        Which are fitted in their logarithm.
    described : dict
        Every factor of the design as it was described, before the fit.
    """

    names: tuple[str, ...]
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    logs: tuple[bool, ...]
    described: Mapping[str, Any]

    @classmethod
    def of(cls, fit: xr.Dataset) -> Posterior:
        """What the result of a fit says."""
        return cls.of_text(str(fit.attrs["posterior"]))

    @classmethod
    def of_text(cls, text: str) -> Posterior:
        """What `text` gave."""
        read = json.loads(text)
        covariance = tuple(tuple(row) for row in read.pop("covariance"))
        described = read.pop("described")
        return cls(covariance=covariance, described=described, **{key: tuple(read[key]) for key in read})

    @property
    def text(self) -> str:
        """All of it, for an attribute of a result."""
        return json.dumps(vars_of(self))

    @property
    def estimate(self) -> dict[str, float]:
        """The factors as estimated. [SI]"""
        return dict(zip(self.names, self.values, strict=True))

    def built(self, design: Design) -> Design:
        """A design with the factors as the cooks found them."""
        return design.with_factors(**self.estimate)

    @cached_property
    def _axes(self) -> Coordinates:
        return Coordinates.over((self.low, self.high), self.logs)

    @cached_property
    def _directions(self) -> Floats:
        """A step of one standard deviation along each principal direction, the worst known first; in coordinates."""
        squares, vectors = np.linalg.eigh(np.array(self.covariance))
        steps = (vectors * np.sqrt(np.maximum(squares, 0.0))).T[::-1]
        largest = np.abs(steps).argmax(axis=1)
        return np.asarray(steps * np.sign(steps[np.arange(len(steps)), largest])[:, None])

    @property
    def parameters(self) -> tuple[Parameter, ...]:
        """What varies: standard normal numbers, one along each principal direction."""
        bell = Normal(mean=0.0, deviation=1.0)
        return tuple(
            Parameter(
                name=f"{STEM}_{number}",
                kind="real",
                meaning=self._meaning(step),
                drawn=f"as test cooks leave it, in steps of {self._step_of(step)}",
                low=-_REACH,
                high=_REACH,
                spread=bell,
            )
            for number, step in enumerate(self._directions, start=1)
        )

    @property
    def factors(self) -> tuple[Parameter, ...]:
        """The factors themselves, over the ranges of the fit."""
        return tuple(
            Parameter(name=name, kind="real", meaning=f"{name}, as the cooks leave it", low=low, high=high)
            for name, low, high in zip(self.names, self.low, self.high, strict=True)
        )

    @property
    def phrase(self) -> str:
        """What is drawn, in words."""
        return f"{', '.join(self.names)}, together as test cooks leave them".replace("_", " ")

    def _meaning(self, step: Floats) -> str:
        return f"what test cooks leave unknown; one standard deviation is {self._step_of(step)}"

    def _step_of(self, step: Floats) -> str:
        """One standard deviation along a direction, in words."""
        x = self._axes.of(np.array(self.values))
        ahead = self._axes.values(x + step)
        each = []
        for name, log, value, moved in zip(self.names, self.logs, self.values, ahead, strict=True):
            each.append(
                f"{name} {100 * (moved / value - 1):+.2g} %" if log else f"{name} {moved - value:+.2g}"
            )
        return f"{', '.join(each)} together"

    def translated(self, columns: Columns) -> dict[str, Column]:
        """Columns in which the factors stand in place of what varies; as they are where nothing of it does."""
        own = [parameter.name for parameter in self.parameters]
        if not set(own) & set(columns):
            return dict(columns)
        rows = len(next(iter(columns.values())))
        steps = np.stack([np.asarray(columns.get(name, np.zeros(rows)), np.float64) for name in own], axis=1)
        # Summed one by one: a product of matrices works rows out another way in company, which moves last bits.
        x = np.tile(self._axes.of(np.array(self.values)), (rows, 1))
        for k, step in enumerate(self._directions):
            x = x + steps[:, k : k + 1] * step
        found = np.clip(self._axes.values(x), self.low, self.high)
        rest = {name: column for name, column in columns.items() if name not in own}
        return rest | {name: np.ascontiguousarray(found[:, k]) for k, name in enumerate(self.names)}


def drawn_together(
    space: Space | None, posterior: Posterior | None, count: int, seed: int
) -> dict[str, Column]:
    """Values of what nobody decides, one per draw, with what cooks leave unknown among it; none where nothing is.

    Parameters
    ----------
    space : Space, optional
        Of the factors that are drawn each by itself.
    posterior : Posterior, optional
    count : int
        A power of two.
    seed : int
    """
    parameters = (*(space.parameters if space else ()), *(posterior.parameters if posterior else ()))
    if not parameters:
        return {}
    draws = common_draws(Space(parameters), count, seed)
    return posterior.translated(draws) if posterior else draws


@dataclass(frozen=True)
class JointEvaluator:
    """Runs rows in which what the cooks leave unknown varies, by the factors that follow from it."""

    evaluate: Evaluate
    posterior: Posterior

    def __call__(self, columns: Columns) -> Outcomes:
        """Outcomes of each row."""
        return self.evaluate(self.posterior.translated(columns))


def vars_of(posterior: Posterior) -> dict[str, Any]:
    """Its fields alone, without what is worked out of them."""
    return {name: getattr(posterior, name) for name in Posterior.__dataclass_fields__}
