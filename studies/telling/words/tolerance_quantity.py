"""What a tolerance study says of one quantity: what each side costs, what ends it, on which side to err."""

import numpy as np
import xarray as xr

from ....model import Status
from ...asking.quantity import difference_of, display_unit, to_unit
from ...methods.sweeps import Ends
from ...methods.tolerance import Care
from .phrases import said, spoken, system_of

# What "too little" and "too much" are called where they are directions.
_SIDES = {
    "azimuth_bias": ("anticlockwise", "clockwise"),
    "fixed_azimuth": ("anticlockwise", "clockwise"),
    "elevation_bias": ("too low", "too high"),
    "fixed_elevation": ("too low", "too high"),
}
_WORTH_A_WORD = 0.1  # of the first step: a gain smaller than that is none


def quantity_text(one: xr.Dataset) -> str:
    """One quantity: what each side costs, and how to measure it."""
    name = str(one["factor"].item())
    usual = width_text(one, float(one["accuracy"]))
    check = str(one["factor_check"].item())
    advice = f" {check}" if check and int(one["care"]) == Care.CAREFUL else ""
    sides = "; ".join(_side(one.isel(side=k), k) for k in range(2) if float(one["tried"][k]) > 0)
    return f"{spoken(name)} (designed {_value(one)}, worked within {usual}): {sides}.{_in_doubt(one)}{advice}"


def _in_doubt(one: xr.Dataset) -> str:
    """On which side to err, where one costs and the other gains and does no harm in all that was tried."""
    for side, other in ((0, 1), (1, 0)):
        costly = int(one["ends"][side, 0]) == Ends.PASSED
        harmless = int(one["ends"][other, 0]) == Ends.BEYOND
        if costly and harmless and _gain(one.isel(side=other)):
            return f" In doubt, rather {_way(one, other)}."
    return ""


def _side(one: xr.Dataset, number: int) -> str:
    """What it costs to be off one way, and what else ends there."""
    way, step = _way(one, number), step_text(one)
    at = {level: width_text(one, float(one["allowed"][level])) for level in _finite(one)}
    match Ends(int(one["ends"][0])):
        case Ends.PASSED:
            also = [f"{at[k]} {step_text(one, k)}" for k in at if k and int(one["ends"][k]) == Ends.PASSED]
            return f"{at[0]} {way} costs {step}" + (f", {', '.join(also)}" if also else "") + _stop(one, at)
        case Ends.UNBUILT | Ends.NEVER:
            return f"{way}, {_what_stops(one, at[0])}"
        case Ends.BEYOND:
            return f"{way} costs less than {step} up to the {width_text(one, float(one['tried']))} tried{_gain(one)}"
        case _:
            return f"{way} costs less than {step} as far as it goes{_gain(one)}"


def _stop(one: xr.Dataset, at: dict[int, str]) -> str:
    """What ends the range before the larger steps are reached."""
    hard = [k for k in at if int(one["ends"][k]) in (Ends.UNBUILT, Ends.NEVER)]
    return f"; {_what_stops(one, at[hard[0]])}" if hard else ""


def _what_stops(one: xr.Dataset, at: str) -> str:
    last = int(one["ends"].max())
    if Ends.UNBUILT in one["ends"].to_numpy():
        return f"from about {at} on {reason_text(int(one['stopped_by']))}"
    assert last >= Ends.NEVER
    return f"from about {at} on ovens {never_text(one)}"


def _gain(one: xr.Dataset) -> str:
    """That being off one way makes the meal better, where it clearly does."""
    gain, noise = -float(one["at_accuracy"]), float(one["noise"])
    if gain < _WORTH_A_WORD * float(one["level"][0]) or (noise == noise and gain < 2 * noise):
        return ""
    return f", and off by the accuracy it gains {cost_text(one, gain)}"


def _finite(one: xr.Dataset) -> list[int]:
    return [int(k) for k in np.flatnonzero(np.isfinite(one["allowed"].to_numpy()))]


def _way(one: xr.Dataset, side: int) -> str:
    return _SIDES.get(str(one["factor"].item()), ("too little", "too much"))[side]


def _value(one: xr.Dataset) -> str:
    return said(float(one["designed"]), str(one["factor_dimension"].item()), one.attrs, digits=3)


def reason_text(status: int) -> str:
    """Why an oven cannot be run, without the advice for a designer."""
    if status not in list(Status):
        return "the model cannot run it"
    return Status(status).sentence.partition(":")[0]


def never_text(result: xr.Dataset) -> str:
    """What ovens do that never reach the goal."""
    return {"time_to_done": "never get done", "time_to_safe": "never get safe to eat"}.get(
        str(result.attrs["goal"]), f"have no {spoken(result.attrs['goal'])}"
    )


def step_text(result: xr.Dataset, number: int = 0) -> str:
    """How much worse the goal may be, in words."""
    dimension = difference_of(str(result.attrs["goal_dimension"]))
    return said(float(result["level"][number]), dimension, result.attrs, digits=3)


def width_text(one: xr.Dataset, width: float, digits: int = 2) -> str:
    """A length along one quantity, with its unit."""
    return said(width, difference_of(str(one["factor_dimension"].item())), one.attrs, digits=digits)


def cost_text(result: xr.Dataset, value: float) -> str:
    """A cost in the unit in which the first step is told."""
    dimension = difference_of(str(result.attrs["goal_dimension"]))
    unit = display_unit(dimension, magnitude=float(result["level"][0]), system=system_of(result.attrs))
    rounded = float(f"{to_unit(value, unit, dimension):.2g}")
    return f"{rounded:g} {unit}".removesuffix(" 1")
