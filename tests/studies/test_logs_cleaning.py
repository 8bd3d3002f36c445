"""Cleaning: damage is found where it was planted, said, and left alone unless the config says otherwise."""

import math
import re

import numpy as np
import pandas as pd
import pvlib
import pytest

from noonhearth.model import Place
from noonhearth.studies import LogError, read_cook
from noonhearth.studies.logs import LoggedCook
from noonhearth.studies.logs.spikes import HALF_WINDOW, spikes

YARD = Place(latitude=math.radians(13.5), longitude=math.radians(-1.5), altitude=320.0, timezone="UTC")
ZERO = 273.15


def heat_up(readings: int = 120) -> dict[str, list[str]]:
    """A noisy heat-up, a reading a minute from 10:00, as text; made up."""
    rng = np.random.default_rng(11)
    minutes = np.arange(readings)
    food = 22 + 74 * (1 - np.exp(-minutes / 50)) + rng.normal(0, 0.1, readings)
    pot = food + 6 + rng.normal(0, 0.3, readings)
    return {
        "time": [f"2026-03-01 {10 + m // 60}:{m % 60:02d}" for m in minutes],
        "food": [f"{value:.2f}" for value in food],
        "pot": [f"{value:.2f}" for value in pot],
        "air": [f"{value:.2f}" for value in 28 + minutes / 60 + rng.normal(0, 0.1, readings)],
        "sun": [f"{value:.0f}" for value in 780 + minutes / 2],
    }


def cook(columns: dict[str, list[str]], **keys: object) -> LoggedCook:
    rows = zip(*columns.values(), strict=True)
    text = "\n".join([";".join(columns), *(";".join(row) for row in rows)])
    given = {
        "name": "first",
        "typed": text,
        "time": {"column": "time"},
        **{name: {"column": name, "unit": "degC"} for name in ("food", "pot", "air")},
        "irradiance": {"column": "sun", "unit": "W/m2"},
        "meal": {"food": "water", "food_mass": "1 kg"},
    }
    return read_cook(YARD, **given | keys)


def told_of(record: LoggedCook, what: str) -> list[str]:
    return [finding.sentence for finding in record.cleaning.findings if finding.what == what]


def test_a_sound_log_is_left_alone() -> None:
    record = cook(heat_up())
    assert record.cleaning.touched == ()
    assert record.cleaning.findings == ()
    assert record.cleaning.readings == 480
    assert record.notes == ()


@pytest.mark.parametrize("word", ["", "NaN", "OL", "-999", "#N/A", "--", "-9999.0", "1e30", "n/a", "broken"])
def test_words_for_no_reading_are_no_reading(word: str) -> None:
    columns = heat_up()
    columns["food"][40] = word
    record = cook(columns)
    (entry,) = record.cleaning.touched
    assert (entry.series, entry.row, entry.said) == ("food", 42, word)
    assert entry.reason == ("unreadable" if word == "broken" else "missing")
    assert math.isnan(record.temperature("food")[40])
    assert np.isfinite(np.delete(record.temperature("food"), 40)).all()
    assert cook(columns, missing=["broken"]).cleaning.counts() == {"missing": 1}


def test_spikes_are_left_out_unless_they_are_to_be_kept() -> None:
    columns = heat_up()
    for place, value in ((30, "12.0"), (71, "99.4"), (72, "98.7")):
        columns["food"][place] = value
    record = cook(columns)
    assert [(e.row, e.reason) for e in record.cleaning.touched] == [
        (32, "spike"),
        (73, "spike"),
        (74, "spike"),
    ]
    assert np.flatnonzero(np.isnan(record.temperature("food"))).tolist() == [30, 71, 72]
    assert record.cleaning.raw["food"][30] == pytest.approx(12.0 + ZERO)
    kept = cook(columns, leave_out=[])
    assert np.isfinite(kept.temperature("food")).all()
    assert [entry.became for entry in kept.cleaning.touched] == pytest.approx([285.15, 372.55, 371.85])
    assert 'leave_out = ["spikes"]' in told_of(kept, "spike")[0]


def test_steps_and_plain_rises_are_no_spikes() -> None:
    """Cold water added, a lid opened, a coarse form: a level that stays is not a reading gone wrong."""
    step = np.concatenate([np.full(20, 370.0), np.full(20, 340.0)])
    assert not spikes(step).any()
    assert not spikes(np.linspace(290.0, 370.0, 7)).any()
    assert not spikes(np.array([293.0, 310.0, 333.0, 350.0, 340.0, 355.0, 366.0])).any()


