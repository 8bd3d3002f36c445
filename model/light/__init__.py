"""Geometry and optics of the oven: where light goes; knows no temperature.

`facets` describes the oven, `intake` follows sun and sky to where they are absorbed,
`exchange` does the same for the oven's own radiation, `clearance` keeps the pot off
the walls, `cover` is the clear cover alone.
"""

from .angles import beam_shares_of_many
from .clearance import clearance
from .cover import cover_shares
from .exchange import exchange_areas
from .facets import (
    Optics,
    Surface,
    cavity,
    checked,
    funnel,
    mouth_area,
    plate_area,
    slant_height,
    stack,
    wall_area,
)
from .intake import beam_shares, dome_shares, walk
from .scene import InSunlight, in_sunlight

__all__ = [
    "InSunlight",
    "Optics",
    "Surface",
    "beam_shares",
    "beam_shares_of_many",
    "cavity",
    "checked",
    "clearance",
    "cover_shares",
    "dome_shares",
    "exchange_areas",
    "funnel",
    "in_sunlight",
    "mouth_area",
    "plate_area",
    "slant_height",
    "stack",
    "walk",
    "wall_area",
]
