"""What must hold of any drive under any sun, and of any sight."""

import datetime as dt
import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from noonhearth.model.aiming import Drive, aim
from noonhearth.model.drive import exposure
from noonhearth.model.drive_parts import Cell
from noonhearth.model.drive_report import assess_drive
from noonhearth.model.sight import Fault, Sight
from noonhearth.model.sun import Place, all_days, clock_window, sun_path

SUN_IN_TEN_SECONDS = math.radians(15) / 360  # rad, the most it moves on the sky

drives = st.builds(
    Drive,
    fin_height=st.floats(0.04, 0.2),
    cell_width=st.floats(0.01, 0.03),
    start_share=st.floats(0.15, 0.6),
    stop_share=st.floats(0.0, 0.1),
    speed=st.floats(5e-4, 0.02),
    elevation_every=st.floats(600.0, 7200.0),
    azimuth_bias=st.floats(-0.1, 0.1),
)
quiet = settings(max_examples=25, deadline=None, derandomize=True)


def course(latitude_deg: float, month: int, hours: tuple[int, int] = (9, 15)) -> np.ndarray:
    place = Place(latitude=math.radians(latitude_deg), longitude=0.0, timezone="UTC")
    dates = [dt.date(2025, month, 15)]
    return sun_path(clock_window(place, dates, *(dt.time(h) for h in hours)), place).to_sun


@quiet
@given(drive=drives, latitude=st.floats(-50, 50), month=st.integers(1, 12), seed=st.integers(1, 99))
def test_the_motor_turns_one_way_at_its_speed(drive: Drive, latitude: float, month: int, seed: int) -> None:
    sun = course(latitude, month)
    assume(sun[..., 2].min() > 0)
    dni = np.random.default_rng(seed).uniform(0, 1000, sun.shape[:2])
    done = aim(drive, sun, dni=dni)
    report = assess_drive(drive, done, dni=dni, base_radius=0.4)
    turned = report.way * np.diff(np.unwrap(done.azimuth[0]))
    assert turned.min() >= -1e-9
    assert turned.max() <= drive.speed * 60 * (1 + 1e-9)
    assert turned.sum() == pytest.approx(drive.speed * done.motor_time[0], abs=1e-9)
    assert report.edge_travel[0] == pytest.approx(0.4 * turned.sum())
    assert 0 <= report.duty <= 1
    assert abs(report.mean_error) <= report.rms_error <= abs(report.worst_error)


@quiet
@given(drive=drives, latitude=st.floats(-50, 50), month=st.integers(1, 12))
def test_in_full_sun_the_cell_is_never_left_lit(drive: Drive, latitude: float, month: int) -> None:
    """Unless the azimuth outruns the drive or turns back, the light stays under what starts the motor.

    Not within 10 deg of the zenith: there the azimuth of the sun swings by more than the dead band in ten seconds.
    """
    sun = course(latitude, month)
    assume(sun[..., 2].max() < math.sin(math.radians(80)))
    dni = np.full(sun.shape[:2], 1000.0)
    done = aim(drive, sun, dni=dni)
    report = assess_drive(drive, done, dni=dni, base_radius=0.3)
    assume(report.speed_ratio > 2 and not report.reverses.any())
    lead = report.way[0] * (done.azimuth_error[0] + drive.azimuth_bias)
    up = sun[0, :, 2]
    lit = [
        exposure(drive.cell.reach, 1000.0, *at)
        for at in zip(lead, done.elevation[0], np.sqrt(1 - up**2), up, strict=True)
    ]
    assert max(lit) <= drive.start_share + drive.cell.reach * SUN_IN_TEN_SECONDS


@quiet
@given(drive=drives, latitude=st.floats(25, 50), month=st.integers(1, 12))
def test_east_and_west_are_alike(drive: Drive, latitude: float, month: int) -> None:
    """In a mirror the drive runs the other way, as far; turned about the vertical it does the same."""
    drive = replace(drive, azimuth_bias=0.0)
    sun = course(latitude, month)
    dni = np.full(sun.shape[:2], 900.0)
    plain, mirrored = (aim(drive, sun * [side, 1, 1], dni=dni) for side in (1, -1))
    assert mirrored.azimuth_error == pytest.approx(-plain.azimuth_error, abs=1e-9)
    assert mirrored.motor_starts == plain.motor_starts
    c, s = math.cos(1.0), math.sin(1.0)
    turned = aim(drive, sun @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]), dni=dni)
    assert turned.azimuth_error == pytest.approx(plain.azimuth_error, abs=1e-6)


@quiet
@given(drive=drives, scale=st.floats(0.5, 2.0))
def test_only_the_fin_over_the_cell_counts(drive: Drive, scale: float) -> None:
    sun, other = course(40, 3), replace(drive, cell_width=drive.cell_width * scale)
    dni = np.full(sun.shape[:2], 900.0)
    assume(scale < 0.95 or scale > 1.05)
    same = replace(other, fin_height=drive.fin_height * scale)
    plain, alike = (aim(d, sun, dni=dni) for d in (drive, same))
    assert alike.azimuth == pytest.approx(plain.azimuth, abs=1e-6)
    assert (other.start_angle > drive.start_angle) == (scale > 1)


