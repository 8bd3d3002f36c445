"""Ways of drawn rays against geometry worked out by hand, and outlines of the cut against the oven's own measures."""

import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import section_of_day
from noonhearth.model.light import Optics, Surface, beam_shares, funnel, in_section, ray_paths, stack
from noonhearth.model.pack import optics_of_design
from noonhearth.studies.config import load
from noonhearth.studies.setting import Setting

ON_IT = 1e-9  # m
UP = [0.0, 0.0, 1.0]
TILTED = [0.0, math.sin(0.7), math.cos(0.7)]
BOX = {"archetype": "funnel over box", "box_across": 0.4, "box_depth": 0.24}


def speck(facets: int, psi: float, *, mouth: float = 0.6, depth: float = 0.3) -> Optics:
    """A funnel with perfect mirrors and a speck of dust for a pot, over a black plate."""
    dust = {"pot_radius": 1e-6, "pot_height": 1e-6, "pot_centre": 0.001}
    return funnel(facets=facets, mouth=mouth, depth=depth, facet_angle=psi, plate_reflectance=0.0, **dust)


def ordinary(facets: int) -> Optics:
    pot = {"pot_radius": 0.08, "pot_height": 0.12, "pot_centre": 0.14}
    return funnel(
        facets=facets,
        mouth=0.6,
        depth=0.3,
        facet_angle=0.5,
        wall_reflectance=0.9,
        plate_reflectance=0.8,
        **pot,
    )


@pytest.mark.parametrize("degrees", [10.0, 20.0, 27.0])
@pytest.mark.parametrize("y", [0.29, -0.26, 0.22])
def test_a_ray_down_the_axis_strikes_where_lines_meet(degrees: float, y: float) -> None:
    """It meets the facet at the height where the wall is as wide, leaves 2 psi from the axis, and goes on straight."""
    psi = math.radians(degrees)
    optics = speck(8, psi)
    path = ray_paths(optics, starts=[[0.0, y]], to_sun=UP, pot_up=UP)
    half_throat = 0.3 - 0.3 * math.tan(psi)
    strikes = (abs(y) - half_throat) / math.tan(psi)
    if strikes < 0:  # inside the throat: down to the plate
        np.testing.assert_allclose(path.corners[0, 1], [0.0, y, 0.0], atol=1e-12)
        return
    np.testing.assert_allclose(path.corners[0, 1], [0.0, y, strikes], atol=1e-12)
    assert path.surface[0, :2].tolist() == [-1, Surface.WALLS]
    across = y - math.copysign(strikes * math.tan(2 * psi), y)
    assert abs(across) < half_throat, "the case is chosen so that the plate is next"
    np.testing.assert_allclose(path.corners[0, 2], [0.0, across, 0.0], atol=1e-12)
    assert path.ends[0] == Surface.PLATE


def surfaces_at(optics: Optics, point: np.ndarray, up: np.ndarray) -> set[int]:
    """Surfaces of a single frustum that a point lies on, by their equations."""
    n, x, y, z = int(optics.facet_count[0]), *point
    azimuth = 2 * np.pi * np.arange(n) / n
    tangent = (optics.top_across[0] - optics.bottom_across[0]) / 2 / optics.top_height[0]
    beyond = np.max(np.sin(azimuth) * x + np.cos(azimuth) * y) - optics.bottom_across[0] / 2 - tangent * z
    centre = point - np.array([0.0, 0.0, optics.pot_centre])
    along = float(centre @ up)
    out, half = float(np.linalg.norm(centre - along * up)) - optics.pot_radius, optics.pot_height / 2
    found = {Surface.WALLS} if abs(beyond) < ON_IT else set()
    found |= {Surface.PLATE} if abs(z) < ON_IT else set()
    found |= {Surface.LOST} if abs(z - optics.top_height[0]) < ON_IT else set()
    found |= {Surface.SIDE} if abs(out) < ON_IT and abs(along) <= half + ON_IT else set()
    found |= {Surface.LID} if abs(along - half) < ON_IT and out < ON_IT else set()
    found |= {Surface.BOTTOM} if abs(along + half) < ON_IT and out < ON_IT else set()
    return {int(surface) for surface in found}


def in_the_clear(optics: Optics, points: np.ndarray, up: np.ndarray) -> bool:
    """Whether points lie inside walls, plate and mouth, and outside the pot."""
    n = int(optics.facet_count[0])
    azimuth = 2 * np.pi * np.arange(n) / n
    tangent = (optics.top_across[0] - optics.bottom_across[0]) / 2 / optics.top_height[0]
    reach = optics.bottom_across[0] / 2 + tangent * points[:, 2]
    inside = np.max(points[:, :2] @ np.stack([np.sin(azimuth), np.cos(azimuth)]), axis=1) < reach + ON_IT
    centre = points - [0.0, 0.0, optics.pot_centre]
    along = centre @ up
    out = np.linalg.norm(centre - along[:, None] * up, axis=1)
    in_pot = (out < optics.pot_radius - ON_IT) & (np.abs(along) < optics.pot_height / 2 - ON_IT)
    return bool((inside & ~in_pot & (points[:, 2] > -ON_IT)).all())


