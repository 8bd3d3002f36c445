"""The study of kind `standard`: from a degF log in a config to figures, words and the page to print.

The run on the first day is the worked one of `tests/published/test_s580.py`; the others are made up of the same
shape. What the line's interval is, scipy's `linregress` and Student's t say here.
"""

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from matplotlib.backends.backend_agg import FigureCanvasAgg
from scipy import stats

import noonhearth.studies as studies
from noonhearth.model import CookRecord, Meal
from noonhearth.studies.cli import app
from noonhearth.studies.config import ConfigError, load
from noonhearth.studies.folder import carry_out_into
from noonhearth.studies.kinds import Running
from noonhearth.studies.results import store
from noonhearth.studies.run import Result
from noonhearth.studies.telling import figures, report
from noonhearth.studies.telling.pages.tested_facts import facts
from noonhearth.studies.telling.pages.tested_page import HEIGHT, WIDTH, sheet_of_test
from noonhearth.studies.telling.words.standard_words import beside_si

OVEN = Path(__file__).parents[1] / "oven.toml"
WATER = np.array([36.00, 41.83, 47.37, 52.70, 57.77, 62.59, 67.12, 71.33, 75.16, 78.62, 81.72])
SUN = np.array([800, 820, 850, 870, 890, 900, 905, 900, 890, 880])
COOK = """
[[cook]]
name = "{name}"
files = ["{name}.csv"]
time = {{ column = "s", since = "{since}", unit = "s" }}
food = {{ column = "water", unit = "degF" }}
air = {{ column = "shade", unit = "degF" }}
irradiance = {{ column = "sun", unit = "W/m2", plane = "{plane}" }}
wind = {{ column = "wind", unit = "m/s" }}
meal = {{ food = "water", food_mass = "2.0 kg" }}
reaimed = ["11:40", "12:10"]
"""
STUDY = """
[[study]]
kind = "standard"
edition = "2003"
title = "Tamarit oven"
instruments = ["thermocouple, 0.5 K", "pyranometer, 5 %"]
"""


def log(shift: float) -> str:
    """The worked run with so many watts more or less of warming spread over it; level irradiance between steps."""
    ends = 600.0 * np.arange(11)
    time = np.sort(np.concatenate([ends, ends[1:-1] - 1e-3]))
    water = np.interp(time, ends, WATER + shift * np.arange(11) / 10)
    rows = zip(time, 32 + 1.8 * water, np.repeat(SUN, 2), strict=True)
    lines = [f"{t:.3f},{w:.6f},86.0,{s},0.5" for t, w, s in rows]
    return "\n".join(["s,water,shade,sun,wind", *lines]) + "\n"


def config(folder: Path, *, plane: str = "facing the sun", study: str = STUDY) -> Path:
    """A config of the tests' oven with three days of the run."""
    head = OVEN.read_text("utf-8")
    head = head[: head.index("[[study]]")].replace("rays = 16", "rays = 4")
    head = head.replace("days_per_month = 5", "days_per_month = 1")
    cooks = ""
    for number, (name, shift) in enumerate([("first", 0.0), ("second", 0.4), ("third", -0.4)]):
        (folder / f"{name}.csv").write_text(log(shift), "utf-8")
        cooks += COOK.format(name=name, since=f"2026-03-{10 + number} 11:20", plane=plane)
    path = folder / "tested.toml"
    path.write_text(head + cooks + study, "utf-8")
    return path


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, xr.Dataset]:
    """A config carried out into a folder, and its result."""
    folder = tmp_path_factory.mktemp("standard")
    (result,) = carry_out_into(folder / "out", load(config(folder)), running=Running())
    assert isinstance(result, Result)
    return folder / "out", result.dataset


