"""What a plan of test cooks says: how many and which, what tells what apart, what no number of cooks can tell."""

import itertools
import math
from typing import Any

import numpy as np
import xarray as xr

from ...asking.quantity import show
from .phrases import listed

_WORDS = {
    "light_ratio": "light into the pot",
    "loss_ratio": "heat loss",
    "coupling_ratio": "heat from pot to food",
}
_TOGETHER = 0.9  # correlation from which two ratios are said to pull the same way
_FAR = 1.0  # reach from which a ratio is said not to be known
_CLOSE = 0.7  # of the reach that is left without a cause, from which the cause is said to be most of it
_BETTER = 0.95  # of the reach before, under which a gain is worth a word
_SURE = 3.0  # sampling errors that a spread of refits may be off


def protocol_sentences(result: xr.Dataset) -> list[str]:
    """The plan, most important first."""
    return [
        *_advice(result),
        *_first_cook(result),
        *_shade(result),
        *_thermometer(result),
        *_empty(result),
        *_limits(result),
        *_check(result),
        *_how(result),
        *_assumed(result),
    ]


def ratio_words(name: object) -> str:
    """What a ratio stands for."""
    return _WORDS[str(name)]


def within(share: float) -> str:
    """How far a ratio is known."""
    return "not known" if share >= _FAR else f"within {100 * share:.2g} %"


def way_words(result: xr.Dataset, number: int) -> str:
    """One way of testing: its thermometers and its parts."""
    one = result.isel(protocol=number)
    shade = float(one["shade"])
    parts = [f"{show(float(result.attrs['heat_up']), 'time')} in the sun"]
    if shade > 0:
        parts.append(f"then {show(shade, 'time')} with the mouth shaded")
    if int(one["empty"]):
        parts.append(f"and once {show(float(result.attrs['empty_for']), 'time')} empty in the sun")
    return f"with {thermometers(str(one['sensors'].item()))}: {', '.join(parts)}"


def thermometers(names: str) -> str:
    """Places of thermometers in words."""
    words = [name.replace("_", " ") for name in names.split()]
    if len(words) == 1:
        return (
            f"a thermometer in the {words[0]} alone"
            if words[0] == "food"
            else f"a thermometer on the {words[0]}"
        )
    return f"thermometers at {listed(words)}"


def find(result: xr.Dataset, sensors: str, shade: float, empty: int) -> int | None:
    """Number of a way of testing; None if it was not looked at."""
    same = (
        (result["sensors"].to_numpy() == sensors)
        & (result["shade"].to_numpy() == shade)
        & (result["empty"].to_numpy() == empty)
    )
    return int(np.argmax(same)) if same.any() else None


def wanted(result: xr.Dataset) -> list[str]:
    """Ratios that are wanted."""
    return [
        str(name)
        for name, value in zip(result["factor"].to_numpy(), result["wanted"].to_numpy(), strict=True)
        if math.isfinite(value)
    ]


def _reach(result: xr.Dataset, number: int, name: str, cooks: int = 1) -> float:
    return float(result["reach"].isel(protocol=number).sel(cooks=cooks, factor=name))


def _wishes(result: xr.Dataset) -> str:
    return listed(
        [f"{ratio_words(name)} {within(float(result['wanted'].sel(factor=name)))}" for name in wanted(result)]
    )


def _many(count: int) -> str:
    return "1 cook" if count == 1 else f"{count} cooks"


def _advice(result: xr.Dataset) -> list[str]:
    best, count = int(result.attrs["recommended"]), int(result.attrs["recommended_cooks"])
    most = int(result["cooks"].max())
    if count:
        hours = show(float(result["hours"].isel(protocol=best).sel(cooks=count)), "time", digits=2)
        return [
            f"To know {_wishes(result)} (95 % interval), do {_many(count)} {way_words(result, best)}; {hours} at the "
            "oven in all."
        ]
    got = listed(
        [f"{ratio_words(name)} {within(_reach(result, best, name, most))}" for name in wanted(result)]
    )
    return [
        f"Not one of these ways gets {_wishes(result)} with up to {_many(most)}. The nearest is "
        f"{way_words(result, best)}: {got} after {most}."
    ]


