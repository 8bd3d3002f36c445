"""Carries out the blocks of a page, as its reader would, and holds what it quotes against what came out.

    python docs/run_blocks.py [first-hour.md ...]

carries out pages, all that quote something if none is named, and writes their quotes anew; the tests carry out all
pages and fail where a quote is not true.

What a block is, its fence and the remark above it say:

- `sh`: commands, a line each; those of this program run in this process. `<!-- exit 2 -->` above it: so they must end.
- `python`, `py`: run in order, all blocks of a page in one namespace.
- `toml`: with `<!-- file: my.toml -->` above it, written to that file; with `<!-- added to my.toml -->`, to its end;
  with `<!-- my.toml with: -->`, in place of the first line of each key. A file of a study must then be a sound config.
- `text`: quotes what the block before printed, line by line; `...` stands for lines left out.
- anything else is only shown.
"""

import contextlib
import difflib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from noonhearth.studies import load

ROOT = Path(__file__).parents[1]
PAGES = (ROOT / "README.md", *sorted(Path(__file__).parent.glob("*.md")))
FENCE = re.compile(r"(?:^<!-- (?P<mark>.*?) -->\n)?^```(?P<language>\w*)\n(?P<text>.*?)^```$", re.M | re.S)
LEFT_OUT = "..."
ALIKE = 0.5  # of difflib's ratio, above which a line is taken for the new wording of a quoted one

# Shipped configs are carried out with counts a test can afford; the rest of each stands as it is.
SMALLER = {"rays": 4, "days_per_month": 1, "trials": 16, "population": 8, "base_samples": 16}

# Commands that are not carried out here, and why.
NOT_RUN = {
    "python3 -m venv": "sets up the machine; every run of the tests has done so",
    "pip install": "fetches packages; every run of the tests has done so",
    "python -m pytest": "is the run of the tests itself",
    "ncdump": "a tool of netCDF, no part of this program",
    "h5dump": "a tool of HDF5, no part of this program",
}


class Block(NamedTuple):
    """One fenced block of a page."""

    language: str
    text: str
    mark: str  # remark right above it
    start: int  # of its text in the page

    @property
    def first(self) -> str:
        """Its first line, to name it by."""
        return self.text.strip().partition("\n")[0]


class BlockError(AssertionError):
    """A block that did not do what its page says."""


@dataclass
class Desk:
    """A folder in which a reader works through a page."""

    folder: Path
    names: dict[str, Any] = field(default_factory=dict)
    printed: str = ""
    is_small: bool = False  # a shipped config was run with smaller counts: what it prints is nothing to quote

    def do(self, block: Block) -> None:
        """Carry out one block.

        Raises
        ------
        BlockError
            A command that ends otherwise than told; a quote that is not what was printed.
        """
        match block.language:
            case "sh":
                self.printed = "".join(self._commands(block))
            case "python" | "py":
                self.printed = self._python(block)
            case "toml":
                self._config(block)
            case "text":
                if self.is_small:
                    raise BlockError("a reader who runs this config sees other numbers: quote another")
                missing = not_printed(block.text, self.printed)
                if missing:
                    raise BlockError(
                        "quoted, but not printed:\n" + "\n".join(missing) + f"\n\n{self.printed}"
                    )

    def _commands(self, block: Block) -> Iterator[str]:
        wanted = re.match(r"exit (\d)", block.mark)
        for line in block.text.replace("\\\n", " ").splitlines():
            for command in line.partition(" #")[0].split("&&"):
                if command.strip() and not any(start in command for start in NOT_RUN):
                    code, told = self._command(shlex.split(command))
                    if code != (int(wanted[1]) if wanted else 0):
                        raise BlockError(f"{command.strip()} ended with {code}\n{told}")
                    yield told

    def _command(self, words: list[str]) -> tuple[int, str]:
        if words[0].removeprefix(".venv/bin/") == "noonhearth":
            for path in [self.folder / word for word in words if re.fullmatch(r"configs/\w+\.toml", word)]:
                path.write_text(small(path.read_text("utf-8")), "utf-8")
                self.is_small = True
            return _noonhearth(words[1:])
        if words[0] not in ("cp", "ls", "cat", "mkdir"):
            raise BlockError(f"{words[0]}: a test would not know how to carry this out")
        done = subprocess.run(words, cwd=self.folder, capture_output=True, text=True, check=False)
        return done.returncode, done.stdout + done.stderr

    def _python(self, block: Block) -> str:
        told = io.StringIO()
        with contextlib.redirect_stdout(told):
            exec(compile(block.text, f"block: {block.first}", "exec"), self.names)  # the blocks are ours
        return told.getvalue()

    def _config(self, block: Block) -> None:
        how = re.match(r"(?P<what>file:|added to) (?P<name>\S+)|(?P<changed>\S+) with:", block.mark)
        if how is None:
            tomllib.loads(block.text)
            return
        path = self.folder / (how["name"] or how["changed"])
        text = "" if how["what"] == "file:" else path.read_text("utf-8")
        path.write_text(with_lines(text, block.text) if how["changed"] else text + block.text, "utf-8")
        raw = tomllib.loads(path.read_text("utf-8"))
        if "study" in raw and not block.mark.endswith("(wrong)"):
            load(path)


