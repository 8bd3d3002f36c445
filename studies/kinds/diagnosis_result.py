"""A diagnosis as a Dataset: causes and what each leaves, the cooks as the best one has them, further tests."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from ...model import CookModel, Design, Quantity, stored_unit
from ..judging.measured import Measured
from ..logs import PHASES, phase_of
from ..methods.explanations import TIED, Comparison, Explained
from .causes import CAUSES
from .labels import attributes
from .telling_tests import Separations

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Diagnosed:
    """Cooks, and what was found of them."""

    design: Design
    models: tuple[CookModel, ...]
    measured: Measured
    comparison: Comparison


def diagnosis_dataset(found: Diagnosed, apart: Separations) -> xr.Dataset:
    """The causes, the likeliest first; readings of all cooks in one row."""
    dataset = xr.Dataset({**_causes(found), **_readings(found), **_gaps(found)}, coords=_names(found))
    return dataset.assign(_tests(apart)).assign_attrs(_about(found))


def _names(found: Diagnosed) -> dict[str, Any]:
    start = [pd.Timestamp(m.record.start).tz_convert("UTC").tz_localize(None) for m in found.models]
    return {
        "cause": ("cause", [one.name for one in found.comparison.explained], attributes("what may be wrong")),
        "phase": ("phase", list(PHASES), attributes("part of the cook")),
        "cook": ("cook", [model.record.name for model in found.models], attributes("test cook")),
        "start": ("cook", np.array(start, "datetime64[ns]"), {"long_name": "first reading, in UTC"}),
    }


def _causes(found: Diagnosed) -> dict[str, Any]:
    """What each cause would have to be, and how likely it is beside the best."""
    each = found.comparison.explained
    specs = [found.design.factors[CAUSES[one.name].factor] for one in each]
    own = [found.design.value(CAUSES[one.name].factor) for one in each]
    widest = max(len(one.values) for one in each)
    return {
        "status": ("cause", np.zeros(len(each), np.int64), attributes("0: the model ran")),
        "factor": (
            "cause",
            _words([CAUSES[one.name].factor for one in each]),
            attributes("factor of the design"),
        ),
        "meaning": ("cause", _words([CAUSES[one.name].meaning for one in each]), attributes("what it is")),
        "look": ("cause", _words([CAUSES[one.name].look for one in each]), attributes("what to do about it")),
        "way": (
            "cause",
            _words([CAUSES[one.name].way for one in each]),
            attributes("light, loss, or what is in the pot"),
        ),
        "factor_dimension": (
            "cause",
            _words([spec.dimension if isinstance(spec, Quantity) else "count" for spec in specs]),
            attributes("dimension of the factor"),
        ),
        "factor_unit": (
            "cause",
            _words([stored_unit(spec) for spec in specs]),
            attributes("unit of its values here"),
        ),
        "value": (
            "cause",
            [one.value for one in each],
            attributes("where it explains most, in the factor's unit"),
        ),
        "described": (
            "cause",
            [np.nan if value is None else float(value) for value in own],
            attributes("as the design has it, in the factor's unit; nan where a material decides"),
        ),
        "at_end": (
            "cause",
            [one.at_end for one in each],
            attributes("-1 at the lower end of what is plausible, 1 at the upper"),
        ),
        "criterion": (
            "cause",
            [one.criterion for one in each],
            attributes("Akaike's criterion over that of the best"),
        ),
        "tied": (
            "cause",
            [int(one.criterion <= TIED) for one in each],
            attributes("1 where it is not told from the best, more than 1 in 150 as likely"),
        ),
        "left": (
            "cause",
            [_rms(found, one.predicted) for one in each],
            attributes("what it leaves, root of the mean square", "K"),
        ),
        "tried": (
            ("cause", "point"),
            _padded([one.values for one in each], widest),
            attributes("values tried, in the factor's unit"),
        ),
        "misfit": (
            ("cause", "point"),
            _padded([one.misfits for one in each], widest),
            attributes("misfit there, in independent readings"),
        ),
    }


def _words(texts: list[str]) -> NDArray[Any]:
    return np.array(texts, object)


def _padded(rows: list[Floats], widest: int) -> Floats:
    return np.array([np.pad(row, (0, widest - len(row)), constant_values=np.nan) for row in rows])


def _compared(found: Diagnosed) -> NDArray[np.bool_]:
    return found.measured.started & np.isfinite(found.measured.temperature)


def _rms(found: Diagnosed, predicted: Floats) -> float:
    gap = (predicted - found.measured.temperature)[_compared(found)]
    return float(np.sqrt(np.nanmean(gap**2)))


def _unchanged(found: Diagnosed) -> Floats:
    return np.asarray(found.measured(np.empty((1, 0)))[0])


def _best(found: Diagnosed) -> Explained:
    return found.comparison.explained[0]


def _readings(found: Diagnosed) -> dict[str, Any]:
    """Every reading with what is said of it as described and by the likeliest cause."""
    measured = found.measured
    of_cook = np.array([one.cook for one in measured.series], np.int64)[measured.numbers]
    sensors = _words([one.sensor for one in measured.series])[measured.numbers]
    return {
        "reading_cook": ("reading", of_cook, attributes("its cook, counted from 0")),
        "reading_sensor": ("reading", sensors, attributes("its thermometer")),
        "reading_time": ("reading", measured.time, attributes("since the first reading of its cook", "s")),
        "measured": ("reading", measured.temperature, attributes("temperature as measured and cleaned", "K")),
        "as_described": (
            "reading",
            _unchanged(found),
            attributes("by the model of the oven as described", "K"),
        ),
        "explained": (
            "reading",
            _best(found).predicted,
            attributes("by the model with the likeliest cause", "K"),
        ),
    }


def _gaps(found: Diagnosed) -> dict[str, Any]:
    """Predicted less measured in each part of the cooks, as described and with the likeliest cause."""
    phase = _phases(found)
    said = {"gap_as_described": _unchanged(found), "gap_explained": _best(found).predicted}
    gaps = {}
    for name, predicted in said.items():
        gap = np.where(_compared(found), predicted - found.measured.temperature, np.nan)
        of_phase = [gap[(phase == number) & np.isfinite(gap)] for number in range(len(PHASES))]
        mean = [float(part.mean()) if part.size else np.nan for part in of_phase]
        gaps[name] = ("phase", mean, attributes("predicted less measured, mean of all thermometers", "K"))
    return gaps


def _phases(found: Diagnosed) -> NDArray[np.int64]:
    """The part of its cook that every reading is of, int64[reading]."""
    by_cook = [phase_of(model.record) for model in found.models]
    return np.concatenate([by_cook[one.cook] for one in found.measured.series])


def _tests(apart: Separations) -> dict[str, Any]:
    if not apart.tests:
        return {}
    return {
        "test": ("test", _words(list(apart.tests)), attributes("what could be tried next")),
        "tied_cause": ("tied_cause", _words(list(apart.names)), attributes("causes that are not told apart")),
        "other_cause": (
            "other_cause",
            _words(list(apart.names)),
            attributes("causes that are not told apart"),
        ),
        "apart": (
            ("test", "tied_cause", "other_cause"),
            apart.apart,
            attributes("how far two causes would lie apart in a test, root of the mean square", "K"),
        ),
    }


def _about(found: Diagnosed) -> dict[str, Any]:
    comparison = found.comparison
    return {
        "unchanged_criterion": comparison.unchanged,
        "unchanged_left": _rms(found, _unchanged(found)),
        "independent_readings": comparison.independent,
        "tied_within": TIED,
        "compared_by": "Akaike's criterion with the correction of Hurvich and Tsai (1989), in independent readings",
    }
