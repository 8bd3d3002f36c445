"""Published cooker test procedures, for measured logs and simulated ones alike."""

from .clause import Clause, ProcedureError
from .cooking_power import CookingPower, Interval, cooking_power, interval_power, standardised
from .figures_of_merit import (
    Heating,
    Stagnation,
    boiling_time,
    first_figure,
    grade,
    heating_test,
    second_figure,
    stagnation_temperature,
    stagnation_test,
)
from .log import Log, log_of
from .regression import Line, fitted_line

__all__ = [
    "Clause",
    "CookingPower",
    "Heating",
    "Interval",
    "Line",
    "Log",
    "ProcedureError",
    "Stagnation",
    "boiling_time",
    "cooking_power",
    "first_figure",
    "fitted_line",
    "grade",
    "heating_test",
    "interval_power",
    "log_of",
    "second_figure",
    "stagnation_temperature",
    "stagnation_test",
    "standardised",
]
