"""What a fit to test cooks says: what was built, how surely, what cannot be told apart, and what to test next."""

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from .next_test_words import next_test_sentences
from .phrases import listed, said, spoken

_ALIKE = 0.9  # correlation from which two factors are said to pull the same way
_BLIND = (
    0.10  # standard error of a logarithm or share of a range from which a direction is said to be unknown
)
_SHARE = 0.25  # of its variance that a prior took away, from which an interval rests on it
_APART = 1.5  # ratio of two ways to an interval, from which it is said that they differ
_INSIDE = 0.85  # share of held-out readings in the band, below which the band is not to be believed
_OF_RAYS = 0.7  # of the standard error, from which more rays are worth it: half of the variance
_DIFFER = 0.03  # of a logarithm or a range from cook to cook, from which it is worth a word
_NOTHING = 0.7  # standard error by the readings alone from which they are said to tell nothing
_NORMAL = 1.96  # standard errors to the end of a 95 % interval of a normal distribution
_SLOW = 2.0  # readings for one independent one, from which it is worth a word
_STRUCTURE = (
    3.0  # deviations of stated scatter that are left after the fit, from which the model is said to miss
)

# What a builder looks at first, by factor and by whether it is found above or below its description.
_LOOK = {
    (
        "light_ratio",
        -1,
    ): "look for dust and haze on mirrors and cover, facets out of angle, and an oven aimed late",
    (
        "light_ratio",
        1,
    ): "look at the sunlight meter and its cleanliness, and at the mirror's data: no oven beats its mirrors",
    (
        "loss_ratio",
        1,
    ): "look for gaps at cover and door, wet or squeezed insulation, and bridges of metal or wood",
    ("loss_ratio", -1): "look at whether the wind at the oven was less than the log or the config says",
    (
        "coupling_ratio",
        -1,
    ): "look at where the food's thermometer sat, and whether the pot was stirred or less full",
    ("coupling_ratio", 1): "look at where the thermometers sat, and whether the pot was stirred",
}


def fit_sentences(result: xr.Dataset) -> list[str]:
    """What the cooks found, what they cannot tell, how well the fitted oven foretells, and the next move."""
    factors = [str(name) for name in result["factor"].to_numpy()]
    return [
        *(_found(result.sel(factor=name)) for name in factors),
        *_looking(result, factors),
        _agreement(result),
        *_disagreement(result),
        *_unmeasured(result),
        *_instrument(result, factors),
        *_independence(result),
        *apart_sentences(result),
        *_bounds(result, factors),
        *_priors(result, factors),
        *_offsets(result),
        *_held_out(result),
        *next_test_sentences(result),
        *_doubts(result),
    ]


def _found(one: xr.Dataset) -> str:
    """A factor's estimate with its interval."""
    dimension = str(one["factor_dimension"].item())
    digits = _digits(one)
    value, low, high = (
        said(float(one[name]), dimension, one.attrs, digits=digits) for name in ("estimate", "low", "high")
    )
    described = said(float(one["described"]), dimension, one.attrs, digits=3)
    meaning = str(one["factor_meaning"].item())
    surely = "" if _differs(one) else "; the cooks do not tell it from what was described"
    return (
        f"{spoken(one['factor'].item())} ({meaning}): {value}, 95 % interval {low} to {high}; "
        f"described as {described}{surely}."
    )


def _digits(one: xr.Dataset) -> int:
    """Digits that tell both ends of an interval apart."""
    width = abs(float(one["high"]) - float(one["low"]))
    largest = max(abs(float(one["low"])), abs(float(one["high"])))
    return 3 if width <= 0 or largest <= 0 else min(max(math.ceil(math.log10(largest / width)) + 2, 3), 6)


def _differs(one: xr.Dataset) -> bool:
    return not float(one["low"]) <= float(one["described"]) <= float(one["high"])


