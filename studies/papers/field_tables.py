"""Tables for the field, by the clock of the place: where the sun stands, how to set the oven, when to put food in."""

import datetime
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...model import Drive, Place, sun_angles, timetable
from ...model import aim as settings_of
from ..setting import Setting

EVERY = 30  # minutes between rows of the sun table
DAYS_OF_MONTH = (1, 11, 21)
FULL_SUN = 1000.0  # W/m2; the hand that sets the elevation does not wait for clouds
YEAR = 2026  # the sun is a quarter of a degree off at most in other years


def sun_table(setting: Setting, months: Sequence[int] | None = None) -> pd.DataFrame:
    """Azimuth and elevation of the sun on three days a month, through the clock window of the setting's days.

    The clock is that of the place, with its daylight saving on each date; azimuth is from true north, clockwise.
    """
    sky = setting.sky
    months = months or sorted({int(month) for month in sky.day_month})
    first, last = _window(setting)
    rows = []
    for month in months:
        for day in DAYS_OF_MONTH:
            rows += _sun_rows(sky.place, datetime.date(YEAR, month, day), first, last)
    return pd.DataFrame(rows)


def _window(setting: Setting) -> tuple[int, int]:
    """First and last minute of the day, on the clock of the place, that the days of the setting cover."""
    sky = setting.sky
    begins = pd.DatetimeIndex(sky.times[:, 0]).tz_localize("UTC").tz_convert(sky.place.zone)
    first = min(60 * one.hour + one.minute for one in begins)
    return first, first + round(sky.step * sky.steps / 60)


def _sun_rows(place: Place, date: datetime.date, first: int, last: int) -> list[dict[str, object]]:
    midnight = pd.Timestamp(date)
    wall = [midnight + pd.Timedelta(minutes=minute) for minute in range(first, last + 1, EVERY)]
    times = pd.DatetimeIndex(wall).tz_localize(place.zone, ambiguous=False, nonexistent="shift_forward")
    sun = sun_angles(times, place)
    offset = times[0].utcoffset()
    return [
        {
            "date": f"{date:%d %b}",
            "clock": f"{time:%H:%M}",
            "azimuth [deg]": round(math.degrees(azimuth), 1),
            "elevation [deg]": round(math.degrees(elevation), 1),
            "clock is UTC": f"{offset.total_seconds() / 3600:+g} h" if offset is not None else "",
        }
        for time, azimuth, elevation in zip(times, sun.azimuth, sun.elevation, strict=True)
        if elevation > 0
    ]


def sun_pages(table: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    """The sun table for print: a page a month, a row a clock time, azimuth and elevation of each date side by side."""
    pages = []
    for month, rows in table.groupby(table["date"].str[3:], sort=False):
        cells = (
            rows["azimuth [deg]"].map("{:.0f}".format) + " / " + rows["elevation [deg]"].map("{:.0f}".format)
        )
        names = rows["date"] + ", UTC" + rows["clock is UTC"]
        wide = pd.DataFrame({"clock": rows["clock"], "date": names, "cell": cells})
        page = wide.pivot_table(index="clock", columns="date", values="cell", aggfunc="first").fillna("")
        pages.append((f"{month}: azimuth / elevation [deg]", page.reset_index()))
    return pages


def settings_table(setting: Setting) -> pd.DataFrame:
    """When to set the oven and to what, on each course of the sun; of a drive, its elevation alone."""
    sky, aiming = setting.sky, setting.design.aiming
    full_sun = np.full(sky.to_sun.shape[:2], FULL_SUN) if isinstance(aiming, Drive) else None
    settings = settings_of(aiming, sky.to_sun, dni=full_sun, step=sky.step)
    rows = []
    for path, times in enumerate(sky.times):
        local = pd.DatetimeIndex(times).tz_localize("UTC").tz_convert(sky.place.zone)
        azimuth, elevation = settings.azimuth[path], settings.elevation[path]
        moved = np.abs(np.diff(elevation)) > 1e-9
        if not isinstance(aiming, Drive):
            moved |= np.abs(np.diff(azimuth)) > 1e-9
        for k in np.flatnonzero(np.concatenate([[True], moved])):
            row: dict[str, object] = {"course of": f"{local[k]:%d %b}", "clock": f"{local[k]:%H:%M}"}
            if not isinstance(aiming, Drive):
                row["azimuth [deg]"] = round(math.degrees(float(azimuth[k])) % 360, 1)
            row["elevation [deg]"] = round(math.degrees(float(elevation[k])), 1)
            rows.append(row)
    return pd.DataFrame(rows)


def meal_table(setting: Setting) -> pd.DataFrame:
    """When food put in at the first minute is safe and done, and the latest start that gets done, by kind of day."""
    sky = setting.sky
    how: dict[str, Any] = {"rays": setting.rays, "seed": setting.seed, "catalogue": setting.catalogue}
    day = setting.simulated(evening=False).isel(design=0)
    starts = timetable(setting.design, sky, **how)
    rows = []
    for k in range(sky.days):
        begin = pd.Timestamp(sky.times[sky.day_path[k], 0]).tz_localize("UTC").tz_convert(sky.place.zone)

        def clock(seconds: float, begin: pd.Timestamp = begin) -> str:
            return (
                f"{begin + pd.Timedelta(seconds=seconds):%H:%M}" if math.isfinite(seconds) else "not that day"
            )

        rows.append(
            {
                "day": sky.day_label[k],
                "stands for [days]": round(float(sky.day_weight[k]), 1),
                "put in": clock(0.0),
                "safe": clock(float(day["safe_after"][k])),
                "done": clock(float(day["done_after"][k])),
                "latest start": clock(float(starts["latest_start"][k])),
                "pots a day": int(starts["meals"][k]),
            }
        )
    return pd.DataFrame(rows)
