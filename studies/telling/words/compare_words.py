"""What a comparison of designs says: which is better, by how much, how surely, and on which days."""

import math
from collections.abc import Iterator

import numpy as np
import xarray as xr

from ...asking.quantity import System, show
from .difference_phrases import WAYS, days_meant, gap_of, one_end, said, size_of, span
from .phrases import limit_sentences, listed, retold, spoken, system_of

_SURE = 2.0  # standard deviations of the rays' noise that a difference must exceed


def compare_sentences(result: xr.Dataset) -> list[str]:
    """Which design is better, by how much, how surely, and on which days."""
    ran = [str(name) for name in result["design"].to_numpy()[result["status"].to_numpy() == 0]]
    first = str(result["design"][0].item())
    days, whole = by_day(result), whole_outcomes(result)
    rivals = [str(name) for name in result["rival"].to_numpy() if str(name) in ran] if first in ran else []
    return [
        *_failures(result),
        *(line for rival in rivals for line in _of_rival(result, rival, first, days)),
        *(_among_best(result, days[0], ran) if len(ran) > 2 and days else []),
        *(_whole(result, name, ran) for name in whole),
        *(_noise(result, days[0], rivals) if rivals and days else []),
        *_limits(result, ran),
        *(_intervals(result) if rivals and days else []),
    ]


def by_day(result: xr.Dataset) -> list[str]:
    """Outcomes asked for that single days have."""
    return [name for name in str(result.attrs["outcomes"]).split() if f"{name}_by_day" in result]


def whole_outcomes(result: xr.Dataset) -> list[str]:
    """Outcomes asked for that have one value for all days."""
    return [name for name in str(result.attrs["outcomes"]).split() if f"{name}_by_day" not in result]


def _failures(result: xr.Dataset) -> Iterator[str]:
    for name, status, reason in zip(
        result["design"].to_numpy(), result["status"].to_numpy(), result["reason"].to_numpy(), strict=True
    ):
        if status != 0:
            when = "under every draw" if result.sizes["draw"] > 1 else "at all"
            yield f'"{name}" does not run {when}: {retold(reason, result.attrs)}. It is left out of what follows.'


def _of_rival(result: xr.Dataset, rival: str, first: str, merits: list[str]) -> Iterator[str]:
    """All that is said of one rival: the first outcome at length, the others in short."""
    one = result.sel(rival=rival)
    whole = one.sel(group="all days")
    for merit in merits:
        yield _difference(whole, merit, f'"{rival}"', f'"{first}"')
        if merit != merits[0] or _alike(whole, merit):
            continue
        never = math.isnan(float(whole[f"{merit}_difference"]))
        if not merit.startswith("share_") and not (never and _apart(whole, merit) == 0.0):
            yield _tally(whole, merit, rival, first)
        if never:
            continue
        yield from _when(one, merit, "month")
        yield from _when(one, merit, "sky")
        if result.sizes["draw"] > 1:
            yield _draws(one, merit)


def _alike(whole: xr.Dataset, merit: str) -> bool:
    """Whether both are the same to the last digit on every day."""
    ends = [float(whole[f"{merit}_difference{end}"]) for end in ("", "_low", "_high")]
    return ends == [0.0, 0.0, 0.0] and _apart(whole, merit) == 0.0


def _apart(whole: xr.Dataset, merit: str) -> float:
    """Real days on which only one of the two gets there."""
    return sum(float(whole[f"{merit}_days_only_{one}"]) for one in ("other", "first"))


