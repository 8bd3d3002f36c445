r"""The shape of an oven: regular n-gon frusta stacked along the optical axis.

             ______________   mouth: top of cell 0, plane across the optical axis
             \            /
       cell 0 \    pot   /    facets lean out by the facet angle, measured from the axis
               \________/     interface 1
               |        |
       cell 1  |        |
               |________|     back plate: bottom of the last cell, z = 0

Oven frame: z along the optical axis, out of the mouth. Azimuth runs from +y towards
+x (clockwise seen from outside the mouth); the middle of facet j of n stands at
azimuth 2 pi j / n, so facet 0 is on the +y side. "Across flats" is twice the apothem.
Two cells meet in an opening, the polygon common to both; what is left of the wider
cell's end is a ledge, of the wider cell's mirror.
"""

from enum import IntEnum
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST_FACETS: Final = 3
MOST_FACETS: Final = 24


class Surface(IntEnum):
    """Where light ends, in the order of the columns of every share."""

    LID = 0
    SIDE = 1
    BOTTOM = 2
    WALLS = 3
    PLATE = 4
    COVER = 5
    LOST = 6


class Optics(NamedTuple):
    """All that light needs to know of an oven. Lengths in m, angles in rad.

    Parameters
    ----------
    facet_count : int64[cell]
        Facets of each cell from the mouth inwards, 3 to 24.
    top_across, bottom_across : float64[cell]   [m]
        Width across flats at the two ends of each cell.
    top_height, bottom_height : float64[cell]   [m]
        Height of the two ends above the back plate; the last bottom is 0.
    wall_reflectance, wall_slope_error : float64[cell]   [-, rad]
        Specular reflectance, and standard deviation of the normal about each of two axes.
    plate_reflectance, plate_slope_error : float   [-, rad]
    cover_interface : int
        0 over the mouth, k on top of cell k, -1 for none.
    cover_index, cover_extinction_length : float   [-, -]
        Refractive index; extinction coefficient times thickness of one pane.
    cover_panes : int
    pot_radius, pot_height, pot_centre : float   [m, m, m]
        Closed cylinder, its centre on the optical axis at height `pot_centre`.
    pot_absorptance : float   [-]
        Solar absorptance of its whole surface; the rest leaves diffusely.
    sun_half_angle : float   [rad]
        Radius of the evenly bright solar disc.
    """

    facet_count: Ints
    top_across: Array
    bottom_across: Array
    top_height: Array
    bottom_height: Array
    wall_reflectance: Array
    wall_slope_error: Array
    plate_reflectance: float
    plate_slope_error: float
    cover_interface: int
    cover_index: float
    cover_extinction_length: float
    cover_panes: int
    pot_radius: float
    pot_height: float
    pot_centre: float
    pot_absorptance: float
    sun_half_angle: float


class Ovens(NamedTuple):
    """Many ovens: the fields of `Optics`, each with one axis more in front.

    `cells` of an oven count; the columns behind them repeat its last cell.
    """

    cells: Ints  # [oven]
    facet_count: Ints  # [oven, cell]
    top_across: Array  # [oven, cell]
    bottom_across: Array  # [oven, cell]
    top_height: Array  # [oven, cell]
    bottom_height: Array  # [oven, cell]
    wall_reflectance: Array  # [oven, cell]
    wall_slope_error: Array  # [oven, cell]
    plate_reflectance: Array  # [oven], as all below
    plate_slope_error: Array
    cover_interface: Ints
    cover_index: Array
    cover_extinction_length: Array
    cover_panes: Ints
    pot_radius: Array
    pot_height: Array
    pot_centre: Array
    pot_absorptance: Array
    sun_half_angle: Array

    def take(self, rows: Ints) -> "Ovens":
        """Some of them, or some of them again."""
        columns: Any = (column[rows] for column in self)
        return Ovens(*columns)


def flare(ovens: Optics | Ovens) -> Array:
    """Tangent of the facet angle of each cell, float64[..., cell]; positive where it opens upwards. [-]"""
    rise = ovens.top_height - ovens.bottom_height
    return 0.5 * (ovens.top_across - ovens.bottom_across) / rise


def slant_height(ovens: Optics | Ovens) -> Array:
    """Length of each cell's facets along their middle line, float64[..., cell]. [m]"""
    return (ovens.top_height - ovens.bottom_height) * np.sqrt(1.0 + flare(ovens) ** 2)


