"""Conductances of the network at given temperatures."""

from typing import NamedTuple

from ..compiled import inlined
from . import air, water
from .convection import (
    film_wind_watmuff,
    inclined_plate,
    leak_draught,
    nusselt_layer_hollands,
    plate_stable,
    plate_unstable,
    rayleigh,
    vertical_plate,
    vertical_plate_laminar,
)
from .nodes import Fabric, Forcing, PerNode
from .radiation import radiant_film, sky_view_plane, sky_view_rest
from .ratios import Ratios
from .roots import cube_root, fourth_root, sixth_root


class Links(NamedTuple):
    """Conductances [W/K] that change with temperature, and the vent of steam."""

    pot_air: float
    sheet_air: float
    cover_air: float
    pot_cover: float
    pot_sheet: float
    sheet_cover: float
    leak: float
    through_cover: float
    cover_wind: float
    cover_sky: float
    cover_ground: float
    shell_wind: float
    shell_sky: float
    shell_ground: float
    vent_heat: float  # W, latent heat of the steam by the lid at these temperatures
    vent_slope: float  # W/K, its change with the temperature of the outer shell
    latent_heat: float  # J/kg, and its reciprocal
    per_latent_heat: float


@inlined
def pot_to_air(build: Fabric[float], ratios: Ratios, t: PerNode, pressure: float) -> float:
    """Side, lid and bottom of an upright pot to the air around it. [W/K]"""
    film = 0.5 * (t.pot + t.air)
    difference = t.pot - t.air
    Ra = rayleigh(buoyancy=air.buoyancy(film, pressure), difference=difference, length=build.pot_height)
    third, fourth = cube_root(Ra), fourth_root(Ra)
    side = vertical_plate_laminar(fourth=fourth, prandtl=air.PRANDTL)
    rising = plate_unstable(third=third * ratios.disc_third, fourth=fourth * ratios.disc_fourth)
    layered = plate_stable(fourth=fourth * ratios.disc_fourth)
    hot = difference > 0.0
    lid, bottom = rising if hot else layered, layered if hot else rising
    discs = build.pot_lid_area * lid + build.pot_bottom_area * bottom
    sides = build.pot_side_area * side * ratios.per_pot_height
    return air.conductivity(film) * (sides + discs * ratios.per_half_radius)


@inlined
def plate_to_air(
    area: float,
    length: float,
    per_length: float,
    surface: float,
    fluid: float,
    forcing: Forcing,
    sine_sixth: float,
    unstable: bool,
) -> float:
    """One side of an inclined plate to the air beside it. [W/K]"""
    film = 0.5 * (surface + fluid)
    buoyancy = air.buoyancy(film, forcing.pressure)
    Ra = rayleigh(buoyancy=buoyancy, difference=surface - fluid, length=length)
    Nu = inclined_plate(
        sixth=sixth_root(Ra) * sine_sixth,
        third=cube_root(Ra) * forcing.cosine_third,
        fourth=fourth_root(Ra) * forcing.cosine_fourth,
        unstable=unstable,
        prandtl=air.PRANDTL,
    )
    return area * air.conductivity(film) * Nu * per_length


