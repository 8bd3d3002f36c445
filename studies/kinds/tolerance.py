"""How much each cut, bend, aim and fill may be off before the meal is so much later; alone, and all at once."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from ...model import LIMITS, MERITS, Catalogue, Choice, Count, Design, Quantity, Spec, suggestion
from ..evaluate import OvenEvaluator
from ..fields import Base, Merit, Share
from ..methods.repeats import AtBase, BaseError, Repeats
from ..methods.sweeps import Toleranced, at_design
from ..methods.together import together
from ..methods.tolerance import alone
from ..quantity import QuantityError, difference_of, parse, show
from ..schema import Section
from ..space import Parameter, Space
from .accuracies import USUAL
from .kind import Given, Kind, StudyError, Work

USUALLY = "usual"  # in place of an accuracy: the one of the list

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
        yield from _toleranced(section, given.design, given.catalogue)[1]


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


def _toleranced(
    section: ToleranceSection, design: Design, catalogue: Catalogue
) -> tuple[list[Toleranced], list[str]]:
    """Quantities that are off, and a sentence on each one of the table that cannot be."""
    asked = section.accuracy
    table = asked if asked is not None else dict.fromkeys(USUAL, USUALLY)
    parts, faults = [], []
    for name, width in table.items():
        try:
            part = _part(name, width, design, catalogue)
        except QuantityError as error:
            if asked is not None:  # of the usual list, what this design has not or does not use is left out
                faults.append(f"accuracy.{name}: {error}")
            continue
        if name not in design.idle and part.accuracy > 0:
            parts.append(part)
    if not parts and not faults:
        faults.append(
            "accuracy: nothing is off; name a quantity that this design uses, or leave the table out"
        )
    return parts, faults


def _part(name: str, width: Any, design: Design, catalogue: Catalogue) -> Toleranced:
    spec = design.factors.get(name)
    if spec is None:
        raise QuantityError(f"no field of this design; {suggestion(name, design.factors)}")
    if not isinstance(spec, Quantity):
        raise QuantityError(f"{_kind_of(spec)} is right or wrong, not a little off; leave it out")
    at = _designed(name, design, catalogue)
    parameter = Parameter(
        name=name,
        kind="real",
        meaning=spec.meaning,
        low=spec.low,
        high=spec.high,
        dimension=spec.dimension,
    )
    return Toleranced(parameter=parameter, at=at, accuracy=_accuracy(name, width, at, spec))


def _kind_of(spec: Spec) -> str:
    return "a whole number" if isinstance(spec, Count) else "a word" if isinstance(spec, Choice) else "a name"


def _accuracy(name: str, width: Any, at: float, spec: Quantity) -> float:
    dimension = difference_of(spec.dimension)
    if width == USUALLY:
        if name not in USUAL:
            raise QuantityError("has no usual accuracy; write one, with its unit")
        return USUAL[name].accuracy(at, dimension)
    accuracy = parse(width, dimension)
    if not 0 < accuracy <= spec.high - spec.low:
        raise QuantityError(
            f"{width} is no accuracy; allowed above zero, up to {show(spec.high - spec.low, dimension)}"
        )
    return accuracy


def _designed(name: str, design: Design, catalogue: Catalogue) -> float:
    """The value of a quantity, where the design leaves it to a material or a food as well. [SI]"""
    value = design.value(name)
    if value is not None:
        return float(value)
    food = catalogue.foods[design.meal.food]
    elsewhere = {
        "slope_error": lambda: catalogue.materials.numbers("mirrors", design.oven.funnel.mirror)[name],
        "added_water": lambda: food.added_water,
        "start_temperature": lambda: food.start_temperature,
    }
    if name not in elsewhere:
        raise QuantityError("is not set in this design; set it, and it can be off")
    return float(elsewhere[name]())


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, merit = work.section, MERITS[work.section.goal]
    parts, _ = _toleranced(section, work.design, work.setting.catalogue)
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
    dataset = dataset.merge(drawn).assign_attrs(drawn.attrs)
    return _labelled(dataset, work, designed), work.design


def _measure(work: Work, parts: list[Toleranced]) -> Repeats:
    """The goal round the design, run with several seeds of the ray tracer."""
    space = Space(tuple(part.parameter for part in parts))
    settings = [
        replace(work.setting, seed=work.setting.seed + number) for number in range(work.section.repeats)
    ]
    goal = work.section.goal
    return Repeats(
        evaluates=[OvenEvaluator(setting, (goal,), tuple(LIMITS)) for setting in settings],
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
    checks = [USUAL[name].check if name in USUAL else "" for name in dataset["factor"].to_numpy()]
    status = np.concatenate([[0], dataset["drawn_status"].to_numpy().ravel()])
    dataset = dataset.assign_coords(
        factor_check=("factor", checks, {"units": "1", "long_name": "how to keep it, in a sentence"}),
        **{
            name: ("limit", values, {"units": "1", "long_name": text})
            for name, values, text in (
                ("limit", list(LIMITS), "safety limit"),
                ("limit_dimension", [limit.dimension for limit in LIMITS.values()], "its dimension"),
                ("limit_meaning", [limit.meaning for limit in LIMITS.values()], "what is over it"),
            )
        },
    )
    dataset["designed_over"] = (
        "limit",
        designed.over,
        {"units": "1", "long_name": "excess of the design itself over each limit, in the limit's own unit"},
    )
    dataset["status"] = (
        "run",
        status,
        {"units": "1", "long_name": "of the design itself and of all drawn ovens: 0 ran to the end"},
    )
    return dataset.assign_attrs(
        study="tolerance",
        goal=section.goal,
        goal_meaning=merit.meaning,
        goal_dimension=merit.dimension,
        better=merit.better,
        goal_designed=designed.goal,
        repeats=section.repeats,
        accuracies="usual" if section.accuracy is None else "given",
        seed=work.setting.seed,
    )


TOLERANCE = Kind(word="tolerance", section=ToleranceSection, carry_out=_carry_out, faults=_faults)
