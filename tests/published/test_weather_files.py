"""Weather files: sums as read from the files, the half hour of the labels, and every way a file can be bad.

Marion, W. and Urban, K., User's manual for TMY2s, NREL 1995; Wilcox, S. and Marion, W., Users manual for TMY3
data sets, NREL/TP-581-43156, 2008: values are those of the hour that ends at the label. EPW (EnergyPlus
documentation, Auxiliary Programs): hour 1 is 00:00 to 01:00, irradiation is that received in it.
"""

import datetime as dt
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest

from noonhearth.model.irradiance import clear_irradiance, mapped_turbidity
from noonhearth.model.minutes import sunlight_minutes
from noonhearth.model.sky import Place, Sky, SkyError
from noonhearth.model.sun import SunPath, all_days, clock_window, sun_path
from noonhearth.model.weather import file_sky, weather_year

DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO, SAND_POINT, MIAMI = (DATA / n for n in ("723170TYA.CSV", "703165TY.csv", "12839.tm2"))
COOK = {"start": dt.time(9), "stop": dt.time(15)}

read = cache(weather_year)


@pytest.mark.parametrize(
    ("path", "sums", "air", "wind", "most", "sunny_hours"),
    [
        (MIAMI, (1792.6, 1504.9, 809.5), 24.314, 4.337, 1006, 1323),
        (SAND_POINT, (829.2, 819.2, 460.9), 4.42, 5.07, 943, 770),
        (GREENSBORO, None, 14.42, None, 984, None),
    ],
    ids=["tmy2", "tmy3 north", "tmy3"],
)
def test_year_as_read(
    path: Path,
    sums: tuple[float, ...] | None,
    air: float,
    wind: float | None,
    most: int,
    sunny_hours: int | None,
) -> None:
    year = read(path)
    assert year.air_temperature.mean() - 273.15 == pytest.approx(air, abs=0.005)
    assert year.dni.max() == most
    if sums is not None:
        got = tuple(column.sum() / 1000 for column in (year.ghi, year.dni, year.dhi))
        assert got == pytest.approx(sums, abs=0.05)
        assert year.wind_speed.mean() == pytest.approx(wind, abs=0.005)
        assert (year.dni > 500).sum() == sunny_hours


def test_january_in_miami(published: Any) -> None:
    year = read(MIAMI)
    where = "Marion and Urban, User's manual for TMY2s, NREL 1995: the file 12839 (Miami)"
    for name, printed, hours in (("global", "108.3", year.ghi), ("beam", "124.3", year.dni)):
        ours = hours[: 31 * 24].sum() / 1000
        published(where, f"{name} of January in Miami [kWh/m2]", printed, ours, kind="worked")
    assert math.degrees(year.place.latitude) == pytest.approx(25.80, abs=0.005)
    assert math.degrees(year.place.longitude) == pytest.approx(-80.27, abs=0.005)
    assert year.place.timezone == "UTC-05:00"


def hourly(minutes: np.ndarray) -> np.ndarray:
    """Means of whole hours. [day, 60 n + 1] -> [day, n]"""
    n = (minutes.shape[1] - 1) // 60
    return np.stack(
        [np.trapezoid(minutes[:, 60 * h : 60 * h + 61], dx=1 / 60, axis=1) for h in range(n)], axis=1
    )


@pytest.mark.parametrize("path", [GREENSBORO, SAND_POINT, MIAMI], ids=["tmy3", "tmy3 north", "tmy2"])
def test_hours_keep_their_energy(path: Path) -> None:
    """Hour by hour with the sun well up; within 0.1 % over the year, for the bound near the horizon."""
    year = read(path)
    sky = file_sky(path, start=dt.time(0), stop=dt.time(23), months=range(1, 13))
    high = hourly(np.minimum(sky.to_sun[..., 2], 1)) > 0.17  # 10 deg
    for name in ("dni", "dhi"):
        given = getattr(year, name).reshape(365, 24)[:, :23]
        made = hourly(getattr(sky, name))
        assert made[high] == pytest.approx(given[high], rel=1e-6, abs=1e-6)
        assert made.sum() == pytest.approx(given.sum(), rel=0.001)


