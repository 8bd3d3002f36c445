"""The oven in section and the ways of a few rays through it: what a drawing to scale needs."""

import math
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .aiming import Aim, pot_up
from .catalogue import Catalogue
from .design import Design
from .light import Optics, Paths, Surface, in_section, ray_paths
from .outline import OUTLINES, edges_from_the_mouth, filled, outlines_of
from .oven import Oven
from .pack import optics_of_design
from .sky import Sky
from .sunlight import aimed

Floats = NDArray[np.float64]

SECTION_RAYS = 28  # drawn in the cut
SPREAD_RAYS = 24  # drawn from all over the mouth
MOMENTS = ("sun on the axis", "worst aim of the day")
_GOLDEN = math.pi * (3.0 - math.sqrt(5.0))  # rad; turns of points evenly spread over a disc
_BRIGHT = 0.5  # of the day's strongest beam; a bad aim under a weaker one costs little


def section_of_day(design: Design, sky: Sky, day: int, *, catalogue: Catalogue, seed: int = 1) -> xr.Dataset:
    """The oven in section, and rays through it with the sun on the axis and at the day's worst aim.

    Parameters
    ----------
    design : Design
        One that can be built.
    day : int
        Of the sky.
    seed : int
        Of the tracer.

    Returns
    -------
    Dataset
        `outline` [m] over (outline_part, outline_corner, yz); `plan_across` [m], `plan_facets` and
        `plan_part` over plan_edge:
        what one sees who looks into it, from the mouth inwards; `cover_height` [m]; `ray_path` [m] over (moment,
        ray, ray_corner, xyz) with nan after the end; `ray_ends` over (moment, ray), a number along `surface`;
        `ray_in_section` over ray: 1 for those that start in the cut; `moment_tilt`, `moment_off_axis` [rad] and
        `moment_after` [s] over moment.
    """
    optics = optics_of_design(design, catalogue)
    ways = aimed(design.aiming, sky)
    row = int(ways.row_of_day[day])
    worst = _worst(ways.aim, sky.dni[day], row)
    suns = [np.array([0.0, 0.0, 1.0]), ways.to_sun[row, worst]]
    elevation = float(ways.aim.elevation[row, worst])
    starts = np.concatenate([in_section(optics, SECTION_RAYS), _spread(optics, SPREAD_RAYS)])
    found = [
        ray_paths(optics, starts=starts, to_sun=sun, pot_up=pot_up(np.array(elevation)), seed=seed)
        for sun in suns
    ]
    moments = {
        "moment_tilt": ("rad", [math.pi / 2 - elevation] * 2, "axis from the zenith"),
        "moment_off_axis": ("rad", [0.0, float(ways.aim.off_axis[row, worst])], "sun from the axis"),
        "moment_after": ("s", [worst * sky.step] * 2, "time since loading of the setting of the stand"),
    }
    return _labelled(found, design.oven, optics, moments)


def _worst(aim: Aim, dni: Floats, row: int) -> int:
    """Instant of the greatest angle off the sun while its beam is bright."""
    bright = dni >= _BRIGHT * dni.max()
    return int(np.where(bright, aim.off_axis[row], -1.0).argmax())


def _spread(optics: Optics, rays: int) -> Floats:
    """Places evenly over the circle inside the mouth, float64[ray, xy]. [m]"""
    number = np.arange(rays) + 0.5
    radius = 0.5 * float(optics.top_across[0]) * np.sqrt(number / rays)
    return np.column_stack([radius * np.cos(_GOLDEN * number), radius * np.sin(_GOLDEN * number)])


def _stacked(paths: list[Paths]) -> tuple[Floats, NDArray[np.int64]]:
    """Corners of the rays of all moments, float64[moment, ray, corner, xyz], and where each ends."""
    most = max(one.corners.shape[1] for one in paths)
    rays = len(paths[0].ends)
    corners = np.full((len(paths), rays, most, 3), np.nan)
    for row, one in zip(corners, paths, strict=True):
        row[:, : one.corners.shape[1]] = one.corners
    return corners, np.array([one.ends for one in paths])


def _labelled(paths: list[Paths], oven: Oven, optics: Optics, moments: dict[str, Any]) -> xr.Dataset:
    corners, ends = _stacked(paths)
    edges = edges_from_the_mouth(oven)
    height = optics.top_height[max(optics.cover_interface, 0)]
    in_cut = (np.arange(ends.shape[1]) < SECTION_RAYS).astype(np.int64)
    plain, m = {"units": "1"}, {"units": "m", "dimension": "length"}
    moment = {
        name: ("moment", values, {"units": unit, "long_name": meaning})
        for name, (unit, values, meaning) in moments.items()
    }
    return xr.Dataset(
        {
            "outline": (
                ("outline_part", "outline_corner", "yz"),
                filled(outlines_of(oven)),
                m | {"long_name": "corners of the oven cut along its axis; nan between two lines"},
            ),
            "plan_across": (
                "plan_edge",
                [across for _, across, _ in edges],
                m | {"long_name": "edge seen from the mouth, across the flats"},
            ),
            "plan_facets": (
                "plan_edge",
                [facets for *_, facets in edges],
                plain | {"long_name": "facets of that edge"},
            ),
            "cover_height": (
                (),
                float(height),
                m | {"long_name": "cover above the back plate, or the floor of the box"},
            ),
            "ray_path": (
                ("moment", "ray", "ray_corner", "xyz"),
                corners,
                m
                | {
                    "long_name": "corners of the ways of a few rays, in the frame of the oven; nan after the end"
                },
            ),
            "ray_ends": (
                ("moment", "ray"),
                ends,
                plain | {"long_name": "surface that a ray ends on, by its place along `surface`"},
            ),
            "ray_in_section": (
                "ray",
                in_cut,
                plain | {"long_name": "1 where the ray starts in the cut, 0 where anywhere on the mouth"},
            ),
            **moment,
        },
        coords={
            "plan_part": (
                "plan_edge",
                [part for part, *_ in edges],
                plain | {"long_name": "part whose edge it is"},
            ),
            "moment": ("moment", list(MOMENTS), plain | {"long_name": "where the sun stands"}),
            "outline_part": (
                "outline_part",
                list(OUTLINES),
                plain | {"long_name": "part of the oven that is cut"},
            ),
            "yz": ("yz", ["y", "z"], plain | {"long_name": "up the slope of the mouth, out along the axis"}),
            "xyz": (
                "xyz",
                ["x", "y", "z"],
                plain | {"long_name": "to the right of one who looks in, up the slope, out"},
            ),
            "surface": (
                "surface",
                [s.name.lower() for s in Surface],
                plain | {"long_name": "where beam light ends"},
            ),
        },
    )
