"""Tables of config-keys.md: every key that a config may hold, read from the schema that checks configs.

    python docs/config_keys.py

writes the tables anew; a test fails while the page does not show them.
"""

import datetime
import functools
import sys
import typing
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, NamedTuple, get_args, get_origin

import annotated_types
from pydantic import BaseModel, BeforeValidator, WithJsonSchema
from pydantic.fields import FieldInfo

from noonhearth.model import LIMITS, MERITS, Catalogued, Quantity
from noonhearth.studies.asking.fields import Share
from noonhearth.studies.asking.quantity import show
from noonhearth.studies.asking.schema import allowed
from noonhearth.studies.asking.sections import ConfigSection
from noonhearth.studies.asking.units import DIMENSIONS

PAGE = Path(__file__).with_name("config-keys.md")
BEGIN, END = "<!-- tables -->", "<!-- end of tables -->"
HEADS = ("key", "what it holds", "allowed", "if left out", "meaning")

# Of the few keys whose description the schema does not carry.
MEANINGS = {
    "kind": "what the study answers",
    "source": "where the days come from",
    "how": "who turns the oven",
    "timezone": "of the clock there: an IANA name, or an offset such as UTC+05:30",
    "name": "what it is called in summaries",
    "currency": "of all prices",
    "materials": 'name in the catalogue to price: "12 per kg", "30 per m2" or "9 each"',
    "sky": "the days, by where they come from",
    "aiming": "how the oven is kept on the sun",
    "study": "the studies, carried out in this order",
}


# Of those whose values are read by their study, which the schema does not see into.
HOLDS = {"slack": 'quantity of the goal, such as "5 min"'}


class Held(NamedTuple):
    """What a key may hold: in words, within which bounds, and how a value of it is written."""

    what: str
    bounds: str = ""
    written: Callable[[Any], str] = repr


class Row(NamedTuple):
    """One key of a table."""

    key: str
    what: str
    bounds: str
    default: str
    meaning: str

    def line(self) -> str:
        """As a line of a Markdown table."""
        return "| " + " | ".join(cell.replace("|", "/").replace("\n", " ") for cell in self) + " |"


class Table(NamedTuple):
    """One table of a config: its heading, what it is, its keys."""

    heading: str
    about: str
    rows: list[Row]


def tables() -> list[Table]:
    """Every table that a config may hold, those of the studies last."""
    found: dict[str, Table] = {}
    _walk(ConfigSection, "", "Top of the file", found, {})
    studies = [name for name in found if name.startswith("`[[study")]
    return [found[name] for name in [*(name for name in found if name not in studies), *studies]]


def _walk(
    section: type[BaseModel],
    path: str,
    heading: str,
    found: dict[str, Table],
    seen: dict[type[BaseModel], str],
) -> None:
    """Add a table and those inside it, each class of table once."""
    seen[section] = heading
    rows: list[Row] = []
    found[heading] = Table(heading, _about(section), rows)
    for name, field in section.model_fields.items():
        inner = sections_in(field.annotation)
        places = {each: _heading(each, f"{path}.{name}".lstrip("."), field.annotation) for each in inner}
        for each, place in places.items():
            if each not in seen:
                _walk(each, f"{path}.{name}".lstrip("."), place, found, seen)
        rows.append(_row(name, field, {places[each]: seen[each] for each in inner}))


def _heading(section: type[BaseModel], path: str, annotation: Any) -> str:
    """How the table is opened in a config, with the word that picks it among its sisters."""
    opened = f"[[{path}]]" if _is_many(annotation, list) else f"[{path}]"
    if _is_many(annotation, dict):
        opened = f"[{path}.<name>]"
    tag = next((f"{name} = {_quoted(word)}" for name, word in _tags(section)), "")
    several = len(sections_in(annotation)) > 1
    return f"`{opened}` with `{tag}`" if several and tag else f"`{opened}`"


def _tags(section: type[BaseModel]) -> Iterator[tuple[str, str]]:
    """Keys that can hold one word only."""
    for name, field in section.model_fields.items():
        words = get_args(field.annotation) if get_origin(field.annotation) is Literal else ()
        if len(words) == 1:
            yield name, words[0]


def _is_many(annotation: Any, container: type) -> bool:
    if get_origin(annotation) is container:
        return True
    return any(_is_many(part, container) for part in get_args(annotation) if get_origin(annotation))


def sections_in(annotation: Any) -> list[type[BaseModel]]:
    """Every table that an annotation lets in, through unions, lists and Annotated."""
    if get_origin(annotation) is None:
        is_table = isinstance(annotation, type) and issubclass(annotation, BaseModel)
        return [annotation] if is_table else []
    found = [each for part in get_args(annotation) for each in sections_in(part)]
    return list(dict.fromkeys(found))