@pytest.mark.parametrize("path", [GREENSBORO, SAND_POINT, MIAMI], ids=["tmy3", "tmy3 north", "tmy2"])
def test_half_hour_of_the_labels(path: Path) -> None:
    """Global is beam times sine plus diffuse only under the sun of that hour: half an hour off breaks it."""
    year = read(path)
    place = year.place
    days = slice(0, 365, 4)

    def misclosure(shift_min: int) -> float:
        times = clock_window(place, all_days(range(1, 13))[days], dt.time(0, 0), dt.time(23, 0))
        path = sun_path(times + np.timedelta64(shift_min, "m"), place)
        level = hourly(np.maximum(path.to_sun[..., 2], 0))
        beam, diffuse, all_ = (c.reshape(365, 24)[days, :23] for c in (year.dni, year.dhi, year.ghi))
        return float(np.sqrt(np.mean((beam * level + diffuse - all_)[level > 0.1] ** 2)))

    here = misclosure(0)
    assert here < 0.45 * min(misclosure(-30), misclosure(30))
    assert here < min(misclosure(-10), misclosure(10))


@pytest.mark.parametrize("path", [GREENSBORO, SAND_POINT], ids=["tmy3", "tmy3 north"])
def test_sky_closes_on_the_global_of_the_file(path: Path) -> None:
    """Not used in making the sky, so a check: within 0.4 % over the year, 15 W/m2 rms over sunny hours."""
    sky = file_sky(path, start=dt.time(0), stop=dt.time(23), months=[1, 4, 7, 10])
    month = np.array([d.month for d in all_days(range(1, 13))])
    given = read(path).ghi.reshape(365, 24)[np.isin(month, [1, 4, 7, 10]), :23]
    made = hourly(sky.ghi)
    assert made.sum() == pytest.approx(given.sum(), rel=0.004)
    assert np.sqrt(np.mean((made - given)[given > 100] ** 2)) < 15


EPW_HEAD = "LOCATION,{name},-,-,made for a test,000000,{lat},{lon},{tz},{alt}\n" + "".join(
    f"{line}\n"
    for line in (
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    )
)


def write_epw(path: Path, place: Place, tz: float, columns: dict[str, np.ndarray]) -> Path:
    """An EPW after the format's description: hour 1 to 24, the hour that ends there."""
    start = pd.date_range("2001-01-01", periods=8760, freq="h")
    nothing = np.full(8760, 9999)
    order = ["air", "dew", "rh", "pressure", "etr", "etrn", "infrared", "ghi", "dni", "dhi"]
    body = pd.DataFrame({"y": start.year, "m": start.month, "d": start.day, "h": start.hour + 1, "min": 60})
    body["flags"] = "?9"
    for name in order:
        body[name] = columns.get(name, nothing)
    for name in ("gi", "ni", "di", "zl", "wdir"):
        body[name] = nothing
    body["wind"] = columns["wind"]
    body["cloud"] = columns.get("cloud", np.full(8760, 99))
    for i in range(12):
        body[f"rest{i}"] = 99
    head = EPW_HEAD.format(
        name=place.name,
        lat=math.degrees(place.latitude),
        lon=math.degrees(place.longitude),
        tz=tz,
        alt=place.altitude,
    )
    path.write_text(head + body.to_csv(index=False, header=False), encoding="utf-8")
    return path


@pytest.mark.compiled
def test_same_year_as_epw_gives_the_same_sky(tmp_path: Path) -> None:
    year = weather_year(GREENSBORO)
    columns = {
        **{name: getattr(year, name) for name in ("ghi", "dni", "dhi", "pressure")},
        "air": year.air_temperature - 273.15,
        "dew": year.dew_point - 273.15,
        "wind": year.wind_speed,
        "cloud": year.cloud * 10,
    }
    twin = write_epw(tmp_path / "twin.epw", year.place, -5.0, columns)
    ours, theirs = (file_sky(p, **COOK, months=[2, 7]) for p in (GREENSBORO, twin))
    for name in ("dni", "dhi", "air_temperature", "wind_speed", "pressure", "sky_temperature", "to_sun"):
        assert getattr(theirs, name) == pytest.approx(getattr(ours, name), rel=1e-9, abs=1e-9)


