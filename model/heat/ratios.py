"""What the laws ask of an oven and of its tilt at every step, worked out once."""

import math
from typing import NamedTuple

from ..compiled import inlined
from .convection import HOLLANDS_STEEPEST
from .nodes import Fabric
from .radiation import emittance_between_plates
from .roots import cube_root, fourth_root, sixth_root


class Ratios(NamedTuple):
    """Quotients of `Fabric` that the laws ask for at every step; a division costs as much as ten products."""

    per_pot_height: float  # 1/m
    per_half_radius: float  # 1/m
    disc_third: float  # length of a pot's disc over its height
    disc_fourth: float  # its power 3/4
    per_sheet_length: float  # 1/m
    per_cover_length: float  # 1/m
    per_shell_height: float  # 1/m
    per_cover_conductance: float  # m2 K/W
    gap_emittance: float  # between two panes
    plane_share: float  # area of the cover over that of the shell


@inlined
def ratios_of(build: Fabric[float]) -> Ratios:
    """What the laws need of one lane that does not change."""
    half_radius = 0.5 * build.pot_radius  # area over perimeter of a disc
    disc = half_radius / build.pot_height
    return Ratios(
        per_pot_height=1.0 / build.pot_height,
        per_half_radius=1.0 / half_radius,
        disc_third=disc,
        disc_fourth=disc / fourth_root(disc),
        per_sheet_length=1.0 / build.sheet_length,
        per_cover_length=1.0 / build.cover_length,
        per_shell_height=1.0 / build.shell_height,
        per_cover_conductance=1.0 / build.cover_conductance,
        gap_emittance=emittance_between_plates(first=build.cover_emittance, second=build.cover_emittance),
        plane_share=build.cover_area / build.shell_area,
    )


class Aim(NamedTuple):
    """What the laws ask of a tilt; as in `Forcing`."""

    cosine: float
    sine_sixth: float
    cosine_third: float
    cosine_fourth: float
    layer_cosine: float
    obliquity: float


@inlined
def aim_of(tilt: float) -> Aim:
    """Trigonometry of a tilt from zenith [rad]; a layer is taken as steep as its law goes."""
    steep = min(tilt, HOLLANDS_STEEPEST)
    level = max(math.cos(tilt), 0.0)
    return Aim(
        cosine=math.cos(tilt),
        sine_sixth=sixth_root(math.sin(tilt)),
        cosine_third=cube_root(level),
        cosine_fourth=fourth_root(level),
        layer_cosine=math.cos(steep),
        obliquity=math.sin(1.8 * steep) ** 1.6,
    )
