"""Published cooker test procedures, for measured logs and simulated ones alike."""

from .assessment import assess_standard
from .clause import Clause, ProcedureError
from .cooking_power import CookingPower, Interval, cooking_power, interval_power, intervals_of, standardised
from .day_effect import DayEffect, day_effect
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
from .log import Log, Spoilt, log_of
from .measured import SHADED, log_of_record, solar_noon, sun_over, why_estimate
from .planes import FACING, LEVEL, facing_the_sun
from .regression import Line, fitted_line

__all__ = [
    "FACING",
    "LEVEL",
    "SHADED",
    "Clause",
    "CookingPower",
    "DayEffect",
    "Heating",
    "Interval",
    "Line",
    "Log",
    "ProcedureError",
    "Spoilt",
    "Stagnation",
    "assess_standard",
    "boiling_time",
    "cooking_power",
    "day_effect",
    "facing_the_sun",
    "first_figure",
    "fitted_line",
    "grade",
    "heating_test",
    "interval_power",
    "intervals_of",
    "log_of",
    "log_of_record",
    "second_figure",
    "solar_noon",
    "stagnation_temperature",
    "stagnation_test",
    "standardised",
    "sun_over",
    "why_estimate",
]
