"""Results told in inches: every word, axis and column of every kind of study, while what is stored stays as it is."""

import ast
import importlib.util
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.asking.quantity import parse
from noonhearth.studies.asking.units import DIMENSIONS
from noonhearth.studies.commands.look import show
from noonhearth.studies.commands.report import report as report_page
from noonhearth.studies.config import load
from noonhearth.studies.kinds import Running
from noonhearth.studies.results import store
from noonhearth.studies.run import Failure, carry_out
from noonhearth.studies.telling import figures, report
from noonhearth.studies.telling.drawings.day_figures import resettings
from noonhearth.studies.telling.drawings.drawing import Drawn
from noonhearth.studies.telling.words.phrases import afar, limit_sentences, retold

ROOT = Path(__file__).parents[2]
KINDS = ("day", "aiming", "search", "tolerance", "compare", "budget", "season", "screening", "sensitivity")

# Units that only a metric page uses; hPa, W and kWh/m2 are read in both.
METRIC = re.compile(r"(?<![\w/])(mm|cm|m|km|kg|g|l|ml|degC|°C|kJ|m/s|mm/s|cm2|m2)(?![\w/²-])")


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("format_writer_for_units", ROOT / "docs/results_format.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def metric(writer: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> dict[str, xr.Dataset]:
    text: str = writer.config_text()
    text = text[: text.index("[[study]]")]
    text += "".join(f'[[study]]\nkind = "{kind}"\n{writer.STUDIES[kind]}\n' for kind in KINDS)
    path = tmp_path_factory.mktemp("units") / "every.toml"
    path.write_text(text, "utf-8")
    found = {}
    for result in carry_out(load(path), running=Running()):
        assert not isinstance(result, Failure), result.reason
        found[result.name] = result.dataset
    return found


def texts_of(drawing: Drawn) -> Iterator[str]:
    yield drawing.caption
    yield from map(str, drawing.table.columns)
    if "unit" in drawing.table:
        yield from (f"3 {unit}" for unit in drawing.table["unit"].astype(str))
    for axes in drawing.figure.axes:
        yield from (axes.get_xlabel(), axes.get_ylabel(), axes.get_title())
        yield from (text.get_text() for text in axes.texts)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_metric_is_left_in_a_result_told_in_inches(metric: dict[str, xr.Dataset], kind: str) -> None:
    told = metric[kind].assign_attrs(shown_in="inch")
    lines = [*report.sentences(told), *(text for one in figures.drawn(told) for text in texts_of(one))]
    assert [line for line in lines if METRIC.search(line)] == []


@pytest.mark.parametrize("kind", ["day", "aiming", "search", "tolerance"])
def test_the_check_would_see_metric_units(metric: dict[str, xr.Dataset], kind: str) -> None:
    lines = [*report.sentences(metric[kind])]
    lines += [text for one in figures.drawn(metric[kind]) for text in texts_of(one)]
    assert any(METRIC.search(line) for line in lines)


def columns_of(result: xr.Dataset) -> Iterator[tuple[str, str, np.ndarray]]:
    """Columns of all figures that name a unit: the name without it, the unit, the numbers."""
    for drawing in figures.drawn(result):
        for name in map(str, drawing.table.columns):
            found = re.fullmatch(r"(.*) \[(.*)\]", name)
            if found:
                yield f"{drawing.name} {found[1]}", found[2], drawing.table[name].to_numpy(np.float64)


@pytest.mark.parametrize("kind", ["day", "aiming"])
def test_columns_hold_the_same_quantities_in_both_units(metric: dict[str, xr.Dataset], kind: str) -> None:
    """Each number with its unit, read back by the parser of configs, is the same in SI."""
    one, other = (
        {
            name: (unit, values)
            for name, unit, values in columns_of(metric[kind].assign_attrs(shown_in=system))
        }
        for system in ("metric", "inch")
    )
    assert one.keys() == other.keys()
    changed = 0
    for name, (unit, values) in one.items():
        other_unit, others = other[name]
        changed += unit != other_unit
        dimension = next((d for d, known in DIMENSIONS.items() if known.find(unit)), None)
        if dimension is None or unit == other_unit:
            np.testing.assert_array_equal(values, others)
            continue
        for k in np.flatnonzero(np.isfinite(values))[:5]:
            read = [
                parse(f"{number:.12g} {spelled}", dimension)
                for number, spelled in ((values[k], unit), (others[k], other_unit))
            ]
            assert read[0] == pytest.approx(read[1], rel=1e-9), name
    assert changed > 0


def test_what_is_stored_is_the_same(metric: dict[str, xr.Dataset]) -> None:
    told = metric["day"].assign_attrs(shown_in="inch")
    xr.testing.assert_identical(told.drop_attrs(), metric["day"].drop_attrs())
    assert told["mouth"].attrs["units"] == "m"


def test_danger_is_told_in_the_units_of_the_result(metric: dict[str, xr.Dataset]) -> None:
    """5 and 60 degC are 41 and 140 degF exactly."""
    told = metric["day"].assign_attrs(shown_in="inch")
    label = next(iter(figures.drawn(told))).figure.axes[0].get_legend().get_texts()
    assert "41 to 140 °F: germs grow" in {text.get_text() for text in label}
    told = told.copy(deep=True)
    told["done_after"][...], told["warm_for"][...], told["still_warm"][...] = 7200.0, 3600.0, 0
    assert any("stays above 140 degF until" in line for line in report.sentences(told))
    assert any("between 41 and 140 degF" in line for line in report.sentences(told))


def test_the_day_curve_marks_what_the_cook_asks(metric: dict[str, xr.Dataset]) -> None:
    day = metric["day"]
    drawing = next(one for one in figures.drawn(day) if one.name == "day")
    shown = day.isel(design=0, day=int(day.attrs["shown_day"]))
    texts = " ".join(text.get_text() for text in drawing.figure.axes[0].texts)
    assert "safe" in texts
    assert "done" in texts
    assert "the cover bears" in texts
    # Set by hand every 20 and 60 minutes from loading on: as often as the simulation counts visits, by the angles.
    turned = np.abs(np.diff(shown["aim_azimuth"])) + np.abs(np.diff(shown["aim_elevation"])) > 0
    assert int(drawing.table["moved"].sum()) == int(turned.sum()) > 10
    assert f"{int(turned.sum())} times the stand is moved" in drawing.caption
    marks = next(line for line in drawing.figure.axes[2].lines if line.get_label() == "moved")
    assert len(np.asarray(marks.get_xdata())) == int(turned.sum())


@pytest.mark.parametrize(
    ("stored", "told"),
    [
        ("mouth 609.6 mm to 762 mm, evenly", "mouth 24 in to 30 in, evenly"),
        ("100 degC, with a standard deviation of 10 K", "212 degF, with a standard deviation of 18 F deg"),
        ("38 deg and 20 min at 50 %", "38 deg and 20 min at 50 %"),
        ("a 4 mm-thick pane of 2.5 m/s wind", "a 0.1575 in-thick pane of 5.592 mph wind"),
        ("clearness 0.73; 5.5 kWh/m2", "clearness 0.73; 5.5 kWh/m2"),
        ("time between 5 and 60 degC", "time between 41 and 140 degF"),
        ("25.4 to 50.8 mm and 3 of 4", "1 to 2 in and 3 of 4"),
        ("1 to 20 m", "39.37 in to 65.62 ft"),
    ],
)
def test_stored_words_are_told_again(stored: str, told: str) -> None:
    assert retold(stored, {"shown_in": "inch"}) == told
    assert retold(stored, {"shown_in": "metric"}) == stored
    assert retold(stored, {}) == stored


def test_commands_tell_a_result_in_other_units(
    metric: dict[str, xr.Dataset], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, page = tmp_path / "day.nc", tmp_path / "page.html"
    store.write(metric["day"], path)
    assert show(path) == 0
    assert "degC" in capsys.readouterr().out
    assert show(path, units="inch") == 0
    told = capsys.readouterr().out.partition("(design")[0]
    assert "degF" in told
    assert "degC" not in told.partition("temperature")[0]
    assert report_page(path, to=page, units="inch") == 0
    text = page.read_text("utf-8")
    assert "degF" in text
    assert f"--to {page} --units inch" in text
    assert store.read(path).attrs["shown_in"] == "metric"  # the file stays as it is


def test_either_setting_counts_as_a_move() -> None:
    turns, tilts = [0.0, 0.0, 0.1, 0.1, 0.1, 0.2], [0.5, 0.5, 0.5, 0.5, 0.6, 0.7]
    one = xr.Dataset({"aim_azimuth": ("time", turns), "aim_elevation": ("time", tilts)})
    assert resettings(one).tolist() == [2, 4]  # what goes on moving has been moved once


def test_a_limit_is_told_with_its_temperatures() -> None:
    text = {"dimension": "time", "long_name": "time between 5 and 60 degC beyond what is allowed"}
    over = {"lukewarm_over": xr.DataArray(5400.0, attrs=text)}
    (told,) = limit_sentences(over, {"shown_in": "inch"})
    assert told == "OVER A LIMIT: time between 41 and 140 degF beyond what is allowed, by 90 min."


def test_distances_are_paced_off() -> None:
    assert (afar(1.5, {}), afar(1.5, {"shown_in": "inch"})) == ("1.5 m", "4.9 ft")  # 0.3048 m to the foot


ALIKE = {name for name, dimension in DIMENSIONS.items() if dimension.metric == dimension.inch}

# Test reports speak SI, as the procedures they follow do, with other units beside.
BY_NORM = ("standard_", "tested_")


def forgetful(path: Path) -> Iterator[str]:
    """Calls that show a quantity without being told in which units, but for those read alike in both."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        if node.func.id not in ("show", "display_unit"):
            continue
        told = any(keyword.arg == "system" for keyword in node.keywords)
        told |= node.func.id == "show" and len(node.args) > 2
        dimension = next((a.value for a in node.args[:2] if isinstance(a, ast.Constant)), None)
        if not told and dimension not in ALIKE:
            yield f"{path.name}:{node.lineno}"


def test_nothing_told_of_a_result_forgets_its_units() -> None:
    sources = [
        path for path in sorted((ROOT / "studies/telling").rglob("*.py")) if not path.name.startswith(BY_NORM)
    ]
    assert len(sources) > 40
    assert [place for path in sources for place in forgetful(path)] == []


def test_the_guard_would_see_a_call_that_forgets(tmp_path: Path) -> None:
    path = tmp_path / "words.py"
    path.write_text(
        "show(x, 'mass')\nshow(x, 'time')\nshow(x, kind, system)\ndisplay_unit(kind, magnitude=1.0)\n",
        "utf-8",
    )
    assert list(forgetful(path)) == ["words.py:1", "words.py:4"]