def _looking(result: xr.Dataset, factors: list[str]) -> Iterator[str]:
    """Where a builder looks first for what was found."""
    for name in factors:
        one = result.sel(factor=name)
        side = 1 if float(one["estimate"]) > float(one["described"]) else -1
        if _differs(one) and (name, side) in _LOOK:
            more = "above" if side > 0 else "below"
            yield f"{spoken(name)} is {more} its description: {_LOOK[name, side]}."


def _agreement(result: xr.Dataset) -> str:
    """How far the described and the fitted oven are off, by thermometer."""
    used = result["held_out"].to_numpy()[result["series_cook"].to_numpy()] == 0
    each = []
    for sensor in dict.fromkeys(result["series_sensor"].to_numpy()[used].tolist()):
        own = used & (result["series_sensor"].to_numpy() == sensor)
        weight = result["series_readings"].to_numpy()[own]
        before, after = (
            math.sqrt(
                np.average(np.nan_to_num(result[name].to_numpy()[own]) ** 2, weights=np.maximum(weight, 1e-9))
            )
            for name in ("series_before", "series_after")
        )
        each.append(
            f"the {spoken(sensor)} by {_kelvin(before, result)} as described and {_kelvin(after, result)} as fitted"
        )
    count = int((result["held_out"] == 0).sum())
    cooks = "1 cook" if count == 1 else f"{count} cooks"
    return f"Over {cooks} the model misses {listed(each)} (root mean square)."


def _kelvin(value: float, result: xr.Dataset) -> str:
    return said(value, "temperature_difference", result.attrs, digits=2)


def _disagreement(result: xr.Dataset) -> Iterator[str]:
    """Factors that differ from cook to cook by more than the cooks are unsure."""
    for name in result["factor"].to_numpy():
        one = result.sel(factor=name)
        if float(one["between_cooks"]) < _DIFFER:
            continue
        known = np.isfinite(one["cook_estimate"].to_numpy())
        each = [
            f'{said(value, str(one["factor_dimension"].item()), one.attrs, digits=3)} in "{cook}"'
            for value, cook in zip(
                one["cook_estimate"].to_numpy()[known], one["cook"].to_numpy()[known], strict=True
            )
        ]
        yield (
            f"{spoken(name)} differs from cook to cook by more than each is unsure of it: {listed(each)}. Something "
            "differed that the log does not say, such as wind, aiming, filling or dust; the interval is wider for it."
        )


def _unmeasured(result: xr.Dataset) -> Iterator[str]:
    """Cooks whose sun nobody measured."""
    blind = (result["sun_measured"] == 0) & (result["held_out"] == 0)
    names = [f'"{name}"' for name in result["cook"].to_numpy()[blind.to_numpy()]]
    if names:
        yield (
            f"Nobody measured the sun in {listed(names)}: a clear sky stands in, and what haze took away there is "
            "found as light that the oven did not take in. Measure it, or leave the cook out."
        )


def _instrument(result: xr.Dataset, factors: list[str]) -> Iterator[str]:
    """What no reading of a thermometer can tell: whether the sun was read right."""
    measured = (result["sun_measured"] == 1) & (result["held_out"] == 0)
    if "light_ratio" in factors and bool(measured.any()):
        yield (
            "Light ratio is of the oven and the sunlight's instrument together: one that reads 5 % too high makes it "
            "5 % too low, and the interval does not know. Hold it "
            "beside another instrument before you blame the mirror."
        )


def _independence(result: xr.Dataset) -> Iterator[str]:
    """How many independent readings there are, where neighbours err alike."""
    slow = result["series_slowness"].to_numpy()
    readings = result["series_readings"].to_numpy()[np.isfinite(slow)]
    slow = slow[np.isfinite(slow)]
    worth = float((readings / slow).sum())
    if readings.sum() > _SLOW * worth:
        yield (
            f"Neighbouring readings err alike: {readings.sum():.0f} of them are worth {worth:.0f} independent ones, "
            "and the intervals are those of so many."
        )


