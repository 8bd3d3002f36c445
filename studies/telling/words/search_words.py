"""What a search says: the chosen design, what it does, how far it may be off, and how the search went."""

import json
import math
from collections import Counter
from collections.abc import Iterator

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from ...methods.front import goals
from ..argument.sections import Said, numbered
from .flat_words import better_sentences, edge_sentences, flat_sentence, noise_sentences
from .known_words import known_sentences
from .phrases import danger_zone, factor_text, later, limit_sentences, said, spoken

# Searches whose volumes lie within this share of each other have found the same; a front that grew by less in its
# last quarter has ended.
_AGREED = 0.01


def search_sentences(search: xr.Dataset) -> list[str]:
    """The chosen design, what it does, how far it may be off, and how the search went."""
    return [one.text for one in search_said(search)]


def search_said(search: xr.Dataset) -> list[Said]:
    """The same sentences with their names and their sections of an argument."""
    if "chosen_trial" not in search.attrs:
        return numbered("none", _nothing_found(search), "choice")
    row = int(search.attrs["chosen_trial"])
    factors = factors_of(search)
    return [
        Said("chosen", f"Chosen: {_design(search, row, factors)} ({_rule(search)}).", "choice"),
        Said("goals", _goal_sentence(search, row), "choice"),
        *numbered("fresh", _fresh_sentence(search, row), "doubt"),
        Said("meal", _meal_sentence(search), "choice"),
        *numbered("warm", _middle_warm_sentence(search), "choice"),
        *numbered(
            "limits",
            limit_sentences({name: search[f"chosen_{name}"] for name in _limit_names(search)}, search.attrs),
            "choice",
        ),
        *numbered("known", known_sentences(search), "reasons"),
        *_flat_said(search, factors),
        *numbered("edge", edge_sentences(search, factors), "change"),
        *numbered("idle", _idle_sentence(search)),
        *numbered("ends", _ends_of_the_front(search, row), "change"),
        Said("went", _went(search), "doubt"),
        *numbered("agreement", _agreement(search), "doubt"),
        *numbered("stopped", _what_stopped(search) if 2 * _kept(search) < search.sizes["trial"] else []),
    ]


def factors_of(search: xr.Dataset) -> list[str]:
    """Factors that make a difference in the chosen design."""
    return [str(name) for name in search["slice_factor"].to_numpy() if str(name) not in _idle(search)]


def _idle(search: xr.Dataset) -> list[str]:
    return str(search.attrs.get("idle_factors", "")).split()


def _idle_sentence(search: xr.Dataset) -> list[str]:
    idle = _idle(search)
    return [f"Of no effect in the chosen design: {', '.join(map(spoken, idle))}."] if idle else []


def _flat_said(search: xr.Dataset, factors: list[str]) -> Iterator[Said]:
    """How far each factor may move, and where one alone would have been better."""
    yield from numbered("noise", noise_sentences(search, factors), "doubt")
    for name in factors:
        text = flat_sentence(search, name)
        if text is not None:
            yield Said(f"flat.{name}", text, "reasons")
    yield from numbered("better", better_sentences(search, factors), "change")


def _design(search: xr.Dataset, row: int, factors: list[str]) -> str:
    return ", ".join(f"{spoken(name)} {factor_text(search[name], row, search.attrs)}" for name in factors)


def _rule(search: xr.Dataset) -> str:
    """By which rule one of the front was picked."""
    count, pick = int(search["on_front"].sum()), str(search.attrs["pick"])
    if pick.startswith("{"):
        weights = json.loads(pick)
        told = "best by weights, " + ", ".join(f"{spoken(name)} {x:g}" for name, x in weights.items())
    else:
        told = "the knee" if pick == "knee" else f"best {spoken(pick)}"
    if count == 1:
        return "the one design that no other beats"
    return f"{told}, of {count} designs that no other beats"


def _goal_texts(search: xr.Dataset, row: int) -> str:
    return ", ".join(f"{spoken(name)} {goal_text(search, name, row)}" for name in goals(search))


