"""The clocks of logs: formats, zones and their changes against zoneinfo, logs that count, clocks that were wrong."""

import datetime
import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from noonhearth.model import Place
from noonhearth.studies import read_cook
from noonhearth.studies.logs import LoggedCook
from noonhearth.studies.logs.order import ordered

ZURICH = ZoneInfo("Europe/Zurich")
PLACE = Place(latitude=math.radians(46), longitude=math.radians(7), timezone="Europe/Zurich")
MINUTE = datetime.timedelta(minutes=1)


def cook(times: Sequence[str], *, place: Place = PLACE, **time: object) -> LoggedCook:
    """Readings that rise by a kelvin each, at these times."""
    rows = [f"{text};{20 + 0.5 * row}" for row, text in enumerate(times)]
    return read_cook(
        place,
        name="first",
        typed="\n".join(["time;food", *rows]),
        time={"column": "time", **time},
        food={"column": "food", "unit": "degC"},
        irradiance="clear sky",
        meal={"food": "water", "food_mass": "1 kg"},
    )


FORMATS = {
    "%Y-%m-%d %H:%M:%S": None,
    "%Y-%m-%dT%H:%M:%S": None,
    "%Y%m%d %H%M%S": "%Y%m%d %H%M%S",
    "%d.%m.%Y %H:%M:%S": "%d.%m.%Y %H:%M:%S",
    "%m/%d/%Y %I:%M:%S %p": "%m/%d/%Y %I:%M:%S %p",
    "%d %b %y %H:%M:%S": "%d %b %y %H:%M:%S",
    "%Y-%m-%dT%H:%M:%S%z": None,
}


@pytest.mark.parametrize("written", FORMATS)
@settings(max_examples=12, deadline=None)
@given(
    start=st.datetimes(datetime.datetime(2020, 1, 1), datetime.datetime(2035, 1, 1)), step=st.integers(1, 900)
)
def test_any_format_in_any_zone_is_the_instant_that_zoneinfo_says(
    written: str, start: datetime.datetime, step: int
) -> None:
    start = start.replace(microsecond=0)
    utc = [start.replace(tzinfo=datetime.UTC) + k * datetime.timedelta(seconds=step) for k in range(5)]
    local = [moment.astimezone(ZURICH) for moment in utc]
    zoned = "%z" in written
    if (
        not zoned
        and len({moment.utcoffset() for moment in (*local, local[0].replace(fold=1 - local[0].fold))}) > 1
    ):
        return  # the hour that the clock tells twice or skips has tests of its own
    record = cook(
        [moment.strftime(written) for moment in local],
        **{"format": FORMATS[written]} if FORMATS[written] else {},
    )
    assert record.start == utc[0]
    assert record.time.tolist() == [float(k * step) for k in range(5)]


def test_a_log_may_keep_another_clock_than_the_place() -> None:
    record = cook(["2026-07-01 10:00", "2026-07-01 10:10"], zone="Asia/Kolkata")
    assert record.start == datetime.datetime(2026, 7, 1, 4, 30, tzinfo=datetime.UTC)
    assert record.start.tzinfo == ZURICH
    fixed = cook(["2026-07-01 10:00", "2026-07-01 10:10"], zone="UTC+01:00")
    assert fixed.start == datetime.datetime(2026, 7, 1, 9, 0, tzinfo=datetime.UTC)


def test_the_hour_that_is_told_twice_is_followed() -> None:
    """Clocks went from 03:00 summer time back to 02:00 on 25 October 2026: pandas infers the same."""
    naive = pd.date_range("2026-10-25 01:50", "2026-10-25 02:59", freq="10min")
    twice = [*naive, *pd.date_range("2026-10-25 02:00", "2026-10-25 03:20", freq="10min")]
    wanted = pd.DatetimeIndex(twice).tz_localize("Europe/Zurich", ambiguous="infer")
    record = cook([f"{moment:%Y-%m-%d %H:%M}" for moment in twice])
    assert record.time.tolist() == [600.0 * k for k in range(len(twice))]
    assert record.start == wanted[0]
    assert record.instants[-1] == (wanted[-1] - wanted[0]).total_seconds()
    assert any(finding.what == "daylight saving" for finding in record.cleaning.findings)


