"""Plain sentences about what explains an output (Sobol, PAWN), for people who will build from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..argument.sections import DETAIL, Said, numbered
from .phrases import retold, spoken

DAY = "day"  # the factor that stands for the weather, where there is one
# Estimates from half and from all of the samples that differ by less than this are not worth a sentence; nor is a
# factor or a pair that explains less.
_SMALL = 0.02
# A total index this far above the first is worth a word about interactions; so is what two sides do only together.
_WORTH_A_WORD = 0.05
_TOO_WIDE = 0.25  # half width of an interval from which a share is not worth telling
_MOST = 0.5  # of the variance, brought by one design in a hundred: then variance says little
_SAID = 0.005  # below this a share is shown as 0 %
_PAIRS = 3  # pairs of factors named at most
_ARGUED = 2  # outputs, the first ones asked for, of which an argument speaks


def interpretation(dataset: xr.Dataset) -> list[str]:
    """What a Sobol dataset says, most important factor first, with its doubts.

    Parameters
    ----------
    dataset : Dataset
        Result of `sensitivity.sobol`.

    Returns
    -------
    list of str
        Sentences by output; what holds for all, and those on designs without a value, last.
    """
    return [one.text for one in indices_said(dataset)]


def indices_said(dataset: xr.Dataset) -> list[Said]:
    """The same sentences with their names and their sections of an argument, which speaks of the first outputs only."""
    outputs = []
    for number, name in enumerate(map(str, dataset["output"].values)):
        found = list(_output(dataset, name))
        argued = number < _ARGUED
        outputs += [
            one._replace(section=one.section if argued else DETAIL, name=f"{name}.{one.name}")
            for one in found
        ]
    return [
        *numbered("whose", _whose(dataset) if "side_first" in dataset else []),
        *outputs,
        *numbered("below_zero", _below_zero(dataset), "doubt"),
        *numbered("drawn", _what_was_drawn(dataset)),
        *numbered("warning", warnings_of(dataset), "doubt"),
    ]


def warnings_of(dataset: xr.Dataset) -> list[str]:
    """The warnings as stored, `output: words`, with the output's name as words."""
    lines = filter(None, str(dataset.attrs["warnings"]).split("\n"))
    parts = [line.partition(": ") for line in lines]
    return [f"{spoken(name)}{colon}{words}." if colon else name for name, colon, words in parts]


def listed(names: Iterable[object]) -> str:
    """Names as words in a row: "a, b and c"."""
    words = [spoken(name) for name in names]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _percent(share: float) -> str:
    return f"{round(100.0 * share) + 0:.0f}"


def share_span(share: float, wide: float) -> str:
    """A share of variance with its interval."""
    return f"{_percent(share)} % ({_percent(share - wide)} to {_percent(share + wide)} %)"


def _output(dataset: xr.Dataset, name: str) -> Iterator[Said]:
    """Sentences on one output: on its variance, or on reaching it and its ranks where it is often never reached."""
    one, words = dataset.sel(output=name), spoken(name)
    if int(one["analysed"]):
        yield from _account(one, "", words)
        lopsided = float(one["tail_share"])
        if lopsided > _MOST:
            yield Said(
                "lopsided",
                f"One design in a hundred brings {_percent(lopsided)} % of the variance of {words}: trust its ranks "
                "more than its shares of variance.",
                "doubt",
            )
            yield Said("ranks", _ranks(one, words), "reasons")
        else:
            yield from numbered("only_in_ranks", _only_in_ranks(one, words))
        return
    never = float(one["never_share"])
    if never == 0.0 or not np.isfinite(one["pawn"].values).any():
        return
    yield Said(
        "never",
        f"{words} is never reached in {_percent(never)} % of the designs. So what is explained is whether it is "
        "reached at all; and, counting never as the last of all ranks, what moves its whole distribution.",
        "reasons",
    )
    if np.isfinite(one["reached_total"].values[-1]).any():
        yield from _account(one, "reached_", f"whether {words} is reached")
    yield Said("ranks", _ranks(one, words), "reasons")


