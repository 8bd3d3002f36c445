"""Described dataclasses as sections of a config: quantities as text with a unit, faults with their path."""

import dataclasses
import typing
from collections.abc import Sequence
from functools import partial
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    create_model,
)
from pydantic_core import ErrorDetails

from ...model import Catalogued, Choice, Count, Quantity, Spec, nearest_name, suggestion
from .quantity import QuantityError, parse, show


class Section(BaseModel):
    """Base of every table of a config: frozen, and an unknown key is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def section(
    described: type, name: str, *, without: Sequence[str] = (), optional: Sequence[str] = (), **tags: Any
) -> type[Section]:
    """A config section with the fields, bounds, defaults and meanings of a described dataclass.

    Fields named in `without` are left out, those in `optional` may be missing: they come from elsewhere. `tags`
    are further pydantic fields, (type, default), such as the word that picks one of several sections.
    """
    hints = typing.get_type_hints(described)
    fields: dict[str, Any] = dict(tags)
    for field in dataclasses.fields(described):
        if field.name in without:
            continue
        spec = field.metadata.get("spec")
        annotation = annotation_of(spec) if spec else hints[field.name]
        default = ... if field.default is dataclasses.MISSING else field.default
        if field.name in optional:
            annotation, default = annotation | None, None
        fields[field.name] = (annotation, Field(default, description=spec.meaning if spec else None))
    return create_model(name, __base__=Section, __doc__=described.__doc__, **fields)


def made(described: type, values: Section) -> Any:
    """The described dataclass made of a validated section."""
    return described(**{f.name: getattr(values, f.name) for f in dataclasses.fields(described)})


def annotation_of(spec: Spec) -> Any:
    """The type by which pydantic reads a field."""
    match spec:
        case Quantity(optional=optional):
            reader = BeforeValidator(partial(read_quantity, spec))
            schema = WithJsonSchema({"type": "string", "description": allowed(spec)})
            return Annotated[float | None, reader, schema] if optional else Annotated[float, reader, schema]
        case Count(low=low, high=high):
            return Annotated[int, Field(strict=True, ge=low, le=high)]
        case Choice(options=options):
            return typing.Literal[options]
        case Catalogued():
            return Annotated[str, BeforeValidator(partial(_known_name, spec))]


def read_quantity(spec: Quantity, text: Any) -> float | None:
    """Text with a unit to SI, inside the bounds of its specification."""
    if text is None and spec.optional:
        return None
    value = parse(text, spec.dimension)
    if not spec.low <= value <= spec.high:
        raise QuantityError(f'"{text}" is outside what is allowed: {allowed(spec)}')
    return value


def allowed(spec: Spec) -> str:
    """What a field may hold, in words."""
    match spec:
        case Quantity(dimension=dimension, low=low, high=high):
            return f"{show(low, dimension)} to {show(high, dimension)}"
        case Count(low=low, high=high):
            return f"{low} to {high}"
        case Choice(options=options):
            return ", ".join(options)
        case Catalogued(group=group):
            return f"a name from the {group} of the catalogue"


def _known_name(spec: Catalogued, name: Any, info: ValidationInfo) -> str:
    names: Sequence[str] = (info.context or {}).get("catalogue", {}).get(spec.group, ())
    if not isinstance(name, str) or (names and name not in names):
        raise QuantityError(
            f'"{name}" is not in the {spec.group} of the catalogue; {suggestion(str(name), names)}'
        )
    return name


def sentence(error: ErrorDetails, root: type[BaseModel]) -> str:
    """One fault of a config as `path = value: what is wrong, what is allowed`."""
    path, owner = _locate(error["loc"], root)
    match error["type"]:
        case "extra_forbidden":
            known = list(owner.model_fields) if owner else []
            return f"{path}: unknown key; {suggestion(str(error['loc'][-1]), known)}"
        case "missing":
            field = owner.model_fields.get(str(error["loc"][-1])) if owner else None
            meaning = f" ({field.description})" if field and field.description else ""
            return f"{path}{meaning}: is missing"
        case "value_error":
            return f"{path}: {error['ctx']['error']}"
        case "union_tag_invalid" | "union_tag_not_found":
            key = error["ctx"]["discriminator"].strip("'")
            given = error["input"].get(key) if isinstance(error["input"], dict) else error["input"]
            known = [word.strip(" '") for word in error["ctx"].get("expected_tags", "").split(",")]
            known = known if known != [""] else _known_tags(error["loc"], root)
            if given is None:
                return f"{path}.{key}: is missing; allowed: {', '.join(known)}"
            near = nearest_name(str(given), known)
            hint = f"; did you mean {near}?" if near else ""
            return f"{path}.{key} = {given!r}: allowed: {', '.join(known)}{hint}"
        case "greater_than_equal":
            return f"{path} = {error['input']!r}: allowed {error['ctx']['ge']} or more"
        case "less_than_equal":
            return f"{path} = {error['input']!r}: allowed {error['ctx']['le']} or less"
        case "too_short":
            return f"{path}: at least {error['ctx']['min_length']} needed"
        case "too_long":
            return f"{path}: at most {error['ctx']['max_length']} allowed"
        case "literal_error":
            return f"{path} = {error['input']!r}: allowed: {error['ctx']['expected']}"
        case _:
            return f"{path} = {error['input']!r}: {error['msg'].lower()}"


def _known_tags(loc: tuple[int | str, ...], root: type[BaseModel]) -> list[str]:
    """Words that pick a section where a union stands, in the order they are declared."""
    here: Any = root
    for step in loc:
        if isinstance(step, str):
            here = next(
                (s.model_fields[step].annotation for s in _sections(here) if step in s.model_fields), None
            )
    return [str(word) for section in _sections(here) for word in _tags(section)]


def _locate(loc: tuple[int | str, ...], root: type[BaseModel]) -> tuple[str, type[BaseModel] | None]:
    """Dotted path of a fault without pydantic's union tags, and the section its last key stands in."""
    owner: type[BaseModel] | None = root
    here: Any = root
    path = ""
    for step in loc:
        sections = _sections(here)
        if isinstance(step, int):
            path += f"[{step + 1}]"
            continue
        tagged = [s for s in sections if step in _tags(s)]
        if len(sections) > 1 and tagged:
            here = tagged[0]
            continue
        owner = sections[0] if sections else None
        path += f".{step}" if path else str(step)
        field = owner.model_fields.get(step) if owner else None
        here = field.annotation if field else None
    return path, owner


def _sections(annotation: Any) -> list[type[BaseModel]]:
    """Every section an annotation may hold, through unions, lists and Annotated."""
    if typing.get_origin(annotation) is None and isinstance(annotation, type):
        return [annotation] if issubclass(annotation, BaseModel) else []
    return [s for part in typing.get_args(annotation) for s in _sections(part)]


def _tags(owner: type[BaseModel]) -> set[Any]:
    """Words by which a union tells this section from its sisters."""
    return {
        word
        for field in owner.model_fields.values()
        if typing.get_origin(field.annotation) is typing.Literal
        for word in typing.get_args(field.annotation)
    }
