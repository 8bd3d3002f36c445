"""The table of a search in a config: its keys, and what is wrong with them."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, Field

from ...model import MERITS
from ..asking.fields import Limits, Merits, Varies
from ..asking.fits import FitAsked
from ..asking.known import Known, KnownError, read_known
from ..asking.quantity import QuantityError, difference_of, parse
from ..asking.schema import Section
from ..asking.varying import Vary, VaryError, read_varies, uneven
from ..judging.robust import rule_of
from .kind import Given, StudyError


def _judging(text: Any) -> Any:
    rule_of(text)
    return text


def _pick(value: Any) -> Any:
    numbers = value.values() if isinstance(value, dict) else ()
    if not isinstance(value, str | dict) or any(isinstance(x, bool | str) or not x >= 0 for x in numbers):
        raise QuantityError('write "knee", a goal, or weights such as { time_to_done = 2, mass = 1 }')
    return value


class SearchSection(Section):
    """The best designs for one to four goals."""

    kind: Literal["search"]
    vary: Varies
    goals: Annotated[
        Merits, Field(min_length=1, max_length=4, description="merits that the best designs are best in")
    ]
    limits: Limits = Field(default_factory=list)
    trials: Annotated[int, Field(strict=True, ge=8)] = Field(400, description="designs in each search")
    population: Annotated[int, Field(strict=True, ge=4)] = Field(40, description="designs in a generation")
    seeds: Annotated[int, Field(strict=True, ge=1, le=20)] = Field(
        1, description="searches, each from a seed of its own, told as one"
    )
    known: list[dict[str, Any]] = Field(
        default_factory=list, description="designs to try first, by some of the factors that vary, and a name"
    )
    judged_by: Annotated[str, BeforeValidator(_judging)] = Field(
        "usual",
        description='how days become one number: "usual", each merit in its own way; "middle day"; "mean"; '
        '"worst month"; or what a share of them keeps, "90 % of days"',
    )
    uncertain: dict[str, Any] = Field(
        default_factory=dict, description="factors that nobody decides, and their ranges"
    )
    fit: FitAsked = None
    draws: Annotated[int, Field(strict=True, ge=2, le=256)] = Field(
        8, description="values of the uncertain factors that every design meets; a power of two"
    )
    pick: Annotated[str | dict[str, float], BeforeValidator(_pick)] = Field(
        "knee", description='"knee", the goal whose best design is chosen, or weights by goal'
    )
    slack: dict[str, Any] = Field(
        default_factory=dict, description="by goal: the loss that nobody would notice, such as 5 min"
    )


class Ready(NamedTuple):
    """What a search needs beyond numbers."""

    known: tuple[Known, ...]
    uncertain: tuple[Vary, ...]


def search_faults(section: SearchSection, given: Given) -> Iterator[str]:
    """Sentences, each beginning with the key, on what is wrong beyond single keys."""
    yield from _pick_faults(section)
    if "material_cost" in section.goals and not given.priced:
        yield "goals: material_cost needs a [prices] table"
    if len(set(section.goals)) < len(section.goals):
        yield "goals: each only once"
    if section.trials < section.population:
        yield f"trials = {section.trials}: allowed {section.population} (one population) or more"
    if len(section.known) + 1 > section.population:
        yield (
            f"known: {len(section.known)} designs and the starting one do not fit a population of "
            f"{section.population}"
        )
    yield from uneven(section.vary)
    yield from _uncertain_faults(section)
    yield from _slack_faults(section)
    if given.design is not None:
        try:
            search_ready(section, given)
        except StudyError as error:
            yield from error.faults


def _pick_faults(section: SearchSection) -> Iterator[str]:
    if isinstance(section.pick, dict):
        unknown = sorted(set(section.pick) - set(section.goals))
        if unknown:
            yield f"pick: {', '.join(unknown)} is none of the goals"
        elif not any(section.pick.values()):
            yield "pick: one of the weights must be above zero"
    elif section.pick != "knee" and section.pick not in section.goals:
        yield f'pick = "{section.pick}": allowed "knee", one of the goals, or weights by goal'


def _uncertain_faults(section: SearchSection) -> Iterator[str]:
    for name in sorted(set(section.uncertain) & set(section.vary)):
        yield f"uncertain.{name}: is searched as well; a factor either is decided or is uncertain"
    if section.draws & (section.draws - 1):
        lower = 1 << (section.draws.bit_length() - 1)
        yield f"draws = {section.draws}: must be a power of two, such as {lower} or {2 * lower}"
    if "draws" in section.model_fields_set and not section.uncertain and section.fit is None:
        yield "draws: nothing is uncertain; name factors and their ranges in [study.uncertain], or a fit"


def _slack_faults(section: SearchSection) -> Iterator[str]:
    for name, text in section.slack.items():
        if name not in section.goals:
            yield f"slack.{name}: is none of the goals"
            continue
        try:
            if not slack_of(name, text) > 0:
                yield f"slack.{name} = {text}: must be above zero"
        except QuantityError as error:
            yield f"slack.{name}: {error}"


def search_ready(section: SearchSection, given: Given) -> Ready:
    """Known designs and uncertain factors, read and checked.

    Raises
    ------
    StudyError
        Every fault of them.
    """
    assert given.design is not None
    factors, names = given.design.factors, given.catalogue.names()
    try:
        varies = read_varies(section.vary, factors, names)
    except VaryError:  # told by whoever reads `vary`; known designs cannot be held against it
        varies = ()
    faults: list[str] = []
    known: tuple[Known, ...] = ()
    uncertain: tuple[Vary, ...] = ()
    try:
        known = read_known(section.known, varies) if varies else ()
    except KnownError as error:
        faults += error.faults
    try:
        uncertain = read_varies(section.uncertain, factors, names)
    except VaryError as error:
        faults += [f"uncertain.{fault}" for fault in error.faults]
    if faults:
        raise StudyError(faults)
    return Ready(known, uncertain)


def slack_of(goal: str, text: Any) -> float:
    """A slack in the unit of its goal.

    Raises
    ------
    QuantityError
        It cannot be read as such.
    """
    return parse(text, difference_of(MERITS[goal].dimension))
