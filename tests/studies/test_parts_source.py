"""Papers of any design that a result keeps: the chosen one, another of its front, and what is said of unknown ones."""

import shutil
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies import load
from noonhearth.studies.cli import app
from noonhearth.studies.papers import source as sources
from noonhearth.studies.papers.assembly import assembly
from noonhearth.studies.papers.sight_plate import plate_of
from noonhearth.studies.papers.source import UnknownDesign, source_of

OVEN = Path(__file__).parents[1] / "oven.toml"
STUDIES = """
[workshop]
joint = "seam"

[[study]]
kind = "search"
goals = ["mass", "reaims"]
trials = 24
population = 8
[study.vary]
facets = [5, 7]
mouth = ["500 mm", "700 mm"]
facet_angle = ["25 deg", "55 deg"]      # from some 40 deg on the throat closes
azimuth_every = ["10 min", "60 min"]

[[study]]
kind = "day"

[[study]]
kind = "aiming"
post_height = "80 mm"
centred_within = "4 mm"

[[study]]
kind = "season"
goal = "time_to_done"
months = [1]
latitudes = ["12 deg"]
designs = 8
rounds = 1
[study.vary]
insulation_thickness = ["20 mm", "80 mm"]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Results of a small search, and of studies of the design that it chose."""
    here = tmp_path_factory.mktemp("run")
    text = (
        OVEN.read_text("utf-8")
        .replace("rays = 16", "rays = 4")
        .replace("days_per_month = 5", "days_per_month = 1")
    )
    text = text[: text.index("[[study]]")] + STUDIES
    (here / "mine.toml").write_text(text, "utf-8")
    assert called("run", str(here / "mine.toml"), "--to", str(here)) == 0
    return here / "mine"


@pytest.fixture(scope="module")
def search(folder: Path) -> xr.Dataset:
    with xr.open_dataset(folder / "search.nc") as found:
        return found.load()


def called(*words: str) -> int:
    code = app(list(words), result_action="return_value")
    assert isinstance(code, int)
    return code


def test_every_design_of_the_front_can_be_cut(folder: Path, search: xr.Dataset) -> None:
    front = np.flatnonzero(search["on_front"].to_numpy())
    assert len(front) > 1
    for trial in front:
        funnel = source_of(folder / "search.nc", design=int(trial)).setting.design.oven.funnel
        for name in ("facets", "mouth", "facet_angle"):
            assert getattr(funnel, name) == search[name][trial].item()


def test_papers_are_those_of_the_design_asked_for(folder: Path, search: xr.Dataset, tmp_path: Path) -> None:
    front = np.flatnonzero(search["on_front"].to_numpy())
    other = next(int(k) for k in front if k != search.attrs["chosen_trial"])
    code = called(
        "parts", str(folder / "search.nc"), "--design", str(other), "--to", str(tmp_path), "--units", "inch"
    )
    assert code == 0
    rows = (tmp_path / "cut-list.csv").read_text("utf-8").splitlines()
    assert rows[1].startswith(f'"facet, tier 1",{int(search["facets"][other])},')
    assert "[in]" in rows[0]
    mouth = assembly(source_of(folder / "search.nc", design=other).setting).iloc[0]["value"]
    assert mouth == pytest.approx(1e3 * float(search["mouth"][other]))


def test_designs_of_a_pool_have_numbers_too(folder: Path) -> None:
    with xr.open_dataset(folder / "season.nc") as found:
        pool = found["insulation_thickness"].to_numpy().tolist()
    for number in (0, len(pool) - 1):
        jacket = source_of(folder / "season.nc", design=number).setting.design.oven.jacket
        assert jacket.insulation_thickness == pool[number]
    with pytest.raises(UnknownDesign, match=f"has designs 0 to {len(pool) - 1}, not {len(pool)}"):
        source_of(folder / "season.nc", design=len(pool))


