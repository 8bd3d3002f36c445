"""A front too long to be shown whole: a part of it that covers the rest."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def thinned(points: NDArray[np.float64], most: int, *, first: Sequence[int]) -> NDArray[np.int64]:
    """Rows of the points that stand for all of them, in ascending order: all where there are no more than `most`.

    From those that must be there the farthest one is added again and again, goals scaled to their range.

    Parameters
    ----------
    points : float64[point, goal]
    most : int
        Rows at most; those of `first` are there however many they are.
    first : sequence of int
        One or more.

    Source
    ------
    Gonzalez, Clustering to minimize the maximum intercluster distance, Theoretical Computer Science 38 (1985) 293: no
    point is then farther from a shown one than twice the least that is possible for so many.
    """
    if len(points) <= most:
        return np.arange(len(points))
    span = np.ptp(points, axis=0)
    scaled = (points - points.min(axis=0)) / np.where(span > 0, span, 1.0)
    kept = list(dict.fromkeys(first))
    near = np.min([np.linalg.norm(scaled - scaled[row], axis=1) for row in kept], axis=0)
    while len(kept) < most:
        kept.append(int(np.argmax(near)))
        near = np.minimum(near, np.linalg.norm(scaled - scaled[kept[-1]], axis=1))
    return np.array(sorted(kept), np.int64)