def apart_sentences(result: xr.Dataset) -> Iterator[str]:
    """Which factors pull the same way, and in which direction next to nothing is known."""
    names = [str(name) for name in result["factor"].to_numpy()]
    correlation, error = result["correlation"].to_numpy(), result["standard_error"].to_numpy()
    told = False
    for i in range(len(names)):
        for j in range(i):
            if abs(correlation[i, j]) > _ALIKE and max(error[i], error[j]) > _BLIND / 4:
                told = True
                yield (
                    f"{spoken(names[j])} and {spoken(names[i])} are hard to tell apart in these cooks: their estimates "
                    f"have a correlation of {correlation[i, j]:+.2f}."
                )
    blind = _worst_direction(result)
    if blind:
        yield blind
    planned = json.loads(str(result.attrs.get("next_test", "{}")))
    if (told or blind) and not planned:
        yield (
            "To tell them apart: log the pot as well as the food, and shade the mouth with a board for the last half "
            "hour of a cook while the loggers run: cooling tells the loss alone."
        )
    if planned.get("shade") or ((told or blind) and not planned):
        yield "Put a board before the mouth from behind, out of the beam: light from the mirrors burns and blinds."


def _worst_direction(result: xr.Dataset) -> str:
    """The combination of factors that the readings tell least, where they tell it badly."""
    error = float(result["direction_error"][-1])
    if error < _BLIND:
        return ""
    parts = result["direction_part"].to_numpy()[-1]
    names = [spoken(name) for name in result["factor"].to_numpy()]
    order = [k for k in np.argsort(-np.abs(parts)) if abs(parts[k]) > 0.2]
    each = [f"{'more' if parts[k] > 0 else 'less'} {names[k]}" for k in order]
    known = "not at all" if error > 3 else f"only to {100 * error:.0f} %"
    if len(order) == 1:
        return f"The readings alone tell {names[order[0]]} {known}" + (
            "." if error > 3 else " (standard error)."
        )
    return f"The readings alone tell {listed(each)} at once {known} (standard error along that direction)."


def _bounds(result: xr.Dataset, factors: list[str]) -> Iterator[str]:
    for name in factors:
        one = result.sel(factor=name)
        if int(one["at_bound"]):
            end = "factor_low" if int(one["at_bound"]) < 0 else "factor_high"
            limit = said(float(one[end]), str(one["factor_dimension"].item()), one.attrs, digits=3)
            yield (
                f"{spoken(name)} stopped at the end of what was allowed, {limit}: its interval says nothing. The log "
                "or the description is wrong in some other way, or give it a wider range."
            )


def _priors(result: xr.Dataset, factors: list[str]) -> Iterator[str]:
    """Intervals that rest on what was known before the cooks."""
    for name in factors:
        one = result.sel(factor=name)
        alone, both = float(one["without_prior"]), float(one["readings_error"])
        if not np.isfinite(float(one["prior_deviation"])):
            if alone > _NOTHING:
                yield (
                    f"The cooks tell next to nothing of {spoken(name)}: it is left near its description, and its "
                    "interval is a guess."
                )
        elif both**2 < (1 - _SHARE) * alone**2:
            dimension = str(one["factor_dimension"].item())
            middle = said(float(one["prior_middle"]), dimension, one.attrs, digits=3)
            width = said(float(one["prior_deviation"]), difference_of(dimension), one.attrs, digits=2)
            yield (
                f"The interval of {spoken(name)} rests on what was known before, {middle} +- {width}, more than on "
                "the cooks."
            )


def _offsets(result: xr.Dataset) -> Iterator[str]:
    for k in range(result.sizes.get("offset", 0)):
        one = result.isel(offset=k)
        off, low, high = (float(one[f"offset_{name}"]) for name in ("estimate", "low", "high"))
        if low > 0 or high < 0:
            more = "high" if off > 0 else "low"
            yield (
                f'In "{one["offset_cook"].item()}" the {spoken(one["offset_sensor"].item())} thermometer reads '
                f"{_kelvin(abs(off), result)} too {more}, if the model is right: check it in ice and in boiling water."
            )


