"""Where an oven would settle if the day stood still."""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import inlined, kernel
from ..status import Status
from .balance import Boiling, factor, solve
from .door import stacked
from .links import links_at
from .nodes import Array, Build, Fabric, Forcing, Indices, PerNode
from .ratios import aim_of, ratios_of
from .stepping import along, rates, sources
from .workspace import NODES, build_at, nodes_at, put_nodes

_FOREVER = 1e12  # s; capacities no longer count
_ROUNDS = 400
_SETTLED = 1e-9  # K between two rounds
_DAMPING = 0.7  # of each change: links that stiffen with temperature overshoot, but by less than this cures
_OK, _NOT_FINITE = int(Status.OK), int(Status.NOT_FINITE)


class Plateau(NamedTuple):
    """Steady state of every lane."""

    temperatures: Array  # float64[lane, node]   [K]
    steam: Array  # float64[lane]   [W] heat that leaves as steam, while there is water
    change: Array  # float64[lane]   [K] largest change in the last round
    status: Indices  # int64[lane]; see `Status`


@inlined
def _still(f: Array) -> Forcing:
    """What one lane feels for ever: air, sky, wind, pressure, vapour, tilt, then the sun on three."""
    aim = aim_of(f[5])
    return Forcing(
        air=f[0],
        sky=f[1],
        air_change=0.0,
        sky_change=0.0,
        wind=f[2],
        pressure=f[3],
        vapour=f[4],
        cosine=aim.cosine,
        sine_sixth=aim.sine_sixth,
        cosine_third=aim.cosine_third,
        cosine_fourth=aim.cosine_fourth,
        layer_cosine=aim.layer_cosine,
        obliquity=aim.obliquity,
        pot=f[6],
        sheet=f[7],
        cover=f[8],
    )


@inlined
def _round(build: Fabric[float], t: PerNode, forcing: Forcing) -> tuple[PerNode, float]:
    """One steady balance with the conductances at `t`."""
    links = links_at(build, ratios_of(build), t, forcing)
    f = factor(build, links, rates(build, build.water_mass, _FOREVER))
    boiling = Boiling(
        temperature=build.boiling_temperature,
        vent_heat=links.vent_heat,
        vent_temperature=min(t.outer, build.boiling_temperature),
        limit=math.inf if build.water_mass > 0.0 else 0.0,
    )
    return solve(f, t, sources(links, forcing, 0.0), boiling)


@kernel
def _settle(properties: Array, forcings: Array, out: Plateau) -> None:
    """Repeat the balance of each lane until it stands still."""
    t = np.empty((NODES, 1))
    for lane in range(properties.shape[1]):
        build = build_at(properties, lane)
        forcing = _still(forcings[:, lane])
        t[:] = forcing.air + 1.0
        steam, change, rounds = 0.0, math.inf, 0
        while change > _SETTLED and rounds < _ROUNDS:
            now = nodes_at(t, 0, 0)
            found, steam = _round(build, now, forcing)
            put_nodes(t, 0, 0, along(now, found, _DAMPING))
            change, rounds = 0.0, rounds + 1
            for node in range(NODES):
                change = max(change, abs(t[node, 0] - now[node]))
        out.temperatures[lane] = t[:, 0]
        out.steam[lane] = steam
        out.change[lane] = change
        out.status[lane] = _OK if math.isfinite(np.sum(t)) else _NOT_FINITE


def plateau(
    build: Build,
    *,
    air_temperature: float | Array,
    sky_temperature: float | Array,
    wind_speed: float | Array,
    pressure: float | Array,
    tilt: float | Array,
    intake: Array,
    vapour_pressure: float | Array = 0.0,
) -> Plateau:
    """Temperatures at which every lane settles under constant sun and weather.

    The balance of one step of endless length is repeated with the conductances of the last
    result (successive substitution, damped). A lane with water boils on and does not run dry:
    for the dry plateau set `water_mass` to zero.

    Parameters
    ----------
    build : Build of float64[lane]
    air_temperature, sky_temperature, wind_speed, pressure, tilt, vapour_pressure : float | float64[lane]
        [K], [K], [m/s], [Pa], [rad] from zenith, [Pa]
    intake : float64[lane, 3]   [W]
        Absorbed by pot, sheet and cover.

    Returns
    -------
    plateau : Plateau
        `change` above 1e-9 K means that a lane had not settled in 400 rounds.
    """
    intake = np.asarray(intake, dtype=np.float64)
    if intake.ndim != 2 or intake.shape[1] != 3:
        raise ValueError(f"intake has shape {intake.shape}, needed (lane, 3)")
    lanes = len(intake)
    forcings = np.empty((9, lanes))
    outside = (air_temperature, sky_temperature, wind_speed, pressure, vapour_pressure, tilt)
    for row, values in zip(forcings, outside, strict=False):
        row[:] = values
    forcings[6:] = intake.T
    out = Plateau(
        temperatures=np.empty((lanes, NODES)),
        steam=np.empty(lanes),
        change=np.empty(lanes),
        status=np.empty(lanes, dtype=np.int64),
    )
    _settle(stacked(build, lanes), forcings, out)
    return out
