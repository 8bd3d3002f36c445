"""The list of what to cut: every piece with its size, folds, bevels, mass and money."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...model import Blank, Catalogue, Price
from ..asking.quantity import System, on_a_rule
from .measures import number, unit
from .nesting import Sheet

GROUPS = {
    "mirror": "mirrors",
    "cover": "covers",
    "insulation": "insulations",
    "skin": "shells",
    "base_board": "shells",
}


def cut_list(
    blanks: Sequence[Blank],
    *,
    catalogue: Catalogue,
    prices: Mapping[str, Price] | None = None,
    currency: str = "",
    system: System = "metric",
) -> pd.DataFrame:
    """A row a piece. Mass is that of the pieces alone, offcuts not counted; money is nan where there is no price."""
    rows = [
        _measures(blank, system) | _amounts(blank, catalogue, prices or {}, currency, system)
        for blank in blanks
    ]
    return pd.DataFrame(rows)


def mass_of(blank: Blank, catalogue: Catalogue) -> float:
    """All pieces of a kind together. [kg]"""
    return (
        blank.count
        * blank.volume
        * catalogue.materials.numbers(GROUPS[blank.part], blank.material)["density"]
    )


def _measures(blank: Blank, system: System) -> dict[str, object]:
    lengths = {"thickness": blank.thickness, "width": blank.size[0], "height": blank.size[1]}
    measured = {
        f"{name} [{unit('length', system)}]": number(one, "length", system) for name, one in lengths.items()
    }
    bevels = [f"{math.degrees(bevel):.1f}" for bevel in blank.bevels]
    hole = [number(across_flats(one), "length", system) for one in blank.holes]
    return {
        "piece": blank.name,
        "count": blank.count,
        "material": blank.material,
        **measured,
        **_sides(blank, system),
        f"hole across [{unit('length', system)}]": hole[0] if hole else math.nan,
        "bevels [deg]": "square" if set(bevels) == {"0.0"} else _listed(bevels),
        "folds [deg]": _listed([f"{math.degrees(fold):.1f}" for _, fold in blank.folds]),
    }


def _sides(blank: Blank, system: System) -> dict[str, str]:
    """Sides in their order round the piece; in inches also as they are found on a rule."""
    lengths = [blank.across] if blank.across else sides_of(blank)
    before = "round, across " if blank.across else ""
    decimals = 1 if system == "metric" else 3
    plain = [f"{number(side, 'length', system):.{decimals}f}" for side in lengths]
    found = {f"sides [{unit('length', system)}]": before + _listed(plain)}
    if system == "inch":
        rule = [on_a_rule(side).removesuffix(" in") for side in lengths]
        found["sides on the rule [in]"] = before + _listed(rule, ", ")
    return found


def _listed(texts: list[str], between: str = " ") -> str:
    """Texts one behind the other; those that are all alike, once with their number."""
    if len(texts) > 1 and len(set(texts)) == 1:
        return f"{len(texts)} x {texts[0]}"
    return between.join(texts)


def across_flats(outline: NDArray[np.float64]) -> float:
    """Across a regular outline from flat to flat, as twice the distance of a side from its middle. [m]"""
    begin, end = outline, np.roll(outline, -1, axis=0)
    along = (end - begin) / np.linalg.norm(end - begin, axis=1)[:, None]
    away = outline.mean(axis=0) - begin
    return float(2 * np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]).min())


def sides_of(blank: Blank) -> list[float]:
    """Length of each side of the outline, in order. [m]"""
    along = np.roll(blank.outline, -1, axis=0) - blank.outline
    return [float(side) for side in np.linalg.norm(along, axis=1)]


def _amounts(
    blank: Blank, catalogue: Catalogue, prices: Mapping[str, Price], currency: str, system: System
) -> dict[str, object]:
    mass, area = mass_of(blank, catalogue), blank.count * blank.area
    # The base is thicker board than the skin of the same name, and no part of what a design costs.
    price = None if blank.part == "base_board" else prices.get(blank.material)
    return {
        f"area [{unit('area', system)}]": number(area, "area", system),
        f"mass [{unit('mass', system)}]": number(mass, "mass", system),
        f"cost [{currency or 'money'}]": float(price.of(np.array(mass), np.array(area)))
        if price
        else math.nan,
        "mind": blank.note,
    }


def stock_list(sheets: Sequence[Sheet], system: System = "metric") -> pd.DataFrame:
    """Stock sheets to buy, by material, and how much of them is waste."""
    found: dict[tuple[str, float], list[Sheet]] = {}
    for sheet in sheets:
        found.setdefault((sheet.material, sheet.thickness), []).append(sheet)
    shown = unit("length", system)
    return pd.DataFrame(
        [
            {
                "material": material,
                f"thickness [{shown}]": number(thickness, "length", system),
                "sheets": len(alike),
                f"width [{shown}]": number(alike[0].width, "length", system),
                f"length [{shown}]": number(alike[0].length, "length", system),
                "waste [%]": 100 * float(np.mean([sheet.waste for sheet in alike])),
            }
            for (material, thickness), alike in found.items()
        ]
    )
