"""Papers for the workshop, read back and measured: sizes, layers, bars, pages; pieces lie on their sheets, apart."""

import math
import re
import shutil
import subprocess
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib.path import Path as Outline

from noonhearth.model import Blank, Price, Workshop, blanks_of, load_catalogue, simulate
from noonhearth.studies import Setting, load
from noonhearth.studies.papers.assembly import assembly, tilts
from noonhearth.studies.papers.bundle import write_papers
from noonhearth.studies.papers.cut_list import cut_list
from noonhearth.studies.papers.dxf import write_dxf
from noonhearth.studies.papers.hanging_page import section, tilted_pots, write_hanging
from noonhearth.studies.papers.nesting import Sheet, nested
from noonhearth.studies.papers.order import is_glass
from noonhearth.studies.papers.page import PAPERS, write_pdf, write_svg
from noonhearth.studies.papers.strokes import strokes_of

OVEN = Path(__file__).parents[1] / "oven.toml"
POINT = 25.4 / 72  # mm


@pytest.fixture(scope="module")
def setting() -> Setting:
    return load(OVEN).setting


@pytest.fixture(scope="module")
def metric(setting: Setting, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """All papers of the oven, and what was said of them."""
    folder = tmp_path_factory.mktemp("metric")
    return folder, write_papers(setting, folder)


@pytest.fixture(scope="module")
def inch(setting: Setting, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same in the units that the setting asks for."""
    folder = tmp_path_factory.mktemp("inch")
    write_papers(replace(setting, shown_in="inch"), folder)
    return folder


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
    write_dxf(strokes_of(sheet), tmp_path / "sheet.dxf")
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
    assert bars_of(math.dist(*line.vertices()) for line in layers["BAR"]) == pytest.approx([100.0, 101.6])
    assert any("millimetres" in text.dxf.text for text in drawing.modelspace().query("TEXT"))
    assert _area(np.array(list(layers["STOCK"][0].vertices()))) == pytest.approx(
        1e6 * sheet.width * sheet.length
    )


def bars_of(spans: Iterable[float]) -> list[float]:
    """Lengths of the bars themselves, without their short ends. [mm]"""
    return sorted({round(span, 2) for span in spans if span > 10})


def _area(points: np.ndarray) -> float:
    x, y = points[:, :2].T
    return abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2))


def test_svg_is_at_full_size(sheets: list[Sheet], tmp_path: Path) -> None:
    write_svg(sheets[0], tmp_path / "sheet.svg")
    root = ElementTree.parse(tmp_path / "sheet.svg").getroot()
    width, height = (float(root.get(side, "").removesuffix("pt")) * POINT for side in ("width", "height"))
    assert width == pytest.approx(1e3 * sheets[0].width + 20, abs=0.01)
    assert height == pytest.approx(1e3 * sheets[0].length + 50, abs=0.01)
    assert bars_of(_spans(root, "BAR")) == pytest.approx([100.0, 4 * 25.4], abs=0.01)
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
    for bar in (100.0, 4 * 25.4):
        assert sum(span == pytest.approx(bar, abs=0.01) for span in spans) == pages


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
    base = listed["piece"] == "turning base"
    flat = float(listed["mass [kg]"][~frame & ~base].sum()) - lap + pot
    assert flat == pytest.approx(
        float(whole["mass"][0]), rel=0.03
    )  # layers here are stacked, there each on the mirror


def test_prices_are_per_piece_and_missing_ones_stay_missing(setting: Setting) -> None:
    prices = {"plywood": Price(9.0, "m2")}
    listed = cut_list(blanks(setting), catalogue=setting.catalogue, prices=prices, currency="shells")
    base = listed["piece"] == "turning base"  # thicker board than the skin of that name: another price
    assert listed["cost [shells]"][base].isna().all()
    listed = listed[~base]
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
    for word in ("Eyes", "Hands", "Lungs", "Fumes", "Wind", "Local codes"):
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


DEMO = ("first_oven.toml", "dry_season_workshop.toml", "lake_camp.toml", "ridge_school.toml")


def test_glass_lies_on_no_stock_sheet_and_is_ordered(metric: tuple[Path, list[str]]) -> None:
    """An octagon of 0.63 m across the flats, 3.2 mm thick: area 8 (w/2)^2 tan 22.5 deg, soda-lime glass 2500 kg/m3."""
    folder, said = metric
    assert any(sentence.startswith("Order to size: 1 x cover (tempered-glass") for sentence in said)
    assert not list(folder.glob("sheet-*glass*"))
    (row,) = pd.read_csv(folder / "order-sheet.csv").to_dict("records")
    area = 8 * 0.315**2 * math.tan(math.pi / 8)
    assert row["mass of all [kg]"] == pytest.approx(area * 0.0032 * 2500, rel=1e-4)
    assert (row["count"], row["thickness [mm]"]) == (1, pytest.approx(3.2))
    assert row["longest side [mm]"] == pytest.approx(630 * math.tan(math.pi / 8), rel=1e-4)
    assert "all 8 edges arrissed" in row["edges"]
    assert "only then tempered" in row["before delivery"]
    drawing = ezdxf.readfile(next(folder.glob("order-*.dxf")))
    [outline] = drawing.modelspace().query("LWPOLYLINE")
    assert _area(np.array(list(outline.vertices()))) == pytest.approx(1e6 * area, rel=1e-9)


def test_the_order_sheet_says_edges_count_thickness_mass_and_tempering(
    metric: tuple[Path, list[str]],
) -> None:
    text = words_of(metric[0] / "order-sheet.pdf")
    for word in ("arrissed", "tempered", "3.2 mm", "Pieces: 1", "kg a piece", "gloves", "Local codes"):
        assert word in text


def words_of(path: Path) -> str:
    """All text of a PDF, by poppler."""
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler is not there to read a PDF")
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], check=True, capture_output=True, text=True
    )
    return " ".join(done.stdout.split())


def test_annealed_panes_and_glass_mirrors_are_told(setting: Setting, tmp_path: Path) -> None:
    design = setting.design.with_factors(cover="float-glass", mirror="silvered-plate")
    said = write_papers(replace(setting, design=design), tmp_path, workshop=Workshop(joint="seam"))
    listed = pd.read_csv(tmp_path / "order-sheet.csv").set_index("piece")
    assert {"cover", "facet, tier 1", "back plate"} <= set(listed.index)
    assert "not tempered" in listed.loc["cover", "before delivery"]
    assert any("silvered-plate cannot be folded" in sentence for sentence in said)
    assert not any(
        is_glass(b, setting.catalogue)
        for b in blanks(setting)
        if b.part in ("insulation", "skin", "base_board")
    )


def test_a_pane_of_the_users_own_list_is_known_by_its_meaning(setting: Setting, tmp_path: Path) -> None:
    """A name that does not say glass, with the numbers of float glass."""
    own = (Path(__file__).parents[2] / "model/materials.toml").read_text("utf-8")
    entry = own.partition("[covers.float-glass]")[2].partition("[covers.")[0]
    entry = entry.replace("ordinary annealed window glass", "pane of an old window, glass")
    (tmp_path / "mine.toml").write_text("[covers.old-window]" + entry, "utf-8")
    catalogue = load_catalogue(materials=tmp_path / "mine.toml")
    pieces = blanks_of(setting.design.with_factors(cover="old-window"), catalogue=catalogue)
    assert [b.name for b in pieces if is_glass(b, catalogue)] == ["cover"]


def test_an_oven_over_a_box_with_a_plastic_cover_is_cut_from_stock(setting: Setting, tmp_path: Path) -> None:
    box = {"archetype": "funnel over box", "box_across": 0.45, "box_depth": 0.26}
    design = setting.design.with_factors(cover="polycarbonate", **box)
    write_papers(replace(setting, design=design), tmp_path)
    assert list(tmp_path.glob("sheet-*polycarbonate.dxf"))
    assert not (tmp_path / "order-sheet.pdf").exists()
    assert pieces_on_sheets(tmp_path) == pd.read_csv(tmp_path / "cut-list.csv")["count"].sum()
    assert "blacken the inner side" in (tmp_path / "cut-list.md").read_text("utf-8")


def pieces_on_sheets(folder: Path) -> int:
    page = (folder / "cut-list.md").read_text("utf-8")
    return sum(int(n) for n in re.findall(r"as \[DXF\]\(sheet-[^)]*\): (\d+) piece", page))


def test_the_base_is_drawn_with_pivot_and_degrees(setting: Setting, tmp_path: Path) -> None:
    """DXF read back: a disc of 0.30 m, a hole of 10 mm in its middle, 360 marks and more that are not cut."""
    base = [b for b in blanks(setting) if b.name == "turning base"]
    (sheet,), _ = nested(base, Workshop())
    write_dxf(strokes_of(sheet), tmp_path / "base.dxf")
    lines = list(ezdxf.readfile(tmp_path / "base.dxf").modelspace().query("LWPOLYLINE"))
    cut = [np.array(list(line.vertices())) for line in lines if line.dxf.layer == "CUT"]
    disc, hole = sorted(cut, key=lambda points: -np.ptp(points[:, 0]))
    middle = hole.mean(axis=0)
    assert np.linalg.norm(disc - middle, axis=1) == pytest.approx(np.full(len(disc), 300.0), abs=1e-6)
    assert np.linalg.norm(hole - middle, axis=1) == pytest.approx(np.full(len(hole), 5.0), abs=1e-6)
    marks = [np.array(list(line.vertices())) for line in lines if line.dxf.layer == "MARK"]
    edge = [m for m in marks if np.linalg.norm(m[-1] - middle) == pytest.approx(300.0, abs=1e-6)]
    assert len(edge) == 360
    listed = cut_list(base, catalogue=setting.catalogue).iloc[0]
    assert listed["sides [mm]"] == "round, across 600.0"
    assert listed["hole across [mm]"] == pytest.approx(10.0, abs=0.01)


def test_inches_are_the_same_lengths(setting: Setting) -> None:
    """Against 25.4 mm, 0.09290304 m2 and 0.45359237 kg: exact by the agreement of 1959."""
    pieces = blanks(setting)
    metric, inch = (cut_list(pieces, catalogue=setting.catalogue, system=one) for one in ("metric", "inch"))
    for name in ("thickness", "width", "height", "hole across"):
        there = metric[f"{name} [mm]"].notna()
        assert (25.4 * inch[f"{name} [in]"])[there].to_numpy() == pytest.approx(
            metric[f"{name} [mm]"][there].to_numpy()
        )
    assert 0.09290304 * inch["area [ft2]"].to_numpy() == pytest.approx(metric["area [m2]"].to_numpy())
    assert 0.45359237 * inch["mass [lb]"].to_numpy() == pytest.approx(metric["mass [kg]"].to_numpy())
    for decimals, rule in zip(inch["sides [in]"], inch["sides on the rule [in]"], strict=True):
        for one, other in zip(*map(sides_in, (decimals, rule)), strict=True):
            assert abs(one - other) <= 1 / 64 + 5e-4


def sides_in(text: str) -> list[float]:
    """Sides of a list as numbers: "8 x 4 5/8", "round, across 23.622", "4.1 5.2"."""
    text = text.removeprefix("round, across ")
    count, between, each = text.partition(" x ")
    if between:
        return [float(sum(map(Fraction, each.split())))] * int(count)
    parts = text.split(", ") if "," in text or "/" in text else text.split()
    return [float(sum(map(Fraction, part.split()))) for part in parts]


def test_papers_in_inches_keep_the_dxf_in_millimetres(metric: tuple[Path, list[str]], inch: Path) -> None:
    drawings = list(metric[0].glob("*.dxf"))
    assert drawings
    for drawing in drawings:
        one, other = (ezdxf.readfile(folder / drawing.name) for folder in (metric[0], inch))
        assert other.units == ezdxf.units.MM
        points = [
            [list(line.vertices()) for line in each.modelspace().query("LWPOLYLINE")] for each in (one, other)
        ]
        assert points[0] == points[1]
    page = (inch / "cut-list.md").read_text("utf-8")
    assert "| mouth, across the flats inside | 23 5/8 (23.622) | in |" in page
    assert " mm |" not in page.partition("## Pieces")[2]
    assert "trunnions above the back plate: 4 23/32 in (4.724)" in words_of(inch / "pot-and-tilt.pdf")
    assert "thickness [in]" in (inch / "cut-list.csv").read_text("utf-8").splitlines()[0]


def test_the_measures_of_a_box_oven_speak_of_throat_and_box(setting: Setting) -> None:
    design = setting.design.with_factors(archetype="funnel over box", box_across=0.45, box_depth=0.26)
    what = assembly(replace(setting, design=design)).set_index("what")["value"]
    assert not any("back plate" in name for name in what.index)
    assert what["box, corner to corner inside"] == pytest.approx(450 * math.sqrt(2))
    throat = 600 - 2 * 300 * math.tan(math.radians(30))
    assert what["throat, across the flats inside"] == pytest.approx(throat)
    assert what["trunnions above the floor of the box"] == pytest.approx(50 + 70)


def test_touching_tilts_are_told(setting: Setting, tmp_path: Path) -> None:
    design = setting.design.with_factors(pot_lift=0.004, axis_height=0.12)
    low = replace(setting, design=design)
    minds = tilts(low).set_index("axis above the horizon [deg]")
    assert "the pot touches" in minds.loc[30.0, "mind"]
    assert "meets the ground" in minds.loc[45.0, "mind"]
    write_hanging(low, tmp_path / "hung.pdf")
    assert "do not tilt it so far" in words_of(tmp_path / "hung.pdf")
    fine = tilts(replace(setting, design=setting.design.with_factors(axis_height=0.9)))
    assert (fine["mind"] == "").all()


def test_the_section_shows_the_gap_that_is_told(setting: Setting) -> None:
    """Level, the pot of 180 x 140 mm stands 50 mm over the plate; its outline keeps its size at every tilt."""
    pots = tilted_pots(setting)
    level = next(pot for name, pot in pots.items() if name.startswith("oven level"))
    assert level[:, 1].min() == pytest.approx(0.05)
    for pot in pots.values():
        assert np.linalg.norm(np.diff(np.vstack([pot, pot[:1]]), axis=0), axis=1) == pytest.approx(
            [0.18, 0.14, 0.18, 0.14]
        )
    lines = np.vstack(section(setting))
    assert lines[:, 0].max() == pytest.approx(0.30)  # across the flats, a facet up the slope
    odd = replace(setting, design=setting.design.with_factors(facets=5))
    assert np.vstack(section(odd))[:, 0].min() == pytest.approx(-0.30 / math.cos(math.pi / 5))


@pytest.mark.parametrize("config", DEMO)
def test_every_demo_oven_gets_its_papers(config: str, tmp_path: Path) -> None:
    """No piece is lost: on a stock sheet, or ordered."""
    plan = load(Path(__file__).parents[2] / "configs" / config)
    write_papers(plan.setting, tmp_path, workshop=plan.workshop)
    listed = pd.read_csv(tmp_path / "cut-list.csv")
    ordered = tmp_path / "order-sheet.csv"
    counted = pd.read_csv(ordered)["count"].sum() if ordered.exists() else 0
    assert pieces_on_sheets(tmp_path) + counted == listed["count"].sum()