def _account(one: xr.Dataset, prefix: str, what: str) -> Iterator[Said]:
    """Sentences on shares of variance, largest first."""
    last = one.isel(base_samples=-1)
    if f"{prefix}side_first" in last:
        yield from numbered(f"{prefix}sides", _sides(last, prefix, what), "reasons")
    first, total = last[f"{prefix}first"].values, last[f"{prefix}total"].values
    wide, total_wide = (last[f"{prefix}{key}_half_width"].values for key in ("first", "total"))
    names, order = last["factor"].values, np.argsort(-total, kind="stable")
    clear = (total > total_wide) & (total >= _SMALL)
    open_ = ~clear & (total + total_wide > 2 * _WORTH_A_WORD)
    for k in order[clear[order]]:
        sentence = (
            f"{spoken(names[k])} alone explains {share_span(first[k], wide[k])} of the variance of {what}"
        )
        if total[k] - first[k] > max(_WORTH_A_WORD, wide[k]):
            sentence += f", {_percent(total[k])} % together with its interactions"
        yield Said(f"{prefix}share.{names[k]}", f"{sentence}.", "reasons")
    for k in order[open_[order]]:
        text = f"How much {spoken(names[k])} moves {what} is not settled: total {share_span(total[k], total_wide[k])}."
        yield Said(f"{prefix}open.{names[k]}", text, "doubt")
    faint = order[~(clear | open_)[order]]
    if faint.size:
        most = _percent((total + total_wide)[faint].max())
        text = f"{what} is hardly moved by {listed(names[faint])} (total at most {most} %)."
        yield Said(f"{prefix}faint", text, "reasons")
    yield from numbered(f"{prefix}pairs", _pairs(last, prefix, what))
    yield from numbered(f"{prefix}doubts", _doubts(one, prefix, what), "doubt")


def _whose(dataset: xr.Dataset) -> Iterator[str]:
    """Which factors are on which side."""
    side = dataset["drawn_side"].values
    decided, suffered = (listed(dataset["drawn"].values[side == one]) for one in ("decided", "suffered"))
    yield f"What you decide here: {decided}. What weather and workmanship do: {suffered}."


def _sides(last: xr.Dataset, prefix: str, what: str) -> Iterator[str]:
    """What is decided against what is suffered."""
    share, wide = last[f"{prefix}side_first"].values, last[f"{prefix}side_first_half_width"].values
    both, both_wide = (float(last[f"{prefix}side_interaction{end}"]) for end in ("", "_half_width"))
    yield (
        f"What you decide explains {share_span(share[0], wide[0])} of the variance of {what}, weather and workmanship "
        f"{share_span(share[1], wide[1])}, and the two only together {share_span(both, both_wide)}."
    )
    if share[0] - wide[0] > share[1] + wide[1]:
        yield f"So over these ranges the design is the bigger lever on {what}."
    elif share[1] - wide[1] > share[0] + wide[0]:
        yield (
            f"So over these ranges the days and the hands at work settle {what} more than the design does: judge "
            "designs over many days, not by one cook."
        )
    else:
        few = " by so few samples" if wide.max() > _TOO_WIDE else ""
        yield f"Neither side clearly outweighs the other for {what}{few}."
    if both - both_wide > _WORTH_A_WORD:
        yield f"Which design is better for {what} depends on the weather and workmanship that it meets."


def _pairs(last: xr.Dataset, prefix: str, what: str) -> Iterator[str]:
    """The pairs of factors that act together beyond each alone."""
    if f"{prefix}second" not in last:
        return
    second, wide = last[f"{prefix}second"].values, last[f"{prefix}second_half_width"].values
    above, below = np.triu_indices(len(second), 1)
    found = [
        (second[i, j], wide[i, j], i, j)
        for i, j in zip(above, below, strict=True)
        if second[i, j] > max(wide[i, j], _SMALL)
    ]
    names = last["factor"].values
    for share, half, i, j in sorted(found, reverse=True)[:_PAIRS]:
        pair = f"{listed(names[[i, j]])} together explain {share_span(share, half)}"
        yield f"{pair} of the variance of {what} beyond each alone."


def _doubts(one: xr.Dataset, prefix: str, what: str) -> Iterator[str]:
    """Sentences on whether more samples would change the picture."""
    total, wide = one[f"{prefix}total"].values, one[f"{prefix}total_half_width"].values[-1]
    shift = np.abs(total[-1] - total[-2])
    if _cannot_be_ranked(total[-1], wide):
        yield (
            f"The intervals for {what} are up to {_percent(float(wide.max()))} points to either side: too wide to "
            "rank by; use more base samples."
        )
    elif np.any(shift > np.maximum(_SMALL, wide)):
        yield (
            f"Doubling the samples still moved a total index of {what} by {_percent(float(shift.max()))} "
            "points, more than its interval: use more base samples."
        )


