"""Designs times days: the lanes in which the heat balance runs, design-major."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import heat
from .heat import Build, Histories, Node, Weather
from .sky import EVENING, Sky
from .sunlight import Traced

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HOUR = 60  # steps; a pot's own time to settle is longer, so a single bright minute is no measure


class Lanes:
    """Designs that can be built, times days: design-major, as the heat balance runs them."""

    def __init__(self, good: Ints, light: Traced, sky: Sky, wind_share: Floats) -> None:
        self.good, self.light, self.sky = good, light, sky
        self.designs, self.days = len(good), sky.days
        self.shares, share_row = np.unique(wind_share[good], return_inverse=True)
        self.share_row = share_row.ravel()

    def run(self, build: Build, *, record: bool) -> Histories:
        """The heat balance of every lane through the day."""
        every = np.arange(self.designs * self.days)
        return self._marched(build, every, self._weather(), self._intake(), record=record)

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
        light, design, day = self.light, lanes // self.days, lanes % self.days
        first_track = np.cumsum([0, *(len(way.aim.elevation) for way in light.ways)])
        track = [first_track[w] + light.ways[w].row_of_day for w in light.way[self.good]]
        return heat.run(
            Build(*(column[self.good][design] for column in build)),
            weather,
            self.share_row[design] * self.days + day,
            intake,
            lane_track=np.concatenate(track)[lanes] if track else np.empty(0, np.int64),
            step=self.sky.step,
            record=record,
        )

    def _intake(self) -> Floats:
        """Watts into pot, sheet and cover, mean of each step, float64[lane, step, 3]."""
        lit = [self.light.lit[row].absorbed for row in self.light.lit_row[self.good]]
        absorbed = np.concatenate(lit) if lit else np.empty((0, self.sky.steps + 1, 3))
        return np.asarray(0.5 * (absorbed[:, :-1] + absorbed[:, 1:]))

    def _weather(self) -> Weather:
        """What the lanes stand under by day: a row for each share of the wind and day; a tilt for each aiming."""
        sky, copies = self.sky, (len(self.shares), 1)
        tracks = np.concatenate([way.aim.elevation for way in self.light.ways])
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
        tracks = np.concatenate([way.aim.elevation for way in self.light.ways])

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
        sky, light = self.sky, self.light
        if not self.designs:
            return np.empty(0)
        at, intake, tilt = [], [], []
        for lit in (light.lit[row] for row in light.lit_row[self.good]):
            hourly = _hourly(lit.absorbed)
            day, start = np.unravel_index(hourly[..., 0].argmax(), hourly.shape[:2])
            middle = int(start) + HOUR // 2 if sky.steps >= HOUR else sky.steps // 2
            way = light.ways[lit.way]
            at.append((day, middle))
            intake.append(hourly[day, start])
            tilt.append(np.pi / 2 - way.aim.elevation[way.row_of_day[day], middle])
        day, middle = np.array(at).T
        dry = Build(*(column[self.good] for column in build))
        settled = heat.plateau(
            dry._replace(water_mass=np.zeros(self.designs)),
            air_temperature=sky.air_temperature[day, middle],
            sky_temperature=sky.sky_temperature[day, middle],
            wind_speed=sky.wind_speed[day, middle] * self.shares[self.share_row],
            pressure=sky.pressure[day, middle],
            tilt=np.array(tilt),
            intake=np.array(intake),
        )
        return np.asarray(settled.temperatures[:, Node.POT])

    def by_day(self, column: NDArray[Any]) -> NDArray[Any]:
        """A column over lanes as one over (design, day, ...)."""
        return column.reshape(self.designs, self.days, *column.shape[1:])

    def over_ways(self, name: str) -> Floats:
        """Mean over the days of a number of the aiming, float64[design]."""
        weight = self.sky.day_weight / self.sky.day_weight.sum()
        each = [(getattr(way.aim, name)[way.row_of_day] * weight).sum() for way in self.light.ways]
        return np.array(each, np.float64)[self.light.way[self.good]]

    def tilts(self) -> Floats:
        """Axis from the zenith from the least setting to the greatest, float64[design, position]. [rad]"""
        spans = [(way.aim.elevation.min(), way.aim.elevation.max()) for way in self.light.ways]
        return np.array([np.pi / 2 - np.linspace(low, high, 5) for low, high in spans])[
            self.light.way[self.good]
        ]

    def light_shares(self) -> Floats:
        """Share of the day's beam that the pot takes in, float64[design, day]; nan without beam."""
        shares = np.empty((len(self.light.lit), self.days))
        for row, lit in enumerate(self.light.lit):
            way = self.light.ways[lit.way]
            day = way.row_of_day
            beam = self.sky.dni * np.maximum(way.to_sun[day, :, 2], 0.0)
            with np.errstate(invalid="ignore", divide="ignore"):
                shares[row] = (beam * lit.pot_share[day]).sum(axis=1) / beam.sum(axis=1)
        return shares[self.light.lit_row[self.good]]


def _hourly(absorbed: Floats) -> Floats:
    """Means over an hour from each instant, float64[day, start, absorber]; over a day that is shorter."""
    width = min(HOUR, absorbed.shape[1])
    total = np.cumsum(np.insert(absorbed, 0, 0.0, axis=1), axis=1)
    return np.asarray((total[:, width:] - total[:, :-width]) / width)
