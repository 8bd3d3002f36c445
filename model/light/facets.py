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

import math
from collections.abc import Callable, Sequence
from enum import IntEnum
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..constants import SUN_HALF_ANGLE

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


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


def funnel(
    *,
    facets: int,
    mouth: float,
    depth: float,
    facet_angle: float,
    pot_radius: float,
    pot_height: float,
    pot_centre: float,
    wall_reflectance: float = 1.0,
    wall_slope_error: float = 0.0,
    plate_reflectance: float = 1.0,
    plate_slope_error: float = 0.0,
    cover_panes: int = 0,
    cover_index: float = 1.526,
    cover_extinction_length: float = 0.0,
    pot_absorptance: float = 1.0,
    sun_half_angle: float = SUN_HALF_ANGLE,
) -> Optics:
    """A single frustum, `mouth` across flats and `depth` deep, under no, one or two panes.

    Ideal unless told otherwise: perfect mirrors, no cover, a black pot.

    Raises
    ------
    ValueError
        If the facets meet before they reach the back plate, or a number is out of range.
    """
    throat = mouth - 2.0 * depth * math.tan(facet_angle)
    return stack(
        facets=[facets],
        across=[(mouth, throat)],
        heights=[depth, 0.0],
        wall_reflectance=[wall_reflectance],
        wall_slope_error=[wall_slope_error],
        plate_reflectance=plate_reflectance,
        plate_slope_error=plate_slope_error,
        cover_interface=0 if cover_panes else -1,
        cover_index=cover_index,
        cover_extinction_length=cover_extinction_length,
        cover_panes=max(cover_panes, 1),
        pot_radius=pot_radius,
        pot_height=pot_height,
        pot_centre=pot_centre,
        pot_absorptance=pot_absorptance,
        sun_half_angle=sun_half_angle,
    )


def stack(
    *,
    facets: Sequence[int],
    across: Sequence[tuple[float, float]],
    heights: Sequence[float],
    wall_reflectance: Sequence[float],
    wall_slope_error: Sequence[float],
    plate_reflectance: float,
    plate_slope_error: float,
    cover_interface: int,
    cover_index: float,
    cover_extinction_length: float,
    cover_panes: int,
    pot_radius: float,
    pot_height: float,
    pot_centre: float,
    pot_absorptance: float,
    sun_half_angle: float,
) -> Optics:
    """Cells from the mouth inwards.

    Parameters
    ----------
    across : (top, bottom) of each cell   [m]
    heights : heights of the interfaces from the mouth down to 0, one more than the cells   [m]

    Raises
    ------
    ValueError
        If a number is out of range; see `checked`.
    """
    flats = np.array(across, dtype=np.float64).reshape(-1, 2)
    levels = np.array(heights, dtype=np.float64)
    return checked(
        Optics(
            facet_count=np.array(facets, dtype=np.int64),
            top_across=flats[:, 0].copy(),
            bottom_across=flats[:, 1].copy(),
            top_height=levels[:-1].copy(),
            bottom_height=levels[1:].copy(),
            wall_reflectance=np.array(wall_reflectance, dtype=np.float64),
            wall_slope_error=np.array(wall_slope_error, dtype=np.float64),
            plate_reflectance=float(plate_reflectance),
            plate_slope_error=float(plate_slope_error),
            cover_interface=int(cover_interface),
            cover_index=float(cover_index),
            cover_extinction_length=float(cover_extinction_length),
            cover_panes=int(cover_panes),
            pot_radius=float(pot_radius),
            pot_height=float(pot_height),
            pot_centre=float(pot_centre),
            pot_absorptance=float(pot_absorptance),
            sun_half_angle=float(sun_half_angle),
        )
    )


def checked(optics: Optics) -> Optics:
    """The same optics, if every number in it makes sense.

    Raises
    ------
    ValueError
        Naming the field, its value and what is allowed.
    """
    cells = optics.facet_count.shape[0]
    for name, column in zip(optics._fields[:7], optics[:7], strict=True):
        if np.shape(column) != (cells,) or cells == 0:
            raise ValueError(
                f"{name} has shape {np.shape(column)}, needs one value for each of {cells} cells"
            )
    for name, (allowed, fine) in _RANGES.items():
        value = getattr(optics, name)
        sound = fine(value)
        if not (sound.all() if isinstance(sound, np.ndarray) else sound):
            raise ValueError(f"{name} = {value}, allowed {allowed}")
    tops, bottoms = optics.top_height, optics.bottom_height
    if not (np.all(tops > bottoms) and bottoms[-1] == 0.0 and np.array_equal(tops[1:], bottoms[:-1])):
        raise ValueError(f"heights {tops} to {bottoms} do not run unbroken from the mouth down to 0")
    if not -1 <= optics.cover_interface < cells:
        raise ValueError(f"cover_interface = {optics.cover_interface}, allowed -1 to {cells - 1}")
    return optics


Fine = Callable[[Any], Any]  # a value or column, to whether it is in range

