"""What money buys: the best design for each budget, its bill by part, and what the next step of money adds."""

import math
from collections.abc import Iterator
from typing import Annotated, Any, Literal

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pydantic import Field

from ...model import LIMITS, MERITS, Design, Table, bill
from ..asking.fields import Limits, Merit, Varies
from ..asking.schema import Section
from ..asking.varying import uneven
from ..judging.evaluate import OvenEvaluator, goals_of, limits_of, outputs_of
from ..judging.outcomes import Output
from ..judging.space import Space, SpaceError
from ..methods.front import oriented
from ..methods.search import Generation, search
from ..running.workers import size_of
from .compare import SLACKS
from .kind import Given, Kind, Work, output_names

COST = "material_cost"
_ROUNDING = 1e-9  # of a budget: a design that costs just so much is within it
_NICE = (1.0, 2.0, 5.0, 10.0)


class BudgetSection(Section):
    """The best design for each of some budgets of material, and what more money buys."""

    kind: Literal["budget"]
    vary: Varies
    goal: Merit = Field("time_to_done", description="what the money is to buy")
    limits: Limits = Field(default_factory=list)
    budgets: list[Annotated[float, Field(gt=0)]] = Field(
        default_factory=list, description="in the currency of [prices]; round ones over the front if left out"
    )
    trials: Annotated[int, Field(strict=True, ge=8)] = Field(400, description="designs tried")
    population: Annotated[int, Field(strict=True, ge=4)] = Field(40, description="designs in a generation")


def _faults(section: BudgetSection, given: Given) -> Iterator[str]:
    yield from uneven(section.vary)
    if section.goal == COST:
        yield f"goal: {COST} is always looked at here; name what the money is to buy, such as time_to_done"
    if section.trials < section.population:
        yield f"trials = {section.trials}: allowed {section.population} (one population) or more"
    if not given.priced:
        yield "kind: a budget needs a [prices] table"
    elif given.design is not None:
        yield from _unpriced(section, given.design, given)


def _unpriced(section: BudgetSection, design: Design, given: Given) -> Iterator[str]:
    """Materials that the study may use and that have no price: nothing is counted as free."""
    for part in bill(design, catalogue=given.catalogue)["part"].to_numpy().tolist():
        varied = section.vary.get(part)
        names = varied if isinstance(varied, list) else [design.value(part)]
        for name in names:
            if name not in given.prices:
                where = f"vary.{part}" if varied else "kind"
                yield f'{where}: "{name}" ({part}) has no price; add it to [prices.materials], or leave it out'


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, currency = work.section, work.setting.currency
    slack = SLACKS.get(MERITS[section.goal].dimension, 0.0)
    dataset = _searched(work).assign_attrs(study="budget", goal=section.goal, slack=slack, currency=currency)
    if not dataset["on_front"].any():
        return dataset, work.design
    row = _by_cost(dataset)
    cost = dataset[COST].to_numpy()[row]
    budgets = np.array(sorted(set(section.budgets)) or round_budgets(cost), np.float64)
    place = np.searchsorted(cost, budgets * (1 + _ROUNDING), side="right") - 1
    trial = np.where(place >= 0, row[place], -1)
    about = {"units": currency or "1", "long_name": "money for material", "dimension": "money"}
    dataset = dataset.assign_coords(budget=("budget", budgets, about))
    dataset = dataset.assign(_best(dataset, trial, section.goal) | _bought(work, dataset, trial))
    return dataset.assign(_own(work)), work.design