def _held_out(result: xr.Dataset) -> Iterator[str]:
    """How well the fitted oven foretells cooks that it was not fitted to."""
    held = result["held_out"].to_numpy()
    for k in np.flatnonzero(held == 1):
        own = result["series_cook"].to_numpy() == k
        share = _mean(result["series_inside"].to_numpy()[own], result["series_readings"].to_numpy()[own])
        each = [
            f"the {spoken(sensor)} within {_kelvin(after, result)} (as described: {_kelvin(before, result)})"
            for sensor, before, after in zip(
                result["series_sensor"].to_numpy()[own],
                result["series_before"].to_numpy()[own],
                result["series_after"].to_numpy()[own],
                strict=True,
            )
        ]
        name = result["cook"].to_numpy()[k]
        yield (
            f'"{name}", held out, is foretold: {listed(each)}; {100 * share:.0f} % of its readings lie within '
            "the 95 % band."
        )
        if share < _INSIDE:
            yield (
                f'The band misses "{name}" too often: something differed in that cook that the fit does not know, such '
                "as wind, aiming or filling. Add it to the cooks that are fitted to before you rely on the intervals."
            )


def _mean(values: Any, weight: Any) -> float:
    return float(np.average(np.nan_to_num(values), weights=np.maximum(weight, 1e-9)))


def _otherwise(result: xr.Dataset) -> Iterator[str]:
    """Intervals that refits to resampled residuals make otherwise, as far as readings make them."""
    for name in result["factor"].to_numpy():
        one = result.sel(factor=name)
        # Refits know nothing of how surely the scatter is known, of rays, and of what differs from cook to cook.
        width = float(one["high"] - one["low"]) * float(one["readings_error"] / one["standard_error"])
        width *= _NORMAL / float(result.attrs["quantile"])
        blocks = float(one["block_high"] - one["block_low"])
        if not np.isfinite(blocks) or int(one["at_bound"]) or 1 / _APART < blocks / width < _APART:
            continue
        more = "wider" if blocks > width else "narrower"
        low, high = (
            said(float(one[end]), str(one["factor_dimension"].item()), one.attrs, digits=3)
            for end in ("block_low", "block_high")
        )
        yield (
            f"Refits to resampled residuals make the interval of {spoken(name)} {more}, {low} to {high}: take the "
            "wider one."
        )


def _of_rays(result: xr.Dataset) -> Iterator[str]:
    """Factors whose interval is wide for want of rays."""
    share = (result["ray_noise"] / result["standard_error"]).to_numpy()
    names = [spoken(name) for name in result["factor"].to_numpy()[share > _OF_RAYS]]
    if names:
        yield (
            f"Much of the interval of {listed(names)} is the ray tracer's own noise with {result.attrs['rays']} rays a "
            "minute: a larger `rays` narrows it."
        )


def _doubts(result: xr.Dataset) -> Iterator[str]:
    """What makes the intervals doubtful."""
    if not result.attrs["converged"]:
        yield "The fit did not settle: do not use its numbers; look at the log and the ranges first."
    yield from _otherwise(result)
    yield from _of_rays(result)
    scatter, slow = result["series_scatter"].to_numpy(), result["series_slowness"].to_numpy()
    for k in np.flatnonzero(np.isfinite(scatter)):
        if scatter[k] > _STRUCTURE * 0.5 and slow[k] > 5:
            cook = result["cook"].to_numpy()[int(result["series_cook"][k])]
            sensor = spoken(result["series_sensor"].to_numpy()[k])
            yield (
                f'In "{cook}" the {sensor} stays {_kelvin(scatter[k], result)} off for '
                "many readings together: the model misses something there (look at the residuals over time), and the "
                "factors may make up for it."
            )