def noon(path: SunPath) -> np.ndarray:
    return path.times[:, path.times.shape[1] // 2]


@pytest.fixture(scope="module")
def cloudless(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Place]:
    """A cloudless year on a half-hour clock, its hours being true means of a known course."""
    place = Place(
        latitude=math.radians(12.97),
        longitude=math.radians(77.59),
        altitude=920.0,
        timezone="UTC+05:30",
        name="Half",
    )
    midnight = clock_window(place, all_days(range(1, 13)), dt.time(0), dt.time(0, 1))[:, :1]
    path = sun_path(midnight + np.arange(24 * 60 + 1) * np.timedelta64(60, "s"), place)
    clear = clear_irradiance(path, place, mapped_turbidity(place, noon(path)))
    columns = {name: hourly(getattr(clear, name)).ravel() for name in ("ghi", "dni", "dhi")}
    hours = np.arange(1, 8761)  # readings at the end of each hour
    columns |= {
        "air": 25 + 5 * np.cos(2 * np.pi * (hours - 15) / 24),
        "dew": np.full(8760, 12.0),
        "pressure": np.full(8760, 90_500.0),
        "wind": np.full(8760, 2.5),
        "cloud": np.zeros(8760),
        "infrared": np.full(8760, 350.0),
    }
    return write_epw(tmp_path_factory.mktemp("epw") / "half.epw", place, 5.5, columns), place


@pytest.mark.compiled
def test_minutes_are_in_phase_with_a_cloudless_sky(cloudless: tuple[Path, Place]) -> None:
    file, place = cloudless
    sky = file_sky(file, start=dt.time(7, 15), stop=dt.time(17, 20), months=[3, 11])
    path = sun_path(sky.times, place)
    clear = clear_irradiance(path, place, mapped_turbidity(place, noon(path)))
    assert sky.dni == pytest.approx(clear.dni, rel=0.002, abs=1.0)
    # the diffuse rides on the course of the global, which within an hour of low sun is the steeper of the two
    assert sky.ghi == pytest.approx(clear.ghi, rel=0.002, abs=10.0)
    assert np.sqrt(np.mean((sky.ghi - clear.ghi) ** 2)) < 3.0


def test_air_is_read_at_the_end_of_its_hour(cloudless: tuple[Path, Place]) -> None:
    sky = file_sky(cloudless[0], start=dt.time(14), stop=dt.time(16), dates=[dt.date(1999, 5, 5)])
    assert sky.air_temperature[0, 60] == pytest.approx(303.15)
    assert int(np.argmax(sky.air_temperature[0])) == 60
    assert sky.air_temperature[0, 30] == pytest.approx(298.15 + 5 * (1 + math.cos(math.pi / 12)) / 2)


def test_measured_long_wave_is_used_where_given(cloudless: tuple[Path, Place]) -> None:
    sky = file_sky(cloudless[0], **COOK, months=[6])
    assert 5.670374419e-8 * sky.sky_temperature**4 == pytest.approx(np.full_like(sky.dni, 350.0))


def test_cloud_warms_the_sky() -> None:
    """Unsworth & Monteith 1975: a covered sky has 1 - 0.16 (1 - clear) of a black body's radiation."""
    year, sky = (
        weather_year(GREENSBORO),
        file_sky(GREENSBORO, start=dt.time(12), stop=dt.time(13), months=[1]),
    )
    cloud = year.cloud.reshape(365, 24)[:31, 11]
    emittance = (sky.sky_temperature[:, 0] / sky.air_temperature[:, 0]) ** 4
    assert emittance[cloud == 1].min() > 0.93
    assert emittance[cloud == 0].max() < 0.85


def test_clock_with_summer_time() -> None:
    """In July the clock of Greensboro is an hour ahead of the file: its 10:00 is the file's 9:00."""
    station = weather_year(GREENSBORO).place
    local = Place(
        latitude=station.latitude,
        longitude=station.longitude,
        altitude=station.altitude,
        timezone="America/New_York",
        name="shop",
    )
    for month, hour in ((7, 9), (1, 10)):
        theirs = file_sky(GREENSBORO, start=dt.time(10), stop=dt.time(11), months=[month], place=local)
        ours = file_sky(GREENSBORO, start=dt.time(hour), stop=dt.time(hour + 1), months=[month])
        assert theirs.dni == pytest.approx(ours.dni, abs=1e-9)
        assert (theirs.times == ours.times).all()


def test_new_year_wraps() -> None:
    sky = file_sky(GREENSBORO, **COOK, dates=[dt.date(2024, 12, 31), dt.date(2024, 1, 1)])
    assert sky.day_label == ("31 Dec", "01 Jan")
    assert np.isfinite(sky.air_temperature).all()


class TestMinutes:
    """The reconstruction alone, on shapes whose answer is known."""

    def test_steady_ratio_follows_the_clear_sky(self) -> None:
        clear = 900 * np.sin(np.linspace(0.3, 2.5, 301))[None]
        made = sunlight_minutes(0.7 * hourly(clear), clear, clear)
        assert made == pytest.approx(0.7 * clear)

    def test_linear_ratio_is_recovered_exactly(self) -> None:
        clear = np.full((1, 421), 800.0)
        ratio = np.linspace(0.2, 0.9, 421)[None]
        made = sunlight_minutes(hourly(ratio * clear), clear, clear)
        assert made[0, 121:300] == pytest.approx(800 * ratio[0, 121:300])  # the outer hours have no slope

    def test_no_new_extremes_and_no_loss(self) -> None:
        rng = np.random.default_rng(3)
        given = rng.uniform(0, 800, (50, 9)) * (rng.random((50, 9)) > 0.3)
        clear = np.full((50, 541), 800.0)
        made = sunlight_minutes(given, clear, 2 * clear)
        assert hourly(made) == pytest.approx(given, abs=1e-9)
        assert made.min() >= 0
        assert made.max() <= given.max() * 61 / 60

    def test_bound_is_kept(self) -> None:
        clear = np.full((1, 181), 100.0)
        assert sunlight_minutes(np.full((1, 3), 500.0), clear, 1.5 * clear).max() == 150.0

    def test_night_stays_dark(self) -> None:
        clear = np.zeros((1, 181))
        assert sunlight_minutes(np.full((1, 3), 5.0), clear, clear + 1).max() == 0.0


Damage = Callable[[list[str]], list[str]]


def damaged(tmp_path: Path, change: Damage, source: Path = GREENSBORO) -> Path:
    lines = source.read_text("utf-8").splitlines(keepends=True)
    out = tmp_path / f"damaged{source.suffix.lower()}"
    out.write_text("".join(change(lines)), encoding="utf-8")
    return out


def set_field(lines: list[str], row: int, column: str, value: str) -> list[str]:
    names = lines[1].split(",")
    fields = lines[row].split(",")
    fields[names.index(column)] = value
    return [*lines[:row], ",".join(fields), *lines[row + 1 :]]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda lines: lines[:3000], "2998 of 8760 hours"),
        (lambda lines: [*lines[:100], *lines[101:], lines[-1]], "out of order"),
        (lambda lines: lines[1:], "TMY3"),
        (lambda _: ["hello\n"], "no readable TMY3"),
        (lambda _: [], "is empty"),
        (
            lambda lines: set_field(lines, 200, "DNI (W/m^2)", "-9900"),
            r"dni is missing.* 09 Jan 06:00.*-9900",
        ),
        (lambda lines: set_field(lines, 14, "Dry-bulb (C)", ""), "air_temperature is missing"),
        (lambda lines: set_field(lines, 14, "Pressure (mbar)", "9999"), "pressure is missing"),
        (lambda lines: [lines[0].replace("36.1", "361"), *lines[1:]], "nowhere on earth"),
    ],
    ids=["cut", "row lost", "no header", "junk", "empty", "sentinel", "blank", "impossible", "latitude"],
)
def test_damaged_file_gets_one_clear_sentence(tmp_path: Path, change: Damage, message: str) -> None:
    with pytest.raises(SkyError, match=message):
        file_sky(damaged(tmp_path, change), **COOK, months=[1])


