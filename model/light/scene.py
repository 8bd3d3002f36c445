"""What the tracing kernels eat: an oven's shape and optical properties laid out as plain numbers."""

from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, NamedTuple

import numpy as np

from ..compiled import kernel
from .cover import cover_table
from .facets import MOST_FACETS, Array, Ints, Ovens, Surface, facing, flare, ledge_flags
from .ovens import checked
from .sampling import circle, gaussian

GROUP = 4  # facets tried in one pass of the vector loop; counts are padded to a multiple

# What a flight ends on. Below these, the number of a facet.
TOP: Final = MOST_FACETS
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
    facet_x: Array  # [cell, facet], spare columns repeat facet 0
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


class Scenes(NamedTuple):
    """Many ovens as `scene_of` takes them apart: the fields of `Scene`, those that differ with one axis more in front.

    Cells and facets that an oven lacks are there too, but never looked at.
    """

    cells: Ints  # [oven]
    facet_count: Ints
    facet_x: Array
    facet_y: Array
    flare: Array
    apothem: Array
    top: Array
    bottom: Array
    ledge: Ints
    cover_interface: Ints
    cover_reflectance: Array
    cover_tables: Array  # [table, transmittance or reflectance, cosine]
    cover_table: Ints  # [oven], into those
    pot_radius: Array
    pot_half_height: Array
    pot_centre: Array
    normal_x: Array
    normal_y: Array
    normal_z: Array
    along_pot: Array  # [ending], the same for all ovens
    off_pot: Array
    keeps: Array
    leans: Array
    leaves: Ints  # [ending], the same for all ovens, as all below
    surface: Ints
    circle: Array
    gaussian: Array


@kernel
def scene_of(scenes: Scenes, oven: int) -> Scene:
    """One of many ovens."""
    cells = scenes.cells[oven]
    return Scene(
        scenes.facet_count[oven, :cells],
        scenes.facet_x[oven, :cells],
        scenes.facet_y[oven, :cells],
        scenes.flare[oven, :cells],
        scenes.apothem[oven, :cells],
        scenes.top[oven, :cells],
        scenes.bottom[oven, :cells],
        scenes.ledge[oven, :cells],
        scenes.cover_interface[oven],
        scenes.cover_reflectance[oven],
        scenes.cover_tables[scenes.cover_table[oven]],
        scenes.pot_radius[oven],
        scenes.pot_half_height[oven],
        scenes.pot_centre[oven],
        scenes.normal_x[oven, :cells],
        scenes.normal_y[oven, :cells],
        scenes.normal_z[oven, :cells],
        scenes.along_pot,
        scenes.off_pot[oven],
        scenes.keeps[oven, :cells],
        scenes.leans[oven, :cells],
        scenes.leaves,
        scenes.surface,
        scenes.circle,
        scenes.gaussian,
    )


class InSunlight(NamedTuple):
    """Ovens found sound and laid out for tracing."""

    ovens: Ovens
    scenes: Scenes
    sine: Array  # [oven] of the sun's half angle


def in_sunlight(ovens: Ovens) -> InSunlight:
    """Ovens in sunlight: clear covers, solar properties.

    Raises
    ------
    ValueError
        If a number is out of range; see `checked`.
    """
    scenes = _scenes(checked(ovens), np.full(len(ovens.cells), -1.0), *_cover_tables(ovens))
    return InSunlight(ovens, scenes, np.sin(ovens.sun_half_angle))


def _cover_tables(ovens: Ovens) -> tuple[Array, Ints]:
    """Tables of the different clear covers, float64[table, 2, cosine], and which each oven has."""
    columns = ovens.cover_panes, ovens.cover_index, ovens.cover_extinction_length
    covers = list(zip(*(column.tolist() for column in columns), strict=True))
    place = {cover: k for k, cover in enumerate(sorted(set(covers)))}
    return _kept_tables(*place), np.array([place[cover] for cover in covers], np.int64)


@lru_cache(maxsize=4)  # a study that varies its covers takes 8 MB each
def _kept_tables(*covers: tuple[int, float, float]) -> Array:
    """Tables of covers in the order of their panes; kept, as studies mostly ask for one and the same."""
    tables = [np.zeros((0, 2, 2))] if not covers else []
    for panes, alike in groupby(covers, key=itemgetter(0)):
        _, index, extinction_length = np.array(list(alike)).T
        tables.append(cover_table(index=index, extinction_length=extinction_length, panes=panes))
    return np.concatenate(tables)


