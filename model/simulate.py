"""The one verb: designs under a sky in, a Dataset of what became of them out."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .catalogue import Catalogue, load_catalogue
from .design import Design, Table, table_of
from .evening import Kept, coldest_part, kept_warm, lukewarm_while_kept
from .food import Food, boiling_temperature, centre_temperature
from .heat import Build, Flow, Histories, Node
from .labels import labelled
from .lanes import Lanes
from .light import ABSORBERS, Surface
from .margins import margins_of
from .meal import Cooked, Load, cooked, load_of, overflows
from .merit import LIMITS, MERITS, over_days
from .pack import Materials, bill_of, build_of, fits, materials_of, optics_of_design
from .prices import Price, cost_of
from .sky import EVENING, Sky
from .status import Status
from .sunlight import LEAST_CLEARANCE, aimed, swing_of, traced

DAYS = (*Cooked._fields, "peak_contents", "light_share", "steam_heat", "sun_heat")
"""Outcomes of single days."""

EVENINGS = ("warm_for", "still_warm")
"""Outcomes of the evenings after them."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def simulate(
    designs: Design | Sequence[Design] | Table,
    sky: Sky,
    *,
    rays: int = 32,
    seed: int = 1,
    catalogue: Catalogue | None = None,
    prices: Mapping[str, Price] | None = None,
    currency: str = "",
    evening: bool = True,
    histories: bool = False,
) -> xr.Dataset:
    """Every design on every day of a sky: merits always, time series on request.

    Parameters
    ----------
    designs : Design, sequence of Design with one kind of aiming, or Table
        What to run.
    sky : Sky
        Days to run it on; the food is loaded when a day starts.
    rays : int
        Rays of the beam each minute: 32 give the day's mean share to about 0.3 %.
    seed : int
        Of the ray tracer; the same points serve every design.
    catalogue, prices, currency
        Materials and foods; what they cost, in what. The shipped catalogue and no prices if not given.
    evening : bool
        Follow meals that are hot at the day's end through the evening, in the oven left as it stood. Without it
        there is no `keep_warm_time`, and only pots that are `kept_for` some time are followed.
    histories : bool
        Keep temperatures, light and aiming minute by minute.

    Returns
    -------
    Dataset over (design, day[, time[, node]])
        `status` says which rows may be used; a design that cannot be built has nan everywhere else.

    Raises
    ------
    DescriptionError
        A name that is not in the catalogue.
    """
    table = designs if isinstance(designs, Table) else _tabled(designs)
    catalogue = catalogue or load_catalogue()
    materials = materials_of(table, catalogue)
    load = load_of(table, catalogue.foods)
    status = fits(table)
    status[(status == Status.OK) & overflows(table, load)] = int(Status.MEAL_OVERFLOWS)
    light = traced(table, materials, sky, status, rays=rays, seed=seed)
    status = light.status
    good = np.flatnonzero(status == Status.OK)
    if not good.size:
        return labelled(_nothing_ran(table, sky, status, evening), table.base, currency)
    lanes = Lanes(good, light, sky, table)
    boiling = float(boiling_temperature(sky.place.pressure))
    build = build_of(
        table, materials=materials, exchange=light.exchange, load=load, boiling_temperature=boiling
    )
    hot = lanes.run(build, record=histories)
    finite = (lanes.by_day(hot.status) == Status.OK).all(axis=1)
    status[good[~finite]] = int(Status.NOT_FINITE)
    ran = table.take(good)
    food = _food(lanes, hot, load)
    meals, kept = _meals(ran, food, lanes, build, load, catalogue.foods, evening)
    days = _days(meals, kept, food, lanes, hot, evening)
    whole = _whole(ran, materials.take(good), days, meals, lanes, hot.peak, prices)
    whole |= {"plateau_temperature": lanes.best_sun(build)}
    variables = {
        name: (("design", "day")[: values.ndim], _spread(values, good, finite, table.rows))
        for name, values in (days | whole).items()
    }
    coordinates: dict[str, Any] = {}
    if histories:
        more, coordinates = _histories(lanes, hot, food.coldest, good, table.rows)
        variables |= more
        if evening:
            more, times = _evenings(lanes, kept, good, table.rows)
            variables |= more
            coordinates |= times
    return labelled(_dataset(table, sky, status, variables, coordinates), table.base, currency)


