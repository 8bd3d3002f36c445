"""Aiming against slow twins: a hand that comes on its minutes, and a drive that sees by vectors, in plain Python.

The twin of the cell knows no azimuth and no sine of a lead: it splits the sun's vector along the axis of the oven and
across it, and looks where the fin's edge throws its shadow. Positions are found by bisection.
"""

import datetime as dt
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from noonhearth.model import aiming as aiming_module
from noonhearth.model.aiming import Aim, ByHand, Drive, Fixed, aim, aims
from noonhearth.model.drive import SUB_STEPS, ShadedCell, exposure, lead_at_rest, way_of
from noonhearth.model.drive_parts import Cell, Motor, start_and_stop
from noonhearth.model.sun import Place, clock_window, sun_path

STEP = 60.0
TURN = 2 * math.pi
quiet = settings(max_examples=20, deadline=None, derandomize=True)

drives = st.builds(
    Drive,
    fin_height=st.floats(0.04, 0.2),
    cell_width=st.floats(0.01, 0.03),
    start_share=st.floats(0.15, 0.6),
    stop_share=st.floats(0.0, 0.1),
    speed=st.floats(1e-4, 0.02),
    elevation_every=st.floats(600.0, 7200.0),
    lead=st.floats(0.0, 1.0),
    morning_azimuth=st.none() | st.floats(0.0, 6.2),
    azimuth_bias=st.floats(-0.1, 0.1),
    elevation_bias=st.floats(-0.1, 0.1),
)
hands = st.builds(
    ByHand,
    azimuth_every=st.floats(120.0, 9000.0),
    elevation_every=st.none() | st.floats(120.0, 9000.0),
    lead=st.floats(0.0, 1.0),
    azimuth_bias=st.floats(-0.3, 0.3),
    elevation_bias=st.floats(-0.3, 0.3),
    visit=st.floats(0.0, 300.0),
)


def course(latitude_deg: float, month: int, hours: tuple[int, int] = (5, 12)) -> np.ndarray:
    """Two days of the sun, dark minutes among them. float64[day, minute, 3]"""
    place = Place(latitude=math.radians(latitude_deg), longitude=0.0, timezone="UTC")
    dates = [dt.date(2025, month, day) for day in (3, 25)]
    return sun_path(clock_window(place, dates, *(dt.time(h) for h in hours)), place).to_sun


