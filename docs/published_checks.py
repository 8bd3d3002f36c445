"""Table of published-checks.md: every published number that a test holds the package against, and what it gives.

    python docs/published_checks.py

runs the tests in tests/published and writes the page's table anew from what they note with the fixture `published`;
each of those checks then fails while the page does not show it.
"""

import math
import re
import sys
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import pytest

PAGE = Path(__file__).with_name("published-checks.md")
TESTS = Path(__file__).parents[1] / "tests/published"
SENTENCE = Path(__file__).parents[1] / "studies/templates/checks.txt"  # for the foot of every report
BEGIN, END = "<!-- table -->", "<!-- end of table -->"


@dataclass(frozen=True, kw_only=True)
class Row:
    """One number held against a published one."""

    source: str
    what: str
    kind: str  # "printed" in the source, "worked" from its formulas apart from this package, or "trade" knowledge
    printed: str
    ours: float
    tolerance: float
    test: str

    @property
    def key(self) -> tuple[str, ...]:
        """What the check is of, apart from what the package gives."""
        return (self.source, self.what, self.kind, self.printed, self.test)

    @property
    def work(self) -> str:
        """Author, title and year, without the place in it."""
        return re.split(r",? (?:examples?|tables?|section|eq\.|equations?|chapter|\()", self.source)[0]

    @property
    def held(self) -> bool:
        """Whether ours agrees within the tolerance."""
        return abs(self.ours - float(self.printed)) <= self.tolerance * (1 + 1e-9)


def line_of(row: Row) -> str:
    """The row as a line of the page's table."""
    off = f"{row.tolerance:.2g}" if row.held else f"{row.tolerance:.2g} **miss**"
    cells = [row.source, row.what, row.kind, row.printed, f"{row.ours:.6g}", off, f"`{row.test}`"]
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def lines(text: str) -> list[str]:
    """Lines of the table in the page's text, heads left out."""
    table = text[text.index(BEGIN) : text.index(END)]
    return [line for line in table.splitlines() if line.startswith("| ")][1:]


@cache
def _shown() -> dict[tuple[str, ...], float]:
    """What the package gives by the page, by the key of each row."""
    rows = [
        [cell.strip() for cell in line.strip("| ").split(" | ")] for line in lines(PAGE.read_text("utf-8"))
    ]
    return {(*cells[:4], cells[6].strip("`")): float(cells[4]) for cells in rows}


def fault_of(row: Row) -> str | None:
    """Why the page does not show a check as it is, or None if it does."""
    again = "write the page anew: python docs/published_checks.py"
    shown = _shown().get(tuple(part.replace("|", "/") for part in row.key))
    if shown is None:
        return f"{PAGE.name} does not show {row.what} ({row.source}, {row.printed}): {again}"
    if not math.isclose(shown, row.ours, rel_tol=1e-3, abs_tol=row.tolerance / 10):
        return f"{PAGE.name} gives {shown:g} as ours for {row.what}, it is {row.ours:.6g}: {again}"
    return None


@dataclass
class Collector:
    """Plugin of pytest that runs the tests which note something, and keeps it."""

    rows: list[Row] = field(default_factory=list)

    @staticmethod
    def pytest_configure(config: pytest.Config) -> None:
        """Tell the fixture that the page is in the making."""
        config.pluginmanager.register(object(), "published-checks")

    @staticmethod
    def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
        """Leave out every test that has nothing to note."""
        items[:] = [item for item in items if "published" in getattr(item, "fixturenames", ())]

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Take the rows of a test when it has run."""
        if report.when == "call":
            self.rows += [Row(**value) for name, value in report.user_properties if name == "published"]


def page_of(rows: list[Row]) -> str:
    """The table, and how much there is of it, in the order of the sources."""
    printed = [row for row in rows if row.kind == "printed"]
    misses = sum(not row.held for row in rows)
    count = (
        f"{len(printed)} numbers printed in {len({row.work for row in printed})} works of the literature, "
        f"{sum(row.kind == 'worked' for row in rows)} worked from published formulas apart from this package; "
        f"{misses} of all are missed."
    )
    ordered = sorted(rows, key=lambda row: (row.source.lower(), row.test))
    head = ["| source | what | kind | published | ours | tolerance | test |", "|---|---|---|---|---|---|---|"]
    return "\n".join([count, "", *head, *map(line_of, ordered)])


def main() -> int:
    """Run the tests and write the page; their exit code."""
    sys.modules["published_checks"] = sys.modules[__name__]  # what the fixture imports is this very module
    collector = Collector()
    code = pytest.main(["-q", str(TESTS)], plugins=[collector])
    twice = [key for key, times in Counter(row.key for row in collector.rows).items() if times > 1]
    if twice:
        sys.stderr.write(f"noted twice: {twice}\n")
        return 1
    text = PAGE.read_text("utf-8")
    before, after = text[: text.index(BEGIN)], text[text.index(END) :]
    page = page_of(collector.rows)
    PAGE.write_text(f"{before}{BEGIN}\n{page}\n{after}", "utf-8")
    SENTENCE.write_text(page.splitlines()[0] + "\n", "utf-8")
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
