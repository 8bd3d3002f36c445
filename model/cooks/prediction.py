"""What the model says of the very hours of a measured cook, at the very instants at which it was read."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .. import lossy
from ..air_outside import Air
from ..catalogue import Catalogue
from ..described import Catalogued, Choice, Count, DescriptionError, suggestion
from ..design import Design, Table
from ..food import centre_temperature
from ..heat import Build, Histories, Node, Weather
from ..meal import Load
from ..status import Status
from ..sun import STEP, Place
from .daylight import Tracer, open_shares
from .made import Made, Maker
from .record import CookRecord
from .start import Conditions, oven_start
from .weather import outdoors

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NODES = {"pot": Node.POT, "plate": Node.SHEET, "air_inside": Node.AIR, "cover": Node.COVER_INNER}


class CookModel:
    """One design in the hours of one measured cook: light is traced once and kept, heat follows any factors.

    Parameters
    ----------
    design : Design
        The oven as it is described. What was in the pot is the record's meal; a record without one is of an empty pot,
        unless it has a thermometer in the food: then the design's own meal was in it.
    record : CookRecord
    place : Place
        Where it cooked.
    catalogue : Catalogue
    rays : int
        Rays of the beam each minute.
    seed : int
        Of the ray tracer.
    albedo : float
        Of the ground.
    air : Air, optional
        Stands in for air, wind and dew point that nobody read.

    Attributes
    ----------
    design : Design
        As it cooked: with the record's meal; `wind_share` is 1 where the wind was read, since that is at the oven.
    record : CookRecord
    sensors : tuple of str
        Thermometers of the record, in its order.
    kept : int64[...]
        Readings that are predicted: from the first one of the food on, where light and air were read. The others
        are nan.
    notes : tuple of str
        What stands in for what nobody read, a sentence each.

    Raises
    ------
    DescriptionError
        The oven cannot be built or holds less than the meal.
    RecordError
        Nobody read the air outside and `air` is not given.
    """

    def __init__(
        self,
        design: Design,
        record: CookRecord,
        *,
        place: Place,
        catalogue: Catalogue,
        rays: int = 32,
        seed: int = 1,
        albedo: float = 0.2,
        air: Air | None = None,
    ) -> None:
        self.record, self.design = record, _as_cooked(design, record)
        self._outdoors = outdoors(record, place, air=air, albedo=albedo)
        self.sensors = tuple(record.temperatures)
        self.notes = self._outdoors.notes
        tracer = Tracer(record, self._outdoors, catalogue, rays=rays, seed=seed)
        self._maker = Maker(self.design, record, tracer, catalogue)
        self._step, self._share = _places(record, self._outdoors.minutes)
        known = self._outdoors.known
        begun = record.instants >= record.begins
        self.kept = np.flatnonzero(begun & known[self._step] & known[self._step + 1])
        self._open = open_shares(record, self._outdoors.minutes)
        status = Status(int(self._maker.design.status[0]))
        if status != Status.OK:
            raise DescriptionError([f"{record.name}: {status.sentence}"])

    @property
    def irradiance(self) -> Mapping[str, Floats]:
        """Beam facing the sun, diffuse and global on a level plane, float64[record] each, as predicted with. [W/m2]"""
        sky = self._outdoors.sky
        return {name: self._at_readings(getattr(sky, name)[0]) for name in ("dni", "dhi", "ghi")}

    def absorbed(self, columns: Mapping[str, ArrayLike] | None = None) -> Floats:
        """Watts into pot, sheet and cover, mean of each minute from the first reading on. float64[row, step, 3]"""
        table = self._table(columns or {})
        return self._intake(table, self._maker.made(table))

    def temperatures(self, columns: Mapping[str, ArrayLike]) -> dict[str, Floats]:
        """What each thermometer would have read.

        Parameters
        ----------
        columns : dict of float64[row]
            Factors of the design, in SI, each with a value for every row; none for the design itself.

        Returns
        -------
        temperatures : dict of float64[row, record]   [K]
            By sensor, at the record's own instants; nan where it is not predicted, and in rows that cannot be built.

        Raises
        ------
        DescriptionError
            A column that is no factor of the design, or columns of unequal length.
        """
        table = self._table(columns)
        made = self._maker.made(table)
        good = np.flatnonzero(made.status == Status.OK)
        found = {sensor: np.full((table.rows, len(self.record.instants)), np.nan) for sensor in self.sensors}
        if good.size:
            histories, load = self._marched(table, made, good)
            sound = histories.status == Status.OK
            for sensor in self.sensors:
                read = self._at_readings(_reading(sensor, histories, load))
                found[sensor][np.ix_(good[sound], self.kept)] = read[np.ix_(sound, self.kept)]
        return found

    def _table(self, columns: Mapping[str, ArrayLike]) -> Table:
        factors = self.design.factors
        made: dict[str, NDArray[Any]] = {}
        for name, values in columns.items():
            if name not in factors:
                raise DescriptionError([f"{name}: no factor of this design; {suggestion(name, factors)}"])
            spec = factors[name]
            kind: Any = np.float64
            if isinstance(spec, Count):
                kind = np.int64
            elif isinstance(spec, Catalogued | Choice):
                kind = object
            made[name] = np.asarray(values, kind)
        shapes = {column.shape for column in made.values()}
        if len(shapes) > 1 or any(len(shape) != 1 for shape in shapes):
            told = ", ".join(f"{name} {column.shape}" for name, column in made.items())
            raise DescriptionError([f"columns have shapes {told}: give each one value for every row"])
        return Table(self.design, made, shapes.pop()[0] if shapes else 1)

    def _marched(self, table: Table, made: Made, good: Ints) -> tuple[Histories, Load]:
        """The heat balance through the cook, of the rows that can be built."""
        build = Build(*(column[good] for column in made.build))
        intake = self._intake(table, made)[good]
        weather, day = self._weather(table["wind_share"][good], made.light.tilt[good])
        loss = table["loss_ratio"][good]
        start = oven_start(self.record, build, self._at_first(weather, day, intake, loss))
        histories = lossy.run(
            build,
            weather,
            day,
            intake,
            loss_ratio=loss,
            lane_track=np.arange(len(good)),
            oven_start=start,
            step=STEP,
            record=set(self.sensors) != {"food"},
        )
        return histories, Load(*(column[good] for column in made.load))

    def _intake(self, table: Table, made: Made) -> Floats:
        watts = made.light.watts.copy()
        watts[..., 0] *= table["light_ratio"][:, None]
        return watts

    def _weather(self, wind_share: Floats, tilt: Floats) -> tuple[Weather, Ints]:
        """The cook's weather, a row for each share of the wind; and which row each oven has."""
        shares, row = np.unique(wind_share, return_inverse=True)
        sky, copies = self._outdoors.sky, (len(shares), 1)
        opened = np.pad(self._open, 1, mode="edge")
        opened = (opened[:-1] + opened[1:]) / 2
        seen = opened * sky.sky_temperature + (1 - opened) * sky.air_temperature  # a board hides the sky
        weather = Weather(
            air_temperature=np.tile(sky.air_temperature, copies),
            sky_temperature=np.tile(seen, copies),
            wind_speed=shares[:, None] * sky.wind_speed,
            pressure=np.tile(sky.pressure, copies),
            vapour_pressure=np.tile(sky.vapour_pressure, copies),
            tilt=tilt,
        )
        return weather, row.ravel()

    def _at_first(self, weather: Weather, day: Ints, intake: Floats, loss: Floats) -> Conditions:
        assert weather.vapour_pressure is not None
        return Conditions(
            air=float(weather.air_temperature[0, 0]),
            sky=float(weather.sky_temperature[0, 0]),
            wind=weather.wind_speed[day, 0],
            pressure=float(weather.pressure[0, 0]),
            vapour=float(weather.vapour_pressure[0, 0]),
            tilt=np.asarray(weather.tilt[:, 0]),
            intake=intake[:, 0],
            loss_ratio=loss,
        )

    def _at_readings(self, minutes: Floats) -> Floats:
        """Values at the readings from those at whole minutes, along the last axis."""
        before, after = np.take(minutes, self._step, axis=-1), np.take(minutes, self._step + 1, axis=-1)
        return np.asarray(before + self._share * (after - before))


def _as_cooked(design: Design, record: CookRecord) -> Design:
    """The design with what was in the pot, under a wind that blows as it was read."""
    meal = record.meal or design.meal
    cooked = replace(design, meal=meal)
    return cooked if record.wind is None else cooked.with_factors(wind_share=1.0)


def _places(record: CookRecord, minutes: Floats) -> tuple[Ints, Floats]:
    """Which minute each reading lies in, and how far."""
    place = (record.instants - minutes[0]) / STEP
    step = np.clip(place.astype(np.int64), 0, len(minutes) - 2)
    return step, np.asarray(place - step)


def _reading(sensor: str, histories: Histories, load: Load) -> Floats:
    """What a thermometer reads by the minute: in food at its centre, in water in its midst. float64[row, minute]"""
    if sensor != "food":
        return np.asarray(histories.temperatures[:, :, _NODES[sensor]])
    solid = load.centre_offset > 0
    centre = centre_temperature(histories.core, histories.mean, load.centre_offset, start=load.start)
    return np.where(solid[:, None], centre, histories.mean)
