"""Who may import whom, read from the import statements; and every folder of code is a listed package."""

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted([*(ROOT / "model").rglob("*.py"), *(ROOT / "studies").rglob("*.py")])


def imported(path: Path) -> set[str]:
    """Absolute dotted names a source imports, anywhere in it; relative imports are resolved."""
    package = ["noonhearth", *path.relative_to(ROOT).parts[:-1]]
    names = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            names |= {f"{stem}.{alias.name}" for alias in node.names}
    return names


def opened_inside_the_model(path: Path) -> set[str]:
    """Modules under noonhearth.model that a source imports from, instead of from the package itself."""
    dots = len(path.relative_to(ROOT).parts)
    return {
        str(node.module)
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom)
        and (
            (node.level == dots and str(node.module).startswith("model."))
            or "noonhearth.model." in str(node.module)
        )
    }


def offending(path: Path, forbidden: tuple[str, ...]) -> set[str]:
    return {n for n in imported(path) if any(n == f or n.startswith(f + ".") for f in forbidden)}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_dependencies_run_one_way(path: Path) -> None:
    place = path.relative_to(ROOT).as_posix()
    forbidden: tuple[str, ...] = ("model", "studies")  # absolute: any user may own a model.py
    if place.startswith("model/"):
        forbidden += ("noonhearth.studies", "optuna", "SALib")
    if place.startswith(("model/light/", "model/heat/", "model/food/")):
        own = "noonhearth.model." + place.split("/")[1]
        allowed = ("noonhearth.model.constants", "noonhearth.model.status", "noonhearth.model.compiled")
        upward = {
            n
            for n in imported(path)
            if n.startswith("noonhearth.model") and not n.startswith((own, *allowed))
        }
        upward = {n for n in upward if not n.startswith("noonhearth.model.described")}
        assert not upward, f"{place} may import only its siblings and {allowed}"
    if place.startswith("studies/"):
        if place != "studies/methods/search.py":
            forbidden += ("optuna",)
        if place != "studies/methods/sensitivity.py":
            forbidden += ("SALib",)
        forbidden += ("noonhearth.studies.cli",) if place != "studies/cli.py" else ()
        assert not opened_inside_the_model(path), "studies use only what noonhearth.model offers"
    assert not offending(path, forbidden)


def test_search_and_sensitivity_never_meet() -> None:
    assert not offending(ROOT / "studies/methods/search.py", ("noonhearth.studies.methods.sensitivity",))
    assert not offending(ROOT / "studies/methods/sensitivity.py", ("noonhearth.studies.methods.search",))


def test_every_package_is_listed() -> None:
    listed = set(tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"])
    found = {
        "noonhearth." + ".".join(init.parent.relative_to(ROOT).parts)
        for top in ("model", "studies")
        for init in (ROOT / top).rglob("__init__.py")
    }
    assert listed == found


def test_no_room_for_odds_and_ends() -> None:
    assert not [p for p in SOURCES if p.stem in {"utils", "helpers", "common", "misc", "tools"}]
