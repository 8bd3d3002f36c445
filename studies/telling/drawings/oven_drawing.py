"""The oven drawn to scale: the cut, the view into the mouth, its measures, and ways of light over them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from ..words.phrases import said
from .drawing import BLACK, GREY, ORANGE, SKY

Floats = NDArray[np.float64]
Placed = Callable[[Floats], Floats]  # points (y, z) of the cut -> points on paper [m]

WOOL, IRON = "#f3e3c3", "#5a5a5a"
BOXED = "funnel over box"
_ARROW: dict[str, Any] = {
    "arrowstyle": "<->",
    "linewidth": 0.7,
    "color": BLACK,
    "shrinkA": 0.0,
    "shrinkB": 0.0,
}


@dataclass(frozen=True)
class Measure:
    """A length of the oven, and the ends of the line that shows it in the cut, (y, z)."""

    name: str
    length: float
    start: tuple[float, float]
    end: tuple[float, float]


def upright(points: Floats) -> Floats:
    """The cut as it is, the axis straight up."""
    return points


def standing(one: xr.Dataset, tilt: float) -> Placed:
    """The cut as it stands, tilted about the middle of the pot; the sun is to the right."""
    sine, cosine = np.sin(tilt), np.cos(tilt)
    middle = float(one["pot_lift"]) + float(one["pot_height"]) / 2

    def placed(points: Floats) -> Floats:
        y, z = points[..., 0], points[..., 1] - middle
        return np.stack([sine * z - cosine * y, float(one["axis_height"]) + sine * y + cosine * z], axis=-1)

    return placed


def lines_of(one: xr.Dataset, part: str) -> Iterator[Floats]:
    """The lines of one part of the cut."""
    corners = one["outline"].sel(outline_part=part).to_numpy()
    known = np.isfinite(corners[:, 0])
    ends = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    for first, last in ends.reshape(-1, 2):
        yield corners[first:last]


def draw_cut(axes: Axes, one: xr.Dataset, placed: Placed) -> None:
    """Jacket, mirror, plate, cover and pot in the cut; the pot hangs plumb however the oven stands."""
    for line in lines_of(one, "insulation"):
        axes.add_patch(Polygon(placed(line), facecolor=WOOL, edgecolor=GREY, linewidth=0.9))
    for part, colour, width in (("mirror", ORANGE, 1.8), ("back plate", ORANGE, 1.8), ("cover", SKY, 2.0)):
        for line in lines_of(one, part):
            axes.plot(*placed(line).T, color=colour, linewidth=width, solid_capstyle="butt")
    middle = placed(np.array([0.0, float(one["pot_lift"]) + float(one["pot_height"]) / 2]))
    half = np.array([float(one["pot_diameter"]), float(one["pot_height"])]) / 2
    corners = middle + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    axes.add_patch(Polygon(corners, facecolor=IRON, edgecolor=BLACK, linewidth=0.8, zorder=3.5))


def draw_plan(axes: Axes, one: xr.Dataset, tilt: float) -> None:
    """What one sees who looks into the mouth along the axis, the slope's upper end at the top; hidden lines dashed."""
    mouth = max(one["plan_across"].values[one["plan_part"].values == "mirror"])
    edges = zip(one["plan_part"].values, one["plan_across"].values, one["plan_facets"].values, strict=True)
    for part, across, facets in edges:
        corners = _polygon(float(across), int(facets))
        if part == "jacket":
            axes.add_patch(Polygon(corners, facecolor=WOOL, edgecolor=GREY, linewidth=0.9, zorder=1))
        filled = part == "mirror" and across == mouth
        fill = {"facecolor": "white", "zorder": 1.1} if filled else {"fill": False, "zorder": 1.2}
        if part != "mirror" and across < mouth:
            axes.add_patch(
                Polygon(corners, edgecolor=GREY, linestyle="--", linewidth=0.8, fill=False, zorder=1.2)
            )
        elif part != "jacket":
            axes.add_patch(Polygon(corners, edgecolor=ORANGE, linewidth=1.2, **fill))
    axes.add_patch(
        Polygon(
            _pot_along_the_axis(one, tilt),
            facecolor=IRON,
            edgecolor=BLACK,
            linewidth=0.8,
            alpha=0.8,
            zorder=2,
        )
    )


def _polygon(across: float, facets: int) -> Floats:
    """Corners of a regular polygon; the middle of facet 0 is at the top."""
    turn = 2 * np.pi * (np.arange(facets) + 0.5) / facets
    reach = across / 2 / np.cos(np.pi / facets)
    return np.asarray(reach * np.column_stack([np.sin(turn), np.cos(turn)]))


