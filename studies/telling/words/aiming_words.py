"""What an aiming study says: how well the oven keeps to the sun, what that costs, and what to change."""

import math
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from ...asking.quantity import show, show_clock, to_unit
from .phrases import said

# Losses of light that a cook would not notice.
_SMALL = 0.005
_WORTH_TELLING = 600.0  # s; the sun moves no further than the dead band of a usual drive
# Shares of the light that a builder may want to keep when he chooses how often to re-aim.
_KEEP = (0.98, 0.95, 0.90)


def aiming_sentences(result: xr.Dataset) -> list[str]:
    """The aiming of one design, most important first."""
    how = str(result.attrs["how"])
    speak = {"drive": _drive, "by hand": _by_hand, "fixed": _fixed}[how]
    return [*speak(result), *_off_axis(result), *_sight(result)]


def _of(result: xr.Dataset, name: str, digits: int = 2) -> str:
    """A variable without dimensions as text with its unit."""
    return said(float(result[name]), str(result[name].attrs["dimension"]), result.attrs, digits=digits)


def _degrees(angle: float) -> str:
    return f"{math.degrees(angle):.1f} deg"


def _visits(count: float) -> str:
    return "1 visit" if round(count) == 1 else f"{count:.0f} visits"


def _rate(value: float) -> str:
    """A rate of turning as the sun's is spoken of, however fast. [rad/s]"""
    return f"{to_unit(value, 'deg/h', 'angular_speed'):.0f} deg/h"


def _share(value: float) -> str:
    return f"{100 * value:.1f} %"


def _kept(value: float) -> str:
    """A share of the light that a perfectly aimed oven takes in, as the gain or loss it is."""
    if value > 1 + _SMALL:
        return f"{_share(value - 1)} more beam than with the axis always on the sun"
    if value < 1 - _SMALL:
        return f"{_share(1 - value)} less beam than with the axis always on the sun"
    return "as much beam as with the axis always on the sun"


def _clock(result: xr.Dataset, day: int, seconds: float) -> str:
    """Time of day where the oven stands, some seconds after the food was loaded on one of the days."""
    loaded = pd.Timestamp(result["clock"].to_numpy()[day, 0]) + pd.Timedelta(seconds=seconds)
    local = loaded.tz_localize("UTC").tz_convert(str(result.attrs["timezone"]))
    return show_clock(60.0 * (60 * local.hour + local.minute))


def _days(result: xr.Dataset, which: Any) -> str:
    """How many real days a mask of days stands for, out of all."""
    weight = result["day_weight"].to_numpy()
    return f"{weight[np.asarray(which)].sum():.0f} of {weight.sum():.0f} days"


def _mean(result: xr.Dataset, name: str) -> float:
    """Mean of a variable over the days it stands for, those without a value left out."""
    values, weight = result[name].to_numpy().astype(np.float64), result["day_weight"].to_numpy()
    some = np.isfinite(values)
    return float(np.average(values[some], weights=weight[some])) if some.any() else math.nan


def _on_the_shown_day(result: xr.Dataset) -> str:
    day = int(result.attrs["shown_day"])
    worst, mean = float(result["worst_off_axis"][day]), float(result["mean_off_axis"][day])
    label = result["day_label"].to_numpy()[day]
    if math.isnan(worst):
        return f"On {label} the sun does not shine."
    taken = f"the pot takes in {_kept(float(result['day_kept'][day]))}"
    return f"On {label} the axis stays within {_degrees(worst)} of the sun ({_degrees(mean)} on average); {taken}."


def _by_hand(result: xr.Dataset) -> list[str]:
    return [
        f"Set by hand every {_of(result, 'own_interval')}, the pot takes in {_kept(float(result['kept']))}; that "
        f"takes {_visits(_mean(result, 'visits'))} and {show(_mean(result, 'attention'), 'time', digits=2)} of "
        "attention a cook.",
        _on_the_shown_day(result),
        *_choices(result, "Re-aimed"),
    ]


def _fixed(result: xr.Dataset) -> list[str]:
    return [
        f"Left standing, the pot takes in {_kept(float(result['kept']))}.",
        _on_the_shown_day(result),
        *_choices(result, "Re-aimed by hand"),
    ]


def _choices(result: xr.Dataset, start: str) -> list[str]:
    """The longest interval of those compared that still keeps so much of the light."""
    kept, every = result["interval_kept"].to_numpy(), result["interval"].to_numpy()
    lines: dict[int, list[str]] = {}
    for share in _KEEP:
        # All shorter ones must keep it as well: a lucky interval is no advice.
        enough = np.flatnonzero(np.logical_and.accumulate(kept >= share))
        if enough.size:
            lines.setdefault(int(enough[-1]), []).append(f"{100 * share:.0f} %")
    said = [
        f"{start} every {show(float(every[k]), 'time')} it still keeps {shares[0]} of what perfect aiming gives, for "
        f"{_visits(float(result['interval_visits'][k]))} a cook"
        + (" (the longest compared)" if k == len(every) - 1 else "")
        + "."
        for k, shares in lines.items()
    ]
    return said or [
        f"{start} even every {show(float(every[0]), 'time')} it keeps only {_share(float(kept[0]))}."
    ]


