"""The march of all lanes through their days, a block of lanes at a time."""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import inlined, kernel
from ..status import Status
from . import water
from .nodes import Array, Fabric, Indices, PerNode
from .stepping import advance, along
from .workspace import (
    BLOCK,
    BOOK,
    BUILD,
    CORE,
    END,
    EXPECTED,
    FLOW,
    FLOWS,
    FORCING,
    MEAN,
    NODES,
    NOW,
    PEAK,
    ROWS,
    STORED,
    SUDDEN,
    SUN,
    WATER,
    build_at,
    forcing_at,
    nodes_at,
    put_nodes,
)

OK, NOT_FINITE = int(Status.OK), int(Status.NOT_FINITE)
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
        w[BUILD + field, j] = properties[field, lane]
    build = build_at(w, j)
    for node in range(NODES):
        start = build.contents_start if node <= CORE else outside.start[day]
        w[NOW + node, j] = start
        w[EXPECTED + node, j] = start
        w[PEAK + node, j] = start
    for flow in range(FLOWS):
        w[FLOW + flow, j] = 0.0
    w[WATER, j] = build.water_mass
    w[MEAN, j] = build.contents_start


@inlined
def _feel(w: Array, outside: Outside, intake: Array, lane: int, day: int, track: int, n: int, j: int) -> bool:
    """Load what one lane feels during step `n`; whether the sun came or went suddenly."""
    before = w[SUN, j] + w[SUN + 1, j] + w[SUN + 2, j]
    for k in range(7):
        w[FORCING + k, j] = outside.weather[day, n, k]
    for k in range(4):
        w[FORCING + 7 + k, j] = outside.aim[track, n, k]
    for k in range(3):
        w[SUN + k, j] = intake[lane, n, k]
    now = w[SUN, j] + w[SUN + 1, j] + w[SUN + 2, j]
    sudden = n == 0 or abs(now - before) > _SUDDENLY * max(now, before)
    w[SUDDEN, j] = 1.0 if sudden else 0.0
    return sudden


@inlined
def _try_block(w: Array, step: float) -> None:
    """Where one step leads with the conductances expected."""
    for j in range(BLOCK):
        start = nodes_at(w, NOW, j)
        expected = nodes_at(w, EXPECTED, j)
        end, book = advance(build_at(w, j), start, expected, w[WATER, j], forcing_at(w, j), step)
        put_nodes(w, END, j, end)
        w[BOOK, j] = book.pot
        w[BOOK + 1, j] = book.sheet
        w[BOOK + 2, j] = book.cover
        w[BOOK + 3, j] = book.cover_convection
        w[BOOK + 4, j] = book.cover_radiation
        w[BOOK + 5, j] = book.shell_convection
        w[BOOK + 6, j] = book.shell_radiation
        w[BOOK + 7, j] = book.leak
        w[BOOK + 8, j] = book.steam
        w[BOOK + 9, j] = book.water


@inlined
def _expect_block(w: Array) -> None:
    """For lanes whose sun changed suddenly, expect the middle of the step just tried."""
    for j in range(BLOCK):
        middle = along(nodes_at(w, NOW, j), nodes_at(w, END, j), 0.5)
        put_nodes(w, EXPECTED, j, along(nodes_at(w, EXPECTED, j), middle, w[SUDDEN, j]))


@inlined
def _keep_block(w: Array) -> None:
    """Take the step just tried, and expect the next to go on like it."""
    for j in range(BLOCK):
        end = nodes_at(w, END, j)
        put_nodes(w, EXPECTED, j, along(nodes_at(w, NOW, j), end, 1.5))
        put_nodes(w, NOW, j, end)
        w[WATER, j] = w[BOOK + 9, j]
        w[MEAN, j] = _mean_contents(build_at(w, j), end, w[WATER, j])
    for flow in range(STORED):
        for j in range(BLOCK):
            w[FLOW + flow, j] += w[BOOK + flow, j]
    for node in range(NODES):
        for j in range(BLOCK):
            w[PEAK + node, j] = max(w[PEAK + node, j], w[NOW + node, j])


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
    out.core[lane, n] = w[NOW + CORE, j]
    out.mean[lane, n] = w[MEAN, j]
    if len(out.temperatures):
        for node in range(NODES):
            out.temperatures[lane, n, node] = w[NOW + node, j]
        out.water[lane, n] = w[WATER, j]


@inlined
def _write_end(w: Array, out: Histories, start: float, lane: int, j: int) -> None:
    """Keep the sums of one lane."""
    end = nodes_at(w, NOW, j)
    sound = 0.0
    for node in range(NODES):
        out.end[lane, node] = w[NOW + node, j]
        out.peak[lane, node] = w[PEAK + node, j]
        sound += w[NOW + node, j] + w[PEAK + node, j]
    for flow in range(FLOWS):
        out.flows[lane, flow] = w[FLOW + flow, j]
    out.flows[lane, STORED] = _stored(build_at(w, j), start, end, w[WATER, j])
    out.end_water[lane] = w[WATER, j]
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
    w = np.zeros((ROWS, BLOCK))
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