def goal_text(search: xr.Dataset, name: str, row: int) -> str:
    """One value of a goal with its unit; money in its currency."""
    goal = search[name]
    text = factor_text(goal, row, search.attrs)
    return f"{text} {goal.attrs['units']}" if goal.attrs["dimension"] == "money" else text


def _goal_sentence(search: xr.Dataset, row: int) -> str:
    """Goals of the chosen design, and how they were judged where that is not the usual way."""
    told = _goal_texts(search, row)
    judged, draws = str(search.attrs["judged_by"]), int(search.attrs["draws"])
    how = [] if judged == "usual" else [_JUDGED.get(judged, f"judged by what {judged} keep")]
    if draws > 1:
        how.append(f"under {draws} draws of {_doubts(search)}")
    return f"Its goals: {told}{'; ' if how else ''}{', '.join(how)}."


_JUDGED = {
    "middle day": "judged by the middle day",
    "mean": "judged by the mean of all days",
    "worst month": "judged by the middle day of the worst month",
}


def _fresh_sentence(search: xr.Dataset, row: int) -> list[str]:
    """What other rays say of the chosen design: a search also picks luck."""
    told = []
    for name in goals(search):
        noise, fresh = float(search[f"noise_{name}"]), search[f"fresh_{name}"]
        if noise > 0 and np.isfinite(fresh):
            dimension = str(fresh.attrs["dimension"])
            one = said(float(fresh), dimension, search.attrs, digits=3)
            spread = said(noise, difference_of(dimension), search.attrs, digits=2)
            told.append(f"{spoken(name)} {one} (plus or minus {spread})")
        elif not np.isfinite(fresh):
            told.append(f"a {spoken(name)} only with some of them")
    return [f"Traced anew with other rays: {', '.join(told)}."] if told else []


def _doubts(search: xr.Dataset) -> str:
    """Uncertain factors and how they are drawn."""
    drawn = json.loads(str(search.attrs["uncertain"]))
    return " and ".join(f"{spoken(name)} ({text})" for name, text in drawn.items())


def _limit_names(search: xr.Dataset) -> list[str]:
    names = [str(name).removeprefix("chosen_") for name in search.data_vars]
    return [name for name in names if name.endswith("_over") and f"chosen_{name}" in search]


def _meal_sentence(search: xr.Dataset) -> str:
    attrs = search.attrs
    meal = (
        f"{said(attrs['food_mass'], 'mass', attrs)} of {spoken(attrs['food'])} put in at {attrs['loaded_at']}"
    )
    after, share = float(search["chosen_time_to_done"]), float(search["chosen_share_done"])
    days = f"{share * attrs['days_meant']:.0f} of {attrs['days_meant']:.0f} days"
    known = ", with everything else as in the config," if int(attrs["draws"]) > 1 else ""
    if math.isnan(after):
        return f"{meal}{known} is done on only {days}."
    return f"{meal}{known} is done by {later(attrs, after)} on the middle day, and gets done on {days}."


def _middle_warm_sentence(search: xr.Dataset) -> list[str]:
    """How long the chosen design keeps a meal hot after the middle day."""
    warm_for = float(search["chosen_keep_warm_time"])
    if not warm_for > 0:
        return []
    end, until = (
        later(search.attrs, search.attrs["window"]),
        later(search.attrs, search.attrs["window"] + warm_for),
    )
    _, warm = danger_zone(search.attrs)
    return [f"On the middle day it stays above {warm} until {until} if left in the closed oven after {end}."]


def _ends_of_the_front(search: xr.Dataset, chosen: int) -> list[str]:
    """What could be had instead: the best design of the front by each goal."""
    members = np.flatnonzero(search["on_front"].to_numpy() == 1)
    if len(goals(search)) < 2 or len(members) < 2:
        return []
    told = []
    for name in goals(search):
        sign = -1.0 if search[name].attrs["direction"] == "maximize" else 1.0
        best = int(members[np.argmin(sign * search[name].to_numpy()[members])])
        if best != chosen:
            told.append(f"best {spoken(name)}: {_goal_texts(search, best)}")
    return [f"Other ends of the front: {'; '.join(told)}."] if told else []