def _plain(result: xr.Dataset) -> int | None:
    """The simplest way: the first thermometer, nothing shaded."""
    return find(result, str(result["sensors"].to_numpy()[0]), 0.0, 0)


def _first_cook(result: xr.Dataset) -> list[str]:
    """What one simple cook leaves, and which ratios it cannot tell apart."""
    number = _plain(result)
    if number is None:
        return []
    left = listed(
        [
            f"{ratio_words(name)} {within(_reach(result, number, str(name)))}"
            for name in result["factor"].to_numpy()
        ]
    )
    return [f"One cook {way_words(result, number)}, leaves {left}. {_pull(result, number)}".rstrip()]


def _pull(result: xr.Dataset, number: int) -> str:
    """Which two ratios the readings cannot tell apart best."""
    alike = result["alike"].isel(protocol=number).to_numpy()
    names = [str(name) for name in result["factor"].to_numpy()]
    off = np.triu(np.abs(alike), 1)
    first, second = np.unravel_index(int(off.argmax()), off.shape)
    value = float(alike[first, second])
    if abs(value) < _TOGETHER:
        return ""
    both = "more of both looks" if value > 0 else "more of one and less of the other look"
    return (
        f"Its readings cannot tell {ratio_words(names[first])} from {ratio_words(names[second])}: {both} the same "
        f"(correlation {value:.2f})."
    )


def _base_sensors(result: xr.Dataset) -> str:
    return str(result["sensors"].to_numpy()[int(result.attrs["recommended"])])


def _shade(result: xr.Dataset) -> list[str]:
    """What shading at the end is worth, with the thermometers that are recommended."""
    sensors = _base_sensors(result)
    plain = find(result, sensors, 0.0, 0)
    shades = sorted({float(s) for s in result["shade"].to_numpy() if s > 0})
    if plain is None or not shades:
        return []
    told, hardly = [], True
    for name in wanted(result):
        before = _reach(result, plain, name)
        after = {
            shade: _reach(result, number, name)
            for shade in shades
            if (number := find(result, sensors, shade, 0)) is not None
        }
        hardly &= min(after.values()) > _BETTER * before
        each = listed([f"{within(value)} with {show(shade, 'time')}" for shade, value in after.items()])
        told.append(f"{ratio_words(name)} is {within(before)} after one cook without shade, {each}")
    start = (
        "Shading the mouth at the end is worth little here"
        if hardly
        else "What shading the mouth at the end is worth"
    )
    return [f"{start}, with {thermometers(sensors)}: {'; '.join(told)}."]


def _thermometer(result: xr.Dataset) -> list[str]:
    """What one more thermometer is worth in a cook as recommended."""
    best = int(result.attrs["recommended"])
    shade = float(result["shade"][best])
    lines = []
    for fewer, more in itertools.pairwise(dict.fromkeys(result["sensors"].to_numpy().tolist())):
        one, two = find(result, fewer, shade, 0), find(result, more, shade, 0)
        gains = [] if one is None or two is None else _gains(result, one, two)
        if gains:
            added = more.split()[-1].replace("_", " ")
            lines.append(f"One more thermometer, at the {added}, brings one such cook {listed(gains)}.")
    return lines


def _plainly(share: float) -> str:
    return "unknown" if share >= _FAR else f"{100 * share:.2g} %"


def _empty(result: xr.Dataset) -> list[str]:
    """What one empty cook is worth beside a loaded one."""
    best = int(result.attrs["recommended"])
    sensors, shade = str(result["sensors"][best].item()), float(result["shade"][best])
    without, with_it = find(result, sensors, shade, 0), find(result, sensors, shade, 1)
    if without is None or with_it is None:
        return []
    gains = _gains(result, without, with_it)
    return [f"An empty cook beside it brings {listed(gains)}."] if gains else []


