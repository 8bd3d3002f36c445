"""Safety as numbers: touch, scald, wind, lukewarm food, concentrated light; and who has the last word.

Functions take floats or arrays. They screen a design; none of them is a certificate, and `CAUTIONS` says for
each where the authority lies.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .constants import STANDARD_GRAVITY, ZERO_CELSIUS

Floats = NDArray[np.float64]
Numbers = float | Floats

# ISO 13732-1:2006 (before it EN 563), burn thresholds, lower edges of the bands; from memory. From one minute
# on all materials share one threshold. Effusivities: softwood, acrylic, soda-lime glass (ISO 10456) and
# stainless steel, the slowest of the metals.
_TOUCH_EFFUSIVITY = 0.5 * np.log(  # J m-2 K-1 s-1/2; k rho c of wood, plastic, glass, bare metal
    [0.13 * 500 * 1600, 0.18 * 1180 * 1500, 1.0 * 2500 * 750, 17.0 * 7900 * 460]
)
_TOUCH_DURATION = np.log([1.0, 10.0, 60.0, 600.0, 28_800.0])  # s
_TOUCH_THRESHOLD = np.array(  # degC; row per material
    [
        [110.0, 89.0, 51.0, 48.0, 43.0],
        [85.0, 71.0, 51.0, 48.0, 43.0],
        [80.0, 66.0, 51.0, 48.0, 43.0],
        [65.0, 55.0, 51.0, 48.0, 43.0],
    ]
)

# Moritz & Henriques, Studies of thermal injury II, Am. J. Pathology 23:695 (1947): hot water on adult skin,
# time to a second-degree burn, as tabulated in plumbing-safety leaflets. Children burn sooner.
_SCALD_TEMPERATURE = np.array([45.0, 47.0, 48.0, 49.0, 51.0, 55.0, 60.0])  # degC
_SCALD_TIME = np.log([7200.0, 1200.0, 900.0, 480.0, 120.0, 17.0, 3.0])  # s

DRAG = 1.2  # a flat-sided bluff body square to the wind; Hoerner, Fluid-Dynamic Drag (1965), from memory
FRICTION = 0.4  # wood or rubber on dry stone or beaten earth, low edge: common practice, no source
GUST_FACTOR = 1.5  # 3 s gust over hourly mean, open ground; Durst, Meteorol. Mag. 89:181 (1960), from memory
SEA_LEVEL_DENSITY = 1.225  # kg m-3; ISO 2533:1975

HOT_DAY = 305.37  # K; 90 degF: USDA FSIS halves the time that food may stand
LUKEWARM_ALLOWANCE = 7200.0  # s; two hours between 40 and 140 degF: USDA FSIS
LUKEWARM_ALLOWANCE_HOT_DAY = 3600.0  # s; the same, above 90 degF
FOOD_CODE_ALLOWANCE = 14_400.0  # s; four hours, then thrown away: US FDA Food Code 3-501.19, from memory

WOOD_FOR_YEARS = 350.0  # K; 170 degF: long heating of wood, fire-safety practice, from memory
WOOD_DARKENS = 423.0  # K; from memory
WOOD_CHARS = 573.0  # K; char line of EN 1995-1-2, section 3.4.2, from memory
PAPER_IGNITES = 491.0  # K; lower end of 218 to 246 degC, from memory
ANNEALED_GLASS_DIFFERENCE = 40.0  # K; across a pane; from memory
TEMPERED_GLASS_DIFFERENCE = 200.0  # K; EN 12150-1, from memory


def effusivity(*, conductivity: Numbers, density: Numbers, specific_heat: Numbers) -> Floats:
    """How much heat a solid gives to a hand at once: sqrt(k rho c). [J m-2 K-1 s-1/2]"""
    return np.sqrt(np.asarray(conductivity, np.float64) * density * specific_heat)


def touch_threshold(effusivity: Numbers, *, duration: float) -> Floats:
    """Surface temperature at which skin may burn after so long a touch. [K]

    A burn threshold, not a limit: limits are set lower, and lower still for children. A thin sheet over
    insulation is kinder than the thick body the threshold is meant for, so this is on the safe side.

    Parameters
    ----------
    effusivity : float or array   [J m-2 K-1 s-1/2]
        Of the surface; taken as wood below 322 and as metal above 7860.
    duration : float   [s]
        0.5 s to 8 h; under a second the threshold of one second is given. 1 s is a touch by an adult who is
        startled, 4 to 10 s that of a child or of somebody slow.

    Raises
    ------
    ValueError
        Another duration.

    Source
    ------
    ISO 13732-1:2006, thresholds for smooth wood, plastic, glass and metal, from memory; between the tabulated
    materials and durations linear in the logarithms of effusivity and time, which is ours.
    """
    if not 0.5 <= duration <= 28_800:
        raise ValueError(f"duration = {duration:g} s: the standard covers 0.5 s to 28 800 s (8 h)")
    when = np.log(max(duration, 1.0))
    by_material = [np.interp(when, _TOUCH_DURATION, row) for row in _TOUCH_THRESHOLD]
    threshold: Floats = np.interp(np.log(effusivity), _TOUCH_EFFUSIVITY, by_material) + ZERO_CELSIUS
    return threshold


def scald_time(temperature: Numbers) -> Floats:
    """How long hot water or food takes to blister an adult's skin. [s]

    Parameters
    ----------
    temperature : float or array   [K]
        Below 45 degC the two hours of 45 degC, above 60 degC the last slope carried on.

    Source
    ------
    Moritz & Henriques (1947), second-degree burns; linear in the logarithm of time between points.
    """
    warm = np.asarray(temperature, np.float64) - ZERO_CELSIUS
    inside = np.interp(warm, _SCALD_TEMPERATURE, _SCALD_TIME)
    slope = (_SCALD_TIME[-1] - _SCALD_TIME[-2]) / (_SCALD_TEMPERATURE[-1] - _SCALD_TEMPERATURE[-2])
    beyond = np.maximum(warm - _SCALD_TEMPERATURE[-1], 0.0)
    time: Floats = np.exp(inside + slope * beyond)
    return time


def skin_exposure_time(irradiance: Numbers) -> Floats:
    """How long bare skin may stay in concentrated light; 10 means ten seconds or more. [s]

    Beyond ten seconds the rule ends, because pain ends the exposure.

    Parameters
    ----------
    irradiance : float or array   [W m-2]
        Above zero.

    Source
    ------
    ICNIRP, Guidelines on limits of exposure to incoherent visible and infrared radiation, Health Physics
    105:74 (2013): E <= 20 000 t^(-3/4) W/m2 for t < 10 s; also IEC 62471. From memory.
    """
    time: Floats = np.minimum((20_000.0 / np.asarray(irradiance, np.float64)) ** (4 / 3), 10.0)
    return time


def lukewarm_allowance(air_temperature: Numbers) -> Floats:
    """How long food may stay between 5 and 60 degC: two hours, one on a hot day. [s]

    Source
    ------
    USDA FSIS, the two-hour rule; one hour above 90 degF (32 degC).
    """
    hot = np.asarray(air_temperature) > HOT_DAY
    return np.where(hot, LUKEWARM_ALLOWANCE_HOT_DAY, LUKEWARM_ALLOWANCE)


def wind_force(
    speed: Numbers, *, area: Numbers, air_density: Numbers = SEA_LEVEL_DENSITY, drag: float = DRAG
) -> Floats:
    """Push of the wind on an area square to it. [N]

    Source
    ------
    Drag of a bluff body, F = Cd A rho V^2 / 2. Uplift and the shelter of walls are left out.
    """
    force: Floats = 0.5 * drag * np.asarray(air_density, np.float64) * area * np.square(speed)
    return force


def presented_area(*, mouth_area: Numbers, side_area: Numbers, tilt: Numbers) -> Floats:
    """Shadow of a tilted funnel on a wall behind it. [m2]

    Exact for a drum; more than the truth for a funnel, whose mouth hides part of its side.

    Parameters
    ----------
    mouth_area, side_area : float or array   [m2]
        Of the mouth, and of the outline seen square to the axis.
    tilt : float or array   [rad]
        Axis from the zenith.
    """
    area: Floats = np.abs(np.sin(tilt)) * mouth_area + np.abs(np.cos(tilt)) * side_area
    return area


def restoring_arm(*, base_radius: Numbers, centre_on_axis: Numbers, tilt: Numbers) -> Floats:
    """Centre of mass to the edge of the base it leans over; not above zero once it falls by itself. [m]

    Parameters
    ----------
    base_radius : float or array   [m]
        Middle of the base to the nearest edge it can tip over.
    centre_on_axis : float or array   [m]
        Tilting axis to the centre of mass, along the oven's axis, towards the mouth.
    tilt : float or array   [rad]
        Axis from the zenith.
    """
    arm: Floats = np.asarray(base_radius, np.float64) - np.abs(np.asarray(centre_on_axis) * np.sin(tilt))
    return arm


def tipping_wind_speed(
    *,
    mass: Numbers,
    area: Numbers,
    push_height: Numbers,
    arm: Numbers,
    air_density: Numbers = SEA_LEVEL_DENSITY,
    drag: float = DRAG,
) -> Floats:
    """Gust that lifts the windward edge: push times height equals weight times arm. [m s-1]

    Parameters
    ----------
    mass : float or array   [kg]
    area : float or array   [m2]
        See `presented_area`.
    push_height : float or array   [m]
        Ground to the middle of that area.
    arm : float or array   [m]
        See `restoring_arm`; zero or less stands in no wind at all.
    """
    weight = STANDARD_GRAVITY * np.asarray(mass, np.float64)
    per_square = wind_force(1.0, area=area, air_density=air_density, drag=drag) * push_height
    speed: Floats = np.sqrt(weight * np.maximum(arm, 0.0) / per_square)
    return speed


def sliding_wind_speed(
    *,
    mass: Numbers,
    area: Numbers,
    friction: float = FRICTION,
    air_density: Numbers = SEA_LEVEL_DENSITY,
    drag: float = DRAG,
) -> Floats:
    """Gust that moves the oven along the ground: push equals friction. [m s-1]"""
    weight = STANDARD_GRAVITY * np.asarray(mass, np.float64)
    speed: Floats = np.sqrt(
        friction * weight / wind_force(1.0, area=area, air_density=air_density, drag=drag)
    )
    return speed


def ballast(
    *,
    gust: float,
    mass: Numbers,
    area: Numbers,
    push_height: Numbers,
    arm: Numbers,
    base_radius: Numbers,
    friction: float = FRICTION,
    air_density: Numbers = SEA_LEVEL_DENSITY,
    drag: float = DRAG,
) -> Floats:
    """Weight to lay on the middle of the base so that a gust neither tips nor slides the oven. [kg]"""
    force = wind_force(gust, area=area, air_density=air_density, drag=drag) / STANDARD_GRAVITY
    against_tipping = (force * push_height - np.asarray(mass, np.float64) * arm) / base_radius
    against_sliding = force / friction - mass
    need: Floats = np.maximum(np.maximum(against_tipping, against_sliding), 0.0)
    return need


class Caution(NamedTuple):
    """A sentence for a reader of results, with the authority that has the last word."""

    where: str
    text: str
    defer_to: str


CAUTIONS = (
    Caution(
        where="eyes",
        text="Never look into the mirrors: each shows the sun nearly as bright as itself, flat or curved.",
        defer_to="ICNIRP guidelines on incoherent radiation (2013); an eye doctor after any such look",
    ),
    Caution(
        where="stray light",
        text="Light that leaves over the rim can burn skin and paper: turn it away before you reach in.",
        defer_to="ICNIRP guidelines on incoherent radiation (2013); IEC 62471",
    ),
    Caution(
        where="storage",
        text="Store mirrors face down or covered: stored reflectors have started fires.",
        defer_to="your fire service",
    ),
    Caution(
        where="touch",
        text="Thresholds are where burns begin, not safe limits; children and old people burn sooner.",
        defer_to="ISO 13732-1, as printed, and the product standard of your country",
    ),
    Caution(
        where="scald",
        text="Opened pots breathe steam at boiling heat: lift the far edge of the lid first, with a cloth.",
        defer_to="first-aid practice: cool a burn under running water for twenty minutes",
    ),
    Caution(
        where="wind",
        text="Gusts exceed the hourly wind by half: weigh the base down, or take it in when leaves move.",
        defer_to="the wind-load code of your country; your weather service for warnings",
    ),
    Caution(
        where="food, lukewarm",
        text="Throw away food that stood between 5 and 60 degC for two hours, or one on a hot day.",
        defer_to="USDA FSIS; WHO Five Keys to Safer Food; your food authority",
    ),
    Caution(
        where="food, kept warm",
        text="A closed oven without sun only cools: measure before you serve; what fell below 60 degC is lukewarm.",
        defer_to="US FDA Food Code 3-501.16, hot holding (from memory); your food authority",
    ),
    Caution(
        where="food, done",
        text="A model does not make food safe: check the coldest place with a thermometer.",
        defer_to="USDA FSIS, Safe minimum internal temperature chart; UK Food Standards Agency",
    ),
    Caution(
        where="water",
        text="Heat kills germs; it takes out no poison, salt or fuel. Use a pasteurisation indicator.",
        defer_to="WHO Guidelines for drinking-water quality; your health service",
    ),
    Caution(
        where="cover",
        text="Acrylic sags long before a dry pot is hot; never leave an oven in the sun without food in it.",
        defer_to="the sheet maker's data page",
    ),
    Caution(
        where="glass",
        text="No cold splash on hot glass; temper the outer pane, and frame it with room to grow.",
        defer_to="EN 12150; the glass maker's data page",
    ),
    Caution(
        where="wood and card",
        text="Keep wood behind hot sheet under 77 degC: years of heat lower the point where it ignites.",
        defer_to="the fire code of your country",
    ),
    Caution(
        where="paint, glue, insulation",
        text="Bake new paint, sealant and wool out, empty, before food is near; no lead or zinc coats.",
        defer_to="the makers' safety data sheets",
    ),
    Caution(
        where="smoke",
        text="Never put charcoal or a flame into a closed oven: it makes carbon monoxide.",
        defer_to="your fire service",
    ),
)
