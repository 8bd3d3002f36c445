"""The stepping method, and the march of a block of lanes through a day.

Two-stage singly diagonally implicit Runge-Kutta, L-stable and stiffly accurate, of order two,
with conductances frozen for the step at the temperatures expected in its middle, so that both
stages share one linear matrix. Air and sky are those of each stage's instant.

Source
------
Alexander, "Diagonally implicit Runge-Kutta methods for stiff O.D.E.'s", SIAM J. Numer. Anal.
14 (1977) 1006: the two-stage method, gamma = 1 - 1 / sqrt(2).
"""

import math
from typing import NamedTuple

from ..compiled import inlined
from . import water
from .balance import Boiling, factor, solve
from .links import Links, links_at
from .nodes import Fabric, Forcing, PerNode
from .ratios import Ratios

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
CARRY = (1.0 - GAMMA) / GAMMA  # weight of the first stage's change in the base of the second
_LAST_DROP = 1e-12  # of the water at the start; less is rounding
FIRST, LAST = GAMMA - 0.5, 0.5  # instants of the stages, from the middle of the step


class Book(NamedTuple):
    """What one lane gained and lost during one step [J], and its water [kg]."""

    pot: float
    sheet: float
    cover: float
    cover_convection: float
    cover_radiation: float
    shell_convection: float
    shell_radiation: float
    leak: float
    steam: float
    water: float


@inlined
def rates(build: Fabric[float], water_mass: float, tau: float) -> PerNode:
    """Capacity of each node over a time. [W/K]"""
    per_second = 1.0 / tau
    third = build.solid_capacity * per_second * (1.0 / 3.0)
    half_cover = 0.5 * build.cover_capacity * per_second
    return PerNode(
        outer=third + water_mass * water.SPECIFIC_HEAT * per_second,
        middle=third,
        core=third,
        pot=build.pot_capacity * per_second,
        air=build.air_capacity * per_second,
        sheet=build.sheet_capacity * per_second,
        insulation=build.insulation_capacity * per_second,
        shell=build.shell_capacity * per_second,
        cover_inner=half_cover,
        cover_outer=half_cover,
    )


@inlined
def sources(links: Links, forcing: Forcing, instant: float) -> PerNode:
    """Heat brought to each node by the sun and, at the outside, by conductance times temperature. [W]

    The instant counts in steps from the middle of this one.
    """
    air = forcing.air + instant * forcing.air_change
    sky = forcing.sky + instant * forcing.sky_change
    half_cover = 0.5 * forcing.cover
    cover_air = (links.cover_wind + links.cover_ground) * air
    shell_air = (links.shell_wind + links.shell_ground) * air
    return PerNode(
        outer=0.0,
        middle=0.0,
        core=0.0,
        pot=forcing.pot,
        air=links.leak * air,
        sheet=forcing.sheet,
        insulation=0.0,
        shell=shell_air + links.shell_sky * sky,
        cover_inner=half_cover,
        cover_outer=half_cover + cover_air + links.cover_sky * sky,
    )


@inlined
def along(start: PerNode, end: PerNode, share: float) -> PerNode:
    """The point at a share of the way from one set of temperatures to another."""
    return PerNode(
        outer=start.outer + share * (end.outer - start.outer),
        middle=start.middle + share * (end.middle - start.middle),
        core=start.core + share * (end.core - start.core),
        pot=start.pot + share * (end.pot - start.pot),
        air=start.air + share * (end.air - start.air),
        sheet=start.sheet + share * (end.sheet - start.sheet),
        insulation=start.insulation + share * (end.insulation - start.insulation),
        shell=start.shell + share * (end.shell - start.shell),
        cover_inner=start.cover_inner + share * (end.cover_inner - start.cover_inner),
        cover_outer=start.cover_outer + share * (end.cover_outer - start.cover_outer),
    )


@inlined
def booked(
    links: Links, forcing: Forcing, mean: PerNode, step: float, steam: float, water_left: float
) -> Book:
    """What a step gained and lost at the mean temperatures of its stages."""
    cover_above = mean.cover_outer - forcing.air
    shell_above = mean.shell - forcing.air
    cover_sky = links.cover_sky * (mean.cover_outer - forcing.sky)
    shell_sky = links.shell_sky * (mean.shell - forcing.sky)
    return Book(
        pot=forcing.pot * step,
        sheet=forcing.sheet * step,
        cover=forcing.cover * step,
        cover_convection=links.cover_wind * cover_above * step,
        cover_radiation=(links.cover_ground * cover_above + cover_sky) * step,
        shell_convection=links.shell_wind * shell_above * step,
        shell_radiation=(links.shell_ground * shell_above + shell_sky) * step,
        leak=links.leak * (mean.air - forcing.air) * step,
        steam=steam,
        water=water_left,
    )