def _gains(result: xr.Dataset, before: int, after: int) -> list[str]:
    """Ratios that one cook of another way knows better, and by how much."""
    gains = []
    for name in map(str, result["factor"].to_numpy()):
        one, two = _reach(result, before, name), _reach(result, after, name)
        if two < _BETTER * one:
            gains.append(f"{ratio_words(name)} from {_plainly(one)} to {_plainly(two)}")
    return gains


def _limits(result: xr.Dataset) -> list[str]:
    """What no number of cooks takes away, and what most of the interval comes from."""
    best = int(result.attrs["recommended"])
    count = int(result.attrs["recommended_cooks"]) or int(result["cooks"].max())
    sun = float(result.attrs["irradiance_error"])
    lines = []
    for name in result["factor"].to_numpy():
        reach, floor = _reach(result, best, str(name), count), float(result["floor"][best].sel(factor=name))
        true = float(result["true_sunlight"].sel(factor=name))
        same = float(result["same_cooks"].sel(factor=name))
        if true < _CLOSE * reach:
            lines.append(
                f"No number of such cooks knows {ratio_words(name)} better than {within(floor)}: the instrument for "
                f"sunlight may be off by {100 * sun:.2g} %, and a fit takes that for the oven's. Calibrate it: with a "
                f"true one {_many(count)} would do for {within(true)}."
            )
        elif same < _CLOSE * reach:
            lines.append(
                f"Most of what is left of {ratio_words(name)} is that cooks differ by "
                f"{100 * float(result.attrs['between_cooks']):.2g} %: do more of them on other days rather than longer "
                "ones."
            )
    return lines


def _check(result: xr.Dataset) -> list[str]:
    """What refits say of what was foretold."""
    refits = int(result.attrs["refits"])
    if refits < 2:
        return []
    foretold, found = result["foretold_error"].to_numpy(), result["refit_error"].to_numpy()
    ratios = found / foretold
    told = listed(
        [
            f"{ratio_words(name)} {100 * one:.2g} % (foretold {100 * other:.2g} %)"
            for name, one, other in zip(result["factor"].to_numpy(), found, foretold, strict=True)
        ]
    )
    held = result["refit_held"].to_numpy()
    off = np.abs(ratios - 1) > _SURE / math.sqrt(2 * (refits - 1))
    verdict = (
        " That is further apart than chance has it (few independent readings, slopes not quite straight): rely "
        "on the fits."
        if off.any()
        else ""
    )
    return [
        f"Checked by {refits} fits to made-up readings of one recommended cook: standard errors are {told}; 95 % "
        f"intervals hold the truth in {100 * held.min():.0f} to {100 * held.max():.0f} % of them.{verdict}"
    ]


def _how(result: xr.Dataset) -> list[str]:
    best = int(result.attrs["recommended"])
    if float(result["shade"][best]) <= 0:
        return []
    return [
        "To shade: lay an opaque board over the whole mouth at the end of the heat-up, leave everything closed, read "
        "on, and note both times. Come from the shaded side, with dark glasses and gloves: mirrors blind, the board "
        "gets hot."
    ]


def _assumed(result: xr.Dataset) -> list[str]:
    attrs: dict[Any, Any] = result.attrs
    offsets = f"; off by {attrs['offset_error']} in all readings" if attrs["offset_error"] else ""
    return [
        f"Assumed: {attrs['day']}; a reading every {show(float(attrs['every']), 'time')}, each off by "
        f"{attrs['reading_error']}, alike for {show(float(attrs['alike_for']), 'time')}{offsets}; ratios "
        f"that differ by {100 * float(attrs['between_cooks']):.2g} % from cook to cook; an oven that otherwise is as "
        "the model has it, which no plan can promise."
    ]