class Emittances(NamedTuple):
    """Of what an oven's own radiation meets, each float64[oven]. [-]"""

    pot: Array
    wall: Array
    plate: Array
    cover: Array


def thermal_scenes(ovens: Ovens, emittances: Emittances) -> Scenes:
    """Ovens in their own long-wave radiation.

    Walls and plate stay mirrors with their slope errors; pot and cover are opaque and diffuse.
    """
    walls = np.broadcast_to(1.0 - emittances.wall[:, None], ovens.wall_reflectance.shape)
    grey = ovens._replace(
        wall_reflectance=walls, plate_reflectance=1.0 - emittances.plate, pot_absorptance=emittances.pot
    )
    return _scenes(grey, 1.0 - emittances.cover, np.zeros((1, 2, 2)), np.zeros(len(ovens.cells), np.int64))


def _scenes(ovens: Ovens, cover_reflectance: Array, cover_tables: Array, cover_table: Ints) -> Scenes:
    count, lean = ovens.facet_count, flare(ovens)
    width = -(-int(count.max(initial=GROUP)) // GROUP) * GROUP
    facet_x, facet_y = facing()[:, count, :width]
    along_pot, leaves, surface = _of_all_ovens()
    off_pot = np.zeros((len(count), _ENDINGS))
    off_pot[:, SIDE] = 1.0 / ovens.pot_radius
    none = np.zeros(len(count))
    pot = 1.0 - ovens.pot_absorptance
    scenes = Scenes(
        cells=ovens.cells,
        facet_count=count,
        facet_x=facet_x,
        facet_y=facet_y,
        flare=lean,
        apothem=0.5 * ovens.bottom_across - lean * ovens.bottom_height,
        top=ovens.top_height,
        bottom=ovens.bottom_height,
        ledge=ledge_flags(ovens),
        cover_interface=ovens.cover_interface,
        cover_reflectance=cover_reflectance,
        cover_tables=cover_tables,
        cover_table=cover_table,
        pot_radius=ovens.pot_radius,
        pot_half_height=0.5 * ovens.pot_height,
        pot_centre=ovens.pot_centre,
        **_normals(facet_x, facet_y, lean),
        along_pot=along_pot,
        off_pot=off_pot,
        keeps=_of_endings(ovens.wall_reflectance, ovens.plate_reflectance, pot, cover_reflectance),
        leans=_of_endings(ovens.wall_slope_error, ovens.plate_slope_error, none, none),
        leaves=leaves,
        surface=surface,
        circle=circle(),
        gaussian=gaussian(),
    )
    columns: Any = (np.ascontiguousarray(column) for column in scenes)  # one layout, one compiled kernel
    return Scenes(*columns)


def _of_all_ovens() -> tuple[Array, Ints, Ints]:
    """What is known of an ending in any oven: pot's normal along its axis, how a ray goes on, where it is booked."""
    along_pot = np.zeros(_ENDINGS)
    along_pot[LID], along_pot[BOTTOM] = 1.0, -1.0
    leaves, surface = np.full(_ENDINGS, MIRRORED), np.full(_ENDINGS, int(Surface.WALLS))
    leaves[[LID, SIDE, BOTTOM, GREY]] = DIFFUSED
    leaves[PASSING] = PASSING
    surface[list(_SURFACES)] = list(_SURFACES.values())
    return along_pot, leaves, surface


def _normals(facet_x: Array, facet_y: Array, lean: Array) -> dict[str, Array]:
    """Unit normals into the cell of everything but the pot, float64[oven, cell, ending] each."""
    width = facet_x.shape[2]
    upright, lean = 1.0 / np.sqrt(1.0 + lean[..., None] ** 2), lean[..., None]
    x, y, z = np.zeros((3, *facet_x.shape[:2], _ENDINGS))
    x[..., :width], y[..., :width], z[..., :width] = -upright * facet_x, -upright * facet_y, upright * lean
    z[..., TOP], z[..., BASE] = -1.0, 1.0
    return {"normal_x": x, "normal_y": y, "normal_z": z}


def _of_endings(walls: Array, plate: Array, pot: Array, cover: Array) -> Array:
    """One property of all that flights may end on, float64[oven, cell, ending]; walls where not told otherwise."""
    values = np.repeat(walls[..., None], _ENDINGS, axis=2)
    values[..., PLATE], values[..., [LID, SIDE, BOTTOM]] = plate[:, None], pot[:, None, None]
    values[..., GREY], values[..., PANE], values[..., GONE] = cover[:, None], 0.0, 0.0
    return values
