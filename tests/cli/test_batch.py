"""A folder of configs: what is run, what a wrong or failing one does to the others, and going on after a stop."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.studies import Running, batches
from noonhearth.studies.batches import BatchError, Progress, configs_in
from noonhearth.studies.commands.batch import batch as batch_command
from noonhearth.studies.config import load
from noonhearth.studies.folder import carry_out_into
from noonhearth.studies.results import store
from noonhearth.studies.telling import report

ROOT = Path(__file__).parents[2]
STUDIES = """
[[study]]
kind = "search"
goals = ["time_to_done"]
trials = 8
population = 4
pick = "time_to_done"
[study.vary]
facet_angle = ["25 deg", "35 deg"]

[[study]]
kind = "compare"
base = "chosen"
other_seeds = 0
[[study.design]]
name = "bare"
insulation_thickness = "10 mm"
"""


def config(*changes: tuple[str, str]) -> str:
    """The tests' config with few days and rays and two small studies, and with changes."""
    text = (ROOT / "tests/oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")] + STUDIES
    for old, new in (("days_per_month = 5", "days_per_month = 1"), ("rays = 16", "rays = 4"), *changes):
        assert old in text
        text = text.replace(old, new)
    return text


LATE = ('stop = "16:00"', 'stop = "09:50"')  # nothing gets done: the search finds no design
HEAVY = ('mouth = "600 mm"', 'mouth = "600 kg"')
DULL = ("[0.62, 0.61, 0.61, 0.62]", "[0.45, 0.45, 0.45, 0.45]")
DRIVEN = (
    'how = "by hand"\nazimuth_every = "20 min"',
    'how = "fixed"\nfixed_azimuth = "180 deg"\nfixed_elevation = "60 deg"',
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One broken, one that is no TOML, one failing, two good configs, and what is no config."""
    folder = tmp_path_factory.mktemp("configs")
    fixed = config(DRIVEN).replace('elevation_every = "60 min"\n', "")
    texts = {
        "broken": config(HEAVY),
        "dull": config(DULL),
        "late": config(LATE),
        "left_alone": fixed,
        "torn": "title = ",
        "own_mirrors": '[mirrors.tin]\nmeaning = "tin"\n',
        "prices": 'currency = "shells"\n[materials]\nsteel = "14 each"\n',
    }
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, "utf-8")
    (folder / "old").mkdir()
    (folder / "old/earlier.toml").write_text(config(), "utf-8")
    return folder


@pytest.fixture(scope="module")
def done(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[xr.Dataset, Path]:
    to = tmp_path_factory.mktemp("results")
    return studies.batch(folder, to), to


def test_configs_are_told_from_lists_of_materials_and_prices(folder: Path) -> None:
    configs, passed = configs_in(folder)
    assert [path.stem for path in configs] == ["broken", "dull", "late", "left_alone", "torn"]
    assert [path.stem for path in passed] == ["own_mirrors", "prices"]


def test_nothing_to_run_is_said(tmp_path: Path) -> None:
    with pytest.raises(BatchError, match="there is no folder"):
        configs_in(tmp_path / "none")
    (tmp_path / "prices.toml").write_text('currency = "shells"', "utf-8")
    with pytest.raises(BatchError, match=r"no config in it; looked for \*\.toml with one of \[place\]"):
        configs_in(tmp_path)


def test_one_wrong_or_failing_config_stops_no_other(done: tuple[xr.Dataset, Path]) -> None:
    table, to = done
    found = list(
        zip(table["config"].values, table["study"].values, table["status"].values.tolist(), strict=True)
    )
    assert found == [
        ("broken", "", 2),
        ("dull", "search", 0),
        ("dull", "compare", 0),
        ("late", "search", 1),
        ("late", "compare", 0),
        ("left_alone", "search", 0),
        ("left_alone", "compare", 0),
        ("torn", "", 2),
    ]
    faults = dict(zip(table["config"].values, table["fault"].values, strict=True))
    assert 'oven.funnel.mouth: "600 kg" is a mass' in faults["broken"]
    assert "is not TOML" in faults["torn"]
    assert "None of 8 designs" in str(table["fault"].values[3])
    assert (table["seconds"] >= 0).all()
    assert sorted(path.name for path in to.iterdir() if path.is_dir()) == ["dull", "late", "left_alone"]
    for name in ("dull", "left_alone"):
        assert {"search.nc", "compare.nc", "summary.md"} <= {path.name for path in (to / name).iterdir()}
    assert not (to / ".unfinished-batch").exists()


def test_each_config_gets_what_run_gives_it(
    folder: Path, done: tuple[xr.Dataset, Path], tmp_path: Path
) -> None:
    list(carry_out_into(tmp_path / "dull", load(folder / "dull.toml"), running=Running()))
    for name in ("search.nc", "compare.nc"):
        mine, other = store.read(done[1] / "dull" / name), store.read(tmp_path / "dull" / name)
        xr.testing.assert_identical(mine.drop_attrs(deep=False), other.drop_attrs(deep=False))


def test_numbers_are_those_of_the_chosen_design(folder: Path, done: tuple[xr.Dataset, Path]) -> None:
    """The search's own verdict on its choice, and the config's own factors where the choice left them alone."""
    table, to = done
    row = table.isel(row=1)
    search = store.read(to / "dull/search.nc")
    trial = int(search.attrs["chosen_trial"])
    assert float(row["facet_angle"]) == float(search["facet_angle"][trial])
    for name in ("time_to_done", "mass", "material_cost", "cover_over"):
        assert float(row[name]) == float(search[f"chosen_{name}"])
    assert str(row["mirror"].item()) == "anodised-sheet"
    assert np.isnan(table["time_to_done"][0])
    assert np.isnan(row["fixed_azimuth"])
    assert float(table["fixed_azimuth"][5]) == pytest.approx(np.pi)


def test_the_tables_say_the_same_in_file_text_and_figure(done: tuple[xr.Dataset, Path]) -> None:
    table, to = done
    again = store.read(to / "batch.nc")
    xr.testing.assert_identical(again.drop_attrs(deep=False), table.drop_attrs(deep=False))
    assert report.sentences(again) == report.sentences(table)
    assert not report.is_empty(again)
    csv = pd.read_csv(to / "batch.csv")
    minutes = csv["time to done [min]"] if "time to done [min]" in csv else 60 * csv["time to done [h]"]
    np.testing.assert_allclose(minutes * 60, table["time_to_done"], rtol=1e-5)
    assert csv["status"].tolist().count("config is wrong") == 2
    page = (to / "batch.md").read_text("utf-8")
    for text in (
        "5 configs, 6 studies: 5 done, 1 without a result; 2 of the configs are wrong.",
        "own_mirrors.toml, prices.toml",
        "[dull](dull/summary.md)",
        "| late | search | no result |",
        "## Where the designs differ",
        "batch-designs.svg",
    ):
        assert text in page, text
    assert (to / "batch-designs.svg").is_file()


def same_but_for_time(one: xr.Dataset, other: xr.Dataset) -> None:
    xr.testing.assert_identical(
        one.drop_vars("seconds").drop_attrs(deep=False), other.drop_vars("seconds").drop_attrs(deep=False)
    )


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the configs whose studies are carried out."""
    seen: list[str] = []

    def counted(folder: Path, *args: Any, **how: Any) -> Iterator[Any]:
        seen.append(folder.name)
        return carry_out_into(folder, *args, **how)

    monkeypatch.setattr(batches, "carry_out_into", counted)
    return seen


def stop_after(number: int) -> Callable[[Progress], None]:
    def tell(progress: Progress) -> None:
        if progress.number == number:
            raise KeyboardInterrupt

    return tell


def test_a_stopped_batch_goes_on_and_ends_the_same(
    folder: Path, done: tuple[xr.Dataset, Path], tmp_path: Path, calls: list[str]
) -> None:
    """With two workers, too. What failed is tried again, what was done is not."""
    with pytest.raises(KeyboardInterrupt):
        studies.batch(folder, tmp_path, tell=stop_after(3))
    assert calls == ["dull", "late"]
    assert not (tmp_path / "batch.nc").exists()
    told: list[Progress] = []
    again = studies.batch(folder, tmp_path, running=Running(workers=2), tell=told.append)
    assert calls == ["dull", "late", "late", "left_alone"]
    assert [progress.kept for progress in told] == [False, True, False, False, False]
    same_but_for_time(again, done[0])
    assert not (tmp_path / ".unfinished-batch").exists()


def test_a_config_changed_after_the_stop_is_run_anew(tmp_path: Path, calls: list[str]) -> None:
    folder = tmp_path / "configs"
    folder.mkdir()
    for name in ("a", "b"):
        (folder / f"{name}.toml").write_text(config(), "utf-8")
    with pytest.raises(KeyboardInterrupt):
        studies.batch(folder, tmp_path / "out", tell=stop_after(1))
    (folder / "a.toml").write_text(config(('food_mass = "0.6 kg"', 'food_mass = "0.5 kg"')), "utf-8")
    table = studies.batch(folder, tmp_path / "out")
    assert calls == ["a", "a", "b"]
    assert table["food_mass"].values.tolist() == [0.5, 0.5, 0.6, 0.6]


def test_an_error_nobody_thought_of_is_told_and_the_next_config_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken_once(folder: Path, *args: Any, **how: Any) -> Iterator[Any]:
        first = carry_out_into(folder, *args, **how)
        if folder.name == "a":
            yield next(first)
            raise ZeroDivisionError("by zero")
        yield from first

    monkeypatch.setattr(batches, "carry_out_into", broken_once)
    folder = tmp_path / "configs"
    folder.mkdir()
    for name in ("a", "b"):
        (folder / f"{name}.toml").write_text(config(), "utf-8")
    seen: list[str] = []
    running = Running(watch=lambda name, *state: seen.append(name))
    table = studies.batch(folder, tmp_path / "out", running=running)
    assert table["status"].values.tolist() == [0, 1, 0, 0]
    assert str(table["fault"][1].item()) == "ZeroDivisionError: by zero"
    assert {"a: search", "b: search", "b: compare"} <= set(seen)


def test_exit_codes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert batch_command(tmp_path / "none") == 2
    assert "there is no folder" in capsys.readouterr().err
    (tmp_path / "late.toml").write_text(config(LATE), "utf-8")
    assert batch_command(tmp_path, to=tmp_path / "out", workers=1) == 1
    assert "1 of 1  late: search: no result" in capsys.readouterr().err
    (tmp_path / "broken.toml").write_text(config(HEAVY), "utf-8")
    assert batch_command(tmp_path, to=tmp_path / "out", workers=1) == 2
    said = capsys.readouterr()
    assert "2 of 2  late: compare: done" in said.out
    assert "600 kg" in said.out


def command(*words: object) -> list[str]:
    code = "from noonhearth.studies.cli import main; main()"
    return [sys.executable, "-u", "-c", code, "batch", *map(str, words)]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="sends SIGINT")
def test_ctrl_c_says_how_to_go_on_and_the_same_command_does(tmp_path: Path) -> None:
    folder = tmp_path / "configs"
    folder.mkdir()
    for name in ("a", "b"):
        (folder / f"{name}.toml").write_text(config(), "utf-8")
    words = command(folder, "--to", tmp_path / "out", "--workers", "1")
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as started:
        assert started.stdout is not None
        assert "1 of 2  a: search: done" in started.stdout.readline()
        started.send_signal(signal.SIGINT)
        _, said = started.communicate(timeout=60)
    assert started.returncode == 1
    assert f"to go on: noonhearth batch {folder} --to {tmp_path / 'out'}" in " ".join(said.split())
    assert "Traceback" not in said
    again = subprocess.run(words, capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    assert "1 of 2  a: search: done, kept from before" in again.stdout
    assert "2 of 2  b: compare: done" in again.stdout
