"""Every block of README.md and docs/ is carried out as its reader would, and what the pages quote is what came out."""

import ast
import contextlib
import importlib.util
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]

# Blocks that another test carries out, because they need more than a folder and this process.
ELSEWHERE = {
    ("many-machines.md", "dask scheduler --port 8786"): "tests/studies/test_cluster.py",
    (
        "many-machines.md",
        "dask worker tcp://lab-1:8786 --nworkers -1 --nthreads 1",
    ): "tests/studies/test_cluster.py",
    (
        "many-machines.md",
        "noonhearth run configs/first_oven.toml --scheduler tcp://lab-1:8786",
    ): "tests/studies/test_cluster.py",
}
SHOWN = {"", "signature", "example", "math", "mermaid"}  # languages of blocks that nobody is to carry out
FETCHING = {("many-machines.md", "pip install 'noonhearth[cluster]'")}  # the only blocks without a language


def _writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("block_runner", ROOT / "docs/run_blocks.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


runner = _writer()
PAGES = [pytest.param(path, id=path.name) for path in runner.PAGES]


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.chdir(tmp_path)
    return runner.laid_out(tmp_path)


@pytest.fixture
def cluster(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of a scheduler with one worker, in a process of its own."""
    code = (
        "import json, sys, distributed\n"
        "with distributed.LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=':0',"
        " silence_logs='CRITICAL') as local:\n"
        "    print(json.dumps(local.scheduler_address), flush=True)\n"
        "    sys.stdin.read()\n"
    )
    command = [sys.executable, "-c", code]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=tmp_path, env=dict(os.environ)
    )
    assert process.stdout is not None
    try:
        yield json.loads(process.stdout.readline())
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=30)


def prepared(page: Path, desk: Any) -> None:
    """What a page takes to be there before its first block."""
    if page.name == "results-format.md":  # a result to look into, of the shipped config made small
        code, told = runner._noonhearth(["run", str(small_search(desk.folder))])
        assert code == 0, told
        (desk.folder / "results/first_oven/search.nc").rename(desk.folder / "search.nc")


def small_search(folder: Path) -> Path:
    """The shipped first config, made small and down to its search."""
    path: Path = folder / "configs/first_oven.toml"
    head, search, *_ = path.read_text("utf-8").split("[[study]]")
    path.write_text(runner.small(f"{head}[[study]]{search}"), "utf-8")
    return path


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES)
def test_every_block_of_a_page_does_what_the_page_says(
    page: Path, desk: Any, request: pytest.FixtureRequest
) -> None:
    prepared(page, desk)
    for block in runner.blocks(page.read_text("utf-8")):
        if (page.name, block.first) in ELSEWHERE:
            continue
        if "tcp://lab-1:8786" in block.text:
            block = block._replace(
                text=block.text.replace("tcp://lab-1:8786", request.getfixturevalue("cluster"))
            )
        desk.do(block)


def test_no_block_is_passed_over_in_silence() -> None:
    """Each has a language that is carried out or only shown; the exceptions are listed, and stand on their pages."""
    found = set()
    for page in runner.PAGES:
        for block in runner.blocks(page.read_text("utf-8")):
            assert block.language in {"sh", "python", "py", "toml", "text", *SHOWN}, (page.name, block.first)
            if block.language == "":
                assert (page.name, block.first) in FETCHING, (page.name, block.first)
            found.add((page.name, block.first))
    assert set(ELSEWHERE) <= found
    assert found >= FETCHING
    for (page, _), where in ELSEWHERE.items():
        assert page in (ROOT / where).read_text("utf-8")
    fences = [len(re.findall(r"^```", page.read_text("utf-8"), re.M)) for page in runner.PAGES]
    assert fences == [2 * len(runner.blocks(page.read_text("utf-8"))) for page in runner.PAGES]


def test_every_command_is_carried_out_on_some_page() -> None:
    from noonhearth.studies.cli import app

    text = "".join(
        b.text for page in runner.PAGES for b in runner.blocks(page.read_text("utf-8")) if b.language == "sh"
    )
    carried_out = set(re.findall(r"^(?:.*&& )?(?:\.venv/bin/)?noonhearth ([a-z]+)", text, re.M))
    known = {name for name in app if not name.startswith("-")}
    assert known - carried_out == {"page"}  # needs measured cooks; tests/studies/test_standard.py prints one


def test_every_command_that_is_named_anywhere_exists() -> None:
    from noonhearth.studies.cli import app

    known = {name for name in app if not name.startswith("-")}
    named = set()
    for page in [*runner.PAGES, ROOT / "DEVELOPERS.md"]:
        text = page.read_text("utf-8")
        commands = [
            *re.findall(r"`([^`\n]+)`", text),
            *(b.text for b in runner.blocks(text) if b.language == "sh"),
        ]
        named |= {
            name for command in commands for name in re.findall(r"\bnoonhearth ([a-z]+)(?= |$)", command)
        }
    assert named == known


SOURCE_LINE = re.compile(r"^> (?:(?P<said>.*?) · )?`(?P<path>model/[\w/]+\.py)(?:: (?P<name>\w+))?`$", re.M)
MODEL = (ROOT / "docs/model.md").read_text("utf-8")


@pytest.mark.parametrize(
    "line", [pytest.param(m, id=f"{m['path']}:{m['name']}") for m in SOURCE_LINE.finditer(MODEL)]
)
def test_the_laws_of_the_model_stand_where_the_page_says_and_name_their_source(line: re.Match[str]) -> None:
    text = (ROOT / line["path"]).read_text("utf-8")
    defined = {
        node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.ClassDef | ast.FunctionDef)
    }
    assert line["name"] is None or line["name"] in defined
    said = re.sub(r"\(.*?\)", "", line["said"] or "")
    words = [word for word in re.findall(r"[A-Z][\w-]+|\b\d{4}\b", said) if word not in ("US", "USDA")]
    assert [word for word in words if word not in text] == []


def test_no_source_of_the_model_page_escapes_the_check() -> None:
    quoted = [line for line in MODEL.splitlines() if line.startswith("> ")]
    assert len(quoted) == len(SOURCE_LINE.findall(MODEL)) > 35


class TestTheRunnerItself:
    """What it holds pages to, on pages that are wrong."""

    @staticmethod
    def carried_out(desk: Any, page: str) -> None:
        for block in runner.blocks(page):
            desk.do(block)

    def test_a_quote_that_was_not_printed(self, desk: Any) -> None:
        page = "```python\nprint('one')\nprint('two')\n```\n\n```text\none\n...\n{}\n```\n"
        self.carried_out(desk, page.format("two"))
        with pytest.raises(runner.BlockError, match="three"):
            self.carried_out(desk, page.format("three"))

    def test_a_quote_out_of_order(self, desk: Any) -> None:
        with pytest.raises(runner.BlockError, match="one"):
            self.carried_out(desk, "```python\nprint('one')\nprint('two')\n```\n\n```text\ntwo\none\n```\n")

    def test_a_command_that_ends_otherwise(self, desk: Any) -> None:
        page = "<!-- file: a.toml -->\n```toml\ntitle = 1\n```\n{}```sh\nnoonhearth check a.toml\n```\n"
        self.carried_out(desk, page.format("\n<!-- exit 2 -->\n"))
        with pytest.raises(runner.BlockError, match="ended with 2"):
            self.carried_out(desk, page.format("\n"))

    def test_a_command_that_nobody_knows(self, desk: Any) -> None:
        with pytest.raises(runner.BlockError, match="rm"):
            self.carried_out(desk, "```sh\nrm -r /nowhere\n```\n")

    def test_a_config_that_is_wrong(self, desk: Any) -> None:
        text = (ROOT / "tests/oven.toml").read_text("utf-8").replace('"600 mm"', '"600 kg"')
        with pytest.raises(ValueError, match="mouth"):
            self.carried_out(desk, f"<!-- file: a.toml -->\n```toml\n{text}```\n")

    def test_quotes_written_anew(self, desk: Any) -> None:
        page = "```python\nprint('done in 7 min')\nprint('nothing else')\n```\n\n```text\ndone in 9 min\n...\n```\n"
        with contextlib.suppress(runner.BlockError):
            self.carried_out(desk, page)
        assert "```text\ndone in 7 min\n...\n```" in runner.written(page, desk)

    def test_no_number_of_a_config_made_small_is_quoted(self, desk: Any) -> None:
        small = "```sh\nnoonhearth check configs/first_oven.toml\n```\n\n```text\nfine\n```\n"
        with pytest.raises(runner.BlockError, match="other numbers"):
            self.carried_out(desk, small)
