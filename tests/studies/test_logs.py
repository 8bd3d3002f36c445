"""Logs in all the forms that loggers and people write, against pandas, openpyxl and exact unit conversions."""

import datetime
import math
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from noonhearth.model import Place
from noonhearth.studies import LogError, load, read_cook
from noonhearth.studies.config import ConfigError, loads
from noonhearth.studies.logs import LoggedCook

OVEN = Path(__file__).parents[1] / "oven.toml"
CONFIGS = Path(__file__).parents[2] / "configs"
YARD = Place(
    latitude=math.radians(13.5), longitude=math.radians(-1.5), altitude=320.0, timezone="Africa/Ouagadougou"
)
MEAL = {"food": "water", "food_mass": "1 kg"}
FOOD = {"column": "food", "unit": "degC"}
PLAIN = {
    "name": "first",
    "time": {"column": "time"},
    "food": FOOD,
    "irradiance": "clear sky",
    "meal": MEAL,
}


def cook(text: str, **keys: object) -> LoggedCook:
    """A typed log with the plain columns, but for what is given."""
    return read_cook(YARD, **{**PLAIN, "typed": text, **keys})


def faults(text: str = "time,food\n2026-03-01 10:00,20\n2026-03-01 10:10,30", **keys: object) -> list[str]:
    with pytest.raises(LogError) as caught:
        cook(text, **keys)
    return caught.value.faults


@pytest.fixture
def table() -> pd.DataFrame:
    """Half an hour of readings that need all their digits."""
    rng = np.random.default_rng(3)
    time = pd.date_range("2026-03-01 10:00:07", periods=30, freq="61s")
    food = 20 + np.cumsum(rng.uniform(0.1, 0.9, 30))
    return pd.DataFrame(
        {"time": time, "food": food, "sun": rng.uniform(500, 900, 30), "air": 25 + rng.uniform(0, 1, 30)}
    )


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_what_pandas_writes_is_read_to_the_last_bit(
    table: pd.DataFrame, tmp_path: Path, separator: str, decimal: str, encoding: str
) -> None:
    table = table.rename(columns={"food": "Füllung"})
    table.to_csv(tmp_path / "log.csv", sep=separator, decimal=decimal, encoding=encoding, index=False)
    sun = {"column": "sun", "unit": "W/m2", "plane": "facing the sun"}
    keys = {"files": ["log.csv"], "food": {"column": "Füllung", "unit": "degC"}, "irradiance": sun}
    record = read_cook(YARD, folder=tmp_path, **PLAIN | keys)
    again = pd.read_csv(tmp_path / "log.csv", sep=separator, decimal=decimal, encoding=encoding)
    assert record.temperature("food") == pytest.approx(again["Füllung"] + 273.15, rel=1e-15)
    assert record.temperature("food").tolist() == (table["Füllung"] + 273.15).tolist()
    assert record.weather("irradiance").tolist() == table["sun"].tolist()
    assert record.time.tolist() == [61.0 * k for k in range(30)]
    assert record.cleaning.touched == ()


def test_a_workbook_is_read_as_pandas_reads_it(table: pd.DataFrame, tmp_path: Path) -> None:
    with pd.ExcelWriter(tmp_path / "log.xlsx") as book:
        pd.DataFrame({"nothing": [1]}).to_excel(book, sheet_name="notes", index=False)
        table.to_excel(book, sheet_name="readings", index=False)
    keys = {"files": ["log.xlsx"], "sheet": "readings"}
    record = read_cook(YARD, folder=tmp_path, **PLAIN | keys)
    again = pd.read_excel(tmp_path / "log.xlsx", sheet_name="readings")
    assert record.temperature("food").tolist() == (again["food"] + 273.15).tolist()
    assert record.start == again["time"][0].tz_localize("Africa/Ouagadougou")
    with pytest.raises(LogError, match="no such sheet; did you mean readings"):
        read_cook(YARD, folder=tmp_path, **PLAIN | keys | {"sheet": "reading"})
    (tmp_path / "log.xlsx").write_bytes((tmp_path / "log.xlsx").read_bytes()[:2000])
    with pytest.raises(LogError, match="no workbook that can be opened"):
        read_cook(YARD, folder=tmp_path, **PLAIN | keys)


