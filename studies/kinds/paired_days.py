"""What a comparison of designs holds: the designs, their days, and how they differ on which days."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import LIMITS, MERITS, Design, Sky, Status
from ..asking.quantity import difference_of
from ..judging.outcomes import STOPPED
from ..judging.robust import kept_by
from ..methods.paired import Resampling, among_best, counts, mean_difference
from .labels import attributes, differing

Floats = NDArray[np.float64]

# Kinds of day, by the clearness of the hours between loading and the day's end; common practice, no source.
KINDS_OF_DAY = {"dull": 0.35, "mixed": 0.65, "clear": np.inf}

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)

# What each of `Counts` counts.
_TALLIES = {
    "better": "the rival is better by more than the slack",
    "worse": "the rival is worse by more than the slack",
    "alike": "both are alike",
    "only_other": "only the rival gets there",
    "only_first": "only the first design gets there",
    "neither": "neither gets there",
}


class Ran(NamedTuple):
    """What became of every design under every draw."""

    whole: Mapping[str, Floats]  # merit or limit -> [design, draw]
    days: Mapping[str, Floats]  # merit -> [design, draw, day]
    status: NDArray[np.int64]  # [design, draw]
    failures: Mapping[int, str]  # row of (design, draw) -> why it stopped


class Groups(NamedTuple):
    """Days that are looked at together."""

    names: tuple[str, ...]
    sorts: tuple[str, ...]  # "all", "month" or "sky"
    days: NDArray[np.bool_]  # [group, day]


def clearness_of(sky: Sky) -> Floats:
    """Global over extraterrestrial light on a horizontal plane, from loading to the day's end. float64[day]"""
    outside = sky.extraterrestrial * np.maximum(sky.to_sun[..., 2], 0.0).sum(axis=1)
    return np.asarray(sky.ghi.sum(axis=1) / outside[sky.day_path])


def kinds_of_day(sky: Sky) -> NDArray[np.str_]:
    """Clear, mixed or dull. str[day]"""
    place = np.searchsorted(list(KINDS_OF_DAY.values()), clearness_of(sky), side="right")
    return np.array(list(KINDS_OF_DAY), dtype=np.str_)[place]


def groups_of(sky: Sky) -> Groups:
    """All days, those of each month, and those of each kind; no group that is all days again."""
    kinds, months = kinds_of_day(sky), list(dict.fromkeys(sky.day_month.tolist()))
    found = [("all days", "all", np.ones(sky.days, bool))]
    if len(months) > 1:
        found += [(_MONTHS[month - 1], "month", sky.day_month == month) for month in months]
    present = [kind for kind in reversed(KINDS_OF_DAY) if (kinds == kind).any()]
    if len(present) > 1:
        found += [(f"{kind} days", "sky", kinds == kind) for kind in present]
    names, sorts, days = zip(*found, strict=True)
    return Groups(names, sorts, np.array(days))


def designs_dataset(
    names: Sequence[str], designs: Sequence[Design], ran: Ran, sky: Sky, currency: str
) -> xr.Dataset:
    """The designs, what each does, and what became of every day."""
    known, status = MERITS | LIMITS, _worst(ran.status)
    variables: dict[str, Any] = {
        "status": ("design", status, attributes("0 ran under every draw, else why not")),
        "reason": (
            "design",
            _reasons(ran, status),
            attributes("why a design did not run under every draw, in words"),
        ),
    }
    for name, column in ran.whole.items():
        about = {"units": known[name].unit(currency), "long_name": known[name].meaning}
        variables[name] = (("design", "draw"), column, about)
    for merit, column in ran.days.items():
        about = _about(merit, MERITS[merit].dimension, "on each day")
        variables[f"{merit}_by_day"] = (("design", "draw", "day"), column, about)
    coordinates = {
        "design": (
            "design",
            list(names),
            attributes("name of the design; the others are compared with the first"),
        ),
        "rival": ("rival", list(names[1:]), attributes("name of a design that is compared with the first")),
        "draw": (
            "draw",
            np.arange(ran.status.shape[1]),
            attributes("number of the draw of what nobody decides"),
        ),
    }
    return xr.Dataset(variables, coords=coordinates | differing(designs) | _days(sky))


def _worst(status: NDArray[np.int64]) -> NDArray[np.int64]:
    """The first status of each design that is not 0, if any. int64[design]"""
    return np.asarray(status[np.arange(len(status)), np.argmax(status != 0, axis=1)])


def _reasons(ran: Ran, status: NDArray[np.int64]) -> NDArray[np.str_]:
    """A sentence for each design that did not run; none for those that did."""
    reasons = []
    for design, code in enumerate(status.tolist()):
        row = design * ran.status.shape[1] + int(np.argmax(ran.status[design] != 0))
        if code == STOPPED:
            reasons.append(ran.failures.get(row, "the model stopped with an error"))
        else:
            reasons.append(
                "" if code == 0 else Status(code).sentence if code > 0 else Status.NOT_FINITE.sentence
            )
    return np.array(reasons, dtype=np.str_)


