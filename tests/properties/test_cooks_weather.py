"""The weather of a measured cook: readings of any rhythm keep their energy, planes give back what was read."""

import datetime
import math
import zoneinfo

import numpy as np
import pvlib
import pytest

from noonhearth.model import Air, CookRecord, Place, RecordError
from noonhearth.model.cooks.planes import split, sun_of
from noonhearth.model.cooks.resampled import gaps, minute_values
from noonhearth.model.cooks.weather import USUAL_WIND, outdoors
from noonhearth.model.irradiance import clear_irradiance
from noonhearth.model.sun import clock_window, sun_path

DEG = math.pi / 180
YARD = Place(
    latitude=-23 * DEG, longitude=31 * DEG, altitude=900.0, timezone="Africa/Johannesburg", name="yard"
)
START = datetime.datetime(2024, 10, 3, 9, 30, 20, tzinfo=zoneinfo.ZoneInfo("Africa/Johannesburg"))
ALBEDO = 0.25


@pytest.fixture(scope="module")
def course():
    """The sun from early to late on one day, and a cloudless sky under it."""
    path = sun_path(clock_window(YARD, [START.date()], datetime.time(5), datetime.time(18, 30)), YARD)
    clear = clear_irradiance(path, YARD, np.array([3.2]))
    return path, clear, sun_of(path, YARD, clear)


def cook(**given) -> CookRecord:
    time = np.arange(0, 3 * 3600.0 + 1, 60.0)
    usual = {
        "name": "a cook",
        "start": START,
        "time": time,
        "temperatures": {"food": np.full(len(time), 300.0)},
    }
    return CookRecord(**usual | {"air": np.full(len(given.get("time", time)), 296.0)} | given)


@pytest.mark.parametrize("averaged", [False, True])
@pytest.mark.parametrize("rhythm", [7.0, 60.0, 150.0, 600.0])
def test_minutes_hold_as_much_as_the_readings(rhythm: float, averaged: bool) -> None:
    """The integral of straight lines, or the sum of means times their intervals, by plain sums."""
    rng = np.random.default_rng(int(rhythm))
    steps = rng.uniform(0.5, 1.5, 60) * rhythm
    steps[-1] += 60 - steps.sum() % 60  # it ends with a minute
    time = np.append(0.0, np.cumsum(steps))
    values = rng.uniform(0, 1000, 61) * (rng.random(61) < 0.8)
    minutes = 60.0 * np.arange(round(time[-1] / 60) + 1)
    found = minute_values(time, values, minutes, averaged=averaged)
    whole = (steps * values[1:]).sum() if averaged else np.trapezoid(values, time)
    assert np.trapezoid(found, minutes) == pytest.approx(whole, rel=1e-9)
    assert found.min() >= 0.0


def test_means_keep_the_energy_of_every_interval() -> None:
    """Means over 20 minutes that jump as under clouds; neighbours trade no more than the minute they share."""
    time = 1200.0 * np.arange(1, 13)
    values = np.array([0, 900, 150, 870, 860, 40, 30, 700, 720, 690, 0, 500.0])
    minutes = 60.0 * np.arange(241)
    found = minute_values(time, values, minutes, averaged=True)
    assert np.trapezoid(found, minutes) == pytest.approx((1200 * values).sum(), rel=1e-12)
    for k, mean in enumerate(values):
        own = slice(20 * k, 20 * k + 21)
        assert np.trapezoid(found[own], minutes[own]) / 1200 == pytest.approx(mean, abs=1000 / 40)
    joined = minute_values(time, values, minutes)
    assert (
        abs(np.trapezoid(joined, minutes) / (1200 * values).sum() - 1) > 0.01
    )  # taken for instants they would not


def test_what_is_straight_stays_straight() -> None:
    time = np.array([0.0, 50.0, 130.0, 400.0, 410.0, 3600.0])
    minutes = 60.0 * np.arange(61)
    found = minute_values(time, 5 + 0.2 * time, minutes)
    assert found[1:-1] == pytest.approx(5 + 0.2 * minutes[1:-1], rel=1e-12)
    assert found[[0, -1]] == pytest.approx([5 + 0.2 * 15, 5 + 0.2 * 3585])  # of their half minute
    assert minute_values(time, 5 + 0 * time, np.array([-60.0, 4000.0])) == pytest.approx([5.0, 5.0])


def test_long_gaps_are_found_and_usual_spacing_is_none() -> None:
    time = np.array([0, 60, 120, 1100, 1160, 3000, 3060, 3120.0])
    assert gaps(time, np.ones(8)) == [(120.0, 1100.0), (1160.0, 3000.0)]
    by_hand = np.arange(0, 7200, 1800.0)
    assert gaps(by_hand, np.ones(4)) == []
    late = np.full(40, 1.0)
    late[:20] = np.nan
    assert gaps(60.0 * np.arange(40), late) == [(0.0, 1200.0)]


def cloudy(course, seed: int) -> np.ndarray:
    """Share of the clear sky by the minute, from overcast to brighter than clear."""
    path, _, _ = course
    return np.random.default_rng(seed).choice([0.05, 0.3, 0.7, 0.95, 1.0, 1.15], path.times.shape[1])


@pytest.mark.parametrize("seed", [1, 2])
def test_a_level_reading_closes(course, seed: int) -> None:
    path, clear, sun = course
    read = clear.ghi[0] * cloudy(course, seed)
    light = split(read, None, "level", sun=sun, albedo=ALBEDO)
    sine = np.maximum(path.to_sun[0, :, 2], 0)
    assert light.dni * sine + light.dhi == pytest.approx(read, abs=1e-9)
    assert light.ghi == pytest.approx(read, abs=1e-9)
    assert min(light.dni.min(), light.dhi.min()) >= 0
    assert (light.dni <= sun.cleanest + 1e-9).all()


