"""The best designs for a few goals, and one of them chosen."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from ...model import LIMITS, MERITS, Design
from ..evaluate import OvenEvaluator, goals_of, limits_of
from ..fields import Limits, Merits, Varies
from ..methods.front import knee
from ..methods.search import search
from ..methods.slices import slices
from ..schema import Section
from .kind import Given, Kind, Work, output_names


class SearchSection(Section):
    """The best designs for one to three goals."""

    kind: Literal["search"]
    vary: Varies
    goals: Annotated[Merits, Field(min_length=1, max_length=3)]
    limits: Limits = Field(default_factory=list)
    trials: Annotated[int, Field(strict=True, ge=8)] = 400
    population: Annotated[int, Field(strict=True, ge=4)] = 40
    pick: str = Field("knee", description='"knee", or the goal whose best design is chosen')


def _faults(section: SearchSection, given: Given) -> Iterator[str]:
    if section.pick != "knee" and section.pick not in section.goals:
        yield f'pick = "{section.pick}": allowed "knee" or one of the goals'
    if "material_cost" in section.goals and not given.priced:
        yield "goals: material_cost needs a [prices] table"
    if section.trials < section.population:
        yield f"trials = {section.trials}: allowed {section.population} (one population) or more"


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, setting, space = work.section, work.setting, work.space
    goals = goals_of(section.goals, setting.currency)
    limits = limits_of(section.limits, section.goals)
    evaluate = OvenEvaluator(setting, tuple(section.goals), tuple(section.limits))
    population = min(section.population, section.trials)
    done = 0

    def progress(part: int, _: int, failed: int) -> None:
        work.progress(done + part, section.trials, failed)

    def after(generation: Any) -> None:
        nonlocal done
        done = generation.done

    workers = work.running.workers
    dataset = search(
        space,
        evaluate,
        goals=goals,
        limits=limits,
        trials=section.trials,
        population=population,
        seed=setting.seed,
        workers=workers,
        chunk_rows=max(4, -(-population // (2 * workers))),  # two calls a worker even out a generation
        log=work.log(space, output_names(goals), output_names(limits)),
        on_generation=after,
        progress=progress,
    )
    if not dataset["on_front"].any():
        return dataset, work.design
    row = _picked(dataset, section)
    chosen = {name: dataset[name].isel(trial=row).item() for name in space.names}
    design = work.design.with_factors(**chosen)
    around = slices(
        space,
        evaluate,
        chosen,
        outputs=list(goals),
        workers=workers,
        log=work.log(space, output_names(goals), [], part="-slices"),
    )
    dataset = xr.merge([dataset, around, _verdict(work, design)], combine_attrs="override")
    idle = [name for name in space.names if name in design.idle]
    told = {"idle_factors": " ".join(idle)} if idle else {}
    return dataset.assign_attrs(chosen_trial=row, pick=section.pick, **told), design


def _verdict(work: Work, design: Design) -> xr.Dataset:
    """Every merit and limit of the chosen design, as plain numbers."""
    whole = work.setting.simulated(design).isel(design=0)[[*MERITS, *LIMITS]].reset_coords(drop=True)
    return whole.rename({name: f"chosen_{name}" for name in whole.data_vars})


def _picked(dataset: xr.Dataset, section: SearchSection) -> int:
    """Trial that the config's rule picks from the front."""
    if section.pick == "knee":
        return knee(dataset)
    goal = dataset[section.pick].where(dataset["on_front"] == 1).to_numpy()
    least = dataset[section.pick].attrs["direction"] == "minimize"
    return int(np.nanargmin(goal) if least else np.nanargmax(goal))


SEARCH = Kind(word="search", section=SearchSection, carry_out=_carry_out, faults=_faults)
