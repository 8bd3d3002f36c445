"""The page of published checks is what the tests hold, and there are enough of them."""

import ast
import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/published-checks.md").read_text("utf-8")


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("page_writer", ROOT / "docs/published_checks.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def noting() -> set[str]:
    """Tests that ask for the fixture, read from their arguments."""
    return {
        f"{path.name}::{node.name}"
        for path in (ROOT / "tests/published").glob("test_*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef) and "published" in {arg.arg for arg in node.args.args}
    }


def test_every_test_that_notes_a_number_stands_on_the_page_and_no_other() -> None:
    assert set(re.findall(r"`(test_\w+\.py::test_\w+)` \|", PAGE)) == noting()


def test_there_are_enough_numbers_of_enough_sources(writer: ModuleType) -> None:
    """Sixty printed numbers over fifteen works are the least; those worked from formulas come on top."""
    cells = [[cell.strip() for cell in line.strip("| ").split(" | ")] for line in writer.lines(PAGE)]
    assert all(len(row) == 7 for row in cells)
    rows = [
        writer.Row(
            source=s, what=w, kind=k, printed=p, ours=float(o), tolerance=float(t.split()[0]), test=test
        )
        for s, w, k, p, o, t, test in cells
    ]
    printed = [row for row in rows if row.kind == "printed"]
    assert len(printed) >= 60
    assert len({row.work for row in printed}) >= 15
    assert {row.kind for row in rows} == {"printed", "worked", "trade"}
    missed = [row for row, line in zip(rows, writer.lines(PAGE), strict=True) if "**miss**" in line]
    assert f"{len(missed)} of all are missed" in PAGE
    assert writer.SENTENCE.read_text("utf-8") in PAGE


def test_a_page_that_says_otherwise_is_found_out(writer: ModuleType) -> None:
    line = writer.lines(PAGE)[0]
    source, what, kind, printed, ours, tolerance, test = (c.strip() for c in line.strip("| ").split(" | "))
    row = {"source": source, "what": what, "kind": kind, "printed": printed, "test": test.strip("`")}
    row["tolerance"] = float(tolerance.split()[0])
    assert writer.fault_of(writer.Row(**row, ours=float(ours))) is None
    assert "gives" in writer.fault_of(writer.Row(**row, ours=1.1 * float(ours)))
    assert "does not show" in writer.fault_of(writer.Row(**row | {"printed": "7"}, ours=float(ours)))
    again = writer.line_of(writer.Row(**row, ours=float(ours)))
    assert again == line
