"""What is ordered to size instead of being cut from a stock sheet: glass, and pieces that no stock sheet holds."""

import math
from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from ...model import Blank, Catalogue
from ..asking.quantity import System
from .cut_list import GROUPS, mass_of, sides_of
from .dxf import write_dxf
from .measures import cell, length_words, number, unit
from .nesting import Placed
from .page import ABOUT, EDGE, PAPERS, STYLE, draw, paper_of
from .strokes import CUT, Stroke, Words, bars, strokes_of_piece

# In the names and meanings of covers and mirrors; what is sawn or sheared has none of them.
GLASS = ("glass", "silvered-plate", "household mirror")
LETTER = 3.6  # mm
# A pane may be a little smaller than drawn, never larger, for the frame has to hold it: common practice, no source.
TOLERANCE = 0.002  # m
SAFETY = (
    "Glass edges cut: gloves that glass does not cut, and eye protection.",
    "A large pane takes two people; carry and store it upright.",
    "Never lay hot glass on metal or splash it. Local codes on safety glazing have the last word.",
)


def is_glass(blank: Blank, catalogue: Catalogue) -> bool:
    """Whether a piece is glass, by the name and the meaning of its material."""
    if blank.part not in ("cover", "mirror"):
        return False
    said = f"{blank.material} {catalogue.meaning(GROUPS[blank.part], blank.material)}"
    return any(word in said for word in GLASS)


def order_list(pieces: Sequence[Blank], *, catalogue: Catalogue, system: System = "metric") -> pd.DataFrame:
    """A row a piece to order: how many, how thick, how large, how heavy, what is done to its edges, and when."""
    length, mass = unit("length", system), unit("mass", system)
    rows = []
    for blank in pieces:
        weight, glass = mass_of(blank, catalogue), is_glass(blank, catalogue)
        width, height = blank.size
        rows.append(
            {
                "piece": blank.name,
                "count": blank.count,
                "material": blank.material,
                f"thickness [{length}]": number(blank.thickness, "length", system),
                f"width [{length}]": number(width, "length", system),
                f"height [{length}]": number(height, "length", system),
                f"longest side [{length}]": number(max(sides_of(blank)), "length", system),
                f"mass of one [{mass}]": number(weight / blank.count, "mass", system),
                f"mass of all [{mass}]": number(weight, "mass", system),
                "edges": edges_of(blank, glass=glass),
                "before delivery": tempering_of(blank) if glass else "",
            }
        )
    return pd.DataFrame(rows)


def edges_of(blank: Blank, *, glass: bool) -> str:
    """What is to be done to the edges."""
    if not glass:
        return "as cut, burrs off"
    bevelled = max((abs(bevel) for bevel in blank.bevels), default=0.0) > math.radians(0.05)
    bevel = "; square: the bevels of the drawing are left out and filled with sealant" if bevelled else ""
    return f"all {len(blank.outline)} edges arrissed all round, corners dubbed{bevel}"


def tempering_of(blank: Blank) -> str:
    """What is to be done to glass once it has its shape."""
    if "tempered" in blank.material:
        return "cut, edged, and only then tempered: it cannot be cut afterwards"
    return "not tempered: it breaks into blades; ask whether it may be used over food and heads"


def unfoldable(blanks: Sequence[Blank], catalogue: Catalogue) -> list[str]:
    """A sentence for glass that was asked to be folded."""
    names = [blank.material for blank in blanks if is_glass(blank, catalogue) and blank.folds]
    return (
        [f'{names[0]} cannot be folded: set joint = "butt" in [workshop], or take mirror sheet.']
        if names
        else []
    )


