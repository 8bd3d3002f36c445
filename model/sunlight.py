"""Sun, sky and ground into watts: what each design's pot, mirror sheet and cover take in, minute by minute.

Designs that differ in nothing light can see are traced once.
"""

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .aiming import Aim, Aiming, aim, pot_up, to_oven_frame
from .described import DescriptionError, specs
from .design import Table
from .light import (
    InSunlight,
    Optics,
    Surface,
    beam_shares_of_many,
    clearance,
    dome_shares,
    exchange_areas,
    in_sunlight,
    mouth_area,
)
from .pack import Glint, Materials, emittances_of, glint_of, optics_of
from .sky import Sky
from .status import Status

Floats = NDArray[np.float64]

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
SHEET = [Surface.WALLS, Surface.PLATE]
COVER = [Surface.COVER]
ABSORBERS = np.array([[surface in group for group in (POT, SHEET, COVER)] for surface in Surface], float)


class Aimed(NamedTuple):
    """One way of aiming on every course of the sun it meets; rows are paths, or days for a drive."""

    aim: Aim
    row_of_day: NDArray[np.int64]  # [day]
    to_sun: Floats  # [row, time, 3] oven frame
    up: Floats  # [row, time, 3] world vertical in the oven frame


class Lit(NamedTuple):
    """What one design takes in.

    absorbed : float64[day, instant, 3] W into pot, sheet and cover.  shares : float64[row, instant, surface]
    of the beam at the mouth.  way : which of the ways of aiming it is.
    """

    absorbed: Floats
    shares: Floats
    way: int = 0

    @property
    def pot_share(self) -> Floats:
        """Share of the beam at the mouth that the pot takes in. float64[row, instant]"""
        return np.asarray(self.shares[..., POT].sum(axis=-1))


def aimed(aiming: Aiming, sky: Sky) -> Aimed:
    """Settings of the stand through all days; a drive stalls under cloud, so each of its days is a row."""
    own_rows = hasattr(aiming, "least_dni")
    to_sun = sky.to_sun[sky.day_path] if own_rows else sky.to_sun
    settings = aim(aiming, to_sun, dni=sky.dni if own_rows else None, step=sky.step)
    return Aimed(
        aim=settings,
        row_of_day=np.arange(sky.days) if own_rows else sky.day_path,
        to_sun=to_oven_frame(to_sun, settings.azimuth, settings.elevation),
        up=pot_up(settings.elevation),
    )


def aimings_of(table: Table) -> tuple[list[Aiming | None], NDArray[np.int64]]:
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


class Dome(NamedTuple):
    """Shares of evenly bright sky and ground, traced at a few elevations of the axis. float64[node(, surface)]"""

    nodes: Floats
    sky: Floats
    ground: Floats

    def at(self, elevation: Floats) -> tuple[Floats, Floats]:
        """Shares of sky and ground at any elevation between, by the polynomial through the nodes."""
        weights = _lagrange(elevation, self.nodes)
        return weights @ self.sky, weights @ self.ground


def dome_of(oven: InSunlight, low: float, high: float, seed: int) -> Dome:
    """The dome of one design over the elevations its axis takes."""
    high = min(high, STEEPEST)
    nodes = np.linspace(low, high, TILT_NODES if high - low > 1e-6 else 1)
    shares = dome_shares(oven, pot_up=pot_up(nodes), rays=DOME_RAYS, ground_rays=GROUND_RAYS, seed=seed)
    return Dome(nodes, *shares)


def beam_of(oven: InSunlight, way: Aimed, *, rays: int, seed: int) -> Floats:
    """Shares of the beam at the mouth by surface, float64[row, time, surface]."""
    rows, times = way.aim.elevation.shape
    flat = (rows * times, 3)
    shares = beam_shares_of_many(
        oven, to_sun=way.to_sun.reshape(flat), pot_up=way.up.reshape(flat), rays=rays, seed=seed
    )
    return shares.reshape(rows, times, -1)


