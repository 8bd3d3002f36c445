"""Papers for the field: sun by the clock against closed forms, daylight saving, rings at full size."""

import datetime
import math
import re
import shutil
import subprocess
import tomllib
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest

from noonhearth.model import Air, Place, aim, clear_sky, off_axis_light
from noonhearth.studies import Setting, aiming, load
from noonhearth.studies.asking.quantity import System
from noonhearth.studies.kinds.aiming import AimingStudySection
from noonhearth.studies.logs import read_cook
from noonhearth.studies.papers.drive_sheet import cell_note, cell_side, drive_table, travel_table
from noonhearth.studies.papers.field import write_field_papers
from noonhearth.studies.papers.field_pages import write_sight
from noonhearth.studies.papers.field_tables import (
    meal_table,
    settings_table,
    sun_pages,
    sun_table,
)
from noonhearth.studies.papers.log_form import write_log_form
from noonhearth.studies.papers.sight_plate import plate_for, plate_of, usual_sight

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
    driven = load(WORKSHOP).setting
    table = drive_table(driven).set_index("what")["value"]
    # 0.30 m x 1.25 deg: common practice, no source, gives about 13 mm every five minutes at twice that rate near noon
    assert table["way of the edge in five minutes at 15 deg an hour"] == pytest.approx(6.54, abs=0.01)
    # A wheel of 5 mm at half a turn a minute on a disc of 300 mm, by hand: 2 pi 5 / 2 mm a minute; 360 x 5/300 deg.
    assert table["way of the edge while the motor runs"] == pytest.approx(15.708, abs=1e-3)
    assert table["oven turns in one turn of the wheel"] == pytest.approx(6.0)
    assert table["turning speed"] == pytest.approx(3.0)
    assert table["shaft of the wheel"] == pytest.approx(0.5)
    assert table["pivot to the shaft of the wheel"] == pytest.approx(305.0)
    assert table["fin above the cell"] == pytest.approx(60.0)
    assert table["cell, away from the fin"] == pytest.approx(20.0)
    # Low sun: lit width fin tan(e), its light by cos(e); so sin(e) = share x cell / fin.
    start = table["share of the cell lit, in full sun, when the motor starts"] / 100
    angle = table["sun ahead, across the mouth, where the motor starts"]
    assert angle == pytest.approx(math.degrees(math.asin(start * 20 / 60)), abs=2e-3)
    assert table["weakest beam that starts the motor"] == pytest.approx(1000 * start, abs=0.1)
    inch = drive_table(driven, "inch").set_index("what")["value"]
    assert 25.4 * inch["way of the edge while the motor runs"] == pytest.approx(15.708, abs=0.02)


def test_a_wheel_that_no_longer_fits_the_design_is_not_told() -> None:
    """A search may have changed speed or base: then the config's wheel and motor are not the design's."""
    driven = load(WORKSHOP).setting
    other = replace(driven, design=driven.design.with_factors(base_radius=0.40))
    assert "drive wheel, across" in set(drive_table(driven)["what"])
    assert "drive wheel, across" not in set(drive_table(other)["what"])


def polar(latitude: float) -> Setting:
    place = Place(
        latitude=math.radians(latitude), longitude=0.0, altitude=0.0, timezone="UTC", name="far out (made up)"
    )
    air = Air(low=260.0, high=270.0, dew_point=255.0, wind_speed=2.0)
    months = [6] if latitude > 0 else [12]
    sky = clear_sky(place, months=months, start=datetime.time(10), stop=datetime.time(15), air=air)
    return replace(load(WORKSHOP).setting, sky=sky)


@pytest.mark.parametrize("latitude", [89.99, -89.99])
def test_at_the_pole_the_edge_goes_by_the_hour_angle(latitude: float) -> None:
    """There the azimuth turns by 15 deg an hour whatever the time: 0.30 m x 1.25 deg."""
    table = travel_table(polar(latitude))
    assert table.iloc[:, 1:].to_numpy() == pytest.approx(6.545, abs=0.06)  # rounded to a tenth


def test_the_edge_goes_as_far_as_the_sun_turns() -> None:
    """Midway between rows by Simpson's rule: the sum over the day is radius times the turn of the azimuth."""
    driven = load(WORKSHOP).setting
    table = travel_table(driven)
    azimuth = np.unwrap(np.arctan2(driven.sky.to_sun[..., 0], driven.sky.to_sun[..., 1]), axis=-1)
    for path, column in enumerate(table.columns[1:]):
        rates = table[column].to_numpy() / 5.0  # mm/min, from the row's clock on
        last = 30 * (len(rates) - 1)
        turned = abs(azimuth[path, last + 2] - azimuth[path, 2]) * 300.0
        assert np.trapezoid(rates, dx=30.0) == pytest.approx(turned, rel=0.02)
    assert table["clock"].tolist()[:3] == ["09:30", "10:00", "10:30"]