def test_units_are_converted_exactly() -> None:
    text = """time,food,pot,plate,air,sun,diffuse,wind
2026-03-01 10:00,212,373.15,100,68,10,0.1,36
2026-03-01 10:10,32,273.15,0,86,5,0.2,0"""
    record = cook(
        text,
        food={"column": "food", "unit": "degF"},
        pot={"column": "pot", "unit": "K"},
        plate={"column": "plate", "unit": "degC"},
        air={"column": "air", "unit": "F"},
        irradiance={"column": "sun", "unit": "mV", "sensitivity": "12.5 uV per W/m2"},
        diffuse={"column": "diffuse", "unit": "kW/m2"},
        wind={"column": "wind", "unit": "km/h"},
    )
    for sensor in ("food", "pot", "plate"):
        assert record.temperature(sensor) == pytest.approx([373.15, 273.15], abs=1e-9)
    assert record.weather("air") == pytest.approx([293.15, 303.15], abs=1e-9)
    assert record.weather("irradiance") == pytest.approx([800.0, 400.0], rel=1e-12)
    assert record.weather("diffuse") == pytest.approx([100.0, 200.0], rel=1e-12)
    assert record.weather("wind") == pytest.approx([10.0, 0.0], rel=1e-12)
    assert record.units["food"] == "degF"
    assert record.plane == "level"


def test_two_loggers_share_one_time_and_nothing_lies_between_their_readings() -> None:
    record = cook(
        "time,food\n2026-03-01 10:00,20\n2026-03-01 10:10,30\n2026-03-01 10:20,40",
        logger=[
            {
                "typed": "s;sun\n30;700\n600;710\n630;720",
                "time": {"column": "s", "since": "2026-03-01 10:00", "unit": "s"},
                "irradiance": {"column": "sun", "unit": "W/m2"},
            }
        ],
        irradiance=None,
    )
    assert record.time.tolist() == [0.0, 30.0, 600.0, 630.0, 1200.0]
    np.testing.assert_array_equal(record.temperature("food"), [293.15, np.nan, 303.15, np.nan, 313.15])
    np.testing.assert_array_equal(record.weather("irradiance"), [np.nan, 700, 710, 720, np.nan])


def test_files_of_one_logger_are_joined_in_any_order(table: pd.DataFrame, tmp_path: Path) -> None:
    table.iloc[:12].to_csv(tmp_path / "a.csv", index=False)
    table.iloc[10:].to_csv(tmp_path / "b.csv", index=False)
    whole = [
        read_cook(YARD, folder=tmp_path, **PLAIN, files=files)
        for files in (["a.csv", "b.csv"], ["b.csv", "a.csv"])
    ]
    for record in whole:
        assert record.temperature("food").tolist() == (table["food"] + 273.15).tolist()
        assert record.cleaning.counts() == {"duplicate": 2}


def test_a_handwritten_form_is_read() -> None:
    text = """clock  food  sun set
9:55   18    x
10:10  27.5
10:24  OL    x
10:40  52"""
    record = cook(text, time={"column": "clock", "day": datetime.date(2026, 3, 1)}, reaim_column="sun")
    assert record.start == datetime.datetime(2026, 3, 1, 9, 55, tzinfo=YARD.zone)
    assert record.time.tolist() == [0.0, 900.0, 2700.0]
    assert record.azimuth_settings == (0.0, 1740.0)
    assert record.cleaning.counts() == {"missing": 1}


