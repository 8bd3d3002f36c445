"""Cooks beside the model as one Dataset: readings, predictions, gaps by part of the cook, and all that was touched."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from ...model import SENSORS, CookModel, CookRecord, Place
from ..logs import PHASES, REASONS, Cleaning, LoggedCook, elevations, phase_of
from .labels import attributes

Floats = NDArray[np.float64]

_WEATHER = {
    "air": ("K", "air in the shade, as measured"),
    "irradiance": ("W m-2", "sunlight as measured, on the plane of the instrument"),
    "diffuse": ("W m-2", "diffuse light on a horizontal plane, as measured"),
    "wind": ("m s-1", "wind at the oven, as measured"),
}
_LIGHT = {
    "dni": "beam facing the sun that the prediction took",
    "dhi": "diffuse on a horizontal plane that the prediction took",
    "ghi": "global on a horizontal plane that the prediction took",
}
_LINES = {"time": "s", "row": "1", "became": "1", "cook": "1"}


@dataclass(frozen=True)
class Compared:
    """A cook and the model of its hours."""

    record: CookRecord
    model: CookModel

    @property
    def cleaning(self) -> Cleaning:
        """What became of its log; a record made otherwise has no log."""
        if isinstance(self.record, LoggedCook):
            return self.record.cleaning
        raw = {name: self.record.temperature(name) for name in self.record.temperatures}
        return Cleaning(readings=int(sum(np.isfinite(values).sum() for values in raw.values())), raw=raw)


def cook_dataset(cooks: Sequence[Compared], place: Place) -> xr.Dataset:
    """All cooks side by side; those with fewer readings are filled up with nan.

    Parameters
    ----------
    cooks : sequence of Compared
    place : Place
    """
    sensors = [sensor for sensor in SENSORS if any(sensor in one.record.temperatures for one in cooks)]
    longest = max(len(one.record.instants) for one in cooks)
    dataset = xr.concat([_padded(_one(one, place, sensors), longest) for one in cooks], dim="cook")
    dataset = dataset.assign(_counted(cooks)).assign(_touched(cooks)).assign(_findings(cooks))
    return dataset.assign(_moments(cooks)).assign_coords(_names(cooks, sensors)).assign_attrs(_told(cooks))


def _padded(one: xr.Dataset, longest: int) -> xr.Dataset:
    """A cook over as many readings as the longest has."""
    nothing: dict[Any, Any] = {
        n: -1 if array.dtype.kind == "i" else np.nan for n, array in one.data_vars.items()
    }
    missing = longest - one.sizes["record"]
    return one.pad(record=(0, missing), constant_values=nothing, keep_attrs=True)


def _one(one: Compared, place: Place, sensors: Sequence[str]) -> xr.Dataset:
    """One cook, over its own readings."""
    record, model = one.record, one.model
    predicted = {name: rows[0] for name, rows in model.temperatures({}).items()}
    measured = {name: one.cleaning.raw.get(name, record.temperature(name)) for name in record.temperatures}
    cleaned = {name: record.temperature(name) for name in record.temperatures}
    phase = phase_of(record)
    by_sensor = ("sensor", "record")
    variables: dict[str, Any] = {
        "time": ("record", record.instants, attributes("since the first reading", "s")),
        "measured": (
            by_sensor,
            _rows(measured, sensors, record),
            attributes("temperature as it was read", "K"),
        ),
        "cleaned": (
            by_sensor,
            _rows(cleaned, sensors, record),
            attributes("temperature that studies use", "K"),
        ),
        "predicted": (
            by_sensor,
            _rows(predicted, sensors, record),
            attributes("temperature by the model", "K"),
        ),
        "phase_of": ("record", phase, attributes("part of the cook, counted from 0; -1 for none")),
        "sun_elevation": (
            "record",
            elevations(record.start.timestamp(), record.instants, place),
            attributes("height of the sun", "rad"),
        ),
    }
    for name, (unit, meaning) in _WEATHER.items():
        values = record.weather(name)
        empty = np.full(len(record.instants), np.nan)
        variables[name] = ("record", empty if values is None else values, attributes(meaning, unit))
    for name, meaning in _LIGHT.items():
        variables[name] = ("record", model.irradiance[name], attributes(meaning, "W m-2"))
    return xr.Dataset({**variables, **_gaps(cleaned, predicted, phase, sensors)})


def _rows(values: dict[str, Floats], sensors: Sequence[str], record: CookRecord) -> Floats:
    """A row for each thermometer; nan for those the cook did not have. float64[sensor, record]"""
    nothing = np.full(len(record.instants), np.nan)
    return np.stack([values.get(sensor, nothing) for sensor in sensors])


def _gaps(
    cleaned: dict[str, Floats],
    predicted: dict[str, Floats],
    phase: NDArray[np.int64],
    sensors: Sequence[str],
) -> dict[str, Any]:
    """Predicted minus measured in each part of the cook: mean, root mean square and readings."""
    shape = (len(PHASES), len(sensors))
    mean, rms, count = np.full(shape, np.nan), np.full(shape, np.nan), np.zeros(shape, np.int64)
    for column, sensor in enumerate(sensors):
        if sensor not in cleaned:
            continue
        gap = predicted[sensor] - cleaned[sensor]
        for row in range(len(PHASES)):
            here = gap[(phase == row) & np.isfinite(gap)]
            count[row, column] = len(here)
            if len(here):
                mean[row, column], rms[row, column] = here.mean(), np.sqrt((here**2).mean())
    where = ("phase", "sensor")
    return {
        "gap_mean": (where, mean, attributes("predicted minus measured, mean", "K")),
        "gap_rms": (where, rms, attributes("predicted minus measured, root of the mean square", "K")),
        "gap_count": (where, count, attributes("readings compared")),
    }


def _names(cooks: Sequence[Compared], sensors: Sequence[str]) -> dict[str, Any]:
    start = [pd.Timestamp(one.record.start).tz_convert("UTC").tz_localize(None) for one in cooks]
    return {
        "cook": ("cook", [one.record.name for one in cooks], attributes("test cook")),
        "sensor": ("sensor", list(sensors), attributes("thermometer")),
        "phase": ("phase", list(PHASES), attributes("part of the cook")),
        "start": ("cook", np.array(start, "datetime64[ns]"), {"long_name": "first reading, in UTC"}),
    }


def _counted(cooks: Sequence[Compared]) -> dict[str, Any]:
    """What was read, kept and touched, by cook."""
    touched = [[one.cleaning.counts().get(reason, 0) for reason in REASONS] for one in cooks]
    measured = [int(one.record.irradiance_measured) for one in cooks]
    zeros = np.zeros(len(cooks), np.int64)
    return {
        "status": ("cook", zeros, attributes("0: the model ran")),
        "rows": ("cook", [one.cleaning.rows for one in cooks], attributes("rows of readings in the files")),
        "readings": (
            "cook",
            [one.cleaning.readings for one in cooks],
            attributes("numbers that studies use"),
        ),
        "touched_count": (
            ("cook", "reason"),
            np.array(touched),
            attributes("cells and rows touched, by reason"),
        ),
        "reason": ("reason", list(REASONS), attributes("why a reading was touched")),
        "irradiance_measured": (
            "cook",
            measured,
            attributes("1 by an instrument, 0 a clear sky in its place"),
        ),
        "plane": ("cook", [one.record.plane for one in cooks], attributes("what the instrument measures")),
    }


def _touched(cooks: Sequence[Compared]) -> dict[str, Any]:
    """Every reading that was touched, a line each; nothing where there is none."""
    lines = [
        (number, entry.series, entry.file, entry.row, entry.said, entry.reason, entry.time, entry.became)
        for number, one in enumerate(cooks)
        for entry in one.cleaning.touched
    ]
    if not lines:
        return {}
    meanings = {
        "cook": "its cook, counted from 0",
        "series": "what was measured; row where a whole row is meant",
        "file": "file",
        "row": "line of the file, from 1 on",
        "said": "what stood there",
        "reason": "why it was touched",
        "time": "since 1970 in UTC; nan where none can be read",
        "became": "what is used of it, in SI; nan where it was left out",
    }
    return {
        f"touched_{name}": ("touched", _column(values), attributes(meaning, _LINES.get(name, "1")))
        for (name, meaning), values in zip(meanings.items(), zip(*lines, strict=True), strict=True)
    }


def _column(values: Sequence[Any]) -> NDArray[Any]:
    return np.array(values, object if isinstance(values[0], str) else None)


def _findings(cooks: Sequence[Compared]) -> dict[str, Any]:
    """What was noticed of logs and what the model took for what nobody read, a sentence each."""
    lines = [
        (number, finding.what, finding.sentence)
        for number, one in enumerate(cooks)
        for finding in one.cleaning.findings
    ]
    lines += [
        (number, "model", f"{one.record.name}: {note}.")
        for number, one in enumerate(cooks)
        for note in one.model.notes
    ]
    if not lines:
        return {}
    meanings = {"cook": "its cook, counted from 0", "what": "what was noticed", "sentence": "in words"}
    return {
        f"finding_{name}": ("finding", _column(values), attributes(meaning))
        for (name, meaning), values in zip(meanings.items(), zip(*lines, strict=True), strict=True)
    }


def _moments(cooks: Sequence[Compared]) -> dict[str, Any]:
    """When the ovens were set, and when no sun was let in, in seconds from each first reading."""
    found = {}
    for name, meaning in (("azimuth", "turned to the sun"), ("elevation", "tilted to the sun")):
        times = [getattr(one.record, f"{name}_settings") for one in cooks]
        if any(times):
            found[f"{name}_set"] = (
                ("cook", f"{name}_setting"),
                _ragged(times),
                attributes(f"when it was {meaning}", "s"),
            )
    for place, name in enumerate(("begin", "end")):
        spans = [[span[place] for span in one.record.shaded] for one in cooks]
        if any(spans):
            found[f"shade_{name}"] = (
                ("cook", "shade"),
                _ragged(spans),
                attributes(f"{name} of a shaded span", "s"),
            )
    return found


def _ragged(rows: Sequence[Sequence[float]]) -> Floats:
    whole = np.full((len(rows), max(len(row) for row in rows)), np.nan)
    for number, row in enumerate(rows):
        whole[number, : len(row)] = row
    return whole


def _told(cooks: Sequence[Compared]) -> dict[str, Any]:
    """What was in the pots, and what the reasons mean."""
    meals = [one.record.meal for one in cooks]
    masses = [0.0 if meal is None else meal.food_mass for meal in meals]
    return {
        "cook_foods": json.dumps(["" if meal is None else meal.food for meal in meals]),
        "cook_masses": json.dumps(masses),
        "reasons": json.dumps(REASONS),
    }
