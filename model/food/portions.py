"""Meals: from a food and a mass to the numbers the heat balance needs.

A solid is three shells of equal mass. Their conductances make the shells' mean temperatures lag the surface
exactly as in the true body while it warms at a steady rate, which is how a solar oven heats: then
T(surface) - T(r) = rate (R^2 - r^2) / (2 d alpha), with d = 1 slab, 2 cylinder, 3 sphere.
"""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..described import Checked, catalogued, quantity
from .composition import Composition
from .foods import MEAN_TEMPERATURE, Food, find_food

Floats = NDArray[np.float64]

# Exchange inside a liquid that circulates, over its film at the pot: enough to act as one well-stirred body
# (shells within 1 K while the film carries 10), with no claim beyond that.
LIQUID_MIXING = 10.0


class Contents(NamedTuple):
    """What the heat balance asks of a meal; floats or float64[lane] alike."""

    solid_capacity: Floats  # J/K; everything but water
    water_mass: Floats  # kg; in the food and added
    shell_conductance: Floats  # W/K; outer to middle, and middle to core
    film_conductance: Floats  # W/K; pot to outer shell
    start_temperature: Floats  # K
    free_water_mass: Floats  # kg; added, or the whole of a liquid's
    volume: Floats  # m3
    centre_offset: Floats  # 1; see `centre_temperature`
    surface_offset: Floats  # 1; see `coldest_temperature`


def contents(
    food: Food,
    *,
    mass: ArrayLike,
    wetted_area: ArrayLike,
    added_water: ArrayLike | None = None,
    start_temperature: ArrayLike | None = None,
) -> Contents:
    """Capacities and conductances of a mass of food in a pot.

    Heat of cooking (starch, protein: under 1 % of the sensible heat) is left out.

    Parameters
    ----------
    food : Food
    mass : float or float64[lane]   [kg]
        Food, before water is added.
    wetted_area : float or float64[lane]   [m2]
        Inner face of the pot that gives heat to the contents.
    added_water : float or float64[lane]   [kg per kg of food]
        None or nan: the food's usual.
    start_temperature : float or float64[lane]   [K]
        None or nan: the food's usual.
    """
    mass, area = np.asarray(mass, np.float64), np.asarray(wetted_area, np.float64)
    mass, area = np.broadcast_arrays(mass, area)
    added = mass * _or_usual(added_water, food.added_water)
    own_water = mass * food.composition.water
    shells, film = _solid_conductances(food, mass, area) if food.kind == "solid" else _liquid(food, area)
    water_density = Composition(water=1.0).density(MEAN_TEMPERATURE)
    return Contents(
        solid_capacity=mass * food.composition.dry_heat_capacity(MEAN_TEMPERATURE),
        water_mass=own_water + added,
        shell_conductance=shells,
        film_conductance=film,
        start_temperature=np.broadcast_to(_or_usual(start_temperature, food.start_temperature), mass.shape),
        free_water_mass=own_water + added if food.kind == "liquid" else added,
        volume=mass / food.density + added / water_density,
        centre_offset=np.full(mass.shape, centre_offset(food)),
        surface_offset=np.full(mass.shape, surface_offset(food)),
    )


def _liquid(food: Food, area: Floats) -> tuple[Floats, Floats]:
    """Shell and film conductance of contents that circulate. [W/K]"""
    return LIQUID_MIXING * food.film * area, food.film * area


def _solid_conductances(food: Food, mass: Floats, area: Floats) -> tuple[Floats, Floats]:
    """Shell and film conductance of conducting pieces. [W/K]

    One conductance between shells carries the core's lag: with flows C/3 and 2C/3 per unit rate through the
    two gaps, C / G = (mean r^2 of outer - of core) / (2 d alpha). The film is in series with the outer third.
    """
    core, _, outer = mean_squares(food.dimension)
    radius = food.half_width(mass)
    volume = mass / food.density
    across = 2 * food.dimension * food.conductivity * volume / radius**2
    # pieces touch and shade each other: they cannot take more than the pot's face around them offers
    face = np.minimum(food.dimension * volume / radius, area)
    return across / (outer - core), 1 / (1 / (food.film * face) + (1 - outer) / across)


