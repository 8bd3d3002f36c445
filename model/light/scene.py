"""What the tracing kernels eat: an oven's shape and optical properties laid out as plain numbers."""

from typing import NamedTuple

import numpy as np

from .cover import cover_table
from .facets import Array, Ints, Optics, flare, ledge_flags
from .sampling import circle, gaussian

GROUP = 4  # facets tried in one pass of the vector loop; counts are padded to a multiple


class Scene(NamedTuple):
    """An oven as the kernels see it; heights above the back plate, lengths in m.

    Wall j of a cell is the plane  facet_x x + facet_y y = apothem + flare z.
    """

    facet_count: Ints  # [cell]
    facet_x: Array  # [cell, facet], the spare columns repeat facet 0
    facet_y: Array  # [cell, facet]
    flare: Array  # [cell]
    apothem: Array  # [cell], carried on to z = 0
    top: Array  # [cell]
    bottom: Array  # [cell]
    wall_reflectance: Array  # [cell]
    wall_slope_error: Array  # [cell]
    ledge: Ints  # [cell, 2]: 1 where the end above (0) or below (1) is wider than the opening
    plate_reflectance: float
    plate_slope_error: float
    cover_interface: int
    cover_reflectance: float  # of an opaque diffuse cover; negative: clear, use the table
    cover_table: Array  # [transmittance or reflectance, cosine]
    pot_radius: float
    pot_half_height: float
    pot_centre: float
    pot_absorptance: float
    circle: Array
    gaussian: Array


def solar_scene(optics: Optics) -> Scene:
    """The oven in sunlight: clear cover, solar properties."""
    table = cover_table(
        index=optics.cover_index,
        extinction_length=optics.cover_extinction_length,
        panes=optics.cover_panes,
    )
    return _scene(optics, cover_reflectance=-1.0, table=table)


def thermal_scene(optics: Optics, *, pot: float, walls: float, plate: float, cover: float) -> Scene:
    """The oven in its own long-wave radiation, from four emittances. [-]

    Walls and plate stay mirrors with their slope errors; pot and cover are opaque and diffuse.
    """
    grey = optics._replace(
        wall_reflectance=np.full_like(optics.wall_reflectance, 1.0 - walls),
        plate_reflectance=1.0 - plate,
        pot_absorptance=pot,
    )
    return _scene(grey, cover_reflectance=1.0 - cover, table=np.zeros((2, 2)))


def _scene(optics: Optics, *, cover_reflectance: float, table: Array) -> Scene:
    count = optics.facet_count
    width = -(-int(count.max()) // GROUP) * GROUP
    facet = np.arange(width)
    azimuth = 2.0 * np.pi * np.where(facet < count[:, None], facet, 0) / count[:, None]
    lean = flare(optics)
    return Scene(
        facet_count=count,
        facet_x=np.sin(azimuth),
        facet_y=np.cos(azimuth),
        flare=lean,
        apothem=0.5 * optics.bottom_across - lean * optics.bottom_height,
        top=optics.top_height,
        bottom=optics.bottom_height,
        wall_reflectance=optics.wall_reflectance,
        wall_slope_error=optics.wall_slope_error,
        ledge=ledge_flags(optics),
        plate_reflectance=optics.plate_reflectance,
        plate_slope_error=optics.plate_slope_error,
        cover_interface=optics.cover_interface,
        cover_reflectance=cover_reflectance,
        cover_table=table,
        pot_radius=optics.pot_radius,
        pot_half_height=0.5 * optics.pot_height,
        pot_centre=optics.pot_centre,
        pot_absorptance=optics.pot_absorptance,
        circle=circle(),
        gaussian=gaussian(),
    )
