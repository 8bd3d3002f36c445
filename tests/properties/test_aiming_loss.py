"""Light lost by aiming: the watts of a whole run, and the off-axis curve against an oven held off the sun."""

import datetime
import math
from dataclasses import replace

import numpy as np
import pytest

from noonhearth.model import (
    Air,
    ByHand,
    Design,
    Drive,
    Fixed,
    OffAxis,
    Place,
    Sight,
    Sky,
    assess_aiming,
    beam_into_pot,
    clear_sky,
    load_catalogue,
    off_axis_light,
    simulate,
)
from noonhearth.model.aiming_loss import ANGLES, TRUE
from noonhearth.model.light import mouth_area
from noonhearth.model.pack import optics_of_design

CATALOGUE = load_catalogue()
SIGHT = Sight(post_height=0.1)
AIR = Air(low=293.15, high=306.15, dew_point=280.15, wind_speed=2.0)


@pytest.fixture(scope="module")
def noon(place: Place) -> Sky:
    """Forty minutes in which the sun hardly climbs: 14 N, the middle of October, some 67 deg high."""
    return clear_sky(
        place,
        start=datetime.time(11, 30),
        stop=datetime.time(12, 10),
        air=AIR,
        dates=[datetime.date(2025, 10, 15)],
    )


def test_the_pot_gets_what_a_whole_run_gives_it(design: Design, sky: Sky) -> None:
    ours = beam_into_pot(design, [design.aiming], sky, catalogue=CATALOGUE, rays=8, seed=3)[0]
    run = simulate(design, sky, rays=8, seed=3, histories=True).isel(design=0)
    pot = run["beam_ends"].sel(surface=["lid", "side", "bottom"]).sum("surface").to_numpy()
    facing = np.cos(run["aim_off_axis"].to_numpy())
    watts = mouth_area(optics_of_design(design, CATALOGUE)) * run["dni"].to_numpy() * facing * pot
    assert ours == pytest.approx(60.0 * (watts[:, 1:] + watts[:, :-1]).sum(axis=1) / 2, rel=1e-9)


@pytest.mark.parametrize(("bias", "direction"), [(0.30, 270), (-0.30, 90)], ids=["below", "above"])
def test_an_oven_held_off_the_sun_loses_what_the_curve_says(
    design: Design, noon: Sky, bias: float, direction: int
) -> None:
    """Set too high by 0.3 rad, the sun stands down the slope all the time; too low, up the slope."""
    held = replace(TRUE, elevation_bias=bias)
    true, off = beam_into_pot(design, [TRUE, held], noon, catalogue=CATALOGUE, rays=512)[:, 0]
    axis = float(noon.elevation.mean()) + bias
    light = off_axis_light(design, axis, catalogue=CATALOGUE, angles=np.array([0.0, 0.3]))
    # the pot hangs otherwise in the tilted funnel: the axis is compared at the tilt of each
    straight = off_axis_light(design, axis - bias, catalogue=CATALOGUE, angles=np.array([0.0]))
    row = int(np.abs(np.degrees(light.direction) - direction).argmin())
    power = light.kept[row, 1] * _on_axis(design, axis) / _on_axis(design, axis - bias)
    assert straight.kept.mean() == pytest.approx(1.0)
    assert off / true == pytest.approx(power, rel=0.01)


def _on_axis(design: Design, elevation: float) -> float:
    """Beam that an aimed oven at this elevation takes in, of 1 W/m2. [W]"""
    from noonhearth.model.aiming import pot_up
    from noonhearth.model.light import beam_shares
    from noonhearth.model.sunlight import POT

    up = pot_up(np.array([elevation]))
    shares = beam_shares(
        optics_of_design(design, CATALOGUE), to_sun=[[0.0, 0.0, 1.0]], pot_up=up, rays=1 << 15
    )
    return float(shares[0, POT].sum())


