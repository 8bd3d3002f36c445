"""The waist: a table of designs -> the plain arrays that light, heat and the payer eat.

Everything is a column, one value per design. The shapes: mouth and back plate are regular polygons given by
their width across flats; the jacket follows the funnel at the thickness of the insulation.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .catalogue import Catalogue
from .design import Table
from .heat import Build
from .light import Optics, funnel
from .materials import HANDBOOK_TEMPERATURE
from .meal import Load
from .oven import throat_across
from .status import Status

Floats = NDArray[np.float64]

# A lid that lies loose lets steam out and air in through its gap by buoyancy: some 0.1 m/s through the half
# of the gap that blows outward. Common practice, no source; 1 cm2 at 90 degC then loses about 4 W.
VENT_SPEED = 0.06  # m/s over the whole gap
VAPOUR_GAS_CONSTANT = 461.5  # J/(kg K); IAPWS-95
INSULATION_MEAN = 335.0  # K; between a sheet near 90 degC and a skin near 35: conductivity is taken there
AIR_HEAT = 1.0 * 1007.0  # J/(m3 K), air near 350 K; a thousandth of a pot's heat
VENT_TEMPERATURE = 360.0  # K; the density of the vapour changes by 5 % from 70 to 100 degC


class Shape(NamedTuple):
    """Areas and volumes that follow from the funnel, the pot and the insulation. [m2, m3]"""

    mouth: Floats
    plate: Floats
    facets: Floats
    skin: Floats  # outside of the jacket
    rim: Floats  # perimeter of the mouth [m]
    slant: Floats  # facet from mouth to plate, along its middle [m]
    insulation: Floats  # volume
    cavity: Floats  # volume of the funnel less the pot
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


def throat_of(table: Table) -> Floats:
    """Across the flats of the back plate; not above zero where there is none. [m]"""
    return np.asarray(throat_across(table["mouth"], table["depth"], table["facet_angle"]))


def shape_of(table: Table) -> Shape:
    """Areas and volumes of every design; nonsense where the throat is closed."""
    corners = table["facets"] * np.tan(np.pi / table["facets"])  # perimeter over across-flats
    mouth, throat, depth = table["mouth"], throat_of(table), table["depth"]
    cosine, tangent = np.cos(table["facet_angle"]), np.tan(table["facet_angle"])
    thickness = table["insulation_thickness"]
    plate, top = corners / 4 * throat**2, corners / 4 * mouth**2
    facets = corners * (mouth + throat) / 2 * depth / cosine
    # The jacket's faces lie `thickness` off facets and plate; its rim is level with the mouth.
    outer_mouth = mouth + 2 * thickness / cosine
    outer_depth = depth + thickness
    outer_throat = outer_mouth - 2 * outer_depth * tangent
    outer_facets = corners * (outer_mouth + outer_throat) / 2 * outer_depth / cosine
    funnel_volume = depth / 3 * (top + plate + np.sqrt(top * plate))
    outer_plate, outer_top = corners / 4 * outer_throat**2, corners / 4 * outer_mouth**2
    outer_volume = outer_depth / 3 * (outer_top + outer_plate + np.sqrt(outer_top * outer_plate))
    radius, height = table["pot_diameter"] / 2, table["pot_height"]
    return Shape(
        mouth=top,
        plate=plate,
        facets=facets,
        skin=outer_facets + outer_plate,
        rim=corners * mouth,
        slant=depth / cosine,
        insulation=outer_volume - funnel_volume,
        cavity=np.maximum(funnel_volume - np.pi * radius**2 * height, 0.0),
        pot_metal=2 * np.pi * radius * (radius + height) * table["pot_wall"],
    )


def fits(table: Table) -> NDArray[np.int64]:
    """Status of each design from its shape alone: closed throats, and pots that reach the cover."""
    status = np.full(table.rows, int(Status.OK))
    status[table["pot_lift"] + table["pot_height"] >= table["depth"]] = int(Status.POT_TOUCHES_WALL)
    status[throat_of(table) <= 0] = int(Status.THROAT_CLOSED)
    return status


class Glint(NamedTuple):
    """The columns that light depends on; equal rows trace equally."""

    facets: Floats
    mouth: Floats
    depth: Floats
    facet_angle: Floats
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


def glint_of(table: Table, materials: Materials) -> Glint:
    """Optical columns of every design."""
    mirror, cover = materials.mirror, materials.cover
    reflectance = mirror["solar_reflectance"] * (1 - table["soiling"])
    own_slope = table["slope_error"]
    slope = np.where(np.isnan(own_slope), mirror["slope_error"], own_slope)
    dark = table["back_plate"].astype(str) == "dark"
    return Glint(
        facets=table["facets"].astype(np.float64),
        mouth=table["mouth"],
        depth=table["depth"],
        facet_angle=table["facet_angle"],
        pot_radius=table["pot_diameter"] / 2,
        pot_height=table["pot_height"],
        pot_centre=table["pot_lift"] + table["pot_height"] / 2,
        wall_reflectance=reflectance,
        wall_slope_error=slope,
        plate_reflectance=np.where(dark, 1 - materials.finish["solar_absorptance"], reflectance),
        plate_slope_error=slope,
        cover_panes=table["panes"].astype(np.float64),
        cover_index=cover["refractive_index"],
        cover_extinction_length=cover["extinction"] * table["cover_thickness"],
        pot_absorptance=materials.finish["solar_absorptance"],
    )


def optics_of(row: Floats) -> Optics:
    """One row of a `Glint` as what the ray tracer eats."""
    values: dict[str, Any] = dict(zip(Glint._fields, row.tolist(), strict=True))
    values["facets"], values["cover_panes"] = int(values["facets"]), int(values["cover_panes"])
    return funnel(**values)


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
    sheet_area = shape.facets + shape.plate
    thickness, skin_thickness = table["insulation_thickness"], table["skin_thickness"]
    warm = np.exp(insulation["temperature_coefficient"] * (INSULATION_MEAN - HANDBOOK_TEMPERATURE))
    through_wool = thickness / (insulation["conductivity"] * warm * np.sqrt(sheet_area * shape.skin))
    through_skin = skin_thickness / (skin["conductivity"] * shape.skin)
    radius, height, panes = table["pot_diameter"] / 2, table["pot_height"], table["panes"]
    end = np.pi * radius**2
    return Build(
        solid_capacity=load.solid_capacity,
        water_mass=load.water_mass,
        contents_start=load.start,
        shell_conductance=load.shell_conductance,
        film_conductance=load.film_conductance,
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
        cavity_height=table["depth"],
        leak_area=table["leak_area"],
        sheet_capacity=sheet_area * mirror["thickness"] * mirror["density"] * mirror["specific_heat"],
        sheet_area=sheet_area,
        sheet_length=shape.slant,
        insulation_conductance=1 / (through_wool + through_skin),
        insulation_capacity=shape.insulation * insulation["density"] * insulation["specific_heat"],
        rim_conductance=skin["conductivity"] * skin_thickness * shape.rim / thickness,
        shell_capacity=shape.skin * skin_thickness * skin["density"] * skin["specific_heat"],
        shell_area=shape.skin,
        shell_height=table["depth"] + thickness,
        shell_emittance=skin["emittance"],
        cover_area=shape.mouth,
        cover_length=shape.mouth / shape.rim,
        cover_capacity=panes
        * shape.mouth
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
    sheet = shape.facets + shape.plate
    panes = table["panes"] * shape.mouth
    metal = shape.pot_metal / table["pot_wall"]
    return {
        "mirror": (sheet * materials.mirror["thickness"] * materials.mirror["density"], sheet),
        "cover": (panes * table["cover_thickness"] * materials.cover["density"], panes),
        "insulation": (shape.insulation * materials.insulation["density"], sheet),
        "skin": (shape.skin * table["skin_thickness"] * materials.skin["density"], shape.skin),
        "pot_metal": (shape.pot_metal * materials.pot["density"], metal),
    }