@pytest.mark.parametrize("facets", [7, 8])
@pytest.mark.parametrize("to_sun", [UP, [0.1, -0.15, math.sqrt(1 - 0.0325)]], ids=["on axis", "off axis"])
def test_every_flight_ends_on_the_first_thing_in_its_way(facets: int, to_sun: list[float]) -> None:
    optics, up = ordinary(facets), np.array(TILTED)
    paths = ray_paths(optics, starts=in_section(optics, 60), to_sun=to_sun, pot_up=TILTED)
    for corners, surfaces, end in zip(paths.corners, paths.surface, paths.ends, strict=True):
        count = int(np.isfinite(corners[:, 0]).sum())
        assert count > 1
        for k in range(1, count):
            assert int(surfaces[k]) in surfaces_at(optics, corners[k], up)
            step = np.linspace(0.001, 0.999, 150)[:, None]
            assert in_the_clear(optics, corners[k - 1] + step * (corners[k] - corners[k - 1]), up)
        assert end == surfaces[count - 1]


@pytest.mark.parametrize("facets", [7, 8])
def test_mirrors_send_rays_back_at_the_angle_they_came(facets: int) -> None:
    optics = ordinary(facets)
    paths = ray_paths(
        optics, starts=in_section(optics, 60), to_sun=[0.1, 0.0, math.sqrt(0.99)], pot_up=TILTED
    )
    psi, seen = 0.5, 0
    for corners, surfaces in zip(paths.corners, paths.surface, strict=True):
        for k in np.flatnonzero(surfaces == Surface.WALLS):
            if k + 1 >= len(corners) or np.isnan(corners[k + 1, 0]):
                continue
            towards, away = corners[k] - corners[k - 1], corners[k + 1] - corners[k]
            turn = away / np.linalg.norm(away) - towards / np.linalg.norm(towards)
            azimuth = 2 * np.pi * np.arange(facets) / facets
            facet = int(np.argmax(np.sin(azimuth) * corners[k, 0] + np.cos(azimuth) * corners[k, 1]))
            lean = math.cos(psi)
            normal = [-lean * math.sin(azimuth[facet]), -lean * math.cos(azimuth[facet]), math.sin(psi)]
            np.testing.assert_allclose(turn / np.linalg.norm(turn), normal, atol=1e-9)
            seen += 1
    assert seen > 30


def test_the_ways_lead_where_the_shares_of_light_say() -> None:
    """Perfect mirrors and a black pot: the share of rays that end on it is the share of light it takes."""
    optics = ordinary(24)._replace(
        wall_reflectance=np.ones(1), plate_reflectance=1.0
    )  # its mouth is all but round
    number = np.arange(1024) + 0.5
    radius, turn = 0.3 * np.sqrt(number / 1024), number * math.pi * (3 - math.sqrt(5))
    circle = np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])
    ends = ray_paths(optics, starts=circle, to_sun=UP, pot_up=TILTED).ends
    shares = beam_shares(optics, to_sun=[UP], pot_up=[TILTED], rays=1 << 14)[0]
    for surface in (Surface.LID, Surface.SIDE, Surface.BOTTOM, Surface.LOST):
        assert (ends == surface).mean() == pytest.approx(shares[surface], abs=0.02)


def test_a_cover_under_an_open_funnel_is_passed_straight() -> None:
    box = stack(
        facets=[8, 4],
        across=[(0.6, 0.36), (0.4, 0.4)],
        heights=[0.5, 0.25, 0.0],
        wall_reflectance=[1.0, 1.0],
        wall_slope_error=[0.0, 0.0],
        plate_reflectance=0.0,
        plate_slope_error=0.0,
        cover_interface=1,
        cover_index=1.5,
        cover_extinction_length=0.0,
        cover_panes=1,
        pot_radius=0.05,
        pot_height=0.05,
        pot_centre=0.1,
        pot_absorptance=1.0,
        sun_half_angle=0.0,
    )
    paths = ray_paths(box, starts=[[0.0, 0.1], [0.0, -0.11], [0.02, 0.12]], to_sun=UP, pot_up=UP)
    through = [
        corners[:3] for corners, end in zip(paths.corners, paths.ends, strict=True) if end == Surface.PLATE
    ]
    assert through, "most of such rays pass the pane"
    for start, at_cover, floor in through:
        np.testing.assert_allclose(at_cover, [start[0], start[1], 0.25], atol=1e-12)
        np.testing.assert_allclose(floor, [start[0], start[1], 0.0], atol=1e-12)
    assert (paths.surface[:, 1] == Surface.COVER).all()


