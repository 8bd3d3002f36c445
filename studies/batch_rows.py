"""One row for each study of a batch of configs: what became of it, and the design it is about."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from ..model import LIMITS, MERITS, AsBuilt, Design, Meal, Spec, Surroundings, specs, stored_unit
from .asking.aiming_parts import AIMINGS
from .asking.oven_tables import OVEN_PARTS
from .setting import Setting

DONE, FAILED, WRONG = 0, 1, 2


@dataclass(frozen=True, kw_only=True)
class Row:
    """One study of one config, or one config that is wrong.

    Parameters
    ----------
    status : int
        0 done, 1 failed or nothing found, 2 the config is wrong.
    factors, numbers : dict
        Of the design: its factors, and its merits and limits; SI, empty where there is none.
    """

    config: str
    title: str = ""
    study: str = ""
    kind: str = ""
    status: int = DONE
    fault: str = ""
    seconds: float = 0.0
    seed: int = 0
    currency: str = ""
    factors: dict[str, Any] = field(default_factory=dict)
    numbers: dict[str, float] = field(default_factory=dict)


_PLAIN = {
    "config": "name of the config's file",
    "title": "title of the config",
    "study": "name of the study, as its result files have it",
    "kind": "kind of study",
    "status": "0 done, 1 failed or nothing found, 2 the config is wrong",
    "fault": "what is wrong, or why there is no result",
    "seed": "seed of the config; 0 where it could not be read",
    "currency": "currency of material_cost",
}


def numbers_of(setting: Setting, design: Design) -> dict[str, float]:
    """Every merit and limit of a design in a setting; nan where it does not run."""
    ran = setting.simulated(design)
    return {name: float(ran[name][0]) for name in (*MERITS, *LIMITS)}


def factors_of(design: Design) -> dict[str, Any]:
    """Every factor of a design; None for one that is left to the catalogue."""
    return {name: design.value(name) for name in design.factors}


def rows_dataset(rows: Sequence[Row]) -> xr.Dataset:
    """The rows as a Dataset over `row`; nan, or no word, where a row has no such number."""
    variables: dict[str, Any] = {
        name: ("row", np.array([getattr(row, name) for row in rows]), {"units": "1", "long_name": meaning})
        for name, meaning in _PLAIN.items()
    }
    seconds = {"units": "s", "long_name": "time the study took on the clock"}
    variables["seconds"] = ("row", np.array([row.seconds for row in rows], np.float64), seconds)
    known, described = MERITS | LIMITS, _described()
    for name in dict.fromkeys(name for row in rows for name in row.numbers):
        about = {"units": known[name].unit(""), "long_name": known[name].meaning}
        about |= {"dimension": known[name].dimension, "role": "limit" if name in LIMITS else "merit"}
        column = np.array([row.numbers.get(name, np.nan) for row in rows], np.float64)
        variables[name] = ("row", column, about)
    for name in dict.fromkeys(name for row in rows for name in row.factors):
        spec = described[name]
        about = {"units": stored_unit(spec), "long_name": spec.meaning, "role": "factor"}
        about["dimension"] = getattr(spec, "dimension", "count")
        variables[name] = ("row", _column([row.factors.get(name) for row in rows]), about)
    number = ("row", np.arange(len(rows)), {"units": "1", "long_name": "number of the row"})
    return xr.Dataset(variables, coords={"row": number}, attrs={"study": "batch", "study_name": "batch"})


def _column(values: list[Any]) -> np.ndarray[Any, Any]:
    if any(isinstance(value, str) for value in values):
        return np.array([value or "" for value in values], dtype=np.str_)
    return np.array([np.nan if value is None else value for value in values], np.float64)


def _described() -> dict[str, Spec]:
    """Every factor that a design may have."""
    parts = [part for part, _ in OVEN_PARTS.values()] + [Meal, Surroundings, AsBuilt, *AIMINGS.values()]
    return {name: spec for part in parts for name, spec in specs(part).items()}
