"""Papers for the field: sun by the clock against closed forms, daylight saving, rings at full size."""

import datetime
import math
import re
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest

from noonhearth.model import Air, Place, clear_sky
from noonhearth.studies import Setting, aiming, load
from noonhearth.studies.papers.field import write_field_papers
from noonhearth.studies.papers.field_pages import write_sight
from noonhearth.studies.papers.field_tables import (
    drive_table,
    meal_table,
    settings_table,
    sun_pages,
    sun_table,
)

OVEN = Path(__file__).parents[1] / "oven.toml"
WORKSHOP = Path(__file__).parents[2] / "configs/dry_season_workshop.toml"
POINT = 25.4 / 72  # mm


@pytest.fixture(scope="module")
def setting() -> Setting:
    return replace(load(OVEN).setting, rays=4)


def in_the_north(months: list[int]) -> Setting:
    """A made-up yard at 47 deg north whose clock has daylight saving."""
    place = Place(
        latitude=math.radians(47),
        longitude=math.radians(8),
        altitude=500,
        timezone="Europe/Zurich",
        name="yard",
    )
    air = Air(low=280.0, high=295.0, dew_point=278.0, wind_speed=2.0)
    sky = clear_sky(place, months=months, start=datetime.time(10), stop=datetime.time(15), air=air)
    return replace(load(OVEN).setting, sky=sky, rays=4)


def test_noon_stands_as_high_as_latitude_and_declination_say() -> None:
    """90 deg less latitude plus declination; declination by Cooper (1969), within 0.5 deg of the almanac."""
    table = sun_table(in_the_north([3, 6, 9, 12]))
    for date, rows in table.groupby("date", sort=False):
        day = datetime.datetime.strptime(f"{date} 2026", "%d %b %Y").timetuple().tm_yday
        declination = 23.45 * math.sin(2 * math.pi * (284 + day) / 365)
        assert rows["elevation [deg]"].max() == pytest.approx(
            90 - 47 + declination, abs=0.9
        )  # rows every 30 min: 0.4


def test_the_clock_has_daylight_saving() -> None:
    """8 deg east: the sun culminates about 12:28 in winter time, an hour later by the clock of summer."""
    table = sun_table(in_the_north([1, 7]))
    offsets = {month: set(rows["clock is UTC"]) for month, rows in table.groupby(table["date"].str[3:])}
    assert offsets == {"Jan": {"+1 h"}, "Jul": {"+2 h"}}
    culmination = {
        month: rows.loc[rows["elevation [deg]"].idxmax(), "clock"]
        for month, rows in table.groupby(table["date"].str[3:])
    }
    assert culmination["Jan"] in ("12:00", "12:30")
    assert culmination["Jul"] in ("13:30", "13:00")


def test_printed_pages_hold_every_row(setting: Setting) -> None:
    table = sun_table(setting)
    cells = sum(int((page.iloc[:, 1:] != "").to_numpy().sum()) for _, page in sun_pages(table))
    assert cells == len(table)


def test_settings_are_as_often_as_the_design_says(setting: Setting) -> None:
    """Azimuth every 20 min from 09:30 to 16:00: 09:30, 09:50 ... on each of four courses of the sun."""
    table = settings_table(setting)
    assert set(table["course of"].value_counts()) == {20}
    first = table.iloc[:3]["clock"].tolist()
    assert first == ["09:30", "09:50", "10:10"]
    assert table["azimuth [deg]"].between(0, 360).all()


def test_meals_are_those_of_the_model(setting: Setting) -> None:
    table = meal_table(setting)
    day = setting.simulated(evening=False).isel(design=0)
    never = np.isnan(day["done_after"].to_numpy())
    assert (table["done"] == "not that day").tolist() == never.tolist()
    k = int(np.flatnonzero(~never)[0])
    clock = 9.5 * 60 + float(day["done_after"][k]) / 60
    assert table["done"][k] == f"{int(clock) // 60:02d}:{int(clock) % 60:02d}"


def test_the_drive_and_none(setting: Setting) -> None:
    assert drive_table(setting).empty
    table = drive_table(load(WORKSHOP).setting).set_index("what")["value"]
    # 0.30 m x 1.25 deg: common practice, no source, gives about 13 mm every five minutes at twice that rate near noon
    assert table["way of the base's edge in five minutes at 15 deg of sun an hour"] == pytest.approx(
        6.54, abs=0.01
    )


def test_rings_on_the_plate_are_at_full_size(setting: Setting, tmp_path: Path) -> None:
    found = aiming(setting)
    with mpl.rc_context({"pdf.compression": 0}):
        write_sight(found, tmp_path / "sight.pdf", "A4")
    text = (tmp_path / "sight.pdf").read_bytes().decode("latin-1")
    paths = [
        np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+) [ml]\b", path), float)
        for path in re.split(r"\b[Sf]\b", text)
    ]
    spans = [np.ptp(path, axis=0).max() * POINT for path in paths if len(path)]
    wanted = [2e3 * float(radius) for radius in found["ring_radius"].to_numpy() if math.isfinite(radius)]
    for diameter in [*wanted, 2e3 * float(found["centred_within"]), 100.0]:
        assert min(abs(span - diameter) for span in spans) < 0.02


def test_a_folder_of_field_papers(setting: Setting, tmp_path: Path) -> None:
    said = write_field_papers(setting, tmp_path, paper="Letter")
    for name in ("sun.csv", "settings.csv", "meals.csv", "tables.pdf", "sight-plate.pdf", "log-form.pdf"):
        assert (tmp_path / name).stat().st_size > 100
    assert "sight-plate.pdf" in " ".join(said)
