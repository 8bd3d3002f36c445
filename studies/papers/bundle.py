"""All papers of one design in a folder."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pandas as pd

from ...model import Blank, Workshop, blanks_of
from ..asking.quantity import System
from ..setting import Setting
from .assembly import assembly, tilts
from .cut_list import cut_list, stock_list
from .dxf import write_dxf
from .hanging_page import write_hanging
from .measures import cell, length_words, unit
from .nesting import Sheet, nested
from .order import is_glass, order_name, unfoldable, write_orders
from .page import legend, write_pdf, write_svg
from .strokes import strokes_of

CAUTIONS = (
    "Eyes: keep mirror sheet face down or covered, and work in the shade; one facet in the sun dazzles and burns.",
    "Hands: fresh edges of sheet and glass cut; wear gloves and break every edge. "
    "Tempered glass cannot be cut: order it to size.",
    "Lungs: wear a mask when sawing mineral wool, plywood and old sheet; "
    "know what a board is made of before it gets hot.",
    "Fumes: paint, glue and sealant give off vapours at the first heat; paint in the open air, and heat the finished "
    "oven empty in the open until it no longer smells, before any food goes in.",
    "Wind: a mouth of this size is a sail; weigh the base down, never leave the oven standing loose, and lay it face "
    "down when it blows.",
    "Test first: cut one piece of each kind in card and hold it against its neighbours; "
    "fold a test strip of the sheet.",
)
LAST = "Local codes, makers' data sheets and licensed practice have the last word."


def write_papers(
    setting: Setting,
    folder: Path,
    *,
    workshop: Workshop | None = None,
    paper: str = "A4",
    system: System | None = None,
) -> list[str]:
    """Drawings of every stock sheet (DXF, SVG), templates on paper (PDF), orders, the cut list, a page that explains.

    Parameters
    ----------
    setting : Setting
        With the design to build.
    folder : Path
    workshop : Workshop, optional
    paper : "A4" or "Letter"
    system : "metric" or "inch", optional
        Units of the papers, as the setting has it if not given; drawings as DXF are in millimetres always.

    Returns
    -------
    list of str
        What was laid out, in sentences.
    """
    shop, system = workshop or Workshop(), system or setting.shown_in
    blanks = blanks_of(setting.design, catalogue=setting.catalogue, workshop=shop)
    glass = [blank for blank in blanks if is_glass(blank, setting.catalogue)]
    sheets, left = nested([blank for blank in blanks if blank not in glass], shop)
    ordered = [*glass, *left]
    folder.mkdir(parents=True, exist_ok=True)
    pieces = cut_list(
        blanks, catalogue=setting.catalogue, prices=setting.prices, currency=setting.currency, system=system
    )
    stock, measures, hung = stock_list(sheets, system), assembly(setting, system), tilts(setting, system)
    for name, frame in (("cut-list", pieces), ("stock", stock), ("assembly", measures), ("tilts", hung)):
        frame.to_csv(folder / f"{name}.csv", index=False, float_format="%.5g")
    if ordered:
        write_orders(ordered, folder, catalogue=setting.catalogue, paper=paper, system=system)
    write_hanging(setting, folder / "pot-and-tilt.pdf", paper=paper, system=system)
    said = [*_sentences(stock, glass, left, system), *unfoldable(blanks, setting.catalogue)]
    drawn = [*_sheets(sheets, folder, system), *_orders(ordered), *_templates(blanks, folder, paper)]
    (folder / "cut-list.md").write_text(_page(said, drawn, pieces, measures, hung), "utf-8")
    return said


def _sentences(
    stock: pd.DataFrame, glass: Sequence[Blank], left: Sequence[Blank], system: System
) -> Iterator[str]:
    shown = unit("length", system)
    for _, row in stock.iterrows():
        number = "1 stock sheet" if row["sheets"] == 1 else f"{row['sheets']} stock sheets"
        thick = f"{row[f'thickness [{shown}]']:.3g} {shown}"
        yield f"{row['material']}, {thick}: {number}, {row['waste [%]']:.0f} % of it waste."
    for piece in glass:
        named = f"{piece.count} x {piece.name} ({piece.material}, {_size(piece, system)})"
        yield f"Order to size: {named}; see order-sheet.pdf."
    for piece in left:
        named = f"{piece.name} ({piece.material}, {_size(piece, system)})"
        instead = "order it to size, or join it from smaller pieces"
        yield f"No stock sheet holds {named}: {instead}; see order-sheet.pdf."


def _size(piece: Blank, system: System) -> str:
    return " x ".join(length_words(side, system) for side in piece.size)


def _sheets(sheets: Sequence[Sheet], folder: Path, system: System) -> Iterator[str]:
    for number, sheet in enumerate(sheets, start=1):
        name = f"sheet-{number:02d}-{sheet.material}"
        write_dxf(strokes_of(sheet), folder / f"{name}.dxf")
        write_svg(sheet, folder / f"{name}.svg", system)
        count = len(sheet.placed)
        yield f"[{name}]({name}.svg), also as [DXF]({name}.dxf): {count} {'piece' if count == 1 else 'pieces'}"


def _orders(ordered: Sequence[Blank]) -> Iterator[str]:
    if ordered:
        drawings = [order_name(number, blank) for number, blank in enumerate(ordered, start=1)]
        links = ", ".join(f"[{name}]({name}.dxf)" for name in drawings)
        yield f"[order-sheet](order-sheet.pdf), for whoever supplies what is ordered to size; outlines as DXF: {links}"
    yield "[pot-and-tilt](pot-and-tilt.pdf): where the pot hangs, and its gaps at every tilt"


def _templates(blanks: Sequence[Blank], folder: Path, paper: str) -> Iterator[str]:
    """One of each piece at full size, on paper to be joined."""
    for number, blank in enumerate(blanks, start=1):
        name = f"template-{number:02d}-{blank.name.replace(', ', '-').replace(' ', '-')}"
        pages = write_pdf(blank, folder / f"{name}.pdf", paper)
        yield f"[{name}]({name}.pdf): on {pages} {'page' if pages == 1 else 'pages'} of {paper}"


def _page(
    said: Sequence[str],
    drawn: Sequence[str],
    pieces: pd.DataFrame,
    measures: pd.DataFrame,
    hung: pd.DataFrame,
) -> str:
    skip = [name for name in pieces if name.startswith(("width", "height", "area", "cost"))]
    parts = [
        ("# What to cut", [f"- {sentence}" for sentence in said]),
        ("## Before you cut", [f"- {caution}" for caution in (*CAUTIONS, LAST)]),
        (
            "## Drawings",
            [
                *[f"- {drawing}" for drawing in drawn],
                "",
                "Sheets and templates are at full size: measure the bars of 100 mm and 4 in before you cut. DXF is in "
                "millimetres. Each kind of line has a layer of its own:",
                "",
                *[f"- {line}" for line in legend()],
            ],
        ),
        ("## Pieces", [_table(pieces.drop(columns=skip))]),
        ("## Putting it together", [_table(measures)]),
        ("## Pot and ground at every tilt", [_table(hung)]),
    ]
    return "\n".join("\n".join([title, "", *lines, ""]) for title, lines in parts)


def _table(frame: pd.DataFrame) -> str:
    """A frame as Markdown; a value takes its unit from a column of its own, or from the column's name."""
    names = [str(name) for name in frame.columns]
    units = [name.partition("[")[2].removesuffix("]") for name in names]
    rows = [names, ["---"] * len(names)]
    for row in frame.itertuples(index=False):
        beside = str(row[names.index("unit")]) if "unit" in names else ""
        rows.append([cell(value, unit or beside) for value, unit in zip(row, units, strict=True)])
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)