def lit(
    beam: Floats, area: float, way: Aimed, dome: Dome, sky: Sky, *, beam_share: float, clear: float
) -> Lit:
    """Watts into one design under every day, given its mouth's area; `clear` is what fog leaves of all light."""
    beam = beam * clear
    beam[..., Surface.LOST] += 1.0 - clear
    sky_dome, ground_dome = dome.at(way.aim.elevation)
    tilt_cosine = np.sin(way.aim.elevation)
    facing = np.maximum(way.to_sun[..., 2], 0.0)
    day = way.row_of_day
    sources = (
        (sky.dni * (beam_share * facing)[day], beam),
        (sky.dhi * (clear * (1 + tilt_cosine) / 2)[day], sky_dome),
        (sky.ghi * sky.albedo * (clear * (1 - tilt_cosine) / 2)[day], ground_dome),
    )
    absorbed = sum(power[..., None] * (shares @ ABSORBERS)[day] for power, shares in sources)
    return Lit(absorbed=area * absorbed, shares=beam)


def _lagrange(x: Floats, nodes: Floats) -> Floats:
    """Weights of the polynomial through the nodes. float64[..., node]"""
    weights = np.ones((*x.shape, len(nodes)))
    for i, own in enumerate(nodes):
        for other in np.delete(nodes, i):
            weights[..., i] *= (x - other) / (own - other)
    return weights


class Traced(NamedTuple):
    """Light and long-wave exchange of a table; `status` says which designs have any."""

    status: NDArray[np.int64]  # [design]
    ways: list[Aimed]
    way: NDArray[np.int64]  # [design], into `ways`
    lit: list[Lit]  # of the different designs, as light sees them
    lit_row: NDArray[np.int64]  # [design], into `lit`; -1 where the design cannot be built
    exchange: Floats  # [design, 3] m2, long-wave: pot-cover, pot-sheet, sheet-cover


def traced(
    table: Table, materials: Materials, sky: Sky, status: NDArray[np.int64], *, rays: int, seed: int
) -> Traced:
    """Trace every different design once; designs whose pot would touch a wall get that status."""
    ways, way, status = _ways(table, sky, status)
    spans = _spans(ways)[way] if ways else np.zeros((table.rows, 3))
    glints = np.column_stack(glint_of(table, materials))
    ovens, oven = _ovens(glints, np.flatnonzero(status == Status.OK))
    status = _held_clear(ovens, oven, glints, spans, status)
    good = np.flatnonzero(status == Status.OK)
    beam_share, clear = table["beam_share"], 1.0 - table["fog"]
    domes, dome = _domes(ovens, oven[good], spans[good], seed)
    first, beam = _different(oven[good], way[good])
    beams = [beam_of(ovens[oven[k]], ways[way[k]], rays=rays, seed=seed) for k in good[first]]
    first, row = _different(beam, dome, beam_share[good], clear[good])
    lit_row = np.full(table.rows, -1)
    lit_row[good] = row
    return Traced(
        status=status,
        ways=ways,
        way=way,
        lit=[
            lit(
                beams[beam[n]],
                mouth_area(ovens[oven[k]].optics),
                ways[way[k]],
                domes[dome[n]],
                sky,
                beam_share=beam_share[k],
                clear=clear[k],
            )._replace(way=int(way[k]))
            for n, k in zip(first, good[first], strict=True)
        ],
        lit_row=lit_row,
        exchange=_exchange(ovens, oven, glints, spans, emittances_of(table, materials), good, seed),
    )


def _spans(ways: list[Aimed]) -> Floats:
    """Least, greatest and about the middle elevation of the axis in each way of aiming, float64[way, 3]. [rad]

    The middle is rounded, so that ways that differ by a degree share their long-wave exchange.
    """
    elevations = [way.aim.elevation for way in ways]
    return np.array(
        [[e.min(), e.max(), np.round(np.median(e) / MIDDLE_STEP) * MIDDLE_STEP] for e in elevations]
    )


def _ovens(glints: Floats, built: NDArray[np.int64]) -> tuple[list[InSunlight], NDArray[np.int64]]:
    """The different ovens that designs are to light, and which of them each design is; -1 for those not built."""
    oven = np.full(len(glints), -1)
    first, oven[built] = _different(glints[built])
    return [in_sunlight(optics) for optics in optics_of(glints[built[first]])], oven


