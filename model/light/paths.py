"""Ways of chosen rays, to be drawn: the tracer's own flights, with what each meets and what goes on from there."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..compiled import kernel
from .facets import Array, Ints, Optics, Surface
from .intake import sun_and_pot
from .ovens import side_by_side
from .rays import BLOCK, no_rays
from .sampling import Sample, sample
from .scene import PASSING, Scenes, in_sunlight, scene_of
from .starts import enter
from .trace import in_opening, trace

NOWHERE = -1
"""In place of a `Surface`: the start on the mouth, an opening between cells, or past the end."""

_MANY = 256  # corners that are followed; mirrors leave nothing worth drawing after a tenth of them
ON_THE_COVER = 1e-9  # m; rounding


class Paths(NamedTuple):
    """Ways of rays, oven frame."""

    corners: Array  # [ray, point, xyz] m; the first on the mouth, nan after the end
    surface: Ints  # [ray, point] `Surface` that is met there, or `NOWHERE`
    power: (
        Array  # [ray, point] what goes on from there, of the power that came to the mouth; nan after the end
    )
    ends: Ints  # [ray] `Surface` that each ends on


@kernel
def _follow(
    scenes: Scenes,
    starts: Array,
    rows: tuple[Array, Array],
    sample: Sample,
    shares: Array,
    paths: Array,
) -> None:
    """Take one oven's rays from their places on the mouth to their ends; `rows` are the sun and the pot's axis."""
    suns, ups = rows
    scene, rays = scene_of(scenes, 0), no_rays(scenes.top.shape[1])
    count = starts.shape[0]
    for i in range(count):
        rays.x[0, i], rays.y[0, i], rays.z[0, i] = starts[i, 0], starts[i, 1], scene.top[0]
        rays.dx[0, i], rays.dy[0, i], rays.dz[0, i] = -suns[0, 0], -suns[0, 1], -suns[0, 2]
        rays.number[0, i], rays.flights[0, i] = i, 0
    rays.waiting[0] = count
    enter(scene, rays, sample, (0, count), ups, shares, paths)
    trace(scene, rays, sample, shares, paths)


def in_section(optics: Optics, rays: int) -> Array:
    """Places evenly along the mouth's line from the lower edge to the upper, float64[ray, xy]. [m]

    In the plane of y and z, which cuts facet 0 in its middle. A funnel of an odd number of facets has a corner, not
    a facet, on its lower side.
    """
    facets, high = int(optics.facet_count[0]), 0.5 * float(optics.top_across[0])
    low = high if facets % 2 == 0 else high / math.cos(math.pi / facets)
    y = -low + (high + low) * (np.arange(rays) + 0.5) / rays
    return np.column_stack([np.zeros(rays), y])


def ray_paths(
    optics: Optics, *, starts: ArrayLike, to_sun: ArrayLike, pot_up: ArrayLike, seed: int = 1
) -> Paths:
    """Where rays from the middle of the sun go that come to given places on the mouth.

    What they draw on the way - the waviness where they strike, whether a faint one goes on - is as in every other
    trace: the more rays, the nearer their `ends` come to the shares of light.

    Parameters
    ----------
    starts : float64[ray, xy]   [m]
        Inside the mouth.
    to_sun, pot_up : float64[xyz]
        As for `walk`.

    Raises
    ------
    ValueError
        No ray or too many, or one that starts beside the mouth; an array of the wrong shape.
    """
    rows = sun_and_pot(np.atleast_2d(to_sun), np.atleast_2d(pot_up))
    places = np.ascontiguousarray(starts, np.float64)
    if places.ndim != 2 or places.shape[1] != 2 or not 0 < len(places) <= BLOCK:
        raise ValueError(f"starts has shape {places.shape}, needs (1 to {BLOCK}, 2)")
    oven = in_sunlight(side_by_side([optics]))
    _check_inside(optics, places)
    found = np.full((len(places), _MANY, 5), np.nan)
    shares = np.zeros((1, len(Surface)))
    _follow(oven.scenes, places, rows, sample(1, rays=len(places), seed=seed), shares, found)
    used = int(np.isfinite(found[..., 0]).sum(axis=1).max())
    return _told(optics, found[:, :used], oven.scenes.surface)


def _check_inside(optics: Optics, places: Array) -> None:
    facets, out = int(optics.facet_count[0]), 0.5 * float(optics.top_across[0])
    azimuth = 2.0 * np.pi * np.arange(facets) / facets
    normal = np.sin(azimuth), np.cos(azimuth)
    for x, y in places.tolist():
        if not in_opening(*normal, facets, out, x, y):
            raise ValueError(f"starts has ({x:g}, {y:g}) m, beside a mouth of {2 * out:g} m across the flats")


def _told(optics: Optics, found: Array, booked: Ints) -> Paths:
    """What the kernel kept, with endings as surfaces."""
    met = np.nan_to_num(found[..., 3], nan=PASSING).astype(np.int64)
    at_cover = np.abs(found[..., 2] - _level(optics)) < ON_THE_COVER
    surface = np.where((met == PASSING) & ~at_cover, NOWHERE, booked[met])
    surface[:, 0] = NOWHERE
    power = found[..., 4].copy()
    last = np.isfinite(found[..., 0]).sum(axis=1) - 1
    ends = np.where(last > 0, surface[np.arange(len(found)), last], int(Surface.LOST))
    # A clear cover over the mouth lets out more of what comes to it from within than it keeps.
    ends = np.where((ends == Surface.COVER) & (optics.cover_interface == 0), int(Surface.LOST), ends)
    return Paths(found[..., :3].copy(), surface, power, ends)


def _level(optics: Optics) -> float:
    """Height of the cover above the back plate; nan without one. [m]"""
    return math.nan if optics.cover_interface < 0 else float(optics.top_height[optics.cover_interface])
