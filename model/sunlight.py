"""Sun, sky and ground into watts: what each design's pot, mirror sheet and cover take in, minute by minute.

Designs that differ in nothing light can see are traced once, and all that differ in few calls.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .aiming import Aim, Aiming, aims, pot_up, to_oven_frame
from .described import DescriptionError, specs
from .design import Table
from .light import (
    Courses,
    Domes,
    Emittances,
    InSunlight,
    Lights,
    Optics,
    Ovens,
    Sources,
    Surface,
    absorbed_watts,
    beam_shares_of_ways,
    clearance,
    clearance_in_runs,
    directions,
    dome_shares_in_runs,
    exchange_areas_in_runs,
    in_sunlight,
    mouth_areas,
    runs_of,
)
from .pack import Glint, Materials, emittances_of, glint_of, ovens_of
from .sky import Sky
from .status import Status

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TILT_NODES = 3  # the dome's shares are smooth in the tilt: a parabola through three differs by under 0.2 %
STEEPEST = np.pi / 2 - 1e-3  # rad; straight up there is no ground to trace from
DOME_RAYS = 1024  # shares to about 0.4 %; on a clear day the dome brings a tenth of the power
GROUND_RAYS = 256  # and the ground a tenth of that
SPAN_STEP = np.radians(5)  # to which the ends of the dome's elevations are rounded outwards, to be shared
EXCHANGE_RAYS = 1024  # long-wave areas to about 1 %: 0.3 K of a pot at 100 degC
MIDDLE_STEP = np.radians(2)  # of tilt, over which an exchange area moves by 0.3 %
CLEARANCE_NODES = 17  # tilts at which the pot is held against the walls
LEAST_CLEARANCE = 2e-3  # m; what a hung pot swings

POT = [Surface.LID, Surface.SIDE, Surface.BOTTOM]


class Aimed(NamedTuple):
    """How the axis stands on every course of the sun it meets; rows are paths, or days for a drive.

    One way of aiming; or many, each with its place on one more axis, in front of the rows.
    """

    aim: Aim
    row_of_day: Ints  # [day], the same for all ways
    to_sun: Floats  # [..., row, time, 3] oven frame
    up: Floats  # [..., row, time, 3] world vertical in the oven frame

    def way(self, number: int) -> "Aimed":
        """One of many."""
        return Aimed(self.aim.way(number), self.row_of_day, self.to_sun[number], self.up[number])


def aimed(aiming: Aiming, sky: Sky) -> Aimed:
    """Settings of the stand through all days; a drive stalls under cloud, so each of its days is a row."""
    return aimed_in_ways([aiming], sky).way(0)


def aimed_in_ways(aimings: Sequence[Aiming], sky: Sky) -> Aimed:
    """The same for many aimings of one kind."""
    own_rows = hasattr(aimings[0], "least_dni")
    to_sun = sky.to_sun[sky.day_path] if own_rows else sky.to_sun
    settings = aims(aimings, to_sun, dni=sky.dni if own_rows else None, step=sky.step)
    return Aimed(
        aim=settings,
        row_of_day=np.arange(sky.days) if own_rows else sky.day_path,
        to_sun=to_oven_frame(to_sun, settings.azimuth, settings.elevation),
        up=pot_up(settings.elevation),
    )


WaysOf = Callable[[Sequence[Aiming], Sky], Aimed]


def aimings_of(table: Table) -> tuple[list[Aiming | None], Ints]:
    """The different aimings of a table, and which of them each row has; None where its fields contradict."""
    base = table.base.aiming
    names = [name for name in specs(base) if name in table.columns]
    if not names:
        return [base], np.zeros(table.rows, np.int64)
    columns = np.column_stack([table[name].astype(np.float64) for name in names])
    first, row = _different(columns)
    values = [[None if np.isnan(value) else value for value in columns[k].tolist()] for k in first]
    return [_aiming(base, dict(zip(names, row_values, strict=True))) for row_values in values], row


def _aiming(base: Aiming, values: dict[str, float | None]) -> Aiming | None:
    try:
        changed: Aiming = replace(base, **values)  # type: ignore[arg-type]
        return changed
    except DescriptionError:
        return None


class Traced(NamedTuple):
    """Light and long-wave exchange of a table; `status` says which designs have any."""

    status: Ints  # [design]
    ways: Aimed
    way: Ints  # [design], into `ways`
    lights: Lights  # that fall into different ovens
    light: Ints  # [design], into `lights`; -1 where the design cannot be built
    absorbed: Floats  # [light, day, instant, 3] W into pot, sheet and cover
    beams: Floats  # [beam, row, instant, surface] shares of the beam at the mouth, had the cover no fog
    domes: Domes  # shares of sky and ground
    exchange: Floats  # [design, 3] m2, long-wave: pot-cover, pot-sheet, sheet-cover

    def ends(self, light: int) -> Floats:
        """Shares of the beam at the mouth in one of the lights. float64[row, instant, surface]"""
        clear = self.lights.clear[light]
        shares = self.beams[self.lights.beam[light]] * clear
        shares[..., Surface.LOST] += 1.0 - clear
        return np.asarray(shares)

    def pot_shares(self) -> Floats:
        """Share of the beam at the mouth that the pot takes in. float64[light, row, instant]"""
        taken = self.beams[..., POT].sum(axis=-1)
        return np.asarray(taken[self.lights.beam] * self.lights.clear[:, None, None])


def traced(
    table: Table,
    materials: Materials,
    sky: Sky,
    status: Ints,
    *,
    rays: int,
    seed: int,
    ways_of: WaysOf = aimed_in_ways,
) -> Traced:
    """Trace every different design once; designs whose pot would touch a wall get that status.

    `ways_of` says how the oven stands, where that is known otherwise than from its aiming.
    """
    ways, way, status = _ways(table, sky, status, ways_of)
    spans = _spans(ways)[way]
    glints = np.column_stack(glint_of(table, materials))
    ovens, oven = _ovens(glints, np.flatnonzero(status == Status.OK))
    status = _held_clear(ovens, oven, glints, spans, status)
    good = np.flatnonzero(status == Status.OK)
    shone_on = in_sunlight(ovens)
    domes, dome = _domes(shone_on, oven[good], spans[good], seed)
    first, beam = _different(oven[good], way[good])
    beams = _beams(shone_on, oven[good[first]], ways, way[good[first]], rays=rays, seed=seed)
    beam_share, clear = table["beam_share"][good], 1.0 - table["fog"][good]
    first, row = _different(beam, dome, beam_share, clear)
    lights = Lights(
        beam=beam[first],
        dome=dome[first],
        way=way[good[first]],
        area=mouth_areas(ovens)[oven[good[first]]],
        beam_share=beam_share[first],
        clear=clear[first],
    )
    light = np.full(table.rows, -1)
    light[good] = row
    return Traced(
        status=status,
        ways=ways,
        way=way,
        lights=lights,
        light=light,
        absorbed=absorbed_watts(lights, beams, domes, _courses(ways), _sources(sky)),
        beams=beams,
        domes=domes,
        exchange=_exchange(ovens, oven, glints, spans, emittances_of(table, materials), good, seed),
    )


def diffuse_watts(light: Traced, sky: Sky) -> Floats:
    """What sky and ground alone bring, as `Traced.absorbed`. float64[light, day, instant, 3] [W]"""
    sources = _sources(sky)._replace(beam=np.zeros_like(sky.dni))
    return absorbed_watts(light.lights, light.beams, light.domes, _courses(light.ways), sources)


def _ways(table: Table, sky: Sky, status: Ints, ways_of: WaysOf) -> tuple[Aimed, Ints, Ints]:
    """Ways of aiming, which each design has, and the status with the impossible ones marked.

    Where none is possible the base's own stands in, so that there is one.
    """
    aimings, way = aimings_of(table)
    possible = np.array([aiming is not None for aiming in aimings])
    status = np.where((status == Status.OK) & ~possible[way], int(Status.AIMING_IMPOSSIBLE), status)
    sound = [aiming for aiming in aimings if aiming is not None]
    ways = ways_of(sound or [table.base.aiming], sky)
    return ways, np.maximum(np.cumsum(possible) - 1, 0)[way], status


def _spans(ways: Aimed) -> Floats:
    """Least, greatest and about the middle elevation of the axis in each way of aiming, float64[way, 3]. [rad]

    The middle is rounded, so that ways that differ by a degree share their long-wave exchange.
    """
    elevations = ways.aim.elevation.reshape(len(ways.to_sun), -1)
    middle = np.round(np.median(elevations, axis=1) / MIDDLE_STEP) * MIDDLE_STEP
    return np.column_stack([elevations.min(axis=1), elevations.max(axis=1), middle])


def _ovens(glints: Floats, built: Ints) -> tuple[Ovens, Ints]:
    """The different ovens that designs are to light, and which of them each design is; -1 for those not built."""
    oven = np.full(len(glints), -1)
    first, oven[built] = _different(glints[built])
    return ovens_of(glints[built[first]]), oven


def _different(*columns: NDArray[Any]) -> tuple[Ints, Ints]:
    """First of each different row, and which of them each row is."""
    matrix = np.column_stack(columns)
    _, first, row = np.unique(matrix, axis=0, return_index=True, return_inverse=True)
    return first, row.ravel()


def evenly(low: Floats, high: Floats, count: int) -> Floats:
    """So many numbers from each low to its high, both among them. float64[..., count]

    As `numpy.linspace`, which however works out all of them in another way if in one the two are the same.
    """
    numbers = np.arange(count) * ((high - low) / (count - 1))[..., None] + low[..., None]
    numbers[..., -1] = high
    return np.asarray(numbers)


_SHAPE = (
    *("facets", "mouth", "depth", "facet_angle", "pot_radius", "pot_height", "pot_centre"),
    *("tiers", "second_bend", "second_from", "third_bend", "third_from"),
    *("over_box", "box_across", "box_depth"),
)


def _fields(glints: Floats, names: Sequence[str]) -> Floats:
    """Some of the columns."""
    return glints[:, [Glint._fields.index(name) for name in names]]


def _held_clear(ovens: Ovens, oven: Ints, glints: Floats, spans: Floats, status: Ints) -> Ints:
    """The status, with designs marked whose pot touches something at a tilt they need."""
    good = np.flatnonzero(status == Status.OK)
    first, row = _different(_fields(glints[good], _SHAPE), spans[good, :2])
    shape = good[first]
    settings = evenly(spans[shape, 0], spans[shape, 1], CLEARANCE_NODES)
    ups = directions("pot_up", pot_up(settings.ravel()))
    runs = runs_of(oven[shape], np.arange(len(shape)), np.full(len(shape), CLEARANCE_NODES))
    gaps = clearance_in_runs(ovens, runs, ups, enough=LEAST_CLEARANCE).reshape(settings.shape)
    status = status.copy()
    status[good[gaps.min(axis=1)[row] < LEAST_CLEARANCE]] = int(Status.POT_TOUCHES_WALL)
    return status


def _domes(ovens: InSunlight, oven: Ints, spans: Floats, seed: int) -> tuple[Domes, Ints]:
    """The different domes of designs, over the elevations their axes take, and which each has."""
    low = np.floor(spans[:, 0] / SPAN_STEP) * SPAN_STEP
    high = np.minimum(np.ceil(spans[:, 1] / SPAN_STEP) * SPAN_STEP, STEEPEST)
    first, row = _different(oven, low, high)
    span, of_dome = _different(low[first], high[first])
    low, high = low[first[span]], high[first[span]]
    used, nodes = np.where(high - low > 1e-6, TILT_NODES, 1), evenly(low, high, TILT_NODES)
    ups = directions("pot_up", pot_up(nodes[np.arange(TILT_NODES) < used[:, None]]))
    runs = runs_of(oven[first], of_dome, used)
    how = {"rays": DOME_RAYS, "ground_rays": GROUND_RAYS, "seed": seed}
    sky, ground = np.zeros((2, len(first), TILT_NODES, len(Surface)))
    meant = np.arange(TILT_NODES) < used[of_dome, None]
    sky[meant], ground[meant] = dome_shares_in_runs(ovens, runs, ups, **how)
    return Domes(used[of_dome], nodes[of_dome], sky, ground), row


def _beams(ovens: InSunlight, oven: Ints, ways: Aimed, way: Ints, *, rays: int, seed: int) -> Floats:
    """Shares of the beam at the mouth for pairs of an oven and a way of aiming, float64[pair, row, time, surface]."""
    shape = ways.to_sun.shape
    rows = (directions(name, v.reshape(-1, 3)) for name, v in (("to_sun", ways.to_sun), ("pot_up", ways.up)))
    suns, ups = (row.reshape(len(ways.to_sun), -1, 3) for row in rows)
    shares = beam_shares_of_ways(ovens, oven, way, suns, ups, rays=rays, seed=seed)
    return shares.reshape(len(oven), *shape[1:3], len(Surface))


def _courses(ways: Aimed) -> Courses:
    """The ways of aiming, as the watts are added up over them."""
    facing = np.maximum(ways.to_sun[..., 2], 0.0)
    return Courses(ways.row_of_day, ways.aim.elevation, np.ascontiguousarray(ways.up[..., 2]), facing)


def _sources(sky: Sky) -> Sources:
    """What shines on every day."""
    return Sources(sky.dni, sky.dhi, sky.ghi * sky.albedo)


def _exchange(
    ovens: Ovens,
    oven: Ints,
    glints: Floats,
    spans: Floats,
    emittances: Floats,
    good: Ints,
    seed: int,
) -> Floats:
    """Long-wave exchange areas at the middle tilt of each way of aiming. float64[design, 3] [m2]"""
    shape = _fields(glints[good], (*_SHAPE, "wall_slope_error"))
    first, row = _different(shape, emittances[good], spans[good, 2])
    some = good[first]
    each = np.arange(len(some))
    runs = runs_of(each, each, np.ones_like(each))
    ups = directions("pot_up", pot_up(spans[some, 2]))
    own = Emittances(*emittances[some].T.copy())
    areas = np.full((len(glints), 3), np.nan)
    areas[good] = exchange_areas_in_runs(
        ovens.take(oven[some]), own, runs, ups, rays=EXCHANGE_RAYS, seed=seed
    )[row]
    return areas


class Swing(NamedTuple):
    """How near the plumb pot comes to a wall, plate or cover, and at which tilt of the funnel."""

    gap: float  # m, negative where it cuts through
    tilt: float  # rad from zenith

    @property
    def free(self) -> bool:
        """Whether the pot hangs free at every tilt."""
        return self.gap >= LEAST_CLEARANCE


def swing_of(optics: Optics, low: float, high: float) -> Swing:
    """The tightest of all tilts between the least and the greatest elevation of the axis."""
    settings = np.linspace(low, high, CLEARANCE_NODES)
    gap = clearance(optics, pot_up=pot_up(settings))
    tightest = int(gap.argmin())
    return Swing(float(gap[tightest]), float(np.pi / 2 - settings[tightest]))
