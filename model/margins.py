"""Safety limits as margins: by how much each design exceeds what its materials, hands and food may bear."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .design import Table
from .heat import Node
from .limits import (
    GUST_FACTOR,
    effusivity,
    lukewarm_allowance,
    presented_area,
    restoring_arm,
    sliding_wind_speed,
    tipping_wind_speed,
    touch_threshold,
)
from .meal import Cooked
from .merit import middle
from .pack import Materials, shape_of
from .sky import Sky

Floats = NDArray[np.float64]

TOUCH = 10.0  # s; the touch of a child or of somebody slow, the longer of the two the standard names
AIR_CONSTANT = 287.05  # J/(kg K)


def margins_of(
    table: Table, materials: Materials, *, peak: Floats, meals: Cooked, tilt: Floats, mass: Floats, sky: Sky
) -> dict[str, Floats]:
    """Excess over every entry of `LIMITS`, float64[design]; above zero is over.

    Parameters
    ----------
    peak : float64[design, day, node]   [K]
        Hottest of each node; the hottest of all days counts.
    meals : Cooked
        Its lukewarm time up to when the food is eaten.
    tilt : float64[design, position]   [rad]
        Axis from the zenith at some settings from the least to the greatest.
    mass : float64[design]   [kg]
        Of oven and meal, without the stand.
    """
    hottest = peak.max(axis=1)
    sheet, skin = hottest[:, Node.SHEET], hottest[:, Node.SHELL]
    skin_feel = effusivity(
        conductivity=materials.skin["conductivity"],
        density=materials.skin["density"],
        specific_heat=materials.skin["specific_heat"],
    )
    backing = np.fmin(materials.insulation["service_limit"], materials.mirror["service_limit"])
    allowance = lukewarm_allowance(sky.air_temperature.max(axis=1))
    return {
        "cover_over": hottest[:, Node.COVER_INNER] - materials.cover["service_limit"],
        "insulation_over": sheet - backing,
        "glue_over": sheet - materials.glue["service_limit"],
        "skin_over": skin - materials.skin["service_limit"],
        "touch_over": skin - touch_threshold(skin_feel, duration=TOUCH),
        "lukewarm_over": middle(meals.lukewarm - allowance, sky.day_weight),
        "wind_over": _gust(table, sky) - _safe_wind(table, tilt=tilt, mass=mass, sky=sky),
    }


def _gust(table: Table, sky: Sky) -> Floats:
    """Strongest gust at the oven: highest mean wind times its share and a gust factor. [m/s]"""
    return np.asarray(GUST_FACTOR * sky.wind_speed.max() * table["wind_share"])


def _safe_wind(table: Table, *, tilt: Floats, mass: Floats, sky: Sky) -> Floats:
    """Wind that neither tips nor slides the oven at any of its tilts. float64[design] [m/s]

    The funnel tilts about the pot's centre; its own centre of mass is taken at half the depth under the cover.
    """
    shape = shape_of(table)
    area = presented_area(mouth_area=shape.widest[:, None], side_area=shape.outline[:, None], tilt=tilt)
    lean = shape.height / 2 - table["pot_lift"] - table["pot_height"] / 2
    arm = restoring_arm(base_radius=table["base_radius"][:, None], centre_on_axis=lean[:, None], tilt=tilt)
    density = float(sky.pressure.mean() / (AIR_CONSTANT * sky.air_temperature.mean()))
    pushed: dict[str, Any] = {"mass": mass[:, None], "area": area, "air_density": density}
    tips = tipping_wind_speed(**pushed, push_height=table["axis_height"][:, None], arm=arm)
    return np.asarray(np.minimum(tips, sliding_wind_speed(**pushed)).min(axis=1))
