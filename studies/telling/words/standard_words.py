"""What a test by the published procedures says: its figure, what voids it, what is left to do."""

import json
import math
import re
from collections import Counter
from typing import Any

import numpy as np
import xarray as xr

from ...asking.quantity import System, show
from .phrases import listed

DAYS_DIFFER = 0.05  # chance under which days are noted to differ

_FIGURES = {
    "cooking power": "standardised cooking power",
    "first figure": "first figure of merit F1",
    "second figure": "second figure of merit F2",
}


def standard_sentences(result: xr.Dataset) -> list[str]:
    """The test, most important first."""
    return [
        *_headline(result),
        *_refused(result),
        *_merits(result),
        *_standing(result),
        *_days(result),
        *_lacking(result),
        *_void(result),
        *_unused(result),
        *_slope(result),
        *_clauses(result),
    ]


def nothing_found(result: xr.Dataset) -> bool:
    """Whether the cooks gave no figure at all."""
    names = ("power_at_50", "first_figure_mean", "second_figure_mean")
    return not any(math.isfinite(float(result[name])) for name in names)


def noted(result: xr.Dataset, name: str) -> Any:
    """One of the attributes that hold sentences."""
    return json.loads(str(result.attrs[name]))


def beside_si(result: xr.Dataset) -> System:
    """Units beside SI: Fahrenheit where the config says so, or the log of a cook that counts was written in it."""
    counts = result["status"].to_numpy() == 0
    logged = "degF" in result["written_in"].to_numpy()[counts].tolist()
    return "inch" if logged or result.attrs.get("shown_in") == "inch" else "metric"


def difference(result: xr.Dataset, kelvin: float, digits: int = 3) -> str:
    """A difference of temperatures, in the log's own degrees beside kelvin where they differ."""
    text = show(kelvin, "temperature_difference", digits=digits)
    if beside_si(result) == "metric":
        return text
    return f"{text} ({show(kelvin, 'temperature_difference', 'inch', digits=digits)})"


def standing(result: xr.Dataset) -> str:
    """What the figure may be called: "by the standard", "with deviations" or "an estimate"."""
    if noted(result, "estimates"):
        return "an estimate"
    missed = [figure for figure in noted(result, "refused") if _tried(result, figure)]
    return "with deviations" if missed or any(noted(result, "faults").values()) else "by the standard"


def _number(result: xr.Dataset, name: str) -> float:
    return float(result[name])


def watts(value: float) -> str:
    """Power to the tenth of a watt, or to the watt from 100 W on."""
    return f"{value:.0f} W" if abs(value) >= 100 else f"{value:.1f} W"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _headline(result: xr.Dataset) -> list[str]:
    if not math.isfinite(_number(result, "power_at_50")):
        return []
    counted = result["counted"].to_numpy() == 1
    cooks = result["interval_cook"].to_numpy()[counted]
    days = len(set(result["date"].to_numpy()[cooks].tolist()))
    return [
        f"Standardised cooking power with the water {difference(result, _number(result, 'reported_at'))} above the "
        f"air: {watts(_number(result, 'power_at_50'))}, {100 * _number(result, 'confidence'):.0f} % interval "
        f"{watts(_number(result, 'power_low'))} to {watts(_number(result, 'power_high'))}, from "
        f"{_counted(int(counted.sum()), 'interval')} of 10 min on {_counted(days, 'day')} "
        f"(S580, edition of {result.attrs['edition']})."
    ]


def _standing(result: xr.Dataset) -> list[str]:
    """Whether the figure may be published as the standard's."""
    if nothing_found(result):
        return []
    how = standing(result)
    if how == "an estimate":
        why = "; ".join(noted(result, "estimates"))
        return [
            f"This is an ESTIMATE, not a figure to publish: {why}. Measure global irradiance on the plane that the "
            "standard names: facing the sun for the cooking power, level for F1 and F2."
        ]
    if how == "with deviations":
        return ["Publish it only with its deviations, which follow."]
    return ["Nothing that the standard asks and a log can show is missing."]


def _days(result: xr.Dataset) -> list[str]:
    chance = _number(result, "day_chance")
    if not chance < DAYS_DIFFER:
        return []
    low, high = _number(result, "days_low"), _number(result, "days_high")
    return [
        f"The days differ by more than their points scatter (chance {chance:.2g}), so the interval is too narrow: with "
        f"each day counted once it is {watts(low)} to {watts(high)}. Look for what changed between them: wind, dust on "
        "the mirrors, aiming, the lid; test on more days."
    ]


