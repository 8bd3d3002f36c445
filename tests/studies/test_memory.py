"""What a log holds and leaves behind: found again bit for bit, bounded in memory and in files."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from noonhearth.model import Design, Sky
from noonhearth.studies.kinds import Running
from noonhearth.studies.kinds.sensitivity import SENSITIVITY
from noonhearth.studies.running import known_rows, shards
from noonhearth.studies.running.known_rows import NONE, KnownRows, first_of_each
from noonhearth.studies.running.shards import Batch, LogError, Shards, joined
from noonhearth.studies.setting import Setting

HEADER = {"key": "k", "factors": ["x"]}


def weak(keys: np.ndarray) -> np.ndarray:
    """A hash of three values: nearly every row meets others of the same hash."""
    return (keys[:, 0] * 7919.0).astype(np.uint64) % np.uint64(3)


@pytest.fixture(params=["good", "weak"])
def hashing(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "weak":
        monkeypatch.setattr(known_rows, "_hashes", weak)
    return str(request.param)


def test_rows_are_found_as_a_dict_finds_them(hashing: str) -> None:
    """The obvious twin: a dict of bytes."""
    rng = np.random.default_rng(4)
    rows, twin = KnownRows(2, 3), dict[bytes, tuple[int, list[float]]]()
    for size in (1, 0, 5, 300, 17, 1, 400, 90):
        keys = rng.integers(0, 30, (size, 2)).astype(np.float64)  # many come again, in one batch and later
        numbers, status = rng.random((size, 3)), rng.integers(0, 9, size)
        expected = []
        for n, key in enumerate(keys):
            if key.tobytes() not in twin:
                twin[key.tobytes()] = (int(status[n]), numbers[n].tolist())
                expected.append(n)
        assert rows.add(keys, status, numbers).tolist() == expected
        assert len(rows) == len(twin)
    asked = rng.integers(0, 40, (2000, 2)).astype(np.float64)
    places = rows.places(asked)
    for key, place in zip(asked, places.tolist(), strict=True):
        if place == NONE:
            assert key.tobytes() not in twin
        else:
            here = np.array([place])
            found = int(rows.status(here)[0]), rows.numbers(here)[0].tolist()
            assert found == twin[key.tobytes()]


def test_the_first_of_each_row_is_found_as_a_dict_finds_it(hashing: str) -> None:
    keys = np.random.default_rng(8).integers(0, 12, (500, 2)).astype(np.float64)
    twin: dict[bytes, int] = {}
    for n, key in enumerate(keys):
        twin.setdefault(key.tobytes(), n)
    assert first_of_each(keys).tolist() == list(twin.values())
    assert first_of_each(keys[:0]).size == 0


def test_rows_differ_if_one_bit_does() -> None:
    row = np.array([[0.1, 0.7]])
    rows = KnownRows(2, 0)
    rows.add(row, np.zeros(1, np.int64), np.empty((1, 0)))
    for bit in range(128):
        bits = row.view(np.uint64).copy()
        bits[0, bit // 64] ^= np.uint64(1) << np.uint64(bit % 64)
        assert rows.places(bits.view(np.float64))[0] == NONE
    assert rows.places(row)[0] == 0


def batch(start: int, rows: int, failures: dict[int, str] | None = None) -> Batch:
    numbers = np.arange(start, start + rows, dtype=np.float64)[:, np.newaxis]
    return Batch(numbers, np.zeros(rows, np.int64), -numbers, failures or {})


def stored(folder: Path) -> list[float]:
    return sorted(joined(list(Shards(folder, HEADER).read())).matrix[:, 0].tolist())


@pytest.mark.parametrize("rows", [1, 3, 16, 40])
def test_many_small_shards_become_a_few(rows: int, tmp_path: Path) -> None:
    log, written = Shards(tmp_path, HEADER), 0
    before: set[Path] = set()
    for n in range(300):
        log.write(batch(rows * n, rows, {0: f"reason {n}"}))
        now = set(tmp_path.iterdir())
        written += sum(path.stat().st_size for path in now - before)
        before = now
    assert len(before) <= 3 * 15
    assert stored(tmp_path) == list(range(300 * rows))
    failures = joined(list(Shards(tmp_path, HEADER).read()))
    reasons = {failures.matrix[row, 0]: text for row, text in failures.failures.items()}
    assert reasons == {rows * n: f"reason {n}" for n in range(300)}
    Shards(tmp_path / "alone", HEADER).write(batch(0, 300 * rows))
    whole = next((tmp_path / "alone").iterdir()).stat().st_size
    assert written < 4 * (whole + 300 * 2500)  # each design a few times, and what every small file costs


def test_large_shards_are_left_alone(tmp_path: Path) -> None:
    log = Shards(tmp_path, HEADER)
    for n in range(20):
        log.write(batch(n * shards._LARGE, shards._LARGE))
    assert len(list(tmp_path.iterdir())) == 20


def test_a_second_process_may_add_and_merge_meanwhile(tmp_path: Path) -> None:
    first, second = Shards(tmp_path, HEADER), Shards(tmp_path, HEADER)
    for n in range(10):
        first.write(batch(n, 1))
    assert len(list(second.read())) == 10
    for n in range(10, 40):
        (first if n % 2 else second).write(batch(n, 1))  # both merge the ten they know
    assert sorted(set(stored(tmp_path))) == list(range(40))


def test_a_reader_finds_what_is_merged_under_it(tmp_path: Path) -> None:
    writer = Shards(tmp_path, HEADER)
    for n in range(15):
        writer.write(batch(n, 1))
    reading = Shards(tmp_path, HEADER).read()
    found = [next(reading)]
    writer.write(batch(15, 1))  # the sixteenth: all become one file
    assert len(list(tmp_path.iterdir())) == 1
    found += list(reading)
    assert set(joined(found).matrix[:, 0].tolist()) == set(range(16))


def test_half_a_shard_is_ignored_and_cleaned_away(tmp_path: Path) -> None:
    Shards(tmp_path, HEADER).write(batch(0, 3))
    half = tmp_path / "tmp123.partial"
    half.write_bytes(next(tmp_path.glob("*.evaluations")).read_bytes()[:50])
    assert stored(tmp_path) == [0.0, 1.0, 2.0]
    assert half.exists()  # another process may be writing it at this moment
    long_ago = time.time() - 2 * shards._ABANDONED
    os.utime(half, (long_ago, long_ago))
    assert stored(tmp_path) == [0.0, 1.0, 2.0]
    assert not half.exists()


def test_a_merge_keeps_what_it_cannot_replace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = Shards(tmp_path, HEADER)
    for n in range(15):
        log.write(batch(n, 1))
    written = []
    real = os.replace

    def full_disk(source: str, target: Path) -> None:
        written.append(target)
        if len(written) == 2:  # the sixteenth is written, the merged one is not
            raise OSError("no space left on device")
        real(source, target)

    monkeypatch.setattr("noonhearth.studies.running.shards.os.replace", full_disk)
    with pytest.raises(OSError, match="no space"):
        log.write(batch(15, 1))
    assert stored(tmp_path) == list(range(16))


def test_a_refusal_says_what_differs(tmp_path: Path) -> None:
    Shards(tmp_path, {"model version": "1", "config": "a"}).write(batch(0, 1))
    with pytest.raises(LogError, match=r"its model version differ\); give this study a folder of its own"):
        list(Shards(tmp_path, {"model version": "2", "config": "a"}).read())


MILLION = """
import json, resource, sys, time
from pathlib import Path
import numpy as np
from noonhearth.studies.running.evaluations import EvaluationLog, evaluate_rows
from noonhearth.studies.judging.outcomes import Outcomes
from noonhearth.studies.judging.space import Parameter, Space

