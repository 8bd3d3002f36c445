"""Figure of Morris effects."""

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from ..words.phrases import spoken
from .drawing import BLUE, GREY, Drawn, axis_text, shown
from .sensitivity_figures import bars, panels_of, short


def effects(morris: xr.Dataset) -> Drawn:
    """Mean size of each factor's effect on every output, largest first; what may be fixed in grey."""
    outputs = morris["output"].to_numpy()[morris["analysed"].to_numpy() == 1]
    analysed = morris.sel(output=outputs)
    figure, panels = panels_of(len(outputs), 0.24 * morris.sizes["factor"] + 1.15)
    sizes = analysed["mu_star"].to_numpy()
    order = np.argsort((sizes / np.nanmax(sizes, axis=1, keepdims=True)).max(axis=0), kind="stable")
    place = np.arange(len(order), dtype=np.float64)
    colours = [GREY if may else BLUE for may in morris["may_fix"].to_numpy()[order]]
    for k, (name, panel) in enumerate(zip(outputs, panels, strict=True)):
        dimension = str(analysed["output_dimension"].to_numpy()[k])
        values, unit = shown(sizes[k], difference_of(dimension), morris.attrs)
        scale = values[np.nanargmax(sizes[k])] / np.nanmax(sizes[k])
        wide = analysed["mu_star_half_width"].to_numpy()[k] * scale
        bars(panel, place, values[order], wide[order], height=0.6, color=colours)
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xlabel(axis_text("mean size of the change", unit))
    panels[0].set_yticks(place, [short(n) for n in morris["factor"].to_numpy()[order]])
    variables = ["mu", "mu_star", "mu_star_half_width", "sigma"]
    table = morris[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    caption = (
        "Change of each output while one factor crosses its range (SI in the CSV). Grey: may be fixed. "
        f"Whiskers: {100 * float(morris.attrs['confidence']):.0f} % intervals."
    )
    return Drawn("effects", figure, table, caption)
