"""Safety numbers against published thresholds and closed forms of statics.

ISO 13732-1:2006 and EN 563:1994 (from memory); Moritz, A. R. and Henriques, F. C., Am. J. Pathology 23 (1947)
695 and a burns institute's table of serious scalds (second hand); ICNIRP, Health Physics 105 (2013) 74 (from
memory); USDA FSIS, the two-hour rule; drag of bluff bodies, q = rho V^2 / 2.
"""

import math
from typing import Any

import numpy as np
import pytest

from noonhearth.model.food import DANGER_HIGH, DANGER_LOW
from noonhearth.model.limits import (
    CAUTIONS,
    FRICTION,
    ballast,
    effusivity,
    lukewarm_allowance,
    presented_area,
    restoring_arm,
    scald_time,
    skin_exposure_time,
    sliding_wind_speed,
    tipping_wind_speed,
    touch_threshold,
    wind_force,
)
from noonhearth.model.materials import materials

BURNS = "Moritz and Henriques, Am. J. Pathology 23 (1947) 695 (second hand)"
OVEN = {"mass": 14.0, "area": 0.5}


def surface(group: str, name: str) -> float:
    own = materials().numbers(group, name)
    return float(effusivity(**{key: own[key] for key in ("conductivity", "density", "specific_heat")}))


@pytest.mark.parametrize(
    ("group", "name", "low", "high"),
    [
        ("pots", "stainless-steel", 65, 70),
        ("shells", "aluminium", 65, 70),
        ("shells", "steel-galvanised", 65, 70),
        ("covers", "float-glass", 80, 86),
        ("covers", "acrylic", 85, 93),
        ("shells", "timber", 110, 115),
        ("shells", "plywood", 110, 115),
    ],
)
def test_one_second_thresholds(group: str, name: str, low: float, high: float) -> None:
    """EN 563: bands of the one-second threshold for bare metal, glass, plastic and wood."""
    threshold = float(touch_threshold(surface(group, name), duration=1.0)) - 273.15
    assert low - 0.1 <= threshold <= high


@pytest.mark.parametrize(("seconds", "celsius"), [(60.0, 51), (600.0, 48), (28_800.0, 43)])
@pytest.mark.parametrize("name", ["timber", "aluminium", "paperboard"])
def test_long_touch_is_the_same_for_every_solid(
    seconds: float, celsius: float, name: str, published: Any
) -> None:
    """ISO 13732-1: 51, 48 and 43 degC at one minute, ten minutes and eight hours."""
    ours = touch_threshold(surface("shells", name), duration=seconds) - 273.15
    what = f"burn threshold of {name} touched for {seconds:.0f} s [degC]"
    published("ISO 13732-1:2006 (from memory)", what, str(celsius), ours, within=1e-6)


def test_a_longer_touch_and_a_denser_surface_burn_at_less() -> None:
    durations = np.geomspace(1.0, 28_800.0, 40)
    grid = np.array([touch_threshold(np.geomspace(100.0, 4e4, 30), duration=d) for d in durations])
    assert (np.diff(grid, axis=0) <= 1e-9).all()
    assert (np.diff(grid, axis=1) <= 1e-9).all()
    assert grid.min() >= 43 + 273.15 - 1e-9


@pytest.mark.parametrize("duration", [0.1, 1e5, math.nan])
def test_touches_outside_the_standard_are_refused(duration: float) -> None:
    with pytest.raises(ValueError, match="the standard covers"):
        touch_threshold(1000.0, duration=duration)


@pytest.mark.parametrize(
    ("celsius", "least", "most"),
    # Seconds to a serious (third-degree) burn as quoted; a blister comes sooner, not ten times sooner.
    [(49, 300, 600), (52, 90, 120), (55, 30, 30), (57, 10, 10), (60, 3, 5), (63, 2, 3), (68, 1, 1)],
)
def test_blisters_come_before_serious_burns(celsius: float, least: float, most: float) -> None:
    assert most / 10 <= scald_time(celsius + 273.15) <= most


def test_published_blister_times(published: Any) -> None:
    for celsius, printed in ((49, "480"), (51, "120"), (55, "17"), (60, "3")):
        ours = float(scald_time(np.array(celsius + 273.15)))
        published(BURNS, f"blister in water of {celsius} degC after [s]", printed, ours, rel=1e-9)
    assert (np.diff(scald_time(np.linspace(318.15, 373.15, 100))) < 0).all()


def test_skin_in_concentrated_light(published: Any) -> None:
    """20 000 W/m2 at 1 s, 3557 at 10 s: 20 and 3.6 suns."""
    for irradiance, printed in ((20_000.0, "1.0"), (3557.0, "10.0")):
        where = "ICNIRP, Health Physics 105 (2013) 74 (from memory)"
        what = f"skin under {irradiance:.0f} W/m2 for [s]"
        published(where, what, printed, float(skin_exposure_time(irradiance)), rel=2e-4)
    assert skin_exposure_time(1000.0) == 10.0
    assert 20_000 * skin_exposure_time(8000.0) ** -0.75 == pytest.approx(8000.0)


