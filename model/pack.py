"""The waist: a table of designs -> the plain arrays that light, heat and the payer eat.

Everything is a column, one value per design. The shapes: mouth and back plate are regular polygons given by
their width across flats; the jacket follows the funnel's tiers, or the box under it, at the insulation's
thickness.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .catalogue import Catalogue
from .constants import SUN_HALF_ANGLE
from .design import Design, Table, table_of
from .heat import Build
from .light import Optics, Ovens, oven_of
from .materials import HANDBOOK_TEMPERATURE
from .meal import Load
from .oven import ARCHETYPES
from .status import Status
from .tiers import ANGLE_FIELDS, WALL_FIELDS, Wall, flat, jacket, wall

Floats = NDArray[np.float64]

# A lid that lies loose lets steam out and air in through its gap by buoyancy: some 0.1 m/s through the half
# of the gap that blows outward. Common practice, no source; 1 cm2 at 90 degC then loses about 4 W.
VENT_SPEED = 0.06  # m/s over the whole gap
VAPOUR_GAS_CONSTANT = 461.5  # J/(kg K); IAPWS-95
INSULATION_MEAN = 335.0  # K; between a sheet near 90 degC and a skin near 35: conductivity is taken there
AIR_HEAT = 1.0 * 1007.0  # J/(m3 K), air near 350 K; a thousandth of a pot's heat
VENT_TEMPERATURE = 360.0  # K; the density of the vapour changes by 5 % from 70 to 100 degC


class Shape(NamedTuple):
    """Areas and volumes that follow from funnel, box, pot and insulation. [m2, m3]"""

    mouth: Floats  # aperture of the light
    widest: Floats  # largest cross section of the funnel
    cover: Floats
    sheet: Floats  # inner faces under the cover
    mirror: Floats  # all the sheet that is bought: inner faces, and the funnel where it stands open
    skin: Floats  # outside of the jacket
    rim: Floats  # perimeter of the cover [m]
    height: Floats  # of the cavity, along the axis [m]
    slant: Floats  # of its walls, along their middle [m]
    insulation: Floats  # volume
    cavity: Floats  # volume under the cover less the pot
    outline: Floats  # seen square to the axis
    pot_metal: Floats  # volume


class Materials(NamedTuple):
    """Property columns of the materials each design names; field -> float64[design]."""

    mirror: Mapping[str, Floats]
    cover: Mapping[str, Floats]
    insulation: Mapping[str, Floats]
    skin: Mapping[str, Floats]
    pot: Mapping[str, Floats]
    finish: Mapping[str, Floats]
    glue: Mapping[str, Floats]

    def take(self, rows: NDArray[np.int64]) -> "Materials":
        """The properties of some of the designs."""
        return Materials(*({name: column[rows] for name, column in part.items()} for part in self))


def materials_of(table: Table, catalogue: Catalogue) -> Materials:
    """Look up every material once and spread its properties over the rows that name it."""
    fields = {"mirror": "mirror", "cover": "cover", "insulation": "insulation"}
    fields |= {"skin": "skin", "pot": "pot_metal", "finish": "pot_finish", "glue": "glue"}
    return Materials(**{kind: _properties(table, field, catalogue) for kind, field in fields.items()})


def _properties(table: Table, field: str, catalogue: Catalogue) -> dict[str, Floats]:
    spec: Any = table.base.factors[field]
    names, row = np.unique(table[field].astype(str), return_inverse=True)
    entries = [catalogue.materials.numbers(spec.group, str(name)) for name in names]
    return {key: np.array([entry[key] for entry in entries])[row] for key in entries[0]}


def wall_of(table: Table) -> Wall:
    """Angles, widths and heights of the funnels' tiers."""
    return wall(**{name: table[name] for name in WALL_FIELDS})


def boxed(table: Table) -> NDArray[np.bool_]:
    """Which designs are open funnels over a box."""
    return np.asarray(table["archetype"].astype(str) == ARCHETYPES[1])


def shape_of(table: Table) -> Shape:
    """Areas and volumes of every design; of no meaning, but above zero, where `fits` refuses the shape."""
    over_box = boxed(table)
    both = zip(_covered_funnel(table), _funnel_over_box(table), strict=True)
    return Shape(*(np.where(over_box, box, funnel_alone) for funnel_alone, box in both))