@pytest.mark.parametrize(("latitude", "side"), [(47.0, "left"), (-40.0, "right")])
def test_the_cell_lies_on_the_side_to_which_the_sun_goes(latitude: float, side: str) -> None:
    """Looking into a mouth that faces south one looks north, west to the left; in the south the other way round."""
    place = Place(
        latitude=math.radians(latitude), longitude=0.0, altitude=0.0, timezone="UTC", name="yard (made up)"
    )
    air = Air(low=280.0, high=295.0, dew_point=278.0, wind_speed=2.0)
    sky = clear_sky(place, months=[1, 6], start=datetime.time(10), stop=datetime.time(14), air=air)
    assert cell_side(replace(load(WORKSHOP).setting, sky=sky)) == side


def test_between_the_tropics_the_cell_is_turned_in_the_year() -> None:
    place = Place(latitude=0.0, longitude=0.0, altitude=0.0, timezone="UTC", name="line (made up)")
    air = Air(low=290.0, high=300.0, dew_point=288.0, wind_speed=2.0)
    sky = clear_sky(place, months=[6, 12], start=datetime.time(10), stop=datetime.time(14), air=air)
    driven = replace(load(WORKSHOP).setting, sky=sky)
    assert cell_side(driven) == ""
    assert "mount it to be turned" in cell_note(driven)


def spans_of(path: Path) -> list[float]:
    """Larger side of each path of a page. [mm]"""
    text = path.read_bytes().decode("latin-1")
    paths = [
        np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+) [ml]\b", path), float)
        for path in re.split(r"\b[Sf]\b", text)
    ]
    return [float(np.ptp(path, axis=0).max()) * POINT for path in paths if len(path)]


@pytest.mark.parametrize("post", [0.06, 0.10])
def test_rings_on_the_plate_are_at_full_size(setting: Setting, tmp_path: Path, post: float) -> None:
    """Post times the tangent of the ring's angle, drawn; bars of 100 mm and 4 in."""
    asked = AimingStudySection.model_validate({"kind": "aiming", "post_height": f"{1e3 * post} mm"})
    plate = plate_for(setting, asked)
    assert plate.loss.tolist() == [0.02, 0.05, 0.10]
    with mpl.rc_context({"pdf.compression": 0}):
        write_sight(plate, tmp_path / "sight.pdf", "A4")
    spans = spans_of(tmp_path / "sight.pdf")
    for angle in plate.ring_angle:
        radius = 1e3 * post * math.tan(angle)
        assert any(span == pytest.approx(2 * radius, abs=0.05) for span in spans)
    assert any(span == pytest.approx(6.0, abs=0.05) for span in spans)  # centred within 3 mm
    for bar in (100.0, 101.6):
        assert any(span == pytest.approx(bar, abs=0.01) for span in spans)


def test_the_plate_is_that_of_a_whole_aiming_study(setting: Setting) -> None:
    """Traced alone it has the same rings to the last bit, with the post of the config."""
    asked = AimingStudySection.model_validate(
        {"kind": "aiming", "post_height": "80 mm", "centred_within": "4 mm"}
    )
    alone = plate_for(setting, asked)
    whole = plate_of(aiming(setting, post_height="80 mm", centred_within="4 mm"))
    for name in ("loss", "ring_radius", "ring_angle"):
        assert getattr(alone, name).tolist() == getattr(whole, name).tolist()
    assert (alone.post_height, alone.centred_within, alone.post_width) == (
        whole.post_height,
        whole.centred_within,
        whole.post_width,
    )


def test_rings_lose_what_they_say(setting: Setting) -> None:
    """Traced with other rays at the ring's angle, in the worst direction: the loss, within the noise of the rays."""
    plate = plate_for(setting, usual_sight())
    set_to = aim(setting.design.aiming, setting.sky.to_sun[setting.sky.day_path])
    how = {"catalogue": setting.catalogue, "rays": 1 << 15, "seed": 99}
    angles = np.concatenate([[0.0], plate.ring_angle])
    light = off_axis_light(setting.design, float(np.median(set_to.elevation)), angles=angles, **how)
    assert 1 - light.worst[1:] == pytest.approx(plate.loss, abs=0.012)


def test_rings_beyond_the_paper_are_told(setting: Setting, tmp_path: Path) -> None:
    asked = AimingStudySection.model_validate({"kind": "aiming", "post_height": "600 mm"})
    write_sight(plate_for(setting, asked), tmp_path / "sight.pdf", "A4")
    assert "2 % and 5 % and 10 % less light" in words_of(tmp_path / "sight.pdf")


