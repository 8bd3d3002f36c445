"""Funnels of several tiers: what a builder describes is what light, heat and the payer get."""

import math
from typing import Any

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull, HalfspaceIntersection

from noonhearth.model import DescriptionError, Design, Funnel, Sky, Status, Table, load_catalogue, simulate
from noonhearth.model.light import Optics, beam_shares, clearance, dome_shares, mouth_area, wall_area
from noonhearth.model.light.exchange import one_way_areas
from noonhearth.model.pack import bill_of, fits, glint_of, materials_of, optics_of, shape_of, wall_of
from noonhearth.model.tiers import jacket

DEG = math.pi / 180
Row = dict[str, Any]

OPENING: Row = {"tiers": 2, "facet_angle": 20 * DEG, "second_bend": 15 * DEG, "second_from": 0.6}
CLOSING: Row = {"tiers": 2, "facet_angle": 38 * DEG, "second_bend": -22 * DEG, "second_from": 0.4}
FLARED: Row = {
    "tiers": 3,
    "facet_angle": 8 * DEG,
    "second_bend": 17 * DEG,
    "third_bend": 15 * DEG,
    "third_from": 0.4,
}
BULGING: Row = {"tiers": 3, "facet_angle": 20 * DEG, "second_bend": 20 * DEG, "third_bend": -25 * DEG}
NARROW: Row = {"tiers": 2, "facet_angle": 25 * DEG, "second_bend": -40 * DEG, "second_from": 0.7}
COLLAR: Row = {"tiers": 2, "facet_angle": 5 * DEG, "second_bend": -50 * DEG, "second_from": 0.95}
STACKS = {"opening": OPENING, "closing": CLOSING, "flared": FLARED, "bulging": BULGING, "narrow": NARROW}


def table(design: Design, *rows: Row) -> Table:
    """One row per design, each with its own tiers."""
    names = {name for row in rows for name in row}
    columns = {name: np.array([row.get(name, design.value(name)) for row in rows]) for name in names}
    return Table(design, columns, len(rows))


def optics(one: Table, row: int = 0) -> Optics:
    return optics_of(np.column_stack(glint_of(one, materials_of(one, load_catalogue()))))[row]


# -- description -------------------------------------------------------------------------------------------


def test_lower_ring_over_sixty_percent_of_the_depth(design: Design) -> None:
    """By hand: 0.60 m mouth, 0.30 m deep; 35 deg over the upper 0.12 m, 20 deg over the lower 0.18 m."""
    one = table(design, OPENING)
    found = optics(one)
    edge = 0.60 - 2 * 0.12 * math.tan(35 * DEG)
    throat = edge - 2 * 0.18 * math.tan(20 * DEG)
    assert found.top_across == pytest.approx([0.60, edge])
    assert found.bottom_across == pytest.approx([edge, throat])
    assert found.top_height == pytest.approx([0.30, 0.18])
    assert found.facet_count.tolist() == [8, 8]
    assert found.cover_interface == 0
    assert design.with_factors(**OPENING).oven.funnel.wall.throat == pytest.approx(throat)


def test_third_tier_begins_in_what_is_left_above_the_second(design: Design) -> None:
    found = optics(table(design, FLARED | {"second_from": 0.2, "third_from": 0.25}))
    assert found.top_height == pytest.approx([0.30, 0.2 * 0.30 + 0.25 * 0.8 * 0.30, 0.2 * 0.30])
    angles = np.arctan(
        0.5 * (found.top_across - found.bottom_across) / (found.top_height - found.bottom_height)
    )
    assert angles / DEG == pytest.approx([40.0, 25.0, 8.0])


def test_over_a_box_the_tiers_stand_on_its_cover(design: Design) -> None:
    found = optics(table(design, FLARED | {"archetype": "funnel over box"}))
    assert found.facet_count.tolist() == [8, 8, 8, 4]
    assert found.cover_interface == 3
    assert found.top_height[3] == pytest.approx(0.25)
    assert found.top_height[0] == pytest.approx(0.55)
    assert found.bottom_across[2] == pytest.approx(float(wall_of(table(design, FLARED)).throat[0]))


