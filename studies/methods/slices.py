"""Slices through a chosen design, one factor at a time, and how far each factor may move for free."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..evaluations import EvaluationLog, evaluate_rows
from ..outcomes import OK, Column, Evaluate, Output
from ..space import Parameter, Space
from ..workers import Workers
from .trials import Goal

Floats = NDArray[np.float64]

POINTS = 11  # values of a continuous factor across its range, ends included

TELLING = (
    3.0  # standard deviations of a difference that chance seldom passes; less than that is no difference
)


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
        {name: (dims, table, _told(unit, text)) for name, (table, unit, text) in variables.items()},
        coords={
            "slice_factor": (dims[0], list(space.names), _told("1", "factor that is moved")),
            "slice_unit": (
                dims[0],
                [p.unit for p in space.parameters],
                _told("1", "unit of the factor that is moved"),
            ),
            "slice_words": (
                dims[0],
                [json.dumps(p.choices) if p.kind == "choice" else "" for p in space.parameters],
                _told("1", "words of a choice in the order of its values, as JSON"),
            ),
        },
    )


def _told(unit: str, text: str) -> dict[str, str]:
    return {"units": unit, "long_name": text}


def flatness(
    around: xr.Dataset,
    chosen: Mapping[str, object],
    *,
    goals: Sequence[Goal],
    slack: Mapping[str, float],
    noise: Mapping[str, Floats],
) -> xr.Dataset:
    """How far each factor may move before a goal is noticeably worse, and whether a slice found better.

    Parameters
    ----------
    around : Dataset
        What `slices` gave.
    chosen : dict
        Value of each factor.
    goals : sequence of Goal
    slack : dict of float
        By goal, in its unit: what nobody would notice.
    noise : dict of float64[factor]
        By goal: the standard deviation of its difference when that factor moves. The slack taken is at least what
        noise alone seldom makes of two equal designs.

    Returns
    -------
    Dataset over (flat_goal, slice_factor)
        `flat_low` and `flat_high` in the factor's unit, nan for a choice; `flat_words`, the words of a choice within
        the slack, as JSON; `flat_slack`, and `flat_telling`, the least difference that is one; `flat_better` over
        slice_factor, the value at which the slice holds a design that is better in one goal by more than the slack
        and worse in none, nan where there is none.
    """
    telling = np.array([TELLING * noise[goal.name] for goal in goals])
    taken = np.maximum(telling, np.array([slack[goal.name] for goal in goals])[:, None])
    value, kept = around["slice_value"].to_numpy(), around["slice_kept"].to_numpy() == 1
    listed = [json.loads(text) if text else [] for text in map(str, around["slice_words"].to_numpy())]
    low, high = np.full((2, *taken.shape), np.nan)
    words = np.full(taken.shape, "", dtype=object)
    gains = np.full((len(goals), *kept.shape), np.nan)
    for f, name in enumerate(around["slice_factor"].to_numpy()):
        at = _place(listed[f], chosen[str(name)])
        for g, goal in enumerate(goals):
            along = np.where(kept[f], around[f"slice_{goal.name}"].to_numpy()[f], np.nan)
            gains[g, f] = goal.sign * (along[np.flatnonzero(value[f] == at)[0]] - along)
            if listed[f]:
                words[g, f] = json.dumps([listed[f][k] for k in np.flatnonzero(gains[g, f] >= -taken[g, f])])
            else:
                low[g, f], high[g, f] = flat_range(
                    value[f], along, at=at, slack=float(taken[g, f]), sign=goal.sign
                )
    over = ("flat_goal", "slice_factor")
    told = {
        "flat_low": (over, low, "least value within the slack, in the factor's unit"),
        "flat_high": (over, high, "greatest value within the slack, in the factor's unit"),
        "flat_words": (over, words.astype(np.str_), "words within the slack, as JSON"),
        "flat_slack": (over, taken, "loss that counts as none, in the goal's unit"),
        "flat_telling": (over, telling, "difference that noise alone seldom makes, in the goal's unit"),
        "flat_better": (
            over[1],
            _better(value, gains, taken),
            "value at which this factor alone would better a goal and worsen none",
        ),
    }
    return xr.Dataset(
        {name: (dims, array, _told("1", text)) for name, (dims, array, text) in told.items()},
        coords={
            "flat_goal": ("flat_goal", [goal.name for goal in goals], _told("1", "goal that is watched")),
            "flat_unit": ("flat_goal", [goal.unit for goal in goals], _told("1", "unit of the goal")),
        },
    )


def _place(words: Sequence[str], chosen: object) -> float:
    """The chosen value as the slice counts it: a word by its place."""
    return float(words.index(str(chosen))) if words else float(chosen)  # type: ignore[arg-type]


def _better(value: Floats, gains: Floats, slack: Floats) -> Floats:
    """Where each slice beats the chosen design by more than the slack, and loses nothing. float64[factor]

    gains : float64[goal, factor, point]; slack : float64[goal, factor]
    """
    with np.errstate(invalid="ignore"):
        beats = np.any(gains > slack[..., None], axis=0) & np.all(gains >= 0.0, axis=0)
    scale = np.where(slack > 0, slack, 1.0)[..., None]
    most = np.where(beats, np.nan_to_num(gains / scale).max(axis=0), -np.inf)
    best = value[np.arange(len(value)), np.argmax(most, axis=1)]
    return np.where(beats.any(axis=1), best, np.nan)


def neighbours(around: xr.Dataset, chosen: Mapping[str, Any]) -> list[dict[str, Any]]:
    """For each factor the chosen design with that factor at the nearest other point that keeps the limits.

    The chosen design itself where there is none.
    """
    found = []
    for f, name in enumerate(map(str, around["slice_factor"].to_numpy())):
        one = around.isel(slice_factor=f)
        text, value = str(one["slice_words"].item()), one["slice_value"].to_numpy()
        words = json.loads(text) if text else []
        away = np.abs(value - _place(words, chosen[name]))
        away[(one["slice_kept"].to_numpy() != 1) | (away == 0) | np.isnan(away)] = np.inf
        near = int(np.argmin(away))
        if np.isfinite(away[near]):
            moved = words[near] if words else type(chosen[name])(value[near])
            found.append({**chosen, name: moved})
        else:
            found.append(dict(chosen))
    return found


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
    bound = float(np.interp(at, x, y)) + slack
    return _edge(x, y, at, bound, -1), _edge(x, y, at, bound, 1)


def _edge(x: Floats, y: Floats, at: float, bound: float, way: int) -> float:
    """First crossing of `bound` on the way from `at` to one end; the last point before one that is nan."""
    order = np.flatnonzero(x > at) if way > 0 else np.flatnonzero(x < at)[::-1]
    here, level = at, float(np.interp(at, x, y))
    for k in order:
        if np.isnan(y[k]):
            return here
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
