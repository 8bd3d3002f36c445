"""What a tolerance study says to a workshop: what to measure, how well, and what comes of usual work."""

import math

import numpy as np
import xarray as xr

from ...methods.tolerance import RELAXED, Care
from .phrases import later, listed, retold, said, spoken
from .tolerance_quantity import cost_text, never_text, quantity_text, reason_text, step_text, width_text

_SHAPES_WALL = ("mouth", "depth", "facet_angle", "second_bend", "third_bend")
_MIRROR_WORK = ("facet_angle", "second_bend", "third_bend", "slope_error", "soiling")
_NOISY = 0.2  # of the first step: a standard error larger than that blurs it
_SMALL_SHARE = 0.05  # of the variance: what is below is not listed
_TIGHT_FIT = 0.8  # R squared under which shares are a rough guide only


def tolerance_sentences(result: xr.Dataset) -> list[str]:
    """What usual work makes of the design, what to measure carefully, and what may be left alone."""
    careful, normal = (_of_care(result, care) for care in (Care.CAREFUL, Care.NORMAL))
    return [
        _designed(result),
        *_together(result),
        *_limits(result),
        _needed(result),
        *(f"Measure carefully: {quantity_text(result.sel(factor=name))}" for name in careful),
        *(f"Normal care: {quantity_text(result.sel(factor=name))}" for name in normal),
        *_relaxed(result),
        *_variance(result),
        *_mirror_caution([*careful, *normal]),
        *_doubts(result),
    ]


def care_order(result: xr.Dataset) -> list[str]:
    """Quantities, the tightest first; those that nothing stops by what they move at their accuracy."""
    ratio = result["ratio"].to_numpy()
    effect = np.abs(np.nan_to_num(result["at_accuracy"].to_numpy())).max(axis=1)
    order = np.lexsort((-effect, np.where(np.isnan(ratio), np.inf, ratio)))
    return [str(name) for name in result["factor"].to_numpy()[order]]


def _of_care(result: xr.Dataset, care: Care) -> list[str]:
    return [name for name in care_order(result) if int(result["care"].sel(factor=name)) == care]


def _designed(result: xr.Dataset) -> str:
    attrs = result.attrs
    value = float(attrs["goal_designed"])
    meal = (
        f"{said(attrs['food_mass'], 'mass', attrs)} of {spoken(attrs['food'])} put in at {attrs['loaded_at']}"
    )
    start = (
        f"Built just as designed, {meal} is done by {later(attrs, value)} on the middle day"
        if attrs["goal"] == "time_to_done"
        else f"Built just as designed, {spoken(attrs['goal'])} is "
        f"{said(value, attrs['goal_dimension'], attrs, digits=3)}"
    )
    worse = "later" if attrs["goal"] in ("time_to_done", "time_to_safe") else "worse"
    return (
        f'{start}. "Costs {step_text(result)}" means {step_text(result)} {worse} than that; each quantity is off by '
        "itself unless it says otherwise."
    )


def _hundred(share: float) -> str:
    return f"{100 * share:.0f}"


def _together(result: xr.Dataset) -> list[str]:
    """How many ovens keep each step when everything is off at once within the accuracies."""
    usual = result.sel(scale=1.0)
    kept = "; ".join(
        f"{_hundred(float(one['within']))} ({_hundred(float(one['within_low']))} to "
        f"{_hundred(float(one['within_high']))}) cost at most {step_text(result, number)}"
        for number, one in enumerate(usual.isel(level=k) for k in range(usual.sizes["level"]))
    )
    own = "usual accuracies" if result.attrs["accuracies"] == "usual" else "accuracies given"
    said = [f"Of 100 ovens with everything off at once, within the {own}: {kept}."]
    if float(usual["unbuilt"]) > 0:
        codes, count = np.unique(usual["drawn_status"].to_numpy(), return_counts=True)
        worst = int(codes[codes != 0][count[codes != 0].argmax()])
        said.append(f"{_hundred(float(usual['unbuilt']))} of 100 cannot be used: {reason_text(worst)}.")
    if float(usual["never"]) > 0:
        said.append(f"{_hundred(float(usual['never']))} of 100 {never_text(result)}.")
    return said


def _limits(result: xr.Dataset) -> list[str]:
    """Safety limits that ovens within the accuracies exceed."""
    told: list[str] = []
    for name in result["limit"].to_numpy():
        one = result.sel(limit=name)
        over = one["drawn_over"].to_numpy()
        if not (over > 0).any():
            continue
        worst = said(np.nanmax(over), str(one["limit_dimension"].item()), one.attrs, digits=2)
        own = (
            "the design itself is over it"
            if float(one["designed_over"]) > 0
            else "the design itself keeps it"
        )
        what = retold(one["limit_meaning"].item(), one.attrs)
        told.append(
            f"OVER A LIMIT in {_hundred(float((over > 0).mean()))} of 100 such ovens: {what}, "
            f"by up to {worst}; {own}."
        )
    return told or ["None of the ovens drawn exceeds a safety limit on any of the days."]


