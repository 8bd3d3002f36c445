"""The march of all lanes through their days, a block of lanes at a time.

One small array holds all that a block works with, a row for each quantity and a column for
each lane, so that the compiler can see that the columns do not touch.
"""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import inlined, kernel
from ..status import Status
from . import water
from .nodes import Array, Fabric, Flow, Forcing, Indices, Node, PerNode
from .stepping import advance, along

# Lanes go through a step side by side, and the compiler turns the loop over them into vector
# instructions only where it knows its length (measured: 4 times as fast). Without the compiler
# there is nothing to gain from idle lanes that fill up a block.
BLOCK = 32 if hasattr(advance, "py_func") else 1

NODES = len(Node)
FLOWS = len(Flow)
CORE = int(Node.CORE)
STORED = int(Flow.STORED)
OK, NOT_FINITE = int(Status.OK), int(Status.NOT_FINITE)

# First row of each group in the workspace.
_BUILD = 0
_NOW = _BUILD + len(Fabric._fields)
_EXPECTED = _NOW + NODES
_PEAK = _EXPECTED + NODES
_FORCING = _PEAK + NODES
_SUN = _FORCING + 11
_FLOW = _FORCING + len(Forcing._fields)
_END = _FLOW + FLOWS
_BOOK = _END + NODES
_WATER = _BOOK + FLOWS
_MEAN = _WATER + 1
_SUDDEN = _MEAN + 1
_ROWS = _SUDDEN + 1

_SUDDENLY = 0.1  # change of the sun from step to step, as a share of the larger


class Outside(NamedTuple):
    """What weather and aiming bring to each step, packed so that a lane reads one place."""

    weather: Array  # float64[day, step, 7]: the first seven of `Forcing`
    aim: Array  # float64[track, step, 4]: the next four
    start: Array  # float64[day]   [K] air at the first instant


class Histories(NamedTuple):
    """What became of every lane."""

    core: Array  # float64[lane, step + 1]   [K] coldest shell of the contents
    mean: Array  # float64[lane, step + 1]   [K] contents, weighted by capacity
    end: Array  # float64[lane, node]   [K] at the last instant
    peak: Array  # float64[lane, node]   [K] highest at any instant
    end_water: Array  # float64[lane]   [kg]
    flows: Array  # float64[lane, flow]   [J]; see `Flow`
    status: Indices  # int64[lane]; see `Status`
    temperatures: Array  # float64[lane, step + 1, node]   [K]; no lanes unless recorded
    water: Array  # float64[lane, step + 1]   [kg]; no lanes unless recorded


@inlined
def build_at(w: Array, j: int) -> Fabric[float]:
    """Properties of one lane, in the order of `Build`."""
    return Fabric(
        w[0, j], w[1, j], w[2, j], w[3, j], w[4, j], w[5, j], w[6, j], w[7, j], w[8, j], w[9, j], w[10, j],
        w[11, j], w[12, j], w[13, j], w[14, j], w[15, j], w[16, j], w[17, j], w[18, j], w[19, j], w[20, j],
        w[21, j], w[22, j], w[23, j], w[24, j], w[25, j], w[26, j], w[27, j], w[28, j], w[29, j], w[30, j],
        w[31, j], w[32, j], w[33, j], w[34, j],
    )  # fmt: skip


@inlined
def forcing_at(w: Array, j: int) -> Forcing:
    """What one lane feels, in the order of `Forcing`."""
    k = _FORCING
    return Forcing(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j], w[k + 10, j], w[k + 11, j], w[k + 12, j], w[k + 13, j],
    )  # fmt: skip


@inlined
def nodes_at(w: Array, k: int, j: int) -> PerNode:
    """Ten rows from row `k` on, for one lane."""
    return PerNode(
        w[k, j], w[k + 1, j], w[k + 2, j], w[k + 3, j], w[k + 4, j], w[k + 5, j], w[k + 6, j], w[k + 7, j],
        w[k + 8, j], w[k + 9, j],
    )  # fmt: skip


