"""Designs compared on the same days: intervals against closed forms and scipy, ovens against single runs."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr
from scipy import stats

import noonhearth.studies as studies
from noonhearth.model import Drive, Fixed
from noonhearth.studies import ConfigError, Running, StudyError, load
from noonhearth.studies.asking.alternatives import read_alternative
from noonhearth.studies.config import loads
from noonhearth.studies.kinds.compare import COMPARE
from noonhearth.studies.kinds.paired_days import clearness_of, kinds_of_day
from noonhearth.studies.methods.paired import among_best, counts, mean_difference, resampling
from noonhearth.studies.results import store
from noonhearth.studies.results.provenance import Provenance, stamp
from noonhearth.studies.running.evaluations import LogError
from noonhearth.studies.telling import figures, report

OVEN = Path(__file__).parents[1] / "oven.toml"
MONTHS = np.repeat([11, 12, 1, 2], 6)
ONE_DRAW = {"draws": 1}


class TestIntervals:
    """The paired bootstrap on made-up pairs."""

    def test_an_interval_holds_the_true_difference_as_often_as_it_says(self) -> None:
        """400 seasons of 4 months of 6 days; 95 % are promised, and 400 tries tell 92 from 98."""
        truth, random = np.array([-400.0, -900.0, 200.0, -600.0]), np.random.default_rng(5)
        weight = np.repeat([5.0, 31 / 6, 31 / 6, 28 / 6], 6)
        expected = float((np.repeat(truth, 6) * weight).sum() / weight.sum())
        held = 0
        for repeat in range(400):
            pairs = np.repeat(truth, 6) + 700.0 * random.standard_normal(24)
            drawn = resampling(MONTHS, **ONE_DRAW, seed=repeat + 1, resamples=1000)
            _, low, high = mean_difference(pairs[None], weight, drawn)
            held += low <= expected <= high
        assert 0.92 <= held / 400 <= 0.98

    def test_the_spread_is_that_of_a_stratified_mean(self) -> None:
        """Cochran, Sampling techniques, 3rd ed. (1977), eq. 5.13, from memory: sum of W^2 s^2 / n over the strata."""
        values = np.random.default_rng(2).normal(size=MONTHS.size) * np.repeat([1.0, 5.0, 2.0, 9.0], 6)
        drawn = resampling(MONTHS, **ONE_DRAW, seed=3, resamples=40_000)
        means = drawn.day @ values / values.size
        by_month = values.reshape(4, 6)
        expected = np.sqrt((by_month.var(axis=1, ddof=1) / 6 / 16).sum())
        assert means.std() == pytest.approx(expected, rel=0.02)
        assert means.mean() == pytest.approx(values.mean(), abs=4 * expected / 200)

    def test_the_textbook_interval_is_that_of_scipy(self) -> None:
        """One month, 30 days: the same percentile interval from the same random numbers, to the last digits."""
        values = np.random.default_rng(8).gamma(2.0, 300.0, size=30)
        drawn = resampling(np.ones(30, np.int64), **ONE_DRAW, seed=11, resamples=999, spare=0)
        ours = mean_difference(values[None], np.ones(30), drawn)
        theirs = stats.bootstrap(
            (values,),
            np.mean,
            n_resamples=999,
            method="percentile",
            vectorized=True,
            rng=np.random.default_rng(11),
        ).confidence_interval
        assert ours[1:] == pytest.approx((theirs.low, theirs.high), rel=1e-12)

    def test_days_and_draws_together_are_those_of_scipy(self) -> None:
        """Weighted, in months, under draws, some pairs missing: scipy resamples each list of numbers by itself."""
        random = np.random.default_rng(4)
        values = random.normal(size=(8, 12))
        values[random.random(values.shape) < 0.2] = np.nan
        weight, month = random.random(12) + 0.5, np.repeat([3, 4], 6)

        def statistic(first: np.ndarray, second: np.ndarray, draw: np.ndarray, axis: int) -> np.ndarray:
            day = np.concatenate([first, second], axis=-1)
            first_axes = np.broadcast_shapes(day.shape[:-1], draw.shape[:-1])
            day, draw = (np.broadcast_to(a, (*first_axes, a.shape[-1])) for a in (day, draw))
            picked = values[draw[..., :, None], day[..., None, :]]
            weights = np.where(np.isnan(picked), 0.0, weight[day][..., None, :])
            return (np.nan_to_num(picked) * weights).sum((-2, -1)) / weights.sum((-2, -1))

        lists = (np.arange(6), np.arange(6, 12), np.arange(8))
        theirs = stats.bootstrap(
            lists, statistic, n_resamples=999, method="percentile", rng=np.random.default_rng(6)
        ).confidence_interval
        drawn = resampling(month, draws=8, seed=6, resamples=999, spare=0)
        ours = mean_difference(values, weight, drawn)
        assert ours[1:] == pytest.approx((theirs.low, theirs.high), rel=1e-10)

    def test_a_pure_shift_is_found_exactly_and_without_doubt(self) -> None:
        first = np.random.default_rng(1).normal(9000.0, 2000.0, size=(4, 24)).round()
        drawn = resampling(MONTHS, draws=4, seed=1)
        assert mean_difference((first - 660.0) - first, np.ones(24), drawn) == (-660.0, -660.0, -660.0)
        assert mean_difference(first - first, np.ones(24), drawn) == (0.0, 0.0, 0.0)

    def test_single_days_are_drawn_for_each_other(self) -> None:
        """A clear sky has one day a month: a month alone would say that nothing varies."""
        drawn = resampling(np.array([1, 2, 3, 4]), **ONE_DRAW, seed=1)
        assert drawn.day.std() > 0.5
        joined = resampling(np.array([1, 1, 1, 2]), **ONE_DRAW, seed=1)
        assert joined.day.sum(axis=1) == pytest.approx(4.0)
        assert joined.day[:, 3].std() > 0.5

    def test_one_day_or_none_gives_no_interval(self) -> None:
        drawn = resampling(np.array([6, 6, 6]), **ONE_DRAW, seed=1)
        mean, low, high = mean_difference(np.array([[np.nan, -300.0, np.nan]]), np.ones(3), drawn)
        assert mean == -300.0
        assert np.isnan([low, high]).all()
        assert np.isnan(mean_difference(np.full((1, 3), np.nan), np.ones(3), drawn)).all()


def test_days_are_counted_by_hand() -> None:
    """Six days: 10 min earlier, 10 later, alike to the slack, only one, only the other, neither."""
    first = np.array([[3000.0, 3000.0, 3000.0, np.nan, 3000.0, np.nan]])
    other = np.array([[2400.0, 3600.0, 3300.0, 2000.0, np.nan, np.nan]])
    weight, groups = np.arange(1.0, 7.0), np.array([np.ones(6, bool), np.arange(6) < 2])
    found = counts(first, other, weight, groups, slack=300.0, less_is_better=True)
    assert [count.tolist() for count in found] == [[1, 1], [2, 2], [3, 0], [4, 0], [5, 0], [6, 0]]
    turned = counts(first, other, weight, groups, slack=300.0, less_is_better=False)
    assert [turned.better.tolist(), turned.worse.tolist()] == [[2, 2], [1, 1]]


def test_nobody_is_the_best_of_a_day_when_none_gets_there() -> None:
    values = np.array([[[1000.0, np.nan, 1000.0]], [[1200.0, np.nan, np.nan]], [[1400.0, np.nan, np.nan]]])
    best = among_best(values, np.ones(3), np.ones((1, 3), bool), slack=200.0, less_is_better=True)
    assert best[:, 0].tolist() == [2.0, 1.0, 0.0]


DESIGNS = [
    {"name": "steep", "facet_angle": "24 deg"},
    {"name": "left alone", "how": "fixed", "fixed_azimuth": "180 deg", "fixed_elevation": "60 deg"},
    {"name": "twin"},
]
KEYS = {
    "design": DESIGNS,
    "called": "as drawn",
    "outcomes": ["time_to_done", "share_done", "peak_temperature", "reaims", "mass"],
    "uncertain": {"soiling": ["0 %", "15 %"], "wind_share": ["30 %", "120 %"]},
    "draws": 4,
    "other_seeds": 1,
}


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    """Days from 11:00 to 12:36: long enough for clear ones, too short for dull ones, and for a bad oven on some."""
    text = OVEN.read_text("utf-8")
    for old, new in (
        ("rays = 16", "rays = 4"),
        ("days_per_month = 5", "days_per_month = 3"),
        ("[11, 12, 1, 2]", "[12, 1]"),
        ("[0.62, 0.61, 0.61, 0.62]", "[0.61, 0.61]"),
        ('"09:30"', '"11:00"'),
        ('"16:00"', '"12:36"'),
    ):
        assert old in text
        text = text.replace(old, new)
    return loads(text, OVEN).setting


@pytest.fixture(scope="module")
def result(setting: studies.Setting) -> xr.Dataset:
    return COMPARE(setting, **KEYS)


def test_every_design_is_what_it_is_alone(setting: studies.Setting) -> None:
    """Without draws, each design is run as `simulate` runs it by itself, whatever stands beside it."""
    found = COMPARE(setting, design=DESIGNS, outcomes=["time_to_done"], other_seeds=0)
    fixed = replace(setting.design, aiming=Fixed(fixed_azimuth=np.pi, fixed_elevation=np.pi / 3))
    alone = {
        "base": setting.design,
        "steep": setting.design.with_factors(facet_angle=np.radians(24.0)),
        "left alone": fixed,
    }
    for name, design in alone.items():
        run = setting.simulated(design, evening=False)
        one = found.sel(design=name, draw=0)
        np.testing.assert_array_equal(one["time_to_done_by_day"], run["done_after"][0])
        assert float(one["mass"]) == float(run["mass"][0])
        assert float(one["time_to_done_middle"]) == pytest.approx(float(run["time_to_done"][0]), nan_ok=True)


def test_a_twin_differs_by_exactly_nothing(result: xr.Dataset) -> None:
    twin = result.sel(rival="twin")
    for merit in ("time_to_done", "share_done", "peak_temperature"):
        for end in ("", "_low", "_high"):
            assert float(twin[f"{merit}_difference{end}"].sel(group="all days")) == 0.0
        assert float(twin[f"{merit}_ray_noise"]) == 0.0
    assert '"twin" gets done on as many days as "as drawn"' in " ".join(report.sentences(result))
    assert "exactly alike in time to done" in " ".join(report.sentences(result))


def test_differences_are_those_of_the_days(result: xr.Dataset) -> None:
    """Worked again from the stored days, with numpy's masked average."""
    days, weight = result["time_to_done_by_day"].to_numpy(), result["day_weight"].to_numpy()
    gap = np.ma.masked_invalid(days[1] - days[0])
    expected = np.ma.average(gap, weights=np.broadcast_to(weight, gap.shape))
    whole = result.sel(rival="steep", group="all days")
    assert float(whole["time_to_done_difference"]) == pytest.approx(float(expected), rel=1e-12)
    assert (
        float(whole["time_to_done_difference_low"]) < expected < float(whole["time_to_done_difference_high"])
    )
    lone = np.isfinite(days[0]) & ~np.isfinite(days[1])
    assert lone.any()
    assert float(whole["time_to_done_days_only_first"]) == pytest.approx((lone.mean(axis=0) * weight).sum())


