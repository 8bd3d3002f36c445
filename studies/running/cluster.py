"""A crew of processes on many machines, through a dask.distributed scheduler; dask lives here only.

The function travels once: its bytes are a task of their own, which the scheduler runs again should every worker that
holds them die. Chunks travel as bytes too, so that nothing looks into them on the way.

Whatever decides a number must be the same everywhere: a worker with another model, or other libraries under it, is
refused by name. Kernels are compiled by one process of a machine at a time, because numba's cache on disk is not made
for several that write to it.
"""

from __future__ import annotations

import hashlib
import logging
import pickle
import platform
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from contextlib import AbstractContextManager, contextmanager, nullcontext
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Generic, Self

from ...model import cache_folder, source_hash
from .workers import Chunk, CrewError, Got, Result, WorkerLost, Workers

NEEDED = "pip install 'noonhearth[cluster]'"

_REACHED_WITHIN = "10s"
_ANSWERS_WITHIN = 30.0  # s; a scheduler answers in milliseconds, or in seconds where it is overloaded
_PATIENCE = 60.0  # s without any worker before a study gives up: time to start one, or for one to come back
_LOOK_EVERY = 5.0  # s between looks at whether any worker is left while one waits for a result
_COUNT_EVERY = 1.0  # s between counts of the workers, which come and go
_UNUSED = 30 * 86_400.0  # s after which the mark of a machine that has compiled is removed
_DECIDING = ("noonhearth", "numpy", "scipy", "numba", "pvlib")  # whose version may move a number


def crew_of(workers: int, scheduler: str | None) -> AbstractContextManager[Workers]:
    """Whoever does the work: threads here, or the workers of a scheduler if its address is given."""
    return nullcontext(workers) if scheduler is None else Cluster(scheduler)


class Cluster:
    """Workers behind a scheduler, as a crew.

    Parameters
    ----------
    address : str
        Of the scheduler, such as `tcp://127.0.0.1:8786`.

    Raises
    ------
    CrewError
        On entering: no scheduler or no worker there, or a worker with another version; later: none is left.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._client: Any = None  # of dask.distributed, whose own types are not whole
        self._sent: tuple[bytes, Any] | None = None
        self._count = 0
        self._counted = self._seen = -float("inf")

    def __enter__(self) -> Self:
        """The crew, once a worker is there and all are of one version."""
        distributed = _distributed()
        self._level = logging.getLogger("distributed").level
        logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what goes wrong is told by errors here
        try:
            self._client = distributed.Client(
                self.address, timeout=_REACHED_WITHIN, set_as_default=False, name="noonhearth"
            )
        except (OSError, ValueError) as error:
            logging.getLogger("distributed").setLevel(self._level)
            raise CrewError(
                f"no scheduler answers at {self.address}; start one with: dask scheduler; or run without "
                "--scheduler. What was finished is kept"
            ) from error
        try:
            self._seen = time.monotonic()
            while not self._workers():
                self.still_there()
                time.sleep(_COUNT_EVERY / 2)
            self._refuse_others()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        """Leave; the scheduler forgets what this crew was given, the workers stay."""
        self._client.close()
        logging.getLogger("distributed").setLevel(self._level)

    @property
    def size(self) -> int:
        """Threads of all workers together, at least 1 while none is there."""
        return max(1, self._workers())

    def handing(self, function: Callable[[Chunk], Result]) -> Callable[[Chunk], _Remote[Result]]:
        """What hands out chunks for one function, which itself travels once."""
        import cloudpickle

        body = cloudpickle.dumps(function)

        def hand_out(chunk: Chunk) -> _Remote[Result]:
            packed = cloudpickle.dumps(chunk)
            return _Remote(
                self, self._client.submit(_worked, self._held(body), packed, versions(), pure=False)
            )

        return hand_out

    def still_there(self) -> None:
        """Refuse to wait on when there has been no worker for a while, or the scheduler has forgotten this crew."""
        own = self._client.id
        # Without this a chunk of a client that the scheduler dropped would be waited for without end (seen once).
        if not self._client.run_on_scheduler(lambda dask_scheduler: own in dask_scheduler.clients):
            raise self.gone()
        if self._workers():
            self._seen = time.monotonic()
        elif time.monotonic() - self._seen > _PATIENCE:
            raise CrewError(
                f"the scheduler at {self.address} has had 0 workers for {_PATIENCE:.0f} s; start some with: "
                f"dask worker {self.address} --nworkers -1 --nthreads 1; then give the same command again. "
                "What was finished is kept"
            )

    def gone(self) -> CrewError:
        """What to say when the scheduler went away, or let go of this crew."""
        return CrewError(
            f"the scheduler at {self.address} is lost (workers when last seen: {self._count}); see that it and its "
            "workers run, then give the same command again. What was finished is kept"
        )

    def _held(self, body: bytes) -> Any:
        """The bytes of a function on the cluster, sent if they are not there yet; those before them are let go."""
        if self._sent is None or self._sent[0] != body or self._sent[1].status not in ("pending", "finished"):
            self._sent = body, self._client.submit(bytes, body, pure=False)
        return self._sent[1]

    def _workers(self) -> int:
        """Threads of all workers together, counted about once a second."""
        if time.monotonic() - self._counted > _COUNT_EVERY:
            try:
                # `nthreads` itself would wait without end for a scheduler that does not answer
                threads = self._client.sync(self._client.scheduler.ncores, callback_timeout=_ANSWERS_WITHIN)
                self._count = sum(threads.values())
            except (OSError, ValueError) as error:  # a TimeoutError is an OSError
                raise self.gone() from error
            self._counted = time.monotonic()
        return self._count

    def _refuse_others(self) -> None:
        """Refuse workers that would give other numbers, or that do not have the program."""
        ask = f"__import__({__name__!r}, fromlist=['versions']).versions()"
        for worker, found in self._client.run(eval, ask, on_error="return").items():
            if isinstance(found, BaseException):
                raise CrewError(f"the worker {worker} does not have this program ({found}); install it there")
            _refuse(worker, found, versions())


class _Remote(Generic[Got]):
    """A chunk handed out to a cluster."""

    def __init__(self, cluster: Cluster, future: Any) -> None:
        self._cluster, self._future = cluster, future

    def result(self) -> Got:
        """What came of it."""
        self.exception()
        try:
            found: Got = self._future.result()
        except _distributed().KilledWorker as error:
            raise WorkerLost("the process that ran this design died, each time it was tried") from error
        except CancelledError as error:
            raise self._cluster.gone() from error
        return found

    def exception(self) -> BaseException | None:
        """Wait until it has ended; with what error, if any."""
        while True:
            try:
                found: BaseException | None = self._future.exception(timeout=_LOOK_EVERY)
            except TimeoutError:
                self._cluster.still_there()
            else:
                return found

    def cancel(self) -> None:
        """Call it off."""
        self._future.cancel()


@cache
def versions() -> dict[str, str]:
    """Whatever here decides a number: the model's sources, and the versions of what is round and under them."""
    python = f"{sys.version_info[0]}.{sys.version_info[1]}"
    return {"model": source_hash(), "Python": python} | {name: version(name) for name in _DECIDING}


