"""A month's days from its mean clearness: published formulas against each other and against measured years.

Bendt et al. 1981, Herzog 1985, Hollands & Huget 1983, Erbs et al. 1982, Collares-Pereira & Rabl 1979, Liu &
Jordan 1960 and Klein 1977 as cited in the code; measured days from the typical years TMY2 Miami and TMY3
Greensboro that come with pvlib (Marion & Urban, NREL 1995; Wilcox & Marion, NREL/TP-581-43156, 2008).
"""

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pvlib
import pytest

from noonhearth.model.clearness import (
    LEAST_CLEARNESS,
    clearness_days_bendt,
    clearness_shape,
    daily_extraterrestrial,
    diffuse_fraction_daily_erbs,
    exponent_bendt,
    exponent_herzog,
    fraction_of_days_bendt,
    greatest_clearness_hollands_huget,
    hour_share_collares_pereira_rabl,
    hour_share_liu_jordan,
    sunset_hour_angle,
)
from noonhearth.model.sky import Air, Place, Sky, SkyError, clear_sky, clearness_sky
from noonhearth.model.sun import all_days, clock_window, mean_days, sun_path
from noonhearth.model.weather import weather_year

DATA = Path(pvlib.__file__).parent / "data"
AIR = Air(low=285.0, high=300.0, dew_point=280.0, wind_speed=2.0)
SUNSETS = [60, 75, 90, 105, 120]


@pytest.mark.parametrize("mean", [0.3, 0.4, 0.5, 0.6, 0.7])
def test_herzogs_formula_solves_bendts_equation(mean: float) -> None:
    """Two sources, one exponent: the explicit fit holds within 0.15 over the range it was made for."""
    assert exponent_bendt(mean) == pytest.approx(exponent_herzog(mean), abs=0.15)


@pytest.mark.parametrize(
    ("mean", "greatest"), [(0.25, 0.65157), (0.3, 0.69139), (0.5, 0.76462), (0.75, 0.83155)]
)
def test_clearest_day_of_hollands_and_huget(mean: float, greatest: float) -> None:
    """0.6313 + 0.267 K - 11.9 (K - 0.75)^8 worked out by hand."""
    assert greatest_clearness_hollands_huget(mean) == pytest.approx(greatest, abs=1e-4)


@pytest.mark.parametrize("mean", [0.12, 0.3, 0.3935, 0.5, 0.65, 0.8])
@pytest.mark.parametrize("days", [1, 2, 5, 30])
def test_days_average_to_the_month(mean: float, days: int) -> None:
    ours = clearness_days_bendt(mean=mean, days=days)
    assert ours.mean() == pytest.approx(mean, abs=1e-10)
    assert (np.diff(ours) > 0).all()
    assert ours.min() >= LEAST_CLEARNESS
    assert ours.max() <= greatest_clearness_hollands_huget(mean)


def test_mean_of_the_distribution_by_quadrature() -> None:
    K = np.linspace(LEAST_CLEARNESS, greatest_clearness_hollands_huget(0.55), 20_001)
    fraction = fraction_of_days_bendt(K, mean=0.55)
    assert np.trapezoid(K, fraction) == pytest.approx(0.55, abs=1e-6)
    assert fraction[0] == 0
    assert fraction[-1] == pytest.approx(1.0)


def test_days_are_the_means_of_equal_slices() -> None:
    many = clearness_days_bendt(mean=0.55, days=5000)
    few = clearness_days_bendt(mean=0.55, days=5)
    assert few == pytest.approx(many.reshape(5, -1).mean(axis=1), abs=1e-9)
    middle = fraction_of_days_bendt(many, mean=0.55)
    assert middle == pytest.approx((np.arange(5000) + 0.5) / 5000, abs=1e-4)


@pytest.mark.parametrize("mean", [0.0, 0.04, 0.9, 55.0])
def test_impossible_month_is_refused(mean: float) -> None:
    with pytest.raises(ValueError, match="clearness index"):
        clearness_days_bendt(mean=mean, days=5)