def _pot_along_the_axis(one: xr.Dataset, tilt: float) -> Floats:
    """Outline of the plumb pot as seen along the tilted axis."""
    radius, half = float(one["pot_diameter"]) / 2, float(one["pot_height"]) / 2 * np.sin(tilt)
    turn = np.linspace(0, np.pi, 40)
    upper = np.column_stack([radius * np.cos(turn), half + radius * np.cos(tilt) * np.sin(turn)])
    return np.concatenate([upper, -upper])


def to_scale(axes: Axes) -> None:
    """Equal lengths both ways, and no frame."""
    axes.margins(0.05)
    axes.autoscale_view()
    axes.set_aspect("equal")
    axes.axis("off")


def measures_of(one: xr.Dataset) -> Iterator[Measure]:
    """The main measures, inside ones, each where it is shown in the cut."""
    boxed = str(one["archetype"].item()) == BOXED
    mouth, depth = float(one["mouth"]), float(one["depth"])
    base = float(one["cover_height"]) if boxed else 0.0
    thickness, top = float(one["insulation_thickness"]), base + depth
    jacket = one["outline"].sel(outline_part="insulation").to_numpy()
    right = max(float(np.nanmax(jacket[:, 0])), mouth / 2) + 0.05 * mouth
    throat = float(next(lines_of(one, "mirror"))[-1, 0])
    low = -thickness - 0.09 * mouth
    yield Measure(
        "mouth, across the flats", mouth, (-mouth / 2, top + 0.07 * mouth), (mouth / 2, top + 0.07 * mouth)
    )
    yield Measure("funnel, along its axis", depth, (right, base), (right, top))
    if boxed:
        across, tall = float(one["box_across"]), float(one["box_depth"])
        yield Measure("box, side of its square inside", across, (-across / 2, low), (across / 2, low))
        yield Measure("box, floor to cover", tall, (right, 0.0), (right, tall))
    else:
        yield Measure("back plate, across the flats", 2 * throat, (-throat, low), (throat, low))
    beside = -0.12 * mouth - float(one["pot_diameter"]) / 2
    yield Measure("insulation", thickness, (beside, -thickness), (beside, 0.0))
    yield from _of_the_pot(one)


def _of_the_pot(one: xr.Dataset) -> Iterator[Measure]:
    radius, height, lift = float(one["pot_diameter"]) / 2, float(one["pot_height"]), float(one["pot_lift"])
    yield Measure("pot, diameter", 2 * radius, (-radius, lift + 0.7 * height), (radius, lift + 0.7 * height))
    yield Measure("pot, height with lid", height, (0.75 * radius, lift), (0.75 * radius, lift + height))
    yield Measure("pot over the plate or floor, oven level", lift, (0.0, 0.0), (0.0, lift))


def draw_measure(axes: Axes, one: xr.Dataset, measure: Measure) -> None:
    """A dimension line with its length; white on the pot."""
    (x, y), (end_x, end_y) = measure.start, measure.end
    level, on_pot = y == end_y, measure.name.startswith(("pot, d", "pot, h"))
    colour = "white" if on_pot else BLACK
    axes.annotate("", measure.end, measure.start, arrowprops=_ARROW | {"color": colour}, zorder=4)
    room = 0.05 * float(one["mouth"])  # for the text above a line
    axes.update_datalim([measure.start, (end_x, end_y + room)])
    place = ((x + end_x) / 2, y) if level else (x, y + (0.3 if on_pot else 0.5) * (end_y - y))
    apart = measure.name == "insulation"  # it stands beside the cut, where nothing else says what it is of
    axes.text(
        *place,
        f" {'insulation ' if apart else ''}{said(measure.length, 'length', one.attrs, digits=4)} ",
        ha="center" if level else "right" if on_pot or apart else "left",
        va="bottom" if level else "center",
        fontsize=7,
        color=colour,
        zorder=4,
    )


def draw_way(axes: Axes, corners: Floats, colour: str, reach: float, *, leaves: bool) -> None:
    """The way of a ray, with a piece of where it comes from and, if it leaves, of where it goes."""
    if len(corners) < 2:
        return
    first, last = corners[0] - corners[1], corners[-1] - corners[-2]
    before = corners[0] + 0.3 * reach * first / max(float(np.linalg.norm(first)), 1e-9)
    points = [before, *corners]
    if leaves:
        points.append(corners[-1] + 0.2 * reach * last / max(float(np.linalg.norm(last)), 1e-9))
    axes.plot(*np.array(points).T, color=colour, linewidth=0.7, zorder=3)