def test_rings_of_a_cosine() -> None:
    """A pot that only loses as the mouth turns away keeps cos(a): 5 % are gone at acos(0.95)."""
    cosine = OffAxis(np.zeros(2), ANGLES, np.array([np.ones_like(ANGLES), np.cos(ANGLES)]))
    assert cosine.ring(0.05) == pytest.approx(math.acos(0.95), abs=1e-4)
    assert cosine.ring(0.10) == pytest.approx(math.acos(0.90), abs=1e-4)
    assert math.isnan(cosine.ring(0.5))
    assert cosine.kept_within(0.2) == pytest.approx(math.cos(0.2), abs=1e-4)
    assert math.isnan(cosine.kept_within(1.0))


def test_within_an_angle_the_worst_counts_and_a_dip_is_not_overlooked() -> None:
    dip = OffAxis(np.zeros(1), np.array([0.0, 0.1, 0.2]), np.array([[1.0, 0.9, 1.1]]))
    assert dip.kept_within(0.2) == pytest.approx(0.9)
    assert dip.kept_within(0.05) == pytest.approx(0.95)
    assert dip.ring(0.05) == pytest.approx(0.05)


def test_ways_by_hand_side_by_side(design: Design, sky: Sky) -> None:
    result = assess_aiming(
        design, sky, sight=SIGHT, centred_within=3e-3, intervals=[600.0, 3600.0], rays=32, catalogue=CATALOGUE
    )
    assert result["interval"].to_numpy().tolist() == [600.0, 1200.0, 3600.0]  # its own is among them
    assert result["interval_visits"].to_numpy().tolist() == [
        17.0,
        8.0,
        2.0,
    ]  # of 180 minutes, but for the first
    assert result["interval_attention"].to_numpy().tolist() == [17 * 60.0, 8 * 60.0, 2 * 60.0]
    own = float(result["interval_kept"].sel(interval=1200.0))
    assert own == pytest.approx(float(result["kept"]), rel=1e-12)
    assert (result["visits"] == 8).all()
    assert "dead_band" not in result
    assert float(result["centred_angle"]) == pytest.approx(math.atan(0.03))
    for loss, ring, radius in zip(
        *(result[name].to_numpy() for name in ("loss", "ring_angle", "ring_radius")), strict=True
    ):
        worst = np.interp(ring, result["angle"], result["off_axis_kept"].min("direction"))
        assert worst == pytest.approx(1 - loss, abs=1e-9)
        assert radius == pytest.approx(0.1 * math.tan(ring))


def test_an_oven_left_standing_loses_most_and_is_compared_with_hands(design: Design, sky: Sky) -> None:
    east = replace(design, aiming=Fixed(fixed_azimuth=math.pi / 2, fixed_elevation=1.0))
    result = assess_aiming(
        east, sky, sight=SIGHT, centred_within=3e-3, intervals=[1800.0, 99_999.0], rays=8, catalogue=CATALOGUE
    )
    assert float(result["kept"]) < 0.75 < float(result["interval_kept"][0])
    assert result["interval"].to_numpy().tolist() == [1800.0]  # the other is longer than the day
    assert (result["visits"] == 0).all()
    assert "own_interval" not in result


DRIVE = Drive(
    fin_height=0.06, cell_width=0.02, start_share=0.25, stop_share=0.05, speed=1.5e-3, elevation_every=3600.0
)


def test_a_drive_minute_by_minute_adds_up(design: Design, sky: Sky) -> None:
    result = assess_aiming(
        replace(design, aiming=DRIVE), sky, sight=SIGHT, centred_within=3e-3, rays=8, catalogue=CATALOGUE
    )
    assert result["edge_travelled"][:, -1].to_numpy() == pytest.approx(result["edge_travel"].to_numpy())
    assert result["edge_travelled"].diff("time").min() >= 0
    most = float(result["drive_speed"]) * 60 * float(result["base_radius"])
    assert result["edge_travelled"].diff("time").max() <= most * (1 + 1e-9)
    worst = result["aim_off_axis"].where(result["dni"] > 120).max("time").to_numpy()
    assert result["worst_off_axis"].to_numpy() == pytest.approx(worst)
    assert float(result["reserve"]) == pytest.approx(
        float(result["drive_speed"]) / float(result["fastest_rate"])
    )
    assert {"units", "long_name", "dimension"} <= set(result["kept_fast"].attrs)


