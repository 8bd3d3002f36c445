"""All that was read in several cooks in one row, and what the model says of each reading.

The model starts each cook with its food as warm as it was first read. That reading errs like any other, and the error
lasts for hours: it is a parameter of its own, a shift of the food's start, whose effect is taken as straight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from ...model import CookRecord, Design
from .outcomes import Columns

Floats = NDArray[np.float64]


FOOD = "food"
_WARMER = 1.0  # K


class Predicting(Protocol):
    """The model of one cook; `start_temperature` is among its columns where it has a thermometer in the food."""

    @property
    def design(self) -> Design:
        """The oven that cooked."""

    @property
    def record(self) -> CookRecord:
        """What was measured."""

    @property
    def sensors(self) -> tuple[str, ...]:
        """Thermometers of the record, in its order."""

    def temperatures(self, columns: Columns) -> dict[str, Floats]:
        """By thermometer, float64[row, record]. [K]"""


class Series(NamedTuple):
    """One thermometer in one cook."""

    cook: int
    sensor: str

    @property
    def offset(self) -> str:
        """Name of the parameter that stands for its being off."""
        return f"offset_{self.cook}_{self.sensor}"


@dataclass(frozen=True)
class Measured:
    """Readings of cooks in one row: cook by cook, thermometer by thermometer, in time.

    Parameters
    ----------
    models : tuple of Predicting
    factors : tuple of str
        The parameters of a row.
    offsets : tuple of Series
        Thermometers that may be off by the same in all readings of a cook; parameters after the factors. [K]
    starts : tuple of int
        Cooks whose food may have started warmer than its first reading says; parameters after those. [K]
    """

    models: Sequence[Predicting]
    factors: tuple[str, ...]
    offsets: tuple[Series, ...] = ()
    starts: tuple[int, ...] = ()

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Of all parameters of a row."""
        shifts = (f"start_{number}" for number in self.starts)
        return (*self.factors, *(one.offset for one in self.offsets), *shifts)

    def only(self, number: int) -> Measured:
        """The readings of one cook, as the first and only one."""
        return Measured(
            (self.models[number],),
            self.factors,
            tuple(one._replace(cook=0) for one in self.offsets if one.cook == number),
            (0,) if number in self.starts else (),
        )

    @cached_property
    def series(self) -> tuple[Series, ...]:
        """Thermometers of all cooks."""
        return tuple(
            Series(number, sensor) for number, model in enumerate(self.models) for sensor in model.sensors
        )

    @cached_property
    def numbers(self) -> NDArray[np.int64]:
        """Number of the series that each reading belongs to, int64[reading]."""
        counts = [len(self.models[one.cook].record.instants) for one in self.series]
        return np.repeat(np.arange(len(self.series)), counts)

    @cached_property
    def time(self) -> Floats:
        """From the first reading of its cook, float64[reading]. [s]"""
        return np.concatenate([self.models[one.cook].record.instants for one in self.series])

    @cached_property
    def temperature(self) -> Floats:
        """What was read, float64[reading]; nan where nothing was. [K]"""
        return np.concatenate([self.models[one.cook].record.temperature(one.sensor) for one in self.series])

    @cached_property
    def started(self) -> NDArray[np.bool_]:
        """Whether a reading comes after the first of its thermometer, which is where the model starts."""
        found = np.ones(len(self.time), np.bool_)
        for number in range(len(self.series)):
            own = np.flatnonzero((self.numbers == number) & np.isfinite(self.temperature))
            found[own[:1]] = False
        return found

    @cached_property
    def shaded(self) -> NDArray[np.bool_]:
        """Whether no sun was let in, bool[reading]."""
        return np.concatenate(
            [
                self.models[one.cook].record.is_shaded(self.models[one.cook].record.instants)
                for one in self.series
            ]
        )

    def __call__(self, rows: Floats) -> Floats:
        """What the model says of every reading, float64[row, reading]. [K]

        Parameters
        ----------
        rows : float64[row, parameter]   [SI]
        """
        # Rows often differ only in shifts, of which the model knows nothing.
        ovens, of = np.unique(rows[:, : len(self.factors)], axis=0, return_inverse=True)
        columns = {name: np.ascontiguousarray(ovens[:, k]) for k, name in enumerate(self.factors)}
        found = self._said(columns)[of.ravel()]
        for k, one in enumerate(self.offsets, start=len(self.factors)):
            found[:, self.numbers == self.series.index(one)] += rows[:, k : k + 1]
        for k, cook in enumerate(self.starts, start=len(self.factors) + len(self.offsets)):
            found += rows[:, k : k + 1] * self.of_start[cook]
        return found

    def _said(self, columns: Columns) -> Floats:
        said = [model.temperatures(columns) for model in self.models]
        return np.concatenate([said[one.cook][one.sensor] for one in self.series], axis=1)

    @cached_property
    def of_start(self) -> dict[int, Floats]:
        """Change of every reading for each kelvin that a cook's food started warmer, by cook, float64[reading]."""
        found = {}
        for number, model in enumerate(self.models):
            if FOOD not in model.sensors:
                continue
            read = model.record.temperature(FOOD)
            first = float(read[np.isfinite(read)][0])
            warmer = model.temperatures({"start_temperature": np.array([first, first + _WARMER])})
            found[number] = np.concatenate(
                [
                    (warmer[one.sensor][1] - warmer[one.sensor][0]) / _WARMER
                    if one.cook == number
                    else np.zeros(len(self.models[one.cook].record.instants))
                    for one in self.series
                ]
            )
        return found
