"""What to set and measure while the pieces are put together."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from ...model import Drive, fold_angles, ground_gap, pot_gap, trunnion_height
from ..asking.quantity import System
from ..kinds.aiming import train_of
from ..setting import Setting
from .measures import number, unit

TILTS = np.radians([90.0, 75.0, 60.0, 45.0, 30.0])  # of the axis from the horizon; those of the sun are added


PLAIN = ("deg", "deg/min", "rpm", "%", "min", "W/m2")  # units that papers show in both systems


class Measure(NamedTuple):
    """One thing to set or measure: value in SI with its dimension, or in one of the plain units."""

    what: str
    value: float
    dimension: str
    mind: str = ""


def assembly(setting: Setting, system: System = "metric") -> pd.DataFrame:
    """Measures of a design in the order in which it is built: what, how much, in which unit, what to mind."""
    return measured([*_funnel(setting), *_pot(setting), *_base(setting)], system)


def measured(measures: list[Measure], system: System) -> pd.DataFrame:
    """Measures as a table in the builder's units."""
    rows = []
    for one in measures:
        plain = one.dimension in PLAIN
        value = one.value if plain else number(one.value, one.dimension, system)
        rows.append((one.what, value, one.dimension if plain else unit(one.dimension, system), one.mind))
    return pd.DataFrame(rows, columns=["what", "value", "unit", "mind"])


def is_boxed(setting: Setting) -> bool:
    """Whether the oven is an open funnel over a box."""
    return not setting.design.oven.box.idle


def _funnel(setting: Setting) -> Iterator[Measure]:
    funnel, boxed = setting.design.oven.funnel, is_boxed(setting)
    wall, corner = funnel.wall, math.cos(math.pi / funnel.facets)
    low = "throat" if boxed else "back plate"
    for name, place in (("mouth", 0), (low, -1)):
        across = float(wall.across[place])
        yield Measure(f"{name}, across the flats inside", across, "length", "measure in three directions")
        if funnel.facets % 2 == 0:
            yield Measure(f"{name}, across the corners inside", across / corner, "length")
    yield Measure(f"mouth to {low}, along the axis", funnel.depth, "length")
    for what, angle in fold_angles(funnel):
        if not (boxed and "back plate" in what):
            mind = "hold a card of this angle into every edge"
            yield Measure(f"{what}, inside", math.degrees(angle), "deg", mind)
    if boxed:
        box = setting.design.oven.box
        yield Measure("box, side to side inside", box.box_across, "length", "both ways")
        yield Measure("cover to floor of the box, inside", box.box_depth, "length")
        diagonal = math.hypot(box.box_across, box.box_across)
        yield Measure(
            "box, corner to corner inside", diagonal, "length", "the same both ways: then it is square"
        )


def _pot(setting: Setting) -> Iterator[Measure]:
    design = setting.design
    where = "floor of the box" if is_boxed(setting) else "back plate"
    mind = "on the axis; the pot hangs plumb from trunnions at half its height"
    yield Measure(f"trunnions above the {where}", trunnion_height(design), "length", mind)
    below = design.oven.pot.pot_height / 2
    yield Measure("pot bottom below the trunnions", below, "length", "measure it hung, lid on")


def tilts(setting: Setting, system: System = "metric") -> pd.DataFrame:
    """Gap round the pot and height of the oven over the ground, with the axis at every tilt, and what to mind."""
    swing = np.unique(np.concatenate([TILTS, sun_heights(setting)]))[::-1]
    gaps = pot_gap(setting.design, swing, catalogue=setting.catalogue)
    length = unit("length", system)
    rows = []
    for elevation, gap, above in zip(swing, gaps, ground_gap(setting.design, swing), strict=True):
        minds = ["the pot touches: do not tilt it so far"] if gap <= 0 else []
        minds += ["the oven meets the ground: set the trunnions higher"] if above <= 0 else []
        rows.append(
            {
                "axis above the horizon [deg]": round(math.degrees(elevation), 1),
                f"gap round the pot [{length}]": number(float(gap), "length", system),
                f"oven above the ground [{length}]": number(float(above), "length", system),
                "mind": "; ".join(minds),
            }
        )
    return pd.DataFrame(rows)


def sun_heights(setting: Setting) -> np.ndarray:
    """Least and greatest elevation of the sun in the setting's days. [rad]"""
    heights = np.arcsin(np.clip(setting.sky.to_sun[..., 2], -1, 1))
    return np.array([max(float(heights.min()), 0.0), float(heights.max())])


def _base(setting: Setting) -> Iterator[Measure]:
    stand, aiming = setting.design.oven.stand, setting.design.aiming
    yield Measure("tilt trunnions above the ground", stand.axis_height, "length")
    yield Measure(
        "pivot to the edge of the base", stand.base_radius, "length", "a circle; the pivot is its middle"
    )
    if isinstance(aiming, Drive):
        yield from wheel_of(setting)
        mind = "measure it with the oven loaded"
        yield Measure(
            "track under the wheel while the motor runs", aiming.speed * stand.base_radius, "edge speed", mind
        )


def wheel_of(setting: Setting) -> Iterator[Measure]:
    """The wheel's size and place, if the drive is given by its wheel and motor."""
    train = train_of(setting.train, setting.design)
    if train is not None:
        yield Measure(
            "drive wheel, across", 2 * train.wheel_radius, "length", "it rolls on the edge of the base"
        )
        away = train.base_radius + train.wheel_radius
        yield Measure(
            "pivot to the shaft of the wheel", away, "length", "fixed to the ground, sprung against the edge"
        )
        yield Measure(
            "shaft of the wheel", 60 * train.motor_speed / math.tau, "rpm", "while the motor runs, loaded"
        )
        turn = math.degrees(train.turn_per_turn)
        yield Measure("oven turns in one turn of the wheel", turn, "deg")
