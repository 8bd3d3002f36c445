"""Two or more designs on the same days, paired: by how much, how surely, and when one is better."""

import dataclasses
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal, NamedTuple

import numpy as np
import xarray as xr
from pydantic import BeforeValidator, Field

from ...model import LIMITS, MERITS, DescriptionError, Design, misfit, stored_unit, suggestion
from ..asking.alternatives import Alternative, read_alternative
from ..asking.fields import Base
from ..asking.fits import FitAsked
from ..asking.quantity import QuantityError, difference_of, parse
from ..asking.schema import Section
from ..asking.varying import Vary, VaryError, read_varies, space_round
from ..judging.day_by_day import DESIGN_NUMBER, DayEvaluator, day_column
from ..judging.evaluate import BY_DAY
from ..judging.outcomes import Column, Outcomes
from ..judging.posterior import drawn_together
from ..judging.space import Parameter, Space
from ..methods.paired import CONFIDENCE, RESAMPLES, resampling
from ..running.evaluations import evaluate_rows
from .kind import Given, Kind, StudyError, Work
from .paired_days import Ran, compared, designs_dataset, group_coordinates, groups_of, ray_noise

# What a cook would not notice, by dimension [SI]: less than that is no difference.
SLACKS = {"time": 300.0, "temperature": 2.0, "share": 0.01}


def _known_outcomes(names: Any) -> Any:
    for name in names if isinstance(names, list) else [names]:
        if name not in MERITS | LIMITS:
            raise QuantityError(f'"{name}" is no merit or limit; {suggestion(str(name), MERITS | LIMITS)}')
    return names


class CompareSection(Section):
    """Two or more designs on the same days, paired."""

    kind: Literal["compare"]
    base: Base = Field("config", description="the design that the others are compared with")
    called: str = Field("base", min_length=1, description="name of that design")
    design: Annotated[list[dict[str, Any]], Field(min_length=1)] = Field(
        description="the other designs: name, and the factors that differ from the base"
    )
    outcomes: Annotated[list[str], BeforeValidator(_known_outcomes), Field(min_length=1)] = Field(
        ["time_to_done"], description="merits and limits, the most important first"
    )
    slack: dict[str, Any] = Field(default_factory=dict, description="by outcome: a difference that is none")
    uncertain: dict[str, Any] = Field(
        default_factory=dict, description="factors that nobody decides, in the form of vary"
    )
    fit: FitAsked = None
    draws: Annotated[int, Field(strict=True, ge=2, le=256)] = Field(
        8, description="values of the uncertain factors that every design meets; a power of two"
    )
    other_seeds: Annotated[int, Field(strict=True, ge=0, le=32)] = Field(
        3, description="repeats with other rays, to tell what the ray tracer's own noise does"
    )


class _Ready(NamedTuple):
    others: tuple[Alternative, ...]
    uncertain: tuple[Vary, ...]


def _faults(section: CompareSection, given: Given) -> Iterator[str]:
    yield from _name_faults(section)
    yield from _key_faults(section, given)
    if given.design is None:
        return
    names = given.catalogue.names()
    try:
        uncertain = {vary.name for vary in read_varies(section.uncertain, given.design.factors, names)}
    except VaryError as error:
        uncertain = set()
        yield from (f"uncertain.{fault}" for fault in error.faults)
    for number, table in enumerate(section.design, start=1):
        other, found = read_alternative(table, given.design, names)
        yield from (f"design[{number}].{fault}" for fault in found)
        if other is None or found:
            continue
        for name in sorted(uncertain & set(other.values)):
            yield f"design[{number}].{name}: is uncertain too; what is drawn for all designs is not one design's own"
        if section.base == "config":
            yield from (f"design[{number}]: {fault}" for fault in _unfit(other, given))


def _name_faults(section: CompareSection) -> Iterator[str]:
    names = [section.called, *(str(table.get("name")) for table in section.design)]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield f'design: two designs are called "{name}"; give each its own name'


def _key_faults(section: CompareSection, given: Given) -> Iterator[str]:
    if "material_cost" in section.outcomes and not given.priced:
        yield "outcomes: material_cost needs a [prices] table"
    if section.draws & (section.draws - 1):
        lower = 1 << (section.draws.bit_length() - 1)
        yield f"draws = {section.draws}: must be a power of two, such as {lower} or {2 * lower}"
    if "draws" in section.model_fields_set and not section.uncertain and section.fit is None:
        yield "draws: nothing is uncertain; name factors and their ranges in [study.uncertain], or a fit"
    for name, text in section.slack.items():
        if name not in section.outcomes or name not in BY_DAY:
            yield f"slack.{name}: is no outcome asked for that has a value on each day"
            continue
        try:
            if _slack(section, name) < 0:
                yield f'slack.{name} = "{text}": must not be below zero'
        except QuantityError as error:
            yield f"slack.{name}: {error}"


def _unfit(other: Alternative, given: Given) -> Iterator[str]:
    """What keeps a design from being built round the config's own."""
    assert given.design is not None
    try:
        design = other.of(given.design)
    except DescriptionError as error:
        yield from error.faults
        return
    reason = misfit(design, given.sky, catalogue=given.catalogue) if given.sky is not None else None
    if reason is not None:
        yield reason


def _ready(section: CompareSection, given: Given) -> _Ready:
    assert given.design is not None
    names = given.catalogue.names()
    read = [read_alternative(table, given.design, names)[0] for table in section.design]
    others = tuple(other for other in read if other is not None)
    return _Ready(others, read_varies(section.uncertain, given.design.factors, names))