@inlined
def put_nodes(w: Array, k: int, j: int, t: PerNode) -> None:
    """The reverse of `nodes_at`."""
    w[k, j] = t.outer
    w[k + 1, j] = t.middle
    w[k + 2, j] = t.core
    w[k + 3, j] = t.pot
    w[k + 4, j] = t.air
    w[k + 5, j] = t.sheet
    w[k + 6, j] = t.insulation
    w[k + 7, j] = t.shell
    w[k + 8, j] = t.cover_inner
    w[k + 9, j] = t.cover_outer


@inlined
def _mean_contents(build: Fabric[float], t: PerNode, water_mass: float) -> float:
    """Temperature of the contents, weighted by capacity. [K]"""
    solid = build.solid_capacity
    total = solid + water_mass * water.SPECIFIC_HEAT
    inner = (t.middle - t.outer) + (t.core - t.outer)
    return t.outer + solid * inner / (3.0 * max(total, 1e-12))


@inlined
def _begin(w: Array, properties: Array, outside: Outside, lane: int, day: int, j: int) -> None:
    """Load one lane into its column, at its starting temperatures."""
    for field in range(len(properties)):
        w[_BUILD + field, j] = properties[field, lane]
    build = build_at(w, j)
    for node in range(NODES):
        start = build.contents_start if node <= CORE else outside.start[day]
        w[_NOW + node, j] = start
        w[_EXPECTED + node, j] = start
        w[_PEAK + node, j] = start
    for flow in range(FLOWS):
        w[_FLOW + flow, j] = 0.0
    w[_WATER, j] = build.water_mass
    w[_MEAN, j] = build.contents_start


@inlined
def _feel(w: Array, outside: Outside, intake: Array, lane: int, day: int, track: int, n: int, j: int) -> bool:
    """Load what one lane feels during step `n`; whether the sun came or went suddenly."""
    before = w[_SUN, j] + w[_SUN + 1, j] + w[_SUN + 2, j]
    for k in range(7):
        w[_FORCING + k, j] = outside.weather[day, n, k]
    for k in range(4):
        w[_FORCING + 7 + k, j] = outside.aim[track, n, k]
    for k in range(3):
        w[_SUN + k, j] = intake[lane, n, k]
    now = w[_SUN, j] + w[_SUN + 1, j] + w[_SUN + 2, j]
    sudden = n == 0 or abs(now - before) > _SUDDENLY * max(now, before)
    w[_SUDDEN, j] = 1.0 if sudden else 0.0
    return sudden


@inlined
def _try_block(w: Array, step: float) -> None:
    """Where one step leads with the conductances expected."""
    for j in range(BLOCK):
        start = nodes_at(w, _NOW, j)
        expected = nodes_at(w, _EXPECTED, j)
        end, book = advance(build_at(w, j), start, expected, w[_WATER, j], forcing_at(w, j), step)
        put_nodes(w, _END, j, end)
        w[_BOOK, j] = book.pot
        w[_BOOK + 1, j] = book.sheet
        w[_BOOK + 2, j] = book.cover
        w[_BOOK + 3, j] = book.cover_convection
        w[_BOOK + 4, j] = book.cover_radiation
        w[_BOOK + 5, j] = book.shell_convection
        w[_BOOK + 6, j] = book.shell_radiation
        w[_BOOK + 7, j] = book.leak
        w[_BOOK + 8, j] = book.steam
        w[_BOOK + 9, j] = book.water


@inlined
def _expect_block(w: Array) -> None:
    """For lanes whose sun changed suddenly, expect the middle of the step just tried."""
    for j in range(BLOCK):
        middle = along(nodes_at(w, _NOW, j), nodes_at(w, _END, j), 0.5)
        put_nodes(w, _EXPECTED, j, along(nodes_at(w, _EXPECTED, j), middle, w[_SUDDEN, j]))


