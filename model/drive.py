"""The sun-following drive, compiled: a fin, a shaded cell, a motor that turns one way."""

import math
from typing import Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from .compiled import kernel

Floats = NDArray[np.float64]
Entry = TypeVar("Entry", Floats, float)

SUB_STEPS = 6  # of a minute: the sun moves 0.04 deg in 10 s, a tenth of a usual dead band
FULL_BEAM = 1000.0  # W m-2; full sun, the irradiance at which cells are rated (IEC 60904-3)


class ShadedCell(NamedTuple, Generic[Entry]):
    """Fin over cell width; exposures at which the motor starts and stops; speed in rad/s. Of one drive, or columns."""

    reach: Entry
    start: Entry
    stop: Entry
    speed: Entry


class Following(NamedTuple):
    """What the drive did.

    azimuth : float64[drive, row, time] rad, not wrapped.  starts : int64[drive, row].
    running : float64[drive, row] s.
    """

    azimuth: Floats
    starts: NDArray[np.int64]
    running: Floats


def way_of(to_sun: Floats) -> Floats:
    """Which way the sun goes round from the first instant to the last: +1 clockwise from above, -1 not.

    float64[row, time, 3] east-north-up -> float64[row]
    """
    course = np.unwrap(np.arctan2(to_sun[..., 0], to_sun[..., 1]), axis=-1)
    return np.where(course[..., -1] >= course[..., 0], 1.0, -1.0)


@kernel
def exposure(reach: float, beam: float, lead: float, elevation: float, level: float, up: float) -> float:
    """Light on the cell over that on a whole cell square on to full sun. [1]

    lead : azimuth by which the sun is ahead of the axis.  elevation : of the axis.
    level, up : horizontal and vertical part of the unit vector to the sun.

    With e the sun's angle across the mouth, the fin's edge lets the light reach fin_height tan(e) of the
    cell's width, and no further than all of it; the light falls aslant. The sun's component along the axis
    cancels in the product of the two until all is lit. A sun on the fin's other side or behind the mouth
    lights nothing.
    """
    side = level * math.sin(lead)
    front = level * math.cos(elevation) * math.cos(lead) + up * math.sin(elevation)
    if side <= 0.0 or front <= 0.0:
        return 0.0
    return beam / FULL_BEAM * min(reach * side, front)


@kernel
def lead_at_rest(cell: ShadedCell[float], beam: float, level: float) -> float:
    """Lead of the sun down to which a running motor turns. [rad]

    A quarter turn where no lead would keep it running: `exposure` has stopped it before.
    """
    side = cell.stop * FULL_BEAM / (cell.reach * beam)
    return math.asin(min(side / level, 1.0))


@kernel
def _follow_a_day(
    to_sun: Floats,
    dni: Floats,
    elevation: Floats,
    way: float,
    cell: ShadedCell[float],
    part: float,
    window: tuple[int, int],
    azimuth: Floats,
) -> tuple[int, float]:
    """Fill the azimuths behind the first instant of one drive's day; starts of the motor, and seconds it ran."""
    first, last = window
    turned, on, starts, running = azimuth[first], False, 0, 0.0
    for now in range(first, last):
        for sub in range(SUB_STEPS):
            later = (sub + 1) / SUB_STEPS
            east = to_sun[now, 0] + later * (to_sun[now + 1, 0] - to_sun[now, 0])
            north = to_sun[now, 1] + later * (to_sun[now + 1, 1] - to_sun[now, 1])
            up = to_sun[now, 2] + later * (to_sun[now + 1, 2] - to_sun[now, 2])
            beam = dni[now] + later * (dni[now + 1] - dni[now])
            level = math.hypot(east, north)
            lead = way * (math.atan2(east, north) - turned)
            lead -= 2 * math.pi * math.floor((lead + math.pi) / (2 * math.pi))
            lit = exposure(cell.reach, beam, lead, elevation[now], level, up) if up > 0.0 else 0.0
            if not on and lit > cell.start:
                on = True
                starts += 1
            on = on and lit > cell.stop
            if on:
                left = lead - lead_at_rest(cell, beam, level)
                travel = min(max(left, 0.0), cell.speed * part)
                on = left > travel
                turned += way * travel
                running += travel / cell.speed
        azimuth[now + 1] = turned
    azimuth[last + 1 :] = turned
    return starts, running


@kernel
def follow(
    to_sun: Floats,
    dni: Floats,
    elevation: Floats,
    way: Floats,
    stands: Floats,
    cells: ShadedCell[Floats],
    step: float,
    first: int,
    last: int,
) -> Following:
    """Azimuth of each minute, starts of the motor and seconds it ran.

    to_sun : float64[row, time, 3] east-north-up.  dni : float64[row, time].  elevation : float64[drive, row, time].
    way : float64[row], +1 if the drives turn clockwise seen from above, -1 if not.
    stands : float64[drive, row], azimuth at which each is left at instant `first`.
    The sun is straight-lined within a minute; the motor starts on a sub-step and stops exactly where the
    exposure falls to its lower limit.
    """
    drives, rows, times = elevation.shape
    azimuth = np.empty((drives, rows, times))
    starts = np.zeros((drives, rows), np.int64)
    running = np.zeros((drives, rows))
    part, window = step / SUB_STEPS, (first, last)
    for drive in range(drives):
        cell = ShadedCell(cells.reach[drive], cells.start[drive], cells.stop[drive], cells.speed[drive])
        for row in range(rows):
            own = azimuth[drive, row]
            own[: first + 1] = stands[drive, row]
            done = _follow_a_day(
                to_sun[row], dni[row], elevation[drive, row], way[row], cell, part, window, own
            )
            starts[drive, row], running[drive, row] = done
    return Following(azimuth, starts, running)
