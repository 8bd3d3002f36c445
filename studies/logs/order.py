"""Rows in the order of time: those out of place, and clocks that went back."""

import itertools
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .touched import Finding

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

FAR = 36 * 3600.0  # s from the middle of a log; no cook lasts longer, but a clock may have lost its date
_STRAYS = 0.05  # share of rows that may stand out of place before the clock itself is blamed
_FEW = 3  # rows


@dataclass(frozen=True)
class Order:
    """Which rows are used, in order of time, and which are not or had to move.

    Parameters
    ----------
    rows : int64[kept]
    moved, overlap, far : int64[...]
        Rows by what was done: put in place; left out after the clock went back; left out as far from the rest.
    findings : list of Finding
    """

    rows: Indices
    moved: Indices
    overlap: Indices
    far: Indices
    findings: list[Finding]


def ordered(time: Floats, file: str) -> Order:
    """The rows of a log by time; rows without a time are passed over.

    Parameters
    ----------
    time : float64[row]   [s]
    file : str
        For sentences.
    """
    timed = np.flatnonzero(np.isfinite(time))
    middle = np.median(time[timed]) if timed.size else 0.0
    near = np.abs(time[timed] - middle) <= FAR
    far, timed = timed[~near], timed[near]
    moved, overlap = np.empty(0, np.int64), np.empty(0, np.int64)
    findings: list[Finding] = []
    if (np.diff(time[timed]) < 0.0).any():
        moved, overlap, findings = _put_right(time, timed, file)
        timed = np.setdiff1d(timed, overlap)
        timed = timed[np.argsort(time[timed], kind="stable")]
    if far.size:
        findings.append(Finding("far", _far_sentence(file, len(far))))
    return Order(timed, moved, overlap, far, findings)


def _put_right(time: Floats, rows: Indices, file: str) -> tuple[Indices, Indices, list[Finding]]:
    """Rows to move, rows to leave out, and what is to be said of them."""
    strays = np.setdiff1d(rows, rows[_longest_rise(time[rows])])
    none = np.empty(0, np.int64)
    if len(strays) <= max(_FEW, _STRAYS * len(rows)) and _longest_run(strays) < _FEW:
        stood = "1 row stood" if len(strays) == 1 else f"{len(strays)} rows stood"
        sentence = f"{file}: {stood} out of order; put in place by the time."
        return strays, none, [Finding("out of order", sentence)]
    blocks = np.split(rows, np.flatnonzero(np.diff(time[rows]) < 0.0) + 1)
    by_time = sorted(blocks, key=lambda block: float(time[block[0]]))
    if all(time[a[-1]] <= time[b[0]] for a, b in itertools.pairwise(by_time)):
        late = np.concatenate([block for block in blocks if time[block[0]] < time[rows[0]]] or [none])
        stood = f"{file}: {len(blocks)} parts stood out of order; put in place by their times"
        sentence = f"{stood}. If the clock was set back there instead, write jumps in its time."
        return late, none, [Finding("out of order", sentence)]
    highest = np.maximum.accumulate(time[rows])
    behind = rows[1:][time[rows[1:]] < highest[:-1]]
    return none, behind, list(_gone_back(time, rows, file, len(behind)))


def _gone_back(time: Floats, rows: Indices, file: str, lost: int) -> Iterator[Finding]:
    steps = np.diff(time[rows])
    worst = int(np.argmin(steps))
    yield Finding(
        "clock went back",
        f"{file}: the clock went back by {-steps[worst] / 60.0:.3g} min at row {int(rows[worst + 1]) + 1} of the "
        f"readings; {lost} readings whose times are told twice were left out, and those after them may be late by as "
        'much. If the clock was set there, write jumps = [["clock time before", "how much"]] in its time.',
    )


def _far_sentence(file: str, count: int) -> str:
    rows = "1 row lies" if count == 1 else f"{count} rows lie"
    return f"{file}: {rows} more than {FAR / 3600:.0f} h from the rest and {'was' if count == 1 else 'were'} left out."


def _longest_run(rows: Indices) -> int:
    """Most rows that follow each other in the file."""
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    return max(len(run) for run in runs)


def _longest_rise(values: Floats) -> Indices:
    """Places of a longest run of values that never fall, by patience sorting (Fredman 1975)."""
    tops: list[float] = []
    ends: list[int] = []
    before = np.full(len(values), -1)
    for place, value in enumerate(values.tolist()):
        pile = bisect_right(tops, value)
        before[place] = ends[pile - 1] if pile else -1
        if pile == len(tops):
            tops.append(value)
            ends.append(place)
        else:
            tops[pile], ends[pile] = value, place
    chain = [ends[-1]] if ends else []
    while chain and before[chain[-1]] >= 0:
        chain.append(int(before[chain[-1]]))
    return np.array(chain[::-1], np.int64)
