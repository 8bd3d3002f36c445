"""Every reading of the cooks of a fit beside the model, and how each thermometer agrees with it."""

from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.measured import FOOD, Measured, Series
from ..judging.posterior import Posterior
from ..methods.found import Fitted, foretold
from .fit_table import Factor
from .labels import attributes

Floats = NDArray[np.float64]


class FitRun(NamedTuple):
    """A fit and all that it stood on."""

    factors: tuple[Factor, ...]
    start: Floats  # the factors as described
    measured: Measured  # cooks that were fitted to
    held: Measured | None  # cooks that were held out
    found: Fitted
    posterior: Posterior
    by_readings: Floats  # standard error of each factor by the readings and the prior, in coordinates
    rays: Floats  # what other rays move each factor by, a standard deviation in coordinates
    by_cook: tuple[
        Floats, Floats
    ]  # what each cook would say alone, and its error in coordinates [cook, factor]
    between: Floats  # how far each factor differs from cook to cook, a standard deviation in coordinates
    apart: tuple[Floats, Floats]  # singular values and directions of the factors


class _Beside(NamedTuple):
    """Readings of some cooks beside the model."""

    measured: Measured
    described: Floats
    predicted: Floats
    error: Floats
    scatter: Floats  # of each series


def _beside(run: FitRun) -> list[_Beside]:
    """Of the cooks fitted to and of those held out."""
    found, count = run.found, len(run.factors)
    scatter = np.array([one.deviation for one in found.series])
    sensors = np.array([one.sensor for one in run.measured.series])
    described = np.concatenate([run.start, np.zeros(len(run.measured.names) - count)])
    whole = _Beside(
        run.measured, run.measured(described[np.newaxis])[0], *foretold(run.measured, found), scatter
    )
    if run.held is None:
        return [whole]
    held = run.held
    like = [scatter[sensors == one.sensor] for one in held.series]
    widths = np.array(
        [np.sqrt((own**2).mean()) if len(own) else np.sqrt((scatter**2).mean()) for own in like]
    )
    said, error = foretold(lambda rows: held(rows[:, :count]), found)
    for cook, effect in held.of_start.items():
        own = np.array([one == Series(cook, FOOD) for one in held.series])
        error = np.hypot(error, effect * widths[own][0])
    return [whole, _Beside(held, held(run.start[np.newaxis])[0], said, error, widths)]


