"""One linear heat balance of the network, solved exactly.

    (C / tau) (T - base) = sources - sum of conductance * difference

The matrix is symmetric; leaves are folded into their only neighbour, then air, sheet and
cover inner face are eliminated in turn, and pot and outer shell are left, where boiling is
decided. `factor` does what depends on the matrix alone, `solve` what depends on the sources,
so that two stages of a step share the first.

Letters: a = C / tau of a node; p = reciprocal pivot of a node; x = coupling that elimination
leaves between two nodes; r = right-hand side of a node.
"""

from typing import NamedTuple

from ..compiled import inlined
from .links import Links
from .nodes import Fabric, PerNode


class Factors(NamedTuple):
    """Pivots and couplings of one matrix."""

    a: PerNode  # W/K
    shells: float  # outer-middle and middle-core conductance
    film: float  # pot-outer
    half_insulation: float  # insulation to either side
    through_cover: float
    pot_air: float
    air_sheet: float
    air_cover: float
    p_core: float
    p_middle: float
    p_cover_outer: float
    p_insulation: float
    p_shell: float
    p_air: float
    p_sheet: float
    p_cover: float
    pot: float  # diagonal of the pot, and its reciprocal: the pivot with the outer shell held
    p_pot: float
    d_outer: float  # diagonal of the outer shell
    p_pair: float  # reciprocal determinant of pot and outer shell
    p_pair_vented: float  # the same with the slope of the vent
    vent_slope: float
    x_sheet_shell: float
    x_sheet_cover: float
    x_sheet_pot: float
    x_cover_pot: float


class Boiling(NamedTuple):
    """What limits the outer shell: temperatures [K] and heat taken by steam [W]."""

    temperature: float  # boiling temperature
    vent_heat: float  # heat of the steam by the lid at `vent_temperature`
    vent_temperature: float
    limit: float  # W that would use up all water within the step; 0 for a dry lane


@inlined
def factor(build: Fabric[float], links: Links, a: PerNode) -> Factors:
    """Eliminate the network down to pot and outer shell."""
    shells = build.shell_conductance
    p_core = 1.0 / (a.core + shells)
    beyond_middle = a.middle + shells * a.core * p_core
    p_middle = 1.0 / (beyond_middle + shells)
    d_outer = a.outer + shells * beyond_middle * p_middle + build.film_conductance

    beyond_cover = a.cover_outer + links.cover_wind + links.cover_sky + links.cover_ground
    p_cover_outer = 1.0 / (beyond_cover + links.through_cover)

    half = 2.0 * build.insulation_conductance
    p_insulation = 1.0 / (a.insulation + 2.0 * half)
    into_insulation = half * (a.insulation + half) * p_insulation
    beyond_shell = links.shell_wind + links.shell_sky + links.shell_ground
    p_shell = 1.0 / (a.shell + beyond_shell + build.rim_conductance + into_insulation)
    x_sheet_shell = build.rim_conductance + half * half * p_insulation

    p_air = 1.0 / (a.air + links.pot_air + links.sheet_air + links.cover_air + links.leak)
    sheet = a.sheet + links.sheet_air + links.pot_sheet + links.sheet_cover
    sheet += build.rim_conductance + into_insulation - x_sheet_shell * x_sheet_shell * p_shell
    sheet -= links.sheet_air * links.sheet_air * p_air
    p_sheet = 1.0 / sheet
    x_sheet_cover = links.sheet_cover + links.sheet_air * links.cover_air * p_air
    x_sheet_pot = links.pot_sheet + links.sheet_air * links.pot_air * p_air

    cover = a.cover_inner + links.cover_air + links.pot_cover + links.sheet_cover
    cover += links.through_cover * beyond_cover * p_cover_outer
    cover -= links.cover_air * links.cover_air * p_air + x_sheet_cover * x_sheet_cover * p_sheet
    p_cover = 1.0 / cover
    x_cover_pot = links.pot_cover + links.cover_air * links.pot_air * p_air
    x_cover_pot += x_sheet_cover * x_sheet_pot * p_sheet

    pot = a.pot + links.pot_air + links.pot_cover + links.pot_sheet + build.film_conductance
    pot -= links.pot_air * links.pot_air * p_air + x_sheet_pot * x_sheet_pot * p_sheet
    pot -= x_cover_pot * x_cover_pot * p_cover
    film_squared = build.film_conductance * build.film_conductance
    return Factors(
        a=a,
        shells=shells,
        film=build.film_conductance,
        half_insulation=half,
        through_cover=links.through_cover,
        pot_air=links.pot_air,
        air_sheet=links.sheet_air,
        air_cover=links.cover_air,
        p_core=p_core,
        p_middle=p_middle,
        p_cover_outer=p_cover_outer,
        p_insulation=p_insulation,
        p_shell=p_shell,
        p_air=p_air,
        p_sheet=p_sheet,
        p_cover=p_cover,
        pot=pot,
        p_pot=1.0 / pot,
        d_outer=d_outer,
        p_pair=1.0 / (d_outer * pot - film_squared),
        p_pair_vented=1.0 / ((d_outer + links.vent_slope) * pot - film_squared),
        vent_slope=links.vent_slope,
        x_sheet_shell=x_sheet_shell,
        x_sheet_cover=x_sheet_cover,
        x_sheet_pot=x_sheet_pot,
        x_cover_pot=x_cover_pot,
    )


