"""What the procedures make of measured cooks, as variables of a Dataset."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..sun import Place
from .cooking_power import FIT, INTERVAL, REPORTED_AT
from .cooks_tested import TestedCook
from .log import Log
from .measured import sun_over

if TYPE_CHECKING:
    from .assessment import Assessed

Variables = dict[str, tuple[Any, Any, dict[str, str]]]

CURVE_POINTS = 41
_SERIES = {
    "air_temperature": ("air", "K"),
    "irradiance": ("irradiance", "W m-2"),
    "wind_speed": ("wind", "m s-1"),
}


def _text(units: str, long_name: str) -> dict[str, str]:
    return {"units": units, "long_name": long_name}


def cook_variables(found: Assessed, place: Place) -> Variables:
    """What each cook was, and what it serves for."""
    cooks = found.cooks
    used = [cook.log is not None for cook in cooks]
    own = {
        "status": (np.array([0 if one else 1 for one in used]), "1", "0 serves for a figure, 1 for none"),
        "role": (_words(cook.role for cook in cooks), "1", "figure that the cook serves for"),
        "why_not": (_words(cook.why_not for cook in cooks), "1", "why it serves for none"),
        "date": (_words(_date(cook, place) for cook in cooks), "1", "date at the place"),
        "plane": (_words(cook.record.plane for cook in cooks), "1", "what the irradiance was measured on"),
        "irradiance_measured": (
            np.array([int(cook.record.irradiance_measured) for cook in cooks]),
            "1",
            "0 where a clear sky stands in for an instrument",
        ),
        "written_in": (
            _words(_written_in(cook) for cook in cooks),
            "1",
            "unit that the temperature of water or plate was logged in",
        ),
        "duration": (_numbers(cook.record.span for cook in cooks), "s", "first reading to last"),
        "intercept_area": (
            np.array(found.areas),
            "m2",
            "aperture and mirrors on the plane square to the beam, mean",
        ),
        "water_mass": (
            _of_logs(cooks, lambda log: log.water_mass),
            "kg",
            "water in the pot, pot not counted",
        ),
        "solar_noon": (_of_logs(cooks, _noon), "s", "solar noon, from the start of the record"),
        "settings": (
            np.array([len(cook.record.azimuth_settings) for cook in cooks]),
            "1",
            "times the azimuth was set",
        ),
        "setting_every": (
            _numbers(map(_setting_every, cooks)),
            "s",
            "longest between settings of the azimuth",
        ),
        **_sun_at_ends(cooks, place),
        **_outcomes(found),
    }
    variables: Variables = {name: ("cook", values, _text(*rest)) for name, (values, *rest) in own.items()}
    starts = [
        np.datetime64(cook.record.start.astimezone(datetime.UTC).replace(tzinfo=None), "ns") for cook in cooks
    ]
    variables["started"] = ("cook", np.array(starts), {"long_name": "start of the record, UTC"})
    return variables | _ranges(cooks)


def _outcomes(found: Assessed) -> dict[str, tuple[Any, str, str]]:
    """Figures of merit of each cook, and how far its day lies off the line."""
    names = [cook.name for cook in found.cooks]
    first, second = found.stagnations, found.heatings
    dates = {name: log.date for name, log in found.power_logs}
    offsets = found.days.offsets

    def of(outcomes: dict[str, Any], field: str) -> Any:
        return _numbers(getattr(outcomes[n], field) if n in outcomes else math.nan for n in names)

    return {
        "first_figure": (of(first, "first_figure"), "K m2 W-1", "F1, first figure of merit"),
        "grade": (_words(first[n].grade if n in first else "" for n in names), "1", "grade by F1"),
        "plate_temperature": (of(first, "plate_temperature"), "K", "plate over the ten minutes of F1"),
        "stagnation_air": (of(first, "air_temperature"), "K", "air over the ten minutes of F1"),
        "stagnation_irradiance": (of(first, "irradiance"), "W m-2", "level, over the ten minutes of F1"),
        "second_figure": (of(second, "second_figure"), "1", "F2, second figure of merit"),
        "heating_time": (of(second, "duration"), "s", "time in which the water passed the span of F2"),
        "day_offset": (
            _numbers(offsets.get(dates[n], math.nan) if n in dates else math.nan for n in names),
            "W",
            "mean of the cook's day above the line of all",
        ),
    }


def _ranges(cooks: tuple[TestedCook, ...]) -> Variables:
    """Least, mean and greatest of the weather during each cook."""
    variables: Variables = {}
    for name, (word, unit) in _SERIES.items():
        for which, value in _ENDS.items():
            values = _of_logs(cooks, _known(value, name))
            variables[f"{word}_{which}"] = ("cook", values, _text(unit, f"{which} {word} of the cook"))
    return variables


def _mean(log: Log, name: str) -> float:
    time = log.series("time")
    return log.mean(name, float(time[0]), float(time[-1]))


def _least(log: Log, name: str) -> float:
    return float(log.series(name).min())


def _most(log: Log, name: str) -> float:
    return float(log.series(name).max())


def _known(value: Callable[[Log, str], float], name: str) -> Callable[[Log], float]:
    """A number of a series, nan where nobody measured it."""
    return lambda log: math.nan if getattr(log, name) is None else value(log, name)


_ENDS: dict[str, Callable[[Log, str], float]] = {"least": _least, "mean": _mean, "most": _most}


def _sun_at_ends(cooks: tuple[TestedCook, ...], place: Place) -> dict[str, tuple[Any, str, str]]:
    azimuths = [sun_over(cook.record, place)[0][[0, -1]] for cook in cooks]
    first, last = np.array(azimuths).T.reshape(2, -1)
    return {
        "sun_from": (first, "rad", "azimuth of the sun at the first reading, clockwise from north"),
        "sun_to": (last, "rad", "azimuth of the sun at the last reading"),
    }


def interval_variables(found: Assessed) -> Variables:
    """Each ten minutes with its figures, and why it does not count."""
    cooks = [cook.name for cook in found.cooks]
    numbers = [cooks.index(name) for name, _ in found.power_logs]
    intervals = found.intervals
    columns = {
        "interval_cook": (
            np.array([numbers[one.log] for one in intervals], np.int64),
            "1",
            "number of the cook",
        ),
        "interval_start": (_numbers(one.start for one in intervals), "s", "start, on the record's clock"),
        "power": (_numbers(one.power for one in intervals), "W", "cooking power"),
        "standardised_power": (
            _numbers(one.standardised_power for one in intervals),
            "W",
            "cooking power brought to 700 W/m2",
        ),
        "temperature_difference": (
            _numbers(one.temperature_difference for one in intervals),
            "K",
            "water over air, mean",
        ),
        "interval_air": (_numbers(one.air_temperature for one in intervals), "K", "air, mean"),
        "interval_irradiance": (
            _numbers(one.irradiance for one in intervals),
            "W m-2",
            "facing the sun, mean",
        ),
        "counted": (np.array([int(not one.void) for one in intervals], np.int64), "1", "1 where it counts"),
        "reasons": (_words("; ".join(one.reasons) for one in intervals), "1", "why it does not count"),
    }
    return {name: ("interval", values, _text(*rest)) for name, (values, *rest) in columns.items()}


def curve_variables(found: Assessed, confidence: float) -> Variables:
    """The line with the ends of its interval, from no difference to the hottest seen or 50 K and a little."""
    last = max([REPORTED_AT.value, *(one.temperature_difference for one in found.intervals)]) * 1.05
    at = np.linspace(0.0, last, CURVE_POINTS)
    line = found.power.line if found.power else None
    values = np.full((3, CURVE_POINTS), math.nan)
    if line is not None:
        values[0] = [line.at(x) for x in at]
        values[1:] = np.array([line.interval_at(x, confidence=confidence) for x in at]).T
    return {
        "curve_difference": ("curve", at, _text("K", "water over air")),
        "curve_power": ("curve", values[0], _text("W", "standardised cooking power by the line")),
        "curve_low": ("curve", values[1], _text("W", "lower end of its interval")),
        "curve_high": ("curve", values[2], _text("W", "upper end of its interval")),
    }


def scalar_variables(found: Assessed, confidence: float) -> Variables:
    """The figures of the whole test; nan where there is none."""
    power, nan = found.power, math.nan
    line = power.line if power else None
    firsts = [one.first_figure for one in found.stagnations.values()]
    seconds = [one.second_figure for one in found.heatings.values()]
    scalars = {
        "power_at_50": (power.power if power else nan, "W", "standardised cooking power at 50 K"),
        "power_low": (power.low if power else nan, "W", "lower end of its interval"),
        "power_high": (power.high if power else nan, "W", "upper end of its interval"),
        "confidence": (confidence, "1", "of the intervals"),
        "intercept": (line.intercept if line else nan, "W", "of the line, where water is as warm as air"),
        "slope": (line.slope if line else nan, "W K-1", "of the line"),
        "slope_error": (line.slope_error if line else nan, "W K-1", "standard error of the slope"),
        "r_squared": (line.r_squared if line else nan, "1", "R2 of the line"),
        "standard_error": (line.standard_error if line else nan, "W", "scatter of a point about the line"),
        "day_chance": (found.days.chance, "1", "chance of days so different, were they of one line"),
        "days_low": (found.days.low, "W", "lower end of the interval at 50 K, each day counted once"),
        "days_high": (found.days.high, "W", "upper end of the interval at 50 K, each day counted once"),
        "first_figure_mean": (_mean_of(firsts), "K m2 W-1", "F1, mean of the cooks"),
        "second_figure_mean": (_mean_of(seconds), "1", "F2, mean of the cooks"),
        "aperture_area": (found.aperture_area, "m2", "clear aperture"),
        "reported_at": (REPORTED_AT.value, "K", "difference at which the power is reported"),
        "interval_length": (INTERVAL.value, "s", "length of an interval"),
        "least_r_squared": (FIT.value, "1", "R2 that is asked"),
    }
    return {name: ((), value, _text(*rest)) for name, (value, *rest) in scalars.items()}


def _mean_of(values: list[float]) -> float:
    return sum(values) / len(values) if values else math.nan


def _of_logs(cooks: tuple[TestedCook, ...], value: Callable[[Log], float]) -> Any:
    """A number of each cook's log; nan of cooks without one."""
    return _numbers(value(cook.log) if cook.log is not None else math.nan for cook in cooks)


def _noon(log: Log) -> float:
    return math.nan if log.solar_noon is None else log.solar_noon


def _date(cook: TestedCook, place: Place) -> str:
    return cook.record.start.astimezone(place.zone).date().isoformat()


def _written_in(cook: TestedCook) -> str:
    units = cook.record.units
    return units.get("food", units.get("plate", "degC"))


def _setting_every(cook: TestedCook) -> float:
    """Longest between settings of the azimuth, the last one's way to the end of the record included. [s]"""
    settings = cook.record.azimuth_settings
    if not settings:
        return math.nan
    return float(np.diff([*settings, float(cook.record.instants[-1])]).max())


def _words(words: Iterable[str]) -> Any:
    return np.array(list(words), dtype=np.str_)


def _numbers(numbers: Iterable[float]) -> Any:
    return np.array(list(numbers), dtype=np.float64)
