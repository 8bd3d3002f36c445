"""Many ovens in one call against each by itself: the same bits, whatever its neighbours are."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from noonhearth.model import Design, Drive, Fixed, Sky, Table, load_catalogue, simulate
from noonhearth.model.aiming import pot_up
from noonhearth.model.light import (
    Emittances,
    Optics,
    Ovens,
    angles,
    beam_shares,
    beam_shares_of_many,
    beam_shares_of_ways,
    clearance,
    clearance_in_runs,
    directions,
    dome_shares,
    dome_shares_in_runs,
    exchange_areas,
    exchange_areas_in_runs,
    funnel,
    in_sunlight,
    oven_of,
    runs_of,
    side_by_side,
    stack,
)
from noonhearth.model.light.facets import ledge_flags
from noonhearth.model.light.intake import beam_shares_in_runs
from noonhearth.model.light.ovens import cavities, checked
from noonhearth.model.pack import fits, glint_of, materials_of, optics_of, ovens_of

pytestmark = pytest.mark.compiled

Floats = NDArray[np.float64]

DEG = math.pi / 180
POT = {"pot_radius": 0.08, "pot_height": 0.1, "pot_centre": 0.12}


def tiers(cells: int, **changes: Any) -> Optics:
    """So many cells one below the other, not flush, the lowest a square box."""
    given: dict[str, Any] = {
        "facets": [8, 6, 5, 4][-cells:],
        "across": [(1.0, 0.8), (0.82, 0.6), (0.6, 0.5), (0.55, 0.5)][-cells:],
        "heights": [0.7, 0.5, 0.4, 0.25, 0.0][-cells - 1 :],
        "wall_reflectance": [0.9, 0.85, 0.8, 0.7][-cells:],
        "wall_slope_error": [0.003, 0.0, 0.01, 0.002][-cells:],
        "plate_reflectance": 0.6,
        "plate_slope_error": 0.004,
        "cover_interface": cells - 1,
        "cover_index": 1.5,
        "cover_extinction_length": 0.02,
        "cover_panes": 2,
        "pot_absorptance": 0.9,
        "sun_half_angle": 0.00465,
    }
    return stack(**(given | POT | changes))


def ovens() -> list[Optics]:
    """One to four cells, three to twenty-four facets, covers on the mouth, between cells and none, one pane and two."""
    plain = {"mouth": 0.6, "depth": 0.3, "facet_angle": 25 * DEG, **POT}
    return [
        funnel(facets=8, **plain),
        funnel(facets=24, wall_reflectance=0.9, wall_slope_error=0.01, cover_panes=1, **plain),
        tiers(4),
        funnel(facets=3, cover_panes=2, cover_extinction_length=0.03, pot_absorptance=0.8, **plain),
        tiers(2, cover_panes=1, sun_half_angle=0.0),
        tiers(3, cover_interface=-1),
        funnel(facets=5, plate_reflectance=0.1, **plain),
        funnel(facets=6, cover_panes=1, **(plain | {"facet_angle": -10 * DEG})),  # wider below than above
    ]


ROWS = [1, 40, 7]  # of three groups; no group's rays come to whole blocks
TILTED = pot_up(np.pi / 2 - np.linspace(0.0, 1.2, sum(ROWS)))
ASLANT = np.random.default_rng(3).normal(0.0, 0.05, (sum(ROWS), 2))
TO_SUN = np.column_stack([ASLANT, np.sqrt(1.0 - (ASLANT**2).sum(axis=1))])
SUNS, UPS = directions("to_sun", TO_SUN), directions("pot_up", TILTED)


def groups_of(many: list[Optics]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Every oven over every group, in no order, and some again."""
    oven, group = (part.ravel() for part in np.meshgrid(np.arange(len(many)), np.arange(len(ROWS))))
    order = np.random.default_rng(1).permutation(np.append(np.arange(len(oven)), [2, 5]))
    return oven[order], group[order]


def test_cells_go_side_by_side_and_come_back() -> None:
    together = checked(side_by_side(ovens()))
    assert together.cells.tolist() == [1, 1, 4, 1, 2, 3, 1, 1]
    for row, one in enumerate(ovens()):
        for name, value in oven_of(together, row)._asdict().items():
            np.testing.assert_array_equal(value, getattr(one, name), err_msg=name)
            assert type(value) is type(getattr(one, name)), name
        alone = ledge_flags(side_by_side([one]))[0]
        np.testing.assert_array_equal(ledge_flags(together)[row, : len(alone)], alone)


