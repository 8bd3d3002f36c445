"""The search of an oven as a study: its table, what it holds, what it says and draws, and what it promises."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth import studies
from noonhearth.model import Status
from noonhearth.studies import Running, Setting, StudyError, load
from noonhearth.studies.asking.varying import read_varies, space_round
from noonhearth.studies.config import ConfigError, loads
from noonhearth.studies.judging.evaluate import OvenEvaluator, limits_of
from noonhearth.studies.judging.outcomes import NOT_FINITE, STOPPED, Outcomes
from noonhearth.studies.judging.reasons import days_text, reasons
from noonhearth.studies.judging.robust import Rule, common_draws
from noonhearth.studies.run import Result, carry_out

OVEN = Path(__file__).parents[1] / "oven.toml"

# Whole numbers, words, angles, lengths and times together; box fields matter only where there is a box.
VARY = {
    "facet_angle": ["15 deg", "45 deg"],
    "facets": [4, 12],
    "mirror": ["anodised-sheet", "foil-on-card"],
    "cover": ["tempered-glass", "acrylic"],
    "insulation": ["mineral-wool", "cork-board"],
    "insulation_thickness": ["15 mm", "90 mm"],
    "azimuth_every": ["10 min", "90 min"],
    "archetype": ["covered funnel", "funnel over box"],
    "box_across": ["300 mm", "500 mm"],
    "box_depth": ["200 mm", "300 mm"],
}
KNOWN = [
    {"name": "last year's oven", "facet_angle": "38 deg", "insulation_thickness": "20 mm"},
    {"name": "wide box", "archetype": "funnel over box", "box_across": "420 mm"},
]
MIXED: dict[str, Any] = {
    "vary": VARY,
    "goals": ["time_to_done", "mass", "reaims", "peak_temperature"],
    "limits": ["cover_over", "insulation_over"],
    "trials": 48,
    "population": 16,
    "seeds": 2,
    "known": KNOWN,
}
ROBUST: dict[str, Any] = {
    "vary": {"facet_angle": ["15 deg", "38 deg"], "insulation_thickness": ["15 mm", "90 mm"]},
    "goals": ["time_to_done", "mass"],
    "trials": 24,
    "population": 8,
    "judged_by": "90 % of days",
    "uncertain": {"wind_share": ["30 %", "120 %"], "food_mass": {"within": "0.1 kg"}},
    "draws": 4,
}


@pytest.fixture(scope="module")
def setting() -> Setting:
    plan = load(OVEN).setting
    return replace(plan, rays=4, sky=plan.sky.only([2, 7, 12, 17]))


@pytest.fixture(scope="module")
def mixed(setting: Setting) -> xr.Dataset:
    return studies.search(setting, **MIXED)


@pytest.fixture(scope="module")
def robust(setting: Setting) -> xr.Dataset:
    return studies.search(setting, **ROBUST)


def _said(result: xr.Dataset) -> str:
    return "\n".join(studies.sentences(result))


def test_all_kinds_of_factor_in_one_search(setting: Setting, mixed: xr.Dataset) -> None:
    assert mixed.sizes["trial"] == 96
    tried = {name: set(np.unique(mixed[name].values).tolist()) for name in VARY}
    for name in ("mirror", "cover", "insulation", "archetype"):
        assert tried[name] == set(VARY[name])
    assert len(tried["facets"]) > 3
    assert len(tried["facet_angle"]) > 10
    ran = mixed["status"].values == 0
    for kind in VARY["archetype"]:
        assert np.any(ran & (mixed["archetype"].values == kind))
    row = int(mixed.attrs["chosen_trial"])
    design = setting.design.with_factors(**{name: mixed[name].values[row].item() for name in VARY})
    alone = replace(setting, design=design).simulated().isel(design=0)
    for goal in MIXED["goals"]:
        assert float(mixed[goal][row]) == pytest.approx(float(alone[goal]), rel=1e-12)


def test_every_variable_of_the_result_explains_itself(mixed: xr.Dataset, robust: xr.Dataset) -> None:
    for result in (mixed, robust):
        for name, variable in result.variables.items():
            assert variable.attrs.get("units"), name
            assert variable.attrs.get("long_name"), name
        assert all(isinstance(value, (str, int, float, list)) for value in result.attrs.values())


def test_workers_and_interruptions_change_nothing(
    setting: Setting, robust: xr.Dataset, tmp_path: Path
) -> None:
    class PowerCut(BaseException):
        pass

    def pull_the_plug(name: str, done: int, total: int, failed: int) -> None:
        assert total == 24
        if done > 12:
            raise PowerCut

    with pytest.raises(PowerCut):
        studies.search(setting, running=Running(scratch=tmp_path, watch=pull_the_plug), **ROBUST)
    resumed = studies.search(setting, running=Running(workers=2, scratch=tmp_path), **ROBUST)
    xr.testing.assert_identical(resumed, robust)


def test_another_way_of_judging_has_a_log_of_its_own(setting: Setting, tmp_path: Path) -> None:
    keys = ROBUST | {"trials": 8}
    for changes in ({}, {"judged_by": "middle day"}, {"draws": 2}):
        last = studies.search(setting, running=Running(scratch=tmp_path), **keys | changes)
    xr.testing.assert_identical(last, studies.search(setting, **keys | {"draws": 2}))


def test_known_designs_come_first_and_the_starting_one_before_them(
    setting: Setting, mixed: xr.Dataset
) -> None:
    for start in (0, 48):
        first = mixed.isel(trial=slice(start, start + 3))
        assert first["facet_angle"].values == pytest.approx(np.radians([30.0, 38.0, 30.0]))
        assert first["archetype"].values.tolist() == ["covered funnel", "covered funnel", "funnel over box"]
        assert first["box_across"].values[2] == pytest.approx(0.42)
        for name in VARY:  # what a table leaves out is as in the starting design
            assert first[name].values[0] == setting.design.value(name)
    assert mixed["known"].values.tolist() == ["the starting design", "last year's oven", "wide box"]
    for k in range(3):
        for goal in MIXED["goals"]:
            assert float(mixed[f"known_{goal}"][k]) == pytest.approx(
                float(mixed[goal][k]), rel=1e-12, nan_ok=True
            )


def test_known_designs_are_compared_on_the_same_days(setting: Setting, mixed: xr.Dataset) -> None:
    row = int(mixed.attrs["chosen_trial"])
    designs = [
        setting.design.with_factors(**{name: mixed[name].values[k].item() for name in VARY})
        for k in (row, 0, 1)
    ]
    done = setting.simulated(designs)["done_after"].values
    weight = setting.sky.day_weight
    for k in (0, 1):
        better = (
            ((done[0] < done[k + 1]) | (np.isnan(done[k + 1]) & ~np.isnan(done[0]))) @ weight / weight.sum()
        )
        assert float(mixed["known_days_time_to_done"][k]) == pytest.approx(better)
    assert "Chosen beside last year's oven: " in _said(mixed)
    assert "better on" in _said(mixed)


def test_a_starting_design_outside_the_ranges_is_only_compared(setting: Setting) -> None:
    keys = ROBUST | {
        "vary": {"facet_angle": ["32 deg", "38 deg"], "insulation_thickness": ["15 mm", "90 mm"]}
    }
    found = studies.search(setting, **keys)
    assert float(found["facet_angle"].min()) > np.radians(31.9)
    assert found["known_seeded"].values.tolist() == [0]
    assert np.isfinite(found["known_mass"].values).all()
    assert "the starting design (outside the ranges searched, only compared)" in _said(found)


def test_reasons_say_what_is_wrong_and_by_how_much(setting: Setting, mixed: xr.Dataset) -> None:
    feasible = mixed["feasible"].values == 1
    reason = mixed["reason"].values
    assert np.all((reason == "") == feasible)
    for row in np.flatnonzero(~feasible):
        status = int(mixed["status"][row])
        if status > 0:
            assert reason[row] == Status(status).sentence
        for limit, words in (
            ("insulation_over", "mirror sheet above"),
            ("cover_over", "cover's inner face above"),
        ):
            margin = float(mixed[f"margin_{limit}"][row])
            assert (words in reason[row]) == (margin > 0)
            if margin > 0:
                shown = float(reason[row].split(words)[1].split(", by ")[1].split(" K")[0])
                assert shown == pytest.approx(margin, rel=0.05)
        assert ("done" in reason[row]) == (status == 0 and np.isnan(mixed["time_to_done"].values[row]))
    assert "could not be built or run" in _said(mixed)


def test_reasons_of_rows_made_up() -> None:
    limits = limits_of(["cover_over", "lukewarm_over"], ["time_to_done"])
    outcomes = Outcomes(
        values={
            "time_to_done": np.array([np.nan, np.nan, 1.0, np.nan, np.nan]),
            "share_done": np.array([0.4, 0.0, 1.0, np.nan, np.nan]),
        },
        status=np.array([0, 0, 0, STOPPED, NOT_FINITE]),
        margins={
            "cover_over": np.array([12.3, -1.0, -1.0, np.nan, np.nan]),
            "lukewarm_over": np.array([1200.0, -1.0, -1.0, np.nan, np.nan]),
            "time_to_done reached": np.array([0.3, 0.8, -1.0, np.nan, np.nan]),
        },
        failures={3: "ValueError: broken"},
    )
    told = reasons(outcomes, limits, Rule("share", 0.9))
    assert told[0] == (
        "cover's inner face above its service limit, by 12 K; "
        "time between 5 and 60 degC beyond what food-safety bodies allow, by 20 min; "
        "done on only 4 days in 10, 9 days in 10 are needed"
    )
    assert told[1:] == [
        "never done",
        "",
        "the model stopped on it: ValueError: broken",
        "its numbers are not finite",
    ]
    assert reasons(outcomes, limits, Rule())[0].endswith("done on only 4 days in 10, half are needed")
    assert reasons(outcomes, limits, Rule("worst month"))[0].endswith("of the worst month, half are needed")
    assert reasons(outcomes, limits, Rule("mean"))[0].endswith("4 days in 10, every day is needed")


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "no day"),
        (1.0, "every day"),
        (0.4, "4 days in 10"),
        (0.1, "1 day in 10"),
        (0.36, "36 days in 100"),
        (0.99, "99 days in 100"),
        (0.999, "999 days in 1000"),
        (0.0001, "hardly a day"),
        (0.9999, "nearly every day"),
    ],
)
def test_shares_of_days_are_counted(share: float, text: str) -> None:
    assert days_text(share) == text


def test_goals_are_judged_by_days_and_draws(setting: Setting, robust: xr.Dataset) -> None:
    """The time of every design is that which nine in ten of its 16 days and draws keep, run here one by one."""
    names = {"anything": ()}
    varies = read_varies(ROBUST["uncertain"], setting.design.factors, names)
    draws = common_draws(space_round(varies, setting.design), 4, setting.seed)
    for row in (0, 5, 23):
        times = []
        for k in range(4):
            factors = {name: robust[name].values[row].item() for name in ROBUST["vary"]}
            factors |= {name: column[k].item() for name, column in draws.items()}
            one = setting.simulated(setting.design.with_factors(**factors)).isel(design=0)
            times += list(zip(one["done_after"].values, one["day_weight"].values, strict=True))
        whole, passed, expected = sum(weight for _, weight in times), 0.0, np.nan
        for time, weight in sorted(times, key=lambda pair: (np.isnan(pair[0]), pair[0])):
            passed += weight
            if passed >= 0.9 * whole - 1e-9:
                expected = time
                break
        assert float(robust["time_to_done"][row]) == pytest.approx(expected, nan_ok=True)
    assert (
        robust["time_to_done"].attrs["long_name"]
        == "loading to done, kept on 90 % of the days and of 4 draws"
    )
    said = _said(robust)
    assert "judged by what 90 % of days keep, under 4 draws of wind share (30 % to 120 %, evenly)" in said


def test_harder_ways_of_judging_never_give_a_shorter_time(setting: Setting) -> None:
    columns = {"insulation_thickness": np.array([0.02, 0.06])}
    times = [
        OvenEvaluator(setting, ("time_to_done",), (), rule)(columns).values["time_to_done"]
        for rule in (Rule("middle"), Rule("share", 0.75), Rule("share", 1.0))
    ]
    assert np.all(np.diff(times, axis=0) >= 0)
    assert np.all(times[-1] > times[0])


@pytest.mark.parametrize(
    ("pick", "rule"),
    [
        ("mass", "best mass"),
        ({"time_to_done": 2, "mass": 1}, "best by weights, time to done 2, mass 1"),
        ("knee", "the knee"),
    ],
)
def test_one_of_the_front_is_picked(setting: Setting, pick: Any, rule: str) -> None:
    found = studies.search(
        setting, vary=ROBUST["vary"], goals=ROBUST["goals"], trials=24, population=8, pick=pick
    )
    front = found.where(found["on_front"] == 1, drop=True)
    scaled = {
        goal: (front[goal] - front[goal].min()) / (front[goal].max() - front[goal].min())
        for goal in ROBUST["goals"]
    }
    weights = {"mass": {"mass": 1}, "knee": {"time_to_done": 1, "mass": 1}}.get(str(pick), pick)
    best = front["trial"].values[
        np.argmin(sum(weight * scaled[goal] for goal, weight in weights.items()).values)
    ]
    assert int(found.attrs["chosen_trial"]) == int(best)
    assert rule in _said(found)


def test_the_words_of_a_search_with_everything(mixed: xr.Dataset) -> None:
    said = _said(mixed)
    for part in (
        "Chosen: facet angle ",
        "Its goals: time to done ",
        "anywhere from ",
        "Other ends of the front: ",
        "96 designs tried, ",
        "The 2 searches (seeds 7 8) ",
    ):
        assert part in said, part
    assert "nan" not in said


def test_searches_that_agree_are_told_to(mixed: xr.Dataset) -> None:
    """Made-up volumes: within 1 % of each other, 97 % of the whole; and a search that found nothing."""
    agreed = mixed.copy(deep=True)
    agreed["hypervolume"][-1] = 1.0
    agreed["run_hypervolume"][:, -1] = [0.98, 0.9702]
    assert (
        "end within 1.0 % of each other, and each has at least 97.0 % of what they found together"
        in _said(agreed)
    )
    assert "do not agree" not in _said(agreed)
    agreed["run_hypervolume"][:, -1] = [0.98, 0.5]
    assert "They do not agree yet" in _said(agreed)
    agreed["run_hypervolume"][:, -1] = [0.98, 0.0]
    assert "1 of the 2 searches found nothing as good" in _said(agreed)


def test_a_search_that_finds_nothing_names_the_nearest(setting: Setting) -> None:
    found = studies.search(
        setting,
        vary={"facet_angle": ["2 deg", "6 deg"], "cover": ["tempered-glass", "acrylic"]},
        goals=["time_to_done"],
        limits=["wind_over"],
        uncertain={"food_mass": ["1 kg", "1.1 kg"], "beam_share": ["30 %", "40 %"]},
        draws=2,
        judged_by="100 % of days",
        trials=8,
        population=4,
    )
    said = _said(found)
    assert "None of 8 designs keeps every limit and reaches every goal." in said
    assert "Nearest to it: facet angle" in said
    assert "8 designs: time to done reached on too few days." in said
    assert list(studies.drawn(found)) == []


def test_figures_of_many_goals(mixed: xr.Dataset, robust: xr.Dataset) -> None:
    drawn = {drawing.name: drawing for drawing in studies.drawn(mixed)}
    assert set(drawn) == {"front", "choices", "agreement", "slices"}
    assert len(drawn["front"].figure.axes) == 6  # each pair of four goals
    assert len(drawn["front"].table) == 96
    assert len(drawn["choices"].table) == int(mixed["on_front"].sum())
    assert {drawing.name for drawing in studies.drawn(robust)} == {"front", "slices"}


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"goals": ["time_to_done", "mass", "reaims", "peak_temperature", "cook_value"]},
            "goals: at most 4 allowed",
        ),
        ({"goals": ["mass", "mass"]}, "goals: each only once"),
        ({"judged_by": "best day"}, "judged_by: 'best day' is not allowed"),
        ({"judged_by": "30 % of days"}, "above 50 % and up to 100 %"),
        ({"draws": 6}, "draws = 6: must be a power of two, such as 4 or 8"),
        ({"uncertain": {}}, "draws: nothing is uncertain"),
        ({"uncertain": {"facet_angle": ["20 deg", "30 deg"]}}, "uncertain.facet_angle: is searched as well"),
        ({"uncertain": {"wind_shear": ["0 %", "9 %"]}}, "uncertain.wind_shear: no field of this design"),
        ({"pick": "reaims"}, 'pick = "reaims": allowed "knee"'),
        ({"pick": {"reaims": 1}}, "pick: reaims is none of the goals"),
        ({"pick": {"mass": 0}}, "pick: one of the weights must be above zero"),
        ({"pick": {"mass": -1}}, "pick: write"),
        ({"slack": {"mass": "5 min"}}, "slack.mass: "),
        ({"slack": {"reaims": 2}}, "slack.reaims: is none of the goals"),
        ({"slack": {"mass": "0 kg"}}, "slack.mass = 0 kg: must be above zero"),
        ({"seeds": 0}, "seeds = 0: allowed 1 or more"),
        (
            {"known": [{"facet_angle": "50 deg"}]},
            "known[1].facet_angle: 50 deg is outside what this study searches",
        ),
        (
            {"known": [{"facet_angel": "30 deg"}]},
            "known[1].facet_angel: does not vary in this study; what varies is facet_angle, ",
        ),
        ({"known": [{"facets": 8}]}, "known[1].facets: does not vary in this study; what varies is"),
        ({"known": [{"facet_angle": "8 kg"}]}, "known[1].facet_angle: "),
        ({"known": [{"name": "a"}]}, "known[1]: names no factor"),
        ({"known": [{"name": 3, "facet_angle": "30 deg"}]}, "known[1].name = 3"),
        (
            {"known": [{"facet_angle": "30 deg", "name": "a"}] * 2},
            "known[2].name = 'a': each needs a name of its own",
        ),
        ({"known": [{"facet_angle": f"{k} deg"} for k in range(20, 30)]}, "do not fit a population of 8"),
        (
            {"vary": {"facet_angle": {"normal": "1 deg"}}},
            "vary.facet_angle: normal is for studies that sample",
        ),
    ],
)
def test_what_cannot_be_searched_is_told(setting: Setting, changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(StudyError) as raised:
        studies.search(setting, **(ROBUST | changes))
    assert sentence in str(raised.value)


CONFIG = """
[[study]]
kind = "search"
goals = ["time_to_done", "mass"]
trials = 16
population = 8
seeds = 2
judged_by = "worst month"
draws = 2
pick = { time_to_done = 2, mass = 1 }
slack = { time_to_done = "5 min" }
[study.vary]
facet_angle = ["20 deg", "36 deg"]
cover = ["tempered-glass", "acrylic"]
[study.uncertain]
soiling = ["0 %", "20 %"]
[[study.known]]
name = "the old one"
facet_angle = "25 deg"
[[study.known]]
cover = "acrylic"
"""


def _config(study: str) -> str:
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + study
    return text.replace("rays = 16", "rays = 4").replace("days_per_month = 5", "days_per_month = 1")


def test_a_config_says_the_same_as_python() -> None:
    plan = loads(_config(CONFIG), OVEN)
    (result,) = carry_out(plan, running=Running())
    assert isinstance(result, Result)
    found = studies.search(
        plan.setting,
        vary={"facet_angle": ["20 deg", "36 deg"], "cover": ["tempered-glass", "acrylic"]},
        goals=["time_to_done", "mass"],
        trials=16,
        population=8,
        seeds=2,
        judged_by="worst month",
        uncertain={"soiling": ["0 %", "20 %"]},
        draws=2,
        pick={"time_to_done": 2, "mass": 1},
        slack={"time_to_done": "5 min"},
        known=[{"name": "the old one", "facet_angle": "25 deg"}, {"cover": "acrylic"}],
    )
    for name in found.variables:
        xr.testing.assert_equal(result.dataset[name], found[name])
    assert found["known"].values.tolist() == ["the starting design", "the old one", "known design 2"]
    assert float(found["flat_slack"].sel(flat_goal="time_to_done").min()) >= 300.0
    assert json.loads(str(found.attrs["pick"])) == {"time_to_done": 2, "mass": 1}
    assert (
        "judged by the middle day of the worst month, under 2 draws of soiling (0 % to 20 %, evenly)"
        in _said(found)
    )


def test_all_faults_of_a_config_with_their_places() -> None:
    wrong = CONFIG.replace('"worst month"', '"good days"').replace('name = "the old one"', "facets = 3")
    wrong = wrong.replace('soiling = ["0 %", "20 %"]', 'soiling = ["0 %", "20 mm"]')
    with pytest.raises(ConfigError) as raised:
        loads(_config(wrong), OVEN)
    assert "study[1].judged_by: 'good days' is not allowed" in str(raised.value)
    wrong = wrong.replace('"good days"', '"worst month"')
    with pytest.raises(ConfigError) as raised:
        loads(_config(wrong), OVEN)
    for fault in ("study[1].known[1].facets: does not vary", "study[1].uncertain.soiling: "):
        assert fault in str(raised.value)


def test_the_chosen_design_is_traced_anew(setting: Setting, mixed: xr.Dataset) -> None:
    """Eight other seeds, run here one by one: their mean and their standard deviation."""
    row = int(mixed.attrs["chosen_trial"])
    design = setting.design.with_factors(**{name: mixed[name].values[row].item() for name in VARY})
    times = [
        float(replace(setting, design=design, seed=setting.seed + k).simulated()["time_to_done"][0])
        for k in range(1, 9)
    ]
    assert float(mixed["fresh_time_to_done"]) == pytest.approx(np.mean(times), rel=1e-12)
    assert float(mixed["noise_time_to_done"]) == pytest.approx(np.std(times, ddof=1), rel=1e-9)
    assert float(mixed["noise_mass"]) == 0.0
    assert "Traced anew with other rays: time to done " in _said(mixed)
