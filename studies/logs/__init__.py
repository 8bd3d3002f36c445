"""Logs of test cooks, from any logger or a handwritten form: read, cleaned, reported on.

Nothing is filled in: a cleaned value is a number of the file in SI, or zero for a little below it in the dark.
"""

from .logged import read_cook, records_of
from .touched import REASONS, Cleaning, Finding, LogError, LoggedCook, Touched

__all__ = [
    "REASONS",
    "Cleaning",
    "Finding",
    "LogError",
    "LoggedCook",
    "Touched",
    "read_cook",
    "records_of",
]
