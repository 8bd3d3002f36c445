"""The page of what Python may call is what the sources say, and Python agrees on every argument."""

import ast
import importlib
import importlib.util
import inspect
import re
import sys
from pathlib import Path
from types import FunctionType, ModuleType

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/api.md").read_text("utf-8")
MOVE = "write the page anew: python docs/api.py"
PACKAGES = ("model", "studies")
PUBLIC = [(p, name) for p in PACKAGES for name in importlib.import_module(f"noonhearth.{p}").__all__]


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("api_writer", ROOT / "docs/api.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def entries(text: str) -> dict[tuple[str, str], str]:
    """What is said of each name, whatever the order of names."""
    found = {}
    for package, body in re.findall(r"^## noonhearth\.(\w+)\n(.*?)(?=^## |\Z)", text, re.M | re.S):
        for name, entry in re.findall(r"^#### (\w+)\n(.*?)(?=^###|^<!--|\Z)", body, re.M | re.S):
            found[package, name] = entry.strip()
    return found


def test_the_page_says_of_every_name_what_the_sources_say(writer: ModuleType) -> None:
    shown, made = entries(PAGE), entries("\n".join(writer.lines()))
    assert set(made) == set(PUBLIC)
    assert set(shown) == set(made), MOVE
    for name, entry in made.items():
        assert shown[name] == entry, f"{name}: {MOVE}"


def test_every_function_and_class_describes_itself() -> None:
    for package, name in PUBLIC:
        value = getattr(importlib.import_module(f"noonhearth.{package}"), name)
        if isinstance(value, FunctionType | type):
            assert inspect.getdoc(value), f"{package}.{name} says nothing of itself"


@pytest.mark.parametrize(("package", "name"), PUBLIC)
def test_arguments_are_those_that_python_asks_for(package: str, name: str) -> None:
    value = getattr(importlib.import_module(f"noonhearth.{package}"), name)
    found = re.search(r"```signature\n(.*?)```", entries(PAGE)[package, name], re.S)
    if found is None or not callable(value) or isinstance(value, type) or "(" not in found[1]:
        return
    stub = re.sub(r"^(\w+\(.*\)(?: -> .*)?)\n\Z", r"def \1: ...", found[1], flags=re.S)
    (node,) = ast.parse(stub).body
    assert isinstance(node, ast.FunctionDef)
    shown = [arg.arg for arg in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
    asked = [p.name for p in inspect.signature(value).parameters.values() if p.kind.name[:3] != "VAR"]
    assert shown == asked
