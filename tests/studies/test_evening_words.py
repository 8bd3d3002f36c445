"""What reports say and draw of the evening, and that a study follows it when it asks and only then."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import simulate
from noonhearth.studies import setting
from noonhearth.studies.config import Plan, load
from noonhearth.studies.judging.evaluate import OvenEvaluator, goals_of
from noonhearth.studies.kinds import Running
from noonhearth.studies.run import carry_out
from noonhearth.studies.telling import figures
from noonhearth.studies.telling.words import day_words

HOUR = 3600.0
Spoken = Callable[..., list[str]]


@pytest.fixture
def spoken(day: xr.Dataset) -> Spoken:
    """Sentences of one day of which some numbers are given: loaded at 09:30, over at 16:00."""

    def speak(**numbers: float) -> list[str]:
        changed = day.copy(deep=True)
        for name, value in numbers.items():
            changed[name][...] = value
        return day_words.day_sentences(changed)

    return speak


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:

    text = (Path(__file__).parents[1] / "oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")] + '[[study]]\nkind = "day"\n'
    text = text.replace("rays = 16", "rays = 8").replace("days_per_month = 5", "days_per_month = 1")
    path = tmp_path_factory.mktemp("evening") / "plan.toml"
    path.write_text(text.replace('food_mass = "0.6 kg"', 'food_mass = "0.6 kg"\nkept_for = "2 h"'), "utf-8")
    return load(path)


@pytest.fixture(scope="module")
def day(plan: Plan) -> xr.Dataset:

    (result,) = carry_out(plan, running=Running())
    return result.dataset  # type: ignore[union-attr]


def test_until_when_it_stays_hot(spoken: Spoken) -> None:
    said = spoken(done_after=2 * HOUR, warm_for=1.5 * HOUR, still_warm=0, kept_for=0.0)
    assert "Left in the closed oven after 16:00 it stays above 60 degC until 17:30" in said[1]
    assert not any("Kept until" in sentence for sentence in said)


def test_past_midnight_and_past_the_end_of_the_model(spoken: Spoken) -> None:
    assert "until 01:15 the next day" in spoken(done_after=HOUR, warm_for=9.25 * HOUR, still_warm=0)[1]
    still = spoken(done_after=HOUR, warm_for=12 * HOUR, still_warm=1)[1]
    assert "still above 60 degC at 04:00 the next day" in still


def test_a_meal_eaten_too_late_is_said(spoken: Spoken) -> None:
    said = spoken(done_after=HOUR, warm_for=0.5 * HOUR, still_warm=0, kept_for=2 * HOUR)
    assert said[2] == "Kept until 18:00 it has been below 60 degC for 90 min when it is eaten."


def test_what_is_cold_or_raw_by_the_end_is_not_kept(spoken: Spoken) -> None:
    assert "By 16:00 it has already cooled below 60 degC." in spoken(done_after=HOUR, warm_for=0.0)
    assert not any("60 degC" in sentence for sentence in spoken(done_after=np.nan)[:2])


def test_the_evening_is_drawn_with_its_numbers(day: xr.Dataset) -> None:
    drawing = next(d for d in figures.drawn(day) if d.name == "evening")
    shown = day.isel(design=0, day=int(day.attrs["shown_day"]))
    celsius = drawing.table["food, coldest part [degC]"].to_numpy()
    np.testing.assert_allclose(celsius, shown["evening_food_temperature"] - 273.15)
    assert drawing.table["clock [h]"].iloc[[0, -1]].tolist() == pytest.approx([16.0, 28.0])
    hours = np.interp(60.0, celsius[::-1], drawing.table["clock [h]"][::-1])
    assert hours == pytest.approx(16.0 + float(shown["warm_for"]) / HOUR, abs=1 / 3600)  # a second


def test_no_evening_is_drawn_of_a_meal_that_was_not_hot(day: xr.Dataset) -> None:
    cold = day.copy(deep=True)
    cold["evening_food_temperature"][...] = np.nan
    assert "evening" not in {drawing.name for drawing in figures.drawn(cold)}


def test_kept_for_is_read_from_the_config(plan: Plan, day: xr.Dataset) -> None:
    assert plan.setting.design.meal.kept_for == 7200.0
    late = np.maximum(7200.0 - day["warm_for"], 0.0)
    assert (day["lukewarm"] >= late).all()


def test_a_study_has_the_evening_only_if_it_asks(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:

    asked = []

    def noted(*args: object, **how: object) -> xr.Dataset:
        asked.append(how["evening"])
        return simulate(*args, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(setting, "simulate", noted)
    columns = {"insulation_thickness": np.array([0.03, 0.09])}
    OvenEvaluator(plan.setting, ("time_to_done",), ("lukewarm_over",))(columns)
    kept = OvenEvaluator(plan.setting, ("keep_warm_time",))(columns)
    assert asked == [False, True]
    assert kept.values["keep_warm_time"][1] > kept.values["keep_warm_time"][0] > 0
    assert goals_of(["keep_warm_time"], "")[0].direction == "maximize"


def test_lukewarm_does_not_depend_on_who_asks(plan: Plan) -> None:
    """A limit weighs the same in a search that wants the evening and in one that does not."""
    columns = {"kept_for": np.array([0.0, 3 * HOUR, 8 * HOUR])}
    one = OvenEvaluator(plan.setting, ("time_to_done",), ("lukewarm_over",))(columns)
    other = OvenEvaluator(plan.setting, ("keep_warm_time",), ("lukewarm_over",))(columns)
    np.testing.assert_array_equal(one.margins["lukewarm_over"], other.margins["lukewarm_over"])
    assert (np.diff(one.margins["lukewarm_over"]) > 0).all()
