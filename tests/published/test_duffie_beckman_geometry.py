"""Worked examples of Duffie, J. A. and Beckman, W. A., Solar Engineering of Thermal Processes (2nd-5th ed.).

Printed results are from memory, to the digits the book prints; the longer figures are the book's formulas
worked out by hand with its own constants (Cooper's declination, 1367 W/m2). Two further exercises are from
Khan, B. H., Non-Conventional Energy Resources, and Rai, G. D., Non-Conventional Energy Sources, recomputed.
"""

import datetime as dt
import math

import numpy as np
import pytest

from noonhearth.model.clearness import (
    daily_extraterrestrial,
    diffuse_fraction_daily_erbs,
    hour_share_collares_pereira_rabl,
    hour_share_liu_jordan,
    sunset_hour_angle,
)
from noonhearth.model.sun import Place, clock_window, sun_path


def cooper(day: int) -> float:
    return math.radians(23.45 * math.sin(math.radians(360 * (284 + day) / 365)))


def outside(day: int, constant: float = 1367.0) -> float:
    return constant * (1 + 0.033 * math.cos(math.radians(360 * day / 365)))


def test_solar_time_of_example_1_5_1() -> None:
    """Madison, 89.4 W, 3 February, 10:30 Central Standard: 10:19 solar."""
    place = Place(latitude=math.radians(43), longitude=math.radians(-89.4), timezone="America/Chicago")
    path = sun_path(clock_window(place, [dt.date(2025, 2, 3)], dt.time(10, 25), dt.time(10, 35)), place)
    hours = 12 + path.hour_angle[0, 5] * 12 / math.pi
    # the book's equation of time is Spencer's, good to 0.9 min
    assert hours == pytest.approx(10 + (30 - 11.088) / 60, abs=0.5 / 60)
    assert round(hours * 60) == 10 * 60 + 19


def test_day_of_example_1_10_1() -> None:
    """43 N, 15 April: 33.8 MJ/m2."""
    day = daily_extraterrestrial(latitude=math.radians(43), declination=cooper(105), normal=outside(105))
    assert day / 1e6 == pytest.approx(33.7748, rel=1e-5)
    assert f"{day / 1e6:.1f}" == "33.8"


def test_hour_of_example_1_10_2() -> None:
    """The same day from 10 to 11: 3.79 MJ/m2. The diffuse share of an hour is the share outside the air."""
    sunset = sunset_hour_angle(latitude=math.radians(43), declination=cooper(105))
    day = daily_extraterrestrial(latitude=math.radians(43), declination=cooper(105), normal=outside(105))
    hour_angle = np.radians(np.linspace(-30, -15, 2001))
    share = np.trapezoid(hour_share_liu_jordan(hour_angle=hour_angle, sunset=sunset), dx=1 / 2000)
    assert share * day / 1e6 == pytest.approx(3.79048, rel=1e-5)


@pytest.mark.parametrize(("day", "hours"), [(1, 9.7733), (182, 14.2389)])
def test_day_length_in_khan(day: int, hours: float) -> None:
    """34.083 N, 1 January and 1 July."""
    sunset = sunset_hour_angle(latitude=math.radians(34.083), declination=cooper(day))
    assert 2 * sunset * 12 / math.pi == pytest.approx(hours, abs=1e-3)


def test_sunset_and_day_in_rai() -> None:
    """10 N, declination 23.5 deg, day 172, solar constant 1353 W/m2: 10 146.1 Wh/m2 in the day."""
    declination, latitude = math.radians(23.5), math.radians(10)
    sunset = sunset_hour_angle(latitude=latitude, declination=declination)
    day = daily_extraterrestrial(latitude=latitude, declination=declination, normal=outside(172, 1353.0))
    assert math.degrees(sunset) == pytest.approx(94.3971, abs=1e-4)
    assert day / 3600 == pytest.approx(10_146.1, rel=1e-5)


@pytest.mark.parametrize(
    ("latitude", "day", "hour", "printed"),
    [
        (-38, 17, 8.5, "0.076"),  # example 2.13.1, Melbourne, January
        (43, 235, 13.5, "0.118"),  # example 2.13.2, Madison, 23 August; of 31.4 MJ/m2, 3.7
        (43, 162, 10.5, "0.108"),  # example 2.13.3, Madison, June
    ],
)
def test_hour_of_a_day_in_examples_2_13(latitude: float, day: int, hour: float, printed: str) -> None:
    sunset = sunset_hour_angle(latitude=math.radians(latitude), declination=cooper(day))
    share = hour_share_collares_pereira_rabl(hour_angle=math.radians(15 * (hour - 12)), sunset=sunset)
    assert f"{float(share):.3f}" == printed


@pytest.mark.parametrize(
    ("clearness", "sunset_deg", "fraction"),
    [
        # eq. 2.11.1 worked out by hand
        (0.3, 75.0, 0.8920),
        (0.6, 75.0, 0.3534),
        (0.9, 75.0, 0.143),
        (0.3, 100.0, 0.8778),
        (0.6, 100.0, 0.4323),
        (0.9, 100.0, 0.175),
    ],
)
def test_daily_diffuse_of_erbs(clearness: float, sunset_deg: float, fraction: float) -> None:
    K = clearness
    ours = diffuse_fraction_daily_erbs(clearness=np.array(K), sunset=np.array(math.radians(sunset_deg)))
    assert float(ours) == pytest.approx(fraction, abs=5e-5)


def test_erbs_winter_branches_join() -> None:
    """The fit was made to join its constant; the summer branch is published with a step of 0.015."""
    just = np.array([0.715 - 1e-9, 0.715])
    below, above = diffuse_fraction_daily_erbs(clearness=just, sunset=np.array(1.2))
    assert below == pytest.approx(above, abs=1e-3)
