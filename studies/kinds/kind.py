"""What a kind of study is: a table in a config, and a function from a setting to a Dataset."""

import dataclasses
import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pydantic import ValidationError

from ...model import Catalogue, CookRecord, Design, Price, Sky, source_hash
from ..asking.fits import FitFault, is_chosen, posterior_asked, refuse_twice
from ..asking.schema import Section, sentence
from ..asking.varying import Vary, VaryError, read_varies, space_round
from ..judging.outcomes import Output
from ..judging.posterior import Posterior
from ..judging.space import Space
from ..running.evaluations import EvaluationLog
from ..running.workers import Workers
from ..setting import Setting
from .labels import described, with_dimensions

CHUNK_LANES = 8192  # designs times days in a call of the model: 80 MB for what the sun brings
CHUNK_ROWS = 512  # designs in a call at most, a second's work; its fixed cost of some 15 ms is then nothing


class Watch(Protocol):
    """Whoever wants to be told how a study goes."""

    def __call__(self, name: str, done: int, total: int, failed: int) -> None:
        """Rows done and failed so far of a study."""


class StudyError(ValueError):
    """A study that cannot be: every fault of what was asked, one sentence each."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


@dataclass(frozen=True, kw_only=True)
class Running:
    """How studies are carried out; none of it changes a number.

    Parameters
    ----------
    workers : int or Crew
        Threads, or a crew of threads or machines.
    scratch : Path, optional
        Folder for what is already evaluated: an interrupted study run again with it goes on where it stopped.
    watch : callable, optional
        Told the name of the study and its rows done, to do and failed.
    """

    workers: Workers = 1
    scratch: Path | None = None
    watch: Watch | None = None


@dataclass(frozen=True, kw_only=True)
class Given:
    """What is known of a config while its studies are checked; None where that part is unsound itself."""

    design: Design | None
    sky: Sky | None
    catalogue: Catalogue
    priced: bool
    folder: Path  # of the config: files are named from it
    prices: Mapping[str, Price] = field(default_factory=dict)
    sky_table: Any = None  # [sky] as it stands in the config; a study begun from Python has none
    cooks: tuple[CookRecord, ...] | None = ()  # None where a [[cook]] table is unsound itself


@dataclass(frozen=True, kw_only=True)
class Work:
    """One study to be done: what was asked, of which setting.

    `setting.design` is the design it starts from. `ready` is what its kind made of its table beyond numbers.
    """

    setting: Setting
    section: Any
    varies: tuple[Vary, ...] = ()
    ready: Any = None
    name: str = ""
    running: Running = field(default_factory=Running)
    posterior: Posterior | None = None  # of test cooks, where the study asks for what they leave unknown

    @property
    def design(self) -> Design:
        """The design that the study starts from."""
        return self.setting.design

    @cached_property
    def space(self) -> Space:
        """What varies, round the design."""
        return space_round(self.varies, self.design)

    @property
    def chunk_rows(self) -> int:
        """Designs in one call of the model."""
        return min(max(CHUNK_LANES // self.setting.sky.days, 8), CHUNK_ROWS)

    def progress(self, done: int, total: int, failed: int) -> None:
        """Tell whoever watches."""
        if self.running.watch is not None:
            self.running.watch(self.name, done, total, failed)

    def log(
        self,
        space: Space,
        values: Sequence[str],
        margins: Sequence[str],
        *,
        part: str = "",
        setting: Setting | None = None,
    ) -> EvaluationLog:
        """What this study has evaluated so far.

        `part` tells a second log of the same study from the first; `setting` is the one that its rows run in, if
        that is not the study's own.
        """
        used = setting or self.setting
        key = {"model version": source_hash(), "setting": used.identity, "design": repr(used.design)}
        if self.posterior is not None:
            key["posterior"] = self.posterior.text
        scratch = self.running.scratch
        folder = scratch / f"{self.name}{part}" if scratch else None
        return EvaluationLog(space, values=list(values), margins=list(margins), key=key, folder=folder)

    def within(self, **changes: Any) -> "Work":
        """The same study of a changed setting."""
        return dataclasses.replace(self, setting=dataclasses.replace(self.setting, **changes))


def decided_in(section: Any) -> set[str]:
    """Factors that a study has in hand itself, whatever its kind."""
    tables = (getattr(section, key, None) for key in ("vary", "uncertain", "accuracy"))
    return {name for table in tables for name in table or {}}


def with_fit(work: Work, last: Posterior | None) -> Work:
    """The study with what the last fit of its run says, if it asks for the chosen one.

    Raises
    ------
    StudyError
        There is none, or the study has one of its factors in hand itself.
    """
    if not is_chosen(getattr(work.section, "fit", None)):
        return work
    if last is None:
        raise StudyError(['fit = "chosen": the fit before it has no result'])
    try:
        refuse_twice(last, decided_in(work.section))
    except FitFault as fault:
        raise StudyError([str(fault)]) from fault
    return dataclasses.replace(work, posterior=last)


def nothing_wrong(section: Any, given: Given) -> Iterator[str]:
    """Of kinds whose tables are sound if every key is."""
    return iter(())


def nothing_more(section: Any, given: Given) -> Any:
    """Of kinds that need no more than the numbers of their tables."""
    return None


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of study; called with a setting and the keys of its table, it does the study.

    Parameters
    ----------
    word : str
        `kind = "word"` in a config.
    section : type of Section
        Its table: keys, defaults, meanings.
    carry_out : callable
        The study: its Dataset, and the design that it starts from or chose.
    faults : callable
        Sentences, each beginning with the key, on what is wrong with a table beyond single keys.
    ready : callable
        Whatever the study needs that takes more than its table, such as skies; raises `StudyError`.
    chooses : bool
        Whether the studies after it start from the design it gives.
    """

    word: str
    section: type[Section]
    carry_out: Callable[[Work], tuple[xr.Dataset, Design]]
    faults: Callable[[Any, Given], Iterator[str]] = nothing_wrong
    ready: Callable[[Any, Given], Any] = nothing_more
    chooses: bool = False

    def __call__(self, setting: Setting, *, running: Running | None = None, **keys: Any) -> xr.Dataset:
        """The study of a setting; `keys` are those of its table in a config, quantities as text with a unit.

        Raises
        ------
        StudyError
            Keys that cannot be; every fault at once.
        """
        return self.done(self.work(setting, running=running, **keys))[0]

    def done(self, work: Work) -> tuple[xr.Dataset, Design]:
        """The study carried out: its Dataset with all that its reader needs, and the design it is about."""
        dataset, design = self.carry_out(work)
        about = described(work.setting, design, work.name)
        if work.posterior is not None:
            about["posterior"] = work.posterior.text
        return with_dimensions(dataset, design).assign_attrs(about), design

    def work(self, setting: Setting, *, running: Running | None = None, **keys: Any) -> Work:
        """The study as a piece of work, checked."""
        names = setting.catalogue.names()
        try:
            section = self.section.model_validate({"kind": self.word, **keys}, context={"catalogue": names})
        except ValidationError as error:
            raise StudyError([sentence(fault, self.section) for fault in error.errors()]) from error
        given = Given(
            design=setting.design,
            sky=setting.sky,
            catalogue=setting.catalogue,
            priced=bool(setting.prices),
            prices=setting.prices,
            folder=Path(),
            cooks=setting.cooks,
        )
        try:
            varies = read_varies(getattr(section, "vary", {}), setting.design.factors, names)
        except VaryError as error:
            raise StudyError([f"vary.{fault}" for fault in error.faults]) from error
        faults = list(self.faults(section, given))
        posterior, asked = None, getattr(section, "fit", None)
        if is_chosen(asked):
            faults.append(
                'fit = "chosen": there is no run here; give the result of a fit, or its { file = ... }'
            )
        try:
            posterior = posterior_asked(asked, given.folder, decided_in(section))
        except FitFault as fault:
            faults.append(str(fault))
        if faults:
            raise StudyError(faults)
        return Work(
            setting=setting,
            section=section,
            varies=varies,
            ready=self.ready(section, given),
            name=self.word,
            running=running or Running(),
            posterior=posterior,
        )

    @property
    def __signature__(self) -> inspect.Signature:
        """Keys and defaults of the table, for `help`."""
        plain, named = inspect.Parameter.POSITIONAL_OR_KEYWORD, inspect.Parameter.KEYWORD_ONLY
        first = inspect.Parameter("setting", plain, annotation=Setting)
        keys = [
            inspect.Parameter(
                name,
                named,
                default=inspect.Parameter.empty
                if key.is_required()
                else key.get_default(call_default_factory=True),
            )
            for name, key in self.section.model_fields.items()
            if name not in ("kind", "base")
        ]
        last = inspect.Parameter("running", named, default=None, annotation=Running | None)
        return inspect.Signature([first, *keys, last], return_annotation=xr.Dataset)


def middle_day(ghi: NDArray[np.float64]) -> int:
    """The day whose sun is nearest above the middle of all days: neither the best nor the worst."""
    return int(ghi.sum(axis=1).argsort()[len(ghi) // 2])


def output_names(outputs: Sequence[Output]) -> list[str]:
    """Names of outputs, goals or limits."""
    return [output.name for output in outputs]
