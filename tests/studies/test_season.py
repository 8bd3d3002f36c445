"""The season study on ovens: suns and mirrored seasons from outside, a best against a grid, and what it says."""

import datetime
import itertools
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pvlib
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import Place, Table, clearness_sky
from noonhearth.studies import Running, Setting, StudyError
from noonhearth.studies.asking.skies import AirSection, ClearSection, FileSection, air_of
from noonhearth.studies.config import ConfigError, load
from noonhearth.studies.judging.evaluate import OvenEvaluator
from noonhearth.studies.kinds.region import Cell, latitude_text, month_sky
from noonhearth.studies.kinds.season import SEASON
from noonhearth.studies.results import store
from noonhearth.studies.run import Result, carry_out
from noonhearth.studies.telling import figures, report
from noonhearth.studies.telling.words.season_phrases import cells_text

ROOT = Path(__file__).parents[2]
OVEN = ROOT / "tests/oven.toml"
AIR = {"low": "18 degC", "high": "32 degC", "dew_point": "6 degC", "wind_speed": "2 m/s"}
CLEAR = {"source": "clear", "start": "10:00", "stop": "14:00", "turbidity": 3, "air": AIR}
VARY = {"facet_angle": ["20 deg", "42 deg"], "azimuth_every": ["10 min", "90 min"]}
TINY = {"vary": VARY, "goal": "time_to_done", "designs": 12, "rounds": 1, "sky": CLEAR}
DEG = math.pi / 180


@pytest.fixture(scope="module")
def setting() -> Setting:
    """The test oven under few rays, on the meridian of Greenwich."""
    setting = load(OVEN).setting
    place = replace(setting.sky.place, longitude=0.0, timezone="UTC")
    return replace(setting, rays=4, sky=replace(setting.sky, place=place))


@pytest.fixture(scope="module")
def season(setting: Setting) -> xr.Dataset:
    """A small region from north to south."""
    return studies.season(
        setting,
        latitudes=["50 deg", "0 deg", "-35 deg"],
        months=[6, 12],
        weights=[1, 2, [3, 4]],
        rather="reaims",
        slack="6 min",
        limits=["cover_over"],
        **TINY | {"designs": 20},
    )


# Declination on the mean day of some months: Duffie & Beckman, Solar Engineering of Thermal Processes, 4th ed. (2013),
# table 1.6.1, in degrees (from memory). Spring and autumn are left out: the table's formula (Cooper 1969) has the sun
# cross the equator on 22 March and 21 September, up to two days beside the equinoxes, and that is 0.8 degrees.
DECLINATION = {1: -20.9, 6: 23.1, 7: 21.2, 12: -23.0}


def test_noon_suns_stand_where_declination_puts_them(setting: Setting) -> None:
    """90 deg - |latitude - declination| (same, section 1.6); refraction lifts a low sun by 0.1 deg."""
    latitudes = (50, 20, 0, -20, -35)
    work = SEASON.work(
        setting, latitudes=[f"{one} deg" for one in latitudes], months=list(DECLINATION), **TINY
    )
    expected = [90 - abs(one - declination) for one in latitudes for declination in DECLINATION.values()]
    cells: tuple[Cell, ...] = work.ready
    assert [cell.sky.elevation.max() / DEG for cell in cells] == pytest.approx(expected, abs=0.35)


def test_mirrored_seasons_ask_for_the_same_oven(setting: Setting) -> None:
    """30 deg N in January is 30 deg S in July: declinations -20.9 and 21.2 deg (table 1.6.1 of Duffie & Beckman), so
    the suns run alike, in a mirror. The earth is nearer in January: 1.032 and 0.968 of the mean irradiance by their
    eq. 1.4.1a, 6.5 % (from memory). Longitudes undo the equation of time, -9.3 and -6.0 min by their eq. 1.5.3.

    What warms against small losses takes as much longer as its sun is weaker.
    """
    north_of, south_of = (
        {"name": n, "latitude": f"{x} deg", "timezone": "UTC"} for n, x in (("n", 30), ("s", -30))
    )
    sites = [
        north_of | {"longitude": "2.32 deg", "weights": [1, 0]},
        south_of | {"longitude": "1.50 deg", "weights": [0, 1]},
    ]
    keys = TINY | {"designs": 48, "rounds": 2}
    found = studies.season(replace(setting, rays=64), site=sites, months=[1, 7], **keys)
    assert found["place"].to_numpy().tolist() == ["n", "s"]
    north, south = found["time_to_done"].to_numpy().T
    ran = np.isfinite(north) & np.isfinite(south)
    assert ran.sum() > 40
    weaker = (1 + 0.033 * math.cos(2 * math.pi * 17 / 365)) / (1 + 0.033 * math.cos(2 * math.pi * 198 / 365))
    ratio = (south / north)[ran]
    assert np.median(ratio) == pytest.approx(weaker, rel=0.01)
    assert ratio == pytest.approx(np.full(ratio.size, weaker), rel=0.03)
    # The best of one hemisphere loses next to nothing in the other: under 1 % of the time.
    regret, best = found["regret"].to_numpy(), found["best_design"].to_numpy()
    for cell in (0, 1):
        assert regret[best[cell], 1 - cell] < 0.01 * float(found["best"][1 - cell])


