"""Results in plain words: sentences a builder can act on, and a Markdown summary with figures.

Everything is read from the Dataset; nothing is simulated here.
"""

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from .aiming_words import aiming_sentences
from .drawing import Drawn
from .front import goals
from .quantity import difference_of, parse_clock, show, show_clock
from .reading import interpretation, spoken
from .slices import flat_range

# What a builder would not notice, by dimension: the slack of "costs under ...".
SLACK = {"time": 120.0, "share": 0.01, "temperature": 2.0, "mass": 0.5, "count": 1.0}
MONEY_SLACK = 0.02  # of the chosen design's cost


def sentences(result: xr.Dataset) -> list[str]:
    """What a result says, most important first."""
    kinds = {"search": search_sentences, "day": day_sentences, "aiming": aiming_sentences}
    speak = kinds.get(str(result.attrs["study"]), interpretation)
    return [sentence[:1].upper() + sentence[1:] for sentence in speak(result)]


def is_empty(result: xr.Dataset) -> bool:
    """Whether nothing came out: no design ran, or a search found none within its limits."""
    if str(result.attrs["study"]) == "search":
        return "chosen_trial" not in result.attrs
    return bool((result["status"] != 0).all())


def search_sentences(search: xr.Dataset) -> list[str]:
    """The chosen design, what it does, how far it may be off, and how the search went."""
    tried, failed = search.sizes["trial"], int((search["status"] != 0).sum())
    if "chosen_trial" not in search.attrs:
        return [
            f"None of {tried} designs keeps every limit and reaches every goal.",
            *_what_stopped(search),
            "Widen the ranges, lengthen the day, cook less, or drop a limit.",
        ]
    row = int(search.attrs["chosen_trial"])
    idle = str(search.attrs.get("idle_factors", "")).split()
    factors = [str(name) for name in search["slice_factor"].to_numpy() if str(name) not in idle]
    design = ", ".join(f"{spoken(name)} {_text(search[name], row)}" for name in factors)
    count = int(search["on_front"].sum())
    rule = "the knee" if search.attrs["pick"] == "knee" else f"best {spoken(search.attrs['pick'])}"
    return [
        f"Chosen: {design} ({rule} of {count} designs that no other beats).",
        _meal_sentence(search),
        *_middle_warm_sentence(search),
        *(filter(None, (_flat_sentence(search, name, row) for name in factors))),
        *_edge_sentences(search, factors, row),
        *([f"Of no effect in the chosen design: {', '.join(map(spoken, idle))}."] if idle else []),
        *limit_sentences({name: search[f"chosen_{name}"] for name in _limit_names(search)}),
        f"{tried} designs tried, {failed} could not be built or run, "
        f"{int(search['feasible'].sum())} keep the limits that were asked for and reach every goal.{_settled(search)}",
        *(_what_stopped(search) if 2 * int(search["feasible"].sum()) < tried else []),
    ]


def _limit_names(search: xr.Dataset) -> list[str]:
    names = [str(name).removeprefix("chosen_") for name in search.data_vars]
    return [name for name in names if name.endswith("_over") and f"chosen_{name}" in search]


def _meal_sentence(search: xr.Dataset) -> str:
    attrs = search.attrs
    meal = f"{show(attrs['food_mass'], 'mass')} of {spoken(attrs['food'])} put in at {attrs['loaded_at']}"
    after, share = float(search["chosen_time_to_done"]), float(search["chosen_share_done"])
    days = f"{share * attrs['days_meant']:.0f} of {attrs['days_meant']:.0f} days"
    if math.isnan(after):
        return f"{meal} is done on only {days}."
    return f"{meal} is done by {_later(attrs, after)} on the middle day, and gets done on {days}."


def _later(attrs: dict[str, Any], seconds: float) -> str:
    """Clock time so long after loading; past midnight it says so."""
    clock = parse_clock(attrs["loaded_at"]) + seconds
    return show_clock(clock) if clock <= 86_400.0 else f"{show_clock(clock - 86_400.0)} the next day"


def _warm_sentence(attrs: dict[str, Any], warm_for: float, *, still: bool) -> str:
    """Until when a meal that is hot at the day's end stays so."""
    end, until = _later(attrs, attrs["window"]), _later(attrs, attrs["window"] + warm_for)
    if still:
        return f"Left in the closed oven after {end} it is still above 60 degC at {until}, where the model stops."
    return (
        f"Left in the closed oven after {end} it stays above 60 degC until {until}; from then on germs grow in it: "
        "two hours between 5 and 60 degC in all, on a hot day one, and it is to be thrown away."
    )


