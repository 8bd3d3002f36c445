"""Goals judged over days and draws: closed forms, another library's quantiles, and the model run draw by draw."""

import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from noonhearth.model import Table
from noonhearth.studies import Setting, load
from noonhearth.studies.asking.quantity import QuantityError
from noonhearth.studies.judging.evaluate import OvenEvaluator, meaning_of
from noonhearth.studies.judging.outcomes import Columns, reached_key
from noonhearth.studies.judging.robust import (
    USUAL,
    Rule,
    common_draws,
    judged,
    kept_by,
    mean_of_all,
    mean_of_reached,
    rule_of,
    share_reached,
    worst_month,
)
from noonhearth.studies.judging.space import Parameter, Space

NINE_IN_TEN = Rule("share", 0.9)
NEVER = np.nan
ONES = np.ones(10)


def test_the_ninetieth_of_a_hundred() -> None:
    days = np.random.default_rng(1).permutation(np.arange(1.0, 101.0))[None, :]
    weight = np.ones(100)
    assert kept_by(days, weight, 0.9, "less") == [90.0]  # 90 days are done by then
    assert kept_by(days, weight, 0.9, "more") == [11.0]  # 11 to 100: 90 days reach it
    assert kept_by(days, weight, 1.0, "less") == [100.0]
    assert kept_by(days, weight, 1.0, "more") == [1.0]
    assert kept_by(days, weight, 0.5, "less") == [50.0]


@pytest.mark.parametrize("share", [0.5, 0.75, 0.9, 1.0])
def test_weighted_quantiles_are_numpys(share: float) -> None:
    """numpy.quantile, method "inverted_cdf", with weights: Hyndman and Fan's first definition."""
    random = np.random.default_rng(2)
    values, weight = random.random((20, 31)), random.integers(1, 9, 31).astype(float)
    theirs = np.quantile(values, share, axis=1, weights=weight, method="inverted_cdf")
    np.testing.assert_array_equal(kept_by(values, weight, share, "less"), theirs)
    np.testing.assert_array_equal(kept_by(-values, weight, share, "more"), -theirs)


def test_weight_is_as_good_as_repetition() -> None:
    values, times = np.array([[3.0, 1.0, NEVER, 2.0]]), np.array([2, 3, 1, 4])
    repeated = np.repeat(values, times, axis=1)
    for share in (0.3, 0.5, 0.7, 0.9):
        for better in ("less", "more"):
            one = kept_by(values, times.astype(float), share, better)  # type: ignore[arg-type]
            other = kept_by(repeated, ONES, share, better)  # type: ignore[arg-type]
            np.testing.assert_array_equal(one, other)


def test_never_is_worse_than_any_value() -> None:
    days = np.array([[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, NEVER, NEVER]])
    assert kept_by(days, ONES, 0.8, "less") == [8.0]
    assert kept_by(days, ONES, 0.8, "more") == [1.0]
    assert math.isnan(kept_by(days, ONES, 0.9, "less")[0])
    assert math.isnan(kept_by(days, ONES, 0.9, "more")[0])
    assert math.isnan(kept_by(np.full((1, 10), NEVER), ONES, 0.1, "less")[0])


def test_asking_for_more_days_never_gives_a_better_value() -> None:
    random = np.random.default_rng(3)
    values = np.where(random.random((50, 24)) < 0.2, NEVER, random.random((50, 24)))
    weight = random.random(24)
    shares = (0.5, 0.6, 0.8, 0.95, 1.0)
    table = np.array([kept_by(values, weight, share, "less") for share in shares])
    for easy, hard in itertools.pairwise(table):
        assert np.all(np.isnan(hard) | (easy <= hard))
    assert np.isnan(table[-1]).any()
    assert not np.isnan(table[0]).any()