def test_days_add_up_and_never_are_told_apart(result: xr.Dataset) -> None:
    names = ("better", "worse", "alike", "only_other", "only_first", "neither")
    for merit in ("time_to_done", "peak_temperature"):
        total = sum(result[f"{merit}_days_{name}"] for name in names)
        np.testing.assert_allclose(total, np.broadcast_to(result["group_days"], total.shape), rtol=1e-12)
    share = result.sel(rival="steep", group="all days")["share_done_difference"]
    days = result["time_to_done_by_day"].notnull().mean("draw") * result["day_weight"]
    done = days.sum("day") / result["day_weight"].sum()
    assert float(share) == pytest.approx(float(done.sel(design="steep") - done.sel(design="as drawn")))
    said = " ".join(report.sentences(result))
    assert 'only "as drawn" gets done' in said
    assert "on the days when both get done" in said


def test_every_design_meets_the_same_draws(setting: studies.Setting, result: xr.Dataset) -> None:
    """A draw is a place in the sample, not in the design: run again one by one."""
    soiling, wind = result["soiling"].to_numpy(), result["wind_share"].to_numpy()
    assert len(set(soiling)) == 4
    assert 0.0 <= soiling.min() < soiling.max() <= 0.15
    for draw in range(4):
        design = setting.design.with_factors(
            facet_angle=np.radians(24.0), soiling=soiling[draw], wind_share=wind[draw]
        )
        run = setting.simulated(design, evening=False)
        mine = result["time_to_done_by_day"].sel(design="steep")[draw]
        np.testing.assert_array_equal(mine, run["done_after"][0])


