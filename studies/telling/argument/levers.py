"""What moves the goals of a chosen design most, and whether the search could turn it."""

from collections.abc import Iterable

import numpy as np
import xarray as xr

from ...methods.front import goals
from ..words.phrases import listed, spoken
from ..words.sensitivity_words import DAY, share_span
from .sections import Said


def levers_said(indices: xr.Dataset, search: xr.Dataset | None) -> list[Said]:
    """What the intervals mean, and of each goal of the search that was analysed, what moves it most.

    Parameters
    ----------
    indices : Dataset
        Of a Sobol study round the chosen design.
    search : Dataset, optional
        The search that chose it.
    """
    name = str(indices.attrs["study_name"])
    share = f"{100 * float(indices.attrs['confidence']):.0f} %"
    found = [Said(f"brackets.{name}", f"Shares stand with their {share} intervals in brackets.", "reasons")]
    if search is None or "chosen_trial" not in search.attrs:
        return found
    outputs = [str(output) for output in indices["output"].to_numpy()]
    for goal in goals(search):
        if goal in outputs and int(indices["analysed"].sel(output=goal)):
            found += _lever(indices.sel(output=goal).isel(base_samples=-1), goal, search, name)
    return found


def _lever(one: xr.Dataset, goal: str, search: xr.Dataset, name: str) -> list[Said]:
    """The factors that may be the one that moves a goal most, as far as their intervals tell."""
    total, wide = one["total"].to_numpy(), one["total_half_width"].to_numpy()
    most = int(np.argmax(total))
    if not total[most] > wide[most]:
        return []
    level = [k for k in np.argsort(-total, kind="stable") if total[k] + wide[k] >= total[most] - wide[most]]
    factors = one["factor"].to_numpy()[level]
    members = [str(group) for group in one["factor_members"].to_numpy()[level]]
    named = [
        spoken(f) if f == m else f"{spoken(f)} ({spoken(m)})" for f, m in zip(factors, members, strict=True)
    ]
    told = listed([f"{named[n]} {share_span(total[k], wide[k])}" for n, k in enumerate(level)])
    close = "" if len(level) == 1 else ", too near each other to be ranked"
    text = f"Varied round the chosen design, {spoken(goal)} is moved most by {told}, interactions counted{close}."
    fixed = _fixed(members, search)
    if fixed:
        text += f" The search took {listed(fixed)} as in the config: with another, another oven may be best."
    return [Said(f"lever.{name}.{goal}", text, "change")]


def _fixed(members: Iterable[str], search: xr.Dataset) -> list[str]:
    """Factors, out of groups too, that the search did not vary; it met all its days."""
    names = [name for group in members for name in group.split(", ")]
    return [spoken(name) for name in names if name not in search.coords and name != DAY]