def test_tiers_that_are_not_there_change_nothing(design: Design, sky: Sky) -> None:
    """Bits: a bend of a tier that is not built is seen by nobody, and traced once."""
    idle = {"second_bend": 20 * DEG, "second_from": 0.3, "third_bend": 10 * DEG, "third_from": 0.7}
    found = simulate(table(design, {}, idle, OPENING, OPENING | {"third_bend": 10 * DEG}), sky, rays=8)
    for name in found.data_vars:
        values = found[name].values
        assert values[0].tobytes() == values[1].tobytes(), name
        assert values[2].tobytes() == values[3].tobytes(), name
    assert found["light_to_pot"].values[0] != found["light_to_pot"].values[2]
    idle_rows = table(design, {}, idle)
    glints = np.column_stack(glint_of(idle_rows, materials_of(idle_rows, load_catalogue())))
    assert len(np.unique(glints, axis=0)) == 1


@pytest.mark.parametrize("archetype", ["covered funnel", "funnel over box"])
def test_tiers_of_one_angle_are_one_tier(design: Design, sky: Sky, archetype: str) -> None:
    base = design.with_factors(archetype=archetype)
    rows = table(base, {}, {"tiers": 2, "second_from": 0.3}, {"tiers": 3})
    for column in shape_of(rows):
        np.testing.assert_allclose(column, column[0], rtol=1e-12)
    up = np.array([[0.0, math.sin(a), math.cos(a)] for a in (0.0, 0.5)])
    apart = [clearance(optics(rows, k), pot_up=up) for k in range(3)]
    assert apart[1] == pytest.approx(apart[0], abs=1e-6)
    assert apart[2] == pytest.approx(apart[0], abs=1e-6)
    sun = np.array([[0.0, 0.05, math.sqrt(1 - 0.05**2)]])
    shares = [beam_shares(optics(rows, k), to_sun=sun, pot_up=up[1:], rays=1 << 17)[0] for k in range(3)]
    assert shares[1] == pytest.approx(shares[0], abs=2e-3)  # both ends of a difference to about 5e-4
    assert shares[2] == pytest.approx(shares[0], abs=2e-3)
    found = simulate(rows, sky, rays=128)
    assert found["mass"].values == pytest.approx(found["mass"].values[0], rel=1e-12)
    assert found["plateau_temperature"].values == pytest.approx(
        found["plateau_temperature"].values[0], abs=1.0
    )


def test_contradictions_are_refused_with_the_field(design: Design) -> None:
    with pytest.raises(
        DescriptionError, match=r"funnel.tiers = 2: the facets meet .*-\d+\.\d+ mm across.*smaller"
    ):
        design.with_factors(tiers=2, second_bend=30 * DEG)
    with pytest.raises(
        DescriptionError, match=r"funnel.second_bend = 60 deg .* 90 deg from the axis, allowed -80"
    ):
        design.with_factors(tiers=2, second_bend=60 * DEG)
    with pytest.raises(DescriptionError, match=r"funnel.third_bend = -70 deg .* -85 deg"):
        design.with_factors(tiers=3, second_bend=-45 * DEG, third_bend=-70 * DEG)
    with pytest.raises(DescriptionError, match=r"funnel.second_from = 0.99: allowed 0.05 to 0.95"):
        design.with_factors(tiers=2, second_from=0.99)
    funnel = {"mouth": 0.6, "depth": 0.3, "facet_angle": 30 * DEG, "mirror": "anodised-sheet"}
    assert Funnel(**funnel, second_bend=60 * DEG).wall.throat > 0  # of no effect with one tier


