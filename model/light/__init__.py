"""Geometry and optics of the oven: where light goes; knows no temperature.

`facets` describes the oven, `ovens` makes and checks it and sets many side by side, `intake` follows sun and
sky to where they are absorbed, `absorbed` adds them up to watts, `exchange` does for the oven's own radiation
what `intake` does for the sun's, `clearance` keeps the pot off the walls, `cover` is the clear cover alone,
`paths` keeps the ways of a few rays, to be drawn.
"""

from .absorbed import ABSORBERS, Courses, Domes, Lights, Sources, absorbed_watts, dome_shares_at, sunniest
from .angles import beam_shares_of_many, beam_shares_of_ways
from .clearance import clearance, clearance_in_runs
from .cover import cover_shares
from .exchange import exchange_areas, exchange_areas_in_runs
from .facets import Optics, Ovens, Surface, mouth_area, mouth_areas, plate_area, slant_height, wall_area
from .intake import Runs, beam_shares, directions, dome_shares, dome_shares_in_runs, runs_of, walk
from .ovens import cavity, checked, funnel, oven_of, side_by_side, stack
from .paths import Paths, in_section, ray_paths
from .scene import Emittances, InSunlight, in_sunlight

__all__ = [
    "ABSORBERS",
    "Courses",
    "Domes",
    "Emittances",
    "InSunlight",
    "Lights",
    "Optics",
    "Ovens",
    "Paths",
    "Runs",
    "Sources",
    "Surface",
    "absorbed_watts",
    "beam_shares",
    "beam_shares_of_many",
    "beam_shares_of_ways",
    "cavity",
    "checked",
    "clearance",
    "clearance_in_runs",
    "cover_shares",
    "directions",
    "dome_shares",
    "dome_shares_at",
    "dome_shares_in_runs",
    "exchange_areas",
    "exchange_areas_in_runs",
    "funnel",
    "in_section",
    "in_sunlight",
    "mouth_area",
    "mouth_areas",
    "oven_of",
    "plate_area",
    "ray_paths",
    "runs_of",
    "side_by_side",
    "slant_height",
    "stack",
    "sunniest",
    "walk",
    "wall_area",
]