def write_orders(
    pieces: Sequence[Blank],
    folder: Path,
    *,
    catalogue: Catalogue,
    paper: str = "A4",
    system: System = "metric",
) -> None:
    """`order-sheet.pdf`, a page a piece with its measures; its outline at full size as DXF; the list as CSV."""
    listed = order_list(pieces, catalogue=catalogue, system=system)
    listed.to_csv(folder / "order-sheet.csv", index=False, float_format="%.5g")
    with mpl.rc_context(STYLE), PdfPages(folder / "order-sheet.pdf", metadata=ABOUT) as pages:
        for blank, (_, row) in zip(pieces, listed.iterrows(), strict=True):
            pages.savefig(_page(blank, row, paper, system))
    for number_, blank in enumerate(pieces, start=1):
        write_dxf(
            strokes_of_piece(Placed(blank, 1, (0.0, 0.0), 0)), folder / f"{order_name(number_, blank)}.dxf"
        )


def order_name(number_: int, blank: Blank) -> str:
    """How the drawing of a piece to order is called."""
    return f"order-{number_:02d}-{blank.name.replace(', ', '-').replace(' ', '-')}"


def _page(blank: Blank, row: pd.Series, paper: str, system: System) -> Figure:
    """A drawing to fit with its sides named, and the order in words below."""
    width, height = PAPERS[paper]
    figure, axes = paper_of(width, height, (0, 0))
    top, left = height - EDGE - 8, EDGE + 5
    draw([Words(f"Order to size: {blank.name}, {blank.material}", (left, top), 1.5 * LETTER)], axes)
    draw([Words("Drawn smaller than it is: the numbers count.", (left, top - 8), LETTER)], axes)
    box = (width - 2 * EDGE - 50, 110.0)
    scale = min(side / (1e3 * size) for side, size in zip(box, blank.size, strict=True))
    corner = blank.outline.min(axis=0)
    at = np.array([width / 2 - scale * 500 * blank.size[0], top - 20 - box[1]])
    outline = at + 1e3 * scale * (blank.outline - corner)
    draw([Stroke(CUT, outline, closed=True)], axes)
    draw([Stroke(CUT, at + 1e3 * scale * (hole - corner), closed=True) for hole in blank.holes], axes)
    if not blank.across:
        draw(_named_sides(blank, outline, system), axes)
    lines = [*_words(blank, row, system), "", *(SAFETY if row["before delivery"] else ())]
    begin = float(at[1]) - 22
    draw([Words(text, (left, begin - 6.2 * k), LETTER) for k, text in enumerate(lines)], axes)
    draw(list(bars((left, EDGE + 14), LETTER)), axes)
    return figure


def _named_sides(blank: Blank, outline: np.ndarray, system: System) -> list[Stroke | Words]:
    """Each different length once, beside the first side that has it."""
    named: list[Stroke | Words] = []
    seen: set[str] = set()
    middle = outline.mean(axis=0)
    for side, begin, end in zip(sides_of(blank), outline, np.roll(outline, -1, axis=0), strict=True):
        text = length_words(side, system)
        if text not in seen:
            seen.add(text)
            half = (begin + end) / 2
            out = (half - middle) / max(float(np.linalg.norm(half - middle)), 1e-9)
            x, y = half + 5 * out
            aside = 0.6 * LETTER * len(text) * (1 - out[0]) / 2
            named.append(Words(text, (float(x) - aside, float(y) - LETTER / 2), LETTER))
    return named


def _words(blank: Blank, row: pd.Series, system: System) -> list[str]:
    """The order, a line each."""
    length, mass = unit("length", system), unit("mass", system)

    def of(name: str, unit_: str) -> str:
        return f"{cell(float(row[f'{name} [{unit_}]']), unit_)} {unit_}"

    sides = "round" if blank.across else f"{len(blank.outline)} sides"
    allowed = length_words(TOLERANCE, system)
    lines = [
        f"Pieces: {blank.count}.  Thickness: {of('thickness', length)}.  {sides.capitalize()}.",
        f"Over all: {of('width', length)} wide, {of('height', length)} high; up to {allowed} smaller, never larger.",
        f"Mass: {of('mass of one', mass)} a piece, {of('mass of all', mass)} together.",
        f"Edges: {row['edges']}.",
    ]
    return lines + ([f"Glass: {row['before delivery']}."] if row["before delivery"] else [])
