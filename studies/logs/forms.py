"""What is wrong with the table of a logger before its files are looked at."""

from collections.abc import Iterator
from typing import Any

from ..asking.cook_tables import LoggerSection
from ..asking.units import DIMENSIONS
from .sheets import SERIES


def form_faults(form: LoggerSection) -> Iterator[str]:
    """What is wrong with a logger's table by itself."""
    if not form.files and form.typed is None:
        yield "files: is missing; name the log, or type its readings in as typed"
    if form.files and form.typed is not None:
        yield "typed: files are named too; leave one of the two out"
    if form.time is None:
        yield 'time: is missing; write time = { column = "name of the column" }'
    else:
        yield from _time_faults(form.time)
    if not any(_measured(form, name) for name in SERIES):
        yield f'no series is named; write such as food = {{ column = "...", unit = "degC" }}, of {", ".join(SERIES)}'
    sun = form.irradiance
    if sun is not None and sun.source == "instrument":
        yield from (
            f"irradiance.{key}: is missing" for key in ("column", "unit") if getattr(sun, key) is None
        )
    if sun is not None and sun.source == "clear sky" and sun.column is not None:
        yield 'irradiance.column: of no effect with source = "clear sky"; leave one of the two out'
    for name in ("irradiance", "diffuse"):
        yield from _sensitivity_faults(name, getattr(form, name))


def _time_faults(time: Any) -> Iterator[str]:
    if (time.since is None) != (time.unit is None):
        yield f"time.{'unit' if time.unit is None else 'since'}: is missing; a log that counts needs both"
    if time.since is not None and time.format is not None:
        yield "time.format: of no effect in a log that counts from `since`; leave one of the two out"
    if time.since is not None and time.clock_column is not None:
        yield "time.clock_column: of no effect in a log that counts from `since`; leave one of the two out"


def _sensitivity_faults(name: str, light: Any) -> Iterator[str]:
    if light is None or light.unit is None:
        return
    volts = DIMENSIONS["voltage"].find(light.unit) is not None
    if volts and light.sensitivity is None:
        yield f'{name}.sensitivity: is missing; volts need it, for example "12.5 uV per W/m2"'
    if not volts and light.sensitivity is not None:
        yield f'{name}.sensitivity: of no effect with unit = "{light.unit}"; leave it out'


def _measured(form: LoggerSection, name: str) -> bool:
    series = getattr(form, name)
    return series is not None and (series.column is not None or getattr(series, "source", "") == "clear sky")