def test_a_log_in_fahrenheit_gives_the_worked_figure(tmp_path: Path) -> None:
    """Power at 50 K of the worked run, 35.4161 W, through a degF log with six decimals."""
    plan = load(config(tmp_path, study=STUDY + 'cooks = ["first"]\n'))
    found = studies.standard(plan.setting, cooks=["first"])
    assert float(found["power_at_50"]) == pytest.approx(35.4161, rel=3e-6)
    assert float(found["slope"]) == pytest.approx(-0.871236, rel=3e-6)
    text = " ".join(report.sentences(found))
    assert "50 K (90 F deg) above the air: 35.4 W" in text
    assert found["written_in"].to_numpy().tolist() == ["degF"]
    (line,) = (drawing for drawing in studies.drawn(found) if drawing.name == "line")
    fahrenheit = line.table["water above air [F deg]"].to_numpy()
    np.testing.assert_allclose(fahrenheit, 1.8 * line.table["water above air [K]"].to_numpy(), rtol=1e-12)
    assert beside_si(found) == "inch"
    assert beside_si(found.assign(status=found["status"] + 1)) == "metric"  # of a cook that does not count


def test_the_oven_is_told_in_the_units_of_the_config_whatever_its_logs(tmp_path: Path) -> None:
    found = studies.standard(load(config(tmp_path)).setting)
    assert "F deg" in " ".join(report.sentences(found))
    assert " mm" in dict(facts(found))["oven"]
    assert " in," in dict(facts(found.assign_attrs(shown_in="inch")))["oven"]


def test_the_line_and_its_band_are_those_of_scipy(run: tuple[Path, xr.Dataset]) -> None:
    """Slope, intercept, R2 and the band of the mean by linregress: its standard errors combined at each x."""
    found = run[1]
    some = found["counted"].to_numpy() == 1
    x, y = found["temperature_difference"].to_numpy()[some], found["standardised_power"].to_numpy()[some]
    line = stats.linregress(x, y)
    assert float(found["slope"]) == pytest.approx(line.slope, rel=1e-10)
    assert float(found["intercept"]) == pytest.approx(line.intercept, rel=1e-10)
    assert float(found["r_squared"]) == pytest.approx(line.rvalue**2, rel=1e-10)
    # var(a + b x) = var(b) ((x - m)^2 + s2 / n) with linregress's own error of the slope and the spread of x
    at = found["curve_difference"].to_numpy()
    error = line.stderr * np.sqrt((at - x.mean()) ** 2 + x.var())
    half = stats.t.ppf(0.975, len(x) - 2) * error
    np.testing.assert_allclose(found["curve_high"], line.intercept + line.slope * at + half, rtol=1e-9)
    np.testing.assert_allclose(found["curve_low"], line.intercept + line.slope * at - half, rtol=1e-9)
    at_50 = np.interp(50.0, at, found["curve_power"])
    assert float(found["power_at_50"]) == pytest.approx(at_50, rel=1e-9)


def test_a_wider_confidence_is_a_wider_interval(tmp_path: Path) -> None:
    setting = load(config(tmp_path)).setting
    wide, narrow = (studies.standard(setting, confidence=share) for share in ("99 %", "80 %"))
    width = [float(one["power_high"] - one["power_low"]) for one in (wide, narrow)]
    freedom = int(wide["counted"].sum()) - 2
    assert width[0] / width[1] == pytest.approx(
        stats.t.ppf(0.995, freedom) / stats.t.ppf(0.90, freedom), rel=1e-9
    )


def test_a_run_leaves_its_figures_and_a_page(run: tuple[Path, xr.Dataset]) -> None:
    folder, found = run
    names = {path.name for path in folder.iterdir()}
    wanted = {"standard.nc", "standard-report.pdf", "standard-line.svg", "standard-line.csv", "summary.md"}
    assert wanted <= names
    page = (folder / "standard-report.pdf").read_bytes()
    assert len(re.findall(rb"/Type /Page\b", page)) == 1
    (box,) = set(re.findall(rb"/MediaBox \[ ?([\d. ]+)\]", page))
    sides = [float(side) / 72 * 25.4 for side in box.split()[2:]]
    assert sides == pytest.approx([210.0, 297.0], abs=0.1)  # A4, ISO 216
    summary = (folder / "summary.md").read_text("utf-8")
    assert "Standardised cooking power with the water 50 K" in summary
    assert store.read(folder / "standard.nc").identical(
        found.assign_attrs(store.read(folder / "standard.nc").attrs)
    )