NAMES = [f"factor_{n}" for n in range(12)]
VALUES = [f"value_{n}" for n in range(4)]
ROWS = 1_000_000
space = Space(tuple(Parameter(name=n, kind="real", low=0.0, high=1.0, meaning=n) for n in NAMES))
calls = 0

def evaluate(columns):
    global calls
    rows = len(columns[NAMES[0]])
    calls += rows
    values = {name: columns[f"factor_{n}"] + columns["factor_11"] for n, name in enumerate(VALUES)}
    return Outcomes(values=values, status=np.zeros(rows, np.int64), margins={})

def study():
    columns = space.from_unit(np.random.default_rng(2).random((ROWS, 12)))
    log = EvaluationLog(space, values=VALUES, margins=[], key="k", folder=Path(sys.argv[1]))
    found = evaluate_rows(
        evaluate, columns, values=VALUES, margins=[], workers=1, chunk_rows=512, log=log
    )
    return columns, found

import noonhearth.studies.running.evaluations as evaluations
evaluations._WRITTEN_EVERY = 0.0  # a shard a chunk, as in a study that takes its time
start = time.perf_counter()
columns, found = study()
seconds = time.perf_counter() - start
right = all(
    (found.values[v] == columns[f"factor_{n}"] + columns["factor_11"]).all() for n, v in enumerate(VALUES)
)
first = found.values
del columns, found
again = study()[1]  # resumed when all is done: nothing is evaluated
print(json.dumps({
    "calls": calls,
    "right": bool(right),
    "same": all((again.values[v] == first[v]).all() for v in VALUES),
    "peak": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
    "files": len(list(Path(sys.argv[1]).iterdir())),
    "seconds": seconds,
}))
"""


@pytest.mark.slow
def test_a_million_designs_fit(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", MILLION, str(tmp_path)], capture_output=True, text=True, check=True
    )
    told = json.loads(done.stdout)
    assert told["calls"] == 1_000_000
    assert told["right"]
    assert told["same"]
    assert told["peak"] <= 1.5 * 2**30
    assert told["files"] <= 120


def test_a_study_of_another_setting_or_model_is_not_mixed_in(
    design: Design, sky: Sky, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = {"vary": {"facet_angle": {"within": "4 deg"}}, "outputs": ["mass"], "base_samples": 16}
    running = Running(scratch=tmp_path)
    SENSITIVITY(Setting(design=design, sky=sky, rays=4), running=running, **keys)
    with pytest.raises(LogError, match=r"its setting differ\).* delete .*sensitivity to begin anew"):
        SENSITIVITY(Setting(design=design, sky=sky, rays=8), running=running, **keys)
    monkeypatch.setattr("noonhearth.studies.kinds.kind.source_hash", lambda: "another")
    with pytest.raises(LogError, match="its model version differ"):
        SENSITIVITY(Setting(design=design, sky=sky, rays=4), running=running, **keys)