def blocks(page: str) -> list[Block]:
    """Every fenced block of a page."""
    found = FENCE.finditer(page)
    return [Block(m["language"], m["text"], m["mark"] or "", m.start("text")) for m in found]


def with_lines(text: str, changed: str) -> str:
    """A config in which the first line of each key gives way to the changed one."""
    for line in changed.splitlines():
        key = line.partition("=")[0].strip()
        text, times = re.subn(
            rf"^{re.escape(key)} = .*$", lambda _, line=line: line, text, count=1, flags=re.M
        )
        if times == 0:
            raise BlockError(f"{key} does not stand in the config that is changed")
    return text


def _noonhearth(words: list[str]) -> tuple[int, str]:
    """A command of this program, in this process: its code, and all it says."""
    from noonhearth.studies.cli import app

    told, code = io.StringIO(), 0
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        try:
            code = app(words, result_action="return_value") or 0
        except SystemExit as end:
            code = int(end.code or 0)
    return code, told.getvalue()


def _plain(text: str) -> str:
    return " ".join(text.split())


def not_printed(quote: str, printed: str) -> list[str]:
    """Lines of a quote that are not in what was printed, in that order; line breaks count for nothing."""
    whole, here, missing = _plain(printed), 0, []
    for line in quote.splitlines():
        if _plain(line) in ("", LEFT_OUT):
            continue
        found = whole.find(_plain(line), here)
        if found < 0:
            missing.append(line)
        else:
            here = found + len(_plain(line))
    return missing


def quoted_anew(quote: str, printed: str) -> str:
    """The quote with each line replaced by the printed one that is most like it."""
    lines = [line.rstrip() for line in printed.splitlines() if line.strip()]
    return "".join(
        f"{line if _plain(line) in ('', LEFT_OUT) else _nearest(line, lines)}\n"
        for line in quote.splitlines()
    )


def _nearest(line: str, printed: list[str]) -> str:
    def likeness(other: str) -> float:
        return difflib.SequenceMatcher(None, _plain(line), _plain(other), autojunk=False).ratio()

    best = max(printed, key=likeness, default="")
    return best if best and likeness(best) > ALIKE else line


def small(text: str, counts: Mapping[str, int] = SMALLER) -> str:
    """A config with counts that a test can afford."""
    for key, count in counts.items():
        text = re.sub(rf"^({key} = )(\d+)", lambda m, n=count: f"{m[1]}{min(int(m[2]), n)}", text, flags=re.M)
    return text


def laid_out(folder: Path) -> Desk:
    """A desk with the shipped configs on it."""
    shutil.copytree(ROOT / "configs", folder / "configs")
    return Desk(folder)


def written(page: str, desk: Desk) -> str:
    """A page with its quotes written anew, all of it carried out."""
    anew = page
    for block in blocks(page):
        if block.language == "text":
            anew = anew.replace(
                f"```text\n{block.text}```", f"```text\n{quoted_anew(block.text, desk.printed)}```"
            )
        else:
            desk.do(block)
    return anew


def main(names: list[str]) -> None:
    """Write the quotes of pages anew."""
    quoting = [path for path in PAGES if "```text" in path.read_text("utf-8")]
    for path in [Path(__file__).with_name(name) for name in names] or quoting:
        with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
            path.write_text(written(path.read_text("utf-8"), laid_out(Path(folder))), "utf-8")
        sys.stdout.write(f"{path.name}: quotes written anew\n")


if __name__ == "__main__":
    os.environ.setdefault("COLUMNS", "200")
    main(sys.argv[1:])