def test_contradictions_in_a_table_are_a_status(design: Design, sky: Sky) -> None:
    wide = {"archetype": "funnel over box", "tiers": 2, "facet_angle": 5 * DEG, "second_bend": 5 * DEG}
    # the upper facets meet on the axis; the second tier, leaning inwards, would open the throat again
    waist = {"mouth": 0.4, "tiers": 3, "facet_angle": 0.0, "second_bend": -30 * DEG, "third_bend": 80 * DEG}
    waist |= {"second_from": 0.05, "third_from": 0.3}
    shut, flat = {"tiers": 2, "second_bend": 30 * DEG}, {"tiers": 2, "second_bend": 60 * DEG}
    deep = {"mouth": 0.3, "depth": 0.6, "facet_angle": 40 * DEG}
    expected = [Status.THROAT_CLOSED, Status.TIER_TOO_FLAT, Status.BOX_TOO_NARROW, Status.THROAT_CLOSED]
    expected += [Status.OK, Status.THROAT_CLOSED, Status.THROAT_CLOSED]
    mixed = table(design, shut, flat, wide, waist, OPENING, deep, deep | {"archetype": "funnel over box"})
    assert fits(mixed).tolist() == expected
    found = simulate(mixed, sky, rays=8)
    assert found["status"].values.tolist() == expected
    assert np.isfinite(found["plateau_temperature"].values).tolist() == [False] * 4 + [True] + [False] * 2
    assert float(wall_of(table(design, waist)).throat[0]) > 0


# -- shape -------------------------------------------------------------------------------------------------


def solid(facets: int, across: np.ndarray, levels: np.ndarray) -> trimesh.Trimesh:
    """A stack of frusta as a closed mesh, convex or not, from widths and heights of its edges."""
    turn = 2 * np.pi * (np.arange(facets) + 0.5) / facets
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) / np.cos(np.pi / facets) / 2
    corners = [np.column_stack([ring * w, np.full(facets, z)]) for w, z in zip(across, levels, strict=True)]
    middles = [[0.0, 0.0, levels[0]], [0.0, 0.0, levels[-1]]]
    faces, count = [], facets * len(levels)
    for j in range(facets):
        k = (j + 1) % facets
        for edge in range(len(levels) - 1):
            a, b = edge * facets, (edge + 1) * facets
            faces += [[a + j, b + j, b + k], [a + j, b + k, a + k]]
        last = facets * (len(levels) - 1)
        faces += [[count, j, k], [count + 1, last + k, last + j]]
    return trimesh.Trimesh(np.vstack([*corners, middles]), faces)


def inner_solid(one: Table) -> trimesh.Trimesh:
    """The cavity of a table's first funnel."""
    wall, edges = wall_of(one), int(one["tiers"][0]) + 1
    return solid(int(one["facets"][0]), wall.across[:edges, 0], wall.level[:edges, 0])


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("facets", [3, 8])
def test_areas_and_volumes_are_those_of_a_solid(design: Design, name: str, facets: int) -> None:
    one = table(design, STACKS[name] | {"facets": facets})
    shape, wall = shape_of(one), wall_of(one)
    body = inner_solid(one)
    assert body.is_volume
    assert shape.sheet[0] + shape.mouth[0] == pytest.approx(body.area, rel=1e-9)
    assert shape.cavity[0] == pytest.approx(body.volume - math.pi * 0.09**2 * 0.14, rel=1e-9)
    assert shape.outline[0] == pytest.approx(_profile_area(wall.across[:, 0], wall.level[:, 0]), rel=1e-12)
    found = optics(one)
    assert wall_area(found) + shape.mouth[0] == pytest.approx(body.area - _plate(found), rel=1e-9)
    assert shape.widest[0] == pytest.approx(mouth_area(found) * (wall.across.max() / 0.60) ** 2, rel=1e-9)
    assert shape.slant[0] == pytest.approx(
        np.hypot(np.diff(wall.level[:, 0]), np.diff(wall.across[:, 0]) / 2).sum(), rel=1e-9
    )


def _plate(found: Optics) -> float:
    n = int(found.facet_count[-1])
    return n / 4 * math.tan(math.pi / n) * float(found.bottom_across[-1]) ** 2


def _profile_area(across: np.ndarray, levels: np.ndarray) -> float:
    """Shoelace formula round the outline."""
    x, y = np.concatenate([across / 2, -across[::-1] / 2]), np.concatenate([levels, levels[::-1]])
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))


