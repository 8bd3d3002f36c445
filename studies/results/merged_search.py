"""Searches of one task from several seeds, joined: one front over all their trials, one chosen design."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.space import Space, take
from ..methods.front import goals, oriented
from ..methods.trials import Archive, SearchTask
from ..methods.tried import trials_dataset
from .merged_shown import shown_joined
from .rows import RAYS_SEED
from .searched import SHOWN, factors_of, outcomes_of, task_of


def searches_joined(results: Sequence[xr.Dataset], space: Space) -> xr.Dataset:
    """The trials of all searches, their front and how it grew; and which design is chosen now.

    It is chosen, by the rule of the config, among the designs that the single searches chose: what is told round a
    chosen design was computed for those.
    """
    task = task_of(results[0], space)
    runs = [archive for result in results for archive in _archives(result, task)]
    seeds = [int(seed) for result in results for seed in result["run_seed"].values]
    reasons = (
        [str(text) for result in results for text in result["reason"].values]
        if "reason" in results[0]
        else None
    )
    joined = trials_dataset(runs, seeds=seeds, explain=(lambda _: reasons) if reasons is not None else None)
    rays = [_rays_seeds(result) for result in results]
    text = {"units": "1", "long_name": "seed of the rays by which the search judged its designs"}
    joined[RAYS_SEED] = ("run", np.concatenate(rays), text)
    whole = joined.assign_attrs({**results[0].attrs, **joined.attrs})
    for name in ("chosen_trial", "idle_factors"):
        whole.attrs.pop(name, None)
    return _with_chosen(whole, results)


def _rays_seeds(result: xr.Dataset) -> NDArray[np.int64]:
    if RAYS_SEED in result:
        return np.asarray(result[RAYS_SEED].values)
    return np.full(result.sizes["run"], int(result.attrs["seed"]))


def _archives(result: xr.Dataset, task: SearchTask) -> list[Archive]:
    """The searches of a result, generation by generation."""
    columns, outcomes = factors_of(result, task.space), outcomes_of(result, task)
    run, generation = result["trial_run"].values, result["generation"].values
    archives = []
    for number in np.unique(run):
        archive = Archive(task)
        for batch in np.unique(generation[run == number]):
            rows = np.flatnonzero((run == number) & (generation == batch))
            archive.add(take(columns, rows), outcomes.take(rows))
        archives.append(archive)
    return archives


def _with_chosen(whole: xr.Dataset, results: Sequence[xr.Dataset]) -> xr.Dataset:
    """The joined searches with the best of their chosen designs and all that is told of it."""
    before = np.cumsum([0, *(result.sizes["trial"] for result in results)])
    chosen = {
        number: int(before[number]) + int(result.attrs["chosen_trial"])
        for number, result in enumerate(results)
        if "chosen_trial" in result.attrs
    }
    if not chosen:
        return whole
    on_front = {number: trial for number, trial in chosen.items() if whole["on_front"][trial] == 1}
    loss = _loss(whole)
    number, trial = min((on_front or chosen).items(), key=lambda item: loss[item[1]])
    winner = results[number]
    shown = shown_joined(results, before[:-1].tolist(), whole)
    told = [
        name
        for name, array in winner.variables.items()
        if name not in {*whole.variables, *shown.variables, SHOWN} and "trial" not in array.dims
    ]
    about = {name: winner.attrs[name] for name in ("design", "idle_factors") if name in winner.attrs}
    whole = whole.assign(winner[told].variables).assign(shown.variables)
    return whole.assign_attrs(chosen_trial=trial, **about)


def _loss(whole: xr.Dataset) -> NDArray[np.float64]:
    """Weighted sum of the goals of every trial, each scaled to its range on the front, as a search picks."""
    points = oriented(whole)
    front = points[whole["on_front"].values == 1]
    best, worst = front.min(axis=0), front.max(axis=0)
    scaled = (points - best) / np.where(worst > best, worst - best, 1.0)
    return np.asarray(scaled @ _weights(str(whole.attrs["pick"]), goals(whole)))


def _weights(pick: str, names: Sequence[str]) -> NDArray[np.float64]:
    """How much each goal weighs by the rule of a config: all alike for the knee, one alone, or as given."""
    if pick == "knee":
        return np.ones(len(names))
    given = json.loads(pick) if pick.startswith("{") else {pick: 1.0}
    return np.array([float(given.get(name, 0.0)) for name in names])
