"""Text set down a printed page, line by line, in millimetres; what finds no room is left out and says so."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

_POINT = 25.4 / 72  # mm
_SLACK = 0.97  # of a width: printers and screens round the widths of letters
_LINE = 1.32  # of the height of the letters
_MOST_LINES = 6  # of a paragraph
_MORE = " ... (all in summary.md)"


@dataclass
class Flow:
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
        beside = Flow(self.axes, self.left, 0.0, top, self.floor)
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
        beside = Flow(self.axes, self.left + first, self.width - first, top, self.floor)
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
