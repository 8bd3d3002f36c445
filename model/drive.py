"""The sun-following drive, compiled: a fin, a shaded cell, a motor that turns one way."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import kernel

Floats = NDArray[np.float64]

SUB_STEPS = 6  # of a minute: the sun moves 0.04 deg in 10 s, a tenth of a usual dead band


class ShadedCell(NamedTuple):
    """Tangents of the sun's angle across the mouth at which the motor starts and stops; rad/s; W/m2."""

    start_tangent: float
    stop_tangent: float
    speed: float
    least_dni: float


@kernel
def ahead_at(tangent: float, elevation: float, level: float, up: float) -> float:
    """Azimuth by which the sun leads the axis when its angle across the mouth has this tangent. [rad]

    level, up : horizontal and vertical part of the unit vector to the sun. With d the lead, the tangent is
    level sin(d)/(level cos(elevation) cos(d) + up sin(elevation)). The sun may stand so near the zenith that
    no lead reaches the tangent: pi is returned.
    """
    side = tangent * math.cos(elevation)
    reach = level * math.sqrt(1.0 + side * side)
    needed = tangent * up * math.sin(elevation)
    if needed >= reach:
        return math.pi
    return math.atan(side) + math.asin(needed / reach)


@kernel
def follow(
    to_sun: Floats,
    dni: Floats,
    elevation: Floats,
    way: Floats,
    cell: ShadedCell,
    step: float,
    first: int,
    last: int,
) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Azimuth [row, time] of each minute, starts of the motor [row], seconds it ran [row]. [rad], [1], [s]

    to_sun : float64[row, time, 3] east-north-up.  dni, elevation : float64[row, time].
    way : float64[row], +1 if the drive turns clockwise seen from above, -1 if not.
    The oven is first set on the sun by hand. The sun is straight-lined within a minute; the motor starts on
    a sub-step and stops exactly where the lit share falls to its lower limit.
    """
    rows, times = dni.shape
    azimuth = np.empty((rows, times))
    starts = np.zeros(rows, np.int64)
    running = np.zeros(rows)
    part = step / SUB_STEPS
    for row in range(rows):
        turned = math.atan2(to_sun[row, first, 0], to_sun[row, first, 1])
        azimuth[row, : first + 1] = turned
        on = False
        for now in range(first, last):
            for sub in range(SUB_STEPS):
                later = (sub + 1) / SUB_STEPS
                east = to_sun[row, now, 0] + later * (to_sun[row, now + 1, 0] - to_sun[row, now, 0])
                north = to_sun[row, now, 1] + later * (to_sun[row, now + 1, 1] - to_sun[row, now, 1])
                up = to_sun[row, now, 2] + later * (to_sun[row, now + 1, 2] - to_sun[row, now, 2])
                beam = dni[row, now] + later * (dni[row, now + 1] - dni[row, now])
                if up <= 0.0 or beam < cell.least_dni:
                    on = False
                    continue
                level = math.hypot(east, north)
                lead = way[row] * (math.atan2(east, north) - turned)
                lead -= 2 * math.pi * math.floor((lead + math.pi) / (2 * math.pi))
                if not on and lead > ahead_at(cell.start_tangent, elevation[row, now], level, up):
                    on = True
                    starts[row] += 1
                if on:
                    left = lead - ahead_at(cell.stop_tangent, elevation[row, now], level, up)
                    travel = min(max(left, 0.0), cell.speed * part)
                    on = left > travel
                    turned += way[row] * travel
                    running[row] += travel / cell.speed
            azimuth[row, now + 1] = turned
        azimuth[row, last + 1 :] = turned
    return azimuth, starts, running