def _cannot_be_ranked(total: NDArray[np.float64], wide: NDArray[np.float64]) -> bool:
    """Whether a wide interval holds another factor's, so that either may matter more."""
    apart = np.abs(total[:, np.newaxis] - total) > wide[:, np.newaxis] + wide
    np.fill_diagonal(apart, total.size > 1)
    return bool((~apart & (wide[:, np.newaxis] > _TOO_WIDE)).any())


def _below_zero(dataset: xr.Dataset) -> Iterator[str]:
    """What indices below zero mean; they are shown as they are."""
    last = dataset.isel(base_samples=-1)
    stems = [stem for stem in ("first", "reached_first") if stem in last]
    first = np.concatenate([last[stem].values.ravel() for stem in stems])
    wide = np.concatenate([last[f"{stem}_half_width"].values.ravel() for stem in stems])
    odd = first + wide < -_SMALL
    noise = (first < 0.0) & ~odd
    if noise.any() and first[noise].min() <= -_SAID:
        yield (
            f"First indices below zero (down to {_percent(first[noise].min())} %) are noise of the estimate: their "
            "intervals cover zero, or all but."
        )
    if odd.any():
        count = f"{odd.sum()} of {np.isfinite(first).sum()}"
        yield (
            f"{count} first indices lie below zero by more than their intervals (down to "
            f"{_percent(first[odd].min())} %): a share cannot, so there are too few samples to trust the small ones."
        )


def _ranks(one: xr.Dataset, words: str) -> str:
    """The factors that move the whole distribution, most first."""
    pawn, wide, chance = (one[f"pawn{end}"].values for end in ("", "_half_width", "_threshold"))
    names = one["drawn"].values
    order = np.argsort(-pawn, kind="stable")
    moves = one["pawn_moves"].values == 1
    moving = [k for k in order if moves[k]]
    if not moving:
        return f"Nothing that varies moves the distribution of {words} by more than chance would."
    told = ", ".join(f"{spoken(names[k])} {pawn[k]:.2f} (within {wide[k]:.2f})" for k in moving)
    rest = [names[k] for k in order if not moves[k]]
    more = f"; {listed(rest)} no more than chance would" if rest else ""
    scale = (
        f"how far knowing a factor shifts the whole distribution, 0 to 1; chance reaches {chance.max():.2f}"
    )
    return f"In ranks, {words} is moved most by ({scale}): {told}{more}."


def _only_in_ranks(one: xr.Dataset, words: str) -> Iterator[str]:
    """Factors that move the distribution of an output though their share of its variance is not measurable."""
    last = one.isel(base_samples=-1)
    faint = last["total"].values <= last["total_half_width"].values
    alone = {name for name, small in zip(last["factor"].values, faint, strict=True) if small}
    surely = one["pawn"].values - one["pawn_half_width"].values > one["pawn_threshold"].values
    moved = surely & (one["pawn_moves"].values == 1)
    names = [name for name, more in zip(one["drawn"].values, moved, strict=True) if more and name in alone]
    if names:
        yield (
            f"{listed(names)} still shifts the distribution of {words} more than chance would (PAWN), too little or "
            "too lopsidedly to show in its variance."
        )


def _what_was_drawn(dataset: xr.Dataset) -> Iterator[str]:
    """How each factor was drawn: shares of variance hold for that only."""
    for name, members in zip(dataset["factor"].values, dataset["factor_members"].values, strict=True):
        if name != members:
            yield f"{spoken(name)} is a group, moved together: {spoken(members)}."
    each = "; ".join(
        f"{spoken(name)}: {retold(text, dataset.attrs)}"
        for name, text in zip(dataset["drawn"].values, dataset["drawn_as"].values, strict=True)
        if not (name == DAY and dataset.attrs.get("weather"))
    )
    days = (
        " Each design met one of the days, drawn as often as it comes."
        if dataset.attrs.get("weather")
        else ""
    )
    yield f"All this holds for factors drawn so: {each}.{days}"
