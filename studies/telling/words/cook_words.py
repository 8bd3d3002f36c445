"""What test cooks say: how they were read, what was doubted and left out, and where the model goes another way."""

import datetime
import json
import math
from collections.abc import Iterator

import numpy as np
import pandas as pd
import xarray as xr

from ....model import DANGER_HIGH, DANGER_LOW
from ...asking.quantity import difference_of
from .phrases import danger_zone, listed, said, spoken

_NEAR = 2.0  # K; a thermometer in a pot is hardly truer
_TOO_LONG = 7200.0  # s; food in the danger zone for longer is thrown away
_MANY = 6  # findings told one by one of a cook; the rest stand in the result


def cook_sentences(result: xr.Dataset) -> list[str]:
    """How far the model is off and the next move; then of every cook what was read, touched and predicted."""
    lines = list(_next_move(result))
    for number in range(result.sizes["cook"]):
        one = result.isel(cook=number)
        lines += [_read(one, result, number), *_touched(one), *_findings(result, number)]
        lines += [*_gaps(one, result), *_time_in_danger(one, result)]
    return lines


def local_start(one: xr.Dataset, result: xr.Dataset) -> datetime.datetime:
    """When a cook began, on the clock of the place."""
    zone = str(result.attrs["timezone"])
    found = pd.Timestamp(one["start"].item()).tz_localize("UTC").tz_convert(zone)
    moment: datetime.datetime = found.to_pydatetime()
    return moment


def _read(one: xr.Dataset, result: xr.Dataset, number: int) -> str:
    begin = local_start(one, result)
    time = one["time"].to_numpy()
    end = begin + datetime.timedelta(seconds=float(np.nanmax(time)))
    food = json.loads(result.attrs["cook_foods"])[number]
    mass = float(json.loads(result.attrs["cook_masses"])[number])
    held = f"{said(mass, 'mass', result.attrs, digits=3)} of {spoken(food)}" if food else "an empty pot"
    sensors = [
        spoken(name) for name in one["sensor"].to_numpy() if one["cleaned"].sel(sensor=name).notnull().any()
    ]
    return (
        f"Cook {one['cook'].item()}, {begin:%d %B %Y}, {begin:%H:%M} to {end:%H:%M}, {held}: "
        f"{int(one['readings'])} readings of {listed(sensors)} and weather over {int(np.isfinite(time).sum())} "
        f"instants; {_sun(one, result)}."
    )


def _sun(one: xr.Dataset, result: xr.Dataset) -> str:
    if not int(one["irradiance_measured"]):
        return "nobody measured the sunlight, a clear sky stands in for it"
    middle = float(one["irradiance"].median())
    return f"sunlight of {said(middle, 'irradiance', result.attrs, digits=3)} in the middle"


def _touched(one: xr.Dataset) -> Iterator[str]:
    counts = one["touched_count"].to_numpy()
    if not counts.sum():
        yield "Not one reading had to be touched."
        return
    told = [
        f"{count} {reason}" for reason, count in zip(one["reason"].to_numpy(), counts, strict=True) if count
    ]
    yield f"Touched: {listed(told)}; each stands with its line in the table of the figure of touched readings."


def _findings(result: xr.Dataset, number: int) -> Iterator[str]:
    if "finding_cook" not in result:
        return
    mine = result["finding_sentence"].to_numpy()[result["finding_cook"].to_numpy() == number]
    yield from (f"Noted: {sentence}" for sentence in mine[:_MANY])
    if len(mine) > _MANY:
        yield f"{len(mine) - _MANY} more such remarks stand in the result as finding_sentence."


def _gaps(one: xr.Dataset, result: xr.Dataset) -> Iterator[str]:
    """How far the model is from each thermometer, by part of the cook."""
    for sensor in one["sensor"].to_numpy():
        here = one.sel(sensor=sensor)
        told = [
            f"{_signed(float(here['gap_mean'].sel(phase=phase)), result)} {part_of_cook(str(phase), result)}"
            for phase in one["phase"].to_numpy()
            if int(here["gap_count"].sel(phase=phase)) > 0
        ]
        if told:
            yield f"Predicted less measured, {spoken(sensor)}: {listed(told)}."


def part_of_cook(phase: str, result: xr.Dataset) -> str:
    """A part of the cook in the units of the result."""
    if "degC" not in phase or result.attrs.get("shown_in") != "inch":
        return phase if phase not in ("shaded", "cooling down") else f"while {phase}"
    words = phase.removesuffix(" degC").split()
    fahrenheit = [
        said(float(word) + 273.15, "temperature", result.attrs) if word.isdigit() else word for word in words
    ]
    return " ".join(fahrenheit)


def _signed(value: float, result: xr.Dataset) -> str:
    sign = "+" if value > 0 else "-"
    decimals = 2 if abs(value) >= 1 else 1
    return sign + said(abs(value), difference_of("temperature"), result.attrs, digits=decimals)


def _time_in_danger(one: xr.Dataset, result: xr.Dataset) -> Iterator[str]:
    """Food that stood too long where germs grow, as measured."""
    if "food" not in one["sensor"].to_numpy():
        return
    time, food = one["time"].to_numpy(), one["cleaned"].sel(sensor="food").to_numpy()
    read = np.isfinite(food) & np.isfinite(time)
    if read.sum() < 2:
        return
    inside = (food[read] > DANGER_LOW) & (food[read] < DANGER_HIGH)
    spent = float(np.sum(np.diff(time[read]) * (inside[1:] & inside[:-1])))
    if spent > _TOO_LONG and json.loads(result.attrs["cook_foods"])[_place(one, result)] != "water":
        low, high = danger_zone(result.attrs)
        yield (
            f"CAUTION: the food stood {said(spent, 'time', result.attrs, digits=2)} between {low} and {high}, "
            "more than two hours: food like that is thrown away, not eaten."
        )


def _place(one: xr.Dataset, result: xr.Dataset) -> int:
    return int(np.flatnonzero(result["cook"].to_numpy() == one["cook"].item())[0])


def _next_move(result: xr.Dataset) -> Iterator[str]:
    rms, count = result["gap_rms"].to_numpy(), result["gap_count"].to_numpy()
    if not count.any():
        yield "Nothing could be predicted: the logs have no light or no air for the hours of their thermometers."
        return
    whole = math.sqrt(float(np.nansum(count * np.nan_to_num(rms) ** 2) / count.sum()))
    text = said(whole, difference_of("temperature"), result.attrs, digits=2)
    if whole <= _NEAR:
        yield f"Over all readings the model is within {text} (root of the mean square): it describes these cooks."
        return
    yield (
        f"Over all readings the model is {text} off (root of the mean square): a study of kind diagnosis says which "
        "single cause would explain it, one of kind fit what the oven is as built."
    )
