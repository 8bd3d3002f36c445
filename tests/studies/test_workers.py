"""Chunks on threads: order, bounds, errors and interrupts."""

import _thread
import threading
import time
from collections.abc import Callable

import pytest

from noonhearth.studies.running.workers import Task, Threads, WorkerLost, map_chunks, size_of


def _slow_square(number: int) -> int:
    time.sleep(0.002 * ((number * 7) % 5))  # later chunks often finish first
    return number * number


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_results_come_in_the_order_of_the_chunks(workers: int) -> None:
    assert list(map_chunks(_slow_square, range(30), workers=workers)) == [n * n for n in range(30)]


def test_chunks_really_run_side_by_side() -> None:
    together = threading.Barrier(3, timeout=10.0)  # broken unless three threads wait at once

    def meet(_: int) -> bool:
        together.wait()
        return True

    assert all(map_chunks(meet, range(6), workers=3))


@pytest.mark.parametrize("workers", [1, 3])
def test_only_a_few_chunks_are_read_ahead(workers: int) -> None:
    read = 0

    def chunks():
        nonlocal read
        for number in range(1000):
            read = number + 1
            yield number

    results = map_chunks(_slow_square, chunks(), workers=workers)
    for taken in range(1, 20):
        next(results)
        assert read - taken <= 2 * workers
    results.close()


@pytest.mark.parametrize("workers", [1, 2])
def test_progress_adds_up(workers: int) -> None:
    seen: list[tuple[int, int, int]] = []
    chunks = [3, 4, 5]
    done = map_chunks(
        lambda n: n,
        chunks,
        workers=workers,
        total=12,
        tally=lambda n: (n, n - 3),
        progress=lambda *now: seen.append(now),
    )
    assert list(done) == chunks
    assert seen == [(3, 12, 0), (7, 12, 1), (12, 12, 3)]


@pytest.mark.parametrize("workers", [1, 2])
def test_the_first_error_stops_the_rest(workers: int) -> None:
    started: list[int] = []

    def fail_at_five(number: int) -> int:
        started.append(number)
        time.sleep(0.002)
        if number == 5:
            raise ArithmeticError("five")
        return number

    before = threading.active_count()
    with pytest.raises(ArithmeticError, match="five"):
        list(map_chunks(fail_at_five, range(1000), workers=workers))
    assert max(started) <= 5 + 2 * workers
    assert threading.active_count() == before


def test_after_an_error_waiting_chunks_are_not_begun() -> None:
    started: list[int] = []

    def first_fails(number: int) -> None:
        started.append(number)
        if number == 0:
            raise ArithmeticError
        time.sleep(0.2)  # while this one runs, the two behind it are called off

    with Threads(1) as crew:
        crew._size = 3  # so that more are handed out than may begin
        with pytest.raises(ArithmeticError):
            list(map_chunks(first_fails, range(10), workers=crew))
        time.sleep(0.5)  # time enough for a third
    assert started in ([0], [0, 1])


def test_an_interrupt_ends_cleanly() -> None:
    before = threading.active_count()
    started: list[int] = []

    def work(number: int) -> int:
        started.append(number)
        if number == 3:
            _thread.interrupt_main()
        time.sleep(0.005)
        return number

    with pytest.raises(KeyboardInterrupt):
        for _ in map_chunks(work, range(1000), workers=2):
            pass
    assert threading.active_count() == before
    assert len(started) < 20


def test_a_caller_who_stops_leaves_no_thread() -> None:
    before = threading.active_count()
    results = map_chunks(_slow_square, range(1000), workers=3)
    assert next(results) == 0
    results.close()
    assert threading.active_count() == before


def test_a_crew_is_not_sent_home() -> None:
    before = threading.active_count()
    with Threads(2) as crew:
        assert size_of(crew) == 2
        for _ in range(2):
            assert list(map_chunks(_slow_square, range(5), workers=crew)) == [0, 1, 4, 9, 16]
    assert threading.active_count() == before


class _Mortal:
    """A crew whose workers die under some chunks, of threads; it counts who runs beside whom."""

    size = 2

    def __init__(self, crew: Threads, deadly: set[int]) -> None:
        self.crew, self.deadly = crew, deadly
        self.running: set[int] = set()
        self.beside: dict[int, int] = {}

    def handing(self, function: Callable[[int], int]) -> Callable[[int], Task[int]]:
        def work(chunk: int) -> int:
            self.running.add(chunk)
            time.sleep(0.01)
            self.beside[chunk] = len(self.running)
            self.running.discard(chunk)
            if chunk in self.deadly:
                raise WorkerLost(f"died under {chunk}")
            return function(chunk)

        return self.crew.handing(work)


def test_a_lost_chunk_is_rescued_with_nothing_beside_it() -> None:
    rescued = []

    def rescue(run: Callable[[int], int], chunk: int, lost: WorkerLost) -> int:
        rescued.append(str(lost))
        crew.beside.clear()
        assert run(100) == 10_000
        assert crew.beside == {100: 1}
        return -chunk

    with Threads(2) as threads:
        crew = _Mortal(threads, deadly={3, 7})
        found = list(map_chunks(_slow_square, range(12), workers=crew, rescue=rescue))
        assert found == [-n if n in (3, 7) else n * n for n in range(12)]
        assert rescued == ["died under 3", "died under 7"]
        with pytest.raises(WorkerLost, match="under 3"):
            list(map_chunks(_slow_square, range(12), workers=crew))


def test_no_workers_is_refused() -> None:
    with pytest.raises(ValueError, match="workers = 0"):
        list(map_chunks(_slow_square, [1], workers=0))
