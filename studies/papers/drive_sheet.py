"""What a builder sets and measures on a sun-following drive: wheel, fin and cell, and how far the edge should go."""

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd

from ...model import Drive
from ..asking.quantity import System
from ..setting import Setting
from .assembly import Measure, measured, wheel_of
from .measures import number, unit

FIVE_MINUTES = 300.0  # s
HOUR_ANGLE = math.radians(15.0) / 3600.0  # rad/s; the mean sun about the earth's axis
EVERY = 1800.0  # s, between rows of the table of travel
CAUTIONS = (
    "Cover the mirrors before you work on the drive: the sun comes round while you look at the cell.",
    "Weigh the base down: wind turns an oven that only a small wheel holds. Keep fingers and hair off the wheel.",
)


def drive_table(setting: Setting, system: System = "metric") -> pd.DataFrame:
    """Where fin and cell sit, what the wheel does, and what to measure; empty for an oven without a drive."""
    aiming = setting.design.aiming
    if not isinstance(aiming, Drive):
        return measured([], system)
    measures = [*_cell(aiming), *_wheel(setting, aiming)]
    return measured(measures, system).round({"value": 3})


def _cell(aiming: Drive) -> Iterator[Measure]:
    yield Measure(
        "fin above the cell", aiming.fin_height, "length", "measured square to the plane of the mouth"
    )
    yield Measure("cell, away from the fin", aiming.cell_width, "length")
    share = "of the cell lit, in full sun, when the motor"
    yield Measure(f"share {share} starts", 100 * aiming.start_share, "%")
    yield Measure(f"share {share} stops", 100 * aiming.stop_share, "%")
    ahead = "sun ahead, across the mouth, where the motor"
    yield Measure(f"{ahead} starts", math.degrees(aiming.start_angle), "deg", "full sun, low")
    yield Measure(f"{ahead} stops", math.degrees(aiming.stop_angle), "deg", "full sun, low")
    yield Measure("weakest beam that starts the motor", aiming.least_dni, "W/m2", "with the whole cell lit")


def _wheel(setting: Setting, aiming: Drive) -> Iterator[Measure]:
    radius = setting.design.oven.stand.base_radius
    yield Measure("pivot to the edge of the base", radius, "length")
    yield from wheel_of(setting)
    yield Measure("turning speed", math.degrees(aiming.speed) * 60, "deg/min")
    mind = "measure it with the oven loaded"
    yield Measure("way of the edge while the motor runs", aiming.speed * radius, "edge speed", mind)
    way = radius * HOUR_ANGLE * FIVE_MINUTES
    yield Measure(
        "way of the edge in five minutes at 15 deg an hour", way, "length", "by the clock: see the table"
    )
    yield Measure("elevation set by hand every", aiming.elevation_every / 60, "min")


def cell_side(setting: Setting) -> str:
    """Which edge of the cell the fin's edge stands over, as one sees who looks into the mouth; empty: it changes."""
    ways = _ways(setting)
    if (ways > 0).all():
        return "left"
    return "right" if (ways < 0).all() else ""


def cell_note(setting: Setting) -> str:
    """Where cell and fin go, in a sentence."""
    side = cell_side(setting)
    if not side:
        return (
            "Cell: under the fin, whose edge stands over the cell's edge on the side to which the sun goes. That "
            "changes in the year here: mount it to be turned."
        )
    return (
        f"Cell: under the fin, whose edge stands over the cell's {side} edge, as seen looking into the mouth."
    )


def _ways(setting: Setting) -> np.ndarray:
    """By how much the sun's azimuth grows over each course; above zero it goes clockwise seen from above. [rad]"""
    azimuth = _azimuth(setting)
    return np.asarray(azimuth[:, -1] - azimuth[:, 0])


def _azimuth(setting: Setting) -> np.ndarray:
    """Of the sun along each course, without jumps. [rad]"""
    to_sun = setting.sky.to_sun
    return np.unwrap(np.arctan2(to_sun[..., 0], to_sun[..., 1]), axis=-1)


def travel_table(setting: Setting, system: System = "metric") -> pd.DataFrame:
    """How far the edge of the base should go in the five minutes that begin at a clock time, on each course of the sun.

    As the sun goes; a drive waits and then runs, so compare over half an hour or more.
    """
    sky, radius = setting.sky, setting.design.oven.stand.base_radius
    ahead, every = round(FIVE_MINUTES / sky.step), round(EVERY / sky.step)
    columns = []
    for azimuth, times in zip(_azimuth(setting), sky.times, strict=True):
        local = pd.DatetimeIndex(times).tz_localize("UTC").tz_convert(sky.place.zone)
        at = np.arange(0, len(times) - ahead, every)
        way = radius * np.abs(azimuth[at + ahead] - azimuth[at])
        shown = [round(number(one, "length", system), 1 if system == "metric" else 3) for one in way]
        clock = [f"{local[k]:%H:%M}" for k in at]
        columns.append(pd.Series(shown, index=clock, name=f"{local[0]:%d %b} [{unit('length', system)}]"))
    table = pd.concat(columns, axis=1).sort_index()
    return table.rename_axis("clock").reset_index()