def _row(name: str, field: FieldInfo, places: Mapping[str, str]) -> Row:
    """A key; `places` are the tables it opens, each with the heading under which its keys stand."""
    held = Held(_tabled(field.annotation, places)) if places else held_by(field.annotation, field.metadata)
    if field.annotation is Any and name in HOLDS:
        held = Held(HOLDS[name])
    inner = sections_in(field.annotation)
    meaning = field.description or _inner_description(field.annotation) or MEANINGS.get(name, "")
    if not meaning and len(inner) == 1:
        meaning = _about(inner[0])
    return Row(f"`{name}`", held.what, held.bounds, _default(field, held), meaning)


def _inner_description(annotation: Any) -> str:
    """What an alias inside an optional annotation says of itself."""
    notes = getattr(annotation, "__metadata__", ())
    told = (note.description for note in notes if isinstance(note, FieldInfo))
    own = next((text for text in told if text), "")
    return own or next(filter(None, map(_inner_description, get_args(annotation))), "")


def _tabled(annotation: Any, places: Mapping[str, str]) -> str:
    """What is opened by a key that holds tables, and where their keys stand if that is elsewhere."""
    opened, told = ({_bare(heading) for heading in found} for found in (places.keys(), places.values()))
    many = "one table for each: " if _is_many(annotation, list) else "table "
    keys = "" if opened == told else f", with the keys of {_either(told)}"
    return f"{many}{_either(opened)}{keys}"


def _bare(heading: str) -> str:
    """A heading without the word that tells sisters apart."""
    return heading.partition("` with `")[0].strip("`")


def _either(names: Iterable[str]) -> str:
    return " or ".join(f"`{name}`" for name in sorted(names))


def held_by(annotation: Any, metadata: Sequence[Any] = ()) -> Held:
    """What an annotation lets in, in words."""
    base, facts = _unfolded(annotation, metadata)
    for fact in facts:
        if isinstance(fact, BeforeValidator):
            held = _read_by(fact.func, base)
            if held is not None:
                return held
        if isinstance(fact, WithJsonSchema) and fact.json_schema:
            return Held(_by_schema(fact.json_schema), "", _plain)
    origin, parts = get_origin(base), get_args(base)
    if origin is Literal:
        return Held(" or ".join(f"`{_quoted(word)}`" for word in parts), "", _quoted)
    if origin in (UnionType, typing.Union):
        kept = [held_by(part) for part in parts if part is not NoneType]
        return Held(" or ".join(h.what for h in kept), "; ".join(h.bounds for h in kept if h.bounds), _plain)
    if origin is list:
        each = held_by(*parts) if parts else Held("values")
        return Held(f"list: {each.what}", _joined(_length(facts), each.bounds), _listed(each.written))
    if origin is dict:
        return Held("table", "", _plain)
    if origin is tuple:
        return Held(f"pair: {held_by(parts[0]).what}")
    return _plainly(base, facts)


def _unfolded(annotation: Any, metadata: Sequence[Any]) -> tuple[Any, list[Any]]:
    """The bare type and all that is noted of it, whether by Annotated or by a field."""
    facts = [fact for note in metadata for fact in (note.metadata if isinstance(note, FieldInfo) else [note])]
    if hasattr(annotation, "__metadata__"):
        base, inner = _unfolded(annotation.__origin__, annotation.__metadata__)
        return base, [*inner, *facts]
    return annotation, facts


def _read_by(reader: Any, base: Any) -> Held | None:
    """What a reader of values takes; None of one that this page does not know by name."""
    name, first = reader, None
    if isinstance(reader, functools.partial):
        name, first = reader.func, next(iter(reader.args), None)
    word = getattr(name, "__name__", "")
    if isinstance(first, Quantity):
        return Held(_measured(first.dimension), allowed(first), _shown(first.dimension))
    if isinstance(first, Catalogued):
        return Held(f"name; `noonhearth names {first.group}` lists them", "", _quoted)
    if first is MERITS or first is LIMITS:
        what = "merit" if first is MERITS else "limit"
        return Held(f"list: {what}s" if get_origin(base) is list else what, "by their names below", _plain)
    if word == "_monthly":
        return Held(f"{_measured(str(first))}; one, or twelve from January on")
    if reader is Share.__metadata__[0].func:
        return Held(_measured("share"), "0 % to 100 %", _shown("share"))
    if word == "_clock":
        return Held('clock time, such as "09:30"')
    if word == "_weights":
        return Held("number, or a list of one for each month", "", _plain)
    return None


