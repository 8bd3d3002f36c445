"""Fits to test cooks as a study: what is asked, what is found of planted truths, what is said and made of it."""

import dataclasses
import importlib.util
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from noonhearth import studies
from noonhearth.model import CookRecord
from noonhearth.studies import Setting
from noonhearth.studies.config import ConfigError, load
from noonhearth.studies.folder import carry_out_into
from noonhearth.studies.judging.measured import Measured, Series
from noonhearth.studies.judging.posterior import Posterior, drawn_together
from noonhearth.studies.kinds import Running, StudyError

_path = Path(__file__).with_name("cooks_with_truth.py")
_spec = importlib.util.spec_from_file_location("cooks_with_truth", _path)
assert _spec is not None
assert _spec.loader is not None
cooks = importlib.util.module_from_spec(_spec)
sys.modules["cooks_with_truth"] = cooks
_spec.loader.exec_module(cooks)

pytestmark = pytest.mark.compiled
TRUTH = {"light_ratio": 0.75, "loss_ratio": 1.4, "coupling_ratio": 0.8}
QUICK: dict[str, Any] = {"bootstrap": 0, "other_seeds": 0}


def cook(name: str, seed: int, sensors: tuple[str, ...] = ("food", "pot"), **how: Any) -> CookRecord:
    """A cook of the test oven, 30 % worse than described."""
    rng = np.random.default_rng([5, seed])
    blank = cooks.blank(rng, sensors, **({"hours": 2.5, "shade": 0.6} | how))
    record: CookRecord = cooks.logged(rng, cooks.SETTING.design, blank, TRUTH)
    return dataclasses.replace(record, name=name)


def setting(*records: CookRecord) -> Setting:
    found: Setting = dataclasses.replace(cooks.SETTING, cooks=records)
    return found


@pytest.fixture(scope="module")
def one_fit() -> xr.Dataset:
    records = (cook("first", 1), cook("second", 2), cook("third", 3))
    return studies.fit(setting(*records), hold_out=["third"], bootstrap=60, other_seeds=0)


def truths(fit: xr.Dataset) -> np.ndarray[Any, Any]:
    return np.array([TRUTH[str(name)] for name in fit["factor"].to_numpy()])


def test_planted_ratios_are_found_and_a_cook_held_out_is_foretold(one_fit: xr.Dataset) -> None:
    error = np.log(one_fit["estimate"].to_numpy() / truths(one_fit)) / one_fit["standard_error"].to_numpy()
    assert (np.abs(error) < 3).all()
    held = one_fit["series_cook"].to_numpy() == 2
    assert one_fit["held_out"].to_numpy().tolist() == [0, 0, 1]
    assert (one_fit["series_after"].to_numpy()[held] < 0.6).all()  # what its thermometers scatter by is 0.3 K
    assert (one_fit["series_before"].to_numpy()[held] > 5).all()
    assert (one_fit["series_inside"].to_numpy()[held] > 0.88).all()
    assert not one_fit["reading_used"].to_numpy()[held[one_fit["reading_series"].to_numpy()]].any()
    assert one_fit["drawn"].shape == (60, 3)


def test_food_alone_in_a_heat_up_tells_little_and_pot_with_shade_tells_all() -> None:
    """The statement in numbers: 95 % half widths of light, loss and coupling.

    Measured: food alone in 45 minutes of sun: 25 %, 28 % and a factor of ten, light and loss with a correlation of
    0.97; with a thermometer on the pot too, in an hour of sun and half an hour of shade: 1.2, 1.2 and 7 %.
    """
    blind, told = studies.fit(setting(_heat_up()), **QUICK), studies.fit(setting(_shaded()), **QUICK)
    widths = [np.log(fit["high"] / fit["low"]).to_numpy() / 2 for fit in (blind, told)]
    assert widths[0][:2].min() > 0.15
    assert widths[0][2] > 1.0
    assert widths[1][:2].max() < 0.03
    assert widths[1][2] < 0.10
    assert float(blind["correlation"][0, 1]) > 0.9
    assert float(blind["direction_error"][-1]) > 10 * float(told["direction_error"][-1])
    words = " ".join(studies.sentences(blind))
    assert "hard to tell apart" in words
    assert "The readings alone tell coupling ratio only to" in words
    assert "with one more thermometer, at the pot" in words
    del blind.attrs["next_test"]
    alone = " ".join(studies.sentences(blind))
    assert "shade the mouth with a board" in alone
    assert "out of the beam" in alone
    assert "hard to tell apart" not in " ".join(studies.sentences(told))
    assert "the sunlight's instrument together" in " ".join(studies.sentences(told))
    unread = told.assign(sun_measured=told["sun_measured"] * 0)
    assert "the sunlight's instrument together" not in " ".join(studies.sentences(unread))


