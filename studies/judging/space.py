"""What varies in a study: the one list from which every library's own space is derived.

A design is a row with one value per factor. Rows travel as `Columns`: one array per factor, float64 for a
real factor, int64 for an integer, text for a choice.

The factors of the oven itself are not listed here: this module knows no oven.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .outcomes import Column, Columns
from .parameters import Parameter, SpaceError

__all__ = ["Parameter", "Space", "SpaceError", "row_count", "take"]


@dataclass(frozen=True)
class Space:
    """The factors of a study, in order.

    Parameters
    ----------
    parameters : tuple of Parameter
        At least one; names differ.
    """

    parameters: tuple[Parameter, ...]

    def __post_init__(self) -> None:
        """Refuse an empty space and a name used twice."""
        if not self.parameters:
            raise SpaceError("nothing varies: a space needs at least one factor")
        twice = {name for name in self.names if self.names.count(name) > 1}
        if twice:
            raise SpaceError(f"factor named twice: {', '.join(sorted(twice))}")

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the factors, in order."""
        return tuple(p.name for p in self.parameters)

    @property
    def size(self) -> int:
        """Number of factors."""
        return len(self.parameters)

    def ranged(self) -> Space:
        """The factors between plain ends, however they are drawn."""
        return Space(tuple(p.ranged() for p in self.parameters))

    def from_unit(self, u: NDArray[np.float64]) -> dict[str, Column]:
        """Columns of the designs at positions in the unit cube.

        Parameters
        ----------
        u : float64[row, factor]
        """
        if u.ndim != 2 or u.shape[1] != self.size:
            raise SpaceError(f"positions have shape {u.shape}, needed (rows, {self.size})")
        return {p.name: p.from_unit(u[:, k]) for k, p in enumerate(self.parameters)}

    def matrix(self, columns: Columns) -> NDArray[np.float64]:
        """Designs as plain numbers, a choice by its place in the list: float64[row, factor].

        Two designs are the same exactly when their rows here are equal bit for bit.
        """
        return np.column_stack(
            [
                p.index(columns[p.name])
                if p.kind == "choice"
                else np.asarray(columns[p.name], dtype=np.float64) + 0.0  # no negative zero
                for p in self.parameters
            ]
        )

    def columns(self, rows: Sequence[Mapping[str, Any]]) -> dict[str, Column]:
        """Checked columns of designs given row by row, each naming every factor.

        Raises
        ------
        SpaceError
            A factor missing, unknown or outside its range; the row is numbered from 1.
        """
        for number, row in enumerate(rows, start=1):
            wrong = sorted(set(row) ^ set(self.names))
            if wrong:
                raise SpaceError(f"design {number}: missing or unknown factor {', '.join(wrong)}")
        return {p.name: p.checked([row[p.name] for row in rows]) for p in self.parameters}

    def rows(self, columns: Columns) -> list[dict[str, Any]]:
        """Designs row by row, in plain Python numbers and text."""
        listed = {name: columns[name].tolist() for name in self.names}
        return [dict(zip(listed, values, strict=True)) for values in zip(*listed.values(), strict=True)]


def row_count(columns: Columns) -> int:
    """Number of rows of a set of columns."""
    return len(next(iter(columns.values())))


def take(columns: Columns, index: NDArray[np.int64] | slice) -> dict[str, Column]:
    """The rows picked out, in that order."""
    return {name: column[index] for name, column in columns.items()}
