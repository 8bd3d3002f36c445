"""Entries of api.md: every public name of noonhearth.model and noonhearth.studies, read from the sources.

    python docs/api.py

writes the page's entries anew; a test fails while the page does not show them. Signatures stand as they are written
in the source, so that the page does not depend on how a version of Python or numpy spells a type.
"""

import ast
import inspect
import re
import sys
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

from noonhearth.model import Spec, specs, stored_unit
from noonhearth.studies.asking.schema import allowed
from noonhearth.studies.kinds import KINDS, Kind

ROOT = Path(__file__).parents[1]
PAGE = Path(__file__).with_name("api.md")
BEGIN, END = "<!-- entries -->", "<!-- end of entries -->"
PACKAGES = ("model", "studies")
KINDS_OF_STUDY = "Kinds of study"
WIDTH = 100

Definition = ast.ClassDef | ast.FunctionDef | ast.Assign | ast.AnnAssign


class Found(NamedTuple):
    """Where a public name is defined, and how."""

    module: str  # dotted, below noonhearth
    node: Definition
    text: str | None  # what stands under an assignment as its description


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _path(module: str) -> Path:
    whole = ROOT / module.replace(".", "/")
    return whole / "__init__.py" if whole.is_dir() else whole.with_suffix(".py")


def definition(module: str, name: str) -> Found:
    """The definition of a name that a module holds or takes from another.

    Raises
    ------
    LookupError
        Neither.
    """
    path = _path(module)
    body = _tree(path).body
    for node, after in zip(body, [*body[1:], None], strict=True):
        if name in _names_of(node):
            assert isinstance(node, Definition)
            return Found(module, node, _string(after))
        if isinstance(node, ast.ImportFrom) and name in {alias.asname or alias.name for alias in node.names}:
            own = next(alias.name for alias in node.names if name == (alias.asname or alias.name))
            return definition(_imported(module, path, node), own)
    raise LookupError(f"{module} defines no {name}")


def _names_of(node: ast.stmt) -> list[str]:
    match node:
        case ast.ClassDef(name=name) | ast.FunctionDef(name=name):
            return [name]
        case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
            return [name]
    return []


def _string(node: ast.stmt | None) -> str | None:
    match node:
        case ast.Expr(value=ast.Constant(value=str(text))):
            return inspect.cleandoc(text)
    return None


def _imported(module: str, path: Path, node: ast.ImportFrom) -> str:
    """The module that a relative import names."""
    package = module.split(".") if path.name == "__init__.py" else module.split(".")[:-1]
    kept = package[: len(package) - (node.level - 1)]
    return ".".join([*kept, *([node.module] if node.module else [])])


def home(package: str, name: str) -> Found:
    """The definition of a public name of a package."""
    homes = getattr(import_module(f"noonhearth.{package}"), "_HOMES", {})
    module, own = homes.get(name, ("", name))
    return definition(f"{package}.{module}" if module else package, own)


def signature(name: str, node: ast.FunctionDef, *, method: bool = False) -> str:
    """Name, arguments and what comes back, as written; broken where it is long."""
    texts = _arguments(node.args)[1 if method else 0 :]
    back = f" -> {ast.unparse(node.returns)}" if node.returns else ""
    return _broken(name, [text for text in texts if text != "/"], back)


def _broken(name: str, texts: list[str], back: str = "") -> str:
    line = f"{name}({', '.join(texts)}){back}"
    if len(line) <= WIDTH:
        return line
    return "\n".join([f"{name}(", *(f"    {text}," for text in texts), f"){back}"])


def _arguments(args: ast.arguments) -> list[str]:
    plain = [*args.posonlyargs, *args.args]
    defaults = [None] * (len(plain) - len(args.defaults)) + list(args.defaults)
    texts = [_argument(arg, default) for arg, default in zip(plain, defaults, strict=True)]
    if args.vararg:
        texts.append(f"*{_argument(args.vararg, None)}")
    elif args.kwonlyargs:
        texts.append("*")
    texts += [_argument(a, d) for a, d in zip(args.kwonlyargs, args.kw_defaults, strict=True)]
    return [*texts, *([f"**{_argument(args.kwarg, None)}"] if args.kwarg else [])]


