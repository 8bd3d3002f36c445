"""Figures of a fit: every cook beside the model, what is left over, and what is known of the factors together."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..words.phrases import spoken
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, Drawn, printed, shown

COLOURS = {"food": BLUE, "pot": ORANGE, "plate": PURPLE, "air_inside": GREEN, "cover": SKY}
_MOST_COOKS = 6  # panels; more are in the table
_ELLIPSE = 2.4477  # standard deviations round 95 % of a bell of two: the root of chi squared, 5.991


def cooks_beside(result: xr.Dataset) -> Drawn | None:
    """Readings of every cook, the model as described and as fitted, with its band."""
    count = min(result.sizes["cook"], _MOST_COOKS)
    columns = min(count, 2)
    rows = -(-count // columns)
    figure = Figure(figsize=(3.5 * columns + 0.4, 2.5 * rows + 0.6))
    panels = figure.subplots(rows, columns, squeeze=False, sharey=True).ravel()
    for k, panel in enumerate(panels):
        if k >= count:
            panel.set_axis_off()
            continue
        _cook_panel(panel, result, k)
    panels[0].plot([], [], color=BLACK, linewidth=1.2, label="as fitted")
    panels[0].plot([], [], color=BLACK, linewidth=0.9, linestyle=":", label="as described")
    unique = {
        text: handle
        for panel in panels
        for handle, text in zip(*panel.get_legend_handles_labels(), strict=True)
    }
    figure.legend(
        unique.values(), unique.keys(), loc="outside upper center", ncols=7, fontsize=8, markerscale=2
    )
    caption = (
        "Points: readings. Lines: the model of the oven as fitted, with the band in which 95 % of readings should lie, "
        "and as described (dotted). Grey: no sun let in. Cooks that were held out were not fitted to."
    )
    return Drawn("cooks", figure, _readings_table(result), caption)


def _cook_panel(panel: Axes, result: xr.Dataset, cook: int) -> None:
    held = bool(result["held_out"][cook])
    panel.set_title(f'"{result["cook"].to_numpy()[cook]}"' + (", held out" if held else ""), fontsize=9)
    for number in np.flatnonzero(result["series_cook"].to_numpy() == cook):
        own = result.isel(reading=np.flatnonzero(result["reading_series"].to_numpy() == number))
        sensor = str(result["series_sensor"].to_numpy()[number])
        hours = own["reading_time"].to_numpy() / 3600
        colour = COLOURS[sensor]
        read, said, described = (
            _warmth(own, name) for name in ("measured", "fitted_temperature", "described_temperature")
        )
        band = _difference(own["band"].to_numpy(), result)
        panel.plot(hours, read, ".", markersize=2, color=colour, alpha=0.5, label=spoken(sensor))
        panel.fill_between(hours, said - band, said + band, color=colour, alpha=0.2, linewidth=0)
        panel.plot(hours, said, color=colour, linewidth=1.2)
        panel.plot(hours, described, color=colour, linewidth=0.9, linestyle=":")
        _shade(panel, hours, own["reading_shaded"].to_numpy())
    panel.set_xlabel("hours from the first reading")
    if panel.get_subplotspec().colspan.start == 0:  # type: ignore[union-attr]
        panel.set_ylabel(f"temperature [{printed(_units(result)[0])}]")


def _shade(panel: Axes, hours: np.ndarray[Any, Any], shaded: np.ndarray[Any, Any]) -> None:
    """Grey behind the time without sun."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], shaded, [0]])))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        panel.axvspan(hours[start], hours[min(end, len(hours) - 1)], color=GREY, alpha=0.12, linewidth=0)


def _warmth(result: xr.Dataset, name: str) -> np.ndarray[Any, Any]:
    """Temperatures in the unit of the result."""
    return shown(result[name].to_numpy(), "temperature", result.attrs)[0]


def _difference(values: Any, result: xr.Dataset) -> np.ndarray[Any, Any]:
    """Differences of temperature in the unit of the result."""
    return shown(values, "temperature_difference", result.attrs)[0]


def _units(result: xr.Dataset) -> tuple[str, str]:
    """Units of temperatures and of their differences."""
    warmth, difference = (
        shown([1.0], name, result.attrs)[1] for name in ("temperature", "temperature_difference")
    )
    return warmth, difference


def _readings_table(result: xr.Dataset) -> pd.DataFrame:
    number = result["reading_series"].to_numpy()
    cook = result["series_cook"].to_numpy()[number]
    warmth, difference = _units(result)
    return pd.DataFrame(
        {
            "cook": result["cook"].to_numpy()[cook],
            "thermometer": result["series_sensor"].to_numpy()[number],
            "time [h]": result["reading_time"].to_numpy() / 3600,
            f"measured [{warmth}]": _warmth(result, "measured"),
            f"as described [{warmth}]": _warmth(result, "described_temperature"),
            f"as fitted [{warmth}]": _warmth(result, "fitted_temperature"),
            f"half width of the band [{difference}]": _difference(result["band"].to_numpy(), result),
            "fitted to": result["reading_used"].to_numpy(),
            "no sun": result["reading_shaded"].to_numpy(),
        }
    )