def mean_squares(dimension: int) -> tuple[float, float, float]:
    """Mean of (r/R)^2 over the core, middle and outer third of a slab, cylinder or sphere. [1]

    d/(d+2) (b^(d+2) - a^(d+2)) / (b^d - a^d), with a^d and b^d = 0, 1/3, 2/3, 1.
    """
    powers = [(third / 3) ** ((dimension + 2) / dimension) for third in range(4)]
    core, middle, outer = (3 * dimension / (dimension + 2) * (b - a) for a, b in itertools.pairwise(powers))
    return core, middle, outer


def centre_offset(food: Food) -> float:
    """How far the centre point lags the core, over how far the core lags the mean. [1]

    Zero for what stirs itself.
    """
    if food.kind != "solid":
        return 0.0
    core, _, outer = mean_squares(food.dimension)
    return (
        core / (outer - core) * 9 / 4
    )  # of the core's lag behind the outer shell, the mean has 5/9: 4/9 apart


def surface_offset(food: Food) -> float:
    """How far the surface runs ahead of the core, over how far the mean does. [1]

    Zero for what stirs itself.
    """
    if food.kind != "solid":
        return 0.0
    core, _, outer = mean_squares(food.dimension)
    return (1 - core) / (outer - core) * 9 / 4


def centre_temperature(core: Floats, mean: Floats, offset: ArrayLike, *, start: ArrayLike) -> Floats:
    """Temperature at the very centre of the pieces, from the two that the heat balance keeps. [K]

    Exact while warming steadily. In the first minutes the parabola is not there yet and the result would fall
    below the start: held there. While the food cools the centre is the warmest part, above the core.

    Parameters
    ----------
    core, mean : float64[..., time]   [K]
        Innermost shell, and mean of the contents.
    offset : float or float64[...]
        `Contents.centre_offset`.
    start : float or float64[...]   [K]
        Temperature of the food when put in.
    """
    offset, start = np.asarray(offset)[..., None], np.asarray(start)[..., None]
    centre: Floats = np.maximum(core - offset * (mean - core), np.minimum(start, core))
    return centre


def coldest_temperature(
    core: Floats, mean: Floats, *, centre_offset: ArrayLike, surface_offset: ArrayLike, start: ArrayLike
) -> Floats:
    """Temperature of the coldest part at each moment: the centre while the food warms, its surface while it cools.

    By the same parabola as `centre_temperature`; parameters as there.
    """
    surface = core + np.asarray(surface_offset)[..., None] * (mean - core)
    return np.minimum(centre_temperature(core, mean, centre_offset, start=start), surface)


def _or_usual(value: ArrayLike | None, usual: float) -> Floats:
    if value is None:
        return np.asarray(usual, np.float64)
    values = np.asarray(value, np.float64)
    return np.where(np.isnan(values), usual, values)


@dataclass(frozen=True, kw_only=True)
class Meal(Checked):
    """What goes into the pot."""

    food: str = catalogued("foods", "what is cooked")
    food_mass: float = quantity("mass", 0.01, 60.0, "food put in, before water is added")
    added_water: float | None = quantity(
        "share", 0.0, 20.0, "water added per mass of food; the food's usual if not given", default=None
    )
    start_temperature: float | None = quantity(
        "temperature", 273.15, 343.15, "of the food when put in; the food's usual if not given", default=None
    )
    kept_for: float = quantity(
        "time", 0.0, 43_200.0, "in the closed oven after the day's end, before it is eaten", default=0.0
    )

    def portions(self, foods: Mapping[str, Food] | None = None) -> float:
        """How many people it feeds. [1]"""
        return self.food_mass / find_food(self.food, foods).portion

    def contents(self, wetted_area: float, foods: Mapping[str, Food] | None = None) -> Contents:
        """Numbers for the heat balance; `wetted_area` in m2."""
        return contents(
            find_food(self.food, foods),
            mass=self.food_mass,
            wetted_area=wetted_area,
            added_water=self.added_water,
            start_temperature=self.start_temperature,
        )
