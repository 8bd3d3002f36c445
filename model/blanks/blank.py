"""One piece to cut, lying flat."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CIRCLE_CORNERS = 720  # of a polygon that stands for a circle: inside it by 0.01 mm at a radius of 1 m


class Mark(NamedTuple):
    """A line to mark on a piece, not to cut, and what stands beside its first point."""

    points: Floats  # [point, 2] m
    text: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Blank:
    """A flat piece: its outline, what is cut out of it, where it is folded, and how its edges are bevelled.

    Parameters
    ----------
    name : str
        What the piece is, for example "facet, tier 1".
    part : str
        Field of the oven that names its material: mirror, cover, insulation, skin.
    material : str
        That name in the catalogue.
    thickness : float   [m]
    count : int
        Pieces like this in one oven.
    outline : float64[corner, 2]   [m]
        Of the larger face, counter-clockwise; edge k runs from corner k to the next.
    inner : float64[corner, 2]   [m]
        Of the smaller face over the same corners, where edges are bevelled; else the outline.
    holes : tuple of float64[corner, 2]   [m]
    folds : tuple of (float64[2, 2], float)   [m, rad]
        Fold lines, and by how much the sheet turns there; above zero the face that is drawn comes inside the fold.
    marks : tuple of Mark
        Lines to mark, such as degrees on the turning base.
    across : float   [m]
        Of a round piece, whose outline is a polygon of many corners; 0 where the sides are straight.
    note : str
        What to mind when cutting or folding it.
    """

    name: str
    part: str
    material: str
    thickness: float
    count: int
    outline: Floats
    inner: Floats
    holes: tuple[Floats, ...] = ()
    folds: tuple[tuple[Floats, float], ...] = ()
    marks: tuple[Mark, ...] = ()
    across: float = 0.0
    note: str = field(default="")

    @property
    def area(self) -> float:
        """Of one piece, holes taken out, by its outline. [m2]"""
        return polygon_area(self.outline) - sum(polygon_area(hole) for hole in self.holes)

    @property
    def volume(self) -> float:
        """Of one piece: bevels are even, so a prismoid; Simpson's rule is exact for it. [m3]"""
        middle = (self.outline + self.inner) / 2 if len(self.outline) == len(self.inner) else self.outline
        faces = polygon_area(self.outline) + 4 * polygon_area(middle) + polygon_area(self.inner)
        holes = sum(polygon_area(hole) for hole in self.holes)
        return self.thickness * (faces / 6 - holes)

    @property
    def bevels(self) -> tuple[float, ...]:
        """Of each edge, from square; above zero the far face is the smaller. [rad]"""
        if len(self.outline) != len(self.inner):
            return (0.0,) * len(self.outline)
        along = np.roll(self.outline, -1, axis=0) - self.outline
        normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
        beyond = ((self.outline - self.inner) * normal).sum(axis=1)
        return tuple(np.arctan2(beyond, self.thickness).tolist())

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the outline as it lies. [m]"""
        width, height = np.ptp(self.outline, axis=0).tolist()
        return width, height


def polygon_area(points: Floats) -> float:
    """Area inside a closed polygon, counter-clockwise. [m2]"""
    x, y = points.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2)


def rectangle(width: float, height: float) -> Floats:
    """Corners of a rectangle about the origin, from the lower left."""
    x, y = width / 2, height / 2
    return np.array([[-x, -y], [x, -y], [x, y], [-x, y]])


def regular(sides: int, across: float) -> Floats:
    """Corners of a regular polygon about the origin, from its width across the flats; one side lies square to x."""
    azimuth = 2 * np.pi * (np.arange(sides) - 0.5) / sides
    return np.asarray(
        across / 2 / np.cos(np.pi / sides) * np.column_stack([np.cos(azimuth), np.sin(azimuth)])
    )


def circle(radius: float, corners: int = CIRCLE_CORNERS) -> Floats:
    """A circle about the origin as a polygon with its corners on it, counter-clockwise from the x axis."""
    azimuth = 2 * np.pi * np.arange(corners) / corners
    return radius * np.column_stack([np.cos(azimuth), np.sin(azimuth)])