def test_means() -> None:
    values, weight = np.array([[1.0, 4.0, NEVER], [1.0, 4.0, 7.0]]), np.array([1.0, 2.0, 1.0])
    np.testing.assert_array_equal(mean_of_all(values, weight), [NEVER, 4.0])
    np.testing.assert_array_equal(mean_of_reached(values, weight), [3.0, 4.0])
    np.testing.assert_array_equal(mean_of_all(values, np.array([1.0, 2.0, 0.0])), [3.0, 3.0])
    assert math.isnan(mean_of_reached(np.full((1, 3), NEVER), weight)[0])


def test_the_worst_month_is_that_of_the_worst_middle_day() -> None:
    month = np.array([1, 1, 1, 7, 7, 7])
    days = np.array([[1.0, 2.0, 30.0, 4.0, 5.0, 6.0], [1.0, 2.0, 3.0, 4.0, NEVER, NEVER]])
    np.testing.assert_array_equal(worst_month(days, np.ones(6), month, "less"), [5.0, NEVER])
    np.testing.assert_array_equal(worst_month(days, np.ones(6), month, "more"), [2.0, NEVER])
    assert share_reached(Rule("worst month"), days, np.ones(6), month).tolist() == [1.0, pytest.approx(1 / 3)]
    assert share_reached(NINE_IN_TEN, days, np.ones(6), month).tolist() == [1.0, pytest.approx(2 / 3)]


def test_the_usual_way_is_no_single_rule() -> None:
    with pytest.raises(ValueError, match="differs from merit to merit"):
        judged(USUAL, np.ones((1, 10)), ONES, np.ones(10, np.int64), "less")


def test_rules_are_read_from_text() -> None:
    assert rule_of("usual") == USUAL
    assert rule_of("90 % of days") == NINE_IN_TEN
    assert rule_of("0.9 of days") == NINE_IN_TEN
    assert rule_of("mean").needed == 1.0
    assert rule_of("worst month") == Rule("worst month")
    for text, sentence in [
        ("best day", '"usual", "middle day", "mean", "worst month", or a share'),
        (3, "or a share such as"),
        ("40 % of days", "allowed above 50 % and up to 100 %"),
        ("101 % of days", "allowed above 50 %"),
        ("many of days", "does not start with a number"),
    ]:
        with pytest.raises(QuantityError, match=sentence):
            rule_of(text)


def test_meanings_say_how_they_are_judged() -> None:
    assert meaning_of("time_to_done").endswith("on the middle one of the days")
    assert (
        meaning_of("time_to_done", NINE_IN_TEN, 8)
        == "loading to done, kept on 90 % of the days and of 8 draws"
    )
    assert meaning_of("peak_temperature", Rule("worst month")).endswith(
        "a day, on the middle day of the worst month"
    )
    assert "middle one" not in meaning_of("keep_warm_time", NINE_IN_TEN)
    assert meaning_of("mass", NINE_IN_TEN, 4).endswith(", over 4 draws")


DRAWN = Space(
    (
        Parameter(name="wind_share", kind="real", meaning="wind", low=0.3, high=1.2, dimension="share"),
        Parameter(name="food_mass", kind="real", meaning="food", low=0.5, high=0.7, dimension="mass"),
    )
)


def test_draws_are_spread_evenly_and_the_same_each_time() -> None:
    """A scrambled Sobol sequence of 2^k points has one in each of as many equal parts of every factor's range."""
    draws = common_draws(DRAWN, 8, seed=5)
    for parameter in DRAWN.parameters:
        low, high = parameter.range
        part = np.floor(8 * (draws[parameter.name] - low) / (high - low)).astype(int)
        assert sorted(part) == list(range(8))
    again, other = common_draws(DRAWN, 8, seed=5), common_draws(DRAWN, 8, seed=6)
    np.testing.assert_array_equal(draws["wind_share"], again["wind_share"])
    assert not np.any(draws["wind_share"] == other["wind_share"])


