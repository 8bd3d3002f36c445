"""Slices through a chosen design, one factor at a time, and how far each factor may move for free."""

import json

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..evaluations import EvaluationLog, evaluate_rows
from ..outcomes import Column, Evaluate, Output
from ..space import Parameter, Space

Floats = NDArray[np.float64]

POINTS = 11  # values of a continuous factor across its range, ends included


def slices(
    space: Space,
    evaluate: Evaluate,
    chosen: dict[str, object],
    *,
    outputs: list[Output],
    workers: int = 1,
    log: EvaluationLog | None = None,
) -> xr.Dataset:
    """Every output while one factor crosses its range and all others stay as chosen.

    Returns
    -------
    Dataset over (slice_factor, slice_point)
        `slice_<output>` and `slice_value` in the factor's unit (the place in the list for a choice). Rows
        are filled up with nan where a discrete factor has fewer values.
    """
    values = [_values(parameter, chosen[parameter.name]) for parameter in space.parameters]
    rows = [
        chosen | {p.name: value} for p, own in zip(space.parameters, values, strict=True) for value in own
    ]
    names = [output.name for output in outputs]
    outcomes = evaluate_rows(
        evaluate, space.columns(rows), values=names, margins=[], workers=workers, chunk_rows=16, log=log
    )
    longest = max(len(own) for own in values)
    owner = np.repeat(np.arange(space.size), [len(own) for own in values])
    place = np.concatenate([np.arange(len(own)) for own in values])

    def spread(column: Floats) -> Floats:
        table = np.full((space.size, longest), np.nan)
        table[owner, place] = column
        return table

    numbers = np.concatenate([_numbers(p, own) for p, own in zip(space.parameters, values, strict=True)])
    dims = ("slice_factor", "slice_point")
    result = xr.Dataset(
        {
            "slice_value": (
                dims,
                spread(numbers),
                {"units": "1", "long_name": "value of the factor, in its unit"},
            )
        },
        coords={
            "slice_factor": (dims[0], list(space.names), {"units": "1", "long_name": "factor that is moved"}),
            "slice_unit": (
                dims[0],
                [p.unit for p in space.parameters],
                {"units": "1", "long_name": "unit of the factor that is moved"},
            ),
            "slice_words": (
                dims[0],
                [json.dumps(p.choices) if p.kind == "choice" else "" for p in space.parameters],
                {"units": "1", "long_name": "words of a choice in the order of its values, as JSON"},
            ),
        },
    )
    for output in outputs:
        text = f"{output.meaning}, one factor moved"
        result[f"slice_{output.name}"] = (
            dims,
            spread(outcomes.values[output.name]),
            {"units": output.unit, "long_name": text},
        )
    return result


def flat_range(value: Floats, goal: Floats, *, at: float, slack: float, sign: float) -> tuple[float, float]:
    """How far a factor may move each way before its goal is worse than the chosen one's by `slack`.

    Straight lines between the slice's points; a goal that is nan ends the range.

    Parameters
    ----------
    value, goal : float64[point]
        Along the slice, `value` rising.
    at : float
        The chosen value.
    slack : float   [unit of the goal]
    sign : float
        1 where less is better, -1 where more is.
    """
    known = np.isfinite(value)
    x, y = value[known], sign * goal[known]
    y = np.where(np.isnan(y), np.inf, y)
    finite = np.where(np.isfinite(y), y, np.nanmax(np.append(y[np.isfinite(y)], 0.0)) + 1e3 * slack)
    bound = float(np.interp(at, x, finite)) + slack
    return _edge(x, finite, at, bound, -1), _edge(x, finite, at, bound, 1)


def _edge(x: Floats, y: Floats, at: float, bound: float, way: int) -> float:
    """First crossing of `bound` on the way from `at` to one end."""
    order = np.flatnonzero(x > at) if way > 0 else np.flatnonzero(x < at)[::-1]
    here, level = at, float(np.interp(at, x, y))
    for k in order:
        if y[k] > bound:
            return float(here + (x[k] - here) * (bound - level) / (y[k] - level))
        here, level = float(x[k]), float(y[k])
    return here


def _values(parameter: Parameter, chosen: object) -> Column:
    if parameter.values is not None:
        return parameter.values
    grid = parameter.from_unit(np.linspace(0.0, 1.0, POINTS))
    return np.unique(np.append(grid, float(chosen)))  # type: ignore[arg-type]


def _numbers(parameter: Parameter, own: Column) -> Floats:
    return np.arange(len(own), dtype=np.float64) if parameter.kind == "choice" else own.astype(np.float64)
