"""The meal in the pot: what the heat balance asks of it, and when its histories say it is safe and done."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .design import Table
from .food import (
    DANGER_HIGH,
    Contents,
    Food,
    contents,
    cook_value,
    find_food,
    first_time,
    time_between,
    time_to,
)

Floats = NDArray[np.float64]

WATER_HEAT = 4186.0  # J/(kg K), 20 to 95 degC
SURFACE_WATER = 0.15  # of a solid's own water may steam off while it roasts: common practice, no source


class Load(NamedTuple):
    """Columns of the meal for the heat balance, float64[design]."""

    solid_capacity: Floats  # J/K, all that cannot leave as steam
    water_mass: Floats  # kg that can
    start: Floats  # K
    shell_conductance: Floats  # W/K
    film_conductance: Floats  # W/K
    volume: Floats  # m3
    centre_offset: Floats  # 1
    surface_offset: Floats  # 1


def load_of(table: Table, foods: Mapping[str, Food]) -> Load:
    """What every design's meal is to the heat balance; the pot is wetted as high as the meal fills it."""
    columns = np.full((len(Load._fields), table.rows), np.nan)
    for name, rows in by_food(table):
        own = find_food(name, foods)
        asked = {
            "mass": table["food_mass"][rows],
            "added_water": table["added_water"][rows],
            "start_temperature": table["start_temperature"][rows],
        }
        radius = inner_radius(table)[rows]
        filled = contents(own, wetted_area=1.0, **asked).volume / (np.pi * radius**2)
        height = np.minimum(filled, table["pot_height"][rows])
        part = contents(own, wetted_area=np.pi * radius * (radius + 2 * height), **asked)
        bound = part.water_mass - part.free_water_mass
        loose = SURFACE_WATER * bound if own.kind == "solid" else 0.0 * bound
        columns[:, rows] = [
            part.solid_capacity + (bound - loose) * WATER_HEAT,
            part.free_water_mass + loose,
            part.start_temperature,
            part.shell_conductance * _held(part, bound, loose),
            part.film_conductance,
            part.volume,
            part.centre_offset,
            part.surface_offset,
        ]
    return Load(*columns)


def _held(part: Contents, bound: Floats, loose: Floats) -> Floats:
    """Share of the capacity that lies in the three shells: what is loose sits in the outer one alone.

    The shells' conductance was made for capacity shared by thirds; scaled so, the core lags as it should.
    """
    thirds = part.solid_capacity + (bound - loose) * WATER_HEAT
    whole = thirds + loose * WATER_HEAT
    return np.divide(thirds, whole, out=np.ones_like(whole), where=loose > 0)


def inner_radius(table: Table) -> Floats:
    """Inside of the pot. [m]"""
    return table["pot_diameter"] / 2 - table["pot_wall"]


def overflows(table: Table, load: Load) -> NDArray[np.bool_]:
    """Whether the meal is more than the pot holds."""
    inside = np.pi * inner_radius(table) ** 2 * (table["pot_height"] - 2 * table["pot_wall"])
    return np.asarray(load.volume > inside)


def by_food(table: Table) -> list[tuple[str, NDArray[np.int64]]]:
    """Each food of a table with the rows that cook it."""
    names, row = np.unique(table["food"].astype(str), return_inverse=True)
    return [(str(name), np.flatnonzero(row.ravel() == k)) for k, name in enumerate(names)]


class Cooked(NamedTuple):
    """What became of the meal on each day, float64[design, day]; a time that never comes is nan."""

    safe_after: Floats  # s from loading
    done_after: Floats  # s from loading; never before it is safe
    cook_dose: Floats  # s at 100 degC, whole day
    lukewarm: Floats  # s between 5 and 60 degC on the way to safe; all of it where it never gets safe
    held_hot: Floats  # s above 60 degC after done
    cooled: Floats  # s between 5 and 60 degC after the hottest moment


def cooked(
    table: Table, centre: Floats, coldest: Floats, *, step: float, foods: Mapping[str, Food]
) -> Cooked:
    """When each meal is safe and done, and how long it is hot and lukewarm.

    Parameters
    ----------
    centre : float64[design, day, time]   [K]
        Of the food's centre, the last part to be done; time starts at loading.
    coldest : float64[design, day, time]   [K]
        Of its coldest part, which is the centre only while the food warms.
    """
    outcome = Cooked(*np.full((len(Cooked._fields), *coldest.shape[:2]), np.nan))
    for name, rows in by_food(table):
        food, history = find_food(name, foods), centre[rows]
        safe = _safe_after(food, history, step)
        tender = time_to(history, step=step, need=food.cook).time if food.cook else safe
        done = np.where(np.isnan(safe) | np.isnan(tender), np.nan, np.fmax(safe, tender))
        outcome.safe_after[rows] = safe
        outcome.done_after[rows] = done
        outcome.cook_dose[rows] = cook_value(history, step=step)[..., -1]
        band = time_between(coldest[rows], step=step)
        outcome.lukewarm[rows] = np.where(np.isnan(safe), band.total, band.warming)
        outcome.held_hot[rows] = _hot_after(done, coldest[rows], step)
        outcome.cooled[rows] = band.cooling
    return outcome


def _safe_after(food: Food, history: Floats, step: float) -> Floats:
    """The later of the killing dose and the peak the food asks for; zero if it asks for neither."""
    times = [np.zeros(history.shape[:-1])]
    if food.kill:
        times.append(time_to(history, step=step, need=food.kill).time)
    if food.safe_peak:
        times.append(first_time(history, step=step, required=food.safe_peak).time)
    return np.asarray(np.max(times, axis=0))  # nan wherever one of them never comes


def _hot_after(done: Floats, history: Floats, step: float) -> Floats:
    """Time at 60 degC or above from done to the end of the day, by straight lines between instants. [s]"""
    since = np.clip(np.arange(1, history.shape[-1]) - done[..., None] / step, 0.0, 1.0)
    since = np.nan_to_num(since)  # share of each step that lies after done; none where it never is
    end = history[..., 1:]
    start = end - since * (end - history[..., :-1])
    low, high = np.minimum(start, end), np.maximum(start, end)
    slope = np.where(high > low, high - low, 1.0)
    above = np.where(low >= DANGER_HIGH, 1.0, np.clip((high - DANGER_HIGH) / slope, 0.0, 1.0))
    return np.asarray((since * above).sum(axis=-1) * step)