def _heat_up() -> CookRecord:
    return cook("heat-up", 4, ("food",), hours=0.75, shade=0.0)


def _shaded() -> CookRecord:
    return cook("shaded", 4, hours=1.5, shade=0.5)


def test_a_thermometer_that_is_off_is_found_out_where_it_is_asked_for() -> None:
    record = cook("bent", 6)
    read = {**record.temperatures, "pot": record.temperature("pot") + 3.0}
    fit = studies.fit(
        setting(dataclasses.replace(record, temperatures=read)),
        offset={"pot": "3 K"},
        factors=list(TRUTH),
        **QUICK,
    )
    assert float(fit["offset_low"][0]) < 3.0 < float(fit["offset_high"][0])
    assert "thermometer reads" in " ".join(studies.sentences(fit))


def test_spikes_move_a_robust_fit_little() -> None:
    record = cook("spiky", 7, ("food",))
    read = {name: np.array(values) for name, values in record.temperatures.items()}
    read["food"][[100, 101, 102, 110, 111, 112]] += 60.0
    spiky = setting(dataclasses.replace(record, temperatures=read))
    plain, robust = (studies.fit(spiky, robust=robust, **QUICK) for robust in (False, True))
    clean = studies.fit(setting(record), **QUICK)
    ratios = ["light_ratio", "loss_ratio"]
    off = [
        np.abs(np.log(fit["estimate"] / clean["estimate"])).sel(factor=ratios).max().item()
        for fit in (plain, robust)
    ]
    assert off[1] < 0.02
    assert off[0] > 3 * off[1]


def test_a_factor_of_which_nothing_is_told_stays_near_its_description() -> None:
    """An empty pot says nothing of how heat goes from pot to food."""
    rng = np.random.default_rng([5, 31])
    blank = dataclasses.replace(cooks.blank(rng, ("pot", "plate"), hours=1.5, shade=0.4), meal=None)
    fit = studies.fit(setting(cooks.logged(rng, cooks.SETTING.design, blank, TRUTH)), **QUICK)
    coupling, rest = fit.sel(factor="coupling_ratio"), fit.sel(factor=["light_ratio", "loss_ratio"])
    assert float(coupling["estimate"]) == pytest.approx(1.0, abs=0.05)
    assert float(coupling["high"]) > 4
    assert np.log(rest["estimate"] / truths(rest)).to_numpy() == pytest.approx(0, abs=0.05)
    assert "next to nothing of coupling ratio" in " ".join(studies.sentences(fit))


def test_cooks_that_disagree_are_named_and_widen_the_interval() -> None:
    """One of three cooks lost 30 % more than the others, of which no log says anything."""
    rng = np.random.default_rng([5, 22])
    blank = cooks.blank(rng, ("food", "pot"), hours=2.5, shade=0.6)
    lossy = cooks.logged(rng, cooks.SETTING.design, blank, TRUTH | {"loss_ratio": 1.3 * TRUTH["loss_ratio"]})
    alike = (cook("first", 1), cook("second", 2))
    agreed = studies.fit(setting(*alike), **QUICK)
    torn = studies.fit(setting(*alike, dataclasses.replace(lossy, name="lossy")), **QUICK)
    loss = torn.sel(factor="loss_ratio")
    alone = loss["cook_estimate"].to_numpy() / TRUTH["loss_ratio"]
    assert alone == pytest.approx([1.0, 1.0, 1.3], rel=0.03)
    # Three values of which one lies apart by log 1.3 spread by 0.15; weights by unlike errors move that a little.
    assert 0.1 < float(loss["between_cooks"]) < 0.2
    assert float(loss["standard_error"]) > 5 * float(agreed["standard_error"].sel(factor="loss_ratio"))
    assert float(loss["low"]) < TRUTH["loss_ratio"] * 1.3 ** (1 / 3) < float(loss["high"])
    said = [sentence for sentence in studies.sentences(torn) if "differs from cook to cook" in sentence]
    assert any(sentence.startswith("Loss ratio") and '"lossy"' in sentence for sentence in said)
    assert "differs from cook to cook" not in " ".join(studies.sentences(agreed))


