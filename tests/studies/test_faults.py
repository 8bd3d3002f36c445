"""Designs that stop the model are found and marked; a model that stops on all of them is not mistaken for that."""

import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from noonhearth.studies.judging.outcomes import STOPPED, Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods.search import search
from noonhearth.studies.methods.sensitivity import morris, sobol
from noonhearth.studies.methods.trials import Goal
from noonhearth.studies.running import faults
from noonhearth.studies.running.evaluations import EvaluationLog, evaluate_rows
from noonhearth.studies.running.faults import BrokenError, evaluated_apart
from noonhearth.studies.running.workers import WorkerLost

SPACE = Space(tuple(Parameter(name=n, kind="real", low=0.0, high=1.0, meaning=n) for n in ("x", "y")))
OUT = Output(name="sum", unit="1", meaning="x + y")


def plain(columns: Columns) -> Outcomes:
    total = columns["x"] + columns["y"]
    return Outcomes(values={"sum": total}, status=np.zeros(total.size, np.int64), margins={"room": -total})


class Counting:
    """A model that stops where `bad` says so; it counts what it was asked."""

    def __init__(self, bad: Callable[[Columns], np.ndarray], stop: Callable[[], object]) -> None:
        self.bad, self.stop = bad, stop
        self.calls = self.rows = 0

    def __call__(self, columns: Columns) -> Outcomes:
        self.calls += 1
        self.rows += row_count(columns)
        if self.bad(columns).any():
            self.stop()
        return plain(columns)


def stops() -> None:
    raise ZeroDivisionError("nothing to divide by")


def designs(rows: int) -> dict[str, np.ndarray]:
    return SPACE.from_unit(np.random.default_rng(5).random((rows, 2)))


def evaluate(model: Callable[[Columns], Outcomes], columns: Columns, **how: object) -> Outcomes:
    arguments: dict[str, object] = {"values": ["sum"], "margins": ["room"], "workers": 1, "chunk_rows": 64}
    return evaluate_rows(model, columns, **(arguments | how))  # type: ignore[arg-type]


def a_log(folder: Path | None) -> EvaluationLog:
    return EvaluationLog(SPACE, values=["sum"], margins=["room"], key="k", folder=folder)


@pytest.mark.parametrize("workers", [1, 2])
def test_one_bad_design_is_found_and_all_others_keep_their_numbers(workers: int) -> None:
    columns = designs(300)
    bad = columns["x"][137]
    model = Counting(lambda c: c["x"] == bad, stops)
    found = evaluate(model, columns, workers=workers)
    assert np.flatnonzero(found.status).tolist() == [137]
    assert found.status[137] == STOPPED
    others = np.arange(300) != 137
    np.testing.assert_array_equal(found.values["sum"][others], plain(columns).values["sum"][others])
    assert np.isnan(found.values["sum"][137])
    assert np.isnan(found.margins["room"][137])
    assert list(found.failures) == [137]
    assert found.failures[137].startswith("ZeroDivisionError: nothing to divide by (test_faults.py, line ")
    assert model.calls <= 5 + 2 * 6  # five chunks of 64, and halves of one down to a single design
    assert model.rows <= 300 + 2 * 64


def test_the_split_into_chunks_changes_nothing() -> None:
    columns = designs(200)
    model = Counting(lambda c: c["x"] < 0.1, stops)
    whole = evaluate(model, columns, chunk_rows=200)
    assert whole.failed == np.count_nonzero(columns["x"] < 0.1) > 5
    for chunk_rows in (1, 7, 64):
        parts = evaluate(model, columns, chunk_rows=chunk_rows)
        np.testing.assert_array_equal(parts.values["sum"], whole.values["sum"])
        np.testing.assert_array_equal(parts.status, whole.status)
        assert parts.failures == whole.failures


@pytest.mark.parametrize(
    "rubbish",
    [
        lambda columns: None,
        lambda columns: plain(columns).take(slice(1, None)),
        lambda columns: Outcomes(values={}, status=np.zeros(row_count(columns), np.int64), margins={}),
    ],
)
def test_rubbish_is_as_good_as_an_error(rubbish: Callable[[Columns], Outcomes]) -> None:
    columns = designs(100)

    def model(part: Columns) -> Outcomes:
        return rubbish(part) if (part["x"] == columns["x"][31]).any() else plain(part)

    found = evaluate(model, columns)
    assert np.flatnonzero(found.status == STOPPED).tolist() == [31]


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit, MemoryError])
def test_what_is_no_fault_of_a_design_comes_through(error: type[BaseException]) -> None:
    def stop() -> None:
        raise error

    columns = designs(100)
    model = Counting(lambda c: c["x"] == columns["x"][31], stop)
    with pytest.raises(error):
        evaluate(model, columns)


@pytest.mark.parametrize("rows", [1, 3, 100, 3000])
def test_a_model_that_stops_on_every_design_is_stopped_by_its_own_error(rows: int) -> None:
    model = Counting(lambda c: np.array([True]), stops)
    with pytest.raises(ZeroDivisionError, match="nothing to divide by") as caught:
        evaluate(model, designs(rows))
    assert f"{min(rows, 512)} designs one after another" in caught.value.__notes__[0]
    assert model.rows < 20 * 512


def test_a_generation_that_fails_whole_is_no_chance_even_after_good_ones(tmp_path: Path) -> None:
    log = a_log(tmp_path)
    evaluate(plain, designs(20), log=log)
    every = Counting(lambda c: np.array([True]), stops)
    few = SPACE.from_unit(np.random.default_rng(6).random((8, 2)))
    assert evaluate(every, few, log=log).failed == 8  # so few may be bad by themselves
    many = SPACE.from_unit(np.random.default_rng(7).random((40, 2)))
    with pytest.raises(ZeroDivisionError):
        evaluate(every, many, log=log)
    assert log.unseen(many).size == 40  # and nothing is held against them
    assert len(a_log(tmp_path)) == 28