@pytest.fixture(scope="module")
def setting() -> Setting:
    """Six days of two months on which some ovens are done and others never."""
    plan = load(Path(__file__).parents[1] / "oven.toml").setting
    sky = plan.sky.only([0, 2, 4, 5, 7, 9])
    return replace(plan, rays=4, sky=sky, design=plan.design.with_factors(food_mass=0.8))


COLUMNS = {
    "facet_angle": np.radians([30.0, 20.0, 38.0, 5.0]),
    "insulation_thickness": np.array([0.05, 0.03, 0.02, 0.01]),
}
GOALS = ("time_to_done", "peak_temperature", "hold_time", "share_done", "plateau_temperature", "mass")


def _naive(values: list[tuple[float, float]], share: float, sign: float) -> float:
    """Value and weight of each sample: the value at which the share is reached, going from the best on."""
    whole, passed = sum(weight for _, weight in values), 0.0
    for value, weight in sorted(values, key=lambda pair: sign * pair[0] if pair[0] == pair[0] else math.inf):
        passed += weight
        if passed >= share * whole - 1e-9:
            return value
    return math.nan


def test_draws_are_the_model_run_one_by_one(setting: Setting) -> None:
    """The slow and obvious way: each draw's design run by itself, samples gathered in lists."""
    draws = common_draws(DRAWN, 4, seed=2)
    evaluate = OvenEvaluator(setting, GOALS, ("cover_over", "wind_over"), NINE_IN_TEN, draws)
    got = evaluate(COLUMNS)
    for row in range(4):
        days, dry, cover, wind = [], [], [], []
        for draw in range(4):
            factors = {name: float(column[row]) for name, column in COLUMNS.items()}
            factors |= {name: float(column[draw]) for name, column in draws.items()}
            one = setting.simulated(setting.design.with_factors(**factors)).isel(design=0)
            days += list(
                zip(
                    one["done_after"].values,
                    one["peak_contents"].values,
                    one["day_weight"].values,
                    strict=True,
                )
            )
            dry.append((float(one["plateau_temperature"]), 1.0))
            cover.append(float(one["cover_over"]))
            wind.append(float(one["wind_over"]))
        done = [(float(time), float(weight)) for time, _, weight in days]
        hottest = [(float(peak), float(weight)) for _, peak, weight in days]
        share = sum(weight for time, weight in done if time == time) / sum(weight for _, weight in done)
        expected = {
            "time_to_done": _naive(done, 0.9, 1.0),
            "peak_temperature": _naive(hottest, 0.9, -1.0),
            "share_done": share,
            "plateau_temperature": _naive(dry, 0.9, -1.0),
        }
        for name, value in expected.items():
            assert got.values[name][row] == pytest.approx(value, rel=1e-12, nan_ok=True), name
        assert got.margins["cover_over"][row] == pytest.approx(max(cover), rel=1e-12)
        assert got.margins["wind_over"][row] == pytest.approx(max(wind), rel=1e-12)
    missing = np.isnan(got.values["time_to_done"])
    assert (
        0 < missing.sum() < 4
    )  # the case is worth something: some are done on nine days in ten, some are not


def test_censored_goals_say_how_far_they_are(setting: Setting) -> None:
    for rule in (USUAL, Rule("middle"), NINE_IN_TEN, Rule("mean"), Rule("worst month")):
        evaluate = OvenEvaluator(setting, ("time_to_done", "share_done"), (), rule)
        got = evaluate(COLUMNS)
        time, short = got.values["time_to_done"], got.margins[reached_key("time_to_done")]
        np.testing.assert_array_equal(np.isnan(time), short > 0)
        missing = short > 0
        nearest_first = got.values["share_done"][missing][np.argsort(short[missing])]
        assert np.all(np.diff(nearest_first) <= 0)  # the nearest is done on most days


