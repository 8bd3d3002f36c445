"""Ten thousand damaged logs: never a traceback, never a number that the file does not hold, never a cell lost.

What a cell may have meant is worked out here by regular expressions over the whole text, apart from the reader.
"""

import io
import math
import random
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import noonhearth.studies as studies
from noonhearth.model import Place, load_catalogue
from noonhearth.studies.asking.cook_tables import CookSection
from noonhearth.studies.logs import LogError, LoggedCook
from noonhearth.studies.logs.logged import logged_cook

YARD = Place(latitude=math.radians(46), longitude=math.radians(7), altitude=900.0, timezone="Europe/Zurich")
CATALOGUE = load_catalogue()
OVEN = Path(__file__).parents[1] / "oven.toml"
ROWS = 14

NUMBERS = (
    re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"),
    re.compile(r"[+-]?(?:\d+[,]?\d*|,\d+)(?:[eE][+-]?\d+)?"),
)
SI = {"food": (1.0, 273.15), "pot": (5 / 9, 459.67), "air": (1.0, 273.15), "irradiance": (1.0, 0.0)}


def form(**keys: object) -> CookSection:
    given = {
        "name": "damaged",
        "files": ["log"],
        "time": {"column": "time"},
        "food": {"column": "food", "unit": "degC"},
        "pot": {"column": "pot", "unit": "degF"},
        "irradiance": {"column": "sun", "unit": "W/m2"},
        "air": {"column": "air", "unit": "degC"},
        "meal": {"food": "water", "food_mass": "1 kg"},
    }
    return CookSection.model_validate(given | keys, context={"catalogue": CATALOGUE.names()})


def sound_log(separator: str, decimal: str, time: str) -> bytes:
    """A small sound log; made up."""
    stamps = pd.date_range("2026-07-01 10:00", periods=ROWS, freq="2min")
    k = np.arange(ROWS)
    counted = [str(120 * n) for n in k]
    table = pd.DataFrame(
        {
            "time": counted if time == "counted" else stamps.strftime(time),
            "food": 20.25 + 3.1 * k,
            "pot": 1.8 * (25.5 + 3.2 * k) + 32,
            "air": 24.5 + 0.1 * k,
            "sun": 800 + 3.0 * k,
        }
    )
    return table.to_csv(sep=separator, decimal=decimal, index=False).encode()


LOGS = {
    "commas": (form(), sound_log(",", ".", "%Y-%m-%d %H:%M")),
    "semicolons": (
        form(time={"column": "time", "format": "%d.%m.%Y %H:%M"}),
        sound_log(";", ",", "%d.%m.%Y %H:%M"),
    ),
    "counted": (
        form(time={"column": "time", "since": "2026-07-01 10:00", "unit": "s"}),
        sound_log("\t", ".", "counted"),
    ),
    "half the day": (
        form(time={"column": "time", "format": "%m/%d/%Y %I:%M:%S %p"}, leave_out=["spikes", "stuck"]),
        sound_log(",", ".", "%m/%d/%Y %I:%M:%S %p"),
    ),
}
WORDS = (
    "",
    "OL",
    "-999",
    "nan",
    "1e400",
    "-1e-3",
    "99999",
    "abc",
    '"',
    '"20',
    "2O.5",
    "20,5",
    "1_0",
    "٣",
    "--",
    "inf",
    "0x1F",
)


def damaged(sound: bytes, dice: random.Random) -> bytes:
    """A log after one to four mishaps."""
    found = bytearray(sound)
    for _ in range(dice.randint(1, 4)):
        found = bytearray(dice.choice(MISHAPS)(bytes(found), dice))
    return bytes(found)


def _bytes_flipped(log: bytes, dice: random.Random) -> bytes:
    found = bytearray(log)
    for _ in range(dice.randint(1, 6)):
        if found:
            found[dice.randrange(len(found))] = dice.randrange(256)
    return bytes(found)


def _cut(log: bytes, dice: random.Random) -> bytes:
    begin = dice.randrange(len(log) + 1)
    return log[:begin] + log[begin + dice.randrange(60) :]


def _torn_off(log: bytes, dice: random.Random) -> bytes:
    return log[: dice.randrange(len(log) + 1)]


def _junk(log: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(log) + 1)
    return log[:at] + dice.randbytes(dice.randint(1, 12)) + log[at:]


def _power_cut(log: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(log) + 1)
    return log[:at] + bytes(dice.randint(1, 40)) + log[at:]


def _lines(change: str) -> object:
    def mishap(log: bytes, dice: random.Random) -> bytes:
        head, *lines = log.split(b"\n")
        if not lines:
            return log
        if change == "shuffled":
            dice.shuffle(lines)
        elif change == "twice":
            at = dice.randrange(len(lines))
            lines[at:at] = lines[dice.randrange(len(lines)) :][: dice.randint(1, 4)]
        elif change == "lost":
            del lines[dice.randrange(len(lines))]
        else:
            at = dice.randrange(len(lines))
            cells = re.split(rb"([,;\t])", lines[at])
            cells[dice.randrange(len(cells))] = dice.choice(WORDS).encode()
            lines[at] = b"".join(cells)
        return b"\n".join([head, *lines])

    return mishap


MISHAPS = [
    *(_bytes_flipped, _cut, _torn_off, _junk, _power_cut),
    *(_lines(change) for change in ("shuffled", "twice", "lost", "cell", "cell", "cell", "cell")),
]


