"""Fields that carry their dimension, allowed range and meaning.

Written once, here read by the checks, and by configs, factor spaces and reports.
"""

import dataclasses
import math
from collections.abc import Iterable
from dataclasses import MISSING, dataclass
from difflib import get_close_matches
from typing import Any

SI: dict[str, str] = {
    "angle": "rad",
    "length": "m",
    "area": "m2",
    "mass": "kg",
    "time": "s",
    "temperature": "K",
    "temperature_difference": "K",
    "speed": "m s-1",
    "angular_speed": "rad s-1",
    "irradiance": "W m-2",
    "voltage": "V",
    "current": "A",
    "resistance": "ohm",
    "share": "1",
    "count": "1",
}
"""Unit, as stored, of every dimension a described field or a merit may have."""


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A number with a dimension; bounds are in SI and included."""

    dimension: str
    low: float
    high: float
    meaning: str
    optional: bool = False


@dataclass(frozen=True, kw_only=True)
class Count:
    """A whole number between two bounds, both included."""

    low: int
    high: int
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One of a few words."""

    options: tuple[str, ...]
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Catalogued:
    """The name of an entry in one group of the material catalogue."""

    group: str
    meaning: str


Spec = Quantity | Count | Choice | Catalogued


def stored_unit(spec: Spec) -> str:
    """Unit of a field as stored; "1" for counts and words."""
    return SI[spec.dimension] if isinstance(spec, Quantity) else "1"


def quantity(dimension: str, low: float, high: float, meaning: str, *, default: Any = MISSING) -> Any:
    """A dataclass field for a number in SI; a default of None makes it optional."""
    spec = Quantity(dimension=dimension, low=low, high=high, meaning=meaning, optional=default is None)
    return _field(spec, default)


def count(low: int, high: int, meaning: str, *, default: Any = MISSING) -> Any:
    """A dataclass field for a whole number."""
    return _field(Count(low=low, high=high, meaning=meaning), default)


def choice(options: tuple[str, ...], meaning: str, *, default: Any = MISSING) -> Any:
    """A dataclass field for one of a few words."""
    return _field(Choice(options=options, meaning=meaning), default)


def catalogued(group: str, meaning: str, *, default: Any = MISSING) -> Any:
    """A dataclass field naming a catalogue entry; the name itself is looked up when the design is packed."""
    return _field(Catalogued(group=group, meaning=meaning), default)


def _field(spec: Spec, default: Any) -> Any:
    return dataclasses.field(default=default, metadata={"spec": spec})


def specs(described: Any) -> dict[str, Spec]:
    """Name -> specification of the described fields of a dataclass or an instance of one."""
    return {f.name: f.metadata["spec"] for f in dataclasses.fields(described) if "spec" in f.metadata}


class DescriptionError(ValueError):
    """One or more fields outside what is allowed; `faults` holds one sentence each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def check(described: Any, path: str) -> None:
    """Raise one `DescriptionError` that lists every field of `described` outside its specification."""
    faults = [
        f"{path}.{name} = {getattr(described, name)!r}: {fault}"
        for name, spec in specs(described).items()
        if (fault := fault_of(spec, getattr(described, name)))
    ]
    if faults:
        raise DescriptionError(faults)


class Checked:
    """Base of the descriptions: checks every field when an object is made."""

    def __post_init__(self) -> None:
        check(self, type(self).__name__.lower())


def fault_of(spec: Spec, value: Any) -> str | None:
    """What is wrong with a value (SI) under a specification, as a phrase, or None."""
    match spec:
        case Quantity(optional=True) if value is None:
            return None
        case Quantity(low=low, high=high, dimension=dimension):
            if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
                return f"a finite {dimension} is needed"
            return None if low <= value <= high else f"allowed {low:g} to {high:g} (SI) for a {dimension}"
        case Count(low=low, high=high):
            if not isinstance(value, int) or isinstance(value, bool):
                return f"a whole number from {low} to {high} is needed"
            return None if low <= value <= high else f"allowed {low} to {high}"
        case Choice(options=options):
            return None if value in options else f"allowed: {', '.join(options)}"
        case Catalogued(group=group):
            return None if isinstance(value, str) and value else f"the name of one of the {group} is needed"


_NEAR = 0.5  # of difflib's ratio: lets "dge" find "deg" and keeps "bananas" alone


def nearest_name(word: str, known: Iterable[str]) -> str | None:
    """The known word closest in spelling, whatever its case; None if none is near."""
    by_lower = {name.lower(): name for name in known}
    close = get_close_matches(word.lower(), by_lower, n=1, cutoff=_NEAR)
    return by_lower[close[0]] if close else None


def suggestion(word: str, known: Iterable[str]) -> str:
    """What to write instead of an unknown word, as a phrase: the nearest known one, or all where none is near."""
    names = list(known)
    near = nearest_name(word, names)
    if near is not None:
        return f"did you mean {near}?"
    return f"there are: {', '.join(names)}" if names else "there are none"
