"""Shapes, bills and money from descriptions, against solid geometry and closed forms."""

import math

import numpy as np
import pytest
import trimesh

from noonhearth.model import DescriptionError, Design, Price, Sky, Table, load_catalogue, simulate
from noonhearth.model.pack import bill_of, build_of, materials_of, shape_of
from noonhearth.model.prices import cost_of

DEG = math.pi / 180


def frustum_mesh(facets: int, top: float, bottom: float, height: float) -> trimesh.Trimesh:
    """A convex frustum as a mesh, from widths across flats: independent of the formulas under test."""
    turn = 2 * np.pi * (np.arange(facets) + 0.5) / facets
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) / np.cos(np.pi / facets) / 2
    corners = np.vstack(
        [np.column_stack([ring * across, np.full(facets, z)]) for across, z in ((bottom, 0), (top, height))]
    )
    return trimesh.convex.convex_hull(corners)


@pytest.mark.parametrize(("facets", "angle"), [(3, 12.0), (4, 30.0), (8, 30.0), (17, 5.0)])
def test_areas_and_volumes_are_those_of_a_solid(design: Design, facets: int, angle: float) -> None:
    table = Table(design, {"facets": np.array([facets]), "facet_angle": np.array([angle * DEG])}, 1)
    shape = shape_of(table)
    bottom = 0.60 - 2 * 0.30 * math.tan(angle * DEG)
    inner = frustum_mesh(facets, 0.60, bottom, 0.30)
    assert shape.sheet[0] + shape.mouth[0] == pytest.approx(inner.area, rel=1e-9)
    assert shape.mirror[0] == shape.sheet[0]
    assert shape.cover[0] == shape.mouth[0]
    pot = math.pi * 0.09**2 * 0.14
    assert shape.cavity[0] == pytest.approx(inner.volume - pot, rel=1e-9)
    # the jacket: every face moved out by the insulation's 50 mm, the rim level with the mouth
    out = 0.05 / math.cos(angle * DEG)
    outer_depth = 0.35
    outer_top = 0.60 + 2 * out
    outer = frustum_mesh(facets, outer_top, outer_top - 2 * outer_depth * math.tan(angle * DEG), outer_depth)
    lid = facets / 4 * math.tan(math.pi / facets) * outer_top**2
    assert shape.skin[0] == pytest.approx(outer.area - lid, rel=1e-9)
    assert shape.insulation[0] == pytest.approx(outer.volume - inner.volume, rel=1e-9)


def test_a_box_under_an_open_funnel_is_that_of_a_solid(design: Design) -> None:
    columns = {"archetype": np.array(["funnel over box"], dtype=object), "facets": np.array([4])}
    shape = shape_of(Table(design, columns, 1))
    throat = 0.60 - 2 * 0.30 * math.tan(30 * DEG)
    box = trimesh.creation.box((0.40, 0.40, 0.25))
    outer = trimesh.creation.box((0.50, 0.50, 0.35))
    assert shape.cover[0] == pytest.approx(throat**2)
    assert shape.sheet[0] == pytest.approx(box.area - throat**2)
    assert shape.skin[0] == pytest.approx(outer.area - throat**2)
    assert shape.insulation[0] == pytest.approx(outer.volume - box.volume - 0.05 * throat**2)
    funnel = frustum_mesh(4, 0.60, throat, 0.30)
    assert shape.mirror[0] - shape.sheet[0] == pytest.approx(funnel.area - throat**2 - 0.60**2)
    assert shape.rim[0] == pytest.approx(4 * throat)


def test_many_facets_become_a_cone(design: Design) -> None:
    """Closed form: lateral area of a frustum of a cone, pi (R + r) s; a 24-gon is 0.6 % larger outside it."""
    shape = shape_of(Table(design, {"facets": np.array([24])}, 1))
    radius, throat = 0.30, 0.30 - 0.30 * math.tan(30 * DEG)
    cone = math.pi * (radius + throat) * 0.30 / math.cos(30 * DEG) + math.pi * throat**2
    assert shape.sheet[0] == pytest.approx(cone * 24 / math.pi * math.tan(math.pi / 24), rel=1e-9)
    assert 1 < shape.sheet[0] / cone < 1.007


