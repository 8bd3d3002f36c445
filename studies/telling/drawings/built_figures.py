"""Figure of a design as described, as built and improved: each merit with what the cooks leave open."""

import json

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from .drawing import BLUE, GREEN, GREY, Drawn, axis_text, column, printed

_COLOURS = {"as described": GREY, "as built": BLUE, "improved": GREEN}
_MOST = 4  # panels
_ALIKE = 1e-3  # of a value: designs that are no further apart are drawn as alike


def promise(result: xr.Dataset) -> Drawn | None:
    """Every merit of the designs, with the interval of the draws."""
    names = [name for name in json.loads(result.attrs["outcomes"]) if np.isfinite(result[name]).any()][:_MOST]
    if not names:
        return None
    designs = [str(name) for name in result["design"].to_numpy()]
    figure = Figure(figsize=(2.5 * len(names) + 1.2, 0.45 * len(designs) + 1.0))
    panels = figure.subplots(1, len(names), sharey=True, squeeze=False)[0]
    rows = []
    for panel, name in zip(panels, names, strict=True):
        rows += _panel(panel, result, name, designs)
    panels[0].set_yticks(range(len(designs)), designs)
    panels[0].set_ylim(len(designs) - 0.5, -0.5)
    table = pd.DataFrame(rows, columns=["outcome", "unit", "design", "estimate", "low", "high"])
    caption = (
        "Each merit of the design as described, as the test cooks found it built, and improved. Whiskers: 95 of "
        "100 draws of what the cooks leave unknown. No point: never."
    )
    return Drawn("promise", figure, table, caption)


def _panel(panel: Axes, result: xr.Dataset, name: str, designs: list[str]) -> list[tuple[object, ...]]:
    """One merit; the rows of its table."""
    both = xr.concat(
        [result[name].isel(run=0), result[f"{name}_low"], result[f"{name}_high"]], "end", coords="minimal"
    )
    values, unit = column(both.assign_attrs(result[name].attrs), result.attrs)
    for k, design in enumerate(designs):
        value, low, high = values[:, k]
        if np.isfinite(value):
            whisker = np.nan_to_num([[max(value - low, 0.0)], [max(high - value, 0.0)]])
            panel.errorbar(
                [value], [k], xerr=whisker, fmt="o", color=_COLOURS[design], capsize=3, elinewidth=1.2
            )
    panel.ticklabel_format(axis="x", useOffset=False)
    known = values[np.isfinite(values)]
    if np.ptp(known) < _ALIKE * np.abs(known).max():
        panel.set_xlim(known.mean() - 1, known.mean() + 1)
    panel.set_xlabel(axis_text(name, printed(unit)))
    return [(name, unit, design, *values[:, k]) for k, design in enumerate(designs)]
