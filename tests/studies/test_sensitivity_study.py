"""Sensitivity of an oven: weather as a factor, sides, groups and distributions, from a config and from Python."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import Sky
from noonhearth.studies import ConfigError, Running, StudyError, load
from noonhearth.studies.judging.evaluate import OvenEvaluator
from noonhearth.studies.judging.single_days import DAY, SingleDayEvaluator, by_brightness, day_factor
from noonhearth.studies.results.store import read, write
from noonhearth.studies.run import Failure, carry_out

OVEN = Path(__file__).parents[1] / "oven.toml"
VARY = {
    "insulation_thickness": {"triangle": ["20 mm", "50 mm", "60 mm"]},
    "wind_share": ["20 %", "150 %"],
    "soiling": {"normal": ["4 %", "3 %"]},
    "food_mass": ["0.5 kg", "0.7 kg"],
}
SIDES = {"suffered": ["wind_share", "soiling"], "weather": True}


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    return replace(load(OVEN).setting, rays=4)


@pytest.fixture(scope="module")
def short(setting: studies.Setting) -> studies.Setting:
    """A mixed sky, its two dullest days made so dark that nothing cooks on them."""
    sky = setting.sky.only([0, 1, 3, 10, 11, 13])
    dark = np.where(np.isin(np.arange(6), by_brightness(sky)[:2]), 0.25, 1.0)[:, np.newaxis]
    return replace(setting, sky=replace(sky, dni=dark * sky.dni, dhi=dark * sky.dhi, ghi=dark * sky.ghi))


@pytest.fixture(scope="module")
def found(short: studies.Setting) -> xr.Dataset:
    return studies.sensitivity(
        short,
        vary=VARY,
        outputs=["time_to_done", "peak_temperature", "mass"],
        base_samples=64,
        groups={"dirt_and_wind": ["soiling", "wind_share"]},
        running=Running(workers=2),
        **SIDES,
    )


def test_days_come_as_often_as_they_weigh(setting: studies.Setting) -> None:
    sky = setting.sky
    uneven = replace(sky, day_weight=np.arange(1.0, 1.0 + sky.days))
    day = day_factor(uneven)
    numbers, counts = np.unique(day.from_unit((np.arange(21_000) + 0.5) / 21_000), return_counts=True)
    assert numbers.tolist() == list(range(1, sky.days + 1))
    weight = uneven.day_weight[by_brightness(uneven)]
    np.testing.assert_allclose(counts / 21_000, weight / weight.sum(), atol=1e-4)
    light = uneven.ghi.sum(axis=1)[by_brightness(uneven)]
    assert (np.diff(light) >= 0).all()


def test_each_row_runs_on_its_own_day_only(short: studies.Setting, monkeypatch: pytest.MonkeyPatch) -> None:
    """The outcome of a row is that of its day in a run of all days; no other day is simulated."""
    thickness = np.array([0.03, 0.05, 0.03, 0.05, 0.04])
    number = np.array([4, 1, 6, 4, 1])
    designs = [short.design.with_factors(insulation_thickness=float(x)) for x in thickness]
    days = by_brightness(short.sky)[number - 1]
    lanes = []
    plain = OvenEvaluator.__call__

    def counting(self: OvenEvaluator, columns: dict[str, np.ndarray]) -> object:
        lanes.append((self.setting.sky.days, len(columns["insulation_thickness"])))
        return plain(self, columns)

    monkeypatch.setattr(OvenEvaluator, "__call__", counting)
    evaluate = SingleDayEvaluator(short, ("time_to_done", "peak_temperature"))
    outcomes = evaluate({"insulation_thickness": thickness, DAY: number})
    whole = short.simulated(designs)
    for row, (design, day) in enumerate(zip(designs, days, strict=True)):
        alone = replace(short, sky=short.sky.only([int(day)])).simulated(design)
        for name in ("time_to_done", "peak_temperature"):
            np.testing.assert_array_equal(outcomes.values[name][row], alone[name].values[0])
        # Sky light is read between tilts that suit all the days of a run: a tenth of a kelvin.
        among = float(whole["peak_contents"][row, day])
        assert outcomes.values["peak_temperature"][row] == pytest.approx(among, abs=0.15)
    assert sorted(lanes[:3]) == [(1, 1), (1, 2), (1, 2)]


def test_chunks_workers_and_interruption_change_nothing(
    short: studies.Setting, found: xr.Dataset, tmp_path: Path
) -> None:
    keys = {"vary": VARY, "base_samples": 64, "groups": {"dirt_and_wind": ["soiling", "wind_share"]}, **SIDES}
    keys["outputs"] = ["time_to_done", "peak_temperature", "mass"]

    def stop(name: str, done: int, total: int, failed: int) -> None:
        if done > 100:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        studies.sensitivity(short, running=Running(scratch=tmp_path, watch=stop), **keys)
    told: list[int] = []
    running = Running(scratch=tmp_path, watch=lambda name, done, total, failed: told.append(total))
    xr.testing.assert_identical(studies.sensitivity(short, running=running, **keys), found)
    assert told[-1] < found.attrs["designs"]


def test_the_weather_outweighs_what_is_decided_on_a_mixed_sky(found: xr.Dataset) -> None:
    """Physics from outside: under a cloud no thickness of wool makes beans; mass knows no weather at all."""
    last = found.isel(base_samples=-1)
    peak = last.sel(output="peak_temperature")
    share = peak["side_first"].sel(side="suffered") - peak["side_first_half_width"].sel(side="suffered")
    assert float(share) > float(peak["side_first"].sel(side="decided"))
    assert float(peak["pawn_moves"].sel(drawn="day")) == 1
    mass = last.sel(output="mass")
    assert float(mass["side_total"].sel(side="suffered")) == 0.0
    assert float(mass["total"].sel(factor="day")) == 0.0
    assert mass["pawn_moves"].values.tolist() == [1, 0, 0, 0, 0]
    assert found["drawn_side"].values.tolist() == ["decided", "suffered", "suffered", "decided", "suffered"]
    assert found["factor"].values.tolist() == ["insulation_thickness", "dirt_and_wind", "food_mass", "day"]


def test_days_that_never_cook_are_told_and_not_made_up(found: xr.Dataset) -> None:
    one = found.sel(output="time_to_done")
    never = np.isnan(one["sampled"].values).mean()
    assert float(one["never_share"]) == pytest.approx(never)
    assert 0.1 < never < 0.9
    assert int(one["analysed"]) == 0
    assert float(one["reached_total"].sel(factor="day")[-1]) > 0.5
    assert float(one["pawn_moves"].sel(drawn="day")) == 1
    told = studies.sentences(found)
    assert any(f"never reached in {100 * never:.0f} % of the designs" in s for s in told)
    assert any("whether time to done is reached" in s and "day" in s for s in map(str.lower, told))


def test_words_say_whose_hand_it_is_in(found: xr.Dataset) -> None:
    told = studies.sentences(found)
    assert told[0] == (
        "What you decide here: insulation thickness and food mass. "
        "What weather and workmanship do: wind share, soiling and day."
    )
    assert any("of the variance of mass" in s and "weather and workmanship 0 % (0 to 0 %)" in s for s in told)
    assert "So over these ranges the design is the bigger lever on mass." in told
    assert "Dirt and wind is a group, moved together: wind share, soiling." in told
    (drawn,) = [s for s in told if s.startswith("All this holds")]
    assert "insulation thickness: 20 mm to 60 mm, most often near 50 mm" in drawn
    assert "soiling: normal, 4 % with a standard deviation of 3 %" in drawn
    assert drawn.endswith("Each design met one of the days, drawn as often as it comes.")


def test_figures_hold_every_number(found: xr.Dataset) -> None:
    drawings = {drawing.name: drawing for drawing in studies.drawn(found)}
    assert list(drawings) == ["indices", "overview", "sides", "ranks", "convergence"]
    assert len(drawings["indices"].table) == 3 * 4
    assert len(drawings["ranks"].table) == 3 * 5
    sides = drawings["sides"].table
    assert sides.groupby("output")["share"].sum().to_numpy() == pytest.approx(1.0)


CONFIG = """
[[study]]
kind = "sensitivity"
base = "config"
outputs = ["plateau_temperature"]
base_samples = 16
suffered = ["soiling", "wind_share"]
[study.groups]
shell = ["insulation_thickness", "skin_thickness"]
[study.vary]
insulation_thickness = { triangle = ["20 mm", "50 mm", "60 mm"] }
skin_thickness = ["3 mm", "12 mm"]
soiling = { normal = ["4 %", "3 %"] }
wind_share = ["20 %", "150 %"]
"""


def _configured(tmp_path: Path, study: str) -> Path:
    text = (
        OVEN.read_text("utf-8")
        .replace("days_per_month = 5", "days_per_month = 1")
        .replace("rays = 16", "rays = 4")
    )
    path = tmp_path / "oven.toml"
    path.write_text(text[: text.index("[[study]]")] + study, "utf-8")
    return path


def test_a_config_and_a_call_are_the_same_study(tmp_path: Path) -> None:
    plan = load(_configured(tmp_path, CONFIG))
    (result,) = carry_out(plan, running=Running())
    assert not isinstance(result, Failure)
    keys = tomllib.loads(CONFIG)["study"][0]
    called = studies.sensitivity(plan.setting, **{k: v for k, v in keys.items() if k not in ("kind", "base")})
    xr.testing.assert_equal(result.dataset, called)
    path = tmp_path / "kept.nc"
    write(result.dataset, path)
    again = read(path)
    xr.testing.assert_equal(again, result.dataset)
    assert studies.sentences(again) == studies.sentences(called)
    assert [d.name for d in studies.drawn(again)] == ["indices", "sides", "ranks", "convergence"]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            ('shell = ["insulation_thickness", "skin_thickness"]', 'shell = ["soot"]'),
            "study[1].groups.shell: soot does",
        ),
        (
            ('shell = ["insulation_thickness", "skin_thickness"]', "shell = []"),
            "groups.shell: name at least one",
        ),
        (
            ('shell = ["insulation_thickness", "skin_thickness"]', 'soiling = ["wind_share"]'),
            "is the name of a factor",
        ),
        (
            ('"skin_thickness"]\n[', '"skin_thickness"]\nother = ["skin_thickness"]\n['),
            "skin_thickness is already in groups.shell",
        ),
        (
            ('"skin_thickness"]\n[', '"skin_thickness", "soiling", "wind_share"]\n['),
            "one thing only to compare",
        ),
        (('["soiling", "wind_share"]', '["dust"]'), "study[1].suffered: dust does not vary"),
        (
            (
                '["soiling", "wind_share"]',
                '["soiling", "wind_share", "insulation_thickness", "skin_thickness"]',
            ),
            "nothing that varies is left to be decided",
        ),
        (("base_samples = 16", "base_samples = 16\nweather = 1"), "study[1].weather"),
        (("base_samples = 16", "base_samples = 24"), "must be a power of two"),
    ],
)
def test_what_cannot_be_is_said_before_anything_runs(
    tmp_path: Path, change: tuple[str, str], sentence: str
) -> None:
    assert change[0] in CONFIG
    with pytest.raises(ConfigError) as refusal:
        load(_configured(tmp_path, CONFIG.replace(*change)))
    assert sentence in str(refusal.value)


def test_one_day_is_no_weather(setting: studies.Setting) -> None:
    single = replace(setting, sky=setting.sky.only([2]))
    for study in (studies.sensitivity, studies.screening):
        with pytest.raises(StudyError, match="weather = true: the sky has one day only"):
            study(single, vary=VARY, outputs=["mass"], weather=True)


@pytest.mark.parametrize(
    ("study", "keys"),
    [
        ("search", {"goals": ["mass"]}),
        ("budget", {}),
        ("season", {"goal": "mass", "months": [1], "latitudes": ["10 deg"]}),
    ],
)
def test_studies_that_choose_go_by_ends(
    setting: studies.Setting, study: str, keys: dict[str, object]
) -> None:
    with pytest.raises(StudyError, match=r"vary\.soiling: normal is for studies that sample"):
        getattr(studies, study)(setting, vary=VARY, **keys)


@pytest.fixture(scope="module")
def screened(short: studies.Setting) -> xr.Dataset:
    vary = VARY | {
        "skin_thickness": ["3 mm", "3.1 mm"],
        "leak_area": {"log_uniform": ["0.99 cm2", "1.01 cm2"]},
    }
    sky: Sky = short.sky.only([1, 4])
    return studies.screening(
        replace(short, sky=sky),
        vary=vary,
        outputs=["mass", "plateau_temperature"],
        trajectories=6,
    )


def test_a_screening_says_what_to_write(screened: xr.Dataset) -> None:
    told = studies.sentences(screened)
    assert screened["may_fix"].sel(factor="leak_area") == 1
    (may,) = [s for s in told if s.startswith("May be fixed")]
    assert "leak area at 1 cm2" in may  # the design's own
    (reduce,) = [s for s in told if s.startswith("For the next study")]
    assert "take" in reduce
    assert "leak_area" in reduce
    assert "out of [study.vary]" in reduce
    checked = [s for s in told if s.startswith("Checked on 6 designs")]
    assert len(checked) == 2


def test_a_screening_with_weather_speaks_of_vary_only(short: studies.Setting) -> None:
    """The day is no entry of the vary table: it can neither go on varying there nor be taken out."""
    vary = {"food_mass": ["0.5 kg", "0.7 kg"], "skin_thickness": ["3 mm", "12 mm"]}
    found = studies.screening(short, vary=vary, outputs=["mass"], trajectories=4, weather=True)
    assert found["factor"].values.tolist() == ["food_mass", "skin_thickness", "day"]
    (reduce,) = [s for s in studies.sentences(found) if s.startswith("For the next study")]
    assert reduce == (
        "For the next study take food_mass out of [study.vary] and leave weather out; skin_thickness goes on varying. "
        "The design's own values then stand."
    )


def test_fixing_is_tried_on_the_designs_sampled(screened: xr.Dataset, short: studies.Setting) -> None:
    """First designs of trajectories, run by hand with what may be fixed at the design's own value."""
    setting = replace(short, sky=short.sky.only([1, 4]))
    factors = json.loads(screened.attrs["space"])
    fixed = [str(n) for n in screened["factor"].values[screened["may_fix"].values == 1]]
    assert {"leak_area", "skin_thickness"} & set(fixed)
    again = screened["fixed"].sel(output="plateau_temperature").values
    for row in range(2):
        u = screened["u"].values[row, 0]
        values = {f["name"]: _at(f, share) for f, share in zip(factors, u, strict=True)}
        values |= {name: short.design.value(name) for name in fixed if name != "skin_thickness"}
        if "skin_thickness" in fixed:  # its own 6 mm lie outside the range studied: fixed in the middle
            values["skin_thickness"] = 0.00305
        plateau = setting.simulated(short.design.with_factors(**values))["plateau_temperature"]
        assert float(plateau[0]) == pytest.approx(again[row], abs=1e-6)


def _at(factor: dict[str, float], share: float) -> float:
    low, high = factor["low"], factor["high"]
    return low * (high / low) ** share if factor["log"] else low + share * (high - low)
