"""A typical year by the hour, read from a TMY3, TMY2 or EPW file and checked.

The sunlight of these files is the mean of an hour. TMY3 labels it with the hour's end; EPW and TMY2 reach us
from pvlib labelled with its start. Here hour i of the year always runs from i to i + 1 on local standard
time. Air, wind and pressure are readings at the end of their hour in all three.
"""

import datetime
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from .constants import ZERO_CELSIUS
from .sun import YEAR, Place, SkyError

Floats = NDArray[np.float64]

HOURS = 8760
_TWILIGHT = 0.05  # sine of the elevation below which diffuse light may pass what falls from outside the air
_FAR = math.radians(
    1.0
)  # a place further than this from its file's station has other weather and another sun


class _Column(NamedTuple):
    """How a quantity is read: column, factor and offset into SI, and what is possible in SI."""

    name: str
    factor: float
    offset: float
    low: float
    high: float
    unit: str


def _columns(names: Sequence[str], *, factors: Sequence[float], celsius: bool = True) -> dict[str, _Column]:
    ours = ("ghi", "dni", "dhi", "air_temperature", "dew_point", "wind_speed", "pressure")
    low = (0.0, 0.0, 0.0, 180.0, 150.0, 0.0, 4e4)
    high = (1500.0, 1400.0, 1200.0, 335.0, 320.0, 80.0, 1.1e5)
    units = ("W/m2", "W/m2", "W/m2", "K", "K", "m/s", "Pa")
    offsets = (0.0, 0.0, 0.0, ZERO_CELSIUS, ZERO_CELSIUS, 0.0, 0.0)
    rows = zip(names, factors, offsets, low, high, units, strict=True)
    return dict(zip(ours, (_Column(*row) for row in rows), strict=True))


class _Format(NamedTuple):
    """One kind of file: its reader in pvlib, where the reader puts the label, its columns."""

    title: str
    reader: str
    label_is: int  # hours from the start of an hour to its label
    columns: dict[str, _Column]
    cloud: str  # total sky cover in tenths
    infrared: str  # downward long-wave radiation, if the format has it
    name: str


_FORMATS = {
    ".csv": _Format(
        "TMY3",
        "read_tmy3",
        1,
        _columns(
            ("ghi", "dni", "dhi", "temp_air", "temp_dew", "wind_speed", "pressure"),
            factors=(1, 1, 1, 1, 1, 1, 100),
        ),
        "TotCld (tenths)",
        "",
        "Name",
    ),
    ".epw": _Format(
        "EPW",
        "read_epw",
        0,
        _columns(
            ("ghi", "dni", "dhi", "temp_air", "temp_dew", "wind_speed", "atmospheric_pressure"),
            factors=(1, 1, 1, 1, 1, 1, 1),
        ),
        "total_sky_cover",
        "ghi_infrared",
        "city",
    ),
    ".tm2": _Format(
        "TMY2",
        "read_tmy2",
        0,
        _columns(
            ("GHI", "DNI", "DHI", "DryBulb", "DewPoint", "Wspd", "Pressure"),
            factors=(1, 1, 1, 0.1, 0.1, 0.1, 100),
        ),
        "TotCld",
        "",
        "City",
    ),
}


class WeatherYear(NamedTuple):
    """8760 hours of SI numbers; hour i runs from i to i + 1 after the new year on local standard time.

    ghi, dni, dhi [W/m2] are means of the hour; air_temperature, dew_point [K], wind_speed [m/s], pressure
    [Pa] and cloud [share of the sky] are readings at its end; infrared [W/m2] is the sky's long-wave mean of
    the hour, nan where the file has none.
    """

    place: Place
    title: str
    standard_offset: float  # hours of local standard time ahead of UTC
    ghi: Floats
    dni: Floats
    dhi: Floats
    air_temperature: Floats
    dew_point: Floats
    wind_speed: Floats
    pressure: Floats
    cloud: Floats
    infrared: Floats


def weather_year(path: str | Path) -> WeatherYear:
    """The year in a TMY3 (.csv), EPW (.epw) or TMY2 (.tm2) file.

    Raises
    ------
    SkyError
        No such file, another kind of file, a damaged header, hours missing or out of order, values missing
        or impossible.
    """
    path = Path(path)
    kind = _FORMATS.get(path.suffix.lower())
    if kind is None:
        raise SkyError(f"{path.name}: a weather file ends in .csv (TMY3), .epw (EPW) or .tm2 (TMY2)")
    table, header = _read(path, kind)
    table = _whole_year(path, kind, table)
    place = _place(path, kind, header)
    values = {name: _values(path, table, name, column) for name, column in kind.columns.items()}
    return WeatherYear(
        place=place,
        title=f"{kind.title} file {path.name}",
        standard_offset=float(header["TZ"]),
        cloud=_cloud(table, kind),
        infrared=_infrared(table, kind),
        **values,
    )