def _middle_warm_sentence(search: xr.Dataset) -> list[str]:
    """How long the chosen design keeps a meal hot after the middle day."""
    warm_for = float(search["chosen_keep_warm_time"])
    if not warm_for > 0:
        return []
    end, until = (
        _later(search.attrs, search.attrs["window"]),
        _later(search.attrs, search.attrs["window"] + warm_for),
    )
    return [f"On the middle day it stays above 60 degC until {until} if left in the closed oven after {end}."]


def _flat_sentence(search: xr.Dataset, name: str, row: int) -> str | None:
    """How far one factor may move before the first goal is noticeably worse."""
    factor, goal = search[name], search[goals(search)[0]]
    if factor.dtype.kind in "UO":
        return None
    dimension = str(goal.attrs["dimension"])
    slack = SLACK.get(dimension, MONEY_SLACK * abs(float(goal[row])))
    sign = -1.0 if goal.attrs["direction"] == "maximize" else 1.0
    one = search.sel(slice_factor=name)
    low, high = flat_range(
        one["slice_value"].to_numpy(),
        one[f"slice_{goal.name}"].to_numpy(),
        at=float(factor[row]),
        slack=slack,
        sign=sign,
    )
    unit = str(factor.attrs["dimension"])
    if unit == "count":
        low, high = math.ceil(low - 1e-9), math.floor(high + 1e-9)
    if low == high:
        return None
    cost = "one" if dimension == "count" else show(slack, difference_of(dimension))
    span = f"{show(low, unit, digits=3)} to {show(high, unit, digits=3)}"
    return f"{spoken(name)} anywhere from {span} costs under {cost} of {spoken(goal.name)}."


def _edge_sentences(search: xr.Dataset, factors: Sequence[str], row: int) -> list[str]:
    """Warn where the choice lies at an end of the range that was searched: the best may lie beyond."""
    at_edge = []
    for name in factors:
        factor = search[name]
        if factor.dtype.kind in "UO":
            continue
        tried = factor.to_numpy()
        span = tried.max() - tried.min()
        if (
            len(np.unique(tried)) > 2
            and min(tried[row] - tried.min(), tried.max() - tried[row]) < 0.02 * span
        ):
            at_edge.append(spoken(name))
    if not at_edge:
        return []
    return [f"{', '.join(at_edge)}: the choice lies at the end of its range; a better one may lie beyond."]


def limit_sentences(limits: dict[str, Any]) -> list[str]:
    """Which safety limits a design exceeds, and by how much; one sentence if it exceeds none."""
    over = []
    for margin in limits.values():
        value = float(margin)
        if value > 0:
            dimension = str(margin.attrs["dimension"])
            over.append(f"OVER A LIMIT: {margin.attrs['long_name']}, by {show(value, dimension, digits=3)}.")
    return over or ["No safety limit is exceeded on any of the days."]


def _what_stopped(search: xr.Dataset) -> list[str]:
    """How many designs each limit stopped."""
    ran = search["status"].to_numpy() == 0
    lines = []
    for name, margin in search.data_vars.items():
        if margin.attrs.get("role") == "limit":
            stopped = int((margin.to_numpy()[ran] > 0).sum())
            if stopped:
                text = spoken(str(name).removeprefix("margin_"))
                lines.append(f"{stopped} designs fail on: {text}.")
    return lines