def test_the_chosen_design_needs_no_number(folder: Path, search: xr.Dataset) -> None:
    chosen = source_of(folder / "search.nc").setting.design
    same = source_of(folder / "search.nc", design=int(search.attrs["chosen_trial"])).setting.design
    assert chosen == same
    assert source_of(folder / "search.nc").workshop.joint == "seam"


def test_unknown_numbers_are_told_with_those_of_the_front(
    folder: Path, search: xr.Dataset, capsys: pytest.CaptureFixture[str]
) -> None:
    assert called("parts", str(folder / "search.nc"), "--design", "700") == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "has designs 0 to 23, not 700; on the front are " in said
    for trial in np.flatnonzero(search["on_front"].to_numpy()):
        assert f"{trial}" in said.partition("on the front are")[2]
    with pytest.raises(UnknownDesign):
        source_of(folder / "search.nc", design=-1)


def test_a_design_that_cannot_be_built_is_told(folder: Path, search: xr.Dataset) -> None:
    stopped = np.flatnonzero(search["status"].to_numpy() != 0)
    assert len(stopped)
    with pytest.raises(UnknownDesign, match="cannot be built"):
        source_of(folder / "search.nc", design=int(stopped[0]))


@pytest.mark.parametrize("name", ["day.nc", "aiming.nc"])
def test_a_result_of_one_design_has_no_numbers(folder: Path, name: str) -> None:
    with pytest.raises(UnknownDesign, match="keeps no designs by number: leave --design out"):
        source_of(folder / name, design=0)


def test_a_config_has_no_numbers(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = folder.parent / "mine.toml"
    assert called("sheets", str(config), "--design", "3") == 2
    assert "describes one design: leave --design out" in " ".join(capsys.readouterr().err.split())


def test_the_sight_is_that_of_the_config(folder: Path) -> None:
    for name in ("mine.toml", "mine/search.nc", "mine/day.nc"):
        plate = source_of(folder.parent / name).plate
        assert (plate.post_height, plate.centred_within) == (pytest.approx(0.08), pytest.approx(0.004))


def test_rings_of_an_aiming_study_are_not_traced_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The study beside the search is of the chosen design: its rings serve; not those of another design or plan."""

    def never(*_: object) -> None:
        raise AssertionError("traced again")

    with xr.open_dataset(folder / "aiming.nc") as found:
        rings = plate_of(found.load()).ring_radius.tolist()
    monkeypatch.setattr(sources, "plate_for", never)
    for name in ("aiming.nc", "search.nc", "day.nc"):
        assert source_of(folder / name).plate.ring_radius.tolist() == rings
    with pytest.raises(AssertionError, match="traced again"):
        _ = source_of(folder.parent / "mine.toml").plate


def test_rings_of_another_design_are_traced(folder: Path, search: xr.Dataset) -> None:
    front = np.flatnonzero(search["on_front"].to_numpy())
    other = next(int(k) for k in front if k != search.attrs["chosen_trial"])
    found = source_of(folder / "search.nc", design=other)
    assert found.aiming is None
    assert found.plate.post_height == pytest.approx(0.08)


def test_a_damaged_neighbour_does_not_matter(folder: Path, tmp_path: Path) -> None:
    shutil.copy(folder / "search.nc", tmp_path / "search.nc")
    (tmp_path / "aiming.nc").write_bytes(b"not a result")
    assert source_of(tmp_path / "search.nc").aiming is None


def test_units_of_the_config_and_those_asked_for(folder: Path, tmp_path: Path) -> None:
    text = (folder.parent / "mine.toml").read_text("utf-8")
    (tmp_path / "mine.toml").write_text('shown_in = "inch"\n' + text, "utf-8")
    assert source_of(tmp_path / "mine.toml").setting.shown_in == "inch"
    assert source_of(tmp_path / "mine.toml", units="metric").setting.shown_in == "metric"
    assert source_of(folder / "search.nc").setting.shown_in == "metric"
    assert load(tmp_path / "mine.toml").identity == load(folder.parent / "mine.toml").identity
