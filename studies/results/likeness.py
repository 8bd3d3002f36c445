"""Whether results are of the same study and differ by nothing but their seeds; what differs, by name."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import xarray as xr

from .kept_files import kept_files

# Of a config, what results to be merged may differ in: the seed is the point of it, the title says nothing.
_FREE = ("seed", "title")


def differences(results: Sequence[xr.Dataset]) -> list[str]:
    """What keeps results from being merged, a sentence each; empty if they differ only by seed.

    Parameters
    ----------
    results : sequence of Dataset
        With provenance, two or more.
    """
    first = results[0]
    found = []
    for number, other in enumerate(results[1:], start=2):
        found += [f"result {number}: {fault}" for fault in _apart(first, other)]
    return found


def _apart(first: xr.Dataset, other: xr.Dataset) -> Iterator[str]:
    for name, meaning in (("study_name", "study"), ("model_hash", "version of the model")):
        one, two = first.attrs.get(name), other.attrs.get(name)
        if one != two:
            yield f"another {meaning}, {two} for {one}"
    if first.attrs.get("study") != other.attrs.get("study"):
        return  # all else differs too, and says no more
    yield from _tables_apart(_config(first), _config(other), "")
    one_files, other_files = kept_files(first), kept_files(other)
    for name in sorted({*one_files, *other_files}):
        if one_files.get(name) != other_files.get(name):
            yield f"another file {name}"
    yield from _designs_apart(first, other)
    yield from _spaces_apart(first, other)


def _config(result: xr.Dataset) -> dict[str, Any]:
    table = tomllib.loads(str(result.attrs["config"]))
    return {key: value for key, value in table.items() if key not in _FREE}


def _tables_apart(one: Any, other: Any, path: str) -> Iterator[str]:
    """Keys of a config whose values differ, with both."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in dict.fromkeys([*one, *other]):
            yield from _tables_apart(one.get(key), other.get(key), f"{path}.{key}" if path else key)
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, pair in enumerate(zip(one, other, strict=True), start=1):
            yield from _tables_apart(*pair, f"{path}[{number}]")
    elif one != other:
        yield f"{path} = {_told(other)} for {_told(one)}"


def _told(value: Any) -> str:
    return "nothing" if value is None else json.dumps(value, default=str, ensure_ascii=False)


def _designs_apart(first: xr.Dataset, other: xr.Dataset) -> Iterator[str]:
    """Factors in which the designs differ that two studies started from: an earlier search may have chosen them."""
    designs: list[Mapping[str, Any]] = [json.loads(result.attrs["base_design"]) for result in (first, other)]
    names = [name for name in designs[0] if designs[0][name] != designs[1].get(name)]
    if names:
        yield (
            f"it starts from another design ({', '.join(names)}), chosen by a search of its own seed; "
            'base = "config" in its table starts all from one'
        )


def _spaces_apart(first: xr.Dataset, other: xr.Dataset) -> Iterator[str]:
    """Factors that were sampled otherwise."""
    one, two = (
        {record["name"]: record for record in json.loads(result.attrs.get("space", "[]"))}
        for result in (first, other)
    )
    names = [name for name in dict.fromkeys([*one, *two]) if one.get(name) != two.get(name)]
    if names:
        yield f"other ranges of {', '.join(names)}"
