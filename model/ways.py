"""Ways of aiming, described: set once, set by hand every so often, or turned by a small shaded-cell drive."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .described import Checked, DescriptionError, quantity
from .drive import FULL_BEAM, Floats, ShadedCell

_TURN = 2 * math.pi


@dataclass(frozen=True, kw_only=True)
class Fixed(Checked):
    """Set once and left."""

    fixed_azimuth: float = quantity("angle", 0.0, _TURN, "axis of an oven that is not turned, from north")
    fixed_elevation: float = quantity("angle", 0.0, math.pi / 2, "axis of an oven that is not tilted")


@dataclass(frozen=True, kw_only=True)
class ByHand(Checked):
    """Set anew every so often, a little ahead of the sun."""

    azimuth_every: float = quantity("time", 60.0, 86_400.0, "between settings of the azimuth")
    elevation_every: float | None = quantity(
        "time",
        60.0,
        86_400.0,
        "between settings of the elevation; with the azimuth if not given",
        default=None,
    )
    lead: float = quantity(
        "share",
        0.0,
        1.0,
        "how far ahead to aim: 0 at the sun, 0.5 where it is half way to the next",
        default=0.5,
    )
    azimuth_bias: float = quantity("angle", -0.5, 0.5, "constant fault of the azimuth's sight", default=0.0)
    elevation_bias: float = quantity(
        "angle", -0.5, 0.5, "constant fault of the elevation's sight", default=0.0
    )
    visit: float = quantity("time", 0.0, 3600.0, "a cook's time at the oven for one aiming", default=60.0)


@dataclass(frozen=True, kw_only=True)
class Drive(Checked):
    """A motor turns the azimuth after the sun; the elevation is set by hand.

    A fin overhangs a cell in the plane of the mouth, so that the cell is dark while the axis is on the sun.
    Once the sun has moved on by an angle e, seen across the mouth, the light reaches fin_height tan(e) of the
    cell's width. The current the cell gives a motor goes with the light on it, so what counts is the
    exposure: lit share x beam / full sun x cosine of incidence. The motor starts above one exposure and stops
    below a smaller one; a weak sun must come further round to start it. It turns one way only: the way of the
    day's sun. Only beam is followed; `assess_drive` tells how much diffuse light would keep it running.

    `DriveTrain` gives the speed from wheel and motor, `start_and_stop` the shares from cell and motor.
    """

    fin_height: float = quantity("length", 1e-3, 1.0, "edge of the fin above its cell")
    cell_width: float = quantity("length", 1e-3, 1.0, "cell, away from the fin")
    start_share: float = quantity(
        "share", 0.0, 1.0, "lit share of the cell, in full sun, that starts the motor"
    )
    stop_share: float = quantity(
        "share", 0.0, 1.0, "lit share of the cell, in full sun, below which it stops"
    )
    speed: float = quantity("angular_speed", 1e-5, 1.0, "turning speed of the oven")
    elevation_every: float = quantity("time", 60.0, 86_400.0, "between settings of the elevation")
    lead: float = quantity("share", 0.0, 1.0, "how far ahead to set the elevation", default=0.5)
    morning_azimuth: float | None = quantity(
        "angle",
        0.0,
        _TURN,
        "axis as it was left for the morning, from north; set on the sun if not given",
        default=None,
    )
    azimuth_bias: float = quantity("angle", -0.5, 0.5, "cell out of line with the axis", default=0.0)
    elevation_bias: float = quantity(
        "angle", -0.5, 0.5, "constant fault of the elevation's sight", default=0.0
    )
    visit: float = quantity("time", 0.0, 3600.0, "a cook's time at the oven for one aiming", default=60.0)

    def __post_init__(self) -> None:
        super().__post_init__()
        start, stop = self.start_share, self.stop_share
        most = math.sin(math.atan(self.cell.reach))
        faults = []
        if stop >= start:
            faults.append(
                f"drive.stop_share = {stop:g}, allowed below start_share {start:g}: else the motor chatters"
            )
        if start >= most:
            faults.append(
                f"drive.start_share = {start:g}, allowed below {most:.3g}, the most that a level sun gives a cell "
                f"{self.cell_width:g} m wide under a fin of {self.fin_height:g} m: raise the fin"
            )
        if faults:
            raise DescriptionError(faults)

    @property
    def cell(self) -> ShadedCell[float]:
        """What the kernel needs to know of it."""
        return ShadedCell(
            reach=self.fin_height / self.cell_width,
            start=self.start_share,
            stop=self.stop_share,
            speed=self.speed,
        )

    @property
    def least_dni(self) -> float:
        """Beam below which even a cell that is lit whole does not start the motor. [W/m2]"""
        return self.start_share * FULL_BEAM

    @property
    def start_angle(self) -> float:
        """Angle of a full, level sun across the mouth at which the motor starts. [rad]"""
        return math.asin(self.start_share / self.cell.reach)

    @property
    def stop_angle(self) -> float:
        """Angle of a full, level sun across the mouth at which the motor stops. [rad]"""
        return math.asin(self.stop_share / self.cell.reach)


Aiming = Fixed | ByHand | Drive


def cells_of(drives: Sequence[Drive]) -> ShadedCell[Floats]:
    """The cells of many drives, as columns."""
    return ShadedCell(*np.array([drive.cell for drive in drives], np.float64).T.copy())