def _settled(search: xr.Dataset) -> str:
    """Whether the front was still growing in the last quarter of the search."""
    volume = search["hypervolume"].to_numpy()
    if len(volume) < 4 or not np.isfinite(volume[-1]) or volume[-1] <= 0:
        return ""
    gain = 1 - volume[-1 - len(volume) // 4] / volume[-1]
    if gain > 0.01:
        return (
            f" The front still grew by {100 * gain:.1f} % in the last quarter: more trials may find better."
        )
    return " The front hardly grew in the last quarter of the search."


def day_sentences(day: xr.Dataset) -> list[str]:
    """What one design does on the days of the sky."""
    if int(day["status"][0]) != 0:
        return ["This design cannot be built or run."]
    one = day.isel(design=0)
    shown = one.isel(day=int(day.attrs["shown_day"]))
    attrs = day.attrs
    food = spoken(attrs["food"])
    done, safe = float(shown["done_after"]), float(shown["safe_after"])
    if math.isnan(done):
        peak = show(float(shown["peak_contents"]), "temperature")
        fate = f"does not get done; its coldest part reaches {peak}"
    else:
        fate = f"is safe by {_later(attrs, safe)} and done by {_later(attrs, done)}"
    share = float(one["share_done"])
    attention = show(float(one["attention_time"]), "time")
    days = f"{share * attrs['days_meant']:.0f} of {attrs['days_meant']:.0f} days"
    plateau = show(float(one["plateau_temperature"]), "temperature", digits=3)
    limits = {str(name): one[name] for name in day.data_vars if str(name).endswith("_over")}
    return [
        f"On {shown['day_label'].item()}, {show(attrs['food_mass'], 'mass')} of {food} put in at "
        f"{attrs['loaded_at']} {fate}.",
        *_evening_sentences(shown),
        f"Over the season it gets done on {days}; re-aimed {float(one['reaims']):.0f} times a cook, "
        f"{attention} of attention.",
        *_timetable_sentences(one, attrs),
        f"The pot takes in {100 * float(one['light_to_pot']):.0f} % of the beam at the mouth; a dry pot "
        f"left in the best sun would tend to {plateau}.",
        *limit_sentences(limits),
        _stray_sentence(day),
        *(f"Food: {caution}" for caution in json.loads(str(attrs["food_cautions"]))),
    ]


def _evening_sentences(shown: xr.Dataset) -> list[str]:
    """What becomes of the shown day's meal once the day is over, if it is done."""
    if math.isnan(float(shown["done_after"])):
        return []
    attrs, warm_for = shown.attrs, float(shown["warm_for"])
    if not warm_for > 0:
        return [f"By {_later(attrs, attrs['window'])} it has already cooled below 60 degC."]
    said = [_warm_sentence(attrs, warm_for, still=bool(shown["still_warm"] == 1))]
    late = float(shown["kept_for"]) - warm_for
    if late > 0:
        eaten = _later(attrs, attrs["window"] + float(shown["kept_for"]))
        said.append(
            f"Kept until {eaten} it has been below 60 degC for {show(late, 'time', digits=2)} when it is eaten."
        )
    return said


def _stray_sentence(day: xr.Dataset) -> str:
    """The caution that belongs to light thrown back over the rim, with its numbers."""
    strongest, beyond = float(day["stray_suns"].max()), float(day["stray_plain_beyond"])
    reach = (
        f"and no stronger than plain sun from {beyond:.2g} m on" if math.isfinite(beyond) else "even 5 m away"
    )
    return (
        f"Eyes and skin: light thrown back over the rim is up to {strongest:.1f} suns in front of the mouth, {reach} "
        "(perfect mirrors assumed); turn the oven away or cover it before you work at it."
    )


def _timetable_sentences(one: xr.Dataset, attrs: dict[str, Any]) -> list[str]:
    """Latest start on the shown day, and meals over all days."""
    latest = float(one["latest_start"][int(attrs["shown_day"])])
    weight = one["day_weight"].to_numpy()
    meals = float((one["meals"].to_numpy() * weight).sum() / weight.sum())
    if math.isnan(latest):
        return []
    return [
        f"On that day it still gets done when put in by {_later(attrs, latest)}; "
        f"one pot after another makes {meals:.1f} meals a day on average."
    ]


def _text(column: xr.DataArray, row: int) -> str:
    value = column.to_numpy()[row]
    if column.dtype.kind in "UO":
        return str(value)
    return show(float(value), str(column.attrs["dimension"]), digits=3)


def markdown(
    title: str,
    parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]],
    *,
    cautions: Sequence[tuple[str, str, str]],
    command: str,
) -> str:
    """A whole run as one Markdown page beside its figures.

    Parameters
    ----------
    parts : (result, its figures) of each study, in order
    cautions : (where, text, who has the last word)
    command : the command that makes it all again
    """
    lines = [f"# {title}", ""]
    for result, drawings in parts:
        lines += [f"## {str(result.attrs['study_name']).capitalize()}", ""]
        lines += [f"- {sentence}" for sentence in sentences(result)]
        lines.append("")
        for drawing in drawings:
            name = f"{result.attrs['study_name']}-{drawing.name}"
            lines += [
                f"![{drawing.name}]({name}.svg)",
                "",
                f"{drawing.caption} Numbers: [{name}.csv]({name}.csv).",
                "",
            ]
    lines += ["## Before anyone builds or cooks", ""]
    lines += [f"- **{where}**: {text} Last word: {who}." for where, text, who in cautions]
    first = parts[0][0].attrs if parts else {}
    versions = json.loads(str(first.get("versions", "{}")))
    lines += [
        "",
        "## Where this comes from",
        "",
        f"- Made {first.get('created', '')} by model {first.get('model_hash', '')}, "
        f"seed {first.get('seed', '')}; "
        + ", ".join(f"{name} {number}" for name, number in versions.items())
        + ".",
        f"- Sky: {first.get('sky', '')}.",
        f"- Again, from the same config: `{command}`",
        "",
    ]
    return "\n".join(lines)
