"""The best design in every place and month of a region, and the one design to build for all of them."""

import dataclasses
from collections.abc import Iterator
from hashlib import sha256
from typing import Annotated, Any, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from ...model import MERITS, Design
from ..asking.fields import Base, Limits, Merit, Months, Varies
from ..asking.quantity import QuantityError, difference_of, parse
from ..asking.schema import Section
from ..asking.skies import SkySection
from ..asking.varying import uneven
from ..judging.evaluate import OvenEvaluator, goals_of, limits_of
from ..methods.growing import pooled
from ..methods.pool import Pool, Question, with_cell
from ..methods.regret import NONE
from ..setting import Setting
from .kind import Given, Kind, Work
from .region import Cell, Latitude, SiteSection, Weights, region_cells, region_faults
from .season_table import Verdict, season_table


class SeasonSection(Section):
    """The best design in every place and month of a region, and the one design to build for all of them."""

    kind: Literal["season"]
    base: Base = "chosen"
    vary: Varies
    goal: Merit = Field(description="what the best design is best in")
    months: Months
    latitudes: list[Latitude] = Field(
        default_factory=list, description="places along the meridian of [place], else as there"
    )
    site: list[SiteSection] = Field(  # type: ignore[valid-type]
        default_factory=list, description="places each with its clock, its days and how much it counts"
    )
    sky: SkySection | None = Field(
        None, description="days of places that have none of their own; [sky] if left out"
    )
    weights: list[Weights] = Field(
        default_factory=list, description="for each latitude how much it counts, in all months or by month"
    )
    days_per_month: Annotated[int, Field(strict=True, ge=1, le=28)] = Field(
        5, description="days that stand for a month, of clearness and of files"
    )
    rather: Merit | None = Field(None, description="merit that decides among designs within the slack")
    slack: Any = Field(None, description="how much of the goal nobody would miss")
    rule: Literal["mean", "worst"] = Field("mean", description="which regret over places and months decides")
    limits: Limits = Field(default_factory=list)
    designs: Annotated[int, Field(strict=True, ge=8, le=2000)] = Field(
        240, description="designs tried everywhere"
    )
    rounds: Annotated[int, Field(strict=True, ge=1, le=50)] = Field(
        6, description="of new designs bred from the best"
    )


def _faults(section: SeasonSection, given: Given) -> Iterator[str]:
    yield from region_faults(section, given)
    yield from uneven(section.vary)
    if section.rather == section.goal:
        yield f'rather = "{section.rather}": is the goal itself; name another merit'
    if "material_cost" in (section.goal, section.rather) and not given.priced:
        yield "goal: material_cost needs a [prices] table"
    if section.slack is None:
        if section.rather not in (None, section.goal):
            yield f"slack: is missing; say how much {section.goal} you would give up for better {section.rather}"
        return
    try:
        slack = _slack(section)
    except QuantityError as error:
        yield f"slack: {error}"
        return
    if slack < 0:
        yield f"slack = {section.slack}: allowed 0 or more"


def _slack(section: SeasonSection) -> float:
    if section.slack is None:
        return 0.0
    return parse(section.slack, difference_of(MERITS[section.goal].dimension))


def _question(section: SeasonSection, cells: tuple[Cell, ...], currency: str) -> Question:
    names = [section.goal] if section.rather is None else [section.goal, section.rather]
    goal, *rather = goals_of(names, currency)
    return Question(
        goal=goal,
        rather=rather[0] if rather else None,
        limits=tuple(limits_of(section.limits, [section.goal])),
        weight=np.array([cell.weight for cell in cells]),
        rule=section.rule,
        slack=_slack(section),
    )


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, cells = work.section, work.ready
    question = _question(section, cells, work.setting.currency)
    settings = [dataclasses.replace(work.setting, sky=cell.sky) for cell in cells]
    start = {name: work.design.value(name) for name in work.space.names}
    pool = pooled(
        work.space,
        [OvenEvaluator(one, tuple(question.value_names), tuple(section.limits)) for one in settings],
        question,
        known=[start],
        designs=section.designs,
        rounds=section.rounds,
        seed=work.setting.seed,
        workers=work.running.workers,
        chunk_rows=work.chunk_rows,
        log=_log(work, question, settings),
        progress=work.progress,
    )
    started = pool.row_of(work.space, start)
    one = pool.choices.one
    if one == NONE:
        return season_table(work.space, pool, cells, started=started), work.design
    design = _design(work, pool, one)
    verdict = Verdict(design=design, by_cell=[setting.simulated(design) for setting in settings])
    return season_table(work.space, pool, cells, started=started, verdict=verdict), design


def _design(work: Work, pool: Pool, row: int) -> Design:
    return work.design.with_factors(**{name: pool.columns[name][row].item() for name in work.space.names})


def _log(work: Work, question: Question, settings: list[Setting]) -> Any:
    """What the study has evaluated so far, in these places and months alone."""
    region = sha256("".join(setting.identity for setting in settings).encode()).hexdigest()[:12]
    space = with_cell(work.space, len(settings))
    return work.log(space, question.value_names, question.margin_names, part=f"-{region}")


SEASON = Kind(
    word="season",
    section=SeasonSection,
    carry_out=_carry_out,
    faults=_faults,
    ready=region_cells,
    chooses=True,
)
