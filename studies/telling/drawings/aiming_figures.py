"""Figures of an aiming study: a day on the sun, what intervals cost, and the rings of the sight."""

import math
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..words.phrases import said
from .drawing import (
    BLACK,
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    PURPLE,
    RED,
    Drawn,
    clock_hours,
    column,
    on_the_clock,
    shown,
)

Values = np.ndarray[Any, Any]


def following(result: xr.Dataset) -> Drawn:
    """One day: errors of both angles, the angle off the sun, and the way of the base's edge."""
    one = result.isel(day=int(result.attrs["shown_day"]))
    hours = clock_hours(result, one)
    edge, edge_unit = column(one["edge_travelled"], result.attrs)
    travelled = f"edge travelled [{edge_unit}]"
    columns = {
        "azimuth error [deg]": np.degrees(one["aim_azimuth_error"].to_numpy()),
        "elevation error [deg]": np.degrees(one["aim_elevation_error"].to_numpy()),
        "off the sun [deg]": np.degrees(one["aim_off_axis"].to_numpy()),
        travelled: edge,
        "beam [W/m2]": one["dni"].to_numpy(),
    }
    figure = Figure(figsize=(6.8, 5.2))
    errors, travel = figure.subplots(2, 1, sharex=True, height_ratios=(2, 1))
    for name, colour in zip(list(columns)[:3], (BLUE, ORANGE, PURPLE), strict=True):
        errors.plot(hours, columns[name], color=colour, linewidth=1.2, label=name.removesuffix(" [deg]"))
    errors.axhline(0, color=BLACK, linewidth=0.6)
    errors.set_ylabel("sun less oven [°]")
    errors.legend(fontsize=7.5)
    travel.plot(hours, edge, color=GREEN)
    travel.set(ylabel=f"edge of the base [{edge_unit}]", xlabel=f"clock time, {one['day_label'].item()}")
    travel.set_ylim(bottom=0)
    on_the_clock(travel)
    beam = travel.twinx()
    beam.plot(hours, columns["beam [W/m2]"], color=GREY, linewidth=1)
    beam.set_ylabel("beam [W/m²]", color=GREY)
    beam.set_ylim(bottom=0)
    beam.grid(visible=False)
    table = pd.DataFrame({"clock [h]": hours, **columns})
    caption = (
        f"{one['day_label'].item()}: above zero the sun is further round, or higher, than the oven looks."
    )
    return Drawn("following", figure, table, caption)


def intervals(result: xr.Dataset) -> Drawn:
    """Light kept and visits asked for by each interval between settings by hand."""
    every = result["interval"].to_numpy() / 60
    kept, visits = 100 * result["interval_kept"].to_numpy(), result["interval_visits"].to_numpy()
    figure = Figure(figsize=(6.2, 3.2))
    axes = figure.subplots()
    axes.plot(every, kept, "o-", color=BLUE, markersize=4)
    axes.axhline(100, color=BLACK, linewidth=0.6)
    axes.set_xlabel("minutes between settings by hand")
    axes.set_ylabel("beam into the pot [% of true aiming]", color=BLUE)
    other = axes.twinx()
    other.plot(every, visits, "s--", color=ORANGE, markersize=4)
    other.set_ylabel("visits a cook", color=ORANGE)
    other.set_ylim(bottom=0)
    other.grid(visible=False)
    if "own_interval" in result:
        axes.axvline(float(result["own_interval"]) / 60, color=GREY, linestyle=":", linewidth=1.2)
    driven = result.attrs["how"] == "drive"
    moved, meanwhile = ("the elevation", ", the drive turning the azimuth") if driven else ("the oven", "")
    table = pd.DataFrame(
        {
            "every [min]": every,
            "kept [%]": kept,
            "visits": visits,
            "attention [min]": result["interval_attention"].to_numpy() / 60,
        }
    )
    caption = f"What it costs to set {moved} by hand less often{meanwhile}; dotted: as designed."
    return Drawn("intervals", figure, table, caption)


def rings(result: xr.Dataset) -> Drawn:
    """Light against the angle off the axis, and the rings drawn from it on the sight's plate."""
    angle, kept = np.degrees(result["angle"].to_numpy()), 100 * result["off_axis_kept"].to_numpy()
    figure = Figure(figsize=(6.2, 3.4))
    axes = figure.subplots()
    axes.fill_between(angle, kept.min(axis=0), kept.max(axis=0), color=BLUE, alpha=0.2, linewidth=0)
    axes.plot(angle, kept.mean(axis=0), color=BLUE, label="mean of all directions")
    axes.plot(angle, kept.min(axis=0), color=RED, linewidth=1, label="worst direction")
    axes.axhline(100, color=BLACK, linewidth=0.6)
    _mark_rings(axes, result)
    axes.set(xlabel="sun off the axis [°]", ylabel="beam into the pot [% of on axis]")
    axes.set_ylim(bottom=max(0.0, min(80.0, kept.min() - 5)))
    axes.legend(fontsize=7.5, loc="lower left")
    table = pd.DataFrame(
        {"off axis [deg]": angle, "mean [%]": kept.mean(axis=0), "worst [%]": kept.min(axis=0)}
    )
    height = float(result["post_height"])
    shadow, shadow_unit = shown(height * np.tan(np.radians(angle)), "length", result.attrs)
    table[f"shadow [{shadow_unit}]"] = shadow
    caption = (
        f"Traced with the axis {math.degrees(float(result['off_axis_elevation'])):.0f}° high. Dotted: rings on the "
        f"plate of a post of {said(height, 'length', result.attrs, digits=3)}."
    )
    return Drawn("rings", figure, table, caption)


def _mark_rings(axes: Axes, result: xr.Dataset) -> None:
    for loss, angle, radius in zip(
        *(result[name].to_numpy() for name in ("loss", "ring_angle", "ring_radius")), strict=True
    ):
        if np.isfinite(angle):
            at = math.degrees(angle)
            axes.axvline(at, color=GREY, linestyle=":", linewidth=1.2)
            text = f" {said(float(radius), 'length', result.attrs, digits=2)}: {100 * loss:.0f} %"
            axes.text(
                at,
                0.99,
                text,
                rotation=90,
                ha="right",
                va="top",
                fontsize=7,
                transform=axes.get_xaxis_transform(),
            )
