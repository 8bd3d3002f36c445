"""What becomes of a goal when every quantity of a design is off at once, within a workshop's accuracy.

Designs are drawn by a scrambled Sobol sequence. The same points serve every scale: twice the accuracy moves each of
them twice as far, so that between two scales only the scale differs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.stats import qmc

from ..judging.outcomes import OK
from .repeats import Repeats, Worse
from .spread import Spread, explained, offsets, share_within, worst_of_best
from .sweeps import Toleranced

Floats = NDArray[np.float64]

SCALES = (1 / 16, 4.0)  # of the accuracy: finer is another trade, coarser is not the question
_TRIES = 4  # scales tried after the first
_NEAR = 0.1  # of a scale, or half of it of a level: no more can be told from so few designs


class Scaled(NamedTuple):
    """Designs drawn at one multiple of the accuracies."""

    scale: float
    off: Floats  # [draw, quantity]
    found: Worse


def together(
    parts: Sequence[Toleranced],
    measure: Repeats,
    *,
    levels: Sequence[float],
    unit: str,
    draws: int,
    spread: Spread,
    wanted: float,
    seed: int,
) -> xr.Dataset:
    """All quantities off at once: how the goal spreads, what of, and which accuracy to ask for.

    Parameters
    ----------
    parts : sequence of Toleranced
    measure : Repeats
        Around the design of the parts.
    levels : sequence of float   [unit of the goal]
        How much worse, rising, above zero.
    unit : str
        Of the goal.
    draws : int
        Drawn at each scale; a power of two.
    spread : "even" or "normal"
    wanted : float
        Share of designs that shall be at most the first level worse.
    seed : int

    Returns
    -------
    Dataset over (scale, draw, factor, level)
        `drawn_excess` of every design, `within` with its interval, `variance_share`; attributes `scale_needed` (nan
        where it lies outside what was tried), `r_squared`, `noise_share`.
    """
    u = qmc.Sobol(len(parts), scramble=True, rng=np.random.default_rng(seed)).random(draws)
    u = np.clip(u, 2.0**-33, 1 - 2.0**-33)  # the ends of a normal spread are infinitely far

    def drawn(scale: float) -> Scaled:
        off = offsets(parts, u, scale=scale, spread=spread)
        columns = {part.name: part.moved(off[:, k]) for k, part in enumerate(parts)}
        return Scaled(scale, off, measure(columns))

    usual = drawn(1.0)
    tried = {1.0: usual}
    for _ in range(_TRIES):
        scale = _next_scale(_worst(tried, wanted), levels[0])
        if scale is None:
            break
        tried[scale] = drawn(scale)
    found = explained(usual.off, usual.found.excess)
    needed = _needed(_worst(tried, wanted), levels[0])
    result = _dataset(parts, [tried[scale] for scale in sorted(tried)], levels, unit)
    result["variance_share"] = (
        "factor",
        found.share,
        {
            "units": "1",
            "long_name": "share of the goal's variance by it alone, all drawn within the accuracy",
        },
    )
    return result.assign_attrs(
        spread=spread,
        wanted=wanted,
        scale_needed=needed,
        r_squared=found.r_squared,
        bent_fit=int(found.bent),
        noise_share=_noise_share(usual.found),
    )


def _worst(tried: dict[float, Scaled], wanted: float) -> dict[float, float]:
    """Scale -> the worst of the best `wanted` share of designs; at no scale nothing is off."""
    return {0.0: 0.0} | {scale: worst_of_best(tried[scale].found.excess, wanted) for scale in sorted(tried)}


def _bracket(worst: dict[float, float], level: float) -> tuple[float, float | None]:
    """The largest scale below which all keep the level, and the next one, which does not; None if all do."""
    scales = list(worst)
    over = [scale for scale in scales if worst[scale] > level]
    return (scales[scales.index(over[0]) - 1], over[0]) if over else (scales[-1], None)


def _next_scale(worst: dict[float, float], level: float) -> float | None:
    """Which multiple of the accuracies to try next; None where enough is known."""
    low, high = _bracket(worst, level)
    if high is None:
        return 2 * low if low < SCALES[1] else None
    found = [abs(cost / level - 1) <= _NEAR / 2 for cost in worst.values()]
    if high <= SCALES[0] or any(found) or (low > 0 and high / low - 1 <= _NEAR):
        return None
    guess = _between(low, high, worst, level)
    # Neither end may stand still while the other creeps up to it.
    return max(min(max(guess, 0.8 * low + 0.2 * high), 0.2 * low + 0.8 * high), SCALES[0])


def _between(low: float, high: float, worst: dict[float, float], level: float) -> float:
    """Where a straight line passes the level; the middle where there is no value at the upper end."""
    if not math.isfinite(worst[high]):
        return (low + high) / 2
    return low + (high - low) * (level - worst[low]) / (worst[high] - worst[low])


def _needed(worst: dict[float, float], level: float) -> float:
    """The multiple of the accuracies at which just the wanted share keeps the level; nan where not found."""
    low, high = _bracket(worst, level)
    return math.nan if high is None or low == 0.0 else _between(low, high, worst, level)


def _noise_share(found: Worse) -> float:
    """Share of the variance of the change that is the rays' doing; nan where it was measured once only."""
    known = np.isfinite(found.excess)
    whole = found.excess[known].var() if known.any() else 0.0
    return float((found.doubt[known] ** 2).mean() / whole) if whole > 0 else math.nan


