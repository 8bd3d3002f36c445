"""The command line as its user meets it: exit codes, messages, what is written and what is not."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FIRST = ROOT / "tests/oven.toml"


def noonhearth(*words: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    code = "from noonhearth.studies.cli import main; main()"
    environment = os.environ | {"COLUMNS": "200"}
    command = [sys.executable, "-c", code, *map(str, words)]
    return subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Path:
    text = FIRST.read_text("utf-8")
    text = text[: text.index("[[study]]")].replace("days_per_month = 5", "days_per_month = 1")
    text += (
        '[[study]]\nkind = "search"\ngoals = ["time_to_done"]\ntrials = 8\npopulation = 4\npick = "time_to_done"\n'
        '[study.vary]\nfacet_angle = ["25 deg", "35 deg"]\n'
    )
    path = tmp_path_factory.mktemp("cli") / "tiny.toml"
    path.write_text(text, "utf-8")
    return path


def test_a_run_writes_its_results_and_says_so(tiny: Path, tmp_path: Path) -> None:
    done = noonhearth("run", tiny, "--to", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    written = {path.name for path in (tmp_path / "out/tiny").iterdir()}
    assert {"search.nc", "summary.md", "search-slices.svg", "search-slices.csv"} <= written
    assert not [name for name in written if name.startswith(".")]
    assert "Chosen: facet angle" in done.stdout
    assert "cautions" in done.stdout
    shown = noonhearth("show", "out/tiny/search.nc", cwd=tmp_path)
    assert shown.returncode == 0
    assert "Chosen: facet angle" in shown.stdout
    assert "loading to done" in shown.stdout


def test_a_wrong_config_exits_two_and_writes_nothing(tiny: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(tiny.read_text("utf-8").replace('"600 mm"', '"600 kg"'), "utf-8")
    for command in ("run", "check"):
        done = noonhearth(command, wrong, tiny, cwd=tmp_path)
        assert done.returncode == 2
        assert "oven.funnel.mouth" in done.stderr
        assert "Traceback" not in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["wrong.toml"]


def test_two_configs_of_one_name_are_kept_apart(tiny: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    twin = tmp_path / "other/tiny.toml"
    twin.write_text(tiny.read_text("utf-8"), "utf-8")
    done = noonhearth("run", tiny, twin, cwd=tmp_path)
    assert done.returncode == 2
    assert "one folder" in done.stderr
    assert not (tmp_path / "results").exists()


def test_no_config_is_an_error_with_an_example(tmp_path: Path) -> None:
    done = noonhearth("run", cwd=tmp_path)
    assert done.returncode == 2
    assert "noonhearth run" in done.stderr


def test_a_search_that_finds_nothing_exits_one_and_says_why(tiny: Path, tmp_path: Path) -> None:
    text = tiny.read_text("utf-8").replace('food_mass = "0.6 kg"', 'food_mass = "0.9 kg"')
    text = text.replace('stop = "16:00"', 'stop = "09:50"')
    path = tmp_path / "short.toml"
    path.write_text(text, "utf-8")
    done = noonhearth("run", path, "--to", "out", cwd=tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "None of 8 designs" in done.stdout
    assert "time to done reached" in done.stdout


def test_check_tells_what_would_be_run(tiny: Path, tmp_path: Path) -> None:
    done = noonhearth("check", tiny, cwd=tmp_path)
    assert done.returncode == 0
    assert "search over facet_angle" in done.stdout


@pytest.mark.parametrize("content", [b"", b"not a result", b"\x89HDF\r\n\x1a\n" + b"\0" * 64])
def test_what_is_no_result_is_refused(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "x.nc"
    path.write_bytes(content)
    done = noonhearth("show", path, cwd=tmp_path)
    assert done.returncode == 2
    assert "x.nc" in done.stderr
    assert "Traceback" not in done.stderr


def test_names_lists_what_a_config_may_name(tmp_path: Path) -> None:
    done = noonhearth("names", "insulations", cwd=tmp_path)
    assert done.returncode == 0
    assert "mineral-wool" in done.stdout
    wrong = noonhearth("names", "insulation", cwd=tmp_path)
    assert wrong.returncode == 2
    assert "did you mean insulations?" in wrong.stderr


def test_schema_is_json_that_knows_every_section(tmp_path: Path) -> None:
    done = noonhearth("schema", cwd=tmp_path)
    schema = json.loads(done.stdout)
    assert {"place", "sky", "oven", "aiming", "meal", "study"} <= set(schema["properties"])


def test_help_imports_nothing_slow(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom noonhearth.studies.cli import app\n"
        "try:\n    app(['--help'])\nexcept SystemExit:\n    pass\n"
        "slow = {'numpy', 'xarray', 'pvlib', 'optuna', 'SALib', 'numba'} & set(sys.modules)\n"
        "sys.exit(f'imported {slow}' if slow else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "run" in done.stdout


def test_ctrl_c_leaves_a_run_that_can_go_on(tmp_path: Path) -> None:
    import signal
    import time

    text = FIRST.read_text("utf-8").replace("trials = 320", "trials = 4000")
    path = tmp_path / "long.toml"
    path.write_text(text, "utf-8")
    code = "from noonhearth.studies.cli import main; main()"
    command = [sys.executable, "-c", code, "run", str(path), "--to", str(tmp_path / "out"), "--workers", "1"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    kept = tmp_path / "out/long/.unfinished"
    deadline = time.monotonic() + 240
    while not list(kept.rglob("*.evaluations")):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    _, stderr = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "to go on: noonhearth run" in stderr
    assert "Traceback" not in stderr
    assert list(kept.rglob("*.evaluations"))
    assert not list((tmp_path / "out/long").glob("*.nc"))
