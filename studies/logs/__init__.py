"""Logs of test cooks, from any logger or a handwritten form: read, cleaned, reported on.

Nothing is filled in: a cleaned value is a number of the file in SI, or zero for a little below it in the dark.
"""

from .in_the_sun import elevations
from .phases import PHASES, leading, phase_of
from .records import read_cook, records_of
from .touched import REASONS, Cleaning, Finding, LogError, LoggedCook, Touched
from .usual_air import usual_air

__all__ = [
    "PHASES",
    "REASONS",
    "Cleaning",
    "Finding",
    "LogError",
    "LoggedCook",
    "Touched",
    "elevations",
    "leading",
    "phase_of",
    "read_cook",
    "records_of",
    "usual_air",
]
