"""The oven to scale: in section and from the mouth with its measures, and with the ways of rays of the shown day."""

from collections.abc import Iterator

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from ..words.phrases import later
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, Drawn, shown
from .oven_drawing import (
    draw_cut,
    draw_measure,
    draw_plan,
    draw_way,
    measures_of,
    standing,
    to_scale,
    upright,
)

Floats = NDArray[np.float64]

_ENDS = {  # where rays end, as it is told, by surface
    "lid": ("pot, lid", RED),
    "side": ("pot, side", PURPLE),
    "bottom": ("pot, bottom", BLUE),
    "walls": ("mirror or plate", ORANGE),
    "plate": ("mirror or plate", ORANGE),
    "cover": ("cover", GREEN),
    "lost": ("out again", GREY),
}
_POT = ("lid", "side", "bottom")


def measures(day: xr.Dataset) -> Drawn | None:
    """The oven cut along its axis, standing level, and seen from the mouth, to scale with its measures."""
    if "outline" not in day:
        return None
    one = day.isel(design=0)
    figure = Figure(figsize=(7.4, 4.0))
    cut, plan = figure.subplots(1, 2, width_ratios=(1.25, 1))
    draw_cut(cut, one, upright)
    lengths = list(measures_of(one))
    for measure in lengths:
        draw_measure(cut, one, measure)
    draw_plan(plan, one, 0.0)
    for axes, title in ((cut, "cut along the axis, oven level"), (plan, "seen from the mouth")):
        axes.set_title(title, fontsize=9)
        to_scale(axes)
    numbers, unit = shown([measure.length for measure in lengths], "length", day.attrs)
    table = pd.DataFrame({"measure": [measure.name for measure in lengths], f"length [{unit}]": numbers})
    rings = "one ring" if int(one["tiers"]) == 1 else f"{int(one['tiers'])} rings"
    caption = (
        f"To scale: {rings} of {int(one['facets'])} facets. Inside measures; the jacket lies between the mirror "
        "and the outer line."
    )
    return Drawn("measures", figure, table, caption)


def rays(day: xr.Dataset) -> Drawn | None:
    """Ways of light through the oven as it stands: with the sun on the axis, and at the worst aim of the shown day."""
    if "ray_path" not in day:
        return None
    one = day.isel(design=0)
    figure = Figure(figsize=(7.4, 7.4))
    for k, (cut, plan) in enumerate(figure.subplots(2, 2, height_ratios=(1.25, 1)).T):
        moment = one.isel(moment=k)
        _rays_in_the_cut(cut, moment)
        draw_plan(plan, one, float(moment["moment_tilt"]))
        for corners, end in _ways(moment, in_section=0):
            plan.plot(*corners[:, :2].T, color=_ENDS[end][1], linewidth=0.7)
            plan.plot(*corners[:1, :2].T, ".", color=_ENDS[end][1], markersize=3.5)
        cut.set_title(_moment_text(day, moment), fontsize=8.5)
        for axes in (cut, plan):
            to_scale(axes)
    there = dict(_ENDS[end] for end in _ENDS if end in _names(day))
    handles = [Line2D([], [], color=colour, label=label) for label, colour in there.items()]
    figure.legend(handles=handles, loc="outside lower center", ncols=4, fontsize=7.5, title="rays end on")
    return Drawn("rays", figure, _ends_table(day), _rays_caption(day))


def _rays_in_the_cut(axes: Axes, moment: xr.Dataset) -> None:
    placed = standing(moment, float(moment["moment_tilt"]))
    draw_cut(axes, moment, placed)
    for corners, end in _ways(moment, in_section=1):
        reach = float(moment["mouth"])
        draw_way(axes, placed(corners[:, 1:]), _ENDS[end][1], reach, leaves=end == "lost")
    axes.axhline(0, color=BLACK, linewidth=1.0)


def _names(moment: xr.Dataset) -> NDArray[np.str_]:
    """Surfaces that rays end on, by name."""
    return np.asarray(moment["surface"].to_numpy()[moment["ray_ends"].to_numpy()], np.str_)


def _moment_text(day: xr.Dataset, moment: xr.Dataset) -> str:
    off = np.degrees(float(moment["moment_off_axis"]))
    clock = later(day.attrs, float(moment["moment_after"]))
    tilt = np.degrees(float(moment["moment_tilt"]))
    beside = f", {off:.1f}° beside" if off > 0 else ""
    return f"{moment['moment'].item()}{beside}\naxis {tilt:.0f}° from upright, as it stands at {clock}"


def _rays_caption(day: xr.Dataset) -> str:
    shares = [f"{_into_pot(day, k)} of {day.sizes['ray']} rays end on the pot" for k in range(2)]
    return (
        f"{day['day_label'][int(day.attrs['shown_day'])].item()}, to scale. Above, rays that start in the cut; "
        "waviness, a sun beside the cut and bounces off the pot take them out of it. Below, rays from all over the "
        f"mouth, each from its dot. With the sun on the axis {shares[0]}, at the worst aim {shares[1]}; so few rays "
        "show ways, not shares."
    )


def _into_pot(day: xr.Dataset, moment: int) -> int:
    return int(np.isin(_names(day.isel(moment=moment)), _POT).sum())


def _ends_table(day: xr.Dataset) -> pd.DataFrame:
    """Every corner of every way, in the frame of the oven, and where the way ends."""
    rows = []
    for k in range(day.sizes["moment"]):
        one = day.isel(moment=k)
        for ray in range(day.sizes["ray"]):
            corners = one["ray_path"].isel(ray=ray).to_numpy()
            end = str(_names(one)[ray])
            rows += [
                (str(one["moment"].item()), ray, corner, *place, end)
                for corner, place in enumerate(corners[np.isfinite(corners[:, 0])].tolist())
            ]
    table = pd.DataFrame(rows, columns=["moment", "ray", "corner", "x", "y", "z", "ends on"])
    numbers, unit = shown(table[["x", "y", "z"]].to_numpy(), "length", day.attrs)
    names = [f"{axis} [{unit}]" for axis in "xyz"]
    return table.drop(columns=["x", "y", "z"]).assign(**dict(zip(names, numbers.T, strict=True)))


def _ways(moment: xr.Dataset, *, in_section: int) -> Iterator[tuple[Floats, str]]:
    """Corners of the rays that start in the cut, or of the others, and the surface each ends on."""
    names = _names(moment)
    for ray in np.flatnonzero(moment["ray_in_section"].to_numpy() == in_section).tolist():
        corners = moment["ray_path"].isel(ray=ray).to_numpy()
        yield corners[np.isfinite(corners[:, 0])], str(names[ray])
