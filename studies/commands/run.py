"""`noonhearth run`: every study of one or more configs, in order."""

from pathlib import Path
from typing import Annotated, Any

import cyclopts
from rich.markup import escape

from .progress import bars as shown_bars
from .speaking import DONE, FAILED, WRONG, err, loaded, out, processors


def run(
    *configs: Path,
    to: Annotated[Path, cyclopts.Parameter(name=["--to", "-t"])] = Path("results"),
    workers: Annotated[int | None, cyclopts.Parameter(name=["--workers", "-w"])] = None,
    scheduler: str | None = None,
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
    scheduler
        Address of a dask.distributed scheduler whose workers do the work instead, such as tcp://127.0.0.1:8786.
    """
    from ..running.cluster import crew_of
    from ..running.faults import BrokenError
    from ..running.workers import CrewError, WorkerLost

    plans = loaded(configs)
    if plans is None or not _apart(configs):
        return WRONG
    code, plan = DONE, plans[0]
    try:
        with crew_of(workers or processors(), scheduler) as crew:
            for plan in plans:
                code = max(code, _run_one(plan, to / plan.source.stem, crew))
    except (CrewError, WorkerLost, BrokenError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return FAILED
    except KeyboardInterrupt:
        return _interrupted(plan, to, scheduler)
    return code


def _apart(configs: tuple[Path, ...]) -> bool:
    """Whether every config has a results folder of its own; says so where two would share one."""
    stems = [path.stem for path in configs]
    shared = sorted({stem for stem in stems if stems.count(stem) > 1})
    for stem in shared:
        err.print(f"{stem}: two configs of this name would write to one folder; rename one", markup=False)
    return not shared


def _run_one(plan: Any, folder: Path, workers: Any) -> int:
    """All studies of a plan into a folder; the code to exit with."""
    from ...model import prepare
    from ..folder import carry_out_into
    from ..kinds import Running
    from ..results.store import StoreError
    from ..run import Failure
    from ..running.evaluations import LogError
    from ..telling import report

    out.print(f"[bold]{escape(plan.title)}[/bold] ({escape(plan.setting.sky.place.name)})")
    code = DONE
    try:
        with shown_bars() as bars:
            bars.during(
                "preparing kernels (once on a machine)",
                lambda: prepare(plan.setting.design, plan.setting.sky, catalogue=plan.setting.catalogue),
            )
            running = Running(workers=workers, watch=bars.update)
            for result in carry_out_into(folder, plan, running=running):
                bars.finish(result.name)
                if isinstance(result, Failure):
                    err.print(f"{result.name}: no result. {result.reason}", markup=False, soft_wrap=True)
                    code = FAILED
                    continue
                _say(result.name, report.sentences(result.dataset))
                code = max(code, FAILED if report.is_empty(result.dataset) else DONE)
    except (StoreError, LogError, OSError) as error:
        err.print(f"{plan.source}: {error}", markup=False, soft_wrap=True)
        return FAILED
    out.print(f"Written to {folder}: {', '.join(sorted(p.name for p in folder.iterdir()))}", soft_wrap=True)
    out.print("Before you build or cook, read the cautions in summary.md: eyes, burns, food, wind.")
    return code


def _say(name: str, sentences: list[str]) -> None:
    out.print(f"[bold]{name}[/bold]")
    for sentence in sentences:
        out.print(f"  - {sentence}", markup=False, soft_wrap=True)


def _interrupted(plan: Any, to: Path, scheduler: str | None) -> int:
    elsewhere = f" --scheduler {scheduler}" if scheduler else ""
    err.print(
        f"Stopped. What was finished is kept; to go on: noonhearth run {plan.source} --to {to}{elsewhere}",
        markup=False,
        soft_wrap=True,
    )
    return FAILED
