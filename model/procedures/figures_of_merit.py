"""First and second figure of merit of box cookers: the procedure of IS 13429.

F1 tells how hot the empty plate gets, F2 how well water takes heat up. Both are of a cooker with its mirror
covered, and F2 of one loaded by aperture area: neither can be converted to the power of `cooking_power`.
F1 falls as irradiance rises, because the loss coefficient grows with temperature: compare at like sun.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..constants import ZERO_CELSIUS
from .clause import Clause, ProcedureError, unread
from .cooking_power import WATER_HEAT
from .log import Log

MULLICK = (
    "Mullick, S. C., Kandpal, T. C. and Saxena, A. K., Thermal test procedure for box-type solar cookers, "
    "Solar Energy 39 (1987) 353-360"
)
TEST = "IS 13429 (Part 3): 2000"

GRADE_A = Clause(value=0.12, says="grade A from F1 = 0.12 K m2/W on", source="IS 13429 (Part 1): 2000")
GRADE_B = Clause(value=0.11, says="grade B from F1 = 0.11 K m2/W on", source="IS 13429 (Part 1): 2000")
LEAST_SECOND = Clause(value=0.40, says="F2 of at least 0.40", source="IS 13429 (Part 1): 2000")
LOADING = Clause(value=8.0, says="8 kg of water per m2 of aperture", source=TEST)
WATER_FROM = Clause(value=333.15, says="timed from about 60 to about 90 degC", source=TEST)
WATER_TO = Clause(value=363.15, says=WATER_FROM.says, source=TEST)
COVERED = Clause(value=0.0, says="mirror covered during both tests; a log cannot show it", source=TEST)
STEADY_FOR = Clause(value=600.0, says="stagnation judged over 10 min", source=TEST)
STEADY_PLATE = Clause(value=1.0, says="plate steady within 1 K", source=TEST)
STEADY_AIR = Clause(value=0.2, says="air steady within 0.2 K", source=TEST)
STEADY_SUN = Clause(value=20.0, says="irradiance steady within 20 W/m2", source=TEST)
WEAKEST_SUN = Clause(value=600.0, says="irradiance above 600 W/m2", source=TEST)

_STEADY = {"temperature": STEADY_PLATE, "air_temperature": STEADY_AIR, "irradiance": STEADY_SUN}
_STAGNATION = (GRADE_A, GRADE_B, COVERED, STEADY_FOR, *_STEADY.values(), WEAKEST_SUN)
_HEATING = (LEAST_SECOND, LOADING, WATER_FROM, COVERED)


def first_figure(*, plate_temperature: float, air_temperature: float, irradiance: float) -> float:
    """F1 = eta0 / UL, from an empty cooker at rest under the sun. [K m2/W]

    Parameters
    ----------
    irradiance : float   [W/m2]
        Global, on the level aperture.

    Source
    ------
    Mullick, Kandpal and Saxena, Solar Energy 39 (1987) 353; symbols from memory.
    """
    return (plate_temperature - air_temperature) / irradiance


def second_figure(
    *,
    first: float,
    water_mass: float,
    aperture_area: float,
    start_temperature: float,
    end_temperature: float,
    air_temperature: float,
    irradiance: float,
    duration: float,
) -> float:
    """F2 = F' eta0 C, from the time in which water warms up. [1]

    Parameters
    ----------
    first : float   [K m2/W]
        F1.
    air_temperature, irradiance : float   [K], [W/m2]
        Means over the warming.
    duration : float   [s]
        From start to end temperature.

    Raises
    ------
    ProcedureError
        An end temperature that F1 says cannot be reached.

    Source
    ------
    Mullick, Kandpal and Saxena, Solar Energy 39 (1987) 353; symbols from memory.
    """
    reach = first * irradiance
    logarithm = _logarithm(start_temperature - air_temperature, end_temperature - air_temperature, reach)
    return first * water_mass * WATER_HEAT.value / (aperture_area * duration) * logarithm


def boiling_time(
    *,
    first: float,
    second: float,
    water_mass: float,
    aperture_area: float,
    start_temperature: float,
    end_temperature: float,
    air_temperature: float,
    irradiance: float,
) -> float:
    """Time in which water warms up in a cooker of known figures: the second figure's relation solved. [s]

    Raises
    ------
    ProcedureError
        An end temperature that F1 says cannot be reached.
    """
    reach = first * irradiance
    logarithm = _logarithm(start_temperature - air_temperature, end_temperature - air_temperature, reach)
    return first * water_mass * WATER_HEAT.value / (second * aperture_area) * logarithm


def stagnation_temperature(*, first: float, air_temperature: float, irradiance: float) -> float:
    """What the empty plate comes to: the first figure's relation solved. [K]"""
    return air_temperature + first * irradiance


def grade(first: float) -> str:
    """Grade of a cooker by its first figure: "A", "B", or "none"."""
    if first >= GRADE_A.value:
        return "A"
    return "B" if first >= GRADE_B.value else "none"


def _logarithm(start: float, end: float, reach: float) -> float:
    """ln of what is still to warm at the start over what is left at the end; temperatures above the air."""
    if end >= reach:
        raise ProcedureError(
            f"{end:.1f} K above the air cannot be reached: F1 times irradiance is {reach:.1f} K; "
            "end the warming lower, or measure F1 again"
        )
    return math.log((1 - start / reach) / (1 - end / reach))


