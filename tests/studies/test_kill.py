"""Studies killed at any moment: started again they end with the same bits, and do nothing twice that was written down.

A server imports everything once and forks a process for each run, so that a run can be killed and started again many
times in a few seconds. What the model was asked stands in a file that each call appends to before it answers.
"""

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.judging.space import Parameter, Space
from noonhearth.studies.running.evaluations import EvaluationLog

ROOT = Path(__file__).parents[2]

NAMES = ("x", "y", "z")
SPACE = Space(tuple(Parameter(name=n, kind="real", low=0.1, high=1.0, meaning=n) for n in NAMES))
OVEN = Space(
    (
        Parameter(
            name="facet_angle", kind="real", low=0.45, high=0.60, dimension="angle", meaning="of the funnel"
        ),
    )
)
OUTPUTS = {"search": ["f", "g"], "sobol": ["f", "g"], "oven": ["peak_temperature", "mass"]}
LIMITS = {"search": ["room"], "sobol": [], "oven": []}

SERVER = """
import hashlib, json, os, pickle, signal, sys, time
import numpy as np
from noonhearth.model import simulate
from noonhearth.studies.running import evaluations, shards
from noonhearth.studies.config import load
from noonhearth.studies.judging.evaluate import OvenEvaluator, outputs_of
from noonhearth.studies.running.evaluations import EvaluationLog
from noonhearth.studies.methods.search import search
from noonhearth.studies.methods.sensitivity import sobol
from noonhearth.studies.methods.trials import Goal, Limit
from noonhearth.studies.judging.outcomes import Outcomes, Output

sys.path.insert(0, sys.argv[2])
import test_kill as the_test
from pathlib import Path

setting = load(Path(sys.argv[1])).setting
simulate(setting.design, setting.sky, rays=4, catalogue=setting.catalogue)  # kernels are there before any fork
oven = OvenEvaluator(setting, tuple(the_test.OUTPUTS["oven"]))

def cheap(columns):
    x, y, z = (columns[n] for n in "xyz")
    time.sleep(0.002 * x.size)
    if (x > 0.97).any():
        raise ZeroDivisionError("poisoned")
    values = {"f": x + np.sin(3 * y), "g": 1 / (x * z)}
    return Outcomes(values=values, status=np.where(y > 0.95, 4, 0), margins={"room": z - 0.9})

def run(study, folder, calls, out, every, die_at=None):
    evaluations._WRITTEN_EVERY = every
    space = the_test.OVEN if study == "oven" else the_test.SPACE
    model = oven if study == "oven" else cheap

    def evaluate(columns):
        lines = [row.tobytes().hex() for row in space.matrix(columns)]
        handle = os.open(calls, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.write(handle, ("".join(line + chr(10) for line in lines)).encode())
        os.close(handle)
        return model(columns)

    if die_at:
        die_in(*die_at)
    log = EvaluationLog(
        space, values=the_test.OUTPUTS[study], margins=the_test.LIMITS[study], key="k", folder=Path(folder)
    )
    if study == "search":
        found = search(
            space, evaluate, seed=5, trials=120, population=20, chunk_rows=4, workers=2, log=log,
            goals=[Goal(name=n, unit="1", meaning=n, direction="minimize") for n in "fg"],
            limits=[Limit(name="room", unit="1", meaning="room", scale=0.1)],
        )
    else:
        outputs = [Output(name=n, unit="1", meaning=n) for n in the_test.OUTPUTS[study]]
        bases = 32 if study == "oven" else 64
        found = sobol(
            space, evaluate, outputs=outputs, base_samples=bases, seed=5, chunk_rows=4, workers=2, log=log,
            most_dropped=0.6, resamples=10,
        )
    Path(out).write_text(hashlib.sha256(pickle.dumps(found.to_dict())).hexdigest())

def die_in(what, when):
    real, count = getattr(os, what), 0
    def dying(*given, **named):
        nonlocal count
        count += 1
        if count == when:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*given, **named)
    setattr(os, what, dying)

print("ready", flush=True)
while line := sys.stdin.readline():
    child = os.fork()
    if not child:
        try:
            run(**json.loads(line))
        except BaseException as error:
            print(repr(error), file=sys.stderr, flush=True)
            os._exit(1)
        os._exit(0)
    print(child, flush=True)
    # Not yet taken away, so that a signal that comes late meets nobody else.
    ended = os.waitid(os.P_PID, child, os.WEXITED | os.WNOWAIT)
    print(ended.si_status if ended.si_code == os.CLD_EXITED else -ended.si_status, flush=True)
    sys.stdin.readline()
    os.waitpid(child, 0)
"""


