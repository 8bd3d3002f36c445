"""Designs times days: the lanes in which the heat balance runs, design-major."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import heat
from .heat import Build, Histories, Node, Weather
from .sky import Sky
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
        """The heat balance of every lane."""
        sky, light = self.sky, self.light
        lit = [light.lit[row] for row in light.lit_row[self.good]]
        absorbed = np.concatenate([one.absorbed for one in lit]) if lit else np.empty((0, sky.steps + 1, 3))
        tracks = np.concatenate([way.aim.elevation for way in light.ways])
        first_track = np.cumsum([0, *(len(way.aim.elevation) for way in light.ways)])
        way = light.way[self.good]
        track = [first_track[w] + light.ways[w].row_of_day for w in way]
        shape = (len(self.shares), 1, 1)
        wind = (self.shares.reshape(shape) * sky.wind_speed).reshape(-1, sky.steps + 1)
        copies = (len(self.shares), 1)
        weather = Weather(
            air_temperature=np.tile(sky.air_temperature, copies),
            sky_temperature=np.tile(sky.sky_temperature, copies),
            wind_speed=wind,
            pressure=np.tile(sky.pressure, copies),
            vapour_pressure=np.tile(sky.vapour_pressure, copies),
            tilt=np.pi / 2 - 0.5 * (tracks[:, :-1] + tracks[:, 1:]),
        )
        return heat.run(
            Build(*(np.repeat(column[self.good], self.days) for column in build)),
            weather,
            (self.share_row[:, None] * self.days + np.arange(self.days)).ravel(),
            0.5 * (absorbed[:, :-1] + absorbed[:, 1:]),
            lane_track=np.concatenate(track) if track else np.empty(0, np.int64),
            step=sky.step,
            record=record,
        )

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
