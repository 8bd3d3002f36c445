"""The plate of the aiming sight: how high its post is, and the rings that say what a shadow costs in light."""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import LOSSES, Sight, aim, off_axis_light
from ..kinds.aiming import AimingStudySection
from ..setting import Setting


@dataclass(frozen=True, kw_only=True, eq=False)
class Plate:
    """What is drawn on the plate of a sight. Lengths in m.

    Parameters
    ----------
    post_height, post_width : float
        Of the post; narrower, it throws no full shade.
    centred_within : float
        Shadow that counts as centred.
    loss, ring_radius, ring_angle : float64[ring]
        Share of the beam lost at the ring, its radius, and the angle between axis and sun there; nan: further than
        looked at.
    """

    post_height: float
    post_width: float
    centred_within: float
    loss: NDArray[np.float64]
    ring_radius: NDArray[np.float64]
    ring_angle: NDArray[np.float64]


def plate_of(aiming: xr.Dataset) -> Plate:
    """The plate that an aiming study has worked out."""
    return Plate(
        post_height=float(aiming["post_height"]),
        post_width=float(aiming["post_width"]),
        centred_within=float(aiming["centred_within"]),
        loss=aiming["loss"].to_numpy(),
        ring_radius=aiming["ring_radius"].to_numpy(),
        ring_angle=aiming["ring_angle"].to_numpy(),
    )


def usual_sight() -> AimingStudySection:
    """What an aiming study takes for its sight where nothing is said."""
    return AimingStudySection.model_validate({"kind": "aiming"})


def plate_for(setting: Setting, asked: AimingStudySection) -> Plate:
    """The plate of a design, by tracing how fast its pot loses the beam off the axis, and nothing else.

    The oven stands as in an aiming study: at the middle one of the elevations it is set to over all days.
    """
    sky, sight = setting.sky, Sight(post_height=asked.post_height)
    set_to = aim(setting.design.aiming, sky.to_sun[sky.day_path], dni=sky.dni, step=sky.step)
    middle = float(np.median(set_to.elevation))
    light = off_axis_light(setting.design, middle, catalogue=setting.catalogue, seed=setting.seed)
    rings = np.array([light.ring(loss) for loss in LOSSES])
    return Plate(
        post_height=sight.post_height,
        post_width=sight.least_post_width,
        centred_within=asked.centred_within,
        loss=np.array(LOSSES),
        ring_radius=sight.length(rings),
        ring_angle=rings,
    )