_ACROSS: Final[tuple[str, Fine]] = (
    "(0, 100] m (the facets must not meet above the back plate)",
    lambda v: (v > 0.0) & (v <= 100.0),
)
_SHARE: Final[tuple[str, Fine]] = "[0, 1]", lambda v: (v >= 0.0) & (v <= 1.0)
_SLOPE: Final[tuple[str, Fine]] = "[0, 0.3] rad", lambda v: (v >= 0.0) & (v <= 0.3)
_LENGTH: Final[tuple[str, Fine]] = "above 0 m", lambda v: (v > 0.0) & np.isfinite(v)
_RANGES: Final[dict[str, tuple[str, Fine]]] = {
    "facet_count": ("3 to 24", lambda v: (v >= 3) & (v <= 24)),
    "top_across": _ACROSS,
    "bottom_across": _ACROSS,
    "wall_reflectance": _SHARE,
    "wall_slope_error": _SLOPE,
    "plate_reflectance": _SHARE,
    "plate_slope_error": _SLOPE,
    "cover_index": ("(1, 4]", lambda v: (v > 1.0) & (v <= 4.0)),
    "cover_extinction_length": ("0 or more", lambda v: (v >= 0.0) & np.isfinite(v)),
    "cover_panes": ("1 or 2", lambda v: (v == 1) | (v == 2)),
    "pot_radius": _LENGTH,
    "pot_height": _LENGTH,
    "pot_centre": _LENGTH,
    "pot_absorptance": _SHARE,
    "sun_half_angle": ("[0, 0.1] rad", lambda v: (v >= 0.0) & (v <= 0.1)),
}


def flare(optics: Optics) -> Array:
    """Tangent of the facet angle of each cell, float64[cell]; positive where it opens upwards. [-]"""
    rise = optics.top_height - optics.bottom_height
    return 0.5 * (optics.top_across - optics.bottom_across) / rise


def slant_height(optics: Optics) -> Array:
    """Length of each cell's facets along their middle line, float64[cell]. [m]"""
    return (optics.top_height - optics.bottom_height) * np.sqrt(1.0 + flare(optics) ** 2)


def cavity(optics: Optics) -> Optics:
    """The part of the stack under the cover, with the cover now over its mouth.

    Without a cover, or with one over the mouth, that is the whole stack.
    """
    first = max(optics.cover_interface, 0)
    return _cells(optics, slice(first, None))._replace(cover_interface=min(optics.cover_interface, 0))


def _cells(optics: Optics, chosen: slice) -> Optics:
    """The same oven with only some of its cells."""
    return optics._replace(**{name: getattr(optics, name)[chosen] for name in optics._fields[:7]})


def polygon_area(facets: int, across: float) -> float:
    """Area of a regular polygon from its width across flats. [m2]"""
    return 0.25 * facets * math.tan(math.pi / facets) * across**2


def mouth_area(optics: Optics) -> float:
    """Area of the open end of the first cell. [m2]"""
    return polygon_area(int(optics.facet_count[0]), float(optics.top_across[0]))


def plate_area(optics: Optics) -> float:
    """Area of the back plate. [m2]"""
    return polygon_area(int(optics.facet_count[-1]), float(optics.bottom_across[-1]))


def wall_area(optics: Optics) -> float:
    """Area of all facets and ledges of the stack; of `cavity(optics)` for those under the cover. [m2]"""
    ledges = sum(_ledge_area(optics, k) for k in range(1, len(optics.facet_count)))
    return float(facet_area(optics).sum()) + ledges


def facet_area(optics: Optics) -> Array:
    """Area of all facets of each cell, float64[cell]. [m2]"""
    corners = optics.facet_count * np.tan(np.pi / optics.facet_count)
    return 0.5 * corners * (optics.top_across + optics.bottom_across) * slant_height(optics)


def _ledge_area(optics: Optics, interface: int) -> float:
    """Area of both polygons that meet at an interface, less twice what they share. [m2]"""
    upper = (int(optics.facet_count[interface - 1]), float(optics.bottom_across[interface - 1]))
    lower = (int(optics.facet_count[interface]), float(optics.top_across[interface]))
    shared = opening_area(upper, lower)
    return polygon_area(*upper) + polygon_area(*lower) - 2.0 * shared


def ledge_flags(optics: Optics) -> Ints:
    """Whether something of a cell's upper or lower end is left outside the opening, int64[cell, end]."""
    ledge = np.zeros((len(optics.facet_count), 2), dtype=np.int64)
    other_kind = optics.facet_count[1:] != optics.facet_count[:-1]
    ledge[1:, 0] = other_kind | (optics.top_across[1:] > optics.bottom_across[:-1])
    ledge[:-1, 1] = other_kind | (optics.bottom_across[:-1] > optics.top_across[1:])
    return ledge


def opening_area(one: tuple[int, float], other: tuple[int, float]) -> float:
    """Area common to two concentric polygons given as (facets, across flats). [m2]

    In polar form: between corners of the radius 1 / max over facets of cos(azimuth - facet) / apothem,
    the area is the sum of triangles. Exact, as all corners of the shared outline are listed.
    """
    if one[0] == other[0]:
        return min(polygon_area(*one), polygon_area(*other))
    normals = np.concatenate([_facet_normals(n) / (0.5 * across) for n, across in (one, other)])
    first, second = np.triu_indices(len(normals), 1)
    cross = normals[first, 0] * normals[second, 1] - normals[first, 1] * normals[second, 0]
    meets = np.abs(cross) > 1e-9 * np.abs(normals).max() ** 2  # parallel facets have no corner
    a, b, c = normals[first][meets], normals[second][meets], cross[meets]
    corners = np.stack([b[:, 1] - a[:, 1], a[:, 0] - b[:, 0]], axis=1) / c[:, None]
    corners = corners[(corners @ normals.T).max(axis=1) <= 1.0 + 1e-12]
    x, y = corners[np.argsort(np.arctan2(corners[:, 1], corners[:, 0]))].T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _facet_normals(facets: int) -> Array:
    """Horizontal outward directions of the facet middles, float64[facet, xy]."""
    azimuth = 2.0 * np.pi * np.arange(facets) / facets
    return np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