class Runs:
    """Runs of one study in one folder, each a process that may be killed."""

    def __init__(self, server: subprocess.Popen[str], study: str, folder: Path) -> None:
        self.server, self.study, self.folder = server, study, folder
        self.calls, self.out = folder / "calls", folder / "out"
        self.log_folder = folder / "log"
        folder.mkdir()
        self.calls.touch()

    def run(self, *, kill_after: tuple[int, float] | None = None, every: float = 0.02, **more: Any) -> bool:
        """Run until done or killed; whether it got to the end. Nothing that was written down is done again.

        `kill_after` is so many bytes more of what the model was asked, and then so many seconds.
        """
        written, before = self.written(), len(self.asked())
        asked = self.calls.stat().st_size + (kill_after[0] if kill_after else 0)
        command = {
            "study": self.study,
            "folder": str(self.log_folder),
            "calls": str(self.calls),
            "out": str(self.out),
            "every": every,
        }
        assert self.server.stdin is not None
        assert self.server.stdout is not None
        self.server.stdin.write(json.dumps(command | more) + "\n")
        self.server.stdin.flush()
        process = int(self.server.stdout.readline())
        if kill_after is not None:
            self._wait_for(asked)
            time.sleep(kill_after[1])
            os.kill(process, signal.SIGKILL)  # or ended by now, which is fine too
        status = int(self.server.stdout.readline())
        self.server.stdin.write("\n")
        self.server.stdin.flush()
        assert status in (0, -signal.SIGKILL), "the study failed by itself"
        assert not written & set(self.asked()[before:])
        return status == 0

    def _wait_for(self, asked: int) -> None:
        """Until the model was asked so many bytes of designs, or the study is done."""
        deadline = time.monotonic() + 60.0
        while self.calls.stat().st_size < asked and not self.out.exists():
            assert time.monotonic() < deadline
            time.sleep(0.001)

    def asked(self) -> list[str]:
        """Designs the model was asked, in order of asking."""
        return self.calls.read_text().splitlines()

    def written(self) -> set[str]:
        """Designs that are written down."""
        if not self.log_folder.exists():
            return set()
        log = EvaluationLog(
            OVEN if self.study == "oven" else SPACE,
            values=OUTPUTS[self.study],
            margins=LIMITS[self.study],
            key="k",
            folder=self.log_folder,
        )
        every = set(self.asked())
        size = log.space.size
        matrix = np.frombuffer(bytes.fromhex("".join(every)), np.float64).reshape(-1, size)
        columns = {name: matrix[:, k] for k, name in enumerate(log.space.names)}
        missing = set(log.unseen(columns).tolist()) if every else set()
        return {row.tobytes().hex() for n, row in enumerate(matrix) if n not in missing}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[subprocess.Popen[str]]:
    config = tmp_path_factory.mktemp("config") / "tiny.toml"
    config.write_text(tiny_config(), "utf-8")
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        [sys.executable, "-c", SERVER, str(config), str(Path(__file__).parent)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        assert process.stdout.readline() == "ready\n"
        yield process
        process.stdin.close()


def tiny_config(studies: str = '[[study]]\nkind = "day"\n') -> str:
    text = (ROOT / "tests/oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")].replace("days_per_month = 5", "days_per_month = 1")
    return text.replace("rays = 16", "rays = 4") + studies


@pytest.fixture(scope="module", params=["search", "sobol", "oven"])
def undisturbed(
    request: pytest.FixtureRequest, server: subprocess.Popen[str], tmp_path_factory: pytest.TempPathFactory
) -> Runs:
    runs = Runs(server, request.param, tmp_path_factory.mktemp("undisturbed") / "run")
    assert runs.run()
    return runs