def _covered_funnel(table: Table) -> Shape:
    """The jacket's faces lie the insulation's thickness off facets and plate; its rim is level with the mouth."""
    corners = table["facets"] * np.tan(np.pi / table["facets"])  # perimeter over across-flats
    mouth, inner = table["mouth"], wall_of(table)
    outer = jacket(inner, table["insulation_thickness"])
    sheet = _facets(corners, inner) + corners / 4 * inner.width[-1] ** 2
    inside = _inside(corners, inner)
    return Shape(
        mouth=corners / 4 * mouth**2,
        widest=corners / 4 * inner.across.max(axis=0) ** 2,
        cover=corners / 4 * mouth**2,
        sheet=sheet,
        mirror=sheet,
        skin=_facets(corners, outer) + corners / 4 * outer.width[-1] ** 2,
        rim=corners * mouth,
        height=table["depth"],
        slant=inner.slant.sum(axis=0),
        insulation=_inside(corners, outer) - inside,
        cavity=np.maximum(inside - _pot_volume(table), 0.0),
        outline=_outline(inner),
        pot_metal=_pot_metal(table),
    )


def _funnel_over_box(table: Table) -> Shape:
    """A square box clad on all sides but the cover; the funnel on it is bare sheet."""
    corners = table["facets"] * np.tan(np.pi / table["facets"])
    mouth, funnel = table["mouth"], wall_of(table)
    across, height, thickness = table["box_across"], table["box_depth"], table["insulation_thickness"]
    throat = np.minimum(funnel.width[-1], across)
    opening = corners / 4 * throat**2
    sheet = 2 * across**2 + 4 * across * height - opening
    outside, tall = across + 2 * thickness, height + 2 * thickness
    return Shape(
        mouth=corners / 4 * mouth**2,
        widest=corners / 4 * funnel.across.max(axis=0) ** 2,
        cover=opening,
        sheet=sheet,
        mirror=sheet + _facets(corners, funnel),
        skin=2 * outside**2 + 4 * outside * tall - opening,
        rim=corners * throat,
        height=height,
        slant=height,
        insulation=outside**2 * tall - across**2 * height - opening * thickness,
        cavity=np.maximum(across**2 * height - _pot_volume(table), 0.0),
        outline=_outline(funnel) + outside * tall,
        pot_metal=_pot_metal(table),
    )


def _facets(corners: Floats, tiers: Wall) -> Floats:
    """Area of all facets. [m2]"""
    top, bottom = tiers.width[:-1], tiers.width[1:]
    return np.asarray((corners * (top + bottom) / 2 * tiers.slant).sum(axis=0))


def _inside(corners: Floats, tiers: Wall) -> Floats:
    """Volume of all frusta. [m3]"""
    top, bottom = tiers.width[:-1], tiers.width[1:]
    return np.asarray((corners / 12 * tiers.rise * (top**2 + bottom**2 + top * bottom)).sum(axis=0))


def _outline(tiers: Wall) -> Floats:
    """Area seen square to the axis and to a facet. [m2]"""
    return np.asarray((tiers.rise * (tiers.width[:-1] + tiers.width[1:]) / 2).sum(axis=0))


def _pot_volume(table: Table) -> Floats:
    return np.asarray(np.pi / 4 * table["pot_diameter"] ** 2 * table["pot_height"])


def _pot_metal(table: Table) -> Floats:
    """Volume of wall, bottom and lid. [m3]"""
    radius = table["pot_diameter"] / 2
    return np.asarray(2 * np.pi * radius * (radius + table["pot_height"]) * table["pot_wall"])


def fits(table: Table) -> NDArray[np.int64]:
    """Status of each design from its shape alone: closed throats, flat tiers, narrow boxes, pots at the cover."""
    status = np.full(table.rows, int(Status.OK))
    room = np.where(boxed(table), table["box_depth"], table["depth"])
    funnel = wall_of(table)
    status[table["pot_lift"] + table["pot_height"] >= room] = int(Status.POT_TOUCHES_WALL)
    status[boxed(table) & (table["box_across"] < funnel.throat)] = int(Status.BOX_TOO_NARROW)
    status[funnel.narrowest <= 0] = int(Status.THROAT_CLOSED)
    status[flat(**{name: table[name] for name in ANGLE_FIELDS})] = int(Status.TIER_TOO_FLAT)
    return status


class Glint(NamedTuple):
    """The columns that light depends on; equal rows trace equally."""

    facets: Floats
    mouth: Floats
    depth: Floats
    tiers: Floats
    facet_angle: Floats
    second_bend: Floats  # 0, as the three below, where there is no such tier
    second_from: Floats
    third_bend: Floats
    third_from: Floats
    pot_radius: Floats
    pot_height: Floats
    pot_centre: Floats
    wall_reflectance: Floats
    wall_slope_error: Floats
    plate_reflectance: Floats
    plate_slope_error: Floats
    cover_panes: Floats
    cover_index: Floats
    cover_extinction_length: Floats
    pot_absorptance: Floats
    over_box: Floats  # 1 where the cover lies in the throat over a box
    box_across: Floats
    box_depth: Floats
    box_reflectance: Floats