def test_a_logger_that_was_not_put_forward_is_told_so() -> None:
    times = [f"2026-03-29 {2 + (m // 60)}:{m % 60:02d}" for m in range(0, 59, 10)]
    record = cook([f"2026-03-29 01:{m:02d}" for m in range(0, 60, 10)] + times)
    (told,) = [f.sentence for f in record.cleaning.findings if f.what == "daylight saving"]
    assert "6 rows have times that the clocks of Europe/Zurich skip" in told
    assert 'zone = "UTC+01:00"' in told


@pytest.mark.parametrize("unit", ["s", "min", "h"])
def test_logs_that_count(unit: str) -> None:
    scale = {"s": 1.0, "min": 60.0, "h": 3600.0}[unit]
    counts = [0.0, 0.5, 1.25, 2.0]
    record = cook([str(count) for count in counts], since="2026-07-01 10:00", unit=unit)
    assert record.start == datetime.datetime(2026, 7, 1, 10, 0, tzinfo=ZURICH)
    assert record.time.tolist() == [count * scale for count in counts]


def test_seconds_since_1970_and_a_spreadsheets_days() -> None:
    start = datetime.datetime(2026, 7, 1, 10, 0, tzinfo=ZURICH)
    posix = cook(
        [str(start.timestamp() + k) for k in (0.0, 10.0)], since="1970-01-01 00:00", unit="s", zone="UTC"
    )
    assert posix.start == start
    # 46204.4167 of the 1900 system: a serial is days since 30 December 1899 (ECMA-376 part 1, 18.17.4)
    serial = [
        (start.replace(tzinfo=None) - datetime.datetime(1899, 12, 30)) / datetime.timedelta(days=1)
        + k / 86400
        for k in (0, 30)
    ]
    excel = cook([repr(one) for one in serial], format="excel")
    assert excel.start == start
    assert excel.time.tolist() == [0.0, 30.0]


def test_a_clock_that_was_wrong_is_put_right() -> None:
    record = cook(["2026-07-01 10:00", "2026-07-01 10:10"], offset="-3 min")
    assert record.start == datetime.datetime(2026, 7, 1, 9, 57, tzinfo=ZURICH)
    times = ["10:00", "10:10", "10:20", "10:30", "9:40", "9:50", "10:00", "10:10"]
    day = {"day": datetime.date(2026, 7, 1)}
    left = cook(times, **day)
    assert left.cleaning.counts() == {"overlap": 4}
    (told,) = [f.sentence for f in left.cleaning.findings if f.what == "clock went back"]
    assert "went back by 50 min" in told
    assert "jumps" in told
    right = cook(times, jumps=[["9:40", "1 h"]], **day)
    assert right.time.tolist() == [600.0 * k for k in range(8)]


def test_midnight_between_clock_times_begins_the_next_day() -> None:
    record = cook(["23:40", "23:50", "0:00", "0:10"], day=datetime.date(2026, 7, 1))
    assert record.time.tolist() == [0.0, 600.0, 1200.0, 1800.0]


def test_rows_and_parts_out_of_order_are_put_in_place() -> None:
    times = [f"2026-07-01 10:{m:02d}" for m in range(20)]
    swapped = [*times[:8], times[9], times[8], *times[10:]]
    record = cook(swapped)
    assert record.time.tolist() == [60.0 * k for k in range(20)]
    assert record.cleaning.counts() == {"moved": 1}
    food = record.temperature("food") - 293.15
    assert food[8] == pytest.approx(4.5)
    assert food[9] == pytest.approx(4.0)
    late_first = cook([*times[10:], *times[:10]])
    assert late_first.time.tolist() == [60.0 * k for k in range(20)]
    assert late_first.cleaning.counts() == {"moved": 10}


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 40), min_size=1, max_size=40))
def test_order_keeps_every_row_once_and_never_falls(steps: list[int]) -> None:
    time = np.array(steps, np.float64)
    time[::7] = np.nan
    order = ordered(time, "log")
    kept = time[order.rows]
    assert (np.diff(kept) >= 0.0).all()
    gone = {*order.overlap.tolist(), *order.far.tolist()}
    assert sorted([*order.rows.tolist(), *gone]) == np.flatnonzero(np.isfinite(time)).tolist()


def test_a_clock_that_lost_its_date_does_not_stretch_the_cook() -> None:
    times = ["2000-01-01 00:00", *(f"2026-07-01 10:{m:02d}" for m in range(20))]
    record = cook(times)
    assert record.span == 19 * 60.0
    assert record.cleaning.counts() == {"far": 1}
