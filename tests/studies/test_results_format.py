"""The document of the format holds: every name is on the page, and its words lead to the same checksums."""

import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import xarray as xr

from noonhearth.studies import open_result
from noonhearth.studies.kinds import KINDS
from noonhearth.studies.results import store

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/results-format.md").read_text("utf-8")
MOVE = "write the page anew: python docs/results_format.py"


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("format_writer", ROOT / "docs/results_format.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def results(writer: ModuleType) -> dict[str, xr.Dataset]:
    found: dict[str, xr.Dataset] = writer.results_of_every_kind()
    return found


def section_of(kind: str) -> str:
    return PAGE.partition(f"\n### {kind}\n")[2].partition("\n### ")[0]


def test_every_kind_has_a_small_study_and_a_section(writer: ModuleType) -> None:
    assert set(KINDS) - set(writer.STUDIES) == set(), "a small study of it in docs/results_format.py"
    assert [kind for kind in KINDS if not section_of(kind)] == [], MOVE


def test_every_attribute_is_on_the_page(results: dict[str, xr.Dataset]) -> None:
    common = section_of("Every kind")
    for kind, result in results.items():
        told = set(re.findall(r"`(\w+)`", common + section_of(kind)))
        assert set(map(str, result.attrs)) <= told, f"attributes of {kind}; {MOVE}"
        assert set(re.findall(r"`(\w+)`", common)) - {"study"} <= set(map(str, result.attrs)), kind


def test_every_variable_is_on_the_page_and_no_other(
    writer: ModuleType, results: dict[str, xr.Dataset]
) -> None:
    for kind, result in results.items():
        lines = [line for line in writer.section(kind, result) if line.startswith("|")]
        shown = [line for line in section_of(kind).splitlines() if line.startswith("|")]
        assert shown == lines, f"variables of {kind}; {MOVE}"


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    """Names that the code of the page defines."""
    names: dict[str, Any] = {}
    for code in re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL):
        exec(compile(code, "results-format.md", "exec"), names)  # the blocks are ours
    return names


def test_the_page_leads_to_the_same_hash(
    told: dict[str, Any], results: dict[str, xr.Dataset], tmp_path: Path
) -> None:
    """By the code on the page, which knows h5netcdf and hashlib alone, of a result of every kind."""
    path = tmp_path / "result.nc"
    for kind, result in results.items():
        store.write(result, path)
        assert told["content_hash"](path) == result.attrs["content_hash"], kind


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_row_of_every_kind_is_made_again_to_the_last_bit(
    kind: str, results: dict[str, xr.Dataset], tmp_path: Path
) -> None:
    path = tmp_path / "result.nc"
    store.write(results[kind], path)
    again = open_result(path).rerun(results[kind]["status"].size - 1)
    assert again.same, again.sentences()
    assert again.compared > 1


def test_the_examples_of_the_page_run(
    results: dict[str, xr.Dataset],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    store.write(results["search"], Path("search.nc"))
    for code in re.findall(r"```py\n(.*?)```", PAGE, flags=re.DOTALL):
        exec(compile(code, "results-format.md", "exec"), {})  # the blocks are ours
    assert "Trial 12, made again: all " in capsys.readouterr().out


def test_the_version_on_the_page_is_the_one_written() -> None:
    assert f"Version {store.FORMAT_VERSION}.\n" in PAGE
    assert re.findall(r"^\| (\d+) \|", PAGE, flags=re.MULTILINE)[-1] == str(store.FORMAT_VERSION)