@inlined
def _keep_block(w: Array) -> None:
    """Take the step just tried, and expect the next to go on like it."""
    for j in range(BLOCK):
        end = nodes_at(w, _END, j)
        put_nodes(w, _EXPECTED, j, along(nodes_at(w, _NOW, j), end, 1.5))
        put_nodes(w, _NOW, j, end)
        w[_WATER, j] = w[_BOOK + 9, j]
        w[_MEAN, j] = _mean_contents(build_at(w, j), end, w[_WATER, j])
    for flow in range(STORED):
        for j in range(BLOCK):
            w[_FLOW + flow, j] += w[_BOOK + flow, j]
    for node in range(NODES):
        for j in range(BLOCK):
            w[_PEAK + node, j] = max(w[_PEAK + node, j], w[_NOW + node, j])


@inlined
def _stored(build: Fabric[float], start: float, end: PerNode, water_mass: float) -> float:
    """Heat in the network at its end above its start [J], with the water that is left."""
    third = build.solid_capacity / 3.0
    contents = third * (end.middle - build.contents_start + end.core - build.contents_start)
    contents += (third + water_mass * water.SPECIFIC_HEAT) * (end.outer - build.contents_start)
    cover = 0.5 * build.cover_capacity * (end.cover_inner - start + end.cover_outer - start)
    return (
        contents
        + cover
        + build.pot_capacity * (end.pot - start)
        + build.air_capacity * (end.air - start)
        + build.sheet_capacity * (end.sheet - start)
        + build.insulation_capacity * (end.insulation - start)
        + build.shell_capacity * (end.shell - start)
    )


@inlined
def _write_instant(w: Array, out: Histories, lane: int, n: int, j: int) -> None:
    """Keep one instant of one lane."""
    out.core[lane, n] = w[_NOW + CORE, j]
    out.mean[lane, n] = w[_MEAN, j]
    if len(out.temperatures):
        for node in range(NODES):
            out.temperatures[lane, n, node] = w[_NOW + node, j]
        out.water[lane, n] = w[_WATER, j]


@inlined
def _write_end(w: Array, out: Histories, start: float, lane: int, j: int) -> None:
    """Keep the sums of one lane."""
    end = nodes_at(w, _NOW, j)
    sound = 0.0
    for node in range(NODES):
        out.end[lane, node] = w[_NOW + node, j]
        out.peak[lane, node] = w[_PEAK + node, j]
        sound += w[_NOW + node, j] + w[_PEAK + node, j]
    for flow in range(FLOWS):
        out.flows[lane, flow] = w[_FLOW + flow, j]
    out.flows[lane, STORED] = _stored(build_at(w, j), start, end, w[_WATER, j])
    out.end_water[lane] = w[_WATER, j]
    out.status[lane] = OK if math.isfinite(sound) else NOT_FINITE


@kernel
def march(
    properties: Array,
    outside: Outside,
    lane_day: Indices,
    lane_track: Indices,
    intake: Array,
    step: float,
    out: Histories,
) -> None:
    """Run all lanes and fill `out`.

    Parameters
    ----------
    properties : float64[field, lane]
        `Build`, stacked.
    outside : Outside
    lane_day, lane_track : int64[lane]
    intake : float64[lane, step, 3]   [W]
    step : float   [s]
    out : Histories
    """
    w = np.zeros((_ROWS, BLOCK))
    lanes, steps = intake.shape[0], intake.shape[1]
    for first in range(0, lanes, BLOCK):
        for j in range(BLOCK):
            lane = min(first + j, lanes - 1)  # idle columns repeat the last lane
            _begin(w, properties, outside, lane, lane_day[lane], j)
        used = min(BLOCK, lanes - first)
        for j in range(used):
            _write_instant(w, out, first + j, 0, j)
        for n in range(steps):
            tries = 1
            for j in range(BLOCK):
                lane = min(first + j, lanes - 1)
                if _feel(w, outside, intake, lane, lane_day[lane], lane_track[lane], n, j):
                    tries = 2
            for attempt in range(tries):
                if attempt:
                    _expect_block(w)
                _try_block(w, step)
            _keep_block(w)
            for j in range(used):
                _write_instant(w, out, first + j, n + 1, j)
        for j in range(used):
            _write_end(w, out, outside.start[lane_day[first + j]], first + j, j)