def _slack(section: CompareSection, merit: str) -> float:
    """What is no difference of a merit. [SI]"""
    dimension = MERITS[merit].dimension
    given = section.slack.get(merit)
    return SLACKS[dimension] if given is None else parse(given, difference_of(dimension))


def _designs(work: Work) -> tuple[Design, ...]:
    faults: list[str] = []
    designs = [work.design]
    for number, other in enumerate(work.ready.others, start=1):
        try:
            designs.append(other.of(work.design))
        except DescriptionError as error:
            faults += [f"design[{number}]: {fault}" for fault in error.faults]
    if faults:
        raise StudyError(faults)
    return tuple(designs)


def _drawn(work: Work) -> dict[str, Column]:
    """Values of the uncertain factors by draw, the same for every design."""
    uncertain = space_round(work.ready.uncertain, work.design) if work.ready.uncertain else None
    return drawn_together(uncertain, work.posterior, work.section.draws, work.setting.seed)


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, sky, designs, drawn = work.section, work.setting.sky, _designs(work), _drawn(work)
    merits = [name for name in MERITS if name != "keep_warm_time" or name in section.outcomes]
    by_day = tuple(name for name in section.outcomes if name in BY_DAY)
    evaluate = DayEvaluator(work.setting, designs, by_day, (*merits, *LIMITS))
    ran, *repeats = (_ran(work, evaluate, drawn, part) for part in range(section.other_seeds + 1))
    names = [section.called, *(other.name for other in work.ready.others)]
    dataset = designs_dataset(names, designs, ran, sky, work.setting.currency)
    dataset = dataset.assign_coords(_drawn_coordinates(work, drawn))
    groups = groups_of(sky)
    dataset = dataset.assign_coords(group_coordinates(groups, sky))
    weights = resampling(sky.day_month, draws=ran.status.shape[1], seed=work.setting.seed)
    for merit in by_day:
        days, slack = ran.days[merit], _slack(section, merit)
        dataset = dataset.assign(compared(merit, days, sky, groups, weights=weights, slack=slack))
        if repeats:
            dataset = dataset.assign(ray_noise(merit, [ran, *repeats], sky))
    return dataset.assign_attrs(_about(work)), work.design


def _ran(work: Work, evaluate: DayEvaluator, drawn: Mapping[str, Column], part: int) -> Ran:
    """Every design under every draw; parts after the first trace other rays."""
    setting = dataclasses.replace(evaluate.setting, seed=evaluate.setting.seed + part)
    evaluate = dataclasses.replace(evaluate, setting=setting)
    designs, draws = len(evaluate.designs), max((len(column) for column in drawn.values()), default=1)
    columns = {DESIGN_NUMBER: np.repeat(np.arange(designs), draws)}
    columns |= {name: np.tile(column, designs) for name, column in drawn.items()}
    rows, parts = designs * draws, work.section.other_seeds + 1

    def progress(done: int, _: int, failed: int) -> None:
        work.progress(part * rows + done, parts * rows, failed)

    values, space = evaluate.value_names, _space(evaluate.designs, work)
    outcomes = evaluate_rows(
        evaluate,
        columns,
        values=values,
        margins=[],
        workers=work.running.workers,
        chunk_rows=max(min(work.chunk_rows, -(-rows // 4)), 1),
        progress=progress,
        log=work.log(space, values, [], part=f"-rays-{part}" if part else "", setting=setting),
    )
    return _shaped(outcomes, evaluate, (designs, draws))


def _space(designs: Sequence[Design], work: Work) -> Space:
    """Columns of the rows. The meaning holds which designs the numbers stand for, so that a log is not taken for
    that of others."""
    hashed = hashlib.sha256(repr(designs).encode()).hexdigest()[:16]
    last, meaning = len(designs) - 1, f"number of the design among {hashed}"
    number = Parameter(name=DESIGN_NUMBER, kind="integer", low=0, high=last, meaning=meaning)
    together = work.posterior.factors if work.posterior else ()
    return Space((number, *(vary.parameter(work.design) for vary in work.ready.uncertain), *together))


def _shaped(outcomes: Outcomes, evaluate: DayEvaluator, shape: tuple[int, int]) -> Ran:
    values, days = outcomes.values, range(evaluate.setting.sky.days)
    by_day = {
        merit: [values[day_column(merit, day)].reshape(shape) for day in days] for merit in evaluate.by_day
    }
    return Ran(
        whole={name: values[name].reshape(shape) for name in evaluate.whole},
        days={merit: np.stack(columns, axis=-1) for merit, columns in by_day.items()},
        status=outcomes.status.reshape(shape),
        failures=outcomes.failures,
    )


def _drawn_coordinates(work: Work, drawn: Mapping[str, Column]) -> dict[str, Any]:
    """Values of the uncertain factors by draw."""
    factors = work.design.factors
    return {
        name: ("draw", column, {"units": stored_unit(factors[name]), "long_name": factors[name].meaning})
        for name, column in drawn.items()
    }


def _about(work: Work) -> dict[str, Any]:
    section = work.section
    return {
        "study": "compare",
        "outcomes": " ".join(section.outcomes),
        "uncertain": " ".join([*section.uncertain, *(work.posterior.names if work.posterior else ())]),
        "confidence": CONFIDENCE,
        "resamples": RESAMPLES,
        "other_seeds": section.other_seeds,
        "intervals": f"{100 * CONFIDENCE:.0f} % percentile intervals from {RESAMPLES} resamples: days drawn within "
        "their months, one fewer than there are (Rao and Wu 1988), and draws beside them (Owen 2007)",
        "seed": work.setting.seed,
    }


COMPARE = Kind(word="compare", section=CompareSection, carry_out=_carry_out, faults=_faults, ready=_ready)
