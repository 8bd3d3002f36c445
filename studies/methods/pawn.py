"""How far fixing a factor moves the whole distribution of an output, in ranks alone.

The output's distribution over all rows is held against that of the rows in which the factor lies in one slide of
its range; the distance is that of Kolmogorov and Smirnov, the greatest difference of the two distribution
functions. The index is the median over the slides: 0 for a factor that moves nothing, 1 at most. It knows the order
of the outputs only, so it takes an output that is skewed, or one that is never reached in some rows and so comes
after all others.

Few rows in a slide are off by chance. What chance alone does is measured: the same rows dealt to the slides at
random, many times, give the threshold under which an index says nothing.

Source
------
Pianosi and Wagener, A simple and efficient method for global sensitivity analysis based on cumulative distribution
functions, Environ. Model. Softw. 67 (2015) 1; from any sample: the same, 108 (2018) 197. The threshold by a factor
of no effect: Khorashadi Zadeh et al., Environ. Model. Softw. 91 (2017) 210.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SLIDES = 10
DEALINGS = 300  # of the rows at random: the highest few of them make the threshold
_AT_ONCE = 16
LEAST_ROWS = 10  # in a slide: fewer differ from the whole by 0.3 and more by chance


class Ranked(NamedTuple):
    """The rows of an output in its order: `order` lists them, equal ones have one first and one last place."""

    order: Ints  # [place]
    first: Ints  # [place] first place of the rows equal to this one
    last: Ints  # [place]


class Pawn(NamedTuple):
    """Index of each factor, its spread over resamples, and what chance alone reaches; float64[factor] each."""

    median: Array  # of the distances over the slides: the index
    spread: Array  # standard deviation
    threshold: Array


def pawn(x: Array, y: Array, *, counts: Array, seed: int, confidence: float) -> Pawn:
    """Indices of one output.

    Parameters
    ----------
    x : float64[row, factor]
        Values of the factors; only their order matters.
    y : float64[row]
        Of the output; nan, of a row that never reaches it, comes after all others.
    counts : float64[resample, row]
        How often each resample drew each row.
    seed : int
        Of the random dealing, 1 or more.
    confidence : float
        Share of dealings in which as many factors of no effect as there are factors all stay below the threshold.

    Returns
    -------
    Pawn
        All nan where `y` does not vary.
    """
    if np.unique(y).size < 2:
        return Pawn(*np.full((3, x.shape[1]), np.nan))
    ranked = ranked_rows(y)
    number = int(np.clip(len(y) // LEAST_ROWS, 2, SLIDES))
    slides = [slides_of(column, number) for column in x.T]
    drawn = np.column_stack(
        [np.median(_distances(ranked, slide, np.ones((1, len(y)))), axis=1) for slide in slides]
    )
    resampled = np.column_stack([np.nanmedian(_distances(ranked, slide, counts), axis=1) for slide in slides])
    ties, share = ranked.first.tobytes(), confidence ** (1.0 / len(slides))
    sizes = [tuple(np.bincount(slide).tolist()) for slide in slides]
    threshold = np.array([_chance(size, ties, seed, share) for size in sizes])
    return Pawn(median=drawn[0], spread=resampled.std(axis=0, ddof=1), threshold=threshold)


def ranked_rows(y: Array) -> Ranked:
    """The rows in the order of an output; nan comes last."""
    ranks = np.where(np.isnan(y), np.inf, y)
    order = np.argsort(ranks, kind="stable")
    first, last = _runs(ranks[order])
    return Ranked(order=order, first=first, last=last)


def slides_of(x: Array, number: int) -> Ints:
    """Slide of each row: its value where there are so few, else one of equally full parts of the range."""
    values = np.unique(x)
    if values.size <= number:
        return np.asarray(np.searchsorted(values, x), np.int64)
    edges = np.quantile(x, np.arange(1, number) / number)
    filled, slide = np.unique(np.searchsorted(edges, x, side="right"), return_inverse=True)
    return np.asarray(slide.reshape(-1), np.int64) if filled.size else np.zeros(len(x), np.int64)


@lru_cache(maxsize=16)  # outputs without ties share theirs, factors with slides as full too
def _chance(sizes: tuple[int, ...], ties: bytes, seed: int, share: float) -> float:
    """The index that a factor of no effect stays below, in such a share of random dealings of the rows.

    sizes : rows of each slide.  ties : of ranked rows, the first place of each row's equals.
    """
    first = np.frombuffer(ties, np.int64)
    ranked = Ranked(order=np.arange(first.size), first=first, last=_runs(first)[1])
    slide, rng = np.repeat(np.arange(len(sizes)), sizes), np.random.default_rng(seed)
    once = np.ones((1, first.size))
    dealt = [np.median(_distances(ranked, rng.permutation(slide), once)) for _ in range(DEALINGS)]
    return float(np.quantile(dealt, share))


def _distances(ranked: Ranked, slide: Ints, counts: Array) -> Array:
    """Greatest difference of the distribution in each slide from the whole: float64[resample, slide].

    A few resamples at a time, so that they stay in the processor's cache: four times as fast as all at once.
    """
    blocks = range(0, len(counts), _AT_ONCE)
    return np.concatenate([_of_block(ranked, slide, counts[k : k + _AT_ONCE]) for k in blocks])


def _of_block(ranked: Ranked, slide: Ints, counts: Array) -> Array:
    """The same of a few resamples.

    Between two rows of a slide its own function stays and the whole one rises, so the difference is greatest at a
    row of the slide or just before one: two places a row are looked at, however many slides there are.
    """
    weight = counts[:, ranked.order]
    whole = _before_each(weight)  # [resample, place + 1]
    place = np.argsort(slide[ranked.order], kind="stable")  # rows of each slide together, each in order
    owner = slide[ranked.order][place]
    start, end = _runs(owner)
    inside = _before_each(weight[:, place])
    size = inside[:, end + 1] - inside[:, start]
    same_first, same_last = _runs(owner * len(slide) + ranked.first[place])  # equal outputs within a slide
    with np.errstate(invalid="ignore", divide="ignore"):
        at = (inside[:, same_last + 1] - inside[:, start]) / size - _share(whole, ranked.last[place] + 1)
        before = (inside[:, same_first] - inside[:, start]) / size - _share(whole, ranked.first[place])
    return np.asarray(np.maximum.reduceat(np.maximum(np.abs(at), np.abs(before)), np.unique(start), axis=1))


def _before_each(weight: Array) -> Array:
    """Sum of all weights before each place, and of all: float64[resample, place + 1]."""
    sums = np.zeros((weight.shape[0], weight.shape[1] + 1))
    np.cumsum(weight, axis=1, out=sums[:, 1:])
    return sums


def _share(whole: Array, place: Ints) -> Array:
    return np.asarray(whole[:, place] / whole[:, -1:])


def _runs(ordered: NDArray[np.generic]) -> tuple[Ints, Ints]:
    """First and last place of the run of equal values that each place lies in."""
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    ends = np.append(starts[1:], len(ordered)) - 1
    run = np.repeat(np.arange(len(starts)), ends - starts + 1)
    return starts[run], ends[run]
