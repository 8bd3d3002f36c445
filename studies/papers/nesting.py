"""Pieces laid out on stock sheets; two of a kind lie head to tail where that takes less than side by side."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import rectpack
from numpy.typing import NDArray

from ...model import Blank, Workshop

Floats = NDArray[np.float64]
STEP = 1e-4  # m; the packer works in whole numbers


@dataclass(frozen=True, eq=False)
class Placed:
    """One piece on a sheet: turned, then moved so that the lower left of its box lies at `at`. [m]"""

    blank: Blank
    number: int  # of `count`, from 1
    at: tuple[float, float]
    quarters: int  # quarter turns, counter-clockwise

    def on_sheet(self, points: Floats) -> Floats:
        """Points of the piece as they lie on the sheet. [m]"""
        corner = _turned(self.blank.outline, self.quarters).min(axis=0)
        return np.asarray(_turned(points, self.quarters) - corner + np.array(self.at))


@dataclass(frozen=True, eq=False)
class Sheet:
    """One stock sheet of a material and what is cut from it. [m]"""

    material: str
    thickness: float
    width: float
    length: float
    placed: tuple[Placed, ...]

    @property
    def waste(self) -> float:
        """Share of the sheet that is in no piece."""
        return 1 - sum(one.blank.area for one in self.placed) / (self.width * self.length)


def nested(blanks: Sequence[Blank], workshop: Workshop) -> tuple[list[Sheet], list[Blank]]:
    """Stock sheets for all pieces, by material and thickness; and the pieces that no sheet holds."""
    stock: dict[tuple[str, float], list[Blank]] = {}
    for blank in blanks:
        stock.setdefault((blank.material, blank.thickness), []).append(blank)
    sheets: list[Sheet] = []
    left: list[Blank] = []
    for (material, thickness), pieces in stock.items():
        fitting = [piece for piece in pieces if _fits(piece, workshop)]
        left += [piece for piece in pieces if not _fits(piece, workshop)]
        sheets += [
            Sheet(material, thickness, workshop.sheet_width, workshop.sheet_length, placed)
            for placed in _packed(fitting, workshop)
        ]
    return sheets, left


def _fits(blank: Blank, workshop: Workshop) -> bool:
    return _holds(*blank.size, workshop)


def _holds(width: float, height: float, workshop: Workshop) -> bool:
    """Whether a stock sheet holds a box, either way round."""
    short, long = sorted((width, height))
    room = sorted((workshop.sheet_width, workshop.sheet_length))
    return short <= room[0] and long <= room[1]


class _Parcel(NamedTuple):
    """One piece, or two head to tail, in a box. [m]"""

    pieces: tuple[Placed, ...]
    width: float
    height: float

    def laid(self, at: tuple[float, float], turned: bool) -> Iterator[Placed]:
        """The pieces with the box's lower left at a point, the box turned by a quarter or not."""
        for one in self.pieces:
            x, y = one.at
            if turned:
                height = one.on_sheet(one.blank.outline)[:, 1].max()
                x, y = self.height - height, x
            quarters = (one.quarters + turned) % 4
            yield Placed(one.blank, one.number, (at[0] + x, at[1] + y), quarters)


def _packed(blanks: Sequence[Blank], workshop: Workshop) -> list[tuple[Placed, ...]]:
    """What lies on each sheet; every parcel carries a gap above and to the right, and so does the sheet."""
    gap = workshop.cutting_gap
    parcels = [parcel for blank in blanks for parcel in _parcels(blank, workshop)]
    packer = rectpack.newPacker(rotation=True)
    for index, parcel in enumerate(parcels):
        packer.add_rect(_steps(parcel.width + gap), _steps(parcel.height + gap), rid=index)
    room = (_steps(side + gap) for side in (workshop.sheet_width, workshop.sheet_length))
    packer.add_bin(*room, count=float("inf"))
    packer.pack()
    found = []
    for sheet in packer:
        placed: list[Placed] = []
        for box in sheet:
            parcel = parcels[box.rid]
            turned = box.width != _steps(parcel.width + gap)
            placed += parcel.laid((box.x * STEP, box.y * STEP), turned)
        found.append(tuple(sorted(placed, key=lambda one: (one.blank.name, one.number))))
    return found


def _parcels(blank: Blank, workshop: Workshop) -> list[_Parcel]:
    """All pieces of a kind: in pairs where a pair is smaller than two boxes and fits the sheet."""
    width, height = blank.size
    alone = [_Parcel((Placed(blank, n, (0.0, 0.0), 0),), width, height) for n in range(1, blank.count + 1)]
    shift = _head_to_tail(blank, workshop.cutting_gap)
    wide = shift + width
    if wide >= 2 * width or not _holds(wide, height, workshop):
        return alone
    pairs = [
        _Parcel((Placed(blank, n, (0.0, 0.0), 0), Placed(blank, n + 1, (shift, 0.0), 2)), wide, height)
        for n in range(1, blank.count, 2)
    ]
    return pairs + alone[2 * len(pairs) :]


def _head_to_tail(blank: Blank, gap: float) -> float:
    """How far the second of two convex pieces, turned half round, lies to the right of the first. [m]

    The first one's right side and the second one's left side are compared at every height where either has a corner;
    between corners both are straight.
    """
    first = _turned(blank.outline, 0) - blank.outline.min(axis=0)
    second = _turned(blank.outline, 2)
    second = second - second.min(axis=0)
    heights = np.unique(np.concatenate([first[:, 1], second[:, 1]]))
    apart = max(_reach(first, height, +1) - _reach(second, height, -1) for height in heights)
    slant = np.abs(np.diff(first, axis=0))
    steep = np.max(np.hypot(slant[:, 0], slant[:, 1])[slant[:, 1] > 0] / slant[:, 1][slant[:, 1] > 0])
    return float(apart + gap * steep)


def _reach(outline: Floats, height: float, side: int) -> float:
    """Farthest point of a convex outline at a height, to the right (1) or to the left (-1). [m]"""
    begin, end = outline, np.roll(outline, -1, axis=0)
    low, high = np.minimum(begin[:, 1], end[:, 1]), np.maximum(begin[:, 1], end[:, 1])
    meets = (low <= height + 1e-12) & (high >= height - 1e-12)
    rise = np.where(end[:, 1] == begin[:, 1], 1.0, end[:, 1] - begin[:, 1])
    along = np.clip((height - begin[:, 1]) / rise, 0.0, 1.0)
    places = np.concatenate(
        [
            (begin[:, 0] + along * (end - begin)[:, 0])[meets],
            outline[np.abs(outline[:, 1] - height) < 1e-12, 0],
        ]
    )
    return float(places.max() if side > 0 else places.min())


def _steps(length: float) -> int:
    return int(np.ceil(length / STEP - 1e-9))


def _turned(points: Floats, quarters: int) -> Floats:
    """Points turned by quarters, counter-clockwise."""
    cosine, sine = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarters]
    return np.asarray(points @ np.array([[cosine, sine], [-sine, cosine]], float))
