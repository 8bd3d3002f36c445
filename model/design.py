"""A whole design, and tables of many: one base design and the columns in which its rows differ."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .aiming import Aiming
from .described import Checked, DescriptionError, Spec, check, quantity, specs
from .food import Meal
from .oven import Oven

Column = NDArray[Any]


@dataclass(frozen=True, kw_only=True)
class Surroundings(Checked):
    """What the place does to the weather before it reaches the oven."""

    wind_share: float = quantity(
        "share", 0.0, 2.0, "share of the weather's wind that blows at the oven", default=0.7
    )
    beam_share: float = quantity(
        "share", 0.3, 1.1, "share of the sky's beam that reaches the mouth", default=1.0
    )


@dataclass(frozen=True, kw_only=True)
class AsBuilt(Checked):
    """How a built oven differs from the one the model makes of its description; 1 is as described.

    What test cooks tell, and what a prudent design leaves room for: mirrors that are not as bright or as flat as
    their data, joints and edges that leak heat, a pot that touches its food badly.
    """

    light_ratio: float = quantity(
        "share", 0.1, 2.0, "light the pot takes in, over what the model says", default=1.0
    )
    loss_ratio: float = quantity(
        "share", 0.1, 10.0, "heat the pot loses at like temperatures, over what the model says", default=1.0
    )
    coupling_ratio: float = quantity(
        "share",
        0.05,
        20.0,
        "heat from pot to food at like temperatures, over what the model says",
        default=1.0,
    )

    def __post_init__(self) -> None:
        check(self, "as_built")


@dataclass(frozen=True, kw_only=True)
class Design:
    """An oven, how it is aimed, what is cooked in it, what stands round it and how it came out."""

    oven: Oven
    aiming: Aiming
    meal: Meal
    surroundings: Surroundings = field(default_factory=Surroundings)
    as_built: AsBuilt = field(default_factory=AsBuilt)

    @property
    def parts(self) -> dict[str, Any]:
        """Part name -> description, in the order a reader expects."""
        oven = self.oven
        return {
            "funnel": oven.funnel,
            "cover": oven.cover,
            "jacket": oven.jacket,
            "pot": oven.pot,
            "box": oven.box,
            "stand": oven.stand,
            "aiming": self.aiming,
            "meal": self.meal,
            "surroundings": self.surroundings,
            "as_built": self.as_built,
        }

    @property
    def factors(self) -> dict[str, Spec]:
        """Every field of every part by its own name: all that a study may vary."""
        return {name: spec for part in self.parts.values() for name, spec in specs(part).items()}

    @property
    def idle(self) -> tuple[str, ...]:
        """Factors of no effect in this design: of tiers, panes or a box that it does not have."""
        return self.oven.funnel.idle + self.oven.cover.idle + self.oven.box.idle

    def value(self, name: str) -> Any:
        """The value of one factor."""
        return getattr(self.parts[self._part_of(name)], name)

    def with_factors(self, **values: Any) -> "Design":
        """The same design with other values for some factors, checked like any other."""
        parts = dict(self.parts)
        for part in {self._part_of(name) for name in values}:
            mine = {n: v for n, v in values.items() if self._part_of(n) == part}
            parts[part] = replace(parts[part], **mine)
        oven = Oven(
            **{name: parts.pop(name) for name in ("funnel", "cover", "jacket", "pot", "box", "stand")}
        )
        return Design(oven=oven, **parts)

    def _part_of(self, name: str) -> str:
        for part, description in self.parts.items():
            if name in specs(description):
                return part
        raise DescriptionError(
            [f"{name}: no factor of this design; there are {', '.join(sorted(self.factors))}"]
        )


@dataclass(frozen=True)
class Table:
    """Many designs: row r is `base` with the r-th value of every column."""

    base: Design
    columns: Mapping[str, Column]
    rows: int

    def __getitem__(self, name: str) -> Column:
        """Values of a factor, one per row."""
        if name in self.columns:
            return self.columns[name]
        return _column([self.base.value(name)]).repeat(self.rows)

    def take(self, rows: Any) -> "Table":
        """The table of some of the rows."""
        columns = {name: column[rows] for name, column in self.columns.items()}
        return Table(self.base, columns, len(np.arange(self.rows)[rows]))

    def design(self, row: int) -> Design:
        """One row as a checked description."""
        return self.base.with_factors(**{n: _plain(c[row]) for n, c in self.columns.items()})


def table_of(designs: Sequence[Design]) -> Table:
    """Designs of one kind of aiming as a table."""
    base = designs[0]
    if any(type(d.aiming) is not type(base.aiming) for d in designs):
        raise TypeError("a table holds one kind of aiming")
    columns = {}
    for name in base.factors:
        values = [design.value(name) for design in designs]
        if any(value != values[0] for value in values[1:]):
            columns[name] = _column(values)
    return Table(base, columns, len(designs))


def _column(values: list[Any]) -> Column:
    if isinstance(values[0], str):
        return np.array(values, dtype=object)
    if all(isinstance(value, int) for value in values):
        return np.array(values, dtype=np.int64)
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _plain(value: Any) -> Any:
    """A column's entry as the field takes it: an optional number that is missing is None."""
    plain = value.item() if isinstance(value, np.generic) else value
    return None if plain != plain else plain