def test_a_faster_drive_keeps_no_less_where_the_sun_outruns_a_slow_one(design: Design, place: Place) -> None:
    """14 N in the middle of April: at noon the azimuth runs at 200 deg/h and more."""
    sky = clear_sky(place, start=datetime.time(10), stop=datetime.time(14), air=AIR, months=[4])
    slow = replace(design, aiming=replace(DRIVE, speed=math.radians(20) / 3600, fin_height=0.3))
    result = assess_aiming(slow, sky, sight=SIGHT, centred_within=3e-3, rays=8, catalogue=CATALOGUE)
    assert float(result["outrun_time"][0]) > 1800
    assert float(result["kept_fast"]) > float(result["kept"]) + 0.05


def test_the_sun_is_lost_near_the_zenith_and_no_speed_helps(design: Design, place: Place) -> None:
    """It passes 4 deg from the zenith: the fin's shadow never bares the quarter of the cell that starts the motor.

    The most light on the cell is reach x cos(sun's elevation at noon) = 3 x 0.075 < 0.25 of full sun, so the motor
    stands still while the sun changes sides, until it has come down again far enough to light the cell from behind.
    """
    sky = clear_sky(place, start=datetime.time(11), stop=datetime.time(15), air=AIR, months=[4])
    level = math.cos(float(sky.elevation.max()))
    assert 3 * level < 0.25
    for speed in (1.5e-3, 1.0):
        driven = replace(design, aiming=replace(DRIVE, speed=speed))
        result = assess_aiming(driven, sky, sight=SIGHT, centred_within=3e-3, rays=8, catalogue=CATALOGUE)
        assert float(result["lost_time"][0]) > 3600
        noon = 60 * int(sky.elevation[0].argmax())
        assert noon - 600 < float(result["lost_from"][0]) < noon + 600
    higher = replace(design, aiming=replace(DRIVE, fin_height=0.4))
    found = assess_aiming(higher, sky, sight=SIGHT, centred_within=3e-3, rays=8, catalogue=CATALOGUE)
    assert float(found["lost_time"][0]) == 0.0


def test_every_day_has_its_own_row_where_days_share_a_path(design: Design, sky: Sky) -> None:
    hand = replace(design, aiming=ByHand(azimuth_every=1800.0))
    result = assess_aiming(hand, sky, sight=SIGHT, centred_within=3e-3, rays=8, catalogue=CATALOGUE)
    assert result["aim_off_axis"].shape == (sky.days, sky.steps + 1)
    assert result["status"].to_numpy().tolist() == [0]


def test_the_season_weighs_each_day_by_the_days_it_stands_for(design: Design, sky: Sky) -> None:
    """An oven left to the east of south loses other shares in January and in April; a hundred Aprils to one January."""
    east = replace(design, aiming=Fixed(fixed_azimuth=2.4, fixed_elevation=0.9))
    weight = np.array([1.0, 100.0])
    uneven = replace(sky, day_weight=weight)
    how = {"sight": SIGHT, "centred_within": 3e-3, "intervals": [1800.0], "rays": 8, "catalogue": CATALOGUE}
    result = assess_aiming(east, uneven, **how)
    mine, true = beam_into_pot(east, [east.aiming, TRUE], sky, rays=8, catalogue=CATALOGUE)
    january, april = result["day_kept"].to_numpy()
    assert abs(january - april) > 0.05
    assert [january, april] == pytest.approx(mine / true)
    assert float(result["kept"]) == pytest.approx((weight * mine).sum() / (weight * true).sum())
