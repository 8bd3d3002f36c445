"""Ovens of a table made ready for the heat balance of one cook: fabric, what is in the pot, and light."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..catalogue import Catalogue
from ..design import Design, Table
from ..food import boiling_temperature
from ..heat import Build
from ..meal import Load, load_of, overflows
from ..pack import build_of, materials_of
from ..status import Status
from .daylight import Daylight, Tracer
from .record import CookRecord
from .start import first_contents

Ints = NDArray[np.int64]

UNSEEN = ("light_ratio", "loss_ratio", "coupling_ratio", "wind_share")
"""Factors on which neither light nor fabric nor meal depend, but for the pot's film."""


class Made(NamedTuple):
    """Ovens, a row each."""

    build: Build
    load: Load
    light: Daylight
    status: Ints  # see `Status`


class Maker:
    """Makes ovens for one cook; those that differ only in what is `UNSEEN` are copies of the design's own."""

    def __init__(self, design: Design, record: CookRecord, tracer: Tracer, catalogue: Catalogue) -> None:
        self._record, self._tracer, self._catalogue = record, tracer, catalogue
        self._coupling = design.as_built.coupling_ratio
        self._boiling = float(boiling_temperature(tracer.pressure))
        self.design = self._anew(Table(design, {}, 1))

    def made(self, table: Table) -> Made:
        """The ovens of a table on the same design."""
        return self._copies(table) if set(table.columns) <= set(UNSEEN) else self._anew(table)

    def _copies(self, table: Table) -> Made:
        one = np.zeros(table.rows, np.int64)
        build = Build(*(np.take(column, one) for column in self.design.build))
        film = build.film_conductance * (table["coupling_ratio"] / self._coupling)
        return Made(
            build._replace(film_conductance=film),
            Load(*(np.take(column, one) for column in self.design.load)),
            self.design.light.take(one),
            np.take(self.design.status, one),
        )

    def _anew(self, table: Table) -> Made:
        materials = materials_of(table, self._catalogue)
        light, load = self._tracer.daylight(table), self._load(table)
        build = build_of(
            table, materials=materials, exchange=light.exchange, load=load, boiling_temperature=self._boiling
        )
        too_much = (light.status == Status.OK) & overflows(table, load)
        return Made(build, load, light, np.where(too_much, int(Status.MEAL_OVERFLOWS), light.status))

    def _load(self, table: Table) -> Load:
        """What was in the pot, as warm as it was first read."""
        load = load_of(table, self._catalogue.foods)
        if is_empty(self._record):
            nothing = np.zeros(table.rows)
            load = load._replace(solid_capacity=nothing, water_mass=nothing, volume=nothing)
        if "start_temperature" in table.columns:
            return load
        return load._replace(start=np.array([first_contents(self._record, usual) for usual in load.start]))


def is_empty(record: CookRecord) -> bool:
    """Whether nothing was in the pot: no meal is told, and no thermometer was in one."""
    return record.meal is None and "food" not in record.temperatures
