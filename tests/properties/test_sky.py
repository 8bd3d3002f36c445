"""What must hold for any sky, whatever the place and the days."""

import datetime as dt
import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from noonhearth.model.aiming import ByHand, aim
from noonhearth.model.described import DescriptionError
from noonhearth.model.sky import Air, Place, Sky, SkyError, clear_sky, clearness_sky
from noonhearth.model.sun import all_days, clock_window, days_in_month, mean_days, sun_path

AIR = Air(low=285.0, high=300.0, dew_point=tuple(np.linspace(275, 286, 12)), wind_speed=2.0)
COOK = {"start": dt.time(9), "stop": dt.time(15), "air": AIR}


def place(latitude_deg: float = 20.0, longitude_deg: float = 0.0, **more: object) -> Place:
    fields = {
        "latitude": math.radians(latitude_deg),
        "longitude": math.radians(longitude_deg),
        "timezone": "UTC",
    }
    return Place(**(fields | more))  # type: ignore[arg-type]


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    latitude=st.floats(-55, 55),
    longitude=st.floats(-180, 180),
    altitude=st.floats(0, 4000),
    month=st.integers(1, 12),
    clearness=st.floats(0.15, 0.78),
)
def test_any_month_anywhere(
    latitude: float, longitude: float, altitude: float, month: int, clearness: float
) -> None:
    there = place(latitude, longitude, altitude=altitude, timezone=f"UTC{round(longitude / 15):+03d}:00")
    sky = clearness_sky(there, **COOK, months=[month], clearness=[clearness], days_per_month=3)
    level = np.maximum(sky.to_sun[sky.day_path, :, 2], 0)
    assert np.linalg.norm(sky.to_sun, axis=-1) == pytest.approx(np.ones((1, 361)), abs=1e-12)
    assert sky.ghi == pytest.approx(sky.dni * level + sky.dhi, abs=1e-9)
    for part in (sky.dni, sky.dhi, sky.ghi):
        assert part.min() >= 0
    assert (sky.dni <= sky.extraterrestrial[sky.day_path, None]).all()
    assert (sky.sky_temperature < sky.air_temperature).all()
    assert (sky.dew_point <= sky.air_temperature).all()
    assert sky.day_weight.sum() == pytest.approx(days_in_month(month))


def test_clear_day_beats_every_day_of_its_month_but_the_clearest() -> None:
    clear = clear_sky(place(), **COOK, months=[3])
    days = clearness_sky(place(), **COOK, months=[3], clearness=[0.55], days_per_month=10)
    assert (days.beam_day[:8] < clear.beam_day[0]).all()
    assert (np.diff(days.beam_day) >= 0).all()


def test_turning_the_world_by_an_hour_changes_nothing() -> None:
    """15 deg further west and an hour later the sun has moved on by 1/24 day, no more."""
    here, west = place(30, 0, timezone="UTC"), place(30, -15, timezone="UTC-01:00")
    ours, theirs = (clear_sky(p, **COOK, dates=[dt.date(2025, 6, 21)], turbidity=3.0) for p in (here, west))
    assert theirs.to_sun == pytest.approx(ours.to_sun, abs=1e-4)
    assert (theirs.times - ours.times == np.timedelta64(1, "h")).all()


def test_hemispheres_mirror_each_other() -> None:
    """Half a year on and on the other side of the equator the sun passes on the other side of the zenith."""
    north = sun_path(
        clock_window(place(35), [dt.date(2025, 3, 20)], dt.time(9), dt.time(15)), place(35)
    ).to_sun
    south = sun_path(
        clock_window(place(-35), [dt.date(2025, 3, 20)], dt.time(9), dt.time(15)), place(-35)
    ).to_sun
    assert south[..., 1] == pytest.approx(-north[..., 1], abs=0.01)  # the sun crosses the equator that day
    assert north[..., 1].max() < 0


def test_windows_are_local_clock_in_summer_and_winter() -> None:
    there = place(40, -75, timezone="America/New_York")
    times = clock_window(there, [dt.date(2025, 1, 17), dt.date(2025, 7, 17)], dt.time(10), dt.time(12, 30))
    assert times.shape == (2, 151)
    assert str(times[0, 0]).startswith("2025-01-17T15:00")
    assert str(times[1, 0]).startswith("2025-07-17T14:00")
    assert (np.diff(times, axis=1) == np.timedelta64(60, "s")).all()


@pytest.mark.parametrize("date", [dt.date(2025, 3, 9), dt.date(2025, 11, 2)])
def test_days_on_which_the_clock_is_changed_are_as_long(date: dt.date) -> None:
    there = place(40, -75, timezone="America/New_York")
    for start in (dt.time(1, 30), dt.time(2, 30)):
        assert clock_window(there, [date], start, dt.time(9)).shape[1] == (9 * 60 - start.hour * 60 - 30) + 1


