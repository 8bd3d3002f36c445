"""What a search keeps of each design of its front: its day, bill, limits and pieces, in step with the model."""

import dataclasses
import datetime
import json
import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import LIMITS, MERITS, Air, Place, clearness_sky
from noonhearth.studies import Running, Setting, load, search
from noonhearth.studies.kinds import front_shown
from noonhearth.studies.kinds.site import SHINES, site_of
from noonhearth.studies.methods.thinned import thinned
from noonhearth.studies.results.merge import merge
from noonhearth.studies.run import Result, carry_out

OVEN = Path(__file__).parents[1] / "oven.toml"
VARY = {
    "facets": [6, 10],
    "facet_angle": ["22 deg", "36 deg"],
    "tiers": [1, 2],
    "azimuth_every": ["10 min", "90 min"],
}
ASKED = {"vary": VARY, "goals": ["time_to_done", "reaims"], "trials": 48, "population": 12}


@pytest.fixture(scope="module")
def setting() -> Setting:
    whole = load(OVEN).setting
    return dataclasses.replace(whole, rays=4, sky=whole.sky.only([0, 3, 7, 12]))


@pytest.fixture(scope="module")
def found(setting: Setting) -> xr.Dataset:
    return search(setting, **ASKED)


def design_of(found: xr.Dataset, setting: Setting, trial: int) -> Setting:
    values = {name: found[name].to_numpy()[trial].item() for name in VARY}
    return dataclasses.replace(setting, design=setting.design.with_factors(**values))


def test_the_whole_front_is_shown_and_says_what_the_trials_say(found: xr.Dataset) -> None:
    front = np.flatnonzero(found["on_front"].to_numpy() == 1)
    assert found["shown"].to_numpy().tolist() == front.tolist()
    assert len(front) > 3
    for goal in ("time_to_done", "reaims"):
        assert found[f"shown_{goal}"].to_numpy().tolist() == found[goal].to_numpy()[front].tolist()


def test_the_chosen_one_is_told_as_by_itself(found: xr.Dataset) -> None:
    one = found.sel(shown=found.attrs["chosen_trial"])
    for name in (*MERITS, *LIMITS):
        np.testing.assert_array_equal(one[f"shown_{name}"], found[f"chosen_{name}"])


