"""Aiming by hand against closed forms of the sphere.

A sun that runs round the horizon at 15 deg/h (equinox at the pole) moves along a great circle: there lag
and travel have exact answers. Slow suns and the tropics are taken from the real sun's path.
"""

import datetime as dt
import math
from typing import Any

import numpy as np
import pytest

from noonhearth.model.aiming import (
    ByHand,
    Fixed,
    aim,
    oven_frame,
    pot_up,
    to_oven_frame,
)
from noonhearth.model.described import DescriptionError
from noonhearth.model.sun import Place, clock_window, sun_path

LAG = "15 deg/h of the mean sun on a great circle"
RATE = math.radians(15.0) / 3600  # rad/s, the sun's mean motion


def circling(hours: float, step: float, elevation: float = 1e-6, way: float = 1.0) -> np.ndarray:
    """Unit vectors of a sun circling at one elevation. [1, time, 3]"""
    seconds = np.arange(round(hours * 3600 / step) + 1) * step
    azimuth = 1.0 + way * RATE * seconds
    up = np.full_like(azimuth, math.sin(elevation))
    flat = math.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), up], axis=-1)[None]


def by_hand(every_min: float, lead: float, **more: float) -> ByHand:
    return ByHand(azimuth_every=every_min * 60, elevation_every=86_400.0, lead=lead, **more)


@pytest.mark.parametrize(
    ("every_min", "end_error_deg"),
    [(5, 1.25), (10, 2.5), (15, 3.75), (20, 5.0), (30, 7.5), (60, 15.0)],
)
def test_lag_at_the_end_of_an_interval(every_min: int, end_error_deg: float) -> None:
    """15 deg/h times the interval if aimed at its start, half of it if aimed at its middle."""
    sun = circling(2.0, step=1.0)
    late = aim(by_hand(every_min, 0.0), sun, step=1.0)
    middle = aim(by_hand(every_min, 0.5), sun, step=1.0)
    just_before = every_min * 60 - 1  # one second of the sun before it is set anew
    for done, most in ((late, end_error_deg), (middle, end_error_deg / 2)):
        assert math.degrees(done.off_axis[0, just_before]) == pytest.approx(most, abs=0.0043)
        assert math.degrees(done.off_axis.max()) <= most + 1e-9
    assert math.degrees(middle.azimuth_error[0, 0]) == pytest.approx(-end_error_deg / 2, abs=1e-6)


@pytest.mark.parametrize(
    ("every_min", "lead", "cosine"),
    [(30, 0.0, "0.99715"), (60, 0.0, "0.98862"), (30, 0.5, "0.99929"), (60, 0.5, "0.99715")],
)
def test_cosine_loss_of_the_lag(every_min: int, lead: float, cosine: str, published: Any) -> None:
    """sin(a)/a with a = 15 deg/h x interval, or half of it."""
    done = aim(by_hand(every_min, lead), circling(2.0, step=1.0), step=1.0)
    mean = np.cos(done.off_axis[0, : every_min * 60]).mean()
    what = f"mean cosine, re-aimed every {every_min} min, {lead:g} of it ahead [1]"
    published(f"{LAG}, sin(a)/a", what, cosine, mean, within=1e-5, kind="worked")


@pytest.mark.parametrize("elevation_deg", [20.0, 50.0])
def test_lag_shrinks_with_the_suns_own_motion(elevation_deg: float) -> None:
    """On a small circle the lag a in azimuth is 2 asin(cos(elevation) sin(a/2)) on the sky."""
    e = math.radians(elevation_deg)
    done = aim(by_hand(30, 0.0), circling(1.0, step=60.0, elevation=e))
    lag = RATE * 29 * 60
    assert done.off_axis[0, 29] == pytest.approx(2 * math.asin(math.cos(e) * math.sin(lag / 2)), abs=1e-9)
    assert done.azimuth_error[0, 29] == pytest.approx(lag, abs=1e-9)
    assert done.elevation_error == pytest.approx(np.zeros((1, 61)), abs=1e-9)


def test_counts_attention_and_travel() -> None:
    hand = ByHand(azimuth_every=1200.0, elevation_every=3600.0, lead=0.0, visit=90.0)
    done = aim(hand, circling(4.0, step=60.0, elevation=0.5))
    assert (done.azimuth_aimings[0], done.elevation_aimings[0]) == (11, 3)
    assert done.visits[0] == 11  # every third visit sets both
    assert done.attention[0] == 11 * 90.0
    assert done.azimuth_travel[0] == pytest.approx(11 * 1200 * RATE)
    assert done.edge_travel(0.3)[0] == pytest.approx(0.3 * 11 * 1200 * RATE)
    assert done.elevation_travel[0] == pytest.approx(0.0, abs=1e-9)


def test_visits_apart_are_counted_apart() -> None:
    hand = ByHand(azimuth_every=1800.0, elevation_every=2400.0, lead=0.0)
    done = aim(hand, circling(2.0, step=60.0, elevation=0.5))
    assert (done.azimuth_aimings[0], done.elevation_aimings[0], done.visits[0]) == (3, 2, 5)


def test_elevation_goes_with_the_azimuth_where_it_has_no_time_of_its_own() -> None:
    sun = circling(2.0, step=60.0, elevation=0.5)
    done = aim(ByHand(azimuth_every=1500.0), sun)
    assert done.visits[0] == done.azimuth_aimings[0] == done.elevation_aimings[0] == 4