def _tabled(designs: Design | Sequence[Design]) -> Table:
    return table_of([designs] if isinstance(designs, Design) else designs)


class _Food(NamedTuple):
    """Temperatures of the food through the day, float64[design, day, time]. [K]"""

    centre: Floats
    coldest: Floats  # the centre while it warms, its surface while it cools


def _food(lanes: Lanes, hot: Histories, load: Load) -> _Food:
    design = np.repeat(lanes.good, lanes.days)
    centre = centre_temperature(hot.core, hot.mean, load.centre_offset[design], start=load.start[design])
    return _Food(lanes.by_day(centre), lanes.by_day(coldest_part(hot, load, design)))


def _meals(
    ran: Table,
    food: _Food,
    lanes: Lanes,
    build: Build,
    load: Load,
    foods: Mapping[str, Food],
    evening: bool,
) -> tuple[Cooked, Kept]:
    """What became of the meals by day, and of those that are followed after it."""
    meals = cooked(ran, *food, step=lanes.sky.step, foods=foods)
    kept_for = ran["kept_for"]
    asked = evening | (kept_for > 0)
    kept = kept_warm(lanes, build, load, meals=meals, coldest=food.coldest, asked=asked)
    return meals._replace(lukewarm=meals.lukewarm + lukewarm_while_kept(meals, kept, kept_for)), kept


def _days(
    meals: Cooked, kept: Kept, food: _Food, lanes: Lanes, hot: Histories, evening: bool
) -> dict[str, Floats]:
    """What became of every day, float64[design, day]."""
    followed = {name: getattr(kept, name) for name in EVENINGS} if evening else {}
    return (
        meals._asdict()
        | followed
        | {
            "peak_contents": food.centre.max(axis=-1),
            "light_share": lanes.light_shares(),
            "steam_heat": lanes.by_day(hot.flows[:, Flow.STEAM]),
            "sun_heat": lanes.by_day(hot.flows[:, Flow.POT_ABSORBED]),
        }
    )


def _whole(
    ran: Table,
    materials: Materials,
    days: Mapping[str, Floats],
    meals: Cooked,
    lanes: Lanes,
    peak: Floats,
    prices: Mapping[str, Price] | None,
) -> dict[str, Floats]:
    """Merits and margins of the designs that ran, float64[design]."""
    bill = bill_of(ran, materials)
    mass = np.sum([part for part, _ in bill.values()], axis=0)
    margins = margins_of(
        ran,
        materials,
        peak=lanes.by_day(peak),
        meals=meals,
        tilt=lanes.tilts(),
        mass=mass + ran["food_mass"],
        sky=lanes.sky,
    )
    return {
        "mass": mass,
        "material_cost": cost_of(ran, bill, prices),
        "reaims": lanes.over_ways("visits"),
        "attention_time": lanes.over_ways("attention"),
        **over_days(days, lanes.sky.day_weight),
        **margins,
    }


def _nothing_ran(table: Table, sky: Sky, status: Ints, evening: bool) -> xr.Dataset:
    """The result where no design can be built: every day and merit is nan, the status says why."""
    names = DAYS + EVENINGS if evening else DAYS
    merits = [name for name in MERITS if evening or name != "keep_warm_time"]
    days = {name: (("design", "day"), np.full((table.rows, sky.days), np.nan)) for name in names}
    whole = {name: (("design",), np.full(table.rows, np.nan)) for name in (*merits, *LIMITS)}
    return _dataset(table, sky, status, days | whole, {})


def _spread(values: Floats, good: Ints, finite: NDArray[np.bool_], rows: int) -> Floats:
    """Values of the designs that ran as a column over all, nan elsewhere."""
    column = np.full((rows, *values.shape[1:]), np.nan)
    column[good[finite]] = values[finite]
    return column


