"""What money buys, in sentences: the best design for each budget, its bill, and what the next step adds."""

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from ...methods.front import oriented
from .phrases import factor_text, later, limit_sentences, listed, said, spoken

NOT_COUNTED = "Not counted: stand, drive, glue, paint, tools and work."
_SMALL_SHARE = 0.05  # of a bill: parts that cost less are told together


def budget_sentences(result: xr.Dataset) -> list[str]:
    """The best design for each budget, what it costs, and what more money buys."""
    tried = result.sizes["trial"]
    if "budget" not in result.coords:
        return [
            f"None of {tried} designs keeps every limit and reaches the goal, whatever it costs.",
            "Widen the ranges, lengthen the day, cook less, or drop a limit.",
        ]
    steps = [k for k in range(result.sizes["budget"]) if int(result["budget_trial"][k]) >= 0]
    return [
        _own(result),
        *_too_little(result),
        *(line for k in steps for line in _within(result, k, steps)),
        *_steps(result, steps),
        *(_where_it_goes(result, k) for k in _ends(result, steps)),
        *_limits(result, steps),
        f"{tried} designs tried, {int(result['on_front'].sum())} of them not beaten in {spoken(_goal(result))} and "
        f"cost at once. {NOT_COUNTED}",
    ]


def _ends(result: xr.Dataset, steps: list[int]) -> list[int]:
    """The budgets with the cheapest and the dearest design; one of them where that is the same design."""
    ends = {int(result["budget_trial"][k]): k for k in (steps[:1] + steps[-1:])}
    return list(ends.values())


def _goal(result: xr.Dataset) -> str:
    return str(result.attrs["goal"])


def money(result: xr.Dataset, amount: float) -> str:
    """An amount in the user's currency, without more digits than a price list has."""
    decimals = 0 if abs(amount) >= 20 else 1 if abs(amount) >= 2 else 2
    return f"{amount:.{decimals}f} {result.attrs['currency']}".strip()


def _reached(result: xr.Dataset, value: float) -> str:
    """What the goal comes to, as a builder says it."""
    goal = _goal(result)
    text = said(value, str(result[goal].attrs["dimension"]), result.attrs, digits=3)
    if goal in ("time_to_done", "time_to_safe"):
        word = goal.removeprefix("time_to_")
        return f"{word} after {text}, by {later(result.attrs, value)}, on the middle day"
    return f"{spoken(goal)} {text}"


def _own(result: xr.Dataset) -> str:
    goal = _goal(result)
    cost, value = float(result["own_material_cost"]), float(result[f"own_{goal}"])
    if math.isnan(cost):
        return "The design that the study starts from cannot be built or run."
    does = _reached(result, value) if not math.isnan(value) else f"never gets there ({spoken(goal)})"
    return f"The design that the study starts from costs {money(result, cost)}: {does}."


def _too_little(result: xr.Dataset) -> Iterator[str]:
    short = [
        money(result, float(b))
        for b, t in zip(result["budget"], result["budget_trial"], strict=True)
        if t < 0
    ]
    if short:
        least = float(result["material_cost"].where(result["on_front"] == 1).min())
        yield (
            f"Nothing tried keeps the limits for {listed(short)}; the cheapest that does costs {money(result, least)}."
        )


def _within(result: xr.Dataset, k: int, steps: list[int]) -> Iterator[str]:
    """The best design of one budget; said once where the next budget brings no other."""
    row, budget = int(result["budget_trial"][k]), float(result["budget"][k])
    earlier = [j for j in steps if j < k and int(result["budget_trial"][j]) == row]
    if earlier:
        same = money(result, float(result["budget"][earlier[0]]))
        yield f"For {money(result, budget)} nothing better was found than for {same}."
        return
    idle = str(result["budget_idle"][k].item()).split()
    names = [str(n) for n, c in result.coords.items() if c.attrs.get("role") == "factor" and n not in idle]
    design = ", ".join(f"{spoken(name)} {factor_text(result[name], row, result.attrs)}" for name in names)
    cost, value = float(result["budget_material_cost"][k]), float(result[f"budget_{_goal(result)}"][k])
    weight = said(float(result["budget_mass"][k]), "mass", result.attrs, digits=3)
    yield (
        f"For {money(result, budget)}: {design}. It costs {money(result, cost)}, weighs {weight} and is "
        f"{_reached(result, value)}."
    )


