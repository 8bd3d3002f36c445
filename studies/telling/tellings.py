"""How each kind of result is told: its sentences, its figures, and whether it holds anything."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import xarray as xr
from matplotlib.figure import Figure

from .aiming_figures import following, intervals, rings
from .aiming_words import aiming_sentences
from .batch_figures import side_by_side
from .batch_words import batch_sentences
from .budget_figures import bills, spending
from .budget_words import budget_sentences
from .built_figures import promise
from .built_words import built_sentences
from .compare_figures import day_against_day, differences, outcomes
from .compare_words import compare_sentences
from .cook_figures import course, gaps, touched
from .cook_words import cook_sentences
from .day_figures import day_curve, days_done, evening_curve
from .day_words import day_sentences
from .drawing import Drawn
from .flow_figures import heat_flows, light_flows
from .fit_figures import cooks_beside, pairs, residuals
from .fit_words import fit_sentences
from .page_data import explorer
from .screening_figures import effects
from .screening_words import screening_sentences
from .search_figures import agreement, choices, front
from .search_words import search_sentences
from .season_figures import best, days, lost, own
from .season_words import season_sentences
from .section_figures import measures, rays
from .sensitivity_figures import convergence, indices, overview, ranks, sides
from .sensitivity_words import interpretation
from .slice_figures import slices
from .standard_figures import power_line, which_count
from .standard_words import nothing_found, standard_sentences
from .tested_page import sheet_of_test
from .tolerance_cost_figures import curves, everything_off
from .tolerance_figures import tolerance_bars
from .tolerance_words import tolerance_sentences


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


# By the attribute `study` of a result.
TELLINGS = {
    "standard": Telling(
        sentences=standard_sentences,
        figures=(power_line, which_count),
        is_empty=nothing_found,
        sheet=sheet_of_test,
    ),
    "cook": Telling(sentences=cook_sentences, figures=(course, gaps, touched)),
    "search": Telling(
        sentences=search_sentences,
        figures=(front, choices, agreement, slices),
        is_empty=_none_chosen,
        explorer=explorer,
    ),
    "sobol": Telling(sentences=interpretation, figures=(indices, overview, sides, ranks, convergence)),
    "morris": Telling(sentences=screening_sentences, figures=(effects,)),
    "day": Telling(
        sentences=day_sentences,
        figures=(day_curve, light_flows, heat_flows, measures, rays, evening_curve, days_done),
    ),
    "batch": Telling(sentences=batch_sentences, figures=(side_by_side,)),
    "budget": Telling(sentences=budget_sentences, figures=(spending, bills), is_empty=_no_front),
    "compare": Telling(sentences=compare_sentences, figures=(differences, day_against_day, outcomes)),
    "season": Telling(sentences=season_sentences, figures=(best, own, lost, days), is_empty=_none_built),
    "aiming": Telling(sentences=aiming_sentences, figures=(following, intervals, rings)),
    "built": Telling(sentences=built_sentences, figures=(promise,)),
    "fit": Telling(sentences=fit_sentences, figures=(cooks_beside, pairs, residuals)),
    "tolerance": Telling(sentences=tolerance_sentences, figures=(tolerance_bars, curves, everything_off)),
}


def telling_of(result: xr.Dataset) -> Telling:
    """How this result is told."""
    return TELLINGS[str(result.attrs["study"])]
