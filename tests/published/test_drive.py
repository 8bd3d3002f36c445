"""The drive, its parts and the sight against closed forms, a reference library and what builders report.

A sun that runs round the horizon at 15 deg/h (equinox at the pole) moves along a great circle: there dead band,
steps and travel have exact answers. The sun's azimuth is held against the formulas of spherical astronomy.
"""

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pvlib
import pytest

from noonhearth.model.aiming import Aim, Drive, aim, oven_frame, to_oven_frame
from noonhearth.model.constants import SUN_HALF_ANGLE
from noonhearth.model.described import DescriptionError
from noonhearth.model.drive import exposure
from noonhearth.model.drive_parts import Cell, DriveTrain, Motor, start_and_stop
from noonhearth.model.drive_report import DriveReport, assess_drive
from noonhearth.model.sight import Fault, Sight
from noonhearth.model.sun import Place, clock_window, sun_path

RATE = math.radians(15.0) / 3600  # rad/s, the sun's mean motion
TEN_SECONDS = RATE * 10  # the motor starts on a sub-step


def circling(
    hours: float, elevation: float = 1e-6, way: float = 1.0, rate: float = RATE, since: float = 1.0
) -> np.ndarray:
    """Unit vectors of a sun circling at one elevation, minute by minute. [1, time, 3]"""
    azimuth = since + way * rate * 60 * np.arange(round(hours * 60) + 1)
    up = np.full_like(azimuth, math.sin(elevation))
    flat = math.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), up], axis=-1)[None]


def drive(**change: float) -> Drive:
    parts = {
        "fin_height": 0.10,
        "cell_width": 0.02,
        "start_share": 0.6,
        "stop_share": 0.2,
        "speed": 0.01,
        "elevation_every": 86_400.0,
    }
    return Drive(**(parts | change))


def driven(parts: Drive, sun: np.ndarray, dni: float = 1000.0, **window: int) -> Aim:
    return aim(parts, sun, dni=np.full(sun.shape[:2], dni), **window)


def assessed(parts: Drive, sun: np.ndarray, dni: float = 1000.0, **more: float) -> DriveReport:
    beam = np.full(sun.shape[:2], dni)
    return assess_drive(parts, aim(parts, sun, dni=beam), dni=beam, base_radius=0.3, **more)


# share x width / height = tan(e) lights the share, times cos(e) for the slant: sin(e)
START, STOP = math.asin(0.6 * 0.2), math.asin(0.2 * 0.2)


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["clockwise", "anticlockwise"])
def test_dead_band_of_the_shaded_cell(way: float) -> None:
    done = driven(drive(), circling(6.0, way=way))
    error = way * done.azimuth_error[0]
    assert error.max() <= START + TEN_SECONDS
    assert error.max() > START - 60 * RATE  # minutes are sampled: the peak may fall between
    first = int(np.argmax(error > START - 2 * 60 * RATE)) + 3
    assert error[first:].min() >= STOP - 1e-9
    # from one start to the next the sun goes from the stop angle to the start angle, to the next 10 s
    cycle = math.ceil((START - STOP) / TEN_SECONDS - 1e-9) * 10
    begun = 1 + math.floor((6 * 3600 - math.ceil(START / TEN_SECONDS) * 10) / cycle)
    assert done.motor_starts[0] == pytest.approx(begun, abs=1)
    assert done.azimuth_travel[0] == pytest.approx(done.motor_time[0] * 0.01, rel=1e-9)
    assert done.azimuth_travel[0] == pytest.approx(6 * 3600 * RATE - error[-1], rel=1e-9)


