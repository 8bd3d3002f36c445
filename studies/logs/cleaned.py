"""Readings judged: the impossible, spikes, stuck sensors and doubtful units; what is left of them."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ...model import SENSORS
from .joined import Joined
from .possible import likelier_unit, out_of_range, unit_sentence
from .readings import Part
from .spikes import spikes, stuck
from .touched import Finding, Touched

Floats = NDArray[np.float64]

_MOST_LEFT = 0.5  # share of readings; with fewer left, a doubted unit is a fault rather than a remark
_FEW_DOUBLES = 10
_MANY_DOUBLES = 0.2  # share of readings; then the clock is too coarse rather than a row copied


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What is left of a cook's readings.

    Parameters
    ----------
    values : dict of float64[record]   [SI]
        Series with nothing left are left out.
    touched : list of Touched
    findings : list of Finding
    faults : list of str
        Series whose every reading is impossible, most likely since the unit is another one.
    """

    values: dict[str, Floats]
    touched: list[Touched] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def judged(
    whole: Joined, parts: Sequence[Part], units: Mapping[str, str], *, wet: bool, leave_out: Iterable[str]
) -> Judged:
    """The readings that studies may use.

    Parameters
    ----------
    whole : Joined
    parts : sequence of Part
        Of which it was joined.
    units : dict of str
        What each series is said to be written in.
    wet : bool
        Whether what is in the pot boils.
    leave_out : iterable of str
        Checks, of "spikes" and "stuck", whose readings are left out.
    """
    found = Judged(values={name: values.copy() for name, values in whole.values.items()})
    mark = _Marker(whole, parts, found)
    doubts = _doubtful_units(whole, units, wet=wet)
    for name, values in found.values.items():
        impossible, dark = out_of_range(name, values)
        mark.each(name, dark, "zeroed", 0.0)
        mark.each(name, impossible, "impossible", math.nan)
        if name in SENSORS or name == "air":
            mark.each(name, spikes(values), "spike", math.nan if "spikes" in leave_out else None)
    thermometers = {name: values for name, values in found.values.items() if name in SENSORS}
    for name, still in stuck(whole.time, thermometers).items():
        mark.each(name, still, "stuck", math.nan if "stuck" in leave_out else None)
    found.findings.extend(_kept_all_the_same(found.touched, leave_out))
    _settle(found, whole, doubts, units)
    return found


class _Marker:
    """Notes readings with the file and line they came from, and changes them."""

    def __init__(self, whole: Joined, parts: Sequence[Part], found: Judged) -> None:
        self._whole, self._found = whole, found
        self._cells = [
            {name: dict(zip(part.line.tolist(), cells, strict=True)) for name, cells in part.cells.items()}
            for part in parts
        ]
        self._files = [part.file for part in parts]

    def each(self, name: str, which: NDArray[np.bool_], reason: str, became: float | None) -> None:
        """Note these readings; `became` None keeps them."""
        values = self._found.values[name]
        for record in np.flatnonzero(which):
            part, line = self._whole.origin[name][record].tolist()
            self._found.touched.append(
                Touched(
                    series=name,
                    file=self._files[part],
                    row=line,
                    said=self._cells[part][name][line],
                    reason=reason,
                    time=float(self._whole.time[record]),
                    became=float(values[record]) if became is None else became,
                )
            )
        if became is not None:
            values[which] = became


def _doubtful_units(whole: Joined, units: Mapping[str, str], *, wet: bool) -> dict[str, str]:
    """Series that seem to be in another unit, and that unit; the air first, since cold ovens start from it."""
    doubts: dict[str, str] = {}
    air = None
    for name in sorted(whole.written, key=lambda name: name != "air"):
        likelier = likelier_unit(name, whole.written[name], units[name], air=air, wet=wet)
        if likelier is not None:
            doubts[name] = likelier
        elif name == "air":
            air = whole.values[name]
    return doubts


def _settle(found: Judged, whole: Joined, doubts: Mapping[str, str], units: Mapping[str, str]) -> None:
    """Drop series with nothing left, and say what is doubted of the others."""
    for name in list(found.values):
        left, all_of_it = (int(np.isfinite(of[name]).sum()) for of in (found.values, whole.values))
        gone = left == 0
        usual = _usual(whole.written[name])
        if name in doubts:
            sentence = unit_sentence(name, units[name], doubts[name], usual)
            if left < _MOST_LEFT * all_of_it:
                found.faults.append(
                    f'{name}.unit = "{units[name]}": hardly a reading is possible: {sentence}'
                )
            else:
                found.findings.append(Finding("unit", f"{sentence} Nothing was changed."))
        if gone:
            del found.values[name]
            found.findings.append(Finding("nothing left", f"{name}: not one reading is left of its column."))


def _usual(written: Floats) -> float:
    read = written[np.isfinite(written)]
    return float(np.median(read)) if read.size else math.nan


def _kept_all_the_same(touched: Sequence[Touched], leave_out: Iterable[str]) -> Iterator[Finding]:
    """What to do about readings that are doubted and were kept."""
    for reason, check in (("stuck", "stuck"), ("spike", "spikes")):
        names = list(dict.fromkeys(entry.series for entry in touched if entry.reason == reason))
        if names and check not in leave_out:
            count = sum(entry.reason == reason for entry in touched)
            yield Finding(
                reason,
                f"{', '.join(names)}: {count} readings look {'stuck' if reason == 'stuck' else 'like spikes'} and were "
                f'kept; write leave_out = ["{check}"] if you agree.',
            )


def doubles_finding(touched: Sequence[Touched], readings: int) -> Iterator[Finding]:
    """Of clocks too coarse for the logger's step."""
    doubles = sum(entry.reason == "duplicate" for entry in touched)
    if doubles > max(_FEW_DOUBLES, _MANY_DOUBLES * (readings + doubles)):
        yield Finding(
            "coarse clock",
            f"{doubles} readings tell the same time as one before them and were left out: the clock is coarser than "
            "the logger's step; let it write seconds.",
        )