def test_arrays_cannot_be_written_to() -> None:
    sky = clear_sky(place(), **COOK, months=[3])
    for array in (sky.dni, sky.to_sun, sky.times, sky.day_weight):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_some_days_of_a_sky_are_those_days() -> None:
    """Each day keeps its course of the sun, its weather, its weight and its evening, whatever days go with it."""
    air = Air(low=285.0, high=tuple(np.linspace(298, 305, 12)), dew_point=276.0, wind_speed=2.0)
    cook = COOK | {"air": air}
    whole = clearness_sky(place(), **cook, months=[3, 6, 9], clearness=[0.6, 0.5, 0.55], days_per_month=2)
    picked = [5, 0, 1, 4, 5]
    some = whole.only(picked)
    assert some.days == 5
    assert len(some.times) == 2  # June is not among them
    for name in ("dni", "dhi", "ghi", "air_temperature", "wind_speed", "day_weight", "day_month"):
        assert (getattr(some, name) == getattr(whole, name)[picked]).all()
    for name in ("times", "to_sun", "extraterrestrial"):
        assert (getattr(some, name)[some.day_path] == getattr(whole, name)[whole.day_path[picked]]).all()
    assert (some.evening.air_temperature == whole.evening.air_temperature[picked]).all()
    assert some.day_label == tuple(whole.day_label[day] for day in picked)
    assert some.only([1]).dni.tobytes() == whole.only([0]).dni.tobytes()
    for wrong in ([], [6], [-1]):
        with pytest.raises(SkyError, match="each from 0 to 5"):
            whole.only(wrong)


def test_same_inputs_same_bits() -> None:
    one, two = (clearness_sky(place(), **COOK, months=[3], clearness=[0.6]) for _ in range(2))
    assert one.dni.tobytes() == two.dni.tobytes()
    assert one.to_sun.tobytes() == two.to_sun.tobytes()


def test_monthly_air_is_that_of_its_month() -> None:
    sky = clear_sky(place(), **COOK, months=[1, 12])
    assert sky.dew_point.max(axis=1) == pytest.approx([275.0, 286.0])


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: clear_sky(place(75), **COOK, months=[12]),
            "sun stays down .* 10 December from 09:00 to 15:00",
        ),
        (lambda: clear_sky(place(), **COOK), "either months or dates"),
        (lambda: clear_sky(place(), **COOK, months=[]), "at least one"),
        (lambda: clear_sky(place(), **COOK, dates=[]), "at least one day"),
        (lambda: clear_sky(place(), **COOK, months=[0]), "1 to 12"),
        (lambda: clear_sky(place(), **(COOK | {"stop": dt.time(9)}), months=[1]), "not after start"),
        (lambda: clear_sky(place(), **(COOK | {"start": dt.time(9, 0, 30)}), months=[1]), "whole minutes"),
        (
            lambda: clear_sky(place(), **(COOK | {"start": dt.time(9, tzinfo=dt.UTC)}), months=[1]),
            "without a time zone",
        ),
        (lambda: clear_sky(place(), **COOK, months=[1], albedo=1.2), "albedo"),
        (
            lambda: clearness_sky(place(), **COOK, months=[1], clearness=[0.5], days_per_month=0),
            "days_per_month",
        ),
    ],
)
def test_refusals_say_what_to_do(make: object, message: str) -> None:
    with pytest.raises(SkyError, match=message):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"latitude": 43.0, "longitude": 0.0}, "did you mean 43 deg"),
        ({"latitude": 0.5, "longitude": -89.4}, "did you mean -89.4 deg"),
        ({"latitude": math.nan, "longitude": 0.0}, "finite"),
        ({"latitude": 0.5, "longitude": 0.0, "altitude": 9000.0}, "altitude"),
        ({"latitude": 0.5, "longitude": 0.0, "timezone": "Mars/Olympus"}, "IANA name"),
    ],
)
def test_places_are_checked_when_made(fields: dict[str, float], message: str) -> None:
    with pytest.raises(DescriptionError, match=message):
        Place(**({"timezone": "UTC"} | fields))  # type: ignore[arg-type]


def test_a_sky_checks_its_arrays() -> None:
    sky = clear_sky(place(), **COOK, months=[3])
    fields = {name: getattr(sky, name) for name in sky.__dataclass_fields__}
    with pytest.raises(SkyError, match=r"sky.dni has shape \(1, 360\)"):
        Sky(**(fields | {"dni": sky.dni[:, 1:]}))
    bad = sky.air_temperature.copy()
    bad[0, 5] = math.nan
    with pytest.raises(SkyError, match="air_temperature is not finite on 16 Mar clear"):
        Sky(**(fields | {"air_temperature": bad}))


def test_mean_days_and_months() -> None:
    assert [d.day for d in mean_days(range(1, 13))] == [17, 16, 16, 15, 15, 11, 17, 16, 15, 15, 14, 10]
    assert len(all_days(range(1, 13))) == 365
    assert [days_in_month(m) for m in (2, 12)] == [28, 31]


def test_a_month_of_aiming_is_cheap() -> None:
    """Designs by the thousand each ask for it: a day of settings costs less than its sun path by far."""
    there = place()
    dates = all_days([3])
    begun = time.thread_time()
    path = sun_path(clock_window(there, dates, dt.time(8), dt.time(16)), there)
    sun_time = time.thread_time() - begun
    hand = ByHand(azimuth_every=1800.0, elevation_every=3600.0)
    aim(hand, path.to_sun)
    begun = time.thread_time()
    aim(hand, path.to_sun)
    assert time.thread_time() - begun < sun_time