def polygon_area(facets: Ints | int, across: Array | float) -> Array:
    """Area of regular polygons from their widths across flats. [m2]"""
    return np.asarray(0.25 * facets * np.tan(np.pi / facets) * across**2)


def mouth_area(optics: Optics) -> float:
    """Area of the open end of the first cell. [m2]"""
    return float(polygon_area(int(optics.facet_count[0]), float(optics.top_across[0])))


def mouth_areas(ovens: Ovens) -> Array:
    """The same of many ovens, float64[oven]. [m2]"""
    return polygon_area(ovens.facet_count[:, 0], ovens.top_across[:, 0])


def plate_area(optics: Optics) -> float:
    """Area of the back plate. [m2]"""
    return float(polygon_area(int(optics.facet_count[-1]), float(optics.bottom_across[-1])))


def wall_area(optics: Optics) -> float:
    """Area of all facets and ledges of the stack; of `cavity(optics)` for those under the cover. [m2]"""
    ledges = sum(_ledge_area(optics, k) for k in range(1, len(optics.facet_count)))
    return float(facet_area(optics).sum()) + ledges


def facet_area(ovens: Optics | Ovens) -> Array:
    """Area of all facets of each cell, float64[..., cell]. [m2]"""
    corners = ovens.facet_count * np.tan(np.pi / ovens.facet_count)
    return 0.5 * corners * (ovens.top_across + ovens.bottom_across) * slant_height(ovens)


def _ledge_area(optics: Optics, interface: int) -> float:
    """Area of both polygons that meet at an interface, less twice what they share. [m2]"""
    upper = (int(optics.facet_count[interface - 1]), float(optics.bottom_across[interface - 1]))
    lower = (int(optics.facet_count[interface]), float(optics.top_across[interface]))
    shared = opening_area(upper, lower)
    return float(polygon_area(*upper) + polygon_area(*lower)) - 2.0 * shared


def ledge_flags(ovens: Ovens) -> Ints:
    """Whether something of a cell's upper or lower end is left outside the opening, int64[oven, cell, end]."""
    count, above, below = ovens.facet_count, ovens.bottom_across[:, :-1], ovens.top_across[:, 1:]
    ledge = np.zeros((*count.shape, 2), dtype=np.int64)
    meets = np.arange(1, count.shape[1]) < ovens.cells[:, None]
    other_kind = count[:, 1:] != count[:, :-1]
    ledge[:, 1:, 0] = meets & (other_kind | (below > above))
    ledge[:, :-1, 1] = meets & (other_kind | (above > below))
    return ledge


def opening_area(one: tuple[int, float], other: tuple[int, float]) -> float:
    """Area common to two concentric polygons given as (facets, across flats). [m2]

    In polar form: between corners of the radius 1 / max over facets of cos(azimuth - facet) / apothem,
    the area is the sum of triangles. Exact, as all corners of the shared outline are listed.
    """
    if one[0] == other[0]:
        return float(min(polygon_area(*one), polygon_area(*other)))
    normals = np.concatenate([facing()[:, n, :n].T / (0.5 * across) for n, across in (one, other)])
    first, second = np.triu_indices(len(normals), 1)
    cross = normals[first, 0] * normals[second, 1] - normals[first, 1] * normals[second, 0]
    meets = np.abs(cross) > 1e-9 * np.abs(normals).max() ** 2  # parallel facets have no corner
    a, b, c = normals[first][meets], normals[second][meets], cross[meets]
    corners = np.stack([b[:, 1] - a[:, 1], a[:, 0] - b[:, 0]], axis=1) / c[:, None]
    corners = corners[(corners @ normals.T).max(axis=1) <= 1.0 + 1e-12]
    x, y = corners[np.argsort(np.arctan2(corners[:, 1], corners[:, 0]))].T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


@cache
def facing() -> Array:
    """Horizontal outward directions of the facets of every regular polygon, float64[xy, facets, facet].

    Spare columns repeat facet 0.
    """
    count, facet = np.arange(MOST_FACETS + 1)[:, None], np.arange(MOST_FACETS)
    azimuth = 2.0 * np.pi * np.where(facet < count, facet, 0) / np.maximum(count, 1)
    return np.stack([np.sin(azimuth), np.cos(azimuth)])
