"""A plan carried out: each study in order, each result a Dataset that says where it came from."""

import dataclasses
import platform
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version

import xarray as xr

from ..model import Design, source_hash
from .asking.study_tables import Step
from .config import Plan
from .judging.posterior import Posterior
from .judging.space import SpaceError
from .kinds import KINDS, Running, StudyError, Work
from .kinds.kind import with_fit
from .methods.analysis import SensitivityError
from .results.provenance import Provenance, stamp

PACKAGES = ("noonhearth", "numpy", "scipy", "numba", "pvlib", "xarray", "optuna", "SALib")


@dataclass(frozen=True)
class Result:
    """One study's outcome and the file name it goes by."""

    name: str
    step: Step
    design: Design  # the one it starts from, or chose
    dataset: xr.Dataset


@dataclass(frozen=True)
class Failure:
    """A study that could not be brought to a result, and why; those after it go on."""

    name: str
    reason: str


def carry_out(plan: Plan, *, running: Running) -> Iterator[Result | Failure]:
    """Run every study of a plan in order; one that chooses a design passes it on to those that ask for it."""
    chosen = plan.setting.design
    last: Posterior | None = None
    for name, step in plan.named_steps():
        base = plan.setting.design if getattr(step.section, "base", "chosen") == "config" else chosen
        work = Work(
            setting=dataclasses.replace(plan.setting, design=base),
            section=step.section,
            varies=step.varies,
            ready=step.ready,
            name=name,
            running=running,
            posterior=step.posterior,
        )
        try:
            dataset, design = KINDS[step.kind].done(with_fit(work, last))
        except (SensitivityError, SpaceError, StudyError) as error:
            yield Failure(name, str(error))
            continue
        if KINDS[step.kind].chooses:
            chosen = design
        if step.kind == "fit":
            last = Posterior.of(dataset)
        yield Result(name, step, design, stamp(dataset, provenance(plan, base, _counts(dataset))))


def _counts(dataset: xr.Dataset) -> dict[str, int]:
    status = dataset["status"]
    return {"designs": int(status.size), "failed": int((status != 0).sum())}


def provenance(plan: Plan, base: Design, counts: dict[str, int]) -> Provenance:
    """Where a result came from: enough to run it again. `base` is the design that the study started from."""
    return Provenance(
        title=plan.title,
        config=plan.text,
        model_hash=source_hash(),
        versions={package: version(package) for package in PACKAGES} | {"python": platform.python_version()},
        seed=plan.setting.seed,
        created=datetime.now(UTC).isoformat(timespec="seconds"),
        counts=counts,
        base_design={name: base.value(name) for name in base.factors},
        inputs=plan.inputs,
    )