def test_two_hours_and_one_on_a_hot_day() -> None:
    np.testing.assert_array_equal(
        lukewarm_allowance(np.array([293.15, 305.0, 306.0])), [7200.0, 7200.0, 3600.0]
    )


def test_danger_zone_is_that_of_the_food_bodies() -> None:
    """FSANZ and WHO: 5 to 60 degC; the 40 to 140 degF of the USDA starts half a kelvin lower."""
    assert pytest.approx((5.0, 60.0)) == (DANGER_LOW - 273.15, DANGER_HIGH - 273.15)


@pytest.mark.parametrize(
    ("speed", "pressure", "force"),
    [(2.5, "3.83", "2.30"), (5.0, "15.3", "9.19"), (10.0, "61.3", "36.8"), (15.0, "137.8", "82.7")],
)
def test_wind_on_half_a_square_metre(speed: float, pressure: str, force: str, published: Any) -> None:
    """rho V^2 / 2 with 1.225 kg/m3, and 1.2 times that on 0.5 m2, worked by hand."""
    for name, text, pushed in (
        ("pressure [Pa]", pressure, wind_force(speed, area=1.0, drag=1.0)),
        ("force on 0.5 m2 [N]", force, wind_force(speed, area=0.5)),
    ):
        half_digit = 0.5 * 10.0 ** -len(text.partition(".")[2])
        what = f"wind of {speed:g} m/s, {name}"
        published("rho V^2 / 2, drag 1.2", what, text, pushed, within=1.01 * half_digit, kind="worked")


def test_at_the_tipping_speed_the_moments_balance() -> None:
    arm, height = 0.3, 0.5
    speed = tipping_wind_speed(**OVEN, push_height=height, arm=arm, air_density=1.0)
    assert wind_force(speed, area=0.5, air_density=1.0) * height == pytest.approx(14.0 * 9.80665 * arm)
    assert tipping_wind_speed(**OVEN, push_height=height, arm=-0.1) == 0


def test_at_the_sliding_speed_the_forces_balance() -> None:
    speed = sliding_wind_speed(**OVEN)
    assert wind_force(speed, area=0.5) == pytest.approx(FRICTION * 14.0 * 9.80665)


def test_thin_air_stands_more_wind() -> None:
    low, high = (sliding_wind_speed(**OVEN, air_density=rho) for rho in (1.225, 0.9))
    assert high / low == pytest.approx(math.sqrt(1.225 / 0.9))


@pytest.mark.parametrize("gust", [5.0, 15.0, 25.0])
@pytest.mark.parametrize("height", [0.5, 1.5])  # slides first; tips first
def test_ballast_holds_the_oven_and_no_more(gust: float, height: float) -> None:
    stand = {"area": 0.5, "push_height": height, "base_radius": 0.3}
    extra = float(ballast(gust=gust, mass=14.0, arm=0.2, **stand))
    whole = 14.0 + extra
    arm = (14.0 * 0.2 + extra * 0.3) / whole  # the ballast lies on the middle of the base
    tips = tipping_wind_speed(mass=whole, area=0.5, push_height=height, arm=arm)
    slides = sliding_wind_speed(mass=whole, area=0.5)
    assert min(tips, slides) >= gust * (1 - 1e-12)
    if extra > 0:
        assert min(tips, slides) == pytest.approx(gust)


@pytest.mark.parametrize("tilt", [0.0, 0.4, 1.0, math.pi / 2])
def test_shadow_of_a_drum(tilt: float) -> None:
    """Length L, radius R: pi R^2 sin + 2 R L cos, by counting points of the solid in the wind's eye."""
    radius, length = 0.4, 0.6
    across, up = np.meshgrid(np.linspace(-0.6, 0.6, 601), np.linspace(-0.8, 0.8, 801), indexing="ij")
    # seen along y: a point (x, z) is dark if some y puts it inside; the axis leans in the y-z plane by `tilt`
    half_chord = np.sqrt(np.maximum(radius**2 - across**2, 0.0))
    reach = half_chord * math.sin(tilt) + length / 2 * math.cos(tilt)
    dark = (np.abs(across) <= radius) & (np.abs(up) <= reach)
    counted = dark.sum() * (1.2 / 600) * (1.6 / 800)
    area = presented_area(mouth_area=math.pi * radius**2, side_area=2 * radius * length, tilt=tilt)
    assert area == pytest.approx(counted, rel=0.01)


def test_leaning_eats_the_arm() -> None:
    arms = restoring_arm(base_radius=0.3, centre_on_axis=0.2, tilt=np.array([-0.5, 0.0, 0.5, math.pi / 2]))
    np.testing.assert_allclose(arms, [0.3 - 0.2 * math.sin(0.5), 0.3, 0.3 - 0.2 * math.sin(0.5), 0.1])


def test_every_caution_says_who_has_the_last_word() -> None:
    assert len({caution.where for caution in CAUTIONS}) == len(CAUTIONS) >= 10
    for caution in CAUTIONS:
        assert caution.text.endswith(".")
        assert caution.defer_to