def _argument(arg: ast.arg, default: ast.expr | None) -> str:
    text = f"{arg.arg}: {ast.unparse(arg.annotation)}" if arg.annotation else arg.arg
    if default is None:
        return text
    return f"{text} = {ast.unparse(default)}" if arg.annotation else f"{text}={ast.unparse(default)}"


def described(text: str) -> Iterator[str]:
    """Lines of a docstring in the form of numpydoc, as Markdown."""
    head, *parts = re.split(r"^(\w[\w ]*)\n-{3,}\n", inspect.cleandoc(text), flags=re.MULTILINE)
    yield from (_safe(line) for line in head.strip().splitlines())
    for title, body in zip(parts[::2], parts[1::2], strict=True):
        yield from ("", f"*{title}*", "")
        if title in ("Parameters", "Returns", "Raises", "Yields", "Attributes"):
            yield from _items(body)
        elif ">>>" in body:
            yield from ("```example", *body.strip().splitlines(), "```")
        else:
            yield from (_safe(line) for line in body.strip().splitlines())


def _items(body: str) -> Iterator[str]:
    """A list of names with what each is."""
    item: list[str] = []
    for line in [*body.strip().splitlines(), ""]:
        if line.startswith(" "):
            item.append(_safe(line.strip()))
            continue
        if item:
            yield f"- {item[0]}" + (f" - {' '.join(item[1:])}" if item[1:] else "")
        item = [f"`{line.strip()}`"] if line.strip() else []


def _safe(line: str) -> str:
    """A line of plain text whose signs Markdown would take as its own."""
    return line if "`" in line else line.replace("<", "&lt;").replace("*", "\\*")


def entry(package: str, name: str) -> list[str]:
    """Lines on one public name."""
    value, found = getattr(import_module(f"noonhearth.{package}"), name), home(package, name)
    where = f"`noonhearth.{found.module}`"
    if isinstance(value, Kind):
        return [f"#### {name}", "", *_study(name, value), "", f"In {where}."]
    if isinstance(found.node, ast.FunctionDef):
        return [f"#### {name}", "", *_function(name, found.node), "", f"In {where}."]
    if isinstance(found.node, ast.ClassDef):
        return [f"#### {name}", "", *_class(value, found.node, found.module), "", f"In {where}."]
    return [f"#### {name}", "", *_constant(value, found), "", f"In {where}."]


def _fenced(text: str) -> list[str]:
    return ["```signature", text, "```", ""]


def _function(name: str, node: ast.FunctionDef) -> Iterator[str]:
    yield from _fenced(signature(name, node))
    yield from described(ast.get_docstring(node) or "")


def _study(name: str, kind: Kind) -> Iterator[str]:
    """A kind of study: the keys of its table are its arguments."""
    texts = ["setting: Setting", "*"]
    for key, field in kind.section.model_fields.items():
        if key not in ("kind", "base"):
            texts.append(key if field.is_required() else f"{key}=...")
    yield from _fenced(_broken(name, [*texts, "running: Running | None = None"], " -> xr.Dataset"))
    yield from described(kind.section.__doc__ or "")
    yield f'The keys are those of `kind = "{kind.word}"` in [config-keys.md](config-keys.md), written as there.'


def _class(value: type, node: ast.ClassDef, module: str) -> Iterator[str]:
    bases = [ast.unparse(base) for base in node.bases]
    yield from described(ast.get_docstring(node) or "")
    yield from _fields(value, node, _path(module))
    if "IntEnum" in bases:
        members = [name for part in node.body if isinstance(part, ast.Assign) for name in _names_of(part)]
        yield from ("", "Members: " + ", ".join(f"`{member}`" for member in members) + ".")
    methods = [part for part in node.body if isinstance(part, ast.FunctionDef) and _is_public(part)]
    if methods:
        yield ""
        yield from (_method(method) for method in methods)


def _fields(value: type, node: ast.ClassDef, path: Path) -> Iterator[str]:
    """What an object is made of; told once, by its docstring if that does."""
    fields = [part for part in node.body if isinstance(part, ast.AnnAssign)]
    known = specs(value) if hasattr(value, "__dataclass_fields__") else {}
    if not fields or "Parameters\n---" in (ast.get_docstring(node) or ""):
        return
    if not known:
        yield ""
        for field in fields:
            text = _comment(field, path)
            yield f"- `{ast.unparse(field)}`" + (f" - {_safe(text)}" if text else "")
        return
    yield from ("", "| field | type or unit | allowed | if left out | meaning |", "|---|---|---|---|---|")
    for field in fields:
        yield _field(field, known.get(_names_of(field)[0]), _comment(field, path))


