"""Papers for the workshop, read back and measured: sizes, layers, bars, pages; pieces lie on their sheets, apart."""

import math
import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.path import Path as Outline

from noonhearth.model import Blank, Price, Workshop, blanks_of, simulate
from noonhearth.studies import Setting, load
from noonhearth.studies.papers.bundle import write_papers
from noonhearth.studies.papers.cut_list import cut_list
from noonhearth.studies.papers.dxf import write_dxf
from noonhearth.studies.papers.nesting import Sheet, nested
from noonhearth.studies.papers.page import PAPERS, write_pdf, write_svg

OVEN = Path(__file__).parents[1] / "oven.toml"
POINT = 25.4 / 72  # mm


@pytest.fixture(scope="module")
def setting() -> Setting:
    return load(OVEN).setting


def blanks(setting: Setting, joint: str = "butt", **changes: object) -> list[Blank]:
    design = setting.design.with_factors(**changes)
    return blanks_of(design, catalogue=setting.catalogue, workshop=Workshop(joint=joint))


@pytest.fixture(scope="module")
def sheets(setting: Setting) -> list[Sheet]:
    return nested(blanks(setting, "seam"), Workshop(joint="seam"))[0]


@pytest.mark.parametrize("joint", ["butt", "seam", "strip"])
@pytest.mark.parametrize("tiers", [1, 3])
def test_every_piece_lies_once_on_a_sheet_and_clear_of_the_others(
    setting: Setting, joint: str, tiers: int
) -> None:
    shop = Workshop(joint=joint)
    pieces = blanks(setting, joint, tiers=tiers, second_bend=0.15, third_bend=-0.1)
    sheets, left = nested(pieces, shop)
    assert not left
    placed = [(id(one.blank), one.number) for sheet in sheets for one in sheet.placed]
    assert sorted(placed) == sorted((id(b), n) for b in pieces for n in range(1, b.count + 1))
    for sheet in sheets:
        for one in sheet.placed:
            corners = one.on_sheet(one.blank.outline)
            assert corners.min() > -1e-9
            assert (corners.max(axis=0) <= (sheet.width + 1e-4, sheet.length + 1e-4)).all()
            assert np.linalg.norm(np.diff(corners, axis=0), axis=1) == pytest.approx(
                np.linalg.norm(np.diff(one.blank.outline, axis=0), axis=1)
            )
        for one, other in combinations(sheet.placed, 2):
            mine, theirs = (each.on_sheet(each.blank.outline) for each in (one, other))
            share = np.linspace(0.0, 1.0, 40)[:, None, None]
            along = (share * mine + (1 - share) * np.roll(mine, 1, axis=0)).reshape(-1, 2)
            assert not Outline(theirs).contains_points(along, radius=-1e-6).any()


def test_head_to_tail_saves_sheet(setting: Setting) -> None:
    """Eight long facets take less than the boxes round them would."""
    facets = [b for b in blanks(setting) if b.name.startswith("facet")]
    boxes = sum(b.count * b.size[0] * b.size[1] for b in facets)
    (sheet,), _ = nested(facets, Workshop())
    corners = np.vstack([one.on_sheet(one.blank.outline) for one in sheet.placed])
    assert np.prod(np.ptp(corners, axis=0)) < 0.9 * boxes


def test_pieces_no_sheet_holds_are_named(setting: Setting) -> None:
    small = replace(Workshop(), sheet_width=0.3, sheet_length=0.45)
    sheets, left = nested(blanks(setting), small)
    assert {piece.name for piece in left} >= {"cover"}
    assert all(max(piece.size) > 0.45 or min(piece.size) > 0.3 for piece in left)
    assert sheets


def test_dxf_is_in_millimetres_on_named_layers(sheets: list[Sheet], tmp_path: Path) -> None:
    """Read back by ezdxf: areas, fold lines, the bar."""
    sheet = sheets[0]
    write_dxf(sheet, tmp_path / "sheet.dxf")
    drawing = ezdxf.readfile(tmp_path / "sheet.dxf")
    assert not drawing.audit().errors
    assert drawing.units == ezdxf.units.MM
    lines = list(drawing.modelspace().query("LWPOLYLINE"))
    layers = {
        name: [line for line in lines if line.dxf.layer == name] for name in ("CUT", "FOLD", "BAR", "STOCK")
    }
    assert len(layers["CUT"]) == len(sheet.placed)
    assert all(line.closed for line in layers["CUT"])
    areas = sorted(_area(np.array(list(line.vertices()))) for line in layers["CUT"])
    assert areas == pytest.approx(sorted(1e6 * one.blank.area for one in sheet.placed), rel=1e-9)
    folded = [1e3 * np.linalg.norm(line[1] - line[0]) for one in sheet.placed for line, _ in one.blank.folds]
    drawn = [math.dist(*line.vertices()) for line in layers["FOLD"]]
    assert sorted(drawn) == pytest.approx(sorted(folded), abs=1e-6)
    assert max(math.dist(*line.vertices()) for line in layers["BAR"]) == pytest.approx(100.0, abs=1e-9)
    assert _area(np.array(list(layers["STOCK"][0].vertices()))) == pytest.approx(
        1e6 * sheet.width * sheet.length
    )


def _area(points: np.ndarray) -> float:
    x, y = points[:, :2].T
    return abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2))


