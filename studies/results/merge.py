"""Results of one study from several seeds made into one: trials joined, samples pooled, and all that follows from them
worked out anew.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from ..judging.outcomes import OK
from ..kinds.labels import with_dimensions
from ..methods.effects import morris_analysed, with_fixed
from ..methods.explained import sobol_analysed
from .content import content_hash
from .kept_files import kept_files, with_files, without_files
from .likeness import differences
from .merged_search import searches_joined
from .reader import OpenedResult
from .rows import RAYS_SEED


class MergeError(ValueError):
    """Results that cannot be made into one; the message names everything that stands against it."""


def merge(results: Sequence[xr.Dataset]) -> xr.Dataset:
    """Results of the same config and other seeds as one result.

    The trials of searches stand one after another, with the front over all of them; the bases of Sobol studies and the
    trajectories of screenings are pooled, and the indices computed again.

    Parameters
    ----------
    results : sequence of Dataset
        As `store.read` gives them, in the order wanted.

    Raises
    ------
    MergeError
        Fewer than two; another config, model, space or starting design; a seed that is there twice; a kind of study
        that has nothing to merge.

    Examples
    --------
    >>> both = merge([read("results/a/search.nc"), read("results/b/search.nc")])  # doctest: +SKIP
    """
    if len(results) < 2:
        raise MergeError("two results or more are needed")
    join = _JOINS.get(str(results[0].attrs.get("study")))
    if join is None:
        kinds = "searches, sensitivity studies and screenings"
        raise MergeError(f"a {results[0].attrs.get('study')} study cannot be merged; {kinds} can")
    seeds = [seed for result in results for seed in seeds_of(result)]
    faults = differences(results)
    faults += [f"seed {seed} is there twice" for seed in sorted({s for s in seeds if seeds.count(s) > 1})]
    if faults:
        raise MergeError("; ".join(faults))
    plain = [without_files(result) for result in results]
    merged = join(plain)
    return with_files(merged.assign_attrs(_provenance(merged, results)), kept_files(results[0]))


def seeds_of(result: xr.Dataset) -> list[int]:
    """Every seed that a result was sampled or searched from."""
    if "run_seed" in result:
        return [int(seed) for seed in result["run_seed"].values]
    if RAYS_SEED in result:
        return list(dict.fromkeys(map(int, result[RAYS_SEED].values)))
    return [int(result.attrs["seed"])]


def _provenance(merged: xr.Dataset, results: Sequence[xr.Dataset]) -> dict[str, Any]:
    """Of the first result, with what tells that it is not alone."""
    parts = [part for result in results for part in _parts(result)]
    status = merged["status"]
    counts = {"designs": int(status.size), "failed": int((status != OK).sum())}
    return {
        "merged": json.dumps(parts),
        "counts": json.dumps(counts, sort_keys=True),
        "created": max(str(part["created"]) for part in parts),
    }


def _parts(result: xr.Dataset) -> list[dict[str, Any]]:
    """What a result is made of: itself, unless it was merged."""
    if "merged" in result.attrs:
        return list(json.loads(result.attrs["merged"]))
    seed, created = int(result.attrs["seed"]), str(result.attrs["created"])
    return [{"seed": seed, "created": created, "content_hash": content_hash(result)}]


def _searches(results: Sequence[xr.Dataset]) -> xr.Dataset:
    work = OpenedResult(Path("a result to be merged"), results[0]).work()
    return with_dimensions(searches_joined(results, work.space), work.design)


def _sobol(results: Sequence[xr.Dataset]) -> xr.Dataset:
    return sobol_analysed(_pooled(results, "base"))


def _morris(results: Sequence[xr.Dataset]) -> xr.Dataset:
    names = [name for name in ("fix_at", "fix_is_own") if name in results[0]]
    merged = morris_analysed(_pooled(results, "trajectory")).assign(results[0][names])
    # Which factors were held is part of what that says: it holds for all only if all held the same.
    held = [result["may_fix"].values for result in results if "fixed" in result]
    if len(held) < len(results) or not all(np.array_equal(one, merged["may_fix"].values) for one in held):
        return merged
    return with_fixed(merged, np.concatenate([result["fixed"].values for result in results], axis=1))


_JOINS: dict[str, Callable[[Sequence[xr.Dataset]], xr.Dataset]] = {
    "search": _searches,
    "sobol": _sobol,
    "morris": _morris,
}

_SUMS = ("designs", "failed_designs")


def _pooled(results: Sequence[xr.Dataset], along: str) -> xr.Dataset:
    """The samples of all results in one, without what was made of them."""
    samples = [_sample(result, along) for result in results]
    whole = xr.concat(
        samples,
        dim=along,
        data_vars="minimal",
        coords="minimal",
        compat="override",
        join="exact",
        combine_attrs="override",
    )
    without = results[0]["rows_without_value"]
    whole["rows_without_value"] = without.copy(
        data=sum(result["rows_without_value"].values for result in results)
    )
    whole = whole.assign_attrs({name: sum(int(result.attrs[name]) for result in results) for name in _SUMS})
    return whole.merge(_stopped(results))


def _sample(result: xr.Dataset, along: str) -> xr.Dataset:
    """The rows of one result and what they are, each with the seed that it came from."""
    made = [name for name, array in result.data_vars.items() if along not in array.dims or name == "fixed"]
    sample = result.drop_vars(made).drop_dims(["base_samples", "partner", "side"], errors="ignore")
    if RAYS_SEED in sample:
        return sample
    text = {
        "units": "1",
        "long_name": "seed of the study that the rows came from, of its sample and its rays",
    }
    seeds = np.full(result.sizes[along], int(result.attrs["seed"]))
    return sample.assign({RAYS_SEED: (along, seeds, text)})


def _stopped(results: Sequence[xr.Dataset]) -> xr.Dataset:
    """Designs on which the model stopped, counted through all samples."""
    before = np.cumsum([0, *(int(result.attrs["designs"]) for result in results)])
    found = [
        result[["stopped_row", "stopped_reason"]].assign(stopped_row=result["stopped_row"] + first)
        for result, first in zip(results, before, strict=False)
        if "stopped_row" in result
    ]
    if not found:
        return xr.Dataset()
    return xr.concat(found, dim="stopped", combine_attrs="override").drop_attrs(deep=False)