def clouded(sun: np.ndarray, seed: int) -> np.ndarray:
    """Beam that comes and goes. float64[day, minute]"""
    draw = np.random.default_rng(seed)
    clouds = np.repeat(draw.random((len(sun), sun.shape[1] // 20 + 1)) < 0.3, 20, axis=1)[:, : sun.shape[1]]
    return np.where(clouds, 60.0, 950.0) * (sun[..., 2] > 0)


def vector(azimuth: float, elevation: float) -> tuple[float, float, float]:
    """East, north, up."""
    flat = math.cos(elevation)
    return flat * math.sin(azimuth), flat * math.cos(azimuth), math.sin(elevation)


def dot(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def difference(a: float, b: float) -> float:
    """a - b, from half a turn back to half a turn on."""
    return math.remainder(a - b, TURN)


# ---- the cell


def slow_exposure(
    reach: float, beam: float, azimuth: float, elevation: float, way: float, sun: tuple[float, ...]
) -> float:
    """Light on the cell in the mouth's plane beside a fin: how far in it comes, how many rays a share of it takes."""
    axis = vector(azimuth, elevation)
    onward = vector(azimuth + way * math.pi / 2, 0.0)  # level, the way the drive turns
    front, side = dot(sun, axis), dot(sun, onward)
    if front <= 0 or side <= 0 or sun[2] <= 0:
        return 0.0
    lit = min(
        reach * side / front, 1.0
    )  # of the cell's width: fin height x slope of the ray across the mouth
    return beam / 1000.0 * lit * front


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    reach=st.floats(1.0, 20.0),
    beam=st.floats(0.0, 1100.0),
    azimuth=st.floats(0.0, 6.2),
    ahead=st.floats(-3.1, 3.1),
    tilts=st.tuples(st.floats(0.0, 1.55), st.floats(0.01, 1.55)),
    way=st.sampled_from([1.0, -1.0]),
)
def test_light_on_the_cell(
    reach: float, beam: float, azimuth: float, ahead: float, tilts: tuple[float, float], way: float
) -> None:
    sun = vector(azimuth + way * ahead, tilts[1])
    slow = slow_exposure(reach, beam, azimuth, tilts[0], way, sun)
    fast = exposure(reach, beam, ahead, tilts[0], math.cos(tilts[1]), sun[2])
    assert fast == pytest.approx(slow, rel=1e-9, abs=1e-12)


def slow_rest(cell: ShadedCell, beam: float, level: float) -> float:
    """Lead down to which a motor turns: where what the fin lets through has fallen to the stop."""

    def above(lead: float) -> float:
        return beam / 1000.0 * cell.reach * level * math.sin(lead) - cell.stop

    return brentq(above, 0.0, math.pi / 2, xtol=1e-14) if above(math.pi / 2) > 0 else math.pi / 2


@quiet
@given(drives, st.floats(5.0, 1100.0), st.floats(0.01, 1.0))
def test_lead_at_which_it_rests(drive: Drive, beam: float, level: float) -> None:
    assert lead_at_rest(drive.cell, beam, level) == pytest.approx(
        slow_rest(drive.cell, beam, level), abs=1e-7
    )


@quiet
@given(drives)
def test_angles_and_beam_of_start_and_stop(drive: Drive) -> None:
    """A level sun at the start angle lights the start's share; a cell lit whole needs the least beam."""
    for angle, share in ((drive.start_angle, drive.start_share), (drive.stop_angle, drive.stop_share)):
        lit = slow_exposure(drive.cell.reach, 1000.0, 0.0, 0.0, 1.0, vector(angle, 1e-12))
        assert lit == pytest.approx(share, abs=1e-12)
    assert drive.least_dni / 1000.0 == pytest.approx(drive.start_share)


# ---- the drive


def slow_drive(
    drive: Drive, sun: np.ndarray, dni: np.ndarray, elevation: np.ndarray
) -> tuple[list, int, float]:
    """One day minute by minute: azimuth of the cell at every minute, starts, and seconds of running."""
    path = [tuple(v) for v in sun.tolist()]
    way = slow_way(path)
    stands = math.atan2(path[0][0], path[0][1])
    if drive.morning_azimuth is not None:
        stands = drive.morning_azimuth - drive.azimuth_bias
    azimuths, on, starts, running = [stands], False, 0, 0.0
    for minute in range(len(path) - 1):
        for part in range(1, SUB_STEPS + 1):
            share = part / SUB_STEPS
            now = tuple(a + share * (b - a) for a, b in zip(path[minute], path[minute + 1], strict=True))
            beam = float(dni[minute] + share * (dni[minute + 1] - dni[minute]))
            lit = slow_exposure(drive.cell.reach, beam, stands, float(elevation[minute]), way, now)
            if lit > drive.start_share and not on:
                on, starts = True, starts + 1
            if on and lit <= drive.stop_share:
                on = False
            if not on:
                continue
            wanted = way * difference(math.atan2(now[0], now[1]), stands)
            wanted -= slow_rest(drive.cell, beam, math.hypot(now[0], now[1]))
            possible = drive.speed * STEP / SUB_STEPS
            if wanted <= possible:
                on = False
            moved = min(max(wanted, 0.0), possible)
            stands += way * moved
            running += moved / drive.speed
        azimuths.append(stands)
    return azimuths, starts, running


def slow_way(path: list[tuple[float, ...]]) -> float:
    """Sign of all the turning of the sun about the vertical."""
    turned = 0.0
    for a, b in itertools.pairwise(path):
        turned += difference(math.atan2(b[0], b[1]), math.atan2(a[0], a[1]))
    return 1.0 if turned >= 0 else -1.0


@quiet
@given(drive=drives, latitude=st.floats(-60, 60), month=st.integers(1, 12), seed=st.integers(1, 99))
def test_the_drive_minute_by_minute(drive: Drive, latitude: float, month: int, seed: int) -> None:
    sun = course(latitude, month)
    dni = clouded(sun, seed)
    fast = aim(drive, sun, dni=dni)
    for row in range(len(sun)):
        slow, starts, running = slow_drive(drive, sun[row], dni[row], fast.elevation[row])
        off = [difference(a, b + drive.azimuth_bias) for a, b in zip(fast.azimuth[row], slow, strict=True)]
        assert np.abs(off).max() < 1e-6
        assert fast.motor_starts[row] == starts
        assert fast.motor_time[row] == pytest.approx(running, abs=1e-6 / drive.speed)


@quiet
@given(st.floats(-66, 66), st.integers(1, 12))
def test_way_of_the_sun(latitude: float, month: int) -> None:
    sun = course(latitude, month, (8, 16))
    assert way_of(sun).tolist() == [slow_way([tuple(v) for v in day.tolist()]) for day in sun]


def test_a_drive_within_its_window_stands_before_and_after() -> None:
    drive = Drive(
        fin_height=0.06,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.05,
        speed=2e-3,
        elevation_every=1800.0,
    )
    sun = course(40, 9, (9, 15))
    dni = np.full(sun.shape[:2], 900.0)
    windowed = aim(drive, sun, dni=dni, first=30, last=200)
    for row in range(len(sun)):
        part = slice(30, 201)
        slow, starts, _ = slow_drive(drive, sun[row, part], dni[row, part], windowed.elevation[row, part])
        expected = [slow[0]] * 30 + slow + [slow[-1]] * (sun.shape[1] - 201)
        off = [difference(a, b) for a, b in zip(windowed.azimuth[row], expected, strict=True)]
        assert np.abs(off).max() < 1e-6
        assert windowed.motor_starts[row] == starts > 3


def test_a_motor_on_its_way_stops_under_a_cloud() -> None:
    """Left far to the east and slow: a cloud that leaves the whole cell less than the stop's light stands it still."""
    drive = Drive(
        fin_height=0.10,
        cell_width=0.02,
        start_share=0.25,
        stop_share=0.08,
        speed=2e-4,
        elevation_every=7200.0,
        morning_azimuth=1.2,
    )
    sun = course(40, 9, (9, 12))[:1]
    dni = np.full(sun.shape[:2], 900.0)
    dni[:, 40:70] = 60.0
    fast = aim(drive, sun, dni=dni)
    slow, starts, _ = slow_drive(drive, sun[0], dni[0], fast.elevation[0])
    assert np.abs(fast.azimuth[0] - slow).max() < 1e-6
    assert fast.motor_starts[0] == starts == 2
    turned = np.diff(fast.azimuth[0])
    assert turned[:39].min() > 0.01  # still on its way when the cloud comes
    assert turned[41:69].max() == 0.0


# ---- many at once


fixed = st.builds(Fixed, fixed_azimuth=st.floats(0.0, 6.2), fixed_elevation=st.floats(0.0, 1.5))


@quiet
@given(
    aimings=st.one_of(*(st.lists(kind, min_size=1, max_size=5) for kind in (hands, drives, fixed))),
    latitude=st.floats(-60.0, 60.0),
    at_once=st.sampled_from([1, 2000, 1 << 18]),
)
def test_each_of_many_is_aimed_as_if_it_were_alone(
    aimings: list[ByHand | Drive | Fixed], latitude: float, at_once: int
) -> None:
    """To the last bit, in however many parts; dark hours among them."""
    sun = course(latitude, 6)
    how = {"dni": clouded(sun, 3), "first": 20, "last": 400, "least_elevation": 0.1}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(aiming_module, "_AT_ONCE", at_once)
        many = aims(aimings, sun, **how)
    for number, one in enumerate(aimings):
        alone, among = aim(one, sun, **how), many.way(number)
        for name in (*vars(alone), "azimuth_travel", "off_axis", "elevation_error"):
            np.testing.assert_array_equal(getattr(among, name), getattr(alone, name), err_msg=name)


def test_settings_closer_than_the_instants_are_made_at_every_instant() -> None:
    """Of the settings that fall on one instant one is made: those every 100 s are those every 300 s, 300 s apart."""
    sun = course(14.0, 6)[:, ::5]
    hasty, steady = (
        aim(ByHand(azimuth_every=every, elevation_every=every, lead=0.3), sun, step=300.0)
        for every in (100.0, 300.0)
    )
    np.testing.assert_array_equal(hasty.azimuth, steady.azimuth)
    np.testing.assert_array_equal(hasty.elevation, steady.elevation)
    assert hasty.visits.tolist() == steady.visits.tolist()


# ---- by hand, and not at all


def slow_settings(
    sun: list[tuple[float, ...]], every: float, lead: float
) -> tuple[list[tuple[float, ...]], list[bool]]:
    """Direction aimed at last, and whether the setting was made anew, at every minute of one day."""
    last = len(sun) - 1
    minutes = sorted({round(k * every / STEP) for k in range(math.ceil(last * STEP / every))})
    minutes = [m for m in minutes if m < last]
    now, directions, anew = None, [], []
    for minute in range(len(sun)):
        made = minute in minutes and (now is None or sun[minute][2] > 0)
        if made:
            later = [m for m in minutes if m > minute]
            ahead = minute + lead * ((later[0] if later else last) - minute)
            before = min(int(ahead), last - 1)
            share = ahead - before
            now = tuple(
                (1 - share) * a + share * b for a, b in zip(sun[before], sun[before + 1], strict=True)
            )
        directions.append(now)
        anew.append(made and minute > 0)
    return directions, anew


def slow_by_hand(aiming: ByHand, sun: list[tuple[float, ...]]) -> dict[str, list]:
    """Settings and what they took, of one day."""
    every = aiming.elevation_every or aiming.azimuth_every
    turned_to, turned = slow_settings(sun, aiming.azimuth_every, aiming.lead)
    raised_to, raised = slow_settings(sun, every, aiming.lead)
    azimuth = [(math.atan2(d[0], d[1]) + aiming.azimuth_bias) % TURN for d in turned_to]
    raw = [math.asin(d[2] / math.sqrt(dot(d, d))) + aiming.elevation_bias for d in raised_to]
    return {
        "azimuth": azimuth,
        "elevation": [min(max(e, 0.0), math.pi / 2) for e in raw],
        "turned": turned,
        "raised": raised,
    }


def follows_from(
    fast: Aim, row: int, slow: dict[str, list], sun: list[tuple[float, ...]], visit: float
) -> None:
    """All fields of a row follow from its settings and the sun."""
    for minute, (azimuth, elevation) in enumerate(zip(slow["azimuth"], slow["elevation"], strict=True)):
        assert difference(fast.azimuth[row, minute], azimuth) == pytest.approx(0, abs=1e-9)
        assert fast.elevation[row, minute] == pytest.approx(elevation, abs=1e-9)
        off = difference(math.atan2(sun[minute][0], sun[minute][1]), azimuth)
        assert difference(fast.azimuth_error[row, minute], off) == pytest.approx(0, abs=1e-9)
        assert fast.elevation_error[row, minute] == pytest.approx(
            math.asin(sun[minute][2]) - elevation, abs=1e-9
        )
        apart = math.acos(max(-1.0, min(1.0, dot(vector(azimuth, elevation), sun[minute]))))
        assert fast.off_axis[row, minute] == pytest.approx(
            apart, abs=3e-8
        )  # the arc cosine is blunt near zero
    assert fast.azimuth_aimings[row] == sum(slow["turned"])
    assert fast.elevation_aimings[row] == sum(slow["raised"])
    visits = sum(a or b for a, b in zip(slow["turned"], slow["raised"], strict=True))
    assert (fast.visits[row], fast.attention[row]) == (visits, pytest.approx(visits * visit))
    pairs = [zip(slow[name][:-1], slow[name][1:], strict=True) for name in ("azimuth", "elevation")]
    turned, raised = (sum(abs(difference(b, a)) for a, b in each) for each in pairs)
    assert fast.azimuth_travel[row] == pytest.approx(turned, abs=1e-6)
    assert fast.elevation_travel[row] == pytest.approx(raised, abs=1e-6)
    assert fast.motor_starts[row] == fast.motor_time[row] == 0


@quiet
@given(aiming=hands, latitude=st.floats(-60, 60), month=st.integers(1, 12))
def test_by_hand_minute_by_minute(aiming: ByHand, latitude: float, month: int) -> None:
    sun = course(latitude, month)
    fast = aim(aiming, sun)
    for row, day in enumerate(sun.tolist()):
        path = [tuple(v) for v in day]
        follows_from(fast, row, slow_by_hand(aiming, path), path, aiming.visit)


@quiet
@given(azimuth=st.floats(0, 6.2), elevation=st.floats(0, 1.5), latitude=st.floats(-60, 60))
def test_set_once_and_left(azimuth: float, elevation: float, latitude: float) -> None:
    sun = course(latitude, 4)
    fast = aim(Fixed(fixed_azimuth=azimuth, fixed_elevation=elevation), sun)
    minutes = sun.shape[1]
    slow = {
        "azimuth": [azimuth] * minutes,
        "elevation": [elevation] * minutes,
        "turned": [False] * minutes,
        "raised": [False] * minutes,
    }
    for row, day in enumerate(sun.tolist()):
        follows_from(fast, row, slow, [tuple(v) for v in day], 0.0)


def test_the_stand_goes_no_lower_than_it_can() -> None:
    sun = course(50, 12, (8, 16))
    for aiming in (ByHand(azimuth_every=1200.0), Fixed(fixed_azimuth=3.0, fixed_elevation=0.1)):
        lowest = aim(aiming, sun, least_elevation=0.35).elevation
        free = aim(aiming, sun).elevation
        assert lowest.ravel().tolist() == [max(0.35, e) for e in free.ravel().tolist()]
        assert free.min() < 0.35


# ---- the parts of the drive


@quiet
@given(
    cells=st.integers(1, 30),
    volts=st.floats(0.45, 0.8),
    current=st.floats(0.01, 2.0),
    share=st.floats(0.005, 1.0),
    resistance=st.floats(0.5, 5e3),
)
def test_voltage_over_a_load_by_bisection(
    cells: int, volts: float, current: float, share: float, resistance: float
) -> None:
    """V/R = x I_L - I_0 (exp(V/a) - 1) as printed, with k and q of the 2019 SI."""
    cell = Cell(open_voltage=volts * cells, full_current=current, in_series=cells)
    a = 1.3 * cells * 1.380649e-23 * 298.15 / 1.602176634e-19
    dark = current / (math.exp(volts * cells / a) - 1)

    def surplus(v: float) -> float:
        return share * current - dark * (math.exp(v / a) - 1) - v / resistance

    slow = brentq(surplus, 0.0, volts * cells, xtol=1e-13)
    assert cell.voltage_at(share, resistance=resistance) == pytest.approx(slow, rel=1e-8)
    opened = brentq(lambda v: surplus(v) + v / resistance, 0.0, volts * cells + 1e-9, xtol=1e-13)
    assert cell.open_voltage_at(share) == pytest.approx(opened, rel=1e-8)
    assert cell.exposure_for(slow, resistance=resistance) == pytest.approx(share, rel=1e-6)


def test_start_and_stop_are_where_the_cell_holds_the_motors_voltages() -> None:
    cell = Cell(open_voltage=8.0, full_current=0.12, in_series=14)
    motor = Motor(resistance=200.0, start_voltage=6.5, stop_voltage=1.5)
    shares = start_and_stop(cell, motor)
    for share, volts in ((shares.start, 6.5), (shares.stop, 1.5)):
        found = brentq(
            lambda x, v=volts: float(cell.voltage_at(x, resistance=200.0)) - v, 1e-4, 2.0, xtol=1e-12
        )
        assert share == pytest.approx(found, rel=1e-8)
    stronger = start_and_stop(cell, replace(motor, resistance=150.0))
    assert stronger.start > shares.start
