"""Where an oven would settle if the day stood still."""

import math
from typing import NamedTuple

import numpy as np

from ..compiled import inlined, kernel
from ..status import Status
from .balance import Boiling, factor, solve
from .door import aim_terms, stacked
from .links import links_at
from .nodes import Array, Build, Fabric, Forcing, Indices, PerNode
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
def _round(build: Fabric[float], t: PerNode, forcing: Forcing) -> tuple[PerNode, float]:
    """One steady balance with the conductances at `t`."""
    links = links_at(build, t, forcing)
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
        f = forcings[:, lane]
        forcing = Forcing(f[0], f[1], 0.0, 0.0, f[2], f[3], f[4], f[5], f[6], f[7], f[8], f[9], f[10], f[11])
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
    forcings = np.empty((12, lanes))
    for row, values in enumerate((air_temperature, sky_temperature, wind_speed, pressure, vapour_pressure)):
        forcings[row] = values
    forcings[5:9] = aim_terms(np.broadcast_to(np.asarray(tilt, dtype=np.float64), (lanes,))).T
    forcings[9:] = intake.T
    out = Plateau(
        temperatures=np.empty((lanes, NODES)),
        steam=np.empty(lanes),
        change=np.empty(lanes),
        status=np.empty(lanes, dtype=np.int64),
    )
    _settle(stacked(build, lanes), forcings, out)
    return out
