"""A table of angles against long traces, and its splines against scipy's."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from noonhearth.model.aiming import ByHand, Fixed, aim, pot_up, to_oven_frame
from noonhearth.model.light import Surface, beam_shares, beam_shares_of_many, funnel
from noonhearth.model.light.angles import Grid, read

Array = NDArray[np.float64]

DAYS, STEPS = 122, 391
POT = [Surface.LID, Surface.SIDE, Surface.BOTTOM]
OVEN = funnel(
    facets=7,
    mouth=0.6,
    depth=0.3,
    facet_angle=math.radians(27.0),
    wall_reflectance=0.88,
    wall_slope_error=0.003,
    plate_reflectance=0.88,
    cover_panes=1,
    cover_extinction_length=0.0125,
    pot_radius=0.09,
    pot_height=0.10,
    pot_centre=0.12,
    pot_absorptance=0.93,
)


def sun_over(latitude: float) -> Array:
    """Directions to the sun on every third day of a year, each minute around noon; declination by a sine."""
    day, hour = np.arange(DAYS)[:, None] * 3.0, np.radians((np.arange(STEPS) - STEPS // 2) / 4.0)
    declination = math.radians(23.45) * np.sin(2 * np.pi * (284 + day) / 365)
    east = -np.cos(declination) * np.sin(hour)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(declination) * np.cos(hour)
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    return np.stack(np.broadcast_arrays(east, north, up), axis=-1)


def rows(aiming: ByHand | Fixed) -> tuple[Array, Array]:
    sun = sun_over(math.radians(14))
    setting = aim(aiming, sun, step=60.0)
    return to_oven_frame(sun, setting.azimuth, setting.elevation).reshape(-1, 3), pot_up(
        setting.elevation
    ).reshape(-1, 3)


def test_few_rows_are_traced_one_by_one() -> None:
    suns, ups = (part[:STEPS] for part in rows(ByHand(azimuth_every=1200.0)))
    found = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=16)
    assert np.array_equal(found, beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=16))


def test_rows_that_share_no_angles_are_traced_one_by_one() -> None:
    suns, ups = rows(Fixed(fixed_azimuth=math.pi, fixed_elevation=0.9))
    found = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=1)
    assert np.array_equal(found, beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=1))


@pytest.mark.parametrize("minutes", [10, 25])
def test_table_gives_the_days_a_long_trace_gives(minutes: int) -> None:
    suns, ups = rows(ByHand(azimuth_every=60.0 * minutes))
    read_from = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=32)
    one_by_one = beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=32)
    long = beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=256, seed=9)
    assert not np.array_equal(read_from, one_by_one)
    assert np.abs(read_from.sum(axis=1) - 1.0).max() < 1e-12
    of_pot, of_long = (s[:, POT].sum(axis=1).reshape(DAYS, STEPS) for s in (read_from, long))
    assert np.std(of_pot.mean(axis=1) / of_long.mean(axis=1) - 1) < 0.003
    assert of_pot.mean() == pytest.approx(of_long.mean(), rel=0.004)
    scatter = np.std(one_by_one[:, POT].sum(axis=1) - long[:, POT].sum(axis=1))
    assert np.std(of_pot - of_long) < 0.5 * scatter
    for surface in Surface:
        assert read_from[:, surface].mean() == pytest.approx(long[:, surface].mean(), abs=0.002)


def test_sun_behind_the_mouth_and_far_off_rows_are_not_read_from_the_table() -> None:
    suns, ups = rows(ByHand(azimuth_every=600.0))
    suns[5], suns[6] = [0.0, 0.6, -0.8], [0.6, 0.0, 0.8]
    found = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=32)
    assert found[5].tolist() == [0.0] * Surface.LOST + [1.0]
    alone = beam_shares(OVEN, to_sun=suns[6:7], pot_up=ups[6:7], rays=4096)
    assert found[6, POT].sum() == pytest.approx(alone[0, POT].sum(), abs=0.15)  # 32 rays


def test_rows_that_differ_in_one_angle_alone_are_read_as_well() -> None:
    """A drive that is never late, at one tilt and then at many: the table is as thin as it gets."""
    tilt = np.repeat([0.5], 20_000)
    for spread in (0.0, 0.3):
        tilt = tilt + spread * np.linspace(-1, 1, 20_000)
        ups = np.stack([0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1)
        suns = np.tile([0.0, 0.0, 1.0], (20_000, 1))
        found = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=32)
        long = beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=128, seed=9)
        assert not np.array_equal(found, beam_shares(OVEN, to_sun=suns, pot_up=ups, rays=32))
        assert found[:, POT].sum(axis=1).mean() == pytest.approx(long[:, POT].sum(axis=1).mean(), rel=0.005)


def test_both_sides_are_alike() -> None:
    suns, ups = rows(ByHand(azimuth_every=600.0))
    other = suns * [-1.0, 1.0, 1.0]
    one = beam_shares_of_many(OVEN, to_sun=suns, pot_up=ups, rays=32)
    inside = np.abs(suns[:, 0]) < np.quantile(np.abs(suns[:, 0]), 0.98)
    inside &= np.abs(suns[:, 1]) < 0.9 * np.abs(suns[:, 1]).max()
    assert np.array_equal(one[inside], beam_shares_of_many(OVEN, to_sun=other, pot_up=ups, rays=32)[inside])


@pytest.mark.plain
def test_splines_are_those_of_scipy() -> None:
    """Within the nodes, with values mirrored about the end nodes: scipy.ndimage.map_coordinates, order 3, "mirror"."""
    draw = np.random.default_rng(3)
    grid = Grid(np.array([0.1, 0.0, -0.05]), np.array([0.26, 0.026, 0.026]), (5, 4, 7))
    values = 0.5 + draw.random((*grid.counts, len(Surface)))
    values /= values.sum(axis=-1, keepdims=True)
    place = draw.uniform([1.0, 0.0, 1.0], [3.0, 2.0, 5.0], (400, 3))
    tilt, across, along = (grid.start + grid.step * place).T
    suns = np.stack([-across, along, np.sqrt(1 - across**2 - along**2)], axis=1)
    ups = np.stack([0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1)
    found = read(grid, values.reshape(-1, len(Surface)), suns, ups)
    for surface in Surface:
        wanted = map_coordinates(values[..., surface], place.T, order=3, mode="mirror")
        assert found[:, surface] == pytest.approx(wanted, abs=1e-12)