@pytest.mark.parametrize("row", [CLOSING, COLLAR], ids=["closing", "hidden behind the rim"])
@pytest.mark.parametrize("thickness", [0.02, 0.10])
def test_jacket_of_a_convex_wall_is_cut_by_its_planes(design: Design, row: Row, thickness: float) -> None:
    """All facets and the plate moved out by the thickness, and the mouth's plane: what lies behind none of them."""
    one = table(design, row | {"insulation_thickness": thickness, "facets": 5})
    wall, shape = wall_of(one), shape_of(one)
    turn = 2 * np.pi * np.arange(5) / 5
    planes = [[0.0, 0.0, 1.0, -0.30], [0.0, 0.0, -1.0, -thickness]]
    for angle, across, level in zip(wall.angle[:2, 0], wall.across[:2, 0], wall.level[:2, 0], strict=True):
        c, s = math.cos(angle), math.sin(angle)
        planes += [
            [c * math.cos(a), c * math.sin(a), -s, -(c * across / 2 - s * level + thickness)] for a in turn
        ]
    hull = ConvexHull(HalfspaceIntersection(np.array(planes), np.array([0.0, 0.0, 0.1])).intersections)
    assert shape.insulation[0] == pytest.approx(hull.volume - inner_solid(one).volume, rel=1e-9)
    rim = 5 / 4 * math.tan(math.pi / 5) * jacket(wall, thickness).across[0, 0] ** 2
    assert shape.skin[0] == pytest.approx(hull.area - rim, rel=1e-9)


@pytest.mark.parametrize(
    "row", [OPENING, FLARED, FLARED | {"third_from": 0.06}], ids=["two", "three", "hidden"]
)
@pytest.mark.parametrize("thickness", [0.02, 0.20])
def test_jacket_of_a_wall_that_opens_out_is_the_widest_of_its_planes(
    design: Design, row: Row, thickness: float
) -> None:
    """Outside, such a wall is hollow: at each height its outer face is the outermost plane; by quadrature."""
    one = table(design, row | {"insulation_thickness": thickness})
    wall, shape = wall_of(one), shape_of(one)
    z = np.linspace(-thickness, 0.30, 400_001)
    planes = [
        across + 2 * (z - level) * math.tan(angle) + 2 * thickness / math.cos(angle)
        for angle, across, level in zip(wall.angle[:, 0], wall.across[:, 0], wall.level[:, 0], strict=False)
    ]
    width = np.max(planes, axis=0)
    corners = 8 * math.tan(math.pi / 8)
    middle, rise = (width[1:] + width[:-1]) / 2, z[1] - z[0]
    volume = corners / 4 * float((middle**2).sum()) * rise
    faces = corners * float((middle * np.hypot(rise, np.diff(width) / 2)).sum())
    assert shape.insulation[0] == pytest.approx(volume - inner_solid(one).volume, rel=1e-6)
    assert shape.skin[0] == pytest.approx(faces + corners / 4 * width[0] ** 2, rel=1e-6)


@pytest.mark.parametrize("name", STACKS)
def test_every_outer_face_lies_the_thickness_off_its_facet(design: Design, name: str) -> None:
    wall = wall_of(table(design, STACKS[name]))
    outer = jacket(wall, np.array([0.03]))
    assert outer.level[0, 0] == 0.30
    assert outer.level[-1, 0] == -0.03
    assert (np.diff(outer.level[: STACKS[name]["tiers"] + 1, 0]) < 0).all()
    for k in range(STACKS[name]["tiers"]):
        angle = wall.angle[k, 0]
        for edge in (k, k + 1):
            out = (outer.across[edge, 0] - wall.across[k, 0]) / 2
            up = outer.level[edge, 0] - wall.level[k, 0]
            assert out * math.cos(angle) - up * math.sin(angle) == pytest.approx(0.03, abs=1e-12)


