"""Figures of Sobol indices and of Morris effects."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from ..quantity import difference_of
from .drawing import BLACK, BLUE, GREEN, ORANGE, PURPLE, RED, SKY, YELLOW, Drawn, axis_text, shown
from .phrases import spoken


def indices(sobol: xr.Dataset) -> Drawn:
    """First and total indices of every output, with intervals."""
    last = sobol.isel(base_samples=-1)
    outputs = [str(name) for name in last["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.4, 0.42 * last.sizes["factor"] + 1.4))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    order = np.argsort(np.nanmax(np.nan_to_num(last["total"].to_numpy()), axis=0), kind="stable")
    place = np.arange(len(order))
    for name, panel in zip(outputs, panels, strict=True):
        one = last.sel(output=name)
        for kind, shift, colour in (("total", -0.18, ORANGE), ("first", 0.18, BLUE)):
            panel.barh(place + shift, one[kind].to_numpy()[order], height=0.34, color=colour, label=kind)
            panel.errorbar(
                one[kind].to_numpy()[order],
                place + shift,
                xerr=one[f"{kind}_half_width"].to_numpy()[order],
                fmt="none",
                ecolor=BLACK,
                elinewidth=0.9,
                capsize=2,
            )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xlabel("share of variance")
        panel.axvline(0, color=BLACK, linewidth=0.6)
    panels[0].set_yticks(place, [spoken(n) for n in last["factor"].to_numpy()[order]])
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles[::-1], texts[::-1], loc="outside upper right", ncols=2)
    caption = (
        "Share of each output's variance over the ranges studied: by a factor alone (first) and with all "
        f"its interactions (total). Whiskers: {100 * float(sobol.attrs['confidence']):.0f} % intervals."
    )
    variables = ["first", "first_half_width", "total", "total_half_width"]
    table = last[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    return Drawn("indices", figure, table, caption)


def convergence(sobol: xr.Dataset) -> Drawn:
    """Total indices from a quarter, half and all of the samples."""
    outputs = [str(name) for name in sobol["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.2, 3.0))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    colours = [BLUE, ORANGE, GREEN, RED, PURPLE, SKY, BLACK, YELLOW]
    sizes = sobol["base_samples"].to_numpy()
    for name, panel in zip(outputs, panels, strict=True):
        for k, factor in enumerate(sobol["factor"].to_numpy()):
            one = sobol.sel(output=name, factor=factor)
            panel.errorbar(
                np.arange(len(sizes)) + 0.04 * k,
                one["total"].to_numpy(),
                yerr=one["total_half_width"].to_numpy(),
                color=colours[k % len(colours)],
                marker="o",
                markersize=3,
                linewidth=1,
                capsize=2,
                linestyle="-" if k < len(colours) else "--",
                label=spoken(factor),
            )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xticks(range(len(sizes)), [str(size) for size in sizes])
        panel.set_xlabel("base samples")
    panels[0].set_ylabel("total index")
    figure.legend(*panels[0].get_legend_handles_labels(), loc="outside right upper")
    table = sobol[["total", "total_half_width"]].to_dataframe().reset_index()
    table = table[["output", "base_samples", "factor", "total", "total_half_width"]]
    return Drawn(
        "convergence", figure, table, "Indices that still move when the samples double are not settled."
    )


def effects(morris: xr.Dataset) -> Drawn:
    """Mean size of each factor's effect on every output, largest first."""
    outputs = [str(name) for name in morris["output"].to_numpy()]
    figure = Figure(figsize=(3.4 * len(outputs) + 1.4, 0.34 * morris.sizes["factor"] + 1.3))
    panels = figure.subplots(1, len(outputs), sharey=True, squeeze=False)[0]
    sizes = morris["mu_star"].to_numpy()
    order = np.argsort((sizes / np.nanmax(sizes, axis=1, keepdims=True)).max(axis=0), kind="stable")
    place = np.arange(len(order))
    for k, (name, panel) in enumerate(zip(outputs, panels, strict=True)):
        dimension = str(morris["output_dimension"].to_numpy()[k])
        values, unit = shown(sizes[k], difference_of(dimension))
        scale = values[np.nanargmax(sizes[k])] / np.nanmax(sizes[k])
        panel.barh(place, values[order], color=BLUE)
        wide = morris["mu_star_half_width"].to_numpy()[k] * scale
        panel.errorbar(
            values[order], place, xerr=wide[order], fmt="none", ecolor=BLACK, elinewidth=0.9, capsize=2
        )
        panel.set_title(spoken(name), fontsize=9)
        panel.set_xlabel(axis_text("mean size of the change", unit))
    panels[0].set_yticks(place, [spoken(n) for n in morris["factor"].to_numpy()[order]])
    variables = ["mu", "mu_star", "mu_star_half_width", "sigma"]
    table = morris[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    return Drawn(
        "effects", figure, table, "Change of each output while one factor crosses its range (SI in the CSV)."
    )