def _domes(
    ovens: list[InSunlight], oven: NDArray[np.int64], spans: Floats, seed: int
) -> tuple[list[Dome], NDArray[np.int64]]:
    """The different domes of designs, and which each has."""
    low = np.floor(spans[:, 0] / SPAN_STEP) * SPAN_STEP
    high = np.ceil(spans[:, 1] / SPAN_STEP) * SPAN_STEP
    first, row = _different(oven, low, high)
    return [dome_of(ovens[oven[k]], float(low[k]), float(high[k]), seed) for k in first], row


def _ways(
    table: Table, sky: Sky, status: NDArray[np.int64]
) -> tuple[list[Aimed], NDArray[np.int64], NDArray[np.int64]]:
    """Ways of aiming, which each design has, and the status with the impossible ones marked."""
    aimings, way = aimings_of(table)
    possible = np.array([aiming is not None for aiming in aimings])
    status = np.where((status == Status.OK) & ~possible[way], int(Status.AIMING_IMPOSSIBLE), status)
    ways = [aimed(aiming, sky) for aiming in aimings if aiming is not None]
    return ways, (np.cumsum(possible) - 1)[way], status


def _different(*columns: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First of each different row, and which of them each row is."""
    matrix = np.column_stack(columns)
    _, first, row = np.unique(matrix, axis=0, return_index=True, return_inverse=True)
    return first, row.ravel()


def _held_clear(
    ovens: list[InSunlight],
    oven: NDArray[np.int64],
    glints: Floats,
    spans: Floats,
    status: NDArray[np.int64],
) -> NDArray[np.int64]:
    """The status, with designs marked whose pot touches something at a tilt they need."""
    good = np.flatnonzero(status == Status.OK)
    shape = [Glint._fields.index(name) for name in _SHAPE]
    first, row = _different(glints[good][:, shape], spans[good, :2])
    free = [swing_of(ovens[oven[k]], float(spans[k, 0]), float(spans[k, 1])).free for k in good[first]]
    status = status.copy()
    status[good[~np.array(free, bool)[row]]] = int(Status.POT_TOUCHES_WALL)
    return status


_SHAPE = (
    *("facets", "mouth", "depth", "facet_angle", "pot_radius", "pot_height", "pot_centre"),
    *("tiers", "second_bend", "second_from", "third_bend", "third_from"),
    *("over_box", "box_across", "box_depth"),
)


def _exchange(
    ovens: list[InSunlight],
    oven: NDArray[np.int64],
    glints: Floats,
    spans: Floats,
    emittances: Floats,
    good: NDArray[np.int64],
    seed: int,
) -> Floats:
    """Long-wave exchange areas at the middle tilt of each way of aiming. float64[design, 3] [m2]"""
    shape = [Glint._fields.index(name) for name in (*_SHAPE, "wall_slope_error")]
    first, row = _different(glints[good][:, shape], emittances[good], spans[good, 2])
    areas = np.full((len(glints), 3), np.nan)
    different = [_exchange_of(ovens[oven[k]], float(spans[k, 2]), emittances[k], seed) for k in good[first]]
    if different:
        areas[good] = np.array(different)[row]
    return areas


def _exchange_of(oven: InSunlight, elevation: float, emittances: Floats, seed: int) -> Floats:
    pot, walls, plate, cover = emittances.tolist()
    areas = exchange_areas(
        oven,
        pot_up=pot_up(np.array([elevation])),
        pot_emittance=pot,
        wall_emittance=walls,
        plate_emittance=plate,
        cover_emittance=cover,
        rays=EXCHANGE_RAYS,
        seed=seed,
    )
    return np.asarray(areas[0])


class Swing(NamedTuple):
    """How near the plumb pot comes to a wall, plate or cover, and at which tilt of the funnel."""

    gap: float  # m, negative where it cuts through
    tilt: float  # rad from zenith

    @property
    def free(self) -> bool:
        """Whether the pot hangs free at every tilt."""
        return self.gap >= LEAST_CLEARANCE


def swing_of(optics: Optics | InSunlight, low: float, high: float) -> Swing:
    """The tightest of all tilts between the least and the greatest elevation of the axis."""
    settings = np.linspace(low, high, CLEARANCE_NODES)
    gap = clearance(optics, pot_up=pot_up(settings))
    tightest = int(gap.argmin())
    return Swing(float(gap[tightest]), float(np.pi / 2 - settings[tightest]))