def _kept(search: xr.Dataset) -> int:
    """How many designs keep the limits and reach every goal."""
    return int(search["feasible"].sum())


def _went(search: xr.Dataset) -> str:
    """How many were tried, how many failed, and whether the search had come to an end."""
    tried, failed = search.sizes["trial"], int((search["status"] != 0).sum())
    return (
        f"{tried} designs tried, {failed} could not be built or run, {_kept(search)} keep the limits that were asked "
        f"for and reach every goal.{_settled(search)}"
    )


def _settled(search: xr.Dataset) -> str:
    """Whether the front was still growing in the last quarter of the search."""
    volume = search["hypervolume"].to_numpy()
    if len(volume) < 4 or not np.isfinite(volume[-1]) or volume[-1] <= 0:
        return ""
    gain = 1 - volume[-1 - len(volume) // 4] / volume[-1]
    if gain > _AGREED:
        return (
            f" The front still grew by {100 * gain:.1f} % in the last quarter: more trials may find better."
        )
    return " The front hardly grew in the last quarter of the search."


def _agreement(search: xr.Dataset) -> list[str]:
    """How near several searches end to each other, and to what they found together."""
    ends, together = search["run_hypervolume"].to_numpy()[:, -1], float(search["hypervolume"][-1])
    if len(ends) < 2 or not together > 0:
        return []
    apart, least = 1 - ends.min() / ends.max(), ends.min() / together
    lacking = int((ends == 0).sum())
    if lacking:
        return [
            f"{lacking} of the {len(ends)} searches found nothing as good: they do not agree; more trials are needed."
        ]
    seeds = " ".join(str(seed) for seed in search["run_seed"].to_numpy())
    move = "" if apart <= 5 * _AGREED else " They do not agree yet: more trials, or a larger population."
    return [
        f"The {len(ends)} searches (seeds {seeds}) end within {100 * max(apart, 1e-3):.1f} % of each other, and each "
        f"has at least {math.floor(1e3 * least) / 10:.1f} % of what they found together (volume "
        f"between the front and one reference point).{move}"
    ]


def _what_stopped(search: xr.Dataset) -> list[str]:
    """How many designs could not be built and why, and how many each limit stopped."""
    ran = search["status"].to_numpy() == 0
    why = Counter(str(reason) for reason in search["reason"].to_numpy()[~ran])
    lines = [f"{count} designs: {reason}." for reason, count in why.most_common(5)]
    for name, margin in search.data_vars.items():
        if margin.attrs.get("role") == "limit":
            stopped = int((margin.to_numpy()[ran] > 0).sum())
            text = str(margin.attrs["long_name"]).removeprefix("excess over the limit: ")
            if str(name).endswith("_reached"):
                goal = spoken(str(name).removeprefix("margin_").removesuffix("_reached"))
                text = f"{goal} reached on too few days"
            if stopped:
                lines.append(f"{stopped} designs: {text}.")
    return lines


def _nothing_found(search: xr.Dataset) -> list[str]:
    tried = search.sizes["trial"]
    return [
        f"None of {tried} designs keeps every limit and reaches every goal.",
        *_nearest(search),
        *_what_stopped(search),
        "Widen the ranges, lengthen the day, cook less, or drop a limit.",
    ]


def _nearest(search: xr.Dataset) -> list[str]:
    """The design that exceeds its limits least, and by what."""
    limits = [margin for margin in search.data_vars.values() if margin.attrs.get("role") == "limit"]
    if not limits or (search["status"] != 0).all():
        return []
    excess = sum(np.maximum(margin.to_numpy(), 0.0) / margin.attrs["scale"] for margin in limits)
    row = int(np.nanargmin(excess))
    factors = [str(name) for name, x in search.coords.items() if x.attrs.get("role") == "factor"]
    return [
        f"Nearest to it: {_design(search, row, factors)}; it fails on: {search['reason'].to_numpy()[row]}."
    ]
