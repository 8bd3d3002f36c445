"""Designs times days: the lanes in which the heat balance runs, design-major."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import lossy
from .design import Table
from .heat import Build, Histories, Node, Weather
from .light import ABSORBERS, sunniest
from .sky import EVENING, Sky
from .sunlight import Traced, evenly

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POT = ABSORBERS.index("pot")
HOUR = 60  # steps; a pot's own time to settle is longer, so a single bright minute is no measure


class Lanes:
    """Designs that can be built, times days: design-major, as the heat balance runs them."""

    def __init__(self, good: Ints, light: Traced, sky: Sky, table: Table) -> None:
        self.good, self.light, self.sky = good, light, sky
        self.designs, self.days = len(good), sky.days
        self.light_ratio, self.loss_ratio = table["light_ratio"][good], table["loss_ratio"][good]
        self.shares, share_row = np.unique(table["wind_share"][good], return_inverse=True)
        self.share_row = share_row.ravel()

    def run(self, build: Build, *, record: bool) -> Histories:
        """The heat balance of every lane through the day."""
        every = np.arange(self.designs * self.days)
        return self._marched(build, every, self._weather(), self._intake(), record=record)

    def until(self, build: Build, lanes: Ints, steps: int) -> Histories:
        """The first steps of some lanes: what the whole day's march had felt and booked by then."""
        day, held = self._weather(), {"tilt"}
        cut = {name: rows[:, : steps + (name not in held)] for name, rows in day._asdict().items()}
        return self._marched(build, lanes, Weather(**cut), self._intake()[lanes, :steps], record=False)

    def into_evening(self, build: Build, lanes: Ints) -> Histories:
        """The day of some lanes again, and on through the evening: no sun, the oven left as it was last set.

        The march begins cold, so it has to come through the day; lanes that nobody asks for cost nothing.
        """
        dark = np.zeros((len(lanes), EVENING, 3))
        intake = np.concatenate([self._intake()[lanes], dark], axis=1)
        return self._marched(build, lanes, self._weather_into_evening(), intake, record=False)

    def _marched(
        self, build: Build, lanes: Ints, weather: Weather, intake: Floats, *, record: bool
    ) -> Histories:
        """The heat balance of some lanes."""
        ways, design, day = self.light.ways, lanes // self.days, lanes % self.days
        first_track = self.light.way[self.good] * ways.aim.elevation.shape[1]
        return lossy.run(
            Build(*(column[self.good][design] for column in build)),
            weather,
            self.share_row[design] * self.days + day,
            intake,
            loss_ratio=self.loss_ratio[design],
            lane_track=first_track[design] + ways.row_of_day[day],
            step=self.sky.step,
            record=record,
        )

    def _intake(self) -> Floats:
        """Watts into pot, sheet and cover, mean of each step, float64[lane, step, 3]."""
        absorbed = self.light.absorbed
        mean = (0.5 * (absorbed[:, :, :-1] + absorbed[:, :, 1:]))[self.light.light[self.good]]
        mean[..., POT] *= self.light_ratio[:, None, None]
        return np.asarray(mean.reshape(-1, self.sky.steps, 3))

    def absorbed(self) -> Floats:
        """Watts into pot, sheet and cover at every instant, float64[design, day, instant, 3]."""
        watts = self.light.absorbed[self.light.light[self.good]]
        watts[..., POT] *= self.light_ratio[:, None, None]
        return np.asarray(watts)

    def _tracks(self) -> Floats:
        """Elevation of the axis in each way of aiming on each of its rows, float64[track, instant]. [rad]"""
        elevation = self.light.ways.aim.elevation
        return elevation.reshape(-1, elevation.shape[-1])

    def _weather(self) -> Weather:
        """What the lanes stand under by day: a row for each share of the wind and day; a tilt for each aiming."""
        sky, copies = self.sky, (len(self.shares), 1)
        tracks = self._tracks()
        return Weather(
            air_temperature=np.tile(sky.air_temperature, copies),
            sky_temperature=np.tile(sky.sky_temperature, copies),
            wind_speed=self._wind(sky.wind_speed),
            pressure=np.tile(sky.pressure, copies),
            vapour_pressure=np.tile(sky.vapour_pressure, copies),
            tilt=np.pi / 2 - 0.5 * (tracks[:, :-1] + tracks[:, 1:]),
        )

    def _weather_into_evening(self) -> Weather:
        """The same by day and through the evening after it; the tilt stays."""
        day, evening, copies = self._weather(), self.sky.evening, (len(self.shares), 1)
        tracks = self._tracks()

        def on(by_day: Floats | None, after: Floats) -> Floats:
            return np.concatenate([by_day, after[:, 1:]], axis=1)

        return Weather(
            air_temperature=on(day.air_temperature, np.tile(evening.air_temperature, copies)),
            sky_temperature=on(day.sky_temperature, np.tile(evening.sky_temperature, copies)),
            wind_speed=on(day.wind_speed, self._wind(evening.wind_speed)),
            pressure=on(day.pressure, np.tile(evening.pressure, copies)),
            vapour_pressure=on(day.vapour_pressure, np.tile(evening.vapour_pressure, copies)),
            tilt=np.concatenate([day.tilt, np.repeat(np.pi / 2 - tracks[:, -1:], EVENING, axis=1)], axis=1),
        )

    def _wind(self, weather_wind: Floats) -> Floats:
        """Wind at the oven for each share of the weather's, float64[share and day, time]."""
        wind: Floats = self.shares.reshape(-1, 1, 1) * weather_wind
        return wind.reshape(-1, weather_wind.shape[1])

    def best_sun(self, build: Build) -> Floats:
        """Where a dry pot settles under the sunniest hour of all days, float64[design]. [K]"""
        sky, light, ways = self.sky, self.light, self.light.ways
        day, start, watts = sunniest(light.absorbed, min(HOUR, sky.steps + 1))
        middle = start + HOUR // 2 if sky.steps >= HOUR else np.full_like(start, sky.steps // 2)
        axis = ways.aim.elevation[light.lights.way, ways.row_of_day[day], middle]
        own = light.light[self.good]
        day, middle, intake = day[own], middle[own], watts[own]
        intake[:, POT] *= self.light_ratio
        dry = Build(*(column[self.good] for column in build))
        settled = lossy.plateau(
            dry._replace(water_mass=np.zeros(self.designs)),
            loss_ratio=self.loss_ratio,
            air_temperature=sky.air_temperature[day, middle],
            sky_temperature=sky.sky_temperature[day, middle],
            wind_speed=sky.wind_speed[day, middle] * self.shares[self.share_row],
            pressure=sky.pressure[day, middle],
            tilt=np.pi / 2 - axis[own],
            intake=intake,
        )
        return np.asarray(settled.temperatures[:, Node.POT])

    def by_day(self, column: NDArray[Any]) -> NDArray[Any]:
        """A column over lanes as one over (design, day, ...)."""
        return column.reshape(self.designs, self.days, *column.shape[1:])

    def over_ways(self, name: str) -> Floats:
        """Mean over the days of a number of the aiming, float64[design]."""
        weight, ways = self.sky.day_weight / self.sky.day_weight.sum(), self.light.ways
        each = (np.take(getattr(ways.aim, name), ways.row_of_day, axis=1) * weight).sum(axis=1)
        return np.asarray(each[self.light.way[self.good]], np.float64)

    def tilts(self) -> Floats:
        """Axis from the zenith from the least setting to the greatest, float64[design, position]. [rad]"""
        elevations = self.light.ways.aim.elevation
        settings = evenly(elevations.min(axis=(1, 2)), elevations.max(axis=(1, 2)), 5)
        return np.asarray((np.pi / 2 - settings)[self.light.way[self.good]])

    def light_shares(self) -> Floats:
        """Share of the day's beam that the pot takes in, float64[design, day]; nan without beam."""
        light, day = self.light, self.light.ways.row_of_day
        facing = np.take(np.maximum(light.ways.to_sun[..., 2], 0.0), day, axis=1)
        beam = (self.sky.dni * facing)[light.lights.way]
        with np.errstate(invalid="ignore", divide="ignore"):
            shares = (beam * np.take(light.pot_shares(), day, axis=1)).sum(axis=2) / beam.sum(axis=2)
        return np.asarray(shares[light.light[self.good]] * self.light_ratio[:, None])
