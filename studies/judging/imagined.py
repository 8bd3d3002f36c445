"""Cooks that nobody has done yet: what each thermometer would read, and how that moves with what is not known.

What is not known are the wanted factors, in their logarithm; the instrument for sunlight, which may read high by some
share; each thermometer, which may read high by some kelvin; and the first reading of the food, from which the model
starts. The last three move a reading in a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...model import CookModel, CookRecord
from ..methods.least_squares import with_slopes
from ..setting import Setting
from .measured import FOOD, Measured

Floats = NDArray[np.float64]

BRIGHTER = -0.02  # by which the light is turned, down: beams above that of the cleanest air are cut off
FARTHEST = (0.2, 5.0)  # of the ratios of an oven as built, within which fits look


@dataclass(frozen=True, kw_only=True)
class Imagined:
    """One kind of cook: what would be read, and its slopes.

    Parameters
    ----------
    model : Measured
        The model of it, for rows of the wanted factors.
    sensors : tuple of str
    slopes : float64[reading, parameter]
        By the logarithms of the factors; by a share of sunlight; by a kelvin of each thermometer; by a kelvin of the
        food's first reading, where there is food.
    predicted : float64[reading]   [K]
        As the oven is thought to be.
    factors : tuple of str
    values : float64[factor]   [SI]
        As the oven is thought to be.
    """

    model: Measured
    sensors: tuple[str, ...]
    slopes: Floats
    predicted: Floats
    factors: tuple[str, ...]
    values: Floats

    @property
    def shared(self) -> tuple[str, ...]:
        """Names of what all cooks share, after the factors."""
        return ("sunlight", *self.sensors)

    @property
    def eats(self) -> bool:
        """Whether there is food whose first reading may err."""
        return FOOD in self.sensors

    def readings(self, sensors: tuple[str, ...], until: float) -> NDArray[np.bool_]:
        """Those of some thermometers up to some time, but for each one's first, where the model starts."""
        own = np.array([series.sensor in sensors for series in self.model.series])
        return np.asarray(own[self.model.numbers] & (self.model.time <= until + 1e-6) & self.model.started)


def imagined(
    setting: Setting,
    factors: tuple[str, ...],
    sensors: tuple[str, ...],
    *,
    day: int,
    heat_up: float,
    shade: float,
    every: float,
    empty: bool = False,
) -> Imagined:
    """A cook under one of the sky's days, from the minute when food is put in.

    Parameters
    ----------
    setting : Setting
        Its design as it is thought to be.
    factors : names
        Wanted ones, above zero.
    sensors : places of thermometers
    day : int
        Of the sky.
    heat_up, shade, every : float   [s]
        In the sun, then with the mouth covered; between readings.
    empty : bool
        Nothing in the pot.
    """
    record = _record(setting, sensors, day=day, heat_up=heat_up, shade=shade, every=every, empty=empty)
    model = Measured((_model(setting, record),), factors)
    values = np.array([float(setting.design.value(name)) for name in factors])
    x = np.log(values)
    ends = np.full(len(x), np.log(FARTHEST[0])), np.full(len(x), np.log(FARTHEST[1]))
    predicted, slopes = with_slopes(lambda rows: model(np.exp(rows)), x, ends)
    columns = [slopes, _of_sunlight(setting, record, factors, predicted)[:, None]]
    columns += [_of_offset(model, sensor)[:, None] for sensor in sensors]
    if FOOD in sensors:
        columns.append(-model.of_start[0][:, None])
    return Imagined(
        model=model,
        sensors=sensors,
        slopes=np.concatenate(columns, axis=1),
        predicted=predicted,
        factors=factors,
        values=values,
    )


def _record(
    setting: Setting,
    sensors: tuple[str, ...],
    *,
    day: int,
    heat_up: float,
    shade: float,
    every: float,
    empty: bool,
) -> CookRecord:
    """The cook as a logger would keep it, its temperatures still those of the first instant."""
    sky, span = setting.sky, heat_up + shade
    time = every * np.arange(int(span / every + 1e-9) + 1)
    start = pd.Timestamp(sky.times[sky.day_path[day], 0]).tz_localize("UTC").tz_convert(sky.place.zone)
    minutes = sky.step * np.arange(sky.steps + 1)

    def of(name: str) -> Floats:
        return np.asarray(np.interp(time, minutes, getattr(sky, name)[day]))

    air, meal = of("air_temperature"), None if empty else setting.design.meal
    warm = air[0] if meal is None or meal.start_temperature is None else meal.start_temperature
    first = {sensor: np.full(len(time), warm if sensor == FOOD else air[0]) for sensor in sensors}
    wind = of("wind_speed") * float(setting.design.value("wind_share"))
    return CookRecord(
        name="imagined",
        start=start.to_pydatetime(),
        time=time,
        temperatures=first,
        air=air,
        irradiance=of("ghi"),
        diffuse=of("dhi"),
        wind=wind,
        plane="level",
        shaded=((heat_up, span + every),) if shade > 0 else (),
        meal=meal,
    )


def _model(setting: Setting, record: CookRecord) -> CookModel:
    how: dict[str, Any] = {"place": setting.sky.place, "catalogue": setting.catalogue}
    how |= {"rays": setting.rays, "seed": setting.seed, "albedo": setting.sky.albedo}
    return CookModel(setting.design, record, **how)


def _of_sunlight(setting: Setting, record: CookRecord, factors: tuple[str, ...], predicted: Floats) -> Floats:
    """What a share more of sunlight does to each reading, float64[reading]. [K]"""
    light: dict[str, Any] = {
        name: (1 + BRIGHTER) * np.asarray(getattr(record, name)) for name in ("irradiance", "diffuse")
    }
    brighter = Measured((_model(setting, replace(record, **light)),), factors)
    values = np.array([[float(setting.design.value(name)) for name in factors]])
    return np.asarray((brighter(values)[0] - predicted) / BRIGHTER)


def _of_offset(model: Measured, sensor: str) -> Floats:
    """What a thermometer that reads a kelvin high does to each reading, float64[reading]. [K]

    The food's reads high at the start as well, so the model would start too warm.
    """
    own = np.array([series.sensor == sensor for series in model.series])[model.numbers]
    return own - model.of_start[0] if sensor == FOOD else own.astype(np.float64)
