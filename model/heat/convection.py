"""Natural convection, wind and leakage, each law by author and year.

Properties go in at the film (mean) temperature. All laws are continuous in the Rayleigh
number, as a stepping method needs; where a book switches between two, the larger is taken.
"""

import math

from ..compiled import inlined
from ..constants import STANDARD_GRAVITY
from .roots import cube_root, fourth_root, sixth_root

HOLLANDS_STEEPEST = math.radians(75.0)  # the layer law is not fitted beyond; steeper layers count as this
LEAK_PRESSURE_SPREAD = 0.5  # wind pressure coefficient across the joint; engineering judgement, no source


@inlined
def rayleigh(buoyancy: float, difference: float, length: float) -> float:
    """Rayleigh number from g beta / (nu alpha) [1/(K m3)], a difference [K] and a length [m]. [1]"""
    return buoyancy * abs(difference) * length * length * length


@inlined
def nusselt_vertical_plate_churchill_chu(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number of a vertical plate, laminar and turbulent; length is the height. [1]

    Fitted for Ra up to 1e12, all Pr.

    Source
    ------
    Churchill and Chu, "Correlating equations for laminar and turbulent free convection from a
    vertical plate", Int. J. Heat Mass Transfer 18 (1975) 1323; Incropera, equation 9.26.
    """
    return vertical_plate(sixth=sixth_root(rayleigh), prandtl=prandtl)


@inlined
def vertical_plate(sixth: float, prandtl: float) -> float:
    """The law of Churchill and Chu from the sixth root of the Rayleigh number. [1]"""
    shape: float = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.825 + 0.387 / shape * sixth
    return root * root


@inlined
def nusselt_vertical_plate_laminar_churchill_chu(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number of a vertical plate in laminar flow, Ra up to 1e9. [1]

    Good for an upright cylinder too where diameter / height > 35 / Gr^(1/4): 0.7 for a pot
    12 cm high and 60 K warmer than the air, and pots are wider than that.

    Source
    ------
    Churchill and Chu (1975), as above; Incropera, equations 9.27 and (cylinder) section 9.6.1.
    """
    return vertical_plate_laminar(fourth=fourth_root(rayleigh), prandtl=prandtl)


@inlined
def vertical_plate_laminar(fourth: float, prandtl: float) -> float:
    """The laminar law from the fourth root of the Rayleigh number. [1]"""
    shape: float = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (4.0 / 9.0)
    return 0.68 + 0.670 / shape * fourth


@inlined
def nusselt_plate_unstable_mcadams(rayleigh: float) -> float:
    """Mean Nusselt number of a level plate, hot facing up or cold facing down. [1]

    The length is area / perimeter. 0.54 Ra^(1/4) for 1e4 to 1e7 and 0.15 Ra^(1/3) for 1e7 to
    1e11; here the larger of the two, which meet at 4.7e6 and differ by 6 % at 1e7.

    Source
    ------
    McAdams, "Heat Transmission", 3rd edition, 1954; Lloyd and Moran, ASME paper 74-WA/HT-66,
    1974 (length and 0.54, 0.15); Incropera, equations 9.30 and 9.31.
    """
    return plate_unstable(third=cube_root(rayleigh), fourth=fourth_root(rayleigh))


@inlined
def plate_unstable(third: float, fourth: float) -> float:
    """The unstable law of McAdams from roots of the Rayleigh number. [1]"""
    return max(0.54 * fourth, 0.15 * third)


@inlined
def nusselt_plate_stable_mcadams(rayleigh: float) -> float:
    """Mean Nusselt number of a level plate, hot facing down or cold facing up, 1e5 to 1e10. [1]

    The older 0.27 Ra^(1/4). Newer books print 0.52 Ra^(1/5) (Radziemska and Lewandowski 2001):
    8 % more at Ra 1e5, 4 % less at 1e6, 14 % less at 1e7.

    Source
    ------
    McAdams (1954), as above; Incropera, 5th edition, equation 9.32.
    """
    return plate_stable(fourth=fourth_root(rayleigh))


@inlined
def plate_stable(fourth: float) -> float:
    """The stable law of McAdams from the fourth root of the Rayleigh number. [1]"""
    return 0.27 * fourth


@inlined
def nusselt_inclined_plate_raithby_hollands(
    along: float, across: float, unstable: bool, prandtl: float
) -> float:
    """Mean Nusselt number of one side of an inclined plate. [1]

    The larger of the vertical law with the pull of gravity along the plate and the level law
    with the pull across it.

    Parameters
    ----------
    along, across : float   [1]
        Rayleigh number times sine, and times cosine, of the tilt from level.
    unstable : bool
        Hot side up or cold side down.

    Source
    ------
    Raithby and Hollands, "Natural convection", in Handbook of Heat Transfer, 3rd edition, 1998,
    chapter 4 (the rule of the larger; from memory). Laws by Churchill and Chu, and McAdams.
    """
    return inclined_plate(
        sixth=sixth_root(along),
        third=cube_root(across),
        fourth=fourth_root(across),
        unstable=unstable,
        prandtl=prandtl,
    )


@inlined
def inclined_plate(sixth: float, third: float, fourth: float, unstable: bool, prandtl: float) -> float:
    """The rule of the larger from the sixth root of `along`, third and fourth of `across`. [1]"""
    level = plate_unstable(third=third, fourth=fourth) if unstable else plate_stable(fourth=fourth)
    return max(vertical_plate(sixth=sixth, prandtl=prandtl), level)


@inlined
def nusselt_layer_hollands(rayleigh_across: float, obliquity: float) -> float:
    """Nusselt number of an inclined layer from Ra cos(tilt) and sin(1.8 tilt)^1.6. [1]

    For callers that hold both; see `nusselt_inclined_layer_hollands`.
    """
    Ra = max(rayleigh_across, 1e-9)  # any subcritical value: a layer at rest
    critical = 1708.0 / Ra
    onset = max(1.0 - critical, 0.0)
    tilted = 1.0 - obliquity * critical
    turbulent = max(cube_root(Ra * (1.0 / 5830.0)) - 1.0, 0.0)
    return 1.0 + 1.44 * tilted * onset + turbulent


@inlined
def nusselt_inclined_layer_hollands(rayleigh: float, tilt: float) -> float:
    """Nusselt number of an air layer heated from below, by tilt from level [rad]. [1]

    Fitted from 0 to 60 degrees, usable to 75, wide layers, Ra up to 1e5. Only the second and
    third bracket are cut at zero.

    Source
    ------
    Hollands, Unny, Raithby and Konicek, "Free convective heat transfer across inclined air
    layers", J. Heat Transfer 98 (1976) 189; Duffie and Beckman, equation 3.11.4.
    """
    obliquity = math.sin(1.8 * tilt) ** 1.6
    return nusselt_layer_hollands(rayleigh_across=rayleigh * math.cos(tilt), obliquity=obliquity)


@inlined
def film_wind_watmuff(wind: float) -> float:
    """Wind film coefficient 2.8 + 3 V, convection only. [W/(m2 K)]

    Source
    ------
    Watmuff, Charters and Proctor, "Solar and wind induced external coefficients for solar
    collectors", COMPLES 2 (1977) 56; Duffie and Beckman, section 3.15.
    """
    return 2.8 + 3.0 * wind


@inlined
def film_wind_mcadams(wind: float) -> float:
    """Wind film coefficient 5.7 + 3.8 V, which contains radiation. [W/(m2 K)]

    For comparison only: with a radiation term beside it, radiation counts twice.

    Source
    ------
    McAdams, "Heat Transmission", 3rd edition, 1954; Duffie and Beckman, equation 3.15.1.
    """
    return 5.7 + 3.8 * wind


@inlined
def film_wind_mitchell(wind: float, length: float) -> float:
    """Wind film coefficient max(5, 8.6 V^0.6 / L^0.4). [W/(m2 K)]

    The length is the cube root of a building's volume. For comparison: twice Watmuff's for a box of
    half a metre. The wind film is uncertain by that much.

    Source
    ------
    Mitchell, "Heat transfer from spheres and other animal forms", Biophysical Journal 16 (1976)
    561; in the form of Duffie and Beckman, equation 3.15.10.
    """
    film: float = 8.6 * wind**0.6 / length**0.4
    return max(5.0, film)


@inlined
def nusselt_plate_forced_laminar_pohlhausen(reynolds: float, prandtl: float) -> float:
    """Mean Nusselt number of a flat plate along a laminar stream, Re up to 5e5, Pr above 0.6. [1]

    For comparison: what wind would do to a smooth plate in a steady stream.

    Source
    ------
    Pohlhausen (1921); Incropera, equation 7.30.
    """
    return 0.664 * math.sqrt(reynolds) * cube_root(prandtl)


@inlined
def leak_flow(area: float, height: float, inside: float, outside: float, wind: float) -> float:
    """Air that leaves through joints of an effective leakage area, and enters again. [m3/s]

    Half of the area lets air in at the bottom, half lets it out at the top; stack and wind
    pressure add, each joint taking half of the sum, and Bernoulli gives the flow.

    Source
    ------
    Orifice flow; adding stack and wind in quadrature: Sherman and Grimsrud, "Infiltration-
    pressurization correlation: simplified physical modeling", ASHRAE Transactions 86 (1980) 778.
    """
    per_mean = 2.0 / (inside + outside)
    return leak_draught(area, height, abs(inside - outside) * per_mean, wind)


@inlined
def leak_draught(area: float, height: float, buoyancy: float, wind: float) -> float:
    """The same from the difference of temperature over its mean. [m3/s]"""
    stack = STANDARD_GRAVITY * height * buoyancy
    return 0.5 * area * math.sqrt(stack + 0.5 * LEAK_PRESSURE_SPREAD * wind * wind)
