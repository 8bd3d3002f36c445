"""Light that leaves again over the rim: how strong it is in front of the oven, and from where on it is harmless.

An upper bound: mirrors and cover are taken as perfect and the pot as black, so that every ray that is not caught
carries its full power out.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from .catalogue import Catalogue
from .design import Design
from .light import Optics, mouth_area, walk
from .pack import optics_of_design
from .sky import Sky
from .sunlight import aimed

Floats = NDArray[np.float64]

RAYS = 1 << 14  # at least a hundred in a hand's breadth of one sun a metre off a usual mouth
BOUNCES = 24  # corners of a path that are followed; what is still inside then is a thousandth
PLAIN = 1.25  # suns; the brightest of thousands of hands reads up to a tenth too much for plain sunlight
HAND = 0.05  # m; radius of the patch over which skin or paper warms: a hand's breadth
DISTANCES = np.array([0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0])  # m, from the middle of the mouth


class Stray(NamedTuple):
    """Light in front of the oven: `concentration` in suns on the brightest hand at each of `distance` [m].

    `returned` is the share of the beam at the mouth that comes out again. [1]
    """

    distance: Floats
    concentration: Floats
    returned: float

    @property
    def strongest(self) -> float:
        """Suns on the brightest hand anywhere. [1]"""
        return float(self.concentration.max())

    @property
    def plain_beyond(self) -> float:
        """Distance from which on it is no stronger than plain sun. [m] nan: not within those looked at"""
        over = np.flatnonzero(self.concentration > PLAIN)
        first = int(over[-1]) + 1 if over.size else 0
        return float(self.distance[first]) if first < len(self.distance) else float("nan")


def stray_light(
    optics: Optics, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int = RAYS, seed: int = 1
) -> Stray:
    """Light that the oven throws back, for one position of the sun.

    Parameters
    ----------
    to_sun, pot_up : float64[xyz]
        Oven frame, as for `light.walk`.

    Returns
    -------
    Stray
        Power through a hand-sized disc facing the light, brightest anywhere on the sphere of each distance around
        the middle of the mouth, over that of the sun itself.
    """
    tiers = optics.cover_interface if optics.cover_interface > 0 else len(optics.facet_count)
    points = BOUNCES * tiers  # an opening between tiers is a corner too
    place, direction = _escaping(_ideal(optics), to_sun, pot_up, rays, points, seed)
    sine = float(np.asarray(to_sun, np.float64).ravel()[2])
    watts = mouth_area(optics) * sine / rays  # of each ray, for a beam of 1 W/m2
    counts = np.array([_brightest(place, direction, distance) for distance in DISTANCES])
    return Stray(DISTANCES, counts * watts / (np.pi * HAND**2), len(place) / rays)


def stray_of_day(design: Design, sky: Sky, day: int, *, catalogue: Catalogue, every: int = 60) -> Stray:
    """The strongest stray light of a day at each distance, looked at every so many minutes.

    Parameters
    ----------
    design : Design
        One that can be built.
    day : int
        Of the sky.
    every : int   [min]
    """
    optics = optics_of_design(design, catalogue)
    way = aimed(design.aiming, sky)
    row = way.row_of_day[day]
    seen = [
        stray_light(optics, to_sun=sun, pot_up=up)
        for sun, up in zip(way.to_sun[row, ::every], way.up[row, ::every], strict=True)
        if sun[2] > 0
    ]
    if not seen:
        return Stray(DISTANCES, np.zeros_like(DISTANCES), 0.0)
    concentration = np.max([one.concentration for one in seen], axis=0)
    return Stray(DISTANCES, concentration, max(one.returned for one in seen))


def _ideal(optics: Optics) -> Optics:
    """The oven with perfect mirrors, no cover and a black pot."""
    return optics._replace(
        wall_reflectance=np.ones_like(optics.wall_reflectance),
        plate_reflectance=1.0 if optics.plate_reflectance > 0.5 else 0.0,
        cover_interface=-1,
        pot_absorptance=1.0,
    )


def _escaping(
    optics: Optics, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, points: int, seed: int
) -> tuple[Floats, Floats]:
    """Where rays that turn less than `points` corners leave the mouth, from its middle, and which way.

    float64[ray, xyz] each.
    """
    paths = walk(optics, to_sun=to_sun, pot_up=pot_up, rays=rays, points=points, seed=seed)
    corners = np.isfinite(paths[..., 0]).sum(axis=1)
    top = float(optics.top_height[0])
    index = np.arange(len(paths))
    last, before = paths[index, corners - 1], paths[index, np.maximum(corners - 2, 0)]
    out = (corners > 2) & (corners < points) & (last[:, 2] > top - 1e-9)
    step = last[out] - before[out]
    return last[out] - [0.0, 0.0, top], step / np.linalg.norm(step, axis=1, keepdims=True)


def _brightest(place: Floats, direction: Floats, distance: float) -> int:
    """Most rays through one hand on the sphere of a radius around the origin."""
    along = (place * direction).sum(axis=1)
    reach = distance**2 - (place**2).sum(axis=1) + along**2
    meets = reach > 0
    far = np.sqrt(reach[meets]) - along[meets]
    ahead = far > 0  # rays that start outside the sphere have passed it
    points = place[meets][ahead] + far[ahead, None] * direction[meets][ahead]
    if not len(points):
        return 0
    tree = cKDTree(points)
    return int(tree.query_ball_point(points, HAND, return_length=True).max())
