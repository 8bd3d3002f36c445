"""A planned cook fitted to made-up readings many times, as a check of what is foretold of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..methods.fitting import fitted
from ..methods.least_squares import Prior
from ..methods.planning import errors_in_a_row
from .imagined import FARTHEST, Imagined
from .measured import FOOD

Floats = NDArray[np.float64]

_REACH = 10.0  # standard deviations that a shift may be at most


class Errors(NamedTuple):
    """Standard deviations of what instruments do."""

    reading: dict[str, float]  # K, by thermometer
    offset: dict[str, float]  # K, of those that may be off
    sunlight: float  # share, of what no fit knows
    memory: float  # s


class Refits(NamedTuple):
    """What fits to made-up readings found."""

    values: Floats  # [refit, factor]
    low: Floats  # [refit, factor] ends of the 95 % intervals
    high: Floats


@dataclass(frozen=True, kw_only=True)
class _Trial:
    """One kind of cook with some thermometers up to some time, and all that a fit to it looks for."""

    one: Imagined
    sensors: tuple[str, ...]
    chosen: NDArray[np.bool_]  # [reading]
    errors: Errors

    @property
    def shifts(self) -> list[tuple[int, float]]:
        """Column of the slopes and deviation of each shift that is not nil."""
        count, found = len(self.one.factors), []
        for k, sensor in enumerate(self.one.sensors, start=count + 1):
            found.append((k, self.errors.offset.get(sensor, 0.0) if sensor in self.sensors else 0.0))
        if FOOD in self.sensors:
            found.append((count + 1 + len(self.one.sensors), self.errors.reading[FOOD]))
        return [(column, deviation) for column, deviation in found if deviation > 0]

    def predict(self, rows: Floats) -> Floats:
        """Chosen readings of rows of the factors and the shifts."""
        count = len(self.one.factors)
        columns = [column for column, _ in self.shifts]
        found = self.one.model(rows[:, :count]) + rows[:, count:] @ self.one.slopes[:, columns].T
        return np.asarray(found[:, self.chosen])


def refitted(
    one: Imagined,
    sensors: tuple[str, ...],
    until: float,
    errors: Errors,
    *,
    prior: dict[str, float],
    every: float,
    count: int,
    seed: int,
) -> Refits:
    """So many fits to readings with errors as stated, the oven being as it is thought to be and the sunlight true.

    Parameters
    ----------
    one : Imagined
    sensors : tuple of str
        Thermometers that are read.
    until : float   [s]
        Readings after it are not made.
    prior : dict
        Relative standard deviation of factors that are known beforehand.
    """
    trial = _Trial(one=one, sensors=sensors, chosen=one.readings(sensors, until), errors=errors)
    shifts = np.array([deviation for _, deviation in trial.shifts])
    truth = one.values
    known = [prior.get(name, np.inf) * value for name, value in zip(one.factors, truth, strict=True)]
    rng = np.random.default_rng([seed, 7])
    numbers = one.model.numbers[trial.chosen]
    found = []
    for _ in range(count):
        observed = _observed(trial, rng, every)
        fit = fitted(
            trial.predict,
            observed,
            names=[*one.factors, *(f"shift {k}" for k in range(len(shifts)))],
            start=np.concatenate([truth, np.zeros(len(shifts))]),
            bounds=(
                np.concatenate([np.full(len(truth), FARTHEST[0]), -_REACH * shifts]),
                np.concatenate([np.full(len(truth), FARTHEST[1]), _REACH * shifts]),
            ),
            logs=[True] * len(truth) + [False] * len(shifts),
            prior=Prior(np.concatenate([truth, np.zeros(len(shifts))]), np.concatenate([known, shifts])),
            noise=_by_reading(trial)[trial.chosen],
            series=np.unique(numbers, return_inverse=True)[1],
            time=one.model.time[trial.chosen],
        )
        found.append([part[: len(truth)] for part in (fit.values, fit.low, fit.high)])
    values, low, high = np.moveaxis(np.array(found).reshape(count, 3, len(truth)), 1, 0)
    return Refits(values, low, high)


def _by_reading(trial: _Trial) -> Floats:
    """Deviation of every reading, chosen or not. [K]"""
    each = np.array([trial.errors.reading[series.sensor] for series in trial.one.model.series])
    return np.asarray(each[trial.one.model.numbers])


def _observed(trial: _Trial, rng: np.random.Generator, every: float) -> Floats:
    """Made-up readings: errors that fade, instruments off by some draw, and a first reading that errs like any."""
    one, errors = trial.one, trial.errors
    lengths = np.bincount(one.model.numbers)
    rows = errors_in_a_row(rng, (len(lengths), int(lengths.max())), every, errors.memory)
    noise = np.concatenate([row[:length] for row, length in zip(rows, lengths, strict=True)])
    noise *= _by_reading(trial)
    reading = one.predicted + noise
    for column, deviation in trial.shifts:
        first = column == len(one.factors) + 1 + len(one.sensors)
        own = (
            one.model.numbers == [series.sensor for series in one.model.series].index(FOOD) if first else None
        )
        shift = float(noise[own][0]) if own is not None else deviation * rng.standard_normal()
        reading = reading + shift * one.slopes[:, column]
    return np.asarray(reading[trial.chosen])
