"""Which factors matter: Sobol indices and Morris screening; SALib lives here only.

SALib draws the samples, in the unit cube, and `Space.from_unit` turns them into designs. The estimators are
in `indices.py`: the same formulas as SALib's, but all resamples at once and with nan in the open, where
SALib 1.6 turns one nan in an output into indices that are all exactly zero, without a word.

What becomes of designs without a value is told in `analysis.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

import numpy as np
import xarray as xr
from SALib.sample import morris as salib_morris
from SALib.sample import sobol as salib_sobol

from ..evaluations import EvaluationLog, evaluate_rows
from ..outcomes import Evaluate, Output
from ..space import Space
from ..workers import Progress, Workers
from .analysis import SensitivityError, described, morris_analysed, sampled_dataset, sobol_analysed
from .indices import positions

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
    confidence: float = 0.95,
    resamples: int = 200,
    most_dropped: float = MOST_DROPPED,
    workers: Workers = 1,
    chunk_rows: int = 512,
    log: EvaluationLog | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """First- and total-order Sobol indices with intervals, from a quarter, half and all of the samples.

    Parameters
    ----------
    space : Space
    evaluate : Evaluate
        Called with `base_samples` times (factors + 2) designs, or (2 factors + 2) for the second order.
    outputs : sequence of Output
    base_samples : int
        A power of two, 16 or more: a Sobol sequence is only balanced at powers of two.
    seed : int
        1 or more.
    second_order : bool
        Also the part of each pair of factors.
    confidence : float
        Of the intervals, in (0, 1).
    resamples : int
        Of the bootstrap.
    most_dropped : float
        Share of bases without a value up to which an output is analysed.
    workers, chunk_rows
        Threads or a crew, and designs per call of `evaluate`; the result does not depend on them.
    log : EvaluationLog, optional
        Designs in it are not evaluated again.
    progress : callable, optional
        (rows done, rows to do, rows failed).

    Returns
    -------
    Dataset
        `first`, `total` (, `second`) and their half widths over (output, base_samples, factor); the sampled
        outputs over (output, base, position) and the two samples `a`, `b` over (base, factor), from which
        `analysis.sobol_analysed` gives the same indices again.

    Raises
    ------
    SensitivityError
        Counts that cannot be, or no output that can be analysed.
    """
    _check_sobol(base_samples, seed, confidence, resamples)
    layout = positions(space.names, second_order=second_order)
    u = salib_sobol.sample(_problem(space), base_samples, calc_second_order=second_order, seed=seed)
    outcomes = evaluate_rows(
        evaluate,
        space.from_unit(u),
        values=[output.name for output in outputs],
        margins=[],
        workers=workers,
        chunk_rows=chunk_rows,
        progress=progress,
        log=log,
    )
    shape = (base_samples, len(layout.labels))
    samples = sampled_dataset(space, outputs, outcomes, shape, ("base", "position"))
    cube = u.reshape(*shape, space.size)
    samples = samples.assign_coords(position=("position", layout.labels, described("row within a base")))
    for name, row in (("a", 0), ("b", -1)):
        text = f"sample {name.upper()}, as positions in the range of each factor"
        samples[name] = (("base", "factor"), cube[:, row], described(text))
    samples.attrs |= {
        "study": "sobol",
        "sampler": f"SALib {version('SALib')} Saltelli, scrambled Sobol sequence",
        "layout": "rows of one base in the order of the coordinate position",
        "seed": seed,
        "second_order": int(second_order),
        "confidence": confidence,
        "resamples": resamples,
        "most_dropped": most_dropped,
    }
    return sobol_analysed(samples)


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
    workers: Workers = 1,
    chunk_rows: int = 512,
    log: EvaluationLog | None = None,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Elementary effects: a cheap look at which of many factors may be fixed.

    An effect is the change of an output per whole range of a factor, in the output's own unit.

    Parameters
    ----------
    space, evaluate, outputs, seed, confidence, resamples, most_dropped, workers, chunk_rows, log, progress
        As for `sobol`; `most_dropped` counts trajectories.
    trajectories : int
        4 or more; each costs (factors + 1) designs.
    levels : int
        Levels of the grid, even.
    negligible_share : float
        `may_fix` proposes to fix a factor whose mu_star, with its half width, stays under this share of the
        largest mu_star of every output.

    Returns
    -------
    Dataset
        `mu` (mean effect), `mu_star` (mean size of the effect) with half width, `sigma` (spread: curvature or
        interaction) over (output, factor); `may_fix` over factor; the sample and its outputs.
    """
    _check_seed(seed)
    _check_interval(confidence, resamples)
    if trajectories < _LEAST_TRAJECTORIES:
        raise SensitivityError(f"trajectories = {trajectories}, allowed {_LEAST_TRAJECTORIES} or more")
    if levels < 2 or levels % 2:
        raise SensitivityError(f"levels = {levels}, allowed an even number from 2")
    u = np.clip(salib_morris.sample(_problem(space), trajectories, num_levels=levels, seed=seed), 0.0, 1.0)
    outcomes = evaluate_rows(
        evaluate,
        space.from_unit(u),
        values=[output.name for output in outputs],
        margins=[],
        workers=workers,
        chunk_rows=chunk_rows,
        progress=progress,
        log=log,
    )
    shape = (trajectories, space.size + 1)
    result = sampled_dataset(space, outputs, outcomes, shape, ("trajectory", "point"))
    cube = u.reshape(*shape, space.size)
    result["u"] = (
        ("trajectory", "point", "factor"),
        cube,
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
    return morris_analysed(result)


def _problem(space: Space) -> dict[str, Any]:
    """SALib's view of the space: the unit cube. `Space.from_unit` does the rest."""
    return {"num_vars": space.size, "names": list(space.names), "bounds": [[0.0, 1.0]] * space.size}


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