@inlined
def sheet_to_air(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> float:
    """Walls and plate to the cavity air: facing up as a whole, some wall always near upright. [W/K]"""
    return plate_to_air(
        area=build.sheet_area,
        length=build.sheet_length,
        per_length=ratios.per_sheet_length,
        surface=t.sheet,
        fluid=t.air,
        forcing=forcing,
        sine_sixth=1.0,
        unstable=t.sheet > t.air,
    )


@inlined
def cover_to_air(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> float:
    """Inner face of the cover, facing down, to the cavity air. [W/K]"""
    return plate_to_air(
        area=build.cover_area,
        length=build.cover_length,
        per_length=ratios.per_cover_length,
        surface=t.cover_inner,
        fluid=t.air,
        forcing=forcing,
        sine_sixth=forcing.sine_sixth,
        unstable=t.cover_inner < t.air,
    )


@inlined
def cover_to_wind(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> float:
    """Outer face of the cover, facing up, to the air: wind, or its own draught if that is more. [W/K]"""
    free = plate_to_air(
        area=build.cover_area,
        length=build.cover_length,
        per_length=ratios.per_cover_length,
        surface=t.cover_outer,
        fluid=forcing.air,
        forcing=forcing,
        sine_sixth=forcing.sine_sixth,
        unstable=t.cover_outer > forcing.air,
    )
    return max(free, build.cover_area * film_wind_watmuff(forcing.wind))


@inlined
def shell_to_wind(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> float:
    """Outer shell, upright on the whole, to the air: wind, or its own draught if that is more. [W/K]"""
    film = 0.5 * (t.shell + forcing.air)
    buoyancy = air.buoyancy(film, forcing.pressure)
    Ra = rayleigh(buoyancy=buoyancy, difference=t.shell - forcing.air, length=build.shell_height)
    Nu = vertical_plate(sixth=sixth_root(Ra), prandtl=air.PRANDTL)
    free = air.conductivity(film) * Nu * ratios.per_shell_height
    return build.shell_area * max(free, film_wind_watmuff(forcing.wind))


@inlined
def through_cover(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> float:
    """Inner node of the cover to its outer node: one pane, and the layer between two. [W/K]

    Without a gap the layer has no resistance and one pane is left.
    """
    mean = 0.5 * (t.cover_inner + t.cover_outer)
    Ra = rayleigh(
        buoyancy=air.buoyancy(mean, forcing.pressure),
        difference=max(t.cover_inner - t.cover_outer, 0.0),  # heated from above the layer is at rest
        length=build.gap_thickness,
    )
    Nu = nusselt_layer_hollands(rayleigh_across=Ra * forcing.layer_cosine, obliquity=forcing.obliquity)
    radiant = ratios.gap_emittance * radiant_film(first=t.cover_inner, second=t.cover_outer)
    gap = build.gap_thickness
    over_gap = air.conductivity(mean) * Nu + gap * radiant  # W/(m K): film of the layer times its thickness
    return build.cover_area * over_gap / (gap + over_gap * ratios.per_cover_conductance)


@inlined
def leak(build: Fabric[float], t: PerNode, forcing: Forcing) -> float:
    """Heat carried by air through the joints, per kelvin. [W/K]"""
    mean = 0.5 * (t.air + forcing.air)
    per_mean = 1.0 / mean
    flow = leak_draught(
        area=build.leak_area,
        height=build.cavity_height,
        buoyancy=abs(t.air - forcing.air) * per_mean,
        wind=forcing.wind,
    )
    density = forcing.pressure * air.PER_GAS_CONSTANT * per_mean
    return flow * density * air.specific_heat(mean)


@inlined
def vent(build: Fabric[float], t: PerNode, forcing: Forcing) -> tuple[float, float, float]:
    """Latent heat of steam leaving by the lid below boiling, its slope, and the heat of vaporisation."""
    wet = min(t.outer, build.boiling_temperature)
    latent = water.latent_heat(wet)
    excess = water.saturation_pressure(wet) - forcing.vapour
    strength = build.vent_conductance * latent
    heat = strength * max(excess, 0.0)
    slope = strength * water.saturation_slope(wet) if excess > 0.0 else 0.0
    return heat, slope, latent


@inlined
def links_at(build: Fabric[float], ratios: Ratios, t: PerNode, forcing: Forcing) -> Links:
    """All conductances that change, at temperatures `t`.

    Parameters
    ----------
    build : Fabric of floats
    ratios : Ratios
        Of the same lane.
    t : PerNode   [K]
    forcing : Forcing

    Returns
    -------
    links : Links
    """
    vent_heat, vent_slope, latent_heat = vent(build, t, forcing)
    sky_share = sky_view_plane(cosine_of_tilt=forcing.cosine)
    shell_sky_share = sky_view_rest(cosine_of_tilt=forcing.cosine, plane_share=ratios.plane_share)
    cover = build.cover_area * build.cover_emittance
    shell = build.shell_area * build.shell_emittance
    return Links(
        pot_air=pot_to_air(build, ratios, t, forcing.pressure),
        sheet_air=sheet_to_air(build, ratios, t, forcing),
        cover_air=cover_to_air(build, ratios, t, forcing),
        pot_cover=build.pot_cover_exchange * radiant_film(first=t.pot, second=t.cover_inner),
        pot_sheet=build.pot_sheet_exchange * radiant_film(first=t.pot, second=t.sheet),
        sheet_cover=build.sheet_cover_exchange * radiant_film(first=t.sheet, second=t.cover_inner),
        leak=leak(build, t, forcing),
        through_cover=through_cover(build, ratios, t, forcing),
        cover_wind=cover_to_wind(build, ratios, t, forcing),
        cover_sky=cover * sky_share * radiant_film(first=t.cover_outer, second=forcing.sky),
        cover_ground=cover * (1.0 - sky_share) * radiant_film(first=t.cover_outer, second=forcing.air),
        shell_wind=shell_to_wind(build, ratios, t, forcing),
        shell_sky=shell * shell_sky_share * radiant_film(first=t.shell, second=forcing.sky),
        shell_ground=shell * (1.0 - shell_sky_share) * radiant_film(first=t.shell, second=forcing.air),
        vent_heat=vent_heat,
        vent_slope=vent_slope,
        latent_heat=latent_heat,
        per_latent_heat=1.0 / latent_heat,
    )
