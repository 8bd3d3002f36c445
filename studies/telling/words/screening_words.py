"""Plain sentences about a screening: what moves each output, what may be fixed at which value, how that was tried."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...asking.quantity import difference_of
from ...judging.posterior import STEM
from .phrases import retold, said, spoken
from .sensitivity_words import DAY, listed, warnings_of

# An effect this far below the largest is rounding, not an effect.
_ROUNDING = 1e-9


def screening_sentences(dataset: xr.Dataset) -> list[str]:
    """What a Morris dataset says, largest effect first; then what may be fixed; doubts last."""
    analysed = dataset["output"].values[dataset["analysed"].values == 1]
    effects = [sentence for name in analysed for sentence in _effects(dataset.sel(output=name))]
    return [*effects, *_proposal(dataset), _ranges(dataset), *warnings_of(dataset)]


def _effects(one: xr.Dataset) -> Iterator[str]:
    """Sentences on one output."""
    output = spoken(one["output"].item())
    largest = float(one["mu_star"].max())
    still = []
    for k in np.argsort(-one["mu_star"].values, kind="stable"):
        at = one.isel(factor=k)
        mu, mu_star, sigma = (float(at[name]) for name in ("mu", "mu_star", "sigma"))
        if mu_star <= _ROUNDING * largest:
            still.append(at["factor"].item())
            continue
        size, doubt = _size(one, mu_star), _size(one, float(at["mu_star_half_width"]))
        sentence = f"{spoken(at['factor'].item())} over its range moves {output} by {size} (within {doubt}) on average"
        if abs(mu) < 0.5 * mu_star:
            sentence += ", up in some designs and down in others"
        elif sigma > mu_star:
            sentence += ", very differently from design to design"
        yield sentence + "."
    if still:
        yield f"{listed(still)} {'does' if len(still) == 1 else 'do'} not move {output} at all."


def _size(one: xr.Dataset, change: float) -> str:
    """A change of an output in the unit a builder reads, where its dimension is known."""
    if "output_dimension" not in one.coords:
        unit = one["output_unit"].item()
        return f"{change:.3g}" if unit == "1" else f"{change:.3g} {unit}"
    dimension = str(one["output_dimension"].item())
    return said(change, difference_of(dimension), one.attrs, digits=2)


def _proposal(dataset: xr.Dataset) -> Iterator[str]:
    """What may be fixed, where, what to write for it, and how well that was checked."""
    share = f"{100.0 * float(dataset.attrs['negligible_share']):.3g} % of its largest effect"
    may = dataset["may_fix"].values == 1
    if not may.any():
        yield f"Every factor moves some output by more than {share}: fix none."
        return
    fixed = dataset.isel(factor=np.flatnonzero(may))
    each = ", ".join(
        f"{spoken(name)} at {retold(at, dataset.attrs)}"
        for name, at in zip(fixed["factor"].values, fixed["fix_at"].values, strict=True)
    )
    yield f"May be fixed, as they move no output by more than {share}: {each}."
    yield _reduced(dataset, may)
    yield from (_checked(dataset.sel(output=name)) for name in dataset["output"].values)


def _ranges(dataset: xr.Dataset) -> str:
    """Between what each factor moved: effects hold for that only."""
    each = zip(dataset["factor"].values, dataset["drawn_as"].values, strict=True)
    told = "; ".join(
        f"{spoken(name)}: {retold(text, dataset.attrs)}"
        for name, text in each
        if not (name == DAY and dataset.attrs.get("weather"))
    )
    return f"All this holds for factors between these ends: {told}."


def _reduced(dataset: xr.Dataset, may: NDArray[np.bool_]) -> str:
    """What to change in the config."""
    names, own, at = (dataset[key].values for key in ("factor", "fix_is_own", "fix_at"))
    weather = (names == DAY) & bool(dataset.attrs.get("weather"))
    # What test cooks leave unknown stands in no table: the key `fit` brings it in.
    cooks = np.char.startswith(names.astype(str), f"{STEM}_")
    told = ~weather & ~cooks
    out, left = names[may & told], names[~may & told]
    changes = [f"take {', '.join(out)} out of [study.vary]"] if out.size else []
    changes += ["leave fit out"] if cooks.any() and may[cooks].all() else []
    changes += ["leave weather out"] if (may & weather).any() else []
    other = [
        f'{n} = "{retold(value, dataset.attrs)}"'
        for n, value in zip(names[may & told & (own == 0)], at[may & told & (own == 0)], strict=True)
    ]
    moved = f" Give the design {', '.join(other)}." if other else " The design's own values then stand."
    goes = "goes" if left.size == 1 else "go"
    kept = f"{', '.join(left)} {goes} on varying" if left.size else "nothing is left that varies"
    if not changes:
        return (
            f"For the next study nothing can be left out: what test cooks leave unknown comes whole; {kept}."
        )
    return f"For the next study {' and '.join(changes)}; {kept}.{moved}"


def _checked(one: xr.Dataset) -> str:
    """What fixing them all at once did to one output."""
    output, designs = spoken(one["output"].item()), one.sizes["trajectory"]
    turns, moves = int(one["fixing_turns"]), float(one["fixing_moves"])
    if not np.isfinite(moves):
        return f"What fixing them does to {output} is not checked: no design has a value both ways."
    turned = (
        f"; {turns} of them {'has' if turns == 1 else 'have'} a value only before or only after"
        if turns
        else ""
    )
    largest = float(np.nanmax(one["mu_star"].values)) if int(one["analysed"]) else 0.0
    beside = f", beside {_size(one, largest)} of its largest effect" if largest > 0.0 else ""
    moved = f"fixing them all at once moves {output} by {_size(one, moves)} on average{beside}"
    return f"Checked on {designs} designs: {moved}{turned}."
