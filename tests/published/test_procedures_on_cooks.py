"""Measured cooks under the published procedures: the same numbers as from the procedures' own logs.

Solar noon: transit by the position algorithm of Reda and Andreas (2004) as pvlib searches it, another way than ours.
Irradiance facing the sun: pvlib's own transposition. The made run is that of test_s580.
"""

import datetime
import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pvlib
import pytest

from noonhearth.model import Meal, Place, ProcedureError, cooking_power
from noonhearth.model.cooks import CookRecord
from noonhearth.model.irradiance import Irradiance
from noonhearth.model.procedures import (
    FACING,
    LEVEL,
    SHADED,
    facing_the_sun,
    intervals_of,
    log_of_record,
    solar_noon,
    sun_over,
    why_estimate,
)

CELSIUS = 273.15
BOILING = 373.12
PLACE = Place(
    latitude=math.radians(13.5), longitude=math.radians(-1.5), altitude=320.0, timezone="UTC", name="yard"
)
START = datetime.datetime(2025, 3, 10, 11, 20, tzinfo=datetime.UTC)
WATER = "36.00 41.83 47.37 52.70 57.77 62.59 67.12 71.33 75.16 78.62 81.72"
SUN = "800 820 850 870 890 900 905 900 890 880"


def record(**changes: object) -> CookRecord:
    """The made run of test_s580 as it was logged: level irradiance between two steps a millisecond apart."""
    ends = 600.0 * np.arange(11)
    time = np.sort(np.concatenate([ends, ends[1:-1] - 1e-3]))
    fields: dict[str, object] = {
        "name": "made run",
        "start": START,
        "time": time,
        "temperatures": {"food": np.interp(time, ends, [float(w) + CELSIUS for w in WATER.split()])},
        "air": np.full(len(time), 30 + CELSIUS),
        "irradiance": np.repeat([float(s) for s in SUN.split()], 2),
        "wind": np.full(len(time), 0.5),
        "meal": Meal(food="water", food_mass=2.0),
    }
    return CookRecord(**(fields | changes))


def log(of: CookRecord, **options: object):
    return log_of_record(of, place=PLACE, plane=FACING, water_mass=2.0, **options)


def test_a_measured_run_gives_the_worked_line():
    """The worked run of test_s580 through a record: the numbers held there, to their digits."""
    found = cooking_power([log(record())], boiling_temperature=BOILING)
    assert found.line.intercept == pytest.approx(78.9779, rel=1e-6)
    assert found.line.slope == pytest.approx(-0.871236, rel=1e-6)
    assert found.power == pytest.approx(35.4161, rel=2e-6)


def thinned(values: np.ndarray, every: int) -> np.ndarray:
    """A series that a slower logger reads: nan between its readings."""
    return np.where(np.arange(len(values)) % every == 0, values, np.nan)


def test_loggers_of_other_paces_lose_nothing():
    """Straight lines read every 1, 2 and 5 minutes are the same lines."""
    time = 60.0 * np.arange(121)
    line = 310.0 + time / 240
    air, sun = 300.0 + time / 7200, 800.0 + time / 100
    full = record(time=time, temperatures={"food": line}, air=air, irradiance=sun, wind=np.full(121, 0.5))
    slow = replace(
        full, temperatures={"food": thinned(line, 2)}, air=thinned(air, 5), irradiance=thinned(sun, 1)
    )
    one, other = (intervals_of([log(r)], boiling_temperature=BOILING) for r in (full, slow))
    assert len(one) == 12
    for a, b in zip(one, other, strict=True):
        assert a.standardised_power == pytest.approx(b.standardised_power, rel=1e-12)
        assert a.reasons == b.reasons == ()


def test_a_log_runs_from_where_all_began_to_where_one_ended():
    time = 60.0 * np.arange(61)
    air = np.where(time < 300, np.nan, 303.0)
    sun = np.where(time > 3000, np.nan, 800.0)
    series = {"food": 310.0 + time / 240}
    found = log(record(time=time, temperatures=series, air=air, irradiance=sun, wind=None))
    assert found.series("time")[[0, -1]].tolist() == [300.0, 3000.0]
    assert found.wind_speed is None