def test_a_prior_is_said_where_the_interval_rests_on_it() -> None:
    fit = studies.fit(setting(_heat_up()), prior={"loss_ratio": ["1.4", "0.02"]}, **QUICK)
    assert float(fit["standard_error"].sel(factor="loss_ratio")) < 0.02 / 1.4
    assert float(fit["without_prior"].sel(factor="loss_ratio")) > 0.05
    assert any("rests on what was known before" in sentence for sentence in studies.sentences(fit))


def test_an_estimate_at_its_end_is_said_to_be_no_estimate() -> None:
    fit = studies.fit(
        setting(cook("first", 1)),
        factors={"light_ratio": ["90 %", "100 %"], "loss_ratio": ["0.5", "3"]},
        **QUICK,
    )
    assert fit["at_bound"].to_numpy().tolist() == [-1, 0]
    assert any(
        "stopped at the end of what was allowed, 90 %" in sentence for sentence in studies.sentences(fit)
    )


def test_any_factor_may_be_fitted_one_that_light_sees_too() -> None:
    """A dirty mirror is planted as such: soiling is found where light itself is taken as described."""
    rng = np.random.default_rng(3)
    design = cooks.SETTING.design
    record = cooks.logged(
        rng,
        design.with_factors(soiling=0.12),
        cooks.blank(rng, ("food", "pot"), hours=1.5, shade=0.4),
        TRUTH | {"light_ratio": 1.0},
    )
    fit = studies.fit(
        setting(record),
        factors={"soiling": ["0 %", "40 %"], "loss_ratio": ["0.5", "3"], "coupling_ratio": ["0.2", "3"]},
        **QUICK,
    )
    one = fit.sel(factor="soiling")
    assert str(one["factor_scale"].item()) == "range"
    assert float(one["low"]) - 0.01 < 0.12 < float(one["high"]) + 0.01


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ({"cooks": ["fist"]}, 'cooks: "fist" is no cook'),
        ({"hold_out": ["fist"]}, 'hold_out: "fist" is no cook'),
        ({"hold_out": ["first"]}, "hold_out: no cook is left to fit to"),
        ({"cooks": ["first"], "hold_out": ["first"]}, 'hold_out: "first" is fitted to as well'),
        ({"factors": ["light"]}, "factors.light: no field of this design; did you mean"),
        ({"factors": ["mirror"]}, "factors.mirror: is no number"),
        (
            {"factors": {"soiling": ["30 %", "10 %"]}},
            "factors.soiling: the first end must be below the second",
        ),
        ({"prior": {"soiling": ["10 %", "5 %"]}}, "prior.soiling: is not fitted"),
        ({"prior": {"loss_ratio": ["20", "1"]}}, "factors.loss_ratio: prior: 20 is outside what is fitted"),
        ({"prior": {"loss_ratio": ["1", "0"]}}, "factors.loss_ratio: prior: a standard deviation of 0"),
        ({"noise": {"fod": "1 K"}}, 'noise: "fod" is no place of a thermometer; did you mean food'),
        ({"noise": {"food": "0 K"}}, "allowed above zero, up to 50 K"),
    ],
)
def test_what_cannot_be_fitted_is_refused_with_its_key(keys: dict[str, Any], fault: str) -> None:
    with pytest.raises(StudyError) as caught:
        studies.fit(setting(cook("first", 1)), **keys)
    assert fault in str(caught.value)


def test_too_few_readings_are_refused_and_no_cook_at_all() -> None:
    record = cook("short", 1, ("food",))
    food = np.array(record.temperature("food"))
    food[3:] = np.nan
    with pytest.raises(StudyError, match="2 readings cannot tell 4 factors apart"):
        studies.fit(setting(dataclasses.replace(record, temperatures={"food": food})), **QUICK)
    with pytest.raises(StudyError, match="cooks: there is none"):
        studies.fit(setting(), **QUICK)