def _difference(whole: xr.Dataset, merit: str, rival: str, first: str) -> str:
    """By how much, and how surely."""
    value, low, high = (float(whole[f"{merit}_difference{end}"]) for end in ("", "_low", "_high"))
    there = WAYS[merit].there
    if math.isnan(value):
        return f"On no day do both {rival} and {first} {there}; their {spoken(merit)} cannot be compared."
    both = f" on the days when both {there}" if _apart(whole, merit) > 0 else ""
    if low == high == value == 0.0 and merit.startswith("share_"):
        return f"{rival} {there} on as many days as {first}."
    if low == high == value == 0.0:
        return f"{rival} and {first} are exactly alike in {spoken(merit)}{both}."
    if math.isnan(low):
        return f"{rival} {said(whole, merit, value)} than {first}{both}; one day alone gives no interval."
    if low <= 0.0 <= high:
        ends = f"between {one_end(whole, merit, low)} and {one_end(whole, merit, high)}"
        return f"No clear difference in {spoken(merit)} between {rival} and {first}{both}: {ends}."
    slack = float(whole[f"{merit}_difference"].attrs["slack"])
    less = f", less than the {size_of(whole, merit, slack)} that count" if abs(value) < slack else ""
    doubt = "; rays alone could make as much" if _noise_of(whole, merit) * _SURE > abs(value) else ""
    ends = span(whole, merit, low, high)
    return f"{rival} {said(whole, merit, value)} than {first}{both} ({ends}){less}{doubt}."


def _noise_of(whole: xr.Dataset, merit: str) -> float:
    """Standard deviation that the rays alone give the difference; 0 where it was not looked at."""
    name = f"{merit}_ray_noise"
    return float(whole[name]) if name in whole else 0.0


def _tally(whole: xr.Dataset, merit: str, rival: str, first: str) -> str:
    """Days won, lost and alike; days on which one alone gets there are told apart, never averaged."""
    days = {
        name: _count(float(whole[f"{merit}_days_{name}"]))
        for name in ("better", "worse", "alike", "only_other", "only_first", "neither")
    }
    slack = size_of(whole, merit, float(whole[f"{merit}_difference"].attrs["slack"]))
    verb = {"get done": "gets done", "get safe": "gets safe"}.get(WAYS[merit].there, "has a value")
    alone = {
        "only_other": f'only "{rival}" {verb}',
        "only_first": f'only "{first}" {verb}',
        "neither": "neither does",
    }
    return (
        f'"{rival}" is better by more than {slack} on {days["better"]} of {days_meant(whole):.0f} days, worse on '
        f"{days['worse']}, alike on {days['alike']}"
        + "".join(f"; on {days[key]} {what}" for key, what in alone.items() if days[key] != "none")
        + "."
    )


def _count(days: float) -> str:
    """A number of days; under draws it need not be whole."""
    return "none" if days < 1e-9 else f"{days:.0f}" if days >= 1.0 else "less than one"


def _when(one: xr.Dataset, merit: str, sort: str) -> Iterator[str]:
    """In which months, or on which kinds of day, the rival is ahead."""
    part = one.isel(group=np.flatnonzero(one["group_sort"].to_numpy() == sort))
    if part.sizes["group"] < 2:
        return
    told = [_in_group(part.isel(group=k), merit) for k in range(part.sizes["group"])]
    what = "by month" if sort == "month" else "by kind of day"
    yield f'"{one["rival"].item()}" {what}: {", ".join(told)}.'


def _in_group(at: xr.Dataset, merit: str) -> str:
    name = str(at["group"].item())
    value, low, high = (float(at[f"{merit}_difference{end}"]) for end in ("", "_low", "_high"))
    if math.isnan(value):
        return f"{name} never both"
    if merit.startswith("share_"):
        days = value * float(at["group_days"])
        return f"{name} {abs(days):.0f} days {'fewer' if days < 0 else 'more'}"
    unsure = math.isnan(low) or (low <= 0.0 <= high and value != 0.0)
    return f"{name} {one_end(at, merit, value)}{' (not sure)' if unsure else ''}"


