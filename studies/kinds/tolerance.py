"""How much each cut, bend, aim and fill may be off before the meal is so much later; alone, and all at once."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from ...model import LIMITS, MERITS, Design
from ..asking.fields import Base, Merit, Share
from ..asking.fits import FitAsked
from ..asking.quantity import QuantityError, difference_of, parse, show
from ..asking.schema import Section
from ..judging.evaluate import OvenEvaluator
from ..judging.outcomes import Evaluate
from ..judging.posterior import JointEvaluator
from ..judging.space import Parameter, Space
from ..methods.repeats import AtBase, BaseError, Repeats
from ..methods.sweeps import Toleranced, at_design
from ..methods.together import together
from ..methods.tolerance import alone
from ..setting import Setting
from .accuracies import USUAL
from .kind import Given, Kind, StudyError, Work
from .toleranced import toleranced

# How much worse is worth asking about, by the dimension of the goal.
STEPS = {"time": ("5 min", "10 min"), "temperature": ("5 K", "10 K"), "share": ("2 %", "5 %")}

FEWEST = 32  # ovens; fewer do not tell nine of ten from ten of ten


class ToleranceSection(Section):
    """How much each quantity may be off before a goal is so much worse."""

    kind: Literal["tolerance"]
    base: Base = "chosen"
    goal: Merit = Field("time_to_done", description="the merit that shall not be so much worse")
    worse: list[str] | None = Field(
        None, min_length=1, description="how much worse, rising; 5 and 10 min of a time if left out"
    )
    accuracy: dict[str, Any] | None = Field(
        None, description="quantity -> how far it is usually off; a workshop's usual list if left out"
    )
    wanted: Share = Field(0.9, description="share of ovens that shall be at most the first step worse")
    spread: Literal["even", "normal"] = Field(
        "even", description="anywhere within the accuracy, or normal with it as two standard deviations"
    )
    fit: FitAsked = None
    ovens: Annotated[int, Field(strict=True, ge=FEWEST)] = Field(
        128, description="drawn with everything off at once; a power of two"
    )
    repeats: Annotated[int, Field(strict=True, ge=2, le=64)] = Field(
        4, description="times each oven is run with other rays, to tell noise from effect"
    )


def _faults(section: ToleranceSection, given: Given) -> Iterator[str]:
    count = section.ovens
    if count & (count - 1):
        lower = 1 << (count.bit_length() - 1)
        yield f"ovens = {count}: must be a power of two, such as {lower} or {2 * lower}"
    if not 0.5 <= section.wanted < 1.0:
        yield f"wanted = {show(section.wanted, 'share')}: allowed 50 % to below 100 %"
    if section.goal == "material_cost" and not given.priced:
        yield "goal: material_cost needs a [prices] table"
    try:
        _levels(section)
    except QuantityError as error:
        yield f"worse: {error}"
    if given.design is not None:
        yield from toleranced(section.accuracy, given.design, given.catalogue)[1]


def _levels(section: ToleranceSection) -> list[float]:
    """How much worse, in the goal's SI unit, rising."""
    dimension = difference_of(MERITS[section.goal].dimension)
    texts = section.worse or STEPS.get(MERITS[section.goal].dimension)
    if not texts:
        raise QuantityError(f"say how much worse {section.goal} may be, for example ['1', '2']")
    levels = [parse(text, dimension) for text in texts]
    if min(levels) <= 0 or sorted(set(levels)) != levels:
        raise QuantityError(f"{', '.join(texts)}: rising steps above zero are needed")
    return levels


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, merit = work.section, MERITS[work.section.goal]
    parts, faults = toleranced(section.accuracy, work.design, work.setting.catalogue)
    if work.posterior is not None:
        parts = [*parts, *(_unknown(parameter) for parameter in work.posterior.parameters)]
    if not parts:
        raise StudyError(faults)
    measure, levels = _measure(work, parts), _levels(section)
    unit = "K" if merit.dimension == "temperature" else merit.unit(work.setting.currency)
    try:
        designed = measure.at_base()
        dataset = alone(parts, measure, levels=levels, unit=unit)
        drawn = together(
            parts,
            measure,
            levels=levels,
            unit=unit,
            draws=section.ovens,
            spread=section.spread,
            wanted=section.wanted,
            seed=work.setting.seed,
        )
    except BaseError as error:
        raise StudyError(
            [f"tolerance: {error} ({section.goal}) on these days: a longer day, less food or another goal"]
        ) from error
    dataset = dataset.merge(drawn).assign(_beside(designed, drawn)).assign_attrs(drawn.attrs)
    return _labelled(dataset, work, designed), work.design


