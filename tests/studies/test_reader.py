"""A result opened again: its plan from the file alone, its rows computed again to the bit, its faults told."""

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies import open_result, read_bundle, write_bundle
from noonhearth.studies.commands.look import show
from noonhearth.studies.commands.results import bundle, merge, rerun
from noonhearth.studies.config import ConfigError, load
from noonhearth.studies.kinds import Running
from noonhearth.studies.results.bundle import bundle_folder, results_in
from noonhearth.studies.results.content import content_hash
from noonhearth.studies.results.reader import OpenedResult
from noonhearth.studies.results.sealed import write_sealed
from noonhearth.studies.results.store import StoreError, read, write
from noonhearth.studies.run import Result, carry_out
from noonhearth.studies.setting import Setting

OVEN = Path(__file__).parents[1] / "oven.toml"

# Made up, like every number here.
MIRRORS = """
[mirrors.tin]
meaning = "tin sheet"
limited_by = "its lacquer"
solar_reflectance = { value = 0.7, source = "made up" }
slope_error_mrad = { value = 9, source = "made up" }
emittance = { value = 0.2, source = "made up" }
thickness_mm = { value = 0.4, source = "made up" }
density = { value = 7200, source = "made up" }
conductivity = { value = 60, source = "made up" }
specific_heat = { value = 230, source = "made up" }
service_limit_degC = { value = 150, source = "made up" }
"""
PRICES = (
    'currency = "shells"\n[materials]\ntin = "8 per m2"\nanodised-sheet = "18 per m2"\n'
    'tempered-glass = "25 per m2"\nmineral-wool = "2 per kg"\nplywood = "9 per m2"\nsteel = "14 each"\n'
)
STUDIES = """
[[study]]
kind = "search"
goals = ["time_to_done", "material_cost"]
limits = ["cover_over"]
trials = 16
population = 8
seeds = 2
judged_by = "75 % of days"
draws = 2
[study.vary]
facet_angle = ["15 deg", "50 deg"]
facets = [6, 10]
mirror = ["anodised-sheet", "tin"]
[study.uncertain]
soiling = ["0 %", "20 %"]

[[study]]
kind = "day"

[[study]]
kind = "sensitivity"
outputs = ["plateau_temperature", "time_to_done"]
base_samples = 16
second_order = true
weather = true
suffered = ["soiling", "wind_share"]
[study.vary]
facets = [6, 8]
mirror = ["anodised-sheet", "tin"]
insulation_thickness = { within = "15 mm" }
soiling = ["0 %", "20 %"]
wind_share = ["0 %", "150 %"]
[study.groups]
sheet = ["facets", "mirror"]

[[study]]
kind = "screening"
base = "config"
outputs = ["plateau_temperature"]
trajectories = 4
weather = true
[study.vary]
soiling = ["0 %", "20 %"]
skin_thickness = ["5 mm", "6 mm"]
"""
NAMES = ("search", "day", "sensitivity", "screening")


def config_in(folder: Path) -> Path:
    """A config of every kind with rows, that names files beside it."""
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[prices]")] + '[prices]\nfile = "prices.toml"\n' + STUDIES
    text = text.replace("rays = 16", 'rays = 4\nmaterials = "mirrors.toml"')
    text = text.replace("days_per_month = 5", "days_per_month = 1")
    (folder / "mirrors.toml").write_text(MIRRORS, "utf-8")
    (folder / "prices.toml").write_text(PRICES, "utf-8")
    path = folder / "tiny.toml"
    path.write_text(text, "utf-8")
    return path


