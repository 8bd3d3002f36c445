"""What the documents promise holds: commands, config keys, code blocks and names are real."""

import dataclasses
import re
import tomllib
from pathlib import Path
from typing import get_args

import pytest

from noonhearth.model import (
    LIMITS,
    MERITS,
    SI,
    Aiming,
    AsBuilt,
    Box,
    Cover,
    Funnel,
    Jacket,
    Meal,
    Pot,
    Stand,
    Surroundings,
    specs,
)
from noonhearth.studies.asking.units import DIMENSIONS
from noonhearth.studies.config import load
from noonhearth.studies.kinds import KINDS

ROOT = Path(__file__).parents[2]
README_PATH = ROOT / "README.md"
README = README_PATH.read_text("utf-8")
PARTS = (Box, Funnel, Cover, Jacket, Pot, Stand, Meal, Surroundings, AsBuilt)


def blocks(language: str, text: str = README) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)


def test_the_two_commands_are_one_line_each_and_pinned() -> None:
    commands = [block.strip() for block in blocks("sh")]
    assert len(commands) == 2
    for command in commands:
        assert "\n" not in command
        assert "-c configs/constraints.txt" in command
    assert "noonhearth run configs/first_oven.toml" in commands[0]
    assert commands[1].endswith("pytest -q -n auto --dist loadfile tests")


def test_the_config_of_the_readme_loads(tmp_path: Path) -> None:
    (config,) = blocks("toml")
    path = tmp_path / "readme.toml"
    path.write_text(config, "utf-8")
    assert [step.kind for step in load(path).steps] == ["search", "sensitivity"]


def test_studies_page_shows_every_kind() -> None:
    page = (ROOT / "docs/studies.md").read_text("utf-8")
    assert [word for word in KINDS if f"studies.{word}(" not in page] == []


def test_the_readme_names_every_config_merit_and_limit() -> None:
    for path in (ROOT / "configs").glob("*.toml"):
        assert path.name in README
    for name in (*MERITS, *LIMITS):
        assert f"`{name}`" in README


def test_developers_names_every_module() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for path in [*(ROOT / "model").rglob("*.py"), *(ROOT / "studies").rglob("*.py")]:
        if path.stem not in {"__init__", "constants", "status", "compiled"}:
            assert re.search(rf"\b{path.stem}\b", text), path


def test_pins_are_exact_and_name_no_source() -> None:
    lines = (ROOT / "configs/constraints.txt").read_text("utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9_.+!]+", pin) for pin in pins)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    asked = [*project["dependencies"], *(item for extra in extras for item in extra)]
    names = {re.sub(r"[-_.]+", "-", re.split(r"[<>=!~;\[ ]", item)[0]).lower() for item in asked}
    pinned = {re.sub(r"[-_.]+", "-", pin.split("==")[0]).lower() for pin in pins}
    assert names - {"noonhearth"} <= pinned  # an extra may ask for another extra


def test_factor_names_are_unique_over_all_parts_of_a_design() -> None:
    for aiming in get_args(Aiming):
        names = [name for part in (*PARTS, aiming) for name in specs(part)]
        assert len(names) == len(set(names))


def test_model_and_studies_agree_on_every_unit() -> None:
    for dimension, unit in SI.items():
        assert DIMENSIONS[dimension].si == unit
    described = [*PARTS, *get_args(Aiming)]
    for part in described:
        for name, spec in specs(part).items():
            assert getattr(spec, "dimension", "count") in SI, f"{part.__name__}.{name}"
        assert dataclasses.is_dataclass(part)
    for merit in (*MERITS.values(), *LIMITS.values()):
        assert merit.dimension in SI or merit.dimension == "money"


@pytest.mark.parametrize(
    "path", [p for p in ROOT.rglob("*.md") if ".venv" not in p.parts], ids=lambda p: p.name
)
def test_links_between_documents_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+)\)", path.read_text("utf-8")):
        assert (path.parent / target).exists(), target


def anchors(page: str) -> set[str]:
    """What the headings of a page are linked by, in the way of the common hosts."""
    heads = re.findall(r"^#+ (.*)$", re.sub(r"^```.*?^```$", "", page, flags=re.M | re.S), flags=re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("path", [README_PATH, *sorted((ROOT / "docs").glob("*.md"))], ids=lambda p: p.name)
def test_links_to_headings_lead_to_one(path: Path) -> None:
    page = path.read_text("utf-8")
    for target, anchor in re.findall(r"\]\(([\w./-]*)#([\w-]+)\)", page):
        assert anchor in anchors((path.parent / target).read_text("utf-8") if target else page), anchor
