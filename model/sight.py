"""The aiming sight: a post square on a plate in the mouth's plane, whose shadow vanishes when the axis is true.

Offsets lie in the oven frame: x to the right of one who looks into the mouth, y up its slope.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .constants import SUN_HALF_ANGLE
from .described import Checked, quantity
from .frame import oven_frame, to_oven_frame
from .sun import directions

Floats = NDArray[np.float64]


class Fault(NamedTuple):
    """Sun less setting, as in `Aim`. float64[...] [rad]"""

    azimuth: Floats
    elevation: Floats


@dataclass(frozen=True, kw_only=True)
class Sight(Checked):
    """A post over a plate."""

    post_height: float = quantity("length", 1e-3, 2.0, "tip of the post above its plate")

    def offset(self, fault: Fault, elevation: ArrayLike) -> Floats:
        """Where the tip's shadow falls from the post's foot, with the axis at `elevation`. float64[..., 2] [m]

        The shadow points away from the sun: to y above zero, up the slope, when the sun stands lower than the
        axis. nan where the sun is behind the plate.
        """
        axis = np.asarray(elevation, np.float64)
        sun = directions(*np.broadcast_arrays(fault.azimuth, axis + fault.elevation))
        east, up, front = np.moveaxis(to_oven_frame(sun, np.zeros(()), axis), -1, 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            shadow = -self.post_height * np.stack([east, up], axis=-1) / front[..., None]
        return np.where(front[..., None] > 0, shadow, np.nan)

    def fault(self, offset: ArrayLike, elevation: ArrayLike) -> Fault:
        """Error in both axes of which the shadow's offset tells; the inverse of `offset`."""
        shadow, axis = np.asarray(offset, np.float64), np.asarray(elevation, np.float64)
        height = np.full(shadow.shape[:-1], self.post_height)
        sun = np.stack([-shadow[..., 0], -shadow[..., 1], height], axis=-1)
        east, north, up = np.moveaxis(
            np.einsum("...ji,...j->...i", oven_frame(np.zeros(()), axis), sun), -1, 0
        )
        return Fault(
            azimuth=np.asarray(np.arctan2(east, north)),
            elevation=np.asarray(np.arctan2(up, np.hypot(east, north)) - axis),
        )

    def length(self, off_axis: ArrayLike) -> Floats:
        """Shadow of the post with the sun this far from the axis. [m]"""
        return np.asarray(self.post_height * np.tan(off_axis))

    def within(self, length: ArrayLike) -> Floats:
        """Angle between axis and sun when the shadow is centred within a length. [rad]"""
        return np.asarray(np.arctan(np.asarray(length, np.float64) / self.post_height))

    def azimuth_within(self, length: ArrayLike, elevation: ArrayLike) -> Floats:
        """Error in azimuth that keeps the shadow within a length to the side; half a turn where any does. [rad]

        The steeper the axis, the more azimuth one millimetre hides. The axis has the sun's elevation.
        """
        # Sideways over ahead is cos(e) sin(d) / (cos(e)^2 cos(d) + sin(e)^2), solved for d.
        tangent = np.asarray(length, np.float64) / self.post_height
        flat, up = np.cos(elevation), np.sin(elevation)
        reach = flat * np.hypot(1.0, tangent * flat)
        needed = tangent * up**2
        seen = needed < reach
        lead = np.arctan(tangent * flat) + np.arcsin(np.where(seen, needed / np.where(seen, reach, 1.0), 0.0))
        return np.asarray(np.where(seen, lead, math.pi))

    def blur(self, off_axis: ArrayLike = 0.0) -> Floats:
        """Width of the half-shade at the shadow's tip, along the shadow; the sun is a disc. [m]"""
        angle = np.asarray(off_axis, np.float64)
        return np.asarray(
            self.post_height * (np.tan(angle + SUN_HALF_ANGLE) - np.tan(angle - SUN_HALF_ANGLE))
        )

    @property
    def least_post_width(self) -> float:
        """Narrower, the post's tip throws no full shade on the plate. [m]"""
        return 2 * self.post_height * math.tan(SUN_HALF_ANGLE)