@pytest.mark.parametrize("dni", [700.0, 1000.0])
def test_period_and_travel_of_a_step(dni: float) -> None:
    """Hysteresis: a step is the dead band, its period the dead band over the sun's rate."""
    parts = drive()
    sun = circling(10.0)
    report = assessed(parts, sun, dni)
    start, stop = (math.asin(share * 0.2 * 1000 / dni) for share in (0.6, 0.2))
    late = TEN_SECONDS / 2  # the start falls anywhere within ten seconds
    starts = driven(parts, sun, dni).motor_starts[0]
    travel = (start - stop + late) * starts
    assert report.travel_per_step * starts == pytest.approx(travel, abs=starts * late + start)
    period = (start - stop + late) / RATE
    waited = (start + late) / RATE
    assert starts == pytest.approx(1 + (36_000 - waited) / period, abs=1.1)
    assert report.edge_per_step == pytest.approx(0.3 * report.travel_per_step)
    assert report.starts_per_hour == pytest.approx(starts / (601 / 60))
    assert report.duty == pytest.approx(report.travel_per_step * starts / 0.01 / 36_000)
    assert report.edge_travel[0] == pytest.approx(0.3 * report.travel_per_step * starts)
    if dni == 1000:
        assert report.dead_band == pytest.approx(START - STOP)


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["clockwise", "anticlockwise"])
def test_errors_of_a_saw_tooth(way: float) -> None:
    """Between stop and start the lag grows evenly: mean (a + b)/2, mean square (a2 + ab + b2)/3."""
    sun = circling(20.0, way=way)[:, : 20 * 60]
    report = assessed(drive(morning_azimuth=1.0 - way * STOP), sun)
    a, b = STOP, START + TEN_SECONDS / 2
    assert report.mean_error == pytest.approx((a + b) / 2, abs=0.0015)
    assert report.rms_error == pytest.approx(math.sqrt((a * a + a * b + b * b) / 3), abs=0.0015)
    assert START - 60 * RATE < report.worst_error <= START + TEN_SECONDS
    assert report.worst_off_axis == pytest.approx(report.worst_error, abs=1e-6)  # level: azimuth is all


@pytest.mark.parametrize("share", [0.1, 0.6])
@pytest.mark.parametrize(("elevation", "sun_elevation"), [(0.0, 0.0), (0.5, 0.5), (0.9, 0.7), (1.2, 1.25)])
def test_exposure_against_the_shadow_cast(share: float, elevation: float, sun_elevation: float) -> None:
    """The lit strip by similar triangles in the oven frame, slant included."""
    azimuth, lead = 2.0, share * 0.4
    sun = oven_frame(np.array(azimuth + lead), np.array(sun_elevation))[2]
    x, _, z = to_oven_frame(sun, np.array(azimuth), np.array(elevation))
    lit = min(abs(x / z) * 0.10 / 0.02, 1.0)
    ours = exposure(5.0, 800.0, lead, elevation, math.cos(sun_elevation), math.sin(sun_elevation))
    assert ours == pytest.approx(0.8 * lit * z, rel=1e-9)


def test_a_dark_cell() -> None:
    level, up = math.cos(0.4), math.sin(0.4)
    assert exposure(5.0, 900.0, -0.3, 0.4, level, up) == 0.0  # on the fin's other side
    assert exposure(5.0, 900.0, 3.0, 0.4, level, up) == 0.0  # behind the mouth
    assert exposure(5.0, 900.0, 1.2, 0.4, level, up) > 0.0


def test_drive_slower_than_the_sun_falls_behind() -> None:
    slow = driven(drive(speed=RATE / 2), circling(4.0))
    behind = START + (4 * 3600 - START / RATE) * RATE / 2
    assert slow.azimuth_error[0, -1] == pytest.approx(behind, abs=TEN_SECONDS)
    assert slow.motor_starts[0] == 1
    report = assessed(drive(speed=RATE / 2), circling(4.0))
    assert not report.keeps_up
    assert report.speed_ratio == pytest.approx(0.5)
    assert report.outrun_at.tolist() == [[0, minute] for minute in range(240)]


