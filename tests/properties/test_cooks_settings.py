"""How an oven stood during a cook: as noted, as planned where nothing was noted, and shaded when it was."""

import datetime
import math

import numpy as np
import pytest

from noonhearth.model import ByHand, CookRecord, Drive, Fixed, Place, aim
from noonhearth.model.cooks.daylight import open_shares
from noonhearth.model.cooks.settings import aimed_as_noted
from noonhearth.model.cooks.weather import outdoors

DEG = math.pi / 180
YARD = Place(latitude=14 * DEG, longitude=-2 * DEG, altitude=300.0, timezone="UTC", name="yard")
START = datetime.datetime(2025, 2, 3, 9, 30, tzinfo=datetime.UTC)
DRIVE = Drive(
    fin_height=0.05, cell_width=0.05, start_share=0.15, stop_share=0.05, speed=3e-3, elevation_every=1800.0
)


def stand(aiming, *, hours: float = 4.0, start: datetime.datetime = START, **noted):
    """The cook's record, its sky, and how the oven stood."""
    time = np.arange(0, hours * 3600 + 1, 60.0)
    series = {"air": np.full(len(time), 300.0), "temperatures": {"food": np.full(len(time), 300.0)}}
    record = CookRecord(name="a cook", start=start, time=time, **series, **noted)
    sky = outdoors(record, YARD)
    return sky.sky, aimed_as_noted([aiming], sky.sky, record, sky.minutes).way(0)


@pytest.mark.parametrize("lead", [0.0, 0.5])
def test_settings_noted_by_the_clock_are_those_of_the_plan(lead: float) -> None:
    """Against the aiming of a day: every 20 and 60 minutes, each looking as far ahead."""
    plan = ByHand(azimuth_every=1200.0, elevation_every=3600.0, lead=lead, azimuth_bias=0.02)
    noted = {
        "azimuth_settings": tuple(range(0, 14400, 1200)),
        "elevation_settings": tuple(range(0, 14400, 3600)),
    }
    sky, found = stand(plan, **{name: tuple(map(float, times)) for name, times in noted.items()})
    planned = aim(plan, sky.to_sun)
    assert found.aim.azimuth == pytest.approx(planned.azimuth, abs=1e-9)
    assert found.aim.elevation == pytest.approx(planned.elevation, abs=1e-9)
    _, unnoted = stand(plan)
    assert (unnoted.aim.azimuth == planned.azimuth).all()


def test_it_stands_still_between_settings_and_on_the_first_sun_before_them() -> None:
    plan = ByHand(azimuth_every=1200.0, lead=0.0)  # elevation goes with the azimuth
    sky, found = stand(plan, azimuth_settings=(3000.0, 9060.0))
    azimuth, elevation = found.aim.azimuth[0], found.aim.elevation[0]
    for begin, end in ((0, 50), (50, 150), (151, 241)):
        assert azimuth[begin:end] == pytest.approx(sky.azimuth[0, begin], abs=1e-9)
        assert elevation[begin:end] == pytest.approx(sky.elevation[0, begin], abs=1e-9)
    assert found.aim.off_axis[0, [0, 50]] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert found.aim.off_axis[0, 49] > 5 * DEG
    assert found.to_sun[0, 0] == pytest.approx([0.0, 0.0, 1.0], abs=1e-6)  # the axis is on the sun


def test_a_setting_looks_no_further_ahead_than_the_next_one_was_due() -> None:
    plan = ByHand(azimuth_every=1200.0, lead=0.5)
    sky, found = stand(plan, azimuth_settings=(0.0, 600.0, 7200.0))
    azimuth = found.aim.azimuth[0]
    assert azimuth[0] == pytest.approx(sky.azimuth[0, 5], abs=1e-6)  # half way to the next, ten minutes later
    assert azimuth[10] == pytest.approx(sky.azimuth[0, 20], abs=1e-6)  # half of the 20 minutes planned
    assert azimuth[120] == pytest.approx(sky.azimuth[0, 130], abs=1e-6)


def test_what_was_not_noted_is_as_the_aiming_says() -> None:
    sky, found = stand(DRIVE, elevation_settings=(0.0, 5400.0))
    planned = aim(DRIVE, sky.to_sun, dni=sky.dni)
    assert (found.aim.azimuth == planned.azimuth).all()
    assert (np.diff(found.aim.elevation[0]) != 0).sum() == 1
    still = Fixed(fixed_azimuth=3.0, fixed_elevation=0.9)
    _, turned = stand(still, azimuth_settings=(0.0, 7200.0))
    assert (turned.aim.elevation == 0.9).all()
    assert len(np.unique(turned.aim.azimuth)) == 2
    own = ByHand(azimuth_every=1200.0, elevation_every=7200.0)
    sky, found = stand(own, azimuth_settings=(0.0,))
    assert (found.aim.elevation == aim(own, sky.to_sun).elevation).all()


def test_before_sunrise_it_waits_where_the_sun_comes_up_and_by_night_half_way_up() -> None:
    dawn = START.replace(hour=5)
    sky, found = stand(Fixed(fixed_azimuth=1.0, fixed_elevation=0.5), start=dawn, azimuth_settings=(0.0,))
    rise = int(np.argmax(sky.to_sun[0, :, 2] > 0))
    assert 0 < rise < 120
    assert found.aim.azimuth[0, 0] == pytest.approx(sky.azimuth[0, rise], abs=1e-9)
    _, night = stand(ByHand(azimuth_every=600.0), start=START.replace(hour=20))
    assert np.degrees(night.aim.elevation) == pytest.approx(45.0)


def test_a_shaded_span_closes_its_minutes_to_the_second() -> None:
    time = np.arange(0, 1201, 60.0)
    series = {"air": np.full(len(time), 300.0), "temperatures": {"food": np.full(len(time), 300.0)}}
    spans = ((90.0, 240.0), (615.0, 630.0))
    record = CookRecord(name="a cook", start=START, time=time, shaded=spans, **series)
    shares = open_shares(record, time)
    assert shares[:5].tolist() == [1.0, 0.5, 0.0, 0.0, 1.0]
    assert shares[10] == pytest.approx(0.75)
    assert 60 * (1 - shares).sum() == pytest.approx(150.0 + 15.0)
