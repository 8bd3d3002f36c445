"""Progress of long work: done, rate, time left, failures."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)
from rich.text import Text

from .speaking import out


class _Rate(ProgressColumn):
    """Rows a second."""

    def render(self, task: Task) -> Text:
        """The rate, once there is one."""
        speed = task.finished_speed or task.speed
        return Text(f"{speed:.3g}/s" if speed else "")


class Bars:
    """Progress of the studies of one plan: done, rate, time left, failures."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._bars: dict[str, TaskID] = {}

    def during(self, text: str, work: Callable[[], None]) -> None:
        """Show a line while something of unknown length runs."""
        bar = self._progress.add_task(text, total=None, failed="")
        work()
        self._progress.remove_task(bar)

    def update(self, name: str, done: int, total: int, failed: int) -> None:
        """Rows done, to do and failed of a study."""
        if name not in self._bars:
            self._bars[name] = self._progress.add_task(name, total=total, failed="")
        text = f"{failed} failed" if failed else ""
        self._progress.update(self._bars[name], completed=done, total=total, failed=text)

    def finish(self, name: str) -> None:
        """Take the bar of a finished study away."""
        if name in self._bars:
            self._progress.remove_task(self._bars.pop(name))


@contextmanager
def bars() -> Iterator[Bars]:
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        _Rate(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[failed]}"),
    )
    with Progress(*columns, console=out, transient=True) as progress:
        yield Bars(progress)