def test_a_lower_fin_and_a_weaker_sun_follow_worse() -> None:
    sun = course(40, 9)
    drive = Drive(
        fin_height=0.06,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.05,
        speed=1e-3,
        elevation_every=1800.0,
    )

    def rms(parts: Drive, beam: float) -> float:
        dni = np.full(sun.shape[:2], beam)
        return assess_drive(parts, aim(parts, sun, dni=dni), dni=dni, base_radius=0.3).rms_error

    strong = rms(drive, 1000.0)
    assert rms(replace(drive, fin_height=0.04), 1000.0) == pytest.approx(1.5 * strong, rel=0.15)
    assert rms(drive, 500.0) == pytest.approx(2 * strong, rel=0.2)


def test_the_evening_before_is_where_it_stands() -> None:
    """Three days as rows: each waits in the west for its own afternoon, the first after the third."""
    sun = np.concatenate([course(40, month, (9, 16)) for month in (6, 3, 12)])
    drive = Drive(
        fin_height=0.06,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.05,
        speed=2e-3,
        elevation_every=1800.0,
    )
    dni = np.full(sun.shape[:2], 900.0)
    done = aim(drive, sun, dni=dni)
    report = assess_drive(drive, done, dni=dni, base_radius=0.3)
    azimuth = np.unwrap(np.arctan2(sun[..., 0], sun[..., 1]), axis=1)
    for row, before in enumerate((2, 0, 1)):
        evening = done.azimuth[before, -1]
        if evening > azimuth[row, -1] % (2 * math.pi) + drive.start_angle:
            assert np.isnan(report.from_west[row])  # the day ends before the sun comes there
        else:
            instant = int(report.from_west[row]) // 60
            level = math.hypot(*sun[row, instant, :2])
            there = azimuth[row, instant] % (2 * math.pi)
            assert there - evening == pytest.approx(0, abs=1.3 * drive.start_angle / level)
    assert np.isnan(report.from_west).tolist() == [False, True, True]


def test_a_day_without_sun_has_no_errors() -> None:
    sun = course(40, 3)
    drive = Drive(
        fin_height=0.06,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.05,
        speed=1e-3,
        elevation_every=1800.0,
    )
    dni = np.zeros(sun.shape[:2])
    report = assess_drive(drive, aim(drive, sun, dni=dni), dni=dni, base_radius=0.3)
    none = (report.mean_error, report.worst_off_axis, report.travel_per_step, report.starts_per_hour)
    assert np.isnan([*none, report.from_east[0], report.cloud_recovery[0]]).all()
    assert (report.duty, report.edge_travel[0]) == (0.0, 0.0)


@quiet
@given(
    height=st.floats(0.01, 0.5),
    azimuth=st.floats(-1.0, 1.0),
    elevation_fault=st.floats(-0.3, 0.3),
    elevation=st.floats(0.0, 1.5),
)
def test_a_shadow_tells_both_errors(
    height: float, azimuth: float, elevation_fault: float, elevation: float
) -> None:
    assume(elevation + elevation_fault < 1.5)
    fault = Fault(np.array(azimuth), np.array(elevation_fault))
    sight = Sight(post_height=height)
    offset = sight.offset(fault, elevation)
    back = sight.fault(offset, elevation)
    assert back.azimuth == pytest.approx(azimuth, abs=1e-9)
    assert back.elevation == pytest.approx(elevation_fault, abs=1e-9)
    assert sight.within(np.hypot(*offset)) == pytest.approx(np.arctan(np.hypot(*offset) / height), rel=1e-12)


@quiet
@given(
    volts=st.floats(0.4, 0.8),
    cells=st.integers(1, 40),
    share=st.floats(0.001, 1.0),
    resistance=st.floats(0.5, 1e4),
)
def test_any_cell_gives_back_its_light(volts: float, cells: int, share: float, resistance: float) -> None:
    cell = Cell(open_voltage=volts * cells, full_current=0.2, in_series=cells)
    loaded = cell.voltage_at(share, resistance=resistance)
    assert 0 < loaded < cell.open_voltage_at(share)
    assert loaded <= 0.2 * share * resistance
    assert cell.exposure_for(loaded, resistance=resistance) == pytest.approx(share, rel=1e-6)


@pytest.mark.compiled
def test_a_month_of_driving_is_cheap() -> None:
    """Designs by the thousand each ask for it: a month of driving costs less than its sun path."""
    place = Place(latitude=0.7, longitude=0.0, timezone="UTC")
    begun = time.thread_time()
    sun = sun_path(clock_window(place, all_days([3]), dt.time(8), dt.time(16)), place).to_sun
    sun_time = time.thread_time() - begun
    drive = Drive(
        fin_height=0.06,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.05,
        speed=1e-3,
        elevation_every=1800.0,
    )
    dni = np.full(sun.shape[:2], 900.0)
    aim(drive, sun, dni=dni)
    begun = time.thread_time()
    aim(drive, sun, dni=dni)
    assert time.thread_time() - begun < sun_time