def test_the_first_oven_that_is_out_of_range_is_named() -> None:
    many = ovens()
    many[4] = many[4]._replace(wall_reflectance=np.array([0.5, 1.5]))
    with pytest.raises(ValueError, match=r"wall_reflectance = \[0.5 1.5\], allowed \[0, 1\]"):
        in_sunlight(side_by_side(many))
    with pytest.raises(ValueError, match="cover_interface = 2, allowed -1 to 1"):
        in_sunlight(side_by_side([many[0], many[2], tiers(2, cover_panes=1)._replace(cover_interface=2)]))
    high = many[5]._replace(bottom_height=np.array([0.4, 0.3, 0.0]))
    with pytest.raises(ValueError, match="unbroken"):
        in_sunlight(side_by_side([many[0], high]))


def test_beam() -> None:
    many = ovens()
    oven, group = groups_of(many)
    runs = runs_of(oven, group, ROWS)
    shares = beam_shares_in_runs(in_sunlight(side_by_side(many)), runs, SUNS, UPS, rays=37, seed=5)
    parts = np.split(shares, np.cumsum(runs.rows)[:-1])
    for k, first, last, part in zip(oven, runs.first, runs.last, parts, strict=True):
        rows = {"to_sun": TO_SUN[first:last], "pot_up": TILTED[first:last]}
        np.testing.assert_array_equal(part, beam_shares(many[k], **rows, rays=37, seed=5))


def test_sky_and_ground() -> None:
    many = ovens()
    oven, group = groups_of(many)
    runs = runs_of(oven, group, ROWS)
    how = {"rays": 64, "ground_rays": 17, "seed": 2}
    both = dome_shares_in_runs(in_sunlight(side_by_side(many)), runs, UPS, **how)
    ends = np.cumsum(runs.rows)[:-1]
    for k, first, last, *parts in zip(
        oven, runs.first, runs.last, *(np.split(part, ends) for part in both), strict=True
    ):
        np.testing.assert_array_equal(parts, dome_shares(many[k], pot_up=TILTED[first:last], **how))


def test_exchange_areas() -> None:
    """A row each, of four emittances each; a plate that sends nothing among them."""
    many = [*ovens(), *ovens()]
    four = np.random.default_rng(7).uniform(0.0, 1.0, (4, len(many)))
    four[2, 3] = four[1, 5] = four[0, 6] = 0.0
    each = np.arange(len(many))
    runs = runs_of(each, each, np.ones_like(each))
    areas = exchange_areas_in_runs(
        side_by_side(many), Emittances(*four), runs, UPS[: len(many)], rays=100, seed=3
    )
    for k, one in enumerate(many):
        names = ("pot_emittance", "wall_emittance", "plate_emittance", "cover_emittance")
        given = dict(zip(names, four[:, k].tolist(), strict=True))
        alone = exchange_areas(one, pot_up=TILTED[k : k + 1], rays=100, seed=3, **given)
        np.testing.assert_array_equal(areas[k], alone[0])


def test_clearance_and_where_its_search_may_end() -> None:
    many = ovens()
    oven, group = groups_of(many)
    runs = runs_of(oven, group, ROWS)
    together = side_by_side(many)
    gaps, rough = (clearance_in_runs(together, runs, UPS, enough=enough) for enough in (math.inf, 0.05))
    parts = np.split(gaps, np.cumsum(runs.rows)[:-1])
    for k, first, last, part in zip(oven, runs.first, runs.last, parts, strict=True):
        np.testing.assert_array_equal(part, clearance(many[k], pot_up=TILTED[first:last]))
    np.testing.assert_array_equal(rough[gaps < 0.05], gaps[gaps < 0.05])
    assert (rough[gaps >= 0.05] >= 0.05).all()
    assert (rough <= gaps).all()
    assert (rough < gaps).any()
    assert 0.2 < (gaps < 0.05).mean() < 0.8


def test_ways_that_are_read_from_a_table_beside_ways_that_are_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(angles, "NODE_RAYS", 1)
    off = np.linspace(-0.02, 0.02, 200)
    near = np.stack([off[::-1], off, np.sqrt(1 - 2 * off**2)], axis=1)
    near[0] = [0.0, 0.6, -0.8]
    wide = np.random.default_rng(2).normal(size=(200, 3))
    wide = np.abs(wide) / np.linalg.norm(wide, axis=1, keepdims=True)
    to_sun = np.stack([near, wide, near[::-1]])
    tilt = np.stack([np.full(200, 0.4), np.linspace(0.0, 1.5, 200), np.full(200, 0.6)])
    upright = pot_up(np.pi / 2 - tilt)
    suns, ups = (directions("rows", rows.reshape(-1, 3)).reshape(rows.shape) for rows in (to_sun, upright))
    plans = [angles._plan(suns[way], ups[way]) for way in range(3)]
    assert [plan is not None for plan in plans] == [True, False, True]
    many = ovens()[:4]
    oven, way = np.array([1, 3, 0, 2, 2, 1]), np.array([0, 1, 2, 0, 1, 2])
    shares = beam_shares_of_ways(in_sunlight(side_by_side(many)), oven, way, suns, ups, rays=4, seed=9)
    for k, w, part in zip(oven, way, shares, strict=True):
        alone = beam_shares_of_many(many[k], to_sun=to_sun[w], pot_up=upright[w], rays=4, seed=9)
        np.testing.assert_array_equal(part, alone)