def test_figures_show_every_cook_and_every_pair(one_fit: xr.Dataset) -> None:
    drawings = {drawing.name: drawing for drawing in studies.drawn(one_fit)}
    assert list(drawings) == ["cooks", "pairs", "residuals"]
    assert drawings["pairs"].table["pair"].nunique() == 3
    assert len(drawings["cooks"].table) == one_fit.sizes["reading"]
    assert all(drawing.svg.startswith(b"<?xml") for drawing in drawings.values())


@dataclasses.dataclass
class Warming:
    """A stand-in whose temperatures are known: from the food's first reading it warms evenly, the pot 2 K ahead."""

    record: CookRecord
    asked: list[int] = dataclasses.field(default_factory=list)

    @property
    def design(self) -> Any:
        return cooks.SETTING.design

    @property
    def sensors(self) -> tuple[str, ...]:
        return tuple(self.record.temperatures)

    def temperatures(self, columns: Any) -> dict[str, np.ndarray[Any, Any]]:
        rows = len(next(iter(columns.values())))
        self.asked.append(rows)
        first = columns.get("start_temperature", np.full(rows, self.record.temperature("food")[1]))
        rate = columns.get("light_ratio", np.ones(rows))
        food = first[:, None] + 0.01 * rate[:, None] * self.record.instants
        return {"food": food, "pot": food + 2.0}


def test_readings_of_cooks_stand_in_one_row_with_shifts_of_their_own() -> None:
    record = cook("first", 1)
    food = np.array(record.temperature("food"))
    food[0] = np.nan  # the first reading is then the second
    record = dataclasses.replace(record, temperatures={**record.temperatures, "food": food})
    models = (Warming(record), Warming(dataclasses.replace(record, name="second")))
    measured = Measured(models, ("light_ratio",), offsets=(Series(1, "pot"),), starts=(0, 1))
    count = len(record.instants)
    assert measured.names == ("light_ratio", "offset_1_pot", "start_0", "start_1")
    assert measured.series == ((0, "food"), (0, "pot"), (1, "food"), (1, "pot"))
    assert np.flatnonzero(~measured.started).tolist() == [1, count, 2 * count + 1, 3 * count]
    rows = np.array([[1.2, 0.0, 0.0, 0.0], [1.2, 5.0, 0.0, 0.0], [1.2, 0.0, 0.5, 0.0], [1.2, 0.0, 0.0, -1.0]])
    plain, offset, warmer, colder = measured(rows).reshape(4, 4, count)
    assert models[0].asked[0] == 1  # rows that differ in shifts alone are one oven
    np.testing.assert_allclose(plain[1], food[1] + 2.0 + 0.012 * record.instants)
    np.testing.assert_allclose(offset - plain, np.repeat([0, 0, 0, 5.0], count).reshape(4, count))
    np.testing.assert_allclose(warmer - plain, np.repeat([0.5, 0.5, 0, 0], count).reshape(4, count))
    np.testing.assert_allclose(colder - plain, np.repeat([0, 0, -1.0, -1.0], count).reshape(4, count))


# What is made of a fit.


def test_draws_are_as_the_covariance_says(one_fit: xr.Dataset) -> None:
    """Against the moments of a multivariate normal in the logarithms, and a Cholesky factor's own draws."""
    posterior = Posterior.of(one_fit)
    draws = drawn_together(None, posterior, 4096, 3)
    logs = np.log(np.stack([draws[name] for name in posterior.names], axis=1))
    covariance = one_fit["covariance"].to_numpy()
    np.testing.assert_allclose(logs.mean(axis=0), np.log(one_fit["estimate"].to_numpy()), atol=2e-4)
    np.testing.assert_allclose(np.cov(logs, rowvar=False), covariance, rtol=0.03, atol=1e-9)
    rotated = np.linalg.solve(np.linalg.cholesky(covariance), (logs - logs.mean(axis=0)).T)
    np.testing.assert_allclose(np.cov(rotated), np.eye(3), atol=0.03)


def test_a_draw_does_not_depend_on_its_company(one_fit: xr.Dataset) -> None:
    posterior = Posterior.of(one_fit)
    names = [parameter.name for parameter in posterior.parameters]
    steps = {name: np.random.default_rng(1).standard_normal(33) for name in names}
    whole = posterior.translated(steps)
    for row in range(33):
        alone = posterior.translated({name: column[row : row + 1] for name, column in steps.items()})
        assert all(alone[name][0] == whole[name][row] for name in posterior.names)
    assert Posterior.of_text(posterior.text) == posterior


