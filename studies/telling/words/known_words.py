"""How a chosen design compares with those known before, on the same days."""

import numpy as np
import xarray as xr

from ...asking.quantity import difference_of
from ...methods.front import goals
from .phrases import retold, said, spoken


def known_sentences(search: xr.Dataset) -> list[str]:
    """One sentence for each known design: what the chosen one gains and loses beside it."""
    return [_sentence(search, search.isel(known=k)) for k in range(search.sizes["known"])]


def _sentence(search: xr.Dataset, one: xr.Dataset) -> str:
    name = str(one["known"].item())
    beyond = "" if int(one["known_seeded"]) else " (outside the ranges searched, only compared)"
    if int(one["known_status"]) != 0:
        return f"{name}{beyond} cannot be compared: {retold(one['known_reason'].item(), search.attrs)}."
    told = [_beside(search, one, goal) for goal in goals(search)]
    if all(text is None for text in told):
        return f"The chosen design is {name} itself, or as good in every goal.{beyond}"
    same = [spoken(goal) for goal, text in zip(goals(search), told, strict=True) if text is None]
    told += [f"{' and '.join(same)} the same"] if same else []
    wrong = (
        f"; {name} is no answer: {retold(one['known_reason'].item(), search.attrs)}"
        if one["known_reason"].item()
        else ""
    )
    return f"Chosen beside {name}{beyond}: {', '.join(filter(None, told))}{wrong}."


def _beside(search: xr.Dataset, one: xr.Dataset, goal: str) -> str | None:
    """The difference in one goal as words; None where there is none that counts."""
    attrs = search[goal].attrs
    sign = 1.0 if attrs["direction"] == "minimize" else -1.0
    chosen, other = float(search[goal][search.attrs["chosen_trial"]]), float(one[f"known_{goal}"])
    paired = f"known_gain_{goal}" in one
    gain = float(one[f"known_gain_{goal}"]) if paired else sign * (other - chosen)
    if np.isnan(gain):
        return f"a {spoken(goal)} where the other never has one"
    if abs(gain) <= float(one[f"known_telling_{goal}"]):
        return None
    amount = said(abs(gain), difference_of(str(attrs["dimension"])), search.attrs, digits=2)
    amount = f"{amount} {attrs['units']}" if attrs["dimension"] == "money" else amount
    text = f"{spoken(goal)} {amount} {'less' if sign * gain > 0 else 'more'}"
    return f"{text}{_share_text(float(one[f'known_days_{goal}']))}" if paired else text


def _share_text(share: float) -> str:
    """On how many of the same days the chosen one is better."""
    if share in (0.0, 1.0):
        return f" (better on {'all' if share else 'none'} of the same days)"
    return f" (better on {100 * share:.0f} % of the same days)"
