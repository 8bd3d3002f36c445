"""Ovens made, checked, and set side by side for the kernels that take many in one call."""

import math
from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np

from ..constants import SUN_HALF_ANGLE
from .facets import FEWEST_FACETS, MOST_FACETS, Optics, Ovens

_PER_CELL: Final = Optics._fields[:7]


def side_by_side(ovens: Sequence[Optics]) -> Ovens:
    """Ovens of any shapes as one.

    Raises
    ------
    ValueError
        If an oven's columns differ in length.
    """
    cells = np.array([_cells(oven) for oven in ovens], np.int64)
    place = np.minimum(np.arange(cells.max()), cells[:, None] - 1)
    columns: dict[str, Any] = {}
    for name in Optics._fields:
        values = [getattr(oven, name) for oven in ovens]
        if name in _PER_CELL:
            values = [value[row] for value, row in zip(values, place, strict=True)]
        columns[name] = np.array(values)
    return Ovens(cells, **columns)


def _cells(optics: Optics) -> int:
    """How many cells an oven has, if its columns agree."""
    cells = len(optics.facet_count)
    for name in _PER_CELL:
        shape = np.shape(getattr(optics, name))
        if shape != (cells,) or cells == 0:
            raise ValueError(f"{name} has shape {shape}, needs one value for each of {cells} cells")
    return cells


def oven_of(ovens: Ovens, row: int) -> Optics:
    """One of many, by itself."""
    cells = int(ovens.cells[row])
    one = {name: getattr(ovens, name)[row] for name in Optics._fields}
    return Optics(**{n: v[:cells].copy() if n in _PER_CELL else v.item() for n, v in one.items()})


def cavities(ovens: Ovens) -> Ovens:
    """The part of each stack under the cover, with the cover now over its mouth.

    Without a cover, or with one over the mouth, that is the whole stack.
    """
    first = np.maximum(ovens.cover_interface, 0)
    kept = np.minimum(first[:, None] + np.arange(ovens.facet_count.shape[1]), ovens.cells[:, None] - 1)
    inner = {name: np.take_along_axis(getattr(ovens, name), kept, axis=1) for name in _PER_CELL}
    return ovens._replace(
        cells=ovens.cells - first, cover_interface=np.minimum(ovens.cover_interface, 0), **inner
    )


def cavity(optics: Optics) -> Optics:
    """The part of one stack under the cover; see `cavities`."""
    return oven_of(cavities(side_by_side([optics])), 0)


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
    optics = Optics(
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
    checked(side_by_side([optics]))
    return optics


def checked(ovens: Ovens) -> Ovens:
    """The same ovens, if every number in them makes sense.

    Raises
    ------
    ValueError
        Naming the field, its value in the first oven that is out of range, and what is allowed.
    """
    for name, (allowed, fine) in _RANGES.items():
        sound = fine(getattr(ovens, name))
        if not sound.all():
            first = int(np.argwhere(~sound)[0, 0])
            raise ValueError(f"{name} = {getattr(oven_of(ovens, first), name)}, allowed {allowed}")
    tops, bottoms = ovens.top_height, ovens.bottom_height
    joined = (tops[:, 1:] == bottoms[:, :-1]) | (np.arange(1, tops.shape[1]) >= ovens.cells[:, None])
    astray = ~((tops > bottoms).all(axis=1) & (bottoms[:, -1] == 0.0) & joined.all(axis=1))
    if astray.any():
        one = oven_of(ovens, int(astray.argmax()))
        raise ValueError(
            f"heights {one.top_height} to {one.bottom_height} do not run unbroken from the mouth down to 0"
        )
    astray = (ovens.cover_interface < -1) | (ovens.cover_interface >= ovens.cells)
    if astray.any():
        row = int(astray.argmax())
        raise ValueError(
            f"cover_interface = {ovens.cover_interface[row]}, allowed -1 to {ovens.cells[row] - 1}"
        )
    return ovens


Fine = Callable[[Any], Any]  # a column, to whether each value is in range

_ACROSS: Final[tuple[str, Fine]] = (
    "(0, 100] m (the facets must not meet above the back plate)",
    lambda v: (v > 0.0) & (v <= 100.0),
)
_SHARE: Final[tuple[str, Fine]] = "[0, 1]", lambda v: (v >= 0.0) & (v <= 1.0)
_SLOPE: Final[tuple[str, Fine]] = "[0, 0.3] rad", lambda v: (v >= 0.0) & (v <= 0.3)
_LENGTH: Final[tuple[str, Fine]] = "above 0 m", lambda v: (v > 0.0) & np.isfinite(v)
_RANGES: Final[dict[str, tuple[str, Fine]]] = {
    "facet_count": (
        f"{FEWEST_FACETS} to {MOST_FACETS}",
        lambda v: (v >= FEWEST_FACETS) & (v <= MOST_FACETS),
    ),
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
