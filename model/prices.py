"""What material costs here: the user's own prices in any currency; none are shipped."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from .design import Table

Floats = NDArray[np.float64]
Per = Literal["kg", "m2", "each"]

_TEXT = re.compile(r"\s*(?P<amount>\d+(?:\.\d+)?)\s*(?:per\s+(?P<per>kg|m2)|(?P<each>each))\s*")


@dataclass(frozen=True)
class Price:
    """An amount of money per kilogram, per square metre, or for the whole part."""

    amount: float
    per: Per

    @classmethod
    def read(cls, text: object) -> "Price":
        """A price from text such as "12 per kg", "30 per m2" or "9 each".

        Raises
        ------
        ValueError
            Text of another form.
        """
        found = _TEXT.fullmatch(text) if isinstance(text, str) else None
        if found is None:
            raise ValueError(f'{text!r} is not a price; write "12 per kg", "30 per m2" or "9 each"')
        return cls(float(found["amount"]), cast(Per, found["per"] or "each"))

    def of(self, mass: Floats, area: Floats) -> Floats:
        """Money for parts of this mass [kg] and area [m2]."""
        measure = {"kg": mass, "m2": area, "each": np.ones_like(mass)}[self.per]
        return self.amount * measure


def cost_of(
    table: Table, bill: Mapping[str, tuple[Floats, Floats]], prices: Mapping[str, Price] | None
) -> Floats:
    """Material cost of each design in the user's currency; nan where a part has no price.

    Parameters
    ----------
    bill : field that names the material -> (mass [kg], area [m2]) of the part
    """
    total = np.zeros(table.rows)
    for field, (mass, area) in bill.items():
        names, row = np.unique(table[field].astype(str), return_inverse=True)
        for k, name in enumerate(names):
            rows = row.ravel() == k
            price = (prices or {}).get(str(name))
            total[rows] += price.of(mass[rows], area[rows]) if price else np.nan
    return total