def test_workers_and_an_interrupt_change_nothing(
    setting: studies.Setting, result: xr.Dataset, tmp_path: Path
) -> None:
    running = Running(workers=2, scratch=tmp_path)
    xr.testing.assert_identical(COMPARE(setting, running=running, **KEYS), result)
    shards = sorted(tmp_path.rglob("*.evaluations"))
    assert len(shards) == 2  # with the first rays, and with others
    shards[0].unlink()  # as if stopped before it was written
    xr.testing.assert_identical(COMPARE(setting, running=running, **KEYS), result)
    others = {**KEYS, "design": [{"name": "x", "facet_angle": "29 deg"}, *DESIGNS[1:]]}
    with pytest.raises(LogError):
        COMPARE(setting, running=running, **others)


def test_the_file_keeps_it_and_tells_the_same(result: xr.Dataset, tmp_path: Path) -> None:
    known = Provenance(
        title="x", config="", model_hash="", versions={}, seed=7, created="2026-03-01T12:00:00Z", counts={}
    )
    store.write(stamp(result, known), tmp_path / "compare.nc")
    again = store.read(tmp_path / "compare.nc")
    assert report.sentences(again) == report.sentences(result)
    twice = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        for drawing in figures.drawn(again):
            assert not drawing.table.empty
            figures.save(drawing, tmp_path / folder, prefix="compare")
        twice.append({path.name: path.read_bytes() for path in (tmp_path / folder).iterdir()})
    assert twice[0] == twice[1]
    assert set(twice[0]) >= {"compare-differences.svg", "compare-days.svg", "compare-outcomes.csv"}