KILLS = 15  # of each of the three studies


def test_killed_at_any_moment_it_ends_with_the_same_bits(
    undisturbed: Runs, server: subprocess.Popen[str], tmp_path: Path
) -> None:
    rng = np.random.default_rng(11)
    whole = undisturbed.calls.stat().st_size
    rounds, found_written = 0, []
    while len(found_written) < KILLS:
        rounds += 1
        runs = Runs(server, undisturbed.study, tmp_path / f"round-{rounds}")
        for _ in range(4):
            if runs.run(kill_after=(int(rng.uniform(0.0, 0.7) * whole), rng.uniform(0.0, 0.02))):
                break
            found_written.append(len(runs.written()))
        else:
            assert runs.run()
        assert runs.out.read_text() == undisturbed.out.read_text()
        assert set(runs.asked()) == set(undisturbed.asked())
    assert rounds < 3 * KILLS
    assert len(set(found_written)) > 3  # killed here and there, not always before it began


def test_killed_while_it_writes_it_leaves_half_a_file_that_harms_nobody(
    undisturbed: Runs, server: subprocess.Popen[str], tmp_path: Path
) -> None:
    runs = Runs(server, undisturbed.study, tmp_path / "run")
    assert not runs.run(die_at=("replace", 3), every=0.0)  # written, about to be renamed
    assert len(list(runs.log_folder.glob("*.partial"))) == 1
    assert len(runs.written()) == 8  # two chunks
    assert runs.run()
    assert runs.out.read_text() == undisturbed.out.read_text()


def test_killed_while_it_merges_it_keeps_everything(
    undisturbed: Runs, server: subprocess.Popen[str], tmp_path: Path
) -> None:
    runs = Runs(server, undisturbed.study, tmp_path / "run")
    assert not runs.run(die_at=("unlink", 5), every=0.0)  # some of the sixteen are deleted, some still there
    shards = list(runs.log_folder.glob("*.evaluations"))
    assert 2 < len(shards) < 16
    before = runs.written()
    assert runs.run()
    assert len(before) >= 16 * 3  # four in a shard, fewer where designs come again
    assert runs.out.read_text() == undisturbed.out.read_text()


def noonhearth(*words: str) -> subprocess.Popen[str]:
    code = "from noonhearth.studies.cli import main; main()"
    return subprocess.Popen(
        [sys.executable, "-c", code, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


@pytest.mark.slow
def test_ctrl_c_then_the_command_it_names(tmp_path: Path) -> None:
    config = tmp_path / "small.toml"
    search = (
        '[[study]]\nkind = "search"\ngoals = ["time_to_done"]\ntrials = 300\npopulation = 10\n'
        'pick = "time_to_done"\n[study.vary]\nfacet_angle = ["25 deg", "35 deg"]\n'
    )
    config.write_text(tiny_config(search), "utf-8")
    undisturbed = noonhearth("run", str(config), "--to", str(tmp_path / "undisturbed"))
    _, stderr = undisturbed.communicate(timeout=240)
    assert undisturbed.returncode == 0, stderr

    process = noonhearth("run", str(config), "--to", str(tmp_path / "out"))
    kept = tmp_path / "out/small/.unfinished"
    deadline = time.monotonic() + 120
    while not list(kept.rglob("*.evaluations")):
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    _, stderr = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "Traceback" not in stderr
    named = re.search(r"to go on: noonhearth (.*)", stderr.replace("\n", " "))
    assert named
    assert not (tmp_path / "out/small/search.nc").exists()

    again = noonhearth(*shlex.split(named[1]))
    _, stderr = again.communicate(timeout=240)
    assert again.returncode == 0, stderr
    found, expected = (
        xr.load_dataset(tmp_path / where / "small/search.nc").drop_attrs(deep=False)
        for where in ("out", "undisturbed")
    )
    xr.testing.assert_identical(found, expected)
    assert not kept.exists()
