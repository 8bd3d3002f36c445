"""Which factors matter: Sobol indices, PAWN and Morris screening; SALib lives here only.

SALib draws the samples, in the unit cube, and `Space.from_unit` turns them into designs. The estimators are
in `indices` and `pawn`: the same formulas as SALib's, but all resamples at once and with nan in the open, where
SALib 1.6 turns one nan in an output into indices that are all exactly zero, without a word, and leaves it out of
PAWN. Which rows a base holds is in `layout`: groups and sides are swapped together.

What becomes of designs without a value is told in `analysis`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import partial
from importlib.metadata import version
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from SALib.sample import morris as salib_morris
from SALib.sample import sobol as salib_sobol

from ..judging.outcomes import Column, Columns, Evaluate, Outcomes, Output
from ..judging.space import Space, SpaceError, row_count, take
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import Progress, Workers
from .analysis import SensitivityError, described, sampled_dataset
from .bases import base_dataset, with_units
from .effects import morris_analysed, with_fixed
from .explained import sobol_analysed
from .layout import faults_of_parts, from_b, positions, units_of

_LEAST_BASES = 16  # so that a quarter of them is still enough to resample
_LEAST_TRAJECTORIES = 4

# Share of failed bases up to which indices are still given. At one in ten the conditional and the whole
# variance already differ by about that much; a study with more should first narrow its ranges.
MOST_DROPPED = 0.1

# A factor may be fixed if even the upper end of its mu_star stays under this share of the largest mu_star.
NEGLIGIBLE_SHARE = 0.05


def sobol(
    space: Space,
    evaluate: Evaluate,
    *,
    outputs: Sequence[Output],
    base_samples: int,
    seed: int,
    second_order: bool = False,
    groups: Mapping[str, Sequence[str]] | None = None,
    suffered: Sequence[str] = (),
    together: str = "",
    confidence: float = 0.95,
    resamples: int = 200,
    most_dropped: float = MOST_DROPPED,
    workers: Workers = 1,
    chunk_rows: int = 512,
    log: EvaluationLog | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Sobol indices with intervals, from a quarter, half and all of the samples; and PAWN.

    Parameters
    ----------
    space : Space
    evaluate : Evaluate
        Called with `base_samples` times (n + 2) designs, n being the factors and groups; for the second order
        (2 n + 2); two more where some factors are suffered.
    outputs : sequence of Output
    base_samples : int
        A power of two, 16 or more: a Sobol sequence is only balanced at powers of two.
    seed : int
        1 or more.
    second_order : bool
        Also the part of each pair of factors.
    groups : dict of sequences of str, optional
        By its name, each group of factors that is swapped together, so that the indices are those of the group.
    suffered : sequence of str
        Factors that nobody decides; what they explain as a whole is set against what all others do.
    together : str
        Name of a factor whose equal values are best evaluated in one call; changes no number.
    confidence : float
        Of the intervals, in (0, 1).
    resamples : int
        Of the bootstrap.
    most_dropped : float
        Share of bases without a value up to which the variance of an output is analysed.
    workers, chunk_rows : int
        Threads (or a crew), and designs per call of `evaluate`; the result does not depend on them.
    log : EvaluationLog, optional
        Designs in it are not evaluated again.
    progress : callable, optional
        (rows done, rows to do, rows failed).

    Returns
    -------
    Dataset
        As `explained.sobol_analysed` gives it; with the sampled outputs over (output, base, position), and the two
        samples over (base, drawn) as positions `a`, `b` and as values `value_a`, `value_b`, from which it gives
        the same again.

    Raises
    ------
    SensitivityError
        Counts, groups or sides that cannot be, or no output that can be analysed.
    """
    _check_sobol(base_samples, seed, confidence, resamples)
    _check_parts(space.names, groups or {}, suffered)
    units = units_of(space.names, groups or {})
    layout = positions(list(units), second_order=second_order, sides=bool(suffered))
    a, b = _two_samples(space, base_samples, seed)
    swapped = from_b(space.names, units, layout, suffered)
    cube = np.where(swapped, b[:, np.newaxis], a[:, np.newaxis])
    evaluated = partial(
        evaluate_rows,
        evaluate,
        values=[output.name for output in outputs],
        margins=[],
        workers=workers,
        chunk_rows=chunk_rows,
        progress=progress,
        log=log,
    )
    columns = space.from_unit(cube.reshape(-1, space.size))
    outcomes = _sorted_by(together, columns, evaluated) if together else evaluated(columns)
    samples = base_dataset(space, outputs, outcomes, cube, layout)
    samples.attrs |= {
        "study": "sobol",
        "sampler": f"SALib {version('SALib')}, scrambled Sobol sequence, rows swapped after Saltelli",
        "layout": "rows of one base in the order of the coordinate position",
        "seed": seed,
        "second_order": int(second_order),
        "sides": int(bool(suffered)),
        "groups": json.dumps({name: list(members) for name, members in units.items() if name not in members}),
        "confidence": confidence,
        "resamples": resamples,
        "most_dropped": most_dropped,
    }
    return sobol_analysed(with_units(samples, space, units, suffered))


