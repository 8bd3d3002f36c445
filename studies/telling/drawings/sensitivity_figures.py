"""Figures of Sobol indices, of the two sides and of ranks."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from ..words.phrases import spoken
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn

ACROSS = 3  # panels beside each other, so that a page can hold them
_SHORT = 28  # characters of a label
_LINES = 7  # factors told apart by colour in one figure
_MANY = 3  # outputs from which a table of all is worth a figure
_COLOURS = (BLUE, ORANGE, GREEN, RED, PURPLE, SKY, BLACK)
_UNSURE = 0.25  # half width of an interval from which a number is put in brackets
_SHOWN = (-0.3, 1.3)  # shares drawn at most; an interval that is wider runs off the figure
_DARK = 0.55  # shade of a cell from which its number is written in white


def panels_of(count: int, rows_high: float) -> tuple[Figure, list[Axes]]:
    """A figure of so many panels, a few beside each other, with the same axis of factors along each row."""
    across = min(count, ACROSS)
    down = -(-count // across)
    figure = Figure(figsize=(2.9 * across + 1.6, down * rows_high))
    grid = figure.subplots(down, across, sharey=True, squeeze=False).ravel()
    for panel in grid[count:]:
        panel.set_axis_off()
    return figure, list(grid[:count])


def bars(panel: Axes, place: NDArray[np.float64], sizes: Any, wide: Any, **look: Any) -> None:
    """Lying bars with the whiskers of their intervals."""
    panel.barh(place, sizes, **look)
    panel.errorbar(sizes, place, xerr=wide, fmt="none", ecolor=BLACK, elinewidth=0.8, capsize=1.5)


def within_reach(panel: Axes) -> None:
    """Keep one hopeless estimate from pressing all others flat."""
    low, high = panel.get_xlim()
    panel.set_xlim(max(low, _SHOWN[0]), min(high, _SHOWN[1]))


def short(name: object) -> str:
    """A name that leaves room beside it."""
    words = spoken(name)
    return words if len(words) <= _SHORT else words[: _SHORT - 1] + "…"


def indices(sobol: xr.Dataset) -> Drawn | None:
    """First and total indices of every output, with intervals; of reaching it, where that is what is explained."""
    last, told = sobol.isel(base_samples=-1), list(_told(sobol))
    if not told:
        return None
    figure, panels = panels_of(len(told), 0.27 * last.sizes["factor"] + 1.15)
    order = _by_size(np.array([last[f"{prefix}total"].sel(output=name) for name, prefix, _ in told]))
    place = np.arange(len(order), dtype=np.float64)
    for (name, prefix, title), panel in zip(told, panels, strict=True):
        one = last.sel(output=name).isel(factor=order)
        for kind, shift, colour in (("total", -0.19, ORANGE), ("first", 0.19, BLUE)):
            sizes, wide = (one[f"{prefix}{kind}{end}"].to_numpy() for end in ("", "_half_width"))
            bars(panel, place + shift, sizes, wide, height=0.36, color=colour, label=kind)
        panel.set_title(title, fontsize=9)
        panel.axvline(0, color=BLACK, linewidth=0.6)
        panel.set_xlabel("share of variance")
        within_reach(panel)
    panels[0].set_yticks(place, [short(n) for n in last["factor"].to_numpy()[order]])
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles[::-1], texts[::-1], loc="outside upper right", ncols=2)
    caption = (
        "Share of each output's variance over the factors as drawn: by a factor alone (first) and with all its "
        f"interactions (total). {_whiskers(sobol)}"
    )
    stems = [f"{prefix}{kind}" for prefix in sorted({p for _, p, _ in told}) for kind in ("first", "total")]
    variables = [f"{stem}{end}" for stem in stems for end in ("", "_half_width")]
    table = last[variables].to_dataframe().reset_index()[["output", "factor", *variables]]
    return Drawn("indices", figure, table, caption)


def sides(sobol: xr.Dataset) -> Drawn | None:
    """What is decided, what is suffered, and what they do only together, of every output."""
    told = list(_told(sobol))
    if "side_first" not in sobol or not told:
        return None
    last = sobol.isel(base_samples=-1)
    figure = Figure(figsize=(6.6, 0.75 * len(told) + 1.2))
    panel = figure.subplots()
    place = np.arange(len(told), dtype=np.float64)[::-1]
    looks: dict[str, tuple[float, str, str, dict[str, Any]]] = {
        "what you decide": (0.25, BLUE, "side_first", {"side": "decided"}),
        "weather and workmanship": (0.0, ORANGE, "side_first", {"side": "suffered"}),
        "only both together": (-0.25, GREY, "side_interaction", {}),
    }
    rows = []
    for label, (shift, colour, stem, pick) in looks.items():
        found = np.array(
            [
                [
                    float(last[f"{prefix}{stem}{end}"].sel({"output": name} | pick))
                    for end in ("", "_half_width")
                ]
                for name, prefix, _ in told
            ]
        )
        bars(panel, place + shift, found[:, 0], found[:, 1], height=0.23, color=colour, label=label)
        rows += [(name, label, *pair) for (name, _, _), pair in zip(told, found.tolist(), strict=True)]
    panel.set_yticks(place, [title for _, _, title in told])
    panel.axvline(0, color=BLACK, linewidth=0.6)
    panel.set_xlabel("share of variance")
    within_reach(panel)
    figure.legend(*panel.get_legend_handles_labels(), loc="outside upper center", ncols=3)
    caption = (
        "Whose hand each output lies in: the share of its variance by all that is decided, by all that weather and "
        f"workmanship do, and by how the two act on each other; together they are the whole. {_whiskers(sobol)}"
    )
    drawn = xr.Dataset.from_dict(
        {
            key: {"dims": "row", "data": list(column)}
            for key, column in zip(
                ("output", "side", "share", "half_width"), zip(*rows, strict=True), strict=True
            )
        }
    )
    return Drawn("sides", figure, drawn.to_dataframe().reset_index(drop=True), caption)


def ranks(sobol: xr.Dataset) -> Drawn | None:
    """PAWN of every output beside what chance reaches."""
    names = [str(n) for n in sobol["output"].to_numpy() if np.isfinite(sobol["pawn"].sel(output=n)).any()]
    if not names:
        return None
    figure, panels = panels_of(len(names), 0.24 * sobol.sizes["drawn"] + 1.15)
    order = _by_size(sobol["pawn"].sel(output=names).to_numpy())
    place = np.arange(len(order), dtype=np.float64)
    for name, panel in zip(names, panels, strict=True):
        one = sobol.sel(output=name).isel(drawn=order)
        chance = one["pawn_threshold"].to_numpy()
        colours = [BLUE if moves else GREY for moves in one["pawn_moves"].to_numpy()]
        bars(
            panel, place, one["pawn"].to_numpy(), one["pawn_half_width"].to_numpy(), height=0.6, color=colours
        )
        panel.scatter(chance, place, marker="|", s=90, color=RED, linewidth=1.4, zorder=3, label="chance")
        never = float(one["never_share"])
        more = f", {100 * never:.2g} % never" if never > 0 else ""
        panel.set_title(f"{spoken(name)}{more}", fontsize=9)
        panel.set_xlabel("shift of the distribution")
        panel.set_xlim(0, None)
    panels[0].set_yticks(place, [short(n) for n in sobol["drawn"].to_numpy()[order]])
    figure.legend(*panels[0].get_legend_handles_labels(), loc="outside upper right")
    caption = (
        "How far the whole distribution of an output moves when a factor is fixed (PAWN: the median Kolmogorov-Smirnov "
        "distance; 0 nothing, 1 all), never counted as last. Grey: no more than chance reaches (red mark). "
        f"{_whiskers(sobol)}"
    )
    variables = ["pawn", "pawn_half_width", "pawn_threshold"]
    table = sobol[variables].to_dataframe().reset_index()[["output", "drawn", *variables]]
    return Drawn("ranks", figure, table, caption)


def overview(sobol: xr.Dataset) -> Drawn | None:
    """Total indices of all factors and outputs as a table, where there are many."""
    last, told = sobol.isel(base_samples=-1), list(_told(sobol))
    if len(told) < _MANY:
        return None
    total, wide = (
        np.array([last[f"{prefix}total{end}"].sel(output=name) for name, prefix, _ in told])
        for end in ("", "_half_width")
    )
    order = _by_size(total)[::-1]
    figure = Figure(figsize=(0.95 * len(told) + 2.6, 0.3 * len(order) + 1.7))
    panel = figure.subplots()
    shade = np.clip(total[:, order].T, 0.0, 1.0)
    panel.imshow(shade, cmap="Blues", vmin=0.0, vmax=1.0, aspect="auto")
    for (row, column), share in np.ndenumerate(total[:, order].T):
        colour = "white" if shade[row, column] > _DARK else BLACK
        number = f"{100 * share:.0f}"
        unsure = wide[column, order[row]] > _UNSURE
        panel.text(
            column,
            row,
            f"({number})" if unsure else number,
            ha="center",
            va="center",
            fontsize=8,
            color=colour,
        )
    panel.set_yticks(range(len(order)), [short(n) for n in last["factor"].to_numpy()[order]])
    titles = [title.replace(": ", ":\n") for _, _, title in told]
    panel.set_xticks(range(len(told)), titles, rotation=35, ha="right", rotation_mode="anchor")
    panel.grid(visible=False)
    panel.tick_params(length=0)
    caption = (
        "Total index of every factor for every output [%]: how much of its variance would go if that factor alone "
        "became known. A column may add up to more than 100 where factors act together. In brackets: give or take more "
        f"than {100 * _UNSURE:.0f}."
    )
    names = ["output", *last["factor"].to_numpy()]
    columns = [[title for _, _, title in told], *total.T.tolist()]
    table = xr.Dataset({name: ("row", column) for name, column in zip(names, columns, strict=True)})
    return Drawn("overview", figure, table.to_dataframe().reset_index(drop=True), caption)


def convergence(sobol: xr.Dataset) -> Drawn | None:
    """Total indices from a quarter, half and all of the samples."""
    told = list(_told(sobol))
    if not told:
        return None
    figure, panels = panels_of(len(told), 2.7)
    sizes, factors = sobol["base_samples"].to_numpy(), sobol["factor"].to_numpy()
    order = _by_size(np.array([sobol[f"{p}total"].sel(output=n).isel(base_samples=-1) for n, p, _ in told]))[
        ::-1
    ]
    for (name, prefix, title), panel in zip(told, panels, strict=True):
        for rank, k in enumerate(order):
            one = sobol.sel(output=name).isel(factor=k)
            named = rank < _LINES
            panel.errorbar(
                np.arange(len(sizes)) + 0.04 * min(rank, _LINES),
                one[f"{prefix}total"].to_numpy(),
                yerr=one[f"{prefix}total_half_width"].to_numpy(),
                color=_COLOURS[rank] if named else "#bbbbbb",
                marker="o",
                markersize=3 if named else 2,
                linewidth=1 if named else 0.7,
                capsize=2 if named else 0,
                zorder=3 if named else 2,
                label=short(factors[k]) if named else ("the others" if rank == _LINES else None),
            )
        panel.set_title(title, fontsize=9)
        panel.set_xticks(range(len(sizes)), [str(size) for size in sizes])
        panel.set_xlabel("base samples")
    panels[0].set_ylabel("total index")
    low, high = panels[0].get_ylim()
    panels[0].set_ylim(max(low, _SHOWN[0]), min(high, _SHOWN[1]))
    figure.legend(*panels[0].get_legend_handles_labels(), loc="outside right upper")
    stems = [f"{prefix}total" for prefix in sorted({p for _, p, _ in told})]
    variables = [f"{stem}{end}" for stem in stems for end in ("", "_half_width")]
    table = sobol[variables].to_dataframe().reset_index()[["output", "base_samples", "factor", *variables]]
    caption = "Indices that still move when the samples double are not settled."
    return Drawn("convergence", figure, table, caption)


def _told(sobol: xr.Dataset) -> Iterator[tuple[str, str, str]]:
    """Outputs whose variance is explained: name, the prefix of its variables, and a title."""
    for name in sobol["output"].to_numpy():
        one = sobol.sel(output=name)
        if int(one["analysed"]):
            yield str(name), "", spoken(name)
        elif "reached_total" in one and np.isfinite(one["reached_total"].to_numpy()[-1]).any():
            yield str(name), "reached_", f"{spoken(name)}: reached or not"


def _by_size(sizes: NDArray[np.float64]) -> NDArray[np.int64]:
    """Factors from the least to the greatest over all outputs: int64[factor] of float64[output, factor]."""
    return np.argsort(np.clip(np.nan_to_num(sizes), 0.0, 1.0).mean(axis=0), kind="stable")


def _whiskers(sobol: xr.Dataset) -> str:
    return f"Whiskers: {100 * float(sobol.attrs['confidence']):.0f} % intervals."
