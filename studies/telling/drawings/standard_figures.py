"""Figures of a test by the published procedures: the line with its points, and which ten minutes count."""

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from ..words.standard_words import beside_si, rejections, watts
from .drawing import BLACK, BLUE, GREEN, GREY, ORANGE, PURPLE, RED, SKY, YELLOW, Drawn

_COLOURS = (BLUE, ORANGE, GREEN, PURPLE, SKY, RED, BLACK)
_MARKS = ("o", "s", "^", "D", "v", "P", "X")
_REASON_COLOURS = (ORANGE, SKY, YELLOW, PURPLE, RED, BLUE, BLACK)
_KELVIN_IN_FAHRENHEIT = 1.8


def power_line(result: xr.Dataset) -> Drawn | None:
    """Standardised power against the difference of temperatures: points used and void, line, interval at 50 K."""
    if not result.sizes["interval"]:
        return None
    figure = Figure(figsize=(6.6, 4.0))
    axes = figure.subplots()
    plot_line(axes, result)
    axes.legend(fontsize=7.5, loc="upper right")
    caption = (
        "Each point is ten minutes of water warming, brought to 700 W/m2; hollow grey points do not count, the table "
        "says why. Shaded: interval of the line; bar: at 50 K. The slope is that of the loss times 700 W/m2 over the "
        "irradiance, not the loss itself."
    )
    return Drawn("line", figure, interval_table(result), caption)


def plot_line(axes: Axes, result: xr.Dataset) -> None:
    """The points and their line, on axes of a figure or of the test report."""
    counted = result["counted"].to_numpy() == 1
    across, up = result["temperature_difference"].to_numpy(), result["standardised_power"].to_numpy()
    axes.plot(
        across[~counted], up[~counted], "o", mfc="none", color=GREY, markersize=4, label="does not count"
    )
    cooks = result["interval_cook"].to_numpy()
    for number, cook in enumerate(sorted(set(cooks[counted].tolist()))):
        own = counted & (cooks == cook)
        look: dict[str, Any] = {"color": _COLOURS[number % len(_COLOURS)], "markersize": 4.5}
        axes.plot(
            across[own], up[own], _MARKS[number % len(_MARKS)], label=str(result["cook"][cook].item()), **look
        )
    _plot_fit(axes, result)
    seen = np.concatenate([up[counted] if counted.any() else up, result["curve_power"].to_numpy(), [0.0]])
    top = 1.15 * float(np.nanmax(seen)) if np.isfinite(seen).any() else 1.0
    axes.set(xlabel="water above the air [K]", ylabel="standardised cooking power [W]")
    axes.set_xlim(left=min(0.0, float(np.nanmin(across)) - 1))
    axes.set_ylim(bottom=min(0.0, float(np.nanmin(seen))), top=max(top, 1.0))
    if beside_si(result) == "inch":
        degrees = axes.secondary_xaxis("top", functions=(_to_fahrenheit, _to_kelvin))
        degrees.set_xlabel("[°F]", fontsize=7)
        degrees.tick_params(labelsize=7)


def _plot_fit(axes: Axes, result: xr.Dataset) -> None:
    if not np.isfinite(float(result["power_at_50"])):
        return
    at = result["curve_difference"].to_numpy()
    axes.fill_between(at, result["curve_low"], result["curve_high"], color=GREY, alpha=0.25, linewidth=0)
    axes.plot(at, result["curve_power"], color=BLACK, linewidth=1.1)
    power, low, high = (float(result[f"power_{end}"]) for end in ("at_50", "low", "high"))
    where = float(result["reported_at"])
    axes.errorbar(
        [where],
        [power],
        yerr=[[power - low], [high - power]],
        fmt="o",
        color=RED,
        markersize=5,
        capsize=4,
        label=f"{watts(power)} at {where:.0f} K",
        zorder=5,
    )


def _to_fahrenheit(kelvin: Any) -> Any:
    return np.asarray(kelvin) * _KELVIN_IN_FAHRENHEIT


def _to_kelvin(fahrenheit: Any) -> Any:
    return np.asarray(fahrenheit) / _KELVIN_IN_FAHRENHEIT


def interval_table(result: xr.Dataset) -> pd.DataFrame:
    """Every interval with its numbers and why it does not count."""
    cooks = result["interval_cook"].to_numpy()
    table = pd.DataFrame(
        {
            "cook": result["cook"].to_numpy()[cooks] if len(cooks) else [],
            "from start [min]": result["interval_start"].to_numpy() / 60,
            "power [W]": result["power"].to_numpy(),
            "standardised power [W]": result["standardised_power"].to_numpy(),
            "water above air [K]": result["temperature_difference"].to_numpy(),
            "irradiance [W/m2]": result["interval_irradiance"].to_numpy(),
            "counts": result["counted"].to_numpy(),
            "why not": result["reasons"].to_numpy(),
        }
    )
    if beside_si(result) == "inch":
        fahrenheit = table["water above air [K]"] * _KELVIN_IN_FAHRENHEIT
        table.insert(5, "water above air [F deg]", fahrenheit)
    return table


def which_count(result: xr.Dataset) -> Drawn | None:
    """Each cook's ten minutes by solar time: which count, and the first reason of those that do not."""
    if not result.sizes["interval"]:
        return None
    reasons = [reason for reason, _ in rejections(result).most_common()]
    colours = {reason: _REASON_COLOURS[k % len(_REASON_COLOURS)] for k, reason in enumerate(reasons)}
    cooks = result["interval_cook"].to_numpy()
    rows = sorted(set(cooks.tolist()))
    figure = Figure(figsize=(6.6, 0.34 * len(rows) + 0.2 * len(reasons) + 1.3))
    axes = figure.subplots()
    hours = _solar_hours(result)
    width = float(result["interval_length"]) / 3600
    for hour, cook, why in zip(hours, cooks, result["reasons"].to_numpy(), strict=True):
        colour = colours[why.split("; ")[0]] if why else GREEN
        axes.barh(rows.index(cook), 0.92 * width, left=hour, height=0.6, color=colour)
    axes.set_yticks(range(len(rows)), [str(result["cook"][cook].item()) for cook in rows])
    axes.invert_yaxis()
    axes.axvline(0, color=BLACK, linewidth=0.6)
    axes.set_xlabel("hours from solar noon")
    handles = [Patch(color=GREEN, label="counts"), *(Patch(color=c, label=r) for r, c in colours.items())]
    figure.legend(handles=handles, loc="outside lower center", ncols=2, fontsize=7.5)
    table = pd.DataFrame(
        {
            "cook": result["cook"].to_numpy()[cooks],
            "from solar noon [h]": hours,
            "why not": result["reasons"].to_numpy(),
        }
    )
    return Drawn(
        "intervals", figure, table, "Ten minutes each; one colour for the first reason why it does not count."
    )


def _solar_hours(result: xr.Dataset) -> Any:
    """Start of each interval from solar noon. [h]"""
    noon = result["solar_noon"].to_numpy()[result["interval_cook"].to_numpy()]
    return (result["interval_start"].to_numpy() - noon) / 3600