def test_the_best_of_a_cell_is_that_of_a_fine_grid(setting: Setting) -> None:
    """Every design of a 12 x 12 grid run by itself: the pool of 40 finds one as good, to half a minute."""
    keys = TINY | {"designs": 40, "rounds": 4}
    found = studies.season(setting, latitudes=["20 deg"], months=[4], **keys)
    angle = np.linspace(20, 42, 12) * DEG
    every = np.linspace(600, 5400, 12)
    grid = np.array(list(itertools.product(angle, every))).T
    place = replace(setting.sky.place, latitude=20 * DEG, name="grid")
    section = ClearSection.model_validate(CLEAR)
    sky = month_sky(section, place, 4, 5, Path())
    table = Table(setting.design, {"facet_angle": grid[0], "azimuth_every": grid[1]}, grid.shape[1])
    times = replace(setting, sky=sky).simulated(table, evening=False)["time_to_done"].to_numpy()
    assert float(found["best"][0]) <= np.nanmin(times) + 30.0
    assert np.nanmax(times) - np.nanmin(times) > 600.0  # the grid is no plain


def test_the_verdict_is_that_of_the_design_in_each_cell(setting: Setting, season: xr.Dataset) -> None:
    row, goal = int(season.attrs["built"]), season["time_to_done"]
    np.testing.assert_array_equal(season["chosen_time_to_done"], goal[row])
    np.testing.assert_array_equal(season["chosen_reaims"], season["reaims"][row])
    best = np.fmin.reduce(goal.where(season["margin_cover_over"] <= 0).to_numpy(), axis=0)
    np.testing.assert_array_equal(season["regret"][row], goal[row] - best)
    for cell, fitting in enumerate(season["fitting_design"].to_numpy()):
        within = season["regret"][:, cell].to_numpy() <= 360.0
        assert within[fitting]
        assert season["reaims"][fitting, cell] == season["reaims"].to_numpy()[within, cell].min()


def test_weights_decide(season: xr.Dataset) -> None:
    assert season["weight"].to_numpy().tolist() == [1, 1, 2, 2, 3, 4]
    regret, weight = season["regret"].to_numpy(), season["weight"].to_numpy()
    row = int(np.nanargmax(season["served"]))
    has = ~np.isnan(regret[row])
    by_hand = sum(w * r for w, r in zip(weight[has], regret[row][has], strict=True)) / weight[has].sum()
    assert float(season["mean_regret"][row]) == pytest.approx(by_hand, rel=1e-12)


