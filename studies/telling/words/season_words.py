"""What a season study says: the one design to build, where it falls short, and whether two would do better."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...methods.regret import NONE
from .flat_words import edge_sentences
from .phrases import factor_text, listed, retold, said, spoken
from .season_phrases import amount, cell_text, cells_text, design_text, factor_names, fitting_text

HARDLY = 0.005  # of a cell's best: what a last round may still gain before the pool counts as unsettled


def season_sentences(season: xr.Dataset) -> list[str]:
    """The design to build and what it loses, who is not served, what is best where, and how the study went."""
    if "built" not in season.attrs:
        return [
            f"None of {season.sizes['design']} designs reaches {spoken(season.attrs['goal'])} within the limits in "
            f"any of {season.sizes['cell']} places and months.",
            "Widen the ranges, lengthen the day, cook less, or drop a limit.",
        ]
    row = int(season.attrs["built"])
    return [
        f"Build this one for all of them: {design_text(season, row)}; {_meal(season)}.",
        _served_sentence(season, row),
        *_unserved_sentences(season, row),
        _days_sentence(season),
        *_limit_sentences(season),
        *_second_sentence(season),
        _best_sentence(season),
        _own_sentence(season),
        *_aside_sentence(season, row),
        *_started_sentence(season, row),
        *edge_sentences(season.assign_attrs(chosen_trial=row), factor_names(season)),
        _settled_sentence(season),
    ]


def _meal(season: xr.Dataset) -> str:
    times = sorted(set(season["loaded_at"].to_numpy().tolist()))
    clock = f"at {times[0]}" if len(times) == 1 else f"between {times[0]} and {times[-1]}, by place"
    food = f"{said(season.attrs['food_mass'], 'mass', season.attrs)} of {spoken(season.attrs['food'])}"
    return f"{food} put in {clock}"


def _served_sentence(season: xr.Dataset, row: int) -> str:
    """In how many places and months the design serves, and what it loses there."""
    regret, goal = season["regret"][row], spoken(season.attrs["goal"])
    lost = regret.to_numpy()
    served, worst = ~np.isnan(lost), int(np.nanargmax(lost))
    start = f"It serves {_of(served.sum(), lost.size)} places and months"
    if lost[worst] == 0:
        return f"{start}; nothing that was tried has a better {goal} in any of them."
    slack = float(season.attrs["slack"])
    if slack > 0:
        close = _of((lost[served] <= slack).sum(), served.sum())
        start += f", and in {close} it is within {amount(slack, regret, season)} of the best that could be built there"
    weighted = ", weighted" if len(np.unique(season["weight"])) > 1 else ""
    return (
        f"{start}. Its {goal} is {amount(float(season['mean_regret'][row]), regret, season)} worse than that best on "
        f"average{weighted}, at worst {amount(lost[worst], regret, season)} ({cell_text(season, worst)})."
    )


def _of(number: int, total: int) -> str:
    return f"all {total}" if number == total else f"{number} of {total}"


def _unserved_sentences(season: xr.Dataset, row: int) -> Iterator[str]:
    """Where the design does not serve: because nothing does, or although another would."""
    fails, nothing = np.isnan(season["regret"][row].to_numpy()), season["best_design"].to_numpy() == NONE
    if nothing.any():
        yield (
            f"NOTHING SERVES: {cells_text(season, nothing)}. Not one of {season.sizes['design']} designs reaches the "
            "goal there within the limits; plan for another way to cook."
        )
    missed = fails & ~nothing
    if missed.any():
        yield (
            f"IT DOES NOT SERVE: {cells_text(season, missed)} (over a limit, or never done); another design would, so "
            "build a second one for there."
        )


def _days_sentence(season: xr.Dataset) -> str:
    share = season["chosen_share_done"]
    values = share.to_numpy()
    least, most = int(np.nanargmin(values)), float(np.nanmax(values))
    if values[least] == most:
        return f"With it the meal gets done on {amount(most, share, season)} of the days of every month."
    return (
        f"With it the meal gets done on {amount(values[least], share, season)} to {amount(most, share, season)} "
        f"of a month's days, least often in {cell_text(season, least)}."
    )


def _limit_sentences(season: xr.Dataset) -> list[str]:
    """Safety limits that the design exceeds anywhere, each where it is worst."""
    lines = []
    for name, margin in season.data_vars.items():
        if not (str(name).startswith("chosen_") and str(name).endswith("_over")):
            continue
        values = margin.to_numpy()
        over = values > 0
        if over.any():
            what = retold(margin.attrs["long_name"], season.attrs)
            lines.append(
                f"OVER A LIMIT: {what}, by up to {amount(np.nanmax(values), margin, season)} "
                f"({cell_text(season, int(np.nanargmax(values)))}), in {over.sum()} of {over.size} places and months."
            )
    return lines or ["No safety limit is exceeded in any of these places and months."]


def _second_sentence(season: xr.Dataset) -> Iterator[str]:
    """Whether a second design would pay."""
    if season.sizes["cell"] < 2:
        return
    regret, attrs = season["regret"], season.attrs
    one, two = float(attrs["least_of_one"]), float(attrs["least_of_two"])
    first, second = int(attrs["first"]), int(attrs["second"])
    used = season["used_design"].to_numpy()
    more = int((used != NONE).sum() - regret[int(attrs["built"])].notnull().sum())
    rule = "on average" if attrs["rule"] == "mean" else "at worst"
    losses = (
        f"the least that any one design loses is {amount(one, regret, season)} {rule}, and any two, each used "
        f"where it is the better one, {amount(two, regret, season)}"
    )
    hardly = HARDLY * float(np.abs(season["best"]).mean())
    if more <= 0 and one - two <= max(float(attrs["slack"]), hardly):
        yield f"A second design is not worth its templates: {losses}."
        return
    gain = f", and {more} more places and months are served" if more > 0 else ""
    yield (
        f"Two designs would do better: {losses}{gain}. A: {design_text(season, first)}, for "
        f"{cells_text(season, used == first)}. B: {design_text(season, second)}, for "
        f"{cells_text(season, used == second)}."
    )


def _best_sentence(season: xr.Dataset) -> str:
    """From where to where the best goes."""
    best = season["best"]
    values = best.to_numpy()
    low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
    return (
        f"The best {spoken(season.attrs['goal'])} that could be had goes from {amount(values[low], best, season, 3)} "
        f"({cell_text(season, low)}) to {amount(values[high], best, season, 3)} ({cell_text(season, high)})."
    )


def _own_sentence(season: xr.Dataset) -> str:
    """What one would build for each place and month alone."""
    fitting = season["fitting_design"].to_numpy()
    rows = fitting[fitting != NONE]
    spans = ", ".join(_span(season[name], rows, season.attrs) for name in factor_names(season))
    return f"For each place and month alone, {fitting_text(season)}: {spans}."


def _span(factor: xr.DataArray, rows: NDArray[np.int64], attrs: Mapping[Any, Any]) -> str:
    """What a factor takes in some designs."""
    values = factor.to_numpy()[rows]
    if factor.dtype.kind in "UO":
        return f"{spoken(factor.name)} {listed(sorted(set(values.tolist())))}"
    low, high = (factor_text(factor, int(rows[at]), attrs) for at in (values.argmin(), values.argmax()))
    return f"{spoken(factor.name)} {low if low == high else f'{low} to {high}'}"


def _aside_sentence(season: xr.Dataset, row: int) -> Iterator[str]:
    """What the slack was spent on."""
    if "rather" not in season.attrs:
        return
    score = season["mean_regret" if season.attrs["rule"] == "mean" else "worst_regret"].to_numpy()
    widest = np.isclose(season["served"].to_numpy(), float(season["served"].max()))
    least = int(np.nanargmin(np.where(widest, score, np.nan)))
    if least == row:
        return
    rather, regret = season[season.attrs["rather"]], season["regret"]
    has, instead = (amount(_mean(season, rather[design]), rather, season, 3) for design in (row, least))
    better = amount(score[row] - score[least], regret, season)
    yield (
        f"The slack is spent on {spoken(rather.name)}: {has} on average, where the design that loses "
        f"least ({design_text(season, least)}) has {instead} and is {better} better."
    )


def _mean(season: xr.Dataset, values: xr.DataArray) -> float:
    return float(values.weighted(season["weight"]).mean())


def _started_sentence(season: xr.Dataset, row: int) -> Iterator[str]:
    """How the design that the study started from does."""
    if "started" not in season.attrs:
        return
    started = int(season.attrs["started"])
    if started == row:
        yield "It is the very design that the study started from."
        return
    regret = season["regret"][started]
    served = int(regret.notnull().sum())
    lost = (
        f", {amount(float(season['mean_regret'][started]), regret, season)} worse than the best on average"
        if served
        else ""
    )
    yield (
        f"The design that the study started from ({design_text(season, started)}) serves {served} of "
        f"{season.sizes['cell']}{lost}."
    )


def _settled_sentence(season: xr.Dataset) -> str:
    """How the designs were found, and whether the last round still found better ones."""
    tried, failed = season.sizes["design"], int((season["status"] != 0).sum())
    counts = (
        f"{tried} designs tried in each of {season.sizes['cell']} places and months; "
        f"{failed} of {season['status'].size} trials could not be built or run."
    )
    if season.sizes["round"] < 2:
        return counts
    before, after = season["best_so_far"].to_numpy()[-2:]
    gain = np.where(np.isnan(before) & ~np.isnan(after), np.inf, np.abs(after - before))
    better = gain > HARDLY * np.abs(after)
    if not better.any():
        return f"{counts} The last round of new designs hardly bettered any of them."
    finite = gain[better & np.isfinite(gain)]
    most = f", by up to {amount(float(finite.max()), season['regret'], season)}" if finite.size else ""
    return (
        f"{counts} The last round still bettered {better.sum()} of them{most}: more designs may find better."
    )
