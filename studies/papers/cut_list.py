"""The list of what to cut: every piece with its size, folds, bevels, mass and money."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from ...model import Blank, Catalogue, Price
from .nesting import Sheet

GROUPS = {"mirror": "mirrors", "cover": "covers", "insulation": "insulations", "skin": "shells"}


def cut_list(
    blanks: Sequence[Blank],
    *,
    catalogue: Catalogue,
    prices: Mapping[str, Price] | None = None,
    currency: str = "",
) -> pd.DataFrame:
    """A row a piece. Mass is that of the pieces alone, offcuts not counted; money is nan where there is no price."""
    return pd.DataFrame([_row(blank, catalogue, prices or {}, currency) for blank in blanks])


def _row(blank: Blank, catalogue: Catalogue, prices: Mapping[str, Price], currency: str) -> dict[str, object]:
    density = catalogue.materials.numbers(GROUPS[blank.part], blank.material)["density"]
    mass, price = blank.count * blank.volume * density, prices.get(blank.material)
    area = blank.count * blank.area
    width, height = blank.size
    return {
        "piece": blank.name,
        "count": blank.count,
        "material": blank.material,
        "thickness [mm]": 1e3 * blank.thickness,
        "width [mm]": 1e3 * width,
        "height [mm]": 1e3 * height,
        "sides [mm]": " ".join(f"{1e3 * side:.1f}" for side in _sides(blank)),
        "bevels [deg]": " ".join(f"{math.degrees(bevel):.1f}" for bevel in blank.bevels),
        "folds [deg]": " ".join(f"{math.degrees(fold):.1f}" for _, fold in blank.folds),
        "area [m2]": area,
        "mass [kg]": mass,
        f"cost [{currency or 'money'}]": float(price.of(np.array(mass), np.array(area)))
        if price
        else math.nan,
        "mind": blank.note,
    }


def _sides(blank: Blank) -> list[float]:
    along = np.roll(blank.outline, -1, axis=0) - blank.outline
    return [float(side) for side in np.linalg.norm(along, axis=1)]


def stock_list(sheets: Sequence[Sheet]) -> pd.DataFrame:
    """Stock sheets to buy, by material, and how much of them is waste."""
    found: dict[tuple[str, float], list[Sheet]] = {}
    for sheet in sheets:
        found.setdefault((sheet.material, sheet.thickness), []).append(sheet)
    return pd.DataFrame(
        [
            {
                "material": material,
                "thickness [mm]": 1e3 * thickness,
                "sheets": len(alike),
                "width [mm]": 1e3 * alike[0].width,
                "length [mm]": 1e3 * alike[0].length,
                "waste [%]": 100 * float(np.mean([sheet.waste for sheet in alike])),
            }
            for (material, thickness), alike in found.items()
        ]
    )
