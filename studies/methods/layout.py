"""Which rows one base of a Sobol study holds, and which factors of each row come from sample B.

A *base* is a row of sample A, a row of sample B and every mixture of the two that the estimators ask for. What is
swapped is a single factor or a group of factors, together. Of two *sides* (what is decided, what is suffered) each
is swapped once as a whole.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...model import suggestion

SIDES = ("decided", "suffered")


class Positions(NamedTuple):
    """Where the rows of one base stand: labels in order, and the slices of AB, BA and the two sides."""

    labels: list[str]
    ab: slice
    ba: slice
    sides: slice


def positions(names: Sequence[str], *, second_order: bool = False, sides: bool = False) -> Positions:
    """Layout of one base: A, AB of each name, BA of each for the second order, the two sides, B."""
    k = len(names)
    ba = [f"BA {name}" for name in names] if second_order else []
    whole = [f"{side} from B" for side in SIDES] if sides else []
    labels = ["A", *(f"AB {name}" for name in names), *ba, *whole, "B"]
    first, last = 1 + k + len(ba), 1 + k + len(ba) + len(whole)
    return Positions(labels=labels, ab=slice(1, 1 + k), ba=slice(1 + k, first), sides=slice(first, last))


def faults_of_parts(
    names: Sequence[str], groups: Mapping[str, Sequence[str]], suffered: Sequence[str]
) -> Iterator[str]:
    """Sentences on groups and sides that cannot be, each beginning with its key."""
    seen: dict[str, str] = {}
    for group, members in groups.items():
        if not members:
            yield f"groups.{group}: name at least one factor"
        if group in names and list(members) != [group]:
            yield f"groups.{group}: is the name of a factor; give the group one of its own"
        for name in members:
            if name not in names:
                yield f"groups.{group}: {name} does not vary in this study; {suggestion(name, names)}"
            elif name in seen:
                yield f"groups.{group}: {name} is already in {seen[name]}; a factor moves with one group only"
            seen.setdefault(name, f"groups.{group}")
    if len(units_of(names, groups)) < 2 and groups:
        yield "groups: they leave one thing only to compare; leave a factor out of them or make two groups"
    for name in suffered:
        if name not in names:
            yield f"suffered: {name} does not vary in this study; {suggestion(name, names)}"
    if suffered and set(names) <= set(suffered):
        yield "suffered: nothing that varies is left to be decided; name fewer factors"


def units_of(names: Sequence[str], groups: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """What is swapped together: every group, and each factor in no group by itself, in the order of the factors."""
    group_of = {name: group for group, members in groups.items() for name in members}
    units: dict[str, tuple[str, ...]] = {}
    for name in names:
        unit = group_of.get(name, name)
        units[unit] = (*units.get(unit, ()), name)
    return units


def from_b(
    names: Sequence[str], units: Mapping[str, Sequence[str]], layout: Positions, suffered: Sequence[str]
) -> NDArray[np.bool_]:
    """Whether each factor of each row of a base comes from sample B: bool[position, factor]."""
    own = np.array([[name in members for name in names] for members in units.values()])
    bad = np.array([name in suffered for name in names])
    mask = np.zeros((len(layout.labels), len(names)), dtype=bool)
    mask[layout.ab] = own
    if layout.ba.stop > layout.ba.start:
        mask[layout.ba] = ~own
    if layout.sides.stop > layout.sides.start:
        mask[layout.sides] = ~bad, bad
    mask[-1] = True
    return mask
