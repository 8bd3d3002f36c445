"""Design columns -> merits and margins, through the model; pure, so rows may be split in any way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import LIMITS, MERITS, Table
from ..methods.trials import Goal, Limit
from ..setting import Setting
from .outcomes import OK, Column, Columns, Outcomes, Output, reached_key
from .robust import USUAL, Rule, judged, kept_by, mean_of_reached, share_reached
from .space import row_count

Floats = NDArray[np.float64]

# A merit that is nan on designs that never get there, and the share of days that says how near they came.
CENSORED = {"time_to_done": "share_done", "hold_time": "share_done", "time_to_safe": "share_safe"}
COLD = 500.0  # K; only the slope matters: among designs that never finish, the hotter one is nearer

# An excess that weighs one when several limits are added: what a builder would call clearly over.
LIMIT_SCALES = {"temperature_difference": 10.0, "time": 1800.0, "speed": 3.0}


class _ByDay(NamedTuple):
    """Where a merit of single days is found, and how it is usually made of them."""

    variable: str
    usual: Literal["middle", "mean", "reached"]


BY_DAY = {
    "time_to_done": _ByDay("done_after", "middle"),
    "time_to_safe": _ByDay("safe_after", "middle"),
    "share_done": _ByDay("done_after", "reached"),
    "share_safe": _ByDay("safe_after", "reached"),
    "cook_value": _ByDay("cook_dose", "mean"),
    "peak_temperature": _ByDay("peak_contents", "mean"),
    "hold_time": _ByDay("held_hot", "mean"),  # of the days it is done
    "keep_warm_time": _ByDay("warm_for", "middle"),
    "light_to_pot": _ByDay("light_share", "mean"),
}

# How the meaning of a merit ends that is made of days, and what takes the place of it under another rule.
_ENDINGS = (", on the middle one of the days", ", mean of the days it is done", ", mean of the days")


@dataclass(frozen=True)
class OvenEvaluator:
    """Runs rows of factor values round the design of a setting on its days.

    Parameters
    ----------
    setting : Setting
    values, limits : tuples of str
        Merits and limits given.
    rule : Rule
        How merits are made of days, and of draws.
    draws : dict of columns
        Values of factors that nobody decides, one per draw; every design meets every draw. A limit counts by its
        worst draw, and a design that fails in one has that status.
    """

    setting: Setting
    values: tuple[str, ...]
    limits: tuple[str, ...] = ()
    rule: Rule = USUAL
    draws: Mapping[str, Column] = field(default_factory=dict)

    @property
    def draw_count(self) -> int:
        """Runs of each design."""
        return row_count(self.draws) if self.draws else 1

    def __call__(self, columns: Columns) -> Outcomes:
        """Merits of each row; status and nan where a design cannot be built."""
        return self.outcomes(self.ran(columns))

    def outcomes(self, ran: xr.Dataset) -> Outcomes:
        """Merits and margins of what was run."""
        status = self._by_draw(ran, "status").astype(np.int64)
        first = np.argmax(status != OK, axis=1)
        values = {name: self.merit(ran, name) for name in self.values}
        return Outcomes(
            values=values,
            status=status[np.arange(len(status)), first],
            margins={name: self._by_draw(ran, name).max(axis=1) for name in self.limits}
            | {
                reached_key(name): self._short_of(ran, name, values[name])
                for name in self.values
                if name in CENSORED
            },
        )

    def ran(self, columns: Columns) -> xr.Dataset:
        """What the model says of each row under each draw; the draws of a row stand together."""
        rows, count = row_count(columns), self.draw_count
        table = {name: np.repeat(column, count) for name, column in columns.items()}
        table |= {name: np.tile(column, rows) for name, column in self.draws.items()}
        evening = "keep_warm_time" in self.values
        return self.setting.simulated(Table(self.setting.design, table, rows * count), evening=evening)

    def merit(self, ran: xr.Dataset, name: str) -> Floats:
        """One merit of each row, as the rule judges it. float64[row]"""
        if self.rule.how == "usual" and not self.draws:
            return _plain(ran, name)
        if name not in BY_DAY:
            return self._over_draws(self._by_draw(ran, name), name)
        days, weight, month = self.days(ran, name), self._weight, self._month
        if name.startswith("share_"):
            return share_reached(self.rule, days, weight, month)
        if self.rule.how != "usual":
            return judged(self.rule, days, weight, month, MERITS[name].better)
        if BY_DAY[name].usual == "middle":
            return kept_by(days, weight, 0.5)
        return mean_of_reached(days, weight)

    def days(self, ran: xr.Dataset, name: str) -> Floats:
        """A merit of single days, draw by draw. float64[row, draw and day]"""
        values = _plain(ran, BY_DAY[name].variable)
        if name == "hold_time":
            values = np.where(np.isnan(_plain(ran, "done_after")), np.nan, values)
        return values.reshape(-1, self.draw_count * values.shape[1])

    def better_days(self, ran: xr.Dataset, name: str) -> tuple[Floats, Floats]:
        """How the first row compares with each, day by day under the same draws.

        Returns
        -------
        gain : float64[row]
            By how much the first is better, on the middle one of the days on which both have a value.
        share : float64[row]
            Of the days on which the first is better, or reaches a value that the other never does.
        """
        days = (1.0 if MERITS[name].better == "less" else -1.0) * self.days(ran, name)
        ahead = days - days[:1]
        known = ~np.isnan(ahead)
        gain = [
            kept_by(row[has], self._weight[has], 0.5) if has.any() else np.nan
            for row, has in zip(ahead, known, strict=True)
        ]
        wins = np.where(known, ahead > 0, np.isnan(days) & ~np.isnan(days[:1]))
        return np.array(gain, np.float64), wins @ self._weight / self._weight.sum()

    @property
    def _weight(self) -> Floats:
        return np.tile(self.setting.sky.day_weight, self.draw_count)

    @property
    def _month(self) -> NDArray[np.int64]:
        return np.tile(self.setting.sky.day_month, self.draw_count)

    def _by_draw(self, ran: xr.Dataset, name: str) -> NDArray[Any]:
        return _plain(ran, name).reshape(-1, self.draw_count)

    def _over_draws(self, values: Floats, name: str) -> Floats:
        """A merit that is not of single days: days say nothing of it, draws do."""
        weight = np.ones(values.shape[1])
        if self.rule.how == "mean":
            return judged(self.rule, values, weight, np.ones(len(weight), np.int64), MERITS[name].better)
        return kept_by(values, weight, self.rule.share, MERITS[name].better)

    def _short_of(self, ran: xr.Dataset, name: str, value: Floats) -> Floats:
        """How far a row is from reaching a goal; -1 where it does."""
        if self.rule.how == "usual" and not self.draws:
            share, peak = _plain(ran, CENSORED[name]), _plain(ran, "peak_temperature")
        else:
            share = share_reached(self.rule, self.days(ran, name), self._weight, self._month)
            peak = mean_of_reached(self.days(ran, "peak_temperature"), self._weight)
        return np.where(np.isnan(value), self.rule.needed - share + 1 - peak / COLD, -1.0)


def _plain(ran: xr.Dataset, name: str) -> NDArray[Any]:
    """A variable without its coordinates, which cost a hundred times as much to carry along."""
    return np.asarray(ran.variables[name].values)


def meaning_of(name: str, rule: Rule = USUAL, draws: int = 1) -> str:
    """What a merit means when it is judged so."""
    meaning = MERITS[name].meaning
    over = f" and of {draws} draws" if draws > 1 else ""
    if name not in BY_DAY:
        return f"{meaning}, over {draws} draws" if draws > 1 else meaning
    if name.startswith("share_"):
        return f"{meaning}, in the worst month{over}" if rule.how == "worst month" else f"{meaning}{over}"
    if rule.how == "usual":
        return f"{meaning}{over}"
    for ending in _ENDINGS:
        meaning = meaning.replace(ending, "")
    return f"{meaning}, {rule.phrase}{over}"


def outputs_of(names: Sequence[str], currency: str, rule: Rule = USUAL, draws: int = 1) -> list[Output]:
    """Merits as outputs of a study."""
    return [
        Output(name=name, unit=MERITS[name].unit(currency), meaning=meaning_of(name, rule, draws))
        for name in names
    ]


def goals_of(names: Sequence[str], currency: str, rule: Rule = USUAL, draws: int = 1) -> list[Goal]:
    """Merits as goals of a search, each in its own better direction."""
    return [
        Goal(
            name=output.name,
            unit=output.unit,
            meaning=output.meaning,
            direction="minimize" if MERITS[output.name].better == "less" else "maximize",
        )
        for output in outputs_of(names, currency, rule, draws)
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
