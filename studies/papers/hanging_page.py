"""A page on where the pot hangs: the oven cut through its axis with the pot at three tilts, and its gaps at all."""

import math
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from ...model import trunnion_height
from ..asking.quantity import System
from ..setting import Setting
from .assembly import is_boxed, sun_heights, tilts
from .measures import cell, length_words
from .page import ABOUT, EDGE, PAPERS, STYLE, draw, paper_of
from .strokes import CUT, FAR_FACE, MARK, STOCK, Stroke, Words

Floats = NDArray[np.float64]

LETTER = 3.4  # mm
ROOM = 100.0  # mm, height of the drawing
LINES = (STOCK, MARK, FAR_FACE)  # pens of the pot: oven level, at the highest sun, at the lowest
CAUTION = "Hang it cold and empty first. Pot, trunnions and sheet burn when the sun is on: gloves."


def write_hanging(setting: Setting, path: Path, *, paper: str = "A4", system: System = "metric") -> None:
    """Write the page; its drawing is to scale, which is told, and not at full size."""
    width, height = PAPERS[paper]
    top, left = height - EDGE - 8, EDGE + 5
    with mpl.rc_context(STYLE):
        figure, axes = paper_of(width, height, (0, 0))
        draw([Words("Where the pot hangs", (left, top), 1.5 * LETTER)], axes)
        walls, pots = section(setting), tilted_pots(setting)
        everything = np.vstack([*walls, *pots.values()])
        scale = min(ROOM / np.ptp(everything[:, 1]), (width - 2 * EDGE - 70) / np.ptp(everything[:, 0]))
        at = np.array(
            [left + 8 - scale * everything[:, 0].min(), top - 16 - ROOM - scale * everything[:, 1].min()]
        )
        draw([Stroke(CUT, at + scale * line, closed=False) for line in walls], axes)
        for pot, layer in zip(pots.values(), LINES, strict=True):
            draw([Stroke(layer, at + scale * pot, closed=True)], axes)
        _measured(setting, at, scale, everything, system, axes)
        _words(setting, (left, top - 30 - ROOM), 1e3 / scale, list(pots), axes, system)
        figure.savefig(path, metadata=ABOUT)


def section(setting: Setting) -> list[Floats]:
    """Inner faces cut by the plane of axis and plumb line, y up the slope and z along the axis: lines to draw. [m]

    One facet faces up the slope; down it there is a facet too, or an edge where their number is odd.
    """
    funnel, box = setting.design.oven.funnel, setting.design.oven.box
    wall = funnel.wall
    low = 1.0 if funnel.facets % 2 == 0 else 1 / math.cos(math.pi / funnel.facets)
    lift = box.box_depth if is_boxed(setting) else 0.0
    rise = np.asarray(wall.level) + lift
    up, down = np.asarray(wall.across) / 2, -np.asarray(wall.across) / 2 * low
    lines = [np.column_stack([up, rise]), np.column_stack([down, rise])]
    cover = rise[-1] if is_boxed(setting) else rise[0]
    place = -1 if is_boxed(setting) else 0
    lines.append(np.array([[up[place], cover], [down[place], cover]]))
    if not is_boxed(setting):
        return [*lines, np.array([[up[-1], 0.0], [down[-1], 0.0]])]
    side = box.box_across / 2
    return [
        *lines,
        np.array([[up[-1], lift], [side, lift], [side, 0], [-side, 0], [-side, lift], [down[-1], lift]]),
    ]


def tilted_pots(setting: Setting) -> dict[str, Floats]:
    """The pot's outline in the same plane: oven level, and as it hangs at the highest and the lowest sun. [m]"""
    lowest, highest = sun_heights(setting)
    names = {"oven level": math.pi / 2, "highest sun": float(highest), "lowest sun": float(lowest)}
    pot, middle = setting.design.oven.pot, np.array([0.0, trunnion_height(setting.design)])
    half, radius = pot.pot_height / 2, pot.pot_diameter / 2
    found = {}
    for name, elevation in names.items():
        up = np.array([math.cos(elevation), math.sin(elevation)])
        across = np.array([up[1], -up[0]])
        corners = [
            middle + one * half * up + other * radius * across
            for one, other in ((-1, -1), (-1, 1), (1, 1), (1, -1))
        ]
        found[f"{name}, axis {math.degrees(elevation):.0f} deg above the horizon"] = np.array(corners)
    return found


def _measured(
    setting: Setting, at: Floats, scale: float, everything: Floats, system: System, axes: Axes
) -> None:
    """The height of the trunnions, beside the drawing, and the trunnions as a cross."""
    height = trunnion_height(setting.design)
    right = float(everything[:, 0].max()) + 6 / scale
    ends = at + scale * np.array([[right, 0.0], [right, height]])
    marks: list[Stroke | Words] = [Stroke(CUT, ends, closed=False)]
    for y in (0.0, height):
        marks.append(Stroke(STOCK, at + scale * np.array([[0.0, y], [right + 2 / scale, y]]), closed=False))
    where = "floor of the box" if is_boxed(setting) else "back plate"
    x, y = ends.mean(axis=0)
    lines = ["trunnions above the", f"{where}:", length_words(height, system)]
    marks += [Words(text, (float(x) + 3, float(y) + 5 - 5 * k), LETTER) for k, text in enumerate(lines)]
    middle = at + scale * np.array([0.0, height])
    for one in (np.array([3.0, 0.0]), np.array([0.0, 3.0])):
        marks.append(Stroke(CUT, np.array([middle - one, middle + one]), closed=False))
    draw(marks, axes)


def _words(
    setting: Setting, at: tuple[float, float], ratio: float, names: list[str], axes: Axes, system: System
) -> None:
    """Which line is which, the gaps at every tilt, what to mind."""
    left, top = at
    kinds = ("grey", "thin", "dashed")
    lines = [f"Drawn at 1 : {ratio:.1f}. Up the slope is to the right, the mouth is above."]
    lines += [f"Pot, {kind} line: {name}." for kind, name in zip(kinds, names, strict=True)]
    frame = tilts(setting, system)
    columns = [str(name) for name in frame.columns if name != "mind"]
    for k, text in enumerate(lines):
        draw([Words(text, (left, top - 5.5 * k), LETTER)], axes)
    begin = top - 5.5 * len(lines) - 6
    rows = [columns, *[_cells(row, columns) for row in frame[columns].itertuples(index=False)]]
    for number, row in enumerate(rows):
        cells = zip(row, (0.0, 60.0, 110.0), strict=True)
        draw([Words(text, (left + x, begin - 5.5 * number), LETTER) for text, x in cells], axes)
    minds = [
        f"Axis at {row.iloc[0]:g} deg: {row['mind']}." for _, row in frame[frame["mind"] != ""].iterrows()
    ]
    low = begin - 5.5 * len(rows) - 4
    draw([Words(text, (left, low - 5.5 * k), LETTER) for k, text in enumerate(minds)], axes)
    draw([Words(CAUTION, (left, EDGE + 6), LETTER)], axes)


def _cells(row: tuple[object, ...], columns: list[str]) -> list[str]:
    return [
        cell(value, column.partition("[")[2].removesuffix("]"))
        for value, column in zip(row, columns, strict=True)
    ]