def test_workers_and_interrupts_change_no_number(
    setting: Setting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = {"latitudes": ["20 deg", "-20 deg"], "months": [3, 6], **TINY, "sky": CLEAR | {"stop": "12:00"}}
    plain = studies.season(setting, **keys)
    xr.testing.assert_identical(plain, studies.season(setting, running=Running(workers=2), **keys))
    calls, whole = itertools.count(), OvenEvaluator.__call__

    def stopping(self: OvenEvaluator, columns: Any) -> Any:
        if next(calls) == 5:
            raise KeyboardInterrupt
        return whole(self, columns)

    monkeypatch.setattr(OvenEvaluator, "__call__", stopping)
    with pytest.raises(KeyboardInterrupt):
        studies.season(setting, running=Running(scratch=tmp_path), **keys)
    before = next(calls)
    xr.testing.assert_identical(plain, studies.season(setting, running=Running(scratch=tmp_path), **keys))
    assert next(calls) - before - 1 < 8  # two rounds in four cells, less what was kept
    other = keys | {"months": [4, 6]}  # what was kept of one region is no news of another
    kept = studies.season(setting, running=Running(scratch=tmp_path), **other)
    xr.testing.assert_identical(kept, studies.season(setting, **other))


def test_a_site_has_the_days_of_its_own_table(setting: Setting) -> None:
    clearness = {
        "source": "clearness",
        "months": [1, 7],
        "clearness": [0.7, 0.3],
        "start": "10:00",
        "stop": "12:00",
    }
    sites = [
        {"name": "bright", "latitude": "10 deg", "longitude": "0 deg", "timezone": "UTC"},
        {
            "name": "dull",
            "latitude": "10 deg",
            "longitude": "0 deg",
            "timezone": "UTC",
            "sky": clearness | {"air": AIR},
        },
    ]
    work = SEASON.work(setting, site=sites, months=[7], days_per_month=3, **TINY)
    bright, dull = work.ready
    assert (bright.sky.days, dull.sky.days) == (1, 3)
    assert bright.loaded_at == "10:00"
    again = clearness_sky(
        dull.place,
        start=datetime.time(10),
        stop=datetime.time(12),
        air=air_of(AirSection.model_validate(AIR)),
        months=[7],
        clearness=[0.3],
        days_per_month=3,
    )
    np.testing.assert_array_equal(dull.sky.ghi, again.ghi)


def test_few_days_of_a_file_stand_for_its_month() -> None:
    """Three of a weather file's March days: a dull, a middling and a bright one, each for a third of the month."""
    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    place = Place(
        latitude=36.1 * DEG, longitude=-79.95 * DEG, altitude=273.0, timezone="UTC-05:00", name="station"
    )
    section = FileSection.model_validate(
        {"source": "file", "path": path.name, "start": "09:00", "stop": "15:00"}
    )
    few = month_sky(section, place, 3, 3, path.parent)
    every = month_sky(section, place, 3, 28, path.parent)
    assert few.day_weight.tolist() == [31 / 3] * 3
    beam = few.beam_day
    assert beam[0] < beam[1] < beam[2]
    assert np.isin(beam, month_sky(section, place, 3, 31, path.parent).beam_day).all()
    whole = float(every.day_weight @ every.beam_day) / 31
    assert float(few.day_weight @ beam) / 31 == pytest.approx(whole, rel=0.15)


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({}, "latitudes: give either latitudes, or a"),
    ({"latitudes": ["10 deg", "10 deg"]}, "latitudes: 10 deg N stands there twice"),
    ({"latitudes": ["10 deg"], "months": [3, 3]}, "months: March stands there twice"),
    ({"latitudes": ["10 deg"], "sky": None}, "sky: is missing"),
    ({"latitudes": ["10 deg", "0 deg"], "weights": [1]}, "weights: 1 for 2 latitudes"),
    ({"latitudes": ["10 deg"], "weights": [[1, 2, 3]]}, "weights[1]: 3 numbers where months has 1"),
    ({"latitudes": ["10 deg"], "weights": [0]}, "weights: all are 0"),
    ({"latitudes": ["10 deg"], "weights": ["many"]}, "'many' is not a weight"),
    ({"latitudes": ["10 deg"], "rather": "time_to_done"}, 'rather = "time_to_done": is the goal itself'),
    ({"latitudes": ["10 deg"], "rather": "reaims"}, "slack: is missing"),
    ({"latitudes": ["10 deg"], "rather": "reaims", "slack": "5 deg"}, 'slack: "5 deg" is an angle'),
    ({"latitudes": ["10 deg"], "goal": "time_to_dine"}, '"time_to_dine" is no merit'),
    ({"latitudes": ["82 deg"], "months": [6, 12]}, "latitudes: 82 deg N in December: the sun stays down"),
    ({"latitudes": ["10 deg"], "sky": CLEAR | {"dates": ["2001-03-01"]}}, "sky.dates: leave them out"),
    (
        {
            "latitudes": ["10 deg"],
            "sky": {"source": "file", "path": "x.epw", "start": "9:00", "stop": "12:00"},
        },
        "sky: a weather file knows one place",
    ),
    (
        {"site": [{"name": "a", "latitude": "95 deg", "longitude": "0 deg", "timezone": "UTC"}]},
        "site[1].latitude: ",
    ),
    (
        {"site": [{"name": "a", "latitude": "5 deg", "longitude": "0 deg", "timezone": "Moon/Sea"}]},
        "site[1].timezone = 'Moon/Sea'",
    ),
    (
        {
            "site": [
                {
                    "name": "a",
                    "latitude": "5 deg",
                    "longitude": "0 deg",
                    "timezone": "UTC",
                    "sky": CLEAR | {"source": "clearness", "months": [1], "clearness": [0.6]},
                }
            ]
        },
        "turbidity",
    ),
]