def test_the_median_of_a_window_withstands_three_of_seven() -> None:
    """The breakdown point of the median: 3 of 7 readings at most may be wrong, wherever they are sent."""
    values = np.full(40, 350.0)
    values[10 : 10 + HALF_WINDOW] = 900.0
    assert np.flatnonzero(spikes(values)).tolist() == [10, 11, 12]


def test_a_stuck_thermometer_is_told_and_left_out_on_demand() -> None:
    columns = heat_up()
    columns["pot"][20:60] = ["41.50"] * 40
    record = cook(columns)
    assert record.cleaning.counts() == {"stuck": 40}
    assert np.isfinite(record.temperature("pot")).all()
    assert "40 readings look stuck and were kept" in told_of(record, "stuck")[0]
    left = cook(columns, leave_out=["stuck"])
    assert np.isnan(left.temperature("pot")[20:60]).all()


def test_boiling_water_and_coarse_thermometers_are_not_stuck() -> None:
    columns = heat_up()
    columns["food"][90:] = ["98.90"] * 30
    columns["pot"][90:] = [f"{100 + k / 2}" for k in range(30)]  # which moves meanwhile
    columns["pot"] = [f"{float(value):.0f}" for value in columns["pot"]]
    assert cook(columns).cleaning.counts() == {}


def test_impossible_readings_are_left_out_and_dark_ones_are_zero() -> None:
    columns = heat_up()
    columns["air"][5], columns["sun"][6], columns["sun"][7], columns["food"][8] = "81", "-3", "2400", "450"
    record = cook(columns)
    assert {(e.series, e.row, e.reason) for e in record.cleaning.touched} == {
        ("air", 7, "impossible"),
        ("irradiance", 8, "zeroed"),
        ("irradiance", 9, "impossible"),
        ("food", 10, "impossible"),
    }
    assert record.weather("irradiance")[6] == 0.0
    assert math.isnan(record.weather("irradiance")[7])


def in_units(
    columns: dict[str, list[str]], scale: float, offset: float, names: tuple[str, ...]
) -> dict[str, list[str]]:
    return columns | {name: [f"{float(v) * scale + offset:.2f}" for v in columns[name]] for name in names}


def test_fahrenheit_in_a_celsius_column_is_told_and_nothing_is_changed() -> None:
    columns = in_units(heat_up(), 1.8, 32.0, ("food", "pot"))
    record = cook(columns)
    assert record.temperature("food")[0] == pytest.approx(float(columns["food"][0]) + ZERO)
    assert any(
        "food lies at" in text and 'was unit = "degF" meant' in text for text in told_of(record, "unit")
    )
    assert any(
        "pot lies at" in text and 'was unit = "degF" meant' in text for text in told_of(record, "unit")
    )
    assert all("Nothing was changed." in text for text in told_of(record, "unit"))
    right = cook(columns, **{name: {"column": name, "unit": "degF"} for name in ("food", "pot")})
    assert told_of(right, "unit") == []


def test_air_in_fahrenheit_is_told() -> None:
    record = cook(
        in_units(heat_up(40), 1.8, 32.0 - 30.0, ("air",))
    )  # some 53 "degC": possible, but not in the shade
    assert any(text.startswith("air lies at") and '"degF"' in text for text in told_of(record, "unit"))


@pytest.mark.parametrize(
    ("series", "unit", "change", "wanted"),
    [
        ("food", "K", (1.0, 0.0), "degC"),
        ("food", "degC", (1.0, ZERO), "K"),
        ("air", "degC", (1.0, ZERO), "K"),
    ],
)
def test_kelvin_and_celsius_taken_for_each_other_stop_the_reading(
    series: str, unit: str, change: tuple[float, float], wanted: str
) -> None:
    columns = in_units(heat_up(), *change, (series,))
    with pytest.raises(LogError) as caught:
        cook(columns, **{series: {"column": series, "unit": unit}})
    assert f'{series}.unit = "{unit}": hardly a reading is possible' in str(caught.value)
    assert f'was unit = "{wanted}" meant' in str(caught.value)


def test_celsius_in_a_fahrenheit_column_is_told() -> None:
    record = cook(heat_up(), food={"column": "food", "unit": "degF"}, leave_out=[])
    assert any('was unit = "degC" meant' in text for text in told_of(record, "unit"))


