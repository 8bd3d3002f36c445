"""What one design does on its days, in sentences."""

import json
import math
from typing import Any

import xarray as xr

from .flow_words import flow_sentences
from .phrases import afar, danger_zone, later, limit_sentences, said, spoken


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
        peak = said(float(shown["peak_contents"]), "temperature", attrs)
        fate = f"does not get done; its coldest part reaches {peak}"
    else:
        fate = f"is safe by {later(attrs, safe)} and done by {later(attrs, done)}"
    share = float(one["share_done"])
    attention = said(float(one["attention_time"]), "time", attrs)
    days = f"{share * attrs['days_meant']:.0f} of {attrs['days_meant']:.0f} days"
    plateau = said(float(one["plateau_temperature"]), "temperature", attrs, digits=3)
    limits = {str(name): one[name] for name in day.data_vars if str(name).endswith("_over")}
    return [
        f"On {shown['day_label'].item()}, {said(attrs['food_mass'], 'mass', attrs)} of {food} put in at "
        f"{attrs['loaded_at']} {fate}.",
        *_evening_sentences(shown),
        f"Over the season it gets done on {days}; re-aimed {float(one['reaims']):.0f} times a cook, "
        f"{attention} of attention.",
        *_timetable_sentences(one, attrs),
        f"The pot takes in {100 * float(one['light_to_pot']):.0f} % of the beam at the mouth; a dry pot "
        f"left in the best sun would tend to {plateau}.",
        *flow_sentences(day),
        *limit_sentences(limits, attrs),
        _stray_sentence(day),
        *(f"Food: {caution}" for caution in json.loads(str(attrs["food_cautions"]))),
    ]


def _warm_sentence(attrs: dict[str, Any], warm_for: float, *, still: bool) -> str:
    """Until when a meal that is hot at the day's end stays so."""
    end, until = later(attrs, attrs["window"]), later(attrs, attrs["window"] + warm_for)
    cold, warm = danger_zone(attrs)
    if still:
        return (
            f"Left in the closed oven after {end} it is still above {warm} at {until}, where the model stops."
        )
    return (
        f"Left in the closed oven after {end} it stays above {warm} until {until}; from then on germs grow in it: "
        f"two hours between {cold} and {warm} in all, on a hot day one, and it is to be thrown away."
    )


def _evening_sentences(shown: xr.Dataset) -> list[str]:
    """What becomes of the shown day's meal once the day is over, if it is done."""
    if math.isnan(float(shown["done_after"])):
        return []
    attrs, warm_for = shown.attrs, float(shown["warm_for"])
    _, warm = danger_zone(attrs)
    if not warm_for > 0:
        return [f"By {later(attrs, attrs['window'])} it has already cooled below {warm}."]
    told = [_warm_sentence(attrs, warm_for, still=bool(shown["still_warm"] == 1))]
    late = float(shown["kept_for"]) - warm_for
    if late > 0:
        eaten = later(attrs, attrs["window"] + float(shown["kept_for"]))
        told.append(
            f"Kept until {eaten} it has been below {warm} for {said(late, 'time', attrs, digits=2)} when it is eaten."
        )
    return told


def _stray_sentence(day: xr.Dataset) -> str:
    """The caution that belongs to light thrown back over the rim, with its numbers."""
    strongest, beyond = float(day["stray_suns"].max()), float(day["stray_plain_beyond"])
    furthest = afar(float(day["distance"][-1]), day.attrs)
    reach = f"even {furthest} away"
    if math.isfinite(beyond):
        reach = f"and no stronger than plain sun from {afar(beyond, day.attrs)} on"
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
        f"On that day it still gets done when put in by {later(attrs, latest)}; "
        f"one pot after another makes {meals:.1f} meals a day on average."
    ]