@pytest.mark.parametrize(("keys", "said"), FAULTS, ids=[said[:40] for _, said in FAULTS])
def test_a_region_that_cannot_be_is_refused(setting: Setting, keys: dict[str, Any], said: str) -> None:
    with pytest.raises(StudyError) as raised:
        studies.season(setting, **{"months": [3], **TINY, **keys})
    assert said in str(raised.value)


def test_a_place_left_out_by_its_weight_needs_no_sun(setting: Setting) -> None:
    """82 deg N has no sun in December; with weight 0 nobody asks for it."""
    work = SEASON.work(setting, latitudes=["82 deg"], months=[6, 12], weights=[[1, 0]], **TINY)
    cells: tuple[Cell, ...] = work.ready
    assert [(cell.place.name, cell.month) for cell in cells] == [("82 deg N", 6)]


@pytest.mark.parametrize(("degrees", "said"), [(13.5, "13.5 deg N"), (-20.0, "20 deg S"), (0.0, "equator")])
def test_latitudes_are_said_as_one_says_them(degrees: float, said: str) -> None:
    assert latitude_text(degrees * DEG) == said


CONFIG = """
[[study]]
kind = "season"
goal = "time_to_done"
rather = "reaims"
slack = "5 min"
latitudes = ["13.5 deg", "0 deg"]
months = [11, 1]
days_per_month = 2
designs = 10
rounds = 1
[study.vary]
facet_angle = ["20 deg", "38 deg"]
mirror = ["anodised-sheet", "foil-on-card"]
"""


def written(tmp_path: Path, study: str) -> Path:
    text = OVEN.read_text("utf-8")
    path = tmp_path / "region.toml"
    path.write_text(text[: text.index("[[study]]")].replace("rays = 16", "rays = 4") + study, "utf-8")
    return path


def test_a_config_takes_its_sky_along(tmp_path: Path) -> None:
    """[sky] of the config, at each latitude; the result survives the file and says the same."""
    (result,) = carry_out(load(written(tmp_path, CONFIG)), running=Running())
    assert isinstance(result, Result)
    found = result.dataset
    assert found["sky"].to_numpy()[0].startswith("monthly clearness index")
    assert found.sizes["cell"] == 4
    assert result.design.value("facet_angle") == float(found["facet_angle"][int(found.attrs["built"])])
    store.write(found, tmp_path / "season.nc")
    again = store.read(tmp_path / "season.nc")
    assert report.sentences(again) == report.sentences(found)
    drawings = list(figures.drawn(again))
    assert [one.name for one in drawings] == ["best", "own", "lost", "days"]
    first, second = (
        [path.read_bytes() for one in figures.drawn(again) for path in figures.save(one, folder, prefix="s")]
        for folder in (tmp_path, tmp_path)
    )
    assert first == second
    assert all(len(one.table) == 4 for one in drawings)


def test_studies_after_it_start_from_what_it_builds(tmp_path: Path) -> None:
    day = '\n[[study]]\nkind = "day"\nbase = "chosen"\n'
    region, after = carry_out(load(written(tmp_path, CONFIG + day)), running=Running())
    assert isinstance(region, Result)
    assert isinstance(after, Result)
    built = region.design.value("facet_angle")
    assert float(after.dataset["facet_angle"][0]) == built
    with pytest.raises(ConfigError, match="nothing before it chooses a design"):
        load(written(tmp_path, day + CONFIG))


def test_months_without_clearness_are_named(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"study\[1\]\.sky: no clearness is given for March, July"):
        load(written(tmp_path, CONFIG.replace("[11, 1]", "[11, 3, 7]")))


def test_words_say_what_to_build_and_what_it_loses(season: xr.Dataset) -> None:
    said = report.sentences(season)
    text = " ".join(said)
    row = int(season.attrs["built"])
    assert said[0].startswith("Build this one for all of them: facet angle")
    served = int(season["regret"][row].notnull().sum())
    assert f"It serves {served} of 6 places and months" in text.replace("all 6", "6 of 6")
    assert ", weighted" in text
    assert "with the least reaims" in text
    assert "The design that the study started from" in text
    assert "20 designs tried in each of 6" in text


