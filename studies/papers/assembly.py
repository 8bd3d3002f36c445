"""What to set and measure while the pieces are put together."""

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd

from ...model import Drive, fold_angles, pot_gap, trunnion_height
from ..setting import Setting

MM = 1e3
TILTS = np.radians(
    [90.0, 75.0, 60.0, 45.0, 30.0]
)  # of the axis from the horizon; those that the sun asks for are added


def assembly(setting: Setting) -> pd.DataFrame:
    """Measures of a design in the order in which it is built: what, how much, in which unit, what to mind."""
    rows = [*_funnel(setting), *_pot(setting), *_base(setting)]
    return pd.DataFrame(rows, columns=["what", "value", "unit", "mind"])


def _funnel(setting: Setting) -> Iterator[tuple[str, float, str, str]]:
    funnel = setting.design.oven.funnel
    wall, corner = funnel.wall, math.cos(math.pi / funnel.facets)
    for name, place in (("mouth", 0), ("back plate", -1)):
        across = float(wall.across[place])
        yield f"{name}, across the flats inside", MM * across, "mm", "measure in three directions"
        yield (
            f"{name}, across the corners inside",
            MM * across / corner,
            "mm",
            "only where facets are even in number",
        )
    yield "mouth to back plate, along the axis", MM * funnel.depth, "mm", ""
    for what, angle in fold_angles(funnel):
        yield f"{what}, inside", math.degrees(angle), "deg", "hold a card of this angle into every edge"


def _pot(setting: Setting) -> Iterator[tuple[str, float, str, str]]:
    design = setting.design
    yield (
        "trunnions above the back plate",
        MM * trunnion_height(design),
        "mm",
        "on the axis; the pot hangs plumb",
    )
    swing = np.unique(np.concatenate([TILTS, _used(setting)]))[::-1]
    for elevation, gap in zip(swing, pot_gap(design, swing, catalogue=setting.catalogue), strict=True):
        what = f"gap round the pot with the axis {math.degrees(elevation):.0f} deg above the horizon"
        mind = "" if gap > 0 else "the pot touches: do not tilt it so far"
        yield what, MM * float(gap), "mm", mind


def _used(setting: Setting) -> np.ndarray:
    """Least and greatest elevation of the sun in the setting's days. [rad]"""
    heights = np.arcsin(np.clip(setting.sky.to_sun[..., 2], -1, 1))
    return np.array([max(float(heights.min()), 0.0), float(heights.max())])


def _base(setting: Setting) -> Iterator[tuple[str, float, str, str]]:
    stand, aiming = setting.design.oven.stand, setting.design.aiming
    yield "tilt trunnions above the ground", MM * stand.axis_height, "mm", ""
    yield "pivot to the track of the wheel", MM * stand.base_radius, "mm", "a circle; the pivot is its middle"
    if isinstance(aiming, Drive):
        edge = MM * aiming.speed * stand.base_radius * 60
        yield "track under the wheel while the motor runs", edge, "mm/min", "measure it with the oven loaded"
