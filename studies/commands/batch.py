"""`noonhearth batch`: every config of a folder, and one table over all."""

from pathlib import Path
from typing import Annotated, Any

import cyclopts

from .progress import bars as shown_bars
from .speaking import DONE, FAILED, WRONG, err, out, processors

_STATES = {DONE: "done", FAILED: "no result", WRONG: "the config is wrong"}


def batch(
    folder: Path,
    *,
    to: Annotated[Path, cyclopts.Parameter(name=["--to", "-t"])] = Path("results"),
    workers: Annotated[int | None, cyclopts.Parameter(name=["--workers", "-w"])] = None,
    scheduler: str | None = None,
) -> int:
    """Run every config of a folder; one that is wrong or fails does not stop the others.

    Parameters
    ----------
    folder
        Its *.toml are run; lists of materials, foods or prices among them are passed over, and so are subfolders.
    to
        Folder of the results: each config gets a folder of its own in it, beside batch.md, batch.csv and batch.nc.
    workers
        Threads; as many as there are processors if not given. Results do not depend on it.
    scheduler
        Address of a dask.distributed scheduler whose workers do the work instead.
    """
    from ..batches import BatchError
    from ..batches import batch as run_all
    from ..kinds import Running
    from ..results.store import StoreError
    from ..running.cluster import crew_of
    from ..running.workers import CrewError
    from ..telling.report import sentences

    try:
        with crew_of(workers or processors(), scheduler) as crew, shown_bars() as bars:

            def tell(done: Any) -> None:
                for row in done.rows:
                    bars.finish(f"{row.config}: {row.study}")
                bars.update("configs", done.number, done.total, 0)
                _say(done)

            result = run_all(folder, to, running=Running(workers=crew, watch=bars.update), tell=tell)
    except BatchError as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return WRONG
    except (CrewError, StoreError, OSError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return FAILED
    except KeyboardInterrupt:
        return _interrupted(folder, to, scheduler)
    for sentence in sentences(result):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(f"Written to {to}: batch.md, batch.csv, batch.nc, and a folder for each config", soft_wrap=True)
    out.print(
        "Before you build or cook, read the cautions in each summary.md: eyes, burns, food, wind.",
        soft_wrap=True,
    )
    return int(result["status"].max())


def _say(done: Any) -> None:
    """One line a study, as soon as its config is done."""
    for row in done.rows:
        what = f"{row.config}: {row.study}".removesuffix(": ")
        kept = (
            ", kept from before" if done.kept else "" if row.status == WRONG else f" in {row.seconds:.1f} s"
        )
        text = f"{done.number} of {done.total}  {what}: {_STATES[row.status]}{kept}"
        (out if row.status == DONE else err).print(text, markup=False, soft_wrap=True)


def _interrupted(folder: Path, to: Path, scheduler: str | None) -> int:
    elsewhere = f" --scheduler {scheduler}" if scheduler else ""
    err.print(
        "Stopped. Configs that were done are kept, and what was finished of the one in work; "
        f"to go on: noonhearth batch {folder} --to {to}{elsewhere}",
        markup=False,
        soft_wrap=True,
    )
    return FAILED
