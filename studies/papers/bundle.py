"""All papers of one design in a folder."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pandas as pd

from ...model import Blank, Workshop, blanks_of
from ..setting import Setting
from .assembly import assembly
from .cut_list import cut_list, stock_list
from .dxf import write_dxf
from .nesting import Sheet, nested
from .page import legend, write_pdf, write_svg

CAUTIONS = (
    "Eyes: keep mirror sheet face down or covered, and work in the shade; one facet in the sun dazzles and burns.",
    "Hands: fresh edges of sheet and glass cut; wear gloves and break every edge. "
    "Tempered glass cannot be cut: order it to size.",
    "Lungs: wear a mask when sawing mineral wool, plywood and old sheet; "
    "know what a board is made of before it gets hot.",
    "Test first: cut one piece of each kind in card and hold it against its neighbours; "
    "fold a test strip of the sheet.",
)
SHOWN = ["piece", "count", "material", "thickness [mm]", "sides [mm]", "bevels [deg]", "folds [deg]", "mind"]


def write_papers(
    setting: Setting, folder: Path, *, workshop: Workshop | None = None, paper: str = "A4"
) -> list[str]:
    """Drawings of every stock sheet (DXF, SVG), templates on paper (PDF), the cut list, and a page that explains them.

    Returns
    -------
    list of str
        What was laid out, in sentences; pieces that fit no stock sheet are named.
    """
    shop = workshop or Workshop()
    blanks = blanks_of(setting.design, catalogue=setting.catalogue, workshop=shop)
    sheets, left = nested(blanks, shop)
    folder.mkdir(parents=True, exist_ok=True)
    pieces = cut_list(blanks, catalogue=setting.catalogue, prices=setting.prices, currency=setting.currency)
    stock = stock_list(sheets)
    pieces.to_csv(folder / "cut-list.csv", index=False, float_format="%.5g")
    stock.to_csv(folder / "stock.csv", index=False, float_format="%.5g")
    measures = assembly(setting)
    measures.to_csv(folder / "assembly.csv", index=False, float_format="%.5g")
    said = [*_sentences(stock, left)]
    drawn = [*_sheets(sheets, folder), *_templates(blanks, folder, paper)]
    (folder / "cut-list.md").write_text(_page(said, drawn, pieces, measures), "utf-8")
    return said


def _sentences(stock: pd.DataFrame, left: Sequence[Blank]) -> Iterator[str]:
    for _, row in stock.iterrows():
        number = "1 stock sheet" if row["sheets"] == 1 else f"{row['sheets']} stock sheets"
        yield f"{row['material']}: {number}, {row['waste [%]']:.0f} % of it waste."
    for piece in left:
        width, height = (1e3 * side for side in piece.size)
        yield f"No stock sheet holds {piece.name} ({piece.material}, {width:.0f} x {height:.0f} mm): order it to size."


def _sheets(sheets: Sequence[Sheet], folder: Path) -> Iterator[str]:
    for number, sheet in enumerate(sheets, start=1):
        name = f"sheet-{number:02d}-{sheet.material}"
        write_dxf(sheet, folder / f"{name}.dxf")
        write_svg(sheet, folder / f"{name}.svg")
        yield f"[{name}]({name}.svg), also as [DXF]({name}.dxf): {len(sheet.placed)} pieces"


def _templates(blanks: Sequence[Blank], folder: Path, paper: str) -> Iterator[str]:
    """One of each piece at full size, on paper to be joined."""
    for number, blank in enumerate(blanks, start=1):
        name = f"template-{number:02d}-{blank.name.replace(', ', '-').replace(' ', '-')}"
        pages = write_pdf(blank, folder / f"{name}.pdf", paper)
        yield f"[{name}]({name}.pdf): on {pages} {'page' if pages == 1 else 'pages'} of {paper}"


def _page(said: Sequence[str], drawn: Sequence[str], pieces: pd.DataFrame, measures: pd.DataFrame) -> str:
    last = "Local codes, makers' data sheets and licensed practice have the last word."
    parts = [
        ("# What to cut", [f"- {sentence}" for sentence in said]),
        ("## Before you cut", [f"- {caution}" for caution in (*CAUTIONS, last)]),
        (
            "## Drawings",
            [
                *[f"- {drawing}" for drawing in drawn],
                "",
                "All at full size: measure the bar of 100 mm before you cut. Each kind of line has a layer of its own:",
                "",
                *[f"- {line}" for line in legend()],
            ],
        ),
        ("## Pieces", [_table(pieces[SHOWN])]),
        ("## Putting it together", [_table(measures)]),
    ]
    return "\n".join("\n".join([title, "", *lines, ""]) for title, lines in parts)


def _table(frame: pd.DataFrame) -> str:
    rows = [list(frame.columns), ["---"] * frame.shape[1]]
    for row in frame.itertuples(index=False):
        rows.append([f"{cell:.5g}" if isinstance(cell, float) else str(cell) for cell in row])
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)