@pytest.mark.parametrize(("silent", "void"), [(11, {1, 2}), (10, set())])
def test_a_thermometer_that_is_silent_voids_what_it_touches(silent: int, void: set[int]):
    """The air not read from 12 min on: ten minutes are what the draft allows, eleven are not."""
    time = 60.0 * np.arange(61)
    air = np.full(61, 303.0)
    air[13 : 12 + silent] = np.nan
    rising = {"food": 310.0 + time / 240}
    test = log(record(time=time, temperatures=rising, air=air, irradiance=np.full(61, 800.0), wind=None))
    found = intervals_of([test], boiling_temperature=BOILING)
    assert {k for k, one in enumerate(found) if one.reasons == ("records more than 10 min apart",)} == void
    assert {k for k, one in enumerate(found) if one.void} == void


def test_a_shaded_mouth_voids_what_it_touches():
    found = intervals_of([log(record(shaded=((650.0, 700.0),)))], boiling_temperature=BOILING)
    assert [k for k, one in enumerate(found) if SHADED in one.reasons] == [1]


@pytest.mark.parametrize("latitude", [13.5, -33.0, 52.0])
@pytest.mark.parametrize("hours", [-4.0, 0.0, 3.0])
def test_solar_noon_is_the_sun_s_transit(latitude: float, hours: float):
    """Within 10 s: the sun's day differs from the clock's by 30 s at most, and a cook lies within 6 h of noon."""
    place = replace(PLACE, latitude=math.radians(latitude))
    cook = record(start=START + datetime.timedelta(hours=hours))
    times = pd.DatetimeIndex([START]).normalize()
    transit = pvlib.solarposition.sun_rise_set_transit_spa(times, latitude, -1.5, delta_t=69.0)[
        "transit"
    ].iloc[0]
    assert solar_noon(cook, place) == pytest.approx((transit - cook.start).total_seconds(), abs=10.0)


def test_facing_the_sun_is_pvlib_s_transposition():
    """Under the isotropic sky of Liu and Jordan, over ground of albedo 0.2 and 0.6."""
    azimuth, elevation = sun_over(record(), PLACE)
    light = Irradiance(
        dni=np.full(len(elevation), 780.0),
        dhi=np.full(len(elevation), 130.0),
        ghi=780 * np.sin(elevation) + 130,
    )
    for albedo in (0.2, 0.6):
        ours = facing_the_sun(light, elevation=elevation, albedo=albedo)
        theirs = pvlib.irradiance.get_total_irradiance(
            90 - np.degrees(elevation),
            np.degrees(azimuth),
            90 - np.degrees(elevation),
            np.degrees(azimuth),
            light.dni,
            light.ghi,
            light.dhi,
            albedo=albedo,
            model="isotropic",
        )["poa_global"]
        np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_a_level_instrument_is_another_plane():
    """Refused as it stands; converted where the light is taken apart, and then an estimate."""
    level = record(plane=LEVEL)
    with pytest.raises(ProcedureError, match="is global, on a horizontal plane, the standard wants"):
        log(level)
    count = len(level.instants)
    light = Irradiance(dni=np.full(count, 700.0), dhi=np.full(count, 100.0), ghi=np.full(count, 760.0))
    elevation = sun_over(level, PLACE)[1]
    expected = 700 + 100 * (1 + np.sin(elevation)) / 2 + 0.2 * 760 * (1 - np.sin(elevation)) / 2
    np.testing.assert_allclose(log(level, sunlight=light).series("irradiance"), expected, rtol=1e-12)
    onto = log_of_record(record(), place=PLACE, plane=LEVEL, sunlight=light)
    assert onto.series("irradiance").tolist() == [760.0] * count
    assert why_estimate(record(), FACING) == []
    assert "by a correlation" in why_estimate(level, FACING)[0]
    assert "measured beside it" in why_estimate(replace(level, diffuse=np.full(count, 100.0)), FACING)[0]
    assert "clear sky" in why_estimate(record(irradiance_measured=False), FACING)[0]


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"air": None}, "no temperature of the air outside"),
        ({"irradiance": None}, "no irradiance"),
        ({"temperatures": {"pot": np.full(20, 320.0)}}, "no thermometer in the food, or in the water"),
    ],
)
def test_what_a_record_needs(changes: dict[str, object], fault: str):
    with pytest.raises(ProcedureError, match=fault):
        log(record(**changes))


def test_series_that_share_no_ten_minutes():
    early = np.where(np.arange(20) > 4, np.nan, 303.0)  # to 20 min
    late = np.where(np.arange(20) < 3, np.nan, 800.0)  # from 20 min less a millisecond on
    with pytest.raises(ProcedureError, match="share 0 min, 10 min is the least"):
        log(record(air=early, irradiance=late))
