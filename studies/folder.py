"""A plan carried out into a folder of its own: result files, figures with their numbers, summary and report."""

import dataclasses
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import xarray as xr

from ..model import CAUTIONS
from .config import Plan
from .kinds import Running
from .results import store
from .run import Failure, Result, carry_out
from .telling import figures, report
from .telling.drawings.drawing import Drawn
from .telling.pages import page


def carry_out_into(folder: Path, plan: Plan, *, running: Running) -> Iterator[Result | Failure]:
    """Run every study of a plan in order; each result is written before it is given out.

    What is evaluated is kept in the folder until the last study is done: an interrupted plan that is carried out
    again goes on where it stopped. `running.scratch` is not looked at.

    Raises
    ------
    StoreError, OSError
        A result or the folder that cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    unfinished = folder / ".unfinished"
    parts: list[tuple[xr.Dataset, list[Drawn]]] = []
    for result in carry_out(plan, running=dataclasses.replace(running, scratch=unfinished / plan.identity)):
        if isinstance(result, Result):
            parts.append((result.dataset, _write(result, folder)))
        yield result
    for name, tell in (("summary.md", report.markdown), ("report.html", page.page)):
        (folder / name).write_text(_told(plan, parts, tell), "utf-8")
    shutil.rmtree(unfinished, ignore_errors=True)


def _write(result: Result, folder: Path) -> list[Drawn]:
    """The result's file and figures; the figures, for the summary."""
    store.write(result.dataset, folder / f"{result.name}.nc")
    drawings = list(figures.drawn(result.dataset))
    for drawing in drawings:
        figures.save(drawing, folder, prefix=result.name)
    figures.save_sheet(result.dataset, folder, prefix=result.name)
    return drawings


def _told(plan: Plan, parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]], tell: Callable[..., str]) -> str:
    return tell(
        plan.title,
        parts,
        cautions=CAUTIONS,
        command=f"noonhearth run {plan.source}",
    )