@pytest.mark.parametrize("sunset_deg", SUNSETS)
def test_hours_add_up_to_the_day(sunset_deg: float) -> None:
    sunset = math.radians(sunset_deg)
    hour_angle = np.linspace(-sunset, sunset, 20_001)
    hours = sunset * 2 * 12 / math.pi / 20_000
    diffuse = hour_share_liu_jordan(hour_angle=hour_angle, sunset=sunset)
    all_ = hour_share_collares_pereira_rabl(hour_angle=hour_angle, sunset=sunset)
    assert np.trapezoid(diffuse, dx=hours) == pytest.approx(1.0, abs=1e-7)
    assert np.trapezoid(all_, dx=hours) == pytest.approx(1.0, abs=0.01)  # as the authors say of their fit
    exact = diffuse * clearness_shape(hour_angle=hour_angle, sunset=sunset)
    assert np.trapezoid(exact, dx=hours) == pytest.approx(1.0, abs=1e-7)


def test_shape_is_the_ratio_of_the_two_published_shares() -> None:
    sunset, hour_angle = 1.7, np.linspace(-1.5, 1.5, 7)
    ratio = hour_share_collares_pereira_rabl(hour_angle=hour_angle, sunset=sunset) / hour_share_liu_jordan(
        hour_angle=hour_angle, sunset=sunset
    )
    shape = clearness_shape(hour_angle=hour_angle, sunset=sunset)
    assert shape / ratio == pytest.approx(np.full(7, shape[0] / ratio[0]))
    assert shape[0] / ratio[0] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(("latitude", "tolerance"), [(0, 0.003), (20, 0.008), (40, 0.015), (-40, 0.015)])
def test_kleins_mean_day_is_the_month(latitude: float, tolerance: float) -> None:
    """Irradiation outside the air on the mean day against the mean of every day of that month."""
    place = Place(latitude=math.radians(latitude), longitude=0.0, timezone="UTC")
    days = all_days(range(1, 13))
    path = sun_path(clock_window(place, days, dt.time(11, 58), dt.time(12, 2)), place)
    outside = daily_extraterrestrial(
        latitude=place.latitude, declination=path.declination, normal=path.extraterrestrial
    )
    month = np.array([d.month for d in days])
    for number, mean_day in enumerate(mean_days(range(1, 13)), 1):
        assert outside[days.index(mean_day)] == pytest.approx(outside[month == number].mean(), rel=tolerance)