def varied(design: Design, rows: int) -> dict[str, NDArray[Any]]:
    """Columns of designs that differ in all that light can see, and that for the most part can be built."""
    draw = np.random.default_rng(11)
    return {
        "facets": draw.integers(3, 17, rows),
        "facet_angle": draw.uniform(10 * DEG, 35 * DEG, rows),
        "tiers": draw.integers(1, 4, rows),
        "second_bend": draw.uniform(-15 * DEG, 15 * DEG, rows),
        "third_bend": draw.uniform(-10 * DEG, 10 * DEG, rows),
        "archetype": np.array(draw.choice(["covered funnel", "funnel over box"], rows), object),
        "box_across": np.full(rows, 0.5),
        "box_lining": np.array(draw.choice(["dark", "mirror"], rows), object),
        "back_plate": np.array(draw.choice(["dark", "mirror"], rows), object),
        "panes": draw.integers(1, 3, rows),
        "slope_error": np.where(draw.random(rows) < 0.3, np.nan, draw.uniform(0.001, 0.02, rows)),
        "fog": np.where(draw.random(rows) < 0.5, 0.0, 0.2),
        "pot_diameter": draw.uniform(0.1, 0.16, rows),
        "pot_height": draw.uniform(0.08, 0.12, rows),
        "pot_lift": draw.uniform(0.05, 0.08, rows),
    }


def test_columns_of_a_table_make_the_ovens_that_its_rows_make(design: Design) -> None:
    """Heights, widths and mirrors of each cell; the stack built up by hand from one row's own wall."""
    rows = 40
    table = Table(design, varied(design, rows), rows)
    glints = np.column_stack(glint_of(table, materials_of(table, load_catalogue())))[fits(table) == 0]
    many = checked(ovens_of(glints))
    assert set(many.cells.tolist()) == {1, 2, 3, 4}
    for row, alone in enumerate(optics_of(glints)):
        [one] = optics_of(glints[row : row + 1])
        for name, value in one._asdict().items():
            np.testing.assert_array_equal(value, getattr(alone, name), err_msg=name)
    assert_same(cavities(many), side_by_side([oven_of(cavities(many), k) for k in range(len(glints))]))


def assert_same(one: Ovens, other: Ovens) -> None:
    """The same ovens, in so far as their cells count."""
    for row in range(len(one.cells)):
        for a, b in zip(oven_of(one, row), oven_of(other, row), strict=True):
            np.testing.assert_array_equal(a, b)


DRIVE = Drive(
    fin_height=0.3, cell_width=0.02, start_share=0.2, stop_share=0.1, speed=2e-3, elevation_every=1200.0
)
AIMINGS = {
    "by hand": (None, {"azimuth_every": [600.0, 1500.0, 3600.0], "azimuth_bias": [0.0, 0.04, 0.0]}),
    "drive": (DRIVE, {"fin_height": [0.1, 0.2, 0.3], "start_share": [0.2, 0.25, 0.3, 0.05]}),
    "fixed": (
        Fixed(fixed_azimuth=180 * DEG, fixed_elevation=70 * DEG),
        {"fixed_elevation": [60 * DEG, 72.5 * DEG, 90 * DEG]},
    ),
}


@pytest.mark.parametrize("kind", AIMINGS)
def test_a_row_of_a_table_is_the_design_by_itself(kind: str, design: Design, sky: Sky) -> None:
    """Every variable of every row to the last bit, what became of light, aim and heat minute by minute among them."""
    aiming, columns = AIMINGS[kind]
    base = design if aiming is None else replace(design, aiming=aiming)
    rows = 24
    cycled = {name: np.resize(values, rows) for name, values in columns.items()}
    table = Table(base, varied(base, rows) | cycled, rows)
    many = simulate(table, sky, rays=2, histories=True)
    ran = np.flatnonzero(many["status"] == 0)
    assert len(ran) >= 4
    for row in ran:
        alone = simulate(table.take([row]), sky, rays=2, histories=True)
        for name in alone.data_vars:
            one = many[name].isel(design=[row]) if "design" in many[name].dims else many[name]
            np.testing.assert_array_equal(one, alone[name], err_msg=f"{name} of {row}")
