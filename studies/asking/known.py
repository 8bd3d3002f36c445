"""Designs known before a search: read from its `known` tables, completed from the design that it starts from."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...model import Catalogued, Choice, Count, Design, Quantity, suggestion
from ..judging.outcomes import Column
from ..judging.space import Space, SpaceError
from .quantity import QuantityError, show
from .schema import read_quantity
from .varying import Vary

NAME = "name"
OWN = "the starting design"


@dataclass(frozen=True)
class Known:
    """A design by some of the factors that vary; what it leaves out is as in the design a study starts from."""

    name: str
    values: Mapping[str, Any]

    def completed(self, space: Space, base: Design) -> dict[str, Any]:
        """Its value for every factor of the space; nan for one that is left to the catalogue."""
        given = {name: self.values.get(name, base.value(name)) for name in space.names}
        return {name: np.nan if value is None else value for name, value in given.items()}


def read_known(tables: Sequence[Mapping[str, Any]], varies: Sequence[Vary]) -> tuple[Known, ...]:
    """The known designs of a study.

    Raises
    ------
    KnownError
        With one sentence for everything that is wrong with them.
    """
    found: list[Known] = []
    faults: list[str] = []
    for number, table in enumerate(tables, start=1):
        here = f"known[{number}]"
        name = table.get(NAME, f"known design {number}")
        if not isinstance(name, str) or not name.strip() or name in [OWN, *(one.name for one in found)]:
            faults.append(f"{here}.name = {name!r}: each needs a name of its own, other than {OWN!r}")
            continue
        values: dict[str, Any] = {}
        for factor, value in table.items():
            if factor != NAME:
                try:
                    values[factor] = _value(factor, value, varies)
                except QuantityError as error:
                    faults.append(f"{here}.{factor}: {error}")
        if set(table) <= {NAME}:
            faults.append(f"{here}: names no factor; the starting design is always tried")
        found.append(Known(name, values))
    if faults:
        raise KnownError(faults)
    return tuple(found)


class KnownError(ValueError):
    """Known designs that cannot be."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def _value(factor: str, value: Any, varies: Sequence[Vary]) -> Any:
    """One value, read as the field reads it and held against what the study searches."""
    vary = next((vary for vary in varies if vary.name == factor), None)
    if vary is None:
        names = ", ".join(vary.name for vary in varies)
        raise QuantityError(f"does not vary in this study; what varies is {names}")
    match vary.spec:
        case Choice() | Catalogued():
            if value not in vary.words:
                raise QuantityError(f"{value!r} is not searched here; {suggestion(str(value), vary.words)}")
            return value
        case Quantity():
            number = read_quantity(vary.spec, value)
            dimension = vary.spec.dimension
        case Count():
            if not isinstance(value, int) or isinstance(value, bool):
                raise QuantityError(f"{value!r} is not a whole number")
            number, dimension = value, "count"
    if number is None:
        raise QuantityError("a value is needed")
    if vary.low is not None and vary.high is not None and not vary.low <= number <= vary.high:
        ends = f"{show(vary.low, dimension)} to {show(vary.high, dimension)}"
        raise QuantityError(f"{value} is outside what this study searches, {ends}")
    return number


def inside(space: Space, designs: Sequence[Mapping[str, Any]]) -> Iterator[bool]:
    """Which designs lie in the space."""
    for design in designs:
        try:
            space.columns([design])
        except SpaceError:
            yield False
        else:
            yield True


def columns_of(space: Space, designs: Sequence[Mapping[str, Any]]) -> dict[str, Column]:
    """Designs as columns, whether they lie in the space or not."""
    kinds = {"choice": np.str_, "integer": np.int64, "real": np.float64}
    return {p.name: np.array([design[p.name] for design in designs], kinds[p.kind]) for p in space.parameters}