def test_drive_stalls_without_beam_and_recovers() -> None:
    sun = circling(4.0)
    dni = np.full((1, 241), 1000.0)
    dni[0, 60:120] = 100.0
    done = aim(drive(), sun, dni=dni)
    assert np.ptp(done.azimuth[0, 61:119]) == 0
    assert done.azimuth_error[0, 119] > 0.9 * 60 * 60 * RATE
    assert done.azimuth_error[0, 122:].max() <= START + TEN_SECONDS
    assert driven(drive(), sun, dni=599.0).motor_starts[0] == 0  # 0.6 of 1000 W/m2 never falls on it
    assert driven(drive(start_share=0.59), sun, dni=610.0).motor_starts[0] > 0
    assert drive().least_dni == 600.0


def test_only_sunshine_counts() -> None:
    """WMO: the sun shines above 120 W/m2. Below, the drive stands and the error of 30 deg is no fault of it."""
    sun = circling(4.0)
    errors = []
    for dim in (119.0, 121.0):
        dni = np.full((1, 241), 1000.0)
        dni[0, 120:] = dim
        report = assess_drive(drive(), aim(drive(), sun, dni=dni), dni=dni, base_radius=0.3)
        errors.append(report.worst_error)
    assert errors[0] <= START + TEN_SECONDS
    assert math.degrees(errors[1]) > 30


def test_the_motor_rests_at_night() -> None:
    sun = circling(4.0)
    sun[0, 120:, 2] *= -1
    done = driven(drive(speed=RATE / 2), sun)
    assert np.ptp(done.azimuth[0, 121:]) == 0
    assert done.azimuth[0, 119] > done.azimuth[0, 110]


def test_diffuse_light_that_never_lets_it_stop() -> None:
    """The cell does not tell whence light comes: a fifth of full sun keeps this motor running."""
    assert assessed(drive(), circling(2.0)).diffuse_hold == pytest.approx(200.0)


@pytest.mark.parametrize("rate", [RATE, 2 * RATE])
def test_cloud_drift_and_recovery(rate: float) -> None:
    """Drift is rate x cloud; what is over the start angle is made good at speed less rate."""
    parts = drive(speed=5e-4)
    report = assessed(parts, circling(4.0, rate=rate), cloud=3000.0)
    drift = rate * 3000
    assert report.cloud_drift[0] == pytest.approx(drift)
    # it came under the cloud with no lag yet or any of its dead band; the beam takes a minute to come and go
    least, most = ((drift + lag - START) / (parts.speed - rate) for lag in (0.0, START))
    assert least - 60 <= report.cloud_recovery[0] <= most + 120
    assert report.cloud == 3000.0


def test_a_sun_gone_behind_the_mouth_is_lost() -> None:
    """Under cloud for nearly seven hours the sun goes 105 deg: the cell, square to the axis, sees nothing."""
    sun = circling(9.0)
    seven_hours = assessed(drive(), sun, cloud=7 * 3600.0)
    assert math.isnan(seven_hours.cloud_recovery[0])
    three_hours = assessed(drive(), sun, cloud=3 * 3600.0)
    assert three_hours.cloud_recovery[0] < 300