@pytest.mark.parametrize(("scale", "unit", "wanted"), [(1e-3, "W/m2", "kW/m2"), (0.0102, "W/m2", "mV")])
def test_sunlight_in_another_unit_is_told(scale: float, unit: str, wanted: str) -> None:
    columns = heat_up()
    columns["sun"] = [f"{float(value) * scale:.3f}" for value in columns["sun"]]
    record = cook(columns, irradiance={"column": "sun", "unit": unit})
    assert any(f'unit = "{wanted}"' in text for text in told_of(record, "unit"))


def test_watts_in_a_kilowatt_column_stop_the_reading() -> None:
    with pytest.raises(
        LogError, match=r'irradiance.unit = "kW/m2": hardly a reading is possible.*was unit = "W/m2" meant'
    ):
        cook(heat_up(), irradiance={"column": "sun", "unit": "kW/m2"})


def test_a_clock_or_zone_that_the_sun_contradicts_is_told() -> None:
    night = cook(
        heat_up(), time={"column": "time", "zone": "UTC-12:00"}
    )  # ten in the morning there is ten at night here
    assert any("sun below the horizon" in text for text in told_of(night, "night"))
    (text,) = told_of(night, "clock against the sun")
    assert "with the sun below the horizon: look at the zone and at the clock" in text
    columns = heat_up()
    columns["sun"] = ["0"] * 120
    assert (
        "saw nothing at 120 readings with the sun high" in told_of(cook(columns), "clock against the sun")[0]
    )


@pytest.mark.parametrize("late", [0, -1, 2])
def test_an_hour_that_the_sun_contradicts_is_told(late: int) -> None:
    """The level sun of pvlib's clear sky (Haurwitz 1945), written by a logger that kept another zone's time."""
    time = pd.date_range("2026-03-01 07:30", periods=70, freq="5min", tz="UTC")
    sun = pvlib.solarposition.spa_python(time, 13.5, -1.5, altitude=320)
    sky = pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].to_numpy()
    dice = np.random.default_rng(6)
    shown = time.tz_localize(None) + pd.Timedelta(hours=late)
    columns = {
        "time": shown.strftime("%Y-%m-%d %H:%M").tolist(),
        "food": [f"{20 + k:.1f}" for k in range(70)],
        "pot": [f"{25 + k:.1f}" for k in range(70)],
        "air": ["28.0"] * 70,
        "sun": [f"{value:.0f}" for value in sky * dice.normal(1.0, 0.02, 70)],
    }
    found = told_of(cook(columns), "clock against the sun")
    if late == 0:
        assert found == []
        return
    (text,) = found
    assert f"the sun runs {abs(late)} h {'late' if late > 0 else 'early'}" in text
    right = re.search(r'offset = "(.*?)"', text)
    assert right is not None
    assert told_of(cook(columns, time={"column": "time", "offset": right[1]}), "clock against the sun") == []


def test_a_cloudy_morning_accuses_no_clock() -> None:
    columns = heat_up(170)
    dice = np.random.default_rng(8)
    columns["sun"] = [f"{value:.0f}" for value in dice.uniform(150, 900, 170)]
    assert told_of(cook(columns), "clock against the sun") == []


def test_gaps_are_listed() -> None:
    columns = {name: [*values[:30], *values[52:]] for name, values in heat_up().items()}
    (text,) = told_of(cook(columns), "gap")
    assert "nothing was read from 10:29 to 10:52 (23 min)" in text


def test_a_clock_coarser_than_the_logger_is_told() -> None:
    columns = heat_up()
    columns["time"] = [f"2026-03-01 10:{k // 6:02d}" for k in range(120)]
    record = cook(columns)
    assert len(record.instants) == 20
    assert record.cleaning.counts()["duplicate"] == 4 * 100
    assert "let it write seconds" in told_of(record, "coarse clock")[0]


def test_a_dead_thermometer_is_left_aside_and_a_dead_log_is_a_fault() -> None:
    columns = heat_up()
    columns["pot"] = ["OL"] * 120
    record = cook(columns)
    assert list(record.temperatures) == ["food"]
    assert told_of(record, "nothing left") == ["pot: not one reading is left of its column."]
    columns["food"] = ["OL"] * 120
    with pytest.raises(LogError, match="not one temperature is left"):
        cook(columns)


def test_a_clear_sky_in_place_of_an_instrument_is_said() -> None:
    columns = heat_up()
    del columns["sun"]
    record = cook(columns, irradiance="clear sky")
    assert not record.irradiance_measured
    assert record.weather("irradiance") is None
    assert "a clear sky stands in for it" in record.notes[0]
