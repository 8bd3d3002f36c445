"""How far each factor of a chosen design may move before it matters, read from slices through it."""

import json
from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .slices import place_of, told_as
from .trials import Goal

Floats = NDArray[np.float64]

# Standard deviations of a difference that chance seldom passes; less than that is no difference.
TELLING = 3.0


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
        at = place_of(listed[f], chosen[str(name)])
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
        {name: (dims, array, told_as("1", text)) for name, (dims, array, text) in told.items()},
        coords={
            "flat_goal": ("flat_goal", [goal.name for goal in goals], told_as("1", "goal that is watched")),
            "flat_unit": ("flat_goal", [goal.unit for goal in goals], told_as("1", "unit of the goal")),
        },
    )


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
