"""A sheet as DXF: millimetres, a layer for each kind of line."""

from pathlib import Path

from ezdxf import units
from ezdxf.filemanagement import new

from .nesting import Sheet
from .strokes import BAR, CUT, FAR_FACE, FOLD, STOCK, WORDS, Stroke, strokes_of

# Layer -> AutoCAD colour index and line type. Nothing is said by colour alone: each layer has its name.
LAYERS = {
    CUT: (7, "CONTINUOUS"),
    FAR_FACE: (5, "DASHED"),
    FOLD: (3, "CENTER"),
    STOCK: (8, "CONTINUOUS"),
    BAR: (7, "CONTINUOUS"),
    WORDS: (8, "CONTINUOUS"),
}


def write_dxf(sheet: Sheet, path: Path) -> None:
    """Write a sheet; equal sheets give equal drawings."""
    drawing = new("R2010", setup=["linetypes"])
    drawing.units = units.MM
    for name, (colour, line) in LAYERS.items():
        drawing.layers.add(name, color=colour, linetype=line)
    space = drawing.modelspace()
    for mark in strokes_of(sheet):
        if isinstance(mark, Stroke):
            space.add_lwpolyline(mark.points.tolist(), close=mark.closed, dxfattribs={"layer": mark.layer})
        else:
            text = space.add_text(mark.text, height=mark.height, dxfattribs={"layer": WORDS})
            text.set_placement(mark.at)
    drawing.saveas(path)
