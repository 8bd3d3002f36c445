"""Cooks whose truth is known: ovens drawn at random, logged by thermometers that err as loggers do."""

import dataclasses
import datetime
import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from noonhearth.model import CookModel, CookRecord, Design, Meal
from noonhearth.studies import Setting, load
from noonhearth.studies.logs import usual_air

Floats = NDArray[np.float64]

RATIOS = ("light_ratio", "loss_ratio", "coupling_ratio")
WHITE, SLOW, MEMORY, STEP = 0.25, 0.15, 300.0, 0.1  # K, K, s, K: thermocouples on a cheap logger, made up
RAYS = 4

SETTING: Setting = dataclasses.replace(load(Path(__file__).parents[1] / "oven.toml").setting, rays=RAYS)


def oven(rng: np.random.Generator) -> Design:
    """A design drawn from what a workshop may build."""
    ends = {
        "facet_angle": (math.radians(24), math.radians(30)),
        "depth": (0.24, 0.30),
        "insulation_thickness": (0.025, 0.08),
        "pot_wall": (0.0008, 0.003),
    }
    return SETTING.design.with_factors(**{name: float(rng.uniform(*each)) for name, each in ends.items()})


def ratios(rng: np.random.Generator) -> dict[str, float]:
    """How it came out."""
    low, high = np.log([0.6, 0.8, 0.5]), np.log([1.1, 1.8, 1.6])
    return dict(zip(RATIOS, np.exp(rng.uniform(low, high)).tolist(), strict=True))


def noise(rng: np.random.Generator, count: int, step: float) -> Floats:
    """What a thermometer is off by: white, and slow as of a cold junction that drifts. [K]"""
    rho = math.exp(-step / MEMORY)
    slow = lfilter([1.0], [1.0, -rho], rng.standard_normal(count + 100) * math.sqrt(1 - rho**2))[100:]
    return np.asarray(WHITE * rng.standard_normal(count) + SLOW * slow)


def blank(
    rng: np.random.Generator, sensors: tuple[str, ...], *, hours: float, shade: float, step: float = 60.0
) -> CookRecord:
    """A cook on a made-up day before anything was read: weather, settings, shade at the end. [h, h]"""
    zone = SETTING.sky.place.zone
    start = datetime.datetime(2026, 1, int(rng.integers(1, 28)), 10, 0, tzinfo=zone)
    time = np.arange(0.0, 3600 * hours + 1, step)
    clouds = 1 - 0.2 * np.abs(np.sin(time / rng.uniform(600, 3000)))
    air = rng.uniform(290, 303) + 4 * time / 14400
    return CookRecord(
        name="cook",
        start=start,
        time=time,
        temperatures={sensor: air + 1.0 for sensor in sensors},
        air=air,
        irradiance=rng.uniform(700, 950) * clouds,
        plane="facing the sun",
        wind=rng.uniform(0.5, 3.0) * np.ones(len(time)),
        azimuth_settings=tuple(np.arange(0.0, 3600 * hours, 900.0)),
        elevation_settings=tuple(np.arange(0.0, 3600 * hours, 1800.0)),
        shaded=((3600 * (hours - shade), 3600 * hours + 1),) if shade else (),
        meal=Meal(food="water", food_mass=float(rng.uniform(0.5, 1.2))),
    )


def modelled(design: Design, record: CookRecord) -> CookModel:
    """The model of a cook, with all that the setting says of its surroundings."""
    how: dict[str, Any] = {"place": SETTING.sky.place, "catalogue": SETTING.catalogue, "seed": SETTING.seed}
    how |= {
        "albedo": SETTING.sky.albedo,
        "air": usual_air(SETTING.sky),
    }  # for the dew point, which nobody logs
    return CookModel(design, record, rays=RAYS, **how)


def logged(
    rng: np.random.Generator, design: Design, record: CookRecord, truth: dict[str, float]
) -> CookRecord:
    """The record as the true oven and its thermometers would have made it."""
    said = modelled(design, record).temperatures({name: np.array([value]) for name, value in truth.items()})
    step = float(record.instants[1] - record.instants[0])
    read = {
        sensor: np.round((values[0] + noise(rng, len(values[0]), step)) / STEP) * STEP
        for sensor, values in said.items()
    }
    return dataclasses.replace(record, temperatures=read)
