"""Studies on a cluster of processes: the same bits as here, whoever dies on the way."""

import datetime
import gc
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cloudpickle
import numpy as np
import pytest
import xarray as xr

from noonhearth.model import Air, Design, Place, Sky, clearness_sky, simulate
from noonhearth.studies.judging.outcomes import STOPPED, Columns, Outcomes
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.kinds.kind import Running
from noonhearth.studies.kinds.sensitivity import SENSITIVITY
from noonhearth.studies.running import cluster as cluster_module
from noonhearth.studies.running.cluster import Cluster
from noonhearth.studies.running.evaluations import EvaluationLog, evaluate_rows
from noonhearth.studies.running.workers import CrewError, Workers, map_chunks, size_of
from noonhearth.studies.setting import Setting

cloudpickle.register_pickle_by_value(sys.modules[__name__])  # workers cannot import a test

ROOT = Path(__file__).parents[2]
SPACE = Space(tuple(Parameter(name=n, kind="real", low=0.0, high=1.0, meaning=n) for n in ("x", "y")))


# The cluster of the tests: a process of its own, so that nothing of it is left in this one; it answers questions.
CLUSTER = """
import json, sys
import dask, distributed

dask.config.set({"distributed.scheduler.allowed-failures": 0})
with distributed.LocalCluster(
    n_workers=int(sys.argv[1]), threads_per_worker=1, dashboard_address=":0", silence_logs="CRITICAL"
) as local:
    print(json.dumps(local.scheduler_address), flush=True)
    for line in sys.stdin:
        print(json.dumps(eval(line)), flush=True)
"""


class Local:
    """A scheduler and processes of one thread; a chunk whose process dies is given up at once, so tests are short."""

    def __init__(self, workers: int) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", CLUSTER, str(workers)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.address: str = self._answer()

    def __enter__(self) -> "Local":
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.communicate(timeout=60)  # no more questions: it closes the cluster and ends

    def ask(self, expression: str) -> Any:
        assert self.process.stdin is not None
        self.process.stdin.write(expression + "\n")
        self.process.stdin.flush()
        return self._answer()

    def pids(self) -> list[int]:
        return [pid for pid in self.ask("[nanny.pid for nanny in local.workers.values()]") if pid]

    def _answer(self) -> Any:
        assert self.process.stdout is not None
        return json.loads(self.process.stdout.readline())


@pytest.fixture(autouse=True)
def nothing_left_over() -> Iterator[None]:
    """dask leaves sockets of broken connections to the collector, whose warning would end up in some other test."""
    yield
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


@pytest.fixture(scope="module")
def local() -> Iterator[Local]:
    with Local(2) as local:
        yield local


@pytest.fixture
def crew(local: Local) -> Iterator[Cluster]:
    deadline = time.monotonic() + 60
    with Cluster(local.address) as crew:
        while size_of(crew) < 2:
            assert time.monotonic() < deadline
            time.sleep(0.2)
        yield crew


def slow(columns: Columns) -> Outcomes:
    time.sleep(0.002 * row_count(columns))
    total = np.sin(columns["x"]) + columns["y"] ** 3
    return Outcomes(values={"f": total}, status=np.zeros(total.size, np.int64), margins={})


def designs(rows: int) -> dict[str, np.ndarray]:
    return SPACE.from_unit(np.random.default_rng(5).random((rows, 2)))


def evaluate(
    model: Callable[[Columns], Outcomes], columns: Columns, workers: Workers, **how: object
) -> Outcomes:
    arguments: dict[str, object] = {"values": ["f"], "margins": [], "chunk_rows": 8, "workers": workers}
    return evaluate_rows(model, columns, **(arguments | how))  # type: ignore[arg-type]


def same(one: Outcomes, other: Outcomes) -> bool:
    return one.values["f"].tobytes() == other.values["f"].tobytes() and one.failures == other.failures


def test_results_come_in_the_order_of_the_chunks(crew: Cluster) -> None:
    def square(number: int) -> int:
        time.sleep(0.002 * ((number * 7) % 5))
        return number * number

    assert list(map_chunks(square, range(40), workers=crew)) == [n * n for n in range(40)]


def test_many_processes_give_the_bits_of_one_thread(crew: Cluster) -> None:
    columns = designs(200)
    here = evaluate(slow, columns, 1)
    assert same(here, evaluate(slow, columns, 2))
    assert same(here, evaluate(slow, columns, crew))
    assert same(here, evaluate(slow, columns, crew, chunk_rows=17))