def _unknown(parameter: Parameter) -> Toleranced:
    """A direction that test cooks leave unknown; its accuracy is two standard deviations."""
    return Toleranced(parameter=replace(parameter, spread=None), at=0.0, accuracy=2.0)


def _evaluator(work: Work, setting: Setting) -> Evaluate:
    """What runs rows in one setting."""
    evaluate: Evaluate = OvenEvaluator(setting, (work.section.goal,), tuple(LIMITS))
    return evaluate if work.posterior is None else JointEvaluator(evaluate, work.posterior)


def _measure(work: Work, parts: list[Toleranced]) -> Repeats:
    """The goal round the design, run with several seeds of the ray tracer."""
    space = Space(tuple(part.parameter for part in parts))
    settings = [
        replace(work.setting, seed=work.setting.seed + number) for number in range(work.section.repeats)
    ]
    goal = work.section.goal
    return Repeats(
        evaluates=[_evaluator(work, setting) for setting in settings],
        logs=[
            work.log(space, [goal], list(LIMITS), part=f"-{number}", setting=setting)
            for number, setting in enumerate(settings, start=1)
        ],
        goal=goal,
        sign=1.0 if MERITS[goal].better == "less" else -1.0,
        base=at_design(parts, 1),
        limits=list(LIMITS),
        workers=work.running.workers,
        chunk_rows=work.chunk_rows,
        progress=work.progress,
    )


def _labelled(dataset: xr.Dataset, work: Work, designed: AtBase) -> xr.Dataset:
    """The result with what its words and figures need to know of the goal and of the workshop."""
    section, merit = work.section, MERITS[work.section.goal]
    dimension = difference_of(merit.dimension)
    for name in ("level", "at_accuracy", "noise", "point_excess", "point_doubt", "drawn_excess"):
        dataset[name].attrs["dimension"] = dimension
    idle = [name for name in section.accuracy or {} if name in work.design.idle]
    told = {"idle_factors": " ".join(idle)} if idle else {}
    return dataset.assign_coords(_more_coordinates(dataset)).assign_attrs(
        study="tolerance",
        goal=section.goal,
        goal_meaning=merit.meaning,
        goal_dimension=merit.dimension,
        better=merit.better,
        goal_designed=designed.goal,
        repeats=section.repeats,
        accuracies="usual" if section.accuracy is None else "given",
        seed=work.setting.seed,
        **told,
    )


def _more_coordinates(dataset: xr.Dataset) -> dict[str, Any]:
    """How to keep each quantity, and what each limit is."""
    checks = [USUAL[name].check if name in USUAL else "" for name in dataset["factor"].to_numpy()]
    limits = {
        "limit": (list(LIMITS), "safety limit"),
        "limit_dimension": ([limit.dimension for limit in LIMITS.values()], "its dimension"),
        "limit_meaning": ([limit.meaning for limit in LIMITS.values()], "what is over it"),
    }
    found: dict[str, Any] = {
        name: ("limit", values, {"units": "1", "long_name": text}) for name, (values, text) in limits.items()
    }
    return found | {
        "factor_check": ("factor", checks, {"units": "1", "long_name": "how to keep it, in a sentence"})
    }


def _beside(designed: AtBase, drawn: xr.Dataset) -> dict[str, Any]:
    """The design's own margins, and the status of all that was drawn with the design itself before it."""
    over = "excess of the design itself over each limit, in the limit's own unit"
    ran = "of the design itself and of all drawn ovens: 0 ran to the end"
    status = np.concatenate([[0], drawn["drawn_status"].to_numpy().ravel()])
    return {
        "designed_over": ("limit", designed.over, {"units": "1", "long_name": over}),
        "status": ("run", status, {"units": "1", "long_name": ran}),
    }


TOLERANCE = Kind(word="tolerance", section=ToleranceSection, carry_out=_carry_out, faults=_faults)