def glint_of(table: Table, materials: Materials) -> Glint:
    """Optical columns of every design."""
    mirror, cover = materials.mirror, materials.cover
    reflectance = mirror["solar_reflectance"] * (1 - table["soiling"])
    own_slope = table["slope_error"]
    slope = np.where(np.isnan(own_slope), mirror["slope_error"], own_slope)
    dark_plate = table["back_plate"].astype(str) == "dark"
    dark_box = table["box_lining"].astype(str) == "dark"
    painted = 1 - materials.finish["solar_absorptance"]
    over_box = boxed(table)
    two, three = table["tiers"] >= 2, table["tiers"] >= 3
    return Glint(
        facets=table["facets"].astype(np.float64),
        mouth=table["mouth"],
        depth=table["depth"],
        tiers=table["tiers"].astype(np.float64),
        facet_angle=table["facet_angle"],
        second_bend=np.where(two, table["second_bend"], 0.0),  # so that light sees no unused tier
        second_from=np.where(two, table["second_from"], 0.0),
        third_bend=np.where(three, table["third_bend"], 0.0),
        third_from=np.where(three, table["third_from"], 0.0),
        pot_radius=table["pot_diameter"] / 2,
        pot_height=table["pot_height"],
        pot_centre=table["pot_lift"] + table["pot_height"] / 2,
        wall_reflectance=reflectance,
        wall_slope_error=slope,
        plate_reflectance=np.where(dark_plate, painted, reflectance),
        plate_slope_error=slope,
        cover_panes=table["panes"].astype(np.float64),
        cover_index=cover["refractive_index"],
        cover_extinction_length=cover["extinction"] * table["cover_thickness"],
        pot_absorptance=materials.finish["solar_absorptance"],
        over_box=over_box.astype(np.float64),
        box_across=np.where(over_box, table["box_across"], 0.0),  # nor an unused box
        box_depth=np.where(over_box, table["box_depth"], 0.0),
        box_reflectance=np.where(over_box, np.where(dark_box, painted, reflectance), 0.0),
    )


def emittances_of(table: Table, materials: Materials) -> Floats:
    """Long-wave emittances of pot, walls, plate and cover, float64[design, 4].

    Walls and plate are bare mirror, or dark in the pot's own finish.
    """
    bare, painted = materials.mirror["emittance"], materials.finish["emittance"]
    dark_box = boxed(table) & (table["box_lining"].astype(str) == "dark")
    dark_plate = np.where(boxed(table), dark_box, table["back_plate"].astype(str) == "dark")
    walls, plate = np.where(dark_box, painted, bare), np.where(dark_plate, painted, bare)
    return np.column_stack([painted, walls, plate, materials.cover["emittance"]])


def ovens_of(glints: Floats) -> Ovens:
    """Rows of a `Glint`, float64[design, field], as what the ray tracer eats."""
    given: Any = Glint(*np.array(glints, np.float64).T.copy())
    funnel = wall(**{name: getattr(given, name) for name in WALL_FIELDS})
    tiers, over_box = given.tiers.astype(np.int64), given.over_box != 0.0
    cells = tiers + over_box
    cell = np.minimum(
        np.arange(cells.max(initial=1)), cells[:, None] - 1
    )  # the last stands for those there are not
    box = over_box[:, None] & (cell == tiers[:, None])
    below = np.minimum(cell + 1, len(funnel.level) - 1)
    design, size = np.arange(len(glints))[:, None], given.box_across[:, None]
    level = given.box_depth + funnel.level
    return Ovens(
        cells=cells,
        facet_count=np.where(box, 4, given.facets[:, None].astype(np.int64)),
        top_across=np.where(box, size, funnel.across[cell, design]),
        bottom_across=np.where(box, size, funnel.across[below, design]),
        top_height=level[cell, design],
        bottom_height=np.where(box, 0.0, level[below, design]),
        wall_reflectance=np.where(box, given.box_reflectance[:, None], given.wall_reflectance[:, None]),
        wall_slope_error=np.repeat(given.wall_slope_error[:, None], cell.shape[1], axis=1),
        plate_reflectance=np.where(over_box, given.box_reflectance, given.plate_reflectance),
        plate_slope_error=given.plate_slope_error,
        cover_interface=np.where(over_box, tiers, 0),
        cover_index=given.cover_index,
        cover_extinction_length=given.cover_extinction_length,
        cover_panes=given.cover_panes.astype(np.int64),
        pot_radius=given.pot_radius,
        pot_height=given.pot_height,
        pot_centre=given.pot_centre,
        pot_absorptance=given.pot_absorptance,
        sun_half_angle=np.full(len(glints), SUN_HALF_ANGLE),
    )