@dataclass(frozen=True, kw_only=True)
class Stagnation:
    """Outcome of the test without load."""

    first_figure: float  # K m2/W
    grade: str
    plate_temperature: float  # K, means over the ten minutes
    air_temperature: float  # K
    irradiance: float  # W/m2
    start: float  # s, on the log's clock
    faults: tuple[str, ...]
    notes: tuple[str, ...]  # clauses that stand here from memory


@dataclass(frozen=True, kw_only=True)
class Heating:
    """Outcome of the test with load."""

    second_figure: float
    duration: float  # s
    air_temperature: float  # K, means over the warming
    irradiance: float  # W/m2
    faults: tuple[str, ...]
    notes: tuple[str, ...]  # clauses that stand here from memory


def stagnation_test(log: Log) -> Stagnation:
    """First figure of merit from the log of an empty cooker: its hottest ten steady minutes.

    Where no ten minutes are steady the hottest ten of all are taken, and `faults` says so.

    Parameters
    ----------
    log : Log
        `temperature` is the plate's, `irradiance` global on the level aperture.

    Raises
    ------
    ProcedureError
        A log shorter than ten minutes.
    """
    time = log.series("time")
    starts = [float(t) for t in time if t + STEADY_FOR.value <= time[-1] + 1e-9]
    if not starts:
        raise ProcedureError(f"{log.name} is shorter than 10 min: log until the plate stands still")
    steady = [start for start in starts if not any(_unsteady(log, start))]
    start = max(steady or starts, key=lambda t: log.mean("temperature", t, t + STEADY_FOR.value))
    plate, air, sun = (log.mean(name, start, start + STEADY_FOR.value) for name in _STEADY)
    first = first_figure(plate_temperature=plate, air_temperature=air, irradiance=sun)
    return Stagnation(
        first_figure=first,
        grade=grade(first),
        plate_temperature=plate,
        air_temperature=air,
        irradiance=sun,
        start=start,
        faults=tuple(_unsteady(log, start)),
        notes=unread(_STAGNATION),
    )


def _unsteady(log: Log, start: float) -> Iterator[str]:
    """What keeps ten minutes from counting as stagnation."""
    stop = start + STEADY_FOR.value
    for name, clause in _STEADY.items():
        least, greatest = log.extremes(name, start, stop)
        if greatest - least > 2 * clause.value:  # "within" is to either side
            yield f"{clause.says} asked, {(greatest - least) / 2:.3g} found"
    yield from log.spoilt_by(start, stop)
    weakest = log.extremes("irradiance", start, stop)[0]
    if weakest < WEAKEST_SUN.value:
        yield f"{WEAKEST_SUN.says} asked, {weakest:.0f} found"


def heating_test(
    log: Log,
    *,
    first: float,
    aperture_area: float,
    start_temperature: float = WATER_FROM.value,
    end_temperature: float = WATER_TO.value,
) -> Heating:
    """Second figure of merit from the log of a cooker that heats water.

    Parameters
    ----------
    log : Log
        `irradiance` is global on the level aperture.
    first : float   [K m2/W]
        F1 of the same cooker.
    aperture_area : float   [m2]

    Raises
    ------
    ProcedureError
        Water that does not pass both temperatures, or that F1 says cannot.
    """
    begin, end = _passes(log, start_temperature), _passes(log, end_temperature)
    air, sun = log.mean("air_temperature", begin, end), log.mean("irradiance", begin, end)
    second = second_figure(
        first=first,
        water_mass=log.water_mass,
        aperture_area=aperture_area,
        start_temperature=start_temperature,
        end_temperature=end_temperature,
        air_temperature=air,
        irradiance=sun,
        duration=end - begin,
    )
    return Heating(
        second_figure=second,
        duration=end - begin,
        air_temperature=air,
        irradiance=sun,
        faults=(*_faults(second, log.water_mass / aperture_area), *log.spoilt_by(begin, end)),
        notes=unread(_HEATING),
    )


def _faults(second: float, loading: float) -> Iterator[str]:
    if second < LEAST_SECOND.value:
        yield f"F2 = {second:.3f}, at least {LEAST_SECOND.value:.2f} asked"
    if f"{loading:.1f}" != f"{LOADING.value:.1f}":
        yield f"loaded {loading:.1f} kg per m2 of aperture, {LOADING.value:.1f} asked"


def _passes(log: Log, temperature: float) -> float:
    """When the water first rises through a temperature. [s]"""
    time, water = log.series("time"), log.series("temperature")
    rises = np.flatnonzero((water[:-1] <= temperature) & (water[1:] >= temperature) & (np.diff(water) > 0))
    if not len(rises):
        raise ProcedureError(
            f"{log.name}: the water never rises through {temperature - ZERO_CELSIUS:.0f} degC; "
            f"it runs from {water.min() - ZERO_CELSIUS:.1f} to {water.max() - ZERO_CELSIUS:.1f} degC"
        )
    k = int(rises[0])
    return float(np.interp(temperature, water[k : k + 2], time[k : k + 2]))
