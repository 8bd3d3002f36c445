"""Designs of a front one by one, for the page to open: day, bill, limits and pieces in the units a builder reads."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...asking.quantity import parse_clock
from ..argument.of_search import BILL_HEADS, PIECE_HEADS, bill_rows, limit_rows, piece_rows
from ..drawings.drawing import shown

MOST_POINTS = 240  # of a curve on the page; the result has every minute
GERMS = (278.15, 333.15)  # K; between these food spoils: 5 and 60 degC, as the model counts lukewarm food


def designs_shown(search: xr.Dataset) -> dict[str, Any] | None:
    """What the page opens of each design that the result keeps by itself; None where it keeps none.

    Returns
    -------
    dict
        `day`, its `start` and `step` [min on the clock], `sun`, `air`, `degrees` and `band` of the day that all share,
        `heads` of the tables, and `designs` by trial.
    """
    if "shown" not in search.dims:
        return None
    every = -(-search.sizes["time"] // MOST_POINTS)
    thin = search.isel(time=slice(None, None, every))
    start = parse_clock(str(search.attrs["loaded_at"])) / 60
    _, degrees = shown([300.0], "temperature", search.attrs)
    return {
        "day": str(search["shown_day_label"].item()),
        "start": start,
        "step": every * float(search["time"][1] - search["time"][0]) / 60,
        "sun": _whole(thin["shown_dni"].to_numpy()),
        "air": _degrees(thin["shown_air_temperature"].to_numpy(), search.attrs),
        "degrees": degrees,
        "band": _degrees(np.array(GERMS), search.attrs),
        "heads": {"bill": BILL_HEADS, "pieces": PIECE_HEADS},
        "designs": {
            int(trial): _one(search.isel(shown=k), thin.isel(shown=k), every)
            for k, trial in enumerate(search["shown"].to_numpy())
        },
    }


def _one(one: xr.Dataset, thin: xr.Dataset, every: int) -> dict[str, Any]:
    """One design; of its angle off the sun the greatest between two points is kept, so that no peak is lost."""
    off = np.degrees(one["shown_off_axis"].to_numpy())
    peaks = [float(off[first : first + every].max()) for first in range(0, len(off), every)]
    return {
        "food": _degrees(thin["shown_food_temperature"].to_numpy(), one.attrs),
        "pot": _degrees(thin["shown_pot_temperature"].to_numpy(), one.attrs),
        "cover": _degrees(thin["shown_cover_temperature"].to_numpy(), one.attrs),
        "light": _whole(thin["shown_pot_light"].to_numpy()),
        "off": [round(peak, 2) for peak in peaks],
        "safe": _minutes(float(one["shown_safe_after"])),
        "done": _minutes(float(one["shown_done_after"])),
        "bill": bill_rows(one),
        "limits": [[name, room] for name, room, _ in limit_rows(one)],
        "pieces": piece_rows(one),
    }


def _degrees(values: Any, attrs: Mapping[Any, Any]) -> list[float]:
    numbers, _ = shown(values, "temperature", attrs)
    return [round(float(x), 1) for x in numbers]


def _whole(values: Any) -> list[int]:
    return [round(float(x)) for x in values]


def _minutes(seconds: float) -> float | None:
    return round(seconds / 60, 1) if math.isfinite(seconds) else None