def words_of(path: Path) -> str:
    """All text of a PDF, by poppler."""
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler is not there to read a PDF")
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], check=True, capture_output=True, text=True
    )
    return " ".join(done.stdout.split())


@pytest.fixture(scope="module")
def driven_papers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All papers of the driven oven in inches, on Letter."""
    folder = tmp_path_factory.mktemp("driven")
    said = write_field_papers(replace(load(WORKSHOP).setting, rays=4), folder, paper="Letter", system="inch")
    assert "sight-plate.pdf" in " ".join(said)
    return folder


def test_a_folder_of_field_papers(driven_papers: Path) -> None:
    names = ("sun", "settings", "meals", "drive", "travel")
    for name in (
        *(f"{n}.csv" for n in names),
        "tables.pdf",
        "sight-plate.pdf",
        "log-form.pdf",
        "log-form.csv",
    ):
        assert (driven_papers / name).stat().st_size > 20


def test_cautions_stand_where_the_risk_is_met(driven_papers: Path) -> None:
    tables = words_of(driven_papers / "tables.pdf")
    for words in (
        "never at the sun or into the mirrors",
        "check the coldest place of the food",
        "between 41 degF and 140 degF for more than two hours",
        "Local codes on food",
        "Cover the mirrors before you work on the drive",
        "Weigh the base down",
    ):
        assert words in tables
    sight = words_of(driven_papers / "sight-plate.pdf")
    assert "EYES: look at the shadow, never at the sun" in sight
    assert "3 15/16 in (3.937)" in sight  # a post of 100 mm
    form = words_of(driven_papers / "log-form.pdf")
    assert "from 41 to 140 degF" in form
    assert "gloves" in form


def test_no_table_runs_over_the_edge_of_the_paper(driven_papers: Path) -> None:
    """Boxes of all words by poppler, on every page of Letter, 612 x 792 points."""
    for path in driven_papers.glob("*.pdf"):
        boxes = word_boxes(path)
        assert len(boxes)
        assert boxes.min() >= 0
        assert boxes[:, 2].max() <= 612
        assert boxes[:, 3].max() <= 792


def word_boxes(path: Path) -> np.ndarray:
    """Left, top, right, bottom of every word. [point]"""
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler is not there to read a PDF")
    done = subprocess.run(["pdftotext", "-bbox", str(path), "-"], check=True, capture_output=True, text=True)
    found = re.findall(r'xMin="([^"]+)" yMin="([^"]+)" xMax="([^"]+)" yMax="([^"]+)"', done.stdout)
    return np.array(found, float)


TYPED = {
    "metric": (
        "09:30,21.5,22,24,810,1.5,x,",
        "09:45,48.0,61.5,25,,2,,stirred",
        "10:00,71.5,83,25.5,842,1.0,x,cloud",
    ),
    "inch": (
        "09:30,70.7,71.6,75.2,810,3.4,x,",
        "09:45,118.4,142.7,77,,4.5,,stirred",
        "10:00,160.7,181.4,77.9,842,2.2,x,",
    ),
}


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_a_typed_log_form_is_read(setting: Setting, tmp_path: Path, system: System) -> None:
    """Three lines typed into the form, read by its own table: temperatures in kelvin, marks as settings to the sun."""
    write_log_form(tmp_path, "A4", meal=setting.design.meal, system=system)
    columns = (tmp_path / "log-form.csv").read_text("utf-8").strip().split(",")
    assert [name.split()[0] for name in columns] == [
        "clock",
        "food",
        "pot",
        "air",
        "sun",
        "wind",
        "marks",
        "remarks",
    ]
    with (tmp_path / "log-form.csv").open("a", encoding="utf-8") as form:
        form.write("\n".join(TYPED[system]) + "\n")
    [table] = tomllib.loads((tmp_path / "log-form.toml").read_text("utf-8"))["cook"]
    place = setting.sky.place
    cook = read_cook(place, folder=tmp_path, catalogue=setting.catalogue, **table)
    assert cook.temperature("food") == pytest.approx([294.65, 321.15, 344.65], abs=1e-9)
    assert cook.temperature("pot") == pytest.approx([295.15, 334.65, 356.15], abs=1e-9)
    assert cook.irradiance[[0, 2]] == pytest.approx([810.0, 842.0])
    assert cook.wind == pytest.approx([1.5, 2.0, 1.0], abs=0.03)
    assert len(cook.azimuth_settings) == 2
    assert cook.meal is not None
    assert cook.meal.food_mass == pytest.approx(setting.design.meal.food_mass, rel=1e-3)