def _drive(result: xr.Dataset) -> list[str]:
    return [
        f"With the drive the pot takes in {_kept(float(result['kept']))}.",
        _on_the_shown_day(result),
        *_steps(result),
        *_lost(result),
        *_keeps_up(result),
        *_turns_back(result),
        *_dim_days(result),
        *_waking(result),
        *_cloud(result),
        *_diffuse(result),
        *_tilting(result),
    ]


def _steps(result: xr.Dataset) -> list[str]:
    band = (
        f"a dead band of {_of(result, 'dead_band')}: it starts {_of(result, 'start_angle')} behind a full sun"
    )
    if math.isnan(float(result["travel_per_step"])):
        return [f"It has {band}. On none of the days does it move."]
    turn = f", {_of(result, 'edge_per_turn')} in one turn of the wheel" if "edge_per_turn" in result else ""
    return [
        f"It has {band}. It moves {_of(result, 'travel_per_step')} at a time, {_of(result, 'edge_per_step')} at the "
        f"edge of the base{turn}; {float(result['starts_per_hour']):.1f} times in an hour of sunshine, the motor "
        f"running {_share(float(result['duty']))} of the cook."
    ]


def _lost(result: xr.Dataset) -> list[str]:
    """Days on which the sun gets where the cell cannot see it, for longer than anyone would overlook."""
    lost = result["lost_time"].to_numpy()
    if lost.max() < _WORTH_TELLING:
        return []
    worst = int(lost.argmax())
    since, label = float(result["lost_from"][worst]), result["day_label"].to_numpy()[worst]
    why = (
        "it passes so near the zenith that the fin throws hardly a shadow while it changes sides: turn the oven by "
        "hand past noon, once"
        if since > 0
        else "the oven stands turned away in the morning: leave it facing east"
    )
    return [
        f"On {_days(result, lost >= _WORTH_TELLING)} the drive loses the sun, for up to "
        f"{show(lost[worst], 'time', digits=2)} from {_clock(result, worst, since)} on ({label}); {why}."
    ]


def _keeps_up(result: xr.Dataset) -> list[str]:
    day, seconds = int(result["fastest_day"]), float(result["fastest_time"])
    fastest = (
        f"the sun's azimuth runs fastest at {_clock(result, day, seconds)} on {result['day_label'].to_numpy()[day]}, "
        f"at {_rate(float(result['fastest_rate']))}; the drive turns at {_rate(float(result['drive_speed']))}"
    )
    behind = result["outrun_time"].to_numpy()
    if not behind.any():
        return [f"It keeps up: {fastest}, {float(result['reserve']):.1f} times as fast."]
    worst = int(behind.argmax())
    at = _clock(result, worst, float(result["outrun_middle"][worst]))
    gained = float(result["kept_fast"]) - float(result["kept"])
    cost = f"That costs {_share(gained)} of the light" if gained > _SMALL else "That costs hardly any light"
    return [
        f"The drive falls behind on {_days(result, behind > 0)}, for up to {show(behind[worst], 'time', digits=2)} "
        f"around {at} on {result['day_label'].to_numpy()[worst]}: {fastest}. {cost}. {_remedy(result)}"
    ]


def _remedy(result: xr.Dataset) -> str:
    if "wheel_needed" in result:
        return (
            f"To keep up, use a wheel of {_of(result, 'wheel_needed', 3)} radius or more (now "
            f"{_of(result, 'wheel_radius', 3)}), or a motor of "
            f"{to_unit(float(result['motor_needed']), 'rpm', 'angular_speed'):.2g} rpm or more."
        )
    return f"To keep up, it has to turn at {_rate(float(result['fastest_rate']))} or more."


def _turns_back(result: xr.Dataset) -> list[str]:
    back = result["reversed_time"].to_numpy()
    if back.max() < _WORTH_TELLING:
        return []
    worst = int(back.argmax())
    label = result["day_label"].to_numpy()[worst]
    return [
        f"On {_days(result, back >= _WORTH_TELLING)} the sun passes on the pole side of the zenith and its azimuth "
        f"turns back, for up to {show(back[worst], 'time', digits=2)} ({label}). A drive that turns one way cannot "
        "follow: set it by hand then."
    ]


def _dim_days(result: xr.Dataset) -> list[str]:
    dim = result["dni"].to_numpy().max(axis=1) < float(result["least_dni"])
    if not dim.any():
        return []
    return [
        f"On {_days(result, dim)} the beam never reaches {_of(result, 'least_dni', 3)} and the motor does not start: "
        "aim by hand on hazy days."
    ]


