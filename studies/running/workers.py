"""Chunks of work on several threads or many machines, with the same results whoever does them.

The kernels release the interpreter, so threads are enough on one machine; `cluster` has a crew of many machines.
Results come back in the order of the chunks, never in the order of finishing, and at most a few chunks wait at any
time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from typing import Protocol, Self, TypeVar

Chunk = TypeVar("Chunk")
Result = TypeVar("Result")
Got = TypeVar("Got", covariant=True)
Progress = Callable[[int, int, int], None]

# Chunks handed out per worker: one being worked on and one waiting keep every worker busy, while a study of
# a million rows still holds only a few chunks in memory.
_QUEUED_PER_WORKER = 2


class CrewError(RuntimeError):
    """Workers that cannot be had or are gone; the message says where, how many are left and the next move."""


class WorkerLost(RuntimeError):
    """A chunk whose worker died under it, several times over; the message says how."""


class Task(Protocol[Got]):
    """A chunk that was handed out."""

    def result(self) -> Got:
        """What came of it, waiting if need be; raises what the work raised, or `WorkerLost`."""

    def exception(self) -> BaseException | None:
        """Wait until it has ended; with what error, if any."""

    def cancel(self) -> object:
        """Call it off if it has not begun."""


class Crew(Protocol):
    """Whoever works on chunks: threads here, or processes on many machines."""

    @property
    def size(self) -> int:
        """How many chunks can be worked on at once, as of now."""

    def handing(self, function: Callable[[Chunk], Result]) -> Callable[[Chunk], Task[Result]]:
        """What hands out chunks for one function, which itself travels once."""


Workers = int | Crew  # a number of threads of their own for each call, or a crew that is there already


class Threads:
    """A crew of threads of this process.

    Parameters
    ----------
    size : int
    """

    def __init__(self, size: int) -> None:
        self._size = size
        self._pool = ThreadPoolExecutor(size)

    def __enter__(self) -> Self:
        """The crew."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let running chunks end; no thread is left behind."""
        self._pool.shutdown(cancel_futures=True)

    @property
    def size(self) -> int:
        """Number of threads."""
        return self._size

    def handing(self, function: Callable[[Chunk], Result]) -> Callable[[Chunk], Task[Result]]:
        """What hands out chunks for one function."""
        return lambda chunk: self._pool.submit(function, chunk)


def size_of(workers: Workers) -> int:
    """How many chunks can be worked on at once.

    Raises
    ------
    ValueError
        Fewer than one worker.
    """
    size = workers if isinstance(workers, int) else workers.size
    if size < 1:
        raise ValueError(f"workers = {size}, allowed 1 or more")
    return size


def map_chunks(
    function: Callable[[Chunk], Result],
    chunks: Iterable[Chunk],
    *,
    workers: Workers,
    total: int = 0,
    tally: Callable[[Result], tuple[int, int]] = lambda _: (1, 0),
    progress: Progress | None = None,
    rescue: Callable[[Callable[[Chunk], Result], Chunk, WorkerLost], Result] | None = None,
) -> Generator[Result]:
    """Results of `function` for each chunk, in order.

    The first error stops the handing out, lets running chunks end, and is raised here. So does an interrupt
    (Ctrl-C), and so does a caller who stops iterating: no thread is left behind.

    Parameters
    ----------
    function : callable
        Called with one chunk; must not depend on the order of calls.
    chunks : iterable
        Read lazily, in the calling thread.
    workers : int or Crew
        Threads, 1 works in the calling thread; or a crew, which is not sent home here.
    total : int
        What `progress` is told as the whole, in the unit of `tally`.
    tally : callable
        (done, failed) of one result; counts chunks unless given.
    progress : callable, optional
        Called in the calling thread with (done, total, failed) after each chunk.
    rescue : callable, optional
        Given a function that runs a chunk with nothing beside it, a chunk whose worker died and how; returns its
        result. Without it `WorkerLost` is raised.

    Raises
    ------
    ValueError
        Fewer than one worker.
    """
    results = (
        map(function, chunks)
        if size_of(workers) == 1 and isinstance(workers, int)
        else _handed_out(function, chunks, workers, rescue)
    )
    done = failed = 0
    for result in results:
        finished, lost = tally(result)
        done, failed = done + finished, failed + lost
        if progress is not None:
            progress(done, total, failed)
        yield result


def _handed_out(
    function: Callable[[Chunk], Result],
    chunks: Iterable[Chunk],
    workers: Workers,
    rescue: Callable[[Callable[[Chunk], Result], Chunk, WorkerLost], Result] | None,
) -> Iterator[Result]:
    """Hand out chunks ahead of need, take the results back in order."""
    waiting: deque[tuple[Chunk, Task[Result]]] = deque()
    own: AbstractContextManager[Crew] = Threads(workers) if isinstance(workers, int) else nullcontext(workers)
    with own as crew:
        hand_out = crew.handing(function)

        def first() -> Result:
            chunk, task = waiting.popleft()
            try:
                return task.result()
            except WorkerLost as lost:
                if rescue is None:
                    raise
                for _, task in waiting:
                    task.exception()  # nothing may run beside what may take a worker down
                return rescue(lambda part: hand_out(part).result(), chunk, lost)

        try:
            for chunk in chunks:
                waiting.append((chunk, hand_out(chunk)))
                while len(waiting) >= _QUEUED_PER_WORKER * crew.size:
                    yield first()
            while waiting:
                yield first()
        finally:
            for _, task in waiting:
                task.cancel()