def _dataset(
    parts: Sequence[Toleranced], tried: Sequence[Scaled], levels: Sequence[float], unit: str
) -> xr.Dataset:
    excess = np.array([one.found.excess for one in tried])
    status = np.array([one.found.status for one in tried])
    within = np.array([[share_within(row, level) for level in levels] for row in excess])
    usual = next(one for one in tried if one.scale == 1.0)
    never = (np.isnan(excess) & (status == OK)).mean(axis=1)
    text = {"units": "1", "long_name": "share of designs whose goal is at most the level worse"}
    return xr.Dataset(
        {
            "drawn_excess": (
                ("scale", "draw"),
                excess,
                {"units": unit, "long_name": "how much worse the goal is, all quantities off at once"},
            ),
            "drawn_status": (
                ("scale", "draw"),
                status,
                {"units": "1", "long_name": "0 ran to the end, else why the design could not be run"},
            ),
            "drawn_off": (
                ("draw", "factor"),
                usual.off * np.array([part.accuracy for part in parts]),
                {
                    "units": "1",
                    "long_name": "value less the designed one at scale 1; in the factor's own unit",
                },
            ),
            "drawn_over": (
                ("limit", "draw"),
                usual.found.over,
                {"units": "1", "long_name": "excess over each limit at scale 1, in the limit's own unit"},
            ),
            "within": (("scale", "level"), within[..., 0], text),
            "within_low": (("scale", "level"), within[..., 1], _end_of(text, "lower")),
            "within_high": (("scale", "level"), within[..., 2], _end_of(text, "upper")),
            "never": (
                "scale",
                never,
                {"units": "1", "long_name": "share of designs that never reach the goal"},
            ),
            "unbuilt": (
                "scale",
                (status != OK).mean(axis=1),
                {"units": "1", "long_name": "share of designs that cannot be built or run"},
            ),
        },
        coords={
            "scale": (
                "scale",
                [one.scale for one in tried],
                {"units": "1", "long_name": "times the usual accuracies"},
            ),
            "draw": (
                "draw",
                np.arange(excess.shape[1]),
                {"units": "1", "long_name": "number of the drawn design"},
            ),
        },
    )


def _end_of(text: dict[str, str], which: str) -> dict[str, str]:
    return text | {"long_name": f"{text['long_name']}; {which} end of its 95 % interval"}
