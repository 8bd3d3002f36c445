"""How warm every part of the oven is at the first reading of a cook."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .. import lossy
from ..heat import Build, Node, Weather
from .record import CookRecord

Floats = NDArray[np.float64]

WARM = 15.0  # K of pot or food above the air from which on the oven is taken to have been at work already
BEFORE = 7200.0  # s it then had been, its pot as hot as at the first reading: an ordinary heating up
_HELD = 1e12  # J/K; what is in the pot stays as hot
_STEP = 600.0  # s; a slow settling needs no minutes

FIRST = int(Node.POT)
_BY_SENSOR = {
    "pot": (Node.POT,),
    "air_inside": (Node.AIR,),
    "plate": (Node.SHEET,),
    "cover": (Node.COVER_INNER, Node.COVER_OUTER),
}


class Conditions(NamedTuple):
    """Of the first minute, a row for each oven."""

    air: float  # K
    sky: float  # K
    wind: Floats  # [row] m/s at the oven
    pressure: float  # Pa
    vapour: float  # Pa
    tilt: Floats  # [row] rad
    intake: Floats  # [row, 3] W
    loss_ratio: Floats  # [row]


def first_reading(record: CookRecord, sensor: str) -> float:
    """What a thermometer read first from where the cook begins; nan where it has none, or none then. [K]"""
    if sensor not in record.temperatures:
        return np.nan
    values = record.temperature(sensor)
    read = np.flatnonzero(np.isfinite(values) & (record.instants >= record.begins))
    return float(values[read[0]]) if read.size else np.nan


def first_contents(record: CookRecord, usual: float) -> float:
    """How warm the contents were: by their own thermometer, else by the pot's, else as usual. [K]"""
    read = [first_reading(record, sensor) for sensor in ("food", "pot")]
    return next((value for value in read if np.isfinite(value)), usual)


def oven_start(record: CookRecord, build: Build, at_first: Conditions) -> Floats:
    """Temperatures of pot, air, sheet, insulation, shell and both cover faces at first. float64[row, 7] [K]

    A part with a thermometer starts at its first reading. The others start as warm as the air outside; or, where pot
    or food are warmer than that by 15 K, where they come to in two hours with the pot as hot, under the light and
    weather of the first minute. A sheet with a thermometer has insulation behind it half as warm.
    """
    rows = len(build.pot_capacity)
    read = {sensor: first_reading(record, sensor) for sensor in _BY_SENSOR}
    hottest = np.fmax(first_reading(record, "food"), read["pot"])
    if hottest > at_first.air + WARM:
        start = _settled(build._replace(contents_start=np.full(rows, hottest)), at_first)
    else:
        start = np.full((rows, len(Node) - FIRST), at_first.air)
        if np.isfinite(read["plate"]):
            start[:, Node.INSULATION - FIRST] = (read["plate"] + at_first.air) / 2
    for sensor, nodes in _BY_SENSOR.items():
        if np.isfinite(read[sensor]):
            start[:, [node - FIRST for node in nodes]] = read[sensor]
    return np.asarray(start)


def _settled(build: Build, at_first: Conditions) -> Floats:
    """Where the oven comes to round a pot that is held hot. float64[row, 7] [K]"""
    rows, steps = len(at_first.wind), int(BEFORE / _STEP)
    still = np.ones((rows, steps + 1))
    held = build._replace(solid_capacity=np.full(rows, _HELD), water_mass=np.zeros(rows))
    weather = Weather(
        air_temperature=at_first.air * still,
        sky_temperature=at_first.sky * still,
        wind_speed=at_first.wind[:, None] * still,
        pressure=at_first.pressure * still,
        vapour_pressure=at_first.vapour * still,
        tilt=np.repeat(at_first.tilt[:, None], steps, axis=1),
    )
    intake = np.repeat(at_first.intake[:, None], steps, axis=1)
    lanes = np.arange(rows)
    done = lossy.run(held, weather, lanes, intake, loss_ratio=at_first.loss_ratio, step=_STEP)
    return np.array(done.end[:, FIRST:])
