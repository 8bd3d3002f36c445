"""Kinds of value that several tables of a config hold: clock times, months, shares, names of merits."""

import datetime
from collections.abc import Iterable
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from ...model import LIMITS, MERITS, suggestion
from .quantity import QuantityError, parse, parse_clock, show


def _clock(text: Any) -> datetime.time:
    if isinstance(text, datetime.time):
        return text
    minutes = round(parse_clock(text) / 60)
    return datetime.time(minutes // 60 % 24, minutes % 60)


def _vary(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise QuantityError('name at least one factor, for example facet_angle = ["30 deg", "45 deg"]')
    return value


def _merit_names(known: dict[str, Any], names: Any) -> Any:
    for name in names if isinstance(names, list) else [names]:
        if name not in known:
            raise QuantityError(
                f'"{name}" is no {"limit" if known is LIMITS else "merit"}; {suggestion(str(name), known)}'
            )
    return names


def amounts(value: Any, *, of: str, known: Iterable[str], dimension: str, most: float, hint: str) -> Any:
    """A table of amounts by name, each above zero and up to `most` [SI]; `of` says what the names are."""
    if not isinstance(value, dict):
        raise QuantityError(hint)
    found = {}
    for name, text in value.items():
        if name not in known:
            raise QuantityError(f'"{name}" is no {of}; {suggestion(name, known)}')
        found[name] = parse(text, dimension)
        if not 0 < found[name] <= most:
            raise QuantityError(f'{name} = "{text}": allowed above zero, up to {show(most, dimension)}')
    return found


Clock = Annotated[datetime.time, BeforeValidator(_clock)]
Months = Annotated[
    list[Annotated[int, Field(strict=True, ge=1, le=12)]],
    Field(min_length=1, description="months of the year, by number"),
]
Share = Annotated[float, BeforeValidator(lambda text: parse(text, "share")), Field(ge=0, le=1)]
Varies = Annotated[
    dict[str, Any],
    BeforeValidator(_vary),
    Field(description="factors, and between what or how each varies"),
]
Merit = Annotated[str, BeforeValidator(partial(_merit_names, MERITS))]
Merits = Annotated[list[str], BeforeValidator(partial(_merit_names, MERITS))]
Limits = Annotated[
    list[str],
    BeforeValidator(partial(_merit_names, LIMITS)),
    Field(description="safety limits that a design must keep to be an answer"),
]
Base = Annotated[
    Literal["config", "chosen"],
    Field(description="start from the config's own design, or from the one that a study before chose"),
]