def numbers_in(contents: bytes) -> set[float]:
    """Every number that any cell of a text can be taken for, whatever its separators."""
    texts = {contents.decode(code, errors="replace").replace("\0", "") for code in ("utf-8", "latin-1")}
    texts |= {text.replace(mark, "-") for text in texts for mark in ("−", "–")}
    return {
        float(token.replace(",", "."))
        for text in texts
        for pattern in NUMBERS
        for token in pattern.findall(text)
        if any(sign.isdigit() for sign in token)
    }


def read(section: CookSection, contents: bytes) -> LoggedCook | None:
    """The record of a log; None where it is refused, which takes at least one sentence that says why."""
    try:
        return logged_cook(section, files={"log": contents}, place=YARD, catalogue=CATALOGUE)
    except LogError as error:
        refused = error.faults
    assert refused
    assert all(len(fault.split()) > 3 for fault in refused)
    return None


def checked(section: CookSection, contents: bytes) -> bool:
    """Whether a log could be read; nothing in it is invented or lost."""
    record = read(section, contents)
    if record is None:
        return False
    _nothing_invented(record, contents)
    _nothing_lost(record)
    return True


def _nothing_invented(record: LoggedCook, contents: bytes) -> None:
    there = numbers_in(contents)
    zeroed = {entry.series for entry in record.cleaning.touched if entry.reason == "zeroed"}
    series = {**record.temperatures, "air": record.air, "irradiance": record.irradiance}
    for name, values in series.items():
        if values is None:
            continue
        scale, offset = SI[name]
        allowed = np.array(sorted((number + offset) * scale for number in there))
        held = np.asarray(values)[np.isfinite(values)]
        place = np.searchsorted(allowed, held)
        around = [allowed[np.clip(place - side, 0, len(allowed) - 1)] for side in (0, 1)]
        away = np.abs(np.array(around) - held).min(axis=0)
        assert (away <= 1e-9)[~((held == 0.0) & (name in zeroed))].all(), (name, held[away > 1e-9])
    assert (np.diff(record.instants) > 0).all()


def _nothing_lost(record: LoggedCook) -> None:
    """Each cell of a series is a reading that is used, or one that is told of: the counts close."""
    cleaning = record.cleaning
    rows = cleaning.rows - sum(entry.reason in ("untimed", "overlap", "far") for entry in cleaning.touched)
    left_out = sum(
        entry.series != "row" and entry.reason != "zeroed" and math.isnan(entry.became)
        for entry in cleaning.touched
    )
    assert cleaning.readings + left_out == 4 * rows
    held = sum(np.isfinite(values).sum() for values in record.temperatures.values())
    held += sum(np.isfinite(values).sum() for values in (record.air, record.irradiance) if values is not None)
    assert held == cleaning.readings


@pytest.mark.slow
@pytest.mark.parametrize("name", LOGS)
def test_ten_thousand_damaged_logs(name: str) -> None:
    """A quarter of them each; those that can still be read are more than half, so that the checks see work."""
    section, sound = LOGS[name]
    assert checked(section, sound)
    dice = random.Random(f"damaged {name}")
    taken = sum(checked(section, damaged(sound, dice)) for _ in range(2500))
    assert 1250 < taken < 2500


@pytest.mark.parametrize("name", LOGS)
@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_any_text_under_the_right_names(name: str, data: st.DataObject) -> None:
    section, sound = LOGS[name]
    head = sound.split(b"\n")[0]
    cell = st.one_of(st.text(max_size=8), st.floats(width=32).map(str), st.integers(-(10**6), 10**6).map(str))
    row = st.lists(cell, max_size=6).map(lambda cells: head.decode()[4].join(cells))
    rows = data.draw(st.lists(row, max_size=12))
    lines = sound.decode().splitlines()[1:6]
    checked(section, "\n".join([head.decode(), *lines, *rows]).encode(errors="replace"))


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes(contents: bytes) -> None:
    checked(LOGS["commas"][0], contents)


def test_damaged_workbooks() -> None:
    """A workbook is a zip archive of XML: flipped bytes reach every layer of its reader."""
    book = io.BytesIO()
    pd.read_csv(io.BytesIO(LOGS["commas"][1])).to_excel(book, index=False)
    sound, section, dice = book.getvalue(), form(), random.Random("workbook")
    whole = read(section, sound)
    assert whole is not None
    assert whole.cleaning.touched == ()
    for _ in range(150):
        contents = dice.choice([_bytes_flipped, _cut, _torn_off, _junk])(sound, dice)
        record = read(section, contents)
        assert record is None or record.cleaning.readings > 0


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("name", LOGS)
def test_damaged_logs_go_through_the_model_and_are_told(name: str) -> None:
    """What was read of a damaged log is predicted, told and drawn, or refused in a sentence."""
    setting = replace(studies.load(OVEN).setting, rays=4)
    section, sound = LOGS[name]
    dice, told = random.Random(f"through the model {name}"), 0
    for number in range(12):
        record = read(section, damaged(sound, dice))
        if record is None:
            continue
        kind = studies.diagnosis if number % 6 == 0 else studies.cook
        try:
            result = kind(replace(setting, cooks=(record,)))
        except studies.StudyError:
            continue
        told += bool(studies.sentences(result)) and bool(list(studies.drawn(result)))
    assert told >= 5
