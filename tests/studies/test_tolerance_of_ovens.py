"""Tolerances of an oven: held against conservation laws, clearances and runs of its own, and told to a workshop."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import (
    Box,
    ByHand,
    Cover,
    Drive,
    Fixed,
    Funnel,
    Jacket,
    Meal,
    Pot,
    Status,
    misfit,
    specs,
)
from noonhearth.studies import Running, StudyError
from noonhearth.studies.config import load, loads
from noonhearth.studies.kinds.accuracies import USUAL
from noonhearth.studies.kinds.tolerance import TOLERANCE
from noonhearth.studies.kinds.toleranced import toleranced
from noonhearth.studies.methods.sweeps import Ends
from noonhearth.studies.methods.tolerance import Care
from noonhearth.studies.results import store
from noonhearth.studies.run import Failure, Result, carry_out
from noonhearth.studies.telling.figures import drawn, save
from noonhearth.studies.telling.report import sentences

OVEN = Path(__file__).parents[1] / "oven.toml"
HEAD = OVEN.read_text("utf-8").partition("[[study]]")[0]
SHORT = HEAD.replace("rays = 16", "rays = 8").replace("days_per_month = 5", "days_per_month = 1")
QUICK = {"ovens": 32, "repeats": 2}
STUDY = """
[[study]]
kind = "tolerance"
ovens = 32
repeats = 2
[study.accuracy]
facet_angle = "1 deg"
pot_lift = "usual"
food_mass = "30 g"
base_radius = "5 mm"
"""


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    return loads(SHORT + '[[study]]\nkind = "day"\n', OVEN).setting


@pytest.fixture(scope="module")
def result(setting: studies.Setting) -> xr.Dataset:
    accuracy = {"facet_angle": "1 deg", "pot_lift": "usual", "food_mass": "30 g", "base_radius": "5 mm"}
    return TOLERANCE(setting, accuracy=accuracy, **QUICK)


def light(setting: studies.Setting, **keys: object) -> xr.Dataset:
    return TOLERANCE(setting, goal="light_to_pot", worse=["2 %", "5 %"], **QUICK, **keys)


def test_light_that_the_cover_stops_is_missing_at_the_pot(setting: studies.Setting) -> None:
    """Fog takes its share of every ray: what the pot gets goes with one less the fog, whatever the oven."""
    found = light(setting, accuracy={"fog": "3 %"}).isel(factor=0)
    share = np.mean([float(replace(setting, seed=k).simulated()["light_to_pot"][0]) for k in (7, 8)])
    assert float(found.attrs["goal_designed"]) == pytest.approx(share, rel=1e-12)
    assert found["allowed"][1].to_numpy() == pytest.approx([0.02 / share, 0.05 / share], rel=1e-6)
    assert (found["ends"][0] == Ends.LAST).all()


def test_dust_costs_less_the_more_there_is(setting: studies.Setting) -> None:
    """Light by n bounces goes with (1 - dust)^n: the pot's light is a sum of such powers with weights above zero.

    So it falls all the way, every further part costs less than the one before, and its logarithm is convex in the
    logarithm of one less the dust (a posynomial), all of it whatever the oven.
    """
    found = light(setting, accuracy={"soiling": "4 %"}).isel(factor=0)
    off, loss = (found[f"point_{name}"][1].to_numpy() for name in ("off", "excess"))
    first = np.isin(off.round(6), np.round(0.04 * np.array([0, 1, 2, 4, 8]), 6))
    off, loss = off[first], loss[first]
    slope = np.diff(loss) / np.diff(off)
    assert (slope > 0).all()
    assert (np.diff(slope) < 0).all()
    power = np.diff(np.log(found.attrs["goal_designed"] - loss)) / np.diff(np.log(1 - 0.02 - off))
    assert (np.diff(power) < 0).all()
    assert (power > 0).all()


def test_less_insulation_and_more_leaks_cool_the_plateau(setting: studies.Setting) -> None:
    accuracy = {"insulation_thickness": "5 mm", "leak_area": "4 cm2"}
    found = TOLERANCE(setting, goal="plateau_temperature", accuracy=accuracy, **QUICK)
    effect = found["at_accuracy"]
    assert float(effect.sel(factor="insulation_thickness", side=-1)) > 0
    assert float(effect.sel(factor="insulation_thickness", side=1)) < 0
    assert float(effect.sel(factor="leak_area", side=1)) > 0
    assert found["level"].to_numpy().tolist() == [5.0, 10.0]
    assert found["level"].attrs["units"] == "K"
    assert any("plateau temperature is" in text and "degC" in text for text in sentences(found))


def test_the_range_ends_where_the_pot_touches(setting: studies.Setting, result: xr.Dataset) -> None:
    """A little before the end found the pot swings free by the check of a single design; a little after it does not."""
    low = result.sel(factor="pot_lift", side=-1)
    assert int(low["ends"][0]) == Ends.UNBUILT
    assert int(low["stopped_by"]) == Status.POT_TOUCHES_WALL
    for way, free in ((-1, True), (1, False)):
        off = float(low["allowed"][0]) + way * 2.1 * float(low["allowed_error"][0])
        lift = setting.design.value("pot_lift") - off
        design = setting.design.with_factors(pot_lift=lift)
        assert (misfit(design, setting.sky, catalogue=setting.catalogue) is None) is free


def test_a_cost_is_what_two_runs_differ_by(setting: studies.Setting, result: xr.Dataset) -> None:
    """At the end found the oven itself is run again, with the same rays: done some five minutes later."""
    high = result.sel(factor="food_mass", side=1)
    design = setting.design
    fuller = design.with_factors(food_mass=design.value("food_mass") + float(high["allowed"][0]))
    later = [
        np.diff(replace(setting, seed=seed).simulated([design, fuller])["time_to_done"].to_numpy())[0]
        for seed in (7, 8)
    ]
    assert np.mean(later) == pytest.approx(300.0, abs=3 * float(high["noise"]) + 10.0)
    assert float(result["at_accuracy"].sel(factor="food_mass", side=-1)) < 0


def test_what_a_chosen_design_lacks_is_left_out_and_told(setting: studies.Setting) -> None:
    """A search may choose one ring of facets or one pane where the table of accuracies counts on two."""
    found = light(setting, accuracy={"fog": "3 %", "second_bend": "1 deg"})
    assert found["factor"].to_numpy().tolist() == ["fog"]
    assert any(
        text == "Left out, as this design does not have them: second bend." for text in sentences(found)
    )
    work = TOLERANCE.work(setting, accuracy={"pane_gap": "2 mm", "fog": "3 %"}, **QUICK)
    bare = work.section.model_copy(update={"accuracy": {"pane_gap": "2 mm"}})
    with pytest.raises(StudyError, match="accuracy: nothing is off"):
        TOLERANCE.done(replace(work, section=bare))


def test_what_the_cook_never_feels_is_said_to_have_no_effect(result: xr.Dataset) -> None:
    assert np.nan_to_num(result["point_excess"].sel(factor="base_radius")).any() == False  # noqa: E712
    assert any(text == "Of no effect on time to done: base radius." for text in sentences(result))
    assert int(result["care"].sel(factor="base_radius")) == Care.RELAXED


def test_running_changes_no_number(setting: studies.Setting, result: xr.Dataset, tmp_path: Path) -> None:
    told: list[tuple[str, int, int, int]] = []
    running = Running(workers=2, scratch=tmp_path, watch=lambda *state: told.append(state))
    accuracy = {"facet_angle": "1 deg", "pot_lift": "5 mm", "food_mass": "0.03 kg", "base_radius": "0.5 cm"}
    for _ in range(2):  # the second time from what the first one left
        again = TOLERANCE(setting, running=running, accuracy=accuracy, **QUICK)
        xr.testing.assert_identical(result, again)
    assert told
    assert all(done <= total for _, done, total, _ in told)


def test_waviness_left_to_the_sheet_starts_at_the_sheets_own(setting: studies.Setting) -> None:
    found = light(setting, accuracy={"slope_error": "6 mrad"})
    assert setting.design.value("slope_error") is None
    assert float(found["designed"][0]) == pytest.approx(5e-3)  # bent anodised sheet, in the list of materials
    assert float(found.attrs["goal_designed"]) == pytest.approx(
        np.mean([float(replace(setting, seed=k).simulated()["light_to_pot"][0]) for k in (7, 8)]), rel=1e-12
    )


@pytest.mark.parametrize("name", sorted(USUAL))
def test_every_usual_accuracy_can_be_read(name: str) -> None:
    known = {
        field: spec
        for described in (Funnel, Cover, Jacket, Pot, Box, Meal, Fixed, ByHand, Drive)
        for field, spec in specs(described).items()
    }
    spec = known[name]
    width = USUAL[name].accuracy(0.1 * spec.high, spec.dimension)
    assert 0 < width < spec.high - spec.low
    assert USUAL[name].check.endswith(".")


def test_the_list_left_out_takes_what_the_oven_has(setting: studies.Setting) -> None:
    parts, faults = toleranced(None, setting.design, setting.catalogue)
    names = {one.name for one in parts}
    assert not faults
    assert {"mouth", "facet_angle", "slope_error", "azimuth_bias", "food_mass"} <= names
    assert not names & {"second_bend", "pane_gap", "box_across", "fin_height", "fixed_azimuth"}
    two = setting.design.with_factors(tiers=2, panes=2)
    assert {"second_bend", "pane_gap"} <= {one.name for one in toleranced(None, two, setting.catalogue)[0]}


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"ovens": 100}, "ovens = 100: must be a power of two, such as 64 or 128"),
        ({"goal": "time_to_dine"}, "time_to_d"),
        ({"worse": ["10 min", "5 min"]}, "worse: 10 min, 5 min: rising steps above zero"),
        ({"worse": ["5 K"]}, "worse: "),
        ({"goal": "mass"}, "worse: say how much worse mass may be"),
        (
            {"accuracy": {"facet_angel": "1 deg"}},
            "accuracy.facet_angel: no field of this design; did you mean",
        ),
        ({"accuracy": {"facet_angle": "1 mm"}}, "accuracy.facet_angle: "),
        ({"accuracy": {"facet_angle": "0 deg"}}, "accuracy.facet_angle: 0 deg is no accuracy"),
        ({"accuracy": {"facets": 1}}, "accuracy.facets: a whole number is right or wrong"),
        ({"accuracy": {"mirror": "usual"}}, "accuracy.mirror: a name is right or wrong"),
        ({"accuracy": {"wind_share": "usual"}}, "accuracy.wind_share: has no usual accuracy"),
        ({"accuracy": {"added_water": "usual"}}, "accuracy.added_water: has no usual accuracy"),
        ({"accuracy": {"second_bend": "1 deg"}}, "accuracy: nothing is off"),
        ({"wanted": "100 %"}, "wanted = 100 %: allowed 50 % to below 100 %"),
        ({"repeats": 1}, "repeats = 1: allowed 2 or more"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(setting: studies.Setting, keys: dict, told: str) -> None:
    with pytest.raises(StudyError) as raised:
        TOLERANCE(setting, **keys)
    assert told in str(raised.value)


def test_a_config_is_carried_out_kept_and_told(
    setting: studies.Setting, result: xr.Dataset, tmp_path: Path
) -> None:
    (one,) = carry_out(loads(SHORT + STUDY, OVEN), running=Running(workers=2))
    assert isinstance(one, Result)
    store.write(one.dataset, tmp_path / "tolerance.nc")
    kept = store.read(tmp_path / "tolerance.nc")
    assert sentences(kept) == sentences(result)
    files = [path.name for drawing in drawn(kept) for path in save(drawing, tmp_path, prefix="tolerance")]
    assert files == [
        f"tolerance-{name}.{ending}"
        for name in ("tolerances", "curves", "together")
        for ending in ("svg", "csv")
    ]
    assert "costs it" in (tmp_path / "tolerance-tolerances.csv").read_text()


def test_words_for_the_one_who_bends_the_sheet(result: xr.Dataset) -> None:
    said = sentences(result)
    bend = next(text for text in said if "facet angle (designed 30 deg" in text)
    assert bend.startswith("Measure carefully: ")
    assert "too little costs 5 min" in bend
    assert "In doubt, rather too much. " in bend
    assert "gauge" in bend
    assert "the pot touches the mirror" in next(text for text in said if "pot lift (" in text)
    assert any(text.startswith("Eyes and skin: ") for text in said)
    assert any("within the accuracies given" in text for text in said)


def test_a_meal_that_is_never_done_has_no_tolerance() -> None:
    text = SHORT.replace('food_mass = "0.6 kg"', 'food_mass = "0.8 kg"').replace(
        'stop = "16:00"', 'stop = "10:15"'
    )
    (one,) = carry_out(loads(text + STUDY, OVEN), running=Running())
    assert isinstance(one, Failure)
    assert "the design itself never reaches the goal (time_to_done)" in one.reason


def test_a_drive_has_its_own_list() -> None:
    driven = load(Path(__file__).parents[2] / "configs/dry_season_workshop.toml").setting
    accuracy = {"fin_height": "usual", "stop_share": "usual", "azimuth_bias": "usual"}
    assert TOLERANCE.work(driven, accuracy=accuracy).section.accuracy == accuracy
    assert not math.isnan(USUAL["speed"].accuracy(0.001, "angular_speed"))
