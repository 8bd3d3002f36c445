"""What aiming costs in light, traced for the design itself: off the axis, and through the days of a sky."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .aiming import Aiming, ByHand, pot_up
from .catalogue import Catalogue
from .design import Design
from .light import Optics, beam_shares, mouth_area
from .pack import optics_of_design
from .sky import Sky
from .sunlight import POT, aimed

Floats = NDArray[np.float64]

ANGLES = np.radians(np.arange(0.0, 30.5, 1.0))  # off the axis; further out any oven has lost the sun
DIRECTIONS = np.radians(np.arange(0.0, 360.0, 45.0))
OFF_AXIS_RAYS = 8192  # of each direction and angle: kept light to about 0.3 %

TRUE = ByHand(azimuth_every=60.0, elevation_every=60.0, lead=0.0)
"""Set on the sun at every whole minute: what other ways of aiming are measured by."""


class OffAxis(NamedTuple):
    """Beam that the pot takes in with the sun off the axis, over that with the sun on it.

    The cosine by which the mouth then faces the sun is in it. Directions are where the sun stands, seen by one
    who looks into the mouth: 0 to the right, pi/2 up its slope.
    """

    direction: Floats  # [direction] rad
    angle: Floats  # [angle] rad
    kept: Floats  # [direction, angle] may pass 1: a funnel need not be at its best on the axis

    @property
    def worst(self) -> Floats:
        """Least kept in any direction. float64[angle]"""
        return np.asarray(self.kept.min(axis=0))

    def ring(self, loss: float) -> float:
        """Angle within which no direction loses more than a share. [rad] nan: further than was looked at"""
        return _first_below(self.angle, self.worst, 1.0 - loss)

    def kept_within(self, angle: float) -> float:
        """Least kept anywhere within an angle of the axis. [1] nan: further than was looked at"""
        if angle > self.angle[-1]:
            return math.nan
        inside = self.angle < angle
        return float(min(self.worst[inside].min(initial=1.0), np.interp(angle, self.angle, self.worst)))


def off_axis_light(
    design: Design,
    elevation: float,
    *,
    catalogue: Catalogue,
    angles: Floats = ANGLES,
    rays: int = OFF_AXIS_RAYS,
    seed: int = 1,
) -> OffAxis:
    """How fast the pot loses the beam as the sun leaves the axis.

    Parameters
    ----------
    elevation : float   [rad]
        Of the axis: the pot hangs plumb in the tilted funnel.
    angles : float64[angle]   [rad]
        From 0, on the axis, upwards.
    """
    across, along = np.meshgrid(DIRECTIONS, angles, indexing="ij")
    to_sun = np.stack(
        [np.sin(along) * np.cos(across), np.sin(along) * np.sin(across), np.cos(along)], axis=-1
    )
    suns = to_sun.reshape(-1, 3)
    ups = np.broadcast_to(pot_up(np.array(elevation)), suns.shape)
    shares = beam_shares(optics_of_design(design, catalogue), to_sun=suns, pot_up=ups, rays=rays, seed=seed)
    power = (shares[:, POT].sum(axis=1) * suns[:, 2]).reshape(across.shape)
    return OffAxis(DIRECTIONS, np.asarray(angles), power / power[:, :1].mean())


def beam_into_pot(
    design: Design,
    aimings: Sequence[Aiming],
    sky: Sky,
    *,
    catalogue: Catalogue,
    rays: int = 32,
    seed: int = 1,
) -> Floats:
    """Beam that the pot takes in on every day, with the oven kept on the sun in each way. float64[aiming, day] [J]"""
    optics = optics_of_design(design, catalogue)
    return np.array([_beam_of(optics, aiming, sky, rays, seed) for aiming in aimings])


def _beam_of(optics: Optics, aiming: Aiming, sky: Sky, rays: int, seed: int) -> Floats:
    ways = aimed(aiming, sky)
    rows, times = ways.aim.elevation.shape
    shares = beam_shares(
        optics, to_sun=ways.to_sun.reshape(-1, 3), pot_up=ways.up.reshape(-1, 3), rays=rays, seed=seed
    )
    caught = shares[:, POT].sum(axis=1).reshape(rows, times) * np.maximum(ways.to_sun[..., 2], 0.0)
    day = np.trapezoid(sky.dni * caught[ways.row_of_day], dx=sky.step, axis=1)
    return np.asarray(mouth_area(optics) * day)


def _first_below(at: Floats, values: Floats, level: float) -> float:
    """Where a curve first falls to a level, by a straight line between its points; nan if it does not."""
    below = np.flatnonzero(values < level)
    if not below.size or below[0] == 0:
        return float(at[0]) if below.size else math.nan
    k = int(below[0])
    share = (values[k - 1] - level) / (values[k - 1] - values[k])
    return float(at[k - 1] + share * (at[k] - at[k - 1]))