def measured_days(name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Month, clearness index, diffuse fraction and sunset hour angle of each day of a typical year."""
    weather = weather_year(DATA / name)
    days = all_days(range(1, 13))
    path = sun_path(clock_window(weather.place, days, dt.time(11, 58), dt.time(12, 2)), weather.place)
    latitude = weather.place.latitude
    outside = daily_extraterrestrial(
        latitude=latitude, declination=path.declination, normal=path.extraterrestrial
    )
    ghi, dhi = (column.reshape(365, 24).sum(axis=1) * 3600 for column in (weather.ghi, weather.dhi))
    sunset = sunset_hour_angle(latitude=latitude, declination=path.declination)
    return np.array([d.month for d in days]), ghi / outside, dhi / ghi, sunset


def distance_from_bendt(name: str) -> float:
    """Greatest gap between the year's days and Bendt's distribution, each month with its own mean."""
    month, clearness, _, _ = measured_days(name)
    placed = [
        fraction_of_days_bendt(clearness[month == m], mean=clearness[month == m].mean()) for m in range(1, 13)
    ]
    placed_all = np.sort(np.concatenate(placed))
    return float(np.abs(placed_all - (np.arange(365) + 0.5) / 365).max())


def test_days_of_greensboro_follow_bendt() -> None:
    assert distance_from_bendt("723170TYA.CSV") < 0.15


@pytest.mark.xfail(
    strict=True,
    reason="published distribution within 0.15 expected, ours against Miami 0.215: humid subtropical days "
    "cluster about their mean more than in the temperate years Bendt et al. fitted (Saunier, Reddy & Kumar "
    "1987 found the same in the tropics), so dark and very clear days are overstated there",
)
def test_days_of_miami_follow_bendt() -> None:
    assert distance_from_bendt("12839.tm2") < 0.15


@pytest.mark.parametrize("name", ["723170TYA.CSV", "12839.tm2"])
def test_erbs_diffuse_of_measured_years(name: str) -> None:
    """Over a year the correlation is high by 8 and 5 % of the diffuse; a day scatters by 0.08."""
    _, clearness, fraction, sunset = measured_days(name)
    erbs = diffuse_fraction_daily_erbs(clearness=clearness, sunset=sunset)
    assert (erbs * clearness).sum() == pytest.approx((fraction * clearness).sum(), rel=0.10)
    assert np.sqrt(np.mean((erbs - fraction) ** 2)) < 0.10


def whole_days(latitude_deg: float, clearness: float = 0.55, days: int = 4) -> tuple[Place, Sky]:
    place = Place(latitude=math.radians(latitude_deg), longitude=0.0, altitude=200.0, timezone="UTC")
    return place, clearness_sky(
        place,
        start=dt.time(0),
        stop=dt.time(23, 59),
        air=AIR,
        months=[1, 4, 6, 10],
        clearness=[clearness] * 4,
        days_per_month=days,
    )


@pytest.mark.parametrize("latitude", [-30, 0, 25, 50])
def test_sky_gives_back_the_monthly_clearness(latitude: float) -> None:
    place, sky = whole_days(latitude)
    path = sun_path(sky.times, place)
    outside = daily_extraterrestrial(
        latitude=place.latitude, declination=path.declination, normal=path.extraterrestrial
    )
    day = np.trapezoid(sky.ghi, dx=60.0, axis=1).reshape(4, 4).mean(axis=1)
    assert day / outside == pytest.approx(np.full(4, 0.55), rel=0.001)


def test_sky_closes_and_stays_below_the_cleanest_air() -> None:
    place, sky = whole_days(25, clearness=0.72)
    level = np.maximum(sky.to_sun[sky.day_path, :, 2], 0)
    assert sky.ghi == pytest.approx(sky.dni * level + sky.dhi, abs=1e-9)
    assert sky.dni.min() >= 0
    assert sky.dhi.min() >= 0
    clean = clear_sky(
        place, start=dt.time(0), stop=dt.time(23, 59), air=AIR, months=[1, 4, 6, 10], turbidity=2.0
    )
    assert (sky.dni <= clean.dni[sky.day_path] + 1e-9).all()
    assert (sky.dni == clean.dni[sky.day_path])[sky.dni > 0].any()  # the bound is felt on the clearest days
    assert (np.diff(sky.beam_day.reshape(4, 4), axis=1) > 0).all()
    low = (level > 0) & (level < 0.02)
    assert sky.dni[low].max() < 250  # no division by a small cosine


def test_daily_diffuse_of_the_sky_is_that_of_erbs() -> None:
    place, sky = whole_days(25)
    path = sun_path(sky.times, place)
    sunset = sunset_hour_angle(latitude=place.latitude, declination=path.declination)[sky.day_path]
    erbs = diffuse_fraction_daily_erbs(
        clearness=np.tile(clearness_days_bendt(mean=0.55, days=4), 4), sunset=sunset
    )
    got = np.trapezoid(sky.dhi, axis=1) / np.trapezoid(sky.ghi, axis=1)
    # the average day's shape leaves no beam near a dark day's horizon: a little is missing from the diffuse
    assert got == pytest.approx(erbs, abs=0.015)
    assert got[erbs < 0.6] == pytest.approx(erbs[erbs < 0.6], abs=0.004)


def test_weights_are_the_days_of_the_months() -> None:
    _, sky = whole_days(10)
    assert [sky.day_weight[sky.day_month == m].sum() for m in (1, 4, 6, 10)] == pytest.approx(
        [31, 30, 30, 31]
    )
    assert sky.times.shape[0] == 4
    assert sky.days == 16


def test_months_and_clearness_must_pair() -> None:
    place = Place(latitude=0.3, longitude=0.0, timezone="UTC")
    window = {"start": dt.time(9), "stop": dt.time(15), "air": AIR}
    with pytest.raises(SkyError, match="2 values for 1 months"):
        clearness_sky(place, months=[1], clearness=[0.5, 0.6], **window)
    with pytest.raises(SkyError, match="not a percentage"):
        clearness_sky(place, months=[1], clearness=[55.0], **window)