def test_the_page_can_be_had_again(run: tuple[Path, xr.Dataset], tmp_path: Path, capsys) -> None:
    """The command writes the same bytes; a result of another kind is told so."""
    folder, _ = run
    with pytest.raises(SystemExit) as ended:
        app(["page", str(folder / "standard.nc"), "--to", str(tmp_path)])
    assert ended.value.code in (0, None)
    assert (tmp_path / "standard-report.pdf").read_bytes() == (folder / "standard-report.pdf").read_bytes()
    with pytest.raises(SystemExit) as ended:
        app(["page", str(tmp_path / "none.nc")])
    assert ended.value.code == 2


def laid_out(found: xr.Dataset) -> list[tuple[str, np.ndarray]]:
    """Every text of the page with its left, lower, right and upper end. [mm]"""
    figure = sheet_of_test(found)
    figure.set_dpi(300)
    renderer = FigureCanvasAgg(figure).get_renderer()
    texts = [text for text in figure.axes[0].texts if text.get_text().strip()]
    boxes = [np.array(text.get_window_extent(renderer).extents) * 25.4 / 300 for text in texts]
    return [(text.get_text(), box) for text, box in zip(texts, boxes, strict=True)]


def overlaps(texts: list[tuple[str, np.ndarray]]) -> list[tuple[str, str]]:
    """Pairs of texts that lie over each other by more than half a millimetre both ways."""
    return [
        (a, b)
        for k, (a, p) in enumerate(texts)
        for b, q in texts[:k]
        if (np.minimum(p[2:], q[2:]) - np.maximum(p[:2], q[:2]) > 0.5).all()
    ]


def crowded(found: xr.Dataset) -> xr.Dataset:
    """The same test with everything that could crowd its page."""
    many = xr.concat(
        [found] * 8, dim="cook", data_vars="minimal", coords="minimal", compat="override", join="override"
    )
    long = " and another long thing to say of it" * 20
    return many.assign_attrs(
        report_title="a very long name of an oven " * 8,
        instruments="\n".join(["thermocouple type K, class 1, 0.5 K, calibrated" + long] * 4),
        estimates=json.dumps([f"first: {long}"] * 9),
        shown_in="inch",
    ).assign(
        reasons=(
            "interval",
            [f"reason number {k}" for k in range(many.sizes["interval"])],
            many["reasons"].attrs,
        ),
        date=("cook", [f"2026-03-{k + 1:02d}" for k in range(many.sizes["cook"])], many["date"].attrs),
    )


def test_everything_stays_on_the_page(run: tuple[Path, xr.Dataset]) -> None:
    """Eight millimetres from every edge, nothing over anything else, also where there is far too much to say."""
    for found in (run[1], crowded(run[1])):
        texts = laid_out(found)
        ends = np.array([box for _, box in texts])
        assert (ends[:, :2] >= 8.0).all()
        assert (ends[:, 2] <= WIDTH - 8.0).all()
        assert (ends[:, 3] <= HEIGHT - 8.0).all()
        assert overlaps(texts) == []


def test_words_survive_the_file(run: tuple[Path, xr.Dataset]) -> None:
    folder, found = run
    again = store.read(folder / "standard.nc")
    assert report.sentences(again) == report.sentences(found)
    assert [drawing.svg for drawing in figures.drawn(again)] == [
        drawing.svg for drawing in figures.drawn(found)
    ]


def test_what_is_missing_is_said(run: tuple[Path, xr.Dataset]) -> None:
    text = " ".join(report.sentences(run[1]))
    assert "Publish it only with its deviations" in text
    assert "loaded 6.7 kg per m2" in text  # 2 kg on a mouth of 0.298 m2
    assert "stand here from memory" in text


def test_days_that_differ_are_told(tmp_path: Path) -> None:
    """Shifts of a few tenths of a kelvin in ten minutes move a day by watts; a single run is not judged."""
    setting = load(config(tmp_path)).setting
    assert float(studies.standard(setting)["day_chance"]) < 0.05
    assert "The days differ" in " ".join(report.sentences(studies.standard(setting)))
    assert math.isnan(float(studies.standard(setting, cooks=["first"])["day_chance"]))


def test_a_level_instrument_gives_an_estimate_or_nothing(tmp_path: Path) -> None:
    setting = load(config(tmp_path, plane="level")).setting
    text = " ".join(report.sentences(studies.standard(setting)))
    assert "ESTIMATE, not a figure to publish" in text
    assert "facing the sun for the cooking power" in text
    refused = studies.standard(setting, measured_only=True)
    assert report.is_empty(refused)
    assert math.isnan(float(refused["power_at_50"]))
    assert "No standardised cooking power" in " ".join(report.sentences(refused))
    assert sheet_of_test(refused).axes  # the page says so as well