def optics_of(glints: Floats) -> list[Optics]:
    """The same one by one."""
    ovens = ovens_of(glints)
    return [oven_of(ovens, row) for row in range(len(glints))]


def optics_of_design(design: Design, catalogue: Catalogue) -> Optics:
    """One design as what the ray tracer eats."""
    table = table_of([design])
    [optics] = optics_of(np.column_stack(glint_of(table, materials_of(table, catalogue))))
    return optics


def build_of(
    table: Table,
    *,
    materials: Materials,
    exchange: Floats,
    load: Load,
    boiling_temperature: float,
) -> Build:
    """Thermal columns of every design.

    Parameters
    ----------
    exchange : float64[design, 3]   [m2]
        Long-wave total exchange areas pot-cover, pot-sheet, sheet-cover, from the ray tracer.
    boiling_temperature : float   [K]
        At the pressure of the place.

    Source
    ------
    Insulation between an inner and an outer surface as k sqrt(A_in A_out) / thickness: exact for concentric
    spheres, close for boxes (Langmuir, I., Adams, E. Q. and Meikle, G. S., Flow of heat through
    furnace walls, Trans. Am. Electrochem. Soc. 24 (1913) 53, from memory); the growth at the edges is in it.
    """
    shape = shape_of(table)
    mirror, cover, skin = materials.mirror, materials.cover, materials.skin
    insulation, metal = materials.insulation, materials.pot
    thickness, skin_thickness = table["insulation_thickness"], table["skin_thickness"]
    warm = np.exp(insulation["temperature_coefficient"] * (INSULATION_MEAN - HANDBOOK_TEMPERATURE))
    through_wool = thickness / (insulation["conductivity"] * warm * np.sqrt(shape.sheet * shape.skin))
    through_skin = skin_thickness / (skin["conductivity"] * shape.skin)
    radius, height, panes = table["pot_diameter"] / 2, table["pot_height"], table["panes"]
    end = np.pi * radius**2
    return Build(
        solid_capacity=load.solid_capacity,
        water_mass=load.water_mass,
        contents_start=load.start,
        shell_conductance=load.shell_conductance,
        film_conductance=load.film_conductance * table["coupling_ratio"],
        boiling_temperature=np.full(table.rows, boiling_temperature),
        vent_conductance=table["lid_gap"] * VENT_SPEED / (VAPOUR_GAS_CONSTANT * VENT_TEMPERATURE),
        pot_capacity=shape.pot_metal * metal["density"] * metal["specific_heat"],
        pot_lid_area=end,
        pot_side_area=2 * np.pi * radius * height,
        pot_bottom_area=end,
        pot_radius=radius,
        pot_height=height,
        pot_cover_exchange=exchange[:, 0],
        pot_sheet_exchange=exchange[:, 1],
        sheet_cover_exchange=exchange[:, 2],
        air_capacity=shape.cavity * AIR_HEAT,
        cavity_height=shape.height,
        leak_area=table["leak_area"],
        sheet_capacity=shape.sheet * mirror["thickness"] * mirror["density"] * mirror["specific_heat"],
        sheet_area=shape.sheet,
        sheet_length=shape.slant,
        insulation_conductance=1 / (through_wool + through_skin),
        insulation_capacity=shape.insulation * insulation["density"] * insulation["specific_heat"],
        rim_conductance=skin["conductivity"] * skin_thickness * shape.rim / thickness,
        shell_capacity=shape.skin * skin_thickness * skin["density"] * skin["specific_heat"],
        shell_area=shape.skin,
        shell_height=shape.height + thickness,
        shell_emittance=skin["emittance"],
        cover_area=shape.cover,
        cover_length=shape.cover / shape.rim,
        cover_capacity=panes
        * shape.cover
        * table["cover_thickness"]
        * cover["density"]
        * cover["specific_heat"],
        cover_conductance=cover["conductivity"] / table["cover_thickness"],
        gap_thickness=np.where(panes == 2, table["pane_gap"], 0.0),
        cover_emittance=cover["emittance"],
    )


def bill_of(table: Table, materials: Materials) -> dict[str, tuple[Floats, Floats]]:
    """Mass [kg] and area [m2] of each part, float64[design]; the stand is not counted."""
    shape = shape_of(table)
    panes = table["panes"] * shape.cover
    metal = shape.pot_metal / table["pot_wall"]
    return {
        "mirror": (shape.mirror * materials.mirror["thickness"] * materials.mirror["density"], shape.mirror),
        "cover": (panes * table["cover_thickness"] * materials.cover["density"], panes),
        "insulation": (shape.insulation * materials.insulation["density"], shape.sheet),
        "skin": (shape.skin * table["skin_thickness"] * materials.skin["density"], shape.skin),
        "pot_metal": (shape.pot_metal * materials.pot["density"], metal),
    }