def changed(season: xr.Dataset, **values: Any) -> xr.Dataset:
    other = season.copy(deep=True)
    for name, value in values.items():
        other[name] = other[name].dims, np.asarray(value), other[name].attrs
    return other


def test_a_choice_at_the_end_of_its_range_is_said(season: xr.Dataset) -> None:
    angle, row = season["facet_angle"].to_numpy(), int(season.attrs["built"])
    for value, warned in ((angle.max(), True), ((angle.max() + angle.min()) / 2, False)):
        moved = angle.copy()
        moved[row] = value
        said = report.sentences(
            season.assign_coords(facet_angle=("design", moved, season["facet_angle"].attrs))
        )
        assert any("end of its range" in one and "facet angle" in one.lower() for one in said) == warned


def test_who_is_not_served_is_shouted(season: xr.Dataset) -> None:
    row = int(season.attrs["built"])
    regret, best = season["regret"].to_numpy().copy(), season["best_design"].to_numpy().copy()
    regret[row, 0] = np.nan
    regret[:, 5], best[5] = np.nan, -1
    text = " ".join(report.sentences(changed(season, regret=regret, best_design=best)))
    assert "NOTHING SERVES: 35 deg S in December. Not one of 20 designs" in text
    assert "IT DOES NOT SERVE: 50 deg N in June (over a limit, or never done); another design would" in text


@pytest.mark.parametrize(
    ("goal", "rather", "slack", "said"),
    [
        ("material_cost", "time_to_done", "2", "with the least time to done"),
        ("peak_temperature", "material_cost", "3 K", "within 3 K"),
        ("share_done", "reaims", "5 %", "within 5 %"),
        ("light_to_pot", None, None, "alone, the best one:"),
    ],
)
def test_any_merit_may_be_the_goal(
    setting: Setting, goal: str, rather: str | None, slack: str | None, said: str
) -> None:
    keys = TINY | {"goal": goal, "designs": 10}
    found = studies.season(setting, latitudes=["20 deg"], months=[4, 10], rather=rather, slack=slack, **keys)
    assert said in " ".join(report.sentences(found))
    assert len(list(figures.drawn(found))) == 4
    assert np.nanmin(found["regret"]) == 0


def test_months_in_a_row_are_told_from_when_to_when() -> None:
    months = ["January", "March", "May", "July", "September"]
    cells = xr.Dataset({"place": ("cell", ["a"] * 5 + ["b"] * 5), "month_name": ("cell", months * 2)})
    named = np.array([1, 1, 1, 0, 1, 1, 1, 1, 1, 1], bool)
    assert cells_text(cells, named) == "a in January to May and September; b in all 5 months"


def test_a_limit_exceeded_anywhere_shouts_with_its_place(season: xr.Dataset) -> None:
    over = season["chosen_cover_over"].to_numpy().copy()
    over[2:4] = 4.0, 12.3
    text = " ".join(report.sentences(changed(season, chosen_cover_over=over)))
    assert (
        "OVER A LIMIT: cover's inner face above its service limit, by up to 12 K (equator in December), in 2 of 6"
        in text
    )


def test_a_second_design_is_told_where_it_pays(season: xr.Dataset) -> None:
    attrs = {"least_of_one": 1500.0, "least_of_two": 300.0}
    used = np.repeat([season.attrs["first"], season.attrs["second"]], 3)
    text = " ".join(report.sentences(changed(season, used_design=used).assign_attrs(attrs)))
    assert "Two designs would do better" in text
    text = " ".join(report.sentences(season.assign_attrs(attrs | {"least_of_one": 301.0})))
    assert "A second design is not worth its templates" in text


def test_where_nothing_is_served_the_next_move_is_told(setting: Setting) -> None:
    """Loaded a quarter of an hour before the day's end, rice is done nowhere."""
    keys = TINY | {"designs": 8, "sky": CLEAR | {"stop": "10:15"}}
    found = studies.season(setting, latitudes=["10 deg"], months=[3], **keys)
    assert report.is_empty(found)
    assert np.isnan(found["regret"]).all()
    assert "Widen the ranges" in " ".join(report.sentences(found))
    assert not list(figures.drawn(found))
