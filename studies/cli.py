"""The command line: parse, call, print, exit code. Everything it does can be done from Python.

Exit codes: 0 done, 1 a run failed or was interrupted, 2 a config (or a result file) is wrong.
Libraries that take long to import are imported inside the commands, so that help appears at once.
"""

import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import cyclopts
from rich.console import Console
from rich.markup import escape
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

app = cyclopts.App(
    name="noonhearth",
    help="Choose and justify a solar oven design, from one config file.",
)
out = Console(highlight=False)
err = Console(stderr=True, highlight=False)

DONE, FAILED, WRONG = 0, 1, 2


@app.command
def run(
    *configs: Path,
    to: Annotated[Path, cyclopts.Parameter(name=["--to", "-t"])] = Path("results"),
    workers: Annotated[int | None, cyclopts.Parameter(name=["--workers", "-w"])] = None,
) -> int:
    """Run every study of one or more configs, in order.

    Parameters
    ----------
    configs
        Config files (TOML).
    to
        Folder of the results; each config gets a folder of its own in it.
    workers
        Threads; as many as there are processors if not given. Results do not depend on it.
    """
    plans = _load(configs)
    if plans is None or not _apart(configs):
        return WRONG
    code = DONE
    for plan in plans:
        try:
            code = max(code, _run_one(plan, to / plan.source.stem, workers or _processors()))
        except KeyboardInterrupt:
            return _interrupted(plan, to)
    return code


@app.command
def check(*configs: Path) -> int:
    """Check configs without running them: every fault at once, or what would be run.

    Parameters
    ----------
    configs
        Config files (TOML).
    """
    plans = _load(configs)
    if plans is None:
        return WRONG
    for plan in plans:
        days = f"{plan.sky.days} days standing for {plan.sky.day_weight.sum():.0f}"
        out.print(
            f"{plan.source}: fine. {plan.title}; {plan.place.name}, {days}.", markup=False, soft_wrap=True
        )
        for step in plan.steps:
            names = ", ".join(vary.name for vary in step.varies)
            out.print(f"  {step.kind}{f' over {names}' if names else ''}", markup=False, soft_wrap=True)
    return DONE


@app.command
def show(*results: Path) -> int:
    """Print what result files hold: what they say in words, and their variables.

    Parameters
    ----------
    results
        Result files (netCDF).
    """
    from .report import sentences
    from .store import StoreError, describe, read

    code = DONE
    for path in results:
        try:
            dataset = read(path)
        except StoreError as error:
            err.print(str(error), markup=False)
            code = WRONG
            continue
        for sentence in sentences(dataset):
            out.print(f"- {sentence}", markup=False, soft_wrap=True)
        out.print(describe(dataset), markup=False, soft_wrap=True)
    return code


@app.command
def names(group: str | None = None) -> int:
    """List the materials and foods that a config may name.

    Parameters
    ----------
    group
        One group only, for example insulations.
    """
    from ..model import load_catalogue, suggestion

    catalogue = load_catalogue()
    known = catalogue.names()
    if group is not None and group not in known:
        err.print(f"{group}: no such group; {suggestion(group, known)}", markup=False)
        return WRONG
    for each in [group] if group else known:
        out.print(f"[bold]{each}[/bold]")
        for name in known[each]:
            out.print(f"  {name:24} {catalogue.meaning(each, name)}", markup=False)
    return DONE


@app.command
def schema() -> int:
    """Print the JSON schema of a config, for editors that check and complete TOML."""
    from .sections import ConfigSection

    sys.stdout.write(json.dumps(ConfigSection.model_json_schema(), indent=2) + "\n")
    return DONE


def _load(configs: tuple[Path, ...]) -> list[Any] | None:
    """Every config as a plan, or None after printing the faults of all of them."""
    from .config import ConfigError, load

    if not configs:
        err.print("no config given: noonhearth run configs/first_oven.toml")
        return None
    plans, wrong = [], False
    for path in configs:
        try:
            plans.append(load(path))
        except ConfigError as error:
            err.print(str(error), markup=False, soft_wrap=True)
            wrong = True
    return None if wrong else plans


def _apart(configs: tuple[Path, ...]) -> bool:
    """Whether every config has a results folder of its own; says so where two would share one."""
    stems = [path.stem for path in configs]
    shared = sorted({stem for stem in stems if stems.count(stem) > 1})
    for stem in shared:
        err.print(f"{stem}: two configs of this name would write to one folder; rename one", markup=False)
    return not shared


def _run_one(plan: Any, folder: Path, workers: int) -> int:
    """All studies of a plan into a folder; the code to exit with."""
    from ..model import CAUTIONS, prepare
    from . import figures, report, store
    from .run import Failure, carry_out

    folder.mkdir(parents=True, exist_ok=True)
    scratch = folder / ".unfinished"
    out.print(f"[bold]{escape(plan.title)}[/bold] ({escape(plan.place.name)})")
    parts, code = [], DONE
    try:
        with _bars() as bars:
            bars.during(
                "preparing kernels (once on a machine)",
                lambda: prepare(plan.design, plan.sky, catalogue=plan.catalogue),
            )
            own = scratch / plan.identity
            for result in carry_out(plan, workers=workers, watch=bars.update, scratch=own):
                bars.finish(result.name)
                if isinstance(result, Failure):
                    err.print(f"{result.name}: no result. {result.reason}", markup=False, soft_wrap=True)
                    code = FAILED
                    continue
                store.write(result.dataset, folder / f"{result.name}.nc")
                drawings = list(figures.drawn(result.dataset))
                for drawing in drawings:
                    figures.save(drawing, folder, prefix=result.name)
                parts.append((result.dataset, drawings))
                _say(result.name, report.sentences(result.dataset))
                code = max(code, FAILED if report.is_empty(result.dataset) else DONE)
    except (store.StoreError, OSError) as error:
        err.print(f"{plan.source}: {error}", markup=False, soft_wrap=True)
        return FAILED
    text = report.markdown(
        plan.title,
        parts,
        cautions=[(caution.where, caution.text, caution.defer_to) for caution in CAUTIONS],
        command=f"noonhearth run {plan.source}",
    )
    (folder / "summary.md").write_text(text, "utf-8")
    shutil.rmtree(scratch, ignore_errors=True)
    out.print(f"Written to {folder}: {', '.join(sorted(p.name for p in folder.iterdir()))}", soft_wrap=True)
    out.print("Before you build or cook, read the cautions in summary.md: eyes, burns, food, wind.")
    return code


def _say(name: str, sentences: list[str]) -> None:
    out.print(f"[bold]{name}[/bold]")
    for sentence in sentences:
        out.print(f"  - {sentence}", markup=False, soft_wrap=True)


def _interrupted(plan: Any, to: Path) -> int:
    err.print(
        f"Stopped. What was finished is kept; to go on: noonhearth run {plan.source} --to {to}",
        markup=False,
        soft_wrap=True,
    )
    return FAILED


class _Rate(ProgressColumn):
    """Rows a second."""

    def render(self, task: Task) -> Text:
        """The rate, once there is one."""
        speed = task.finished_speed or task.speed
        return Text(f"{speed:.3g}/s" if speed else "")


class _Bars:
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
def _bars() -> Iterator[_Bars]:
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        _Rate(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[failed]}"),
    )
    with Progress(*columns, console=out, transient=True) as progress:
        yield _Bars(progress)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def main() -> None:
    """Entry of the console script."""
    sys.exit(app())