def test_insulation_between_spheres_is_exact() -> None:
    """k sqrt(A1 A2) / t against 4 pi k r1 r2 / (r2 - r1): Incropera et al., eq. 3.41, from memory."""
    k, inner, outer = 0.04, 0.10, 0.15
    exact = 4 * math.pi * k * inner * outer / (outer - inner)
    areas = [4 * math.pi * r**2 for r in (inner, outer)]
    assert k * math.sqrt(areas[0] * areas[1]) / (outer - inner) == pytest.approx(exact, rel=1e-12)
    assert exact == pytest.approx(0.150796, rel=1e-5)


def test_insulation_in_series_with_the_skin(design: Design) -> None:
    catalogue = load_catalogue()
    table = Table(design, {"insulation_thickness": np.array([0.02, 0.05, 0.10])}, 3)
    materials = materials_of(table, catalogue)
    from noonhearth.model.meal import load_of

    build = build_of(
        table,
        materials=materials,
        exchange=np.zeros((3, 3)),
        load=load_of(table, catalogue.foods),
        boiling_temperature=373.0,
    )
    shape = shape_of(table)
    wool = catalogue.materials.find("insulations", "mineral-wool")
    conductivity = wool.conductivity_at(335.0)  # type: ignore[attr-defined]
    through = table["insulation_thickness"] / (conductivity * np.sqrt(shape.sheet * shape.skin))
    plywood = catalogue.materials.find("shells", "plywood").numbers["conductivity"]
    np.testing.assert_allclose(
        1 / build.insulation_conductance, through + 0.006 / (plywood * shape.skin), rtol=1e-12
    )
    assert (np.diff(build.insulation_conductance) < 0).all()


def test_bill_weighs_what_the_parts_weigh(design: Design) -> None:
    catalogue = load_catalogue()
    table = Table(design, {}, 1)
    bill = bill_of(table, materials_of(table, catalogue))
    steel = catalogue.materials.find("pots", "steel").numbers["density"]
    thin_shell = steel * 0.001 * (2 * math.pi * 0.09**2 + 2 * math.pi * 0.09 * 0.14)
    assert bill["pot_metal"][0][0] == pytest.approx(thin_shell, rel=1e-12)
    mouth = 8 / 4 * math.tan(math.pi / 8) * 0.6**2
    assert bill["cover"][0][0] == pytest.approx(2500 * 0.0032 * mouth, rel=1e-12)


def test_prices_per_kilogram_square_metre_and_piece(design: Design) -> None:
    table = Table(design, {"mirror": np.array(["anodised-sheet", "foil-on-card"], dtype=object)}, 2)
    bill = {
        "mirror": (np.array([2.0, 2.0]), np.array([0.5, 0.5])),
        "cover": (np.array([4.0, 4.0]), np.ones(2)),
    }
    prices = {
        "anodised-sheet": Price.read("12 per kg"),
        "foil-on-card": Price.read("30 per m2"),
        "tempered-glass": Price.read("9.5 each"),
    }
    np.testing.assert_allclose(cost_of(table, bill, prices), [24 + 9.5, 15 + 9.5])


def test_a_part_without_a_price_leaves_the_cost_open(design: Design, sky: Sky) -> None:
    assert np.isnan(simulate(design, sky, rays=8)["material_cost"].item())


@pytest.mark.parametrize("text", ["12", "12 per pound", "each", "-3 per kg", 12, "1e5 per kg", ""])
def test_prices_of_another_form_are_refused(text: object) -> None:
    with pytest.raises(ValueError, match="write"):
        Price.read(text)


def test_an_unknown_material_names_the_nearest(design: Design, sky: Sky) -> None:
    with pytest.raises(DescriptionError, match=r"did you mean tempered-glass"):
        simulate(design.with_factors(cover="temperd-glass"), sky)


def test_descriptions_refuse_with_every_fault(design: Design) -> None:
    with pytest.raises(DescriptionError) as caught:
        design.with_factors(facets=2, mouth=99.0)
    assert len(caught.value.faults) == 2
    with pytest.raises(DescriptionError, match=r"closes the throat.*below 45 deg"):
        design.with_factors(facet_angle=46 * DEG)
    with pytest.raises(DescriptionError, match="reaches the cover"):
        design.with_factors(pot_lift=0.2)
    with pytest.raises(DescriptionError, match="no factor of this design"):
        design.with_factors(colour="blue")
