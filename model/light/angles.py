"""The sunbeam's shares over the angles they depend on: traced at nodes, read between them.

With the pot's axis in the plane of y and z, a share depends on three numbers alone: the tilt, and how far
the sun stands off the axis across and along it. Across, the two sides are alike. A year of aiming goes
through the same angles again and again; then a table of them is traced once and read by cubic splines.
"""

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..compiled import kernel
from .facets import Array, Ints, Optics, Surface
from .intake import beam_shares_in_runs, runs_of, sun_and_pot
from .ovens import side_by_side
from .scene import InSunlight, in_sunlight

STEPS: Final = (math.radians(15.0), math.radians(1.5), math.radians(1.5))  # tilt, and sines across and along
NODE_RAYS: Final = 64  # rays of a node for each that a row would have had
WORTH_IT: Final = 0.5  # of the rays that rows would need, those of a table that pays for the reading
LEAST_NODES: Final = 4 * 3 * 4  # of any grid
WITHIN: Final = 0.99  # of the rows the table covers, in each of the two ways off the axis; others are traced
_SURFACES: Final = len(Surface)
_WIDTH: Final = 8  # of a table's row: surfaces, and room so that the compiler takes four at once


class Grid(NamedTuple):
    """Evenly spaced nodes of tilt, sine across (from 0) and sine along, a node more at each open end."""

    start: Array  # [axis]
    step: Array  # [axis]
    counts: tuple[int, int, int]

    @property
    def size(self) -> int:
        """How many nodes there are."""
        return math.prod(self.counts)

    def nodes(self) -> tuple[Array, Array]:
        """Directions to the sun and of the pot's axis at all nodes, float64[node, xyz] each."""
        axes = [self.start[k] + self.step[k] * np.arange(self.counts[k]) for k in range(3)]
        tilt, across, along = (axis.ravel() for axis in np.meshgrid(*axes, indexing="ij"))
        suns = np.stack([across, along, np.sqrt(1.0 - across**2 - along**2)], axis=1)
        return suns, np.stack([0.0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1)


def beam_shares_of_many(
    optics: Optics, *, to_sun: ArrayLike, pot_up: ArrayLike, rays: int, seed: int = 1
) -> Array:
    """What `beam_shares` gives, from a table of angles where so many rows share them that it takes fewer rays.

    On a year of days set by hand every 10 to 50 minutes, tables at 64 rays a node for each of 32 a row gave
    day means within 0.15 % rms of a long trace, and rows within 1.4 % of the day's mean; tracing row by row
    took three to ten times as long and gave 0.3 % and 12 %.

    Parameters are those of `beam_shares`.

    Raises
    ------
    ValueError
        If an array has the wrong shape or a number is out of range.
    """
    suns, ups = sun_and_pot(to_sun, pot_up)
    one, oven = np.zeros(1, np.int64), in_sunlight(side_by_side([optics]))
    return np.asarray(beam_shares_of_ways(oven, one, one, suns[None], ups[None], rays=rays, seed=seed)[0])


def beam_shares_of_ways(
    ovens: InSunlight, oven: Ints, way: Ints, suns: Array, ups: Array, *, rays: int, seed: int
) -> Array:
    """The same for many pairs of an oven and a way of aiming it, float64[pair, row, surface]. [-]

    Parameters
    ----------
    oven, way : int64[pair]
    suns, ups : float64[way, row, xyz]
        As `sun_and_pot` gives them.
    """
    ways, rows, _ = suns.shape
    how = {"rays": rays, "seed": seed}
    plans = [_plan(suns[k], ups[k]) for k in range(ways)]
    by_table = np.array([plan is not None for plan in plans], bool)[way]
    shares = np.empty((len(oven), rows, _SURFACES))
    traced = np.flatnonzero(~by_table)
    runs = runs_of(oven[traced], way[traced], np.full(ways, rows))
    flat_suns, flat_ups = suns.reshape(-1, 3), ups.reshape(-1, 3)
    found = beam_shares_in_runs(ovens, runs, flat_suns, flat_ups, **how).reshape(-1, rows, _SURFACES)
    if not by_table.any():
        return found
    shares[traced] = found
    read = np.flatnonzero(by_table)
    shares[read] = _read_shares(ovens, oven[read], way[read], plans, suns, ups, **how)
    return shares


class Plan(NamedTuple):
    """Which rows of a way of aiming are read from a table, and from which."""

    grid: Grid
    inside: NDArray[np.bool_]  # [row]


def _plan(suns: Array, ups: Array) -> Plan | None:
    """How to read rows from a table of angles; None where to trace them costs less."""
    if WORTH_IT * len(suns) < LEAST_NODES * NODE_RAYS:
        return None
    inside = _inside(suns, ups)
    grid = _grid(suns[inside], ups[inside]) if inside.any() else None
    if grid is None or (grid.size * NODE_RAYS + np.sum(~inside)) > WORTH_IT * len(suns):
        return None
    return Plan(grid, inside)


def _read_shares(
    ovens: InSunlight,
    oven: Ints,
    way: Ints,
    plans: list[Plan | None],
    suns: Array,
    ups: Array,
    *,
    rays: int,
    seed: int,
) -> Array:
    """Shares of pairs whose ways have a plan, float64[pair, row, surface]."""
    used = {k: plan for k in np.unique(way).tolist() if (plan := plans[k]) is not None}
    group = np.searchsorted(list(used), way)
    nodes = [plan.grid.nodes() for plan in used.values()]
    at_nodes = _traced(ovens, oven, group, nodes, rays=NODE_RAYS * rays, seed=seed)
    apart = [(suns[k, ~plan.inside], ups[k, ~plan.inside]) for k, plan in used.items()]
    far_off = _traced(ovens, oven, group, apart, rays=rays, seed=seed)
    shares = np.empty((len(oven), suns.shape[1], _SURFACES))
    for pair, k in enumerate(way.tolist()):
        grid, inside = used[k]
        shares[pair, inside] = read(grid, at_nodes[pair], suns[k, inside], ups[k, inside])
        shares[pair, ~inside] = far_off[pair]
    return shares


def _traced(
    ovens: InSunlight, oven: Ints, group: Ints, rows: list[tuple[Array, Array]], *, rays: int, seed: int
) -> list[Array]:
    """Shares of each oven over its group of rows, float64[row, surface] each."""
    suns, ups = (np.concatenate(part) for part in zip(*rows, strict=True))
    runs = runs_of(oven, group, [len(part) for part, _ in rows])
    shares = beam_shares_in_runs(ovens, runs, *sun_and_pot(suns, ups), rays=rays, seed=seed)
    return np.split(shares, np.cumsum(runs.rows)[:-1])


def _inside(suns: Array, ups: Array) -> NDArray[np.bool_]:
    """Whether each row is one of the many that stand near each other. bool[row]"""
    ahead: NDArray[np.bool_] = (suns[:, 2] > 0.0) & (ups[:, 0] == 0.0)
    if not ahead.any():
        return ahead
    across, along = np.abs(suns[:, 0]), suns[:, 1]
    beyond = 0.5 * (1.0 - WITHIN)
    widest = np.quantile(across[ahead], WITHIN)
    low, high = np.quantile(along[ahead], [beyond, 1.0 - beyond])
    return np.asarray(ahead & (across <= widest) & (along >= low) & (along <= high))


def _grid(suns: Array, ups: Array) -> Grid | None:
    """The grid that covers some rows; None where its outer nodes would lie behind the mouth."""
    tilt, across, along = _coordinates(suns, ups).T
    step = np.array(STEPS)
    start = np.array([tilt.min(), 0.0, along.min()]) - step * [1.0, 0.0, 1.0]
    ends = np.array([tilt.max(), across.max(), along.max()])
    count = ((ends - start) / step).astype(int) + 3  # two nodes beyond the last that is passed
    corner = start + step * (count - 1)
    if corner[1] ** 2 + max(abs(start[2]), abs(corner[2])) ** 2 >= 1.0:
        return None
    return Grid(start, step, (int(count[0]), int(count[1]), int(count[2])))


def _coordinates(suns: Array, ups: Array) -> Array:
    """Tilt of the oven and sines of the sun off its axis, across without its side, float64[row, axis]."""
    return np.stack([np.arctan2(ups[:, 1], ups[:, 2]), np.abs(suns[:, 0]), suns[:, 1]], axis=1)


def read(grid: Grid, traced: Array, suns: Array, ups: Array) -> Array:
    """Shares at rows within a grid from those at its nodes, float64[row, surface]; each row sums to 1."""
    table = traced.reshape(*grid.counts, _SURFACES)
    for axis, count in enumerate(grid.counts):
        inverse = np.linalg.inv(_spline_matrix(count))
        table = np.moveaxis(np.tensordot(inverse, table, axes=(1, axis)), 0, axis)
    padded = np.zeros((*grid.counts, _WIDTH))
    padded[..., :_SURFACES] = table
    shares = np.zeros((len(suns), _WIDTH))
    _read_kernel(padded, (_coordinates(suns, ups) - grid.start) / grid.step, shares)
    shares = np.maximum(
        shares[:, :_SURFACES], 0.0
    )  # a spline may swing below nothing by the scatter of its nodes
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def _spline_matrix(count: int) -> Array:
    """From the weights of uniform cubic B-splines to values at the nodes, mirrored about both end nodes.

    Source
    ------
    Unser, "Splines: a perfect fit for signal and image processing", IEEE Signal Processing Magazine 16(6),
    1999, 22-38: values are (1, 4, 1) / 6 of neighbouring weights.
    """
    matrix = np.eye(count) * 4.0 + np.eye(count, k=1) + np.eye(count, k=-1)
    matrix[0, 1] += 1.0
    matrix[-1, -2] += 1.0
    return matrix / 6.0


@kernel
def _weights(part: float) -> tuple[float, float, float, float]:
    """Cubic B-spline weights of the four nodes around a place, `part` of the way from the second to the third."""
    rest = 1.0 - part
    second = 2.0 / 3.0 - part * part * (1.0 - 0.5 * part)
    third = 2.0 / 3.0 - rest * rest * (1.0 - 0.5 * rest)
    return rest * rest * rest / 6.0, second, third, part * part * part / 6.0


@kernel
def _read_kernel(table: Array, place: Array, shares: Array) -> None:
    """Tensor product of cubic splines at every row; the middle axis is mirrored at 0."""
    tilts, acrosses, alongs, _ = table.shape
    for row in range(place.shape[0]):
        i = min(max(int(place[row, 0]), 1), tilts - 3)
        j = min(int(place[row, 1]), acrosses - 3)
        k = min(max(int(place[row, 2]), 1), alongs - 3)
        in_tilt, across = _weights(place[row, 0] - i), _weights(place[row, 1] - j)
        along = _weights(place[row, 2] - k)
        for a in range(4):
            for b in range(4):
                plane, pair = table[i - 1 + a, abs(j - 1 + b), k - 1 : k + 3], in_tilt[a] * across[b]
                for s in range(_WIDTH):
                    shares[row, s] += pair * (
                        along[0] * plane[0, s]
                        + along[1] * plane[1, s]
                        + along[2] * plane[2, s]
                        + along[3] * plane[3, s]
                    )
