"""Which one change explains a gap between measured and predicted best, and which others do so nearly as well.

Knows no oven. Each explanation is one parameter with a plausible range. Its misfit is found on a grid of predictions,
between whose points they run straight, so that the least squares of each span are a formula; the best span is then
gridded once more. Explanations are compared by Akaike's criterion in independent readings: neighbours err alike, and
what the best explanation leaves tells how much.

Source
------
Akaike's criterion with its correction for few readings: C. M. Hurvich and C.-L. Tsai, Biometrika 76 (1989) 297; what
differences of it mean: K. P. Burnham and D. R. Anderson, Model Selection and Multimodel Inference (2002), 2.6. Both
from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .independence import scatter_of

Floats = NDArray[np.float64]

TIED = 10.0  # difference of the criterion beyond which an explanation has no support beside the best
_FINER = 5  # points of the second grid
_PARAMETERS = 1
_NEAR_END = 1e-6  # of the range


@dataclass(frozen=True)
class Explanation:
    """One parameter that may be another than it was taken for.

    Parameters
    ----------
    name : str
    predict : callable
        Values of the parameter, float64[row], to predictions, float64[row, reading].
    values : float64[point]
        Rising, over its plausible range.
    """

    name: str
    predict: Callable[[Floats], Floats]
    values: Floats


@dataclass(frozen=True)
class Explained:
    """An explanation at its best.

    Parameters
    ----------
    name : str
    value : float
    at_end : int
        -1 at the lower end of its range, 1 at the upper one.
    predicted : float64[reading]
    misfit : float
        Sum of squares over the variance, in independent readings.
    criterion : float
        Akaike's, less that of the best of all.
    values, misfits : float64[point]
        The grid, and the misfit there.
    """

    name: str
    value: float
    at_end: int
    predicted: Floats
    misfit: float
    criterion: float
    values: Floats
    misfits: Floats


@dataclass(frozen=True)
class Comparison:
    """All explanations, the likeliest first.

    Parameters
    ----------
    explained : tuple of Explained
    unchanged : float
        Criterion with nothing changed, less that of the best of all.
    deviation : float64[series]
        Standard deviation of a reading about the best explanation.
    independent : float
        Independent readings in all.
    """

    explained: tuple[Explained, ...]
    unchanged: float
    deviation: Floats
    independent: float

    @property
    def tied(self) -> tuple[str, ...]:
        """Names of those that the readings do not tell from the best one."""
        return tuple(one.name for one in self.explained if one.criterion <= TIED)


class Readings(NamedTuple):
    """What was measured.

    observed : float64[reading], nan where nothing was.  series : int64[reading].  time : float64[reading] [s].
    noise : float64[series], stated deviation of a reading, below which none is believed.
    shared : float64[error, reading], how one standard deviation of an error that readings have in common moves each,
    such as a model that takes in a little too much light, or a thermometer that is off by the same all along.
    """

    observed: Floats
    series: NDArray[np.int64]
    time: Floats
    noise: Floats
    shared: Floats


class _Metric:
    """How unlikely differences are: readings err by themselves, and all together along what is shared.

    The inverse of a diagonal covariance and a few outer products, by Woodbury's formula.
    """

    def __init__(self, weight: Floats, shared: Floats) -> None:
        self.used = weight > 0
        self._weight = weight[self.used]
        self._shared = np.nan_to_num(shared[:, self.used])
        self._weighted = self._shared * self._weight
        self._inner = np.linalg.inv(np.eye(len(shared)) + self._weighted @ self._shared.T)

    def product(self, one: Floats, other: Floats) -> Floats:
        """Inner products of rows over the readings that are used, float64[row]."""
        along, beside = one @ self._weighted.T, other @ self._weighted.T
        return np.asarray((self._weight * one * other).sum(-1) - ((along @ self._inner) * beside).sum(-1))


class _Found(NamedTuple):
    """The least misfit of one explanation, and its grid."""

    value: float
    predicted: Floats
    misfit: float
    grid: Floats  # predictions there


def compared(explanations: Sequence[Explanation], unchanged: Floats, readings: Readings) -> Comparison:
    """Every explanation fitted alone, and how likely each is beside the best one.

    Parameters
    ----------
    explanations : sequence of Explanation
    unchanged : float64[reading]
        Predictions with nothing changed.
    readings : Readings
    """
    grids = [explanation.predict(explanation.values) for explanation in explanations]
    known = np.isfinite(readings.observed) & np.isfinite(unchanged)
    # What is shared must not help to choose whose residuals tell how readings scatter: it could hide anything.
    metric = _Metric(known / readings.noise[readings.series] ** 2, np.empty((0, len(known))))
    first = [_best(one, grid, readings, metric) for one, grid in zip(explanations, grids, strict=True)]
    best = min(first, key=lambda found: found.misfit)
    nearest = unchanged if _misfit(unchanged, readings, metric) < best.misfit else best.predicted
    metric, deviation, independent = _as_scattered(readings, nearest, metric)
    found = [_best(one, grid, readings, metric) for one, grid in zip(explanations, grids, strict=True)]
    each = [_criterion(one.misfit, _PARAMETERS, independent) for one in found]
    alone = _criterion(_misfit(unchanged, readings, metric), 0, independent)
    least = min([*each, alone])
    told = [
        _told(one, fit, criterion - least, readings, metric)
        for one, fit, criterion in zip(explanations, found, each, strict=True)
    ]
    in_order = tuple(sorted(told, key=lambda one: one.criterion))
    return Comparison(in_order, alone - least, deviation, independent)


def _misfit(predicted: Floats, readings: Readings, metric: _Metric) -> float:
    off = (readings.observed - predicted)[metric.used]
    return float(metric.product(off, off))


def _best(explanation: Explanation, grid: Floats, readings: Readings, metric: _Metric) -> _Found:
    """The least misfit over the range: on the grid, then on a finer one round it."""
    span = _on_lines(explanation.values, grid, readings, metric)[1]
    low, high = max(span - 1, 0), min(span + 2, len(explanation.values) - 1)
    finer = np.linspace(explanation.values[low], explanation.values[high], _FINER)
    value, _, predicted, misfit = _on_lines(finer, explanation.predict(finer), readings, metric)
    return _Found(value, predicted, misfit, grid)


def _on_lines(
    values: Floats, grid: Floats, readings: Readings, metric: _Metric
) -> tuple[float, int, Floats, float]:
    """Value, span, predictions and misfit of the best point on the straight lines between grid points."""
    observed, rows = readings.observed[metric.used], grid[:, metric.used]
    off, way = observed - rows[:-1], np.diff(rows, axis=0)
    length = np.maximum(metric.product(way, way), 1e-300)
    share = np.clip(metric.product(off, way) / length, 0.0, 1.0)
    left = off - share[:, None] * way
    misfits = metric.product(left, left)
    # A row that cannot be built predicts nothing; its spans are no answer.
    misfits = np.where(np.isfinite(misfits), misfits, np.inf)
    span = int(np.argmin(misfits))
    part = float(share[span]) if np.isfinite(misfits[span]) else 0.0
    value = float(values[span] + part * (values[span + 1] - values[span]))
    return value, span, grid[span] + part * (grid[span + 1] - grid[span]), float(misfits[span])


def _as_scattered(readings: Readings, best: Floats, metric: _Metric) -> tuple[_Metric, Floats, float]:
    """Readings weighed by how they scatter about the best explanation; their deviations; the independent ones."""
    left = np.full(len(best), np.nan)
    left[metric.used] = (readings.observed - best)[metric.used]
    weight, deviation, independent = np.zeros(len(best)), readings.noise.copy(), 0.0
    for number in range(len(readings.noise)):
        own = np.flatnonzero((readings.series == number) & metric.used)
        if not len(own):
            continue
        least = float(readings.noise[number])
        scatter = scatter_of(left[own], readings.time[own], taken=float(_PARAMETERS), least=least)
        deviation[number] = scatter.deviation
        independent += scatter.effective
        weight[own] = 1.0 / (scatter.deviation**2 * scatter.slowness)
    return _Metric(weight, readings.shared), deviation, independent


def _criterion(misfit: float, parameters: int, independent: float) -> float:
    """Akaike's criterion with Hurvich and Tsai's correction, of readings whose variance is known."""
    spare = max(independent - parameters - 1.0, 1.0)
    return misfit + 2.0 * parameters + 2.0 * parameters * (parameters + 1.0) / spare


def _told(
    explanation: Explanation, fit: _Found, criterion: float, readings: Readings, metric: _Metric
) -> Explained:
    values = explanation.values
    near = _NEAR_END * (values[-1] - values[0])
    return Explained(
        name=explanation.name,
        value=fit.value,
        at_end=int(fit.value >= values[-1] - near) - int(fit.value <= values[0] + near),
        predicted=fit.predicted,
        misfit=fit.misfit,
        criterion=criterion,
        values=values,
        misfits=np.array([_misfit(row, readings, metric) for row in fit.grid]),
    )