def _by_schema(schema: Mapping[str, Any]) -> str:
    """What a schema for editors lets in."""
    if "anyOf" in schema:
        return " or ".join(_by_schema(each) for each in schema["anyOf"])
    if "const" in schema:
        return f"`{_quoted(schema['const'])}`"
    words = {
        "string": "text",
        "integer": "whole number",
        "number": "number",
        "object": "table",
        "array": "list",
    }
    what = words.get(str(schema.get("type")), "see its meaning")
    example = str(schema.get("description", ""))
    return f"{what}, {example}" if example.startswith("such as") else what


def _measured(dimension: str) -> str:
    found = DIMENSIONS[dimension]
    return f'{found.noun.partition(" ")[2]}, such as "{found.example}"'


def _plainly(base: Any, facts: Sequence[Any]) -> Held:
    """A plain type with its bounds."""
    words = {str: "text", int: "whole number", float: "number", bool: "`true` or `false`"}
    words |= {datetime.date: "date, such as 2025-03-21"}
    bounds = _bounds(facts)
    if any(isinstance(fact, annotated_types.MultipleOf) for fact in facts):
        bounds += "".join(f", a multiple of {f.multiple_of:g}" for f in facts if hasattr(f, "multiple_of"))
    return Held(words.get(base, "see its meaning"), bounds, _plain)


def _bounds(facts: Sequence[Any]) -> str:
    low = next((f.ge for f in facts if isinstance(f, annotated_types.Ge)), None)
    high = next((f.le for f in facts if isinstance(f, annotated_types.Le)), None)
    above = next((f.gt for f in facts if isinstance(f, annotated_types.Gt)), None)
    if above is not None:
        return f"above {above:g}"
    if low is not None and high is not None:
        return f"{low:g} to {high:g}"
    return f"{low:g} or more" if low is not None else f"{high:g} or less" if high is not None else ""


def _length(facts: Sequence[Any]) -> str:
    least = next((f.min_length for f in facts if hasattr(f, "min_length") and f.min_length), None)
    most = next((f.max_length for f in facts if hasattr(f, "max_length") and f.max_length), None)
    if least and most:
        return f"{least} to {most} of them"
    return f"at least {least}" if least else ""


def _joined(*texts: str) -> str:
    return "; ".join(text for text in texts if text)


def _default(field: FieldInfo, held: Held) -> str:
    """What stands where a key is left out."""
    if field.is_required():
        return "**needed**"
    value = field.get_default(call_default_factory=True)
    if value is None:
        return ""
    if isinstance(value, BaseModel):
        return "as its own keys say"
    if value in ([], {}, ()):
        return "none"
    if isinstance(value, dict):  # of ratios, so far
        return ", ".join(f'{name} = "{show(share, "share")}"' for name, share in value.items())
    return held.written(value)


def _quoted(word: Any) -> str:
    return f'"{word}"'


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, list | tuple):
        return ", ".join(_plain(each) for each in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _shown(dimension: str) -> Callable[[Any], str]:
    return lambda value: show(value, dimension)


def _listed(each: Callable[[Any], str]) -> Callable[[Any], str]:
    return lambda values: ", ".join(map(each, values))


def _about(section: type[BaseModel]) -> str:
    """The first paragraph of what a table says of itself."""
    return " ".join((section.__doc__ or "").strip().partition("\n\n")[0].split())


def lines(found: Sequence[Table]) -> Iterator[str]:
    """The part of the page that is written from the schema."""
    for table in found:
        yield from ("", f"### {table.heading}", "", table.about, "")
        yield from (f"| {' | '.join(HEADS)} |", f"|{'---|' * len(HEADS)}")
        yield from (row.line() for row in table.rows)
    yield from ("", "### Merits and limits", "", "What goals, outputs and limits may name.", "")
    yield from ("| name | unit as stored | better | meaning |", "|---|---|---|---|")
    for name, merit in (MERITS | LIMITS).items():
        yield f"| `{name}` | {merit.unit('money')} | {merit.better} | {merit.meaning} |"
    yield from ("", "### Units", "", "What each kind of quantity may be written in.", "")
    yield from ("| quantity | units |", "|---|---|")
    for dimension in DIMENSIONS.values():
        units = ", ".join("a bare number" if unit.name == "1" else unit.name for unit in dimension.units)
        yield f"| {dimension.noun.partition(' ')[2]} | {units} |"


def page_with(written: Iterator[str]) -> str:
    """The page with its tables written anew."""
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    return "\n".join([before + BEGIN, *written, "", END]) + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(page_with(lines(tables())), "utf-8")
    sys.stdout.write(f"{PAGE.name} written\n")
