"""Several files and loggers of one cook over the same instants; nothing lies between what was read."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .readings import Part
from .touched import Touched

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Joined:
    """All that was read in one cook.

    Parameters
    ----------
    time : float64[record]   [s]
        Since 1970 in UTC, rising.
    values, written : dict of float64[record]
        In SI, and as the files have them; nan where a series was not read.
    origin : dict of int64[record, 2]
        File and line of each, -1 where none.
    touched : list of Touched
        Second readings of one instant.
    """

    time: Floats
    values: dict[str, Floats]
    written: dict[str, Floats]
    origin: dict[str, NDArray[np.int64]]
    touched: list[Touched]


def joined(parts: Sequence[Part]) -> Joined:
    """The parts over the union of their instants; of two readings of one instant the first stays.

    Instants at which nothing was read are left out: every cell of them is noted with its file.
    """
    names = list(dict.fromkeys(name for part in parts for name in part.values))
    series = {name: _first_come(name, parts) for name in names}
    time = np.unique(np.concatenate([found[0] for found in series.values()] or [np.empty(0)]))
    values, written, origin, touched = {}, {}, {}, []
    for name, (instants, numbers, raw, source, doubles) in series.items():
        places = np.searchsorted(time, instants)
        values[name], written[name] = np.full(len(time), np.nan), np.full(len(time), np.nan)
        origin[name] = np.full((len(time), 2), -1)
        values[name][places], written[name][places], origin[name][places] = numbers, raw, source
        touched += doubles
    return Joined(time, values, written, origin, touched)


def _first_come(
    name: str, parts: Sequence[Part]
) -> tuple[Floats, Floats, Floats, NDArray[np.int64], list[Touched]]:
    """Instants, values, numbers as written and origins of one series, and its second readings."""
    rows = [
        (part.time[row], number, row, part.values[name][row], part.written[name][row])
        for number, part in enumerate(parts)
        if name in part.values
        for row in np.flatnonzero(np.isfinite(part.values[name]))
    ]
    rows.sort(key=lambda row: row[0])  # which is stable: the first file and line stay first
    kept: list[int] = []
    touched = []
    for place, (instant, number, row, _, _) in enumerate(rows):
        if kept and rows[kept[-1]][0] == instant:
            part = parts[number]
            touched.append(
                Touched(
                    series=name,
                    file=part.file,
                    row=int(part.line[row]),
                    said=part.cells[name][row],
                    reason="duplicate",
                    time=float(instant),
                    became=math.nan,
                )
            )
        else:
            kept.append(place)
    first = [rows[place] for place in kept]
    source = [(number, int(parts[number].line[row])) for _, number, row, _, _ in first]
    return (
        np.array([row[0] for row in first], np.float64),
        np.array([row[3] for row in first], np.float64),
        np.array([row[4] for row in first], np.float64),
        np.array(source, np.int64).reshape(-1, 2),
        touched,
    )