def _days(sky: Sky) -> dict[str, Any]:
    return {
        "day": ("day", np.arange(sky.days), attributes("number of the day")),
        "day_label": ("day", np.array(sky.day_label, dtype=np.str_), attributes("what the day is")),
        "day_month": ("day", sky.day_month, attributes("month, 1 to 12")),
        "day_weight": ("day", sky.day_weight, attributes("real days that the day stands for")),
        "day_clearness": (
            "day",
            clearness_of(sky),
            attributes("global over extraterrestrial light, loading to day's end"),
        ),
        "day_kind": ("day", kinds_of_day(sky), attributes("kind of day, by its clearness")),
    }


def group_coordinates(groups: Groups, sky: Sky) -> dict[str, Any]:
    """The groups of days as coordinates."""
    return {
        "group": ("group", list(groups.names), attributes("days that are looked at together")),
        "group_sort": ("group", list(groups.sorts), attributes("by what the days are grouped")),
        "group_days": ("group", groups.days @ sky.day_weight, attributes("real days in the group")),
    }


def compared(
    merit: str, days: Floats, sky: Sky, groups: Groups, *, weights: Resampling, slack: float
) -> dict[str, Any]:
    """Differences of every rival from the first design in each group of days, with intervals; days won and lost.

    Parameters
    ----------
    days : float64[design, draw, day]
        nan: never got there.
    """
    less, weight, over = MERITS[merit].better == "less", sky.day_weight, ("rival", "group")
    gap = difference_of(MERITS[merit].dimension)
    means = np.array(
        [[mean_difference(d - days[0], weight * group, weights) for group in groups.days] for d in days[1:]]
    )
    tallies = [counts(days[0], d, weight, groups.days, slack=slack, less_is_better=less) for d in days[1:]]
    best = among_best(days, weight, groups.days, slack=slack, less_is_better=less)
    middle = kept_by(days.reshape(len(days), -1), np.tile(weight, days.shape[1]), 0.5, MERITS[merit].better)
    mean = "rival less first design, mean of the days on which both have a value"
    variables = {
        f"{merit}_difference": (over, means[..., 0], _about(merit, gap, mean) | {"slack": slack}),
        f"{merit}_difference_low": (over, means[..., 1], _about(merit, gap, f"{mean}, lower end")),
        f"{merit}_difference_high": (over, means[..., 2], _about(merit, gap, f"{mean}, upper end")),
        f"{merit}_difference_by_draw": (
            ("rival", "draw"),
            _means(days, weight, (-1,)),
            _about(merit, gap, f"{mean}, under each draw"),
        ),
        f"{merit}_middle": (
            "design",
            middle,
            _about(merit, MERITS[merit].dimension, "on the middle one of the days and draws"),
        ),
        f"{merit}_days_among_best": (
            ("design", "group"),
            best,
            attributes("real days on which the design is within the slack of the best of all designs"),
        ),
    }
    for name, meaning in _TALLIES.items():
        column = np.array([getattr(tally, name) for tally in tallies])
        variables[f"{merit}_days_{name}"] = (over, column, attributes(f"real days on which {meaning}"))
    return variables


def ray_noise(merit: str, runs: Sequence[Ran], sky: Sky) -> dict[str, Any]:
    """How far the mean difference moves when other rays are traced: its standard deviation over the runs."""
    means = [_means(run.days[merit], sky.day_weight, (-2, -1)) for run in runs]
    gap = difference_of(MERITS[merit].dimension)
    about = _about(merit, gap, "standard deviation of the mean difference when other rays are traced")
    return {f"{merit}_ray_noise": ("rival", np.std(means, axis=0, ddof=1), about)}


def _means(days: Floats, weight: Floats, over: tuple[int, ...]) -> Floats:
    """Mean difference over the last axes where both have a value, float64[rival, ...]; nan where there is none."""
    difference = days[1:] - days[:1]
    has = np.isfinite(difference)
    summed = (np.where(has, difference, 0.0) * weight).sum(axis=over)
    total = (has * weight).sum(axis=over)
    found: Floats = np.divide(summed, total, out=np.full(total.shape, np.nan), where=total > 0)
    return found


def _about(merit: str, dimension: str, which: str) -> dict[str, Any]:
    """Attributes of what is made of a merit of single days."""
    meaning = MERITS[merit].meaning.partition(",")[0].removeprefix("share of days on which ")
    return {"units": MERITS[merit].unit(""), "long_name": f"{meaning}: {which}", "dimension": dimension}
