"""From a Sobol sample to what explains each output: shares of its variance, and how far its distribution moves.

Three accounts are given. The indices of the value itself, where nearly every base has one. Where designs never reach
a goal, the indices of reaching it or not, a number 1 or 0 that every design has. And PAWN, for which never is simply
the last of all ranks; it is computed from the rows of samples A and B alone.

It needs no sampling library: what it needs of the design stands in the dataset of samples.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import OK
from .analysis import SensitivityError, described, with_verdict
from .indices import Array, base_counts, half_width, of_sides, quantile_of, resampled_indices, sobol_indices
from .layout import SIDES, Positions, positions
from .pawn import pawn

_TEXTS = {
    "first": "by the factor alone",
    "total": "by the factor with all its interactions",
    "second": "by a pair beyond each alone",
    "side_first": "by one side alone",
    "side_total": "by one side with its interactions with the other",
    "side_interaction": "by what is decided and what is suffered only together",
}
_RANK_RESAMPLES = 100  # a standard deviation of so many is known to 7 %
_LEAST_OF_EACH = 10  # bases: a resample that draws none of so many comes once in 20 000
_TAIL_ROWS = 100  # of which one is the tail
_OVER = {
    "second": ("factor", "partner"),
    "side_first": ("side",),
    "side_total": ("side",),
    "side_interaction": (),
}


def sobol_analysed(samples: xr.Dataset) -> xr.Dataset:
    """The dataset of a Sobol sample with its indices, half widths and the share of bases dropped.

    The layout, the seed of the bootstrap and the confidence are read from the dataset, never guessed.

    Returns
    -------
    Dataset
        `first`, `total` (, `second`, `side_first`, `side_total`, `side_interaction`), their half widths and
        `dropped_share` over (output, base_samples, ...); the same with `reached_` before the name, of reaching the
        output at all, if any design never does; `pawn`, its half width and threshold over (output, drawn).

    Raises
    ------
    SensitivityError
        Rows in another order than the layout's; or no output of which anything can be said.
    """
    layout = _layout_of(samples)
    sampled, ran = samples["sampled"].values, samples["status"].values == OK
    sizes = [ran.shape[0] // 4, ran.shape[0] // 2, ran.shape[0]]
    result = _with_coordinates(samples, layout, sizes)
    never = (np.isnan(sampled) & ran).sum(axis=(1, 2)) / max(ran.sum(), 1)
    result["never_share"] = (
        "output",
        never,
        described("share of the designs that ran and never reached it"),
    )
    text = "share of the variance that the one row in a hundred farthest from the mean brings"
    result["tail_share"] = ("output", [_tail_share(y[np.isfinite(y)]) for y in sampled], described(text))
    _explain(result, sampled, layout, sizes, prefix="", what="")
    told = np.zeros(len(sampled), dtype=bool)
    if never.any():
        reached = np.array([_reached(y, ran) for y in sampled])
        _explain(result, reached, layout, sizes, prefix="reached_", what=" of reaching it or not,")
        told |= np.isfinite(result["reached_total"].values[:, -1]).any(axis=1)
    _rank(result, ran)
    told |= np.isfinite(result["pawn"].values).any(axis=1)
    return with_verdict(result, result["dropped_share"].values[:, -1], told)


def _layout_of(samples: xr.Dataset) -> Positions:
    names = [str(name) for name in samples["factor"].values]
    attrs = samples.attrs
    layout = positions(names, second_order=bool(attrs["second_order"]), sides=bool(attrs["sides"]))
    if [str(label) for label in samples["position"].values] != layout.labels:
        raise SensitivityError("the rows of a base are not in the order this analysis knows")
    return layout


def _with_coordinates(samples: xr.Dataset, layout: Positions, sizes: list[int]) -> xr.Dataset:
    names = samples["factor"].values
    result = samples.assign_coords(base_samples=("base_samples", sizes, described("bases used")))
    if layout.ba.stop > layout.ba.start:
        result = result.assign_coords(partner=("partner", names, described("the other factor of a pair")))
    if layout.sides.stop > layout.sides.start:
        text = "what the builder decides, and what weather and workmanship do"
        result = result.assign_coords(side=("side", list(SIDES), described(text)))
    return result


def _reached(y: Array, ran: NDArray[np.bool_]) -> Array:
    """1 where a design reaches the output, 0 where it never does, nan where it did not run.

    All 1 where either is so rare that its variance would hang on a few bases.
    """
    reached = np.where(ran, np.isfinite(y).astype(np.float64), np.nan)
    ends = reached[:, [0, -1]]
    rarest = min(int((ends == one).any(axis=1).sum()) for one in (0.0, 1.0))
    return reached if rarest >= _LEAST_OF_EACH else np.where(ran, 1.0, np.nan)


def _tail_share(y: Array) -> float:
    """Share of the squares about the mean that the farthest hundredth of the rows brings; nan without any spread."""
    squares = np.sort((y - y.mean()) ** 2) if y.size else np.zeros(1)
    far = max(1, round(len(squares) / _TAIL_ROWS))
    return float(squares[-far:].sum() / squares.sum()) if squares.sum() > 0.0 else float("nan")


def _explain(
    result: xr.Dataset, sampled: Array, layout: Positions, sizes: list[int], *, prefix: str, what: str
) -> None:
    """Add the indices of one account of the outputs to the dataset."""
    found = [[_indices(y[:size], layout, result.attrs) for size in sizes] for y in sampled]
    dims = ("output", "base_samples")
    for name, text in _TEXTS.items():
        if name not in found[0][0]:
            continue
        over = (*dims, *_OVER.get(name, ("factor",)))
        share = f"share of variance{what} explained {text}"
        result[f"{prefix}{name}"] = (over, _stacked(found, name), described(share))
        key = f"{name}_half_width"
        text = f"half width of the interval of {prefix}{name}"
        result[f"{prefix}{key}"] = (over, _stacked(found, key), described(text))
    text = "share of bases left out because a row had no value"
    result[f"{prefix}dropped_share"] = (dims, _stacked(found, "dropped_share"), described(text))


def _stacked(found: list[list[dict[str, Any]]], name: str) -> Array:
    return np.array([[one[name] for one in row] for row in found], np.float64)


def _indices(y: Array, layout: Positions, attrs: dict[str, Any]) -> dict[str, Any]:
    """Indices and half widths of one output from its first bases; nan if too many have no value."""
    whole = np.isfinite(y).all(axis=1)
    dropped = 1.0 - float(whole.mean())
    kept = y[whole] if dropped <= attrs["most_dropped"] else np.zeros_like(y)
    found: dict[str, Any] = {"dropped_share": dropped}
    for name, point, resampled in _with_resamples(kept, layout, attrs):
        found[name] = point
        found[f"{name}_half_width"] = half_width(resampled, float(attrs["confidence"]))
    return found


def _with_resamples(y: Array, layout: Positions, attrs: dict[str, Any]) -> Iterator[tuple[str, Array, Array]]:
    """Each index by name, from the sample and from its resamples."""
    counts = {"resamples": int(attrs["resamples"]), "seed": int(attrs["seed"])}
    point, drawn = sobol_indices(y, layout), resampled_indices(y, layout, **counts)
    for name in ("first", "total", *(["second"] if point.second.size else [])):
        yield name, getattr(point, name), getattr(drawn, name)
    if layout.sides.stop > layout.sides.start:
        rows, two = of_sides(y, layout)
        point, drawn = sobol_indices(rows, two), resampled_indices(rows, two, **counts)
        yield "side_first", point.first, drawn.first
        yield "side_total", point.total, drawn.total
        # Two sides hold all factors, so what neither explains alone is what they do together.
        yield "side_interaction", 1.0 - point.first.sum(axis=-1), 1.0 - drawn.first.sum(axis=-1)


def _rank(result: xr.Dataset, ran: NDArray[np.bool_]) -> None:
    """Add PAWN of every output, from the rows of samples A and B that ran."""
    attrs, ends = result.attrs, [0, -1]
    x = np.concatenate([result["value_a"].values, result["value_b"].values])
    rows = ran[:, ends].T.ravel()
    resamples = min(int(attrs["resamples"]), _RANK_RESAMPLES)
    counts = np.tile(base_counts(len(ran), resamples, int(attrs["seed"])), 2)[:, rows]
    usable = 1.0 - rows.mean() <= attrs["most_dropped"]
    found = np.full((3, result.sizes["output"], x.shape[1]), np.nan)
    for k, y in enumerate(result["sampled"].values if usable else ()):
        column = y[:, ends].T.ravel()[rows]
        found[:, k] = pawn(
            x[rows], column, counts=counts, seed=int(attrs["seed"]), confidence=float(attrs["confidence"])
        )
    found[1] *= quantile_of(float(attrs["confidence"]))
    texts = {
        "pawn": "how far fixing the factor moves the distribution of the output, 0 to 1; never comes last",
        "pawn_half_width": "half width of the interval of pawn",
        "pawn_threshold": "what pawn reaches by chance alone",
    }
    for values, (name, text) in zip(found, texts.items(), strict=True):
        result[name] = (("output", "drawn"), values, described(text))
    moves = (found[0] > found[2]) & ~_inert(result)
    text = "1 where pawn is more than chance reaches, and swapping the factor changes any output at all"
    result["pawn_moves"] = (("output", "drawn"), moves.astype(np.int8), described(text))


def _inert(result: xr.Dataset) -> NDArray[np.bool_]:
    """Whether swapping each drawn factor, or its group, never changes an output: bool[output, drawn]."""
    y = np.nan_to_num(result["sampled"].values, nan=np.inf)
    unit = {
        name: k
        for k, members in enumerate(result["factor_members"].values.astype(str))
        for name in members.split(", ")
    }
    same = (y[:, :, 1 : 1 + result.sizes["factor"]] == y[:, :, :1]).all(axis=1)
    return np.asarray(same[:, [unit[name] for name in result["drawn"].values.astype(str)]])
