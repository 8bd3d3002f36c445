"""What a whole record shows that no single reading does: its silences, and what the sun says of its clock."""

import datetime
from collections.abc import Iterator

import numpy as np

from ...model import CookRecord, Place
from .in_the_sun import elevations, hour_finding, hour_off, silences, sun_findings
from .touched import Finding

_MOST_TOLD = 4  # silences told one by one


def noticed(record: CookRecord, place: Place) -> Iterator[Finding]:
    """Remarks on a record, each with the next move."""
    time, shaded = record.instants, record.is_shaded(record.instants)
    irradiance = record.weather("irradiance")
    start = record.start.timestamp()
    yield from sun_findings(elevations(start, time, place), irradiance, shaded=shaded, name=record.name)
    yield from _silent(record)
    yield from _unheard_spans(record)
    if irradiance is not None and record.plane == "level":
        hours = hour_off(start, time, np.where(shaded, np.nan, irradiance), place)
        if hours:
            yield hour_finding(hours, record.name)


def _silent(record: CookRecord) -> Iterator[Finding]:
    spans = silences(record.instants)
    for begin, end in spans[:_MOST_TOLD]:
        times = [f"{record.start + datetime.timedelta(seconds=seconds):%H:%M}" for seconds in (begin, end)]
        yield Finding(
            "gap",
            f"{record.name}: nothing was read from {times[0]} to {times[1]} ({(end - begin) / 60.0:.0f} min); if the "
            "clock jumped there instead, write jumps in its time.",
        )
    if len(spans) > _MOST_TOLD:
        yield Finding("gap", f"{record.name}: {len(spans) - _MOST_TOLD} more gaps like these.")


def _unheard_spans(record: CookRecord) -> Iterator[Finding]:
    time = record.instants
    for begin, end in record.shaded:
        if not ((time >= begin) & (time < end)).any():
            minutes = begin / 60.0
            text = (
                f"{record.name}: no reading lies in the shaded span from {minutes:.0f} min after the start."
            )
            yield Finding("shade", text)