def _refuse(worker: str, found: dict[str, str], needed: dict[str, str]) -> None:
    differing = [name for name in needed if found.get(name) != needed[name]]
    if differing:
        raise CrewError(
            f"the worker {worker} would give other numbers (its {', '.join(differing)} differ from those here); "
            "install the same versions on both, restart the worker, then give the same command again"
        )


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise CrewError(f"--scheduler needs dask.distributed, which is not installed: {NEEDED}") from error
    return distributed


# From here on: what runs on the workers.


def _worked(function: bytes, chunk: bytes, needed: dict[str, str]) -> Any:
    """What comes of a chunk, on a worker."""
    _refuse(platform.node(), versions(), needed)  # a worker that came later was not asked before
    return _hand(function)(pickle.loads(chunk))


@lru_cache(maxsize=4)  # a study and what goes with it; each may hold some megabytes of weather
def _hand(function: bytes) -> _Hand:
    return _Hand(function)


class _Hand:
    """A function in this process, which begins with it when no other process of the machine does."""

    def __init__(self, body: bytes) -> None:
        self._function: Callable[[Any], Any] = pickle.loads(body)
        self._mark = f"{source_hash()}-{platform.node()}-{hashlib.sha256(body).hexdigest()[:16]}"
        self._begun = False

    def __call__(self, chunk: Any) -> Any:
        """What comes of a chunk."""
        if self._begun:
            return self._function(chunk)
        with _alone_at_first(self._mark):
            result = self._function(chunk)
        self._begun = True
        return result


@contextmanager
def _alone_at_first(mark: str) -> Iterator[None]:
    """Let one process at a time in until the first is through: what it compiled the others then find on disk."""
    kernels = cache_folder("heat")
    if kernels is None:  # nothing is kept on disk, so nothing can be spoiled there
        yield
        return
    import locket

    folder = kernels.parent / "begun"
    folder.mkdir(exist_ok=True)
    if not (folder / mark).exists():
        with locket.lock_file(str(folder / "lock")):
            if not (folder / mark).exists():  # nobody got through while this one waited
                yield
                _forget_old(folder)
                (folder / mark).touch()
                return
    yield


def _forget_old(folder: Path) -> None:
    for path in folder.iterdir():
        try:
            if path.name != "lock" and path.stat().st_mtime < time.time() - _UNUSED:
                path.unlink()
        except FileNotFoundError:  # another process was first
            continue