def _lacking(result: xr.Dataset) -> list[str]:
    return [
        f"Not as the standard asks, {_FIGURES[figure]}: {'; '.join(faults)}."
        for figure, faults in noted(result, "faults").items()
        if faults
    ]


def rejections(result: xr.Dataset) -> Counter[str]:
    """How many intervals each reason voided; one may have several."""
    every = result["reasons"].to_numpy().tolist()
    return Counter(reason for reasons in every for reason in reasons.split("; ") if reason)


def _void(result: xr.Dataset) -> list[str]:
    total = result.sizes["interval"]
    void = total - int(result["counted"].sum())
    if "cooking power" in noted(result, "refused"):
        return []  # the refusal counts them
    if not void:
        return [f"All {total} intervals count."] if total else []
    why = "; ".join(f"{reason} ({count})" for reason, count in rejections(result).most_common())
    return [f"Of {_counted(total, 'interval')} {void} {'does' if void == 1 else 'do'} not count: {why}."]


def _merits(result: xr.Dataset) -> list[str]:
    lines = []
    for k, name in enumerate(result["cook"].to_numpy()):
        one = result.isel(cook=k)
        first, second = float(one["first_figure"]), float(one["second_figure"])
        if math.isfinite(first):
            grade = str(one["grade"].item())
            graded = f"grade {grade}" if grade != "none" else "below both grades"
            lines.append(
                f"{name}: F1 = {first:.3f} K m2/W ({graded}), the plate at "
                f"{_hot(result, float(one['plate_temperature']))} under "
                f"{float(one['stagnation_irradiance']):.0f} W/m2. "
                "F1 falls as the sun gets stronger: compare at like sun."
            )
        if math.isfinite(second):
            taken = show(float(one["heating_time"]), "time", digits=3)
            lines.append(f"{name}: F2 = {second:.3f}; the water took {taken} from 60 to 90 degC.")
    return lines


def _hot(result: xr.Dataset, temperature: float) -> str:
    text = show(temperature, "temperature", digits=4)
    if beside_si(result) == "metric":
        return text
    return f"{text} ({show(temperature, 'temperature', 'inch', digits=4)})"


def _refused(result: xr.Dataset) -> list[str]:
    refused = noted(result, "refused")
    wanted = {
        figure: why for figure, why in refused.items() if figure == "cooking power" or _tried(result, figure)
    }
    return [f"No {_FIGURES[figure]}: {why}." for figure, why in wanted.items()]


def _tried(result: xr.Dataset, figure: str) -> bool:
    """Whether a cook was meant for a figure of merit; nobody misses what nobody tested."""
    return figure in result["role"].to_numpy().tolist()


def _unused(result: xr.Dataset) -> list[str]:
    return [f"Not used: {why}." for why in result["why_not"].to_numpy().tolist() if why]


def _slope(result: xr.Dataset) -> list[str]:
    slope = _number(result, "slope")
    if not math.isfinite(slope):
        return []
    counted = result["counted"].to_numpy() == 1
    sun = float(np.mean(result["interval_irradiance"].to_numpy()[counted]))
    return [
        f"The line: {watts(_number(result, 'intercept'))} with the water as warm as the air, "
        f"{abs(slope):.2f} W {'less' if slope < 0 else 'more'} for each kelvin above it, R2 = "
        f"{_number(result, 'r_squared'):.3f}. At the mean {sun:.0f} W/m2 of the test such a slope stands for a loss of "
        f"about {-slope * sun / 700:.2f} W/K, because bringing powers to 700 W/m2 scales the loss as well."
    ]


def remembered(result: xr.Dataset) -> list[tuple[str, str]]:
    """Clauses that stand here from memory: what each says, and where it would be read."""
    parts = (re.fullmatch(r"from memory: (.*?) \((.*)\)", note) for note in noted(result, "from_memory"))
    return [(found[1], found[2]) for found in parts if found]


def _clauses(result: xr.Dataset) -> list[str]:
    clauses = remembered(result)
    if not clauses:
        return []
    sources = listed(sorted({source.split(",")[0] for _, source in clauses}))
    return [
        f"{_counted(len(clauses), 'clause')} of the standards stand here from memory, after {sources}: look them up in "
        "the standard itself before you publish."
    ]