def residuals(result: xr.Dataset) -> Drawn | None:
    """What is left of each reading after the fit, over time and over temperature."""
    compared = result["reading_compared"].to_numpy() == 1
    if not compared.any():
        return None
    left = _difference((result["measured"] - result["fitted_temperature"]).to_numpy(), result)
    warmth, difference = _units(result)
    number = result["reading_series"].to_numpy()
    over = (
        (result["reading_time"].to_numpy() / 3600, "hours from the first reading"),
        (_warmth(result, "measured"), f"temperature [{printed(warmth)}]"),
    )
    figure = Figure(figsize=(7.4, 2.9))
    panels = figure.subplots(1, 2, sharey=True)
    sensors = result["series_sensor"].to_numpy()
    for panel, (along, text) in zip(panels, over, strict=True):
        for sensor in dict.fromkeys(sensors.tolist()):
            own = compared & (sensors[number] == sensor)
            panel.plot(
                along[own],
                left[own],
                ".",
                markersize=2,
                alpha=0.5,
                color=COLOURS[sensor],
                label=spoken(sensor),
            )
        panel.axhline(0, color=BLACK, linewidth=0.8)
        panel.set_xlabel(text)
    panels[0].set_ylabel(f"reading less model [{printed(difference)}]")
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles, texts, loc="outside upper center", ncols=4, fontsize=8, markerscale=2)
    table = pd.DataFrame(
        {
            "cook": result["cook"].to_numpy()[result["series_cook"].to_numpy()[number[compared]]],
            "thermometer": sensors[number[compared]],
            "time [h]": over[0][0][compared],
            f"temperature [{warmth}]": over[1][0][compared],
            f"reading less model [{difference}]": left[compared],
        }
    )
    caption = (
        "What the fitted oven leaves of the readings, over time and over temperature. A cloud without a shape is the "
        "thermometer's scatter; a slope or a wave is something that the model does not know."
    )
    return Drawn("residuals", figure, table, caption)


def pairs(result: xr.Dataset) -> Drawn | None:
    """Pairs of factors: the ellipse that holds 95 % of what the cooks leave possible, and refits."""
    names = [str(name) for name in result["factor"].to_numpy()]
    if len(names) < 2:
        return None
    which = [(i, j) for j in range(len(names)) for i in range(j)][:6]
    columns = min(len(which), 3)
    rows = -(-len(which) // columns)
    figure = Figure(figsize=(2.6 * columns + 0.4, 2.4 * rows + 0.5))
    panels = figure.subplots(rows, columns, squeeze=False).ravel()
    tables = []
    for k, panel in enumerate(panels):
        if k >= len(which):
            panel.set_axis_off()
            continue
        tables.append(_pair_panel(panel, result, *which[k]))
    handles, texts = panels[0].get_legend_handles_labels()
    figure.legend(handles, texts, loc="outside upper center", ncols=4, fontsize=8, markerscale=2)
    caption = (
        "Two factors at a time. Line: the region that holds the true pair 19 times of 20. Points: fits to resampled "
        "residuals, which know nothing of what other rays move or how far cooks differ. Cross: as described. A long "
        "thin region means that only a combination of the two is known."
    )
    return Drawn("pairs", figure, pd.concat(tables), caption)


def _pair_panel(panel: Axes, result: xr.Dataset, i: int, j: int) -> pd.DataFrame:
    names = [str(name) for name in result["factor"].to_numpy()]
    x, y = _ellipse(result, i, j)
    drawn = result["drawn"].to_numpy()
    panel.plot(drawn[:, i], drawn[:, j], ".", markersize=2, color=SKY, label="refits")
    panel.plot(x, y, color=BLUE, linewidth=1.2, label="95 % region")
    panel.plot(result["estimate"][i], result["estimate"][j], "o", markersize=4, color=BLUE, label="as fitted")
    panel.plot(
        result["described"][i], result["described"][j], "x", markersize=6, color=RED, label="as described"
    )
    panel.set(xlabel=spoken(names[i]), ylabel=spoken(names[j]))
    pair = f"{names[i]}, {names[j]}"
    return pd.DataFrame({"pair": pair, "first": x, "second": y})


def _ellipse(result: xr.Dataset, i: int, j: int) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Ends of the region of two factors, in the factors' own units."""
    covariance = result["covariance"].to_numpy()[np.ix_([i, j], [i, j])]
    squares, vectors = np.linalg.eigh(covariance)
    angle = np.linspace(0, 2 * np.pi, 181)
    circle = np.stack([np.cos(angle), np.sin(angle)])
    steps = _ELLIPSE * (vectors * np.sqrt(np.maximum(squares, 0))) @ circle
    ends = []
    for k, step in zip((i, j), steps, strict=True):
        one = result.isel(factor=k)
        low, high, estimate = (float(one[name]) for name in ("factor_low", "factor_high", "estimate"))
        logs = str(one["factor_scale"].item()) == "logarithm"
        moved = estimate * np.exp(step) if logs else estimate + step * (high - low)
        ends.append(np.clip(moved, low, high))
    return ends[0], ends[1]
