"""Where the pot hangs, how near it comes to the funnel at every tilt, and how near the oven comes to the ground."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .blanks.blank import regular
from .catalogue import Catalogue
from .design import Design
from .frame import pot_up
from .light import clearance
from .oven import ARCHETYPES, Oven
from .pack import optics_of_design
from .tiers import WALL_FIELDS, Wall, jacket, wall

Floats = NDArray[np.float64]


def trunnion_height(design: Design) -> float:
    """Middle of the pot above the back plate, or above the floor of the box, along the axis. [m]"""
    pot = design.oven.pot
    return pot.pot_lift + pot.pot_height / 2


def pot_gap(design: Design, elevation: ArrayLike, *, catalogue: Catalogue) -> Floats:
    """Least distance from the plumb pot to facets, plate and cover; below zero where it cuts through. [m]

    Parameters
    ----------
    elevation : float64[setting]
        Of the optical axis, from the horizon. [rad]
    """
    settings = np.atleast_1d(np.asarray(elevation, np.float64))
    return np.asarray(clearance(optics_of_design(design, catalogue), pot_up=pot_up(settings)))


def ground_gap(design: Design, elevation: ArrayLike) -> Floats:
    """Height of the lowest point of the oven over the ground as it tilts about its trunnions. [m]

    Below zero it would have to dig itself in: the trunnions are too low for that tilt. Insulation and skin count, the
    cover's frame and the base do not.

    Parameters
    ----------
    elevation : float64[setting]
        Of the optical axis, from the horizon. [rad]
    """
    settings = np.atleast_1d(np.asarray(elevation, np.float64))
    points = _outside(design.oven) - np.array([0.0, 0.0, trunnion_height(design)])
    return np.asarray(design.oven.stand.axis_height + (pot_up(settings) @ points.T).min(axis=1))


def _outside(oven: Oven) -> Floats:
    """Corners of the oven's outside in its own frame, z from the back plate or the box's floor. float64[corner, 3]"""
    thickness = oven.jacket.insulation_thickness + oven.jacket.skin_thickness
    funnel = wall(**{name: np.array([getattr(oven.funnel, name)]) for name in WALL_FIELDS})
    facets = oven.funnel.facets
    if oven.box.archetype != ARCHETYPES[1]:
        return _rings(facets, jacket(funnel, np.array([thickness])))
    box = oven.box
    sides = regular(4, box.box_across + 2 * thickness)
    levels = (-thickness, box.box_depth + thickness)
    corners = [np.column_stack([sides, np.full(4, level)]) for level in levels]
    return np.vstack([*corners, _rings(facets, funnel) + np.array([0.0, 0.0, box.box_depth])])


def _rings(facets: int, shape: Wall) -> Floats:
    """Corners of the polygons at every edge of a wall, a facet on the +y side as light has it."""
    edges = zip(shape.across[:, 0], shape.level[:, 0], strict=True)
    return np.vstack(
        [
            np.column_stack([regular(facets, float(across))[:, ::-1], np.full(facets, level)])
            for across, level in edges
        ]
    )
