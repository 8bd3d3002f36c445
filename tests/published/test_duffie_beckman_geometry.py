"""Worked examples of Duffie, J. A. and Beckman, W. A., Solar Engineering of Thermal Processes (2nd-5th ed.).

Printed results are from memory, to the digits the book prints; the longer figures are the book's formulas
worked out by hand with its own constants (Cooper's declination, 1367 W/m2). Two further exercises are from
Khan, B. H., Non-Conventional Energy Resources, and Rai, G. D., Non-Conventional Energy Sources, recomputed.
"""

import datetime as dt
import math
from typing import Any

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

BOOK = "Duffie and Beckman, Solar Engineering of Thermal Processes (from memory)"
KHAN = "Khan, Non-Conventional Energy Resources, exercise recomputed"
RAI = "Rai, Non-Conventional Energy Sources, exercise recomputed"


def cooper(day: int) -> float:
    return math.radians(23.45 * math.sin(math.radians(360 * (284 + day) / 365)))


def outside(day: int, constant: float = 1367.0) -> float:
    return constant * (1 + 0.033 * math.cos(math.radians(360 * day / 365)))


def test_solar_time_of_example_1_5_1(published: Any) -> None:
    """Madison, 89.4 W, 3 February, 10:30 Central Standard: 10:19 solar."""
    place = Place(latitude=math.radians(43), longitude=math.radians(-89.4), timezone="America/Chicago")
    path = sun_path(clock_window(place, [dt.date(2025, 2, 3)], dt.time(10, 25), dt.time(10, 35)), place)
    hours = 12 + path.hour_angle[0, 5] * 12 / math.pi
    # the book's equation of time is Spencer's, good to 0.9 min
    assert hours == pytest.approx(10 + (30 - 11.088) / 60, abs=0.5 / 60)
    published(f"{BOOK}, example 1.5.1", "solar time at Madison [min past 10]", "19", hours * 60 - 600)


def test_day_of_example_1_10_1(published: Any) -> None:
    """43 N, 15 April: 33.8 MJ/m2."""
    day = daily_extraterrestrial(latitude=math.radians(43), declination=cooper(105), normal=outside(105))
    assert day / 1e6 == pytest.approx(33.7748, rel=1e-5)
    published(f"{BOOK}, example 1.10.1", "extraterrestrial day, 43 N, 15 April [MJ/m2]", "33.8", day / 1e6)


def test_hour_of_example_1_10_2(published: Any) -> None:
    """The same day from 10 to 11: 3.79 MJ/m2. The diffuse share of an hour is the share outside the air."""
    sunset = sunset_hour_angle(latitude=math.radians(43), declination=cooper(105))
    day = daily_extraterrestrial(latitude=math.radians(43), declination=cooper(105), normal=outside(105))
    hour_angle = np.radians(np.linspace(-30, -15, 2001))
    share = np.trapezoid(hour_share_liu_jordan(hour_angle=hour_angle, sunset=sunset), dx=1 / 2000)
    assert share * day / 1e6 == pytest.approx(3.79048, rel=1e-5)
    published(f"{BOOK}, example 1.10.2", "the same from 10 to 11 [MJ/m2]", "3.79", share * day / 1e6)


@pytest.mark.parametrize(("day", "hours"), [(1, 9.7733), (182, 14.2389)])
def test_day_length_in_khan(day: int, hours: float, published: Any) -> None:
    """34.083 N, 1 January and 1 July."""
    sunset = sunset_hour_angle(latitude=math.radians(34.083), declination=cooper(day))
    ours = 2 * sunset * 12 / math.pi
    published(KHAN, f"day length, 34.083 N, day {day} [h]", str(hours), ours, within=1e-3, kind="worked")


def test_sunset_and_day_in_rai(published: Any) -> None:
    """10 N, declination 23.5 deg, day 172, solar constant 1353 W/m2: 10 146.1 Wh/m2 in the day."""
    declination, latitude = math.radians(23.5), math.radians(10)
    sunset = sunset_hour_angle(latitude=latitude, declination=declination)
    day = daily_extraterrestrial(latitude=latitude, declination=declination, normal=outside(172, 1353.0))
    published(
        RAI, "sunset hour angle, 10 N [deg]", "94.3971", math.degrees(sunset), within=1e-4, kind="worked"
    )
    published(
        RAI, "extraterrestrial day, 10 N, day 172 [Wh/m2]", "10146.1", day / 3600, rel=1e-5, kind="worked"
    )


@pytest.mark.parametrize(
    ("latitude", "day", "hour", "printed"),
    [
        (-38, 17, 8.5, "0.076"),  # example 2.13.1, Melbourne, January
        (43, 235, 13.5, "0.118"),  # example 2.13.2, Madison, 23 August; of 31.4 MJ/m2, 3.7
        (43, 162, 10.5, "0.108"),  # example 2.13.3, Madison, June
    ],
)
def test_hour_of_a_day_in_examples_2_13(
    latitude: float, day: int, hour: float, printed: str, published: Any
) -> None:
    sunset = sunset_hour_angle(latitude=math.radians(latitude), declination=cooper(day))
    share = hour_share_collares_pereira_rabl(hour_angle=math.radians(15 * (hour - 12)), sunset=sunset)
    what = f"share of the day in an hour round {hour} h, {latitude} deg, day {day} [1]"
    published(f"{BOOK}, examples 2.13.1 to 2.13.3", what, printed, float(share))


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
def test_daily_diffuse_of_erbs(clearness: float, sunset_deg: float, fraction: float, published: Any) -> None:
    K = clearness
    ours = diffuse_fraction_daily_erbs(clearness=np.array(K), sunset=np.array(math.radians(sunset_deg)))
    published(
        "Erbs, Klein and Duffie, Solar Energy 28 (1982), by Duffie and Beckman, eq. 2.11.1",
        f"daily diffuse share at clearness {clearness}, sunset at {sunset_deg:.0f} deg [1]",
        str(fraction),
        float(ours),
        within=5e-5,
        kind="worked",
    )


def test_erbs_winter_branches_join() -> None:
    """The fit was made to join its constant; the summer branch is published with a step of 0.015."""
    just = np.array([0.715 - 1e-9, 0.715])
    below, above = diffuse_fraction_daily_erbs(clearness=just, sunset=np.array(1.2))
    assert below == pytest.approx(above, abs=1e-3)
