"""Units of words, figures and papers: what is stored stays SI, what is read is metric or inch.

Conversion factors are checked against the printed ones in `test_quantity.py`; here, that they are used.
"""

from pathlib import Path

import numpy as np
import pytest

from noonhearth.studies.asking.quantity import on_a_rule, parse, show, shown
from noonhearth.studies.config import ConfigError, Plan, load

OVEN = (Path(__file__).parents[1] / "oven.toml").read_text("utf-8")


def plan_of(tmp_path: Path, line: str) -> Plan:
    path = tmp_path / "plan.toml"
    text = OVEN[: OVEN.index("[[study]]")] + '[[study]]\nkind = "day"\n'
    path.write_text(f"{line}\n" + text, "utf-8")
    return load(path)


# Fixed points, exact by definition: 0.0254 m to the inch, 0.45359237 kg to the pound, 32 and 212 degF.
@pytest.mark.parametrize(
    ("values", "dimension", "system", "numbers", "unit"),
    [
        ([0.0254, 0.6096], "length", "inch", [1.0, 24.0], "in"),
        ([0.0254, 0.6096], "length", "metric", [25.4, 609.6], "mm"),
        ([273.15, 373.15], "temperature", "inch", [32.0, 212.0], "degF"),
        ([0.45359237, 4.5359237], "mass", "inch", [1.0, 10.0], "lb"),
        ([5.0, -10.0], "temperature_difference", "inch", [9.0, -18.0], "F deg"),
        ([np.nan, 0.5], "share", "inch", [np.nan, 50.0], "%"),
        ([np.nan], "length", "metric", [np.nan], "mm"),
        (8.0, "count", "inch", 8.0, "1"),
    ],
)
def test_a_column_is_shown_in_one_unit(
    values: object, dimension: str, system: str, numbers: object, unit: str
) -> None:
    found, spelled = shown(values, dimension, system)  # type: ignore[arg-type]
    np.testing.assert_allclose(found, numbers, rtol=1e-12)  # type: ignore[arg-type]
    assert spelled == unit


def test_a_difference_is_not_a_temperature() -> None:
    """180 Fahrenheit degrees lie between the fixed points of water; 180 degF is a temperature."""
    assert show(100.0, "temperature_difference", "inch") == "180 F deg"
    assert parse("180 F deg", "temperature_difference") == pytest.approx(100.0, rel=1e-12)


# 1/32 in is 0.79375 mm: halves of it decide. 600 mm are 23.622 in, nearest 23 20/32.
@pytest.mark.parametrize(
    ("length", "parts", "text"),
    [
        (0.6, 32, "23 5/8 in"),
        (0.6, 16, "23 5/8 in"),
        (0.6, 1, "24 in"),
        (0.0254 * 31 / 32, 32, "31/32 in"),
        (0.0254 * 31.6 / 32, 32, "1 in"),
        (0.00039, 32, "0 in"),
        (0.0004, 32, "1/32 in"),
        (-0.0381, 32, "-1 1/2 in"),
    ],
)
def test_a_length_as_found_on_a_rule(length: float, parts: int, text: str) -> None:
    assert on_a_rule(length, parts=parts) == text


def test_the_config_says_in_which_units_a_run_is_told(tmp_path: Path) -> None:
    told = {line: plan_of(tmp_path, line) for line in ("", 'shown_in = "metric"', 'shown_in = "inch"')}
    assert [plan.setting.shown_in for plan in told.values()] == ["metric", "metric", "inch"]
    assert len({plan.identity for plan in told.values()}) == 1  # nothing that is computed depends on it
    assert len({plan.setting.identity for plan in told.values()}) == 1


def test_other_units_are_refused_with_what_there_is(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"shown_in = 'cubits': allowed: 'metric' or 'inch'"):
        plan_of(tmp_path, 'shown_in = "cubits"')