def test_one_draw_of_the_designs_own_values_changes_nothing(setting: Setting) -> None:
    """The usual way, worked from days here, beside the merits that the model makes itself."""
    own = {"wind_share": np.array([setting.design.value("wind_share")])}
    names = (*GOALS, "time_to_safe", "share_safe", "cook_value", "light_to_pot", "keep_warm_time", "reaims")
    plain = OvenEvaluator(setting, names, ("cover_over",))(COLUMNS)
    drawn = OvenEvaluator(setting, names, ("cover_over",), draws=own)(COLUMNS)
    for name in names:
        np.testing.assert_allclose(drawn.values[name], plain.values[name], rtol=1e-12, err_msg=name)
    for name in plain.margins:
        np.testing.assert_allclose(drawn.margins[name], plain.margins[name], rtol=1e-12, err_msg=name)


def test_rows_may_be_split_in_any_way(setting: Setting) -> None:
    draws = common_draws(DRAWN, 4, seed=2)
    evaluate = OvenEvaluator(setting, GOALS, ("cover_over",), Rule("worst month"), draws)
    whole = evaluate(COLUMNS)
    for row in range(4):
        one = evaluate({name: column[row : row + 1] for name, column in COLUMNS.items()})
        for name in GOALS:
            np.testing.assert_array_equal(one.values[name][0], whole.values[name][row])
        np.testing.assert_array_equal(one.margins["cover_over"][0], whole.margins["cover_over"][row])


def test_draws_that_light_cannot_see_are_not_traced_again(
    setting: Setting, monkeypatch: pytest.MonkeyPatch
) -> None:
    import noonhearth.model.sunlight as sunlight

    traced: list[int] = []
    shares_of = sunlight.beam_shares_of_ways

    def counted(ovens: object, oven: np.ndarray, *arguments: object, **named: object) -> object:
        traced.append(len(oven))
        return shares_of(ovens, oven, *arguments, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(sunlight, "beam_shares_of_ways", counted)
    columns: Columns = {"facet_angle": COLUMNS["facet_angle"]}
    OvenEvaluator(setting, GOALS, (), NINE_IN_TEN, common_draws(DRAWN, 4, seed=2))(columns)
    assert sum(traced) == 4  # one for each design, not for each of its draws
    dust = {"soiling": np.array([0.0, 0.1])}
    OvenEvaluator(setting, GOALS, (), NINE_IN_TEN, dust)(columns)
    assert sum(traced) == 12  # dust is seen by light


def test_a_design_that_fails_in_one_draw_has_failed(setting: Setting) -> None:
    """One draw of the food does not fit into the pot; the model says so of that design alone."""
    draws = {"food_mass": np.array([0.5, 30.0])}
    got = OvenEvaluator(setting, ("time_to_done", "mass"), (), NINE_IN_TEN, draws)(COLUMNS)
    over = setting.simulated(Table(setting.design, {"food_mass": np.array([30.0])}, 1))
    assert int(over["status"][0]) != 0
    assert got.status.tolist() == [int(over["status"][0])] * 4


def test_better_days_are_counted_pair_by_pair(setting: Setting) -> None:
    evaluate = OvenEvaluator(setting, ("time_to_done", "peak_temperature"))
    ran = evaluate.ran(COLUMNS)
    gain, share = evaluate.better_days(ran, "time_to_done")
    done, weight = ran["done_after"].values, setting.sky.day_weight
    for row in range(4):
        pairs = [(o - c, w) for c, o, w in zip(done[0], done[row], weight, strict=True) if c == c and o == o]
        wins = sum(
            w for c, o, w in zip(done[0], done[row], weight, strict=True) if c == c and (o != o or o > c)
        )
        assert gain[row] == pytest.approx(_naive(pairs, 0.5, 1.0), nan_ok=True)
        assert share[row] == pytest.approx(wins / weight.sum())
    assert (gain[0], share[0]) == (0.0, 0.0)  # beside itself
    hotter, _ = evaluate.better_days(ran, "peak_temperature")
    assert hotter[3] > 0  # an oven as steep as that stays colder
