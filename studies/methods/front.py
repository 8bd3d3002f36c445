"""What a set of designs judged by several goals has to offer: its front, its size, and picks from it.

Points here are rows of goals to be minimised; `oriented` turns a dataset of a search into such rows.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr
from numpy.typing import NDArray

Points = NDArray[np.float64]


def non_dominated(points: Points) -> NDArray[np.bool_]:
    """Which points no other point beats: nowhere worse and somewhere better.

    Equal points do not beat each other: all of them stay.

    Parameters
    ----------
    points : float64[point, goal]
        Finite; smaller is better.

    Returns
    -------
    bool[point]
    """
    keep = np.zeros(len(points), dtype=bool)
    order = np.lexsort(points.T[::-1])
    # In lexical order a point can only be beaten by an earlier one, and if it is beaten at all, then by one
    # of those already kept.
    kept = np.empty((0, points.shape[1]))
    for number in order:
        point = points[number]
        beaten = np.any(np.all(kept <= point, axis=1) & np.any(kept < point, axis=1))
        if not beaten:
            keep[number] = True
            kept = np.vstack([kept, point])
    return keep


def hypervolume(points: Points, reference: NDArray[np.float64]) -> float:
    """Volume between the front of the points and a reference point. [product of the goals' units]

    Exact, for any number of goals, by slicing along the last goal until two are left. Points that are not
    better than the reference in every goal add nothing.

    Parameters
    ----------
    points : float64[point, goal]
        Smaller is better.
    reference : float64[goal]

    Source
    ------
    Zitzler and Thiele, Multiobjective evolutionary algorithms: a comparative case study and the strength
    Pareto approach, IEEE Trans. Evol. Comput. 3 (1999) 257: the measure ("size of the space covered").
    """
    inside = points[np.all(points < reference, axis=1)]
    if len(inside) == 0:
        return 0.0
    if inside.shape[1] == 1:
        return float(reference[0] - inside.min())
    if inside.shape[1] == 2:
        return _area(inside, reference)
    order = np.argsort(inside[:, -1], kind="stable")
    inside = inside[order]
    ceilings = np.append(inside[1:, -1], reference[-1])
    volume = 0.0
    slab = np.empty((0, inside.shape[1] - 1))
    for point, ceiling in zip(inside, ceilings, strict=True):
        # The slab between this point and the next holds every point so far; the beaten ones can go.
        if not np.any(np.all(slab <= point[:-1], axis=1)):
            slab = np.vstack([slab[~np.all(slab >= point[:-1], axis=1)], point[:-1]])
        if ceiling > point[-1]:
            volume += (ceiling - point[-1]) * hypervolume(slab, reference[:-1])
    return volume


def _area(points: Points, reference: NDArray[np.float64]) -> float:
    """Two goals: the staircase under the running minimum of the second."""
    ordered = points[np.lexsort((points[:, 1], points[:, 0]))]
    floor = np.minimum.accumulate(ordered[:, 1])
    widths = np.diff(np.append(ordered[:, 0], reference[0]))
    return float(np.sum(widths * (reference[1] - floor)))


def goals(dataset: xr.Dataset) -> list[str]:
    """Names of the goals of a search, in order.

    Raises
    ------
    ValueError
        The dataset is no result of a search.
    """
    names = [str(name) for name, array in dataset.data_vars.items() if array.attrs.get("role") == "goal"]
    if not names:
        raise ValueError("no goals in this dataset: it is not the result of a search")
    return names


def oriented(dataset: xr.Dataset) -> Points:
    """Goals of every trial, turned so that smaller is better: float64[trial, goal]."""
    signs = [-1.0 if dataset[name].attrs["direction"] == "maximize" else 1.0 for name in goals(dataset)]
    return np.column_stack(
        [sign * dataset[name].values for sign, name in zip(signs, goals(dataset), strict=True)]
    )


def _front(dataset: xr.Dataset) -> tuple[NDArray[np.int64], Points]:
    """Trial numbers on the front, and their goals scaled so that the best is 0 and the worst is 1."""
    points = oriented(dataset)
    members = np.flatnonzero(dataset["on_front"].values == 1)
    if members.size == 0:
        raise ValueError("no trial met every limit and reached every goal: there is no front to pick from")
    points = points[members]
    best, worst = points.min(axis=0), points.max(axis=0)
    scaled = (points - best) / np.where(worst > best, worst - best, 1.0)
    return dataset["trial"].values[members].astype(np.int64), scaled


def knee(dataset: xr.Dataset) -> int:
    """Trial where giving up a little of one goal stops buying much of another.

    The least sum of the goals, each scaled to its range on the front. For two goals that is the point farthest, on
    the good side, from the line through the front's ends; for more, all goals weigh alike, where the plane through
    the ends would weigh most what the ends happen to agree on. A front that bulges the other way has no knee: then
    one of its ends is returned.

    Source
    ------
    Das, On characterizing the "knee" of the Pareto curve based on normal-boundary intersection, Structural
    Optimization 18 (1999) 107 (from memory), for two goals.
    """
    trials, scaled = _front(dataset)
    return int(trials[np.argmin(scaled.sum(axis=1))])


def weighted_pick(dataset: xr.Dataset, weights: Mapping[str, float]) -> int:
    """Trial of the front with the smallest weighted sum of goals, each scaled to its range on the front.

    Parameters
    ----------
    dataset : Dataset
        Result of a search.
    weights : dict of float
        By goal; not negative, not all zero; a goal left out weighs nothing.
    """
    names = goals(dataset)
    unknown = sorted(set(weights) - set(names))
    if unknown:
        raise ValueError(f"no goal named {', '.join(unknown)}; the goals are {', '.join(names)}")
    weight = np.array([weights.get(name, 0.0) for name in names])
    if not np.all(np.isfinite(weight)) or np.any(weight < 0.0) or not np.any(weight > 0.0):
        raise ValueError(f"weights must be finite, not negative and not all zero, got {dict(weights)}")
    trials, scaled = _front(dataset)
    return int(trials[np.argmin(scaled @ weight)])
