"""When a meal is done and when it is safe: heat doses of a temperature history.

A dose is the time at a reference temperature that would have done the same work,

    dose(t) = integral of 10 ** ((T - reference) / z) dt,

so food at 88 degC is done too, only later. Between stored temperatures T is taken as a straight line, and the
integral is closed: step * (L2 - L1) / ln(L2 / L1), with L the rate at either end (the logarithmic mean).
A plain trapezoid is high by u^2 / 12 with u = ln(L2 / L1): 11 % for a step of 5 K at z = 10 K.

Time is the last axis of every history, at equal steps from zero; all other axes are lanes.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..compiled import kernel
from .between import around, share_until

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

COOK_Z = 33.0  # K; Mansfield (1962), see `cook_value`
COOK_REFERENCE = 373.15  # K; the same
DANGER_LOW = 278.15  # K; 5 degC: FSANZ standard 3.2.2; WHO Five Keys (2006); from memory
DANGER_HIGH = 333.15  # K; 60 degC: the same


@dataclass(frozen=True, kw_only=True)
class HeatNeed:
    """A dose asked for: so long at the reference temperature, or what is worth as much.

    Below `least_temperature` nothing is counted, however long: the rule behind it was never tried there.
    """

    seconds: float
    z: float
    reference: float
    least_temperature: float
    source: str

    def __post_init__(self) -> None:
        for name, value in (("seconds", self.seconds), ("z", self.z), ("reference", self.reference)):
            if not (value > 0 and math.isfinite(value)):
                raise ValueError(f"{name} = {value!r}: a finite number above zero is needed")
        if not 0 <= self.least_temperature <= self.reference:
            raise ValueError(
                f"least_temperature = {self.least_temperature:g} K: above the reference, {self.reference:g} K"
            )

    def rate(self, temperature: float) -> float:
        """Seconds at the reference that one second at `temperature` is worth. [1]"""
        if temperature < self.least_temperature:
            return 0.0
        return float(10 ** ((temperature - self.reference) / self.z))


class Reached(NamedTuple):
    """When something was first reached; `time` is nan, never infinite, where `reached` is false."""

    time: Floats  # s
    reached: Flags


class Dosed(NamedTuple):
    """When a dose was complete, whether it was, and the whole dose of the history."""

    time: Floats  # s; nan where not reached
    reached: Flags
    total: Floats  # s at the reference temperature


class BandTime(NamedTuple):
    """Time inside a temperature band, before and after the hottest moment."""

    warming: Floats  # s
    cooling: Floats  # s

    @property
    def total(self) -> Floats:
        """Time inside the band in all. [s]"""
        return self.warming + self.cooling


def lethality(
    temperature: Floats, *, step: float, z: float, reference: float, least_temperature: float = 0.0
) -> Floats:
    """Running dose at every stored moment: equivalent time at the reference temperature. [s]

    Parameters
    ----------
    temperature : float64[..., time]   [K]
        Of the coldest part of the food.
    step : float   [s]
        Between stored temperatures.
    z : float   [K]
        Rise that makes a second worth ten.
    reference : float   [K]
        Where a second is worth a second.
    least_temperature : float   [K]
        Below it nothing counts; the part of a step spent above it does.

    Returns
    -------
    dose : float64[..., time]
        Zero at the first moment; nan from the first nan on.

    Source
    ------
    Bigelow et al., Heat penetration in processing canned foods, Bull. 16-L, Nat. Canners Assoc. (1920), the
    general method; Holdsworth & Simpson, Thermal Processing of Packaged Foods, 2nd ed. (2007), chapter 4.
    """
    lanes = _lanes(temperature, step)
    out = np.empty_like(lanes)
    _running_doses(lanes, step, math.log(10) / z, reference, least_temperature, out)
    return out.reshape(np.shape(temperature))


def cook_value(temperature: Floats, *, step: float) -> Floats:
    """Running cook value: equivalent time at 100 degC with z = 33 K. [s]

    Softening and flavour, not safety: compare `HeatNeed` of a food's pathogens for that.

    Parameters
    ----------
    temperature : float64[..., time]   [K]
        Of the coldest part of the food.
    step : float   [s]
        Between stored temperatures.

    Source
    ------
    Mansfield, High temperature-short time sterilization, Proc. 1st Int. Congress Food Sci. Technol. 4:311
    (1962), the C value; z = 33 K and 100 degC from memory. Holdsworth & Simpson (2007), section 4.2, gives
    z from 25 to 47 K for the sensory change of single foods.
    """
    return lethality(temperature, step=step, z=COOK_Z, reference=COOK_REFERENCE)


def first_time(history: Floats, *, step: float, required: float) -> Reached:
    """When a history first comes up to `required`, by a smooth curve inside the step. [s]

    See `between`.

    Parameters
    ----------
    history : float64[..., time]
        A running dose, or a temperature.
    step : float   [s]
        Between stored values.
    required : float
        In the history's unit.

    Returns
    -------
    reached : Reached of float64[...], bool[...]
        A history that starts at or above `required` reaches it at zero.
    """
    lanes = _lanes(history, step)
    up = lanes >= required
    reached = up.any(axis=-1)
    index = np.maximum(up.argmax(axis=-1), 1)
    start = np.take_along_axis(lanes, index[:, None] - 1, axis=-1)[:, 0]
    inside = np.where(start >= required, 0.0, share_until(start, around(lanes, index), required))
    time = np.where(reached, (index - 1 + inside) * step, np.nan)
    shape = np.shape(history)[:-1]
    return Reached(np.reshape(time, shape), np.reshape(np.asarray(reached), shape))


def time_to(temperature: Floats, *, step: float, need: HeatNeed) -> Dosed:
    """When the food has had the dose it needs. [s]

    The same integral as `lethality`, inverted exactly inside the step and without storing the running dose.

    Parameters
    ----------
    temperature : float64[..., time]   [K]
        Of the coldest part of the food.
    step : float   [s]
        Between stored temperatures.
    need : HeatNeed
        The dose asked for.
    """
    lanes = _lanes(temperature, step)
    time, total = np.empty(len(lanes)), np.empty(len(lanes))
    slope = math.log(10) / need.z
    _dose_times(lanes, step, slope, need.reference, need.least_temperature, need.seconds, time, total)
    shape = np.shape(temperature)[:-1]
    return Dosed(time.reshape(shape), np.reshape(~np.isnan(time), shape), total.reshape(shape))


def time_between(
    temperature: Floats, *, step: float, low: float = DANGER_LOW, high: float = DANGER_HIGH
) -> BandTime:
    """Time spent between two temperatures, parts of steps included. [s]

    Split at the hottest moment: before it the food warms, after it it cools. The default band is the one in
    which germs grow, 5 to 60 degC.

    Parameters
    ----------
    temperature : float64[..., time]   [K]
    step : float   [s]
        Between stored temperatures.
    low, high : float   [K]
        Ends of the band, both in it.
    """
    lanes = _lanes(temperature, step)
    warming, cooling = np.empty(len(lanes)), np.empty(len(lanes))
    _band_times(lanes, step, low, high, warming, cooling)
    shape = np.shape(temperature)[:-1]
    return BandTime(warming.reshape(shape), cooling.reshape(shape))


def _lanes(history: Floats, step: float) -> Floats:
    """The history as contiguous float64[lane, time]; the only check, at the door."""
    values = np.asarray(history, dtype=np.float64)
    if values.ndim == 0 or values.shape[-1] < 2:
        raise ValueError(
            f"a history of shape {values.shape}: two or more moments are needed on the last axis"
        )
    if not step > 0:
        raise ValueError(f"step = {step!r} s: a number above zero is needed")
    return np.ascontiguousarray(values.reshape(-1, values.shape[-1]))


@kernel
def _mean_growth(u: float) -> float:
    """Mean of exp over [0, u]: (e^u - 1) / u."""
    if abs(u) < 1e-4:  # the series is right to 4e-14 here, where the quotient cancels
        return 1 + u / 2 + u * u / 6
    return math.expm1(u) / u


@kernel
def _share_above(start: float, end: float, least: float) -> float:
    """Share of a straight step spent at `least` or above; nan if either end is."""
    if start >= least and end >= least:
        return 1.0
    if start <= least and end <= least:
        return 0.0
    return (max(start, end) - least) / abs(end - start)


@kernel
def _step_dose(start: float, end: float, slope: float, reference: float, least: float) -> float:
    """Dose of one straight step of unit length."""
    share = _share_above(start, end, least)
    if share == 0.0:
        return 0.0
    low, high = max(start, least), max(end, least)
    return share * math.exp(slope * (low - reference)) * _mean_growth(slope * (high - low))


@kernel
def _moment_in_step(
    part: float, start: float, end: float, slope: float, reference: float, least: float
) -> float:
    """Share of a unit step after which its dose has come to `part` of itself (0 to 1)."""
    share = _share_above(start, end, least)
    u = slope * (max(end, least) - max(start, least))
    small = abs(u) < 1e-4
    inside = part * (1 + u / 2 * (1 - part)) if small else math.log1p(part * math.expm1(u)) / u
    wait = 1 - share if start < least else 0.0
    return wait + share * min(inside, 1.0)


@kernel
def _running_doses(
    temperature: Floats, step: float, slope: float, reference: float, least: float, out: Floats
) -> None:
    """Fill `out` float64[lane, time] with running doses."""
    for lane in range(temperature.shape[0]):
        dose = 0.0
        out[lane, 0] = 0.0
        for i in range(1, temperature.shape[1]):
            start, end = temperature[lane, i - 1], temperature[lane, i]
            dose += step * _step_dose(start, end, slope, reference, least)
            out[lane, i] = dose


@kernel
def _dose_times(
    temperature: Floats,
    step: float,
    slope: float,
    reference: float,
    least: float,
    required: float,
    time: Floats,
    total: Floats,
) -> None:
    """Fill `time` (nan: never) and `total`, float64[lane]."""
    for lane in range(temperature.shape[0]):
        dose = 0.0
        time[lane] = math.nan
        for i in range(1, temperature.shape[1]):
            start, end = temperature[lane, i - 1], temperature[lane, i]
            more = step * _step_dose(start, end, slope, reference, least)
            if dose < required <= dose + more:
                part = (required - dose) / more
                time[lane] = step * (i - 1 + _moment_in_step(part, start, end, slope, reference, least))
            dose += more
        total[lane] = dose


@kernel
def _band_times(
    temperature: Floats, step: float, low: float, high: float, warming: Floats, cooling: Floats
) -> None:
    """Fill `warming` and `cooling`, float64[lane]."""
    for lane in range(temperature.shape[0]):
        hottest = 0
        for i in range(1, temperature.shape[1]):
            if temperature[lane, i] > temperature[lane, hottest]:
                hottest = i
        before, after = 0.0, 0.0
        for i in range(1, temperature.shape[1]):
            start, end = temperature[lane, i - 1], temperature[lane, i]
            if start == end:
                share = 1.0 if low <= start <= high else 0.0
            else:
                overlap = min(max(start, end), high) - max(min(start, end), low)
                share = 0.0 if overlap <= 0 else overlap / abs(end - start)
            if i <= hottest:
                before += step * share
            else:
                after += step * share
        warming[lane] = before
        cooling[lane] = after