def test_damaged_tmy2_and_epw(tmp_path: Path, cloudless: tuple[Path, Place]) -> None:
    with pytest.raises(SkyError, match="98 of 8760"):
        weather_year(damaged(tmp_path, lambda lines: lines[:99], MIAMI))
    with pytest.raises(SkyError, match="no readable EPW"):
        weather_year(damaged(tmp_path, lambda lines: lines[3:], cloudless[0]))


def test_missing_and_foreign_files(tmp_path: Path) -> None:
    with pytest.raises(SkyError, match="no such file"):
        weather_year(tmp_path / "nowhere.epw")
    with pytest.raises(SkyError, match="no such file"):
        weather_year("http://example.org/somewhere.epw")
    with pytest.raises(SkyError, match="ends in"):
        weather_year(tmp_path / "weather.txt")


def sky_of(**choice: object) -> Sky:
    return file_sky(GREENSBORO, **COOK, **choice)  # type: ignore[arg-type]


def test_choice_of_days() -> None:
    assert sky_of(months=[2]).days == 28
    for choice in ({}, {"months": [1], "dates": [dt.date(2025, 1, 1)]}):
        with pytest.raises(SkyError, match="either months or dates"):
            sky_of(**choice)
    with pytest.raises(SkyError, match="29 February"):
        sky_of(dates=[dt.date(2024, 2, 29)])
    with pytest.raises(SkyError, match="1 to 12"):
        sky_of(months=[13])
    with pytest.raises(SkyError, match="more than 1 deg"):
        sky_of(months=[1], place=Place(latitude=0.5, longitude=-1.4, timezone="UTC"))