@inlined
def pot_and_outer(f: Factors, boiling: Boiling, r_pot: float, r_outer: float) -> tuple[float, float, float]:
    """Temperatures of pot and outer shell, and the heat that steam takes [W], without a branch.

    Let the lid vent, hold the outer shell at the boiling temperature if it would pass it, ask
    what heat must leave for that, cut it to the water there is, and solve with that heat. Cut
    to nothing, this is the plain solution; cut to the limit, the lane boils dry in this step.
    """
    r_vented = r_outer - boiling.vent_heat + f.vent_slope * boiling.vent_temperature
    vented = (f.pot * r_vented + f.film * r_pot) * f.p_pair_vented
    held = min(vented, boiling.temperature)
    steam = r_outer + f.film * (r_pot + f.film * held) * f.p_pot - f.d_outer * held
    steam = min(max(steam, 0.0), boiling.limit)
    outer = (f.pot * (r_outer - steam) + f.film * r_pot) * f.p_pair
    return (r_pot + f.film * outer) * f.p_pot, outer, steam


@inlined
def solve(f: Factors, base: PerNode, heat: PerNode, boiling: Boiling) -> tuple[PerNode, float]:
    """Temperatures at the end of one implicit stage, and the heat that steam takes.

    Parameters
    ----------
    f : Factors
    base : PerNode   [K]
        What the stored heat starts from.
    heat : PerNode   [W]
        Sources, with conductance times outside temperature for nodes that touch the outside.
    boiling : Boiling

    Returns
    -------
    temperatures : PerNode   [K]
    steam : float   [W]
    """
    a = f.a
    r_core = a.core * base.core + heat.core
    r_middle = a.middle * base.middle + heat.middle + f.shells * f.p_core * r_core
    r_outer = a.outer * base.outer + heat.outer + f.shells * f.p_middle * r_middle
    r_cover_outer = a.cover_outer * base.cover_outer + heat.cover_outer
    r_insulation = a.insulation * base.insulation + heat.insulation
    into_sides = f.half_insulation * f.p_insulation * r_insulation
    r_shell = a.shell * base.shell + heat.shell + into_sides
    r_air = f.p_air * (a.air * base.air + heat.air)
    r_sheet = a.sheet * base.sheet + heat.sheet + into_sides
    r_sheet += f.x_sheet_shell * f.p_shell * r_shell + f.air_sheet * r_air
    r_cover = a.cover_inner * base.cover_inner + heat.cover_inner + f.air_cover * r_air
    r_cover += f.through_cover * f.p_cover_outer * r_cover_outer + f.x_sheet_cover * f.p_sheet * r_sheet
    r_pot = a.pot * base.pot + heat.pot + f.pot_air * r_air
    r_pot += f.x_sheet_pot * f.p_sheet * r_sheet + f.x_cover_pot * f.p_cover * r_cover

    pot, outer, steam = pot_and_outer(f, boiling, r_pot, r_outer)
    cover = (r_cover + f.x_cover_pot * pot) * f.p_cover
    sheet = (r_sheet + f.x_sheet_cover * cover + f.x_sheet_pot * pot) * f.p_sheet
    shell = (r_shell + f.x_sheet_shell * sheet) * f.p_shell
    middle = (r_middle + f.shells * outer) * f.p_middle
    temperatures = PerNode(
        outer=outer,
        middle=middle,
        core=(r_core + f.shells * middle) * f.p_core,
        pot=pot,
        air=r_air + (f.air_sheet * sheet + f.air_cover * cover + f.pot_air * pot) * f.p_air,
        sheet=sheet,
        insulation=(r_insulation + f.half_insulation * (sheet + shell)) * f.p_insulation,
        shell=shell,
        cover_inner=cover,
        cover_outer=(r_cover_outer + f.through_cover * cover) * f.p_cover_outer,
    )
    return temperatures, steam