def carried_out(folder: Path, to: Path) -> Setting:
    """Run the config of a folder, write its results, and remove the folder."""
    plan = load(config_in(folder))
    for result in carry_out(plan, running=Running()):
        assert isinstance(result, Result), result
        write(result.dataset, to / f"{result.name}.nc")
    shutil.rmtree(folder)
    return plan.setting


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of results whose config and files are gone."""
    return tmp_path_factory.mktemp("results")


@pytest.fixture(scope="module")
def setting(stored: Path, tmp_path_factory: pytest.TempPathFactory) -> Setting:
    return carried_out(tmp_path_factory.mktemp("config"), stored)


@pytest.fixture(scope="module")
def opened(stored: Path, setting: Setting) -> dict[str, OpenedResult]:
    return {name: open_result(stored / f"{name}.nc") for name in NAMES}


def test_the_plan_is_made_of_the_file_alone(opened: dict[str, OpenedResult], setting: Setting) -> None:
    for name, result in opened.items():
        assert result.plan.setting.identity == setting.identity
        assert result.plan.setting.design == setting.design
        assert result.plan.inputs == {"mirrors.toml": MIRRORS.encode(), "prices.toml": PRICES.encode()}
        assert result.step.kind == name
    chosen = json.loads(opened["search"].dataset.attrs["design"])
    assert opened["sensitivity"].setting.design == setting.design.with_factors(**chosen)
    assert opened["screening"].setting.design == opened["search"].setting.design == setting.design


@pytest.mark.parametrize("name", NAMES)
def test_rows_come_out_again_to_the_last_bit(name: str, opened: dict[str, OpenedResult]) -> None:
    dataset = opened[name].dataset
    rows = dataset["status"].size
    picked = {0, rows - 1, *np.random.default_rng(3).integers(0, rows, 6).tolist()}
    if name == "search":
        failed = np.flatnonzero(dataset["status"].values != 0)  # above 45 deg the throat closes
        assert failed.size
        picked |= {int(failed[0]), int(dataset.attrs["chosen_trial"])}
    if name == "sensitivity":
        picked |= set(range(dataset.sizes["position"]))  # every way of taking factors from A and B
    for row in sorted(picked):
        again = opened[name].rerun(row)
        assert again.same, again.sentences()
        assert not again.notes
        assert again.compared > 1


@pytest.mark.parametrize("name", ["search", "day", "screening"])
def test_whole_studies_come_out_again_to_the_last_bit(name: str, opened: dict[str, OpenedResult]) -> None:
    again = opened[name].rerun()
    assert again.same, again.sentences()
    assert again.compared > 50


def test_what_differs_is_told_with_both_numbers(opened: dict[str, OpenedResult]) -> None:
    """One bit of one number, another design, another model: each is seen, and the model is named."""
    dataset = opened["search"].dataset.copy(deep=True)
    row = int(dataset.attrs["chosen_trial"])
    own = float(dataset["time_to_done"][row])
    next_up = float(np.nextafter(own, np.inf))
    dataset["time_to_done"][row] = next_up
    again = replace(opened["search"], dataset=dataset).rerun(row)
    assert again.differences == (f"time_to_done: {next_up!r} s in the file, {own!r} s now.",)
    assert "another processor" in again.sentences()[-1]
    model = dataset.assign_attrs(model_hash="ab12", versions='{"numpy": "0.1", "gone-package": "1"}')
    again = replace(opened["search"], dataset=model).rerun(row)
    assert "it was ab12" in again.notes[0]
    assert again.notes[1].startswith("numpy was 0.1")
    assert len(again.notes) == 2
    other = opened["search"].dataset.copy(deep=True)
    other["facet_angle"][row] += 0.01
    assert not replace(opened["search"], dataset=other).rerun(row).same


def test_another_setting_gives_other_numbers(opened: dict[str, OpenedResult]) -> None:
    """That rows come out the same is no matter of course: with any part of the setting changed they do not."""
    dataset = opened["sensitivity"].dataset
    for old, new in (
        ("seed = 7", "seed = 8"),
        ('mouth = "600 mm"', 'mouth = "601 mm"'),
        ("rays = 4", "rays = 8"),
    ):
        text = dataset.attrs["config"].replace(old, new)
        base = json.loads(dataset.attrs["base_design"])
        if "mouth" in old:
            base["mouth"] = 0.601
        changed = dataset.assign_attrs(config=text, base_design=json.dumps(base))
        assert not replace(opened["sensitivity"], dataset=changed).rerun(0).same, new


def test_a_whole_study_that_differs_says_where(opened: dict[str, OpenedResult]) -> None:
    dataset = opened["day"].dataset.copy(deep=True)
    dataset["temperature"][0, 0, 5, 0] += 1.0
    dataset.attrs["food"] = "gravel"
    again = replace(opened["day"], dataset=dataset.drop_vars("share_done")).rerun()
    told = " ".join(again.sentences())
    assert "temperature: 1 of " in told
    assert "share_done is there only now." in told
    assert "Attribute food: gravel in the file, rice now." in told


def test_a_row_that_is_not_there_is_refused(opened: dict[str, OpenedResult]) -> None:
    for row in (-1, 32):
        with pytest.raises(StoreError, match=f"has rows 0 to 31, not {row}"):
            opened["search"].rerun(row)


def test_what_cannot_be_made_again_says_why(opened: dict[str, OpenedResult]) -> None:
    dataset = opened["search"].dataset
    older = dataset.drop_attrs(deep=False).assign_attrs(
        {name: value for name, value in dataset.attrs.items() if name != "base_design"}
    )
    with pytest.raises(StoreError, match="does not keep the design it started from"):
        replace(opened["search"], dataset=older).rerun(0)
    nameless = {name: value for name, value in dataset.attrs.items() if name != "study_name"}
    with pytest.raises(StoreError, match="is of several configs"):
        replace(opened["search"], dataset=dataset.drop_attrs(deep=False).assign_attrs(nameless)).rerun()
    with pytest.raises(ConfigError, match=r"mirrors\.toml that it names is not kept"):
        replace(opened["search"], dataset=dataset.drop_vars(["file_1", "file_2"])).rerun(0)
    with pytest.raises(StoreError, match="called search-3, but its config has only search, day"):
        replace(opened["search"], dataset=dataset.assign_attrs(study_name="search-3")).rerun(0)


def test_the_same_run_twice_says_the_same(
    opened: dict[str, OpenedResult], tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    carried_out(tmp_path_factory.mktemp("again"), tmp_path)
    for name in NAMES:
        one, two = opened[name].dataset, read(tmp_path / f"{name}.nc")
        assert content_hash(one) == content_hash(two) == one.attrs["content_hash"]
        xr.testing.assert_identical(one.assign_attrs(created=""), two.assign_attrs(created=""))


BLOCKED = """
import sys
class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "noonhearth":
            raise ImportError("nothing of ours is installed here")