def _dataset(
    table: Table, sky: Sky, status: Ints, variables: Mapping[str, Any], coordinates: Mapping[str, Any]
) -> xr.Dataset:
    """The result: which designs, which days, what became of them. Made in one go: xarray aligns at every step."""
    factors = {name: ("design", _stored(table[name])) for name in table.base.factors}
    return xr.Dataset(
        {"status": ("design", status), **variables},
        coords={
            "design": ("design", np.arange(table.rows)),
            "day": ("day", np.arange(sky.days)),
            "day_label": ("day", np.array(sky.day_label, dtype=np.str_)),
            "day_month": ("day", sky.day_month),
            "day_weight": ("day", sky.day_weight),
            **factors,
            **coordinates,
        },
        attrs={"sky": sky.source, "place": sky.place.name},
    )


def _stored(column: NDArray[Any]) -> NDArray[Any]:
    return column.astype(np.str_) if column.dtype == object else column


def _histories(
    lanes: Lanes, hot: Histories, coldest: Floats, good: Ints, rows: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Time series of the designs that ran, and their coordinates: temperatures, light, weather and aiming."""
    sky = lanes.sky

    def spread(values: Floats) -> Floats:
        column = np.full((rows, *values.shape[1:]), np.nan)
        column[good] = values
        return column

    over = ("design", "day", "time")
    light, ways = lanes.light, lanes.light.ways
    own, way, day = light.light[good], light.way[good], ways.row_of_day
    variables: dict[str, Any] = {
        "temperature": ((*over, "node"), spread(lanes.by_day(hot.temperatures))),
        "food_temperature": (over, spread(coldest)),
        "water": (over, spread(lanes.by_day(hot.water))),
        "absorbed": ((*over, "absorber"), spread(lanes.absorbed())),
        "beam_ends": ((*over, "surface"), spread(np.array([light.ends(k)[day] for k in own]))),
        "sun_elevation": (("day", "time"), sky.elevation[sky.day_path]),
    }
    for name in ("azimuth", "elevation", "azimuth_error", "elevation_error", "off_axis"):
        angles = getattr(ways.aim, name)[way][:, day]
        variables[f"aim_{name}"] = (over, spread(angles))
    for name in ("dni", "dhi", "ghi", "air_temperature", "wind_speed"):
        variables[name] = (("day", "time"), getattr(sky, name))
    coordinates = {
        "time": ("time", sky.step * np.arange(sky.steps + 1)),
        "node": ("node", [node.name.lower() for node in Node]),
        "surface": ("surface", [surface.name.lower() for surface in Surface]),
        "absorber": ("absorber", list(ABSORBERS)),
        "clock": (("day", "time"), sky.times[sky.day_path]),
    }
    return variables, coordinates


def _evenings(lanes: Lanes, kept: Kept, good: Ints, rows: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Time series after the day of the meals that were followed, and their coordinate."""
    food = np.full((rows, lanes.days, EVENING + 1), np.nan)
    food[good[kept.lane // lanes.days], kept.lane % lanes.days] = kept.food
    variables = {
        "evening_food_temperature": (("design", "day", "evening"), food),
        "evening_air_temperature": (("day", "evening"), lanes.sky.evening.air_temperature),
    }
    return variables, {"evening": ("evening", lanes.sky.step * np.arange(EVENING + 1))}


def misfit(design: Design, sky: Sky, *, catalogue: Catalogue) -> str | None:
    """Why a design cannot be built or used under this sky, in a sentence; None if it can. Nothing is run."""
    table = table_of([design])
    status = fits(table)
    if overflows(table, load_of(table, catalogue.foods))[0]:
        status[0] = int(Status.MEAL_OVERFLOWS)
    if status[0] != Status.OK:
        return Status(int(status[0])).sentence
    elevation = aimed(design.aiming, sky).aim.elevation
    optics = optics_of_design(design, catalogue)
    swing = swing_of(optics, float(elevation.min()), float(elevation.max()))
    if swing.free:
        return None
    return (
        f"{Status.POT_TOUCHES_WALL.sentence}, or another pot_lift (tightest at a tilt of "
        f"{np.degrees(swing.tilt):.0f} deg: {1e3 * swing.gap:.0f} mm left, {1e3 * LEAST_CLEARANCE:.0f} mm needed)"
    )
