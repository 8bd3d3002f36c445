"""Plain sentences about a sensitivity dataset, for people who will build from it."""

from __future__ import annotations

import numpy as np
import xarray as xr

from ..quantity import difference_of, show
from .phrases import spoken

# Estimates from half and from all of the samples that differ by less than this are not worth a sentence.
_SMALL_SHIFT = 0.02
# A total index this far above the first is worth a word about interactions.
_WORTH_A_WORD = 0.05
# An effect this far below the largest is rounding, not an effect.
_ROUNDING = 1e-9


def interpretation(dataset: xr.Dataset) -> list[str]:
    """What a Sobol or Morris dataset says, most important factor first, with its doubts.

    Parameters
    ----------
    dataset : Dataset
        Result of `sensitivity.sobol` or `sensitivity.morris`.

    Returns
    -------
    list of str
        Sentences; those on failed designs last.
    """
    speak = _sobol_sentences if dataset.attrs["study"] == "sobol" else _morris_sentences
    analysed = dataset["output"].values[dataset["analysed"].values == 1]
    sentences = [sentence for name in analysed for sentence in speak(dataset.sel(output=name))]
    if dataset.attrs["study"] == "morris":
        sentences.append(_proposal(dataset))
    return [*sentences, *map(_warning, filter(None, str(dataset.attrs["warnings"]).split("\n")))]


def _warning(line: str) -> str:
    """A warning as stored, `output: words`, with the output's name as words."""
    name, colon, words = line.partition(": ")
    return f"{spoken(name)}{colon}{words}" if colon else line


def _percent(share: float) -> str:
    return f"{round(100.0 * share) + 0:.0f}"


def _sobol_sentences(one: xr.Dataset) -> list[str]:
    """Sentences on one output of a Sobol dataset."""
    output = spoken(one["output"].item())
    last = one.isel(base_samples=-1)
    order = np.argsort(-last["total"].values, kind="stable")
    sentences = []
    for k in order:
        at = last.isel(factor=k)
        first, wide = float(at["first"]), float(at["first_half_width"])
        total, total_wide = float(at["total"]), float(at["total_half_width"])
        factor = spoken(at["factor"].item())
        if total <= total_wide:
            sentences.append(f"{factor} does not measurably move {output} (total {_percent(total)} %).")
            continue
        span = f"{_percent(first - wide)} to {_percent(first + wide)} %"
        sentence = f"{factor} alone explains {_percent(first)} % ({span}) of the variance of {output}"
        if total - first > max(_WORTH_A_WORD, wide):
            sentence += f", {_percent(total)} % together with its interactions"
        sentences.append(sentence + ".")
    return [*sentences, *_doubts(one)]


def _doubts(one: xr.Dataset) -> list[str]:
    """Sentences on noise and on whether more samples would change the picture."""
    output = spoken(one["output"].item())
    last = one.isel(base_samples=-1)
    first, wide = last["first"].values, last["first_half_width"].values
    doubts = []
    noise = [spoken(n) for n in last["factor"].values[(first < 0.0) & (first + wide >= 0.0)]]
    if noise:
        doubts.append(
            f"The slightly negative first index of {', '.join(noise)} for {output} is noise of the estimate: "
            "its interval covers zero."
        )
    odd = [spoken(n) for n in last["factor"].values[first + wide < 0.0]]
    if odd:
        doubts.append(
            f"The first index of {', '.join(odd)} for {output} is negative beyond its interval: there are "
            "too few samples to trust it."
        )
    shift = np.abs(one["total"].values[-1] - one["total"].values[-2])
    if np.any(shift > np.maximum(_SMALL_SHIFT, last["total_half_width"].values)):
        doubts.append(
            f"Doubling the samples still moved a total index of {output} by {_percent(float(shift.max()))} "
            "points, more than its interval: use more base samples."
        )
    return doubts


def _morris_sentences(one: xr.Dataset) -> list[str]:
    """Sentences on one output of a Morris dataset."""
    output = spoken(one["output"].item())
    largest = float(one["mu_star"].max())
    order = np.argsort(-one["mu_star"].values, kind="stable")
    sentences = []
    for k in order:
        at = one.isel(factor=k)
        mu, mu_star, sigma = (float(at[name]) for name in ("mu", "mu_star", "sigma"))
        wide = float(at["mu_star_half_width"])
        factor = spoken(at["factor"].item())
        if mu_star <= _ROUNDING * largest:
            sentences.append(f"{factor} does not move {output} at all.")
            continue
        size, doubt = _size(one, mu_star), _size(one, wide)
        sentence = f"{factor} over its range moves {output} by {size} (within {doubt}) on average"
        if mu_star > 0.0 and abs(mu) < 0.5 * mu_star:
            sentence += ", up in some designs and down in others"
        elif sigma > mu_star:
            sentence += ", very differently from design to design"
        sentences.append(sentence + ".")
    return sentences


def _size(one: xr.Dataset, change: float) -> str:
    """A change of an output in the unit a builder reads, where its dimension is known."""
    if "output_dimension" not in one.coords:
        unit = one["output_unit"].item()
        return f"{change:.3g}" if unit == "1" else f"{change:.3g} {unit}"
    dimension = str(one["output_dimension"].item())
    return show(change, difference_of(dimension), digits=2)


def _proposal(dataset: xr.Dataset) -> str:
    names = [spoken(n) for n in dataset["factor"].values[dataset["may_fix"].values == 1]]
    share = 100.0 * float(dataset.attrs["negligible_share"])
    if not names:
        return f"Every factor moves some output by more than {share:.3g} % of its largest effect: fix none."
    listed = ", ".join(names)
    return f"May be fixed, as they move no output by more than {share:.3g} % of its largest effect: {listed}."