def test_svg_is_at_full_size(sheets: list[Sheet], tmp_path: Path) -> None:
    write_svg(sheets[0], tmp_path / "sheet.svg")
    root = ElementTree.parse(tmp_path / "sheet.svg").getroot()
    width, height = (float(root.get(side, "").removesuffix("pt")) * POINT for side in ("width", "height"))
    assert width == pytest.approx(1e3 * sheets[0].width + 20, abs=0.01)
    assert height == pytest.approx(1e3 * sheets[0].length + 40, abs=0.01)
    assert max(_spans(root, "BAR")) == pytest.approx(100.0, abs=0.01)
    piece = sheets[0].placed[0].blank
    assert any(span == pytest.approx(1e3 * max(piece.size), abs=0.01) for span in _spans(root, "CUT"))


def _spans(root: ElementTree.Element, layer: str) -> list[float]:
    """Larger side of the box round each path of a layer. [mm]"""
    space = "{http://www.w3.org/2000/svg}"
    found = []
    for group in root.iter(f"{space}g"):
        if group.get("id") == layer:
            for path in group.iter(f"{space}path"):
                numbers = np.array(re.findall(r"-?\d+\.?\d*", path.get("d", "")), float).reshape(-1, 2)
                found.append(float(np.ptp(numbers, axis=0).max()) * POINT)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_pdf_pages_have_the_size_of_the_paper_and_a_true_bar(
    setting: Setting, tmp_path: Path, paper: str
) -> None:
    piece = next(b for b in blanks(setting) if b.name.startswith("insulation, tier"))
    with mpl.rc_context({"pdf.compression": 0}):
        pages = write_pdf(piece, tmp_path / "piece.pdf", paper)
    text = (tmp_path / "piece.pdf").read_bytes().decode("latin-1")
    boxes = re.findall(r"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", text)
    assert len(boxes) == pages > 1
    for box in boxes:
        assert [float(side) * POINT for side in box] == pytest.approx(PAPERS[paper], abs=0.01)
    lines = re.findall(r"([\d.-]+) ([\d.-]+) m\s+([\d.-]+) ([\d.-]+) l\s+S", text)
    spans = [math.hypot(float(c) - float(a), float(d) - float(b)) * POINT for a, b, c, d in lines]
    assert sum(span == pytest.approx(100.0, abs=0.01) for span in spans) == pages


def test_equal_designs_give_equal_bytes(sheets: list[Sheet], setting: Setting, tmp_path: Path) -> None:
    piece = blanks(setting)[0]
    for name in ("one", "other"):
        write_svg(sheets[0], tmp_path / f"{name}.svg")
        write_pdf(piece, tmp_path / f"{name}.pdf")
    for ending in ("svg", "pdf"):
        assert (tmp_path / f"one.{ending}").read_bytes() == (tmp_path / f"other.{ending}").read_bytes()


def test_the_cut_list_weighs_what_the_design_weighs(setting: Setting) -> None:
    """Mass of mirror, insulation and skin by the model's own bill: frusta there, flat pieces here, layers stacked."""
    listed = cut_list(blanks(setting), catalogue=setting.catalogue, prices=setting.prices, currency="shells")
    sheet = setting.catalogue.materials.numbers("mirrors", "anodised-sheet")
    mirror = listed[listed["material"] == "anodised-sheet"]
    area = float(mirror["area [m2]"].sum())
    assert float(mirror["mass [kg]"].sum()) == pytest.approx(
        area * sheet["thickness"] * sheet["density"], rel=5e-3
    )
    frame = listed["piece"] == "cover frame"
    whole = simulate(setting.design, setting.sky, rays=4, catalogue=setting.catalogue)
    pot = (
        2
        * math.pi
        * 0.09
        * (0.09 + 0.14)
        * 0.001
        * setting.catalogue.materials.numbers("pots", "steel")["density"]
    )
    lap = float(listed["mass [kg]"][listed["piece"] == "cover"].iloc[0]) * (1 - (0.60 / 0.63) ** 2)
    flat = float(listed["mass [kg]"][~frame].sum()) - lap + pot
    assert flat == pytest.approx(
        float(whole["mass"][0]), rel=0.03
    )  # layers here are stacked, there each on the mirror


def test_prices_are_per_piece_and_missing_ones_stay_missing(setting: Setting) -> None:
    prices = {"plywood": Price(9.0, "m2")}
    listed = cut_list(blanks(setting), catalogue=setting.catalogue, prices=prices, currency="shells")
    boards = listed[listed["material"] == "plywood"]
    assert boards["cost [shells]"].to_numpy() == pytest.approx(9.0 * boards["area [m2]"].to_numpy())
    assert listed[listed["material"] != "plywood"]["cost [shells]"].isna().all()


def test_a_folder_of_papers(setting: Setting, tmp_path: Path) -> None:
    said = write_papers(setting, tmp_path, workshop=Workshop(joint="seam"))
    page = (tmp_path / "cut-list.md").read_text("utf-8")
    for sentence in said:
        assert sentence in page
    for link in re.findall(r"\]\(([^)]+)\)", page):
        assert (tmp_path / link).stat().st_size > 0
    for word in ("Eyes", "Hands", "Lungs", "Local codes"):
        assert word in page
    assert (tmp_path / "cut-list.csv").read_text().count("\n") == 1 + len(blanks(setting, "seam"))


def test_a_box_has_six_sides_in_every_layer(setting: Setting) -> None:
    pieces = blanks(setting, archetype="funnel over box", box_across=0.45, box_depth=0.25)
    for layer in ("lining", "insulation", "skin"):
        assert sum(b.count for b in pieces if b.name.startswith(f"box {layer}")) == 6
    lining = [b for b in pieces if b.name.startswith("box lining")]
    opening = next(b for b in lining if "top" in b.name).holes[0]
    whole = sum(b.count * b.area for b in lining) + _area(opening)
    assert whole == pytest.approx(
        2 * 0.45**2 + 4 * 0.45 * 0.25, rel=0.01
    )  # sheet of half a millimetre laps at corners