@inlined
def hotter(first: PerNode, second: PerNode) -> PerNode:
    """The higher of two temperatures, node by node."""
    return PerNode(
        outer=max(first.outer, second.outer),
        middle=max(first.middle, second.middle),
        core=max(first.core, second.core),
        pot=max(first.pot, second.pot),
        air=max(first.air, second.air),
        sheet=max(first.sheet, second.sheet),
        insulation=max(first.insulation, second.insulation),
        shell=max(first.shell, second.shell),
        cover_inner=max(first.cover_inner, second.cover_inner),
        cover_outer=max(first.cover_outer, second.cover_outer),
    )


@inlined
def within(forcing: Forcing, place: float, share: float) -> Forcing:
    """What is felt during a share of a step, from a place in it (0 to 1) on."""
    middle = place + 0.5 * share - 0.5
    return Forcing(
        air=forcing.air + middle * forcing.air_change,
        sky=forcing.sky + middle * forcing.sky_change,
        air_change=share * forcing.air_change,
        sky_change=share * forcing.sky_change,
        wind=forcing.wind,
        pressure=forcing.pressure,
        vapour=forcing.vapour,
        cosine=forcing.cosine,
        sine_sixth=forcing.sine_sixth,
        cosine_third=forcing.cosine_third,
        cosine_fourth=forcing.cosine_fourth,
        layer_cosine=forcing.layer_cosine,
        obliquity=forcing.obliquity,
        pot=forcing.pot,
        sheet=forcing.sheet,
        cover=forcing.cover,
    )


@inlined
def bend(start: float, first: float, end: float, expected: float) -> float:
    """How far from straight one temperature went through a step, or half its miss of the middle expected. [K]"""
    bent = abs(end - start - (first - start) * (1.0 / GAMMA))
    missed = abs(0.5 * (start + end) - expected)
    return max(bent, 0.5 * missed)


@inlined
def strayed(start: PerNode, first: PerNode, end: PerNode, expected: PerNode) -> float:
    """Measure of what a step may have wrong [K]: of the pot, or four times as strictly of the contents."""
    pot = bend(start.pot, first.pot, end.pot, expected.pot)
    return max(pot, 4.0 * bend(start.outer, first.outer, end.outer, expected.outer))


@inlined
def advance(
    build: Fabric[float],
    ratios: Ratios,
    start: PerNode,
    expected: PerNode,
    water_mass: float,
    forcing: Forcing,
    step: float,
) -> tuple[PerNode, Book, float]:
    """One step of one lane.

    Parameters
    ----------
    build : Fabric of floats
    ratios : Ratios
    start, expected : PerNode   [K]
        Temperatures at the start, and those expected in the middle.
    water_mass : float   [kg]
    forcing : Forcing
    step : float   [s]

    Returns
    -------
    end : PerNode   [K]
    book : Book
        Sums over the step, from the same stages: they close to rounding.
    astray : float   [K]
        See `strayed`.
    """
    links = links_at(build, ratios, expected, forcing)
    per_latent = links.per_latent_heat
    middle_mass = max(water_mass - 0.5 * step * links.vent_heat * per_latent, 0.0)
    f = factor(build, links, rates(build, middle_mass, GAMMA * step))
    boiling = Boiling(
        temperature=build.boiling_temperature,
        vent_heat=links.vent_heat,
        vent_temperature=min(expected.outer, build.boiling_temperature),
        limit=water_mass * links.latent_heat / step,
    )
    first, first_steam = solve(f, start, sources(links, forcing, FIRST), boiling)
    end, last_steam = solve(f, along(start, first, CARRY), sources(links, forcing, LAST), boiling)

    mean = along(first, end, GAMMA)
    vapour = min((first_steam + GAMMA * (last_steam - first_steam)) * step * per_latent, water_mass)
    left = water_mass - vapour
    left = left if left > _LAST_DROP * build.water_mass else 0.0
    # Warm water that leaves: heat put into the middle mass, less the change of heat in the water there is.
    carried = middle_mass * (end.outer - start.outer) + water_mass * (start.outer - build.contents_start)
    carried = water.SPECIFIC_HEAT * (carried - left * (end.outer - build.contents_start))
    book = booked(links, forcing, mean, step, vapour * links.latent_heat + carried, left)
    return end, book, strayed(start, first, end, expected)
