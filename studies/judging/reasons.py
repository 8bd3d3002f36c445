"""Why a design is no answer to a search: what keeps it from being built, which limits it exceeds, by how much."""

from collections.abc import Sequence

import numpy as np

from ...model import LIMITS, Status
from ..asking.quantity import show
from ..methods.trials import Limit
from .evaluate import CENSORED
from .outcomes import NOT_FINITE, OK, STOPPED, Outcomes, reached_key
from .robust import Rule

_REACHED = {reached_key(goal): share for goal, share in CENSORED.items()}
_VERB = {"share_done": "done", "share_safe": "safe to eat"}


def reasons(outcomes: Outcomes, limits: Sequence[Limit], rule: Rule) -> list[str]:
    """One text per row, empty where nothing is wrong.

    Parameters
    ----------
    outcomes : Outcomes
        With the shares of days of the goals that may never be reached among the values.
    limits : sequence of Limit
    rule : Rule
        By which goals are judged: it says on how many days they must be reached.
    """
    return [_reason(outcomes, row, limits, rule) for row in range(outcomes.rows)]


def _reason(outcomes: Outcomes, row: int, limits: Sequence[Limit], rule: Rule) -> str:
    status = int(outcomes.status[row])
    if status != OK:
        if status == NOT_FINITE and "material_cost" in outcomes.values:
            return "a number of it is missing: is each of its materials in the price list?"
        return status_reason(status, outcomes.failures.get(row, ""))
    over = [limit for limit in limits if outcomes.margins[limit.name][row] > 0]
    told = [_excess(outcomes, row, limit, rule) for limit in over]
    return "; ".join(dict.fromkeys(told))  # two goals may be short of the same days


def status_reason(status: int, said: str = "") -> str:
    """What a status other than OK says."""
    if status == STOPPED:
        return f"the model stopped on it: {said}" if said else "the model stopped on it"
    if status == NOT_FINITE:
        return "its numbers are not finite"
    return Status(status).sentence


def _excess(outcomes: Outcomes, row: int, limit: Limit, rule: Rule) -> str:
    if limit.name in _REACHED:
        name = _REACHED[limit.name]
        share = float(outcomes.values[name][row])
        return (
            f"{_VERB[name]} on only {days_text(share)}{_asked(rule)}" if share > 0 else f"never {_VERB[name]}"
        )
    margin = float(outcomes.margins[limit.name][row])
    return f"{limit.meaning}, by {show(margin, LIMITS[limit.name].dimension, digits=2)}"


def _asked(rule: Rule) -> str:
    """On how many days it would have to be."""
    if rule.how == "worst month":
        return " of the worst month, half are needed"
    if rule.needed == 1.0:
        return ", every day is needed"
    return ", half are needed" if rule.needed == 0.5 else f", {days_text(rule.needed)} are needed"


def days_text(share: float) -> str:
    """A share of days as a builder counts them: "4 days in 10", finer where that would round to none or all."""
    if share in (0.0, 1.0):
        return "no day" if share == 0.0 else "every day"
    for whole in (10, 100, 1000):
        count = round(whole * share)
        if 0 < count < whole and (whole > 10 or np.isclose(count, whole * share, atol=0.25)):
            return f"{count} days in {whole}" if count > 1 else f"1 day in {whole}"
    return "hardly a day" if share < 0.5 else "nearly every day"