def test_last_setting_looks_only_to_the_end_of_the_cook() -> None:
    done = aim(by_hand(40, 0.5), circling(1.0, step=60.0))
    assert done.azimuth_error[0, 50] == pytest.approx(0.0, abs=1e-9)  # 40 to 60 min, aimed at 50


def test_bias_is_carried_into_every_setting() -> None:
    done = aim(by_hand(10, 0.0, azimuth_bias=0.02, elevation_bias=0.03), circling(1.0, 60.0, elevation=0.5))
    assert done.azimuth_error[0, ::10][:-1] == pytest.approx(np.full(6, -0.02))
    assert done.elevation_error[0] == pytest.approx(np.full(61, -0.03))


def test_nothing_moves_outside_the_cook_or_at_night() -> None:
    sun = circling(3.0, step=60.0, elevation=0.4)
    done = aim(by_hand(10, 0.0), sun, first=60, last=120)
    assert np.ptp(done.azimuth[0, :60]) == 0
    assert np.ptp(done.azimuth[0, 120:]) == 0
    assert done.azimuth_aimings[0] == 5
    dark = sun.copy()
    dark[0, 80:, 2] *= -1
    held = aim(by_hand(10, 0.0), dark, first=60, last=120)
    assert held.azimuth_aimings[0] == 1  # at 70; from 80 on the sun is down
    assert np.ptp(held.azimuth[0, 70:]) == 0


def test_oven_is_set_up_before_sunrise() -> None:
    dark = circling(2.0, 60.0, elevation=0.3)
    dark[0, :25, 2] *= -1
    done = aim(by_hand(20, 0.0), dark)
    assert done.azimuth_error[0, 0] == pytest.approx(0.0, abs=1e-12)
    assert np.ptp(done.azimuth[0, :40]) == 0  # at 20 min the sun is still down
    assert done.azimuth_aimings[0] == 4


def test_elevation_setting_keeps_within_the_stand() -> None:
    sun = circling(1.0, 60.0, elevation=0.2)
    low = aim(by_hand(10, 0.0), sun, least_elevation=0.35)
    assert low.elevation == pytest.approx(np.full((1, 61), 0.35))
    assert low.elevation_error == pytest.approx(np.full((1, 61), -0.15))
    high = aim(by_hand(10, 0.0, elevation_bias=0.4), circling(1.0, 60.0, elevation=1.4))
    assert high.elevation.max() == math.pi / 2
    fixed = aim(Fixed(fixed_azimuth=1.0, fixed_elevation=0.1), sun, least_elevation=0.35)
    assert (fixed.elevation == 0.35).all()


def test_fixed_error_is_the_angle_to_the_sun() -> None:
    sun = circling(4.0, 60.0, elevation=0.7)
    done = aim(Fixed(fixed_azimuth=2.0, fixed_elevation=0.9), sun)
    assert np.cos(done.off_axis) == pytest.approx((done.axis * sun).sum(axis=-1))
    assert (done.visits[0], done.azimuth_travel[0]) == (0, 0.0)


def test_near_the_zenith_the_vector_counts() -> None:
    """20 N at the June solstice: azimuth runs back at 229 deg/h, the sun still moves 13.8 deg/h."""
    place = Place(latitude=math.radians(20), longitude=0.0, timezone="UTC")
    path = sun_path(clock_window(place, [dt.date(2025, 6, 21)], dt.time(11), dt.time(13)), place)
    hand = ByHand(azimuth_every=900.0, elevation_every=900.0, lead=0.5)
    done = aim(hand, path.to_sun)
    assert np.degrees(np.abs(done.azimuth_error)).max() > 15
    # Half of 3.44 deg of motion. Setting the two angles of one past direction is exact, so nothing is added.
    assert np.degrees(done.off_axis).max() < 1.8


def test_refusals() -> None:
    with pytest.raises(ValueError, match="allowed 0 <= first < last"):
        aim(by_hand(10, 0.0), circling(1.0, 60.0), first=60, last=60)
    with pytest.raises(DescriptionError, match="lead"):
        by_hand(10, 1.5)


@pytest.mark.parametrize("elevation", [0.0, 0.6, math.pi / 2])
@pytest.mark.parametrize("azimuth", [0.0, 1.0, 4.0])
def test_oven_frame(azimuth: float, elevation: float) -> None:
    rows = oven_frame(np.array(azimuth), np.array(elevation))
    assert rows @ rows.T == pytest.approx(np.eye(3), abs=1e-15)
    assert np.linalg.det(rows) == pytest.approx(1.0)
    assert rows[0, 2] == 0.0  # x is level
    # y climbs: it is where the axis goes when the elevation is raised
    step = 1e-6
    raised = oven_frame(np.array(azimuth), np.array(elevation + step))[2]
    assert (raised - rows[2]) / step == pytest.approx(rows[1], abs=1e-5)
    # seen by one who looks into the mouth, right is where the axis goes when the azimuth is lowered
    turned = oven_frame(np.array(azimuth - step), np.array(elevation))[2]
    assert (turned - rows[2]) / step == pytest.approx(math.cos(elevation) * rows[0], abs=1e-5)
    up = to_oven_frame(np.array([0.0, 0.0, 1.0]), np.array(azimuth), np.array(elevation))
    assert pot_up(np.array(elevation)) == pytest.approx(up, abs=1e-15)


def test_axis_is_z_at_every_minute() -> None:
    done = aim(by_hand(15, 0.5), circling(3.0, 60.0, elevation=0.8))
    z = to_oven_frame(done.axis, done.azimuth, done.elevation)
    assert z == pytest.approx(np.broadcast_to([0.0, 0.0, 1.0], z.shape), abs=1e-15)