def _draws(one: xr.Dataset, merit: str) -> str:
    """What the uncertain factors do to the difference."""
    by_draw = one[f"{merit}_difference_by_draw"].to_numpy()
    known = by_draw[np.isfinite(by_draw)]
    what = listed([spoken(name) for name in str(one.attrs["uncertain"]).split()])
    if not known.size:
        return f"Under none of {by_draw.size} draws of {what} do both have a value on one day."
    low, high = float(known.min()), float(known.max())
    ends = f"from {one_end(one, merit, low)} to {one_end(one, merit, high)}"
    turn = ": they decide which is better" if low < 0.0 < high else ""
    return f"Over {by_draw.size} draws of {what} the mean difference goes {ends}{turn}."


def _among_best(result: xr.Dataset, merit: str, ran: list[str]) -> Iterator[str]:
    """On how many days each design is near the best of all."""
    days = result[f"{merit}_days_among_best"].sel(group="all days")
    order = sorted(ran, key=lambda name: -float(days.sel(design=name)))
    gap = float(result[f"{merit}_difference"].attrs["slack"])
    slack = show(gap, gap_of(result, merit), system_of(result.attrs), digits=2)
    told = ", ".join(f'"{name}" on {float(days.sel(design=name)):.0f}' for name in order)
    yield f"Within {slack} of the best of all designs in {spoken(merit)}, of {days_meant(result):.0f} days: {told}."


def _whole(result: xr.Dataset, name: str, ran: list[str]) -> str:
    """A merit or limit that has one value for all days, design by design; a limit by its worst draw."""
    told, limit = [], name.endswith("_over")
    for design in ran:
        values = result[name].sel(design=design).to_numpy()
        known = values[np.isfinite(values)]
        value = float(known.max() if limit else known.mean()) if known.size else math.nan
        told.append(
            f'"{design}" {_amount(result[name], value, system_of(result.attrs)) if known.size else "unknown"}'
        )
    what = retold(result[name].attrs["long_name"], result.attrs) if limit else spoken(name)
    return f"{what}: {', '.join(told)}."


def _amount(column: xr.DataArray, value: float, system: System) -> str:
    dimension = str(column.attrs["dimension"])
    if dimension == "money":
        return f"{value:.4g} {column.attrs['units']}"
    if str(column.name).endswith("_over"):
        return f"{show(abs(value), dimension, system, digits=3)} {'over' if value > 0 else 'to spare'}"
    return show(value, dimension, system, digits=3)


def _noise(result: xr.Dataset, merit: str, rivals: list[str]) -> Iterator[str]:
    """Whether the ray tracer's own noise could make the differences."""
    if f"{merit}_ray_noise" not in result:
        return
    noise = result[f"{merit}_ray_noise"].sel(rival=rivals)
    if not np.isfinite(noise).any():
        return
    runs, value = int(result.attrs["other_seeds"]) + 1, result[f"{merit}_difference"]
    ahead = np.abs(value.sel(rival=rivals, group="all days").to_numpy())
    unsure = [
        f'"{name}"' for name, n, v in zip(rivals, noise.to_numpy(), ahead, strict=True) if n * _SURE > v
    ]
    size = size_of(result, merit, float(noise.max()))
    what = f"differences of {spoken(merit)} by {size} at most (standard deviation of {runs} runs)"
    end = f"more rays are needed to judge {listed(unsure)}" if unsure else "of no matter here"
    yield f"Tracing other rays moves these {what}: {end}."


def _limits(result: xr.Dataset, ran: list[str]) -> list[str]:
    """Safety limits that a design exceeds on any day under any draw."""
    over = []
    for name in ran:
        worst = {
            str(limit): result[limit].sel(design=name).max("draw", keep_attrs=True)
            for limit in result.data_vars
            if str(limit).endswith("_over")
        }
        over += [
            f'"{name}": {line}' for line in limit_sentences(worst, result.attrs) if line.startswith("OVER")
        ]
    return over or ["No safety limit is exceeded by any of these designs on any of the days."]


def _intervals(result: xr.Dataset) -> Iterator[str]:
    share = 100 * float(result.attrs["confidence"])
    yield (
        f"In brackets is what other days like these could give, {share:.0f} times in 100; a difference counts as clear "
        "where all of that lies on one side."
    )
