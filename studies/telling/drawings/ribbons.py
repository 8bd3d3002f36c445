"""Flows as ribbons: each as wide as what flows, from left to right, with every amount printed.

Stations stand in columns; what passes a column without stopping there keeps a lane of its own, so that no ribbon
crosses behind a station.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path

from .drawing import BLACK, GREY

GAP = 0.06  # between stations of a column, of all that flows: room for a line of text
_RIGHT = 1.25  # columns of room for the names of what leaves
_PAPER = {"facecolor": "white", "alpha": 0.7, "linewidth": 0, "pad": 0.6}  # under text that crosses ribbons
_LEGIBLE = 0.02  # of the largest station: thinner ribbons hold no text
_BAR = 0.05  # width of a station, of the distance between columns


@dataclass(frozen=True)
class Ribbon:
    """So much that goes from one station to another; never less than nothing."""

    source: str
    target: str
    amount: float


@dataclass
class _Stop:
    """A station, or the lane of a ribbon that passes its column."""

    name: str
    column: int
    rank: float
    passes: bool = False
    low: float = 0.0
    into: float = 0.0
    out: float = 0.0
    taken: dict[str, float] = field(default_factory=lambda: {"into": 0.0, "out": 0.0})

    @property
    def height(self) -> float:
        return max(self.into, self.out)

    def place(self, side: str, amount: float) -> tuple[float, float]:
        """The next free part of one of its edges, from the top down."""
        top = self.low + self.height - self.taken[side]
        self.taken[side] += amount
        return top - amount, top


def draw_ribbons(
    axes: Axes,
    ribbons: Iterable[Ribbon],
    *,
    order: Sequence[str],
    colours: dict[str, str],
    text: Callable[[float], str],
) -> None:
    """Draw flows; the vertical axis counts in their unit.

    Parameters
    ----------
    ribbons : Ribbon
        Without rings; those of nothing are left out.
    order : sequence of str
        Stations from the top down, whatever their columns.
    colours : dict of str
        Of the ribbons that leave or end at a station; grey where neither end has one.
    text : callable
        An amount as it is printed.
    """
    kept = [ribbon for ribbon in ribbons if ribbon.amount > 0]
    columns = _columns(kept)
    stops, steps = _laid_out(kept, columns, {name: float(k) for k, name in enumerate(order)})
    _stack(stops.values(), max(columns.values()))
    for first, second, ribbon in sorted(steps, key=lambda step: (stops[step[0]].rank, stops[step[1]].rank)):
        colour = colours.get(ribbon.target, colours.get(ribbon.source, GREY))
        _ribbon(axes, stops[first], stops[second], ribbon, colour)
    for stop in stops.values():
        if not stop.passes:
            below = [
                other for other in stops.values() if other.column == stop.column and other.low < stop.low
            ]
            _station(axes, stop, text, last=max(columns.values()), lowest=not below)
    _between(axes, kept, stops, text)
    axes.set_xlim(-0.6, max(columns.values()) + _RIGHT)
    tops = [stop.low + stop.height for stop in stops.values()]
    room = GAP * sum(r.amount for r in kept if columns[r.source] == 0) or 1.0
    axes.set_ylim(min(stop.low for stop in stops.values()) - 0.3 * room, max(tops) + room)
    axes.axis("off")


def _columns(ribbons: list[Ribbon]) -> dict[str, int]:
    """Column of each station: behind all that feed it; what only feeds stands just before what it feeds."""
    column = {name: 0 for ribbon in ribbons for name in (ribbon.source, ribbon.target)}
    for _ in column:
        for ribbon in ribbons:
            column[ribbon.target] = max(column[ribbon.target], column[ribbon.source] + 1)
    last = max(column.values())
    fed, feeds = {r.target for r in ribbons}, {r.source for r in ribbons}
    for name in column:
        if name not in fed:
            column[name] = min(column[r.target] for r in ribbons if r.source == name) - 1
        if name not in feeds:
            column[name] = last
    return column


def _laid_out(
    ribbons: list[Ribbon], column: dict[str, int], rank: dict[str, float]
) -> tuple[dict[str, _Stop], list[tuple[str, str, Ribbon]]]:
    """All stops, and the steps of every ribbon from one to the next."""
    stops = {name: _Stop(name, place, rank[name]) for name, place in column.items()}
    steps = []
    for ribbon in ribbons:
        chain = [ribbon.source]
        for place in range(column[ribbon.source] + 1, column[ribbon.target]):
            name = f"{ribbon.source}>{ribbon.target} at {place}"
            stops[name] = _Stop(name, place, rank[ribbon.target], passes=True)
            chain.append(name)
        chain.append(ribbon.target)
        for first, second in pairwise(chain):
            stops[first].out += ribbon.amount
            stops[second].into += ribbon.amount
            steps.append((first, second, ribbon))
    return stops, steps


def _stack(stops: Iterable[_Stop], last: int) -> None:
    """Put the stops of each column one above the other, in the middle of the height."""
    every = list(stops)
    gap = GAP * max(sum(s.height for s in every if s.column == k) for k in range(last + 1))
    for k in range(last + 1):
        here = sorted((s for s in every if s.column == k), key=lambda s: -s.rank)
        low = -0.5 * (sum(s.height for s in here) + gap * (len(here) - 1))
        for stop in here:
            stop.low = low
            low += stop.height + gap


def _ribbon(axes: Axes, first: _Stop, second: _Stop, ribbon: Ribbon, colour: str) -> None:
    """One step of a ribbon: as high at both ends as what flows."""
    low, high = first.place("out", ribbon.amount)
    end_low, end_high = second.place("into", ribbon.amount)
    x = first.column + (0.0 if first.passes else _BAR)
    end = float(second.column)
    middle = 0.5 * (x + end)
    corners = [(x, low), (middle, low), (middle, end_low), (end, end_low), (end, end_high)]
    corners += [(middle, end_high), (middle, high), (x, high), (x, low)]
    curve = [Path.MOVETO, *[Path.CURVE4] * 3, Path.LINETO, *[Path.CURVE4] * 3, Path.CLOSEPOLY]
    patch = PathPatch(Path(corners, curve), facecolor=colour, alpha=0.55, linewidth=0)
    patch.set_gid(f"{ribbon.source}>{ribbon.target}")
    axes.add_patch(patch)


def _station(axes: Axes, stop: _Stop, text: Callable[[float], str], *, last: int, lowest: bool) -> None:
    """The bar of a station with its name and what goes through it."""
    axes.add_patch(Rectangle((stop.column, stop.low), _BAR, stop.height, facecolor=BLACK, linewidth=0))
    middle, top = stop.low + stop.height / 2, stop.low + stop.height
    line = f"{stop.name}: {text(stop.height)}"
    if stop.column == last:
        axes.text(stop.column + 2 * _BAR, middle, line, va="center", fontsize=7.5)
    elif stop.column == 0:
        axes.text(-_BAR, middle, line.replace(": ", "\n"), va="center", ha="right", fontsize=7.5)
    elif stop.into == 0:
        axes.text(stop.column - _BAR, middle, line, va="center", ha="right", fontsize=7, bbox=_PAPER)
    elif stop.column < last - 1:
        axes.text(stop.column, top, line, va="bottom", fontsize=7, bbox=_PAPER)
    else:  # to the left, where the names of what leaves do not stand; under the lowest, over what enters beside it
        y, side = (stop.low, "top") if lowest else (top, "bottom")
        axes.text(stop.column + _BAR, y, line, va=side, ha="right", fontsize=7, bbox=_PAPER)


def _between(
    axes: Axes, ribbons: list[Ribbon], stops: dict[str, _Stop], text: Callable[[float], str]
) -> None:
    """Print what goes from one station to another where neither end alone tells it, on a ribbon that has room."""
    least = _LEGIBLE * max(stop.height for stop in stops.values())
    for ribbon in ribbons:
        source, target = stops[ribbon.source], stops[ribbon.target]
        told = (source.into == 0 and source.out == ribbon.amount) or (
            target.out == 0 and target.into == ribbon.amount
        )
        if told or ribbon.amount < least:
            continue
        x, y = _early_on(axes, ribbon)
        axes.text(x, y, text(ribbon.amount), fontsize=6.5, ha="center", va="center", bbox=_PAPER)


def _early_on(axes: Axes, ribbon: Ribbon) -> tuple[float, float]:
    """A place in the middle of a ribbon, nearer to its source, where its target's name does not stand."""
    patch: Any = next(p for p in axes.patches if p.get_gid() == f"{ribbon.source}>{ribbon.target}")
    corners = patch.get_path().vertices
    t = 0.4
    weights = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
    x, low = weights @ corners[:4]
    _, high = weights @ corners[7:3:-1]
    return float(x), float(0.5 * (low + high))
