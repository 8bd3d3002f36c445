"""How each kind of result is told: its sentences, its figures, and whether it holds anything."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import xarray as xr
from matplotlib.figure import Figure

from .argument.sections import DETAIL, Said
from .drawings.aiming_figures import following, intervals, rings
from .drawings.batch_figures import side_by_side
from .drawings.budget_figures import bills, spending
from .drawings.built_figures import promise
from .drawings.compare_figures import day_against_day, differences, outcomes
from .drawings.cook_figures import course, gaps, touched
from .drawings.day_figures import day_curve, days_done, evening_curve
from .drawings.diagnosis_figures import causes, explained, further_tests
from .drawings.drawing import Drawn
from .drawings.fit_figures import cooks_beside, pairs, residuals
from .drawings.flow_figures import heat_flows, light_flows
from .drawings.protocol_figures import more_cooks, shade_and_thermometers
from .drawings.screening_figures import effects
from .drawings.search_figures import agreement, choices, front
from .drawings.season_figures import best, days, lost, own
from .drawings.section_figures import measures, rays
from .drawings.sensitivity_figures import convergence, indices, overview, ranks, sides
from .drawings.slice_figures import slices
from .drawings.standard_figures import power_line, which_count
from .drawings.tolerance_cost_figures import curves, everything_off
from .drawings.tolerance_figures import tolerance_bars
from .pages.page_data import explorer
from .pages.tested_page import sheet_of_test
from .words.aiming_words import aiming_sentences
from .words.batch_words import batch_sentences
from .words.budget_words import budget_sentences
from .words.built_words import built_sentences
from .words.compare_words import compare_sentences
from .words.cook_words import cook_sentences
from .words.day_words import day_sentences
from .words.diagnosis_words import diagnosis_sentences
from .words.fit_words import fit_sentences
from .words.protocol_words import protocol_sentences
from .words.screening_words import screening_sentences
from .words.search_words import search_said, search_sentences
from .words.season_words import season_sentences
from .words.sensitivity_words import indices_said, interpretation
from .words.standard_words import nothing_found, standard_sentences
from .words.tolerance_words import tolerance_sentences


def _all_failed(result: xr.Dataset) -> bool:
    """Whether not one design ran."""
    return bool((result["status"] != 0).all())


def _none_chosen(result: xr.Dataset) -> bool:
    """Whether a search found no design within its limits."""
    return "chosen_trial" not in result.attrs


def _no_front(result: xr.Dataset) -> bool:
    """Whether not one design kept the limits and got there."""
    return not bool(result["on_front"].any())


def _none_built(result: xr.Dataset) -> bool:
    """Whether a season study found no design that serves anywhere."""
    return "built" not in result.attrs


def _nothing_to_look_through(_: xr.Dataset) -> None:
    """Of kinds whose page is words and figures alone."""
    return None


@dataclass(frozen=True, kw_only=True)
class Telling:
    """How one kind of result is told."""

    sentences: Callable[[xr.Dataset], list[str]]  # most important first
    figures: tuple[Callable[[xr.Dataset], Drawn | None], ...]  # None where there is nothing to draw
    is_empty: Callable[[xr.Dataset], bool] = _all_failed
    explorer: Callable[[xr.Dataset], dict[str, Any] | None] = (
        _nothing_to_look_through  # what the page lets one do
    )
    sheet: Callable[[xr.Dataset], Figure] | None = None  # a page to print, where the kind has one
    asks: str = ""  # the question that it answers; a search has its own
    place: str = DETAIL  # section of an argument that its first sentences belong to
    said: Callable[[xr.Dataset], list[Said]] | None = (
        None  # sentences with a place each, where a kind has them
    )


# By the attribute `study` of a result.
TELLINGS = {
    "diagnosis": Telling(
        sentences=diagnosis_sentences,
        figures=(causes, explained, further_tests),
        asks="Which single change would explain that the oven cooks otherwise than its model says?",
        place="cooks",
    ),
    "cook": Telling(
        sentences=cook_sentences,
        figures=(course, gaps, touched),
        asks="What did the measured cooks do, and what did the model say of them?",
        place="cooks",
    ),
    "protocol": Telling(
        sentences=protocol_sentences,
        figures=(shade_and_thermometers, more_cooks),
        asks="Which test cooks, and how many, would tell how the oven was built?",
        place="cooks",
    ),
    "standard": Telling(
        sentences=standard_sentences,
        figures=(power_line, which_count),
        is_empty=nothing_found,
        sheet=sheet_of_test,
        asks="What do the measured cooks come to by the published test procedures?",
        place="cooks",
    ),
    "search": Telling(
        sentences=search_sentences,
        figures=(front, choices, agreement, slices),
        is_empty=_none_chosen,
        explorer=explorer,
        said=search_said,
    ),
    "sobol": Telling(
        sentences=interpretation,
        figures=(indices, overview, sides, ranks, convergence),
        asks="Which factors matter, alone and together: those of the design, or weather and workmanship?",
        said=indices_said,
    ),
    "morris": Telling(
        sentences=screening_sentences,
        figures=(effects,),
        asks="Which factors move what, and which may be fixed?",
        place="reasons",
    ),
    "day": Telling(
        sentences=day_sentences,
        figures=(day_curve, light_flows, heat_flows, measures, rays, evening_curve, days_done),
        asks="What does the design do, minute by minute?",
        place="choice",
    ),
    "batch": Telling(
        sentences=batch_sentences,
        figures=(side_by_side,),
        asks="How do the designs of these configs compare?",
        place="reasons",
    ),
    "budget": Telling(
        sentences=budget_sentences,
        figures=(spending, bills),
        is_empty=_no_front,
        asks="Which design is best for each amount of money, and what does the next step buy?",
        place="cost",
    ),
    "compare": Telling(
        sentences=compare_sentences,
        figures=(differences, day_against_day, outcomes),
        asks="Which of these designs wins, when, and by how much for certain?",
        place="reasons",
    ),
    "season": Telling(
        sentences=season_sentences,
        figures=(best, own, lost, days),
        is_empty=_none_built,
        asks="Which design is best in each place and month, and which one should be built for all of them?",
        place="change",
    ),
    "aiming": Telling(
        sentences=aiming_sentences,
        figures=(following, intervals, rings),
        asks="How does the oven follow the sun, and what does that cost?",
        place="doubt",
    ),
    "built": Telling(
        sentences=built_sentences,
        figures=(promise,),
        asks="What did the design promise, what was built, and what would the improved one do?",
        place="cooks",
    ),
    "fit": Telling(
        sentences=fit_sentences,
        figures=(cooks_beside, pairs, residuals),
        asks="How does the built oven differ from its description, how surely, and what cannot be told apart?",
        place="cooks",
    ),
    "tolerance": Telling(
        sentences=tolerance_sentences,
        figures=(tolerance_bars, curves, everything_off),
        asks="How far may each cut, bend, aim and material be off, and what must be measured with care?",
        place="doubt",
    ),
}


def telling_of(result: xr.Dataset) -> Telling:
    """How this result is told."""
    return TELLINGS[str(result.attrs["study"])]


LEADING = 4  # sentences, the most important ones, that stand for a study in an argument
OVER = "OVER A LIMIT"  # how a sentence on a safety limit that is exceeded begins, whatever the study
WARNINGS = (OVER, "Eyes and skin:")  # so begin sentences that belong to the cautions, wherever they stand


def said_of(result: xr.Dataset) -> list[Said]:
    """Sentences of a result with their names and their sections of an argument.

    Of kinds that place none themselves the first ones go where the kind belongs, and warnings to the cautions.
    """
    telling = telling_of(result)
    if telling.said is not None:
        return telling.said(result)
    found = []
    for number, text in enumerate(telling.sentences(result), start=1):
        leading = telling.place if number <= LEADING else DETAIL
        section = "cautions" if text.startswith(WARNINGS) else leading
        found.append(Said(f"said.{number}", text, section))
    return found