def test_settings_and_shade_are_told_from_the_first_reading() -> None:
    text = "time,food,mark\n2026-03-01 10:00,20,\n2026-03-01 10:10,30,set\n2026-03-01 10:40,50,"
    record = cook(
        text,
        reaim_column="mark",
        reaimed=["9:58"],
        turned=["10:20:30"],
        tilted=["10:30"],
        shaded=[["10:35", "10:45"]],
    )
    assert record.azimuth_settings == (-120.0, 600.0, 1230.0)
    assert record.elevation_settings == (-120.0, 600.0, 1800.0)
    assert record.shaded == ((2100.0, 2700.0),)
    assert record.is_shaded(record.time).tolist() == [False, False, True]


def test_columns_may_be_told_by_number_and_the_header_may_stand_lower() -> None:
    rows = "2026-03-01 10:00,20\n2026-03-01 10:10,30"
    keys = {"time": {"column": 1}, "food": {"column": 2, "unit": "degC"}}
    for text, more in (
        (rows, {}),
        ("a logger\n\ntime,food\n" + rows, {"header_row": 3}),
        ("# c\n" + rows, {"header_row": 0}),
    ):
        assert cook(text, **keys, **more).temperature("food").tolist() == [293.15, 303.15]


CASES = {
    "column": (
        {"food": {"column": "fod", "unit": "degC"}},
        r'food.column = "fod": typed has no column of this name; did you mean food\?',
    ),
    "time column": ({"time": {"column": "tiem"}}, r'time.column = "tiem": .*did you mean time\?'),
    "mark column": ({"reaim_column": "mark"}, r'reaim_column = "mark": typed has no column'),
    "unit": (
        {"food": {"column": "food", "unit": "degrees"}},
        r'food.unit: "degrees" is no unit of a temperature',
    ),
    "no sun": ({"irradiance": None}, r'irradiance: is missing; .*"clear sky"'),
    "no meal": ({"meal": None}, r"meal: is missing; write \[cook.meal\].*empty = true"),
    "both": ({"empty": True}, r"empty: there is a meal too"),
    "no thermometer": ({"food": None}, r"no thermometer in the oven is named; write one of food, pot"),
    "no clock": ({"time": None}, r"time: is missing"),
    "shade": (
        {"shaded": [["11:00", "10:00"]]},
        r"shaded\[1\]: ends at 10:00, allowed after its beginning 11:00",
    ),
    "file": ({"typed": None, "files": ["none.csv"]}, r'files: "none.csv" cannot be read'),
    "nothing": ({"typed": None}, r"files: is missing"),
    "zone": (
        {"time": {"column": "time", "zone": "Africa/Ougadougou"}},
        r'time.zone = "Africa/Ougadougou": is not known',
    ),
    "format": ({"time": {"column": "time", "format": "%d/%m/%y"}}, None),
    "counting": ({"time": {"column": "time", "unit": "s"}}, r"time.since: is missing"),
    "volts": (
        {"irradiance": {"column": "food", "unit": "mV"}},
        r'irradiance.sensitivity: is missing; volts need it, for example "12.5 uV per W/m2"',
    ),
    "no volts": (
        {"irradiance": {"column": "food", "unit": "W/m2", "sensitivity": "10 uV per W/m2"}},
        r"irradiance.sensitivity: of no effect with unit",
    ),
    "key": ({"fod": FOOD}, r"fod: unknown key; did you mean food\?"),
    "offset": ({"time": {"column": "time", "offset": "3"}}, r'time.offset: "3" has no unit'),
    "jump": (
        {"time": {"column": "time", "jumps": [["12:00", "1 h"]]}},
        r"time.jumps\[1\]: no reading at that time",
    ),
    "encoding": ({"encoding": "utf-99"}, r'encoding = "utf-99": is not known'),
}


@pytest.mark.parametrize("case", CASES)
def test_a_fault_names_the_key_and_the_next_move(case: str) -> None:
    keys, wanted = CASES[case]
    if wanted is None:
        assert cook("time,food\n2026-03-01 10:00,20\n2026-03-01 10:10,30", **keys).time.tolist() == [
            0.0,
            600.0,
        ]
        return
    found = faults(**keys)
    assert len(found) == 1, found
    assert pd.Series(found).str.contains(wanted).all(), found