def test_a_posterior_with_one_certain_factor_moves_only_the_other() -> None:
    sure = Posterior(
        names=("light_ratio", "loss_ratio"),
        values=(0.8, 1.5),
        covariance=((0.0, 0.0), (0.0, 0.01)),
        low=(0.1, 0.1),
        high=(2.0, 1.6),
        logs=(True, True),
        described={},
    )
    draws = drawn_together(None, sure, 64, 1)
    np.testing.assert_allclose(draws["light_ratio"], 0.8, rtol=1e-12)
    assert draws["loss_ratio"].std() > 0.05
    assert draws["loss_ratio"].max() == 1.6  # draws stay within what was allowed


def test_studies_meet_the_ovens_that_the_cooks_leave_possible(one_fit: xr.Dataset) -> None:
    vary: dict[str, Any] = {"insulation_thickness": ["20 mm", "80 mm"]}
    here = setting()
    compared = studies.compare(
        here, fit=one_fit, design=[{"name": "thick", "insulation_thickness": "80 mm"}], draws=4, other_seeds=0
    )
    drawn = drawn_together(None, Posterior.of(one_fit), 4, here.seed)
    np.testing.assert_array_equal(compared["loss_ratio"], drawn["loss_ratio"])
    # The worse oven takes longer than the described one: 1.4 times the losses, three quarters of the light.
    plain = studies.compare(here, design=[{"name": "thick", "insulation_thickness": "80 mm"}], other_seeds=0)
    assert float(compared["peak_temperature"][0, 0]) < float(plain["peak_temperature"][0, 0]) - 3
    found = studies.sensitivity(here, fit=one_fit, vary=vary, outputs=["peak_temperature"], base_samples=32)
    assert found["factor"].to_numpy().tolist() == ["insulation_thickness", "test_cooks"]
    screened = studies.screening(here, fit=one_fit, vary=vary, outputs=["peak_temperature"], trajectories=4)
    assert "unknown_1" in screened["factor"].to_numpy()
    off = studies.tolerance(here, fit=one_fit, accuracy={"mouth": "4 mm"}, ovens=32, repeats=2)
    assert off["factor"].to_numpy().tolist() == ["mouth", "unknown_1", "unknown_2", "unknown_3"]
    assert studies.sentences(off)


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ({"fit": "first"}, "is no fit; write"),
        ({"fit": "chosen"}, "there is no run here"),
        ({"fit": {"file": "none.nc"}}, 'fit: "none.nc" cannot be used'),
        ({"uncertain": {"loss_ratio": ["1", "2"]}}, "loss_ratio is in this fit and varies by itself as well"),
    ],
)
def test_a_fit_that_cannot_be_used_is_refused(keys: dict[str, Any], fault: str, one_fit: xr.Dataset) -> None:
    asked: dict[str, Any] = {
        "fit": one_fit,
        "vary": {"mouth": ["550 mm", "620 mm"]},
        "goals": ["mass"],
    } | keys
    with pytest.raises(StudyError) as caught:
        studies.search(setting(), **asked)
    assert fault in str(caught.value)


CONFIG = """
[[cook]]
name = "morning"
files = ["morning.csv"]
time = { column = "time" }
food = { column = "food", unit = "degC" }
pot = { column = "pot", unit = "degC" }
air = { column = "air", unit = "degC" }
wind = { column = "wind", unit = "m/s" }
irradiance = { column = "sun", unit = "W/m2", plane = "facing the sun" }
turned = ["10:00", "10:15", "10:30", "10:45", "11:00", "11:15", "11:30", "11:45", "12:00", "12:15"]
tilted = ["10:00", "10:30", "11:00", "11:30", "12:00"]
shaded = [["11:54", "12:31"]]
[cook.meal]
food = "water"
food_mass = "FOOD"
"""

STUDIES = """
[[study]]
kind = "fit"
bootstrap = 20
other_seeds = 1

[[study]]
kind = "search"
fit = "chosen"
draws = 2
goals = ["peak_temperature"]
trials = 12
population = 6
[study.vary]
insulation_thickness = ["30 mm", "80 mm"]

[[study]]
kind = "built"
draws = 8
outcomes = ["time_to_done", "peak_temperature"]
"""