def _searched(work: Work) -> xr.Dataset:
    """Every design tried, by goal and cost."""
    section, setting, space = work.section, work.setting, work.space
    goals = goals_of([section.goal, COST], setting.currency)
    limits = limits_of(section.limits, [section.goal])
    also: list[Output] = outputs_of([] if section.goal == "mass" else ["mass"], setting.currency)
    population, done = min(section.population, section.trials), 0

    def progress(part: int, _: int, failed: int) -> None:
        work.progress(done + part, section.trials, failed)

    def after(generation: Generation) -> None:
        nonlocal done
        done = generation.done

    names = output_names([*goals, *also])
    return search(
        space,
        OvenEvaluator(setting, tuple(names), tuple(section.limits)),
        goals=goals,
        limits=limits,
        also=also,
        trials=section.trials,
        population=population,
        seed=setting.seed,
        known=_starting(space, work.design),
        workers=work.running.workers,
        chunk_rows=max(4, -(-population // (2 * size_of(work.running.workers)))),
        log=work.log(space, names, output_names(limits)),
        on_generation=after,
        progress=progress,
    )


def _starting(space: Space, design: Design) -> list[dict[str, Any]]:
    """The design that the study starts from as the first one tried, if it lies within the ranges."""
    own = {name: design.value(name) for name in space.names}
    try:
        space.columns([own])
    except (SpaceError, TypeError):  # outside, or left to the catalogue
        return []
    return [own]


def _by_cost(dataset: xr.Dataset) -> NDArray[np.int64]:
    """Trials of the front from the cheapest on; of equally good ones, which stand on it together, the first."""
    front = np.flatnonzero(dataset["on_front"].to_numpy() == 1)
    points = oriented(dataset)[front]
    order = np.lexsort((front, points[:, 0], points[:, 1]))
    kept = [k for n, k in enumerate(order) if n == 0 or (points[k] != points[order[n - 1]]).any()]
    return front[kept]


def round_budgets(cost: NDArray[np.float64]) -> list[float]:
    """Three to six round amounts from just above the least cost to just above the greatest."""
    low, high = float(cost.min()), float(cost.max())
    wanted = max(high - low, 0.1 * high) / 4
    power = 10.0 ** math.floor(math.log10(wanted))
    step = power * next(nice for nice in _NICE if nice * power >= wanted * (1 - _ROUNDING))
    first, last = math.ceil(low / step), math.ceil(high / step)
    return [round(k * step, 9) for k in range(first, last + 1)]


def _best(dataset: xr.Dataset, trial: NDArray[np.int64], goal: str) -> dict[str, Any]:
    """The best design within each budget: which it is, what it costs and does."""
    found = trial >= 0
    variables: dict[str, Any] = {
        "budget_trial": (
            "budget",
            trial,
            {"units": "1", "long_name": "trial of the best design within the budget; -1 where none is"},
        )
    }
    for name in dict.fromkeys((goal, COST, "mass")):
        about = {key: dataset[name].attrs[key] for key in ("units", "long_name")}
        about["dimension"] = MERITS[name].dimension
        variables[f"budget_{name}"] = (
            "budget",
            np.where(found, dataset[name].to_numpy()[trial], np.nan),
            about,
        )
    return variables


def _bought(work: Work, dataset: xr.Dataset, trial: NDArray[np.int64]) -> dict[str, Any]:
    """Bills and limits of the best designs, budget by budget; nan and no material where none is."""
    setting, has = work.setting, trial >= 0
    columns = {name: dataset[name].to_numpy()[trial[has]] for name in work.space.names}
    table = Table(work.design, columns, int(has.sum()))
    prices: dict[str, Any] = {"prices": setting.prices, "currency": setting.currency}
    bills = bill(table if has.any() else work.design, catalogue=setting.catalogue, **prices)
    variables = {str(name): _spread(array, has) for name, array in bills.items()} | {"part": bills["part"]}
    for name, dimension in _DIMENSIONS.items():
        variables[name].attrs["dimension"] = dimension
    if has.any():
        idle = [" ".join(table.design(row).idle) for row in range(table.rows)]
        about = {"units": "1", "long_name": "factors of no effect in the design"}
        variables["budget_idle"] = _spread(xr.DataArray(idle, dims="design", attrs=about), has)
        limits = setting.simulated(table, evening=False)
        variables |= {f"budget_{name}": _spread(limits[name], has) for name in LIMITS}
        for name, limit in LIMITS.items():
            variables[f"budget_{name}"].attrs["dimension"] = limit.dimension
    return variables


_DIMENSIONS = {"part_mass": "mass", "part_area": "area", "part_cost": "money"}


def _spread(array: xr.DataArray, has: NDArray[np.bool_]) -> xr.Variable:
    """Values by design as values by budget."""
    words = array.dtype.kind in "UO"
    column = np.full(
        (has.size, *array.shape[1:]), "" if words else np.nan, array.dtype if words else np.float64
    )
    column[has] = array.to_numpy()[: int(has.sum())]
    return xr.Variable(("budget", *array.dims[1:]), column, array.attrs)


def _own(work: Work) -> dict[str, Any]:
    """What the design that the study starts from does and costs."""
    goal = work.section.goal
    own = work.setting.simulated(work.design, evening=goal == "keep_warm_time").isel(design=0)
    about = {name: {"dimension": MERITS[name].dimension} for name in (goal, COST)}
    return {f"own_{name}": own[name].reset_coords(drop=True).assign_attrs(about[name]) for name in about}


BUDGET = Kind(word="budget", section=BudgetSection, carry_out=_carry_out, faults=_faults)
