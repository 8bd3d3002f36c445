"""The test report of a cooker on one A4 page: what was tested, its figure, what stands against it."""

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from ..asking.quantity import show
from .drawing import STYLE
from .phrases import listed
from .standard_figures import plot_line
from .standard_words import DAYS_DIFFER, beside_si, difference, noted, rejections, remembered, standing, watts

WIDTH, HEIGHT = 210.0, 297.0  # mm; A4, ISO 216
_EDGE, _GAP = 14.0, 6.0  # mm
_POINT = 25.4 / 72  # mm
_SLACK = 0.97  # of a width: printers and screens round the widths of letters
_LINE = 1.32  # of the height of the letters
_FOOT = 21.0  # mm, for signatures and cautions
_LEAST_BELOW = 60.0  # mm that the columns leave for deviations, cooks and rules
_MOST_LINES = 6  # of a paragraph on the page
_MORE = " ... (all in summary.md)"
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


@dataclass
class _Flow:
    """Text set down a column of the page; `at` is the height that is still free. All in mm.

    Below `floor` nothing is set: what comes last and finds no room is left out.
    """

    axes: Axes
    left: float
    width: float
    at: float
    floor: float

    def _room(self, size: float) -> int:
        """Lines of so high letters that still fit."""
        return max(int((self.at - self.floor) / (_LINE * size)), 0)

    def heading(self, text: str) -> None:
        if self._room(3.3) < 4:  # with a line or two of what it heads
            self.at = self.floor
            return
        self.at -= 1.6
        self._line(text, 3.3, weight="bold")
        self.at -= 0.6

    def paragraph(
        self,
        text: str,
        size: float = 2.6,
        *,
        most: int = _MOST_LINES,
        weight: str = "normal",
        color: str = "black",
    ) -> None:
        most = min(most, self._room(size))
        for line in _fitted(text, self.width, size, most, weight) if most else ():
            self._line(line, size, weight=weight, color=color)
        self.at -= 0.8

    def row(self, cells: Sequence[str], widths: Sequence[float], size: float = 2.4, **look: Any) -> None:
        """Cells side by side, each cut to its width."""
        if not self._room(size):
            return
        top = self.at
        beside = _Flow(self.axes, self.left, 0.0, top, self.floor)
        for cell, width in zip(cells, widths, strict=True):
            beside.at = top
            beside._line(_cut(cell, width - 1.5, size), size, **look)
            beside.left += width
        self.at = beside.at - 0.4

    def pair(self, name: str, text: str, size: float = 2.6) -> None:
        """What, and beside it how much."""
        if not self._room(size):
            return
        first, top = 24.0, self.at
        self._line(name, size, color="#555555")
        self.at = top
        beside = _Flow(self.axes, self.left + first, self.width - first, top, self.floor)
        beside.paragraph(text, size)
        self.at = beside.at

    def _line(self, text: str, size: float, **look: Any) -> None:
        self.at -= _LINE * size
        self.axes.text(self.left, self.at, text, fontsize=size / _POINT, **look)