@pytest.mark.parametrize("diffuse", [False, True])
@pytest.mark.parametrize("seed", [3, 4])
def test_a_reading_that_faces_the_sun_closes_through_pvlib(course, seed: int, diffuse: bool) -> None:
    """The split put on the plane again by pvlib's isotropic transposition."""
    path, clear, sun = course
    up = path.to_sun[0, :, 2] > 0.02
    share = cloudy(course, seed)
    read = share * (clear.dni[0] + clear.dhi[0])
    own = 0.5 * read if diffuse else None
    light = split(read, own, "facing the sun", sun=sun, albedo=ALBEDO)
    zenith = np.degrees(np.arccos(np.clip(path.to_sun[0, :, 2], -1, 1)))[up]
    azimuth = np.degrees(np.arctan2(path.to_sun[0, :, 0], path.to_sun[0, :, 1]))[up]
    again = pvlib.irradiance.get_total_irradiance(
        *(zenith, azimuth, zenith, azimuth),
        *(light.dni[up], light.ghi[up], light.dhi[up]),
        albedo=ALBEDO,
        model="isotropic",
    )["poa_global"]
    assert again == pytest.approx(read[up], abs=1e-6)
    assert min(light.dni.min(), light.dhi.min()) >= 0
    if diffuse:  # where beam and diffuse agree with the sum, the diffuse is as read
        free = up & (light.dni > 0) & (light.dni < sun.cleanest - 1e-9)
        assert free.sum() > 100
        assert light.dhi[free] == pytest.approx(own[free], rel=1e-9)


@pytest.mark.parametrize("plane", ["level", "facing the sun", "beam"])
def test_a_clear_sky_comes_back_as_itself(course, plane: str) -> None:
    """Ineichen and Perez' clear sky read on each plane; near the horizon nobody can tell beam from sky."""
    path, clear, sun = course
    sine = path.to_sun[0, :, 2]
    dni, dhi, ghi = (part[0] for part in clear)
    facing = dni + dhi * (1 + sine) / 2 + ALBEDO * ghi * (1 - sine) / 2
    read = {"level": ghi, "facing the sun": facing, "beam": dni}[plane]
    light = split(read, None, plane, sun=sun, albedo=ALBEDO)
    high = sine > math.sin(10 * DEG)
    assert light.dni[high] == pytest.approx(dni[high], rel=1e-6)
    assert light.dhi[high] == pytest.approx(dhi[high], rel=1e-6)


def test_clouds_take_the_beam_before_the_sky(course) -> None:
    _, clear, sun = course
    noon = int(sun.sine.argmax())
    shares = np.array([0.1, 0.3, 0.5, 0.7, 0.9, 1.0])
    dni = [split(clear.ghi[0] * s, None, "level", sun=sun, albedo=ALBEDO).dni[noon] for s in shares]
    assert (np.diff(dni) > 0).all()
    assert dni[0] < 5.0
    assert (np.array(dni[:-1]) < shares[:-1] * dni[-1]).all()


def test_the_sun_of_a_record_stands_where_pvlib_has_it() -> None:
    """By the record's clock, through its time zone."""
    found = outdoors(cook(), YARD).sky
    when = datetime.datetime(2024, 10, 3, 7, 30, 20, tzinfo=datetime.UTC) + datetime.timedelta(minutes=90)
    by_pvlib = pvlib.solarposition.get_solarposition(when, -23.0, 31.0, altitude=900.0)
    assert np.degrees(found.azimuth[0, 90]) == pytest.approx(float(by_pvlib["azimuth"].iloc[0]), abs=0.01)
    expected = float(by_pvlib["apparent_elevation"].iloc[0])
    assert np.degrees(found.elevation[0, 90]) == pytest.approx(expected, abs=0.01)


def test_what_nobody_read_is_told() -> None:
    bare = outdoors(cook(), YARD)
    assert (bare.sky.wind_speed == USUAL_WIND).all()
    assert bare.sky.dni.max() > 700  # a clear sky stands in
    told = " ".join(bare.notes)
    assert "nobody measured the sunlight: a clear sky stands in" in told
    assert "nobody read the wind: 1 m/s" in told
    air = Air(low=285.0, high=305.0, dew_point=280.0, wind_speed=3.0)
    filled = outdoors(cook(air=None), YARD, air=air)
    assert (filled.sky.wind_speed == 3.0).all()
    assert 285.0 < filled.sky.air_temperature.min() < filled.sky.air_temperature.max() < 305.0
    assert "its temperature is that of [sky.air]" in " ".join(filled.notes)
    assert bare.known.all()
    with pytest.raises(
        RecordError, match=r"nobody read the air outside: add a column for it, or a table \[sky.air\]"
    ):
        outdoors(cook(air=None), YARD)


def test_hours_without_a_reading_of_the_light_are_not_known() -> None:
    light = np.full(181, 850.0)
    light[60:100] = np.nan
    light[120:125] = np.nan  # short enough for a straight line
    found = outdoors(cook(irradiance=light), YARD)
    assert found.known[:60].all()
    assert not found.known[60:100].any()
    assert found.known[100:].all()
    assert "irradiance: no reading for 41 min; not predicted there" in found.notes
    calm = np.full(181, 2.0)
    calm[:100] = np.nan
    gusty = outdoors(cook(irradiance=np.full(181, 850.0), wind=calm), YARD)
    assert gusty.known.all()
    assert "wind: no reading for 100 min; bridged by a straight line" in gusty.notes


def test_a_cook_by_night_has_a_sky_without_sun() -> None:
    night = outdoors(cook(start=START + datetime.timedelta(hours=12)), YARD).sky
    assert night.dni.max() == night.ghi.max() == 0.0
