"""The fixture by which a test holds a number against a published one, and notes that it did.

What is noted goes into docs/published-checks.md (`python docs/published_checks.py` writes it anew); a check that the
page does not show as it is fails, so the page cannot promise what no test holds.
"""

import dataclasses
import importlib.util
import math
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

WRITER = Path(__file__).parents[2] / "docs/published_checks.py"

Published = Callable[..., None]


def _writer() -> ModuleType:
    """The script that writes the page, which also reads it."""
    name = "published_checks"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, WRITER)
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


def half_digit(printed: str) -> float:
    """Half a unit of the last printed digit, and a hair for a tie."""
    digits, _, power = printed.lower().partition("e")
    return 0.5001 * 10.0 ** (int(power or 0) - len(digits.partition(".")[2]))


@pytest.fixture
def published(request: pytest.FixtureRequest, record_property: Callable[[str, object], None]) -> Published:
    """Hold `ours` against a number as it is printed; its digits set the tolerance unless one is given.

    Parameters of the fixture's call
    --------------------------------
    source : author, title, year, place in it; "(from memory)" where nobody has looked it up
    what : the quantity and its case, with the unit
    printed : the number's own text
    ours : what this package gives
    within, rel : tolerance in the unit of the quantity, or as a share, where the digits would be too strict
    kind : "printed" in a source; "worked" by hand or elsewhere from the source's formulas; "trade" knowledge
    """

    def check(
        source: str,
        what: str,
        printed: str,
        ours: float,
        *,
        within: float | None = None,
        rel: float | None = None,
        kind: str = "printed",
    ) -> None:
        value, found = float(printed), float(ours)
        tolerance = rel * abs(value) if rel is not None else half_digit(printed) if within is None else within
        row = _writer().Row(
            source=source,
            what=what,
            kind=kind,
            printed=printed,
            ours=found,
            tolerance=float(tolerance),
            test=f"{request.path.name}::{request.node.originalname}",
        )
        record_property("published", dataclasses.asdict(row))  # plain: it may travel between processes
        if not request.config.pluginmanager.has_plugin("published-checks"):
            fault = _writer().fault_of(row)
            assert fault is None, fault
        assert math.isfinite(found)
        assert abs(found - value) <= tolerance * (1 + 1e-9), f"{what}: published {printed}, ours {found:.8g}"

    return check
