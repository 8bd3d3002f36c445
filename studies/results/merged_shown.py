"""The designs shown one by one of several searches: those that still stand on the front of all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from .searched import SHOWN

PIECE = "piece"


def shown_joined(results: Sequence[xr.Dataset], before: Sequence[int], whole: xr.Dataset) -> xr.Dataset:
    """Days, bills, limits and pieces of the designs of the joined front, as each search kept them.

    Parameters
    ----------
    results : sequence of Dataset
        Searches; one that found nothing, or is of before designs were shown, adds none.
    before : sequence of int
        Trials that stand before those of each result.
    whole : Dataset
        The joined trials, with their front.
    """
    on_front = whole["on_front"].values == 1
    parts = []
    for result, first in zip(results, before, strict=True):
        if SHOWN not in result.dims:
            continue
        trials = result[SHOWN].values + int(first)
        part = result[[name for name in result.data_vars if str(name).startswith(f"{SHOWN}_")]]
        part = part.assign_coords({SHOWN: (SHOWN, trials, result[SHOWN].attrs)}).reset_coords(drop=True)
        parts.append(part.drop_attrs(deep=False).isel({SHOWN: np.flatnonzero(on_front[trials])}))
    return _joined(parts) if parts else xr.Dataset()


def _joined(parts: Sequence[xr.Dataset]) -> xr.Dataset:
    """All designs under each other, with every piece that one of them is cut of."""
    names = sorted({str(name) for part in parts for name in _pieces_used(part)})
    return xr.concat(
        [_with_pieces(part, names) for part in parts],
        SHOWN,
        data_vars="minimal",
        coords="minimal",
        compat="override",
        join="override",
        combine_attrs="override",
    )


def _pieces_used(part: xr.Dataset) -> list[str]:
    used = (part["shown_piece_count"].values > 0).any(axis=0)
    return [str(name) for name in part[PIECE].values[used]]


def _with_pieces(part: xr.Dataset, names: Sequence[str]) -> xr.Dataset:
    """The same with these pieces: none of those that its designs do not have."""
    empty = {
        name: {"i": 0, "U": "", "O": "", "f": np.nan}[array.dtype.kind]
        for name, array in part.data_vars.items()
        if PIECE in array.dims
    }
    found = part.reindex({PIECE: list(names)}, fill_value=empty)
    return found.assign_coords({PIECE: (PIECE, np.array(names, np.str_), part[PIECE].attrs)})
