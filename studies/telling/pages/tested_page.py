"""The test report of a cooker on one A4 page: what was tested, its figure, what stands against it."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

import matplotlib as mpl
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..drawings.drawing import STYLE
from ..drawings.standard_figures import plot_line
from ..words.phrases import listed
from ..words.standard_words import DAYS_DIFFER, difference, noted, rejections, remembered, standing, watts
from .page_flow import Flow
from .tested_facts import COLUMNS, cook_cells, facts

WIDTH, HEIGHT = 210.0, 297.0  # mm; A4, ISO 216
_EDGE, _GAP = 14.0, 6.0  # mm
_FOOT = 21.0  # mm, for signatures and cautions
_WIDTHS = (30.0, 20.0, 29.0, 17.0, 17.0, 20.0, 19.0, 15.0, 15.0)  # mm, of the columns of cooks
_MOST_COOKS = 8
_LEAST_BELOW = 60.0  # mm that the columns leave for deviations, cooks and rules
_PDF: Any = {**STYLE, "pdf.fonttype": 42, "figure.constrained_layout.use": False}

_VERDICTS = {
    "by the standard": "Nothing that the standard asks and a log can show is missing.",
    "with deviations": "With deviations from the standard, listed below.",
    "an estimate": "ESTIMATE, not to be published as the standard's figure.",
}
_CAUTIONS = (
    "Pot, steam, glass and sheet burn: gloves. Never look into the mirrors. A figure of heated water says nothing of "
    "the safety of food: check its coldest place with a thermometer."
)


def sheet_of_test(result: xr.Dataset) -> Figure:
    """The test report of a study of the kind `standard`, to print on one A4 page."""
    with mpl.rc_context(_PDF):
        figure = Figure(figsize=(WIDTH / 25.4, HEIGHT / 25.4))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, WIDTH), ylim=(0, HEIGHT))
        axes.set_axis_off()
        whole = Flow(axes, _EDGE, WIDTH - 2 * _EDGE, HEIGHT - _EDGE, _EDGE + _FOOT)
        _head(whole, result)
        half = (WIDTH - 2 * _EDGE - _GAP) / 2
        middle = _EDGE + _FOOT + _LEAST_BELOW
        left = Flow(axes, _EDGE, half, whole.at, middle)
        right = Flow(axes, _EDGE + half + _GAP, half, whole.at, middle)
        _facts(left, result)
        _draw_line(figure, right, result)
        _rejected(right, result)
        whole.at = min(left.at, right.at)
        _deviations(whole, result)
        _cooks(whole, result)
        _rules(whole, result)
        _foot(axes, result)
    return figure


def _head(flow: Flow, result: xr.Dataset) -> None:
    title = str(result.attrs["report_title"]) or str(result.attrs.get("title", "")) or "Solar oven"
    flow.paragraph(f"Cooker test report: {title}", 4.6, most=2, weight="bold")
    flow.paragraph(
        _VERDICTS[standing(result)], 3.0, color="#B03A00" if standing(result) == "an estimate" else "black"
    )
    power = float(result["power_at_50"])
    if math.isfinite(power):
        low, high = (watts(float(result[f"power_{end}"])) for end in ("low", "high"))
        above = difference(result, float(result["reported_at"]))
        flow.paragraph(
            f"{watts(power)} standardised cooking power, water {above} above the air", 4.2, weight="bold"
        )
        flow.paragraph(
            f"{100 * float(result['confidence']):.0f} % interval {low} to {high}; R2 = {float(result['r_squared']):.3f}"
            f"; ASAE/ASABE S580, edition of {result.attrs['edition']}",
            3.0,
        )
    if float(result["day_chance"]) < DAYS_DIFFER:
        low, high = (watts(float(result[f"days_{end}"])) for end in ("low", "high"))
        flow.paragraph(f"The days differ; with each day counted once the interval is {low} to {high}.", 3.0)
    for line in _merits(result):
        flow.paragraph(line, 3.0)
    flow.at -= 1.0


def _merits(result: xr.Dataset) -> Iterator[str]:
    first, second = (float(result[f"{which}_figure_mean"]) for which in ("first", "second"))
    if math.isfinite(first):
        yield f"First figure of merit F1 = {first:.3f} K m2/W (IS 13429, mirror covered)"
    if math.isfinite(second):
        yield f"Second figure of merit F2 = {second:.3f} (IS 13429, mirror covered)"


def _facts(flow: Flow, result: xr.Dataset) -> None:
    flow.heading("What was tested, where and how")
    for name, text in facts(result):
        flow.pair(name, text)


def _draw_line(figure: Figure, flow: Flow, result: xr.Dataset) -> None:
    """The line with its points, in the column."""
    if not result.sizes["interval"]:
        return
    tall = 72.0
    bottom = flow.at - tall
    room = (flow.left + 11, bottom + 11, flow.width - 12, tall - 19)
    axes = figure.add_axes((room[0] / WIDTH, room[1] / HEIGHT, room[2] / WIDTH, room[3] / HEIGHT))
    plot_line(axes, result)
    axes.tick_params(labelsize=6.5)
    axes.xaxis.label.set_fontsize(7)
    axes.yaxis.label.set_fontsize(7)
    handles, labels = axes.get_legend_handles_labels()
    if len(handles) <= 7:
        axes.legend(handles, labels, fontsize=6, loc="upper right")
    flow.at = bottom


def _rejected(flow: Flow, result: xr.Dataset) -> None:
    flow.heading("Intervals of ten minutes")
    total, counted = result.sizes["interval"], int(result["counted"].sum())
    flow.paragraph(f"{counted} of {total} count. Left out, by reason (one may have several):", 2.5)
    for reason, count in rejections(result).most_common():
        flow.pair(f"{count:>3}", reason, 2.6)
    if not rejections(result):
        flow.paragraph("none", 2.6)


def _cooks(flow: Flow, result: xr.Dataset) -> None:
    """A line for each cook."""
    flow.heading("Cooks")
    flow.row(COLUMNS, _WIDTHS, weight="bold")
    numbers = range(result.sizes["cook"])
    for number in numbers[:_MOST_COOKS]:
        flow.row(cook_cells(result, number), _WIDTHS)
    if len(numbers) > _MOST_COOKS:
        flow.paragraph(f"and {len(numbers) - _MOST_COOKS} more, in the result file", 2.3)
    flow.at -= 0.4


def _deviations(flow: Flow, result: xr.Dataset) -> None:
    """Everything that stands against the figure."""
    refused = noted(result, "refused").get("cooking power")
    against = [
        *noted(result, "estimates"),
        *(fault for faults in noted(result, "faults").values() for fault in faults),
        *([f"no cooking power: {refused}"] if refused else []),
        *(f"not used: {why}" for why in result["why_not"].to_numpy().tolist() if why),
    ]
    flow.heading("Deviations")
    flow.paragraph("; ".join(against) + "." if against else "none found in the logs", 2.6)


def _rules(flow: Flow, result: xr.Dataset) -> None:
    """Where the rules of the test come from."""
    flow.heading("Where the rules come from")
    flow.paragraph(_from_memory(remembered(result)), 2.4)
    flow.paragraph(f"Read: {'; '.join(noted(result, 'clauses_read'))}.", 2.4)
    flow.paragraph(
        "The slope of the line is that of the loss times 700 W/m2 over the irradiance, not the loss itself; this "
        "figure cannot be converted to F1 and F2, which cover the mirror.",
        2.4,
    )


def _from_memory(clauses: Sequence[tuple[str, str]]) -> str:
    if not clauses:
        return "Nothing here rests on a clause from memory."
    sources = listed(sorted({source for _, source in clauses}))
    rules = "; ".join(says for says, _ in clauses)
    return f"From memory, to be looked up before publishing: {rules} (after {sources})."


def _foot(axes: Axes, result: xr.Dataset) -> None:
    flow = Flow(axes, _EDGE, WIDTH - 2 * _EDGE, _EDGE + _FOOT - 2.0, 0.0)
    flow.paragraph(
        "Tested by: ______________________   Date: ______________   Checked by: ______________________", 2.8
    )
    flow.at -= 1.5
    flow.paragraph(_CAUTIONS, 2.4)
    attrs = result.attrs
    made = (
        f"Made {attrs['created']} by model {attrs['model_hash']}"
        if "created" in attrs
        else "Made from Python"
    )
    flow.paragraph(f"{made}; config {str(attrs.get('config_hash', 'none'))[:16]}. Print at 100 % on A4.", 2.0)