def test_the_function_travels_once(crew: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    ballast = np.zeros(200_000)
    sent: list[int] = []
    real = crew._client.submit

    def submit(function: Callable[..., object], *given: object, **how: object) -> object:
        sent.append(sum(len(one) for one in given if isinstance(one, bytes)))
        return real(function, *given, **how)

    def heavy(number: int) -> int:
        return number + int(ballast[0])

    monkeypatch.setattr(crew._client, "submit", submit)
    for _ in range(2):
        assert list(map_chunks(heavy, range(10), workers=crew)) == list(range(10))
    assert len(sent) == 1 + 20
    assert sent[0] > ballast.nbytes
    assert max(sent[1:]) < 1000


def test_killed_workers_change_nothing(local: Local, crew: Cluster) -> None:
    columns = designs(600)
    rng = np.random.default_rng(3)
    stop = threading.Event()
    killed: list[int] = []

    def kill() -> None:
        while not stop.wait(0.3 + 0.3 * rng.random()) and len(killed) < 2:
            running = local.pids()
            if len(running) == 2:
                killed.append(running[len(killed) % 2])
                os.kill(killed[-1], signal.SIGKILL)

    local.ask("setattr(local.scheduler, 'allowed_failures', 3)")
    killer = threading.Thread(target=kill)
    killer.start()
    try:
        found = evaluate(slow, columns, crew)
    finally:
        stop.set()
        killer.join()
        local.ask("setattr(local.scheduler, 'allowed_failures', 0)")
    assert len(killed) >= 1
    assert same(found, evaluate(slow, columns, 1))


def test_a_design_that_kills_its_worker_is_found(crew: Cluster, tmp_path: Path) -> None:
    columns = designs(60)
    deadly = columns["x"][21]

    def model(part: Columns) -> Outcomes:
        if deadly in part["x"]:
            os.kill(os.getpid(), signal.SIGKILL)
        return slow(part)

    log = EvaluationLog(SPACE, values=["f"], margins=[], key="k", folder=tmp_path)
    found = evaluate(model, columns, crew, log=log, chunk_rows=4)
    assert np.flatnonzero(found.status).tolist() == [21]
    assert found.status[21] == STOPPED
    assert found.failures == {
        21: "worker lost: the process that ran this design died, each time it was tried"
    }
    others = np.arange(60) != 21
    assert found.values["f"][others].tobytes() == evaluate(slow, columns, 1).values["f"][others].tobytes()


def test_an_error_comes_back_as_it_was(crew: Cluster) -> None:
    def stops(part: Columns) -> Outcomes:
        raise ZeroDivisionError("nothing to divide by")

    with pytest.raises(ZeroDivisionError, match="nothing to divide by"):
        evaluate(stops, designs(20), crew)


def test_another_model_on_a_worker_is_refused(local: Local, monkeypatch: pytest.MonkeyPatch) -> None:
    here = cluster_module.versions()
    monkeypatch.setattr(cluster_module, "versions", lambda: here | {"model": "0" * 16})
    with (
        pytest.raises(CrewError, match=r"would give other numbers \(its model differ"),
        Cluster(local.address),
    ):
        pass


def test_a_worker_that_comes_later_is_asked_too(crew: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    here = cluster_module.versions()
    monkeypatch.setattr(cluster_module, "versions", lambda: here | {"numba": "0.1"})
    with pytest.raises(CrewError, match=r"its numba differ"):
        evaluate(slow, designs(20), crew)


def test_no_scheduler_is_one_clear_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "_REACHED_WITHIN", "0.5s")
    for address in ("tcp://127.0.0.1:9", "nonsense", "what://is.this:1"):
        with (
            pytest.raises(CrewError, match=f"no scheduler answers at {address}; start one"),
            Cluster(address),
        ):
            pass


def test_an_interrupt_lets_go_of_the_work(crew: Cluster, local: Local) -> None:
    def interrupt(done: int, total: int, failed: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        evaluate(slow, designs(400), crew, progress=interrupt)
    deadline = time.monotonic() + 10
    while any(key.startswith("_worked") for key in local.ask("list(local.scheduler.tasks)")):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_a_crew_that_the_scheduler_forgot_does_not_wait_for_ever(crew: Cluster, local: Local) -> None:
    crew.still_there()
    local.ask(f"local.loop.add_callback(local.scheduler.remove_client, {crew._client.id!r})")
    deadline = time.monotonic() + 10
    while crew._client.id in local.ask("list(local.scheduler.clients)"):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    with pytest.raises(CrewError, match=r"is lost \(workers when last seen: 2\)"):
        crew.still_there()


def test_without_workers_a_study_gives_up_after_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "_PATIENCE", 1.0)
    with (
        Local(0) as empty,
        pytest.raises(CrewError, match=r"has had 0 workers for 1 s; start some with: dask worker tcp://"),
        Cluster(empty.address),
    ):
        pass


def test_a_scheduler_that_goes_away_is_told_of_and_loses_nothing(tmp_path: Path) -> None:
    columns = designs(400)

    def log() -> EvaluationLog:
        return EvaluationLog(SPACE, values=["f"], margins=[], key="k", folder=tmp_path)

    with Local(1) as local:

        def pull_the_plug(done: int, total: int, failed: int) -> None:
            if done == 80:
                local.end()

        with (
            Cluster(local.address) as crew,
            pytest.raises(
                CrewError, match=r"is lost \(workers when last seen: 1\); see that it and its workers run"
            ),
        ):
            evaluate(slow, columns, crew, log=log(), progress=pull_the_plug)
    kept = log()
    assert len(kept) >= 80
    assert same(evaluate(slow, columns, 1, log=kept), evaluate(slow, columns, 1))


def test_an_oven_is_the_same_on_a_cluster(crew: Cluster, design: Design, sky: Sky) -> None:
    setting = Setting(design=design, sky=sky, rays=4, seed=2)
    keys = {
        "vary": {"facet_angle": {"within": "4 deg"}, "wind_share": ["50 %", "100 %"]},
        "outputs": ["peak_temperature", "mass"],
        "base_samples": 16,
    }
    here = SENSITIVITY(setting, running=Running(workers=1), **keys)
    xr.testing.assert_identical(here, SENSITIVITY(setting, running=Running(workers=2), **keys))
    xr.testing.assert_identical(here, SENSITIVITY(setting, running=Running(workers=crew), **keys))


def test_one_process_begins_before_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "cache_folder", lambda _: tmp_path / "heat-1")
    steps: list[str] = []

    def first_chunk() -> None:
        with cluster_module._alone_at_first("a mark"):
            steps.append("in")
            time.sleep(0.1)
            steps.append("out")

    threads = [threading.Thread(target=first_chunk) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert steps == [
        "in",
        "out",
        "in",
        "in",
        "out",
        "out",
    ]  # all waited for the first, then nobody for anybody
    old = tmp_path / "begun/another mark"
    old.touch()
    os.utime(old, (0.0, 0.0))
    with cluster_module._alone_at_first("a mark"), cluster_module._alone_at_first("a mark"):
        pass  # nobody waits any more
    with cluster_module._alone_at_first("a third mark"):
        pass
    assert not old.exists()


DOCUMENT = (ROOT / "docs/many-machines.md").read_text("utf-8")
COMMANDS = re.findall(r"<!-- run by a test -->\n```sh\n(.*?)\n```", DOCUMENT)


def started(command: str, port: int, *more: str, cwd: Path) -> subprocess.Popen[str]:
    """A command of the document as it stands there, for this machine, a free port and two workers."""
    command = (
        command.replace("lab-1", "127.0.0.1")
        .replace("8786", str(port))
        .replace("--nworkers -1", "--nworkers 2")
    )
    program, *words = command.split()
    programs = {
        "dask": ["-m", "dask"],
        "noonhearth": ["-c", "from noonhearth.studies.cli import main; main()"],
    }
    return subprocess.Popen(
        [sys.executable, *programs[program], *words, *more],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.fixture
def first_oven(tmp_path: Path) -> Path:
    """A folder with the config that the document names, made small."""
    text = (ROOT / "tests/oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")].replace("days_per_month = 5", "days_per_month = 1")
    text += (
        '[[study]]\nkind = "search"\ngoals = ["time_to_done"]\ntrials = 24\npopulation = 8\n'
        'pick = "time_to_done"\n[study.vary]\nfacet_angle = ["25 deg", "35 deg"]\n'
    )
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs/first_oven.toml").write_text(text, "utf-8")
    return tmp_path


@pytest.mark.slow
def test_the_commands_of_the_document_run_a_study(first_oven: Path) -> None:
    scheduler_command, worker_command, run_command = COMMANDS
    port, started_here = free_port(), []
    try:
        for command in (scheduler_command, worker_command):
            more = () if command is worker_command else ("--no-dashboard",)
            started_here.append(started(command, port, *more, cwd=first_oven))
        run = started(run_command, port, "--to", "far", cwd=first_oven)
        told, _ = run.communicate(timeout=300)
        assert run.returncode == 0, told
    finally:
        for process in started_here:
            process.send_signal(signal.SIGTERM)
        for process in started_here:
            process.communicate(timeout=30)
    here = started(run_command.partition(" --scheduler")[0], port, "--to", "here", cwd=first_oven)
    assert here.communicate(timeout=300)
    assert here.returncode == 0
    found, expected = (
        xr.load_dataset(first_oven / where / "first_oven/search.nc").drop_attrs(deep=False)
        for where in ("far", "here")
    )
    xr.testing.assert_identical(found, expected)

    gone = started(run_command, port, cwd=first_oven)
    told, _ = gone.communicate(timeout=60)
    assert gone.returncode == 1
    assert f"no scheduler answers at tcp://127.0.0.1:{port}" in told
    assert "Traceback" not in told


def test_the_light_of_a_site_is_that_of_its_sun_alone(place: Place, design: Design) -> None:
    def shares(clearness: float, low: float) -> np.ndarray:
        air = Air(low=low, high=low + 12.0, dew_point=275.0, wind_speed=1.0)
        hours = {"start": datetime.time(10), "stop": datetime.time(12)}
        sky = clearness_sky(
            place, **hours, air=air, months=[3, 6], clearness=[clearness] * 2, days_per_month=1
        )
        return np.asarray(simulate(design, sky, rays=4, histories=True)["beam_ends"])

    np.testing.assert_array_equal(shares(0.65, 295.0), shares(0.45, 285.0))
