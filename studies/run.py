"""A plan carried out: each study in order, each result a Dataset that says where it came from."""

import json
import math
import platform
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from ..model import (
    LIMITS,
    MERITS,
    Design,
    Drive,
    DriveTrain,
    Sight,
    Stray,
    assess_aiming,
    simulate,
    source_hash,
    stray_of_day,
    timetable,
)
from .aiming_parts import AIMINGS
from .analysis import SensitivityError
from .config import Plan, Step
from .evaluate import OvenEvaluator, goals_of, limits_of, outputs_of
from .evaluations import EvaluationLog
from .front import knee
from .provenance import Provenance, stamp
from .search import search
from .sections import AimingSectionOfStudy, DaySection, ScreeningSection, SearchSection, SensitivitySection
from .sensitivity import morris, sobol
from .slices import slices
from .space import SpaceError
from .varying import space_round

PACKAGES = ("noonhearth", "numpy", "scipy", "numba", "pvlib", "xarray", "optuna", "SALib")
CHUNK_LANES = 8192  # designs times days in a call of the model: 80 MB for what the sun brings
CHUNK_ROWS = 512  # designs in a call at most, a second's work; its fixed cost of some 15 ms is then nothing


class Watch(Protocol):
    """Whoever wants to be told how a study goes."""

    def __call__(self, name: str, done: int, total: int, failed: int) -> None:
        """Rows done and failed so far of a study."""


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


def carry_out(
    plan: Plan, *, workers: int, watch: Watch, scratch: Path | None = None
) -> Iterator[Result | Failure]:
    """Run every study of a plan in order; a search passes its chosen design on to those that ask for it.

    Parameters
    ----------
    scratch : Path, optional
        Folder for what is already evaluated: an interrupted plan run again with it goes on where it stopped.
    """
    chosen = plan.design
    for name, step in _named(plan.steps):
        base = plan.design if getattr(step.section, "base", "chosen") == "config" else chosen
        run: Callable[..., tuple[xr.Dataset, Design]] = _RUNNERS[step.kind]
        work = _Work(plan, step, base, name, workers, watch, scratch)
        try:
            dataset, design = run(work)
        except (SensitivityError, SpaceError) as error:
            yield Failure(name, str(error))
            continue
        if step.kind == "search":
            chosen = design
        dataset = with_dimensions(dataset, design).assign_attrs(described(plan, design, name))
        yield Result(name, step, design, stamp(dataset, provenance(plan, _counts(dataset))))


def _counts(dataset: xr.Dataset) -> dict[str, int]:
    status = dataset["status"]
    return {"designs": int(status.size), "failed": int((status != 0).sum())}


def _named(steps: tuple[Step, ...]) -> Iterator[tuple[str, Step]]:
    """Steps with file names: the kind of study, numbered where there are several."""
    kinds = [step.kind for step in steps]
    for number, step in enumerate(steps):
        several = kinds.count(step.kind) > 1
        yield f"{step.kind}-{kinds[: number + 1].count(step.kind)}" if several else step.kind, step


@dataclass(frozen=True)
class _Work:
    plan: Plan
    step: Step
    base: Design
    name: str
    workers: int
    watch: Watch
    scratch: Path | None

    def progress(self, done: int, total: int, failed: int) -> None:
        self.watch(self.name, done, total, failed)

    def log(self, space: Any, values: list[str], margins: list[str], part: str = "") -> EvaluationLog:
        """What this study has evaluated so far; `part` tells a second log of the same study from the first."""
        key = f"{source_hash()} {self.plan.identity} {self.name} {self.base}"
        folder = self.scratch / f"{self.name}{part}" if self.scratch else None
        return EvaluationLog(space, values=values, margins=margins, key=key, folder=folder)