def readings_of(run: FitRun) -> xr.Dataset:
    """Every reading and every series, those of held-out cooks after the others."""
    parts = _beside(run)
    cooks = np.cumsum([0] + [len(part.measured.models) for part in parts])
    thermometers = np.cumsum([0] + [len(part.measured.series) for part in parts])
    every = [one for part in parts for one in part.measured.series]
    cook_of = np.concatenate(
        [
            [one.cook + start for one in part.measured.series]
            for part, start in zip(parts, cooks, strict=False)
        ]
    ).astype(np.int64)
    number = np.concatenate(
        [part.measured.numbers + start for part, start in zip(parts, thermometers, strict=False)]
    )
    spread = np.concatenate([part.scatter[part.measured.numbers] for part in parts])
    error = _joined(parts, "error")
    used = np.concatenate(
        [
            part.measured.started & np.isfinite(part.measured.temperature) & np.isfinite(part.predicted)
            for part in parts
        ]
    )
    fitted_to = number < thermometers[1]
    kelvin = {
        "measured": (np.concatenate([part.measured.temperature for part in parts]), "temperature as read"),
        "described_temperature": (
            _joined(parts, "described"),
            "what the model says of the oven as described",
        ),
        "fitted_temperature": (_joined(parts, "predicted"), "what the model says of the oven as fitted"),
        "fitted_error": (error, "standard error of that, by what is unknown of the factors"),
        "band": (
            run.found.quantile * np.hypot(error, spread),
            "half the width within which 95 % of readings are meant",
        ),
    }
    plain = {
        "reading_series": (number, "number of its series"),
        "reading_used": ((used & fitted_to).astype(np.int8), "1: fitted to; 0: not"),
        "reading_compared": (
            used.astype(np.int8),
            "1: told beside the model; 0: missing, a start, or not predicted",
        ),
        "reading_shaded": (
            np.concatenate([part.measured.shaded for part in parts]).astype(np.int8),
            "1 while no sun was let in",
        ),
    }
    records = [model.record for part in parts for model in part.measured.models]
    cook = {
        "status": (np.zeros(len(records), np.int64), "0 the cook was told beside the model"),
        "sun_measured": (
            np.array([record.irradiance_measured for record in records], np.int8),
            "1: an instrument read the sun; 0: a clear sky stands in",
        ),
        "held_out": (
            (np.arange(len(records)) >= cooks[1]).astype(np.int8),
            "1: not fitted to, only predicted",
        ),
        "cook_readings": (
            np.bincount(cook_of[number], weights=used, minlength=len(records)).astype(np.int64),
            "readings told beside the model",
        ),
    }
    time = np.concatenate([part.measured.time for part in parts])
    dataset = xr.Dataset(
        {name: ("reading", values, attributes(text, "K")) for name, (values, text) in kelvin.items()}
        | {name: ("reading", values, attributes(text)) for name, (values, text) in plain.items()}
        | {name: ("cook", values, attributes(text)) for name, (values, text) in cook.items()},
        coords={
            "reading_time": ("reading", time, attributes("from the first reading of its cook", "s")),
            "cook": ("cook", [record.name for record in records], attributes("name of the cook")),
            "cook_start": (
                "cook",
                [record.start.isoformat() for record in records],
                attributes("when it began, with the time zone"),
            ),
            "series_sensor": (
                "series",
                [one.sensor for one in every],
                attributes("place of the thermometer"),
            ),
            "series_cook": ("series", cook_of, attributes("number of the cook")),
        },
    )
    return dataset.assign(_series(run, dataset, len(every)))


def _joined(parts: list[_Beside], name: str) -> Floats:
    return np.concatenate([getattr(part, name) for part in parts])


def _series(run: FitRun, dataset: xr.Dataset, count: int) -> dict[str, Any]:
    """How each thermometer agrees with the model before and after, and how it scatters."""
    read, number = dataset["measured"].to_numpy(), dataset["reading_series"].to_numpy()
    compared = dataset["reading_compared"].to_numpy() == 1
    before = read - dataset["described_temperature"].to_numpy()
    after = read - dataset["fitted_temperature"].to_numpy()
    inside = np.abs(after) <= dataset["band"].to_numpy()
    own = [compared & (number == k) for k in range(count)]

    def of_each(values: Floats, root: bool = False) -> Floats:
        means = np.array([values[one].mean() if one.any() else np.nan for one in own])
        return np.sqrt(means) if root else means

    scatter = [*run.found.series, *[None] * (count - len(run.found.series))]
    kelvin = {
        "series_before": (of_each(before**2, root=True), "root mean square of reading less described"),
        "series_after": (of_each(after**2, root=True), "root mean square of reading less fitted"),
        "series_bias": (of_each(after), "mean of reading less fitted"),
        "series_scatter": (
            np.array([np.nan if one is None else one.deviation for one in scatter]),
            "standard deviation of a reading round the fit; nan of held-out cooks",
        ),
    }
    plain = {
        "series_inside": (of_each(inside.astype(float)), "share of readings within the 95 % band"),
        "series_slowness": (
            np.array([np.nan if one is None else one.slowness for one in scatter]),
            "readings that are worth one independent reading; nan of held-out cooks",
        ),
        "series_readings": (np.array([int(one.sum()) for one in own]), "readings told beside the model"),
    }
    return {name: ("series", values, attributes(text, "K")) for name, (values, text) in kelvin.items()} | {
        name: ("series", values, attributes(text)) for name, (values, text) in plain.items()
    }