def test_light_that_comes_back_to_the_pane_is_out() -> None:
    """Of what meets one clear pane from within nine tenths pass: such a ray has ended outside, not on the cover."""
    pot = {"pot_radius": 0.02, "pot_height": 0.02, "pot_centre": 0.05}
    optics = funnel(facets=8, mouth=0.6, depth=0.3, facet_angle=0.5, cover_panes=1, **pot)
    paths = ray_paths(optics, starts=in_section(optics, 40), to_sun=UP, pot_up=UP)
    last = [int(np.isfinite(corners[:, 0]).sum()) - 1 for corners in paths.corners]
    at_pane = np.array([corners[k, 2] > 0.3 - ON_IT for corners, k in zip(paths.corners, last, strict=True)])
    assert at_pane.sum() > 20
    assert (paths.ends[at_pane] == Surface.LOST).all()
    assert (paths.ends[~at_pane] != Surface.LOST).all()


def test_rays_beside_the_mouth_are_refused() -> None:
    with pytest.raises(ValueError, match=r"\(0, 0.31\) m, beside a mouth of 0.6 m"):
        ray_paths(ordinary(8), starts=[[0.0, 0.31]], to_sun=UP, pot_up=UP)
    with pytest.raises(ValueError, match="needs"):
        ray_paths(ordinary(8), starts=np.zeros((0, 2)), to_sun=UP, pot_up=UP)


def test_no_light_enters_from_behind() -> None:
    paths = ray_paths(ordinary(8), starts=[[0.0, 0.1]], to_sun=[0.0, 0.0, -1.0], pot_up=UP)
    assert paths.ends.tolist() == [Surface.LOST]


@pytest.fixture(scope="module")
def setting() -> Setting:
    return load(Path(__file__).parents[1] / "oven.toml").setting


def cut(setting: Setting, **factors: object) -> xr.Dataset:
    design = setting.design.with_factors(**factors)
    return section_of_day(design, setting.sky, 1, catalogue=setting.catalogue)


def gap(line: np.ndarray, point: np.ndarray) -> float:
    """Distance of a point from the straight through two others."""
    a, b = line
    return float(abs((b - a)[0] * (point - a)[1] - (b - a)[1] * (point - a)[0]) / np.linalg.norm(b - a))


@pytest.mark.parametrize("thickness", [0.02, 0.07])
def test_the_insulation_is_as_thick_as_described(setting: Setting, thickness: float) -> None:
    lines = cut(setting, insulation_thickness=thickness)["outline"].sel(outline_part="insulation").to_numpy()
    left_mouth, left_throat, right_throat, right_mouth, skin_mouth, skin_low = lines[:6]
    assert gap(lines[2:4], skin_low) == pytest.approx(thickness, rel=1e-9)
    assert gap(lines[2:4], skin_mouth) == pytest.approx(thickness, rel=1e-9)
    assert skin_low[1] == pytest.approx(-thickness)
    assert right_mouth.tolist() == pytest.approx([0.3, 0.3])
    assert right_throat.tolist() == pytest.approx([0.3 - 0.3 / math.sqrt(3), 0.0], abs=1e-12)  # 30 deg
    np.testing.assert_allclose(left_mouth * [-1, 1], right_mouth)
    np.testing.assert_allclose(left_throat * [-1, 1], right_throat, atol=1e-15)


def test_an_odd_funnel_shows_a_corner_below(setting: Setting) -> None:
    lines = cut(setting, facets=7)["outline"].sel(outline_part="cover").to_numpy()[:2]
    assert lines[:, 0].tolist() == pytest.approx([-0.3 / math.cos(math.pi / 7), 0.3])


def test_a_box_is_insulated_on_all_sides(setting: Setting) -> None:
    found = cut(setting, **BOX)
    lines = found["outline"].sel(outline_part="insulation").to_numpy()
    lines = lines[np.isfinite(lines[:, 0])]
    low, high = lines.min(axis=0), lines.max(axis=0)
    assert [low[0], high[0]] == pytest.approx([-0.25, 0.25])  # 0.4 m and twice 50 mm
    assert [low[1], high[1]] == pytest.approx([-0.05, 0.29])
    assert float(found["cover_height"]) == 0.24
    edges = zip(
        *(found[f"plan_{name}"].to_numpy().tolist() for name in ("part", "across", "facets")), strict=True
    )
    assert list(edges)[:2] == [("jacket", pytest.approx(0.5), 4), ("mirror", pytest.approx(0.6), 8)]
    assert found["plan_part"].to_numpy()[-1] == "box"