def _fitted(text: str, width: float, size: float, most: int, weight: str) -> list[str]:
    """Lines of a paragraph; one that is too long ends where more is to be read."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if _wide(longer, size, weight) <= _SLACK * width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while _wide(last + _MORE, size, weight) > _SLACK * width and " " in last:
        last = last.rsplit(" ", 1)[0]
    return [*lines[: most - 1], last + _MORE]


def _cut(text: str, width: float, size: float) -> str:
    """As much of a text as there is room for."""
    if _wide(text, size, "normal") <= width:
        return text
    while text and _wide(text + "..", size, "normal") > width:
        text = text[:-1]
    return text + ".."


@cache
def _wide(text: str, size: float, weight: str) -> float:
    """Width of a line of so high letters. [mm]"""
    face = FontProperties(size=size / _POINT, weight=weight)
    return float(text_to_path.get_text_width_height_descent(text, face, ismath=False)[0]) * _POINT


def sheet_of_test(result: xr.Dataset) -> Figure:
    """The test report of a study of the kind `standard`, to print on one A4 page."""
    with mpl.rc_context(_PDF):
        figure = Figure(figsize=(WIDTH / 25.4, HEIGHT / 25.4))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set(xlim=(0, WIDTH), ylim=(0, HEIGHT))
        axes.set_axis_off()
        whole = _Flow(axes, _EDGE, WIDTH - 2 * _EDGE, HEIGHT - _EDGE, _EDGE + _FOOT)
        _head(whole, result)
        half = (WIDTH - 2 * _EDGE - _GAP) / 2
        middle = _EDGE + _FOOT + _LEAST_BELOW
        left = _Flow(axes, _EDGE, half, whole.at, middle)
        right = _Flow(axes, _EDGE + half + _GAP, half, whole.at, middle)
        _facts(left, result)
        _draw_line(figure, right, result)
        _rejected(right, result)
        whole.at = min(left.at, right.at)
        _deviations(whole, result)
        _cooks(whole, result)
        _rules(whole, result)
        _foot(axes, result)
    return figure


def _head(flow: _Flow, result: xr.Dataset) -> None:
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


def _facts(flow: _Flow, result: xr.Dataset) -> None:
    flow.heading("What was tested, where and how")
    for name, text in (*_place(result), *_oven(result), *_load(result), *_aiming(result), *_weather(result)):
        flow.pair(name, text)


def _place(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    attrs = result.attrs
    latitude, longitude = math.degrees(attrs["latitude"]), math.degrees(attrs["longitude"])
    yield (
        "place",
        f"{attrs['place']}: {abs(latitude):.2f} deg {'N' if latitude >= 0 else 'S'}, {abs(longitude):.2f} deg "
        f"{'E' if longitude >= 0 else 'W'}, {attrs['altitude']:.0f} m above the sea",
    )
    yield "dates", listed(sorted(set(_used(result)["date"].to_numpy().tolist()))) or "no cook was used"


def _used(result: xr.Dataset) -> xr.Dataset:
    """The cooks that serve for a figure."""
    return result.isel(cook=np.flatnonzero(result["status"].to_numpy() == 0))


def _oven(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    design = json.loads(str(result.attrs["design"]))

    def length(name: str) -> str:
        return show(float(design[name]), "length", beside_si(result), digits=3)

    yield (
        "oven",
        f"{design['archetype']}, {design['facets']} facets of {design['mirror']} at "
        f"{show(float(design['facet_angle']), 'angle', digits=3)}, mouth {length('mouth')}, depth {length('depth')}; "
        f"{design['panes']} x {design['cover']}; {length('insulation_thickness')} {design['insulation']}; pot of "
        f"{design['pot_metal']}, {design['pot_finish']}, {length('pot_diameter')} by {length('pot_height')}",
    )
    given = "as given" if result.attrs["area_given"] else "from its shape and aiming"
    areas = _used(result)["intercept_area"].to_numpy()
    if len(areas):
        yield "intercept area", f"{show(float(areas.mean()), 'area', digits=3)}, {given}, mean of the test"
    instruments = [line for line in str(result.attrs["instruments"]).split("\n") if line]
    yield "instruments", "; ".join(instruments) or "not stated"


def _load(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    loaded = used.isel(cook=np.flatnonzero(used["water_mass"].to_numpy() > 0))
    if not loaded.sizes["cook"]:
        return
    per_area = loaded["water_mass"].to_numpy() / loaded["intercept_area"].to_numpy()
    yield (
        "water",
        f"{_range(loaded['water_mass'].to_numpy(), 'kg', 2)}; {_range(per_area, 'kg/m2', 1)} of intercept area",
    )


def _aiming(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    every = used["setting_every"].to_numpy() / 60
    start, stop = (np.degrees(used[name].to_numpy()) for name in ("sun_from", "sun_to"))
    if len(start):
        yield (
            "sun's azimuth",
            f"{_range(start, 'deg', 0)} at the first readings, {_range(stop, 'deg', 0)} at the last",
        )
    known = np.isfinite(every)
    if known.any():
        count = int(used["settings"].to_numpy()[known].sum())
        yield "aiming", f"azimuth set {count} times, at most {every[known].max():.0f} min apart"
    else:
        yield "aiming", "settings were not logged"


def _weather(result: xr.Dataset) -> Iterator[tuple[str, str]]:
    used = _used(result)
    if not used.sizes["cook"]:
        return
    planes = listed(sorted(set(used["plane"].to_numpy().tolist())))
    measured = (
        "measured" if (used["irradiance_measured"].to_numpy() == 1).all() else "a clear sky's, not measured"
    )
    yield "irradiance", f"{_least_to_most(used, 'irradiance', 'W/m2', 0)}; {measured}; instrument: {planes}"
    air = _least_to_most(used, "air", "degC", 1, offset=-273.15)
    if beside_si(result) == "inch":
        air += f" ({_least_to_most(used, 'air', 'degF', 0, offset=-459.67 / 1.8, scale=1.8)})"
    yield "air", air
    wind = used["wind_mean"].to_numpy()
    known = np.isfinite(wind)
    if known.any():
        yield "wind", f"{_least_to_most(used, 'wind', 'm/s', 1)}, means {_range(wind[known], 'm/s', 1)}"
    if not known.all():
        yield "wind" if not known.any() else "", f"not measured in {(~known).sum()} of {known.size} cooks"


def _least_to_most(
    used: xr.Dataset, name: str, unit: str, digits: int, *, offset: float = 0.0, scale: float = 1.0
) -> str:
    ends = np.array([np.nanmin(used[f"{name}_least"].to_numpy()), np.nanmax(used[f"{name}_most"].to_numpy())])
    return _range(scale * (ends + offset), unit, digits)


def _range(values: Any, unit: str, digits: int) -> str:
    """ "5 to 7 kg", or "5 kg" where that is all."""
    low, high = f"{np.min(values):.{digits}f}", f"{np.max(values):.{digits}f}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _draw_line(figure: Figure, flow: _Flow, result: xr.Dataset) -> None:
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


def _rejected(flow: _Flow, result: xr.Dataset) -> None:
    flow.heading("Intervals of ten minutes")
    total, counted = result.sizes["interval"], int(result["counted"].sum())
    flow.paragraph(f"{counted} of {total} count. Left out, by reason (one may have several):", 2.5)
    for reason, count in rejections(result).most_common():
        flow.pair(f"{count:>3}", reason, 2.6)
    if not rejections(result):
        flow.paragraph("none", 2.6)


def _cooks(flow: _Flow, result: xr.Dataset) -> None:
    """A line for each cook."""
    flow.heading("Cooks")
    flow.row(_COLUMNS, _WIDTHS, weight="bold")
    numbers = range(result.sizes["cook"])
    for number in numbers[:_MOST_COOKS]:
        flow.row(_cook_cells(result, number), _WIDTHS)
    if len(numbers) > _MOST_COOKS:
        flow.paragraph(f"and {len(numbers) - _MOST_COOKS} more, in the result file", 2.3)
    flow.at -= 0.4


_COLUMNS = ("cook", "date", "for", "water", "per m2", "mean sun", "mean wind", "count", "off the line")
_WIDTHS = (30.0, 20.0, 29.0, 17.0, 17.0, 20.0, 19.0, 15.0, 15.0)  # mm
_MOST_COOKS = 8


def _cook_cells(result: xr.Dataset, number: int) -> list[str]:
    one = result.isel(cook=number)
    own = result["interval_cook"].to_numpy() == number
    counts = f"{int(result['counted'].to_numpy()[own].sum())} of {int(own.sum())}" if own.any() else "-"
    mass, offset = float(one["water_mass"]), float(one["day_offset"])
    return [
        str(one["cook"].item()),
        str(one["date"].item()),
        str(one["role"].item()) if int(one["status"]) == 0 else "not used",
        f"{mass:.2f} kg" if mass > 0 else "-",
        f"{mass / float(one['intercept_area']):.1f} kg" if mass > 0 else "-",
        _or_dash(float(one["irradiance_mean"]), ".0f", "W/m2"),
        _or_dash(float(one["wind_mean"]), ".1f", "m/s"),
        counts,
        _or_dash(offset, "+.1f", "W"),
    ]


def _or_dash(value: float, form: str, unit: str) -> str:
    return f"{value:{form}} {unit}" if math.isfinite(value) else "-"


def _deviations(flow: _Flow, result: xr.Dataset) -> None:
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


def _rules(flow: _Flow, result: xr.Dataset) -> None:
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
    flow = _Flow(axes, _EDGE, WIDTH - 2 * _EDGE, _EDGE + _FOOT - 2.0, 0.0)
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