def _two_samples(space: Space, base_samples: int, seed: int) -> NDArray[np.float64]:
    """The two independent samples of the factors: float64[sample, base, factor]."""
    rows = salib_sobol.sample(_problem(space), base_samples, calc_second_order=False, seed=seed)
    by_base = rows.reshape(base_samples, -1, space.size)
    return np.stack([by_base[:, 0], by_base[:, -1]])


def _sorted_by(name: str, columns: Columns, evaluated: partial[Outcomes]) -> Outcomes:
    """Outcomes of rows that are evaluated in the order of one factor, and come back in their own."""
    order = np.argsort(columns[name], kind="stable")
    back = np.empty_like(order)
    back[order] = np.arange(order.size)
    return evaluated(take(columns, order)).take(back)


def morris(
    space: Space,
    evaluate: Evaluate,
    *,
    outputs: Sequence[Output],
    trajectories: int,
    levels: int = 4,
    seed: int,
    confidence: float = 0.95,
    resamples: int = 1000,
    most_dropped: float = MOST_DROPPED,
    negligible_share: float = NEGLIGIBLE_SHARE,
    now: Mapping[str, Any] | None = None,
    workers: Workers = 1,
    chunk_rows: int = 512,
    log: EvaluationLog | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Elementary effects: a cheap look at which of many factors may be fixed.

    An effect is the change of an output per whole range of a factor, in the output's own unit. Whatever the factors'
    distributions, trajectories run between plain ends (`Space.ranged`).

    Parameters
    ----------
    space, evaluate, outputs, seed, confidence, resamples, most_dropped, workers, chunk_rows, log, progress
        As for `sobol`; `most_dropped` counts trajectories.
    trajectories : int
        4 or more; each costs (factors + 1) designs, and one more if any factor may be fixed.
    levels : int
        Levels of the grid, even.
    negligible_share : float
        `may_fix` proposes to fix a factor whose mu_star, with its half width, stays under this share of the
        largest mu_star of every output.
    now : dict, optional
        Values at which factors would be fixed; the middle of the range of those without one, or with one outside.

    Returns
    -------
    Dataset
        `mu` (mean effect), `mu_star` (mean size of the effect) with half width, `sigma` (spread: curvature or
        interaction) over (output, factor); `may_fix`, `fix_at` and `fix_is_own` over factor; the sample and its
        outputs. If any factor may be fixed: the first designs of all trajectories again with those factors fixed,
        as `fixed`, and by how much and how often that moved each output, as `fixing_moves` and `fixing_turns`.
    """
    _check_seed(seed)
    _check_interval(confidence, resamples)
    if trajectories < _LEAST_TRAJECTORIES:
        raise SensitivityError(f"trajectories = {trajectories}, allowed {_LEAST_TRAJECTORIES} or more")
    if levels < 2 or levels % 2:
        raise SensitivityError(f"levels = {levels}, allowed an even number from 2")
    space = space.ranged()
    u = np.clip(salib_morris.sample(_problem(space), trajectories, num_levels=levels, seed=seed), 0.0, 1.0)
    evaluated = partial(
        evaluate_rows,
        evaluate,
        values=[output.name for output in outputs],
        margins=[],
        workers=workers,
        chunk_rows=chunk_rows,
        progress=progress,
        log=log,
    )
    columns = space.from_unit(u)
    shape = (trajectories, space.size + 1)
    result = sampled_dataset(space, outputs, evaluated(columns), shape, ("trajectory", "point"))
    result["u"] = (
        ("trajectory", "point", "factor"),
        u.reshape(*shape, space.size),
        described("design, as position in the factor's range"),
    )
    result.attrs |= {
        "study": "morris",
        "sampler": f"SALib {version('SALib')} Morris trajectories",
        "layout": "points of one trajectory in order, one factor moved between neighbours",
        "seed": seed,
        "levels": levels,
        "confidence": confidence,
        "resamples": resamples,
        "most_dropped": most_dropped,
        "negligible_share": negligible_share,
    }
    result = morris_analysed(result)
    fixed_at, own = _fixed_at(space, now or {})
    texts = [p.shown(fixed_at[p.name][0]) for p in space.parameters]
    result["fix_at"] = ("factor", texts, described("value at which the factor would be fixed"))
    result["fix_is_own"] = ("factor", own, described("1 where that is the value it has now"))
    fixable = [name for name, may in zip(space.names, result["may_fix"].values, strict=True) if may]
    if not fixable:
        return result
    starts = take(columns, np.arange(0, row_count(columns), shape[1]))
    held = starts | {name: np.repeat(fixed_at[name], trajectories) for name in fixable}
    return with_fixed(result, np.stack([evaluated(held).values[output.name] for output in outputs]))


def _fixed_at(space: Space, now: Mapping[str, Any]) -> tuple[dict[str, Column], NDArray[np.int8]]:
    """The value at which each factor would be fixed, as a column of one row; and whether it is the one it has now."""
    found, own = {}, []
    for parameter in space.parameters:
        try:
            found[parameter.name] = parameter.checked([now[parameter.name]])
            own.append(1)
        except (KeyError, SpaceError):
            found[parameter.name] = parameter.from_unit(np.array([0.5]))
            own.append(0)
    return found, np.array(own, np.int8)


def _problem(space: Space) -> dict[str, Any]:
    """SALib's view of the space: the unit cube. `Space.from_unit` does the rest."""
    return {"num_vars": space.size, "names": list(space.names), "bounds": [[0.0, 1.0]] * space.size}


def _check_parts(names: Sequence[str], groups: Mapping[str, Sequence[str]], suffered: Sequence[str]) -> None:
    for fault in faults_of_parts(names, groups, suffered):
        raise SensitivityError(fault)


def _check_sobol(base_samples: int, seed: int, confidence: float, resamples: int) -> None:
    _check_seed(seed)
    _check_interval(confidence, resamples)
    if base_samples < _LEAST_BASES or base_samples & (base_samples - 1):
        near = max(_LEAST_BASES, 2 ** round(np.log2(max(base_samples, 1))))
        raise SensitivityError(
            f"base_samples = {base_samples}, allowed powers of two from {_LEAST_BASES}; the nearest is {near}"
        )


def _check_seed(seed: int) -> None:
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 1:
        raise SensitivityError(f"seed = {seed!r}, allowed a whole number from 1 (SALib takes 0 as no seed)")


def _check_interval(confidence: float, resamples: int) -> None:
    if not 0.0 < confidence < 1.0:
        raise SensitivityError(f"confidence = {confidence}, allowed between 0 and 1")
    if resamples < 2:
        raise SensitivityError(f"resamples = {resamples}, allowed 2 or more")
