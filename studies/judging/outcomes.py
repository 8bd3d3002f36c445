"""What an evaluator takes and gives: columns of factors in, columns of outcomes out.

An evaluator is a pure function: the same row gives the same numbers, however the rows are split into batches.

- `values` holds nan where a goal was never reached (censored) or the row failed; never an infinity.
- `status` is 0 for a row whose numbers may be used, else a code of the evaluator's own.
- `margins` says, for each limit, by how much it is exceeded: above zero means exceeded, in the limit's unit.
- A goal that may be censored comes with the margin `reached_key(goal)`: above zero, and saying how far the
  row was from reaching it, wherever the goal is nan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Column = NDArray[Any]
Columns = Mapping[str, Column]

OK = 0
NOT_FINITE = -1  # set here, when a row that claims to be OK carries an infinity or a margin that is no number
STOPPED = -2  # set in `faults`, when the evaluator stopped with an error on this row alone


@dataclass(frozen=True, kw_only=True)
class Output:
    """A number the evaluator gives for each row."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Outcomes:
    """What became of each row.

    Parameters
    ----------
    values : dict of float64[row]
    status : int64[row]
    margins : dict of float64[row]
    failures : dict of str, optional
        By row: what the evaluator said when it stopped on it.
    """

    values: Mapping[str, NDArray[np.float64]]
    status: NDArray[np.int64]
    margins: Mapping[str, NDArray[np.float64]]
    failures: Mapping[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse columns of different lengths: they could only be paired by guessing."""
        for name, column in {**self.values, **self.margins}.items():
            if column.shape != self.status.shape:
                raise ValueError(
                    f"outcome {name} has shape {column.shape}, the status has {self.status.shape}"
                )

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self.status.size)

    @property
    def failed(self) -> int:
        """Number of rows whose status is not 0."""
        return int(np.count_nonzero(self.status))

    def take(self, index: NDArray[np.int64] | slice) -> Outcomes:
        """The rows picked out, in that order."""
        return Outcomes(
            values={name: column[index] for name, column in self.values.items()},
            status=self.status[index],
            margins={name: column[index] for name, column in self.margins.items()},
            failures=self._failures_at(index),
        )

    def _failures_at(self, index: NDArray[np.int64] | slice) -> dict[int, str]:
        if not self.failures:
            return {}
        old = np.arange(self.rows)[index].tolist()
        return {new: self.failures[row] for new, row in enumerate(old) if row in self.failures}


Evaluate = Callable[[Columns], Outcomes]


def reached_key(goal: str) -> str:
    """Name of the margin that says how far a row was from reaching a goal."""
    return f"{goal} reached"


def join(parts: Sequence[Outcomes]) -> Outcomes:
    """The rows of several outcomes, one after another."""
    first = parts[0]
    if any(set(p.values) != set(first.values) or set(p.margins) != set(first.margins) for p in parts):
        raise ValueError("the evaluator named different outcomes in different batches")
    starts = np.cumsum([0, *(p.rows for p in parts)]).tolist()
    return Outcomes(
        values={name: np.concatenate([p.values[name] for p in parts]) for name in first.values},
        status=np.concatenate([p.status for p in parts]),
        margins={name: np.concatenate([p.margins[name] for p in parts]) for name in first.margins},
        failures={
            start + row: reason
            for start, p in zip(starts, parts, strict=False)
            for row, reason in p.failures.items()
        },
    )


def checked(outcomes: Outcomes, *, rows: int, values: Sequence[str], margins: Sequence[str]) -> Outcomes:
    """The named outcomes alone, as float64 and int64, with unusable rows marked and emptied.

    A row with a status keeps it and its values become nan. A row that claims to be 0 but carries an infinity,
    or a margin that is not finite, gets `NOT_FINITE`.

    Raises
    ------
    ValueError
        A named outcome is missing, or the number of rows is not the number asked for.
    """
    missing = [name for name in values if name not in outcomes.values]
    missing += [f"margin of {name}" for name in margins if name not in outcomes.margins]
    if missing:
        raise ValueError(f"the evaluator did not give: {', '.join(missing)}")
    if outcomes.rows != rows:
        raise ValueError(f"the evaluator gave {outcomes.rows} rows for {rows} designs")
    kept = {name: np.asarray(outcomes.values[name], dtype=np.float64) for name in values}
    limits = {name: np.asarray(outcomes.margins[name], dtype=np.float64) for name in margins}
    status = np.array(outcomes.status, dtype=np.int64)
    bad = np.zeros(rows, dtype=bool)
    for column in kept.values():
        bad |= np.isinf(column)
    for column in limits.values():
        bad |= ~np.isfinite(column)
    status[(status == OK) & bad] = NOT_FINITE
    lost = status != OK
    return Outcomes(
        values={name: np.where(lost, np.nan, column) for name, column in kept.items()},
        status=status,
        margins={name: np.where(lost, np.nan, column) for name, column in limits.items()},
        failures=outcomes.failures,
    )