def _comment(node: ast.stmt, path: Path) -> str:
    """What stands behind a line of the source as a remark."""
    assert node.end_lineno is not None
    line = path.read_text("utf-8").splitlines()[node.end_lineno - 1][node.end_col_offset :]
    return line.partition("#")[2].strip()


def _field(node: ast.AnnAssign, spec: Spec | None, comment: str) -> str:
    name = _names_of(node)[0]
    default = _given(node.value)
    if spec is None:
        cells = [f"`{name}`", f"`{ast.unparse(node.annotation)}`", "", default, comment]
    else:
        unit = stored_unit(spec)
        kind = f"`{ast.unparse(node.annotation)}`" if unit == "1" else unit
        cells = [f"`{name}`", kind, allowed(spec), default, spec.meaning]
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _given(value: ast.expr | None) -> str:
    """Default of a field: itself, or the default or factory that a field is made with."""
    if value is None:
        return "**needed**"
    if isinstance(value, ast.Call):
        given = {word.arg: word.value for word in value.keywords}
        if "default" in given:
            return f"`{ast.unparse(given['default'])}`"
        factory = given.get("default_factory")
        return f"`{ast.unparse(factory)}()`" if factory is not None else "**needed**"
    return f"`{ast.unparse(value)}`"


def _is_public(node: ast.FunctionDef) -> bool:
    return not node.name.startswith("_") and ast.get_docstring(node) is not None


def _method(node: ast.FunctionDef) -> str:
    """A method or property with the first paragraph of what it says."""
    marks = {ast.unparse(mark) for mark in node.decorator_list}
    text = " ".join((ast.get_docstring(node) or "").partition("\n\n")[0].split())
    if marks & {"property", "cached_property"}:
        back = f": {ast.unparse(node.returns)}" if node.returns else ""
        return f"- `.{node.name}{back}` - {_safe(text)}"
    bound = "staticmethod" not in marks
    line = " ".join(signature(node.name, node, method=bound).split()).replace("( ", "(").replace(", )", ")")
    return f"- `.{line}` - {_safe(text)}"


def _constant(value: Any, found: Found) -> Iterator[str]:
    """A constant by its description and what is in it; an alias by what it stands for."""
    text = found.text or _comment(found.node, _path(found.module))
    if text:
        yield from (*described(text), "")
    if isinstance(value, dict):
        yield "Its keys: " + ", ".join(f"`{key}`" for key in value) + "."
    elif isinstance(value, tuple) and hasattr(value[0], "text"):
        yield from (f"- {_safe(each.text)}" for each in value)
    elif isinstance(value, tuple):
        yield ", ".join(f"{each:g}" for each in value) + "."
    elif not text:
        yield "```signature"
        yield ast.unparse(found.node)
        yield "```"


def _groups(package: str) -> dict[str, list[str]]:
    """Public names of a package by what they are."""
    names = import_module(f"noonhearth.{package}").__all__
    found: dict[str, list[str]] = {
        KINDS_OF_STUDY: [],
        "Functions": [],
        "Classes": [],
        "Constants and aliases": [],
    }
    for name in sorted(names, key=str.lower):
        node = home(package, name).node
        group = {ast.FunctionDef: "Functions", ast.ClassDef: "Classes"}.get(
            type(node), "Constants and aliases"
        )
        is_study = package == "studies" and name in KINDS
        found[KINDS_OF_STUDY if is_study else group].append(name)
    return {group: names for group, names in found.items() if names}


def lines() -> Iterator[str]:
    """The part of the page that is written from the sources."""
    for package in PACKAGES:
        yield from ("", f"## noonhearth.{package}", "")
        text = inspect.getdoc(import_module(f"noonhearth.{package}")) or ""
        yield from described(text)
        for group, names in _groups(package).items():
            yield from ("", f"### {group}" + ("" if group == KINDS_OF_STUDY else f" of {package}"))
            for name in names:
                yield ""
                yield from entry(package, name)


def page_with(written: Iterator[str]) -> str:
    """The page with its entries written anew."""
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    return "\n".join([before + BEGIN, *written, "", END]) + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(page_with(lines()), "utf-8")
    sys.stdout.write(f"{PAGE.name} written\n")
