"""What the tracing kernels eat: an oven's shape and optical properties laid out as plain numbers."""

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from .cover import cover_table
from .facets import Array, Ints, Optics, Surface, checked, flare, ledge_flags
from .sampling import circle, gaussian

GROUP = 4  # facets tried in one pass of the vector loop; counts are padded to a multiple

# What a flight ends on. Below these, the number of a facet.
TOP: Final = 24
BASE: Final = 25
LID: Final = 26
SIDE: Final = 27
BOTTOM: Final = 28
# What an end of a cell turns out to be.
LEDGE: Final = 29
PLATE: Final = 30
PANE: Final = 31  # a clear cover that sends the ray back
GREY: Final = 32  # an opaque cover
PASSING: Final = 33  # an opening, or a clear cover that lets the ray through
GONE: Final = 34  # an open mouth
_ENDINGS: Final = 35

# How a ray leaves what it met; what is PASSING leaves as it came.
MIRRORED: Final = 0
DIFFUSED: Final = 1

_SURFACES: Final = {
    LID: Surface.LID,
    SIDE: Surface.SIDE,
    BOTTOM: Surface.BOTTOM,
    PLATE: Surface.PLATE,
    PANE: Surface.COVER,
    GREY: Surface.COVER,
    PASSING: Surface.COVER,
    GONE: Surface.LOST,
}


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
    ledge: Ints  # [cell, 2]: 1 where the end above (0) or below (1) is wider than the opening
    cover_interface: int
    cover_reflectance: float  # of an opaque diffuse cover; negative: clear, use the table
    cover_table: Array  # [transmittance or reflectance, cosine]
    pot_radius: float
    pot_half_height: float
    pot_centre: float
    # What is known of an ending; the pot's normal is  along_pot * its axis + off_pot * the way out from it.
    normal_x: Array  # [cell, ending], into the cell
    normal_y: Array
    normal_z: Array
    along_pot: Array  # [ending]
    off_pot: Array  # [ending] 1/m
    keeps: Array  # [cell, ending] share that goes on
    leans: Array  # [cell, ending] slope error [rad]
    leaves: Ints  # [ending] how the ray goes on
    surface: Ints  # [ending] where what is left behind is booked
    circle: Array
    gaussian: Array


class InSunlight(NamedTuple):
    """An oven found sound and laid out for tracing; what traces takes one of these for an `Optics`."""

    optics: Optics
    scene: Scene


def in_sunlight(oven: Optics | InSunlight) -> InSunlight:
    """The oven in sunlight: clear cover, solar properties.

    Raises
    ------
    ValueError
        If a number is out of range; see `checked`.
    """
    if isinstance(oven, InSunlight):
        return oven
    table = _kept_table(oven.cover_index, oven.cover_extinction_length, oven.cover_panes)
    return InSunlight(oven, _scene(checked(oven), cover_reflectance=-1.0, table=table))


def sound(oven: Optics | InSunlight) -> Optics:
    """The optics alone, checked."""
    return oven.optics if isinstance(oven, InSunlight) else checked(oven)


@lru_cache(maxsize=64)
def _kept_table(index: float, extinction_length: float, panes: int) -> Array:
    return cover_table(index=index, extinction_length=extinction_length, panes=panes)


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
    facet_x, facet_y = np.sin(azimuth), np.cos(azimuth)
    along_pot, off_pot = np.zeros((2, _ENDINGS))
    along_pot[LID], along_pot[BOTTOM], off_pot[SIDE] = 1.0, -1.0, 1.0 / optics.pot_radius
    leaves, surface = np.full(_ENDINGS, MIRRORED), np.full(_ENDINGS, int(Surface.WALLS))
    leaves[[LID, SIDE, BOTTOM, GREY]] = DIFFUSED
    leaves[PASSING] = PASSING
    surface[list(_SURFACES)] = list(_SURFACES.values())
    return Scene(
        facet_count=count,
        facet_x=facet_x,
        facet_y=facet_y,
        flare=lean,
        apothem=0.5 * optics.bottom_across - lean * optics.bottom_height,
        top=optics.top_height,
        bottom=optics.bottom_height,
        ledge=ledge_flags(optics),
        cover_interface=optics.cover_interface,
        cover_reflectance=cover_reflectance,
        cover_table=table,
        pot_radius=optics.pot_radius,
        pot_half_height=0.5 * optics.pot_height,
        pot_centre=optics.pot_centre,
        **_normals(facet_x, facet_y, lean),
        along_pot=along_pot,
        off_pot=off_pot,
        keeps=_of_endings(
            optics.wall_reflectance, optics.plate_reflectance, 1.0 - optics.pot_absorptance, cover_reflectance
        ),
        leans=_of_endings(optics.wall_slope_error, optics.plate_slope_error, 0.0, 0.0),
        leaves=leaves,
        surface=surface,
        circle=circle(),
        gaussian=gaussian(),
    )


def _normals(facet_x: Array, facet_y: Array, lean: Array) -> dict[str, Array]:
    """Unit normals into the cell of everything but the pot, float64[cell, ending] each."""
    cells, width = facet_x.shape
    upright = 1.0 / np.sqrt(1.0 + lean[:, None] ** 2)
    x, y, z = np.zeros((3, cells, _ENDINGS))
    x[:, :width], y[:, :width], z[:, :width] = -upright * facet_x, -upright * facet_y, upright * lean[:, None]
    z[:, TOP], z[:, BASE] = -1.0, 1.0
    return {"normal_x": x, "normal_y": y, "normal_z": z}


def _of_endings(walls: Array, plate: float, pot: float, cover: float) -> Array:
    """One property of everything a flight may end on, float64[cell, ending]; walls where not told otherwise."""
    values = np.repeat(walls[:, None], _ENDINGS, axis=1)
    values[:, PLATE], values[:, [LID, SIDE, BOTTOM]] = plate, pot
    values[:, GREY], values[:, PANE], values[:, GONE] = cover, 0.0, 0.0
    return values