def test_each_day_is_the_one_the_design_has(found: xr.Dataset, setting: Setting) -> None:
    day = int(found.attrs["shown_day"])
    ranked = setting.sky.ghi.sum(axis=1).argsort()
    assert day == ranked[len(ranked) // 2]
    assert found["shown_day_label"].item() == setting.sky.day_label[day]
    for trial in found["shown"].to_numpy()[:2]:
        whole = design_of(found, setting, int(trial)).simulated(histories=True).isel(design=0, day=day)
        one = found.sel(shown=trial)
        for kept, made in (
            ("food_temperature", whole["food_temperature"]),
            ("pot_temperature", whole["temperature"].sel(node="pot")),
            ("cover_temperature", whole["temperature"].sel(node="cover_inner")),
            ("pot_light", whole["absorbed"].sel(absorber="pot")),
            ("off_axis", whole["aim_off_axis"]),
            ("done_after", whole["done_after"]),
            ("safe_after", whole["safe_after"]),
        ):
            np.testing.assert_array_equal(one[f"shown_{kept}"], made)
    np.testing.assert_array_equal(found["shown_dni"], setting.sky.dni[day])


def test_bills_add_up(found: xr.Dataset) -> None:
    for part, merit in (("part_mass", "mass"), ("part_cost", "material_cost")):
        total = found[f"shown_{part}"].sum("part", skipna=False)
        np.testing.assert_allclose(total, found[f"shown_{merit}"], rtol=1e-12)


def test_pieces_are_those_of_the_measures(found: xr.Dataset) -> None:
    """A cover with its lap; facets as many as asked for, each tier its own; by the measures of a frustum."""
    for trial in found["shown"].to_numpy():
        one = found.sel(shown=trial)
        facets, tiers = int(found["facets"][trial]), int(found["tiers"][trial])
        counts = {str(p): int(n) for p, n in zip(one["piece"].values, one["shown_piece_count"], strict=True)}
        assert counts["cover"] == 1
        assert [counts.get(f"facet, tier {k}", 0) for k in (1, 2)] == [facets, facets * (tiers - 1)]
        if (
            tiers == 1
        ):  # one facet: as wide as a side of the mouth, as high as the slant; its back is a little larger
            angle, facet = float(found["facet_angle"][trial]), one.sel(piece="facet, tier 1")
            side, slant = 0.6 * math.tan(math.pi / facets), 0.3 / math.cos(angle)
            thick = float(facet["shown_piece_thickness"])
            assert side <= float(facet["shown_piece_width"]) <= side + 2 * thick
            assert slant - 1e-9 <= float(facet["shown_piece_height"]) <= slant + 2 * thick
        none = one["shown_piece_count"].to_numpy() == 0
        assert np.isnan(one["shown_piece_width"].to_numpy()[none]).all()


def test_workers_change_nothing(found: xr.Dataset, setting: Setting) -> None:
    xr.testing.assert_identical(search(setting, **ASKED, running=Running(workers=2)), found)


def test_a_long_front_keeps_its_ends_and_the_chosen_one(
    setting: Setting, found: xr.Dataset, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(front_shown, "MOST_SHOWN", 3)
    few = search(setting, **ASKED)
    assert few.sizes["shown"] == 3
    front = found["shown"].to_numpy()
    ends = {int(front[found[goal].to_numpy()[front].argmin()]) for goal in ("time_to_done", "reaims")}
    assert ends | {int(found.attrs["chosen_trial"])} <= set(few["shown"].to_numpy().tolist())
    for name in ("shown_cover_over", "shown_food_temperature", "shown_part_cost"):
        np.testing.assert_array_equal(few[name], found[name].sel(shown=few["shown"]))


def test_a_thinned_line_leaves_no_gap() -> None:
    """On a segment k centres cannot do better than 1/(2k); the farthest-first ones do at most twice that."""
    line = np.linspace(0.0, 1.0, 1001)
    points = np.column_stack([line, 7.0 - 3.0 * line])
    for most in (2, 3, 5, 17):
        kept = thinned(points, most, first=[500])
        assert len(kept) == most
        assert 500 in kept
        gap = np.abs(line[:, None] - line[kept]).min(axis=1).max()
        assert gap <= 2 * (1 / (2 * most)) + 1e-3
    assert thinned(points, 2000, first=[0]).tolist() == list(range(1001))


def run_of(seed: int, folder: Path) -> xr.Dataset:
    """The same search from a config with this seed."""
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + STUDY
    for old, new in (("seed = 7", f"seed = {seed}"), ("rays = 16", "rays = 4"), ("month = 5", "month = 1")):
        text = text.replace(old, new)
    path = folder / f"seed-{seed}.toml"
    path.write_text(text, "utf-8")
    (result,) = carry_out(load(path), running=Running())
    assert isinstance(result, Result)
    return result.dataset


STUDY = """
[[study]]
kind = "search"
goals = ["time_to_done", "reaims"]
trials = 32
population = 8
[study.vary]
facets = [6, 10]
facet_angle = ["22 deg", "36 deg"]
tiers = [1, 2]
azimuth_every = ["10 min", "90 min"]
"""


def test_searches_that_are_joined_show_what_is_still_on_the_front(tmp_path: Path) -> None:
    parts = [run_of(seed, tmp_path) for seed in (3, 4)]
    whole = merge(parts)
    front = np.flatnonzero(whole["on_front"].to_numpy() == 1)
    assert whole["shown"].to_numpy().tolist() == front.tolist()
    first = parts[0].sizes["trial"]
    assert {int(trial) < first for trial in front} == {True, False}  # both searches have a part in it
    for trial in front:
        part = parts[int(trial >= first)]
        own = part.sel(shown=trial - first * int(trial >= first))
        for name in ("shown_food_temperature", "shown_mass", "shown_part_cost"):
            np.testing.assert_array_equal(whole[name].sel(shown=trial), own[name])
        for piece in own["piece"].values[own["shown_piece_count"].to_numpy() > 0]:
            width = whole["shown_piece_width"].sel(shown=trial, piece=piece)
            assert float(width) == float(own["shown_piece_width"].sel(piece=piece))


AIR = Air(low=290.0, high=300.0, dew_point=280.0, wind_speed=2.0)
PLACE = Place(latitude=math.radians(25), longitude=0.0, altitude=100.0, timezone="UTC", name="a made-up yard")


def test_the_clearness_of_a_whole_day_is_the_one_it_was_made_of() -> None:
    """By the definition of the index, over a window from before sunrise to after sunset."""
    for wanted in (0.45, 0.62):
        sky = clearness_sky(
            PLACE,
            months=[6, 12],
            clearness=[wanted, wanted],
            start=datetime.time(4, 30),
            stop=datetime.time(19, 30),
            air=AIR,
        )
        site = site_of(sky)
        assert site["month"] == [6, 12]
        assert site["clearness"] == pytest.approx([wanted, wanted], abs=0.01)
        assert sum(site["days"]) == pytest.approx(61)


def test_hours_and_means_of_the_beam_are_counted(setting: Setting) -> None:
    """A sky with a beam of 500 W/m2 for its first hour and just none after it."""
    beam = np.zeros_like(setting.sky.dni)
    beam[:, :60], beam[:, 60:] = 500.0, SHINES
    site = site_of(dataclasses.replace(setting.sky, dni=beam))
    assert site["beam_hours"] == [3600.0] * len(site["month"])
    steps = setting.sky.steps
    joules = 60 * (500 * 59 + (500 + SHINES) / 2 + SHINES * (steps - 60))
    assert site["beam_day"] == pytest.approx([joules] * len(site["month"]))
    assert site["beam"] == pytest.approx([joules / (60 * steps)] * len(site["month"]))


def test_every_result_says_where_it_is_of(found: xr.Dataset, setting: Setting) -> None:
    assert json.loads(found.attrs["site"]) == json.loads(json.dumps(site_of(setting.sky)))
