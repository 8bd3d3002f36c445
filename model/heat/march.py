"""The march of all lanes through their days, a block of lanes at a time.

Each lane of a block walks by its own clock: where its temperatures bend - the sun comes or goes, water
begins to boil or ends - it takes shorter steps while its neighbours stride on, and a lane that has come
to its evening makes room for the next one. What becomes of a lane does not depend on its neighbours.
"""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import inlined, kernel
from ..status import Status
from . import water
from .nodes import Array, Fabric, Indices, PerNode
from .pace import CAREFUL, settle, walk_block
from .ratios import Aim, aim_of, ratios_of
from .workspace import (
    AIM,
    BLOCK,
    BUILD,
    CORE,
    EXPECTED,
    FLOW,
    FLOWS,
    FORCING,
    MEAN,
    NODES,
    NOW,
    PEAK,
    PLACE,
    ROWS,
    SHARE,
    STORED,
    SUN,
    WATER,
    build_at,
    nodes_at,
    put_ratios,
)

OK, NOT_FINITE = int(Status.OK), int(Status.NOT_FINITE)
AIMS = len(Aim._fields)


class Outside(NamedTuple):
    """Weather at the edges of the steps, and the tilt during each; as in `Weather`."""

    air: Array  # float64[day, step + 1]   [K]
    sky: Array  # float64[day, step + 1]   [K]
    wind: Array  # float64[day, step + 1]   [m/s]
    pressure: Array  # float64[day, step + 1]   [Pa]
    vapour: Array  # float64[day, step + 1]   [Pa]
    tilt: Array  # float64[track, step]   [rad]


class Lanes(NamedTuple):
    """What each lane is, stands under, is aimed by and takes in."""

    properties: Array  # float64[field, lane]; `Build`, stacked
    day: Indices  # int64[lane]
    track: Indices  # int64[lane]
    intake: Array  # float64[lane, step, 3]   [W]
    oven_start: Array  # float64[lane, 7]   [K]; from the pot on, in the order of `Node`


class Histories(NamedTuple):
    """What became of every lane."""

    core: Array  # float64[lane, step + 1]   [K] coldest shell of the contents
    mean: Array  # float64[lane, step + 1]   [K] contents, weighted by capacity
    end: Array  # float64[lane, node]   [K] at the last instant
    peak: Array  # float64[lane, node]   [K] highest at any instant, or between two where steps were cut
    end_water: Array  # float64[lane]   [kg]
    flows: Array  # float64[lane, flow]   [J]; see `Flow`
    status: Indices  # int64[lane]; see `Status`
    temperatures: Array  # float64[lane, step + 1, node]   [K]; no lanes unless recorded
    water: Array  # float64[lane, step + 1]   [kg]; no lanes unless recorded


@inlined
def _begin(w: Array, lanes: Lanes, outside: Outside, lane: int, j: int) -> None:
    """Load one lane into its column, at its starting temperatures."""
    for field in range(len(lanes.properties)):
        w[BUILD + field, j] = lanes.properties[field, lane]
    build = build_at(w, j)
    put_ratios(w, j, ratios_of(build))
    for node in range(NODES):
        start = build.contents_start if node <= CORE else lanes.oven_start[lane, node - CORE - 1]
        w[NOW + node, j] = start
        w[EXPECTED + node, j] = start
        w[PEAK + node, j] = start
    for flow in range(FLOWS):
        w[FLOW + flow, j] = 0.0
    w[WATER, j] = build.water_mass
    w[MEAN, j] = build.contents_start
    w[PLACE, j] = 0.0
    w[SHARE, j] = CAREFUL


@inlined
def _aims(tilt: Array) -> Array:
    """Trigonometry of every tilt, float64[track, step, aim]; a tilt that is held is not worked out again."""
    aims = np.empty((*tilt.shape, AIMS))
    for track in range(tilt.shape[0]):
        for n in range(tilt.shape[1]):
            if n and tilt[track, n] == tilt[track, n - 1]:
                aims[track, n] = aims[track, n - 1]
                continue
            for k, number in enumerate(aim_of(tilt[track, n])):
                aims[track, n, k] = number
    return aims


