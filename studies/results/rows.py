"""One design of a result computed again, by the evaluator of its study, from the factors that the result keeps."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, NoReturn

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import Column, Columns, Outcomes
from ..judging.single_days import day_factor
from ..judging.space import Space
from ..kinds import KINDS, Running, Work
from ..methods.pool import CELL
from ..methods.trials import judged, margin_variable
from .again import RowAgain
from .searched import factors_of, task_of

RAYS_SEED = "rays_seed"  # of merged results: the seed of each part, over the dimension that tells its rows


def is_of_designs(dataset: xr.Dataset) -> bool:
    """Whether the rows of a result are designs that can be computed one by one."""
    return tuple(dataset["status"].dims) in _AGAIN


def row_again(dataset: xr.Dataset, work: Work, place: tuple[int, ...]) -> RowAgain:
    """A design as it stands in the result, and as the model computes it now.

    Parameters
    ----------
    dataset : Dataset
    work : Work
        The study that it is a result of.
    place : tuple of int
        Along the dimensions of `status`.
    """
    return _AGAIN[tuple(dataset["status"].dims)](dataset, work, *place)


def _trial(dataset: xr.Dataset, work: Work, trial: int) -> RowAgain:
    """A design of a search, which keeps its factors."""
    one = dataset.isel(trial=slice(trial, trial + 1))
    task = task_of(dataset, work.space)
    seed = work.setting.seed
    if RAYS_SEED in dataset:
        seed = int(dataset[RAYS_SEED][int(one["trial_run"].item()) - 1])
    outcomes = judged(task, _evaluator(work, seed)(factors_of(one, work.space)))
    margins = {margin_variable(name): column for name, column in outcomes.margins.items()}
    return _row(f"Trial {trial}", one.squeeze("trial"), outcomes, {**outcomes.values, **margins})


def _of_bases(dataset: xr.Dataset, work: Work, base: int, position: int) -> RowAgain:
    """A design of a Sobol sample, which keeps samples A and B and says what each row takes from which."""
    label = str(dataset["position"][position].item())
    names = dataset["drawn"].to_numpy().astype(str)
    from_b = np.array([_is_from_b(dataset, name, label) for name in names])
    one = dataset.isel(base=base, position=position)
    values = np.where(from_b, one["value_b"].to_numpy(), one["value_a"].to_numpy())
    outcomes = _evaluator(work, _seed(one, work))(_columns(dataset, names, values))
    return _sampled(f"Base {base}, {label}", one, outcomes)


def _of_trajectories(dataset: xr.Dataset, work: Work, trajectory: int, point: int) -> RowAgain:
    """A design of a Morris sample, which keeps every position."""
    one = dataset.isel(trajectory=trajectory, point=point)
    columns = _space(work).from_unit(one["u"].to_numpy()[np.newaxis])
    outcomes = _evaluator(work, _seed(one, work))(columns)
    return _sampled(f"Trajectory {trajectory}, point {point}", one, outcomes)


def _of_cells(dataset: xr.Dataset, work: Work, design: int, cell: int) -> RowAgain:
    """A design of a pool in one place and month."""
    one = dataset.isel(design=slice(design, design + 1), cell=cell)
    outcomes = _evaluator(work, work.setting.seed)(factors_of(one, work.space) | {CELL: np.array([cell])})
    margins = {margin_variable(name): column for name, column in outcomes.margins.items()}
    return _row(
        f"Design {design}, cell {cell}", one.squeeze("design"), outcomes, {**outcomes.values, **margins}
    )


_AGAIN: dict[tuple[Any, ...], Callable[..., RowAgain]] = {
    ("trial",): _trial,
    ("base", "position"): _of_bases,
    ("trajectory", "point"): _of_trajectories,
    ("design", "cell"): _of_cells,
}


def _space(work: Work) -> Space:
    """What a screening varies: its factors, what cooks leave unknown, and the day where weather is a factor."""
    unknown = work.posterior.parameters if work.posterior else ()
    days = (day_factor(work.setting.sky),) if getattr(work.section, "weather", False) else ()
    return Space((*work.space.parameters, *unknown, *days))


def _is_from_b(dataset: xr.Dataset, name: str, label: str) -> bool:
    """Whether a factor of a row comes from sample B; the label of the row says so."""
    if label in ("A", "B"):
        return label == "B"
    which, _, unit = label.partition(" ")
    if which in ("AB", "BA"):
        members = str(dataset["factor_members"].sel(factor=unit).item()).split(", ")
        return (name in members) == (which == "AB")
    return str(dataset["drawn_side"].sel(drawn=name).item()) == label.removesuffix(" from B")


def _columns(dataset: xr.Dataset, names: NDArray[np.str_], values: NDArray[np.float64]) -> Columns:
    """A row of plain numbers as the columns it was made of: words, whole numbers, numbers."""
    space = {record["name"]: record for record in json.loads(dataset.attrs["space"])}
    columns: dict[str, Column] = {}
    for name, value in zip(map(str, names), values, strict=True):
        kind = space[name]["kind"]
        if kind == "choice":
            columns[name] = np.array([space[name]["choices"][int(value)]], np.str_)
        else:
            columns[name] = np.array([value], np.int64 if kind == "integer" else np.float64)
    return columns


def _seed(one: xr.Dataset, work: Work) -> int:
    return int(one[RAYS_SEED].item()) if RAYS_SEED in one else work.setting.seed


def _sampled(what: str, one: xr.Dataset, outcomes: Outcomes) -> RowAgain:
    names = [str(name) for name in one["output"].to_numpy()]
    stored = dict(zip(names, one["sampled"].to_numpy().tolist(), strict=True))
    units = dict(zip(names, map(str, one["output_unit"].to_numpy()), strict=True))
    flat = xr.Dataset({name: ((), stored[name], {"units": units[name]}) for name in names})
    return _row(what, flat.assign(status=one["status"]), outcomes, outcomes.values)


def _row(what: str, one: xr.Dataset, outcomes: Outcomes, now: Mapping[str, Any]) -> RowAgain:
    """One design beside itself, with its status."""
    names = list(now)
    return RowAgain(
        what=what,
        stored={"status": int(one["status"].item())} | {name: float(one[name].item()) for name in names},
        now={"status": int(outcomes.status[0])} | {name: float(now[name][0]) for name in names},
        units={name: str(one[name].attrs["units"]) for name in names},
    )


class _Scouted(Exception):
    """Not an error: carries out of a study what it evaluates its designs with, before it does."""

    def __init__(self, evaluate: Callable[[Columns], Outcomes]) -> None:
        super().__init__()
        self.evaluate = evaluate


class _Scout:
    """A crew that does no work and only finds out what the work is."""

    size = 1

    def handing(self, function: Callable[[Any], Any]) -> NoReturn:
        """Leave with the function."""
        raise _Scouted(function)


def _evaluator(work: Work, seed: int) -> Callable[[Columns], Outcomes]:
    """What a study evaluates its designs with: checked outcomes of columns of factors."""
    scouting = Work(
        setting=work.within(seed=seed).setting,
        section=work.section,
        varies=work.varies,
        ready=work.ready,
        name=work.name,
        running=Running(workers=_Scout()),
        posterior=work.posterior,
    )
    try:
        KINDS[str(work.section.kind)].carry_out(scouting)
    except _Scouted as found:
        return found.evaluate
    raise RuntimeError(f"the study {work.name} evaluates no designs")