def test_left_facing_east_or_west() -> None:
    """From the east it wakes with the sun; from the evening's west it waits until the sun comes there."""
    place = Place(latitude=math.radians(38), longitude=0.0, timezone="UTC")
    path = sun_path(clock_window(place, [dt.date(2025, 3, 20)], dt.time(7), dt.time(17)), place)
    report = assessed(drive(start_share=0.25, stop_share=0.05), path.to_sun)
    assert report.from_east[0] <= 600
    azimuth = np.degrees(np.arctan2(path.to_sun[0, :, 0], path.to_sun[0, :, 1])) % 360
    assert azimuth[int(report.from_west[0]) // 60] == pytest.approx(azimuth[-1], abs=10)
    assert report.from_west[0] > 9 * 3600
    # with the sun at its back, however straight, it is not on the sun
    assert np.isnan(assessed(drive(), circling(2.0, since=3 * math.pi / 2)).from_east[0])
    # a day's course seen by `aim` itself
    east = driven(drive(morning_azimuth=math.pi / 2), path.to_sun)
    assert east.azimuth[0, 0] == math.pi / 2
    assert np.abs(east.azimuth_error[0, -200:]).max() < 0.3
    west = driven(drive(morning_azimuth=3 * math.pi / 2), path.to_sun)
    assert np.ptp(west.azimuth[0, :-60]) == 0


def test_drive_bias_turns_the_oven_but_not_the_cell() -> None:
    true, bent = (driven(drive(azimuth_bias=b), circling(2.0)) for b in (0.0, 0.05))
    assert true.azimuth_error - bent.azimuth_error == pytest.approx(np.full((1, 121), 0.05))
    left = driven(drive(azimuth_bias=0.05, morning_azimuth=0.9), circling(2.0))
    assert left.azimuth[0, 0] == pytest.approx(0.9)


def test_what_a_drive_needs() -> None:
    with pytest.raises(DescriptionError, match="chatters"):
        drive(stop_share=0.7)
    with pytest.raises(DescriptionError, match="raise the fin"):
        drive(fin_height=0.015)
    with pytest.raises(ValueError, match="runs on the beam"):
        aim(drive(), circling(1.0))
    done = driven(drive(), circling(1.0))
    with pytest.raises(ValueError, match=r"needed \(1, 61\)"):
        assess_drive(drive(), done, dni=np.ones((1, 60)), base_radius=0.3)
    with pytest.raises(ValueError, match="under the cook's 3600 s"):
        assess_drive(drive(), done, dni=np.ones((1, 61)), base_radius=0.3, cloud=3600.0)


# --- the sun's azimuth


def noon(latitude_deg: float, date: dt.date, hours: float = 0.5) -> np.ndarray:
    """The real sun's path around true noon, unrefracted to 1e-4 rad in azimuth. [1, time, 3]"""
    place = Place(latitude=math.radians(latitude_deg), longitude=0.0, timezone="UTC")
    path = sun_path(clock_window(place, [date], dt.time(9), dt.time(15)), place)
    middle = int(np.abs(path.hour_angle[0]).argmin())
    half = round(hours * 60)
    return path.to_sun[:, middle - half : middle + half + 1]


JUNE, DECEMBER, MARCH = dt.date(2025, 6, 21), dt.date(2025, 12, 21), dt.date(2025, 3, 20)


@pytest.mark.parametrize(
    ("latitude", "date", "rate"),
    [
        *((20, DECEMBER, 20.01), (30, DECEMBER, 17.13), (40, DECEMBER, 15.38), (50, DECEMBER, 14.36)),
        *((20, MARCH, 43.86), (30, MARCH, 30.00), (40, MARCH, 23.34), (50, MARCH, 19.58)),
        *((30, JUNE, 120.6), (40, JUNE, 48.31), (50, JUNE, 30.79)),
    ],
)
def test_fastest_rate_is_that_of_noon(latitude: float, date: dt.date, rate: float, published: Any) -> None:
    """15 deg/h cos(declination)/sin(latitude - declination), differentiated from the spherical triangle
    (Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 13.5)."""
    report = assessed(drive(), noon(latitude, date))
    published(
        "Meeus, Astronomical Algorithms, 2nd ed. (1998), eq. 13.5, differentiated",
        f"fastest azimuth a drive meets, {latitude} N, {date:%d %B} [deg/h]",
        str(rate),
        math.degrees(report.fastest_rate) * 3600,
        rel=0.01,
        kind="worked",
    )
    assert report.fastest_at[1] == pytest.approx(30, abs=1)
    assert not report.reverses.any()
    assert report.way.tolist() == [1.0]


def test_where_the_sun_passes_on_the_pole_side() -> None:
    """20 N in June: at noon the azimuth runs back at 228.7 deg/h; before and after it runs forward."""
    report = assessed(drive(), noon(20, JUNE))
    assert report.way.tolist() == [-1.0]
    assert math.degrees(report.fastest_rate) * 3600 == pytest.approx(228.7, rel=0.01)
    whole = noon(20, JUNE, hours=2.9)
    day = assessed(drive(speed=1e-3), whole)
    assert day.reverses.tolist() == [True]
    # cos(q) = 0 where the azimuth turns: cos(H) = tan(latitude)/tan(declination), 57 deg from noon at 20 N
    turn = math.degrees(math.acos(math.tan(math.radians(20)) / math.tan(math.radians(23.44)))) * 4  # min
    back = np.flatnonzero(day.reversed[0])
    assert back[back < 174].max() == pytest.approx(174 - turn, abs=3)
    assert back[back > 174].min() == pytest.approx(174 + turn, abs=3)
    assert not day.keeps_up  # 206 deg/h
    assert (np.abs(day.outrun_at[:, 1] - 174) < 15).all()


# --- common practice, no source


@pytest.mark.parametrize(
    ("latitude", "date", "edge"),
    [(30.2, MARCH, "13"), (50.9, JUNE, "13"), (4.1, DECEMBER, "13"), (40, DECEMBER, "6.7"), (30, JUNE, "53")],
)
def test_the_edge_moves_about_13_mm_in_five_minutes_around_noon(
    latitude: float, date: dt.date, edge: str, published: Any
) -> None:
    """Common practice, no source: a base of 0.30 m. 13 mm are 29.8 deg/h, which the sun's azimuth does at noon at
    30 deg of latitude at the equinox, at 51 deg in midsummer and at 4 deg in midwinter (sin(latitude - declination)
    = 15/29.8 cos(declination)). In midwinter at 40 deg it is half of it, in midsummer at 30 deg four times as much."""
    ours = 0.30 * assessed(drive(), noon(latitude, date)).fastest_rate * 300 * 1000
    if edge == "13":
        what = f"way of the edge of a base of 0.30 m in five minutes at noon, {latitude} N, {date:%d %B} [mm]"
        published(TRADE, what, edge, ours, kind="trade")
    else:
        assert ours == pytest.approx(float(edge), rel=0.02)


def test_so_far_it_goes_by_steps_too() -> None:
    """Not the sun but the oven, by its drive, over an hour round noon, 30.2 N at the equinox: twelve times 12.8 mm.

    Meeus, eq. 13.5 with H = 7.5 deg: 2 x 14.67 deg in the hour, a little less than at noon itself.
    """
    fine = drive(start_share=0.05, stop_share=0.04, speed=2e-3)
    sun = noon(30.2, MARCH)
    swept = np.unwrap(np.arctan2(sun[0, :, 0], sun[0, :, 1]))
    edge = assessed(fine, sun).edge_travel[0]
    lag = 0.30 * driven(fine, sun).azimuth_error[0, -1]
    assert edge + lag == pytest.approx(0.30 * (swept[-1] - swept[0]), rel=1e-9)
    assert 1000 * (edge + lag) / 12 == pytest.approx(12.80, abs=0.03)


@pytest.mark.parametrize(
    ("latitude", "date", "declination", "sweep"),
    [
        *((24.5, MARCH, 0.0, 90), (47.2, JUNE, 23.44, 90), (-3.1, DECEMBER, -23.44, 90)),
        *((40, MARCH, 0.0, 66), (40, DECEMBER, -23.44, 45)),
    ],
)
def test_the_frame_turns_90_deg_in_three_hours_around_noon(
    latitude: float, date: dt.date, declination: float, sweep: float, published: Any
) -> None:
    """Common practice, no source. True at 24.5 deg of latitude at the equinox, at 47.2 deg in June and, in December,
    on the equator alone (3 deg beyond it); at 40 deg it is three quarters of that in March and half in December.

    tan(A) = sin(H)/(cos(H) sin(latitude) - tan(declination) cos(latitude)) with H = 22.5 deg (Meeus, eq. 13.5).
    """
    H, phi, delta = (math.radians(angle) for angle in (22.5, latitude, declination))
    half = math.atan2(math.sin(H), math.cos(H) * math.sin(phi) - math.tan(delta) * math.cos(phi))
    done = driven(drive(start_share=0.05, stop_share=0.04, speed=2e-3), noon(latitude, date, hours=1.5))
    lag = done.azimuth_error[0, -1]
    assert done.azimuth_travel[0] == pytest.approx(2 * half - lag, rel=0.005)
    assert math.degrees(2 * half) == pytest.approx(sweep, abs=0.5)
    if sweep == 90:
        what = f"turn of the frame in three hours round noon, {latitude} N, {date:%d %B} [deg]"
        published(TRADE, what, "90", math.degrees(done.azimuth_travel[0] + lag), within=0.6, kind="trade")
    assert math.degrees(lag) < 2


TRADE = "common practice, no source"
CELL = Cell(open_voltage=8.0, full_current=0.1, in_series=14)


def test_full_exposure_gives_8_v_and_a_quarter_starts_the_motor(published: Any) -> None:
    """Common practice, no source. Without load a quarter of the light still gives nine tenths of the voltage:
    so it is the current that starts the motor, which needs a quarter of the cell's."""
    published(
        TRADE,
        "14 cells wholly lit, no load [V]",
        "8.0",
        float(CELL.open_voltage_at(1.0)),
        within=1e-6,
        kind="trade",
    )
    assert CELL.open_voltage_at(0.25) == pytest.approx(7.35, abs=0.01)
    motor = Motor(resistance=20.0, start_voltage=0.5, stop_voltage=0.2)  # 25 mA and 10 mA of 100 mA
    shares = start_and_stop(CELL, motor)
    what = "share of the cell that is lit when 25 of its 100 mA start the motor [1]"
    published(TRADE, what, "0.25", shares.start, within=1e-6, kind="trade")
    assert shares.stop == pytest.approx(0.10, abs=1e-6)
    parts = drive(start_share=shares.start, stop_share=shares.stop)
    assert parts.start_angle == pytest.approx(math.asin(0.05), rel=1e-5)


# --- the parts


@pytest.mark.parametrize("lit", [0.01, 0.25, 1.0])
def test_open_voltage_against_a_reference_solver(lit: float) -> None:
    theirs = pvlib.pvsystem.v_from_i(
        current=0.0,
        photocurrent=lit * 0.1,
        saturation_current=CELL.saturation_current,
        resistance_series=0.0,
        resistance_shunt=np.inf,
        nNsVth=1.3 * 14 * 0.025692579,  # kT/q at 25 degC [V]
    )
    assert CELL.open_voltage_at(lit) == pytest.approx(theirs, rel=1e-7)
    assert CELL.exposure_for(theirs) == pytest.approx(lit, rel=1e-6)


@pytest.mark.parametrize("resistance", [5.0, 75.0, 400.0, 1e5])
@pytest.mark.parametrize("lit", [0.05, 0.25, 1.0])
def test_voltage_over_a_motor_against_a_reference_solver(lit: float, resistance: float) -> None:
    """A resistance across the cell does what a leak inside it does: the shunt of the reference."""
    theirs = pvlib.pvsystem.v_from_i(
        current=0.0,
        photocurrent=lit * 0.1,
        saturation_current=CELL.saturation_current,
        resistance_series=0.0,
        resistance_shunt=resistance,
        nNsVth=CELL.thermal_voltage,
    )
    ours = CELL.voltage_at(lit, resistance=resistance)
    assert ours == pytest.approx(theirs, rel=1e-6)
    assert CELL.exposure_for(ours, resistance=resistance) == pytest.approx(lit, rel=1e-6)


def test_no_light_no_voltage() -> None:
    assert CELL.open_voltage_at(0.0) == 0.0
    assert CELL.voltage_at(0.0, resistance=75.0) == pytest.approx(0.0, abs=1e-9)


def test_motors_that_cannot_be_run_so() -> None:
    with pytest.raises(DescriptionError, match="2 times the light of full sun"):
        start_and_stop(CELL, Motor(resistance=20.0, start_voltage=4.0, stop_voltage=0.1))
    with pytest.raises(DescriptionError, match="friction is larger at rest"):
        start_and_stop(CELL, Motor(resistance=20.0, start_voltage=0.5, stop_voltage=0.6))
    with pytest.raises(DescriptionError, match="count the cells"):
        Cell(open_voltage=8.0, full_current=0.1, in_series=4)


def test_wheel_on_the_edge_of_the_base() -> None:
    """Rolling without slipping: equal ways on both rims."""
    train = DriveTrain(wheel_radius=0.01, base_radius=0.30, motor_speed=2 * math.pi / 60)  # one turn a minute
    assert train.travel_per_turn == pytest.approx(math.pi * 0.02)
    assert train.speed * 60 * 0.30 == pytest.approx(train.travel_per_turn)
    assert train.turn_per_turn == pytest.approx(math.radians(12.0))
    assert drive(speed=train.speed).speed == pytest.approx(math.radians(12.0) / 60)


# --- the sight

SIGHT = Sight(post_height=0.10)


def test_shadow_of_a_post() -> None:
    """A post of 100 mm: 5.24 mm is 3 deg; at 45 deg the shadow is as long as the post."""
    assert SIGHT.length(math.radians(3.0)) == pytest.approx(5.2408e-3, abs=5e-8)
    assert SIGHT.length(math.pi / 4) == pytest.approx(0.10)
    assert np.degrees(SIGHT.within(5e-3)) == pytest.approx(2.8624, abs=5e-5)
    assert SIGHT.within(SIGHT.length(0.2)) == pytest.approx(0.2)


@pytest.mark.parametrize("elevation", [0.0, 0.6, 1.2])
def test_offset_falls_away_from_the_sun(elevation: float) -> None:
    """In the plane of the meridian the height is exact; to the side the azimuth shrinks with cos(elevation)."""
    lower = SIGHT.offset(Fault(np.array(0.0), np.array(-0.1)), elevation)
    assert lower == pytest.approx([0.0, 0.10 * math.tan(0.1)], abs=1e-12)
    small = 1e-5
    aside = SIGHT.offset(Fault(np.array(small), np.array(0.0)), elevation)
    # the sun moves on clockwise: to the left of one who looks into the mouth; the shadow goes right
    assert aside[0] == pytest.approx(0.10 * small * math.cos(elevation), rel=1e-6)
    assert np.isnan(SIGHT.offset(Fault(np.array(math.pi), np.array(-elevation)), elevation)).all()


def test_shadow_length_is_that_of_the_angle_off_axis() -> None:
    fault = Fault(np.array([0.1, -0.2, 0.05]), np.array([0.03, 0.1, -0.2]))
    elevation = np.array([0.2, 0.7, 1.1])
    sun_elevation = elevation + fault.elevation
    cosine = np.sin(elevation) * np.sin(sun_elevation) + np.cos(elevation) * np.cos(sun_elevation) * np.cos(
        fault.azimuth
    )  # spherical law of cosines
    offset = SIGHT.offset(fault, elevation)
    assert np.hypot(*offset.T) == pytest.approx(0.10 * np.tan(np.arccos(cosine)), rel=1e-9)
    back = SIGHT.fault(offset, elevation)
    assert back.azimuth == pytest.approx(fault.azimuth, rel=1e-9)
    assert back.elevation == pytest.approx(fault.elevation, rel=1e-9)


@pytest.mark.parametrize("elevation", [0.0, 0.5, 1.0, 1.3])
def test_azimuth_that_a_side_shadow_hides(elevation: float) -> None:
    most = SIGHT.azimuth_within(5e-3, elevation)
    offset = SIGHT.offset(Fault(np.asarray(most), np.array(0.0)), elevation)
    assert offset[0] == pytest.approx(5e-3, rel=1e-9)
    assert most >= SIGHT.within(5e-3) - 1e-12


def test_under_the_zenith_a_sight_tells_no_azimuth() -> None:
    assert SIGHT.azimuth_within(5e-3, math.radians(88.0)) == math.pi
    assert SIGHT.azimuth_within(5e-3, math.pi / 2) == math.pi


def test_half_shade() -> None:
    """The sun's disc is 32 arcmin wide (mean 31'59"): 0.93 mm behind 100 mm, growing as 1/cos2."""
    assert SIGHT.blur() == pytest.approx(0.10 * math.radians(31 / 60 + 59 / 3600), rel=1e-3)
    assert SIGHT.blur(0.5) == pytest.approx(SIGHT.blur() / math.cos(0.5) ** 2, rel=1e-4)
    assert SIGHT.least_post_width == pytest.approx(2 * 0.10 * SUN_HALF_ANGLE, rel=1e-4)


# --- a slow twin


def follow_slowly(parts: Drive, sun: np.ndarray, dni: np.ndarray, elevation: np.ndarray) -> np.ndarray:
    """The drive as one would simulate it by hand: the shadow is cast anew every second, no closed form."""
    turned = math.atan2(sun[0, 0], sun[0, 1])
    azimuth, on = [turned], False
    for now in range(len(sun) - 1):
        for second in range(1, 61):
            part = second / 60
            s = (1 - part) * sun[now] + part * sun[now + 1]
            beam = (1 - part) * dni[now] + part * dni[now + 1]
            x, _, z = to_oven_frame(s, np.array(turned), np.array(elevation[now]))
            lit = min(max(parts.fin_height * -x / z / parts.cell_width, 0.0), 1.0) if z > 0 else 0.0
            light = lit * z * beam / 1000
            on = light > parts.stop_share if on else light > parts.start_share
            if on:
                turned += parts.speed
        azimuth.append(turned)
    return np.array(azimuth)


@pytest.mark.parametrize(("latitude", "starts"), [(38, 4), (20, 1)])
def test_drive_against_a_slow_twin_under_a_real_sun(latitude: float, starts: int) -> None:
    """Through two clouds; at 20 N in May the sun passes 4 deg from the zenith, too high to light the cell."""
    place = Place(latitude=math.radians(latitude), longitude=0.0, timezone="UTC")
    path = sun_path(clock_window(place, [dt.date(2025, 5, 5)], dt.time(10, 30), dt.time(13)), place)
    parts = drive(start_share=0.25, stop_share=0.05, speed=0.002, elevation_every=1800.0)
    dni = np.full((1, path.to_sun.shape[1]), 700.0)
    dni[0, 40:50] = 50.0
    dni[0, 100:110] = 350.0
    ours = aim(parts, path.to_sun, dni=dni)
    slow = follow_slowly(parts, path.to_sun[0], dni[0], ours.elevation[0])
    gap = np.abs(np.unwrap(ours.azimuth[0]) - np.unwrap(slow % (2 * math.pi)))
    # a start may come 10 s early or late, and then the swing is a dead band away for a minute or so
    assert np.median(gap) < 0.004
    assert gap.max() < 0.12
    assert ours.motor_starts[0] >= starts


def test_the_same_drive_twice_is_the_same() -> None:
    sun = circling(6.0, elevation=0.7)
    one, two = (driven(drive(), sun) for _ in range(2))
    assert one.azimuth.tobytes() == two.azimuth.tobytes()
    assert driven(replace(drive(), speed=0.02), sun).azimuth.tobytes() != one.azimuth.tobytes()