def test_clearness_of_the_window_is_that_of_an_independent_sun(setting: studies.Setting) -> None:
    """pvlib's own sun and extraterrestrial irradiance, without refraction, in place of the sky's."""
    sky = setting.sky
    for day in range(sky.days):
        times = pd.DatetimeIndex(sky.times[sky.day_path[day]]).tz_localize("UTC")
        sun = pvlib.solarposition.get_solarposition(
            times, np.degrees(sky.place.latitude), np.degrees(sky.place.longitude)
        )
        outside = pvlib.irradiance.get_extra_radiation(times[0].day_of_year) * np.cos(
            np.radians(sun["zenith"])
        )
        assert clearness_of(sky)[day] == pytest.approx(sky.ghi[day].sum() / outside.sum(), rel=0.005)
    kinds = kinds_of_day(sky)[np.argsort(clearness_of(sky))].tolist()
    assert kinds == sorted(kinds, key=("dull", "mixed", "clear").index)


def test_all_faults_of_the_designs_at_once(tmp_path: Path) -> None:
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + (
        '[[study]]\nkind = "compare"\noutcomes = ["time_to_done"]\ndraws = 6\n'
        'slack = { time_to_done = "3 K", mass = "1 kg" }\n'
        '[[study.design]]\nname = "a"\nfacet_angel = "30 deg"\nfacets = 30\nmirror = "glass"\nmouth = "6 kg"\n'
        '[[study.design]]\nname = "base"\nhow = "drive"\n'
        '[[study.design]]\nname = "c"\npot_lift = "400 mm"\n'
        '[[study.design]]\nname = "d"\nhow = "by robot"\n'
        '[[study.design]]\nname = "e"\nfacet_angle = "38 deg"\npot_lift = "2 mm"\n'
    )
    path = tmp_path / "wrong.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(ConfigError) as raised:
        load(path)
    for fault in (
        "study[1].design[1].facet_angel: unknown key; did you mean facet_angle?",
        "study[1].design[1].facets = 30: allowed 24 or less",
        'study[1].design[1].mirror: "glass" is not in the mirrors',
        'study[1].design[1].mouth: "6 kg" is a mass',
        "study[1].design[2].fin_height (edge of the fin above its cell): is missing",
        "study[1].design[3]: pot.pot_height",
        "study[1].design[4].how = 'by robot': ",
        "study[1].design[5]: the pot touches the mirror",
        'design: two designs are called "base"',
        'study[1].slack.time_to_done: "3 K" is a temperature',
        "study[1].slack.mass: is no outcome asked for",
        "study[1].draws = 6: must be a power of two, such as 4 or 8",
        "study[1].draws: nothing is uncertain",
    ):
        assert fault in str(raised.value), fault