def record(setting: studies.Setting, **changes: object) -> CookRecord:
    return replace(setting.cooks[0], **changes)


def test_a_cooler_test_than_three_points_says_why(tmp_path: Path) -> None:
    """Weak sun voids every interval; the reasons are counted and the table is there."""
    setting = load(config(tmp_path)).setting
    weak = record(setting, irradiance=np.full(len(setting.cooks[0].instants), 400.0))
    found = studies.standard(replace(setting, cooks=(weak,)))
    assert found["counted"].sum() == 0
    text = " ".join(report.sentences(found))
    assert "0 of 10 intervals count" in text
    assert "irradiance under 450 W/m2 (10)" in text
    line = next(studies.drawn(found))
    assert len(line.table) == 10
    top = line.figure.axes[0].get_ylim()[1]
    assert top > np.nanmax(line.table["standardised power [W]"])  # void points are seen all the same
    assert "With deviations" in laid_out(found)[1][0]
    assert "Nothing that the standard asks" not in text


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ({"cooks": ["frist"]}, 'cooks: "frist" is no cook; did you mean first?'),
        ({"covered": ["frist"]}, 'covered: "frist" is none of the cooks of this study: first, second, third'),
        ({"confidence": "20 %"}, "confidence"),
        ({"edition": "1998"}, "edition = '1998': allowed: '1997' or '2003'"),
        ({"intercept_area": "3 m"}, 'intercept_area: "3 m" is a length'),
        ({"intercept_are": "3 m2"}, "intercept_are: unknown key; did you mean intercept_area?"),
    ],
)
def test_what_is_wrong_is_told_with_the_next_move(
    tmp_path: Path, keys: dict[str, object], fault: str
) -> None:
    setting = load(config(tmp_path)).setting
    with pytest.raises(studies.StudyError, match=re.escape(fault)):
        studies.standard(setting, **keys)


def test_a_config_without_cooks_is_refused(tmp_path: Path) -> None:
    path = config(tmp_path)
    path.write_text(
        re.sub(r"\[\[cook\]\].*?(?=\[\[study)", "", path.read_text("utf-8"), flags=re.DOTALL), "utf-8"
    )
    with pytest.raises(ConfigError, match=r"study\[1\]\.cooks: there is none; write a \[\[cook\]\] table"):
        load(path)


def test_covered_cooks_are_not_of_the_line(tmp_path: Path) -> None:
    """A covered cook of water serves for F2 alone, and F2 needs F1."""
    setting = load(config(tmp_path)).setting
    found = studies.standard(setting, covered=["third"])
    assert found["role"].to_numpy().tolist() == ["cooking power", "cooking power", "second figure"]
    assert "needs the first" in " ".join(report.sentences(found))
    assert set(found["interval_cook"].to_numpy().tolist()) == {0, 1}


def test_a_plate_logged_in_fahrenheit_is_told_in_both(tmp_path: Path) -> None:
    setting = load(config(tmp_path)).setting
    time = 60.0 * np.arange(61)
    plate = {"plate": np.full(61, 400.0)}
    steady = {
        name: np.full(61, value) for name, value in (("air", 300.0), ("irradiance", 800.0), ("wind", 0.5))
    }
    empty = record(
        setting,
        name="empty",
        time=time,
        temperatures=plate,
        plane="level",
        meal=None,
        units={"plate": "degF"},
        **steady,
    )
    found = studies.standard(replace(setting, cooks=(empty,)), covered=["empty"])
    assert float(found["first_figure_mean"]) == pytest.approx(100 / 800)
    assert "126.9 degC (260.3 degF)" in " ".join(report.sentences(found))  # 400 K


def test_rice_is_not_water(tmp_path: Path) -> None:
    setting = load(config(tmp_path)).setting
    rice = record(setting, name="rice", meal=Meal(food="rice", food_mass=0.5))
    found = studies.standard(replace(setting, cooks=(*setting.cooks, rice)))
    assert "the pot held rice" in " ".join(report.sentences(found))
