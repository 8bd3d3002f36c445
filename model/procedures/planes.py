"""On which plane a procedure wants the irradiance, and what a plane that faces the sun takes in."""

import numpy as np
from numpy.typing import NDArray

from ..irradiance import Irradiance

Floats = NDArray[np.float64]

FACING, LEVEL = "facing the sun", "level"
"""Planes of the procedures, both global: S580 wants the largest reading, IS 13429 that on the level aperture."""


def facing_the_sun(sunlight: Irradiance, *, elevation: Floats, albedo: float) -> Floats:
    """Global irradiance on a plane that faces the sun, under an evenly bright sky. [W/m2]

    Such a plane leans from level by 90 degrees less the sun's elevation.

    Source
    ------
    Liu, B. Y. H. and Jordan, R. C., The long-term average performance of flat-plate solar energy collectors,
    Solar Energy 7 (1963) 53-74; Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 2.15.1.
    """
    seen = (1 + np.sin(elevation)) / 2
    return np.asarray(sunlight.dni + sunlight.dhi * seen + albedo * sunlight.ghi * (1 - seen))