def _search(work: _Work) -> tuple[xr.Dataset, Design]:
    plan, section = work.plan, work.step.section
    assert isinstance(section, SearchSection)
    space = space_round(work.step.varies, work.base)
    goals, limits = goals_of(section.goals, plan.currency), limits_of(section.limits, section.goals)
    evaluate = OvenEvaluator(plan, work.base, tuple(section.goals), tuple(section.limits))
    population = min(section.population, section.trials)
    values, margins = [g.name for g in goals], [limit.name for limit in limits]
    done = 0

    def progress(part: int, _: int, failed: int) -> None:
        work.progress(done + part, section.trials, failed)

    def after(generation: Any) -> None:
        nonlocal done
        done = generation.done

    dataset = search(
        space,
        evaluate,
        goals=goals,
        limits=limits,
        trials=section.trials,
        population=population,
        seed=plan.seed,
        workers=work.workers,
        chunk_rows=max(4, -(-population // (2 * work.workers))),  # two calls a worker even out a generation
        log=work.log(space, values, margins),
        on_generation=after,
        progress=progress,
    )
    if not dataset["on_front"].any():
        return dataset, work.base
    row = _picked(dataset, section)
    chosen = {name: dataset[name].isel(trial=row).item() for name in space.names}
    design = work.base.with_factors(**chosen)
    around = slices(
        space,
        evaluate,
        chosen,
        outputs=list(goals),
        workers=work.workers,
        log=work.log(space, values, [], part="slices"),
    )
    verdict = _verdict(plan, design)
    dataset = xr.merge([dataset, around, verdict], combine_attrs="override")
    idle = [name for name in space.names if name in design.idle]
    told = {"idle_factors": " ".join(idle)} if idle else {}
    return dataset.assign_attrs(chosen_trial=row, pick=section.pick, **told), design


def _verdict(plan: Plan, design: Design) -> xr.Dataset:
    """Every merit and limit of the chosen design, as plain numbers."""
    whole = _simulated(plan, design).isel(design=0)[[*MERITS, *LIMITS]].reset_coords(drop=True)
    return whole.rename({name: f"chosen_{name}" for name in whole.data_vars})


def _picked(dataset: xr.Dataset, section: SearchSection) -> int:
    """Trial that the config's rule picks from the front."""
    if section.pick == "knee":
        return knee(dataset)
    goal = dataset[section.pick].where(dataset["on_front"] == 1).to_numpy()
    least = dataset[section.pick].attrs["direction"] == "minimize"
    return int(np.nanargmin(goal) if least else np.nanargmax(goal))


def _day(work: _Work) -> tuple[xr.Dataset, Design]:
    plan, section = work.plan, work.step.section
    assert isinstance(section, DaySection)
    dataset = _simulated(plan, work.base, histories=True)
    if int(dataset["status"][0]) == 0:
        how: dict[str, Any] = {"rays": plan.rays, "seed": plan.seed, "catalogue": plan.catalogue}
        dataset = dataset.merge(timetable(work.base, plan.sky, **how))
    work.progress(1, 1, int((dataset["status"] != 0).sum()))
    shown = section.day - 1 if section.day else _middle_day(dataset["ghi"].to_numpy())
    if int(dataset["status"][0]) == 0:
        dataset = dataset.merge(_stray(stray_of_day(work.base, plan.sky, shown, catalogue=plan.catalogue)))
    return dataset.assign_attrs(study="day", shown_day=shown), work.base


def _aiming(work: _Work) -> tuple[xr.Dataset, Design]:
    plan, section = work.plan, work.step.section
    assert isinstance(section, AimingSectionOfStudy)
    dataset = assess_aiming(
        work.base,
        plan.sky,
        sight=Sight(post_height=section.post_height),
        centred_within=section.centred_within,
        cloud=section.cloud,
        intervals=section.intervals,
        train=_train(plan.train, work.base),
        rays=plan.rays,
        seed=plan.seed,
        catalogue=plan.catalogue,
    )
    work.progress(1, 1, 0)
    shown = _middle_day(plan.sky.ghi)
    return dataset.assign_attrs(study="aiming", shown_day=shown, how=_HOW[type(work.base.aiming)]), work.base


def _train(train: DriveTrain | None, design: Design) -> DriveTrain | None:
    """The wheel and motor as long as the design still turns as they turn it: a search may have changed that."""
    aiming = design.aiming
    if train is None or not isinstance(aiming, Drive) or not math.isclose(aiming.speed, train.speed):
        return None
    return train if train.base_radius == design.oven.stand.base_radius else None


def _stray(found: Stray) -> xr.Dataset:
    text = "distance in front of the middle of the mouth"
    meaning = "light thrown back on the brightest hand there, over plain sun; perfect mirrors assumed"
    return xr.Dataset(
        {
            "stray_suns": ("distance", found.concentration, {"units": "1", "long_name": meaning}),
            "stray_plain_beyond": (
                (),
                found.plain_beyond,
                {"units": "m", "long_name": "from here on stray light is no stronger than plain sun"},
            ),
        },
        coords={"distance": ("distance", found.distance, {"units": "m", "long_name": text})},
    )


def _simulated(plan: Plan, design: Design, *, histories: bool = False) -> xr.Dataset:
    return simulate(
        design,
        plan.sky,
        rays=plan.rays,
        seed=plan.seed,
        catalogue=plan.catalogue,
        prices=plan.prices,
        currency=plan.currency,
        histories=histories,
    )


def _middle_day(ghi: NDArray[np.float64]) -> int:
    """The day whose sun is nearest above the middle of all days: neither the best nor the worst."""
    return int(ghi.sum(axis=1).argsort()[len(ghi) // 2])


def _sensitivity(work: _Work) -> tuple[xr.Dataset, Design]:
    section = work.step.section
    assert isinstance(section, SensitivitySection)
    counts = {"base_samples": section.base_samples, "second_order": section.second_order}
    return _sampled(work, sobol, section.outputs, **counts), work.base


def _screening(work: _Work) -> tuple[xr.Dataset, Design]:
    section = work.step.section
    assert isinstance(section, ScreeningSection)
    counts = {"trajectories": section.trajectories, "levels": section.levels}
    return _sampled(work, morris, section.outputs, **counts), work.base


def _sampled(work: _Work, method: Callable[..., xr.Dataset], names: list[str], **counts: int) -> xr.Dataset:
    """A study that samples a space round the base design."""
    space = space_round(work.step.varies, work.base)
    outputs = outputs_of(names, work.plan.currency)
    return method(
        space,
        OvenEvaluator(work.plan, work.base, tuple(names)),
        outputs=outputs,
        seed=work.plan.seed,
        workers=work.workers,
        chunk_rows=min(max(CHUNK_LANES // work.plan.sky.days, 8), CHUNK_ROWS),
        log=work.log(space, [output.name for output in outputs], []),
        progress=work.progress,
        **counts,
    )


_HOW = {kind: how for how, kind in AIMINGS.items()}
_RUNNERS = {
    "search": _search,
    "day": _day,
    "sensitivity": _sensitivity,
    "screening": _screening,
    "aiming": _aiming,
}


def described(plan: Plan, design: Design, name: str) -> dict[str, Any]:
    """What a reader of the result alone needs to know of the plan: the setting, in words and numbers."""
    local = pd.Timestamp(plan.sky.times[0, 0]).tz_localize("UTC").tz_convert(plan.place.zone)
    return {
        "study_name": name,
        "rays": plan.rays,
        "currency": plan.currency,
        "place": plan.place.name,
        "timezone": str(plan.place.zone),
        "sky": plan.sky.source,
        "loaded_at": f"{local:%H:%M}",
        "window": plan.sky.step * plan.sky.steps,
        "days_meant": float(plan.sky.day_weight.sum()),
        "food": design.meal.food,
        "food_mass": design.meal.food_mass,
        "food_cautions": json.dumps(plan.catalogue.foods[design.meal.food].cautions),
        "design": json.dumps({name: design.value(name) for name in design.factors}),
    }


def with_dimensions(dataset: xr.Dataset, design: Design) -> xr.Dataset:
    """The dataset with the dimension of every factor, merit and limit, by which reports choose units."""
    known = {name: merit.dimension for name, merit in (MERITS | LIMITS).items()}
    known |= {name: getattr(spec, "dimension", "count") for name, spec in design.factors.items()}
    for name in dataset.variables:
        stem = str(name)
        for prefix in ("slice_", "chosen_", "margin_"):
            stem = stem.removeprefix(prefix)
        if stem in known:
            dataset[name].attrs["dimension"] = known[stem]
    if "output" in dataset.coords:
        dimensions = [known[str(name)] for name in dataset["output"].to_numpy()]
        text = {"units": "1", "long_name": "dimension of the output"}
        dataset = dataset.assign_coords(output_dimension=("output", dimensions, text))
    return dataset


def provenance(plan: Plan, counts: dict[str, int]) -> Provenance:
    """Where a result came from: enough to run it again."""
    return Provenance(
        title=plan.title,
        config=plan.text,
        model_hash=source_hash(),
        versions={package: version(package) for package in PACKAGES} | {"python": platform.python_version()},
        seed=plan.seed,
        created=datetime.now(UTC).isoformat(timespec="seconds"),
        counts=counts,
    )
