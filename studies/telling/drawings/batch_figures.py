"""The figure of a batch: how soon each config's designs are done, and on how many days."""

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from .drawing import BLUE, ORANGE, Drawn, axis_text, column


def side_by_side(result: xr.Dataset) -> Drawn | None:
    """Time to done and share of days of each different design."""
    if "time_to_done" not in result or not np.isfinite(result["time_to_done"]).any():
        return None
    one = result.isel(row=_different(result))
    names = [
        f"{config}: {study}" for config, study in zip(one["config"].values, one["study"].values, strict=True)
    ]
    (time, unit), share = column(one["time_to_done"], result.attrs), 100 * one["share_done"].to_numpy()
    figure = Figure(figsize=(6.6, 0.3 * len(names) + 1.3))
    left, right = figure.subplots(1, 2, sharey=True, width_ratios=(2, 1))
    place = np.arange(len(names))
    left.barh(place, np.nan_to_num(time), height=0.6, color=BLUE)
    for y in place[np.isnan(time)]:
        left.text(0, y, " not on the middle day", va="center", fontsize=8)
    right.barh(place, share, height=0.6, color=ORANGE)
    left.set_yticks(place, names)
    left.invert_yaxis()
    left.set_xlabel(axis_text("time to done", unit))
    right.set(xlabel="share of days done [%]", xlim=(0, 100))
    table = pd.DataFrame({"config": one["config"].values, "study": one["study"].values})
    table[axis_text("time to done", unit)], table["share of days done [%]"] = time, share
    return Drawn(
        "designs", figure, table, "Each different design of each config, on the middle day of its own place."
    )


def _different(result: xr.Dataset) -> list[int]:
    """The first row of each different design of each config."""
    factors = [name for name, array in result.data_vars.items() if array.attrs.get("role") == "factor"]
    kept: dict[str, int] = {}
    for k in np.flatnonzero(result["status"].to_numpy() == 0):
        row = result.isel(row=k)
        key = repr([row["config"].item(), *(row[name].item() for name in factors)])
        kept.setdefault(key, int(k))
    return list(kept.values())