sys.meta_path.insert(0, Blocked())
import xarray as xr
for path in sys.argv[1:]:
    if path.endswith("all.nc"):
        tree = xr.open_datatree(path).load()
        print(sorted(tree.children), tree["search"]["time_to_done"].attrs["units"])
        continue
    with xr.open_dataset(path) as data:
        data.load()
        assert all(v.attrs["long_name"] for v in data.variables.values())
        print(data.attrs["study"], data["status"].size, data.attrs["format"], data["file_1"].values.tobytes()[:9])
assert not [name for name in sys.modules if name.startswith("noonhearth")]
"""


def test_any_machine_opens_the_files(stored: Path, setting: Setting, tmp_path: Path) -> None:
    """In a process where nothing of ours can be imported."""
    bundle_folder(stored, tmp_path / "all.nc")
    paths = [*(str(stored / f"{name}.nc") for name in NAMES), str(tmp_path / "all.nc")]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", BLOCKED, *paths],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = done.stdout.splitlines()
    assert told[0] == "search 32 noonhearth result b'\\n[mirrors'"
    assert told[-1] == "['day', 'screening', 'search', 'sensitivity'] s"


def test_a_bundle_gives_back_every_result(
    stored: Path, opened: dict[str, OpenedResult], tmp_path: Path
) -> None:
    path = tmp_path / "all.nc"
    assert bundle_folder(stored, path) == sorted(NAMES)
    tree, results = read_bundle(path), results_in(path)
    assert list(tree.children) == list(results) == sorted(NAMES)
    for name in NAMES:
        xr.testing.assert_identical(tree[name].to_dataset(), opened[name].dataset)
        xr.testing.assert_identical(results[name], opened[name].dataset)
    assert list(results_in(stored / "day.nc")) == ["day"]
    with pytest.raises(StoreError, match="holds several results"):
        read(path)
    for study in (None, "aiming"):
        with pytest.raises(StoreError, match="holds day, screening, search, sensitivity; say which"):
            open_result(path, study)
    assert open_result(path, "screening").rerun(1).same
    with pytest.raises(StoreError, match="is one result, not a bundle"):
        read_bundle(stored / "day.nc")


def test_bundles_that_cannot_be(
    stored: Path, setting: Setting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = read(stored / "day.nc")
    for results, sentence in (
        ({}, "there is no result"),
        ({"a/b": day}, "cannot name a group"),
        ({"a": day.assign(flag=("x", [True]))}, "variable flag: true and false"),
    ):
        with pytest.raises(StoreError, match=sentence):
            write_bundle(results, tmp_path / "all.nc")
    with pytest.raises(StoreError, match="there is no folder"):
        write_bundle({"day": day}, tmp_path / "nowhere/all.nc")
    with pytest.raises(StoreError, match="holds no result file"):
        bundle_folder(tmp_path, tmp_path / "all.nc")
    assert list(tmp_path.iterdir()) == []
    tree = xr.DataTree.from_dict({"day": day.assign_attrs(window=1.0)})
    tree.attrs = {"format": "noonhearth bundle", "format_version": 2, "results": "day"}
    write_sealed(tmp_path / "all.nc", lambda partial: tree.to_netcdf(partial, engine="h5netcdf"))
    with pytest.raises(StoreError, match="does not hold the numbers"):
        read_bundle(tmp_path / "all.nc")
    tree.attrs["format_version"] = 99
    write_sealed(tmp_path / "all.nc", lambda partial: tree.to_netcdf(partial, engine="h5netcdf"))
    with pytest.raises(StoreError, match=r"format version 99; .*update noonhearth"):
        read_bundle(tmp_path / "all.nc")


@pytest.mark.parametrize("source", ["day.nc", "search.nc", "all.nc"])
def test_damaged_files_are_told_and_never_read(
    source: str, stored: Path, setting: Setting, tmp_path: Path
) -> None:
    """Sixty flipped bytes and sixty cut ends of a real result and a bundle: one sentence each, no number."""
    if source == "all.nc":
        bundle_folder(stored, tmp_path / "whole.nc")
    else:
        shutil.copy(stored / source, tmp_path / "whole.nc")
    whole = (tmp_path / "whole.nc").read_bytes()
    opener = read_bundle if source == "all.nc" else open_result
    path, random = tmp_path / source, np.random.default_rng(11)
    for place in random.integers(0, len(whole), 60).tolist():
        flipped = bytearray(whole)
        flipped[place] ^= int(random.integers(1, 256))
        path.write_bytes(flipped)
        for reader in (opener, results_in):
            with pytest.raises(StoreError, match=r"is damaged|not a netCDF-4"):
                reader(path)
    for length in random.integers(0, len(whole), 60).tolist():
        path.write_bytes(whole[:length])
        for reader in (opener, results_in):
            with pytest.raises(StoreError, match=r"is empty|is damaged|not a netCDF|no result"):
                reader(path)


Said = pytest.CaptureFixture[str]


def test_commands_on_results(
    stored: Path, setting: Setting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    for name in NAMES:
        shutil.copy(stored / f"{name}.nc", tmp_path)
    monkeypatch.chdir(tmp_path)
    assert bundle(Path()) == 0
    assert capsys.readouterr().out == "Written to all.nc: day, screening, search, sensitivity\n"
    assert show(Path("all.nc")) == 0
    assert "loading to done" in capsys.readouterr().out
    assert rerun(Path("search.nc"), 3, workers=1) == 0
    assert capsys.readouterr().out.startswith("Trial 3, made again: all ")
    assert rerun(Path("all.nc"), 3, study="search", workers=1) == 0
    assert capsys.readouterr().out.startswith("Trial 3, made again: all ")
    assert rerun(Path("all.nc"), 3) == 2
    assert "say which" in capsys.readouterr().err
    dataset = read(Path("search.nc"))
    dataset["material_cost"][3] += 1.0
    write(dataset, Path("search.nc"))
    assert rerun(Path("search.nc"), 3, workers=1) == 1
    assert "shells in the file" in capsys.readouterr().out


def test_commands_refuse_what_is_no_result(
    stored: Path, setting: Setting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Said
) -> None:
    monkeypatch.chdir(tmp_path)
    xr.Dataset({"a": ("x", [1.0, 2.0])}).to_netcdf("foreign.nc", engine="h5netcdf")
    Path("text.nc").write_text("title,config\n1,2\n")
    Path("empty.nc").touch()
    Path("folder.nc").mkdir()
    Path("cut.nc").write_bytes((stored / "day.nc").read_bytes()[:5000])
    for name, sentence in (
        ("foreign.nc", "is a netCDF file, but no result of this program"),
        ("text.nc", "is not a netCDF-4 file"),
        ("empty.nc", "is empty"),
        ("folder.nc", "is a folder"),
        ("cut.nc", "is damaged, its end is missing"),
        ("missing.nc", "does not exist"),
    ):
        for command in (lambda path: rerun(path, 0), show, lambda path: merge(path, path)):
            assert command(Path(name)) == 2
            assert f"{name} {sentence}" in capsys.readouterr().err
    assert bundle(Path("nowhere")) == 2
    assert "there is no folder nowhere" in capsys.readouterr().err
