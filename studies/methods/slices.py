"""Slices through a chosen design, one factor at a time."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import OK, Column, Evaluate, Output
from ..judging.space import Parameter, Space
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import Workers

Floats = NDArray[np.float64]

POINTS = 11  # values of a continuous factor across its range, ends included


def slices(
    space: Space,
    evaluate: Evaluate,
    chosen: dict[str, object],
    *,
    outputs: Sequence[Output],
    limits: Sequence[Output] = (),
    workers: Workers = 1,
    chunk_rows: int = 16,
    log: EvaluationLog | None = None,
) -> xr.Dataset:
    """Every output while one factor crosses its range and all others stay as chosen.

    Returns
    -------
    Dataset over (slice_factor, slice_point)
        `slice_<output>`, `slice_value` in the factor's unit (the place in the list for a choice), and `slice_kept`,
        1 where the design can be built, has every output and exceeds none of the limits. Rows are filled up with nan,
        and 0, where a discrete factor has fewer values.
    """
    values = [_values(parameter, chosen[parameter.name]) for parameter in space.parameters]
    rows = [
        chosen | {p.name: value} for p, own in zip(space.parameters, values, strict=True) for value in own
    ]
    margins = [limit.name for limit in limits]
    outcomes = evaluate_rows(
        evaluate,
        space.columns(rows),
        values=[output.name for output in outputs],
        margins=margins,
        workers=workers,
        chunk_rows=chunk_rows,
        log=log,
    )
    kept = outcomes.status == OK
    for column in outcomes.values.values():
        kept &= ~np.isnan(column)
    for column in outcomes.margins.values():
        kept &= column <= 0
    shape = (space.size, max(len(own) for own in values))
    owner = np.repeat(np.arange(space.size), [len(own) for own in values])
    place = np.concatenate([np.arange(len(own)) for own in values])

    def spread(column: NDArray[Any], empty: float = np.nan) -> NDArray[Any]:
        table = np.full(shape, empty, column.dtype)
        table[owner, place] = column
        return table

    numbers = np.concatenate([_numbers(p, own) for p, own in zip(space.parameters, values, strict=True)])
    dims = ("slice_factor", "slice_point")
    variables = {
        "slice_value": (spread(numbers), "1", "value of the factor, in its unit"),
        "slice_kept": (
            spread(kept.astype(np.int8), 0),
            "1",
            "1 where the design can be built and keeps the limits",
        ),
    }
    for output in outputs:
        text = f"{output.meaning}, one factor moved"
        variables[f"slice_{output.name}"] = (spread(outcomes.values[output.name]), output.unit, text)
    return xr.Dataset(
        {name: (dims, table, told_as(unit, text)) for name, (table, unit, text) in variables.items()},
        coords={
            "slice_factor": (dims[0], list(space.names), told_as("1", "factor that is moved")),
            "slice_unit": (
                dims[0],
                [p.unit for p in space.parameters],
                told_as("1", "unit of the factor that is moved"),
            ),
            "slice_words": (
                dims[0],
                [json.dumps(p.choices) if p.kind == "choice" else "" for p in space.parameters],
                told_as("1", "words of a choice in the order of its values, as JSON"),
            ),
        },
    )


def told_as(unit: str, text: str) -> dict[str, str]:
    """Attributes of a variable."""
    return {"units": unit, "long_name": text}


def place_of(words: Sequence[str], chosen: object) -> float:
    """The chosen value as the slice counts it: a word by its place."""
    return float(words.index(str(chosen))) if words else float(chosen)  # type: ignore[arg-type]


def neighbours(around: xr.Dataset, chosen: Mapping[str, Any]) -> list[dict[str, Any]]:
    """For each factor the chosen design with that factor at the nearest other point that keeps the limits.

    The chosen design itself where there is none.
    """
    found = []
    for f, name in enumerate(map(str, around["slice_factor"].to_numpy())):
        one = around.isel(slice_factor=f)
        text, value = str(one["slice_words"].item()), one["slice_value"].to_numpy()
        words = json.loads(text) if text else []
        away = np.abs(value - place_of(words, chosen[name]))
        away[(one["slice_kept"].to_numpy() != 1) | (away == 0) | np.isnan(away)] = np.inf
        near = int(np.argmin(away))
        if np.isfinite(away[near]):
            moved = words[near] if words else type(chosen[name])(value[near])
            found.append({**chosen, name: moved})
        else:
            found.append(dict(chosen))
    return found


def _values(parameter: Parameter, chosen: object) -> Column:
    if parameter.values is not None:
        return parameter.values
    grid = parameter.from_unit(np.linspace(0.0, 1.0, POINTS))
    return np.unique(np.append(grid, float(chosen)))  # type: ignore[arg-type]


def _numbers(parameter: Parameter, own: Column) -> Floats:
    return np.arange(len(own), dtype=np.float64) if parameter.kind == "choice" else own.astype(np.float64)