def _waking(result: xr.Dataset) -> list[str]:
    """When it is on the sun in the morning, left facing east or as the evening left it."""
    shines = np.isfinite(result["worst_off_axis"].to_numpy())
    east, west = (result[name].to_numpy() for name in ("from_east", "from_west"))
    woken = np.isfinite(east) & shines
    if not woken.any():
        return ["Left facing east it does not find the sun within the cook: set it on the sun by hand."]
    late = west[woken] - east[woken] > 600
    lost = np.isnan(west[woken])
    text = (
        f"Left facing east it is on the sun {show(float(np.median(east[woken])), 'time', digits=2)} after loading on "
        f"the middle day"
    )
    if not (late | lost).any():
        return [f"{text}; left as the evening left it, no later."]
    where = np.flatnonzero(woken)[late | lost]
    return [
        f"{text}; left as the evening left it, it waits on {_days(result, where)}: turn it east in the evening."
    ]


def _cloud(result: xr.Dataset) -> list[str]:
    drift, back = result["cloud_drift"].to_numpy(), result["cloud_recovery"].to_numpy()
    bright = result["dni"].to_numpy().max(axis=1) >= float(result["least_dni"])
    if not bright.any():
        return []
    lost = bright & np.isnan(back)
    text = (
        f"Under a cloud of {_of(result, 'cloud')} at the fastest time of the day the sun gets up to "
        f"{_degrees(float(np.abs(drift[bright]).max()))} ahead; "
    )
    if not np.isfinite(back[bright]).any():
        return [text + "the drive does not find it again within the cook: turn it by hand."]
    text += f"the drive is back on it {show(float(np.nanmax(back[bright])), 'time', digits=2)} later at most"
    return [text + (f", but not within the cook on {_days(result, lost)}." if lost.any() else ".")]


def _diffuse(result: xr.Dataset) -> list[str]:
    hold, most = float(result["diffuse_hold"]), float(result["diffuse_most"])
    if most <= hold:
        return []
    return [
        f"Skylight of {_of(result, 'diffuse_hold')} on the cell keeps a running motor running past the sun, and these "
        f"days have up to {_of(result, 'diffuse_most')}: put a hood over the cell that leaves it little of the sky "
        "(the numbers here leave skylight out)."
    ]


def _tilting(result: xr.Dataset) -> list[str]:
    gained = float(result["kept_tilted"]) - float(result["kept_fast"])
    cost = f"costs {_share(gained)} of the light" if gained > _SMALL else "costs no light"
    return [
        f"The elevation, set by hand every {_of(result, 'own_interval')}, {cost}; "
        f"{_visits(_mean(result, 'visits'))} and {show(_mean(result, 'attention'), 'time', digits=2)} of attention "
        "a cook.",
        *_choices(result, "Tilted"),
    ]


def _off_axis(result: xr.Dataset) -> list[str]:
    gain, best = float(result["off_axis_gain"]), float(result["off_axis_best"])
    if gain < 2 * _SMALL:
        return []
    return [
        f"This oven takes in up to {_share(gain)} more with the sun {_degrees(best)} off its axis than on it: exact "
        "aiming does not pay."
    ]


def _sight(result: xr.Dataset) -> list[str]:
    attrs, loss = result.attrs, 1 - float(result["centred_kept"])
    cost = f"at most {_share(loss)} of the beam" if loss > 0 else "no light"
    rings = [
        f"{said(float(radius), 'length', attrs, digits=2)} ({_degrees(float(angle))}) for {100 * float(lost):.0f} %"
        for lost, angle, radius in zip(
            *(result[name].to_numpy() for name in ("loss", "ring_angle", "ring_radius")), strict=True
        )
        if math.isfinite(radius)
    ]
    lines = [
        f"Sight: on the plate of a post of {_of(result, 'post_height', 3)}, a shadow centred within "
        f"{_of(result, 'centred_within')} means within {_degrees(float(result['centred_angle']))} of the sun and "
        f"costs {cost}. The post needs a width of {_of(result, 'post_width')} or more, its shadow's edge is "
        f"{_of(result, 'half_shade')} wide.",
        f"Rings on the plate, by what is lost at worst: {', '.join(rings)}."
        if rings
        else "No ring on the plate is needed: within 30 deg of the sun it loses under 2 % of the beam.",
    ]
    hidden = float(result["centred_azimuth"])
    if hidden > 3 * float(result["centred_angle"]):
        much = "any azimuth" if hidden >= math.pi else f"{_degrees(hidden)} of azimuth"
        lines.append(
            f"With the axis {_degrees(float(result['highest']))} high such a shadow hides {much}: the sight's angle "
            "is what counts for light, so leave it there."
        )
    return lines
