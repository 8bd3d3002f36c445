"""Drawings as DXF: millimetres whatever the builder's units, a layer for each kind of line."""

from collections.abc import Iterable
from pathlib import Path

from ezdxf import units
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout

from .strokes import BAR, CUT, FAR_FACE, FOLD, MARK, STOCK, WORDS, Stroke, Words

# Layer -> AutoCAD colour index and line type. Nothing is said by colour alone: each layer has its name.
LAYERS = {
    CUT: (7, "CONTINUOUS"),
    FAR_FACE: (5, "DASHED"),
    FOLD: (3, "CENTER"),
    MARK: (6, "CONTINUOUS"),
    STOCK: (8, "CONTINUOUS"),
    BAR: (7, "CONTINUOUS"),
    WORDS: (8, "CONTINUOUS"),
}
SAID = "This drawing is in millimetres."


def write_dxf(marks: Iterable[Stroke | Words], path: Path) -> None:
    """Write strokes and words; equal ones give equal drawings."""
    drawing = new("R2010", setup=["linetypes"])
    drawing.units = units.MM
    for name, (colour, line) in LAYERS.items():
        drawing.layers.add(name, color=colour, linetype=line)
    space = drawing.modelspace()
    lowest = 0.0
    for mark in marks:
        if isinstance(mark, Stroke):
            space.add_lwpolyline(mark.points.tolist(), close=mark.closed, dxfattribs={"layer": mark.layer})
            lowest = min(lowest, float(mark.points[:, 1].min()))
        else:
            _add_words(space, mark)
            lowest = min(lowest, mark.at[1])
    _add_words(space, Words(SAID, (0.0, lowest - 10.0), 5.0))
    drawing.saveas(path)


def _add_words(space: BaseLayout, words: Words) -> None:
    space.add_text(words.text, height=words.height, dxfattribs={"layer": WORDS}).set_placement(words.at)
