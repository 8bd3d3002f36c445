"""Named designs that differ from a base design in a few factors, as a config writes them."""

from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from typing import Any

from pydantic import ValidationError, create_model

from ...model import Aiming, Design, specs, suggestion
from .aiming_parts import AIMINGS
from .schema import Section, annotation_of, sentence


@dataclass(frozen=True)
class Alternative:
    """A design by what differs from another one.

    Parameters
    ----------
    name : str
    values : dict
        Factor -> value in SI.
    how : str, optional
        Another way of aiming, of `AIMINGS`.
    """

    name: str
    values: Mapping[str, Any]
    how: str | None = None

    def of(self, base: Design) -> Design:
        """The whole design.

        Raises
        ------
        DescriptionError
            The differences make no design of this base.
        """
        values = dict(self.values)
        if self.how is not None and AIMINGS[self.how] is not type(base.aiming):
            own = {name: values.pop(name) for name in specs(AIMINGS[self.how]) if name in values}
            base = replace(base, aiming=AIMINGS[self.how](**(_shared(AIMINGS[self.how], base.aiming) | own)))
        return base.with_factors(**values) if values else base


def read_alternative(
    table: Any, base: Design, catalogue: Mapping[str, Any]
) -> tuple[Alternative | None, list[str]]:
    """A design's table of a config, and what is wrong with it; each sentence begins with the key.

    Parameters
    ----------
    table : dict
        `name`, any factors as text with units, and `how` for another way of aiming, with its numbers beside it.
    base : Design
    catalogue : dict
        Names by group.
    """
    if not isinstance(table, dict):
        return None, ['a table is needed, for example name = "steep" and facet_angle = "25 deg"']
    how = table.get("how")
    if how is not None and how not in AIMINGS:
        return None, [f"how = {how!r}: {suggestion(str(how), AIMINGS)}"]
    aiming = AIMINGS[how] if how else type(base.aiming)
    form = _table_of(aiming, base)
    try:
        section = form.model_validate(table, context={"catalogue": catalogue})
    except ValidationError as error:
        return None, [sentence(fault, form) for fault in error.errors()]
    values = {name: getattr(section, name) for name in section.model_fields_set - {"name", "how"}}
    missing = [] if aiming is type(base.aiming) else list(_missing(aiming, base.aiming, values))
    return Alternative(str(table["name"]), values, how), missing


def _shared(aiming: type, other: Aiming) -> dict[str, Any]:
    """What a way of aiming takes over from another one: what both have and the other knows, such as a visit's time."""
    known = {name: getattr(other, name) for name in specs(other)}
    return {name: known[name] for name in specs(aiming) if known.get(name) is not None}


def _missing(aiming: type, other: Aiming, values: Mapping[str, Any]) -> Iterator[str]:
    given = {**_shared(aiming, other), **values}
    for field in fields(aiming):
        if field.default is MISSING and field.name not in given:
            yield f"{field.name} ({field.metadata['spec'].meaning}): is missing; this way of aiming needs it"


def _table_of(aiming: type, base: Design) -> type[Section]:
    """The table of a design that is aimed so: a name, and every factor there is."""
    other = specs(base.aiming)
    factors = {name: spec for name, spec in base.factors.items() if name not in other} | specs(aiming)
    columns: dict[str, Any] = {name: (annotation_of(spec), None) for name, spec in factors.items()}
    return create_model("DesignTable", __base__=Section, name=(str, ...), how=(str | None, None), **columns)
