"""A plan carried out: the same numbers whatever the workers, resumed or not; results that speak for themselves."""

import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.config import load
from noonhearth.studies.judging.evaluate import OvenEvaluator
from noonhearth.studies.kinds import Running
from noonhearth.studies.results import store
from noonhearth.studies.run import Failure, Result, carry_out
from noonhearth.studies.telling import figures, report

ROOT = Path(__file__).parents[2]

TINY = """
[[study]]
kind = "search"
goals = ["time_to_done", "reaims"]
limits = ["cover_over"]
trials = 24
population = 8
[study.vary]
facet_angle = ["15 deg", "50 deg"]
facets = [6, 10]
azimuth_every = ["10 min", "90 min"]
mirror = ["anodised-sheet", "foil-on-card"]

[[study]]
kind = "day"
day = 2

[[study]]
kind = "sensitivity"
outputs = ["plateau_temperature", "light_to_pot"]
base_samples = 16
[study.vary]
azimuth_every = { within = "2 min" }
soiling = ["0 %", "20 %"]
wind_share = ["0 %", "150 %"]

[[study]]
kind = "screening"
base = "config"
outputs = ["plateau_temperature"]
trajectories = 4
[study.vary]
soiling = ["0 %", "20 %"]
skin_thickness = ["5 mm", "6 mm"]
"""


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first shipped config with short days and tiny studies."""
    text = (ROOT / "tests/oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")] + TINY
    text = text.replace("rays = 16", "rays = 8").replace("days_per_month = 5", "days_per_month = 2")
    path = tmp_path_factory.mktemp("plan") / "tiny.toml"
    path.write_text(text, "utf-8")
    return path


def carried_out(config: Path, workers: int, scratch: Path | None = None) -> dict[str, Result]:
    watch = lambda name, done, total, failed: None  # noqa: E731
    results = list(carry_out(load(config), running=Running(workers=workers, watch=watch, scratch=scratch)))
    assert all(isinstance(result, Result) for result in results), results
    return {result.name: result for result in results}


@pytest.fixture(scope="module")
def results(config: Path) -> dict[str, Result]:
    return carried_out(config, workers=1)


def same(one: xr.Dataset, other: xr.Dataset) -> None:
    xr.testing.assert_identical(
        one.drop_attrs(deep=False).assign_attrs(config=one.attrs["config"]),
        other.drop_attrs(deep=False).assign_attrs(config=other.attrs["config"]),
    )


def test_two_workers_give_the_same_bits(config: Path, results: dict[str, Result]) -> None:
    for name, result in carried_out(config, workers=2).items():
        same(result.dataset, results[name].dataset)


def test_a_second_run_from_scratch_files_calls_no_model(
    config: Path, results: dict[str, Result], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    carried_out(config, workers=2, scratch=tmp_path)
    calls = []
    monkeypatch.setattr(OvenEvaluator, "__call__", lambda *a, **k: calls.append(a))
    plan = load(config)
    for result in carry_out(plan, running=Running(scratch=tmp_path)):
        same(result.dataset, results[result.name].dataset)
    assert not calls


def test_studies_start_from_the_chosen_design(results: dict[str, Result]) -> None:
    chosen = results["search"].design
    assert results["day"].design == chosen
    assert results["sensitivity"].design == chosen
    assert results["screening"].design != chosen
    space = json.loads(results["sensitivity"].dataset.attrs["space"])
    low, high = next((f["low"], f["high"]) for f in space if f["name"] == "azimuth_every")
    assert (low + high) / 2 == pytest.approx(chosen.value("azimuth_every"))


def test_designs_that_cannot_be_built_are_counted_and_kept(results: dict[str, Result]) -> None:
    search = results["search"].dataset
    failed = int((search["status"] != 0).sum())
    assert failed > 0  # above 45 deg the throat closes
    assert json.loads(search.attrs["counts"]) == {"designs": 24, "failed": failed}
    assert np.isnan(search["time_to_done"].where(search["status"] != 0, drop=True)).all()
    assert f"{failed} could not be built" in " ".join(report.sentences(search))


def test_the_verdict_is_that_of_the_chosen_design(results: dict[str, Result]) -> None:
    search, day = results["search"].dataset, results["day"].dataset
    row = search.attrs["chosen_trial"]
    assert search["time_to_done"][row] == search["chosen_time_to_done"] == day["time_to_done"][0]
    assert search["on_front"][row] == 1


@pytest.mark.parametrize("name", ["search", "day", "sensitivity", "screening"])
def test_results_survive_the_file_and_speak(name: str, results: dict[str, Result], tmp_path: Path) -> None:
    path = tmp_path / f"{name}.nc"
    store.write(results[name].dataset, path)
    again = store.read(path)
    assert report.sentences(again) == report.sentences(results[name].dataset)
    assert all(sentence.strip() for sentence in report.sentences(again))
    with xr.open_dataset(path) as plain:  # nothing of ours is asked
        for variable in plain.variables.values():
            assert variable.attrs["long_name"]


@pytest.mark.parametrize("name", ["search", "day", "sensitivity", "screening"])
def test_equal_data_draw_equal_bytes(name: str, results: dict[str, Result], tmp_path: Path) -> None:
    twice = []
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        files = [
            path
            for drawing in figures.drawn(results[name].dataset)
            for path in figures.save(drawing, tmp_path / folder, prefix=name)
        ]
        assert files
        twice.append({path.name: path.read_bytes() for path in files})
    assert twice[0] == twice[1]
    assert any(b"<svg" in data for data in twice[0].values())


def test_the_summary_names_every_figure_caution_and_the_way_to_repeat_it(
    results: dict[str, Result],
) -> None:
    parts = [(r.dataset, list(figures.drawn(r.dataset))) for r in results.values()]
    text = report.markdown(
        "Tiny", parts, cautions=[("eyes", "Do not look.", "the doctor")], command="noonhearth run tiny.toml"
    )
    for result, drawings in parts:
        for drawing in drawings:
            assert f"{result.attrs['study_name']}-{drawing.name}.svg" in text
    assert "Do not look." in text
    assert "noonhearth run tiny.toml" in text


def test_a_choice_at_the_end_of_its_range_is_said(results: dict[str, Result]) -> None:
    search = results["search"].dataset.copy(deep=True)
    row = search.attrs["chosen_trial"]
    search["facet_angle"][row] = search["facet_angle"].max()
    assert any("end of its range" in s and "facet angle" in s.lower() for s in report.sentences(search))


def test_an_exceeded_limit_shouts(results: dict[str, Result]) -> None:
    day = results["day"].dataset.copy(deep=True)
    day["cover_over"][0] = 12.3
    assert any("OVER A LIMIT" in s and "12.3 K" in s for s in report.sentences(day))


def test_a_study_without_a_result_does_not_stop_the_next(config: Path, tmp_path: Path) -> None:
    """Loaded minutes before the day's end nothing gets done: its indices are refused, the next study runs."""
    text = config.read_text("utf-8")
    sensitivity = text[text.index('[[study]]\nkind = "sensitivity"') :].replace(
        '"plateau_temperature", "light_to_pot"', '"time_to_done"', 1
    )
    path = tmp_path / "late.toml"
    path.write_text(text[: text.index("[[study]]")].replace('"16:00"', '"09:50"') + sensitivity, "utf-8")
    results = list(carry_out(load(path), running=Running()))
    assert isinstance(results[0], Failure)
    assert "time_to_done" in results[0].reason or "every output" in results[0].reason
    assert isinstance(results[1], Result)
