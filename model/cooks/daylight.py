"""Watts into the oven of a cook, minute by minute: light is traced once for all that differ in nothing it can see."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..catalogue import Catalogue
from ..described import specs
from ..design import Table
from ..pack import Materials, emittances_of, fits, glint_of, materials_of
from ..status import Status
from ..sun import STEP
from ..sunlight import diffuse_watts, traced
from .record import CookRecord
from .settings import aimed_as_noted
from .weather import Outdoors

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST = 4096  # ovens whose light is remembered; of four hours they take 30 megabytes
SHADED_DIFFUSE = 0.05  # of sky and ground that come in round a board on the mouth: common practice, no source


class Daylight(NamedTuple):
    """What the sun and the stand bring to ovens during a cook; a row each."""

    status: Ints  # [row]
    watts: Floats  # [row, step, 3] into pot, sheet and cover, mean of each minute
    exchange: Floats  # [row, 3] m2, long wave: pot-cover, pot-sheet, sheet-cover
    tilt: Floats  # [row, step] rad from the zenith

    def take(self, rows: Ints) -> "Daylight":
        """Some of them."""
        watts, exchange, tilt = (np.take(column, rows, axis=0) for column in self[1:])
        return Daylight(np.take(self.status, rows), watts, exchange, tilt)


class Tracer:
    """Traces what it has not traced before.

    While the mouth is shaded no beam comes in, and a twentieth of what sky and ground would bring. What the board
    itself sends back into the oven is left out; that the cover sees it instead of the sky is not (`weather`).
    """

    def __init__(
        self, record: CookRecord, outdoors: Outdoors, catalogue: Catalogue, *, rays: int, seed: int
    ) -> None:
        self._record, self._outdoors, self._catalogue = record, outdoors, catalogue
        self.pressure = outdoors.sky.place.pressure
        self._how = {"rays": rays, "seed": seed}
        self._open = open_shares(record, outdoors.minutes)
        self._seen: dict[bytes, tuple[int, Floats, Floats, Floats]] = {}

    def daylight(self, table: Table) -> Daylight:
        """What falls into each oven of a table."""
        if len(self._seen) > _MOST:
            self._seen.clear()
        materials = materials_of(table, self._catalogue)
        keys = [row.tobytes() for row in _seen_by_light(table, materials)]
        new = {key: row for row, key in enumerate(keys) if key not in self._seen}
        if new:
            self._trace(list(new), table.take(np.array(list(new.values()))))
        rows = [self._seen[key] for key in keys]
        status, watts, exchange, tilt = zip(*rows, strict=True)
        return Daylight(np.array(status, np.int64), np.array(watts), np.array(exchange), np.array(tilt))

    def _trace(self, keys: list[bytes], table: Table) -> None:
        sky, record, minutes = self._outdoors.sky, self._record, self._outdoors.minutes
        light = traced(
            table,
            materials_of(table, self._catalogue),
            sky,
            fits(table),
            ways_of=lambda aimings, under: aimed_as_noted(aimings, under, record, minutes),
            **self._how,
        )
        diffuse = diffuse_watts(light, sky)
        shaded = 1.0 - self._open[:, None]
        for row, key in enumerate(keys):
            if light.status[row] == Status.OK:
                one = light.light[row]
                bare, sky_only = _mean(light.absorbed[one, 0]), _mean(diffuse[one, 0])
                watts = self._open[:, None] * bare + SHADED_DIFFUSE * shaded * sky_only
            else:
                watts = np.full((len(minutes) - 1, 3), np.nan)
            tilt = np.pi / 2 - _mean(light.ways.aim.elevation[light.way[row], 0])
            self._seen[key] = (int(light.status[row]), watts, light.exchange[row], tilt)


def open_shares(record: CookRecord, minutes: Floats) -> Floats:
    """Share of each minute during which the mouth was open to the sun. float64[step]"""
    begin, end = minutes[:-1], minutes[1:]
    shaded = np.zeros(len(begin))
    for low, high in record.shaded:
        shaded += np.maximum(np.minimum(end, high) - np.maximum(begin, low), 0.0) / STEP
    return np.asarray(np.clip(1.0 - shaded, 0.0, 1.0))


def _mean(instants: Floats) -> Floats:
    return np.asarray(0.5 * (instants[:-1] + instants[1:]))


def _seen_by_light(table: Table, materials: Materials) -> Floats:
    """Every number that light, long wave and aiming depend on. float64[row, number]"""
    aiming = [table[name].astype(np.float64) for name in specs(table.base.aiming)]
    seen = [*glint_of(table, materials), table["beam_share"], table["fog"], *aiming]
    return np.column_stack([*seen, emittances_of(table, materials)])