def test_another_way_of_aiming_takes_over_what_both_have(setting: studies.Setting) -> None:
    """From hand to drive: the visit's time and the settings of the elevation stay, the rest is the table's."""
    base = replace(setting.design, aiming=replace(setting.design.aiming, visit=90.0))
    table = {
        "name": "driven",
        "how": "drive",
        "fin_height": "60 mm",
        "cell_width": "40 mm",
        "start_share": "12 %",
        "stop_share": "5 %",
        "speed": "2 deg/min",
        "mouth": "650 mm",
    }
    other, faults = read_alternative(table, base, setting.catalogue.names())
    assert other is not None
    assert not faults
    design = other.of(base)
    assert isinstance(design.aiming, Drive)
    assert (design.aiming.visit, design.aiming.elevation_every) == (90.0, 3600.0)
    assert design.aiming.start_share == pytest.approx(0.12)
    assert (design.oven.funnel.mouth, design.meal) == (0.65, base.meal)


def test_what_is_drawn_for_all_is_not_one_designs_own(setting: studies.Setting) -> None:
    with pytest.raises(StudyError, match=r"design\[1\]\.soiling: is uncertain too"):
        COMPARE(setting, design=[{"name": "clean", "soiling": "0 %"}], uncertain={"soiling": ["0 %", "9 %"]})


def test_a_design_that_does_not_run_is_named_and_left_out(setting: studies.Setting) -> None:
    """Round a search's choice, what fits is known only when it is run."""
    found = COMPARE(
        setting,
        base="chosen",
        design=[{"name": "low", "facet_angle": "38 deg", "pot_lift": "2 mm"}, *DESIGNS[2:]],
    )
    said = report.sentences(found)
    assert said[0].startswith('"low" does not run at all: the pot touches the mirror')
    assert not any('"low"' in line for line in said[1:])
    assert list(figures.drawn(found))


def test_days_on_which_nobody_gets_there_are_said_and_draw_nothing() -> None:
    text = OVEN.read_text("utf-8")
    for old, new in (
        ("rays = 16", "rays = 4"),
        ("days_per_month = 5", "days_per_month = 1"),
        ('"16:00"', '"09:50"'),
    ):
        assert old in text
        text = text.replace(old, new)
    found = COMPARE(loads(text, OVEN).setting, design=DESIGNS[:1], other_seeds=1)
    assert report.sentences(found)[0].startswith('On no day do both "steep" and "base" get done')
    assert not list(figures.drawn(found))