def _read(path: Path, kind: _Format) -> tuple[pd.DataFrame, dict[str, Any]]:
    if not path.is_file():
        raise SkyError(f"{path}: no such file; give the path of a weather file on this machine")
    if path.stat().st_size == 0:
        raise SkyError(f"{path.name} is empty: copy or download it again")
    try:
        table, header = getattr(pvlib.iotools, kind.reader)(str(path.resolve()))
    except (KeyError, ValueError, IndexError, TypeError, AttributeError) as error:
        raise SkyError(
            f"{path.name} is no readable {kind.title} file ({error}): its header or a row is damaged, "
            "or its ending does not fit its kind"
        ) from error
    lost = [c.name for c in kind.columns.values() if c.name not in table.columns]
    if lost:
        raise SkyError(f"{path.name} lacks the columns {', '.join(lost)} of a {kind.title} file")
    return table, header


def _whole_year(path: Path, kind: _Format, table: pd.DataFrame) -> pd.DataFrame:
    if len(table) == HOURS + 24:  # a leap year: its 29 February is left out
        table = table.drop(table.index[59 * 24 : 60 * 24])
    if len(table) != HOURS:
        raise SkyError(f"{path.name} has {len(table)} of {HOURS} hours: it is cut short or not a whole year")
    label = table.index
    due = pd.date_range(f"{YEAR}-01-01", periods=HOURS, freq="h") + pd.Timedelta(hours=kind.label_is)
    wrong = (label.month != due.month) | (label.day != due.day) | (label.hour != due.hour)
    if wrong.any():
        row = int(np.argmax(wrong))
        raise SkyError(
            f"{path.name}: hour {row + 1} of the year is labelled {label[row]:%d %b %H:%M}, "
            f"due is {due[row]:%d %b %H:%M}: rows are missing or out of order"
        )
    return table


def _place(path: Path, kind: _Format, header: dict[str, Any]) -> Place:
    latitude, longitude, altitude, offset = (
        float(str(header[key])) for key in ("latitude", "longitude", "altitude", "TZ")
    )
    if not (abs(latitude) <= 90 and abs(longitude) <= 180 and abs(offset) <= 14):
        raise SkyError(
            f"{path.name}: its header gives latitude {latitude:g}, longitude {longitude:g}, "
            f"time zone {offset:g} h, which is nowhere on earth"
        )
    sign = "-" if offset < 0 else "+"
    minutes = round(abs(offset) * 60)
    return Place(
        latitude=math.radians(latitude),
        longitude=math.radians(longitude),
        altitude=altitude,
        timezone=f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}",
        name=str(header.get(kind.name, path.stem)).strip('" ') or path.stem,
    )


def _values(path: Path, table: pd.DataFrame, name: str, column: _Column) -> Floats:
    raw = pd.to_numeric(table[column.name], errors="coerce").to_numpy(np.float64)
    values = raw * column.factor + column.offset
    bad = ~((values >= column.low) & (values <= column.high))  # nan is bad too
    if bad.any():
        hour = int(np.argmax(bad))
        when = datetime.datetime(YEAR, 1, 1) + datetime.timedelta(hours=hour)
        raise SkyError(
            f"{path.name}: {name} is missing or impossible in {bad.sum()} hours, first in the one from "
            f"{when:%d %b %H:%M} ({column.name} = {table[column.name].iloc[hour]}, allowed "
            f"{column.low:g} to {column.high:g} {column.unit}): fill the gap or take another file"
        )
    return np.asarray(values)


def _cloud(table: pd.DataFrame, kind: _Format) -> Floats:
    """Share of the sky covered; a missing reading counts as clear, which makes the sky cold."""
    tenths = pd.to_numeric(table[kind.cloud], errors="coerce").to_numpy(np.float64)
    return np.asarray(np.where((tenths >= 0) & (tenths <= 10), tenths, 0.0) / 10)


def _infrared(table: pd.DataFrame, kind: _Format) -> Floats:
    if not kind.infrared:
        return np.full(HOURS, np.nan)
    watts = pd.to_numeric(table[kind.infrared], errors="coerce").to_numpy(np.float64)
    return np.asarray(np.where((watts > 30) & (watts < 700), watts, np.nan))
