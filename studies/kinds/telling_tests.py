"""Cooks that nobody has done yet, and how far apart explanations lie in each: which test would tell them."""

import dataclasses
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...model import CookRecord
from ..methods.explanations import Comparison
from .causes import CAUSES
from .cook import cook_model
from .kind import Work

Floats = NDArray[np.float64]

RAYS = 48  # a minute at least: the noise of fewer looks like a fault of aiming
MOST = 5  # explanations that are told apart at most
_SHADED = 0.6  # of the cook, after which no sun is let in
_OFTEN = 600.0  # s between settings
_STEP = 120.0  # s between the readings of a cook that nobody has done


class Separations(NamedTuple):
    """How far explanations lie apart in tests.

    names : of the explanations.  tests : of the tests.
    apart : float64[test, explanation, explanation], root of the mean square over the readings of a test. [K]
    """

    names: tuple[str, ...]
    tests: tuple[str, ...]
    apart: Floats


def separations(work: Work, comparison: Comparison) -> Separations:
    """How far the tied explanations, each at its best, would lie apart in further tests."""
    names = comparison.tied[:MOST]
    if len(names) < 2:
        return Separations(names, (), np.empty((0, len(names), len(names))))
    longest = max(work.ready, key=lambda record: record.span)
    values = {one.name: one.value for one in comparison.explained}
    apart = [_apart(work, planned(longest), names, values) for planned in TESTS.values()]
    return Separations(names, tuple(TESTS), np.stack(apart))


def _apart(work: Work, record: CookRecord, names: tuple[str, ...], values: dict[str, float]) -> Floats:
    """Distances in one test. float64[explanation, explanation] [K]"""
    model = cook_model(work, record, least_rays=RAYS)
    said = []
    for name in names:
        rows = model.temperatures({CAUSES[name].factor: np.array([values[name]])})
        said.append(np.concatenate([rows[sensor][0] for sensor in model.sensors]))
    each = np.array(said)
    gap = each[:, None] - each[None]
    known = np.isfinite(each).all(axis=0)
    if not known.any():
        return np.full((len(names), len(names)), np.nan)
    return np.asarray(np.sqrt((gap[..., known] ** 2).mean(axis=-1)))


def _again(record: CookRecord) -> CookRecord:
    return record


def _then_shaded(record: CookRecord) -> CookRecord:
    """The same with no sun let in at the end, as long as the sun of the cook lasts."""
    begin, end = record.instants[0] + _SHADED * record.span, record.instants[-1] + 1.0
    return dataclasses.replace(record, name="shade", shaded=((float(begin), float(end)),))


def _empty(record: CookRecord) -> CookRecord:
    """A dry pot in the same weather, read at the pot and at the plate under it, from the air's temperature on."""
    time = np.arange(record.instants[0], record.instants[-1], _STEP)
    air = record.weather("air")
    first = 293.15 if air is None else float(air[np.isfinite(air)][0])
    start = np.full(len(time), np.nan)
    start[0] = first
    given = {
        name: None
        if values is None
        else np.interp(time, record.instants[np.isfinite(values)], values[np.isfinite(values)])
        for name, values in (
            (name, record.weather(name)) for name in ("air", "irradiance", "diffuse", "wind")
        )
    }
    plain = {field.name: getattr(record, field.name) for field in dataclasses.fields(CookRecord)}
    changed = {
        "name": "empty",
        "time": time,
        "temperatures": {"pot": start, "plate": start},
        "meal": None,
        "shaded": (),
    }
    return CookRecord(**{**plain, **changed, **given})


def _set_often(record: CookRecord) -> CookRecord:
    """The same, set to the sun every ten minutes by a sight that is true."""
    times = tuple(np.arange(record.instants[0], record.instants[-1], _OFTEN).tolist())
    return dataclasses.replace(record, name="often", azimuth_settings=times, elevation_settings=times)


TESTS: dict[str, Callable[[CookRecord], CookRecord]] = {
    "the same cook again": _again,
    "the same with no sun let in for its last part": _then_shaded,
    "a dry pot, read at pot and plate": _empty,
    "the same, set to the sun every 10 min": _set_often,
}
"""What could be tried next, by what it is called in sentences."""
