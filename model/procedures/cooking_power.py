"""Standardised cooking power: the procedure of ASAE/ASABE S580.

Water is heated under the sun. Every ten minutes its gain gives a power, brought to a standard irradiance and
set against how much hotter than the air the water was; the line through these points at 50 K is the figure.

The figure is one of a cooker with its mirrors in use, loaded by intercept area. It cannot be converted to the
figures of merit of IS 13429 (`figures_of_merit`), which cover the mirror and load by aperture area.

Bringing power to a standard irradiance scales the loss as well as the gain: the slope of the line is
-UA 700 / I, not the loss coefficient -UA.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from .clause import Clause, ProcedureError, unread
from .log import Log
from .regression import FEWEST, Line, fitted_line

DRAFT = "ASAE X580, draft of S580, July 2001"
FUNK = "Funk, P. A., Evaluating the international standard procedure, Solar Energy 68 (2000) 1-7"

INTERVAL = Clause(value=600.0, says="intervals of 10 min", source=f"{DRAFT}, 7.1", read=True)
WATER_HEAT = Clause(value=4186.0, says="water at 4186 J/(kg K)", source=f"{DRAFT}, 7.2", read=True)
STANDARD_SUN = Clause(value=700.0, says="brought to 700 W/m2", source=f"{DRAFT}, 7.4", read=True)
REPORTED_AT = Clause(value=50.0, says="reported at 50 K", source=f"{FUNK}; S580, 7.8-7.9", read=True)

FIT = Clause(value=0.75, says="R2 of at least 0.75", source=FUNK)
FEWEST_INTERVALS = Clause(value=30, says="at least 30 intervals", source=FUNK)
FEWEST_DAYS = Clause(value=3, says="from three different days", source=FUNK)
CALM = Clause(value=1.0, says="test in wind below 1.0 m/s", source=FUNK)
WINDY = Clause(value=2.5, says="void where wind exceeds 2.5 m/s for more than 10 min", source=FUNK)
WINDY_FOR = Clause(value=600.0, says=WINDY.says, source=FUNK)
COOLEST_AIR = Clause(value=293.15, says="air of 20 to 35 degC", source=FUNK)
WARMEST_AIR = Clause(value=308.15, says=COOLEST_AIR.says, source=FUNK)
WEAKEST_SUN = Clause(
    value=450.0,
    says="every reading of 450 to 1100 W/m2, facing the sun, or the interval is void",
    source=FUNK,
)
STRONGEST_SUN = Clause(value=1100.0, says=WEAKEST_SUN.says, source=FUNK)
SUN_CHANGE = Clause(value=100.0, says="void where irradiance changes by more than 100 W/m2", source=FUNK)
ABOVE_AIR = Clause(
    value=5.0, says="water from 5 K above the air to 5 K below its boiling point", source="S580, 2003"
)
BELOW_BOILING = Clause(value=5.0, says=ABOVE_AIR.says, source="S580, 2003")
COOLEST_WATER = Clause(value=313.15, says="water of 40 to 90 degC", source="text of 1997")
WARMEST_WATER = Clause(value=363.15, says=COOLEST_WATER.says, source="text of 1997")
NOON_WITHIN = Clause(value=7200.0, says="between 10:00 and 14:00 solar time", source=FUNK)
LOADING = Clause(value=7.0, says="7 kg of water per m2 of intercept area", source=FUNK)

CLAUSES_READ = (INTERVAL, WATER_HEAT, STANDARD_SUN, REPORTED_AT)

Edition = Literal["1997", "2003"]
Window = Callable[[float], tuple[float, float]]  # mean air -> least and greatest water that counts [K]
_WATER = {"1997": (COOLEST_WATER,), "2003": (ABOVE_AIR,)}
_JUDGED = (
    *(FIT, FEWEST_INTERVALS, FEWEST_DAYS, CALM, WINDY, COOLEST_AIR),
    *(WEAKEST_SUN, SUN_CHANGE, NOON_WITHIN, LOADING),
)


@dataclass(frozen=True, kw_only=True)
class Interval:
    """Ten minutes of a test. Void if there is a reason why it does not count."""

    log: int  # which of the logs
    start: float  # s, on that log's clock
    power: float  # W
    standardised_power: float  # W
    temperature_difference: float  # K, water over air
    irradiance: float  # W/m2, mean
    air_temperature: float  # K, mean
    reasons: tuple[str, ...] = ()

    @property
    def void(self) -> bool:
        """Whether it is left out of the line."""
        return bool(self.reasons)


@dataclass(frozen=True, kw_only=True)
class CookingPower:
    """Outcome of the procedure; `faults` says what the standard asks and this test does not fulfil."""

    power: float  # W at 50 K
    low: float  # W, ends of the confidence interval of the line at 50 K
    high: float  # W
    confidence: float
    line: Line  # standardised power on temperature difference: W, W/K
    intervals: tuple[Interval, ...]
    faults: tuple[str, ...]
    notes: tuple[str, ...]  # clauses that stand here from memory


TOO_FAR_APART = "records more than 10 min apart"


def interval_power(*, water_mass: float, warming: float) -> float:
    """Power that warms the water in one interval; the pot is not counted. [W]

    Source
    ------
    ASAE X580 (draft of S580, July 2001), 7.2, equation 1.
    """
    return water_mass * WATER_HEAT.value * warming / INTERVAL.value


def standardised(power: float, *, irradiance: float) -> float:
    """Power brought to 700 W/m2. [W]

    Source
    ------
    ASAE X580 (draft of S580, July 2001), 7.4, equation 2.
    """
    return power * STANDARD_SUN.value / irradiance


def cooking_power(
    logs: Sequence[Log],
    *,
    boiling_temperature: float,
    intercept_area: float | None = None,
    confidence: float = 0.95,
    edition: Edition = "2003",
) -> CookingPower:
    """Standardised cooking power of a cooker from the logs of its test days.

    Parameters
    ----------
    logs : sequence of Log
        One for each day; `irradiance` is global, facing the sun.
    boiling_temperature : float   [K]
        Of water at the place.
    intercept_area : float   [m2]
        Aperture and mirrors projected on the plane normal to the beam; the loading is not judged without it.
    confidence : float
        Of the interval of the power at 50 K.
    edition : "1997" or "2003"
        They differ in the water temperatures that count.

    Raises
    ------
    ProcedureError
        Fewer than three intervals count; the message says how often each reason voided one.

    Source
    ------
    ASAE X580, draft of S580 (July 2001), 7.1 to 7.7, read. Limits of the test after Funk (2000), from memory.
    """
    intervals = intervals_of(logs, boiling_temperature=boiling_temperature, edition=edition)
    counted = [interval for interval in intervals if not interval.void]
    if len(counted) < FEWEST:
        raise ProcedureError(_too_few(intervals))
    line = fitted_line(
        [interval.temperature_difference for interval in counted],
        [interval.standardised_power for interval in counted],
    )
    low, high = line.interval_at(REPORTED_AT.value, confidence=confidence)
    return CookingPower(
        power=line.at(REPORTED_AT.value),
        low=low,
        high=high,
        confidence=confidence,
        line=line,
        intervals=intervals,
        faults=(*_faults_of_test(line, counted, logs), *_faults_of_logs(logs, intercept_area)),
        notes=unread((*_JUDGED, *_WATER[edition])),
    )


def intervals_of(
    logs: Sequence[Log], *, boiling_temperature: float, edition: Edition = "2003"
) -> tuple[Interval, ...]:
    """Every whole ten minutes of the logs, with its figures and why it does not count, if it does not.

    Parameters
    ----------
    logs, boiling_temperature, edition
        As of `cooking_power`.
    """
    water = _water_1997 if edition == "1997" else _water_2003(boiling_temperature)
    return tuple(
        _interval(number, log, start, water) for number, log in enumerate(logs) for start in _starts(log)
    )


def _water_1997(air: float) -> tuple[float, float]:
    return COOLEST_WATER.value, WARMEST_WATER.value


def _water_2003(boiling_temperature: float) -> Window:
    return lambda air: (air + ABOVE_AIR.value, boiling_temperature - BELOW_BOILING.value)


def _starts(log: Log) -> list[float]:
    """Starts of the whole intervals, from the first record on. [s]"""
    time = log.series("time")
    count = math.floor((time[-1] - time[0]) / INTERVAL.value + 1e-9)  # a clock's rounding loses no interval
    return [float(time[0] + k * INTERVAL.value) for k in range(count)]


def _interval(number: int, log: Log, start: float, water: Window) -> Interval:
    """One interval with its figures, and why it does not count."""
    stop = start + INTERVAL.value
    air = log.mean("air_temperature", start, stop)
    irradiance = log.mean("irradiance", start, stop)
    first, last = log.at("temperature", [start, stop]).tolist()
    power = interval_power(water_mass=log.water_mass, warming=last - first)
    found = (*_reasons_of_weather(log, start, stop), *_reasons_of_clock(log, start, stop))
    reasons = list(dict.fromkeys((*found, *log.spoilt_by(start, stop))))
    least, greatest = water(air)
    if not least <= min(first, last) <= max(first, last) <= greatest:
        reasons.append("water outside its temperatures")
    return Interval(
        log=number,
        start=start,
        power=power,
        standardised_power=standardised(power, irradiance=irradiance) if irradiance > 0 else math.nan,
        temperature_difference=log.mean("temperature", start, stop) - air,
        irradiance=irradiance,
        air_temperature=air,
        reasons=tuple(reasons),
    )


def _reasons_of_weather(log: Log, start: float, stop: float) -> Iterator[str]:
    dimmest, brightest = log.extremes("irradiance", start, stop)
    if dimmest < WEAKEST_SUN.value:
        yield "irradiance under 450 W/m2"
    if brightest > STRONGEST_SUN.value:
        yield "irradiance over 1100 W/m2"
    if brightest - dimmest > SUN_CHANGE.value:
        yield "irradiance changed by more than 100 W/m2"
    coolest, warmest = log.extremes("air_temperature", start, stop)
    if coolest < COOLEST_AIR.value or warmest > WARMEST_AIR.value:
        yield "air outside 20 to 35 degC"
    if any(begin < stop and end > start for begin, end in windy_spans(log)):
        yield "wind above 2.5 m/s for more than 10 min"


def _reasons_of_clock(log: Log, start: float, stop: float) -> Iterator[str]:
    if log.longest_gap(start, stop) > INTERVAL.value:
        yield TOO_FAR_APART
    noon = log.solar_noon
    if noon is not None and max(noon - start, stop - noon) > NOON_WITHIN.value:
        yield "outside 10:00 to 14:00 solar time"


def windy_spans(log: Log) -> list[tuple[float, float]]:
    """Spans of consecutive records of strong wind that last too long to be let pass. [s]"""
    if log.wind_speed is None:
        return []
    spans: list[tuple[float, float]] = []
    begin = None
    for time, wind in zip(log.series("time").tolist(), log.series("wind_speed").tolist(), strict=True):
        if wind <= WINDY.value:
            begin = None
            continue
        begin = time if begin is None else begin
        if time - begin > WINDY_FOR.value:
            spans = [span for span in spans if span[0] != begin] + [(begin, time)]
    return spans


def _faults_of_test(line: Line, counted: Sequence[Interval], logs: Sequence[Log]) -> Iterator[str]:
    """What the standard asks of the whole test and its line."""
    days = len({logs[interval.log].date or interval.log for interval in counted})
    if len(counted) < FEWEST_INTERVALS.value:
        yield f"{len(counted)} intervals count, {FEWEST_INTERVALS.value:.0f} asked"
    if days < FEWEST_DAYS.value:
        yield f"from {days} {'day' if days == 1 else 'days'}, {FEWEST_DAYS.value:.0f} asked"
    if line.r_squared < FIT.value:
        yield f"R2 = {line.r_squared:.2f}, {FIT.value:.2f} asked"
    if line.slope >= 0:
        yield "power does not fall as the water gets hotter: the line means nothing"
    if not line.low <= REPORTED_AT.value <= line.high:
        yield f"50 K lies outside what was observed ({line.low:.1f} to {line.high:.1f} K)"


def _faults_of_logs(logs: Sequence[Log], intercept_area: float | None) -> Iterator[str]:
    """What the standard asks of every day: calm air, its load, and a clock that knows noon."""
    for log in logs:
        yield from _faults_of_wind(log)
        if log.solar_noon is None:
            yield f"{log.name}: solar noon not given, time of day not judged"
        loading = LOADING.value if intercept_area is None else log.water_mass / intercept_area
        if f"{loading:.1f}" != f"{LOADING.value:.1f}":
            yield f"{log.name}: loaded {loading:.1f} kg per m2 of intercept area, {LOADING.value:.1f} asked"
    if intercept_area is None:
        yield "intercept area not given, loading not judged"


def _faults_of_wind(log: Log) -> Iterator[str]:
    if log.wind_speed is None:
        yield f"{log.name}: wind not measured, not judged"
        return
    time = log.series("time")
    wind = log.mean("wind_speed", time[0], time[-1])
    if wind >= CALM.value:
        yield f"{log.name}: mean wind {wind:.1f} m/s, below {CALM.value:.1f} asked"


def _too_few(intervals: Sequence[Interval]) -> str:
    counts = Counter(reason for interval in intervals for reason in interval.reasons)
    why = "; ".join(f"{reason} ({count})" for reason, count in counts.most_common())
    good = sum(not interval.void for interval in intervals)
    return f"{good} of {len(intervals)} intervals count, a line needs {FEWEST}: {why or 'log for longer'}"