def test_mirror_weighs_what_two_rings_of_trapezia_weigh(design: Design) -> None:
    """By hand: four sides, mouth 0.60, 0.40 at the edge half way up, 0.30 at the plate; 0.30 m deep."""
    lower, upper = math.atan(0.05 / 0.15), math.atan(0.10 / 0.15)
    row = {"facets": 4, "tiers": 2, "facet_angle": lower, "second_bend": upper - lower}
    area = 4 * 0.5 * (0.60 + 0.40) * math.hypot(0.15, 0.10) + 4 * 0.5 * (0.40 + 0.30) * math.hypot(0.15, 0.05)
    one = table(design, row)
    catalogue = load_catalogue()
    sheet = catalogue.materials.find("mirrors", "anodised-sheet").numbers
    mass, bought = bill_of(one, materials_of(one, catalogue))["mirror"]
    assert bought[0] == pytest.approx(area + 0.30**2, rel=1e-12)
    assert mass[0] == pytest.approx((area + 0.30**2) * sheet["thickness"] * sheet["density"], rel=1e-12)
    over_box = table(design, row | {"archetype": "funnel over box"})
    shape = shape_of(over_box)
    assert shape.mirror[0] - shape.sheet[0] == pytest.approx(area, rel=1e-12)
    assert shape.cover[0] == pytest.approx(0.30**2, rel=1e-12)
    assert shape.outline[0] == pytest.approx(0.15 * 0.50 + 0.15 * 0.35 + 0.50 * 0.35, rel=1e-12)


def test_wind_meets_the_widest_ring(design: Design, sky: Sky) -> None:
    """Two ovens too broad to tip slide at speeds squared in ratio of mass over presented area, at the worst tilt."""
    base = design.with_factors(base_radius=3.0, axis_height=0.02)
    rows = table(base, NARROW | {"mouth": 0.45}, {"mouth": 0.60, "facet_angle": 20 * DEG})
    found = simulate(rows, sky, rays=8, histories=True)
    tilt = math.pi / 2 - found["aim_elevation"].values
    speed = 1.5 * 2.0 * 0.7 - found["wind_over"].values  # gust factor, weather, share: less the margin
    wall = wall_of(rows)
    edges = [(wall.across[: n + 1, k], wall.level[: n + 1, k]) for k, n in enumerate(rows["tiers"])]
    assert edges[0][0].max() > 1.1 * 0.45
    pushed = [
        np.sin(t) * 2 * math.tan(math.pi / 8) * w.max() ** 2 + np.cos(t) * _profile_area(w, z)
        for t, (w, z) in zip(tilt, edges, strict=True)
    ]
    heavy = found["mass"].values + 0.5
    ratio = heavy[0] / pushed[0].max() / (heavy[1] / pushed[1].max())
    assert (speed[0] / speed[1]) ** 2 == pytest.approx(
        ratio, rel=2e-3
    )  # tilts of the model: five from end to end


# -- light -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("archetype", ["covered funnel", "funnel over box"])
def test_exchange_is_the_same_from_both_ends(design: Design, name: str, archetype: str) -> None:
    """A_i eps_i B_ij = A_j eps_j B_ji among pot, walls and cover, each traced from its own end."""
    one = table(design, STACKS[name] | {"archetype": archetype})
    sent = one_way_areas(
        optics(one),
        pot_up=[[0.0, math.sin(0.5), math.cos(0.5)]],
        pot_emittance=0.9,
        wall_emittance=0.3,
        cover_emittance=0.85,
        rays=1 << 15,
    )[0]
    assert sent == pytest.approx(sent.T, rel=0.02, abs=2e-4)


@pytest.mark.parametrize("name", STACKS)
def test_light_of_an_even_sky_onto_the_pot_goes_both_ways(design: Design, name: str) -> None:
    """Etendue: mouth area times the share of an even hemisphere that a black pot takes, traced from the mouth, is the
    exchange area pot to mouth among perfect mirrors, traced from the pot."""
    one = table(design, STACKS[name])
    ideal = optics(one)._replace(
        cover_interface=-1,
        pot_absorptance=1.0,
        plate_reflectance=1.0,
        wall_reflectance=np.ones(len(optics(one).facet_count)),
    )
    upright = [[0.0, 0.0, 1.0]]
    from_mouth = dome_shares(ideal, pot_up=upright, rays=1 << 16)[0][0, :3].sum() * mouth_area(ideal)
    sent = one_way_areas(
        ideal, pot_up=upright, pot_emittance=1.0, wall_emittance=0.0, cover_emittance=1.0, rays=1 << 16
    )[0]
    assert sent[0, 2] == pytest.approx(from_mouth, rel=0.01)
