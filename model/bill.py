"""The bill of a design: what each part is made of, how much of it, and what that costs by the user's prices."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from .catalogue import Catalogue, load_catalogue
from .design import Design, Table, table_of
from .pack import bill_of, materials_of
from .prices import Price, cost_of


def bill(
    designs: Design | Sequence[Design] | Table,
    *,
    catalogue: Catalogue | None = None,
    prices: Mapping[str, Price] | None = None,
    currency: str = "",
) -> xr.Dataset:
    """Material, mass, area and cost of every part that the merits `mass` and `material_cost` add up.

    Nothing is run. The stand, a drive, glue, paint and work are no parts of it.

    Parameters
    ----------
    designs : Design, sequence of Design with one kind of aiming, or Table
    catalogue, prices, currency
        Materials; what they cost, in what. The shipped catalogue and no prices if not given.

    Returns
    -------
    Dataset over (design, part)
        A part is called by the field that names its material. `part_cost` is nan where that has no price.

    Raises
    ------
    DescriptionError
        A name that is not in the catalogue.
    """
    table = designs if isinstance(designs, Table) else _tabled(designs)
    measures = bill_of(table, materials_of(table, catalogue or load_catalogue()))
    columns: dict[str, tuple[list[Any], str, str]] = {
        "part_material": ([table[part].astype(np.str_) for part in measures], "1", "material of the part"),
        "part_mass": ([mass for mass, _ in measures.values()], "kg", "mass of the part"),
        "part_area": (
            [area for _, area in measures.values()],
            "m2",
            "area of its sheet; of insulation, what it lines",
        ),
        "part_cost": (
            [cost_of(table, {part: measure}, prices) for part, measure in measures.items()],
            currency or "1",
            "cost of the part's material; nan where it has no price",
        ),
    }
    return xr.Dataset(
        {
            name: (("design", "part"), np.column_stack(column), {"units": unit, "long_name": meaning})
            for name, (column, unit, meaning) in columns.items()
        },
        coords={
            "design": ("design", np.arange(table.rows), {"units": "1", "long_name": "number of the design"}),
            "part": (
                "part",
                list(measures),
                {"units": "1", "long_name": "field that names the part's material"},
            ),
        },
    )


def _tabled(designs: Design | Sequence[Design]) -> Table:
    return table_of([designs] if isinstance(designs, Design) else designs)