def _needed(result: xr.Dataset) -> str:
    """Which accuracies to ask of the workshop."""
    wanted, scale = float(result.attrs["wanted"]), float(result.attrs["scale_needed"])
    aim = f"{_hundred(wanted)} of 100 ovens within {step_text(result)}"
    tried = result["scale"].to_numpy()
    if math.isnan(scale):
        if float(result["within"][-1, 0]) >= wanted:
            return f"Even {tried[-1]:.2g} times as coarse, work keeps {aim}."
        return f"Not even {tried[0]:.2g} times these accuracies keep {aim}: change the design, or allow more."
    asked = [*_of_care(result, Care.CAREFUL), *_of_care(result, Care.NORMAL)] or care_order(result)[:3]
    widths = listed(
        [
            f"{spoken(name)} {width_text(one, scale * float(one['accuracy']))}"
            for name, one in ((name, result.sel(factor=name)) for name in asked)
        ]
    )
    how = "the workshop must be better than that" if scale < 1 else "the workshop may be coarser than that"
    return f"For {aim}, {how}: all accuracies times {scale:.2g}, so {widths}."


def _relaxed(result: xr.Dataset) -> list[str]:
    """What needs no care, and what has no effect at all."""
    names = _of_care(result, Care.RELAXED)
    excess = result["point_excess"]
    none = [name for name in names if not np.nan_to_num(excess.sel(factor=name).to_numpy()).any()]
    some = [name for name in names if name not in none]
    said = []
    if some:
        said.append(
            f"Not critical, {RELAXED:.0f} times the accuracy and more costs under {step_text(result)}: "
            f"{listed([spoken(name) for name in some])}."
        )
    if none:
        said.append(
            f"Of no effect on {spoken(result.attrs['goal'])}: {listed([spoken(name) for name in none])}."
        )
    idle = str(result.attrs.get("idle_factors", "")).split()
    if idle:
        said.append(
            f"Left out, as this design does not have them: {listed([spoken(name) for name in idle])}."
        )
    return said


def _variance(result: xr.Dataset) -> list[str]:
    """Where the spread of ovens comes from."""
    share, fit = result["variance_share"].to_numpy(), float(result.attrs["r_squared"])
    if not np.isfinite(share).any():
        return ["Too few of the drawn ovens have a value to tell where their spread comes from: draw more."]
    order = [k for k in np.argsort(-share, kind="stable") if share[k] >= _SMALL_SHARE]
    names = result["factor"].to_numpy()
    parts = listed([f"{spoken(names[k])} {_hundred(share[k])} %" for k in order]) or "no single quantity"
    curve = "parabolas" if result.attrs["bent_fit"] else "straight lines"
    rough = "" if fit >= _TIGHT_FIT else "; take these shares as a rough guide"
    return [
        f"The spread between ovens comes of {parts} (a sum of {curve} explains {_hundred(fit)} % of it, R^2 "
        f"adjusted{rough})."
    ]


def _mirror_caution(names: list[str]) -> list[str]:
    if not set(names) & set(_MIRROR_WORK):
        return []
    return [
        "Eyes and skin: bend, measure and wipe mirrors in the shade; a facet in the sun throws a burning patch."
    ]


def _doubts(result: xr.Dataset) -> list[str]:
    """What blurs the numbers, and what they take for granted."""
    known = result["noise"].to_numpy()
    noise = float(np.sqrt(np.mean(known[np.isfinite(known)] ** 2))) if np.isfinite(known).any() else 0.0
    level = float(result["level"][0])
    said = []
    if noise > 0:
        more = "; more rays or repeats would sharpen that" if noise > _NOISY * level else ""
        said.append(
            f"Every oven was run {result.attrs['repeats']} times with other rays: a cost is known within "
            f"{cost_text(result, 2 * noise)}{more}."
        )
    shaped = [name for name in _SHAPES_WALL if name in result["factor"].to_numpy()]
    if "facet_angle" in shaped and len(shaped) > 1:
        said.append("A facet angle that is off keeps mouth and depth here: the throat takes it up.")
    if result.attrs["accuracies"] == "usual":
        said.append(
            "The accuracies are common practice, no source: measure ten of your own parts and write what you find "
            "under [study.accuracy]."
        )
    return said
