"""Where the pot hangs, and how near it comes to the funnel at every tilt."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .catalogue import Catalogue
from .design import Design
from .frame import pot_up
from .light import clearance
from .pack import optics_of_design


def trunnion_height(design: Design) -> float:
    """Middle of the pot above the back plate, or above the floor of the box, along the axis. [m]"""
    pot = design.oven.pot
    return pot.pot_lift + pot.pot_height / 2


def pot_gap(design: Design, elevation: ArrayLike, *, catalogue: Catalogue) -> NDArray[np.float64]:
    """Least distance from the plumb pot to facets, plate and cover; below zero where it cuts through. [m]

    Parameters
    ----------
    elevation : float64[setting]
        Of the optical axis, from the horizon. [rad]
    """
    settings = np.atleast_1d(np.asarray(elevation, np.float64))
    return np.asarray(clearance(optics_of_design(design, catalogue), pot_up=pot_up(settings)))