def _steps(result: xr.Dataset, steps: list[int]) -> Iterator[str]:
    """What each further step of money buys, and where that money goes."""
    goal = _goal(result)
    distinct: list[int] = []
    for k in steps:
        if not distinct or int(result["budget_trial"][k]) != int(result["budget_trial"][distinct[-1]]):
            distinct.append(k)
    told: list[str] = []
    rate = 0.0
    for a, b in pairwise(distinct):
        more = float(result["budget_material_cost"][b] - result["budget_material_cost"][a])
        gain = abs(float(result[f"budget_{goal}"][b] - result[f"budget_{goal}"][a]))
        only = " only" if told and gain / more < 0.5 * rate else ""
        size = said(gain, difference_of(str(result[goal].attrs["dimension"])), result.attrs, digits=2)
        which = "the next" if told else "the first"
        told.append(f"{which} {money(result, more)} more buy{only} {size} ({_into(result, a, b)})")
        rate = gain / more
    if told:
        start = money(result, float(result["budget_material_cost"][distinct[0]]))
        yield f"Beyond {start}, {'; '.join(told)}."
    tail = _flat_from(result)
    if tail:
        yield tail


def _into(result: xr.Dataset, a: int, b: int) -> str:
    """Which parts the money between two designs goes into."""
    change = (result["part_cost"][b] - result["part_cost"][a]).to_numpy()
    order = np.argsort(-np.abs(change), kind="stable")
    parts = [spoken(part) for part in result["part"].to_numpy()]
    told = [
        f"{parts[k]} {change[k]:+.2g}" for k in order if abs(change[k]) > _SMALL_SHARE * np.abs(change).sum()
    ]
    return ", ".join(told) or "no part costs more"


def _flat_from(result: xr.Dataset) -> str | None:
    """From which cost on more money buys no more than a builder would notice."""
    goal = _goal(result)
    points, front = oriented(result), result["on_front"].to_numpy() == 1
    slack = float(result.attrs["slack"])
    best = points[front, 0].min()
    enough = float(points[front & (points[:, 0] <= best + slack), 1].min())
    most = float(points[front, 1].max())
    if not slack or money(result, enough) == money(result, most):
        return None
    size = said(slack, difference_of(str(result[goal].attrs["dimension"])), result.attrs)
    return f"Above {money(result, enough)} no more than {size} is to be gained, up to {money(result, most)}."


def _where_it_goes(result: xr.Dataset, k: int) -> str:
    """The bill of one budget's design in a sentence."""
    cost = result["part_cost"][k].to_numpy()
    order, total = np.argsort(-cost, kind="stable"), float(cost.sum())
    told = [
        f"{spoken(result['part'][p].item())} {money(result, float(cost[p]))} ({result['part_material'][k, p].item()})"
        for p in order
        if cost[p] >= _SMALL_SHARE * total
    ]
    rest = float(cost[cost < _SMALL_SHARE * total].sum())
    told += [f"all else {money(result, rest)}"] if rest > 0 else []
    return f"Where {money(result, total)} go: {', '.join(told)}."


def _limits(result: xr.Dataset, steps: list[int]) -> list[str]:
    """Safety limits that a budget's design exceeds."""
    over = []
    for k in steps:
        margins = {str(name): result[name][k] for name in result.data_vars if _is_limit(str(name))}
        budget = money(result, float(result["budget"][k]))
        over += [
            f"For {budget}: {line}"
            for line in limit_sentences(margins, result.attrs)
            if line.startswith("OVER")
        ]
    return over or ["No safety limit is exceeded by any of these designs on any of the days."]


def _is_limit(name: str) -> bool:
    return name.startswith("budget_") and name.endswith("_over")