def test_every_fault_of_a_table_is_told_at_once() -> None:
    found = faults(
        food={"column": "fud", "unit": "degC"},
        pot={"column": "pot", "unit": "degX"},
        time={"column": "tme"},
        meal=None,
        shaded=[["12:00", "11:00"]],
    )
    keys = {fault.split(".")[0].split(":")[0].split("[")[0] for fault in found}
    assert keys == {"food", "pot", "time", "meal", "shaded"}
    assert len(found) == 5


def test_a_date_that_may_be_read_two_ways_is_not_guessed() -> None:
    (fault,) = faults("time,food\n03/04/2026 10:00,20\n03/04/2026 10:10,30")
    assert 'format = "%d/%m/%Y %H:%M" would read it; look whether day and month are right' in fault
    (fault,) = faults("time,food\n10:00,20\n10:10,30")
    assert "tells clock times without a date, write day" in fault


def test_cooks_of_a_config_arrive_in_its_plan_with_all_faults_at_once() -> None:
    text = OVEN.read_text("utf-8")
    table = """
[[cook]]
name = "first"
typed = "time,food\\n2026-03-01 10:00,20\\n2026-03-01 10:10,30"
time = { column = "time" }
food = { column = "food", unit = "degC" }
irradiance = "clear sky"
meal = { food = "water", food_mass = "1 kg" }
"""
    plan = loads(text + table, OVEN)
    assert [record.name for record in plan.cooks] == ["first"]
    assert plan.cooks[0].temperature("food").tolist() == [293.15, 303.15]
    broken = text.replace('mouth = "600 mm"', 'mouth = "600"') + table.replace('"time" }', '"tme" }') + table
    broken = broken.replace('food_mass = "1 kg"', 'food_mass = "1 kg", fod = 1')
    with pytest.raises(ConfigError) as caught:
        loads(broken, OVEN)
    told = "\n".join(caught.value.faults)
    for wanted in (
        "oven.funnel.mouth",
        'cook[1].time.column = "tme"',
        "cook[1].meal.fod",
        'cook[2].name = "first"',
    ):
        assert wanted in told, told


def test_the_result_of_a_config_keeps_the_logs_that_it_names() -> None:
    plan = load(CONFIGS / "pasture_cook.toml")
    assert sorted(plan.inputs) == sorted(f"logs/{path.name}" for path in (CONFIGS / "logs").iterdir())
    again = loads(plan.text, plan.source, inputs=plan.inputs)
    for one, other in zip(plan.cooks, again.cooks, strict=True):
        assert one.time.tolist() == other.time.tolist()
        assert one.cleaning.touched == other.cleaning.touched
        assert one.notes == other.notes


def test_a_log_that_does_not_fit_its_table_is_a_wrong_config(tmp_path: Path) -> None:
    """Exit code 2, every fault with its column and the nearest name, and nothing written."""
    text = (
        (CONFIGS / "pasture_cook.toml")
        .read_text("utf-8")
        .replace("T2 Topf", "T2 Tof")
        .replace("plate_F", "plat_F")
    )
    (tmp_path / "logs").mkdir()
    for log in (CONFIGS / "logs").glob("pasture_*"):
        shutil.copy(log, tmp_path / "logs")
    path = tmp_path / "broken.toml"
    path.write_text(text, "utf-8")
    code = "from noonhearth.studies.cli import main; main()"
    command = [sys.executable, "-c", code, "run", str(path)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    told = " ".join((done.stdout + done.stderr).split())
    assert 'cook[1].pot.column = "T2 Tof": pasture_morning.csv has no column of this name' in told
    assert "did you mean T2 Topf?" in told
    assert 'cook[2].plate.column = "plat_F"' in told
    assert not (tmp_path / "results").exists()
