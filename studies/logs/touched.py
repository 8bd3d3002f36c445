"""What a reader of logs did to readings and what it noticed: nothing is changed or left out without a line here."""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ...model import CookRecord

Floats = NDArray[np.float64]

REASONS = {
    "missing": "no reading: an empty cell or a logger's word for none",
    "unreadable": "no number",
    "untimed": "its row has no time that can be read",
    "far": "its time lies more than a day from the rest",
    "moved": "its row stood out of order and was put in its place",
    "overlap": "the clock had gone back, so its time is told twice",
    "duplicate": "a second reading of the same instant",
    "impossible": "beyond what such an instrument can meet in a cook",
    "zeroed": "a little below zero in the dark, set to zero",
    "spike": "far off its neighbours for three readings at most",
    "stuck": "the same number for long while others moved",
}
"""Why a reading was touched."""


@dataclass(frozen=True, kw_only=True)
class Touched:
    """One reading that is not simply kept as it stood.

    Parameters
    ----------
    series : str
        What was measured; "row" where a whole row is meant.
    file : str
    row : int
        Line of the file, from 1 on.
    said : str
        What stood in the cell.
    reason : str
        Of `REASONS`.
    time : float   [s]
        Since 1970 in UTC; nan where it has none.
    became : float   [SI]
        What the record holds of it; nan where it was left out.
    """

    series: str
    file: str
    row: int
    said: str
    reason: str
    time: float = math.nan
    became: float = math.nan


@dataclass(frozen=True)
class Finding:
    """Something noticed that no single reading shows: what, and a sentence with the next move."""

    what: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Cleaning:
    """What became of a log.

    Parameters
    ----------
    rows : int
        Rows of readings in all files.
    readings : int
        Numbers kept.
    touched : tuple of Touched
    findings : tuple of Finding
    raw : dict of float64[record]   [SI]
        Each series as the files have it, over the instants of the record, before anything was judged.
    """

    rows: int = 0
    readings: int = 0
    touched: tuple[Touched, ...] = ()
    findings: tuple[Finding, ...] = ()
    raw: dict[str, Floats] = field(default_factory=dict)

    def counts(self) -> dict[str, int]:
        """How many readings were touched, by reason; those that were not are left out."""
        return {
            reason: number
            for reason in REASONS
            if (number := sum(entry.reason == reason for entry in self.touched))
        }


@dataclass(frozen=True, kw_only=True, eq=False)
class LoggedCook(CookRecord):
    """A cook read from logs, with what became of every reading."""

    cleaning: Cleaning = field(default_factory=Cleaning)


class LogError(ValueError):
    """A log that cannot be read as its table says: every fault, one sentence each, with the next move."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults
