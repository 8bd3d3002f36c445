"""Chunks of work on several threads, with the same results whatever the number of threads.

The kernels release the interpreter, so threads are enough on one machine. Results come back in the order of
the chunks, never in the order of finishing, and at most a few chunks wait at any time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import nullcontext
from typing import TypeVar

Chunk = TypeVar("Chunk")
Result = TypeVar("Result")
Progress = Callable[[int, int, int], None]

# Chunks handed out per worker: one being worked on and one waiting keep every worker busy, while a study of
# a million rows still holds only a few chunks in memory.
_QUEUED_PER_WORKER = 2


def map_chunks(
    function: Callable[[Chunk], Result],
    chunks: Iterable[Chunk],
    *,
    workers: int,
    total: int = 0,
    tally: Callable[[Result], tuple[int, int]] = lambda _: (1, 0),
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Iterator[Result]:
    """Results of `function` for each chunk, in order.

    The first error stops the handing out, lets running chunks end, and is raised here. So does an interrupt
    (Ctrl-C), and so does a caller who stops iterating: no thread is left behind.

    Parameters
    ----------
    function : callable
        Called with one chunk; must not depend on the order of calls.
    chunks : iterable
        Read lazily, in the calling thread.
    workers : int
        Threads; 1 works in the calling thread.
    total : int
        What `progress` is told as the whole, in the unit of `tally`.
    tally : callable
        (done, failed) of one result; counts chunks unless given.
    progress : callable, optional
        Called in the calling thread with (done, total, failed) after each chunk.
    executor : Executor, optional
        A running pool of the caller's to use instead of own threads, for instance one of many machines; it is
        not shut down here.

    Raises
    ------
    ValueError
        Fewer than one worker.
    """
    if workers < 1:
        raise ValueError(f"workers = {workers}, allowed 1 or more")
    if workers == 1 and executor is None:
        results: Iterator[Result] = map(function, chunks)
    else:
        results = _pooled(function, chunks, workers, executor)
    done = failed = 0
    for result in results:
        finished, lost = tally(result)
        done, failed = done + finished, failed + lost
        if progress is not None:
            progress(done, total, failed)
        yield result


def _pooled(
    function: Callable[[Chunk], Result], chunks: Iterable[Chunk], workers: int, executor: Executor | None
) -> Iterator[Result]:
    """Hand out chunks ahead of need, take the results back in order."""
    waiting: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(workers) if executor is None else nullcontext(executor) as pool:
        try:
            for chunk in chunks:
                waiting.append(pool.submit(function, chunk))
                if len(waiting) >= _QUEUED_PER_WORKER * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()