@inlined
def _feel(w: Array, lanes: Lanes, outside: Outside, aims: Array, lane: int, n: int, j: int) -> None:
    """Load what one lane feels during step `n`."""
    day, track = lanes.day[lane], lanes.track[lane]
    w[FORCING, j] = 0.5 * (outside.air[day, n] + outside.air[day, n + 1])
    w[FORCING + 1, j] = 0.5 * (outside.sky[day, n] + outside.sky[day, n + 1])
    w[FORCING + 2, j] = outside.air[day, n + 1] - outside.air[day, n]
    w[FORCING + 3, j] = outside.sky[day, n + 1] - outside.sky[day, n]
    w[FORCING + 4, j] = 0.5 * (outside.wind[day, n] + outside.wind[day, n + 1])
    w[FORCING + 5, j] = 0.5 * (outside.pressure[day, n] + outside.pressure[day, n + 1])
    w[FORCING + 6, j] = 0.5 * (outside.vapour[day, n] + outside.vapour[day, n + 1])
    for k in range(AIMS):
        w[AIM + k, j] = aims[track, n, k]
    for k in range(3):
        w[SUN + k, j] = lanes.intake[lane, n, k]


@inlined
def _stored(build: Fabric[float], start: Array, end: PerNode, water_mass: float) -> float:
    """Heat in the network at its end above its start [J], with the water that is left."""
    third = build.solid_capacity / 3.0
    contents = third * (end.middle - build.contents_start + end.core - build.contents_start)
    contents += (third + water_mass * water.SPECIFIC_HEAT) * (end.outer - build.contents_start)
    cover = 0.5 * build.cover_capacity * (end.cover_inner - start[5] + end.cover_outer - start[6])
    return float(
        contents
        + cover
        + build.pot_capacity * (end.pot - start[0])
        + build.air_capacity * (end.air - start[1])
        + build.sheet_capacity * (end.sheet - start[2])
        + build.insulation_capacity * (end.insulation - start[3])
        + build.shell_capacity * (end.shell - start[4])
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
def _write_end(w: Array, out: Histories, start: Array, lane: int, j: int) -> None:
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


@inlined
def _start(w: Array, lanes: Lanes, outside: Outside, aims: Array, out: Histories, lane: int, j: int) -> None:
    """The first instant of one lane."""
    _begin(w, lanes, outside, lane, j)
    _write_instant(w, out, lane, 0, j)
    _feel(w, lanes, outside, aims, lane, 0, j)


@kernel
def march(lanes: Lanes, outside: Outside, step: float, out: Histories) -> None:
    """Run all lanes and fill `out`.

    Parameters
    ----------
    lanes : Lanes
    outside : Outside
    step : float   [s]
    out : Histories
    """
    w = np.zeros((ROWS, BLOCK))
    count, steps = lanes.intake.shape[0], lanes.intake.shape[1]
    if count == 0:
        return
    aims = _aims(outside.tilt)
    held = np.empty(BLOCK, np.int64)  # lane in each column
    at = np.zeros(BLOCK, np.int64)  # step it is in
    for j in range(BLOCK):
        held[j] = min(j, count - 1)  # idle columns repeat the last lane, to its last bit
        _start(w, lanes, outside, aims, out, held[j], j)
    coming, walking = min(BLOCK, count), BLOCK
    while walking:
        walk_block(w, step)
        for j in range(BLOCK):
            if not settle(w, j):
                continue
            at[j] += 1
            if at[j] > steps:  # its day is over and none is left: it stays as it is
                continue
            _write_instant(w, out, held[j], at[j], j)
            if at[j] < steps:
                _feel(w, lanes, outside, aims, held[j], at[j], j)
                continue
            _write_end(w, out, lanes.oven_start[held[j]], held[j], j)
            if coming == count:
                walking -= 1
                continue
            held[j], at[j] = coming, 0
            coming += 1
            _start(w, lanes, outside, aims, out, held[j], j)