def test_rays_in_the_cut_stay_in_it_until_the_pot(setting: Setting) -> None:
    """With flat facets, the sun on the axis and an even number of facets nothing turns a ray sideways."""
    found = cut(setting, slope_error=0.0)
    paths = found["ray_path"].isel(moment=0).to_numpy()[found["ray_in_section"].to_numpy() == 1]
    assert np.abs(paths[:, :2, 0]).max() < 1e-12
    np.testing.assert_allclose(paths[:, 0, 1], paths[:, 1, 1], atol=1e-12)  # down the axis
    assert float(found["moment_off_axis"][0]) == 0.0
    assert float(found["moment_off_axis"][1]) > 0.0


def test_the_worst_aim_is_the_worst_of_the_bright_day(setting: Setting) -> None:
    day = setting.simulated(histories=True).isel(design=0, day=1)
    bright = day["dni"] >= 0.5 * day["dni"].max()
    found = cut(setting)
    assert float(found["moment_off_axis"][1]) == pytest.approx(float(day["aim_off_axis"].where(bright).max()))
    first = found["ray_path"].isel(moment=1, ray=3).to_numpy()
    flight = (first[1] - first[0]) / np.linalg.norm(first[1] - first[0])
    assert math.acos(-flight[2]) == pytest.approx(float(found["moment_off_axis"][1]), abs=1e-9)


TIERS = {"tiers": 3, "facets": 7, "facet_angle": 0.3, "second_bend": 0.2, "third_bend": -0.1}


def depth_inside(optics: Optics, points: np.ndarray) -> np.ndarray:
    """How far points lie inside the nearest wall of the cell they are in, by height; of a boundary, the wider cell."""
    found = np.full(len(points), -np.inf)
    for k in range(len(optics.facet_count)):
        top, bottom = optics.top_height[k], optics.bottom_height[k]
        azimuth = 2 * np.pi * np.arange(optics.facet_count[k]) / optics.facet_count[k]
        tangent = (optics.top_across[k] - optics.bottom_across[k]) / 2 / (top - bottom)
        reach = optics.bottom_across[k] / 2 + tangent * (points[:, 2] - bottom)
        room = reach - np.max(points[:, :2] @ np.stack([np.sin(azimuth), np.cos(azimuth)]), axis=1)
        room *= math.cos(math.atan(tangent))
        here = (points[:, 2] < top + ON_IT) & (points[:, 2] > bottom - ON_IT)
        found = np.where(here, np.maximum(found, room), found)
    return found


def pot_depth(optics: Optics, points: np.ndarray, up: np.ndarray) -> np.ndarray:
    """How far points lie inside the pot; below zero outside."""
    centre = points - [0.0, 0.0, optics.pot_centre]
    along = centre @ up
    out = np.linalg.norm(centre - along[:, None] * up, axis=1)
    return np.asarray(np.minimum(optics.pot_radius - out, optics.pot_height / 2 - np.abs(along)))


@pytest.mark.parametrize("factors", [BOX, TIERS, TIERS | BOX], ids=["box", "three tiers", "tiers over a box"])
def test_ways_through_several_cells_end_on_walls_openings_and_pot(
    setting: Setting, factors: dict[str, object]
) -> None:
    """Every corner lies on a wall, on the pot or where two cells or the cover meet; between them lies nothing."""
    design = setting.design.with_factors(**factors)
    optics, up = optics_of_design(design, setting.catalogue), np.array(TILTED)
    levels = np.array([*optics.top_height, 0.0])
    paths = ray_paths(
        optics, starts=in_section(optics, 40), to_sun=[0.05, 0.1, math.sqrt(0.9875)], pot_up=TILTED
    )
    met = set()
    for corners, surfaces in zip(paths.corners, paths.surface, strict=True):
        count = int(np.isfinite(corners[:, 0]).sum())
        for k in range(1, count):
            here = corners[k : k + 1]
            on_wall = abs(depth_inside(optics, here)[0]) < ON_IT
            on_pot = abs(pot_depth(optics, here, up)[0]) < ON_IT
            at_level = np.abs(levels - here[0, 2]).min() < ON_IT
            assert on_wall or on_pot or at_level
            assert on_pot == (0 <= surfaces[k] <= Surface.BOTTOM)
            step = np.linspace(0.002, 0.998, 120)[:, None]
            points = corners[k - 1] + step * (corners[k] - corners[k - 1])
            assert depth_inside(optics, points).min() > -ON_IT
            assert pot_depth(optics, points, up).max() < ON_IT
            met.add(int(surfaces[k]))
    assert {int(Surface.WALLS), int(Surface.SIDE)} <= met