def config(folder: Path, tail: str, *, extra: str = "") -> Path:
    """The test oven with few days and rays, and studies of it."""
    text = (Path(__file__).parents[1] / "oven.toml").read_text("utf-8").partition("[[study]]")[0]
    text = text.replace("rays = 16", "rays = 4").replace("days_per_month = 5", "days_per_month = 1")
    path = folder / "oven.toml"
    path.write_text(text + extra + tail, "utf-8")
    return path


def log_file(folder: Path) -> float:
    """The log of one cook, as a logger writes it; how much food was in it. [kg]"""
    record = cook("morning", 9)
    table = pd.DataFrame(
        {
            "time": [
                (record.start + pd.Timedelta(seconds=s)).strftime("%Y-%m-%d %H:%M:%S")
                for s in record.instants
            ],
            "food": record.temperature("food") - 273.15,
            "pot": record.temperature("pot") - 273.15,
            "air": record.weather("air") - 273.15,  # type: ignore[operator]
            "wind": record.weather("wind"),
            "sun": record.weather("irradiance"),
        }
    )
    table.round(2).to_csv(folder / "morning.csv", index=False)
    assert record.meal is not None
    return float(record.meal.food_mass)


@pytest.mark.slow
def test_a_run_goes_from_a_log_to_the_improved_oven(tmp_path: Path) -> None:
    """Log, fit, search among the ovens that the cook leaves possible, and what was promised, built, improved."""
    mass = f"{log_file(tmp_path)} kg"
    plan = load(config(tmp_path, STUDIES, extra=CONFIG.replace("FOOD", mass)))
    folder = tmp_path / "results"
    found = {result.name: result for result in carry_out_into(folder, plan, running=Running())}
    assert list(found) == ["fit", "search", "built"]
    fit, search, built = (found[name].dataset for name in found)  # type: ignore[union-attr]
    assert np.log(fit["estimate"] / truths(fit)).to_numpy() == pytest.approx(0, abs=0.12)
    assert ((fit["low"] < truths(fit)) & (truths(fit) < fit["high"])).all()
    # The search stands on the fitted oven and says so; one of its designs comes out the same again from the file.
    assert json.loads(search.attrs["design"])["loss_ratio"] == pytest.approx(float(fit["estimate"][1]))
    assert "as_built" in json.loads(search.attrs["uncertain"])
    opened = studies.open_result(folder / "search.nc")
    assert opened.rerun(3).same
    assert built["design"].to_numpy().tolist() == ["as described", "as built", "improved"]
    assert built["light_ratio"].to_numpy()[0] == 1.0
    peak = built["peak_temperature"].isel(run=0).to_numpy()
    assert peak[0] > peak[2] >= peak[1]
    assert studies.open_result(folder / "built.nc").rerun().same
    assert studies.open_result(folder / "fit.nc").rerun().same
    summary = (folder / "summary.md").read_text("utf-8")
    assert "light ratio" in summary.lower()
    assert "as described" in summary
    assert "promise.svg" in summary
    # The fit as a file of another config: what it found stands in the design, and the file is kept in the result.
    (tmp_path / "later").mkdir()
    (tmp_path / "later" / "fit.nc").write_bytes((folder / "fit.nc").read_bytes())
    tail = '[as_built]\nfile = "fit.nc"\n[[study]]\nkind = "day"\n'
    later = load(config(tmp_path / "later", tail))
    assert later.setting.design.value("loss_ratio") == float(fit["estimate"][1])
    day = next(iter(carry_out_into(tmp_path / "later" / "results", later, running=Running())))
    again = studies.open_result(tmp_path / "later" / "results" / "day.nc")
    assert again.plan.setting.design == later.setting.design
    assert day.name == "day"
    for tail, fault in (
        (
            '[as_built]\nfile = "fit.nc"\nloss_ratio = "1.2"\n',
            'as_built.file: the fit "fit.nc" found loss_ratio',
        ),
        ('[as_built]\nfile = "no.nc"\n', 'as_built.file: "no.nc" cannot be used'),
        ('[as_built]\nfile = "results/day.nc"\n', "is of a day study"),
    ):
        with pytest.raises(ConfigError, match=fault):
            load(config(tmp_path / "later", tail + '[[study]]\nkind = "day"\n'))
    with pytest.raises(ConfigError, match=r'study\[1\].fit = "chosen": no fit stands before it'):
        load(config(tmp_path / "later", '[[study]]\nkind = "built"\n'))
