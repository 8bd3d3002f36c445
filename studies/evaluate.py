"""Design columns -> merits and margins, through the model; pure, so rows may be split in any way."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import LIMITS, MERITS, Table
from .methods.trials import Goal, Limit
from .outcomes import Columns, Outcomes, Output, reached_key
from .setting import Setting
from .space import row_count

# A merit that is nan on designs that never get there, and the share of days that says how near they came.
CENSORED = {"time_to_done": "share_done", "hold_time": "share_done", "time_to_safe": "share_safe"}
HALF = 0.5  # the middle day
COLD = 500.0  # K; only the slope matters: among designs that never finish, the hotter one is nearer

# An excess that weighs one when several limits are added: what a builder would call clearly over.
LIMIT_SCALES = {"temperature_difference": 10.0, "time": 1800.0, "speed": 3.0}


@dataclass(frozen=True)
class OvenEvaluator:
    """Runs rows of factor values round the design of a setting on its days."""

    setting: Setting
    values: tuple[str, ...]
    limits: tuple[str, ...] = ()

    def __call__(self, columns: Columns) -> Outcomes:
        """Merits of each row; status and nan where a design cannot be built."""
        table = Table(self.setting.design, dict(columns), row_count(columns))
        result = self.setting.simulated(table, evening="keep_warm_time" in self.values)
        status = result["status"].to_numpy().astype(np.int64)
        wanted = [name for name in self.values if name in CENSORED]
        reached = {
            reached_key(name): np.where(
                np.isnan(result[name].to_numpy()),
                HALF - result[CENSORED[name]].to_numpy() + 1 - result["peak_temperature"].to_numpy() / COLD,
                -1.0,
            )
            for name in wanted
        }
        return Outcomes(
            values={name: result[name].to_numpy() for name in self.values},
            status=status,
            margins={name: result[name].to_numpy() for name in self.limits} | reached,
        )


def outputs_of(names: Sequence[str], currency: str) -> list[Output]:
    """Merits as outputs of a study."""
    return [
        Output(name=name, unit=MERITS[name].unit(currency), meaning=MERITS[name].meaning) for name in names
    ]


def goals_of(names: Sequence[str], currency: str) -> list[Goal]:
    """Merits as goals of a search, each in its own better direction."""
    return [
        Goal(
            name=name,
            unit=MERITS[name].unit(currency),
            meaning=MERITS[name].meaning,
            direction="minimize" if MERITS[name].better == "less" else "maximize",
        )
        for name in names
    ]


def limits_of(names: Sequence[str], goals: Sequence[str]) -> list[Limit]:
    """Limits of a search: those asked for, and that every goal is reached."""
    asked = [
        Limit(
            name=name,
            unit=LIMITS[name].unit(""),
            meaning=LIMITS[name].meaning,
            scale=LIMIT_SCALES[LIMITS[name].dimension],
        )
        for name in names
    ]
    reached = [
        Limit(name=reached_key(goal), unit="1", meaning=f"how far from reaching {goal}", scale=1.0)
        for goal in goals
        if goal in CENSORED
    ]
    return asked + reached
