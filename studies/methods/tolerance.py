"""How far each quantity of a design may be off, alone, before a goal is so much worse, and what care that asks for."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .repeats import Repeats
from .sweeps import SIDES, Sweep, Toleranced, swept

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CAREFUL, RELAXED = 2.0, 5.0  # times the accuracy: what is allowed below and above which care changes


class Care(IntEnum):
    """What a workshop has to do about a quantity."""

    CAREFUL = 0  # measured each time
    NORMAL = 1
    RELAXED = 2  # not critical


def ratios(sweeps: Sequence[Sweep], level: float) -> Floats:
    """What is allowed on the tighter side over the accuracy, float64[quantity]; nan where nothing stops it."""
    allowed = np.array([sweep.allowed(level)[0] for sweep in sweeps]).reshape(-1, len(SIDES))
    tighter = np.where(np.isnan(allowed), np.inf, allowed).min(axis=1)
    return np.where(np.isfinite(tighter), tighter, np.nan)


def care(ratio: Floats) -> Ints:
    """`Care` of each quantity, int64[quantity]."""
    known = np.where(np.isnan(ratio), np.inf, ratio)
    classes = [int(Care.CAREFUL), int(Care.NORMAL)]
    return np.select([known < CAREFUL, known <= RELAXED], classes, int(Care.RELAXED))


def alone(parts: Sequence[Toleranced], measure: Repeats, *, levels: Sequence[float], unit: str) -> xr.Dataset:
    """How far each quantity may be off before the goal is worse by each level, all others as designed.

    Lengths along a quantity are in its own SI unit, `factor_unit`. Quantities are in the order of the parts.

    Parameters
    ----------
    parts, measure, levels
        As for `swept`.
    unit : str
        Of the goal.

    Returns
    -------
    Dataset over (factor, side, level, point)
        `allowed` and its standard error, `ends` (see `Ends`), what was `tried`, the change at the accuracy itself,
        `ratio` of what is allowed for the first level on the tighter side to the accuracy, `care`; and all points.
    """
    sweeps = swept(parts, measure, levels)
    shape, ratio = (len(parts), len(SIDES)), ratios(sweeps, levels[0])
    scale = np.array([part.accuracy for part in parts])
    allowed = np.array([[sweep.allowed(level) for level in levels] for sweep in sweeps])
    allowed = allowed.reshape(*shape, len(levels), 2) * scale[:, None, None, None]
    ends = np.array([[sweep.ends(level) for level in levels] for sweep in sweeps], np.int64)

    def each(values: list[float], dtype: type = np.float64) -> NDArray[np.generic]:
        return np.array(values, dtype).reshape(shape)

    over, unitless = ("factor", "side"), {"units": "1"}
    result = xr.Dataset(
        {
            "allowed": (
                (*over, "level"),
                allowed[..., 0],
                _own("how far it may be off; nan: nothing stops it"),
            ),
            "allowed_error": (
                (*over, "level"),
                allowed[..., 1],
                _own("standard error of that, from the rays"),
            ),
            "ends": ((*over, "level"), ends.reshape(*shape, -1), unitless | {"long_name": _ENDS_TEXT}),
            "tried": (
                over,
                each([sweep.limit for sweep in sweeps]) * scale[:, None],
                _own("how far it was moved"),
            ),
            "at_accuracy": (
                over,
                each([sweep.at_accuracy() for sweep in sweeps]),
                {"units": unit, "long_name": "how much worse the goal is, off by the accuracy"},
            ),
            "noise": (
                over,
                each([sweep.noise for sweep in sweeps]),
                {"units": unit, "long_name": "standard error of a change of the goal, from the rays"},
            ),
            "stopped_by": (
                over,
                each([sweep.stopped_by for sweep in sweeps], np.int64),
                unitless | {"long_name": "status of the first design that could not be run; 0: all could"},
            ),
            "ratio": (
                "factor",
                ratio,
                unitless
                | {"long_name": "allowed for the first level over the accuracy; nan: nothing stops it"},
            ),
            "care": (
                "factor",
                care(ratio),
                unitless | {"long_name": "0 measure carefully, 1 normal care, 2 not critical"},
            ),
        },
        coords=_coordinates(parts, levels, unit),
    )
    return result.merge(_points(sweeps, unit))


_ENDS_TEXT = (
    "0 so much worse from there on, 1 nowhere in the range tried, 2 the goal is never reached further on, "
    "3 cannot be built further on, 4 no values further on"
)


def _own(meaning: str) -> dict[str, str]:
    return {"units": "1", "long_name": f"{meaning}; in the factor's own unit"}


def _coordinates(parts: Sequence[Toleranced], levels: Sequence[float], unit: str) -> dict[str, object]:
    def text(meaning: str, units: str = "1") -> dict[str, str]:
        return {"units": units, "long_name": meaning}

    return {
        "factor": ("factor", [part.name for part in parts], text("quantity that is off")),
        "factor_unit": ("factor", [part.parameter.unit for part in parts], text("its unit")),
        "factor_dimension": ("factor", [part.parameter.dimension for part in parts], text("its dimension")),
        "factor_meaning": ("factor", [part.parameter.meaning for part in parts], text("what it is")),
        "designed": ("factor", [part.at for part in parts], _own("value as designed")),
        "accuracy": ("factor", [part.accuracy for part in parts], _own("half the width of the usual spread")),
        "side": ("side", list(SIDES), text("-1 too little, 1 too much")),
        "level": ("level", list(levels), text("how much worse the goal may be", unit)),
    }


def _points(sweeps: Sequence[Sweep], unit: str) -> xr.Dataset:
    """Everything that was measured, from the design outwards; rows are filled up with nan."""
    longest = max(len(sweep.off) for sweep in sweeps)

    def table(values: list[Floats]) -> Floats:
        rows = [np.pad(row, (0, longest - len(row)), constant_values=np.nan) for row in values]
        return np.array(rows).reshape(-1, len(SIDES), longest)

    over = ("factor", "side", "point")
    off = [sweep.way * sweep.off * sweep.part.accuracy for sweep in sweeps]
    text = {"units": unit, "long_name": "how much worse the goal is; nan: never reached, or cannot be built"}
    doubt = {"units": unit, "long_name": "standard error of that, from the rays"}
    return xr.Dataset(
        {
            "point_off": (over, table(off), _own("value less the designed one")),
            "point_excess": (over, table([sweep.excess for sweep in sweeps]), text),
            "point_doubt": (over, table([sweep.doubt for sweep in sweeps]), doubt),
        }
    )
