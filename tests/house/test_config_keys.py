"""The table of config keys is what the schema says, row by row in any order; and configs are held to it."""

import importlib.util
import re
import sys
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Annotated, Any

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError

from noonhearth.model import Funnel, Jacket, Pot, load_catalogue, specs
from noonhearth.studies.asking.quantity import parse, show
from noonhearth.studies.asking.schema import read_quantity
from noonhearth.studies.asking.sections import ConfigSection
from noonhearth.studies.asking.varying import read_varies
from noonhearth.studies.kinds import KINDS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/config-keys.md").read_text("utf-8")
MOVE = "write the page anew: python docs/config_keys.py"


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("keys_writer", ROOT / "docs/config_keys.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def rows_by_table(text: str) -> dict[str, set[str]]:
    """Lines of every table by the heading over it."""
    parts = re.split(r"^### (.*)$", text, flags=re.MULTILINE)[1:]
    return {
        heading: {line for line in body.splitlines() if line.startswith("| ")}
        for heading, body in zip(parts[::2], parts[1::2], strict=True)
    }


def test_the_page_shows_every_key_as_the_schema_has_it(writer: ModuleType) -> None:
    shown, made = (rows_by_table(text) for text in (PAGE, "\n".join(writer.lines(writer.tables()))))
    assert set(shown) == set(made), MOVE
    for heading, rows in made.items():
        assert shown[heading] == rows, f"{heading}: {MOVE}"


def test_every_key_says_what_it_means(writer: ModuleType) -> None:
    silent = [
        f"{table.heading} {row.key}" for table in writer.tables() for row in table.rows if not row.meaning
    ]
    assert not silent, "give these a description in the schema"


def test_every_kind_of_study_has_its_table() -> None:
    for kind in KINDS:
        assert f'### `[[study]]` with `kind = "{kind}"`' in PAGE, MOVE


def keys_of(section: type[BaseModel], sections_in: Any, seen: set[Any]) -> list[tuple[str, Any]]:
    """Every key of a config with its field, by pydantic's own account of its models."""
    if section in seen:
        return []
    seen.add(section)
    found = [(f"{section.__name__}.{name}", field) for name, field in section.model_fields.items()]
    for _, field in list(found):
        for inner in sections_in(field.annotation):
            found += keys_of(inner, sections_in, seen)
    return found


def test_bounds_on_the_page_are_those_that_configs_are_held_to(writer: ModuleType) -> None:
    """Of every key that is one quantity: the middle of its range is taken, and what lies beyond either end refused."""
    tried = 0
    for name, field in keys_of(ConfigSection, writer.sections_in, set()):
        held = writer.held_by(field.annotation, field.metadata)
        readers = [getattr(fact, "func", None) for fact in field.metadata]
        spec = next((r.args[0] for r in readers if getattr(r, "func", None) is read_quantity), None)
        if spec is None:
            continue
        low, high = (parse(text, spec.dimension) for text in held.bounds.split(" to "))
        adapter = TypeAdapter(Annotated[(field.annotation, *field.metadata)])
        assert adapter.validate_python(show((low + high) / 2, spec.dimension, digits=9)) is not None, name
        for beyond in (low - 0.01 * (high - low), high + 0.01 * (high - low)):
            with pytest.raises(ValidationError):
                adapter.validate_python(show(beyond, spec.dimension, digits=9))
        tried += 1
    assert tried > 40


@pytest.mark.parametrize(
    "written", re.findall(r"^\| (`[\[{].*?) \| .* \|$", PAGE.split("<!-- tables -->")[0], re.M)
)
def test_every_way_to_vary_a_factor_is_one(written: str) -> None:
    """As written on the page, of a factor that has such a unit or such names."""
    factors = {"deg": "facet_angle", "cm2": "leak_area", "steel": "pot_metal", "6": "facets"}
    for text in re.findall(r"`(.*?)`", written):
        name = next(factor for word, factor in factors.items() if word in text)
        (vary,) = read_varies(tomllib.loads(f"{name} = {text}"), specs_of_all(), load_catalogue().names())
        assert vary.name == name


def specs_of_all() -> dict[str, Any]:
    return {name: spec for part in (Funnel, Jacket, Pot) for name, spec in specs(part).items()}


def test_a_row_that_says_otherwise_is_found_out(writer: ModuleType) -> None:
    """The page with one bound, one default and one key changed is another page."""
    made = rows_by_table("\n".join(writer.lines(writer.tables())))
    for old, new in (("3 to 24", "3 to 25"), ("| 32 |", "| 33 |"), ("`albedo`", "`albedos`")):
        assert old in PAGE
        assert rows_by_table(PAGE.replace(old, new, 1)) != made