@pytest.mark.parametrize("written_every", [0.0, 60.0])
def test_when_the_machine_breaks_half_way_what_ran_before_is_kept(
    written_every: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("noonhearth.studies.running.evaluations._WRITTEN_EVERY", written_every)
    columns = designs(2000)
    broken = threading.Event()

    def model(part: Columns) -> Outcomes:
        if broken.is_set() or part["x"][0] == columns["x"][640]:
            broken.set()
            stops()
        return plain(part)

    with pytest.raises(ZeroDivisionError):
        evaluate(model, columns, log=a_log(tmp_path))
    log = a_log(tmp_path)
    assert len(log) == 640
    broken.clear()
    found = evaluate(plain, columns, log=log)
    assert found.failed == 0
    np.testing.assert_array_equal(found.values["sum"], plain(columns).values["sum"])


def test_different_errors_on_every_design_are_kept_one_by_one() -> None:
    kinds = (ZeroDivisionError, KeyError, IndexError)

    def model(part: Columns) -> Outcomes:
        raise kinds[int(1000 * part["x"][0]) % 3]("of its own")

    assert evaluate(model, designs(50)).failed == 50


def test_an_error_that_does_not_come_again_is_told_of() -> None:
    def model(part: Columns) -> Outcomes:
        if threading.current_thread() is not threading.main_thread():
            stops()
        return plain(part)

    with pytest.raises(BrokenError, match="ZeroDivisionError: nothing to divide by"):
        evaluate(model, designs(100), workers=2)


def test_reasons_outlive_the_process(tmp_path: Path) -> None:
    columns = designs(300)
    model = Counting(lambda c: c["x"] < 0.05, stops)
    before = evaluate(model, columns, log=a_log(tmp_path))
    calls = model.calls
    after = evaluate(model, columns, log=a_log(tmp_path))
    assert model.calls == calls  # a design that stops the model does so once
    assert after.failures == before.failures
    assert len(after.failures) == after.failed > 3
    np.testing.assert_array_equal(after.status, before.status)
    doubled = {name: np.concatenate([column, column[::-1]]) for name, column in columns.items()}
    twice = evaluate(model, doubled, log=a_log(tmp_path))
    assert twice.failures == before.failures | {599 - row: text for row, text in before.failures.items()}


def test_studies_treat_it_as_any_failed_design() -> None:
    rare = Counting(lambda c: (c["x"] > 0.4) & (c["x"] < 0.402), stops)
    how = {"outputs": [OUT], "seed": 3}
    found = sobol(SPACE, rare, base_samples=512, **how)  # type: ignore[arg-type]
    assert 0 < int(found.attrs["failed_designs"]) == int((found["status"] == STOPPED).sum()) < 40
    rows = found["stopped_row"].values
    assert np.array_equal(rows, np.flatnonzero(found["status"].values == STOPPED))
    assert all("nothing to divide by" in text for text in found["stopped_reason"].values)
    # x + y with both uniform: each explains half of the variance
    np.testing.assert_allclose(found["total"].sel(output="sum")[-1], 0.5, atol=0.05)
    some = Counting(lambda c: (c["x"] < 0.3) & (c["y"] > 0.7), stops)
    moved = morris(SPACE, some, trajectories=60, most_dropped=0.5, **how)  # type: ignore[arg-type]
    assert int((moved["status"] == STOPPED).sum()) > 0
    np.testing.assert_allclose(moved["mu"].sel(output="sum"), 1.0)
    goal = Goal(name="sum", unit="1", meaning="x + y", direction="minimize")
    best = search(SPACE, some, goals=[goal], trials=200, population=20, seed=3)
    assert 0 < int((best["status"] == STOPPED).sum()) < 100
    assert float(best["sum"].min()) < 0.1


def _deadly(bad: set[float], model: Counting, columns: Columns) -> Outcomes:
    if bad & set(columns["x"].tolist()):
        raise WorkerLost("the worker died four times under it")
    return model(columns)


def test_a_design_that_takes_its_worker_down_is_found() -> None:
    columns = designs(40)
    model = Counting(lambda c: np.array([False]), stops)
    run = partial(_deadly, {columns["x"][11]}, model)
    found = evaluated_apart(["sum"], ["room"], run, columns, WorkerLost("died"))
    assert np.flatnonzero(found.status == STOPPED).tolist() == [11]
    assert found.failures == {11: "worker lost: the worker died four times under it"}
    assert model.rows == 39
    np.testing.assert_array_equal(
        np.delete(found.values["sum"], 11), np.delete(plain(columns).values["sum"], 11)
    )


def test_a_bystander_of_a_lost_worker_is_not_marked() -> None:
    one = designs(1)
    assert evaluated_apart(["sum"], ["room"], plain, one, WorkerLost("died")).failed == 0


def test_when_every_design_takes_its_worker_down_only_a_few_are_tried() -> None:
    columns = designs(64)
    lost: list[int] = []

    def run(part: Columns) -> Outcomes:
        lost.append(row_count(part))
        raise WorkerLost("died")

    with pytest.raises(WorkerLost):
        evaluated_apart(["sum"], ["room"], run, columns, WorkerLost("died"))
    assert lost.count(1) == faults._BROKEN_LOST
    assert len(lost) < 20
