"""A result opened again: its numbers, the plan that made it, and the same numbers computed once more."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import xarray as xr

from ..asking.study_tables import Step
from ..config import Plan, loads
from ..judging.posterior import Posterior
from ..kinds import KINDS, Running, Work
from ..setting import Setting
from .again import Rerun, compared, compared_row, notes_on
from .bundle import results_in
from .kept_files import kept_files
from .rows import is_of_designs, row_again
from .store import StoreError


@dataclass(frozen=True)
class OpenedResult:
    """A result and all that is needed to make it again, from its file alone.

    Parameters
    ----------
    path : Path
    dataset : Dataset
    """

    path: Path
    dataset: xr.Dataset

    @cached_property
    def plan(self) -> Plan:
        """The plan that it is a result of, made of the config and the files that it keeps.

        Raises
        ------
        ConfigError
            This version of the program no longer takes that config.
        """
        return loads(str(self.dataset.attrs["config"]), self.path, inputs=kept_files(self.dataset))

    @property
    def step(self) -> Step:
        """The study of the plan that it came from."""
        name = str(self.dataset.attrs.get("study_name", ""))
        if not name:
            raise StoreError(f"{self.path} is of several configs, so of no one study that could be run again")
        steps = dict(self.plan.named_steps())
        if name not in steps:
            raise StoreError(f"{self.path} is called {name}, but its config has only {', '.join(steps)}")
        return steps[name]

    @property
    def setting(self) -> Setting:
        """What the study stood on, with the design that it started from."""
        return self._setting_with("base_design", "the design it started from")

    @property
    def outcome(self) -> Setting:
        """What the study stood on, with the design that it is about or chose."""
        return self._setting_with("design", "the design it is about")

    def _setting_with(self, kept: str, meaning: str) -> Setting:
        if kept not in self.dataset.attrs:
            raise StoreError(f"{self.path} does not keep {meaning}; run its config again")
        setting = self.plan.setting
        values = json.loads(self.dataset.attrs[kept])
        return dataclasses.replace(setting, design=setting.design.with_factors(**values))

    def work(self, *, running: Running | None = None) -> Work:
        """The study as a piece of work that could be done again."""
        step = self.step
        return Work(
            setting=self.setting,
            section=step.section,
            varies=step.varies,
            ready=step.ready,
            name=str(self.dataset.attrs["study_name"]),
            running=running or Running(),
            posterior=self._posterior,
        )

    @property
    def _posterior(self) -> Posterior | None:
        """What test cooks left unknown, where the study asked for it."""
        kept = self.dataset.attrs.get("posterior")
        asked = getattr(self.step.section, "fit", None) is not None
        return Posterior.of_text(str(kept)) if kept and asked else None

    def rerun(self, row: int | None = None, *, running: Running | None = None) -> Rerun:
        """Compute one row again, or the whole study, and compare every number to the last bit.

        Parameters
        ----------
        row : int, optional
            Counted from 0 through everything that has a `status`: the trial of a search, the design of a sample. A
            row of a study that does not evaluate designs one by one costs as much as the whole.
        running : Running, optional
            How a whole study is carried out.

        Raises
        ------
        StoreError, ConfigError
            The result cannot be made again; a row that it does not have.

        Examples
        --------
        >>> opened = open_result(Path("results/first_oven/search.nc"))  # doctest: +SKIP
        >>> opened.rerun(12).same  # doctest: +SKIP
        True
        """
        step = self.step
        notes = notes_on(self.dataset)
        place = None if row is None else self._place(row)
        if place is not None and is_of_designs(self.dataset):
            return compared_row(row_again(self.dataset, self.work(), place), notes)
        if "merged" in self.dataset.attrs:
            raise StoreError(
                f"{self.path} was merged from several results: run one row of it again, or each of those results"
            )
        now, _ = KINDS[step.kind].done(self.work(running=running))
        return compared(self.dataset, now, notes, place)

    def _place(self, row: int) -> tuple[int, ...]:
        """A row along the dimensions of `status`."""
        status = self.dataset["status"]
        if not 0 <= row < status.size:
            raise StoreError(f"{self.path} has rows 0 to {status.size - 1}, not {row}")
        return tuple(int(number) for number in np.unravel_index(row, status.shape))


def open_result(path: Path | str, study: str | None = None) -> OpenedResult:
    """A result file, checked, with its plan and the way to make it again.

    Parameters
    ----------
    path : Path or str
    study : str, optional
        Which result of a bundle, by its name.

    Raises
    ------
    StoreError
        No such file; no result of ours; a newer format; damaged; a bundle, and no name of one of its results.
    """
    results = results_in(Path(path))
    if study is None and len(results) == 1:
        study = next(iter(results))
    if study not in results:
        raise StoreError(f"{path} holds {', '.join(results)}; say which, for example {next(iter(results))}")
    return OpenedResult(Path(path), results[study])
