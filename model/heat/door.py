"""The door of the heat package: shapes are checked here, once."""

import numpy as np

from .march import Histories, Lanes, Outside, march
from .nodes import Array, Build, Indices, Weather
from .workspace import CORE, FLOWS, NODES

OVEN = NODES - CORE - 1  # nodes that are no contents


def run(
    build: Build,
    weather: Weather,
    lane_day: Indices,
    intake: Array,
    *,
    lane_track: Indices | None = None,
    oven_start: Array | None = None,
    step: float = 60.0,
    record: bool = False,
) -> Histories:
    """Temperatures and energy books of all lanes.

    Parameters
    ----------
    build : Build of float64[lane]
        A scalar stands for all lanes.
    weather : Weather
    lane_day : int64[lane]
        Row of the weather a lane stands under.
    intake : float64[lane, step, 3]   [W]
        Absorbed by pot, sheet (walls and plate) and cover, mean of each step.
    lane_track : int64[lane], optional
        Row of `weather.tilt` a lane is aimed by; the same as `lane_day` if left out.
    oven_start : float64[lane, 7], optional   [K]
        Pot, air, sheet, insulation, shell, cover inner and outer face at the first instant; as warm as the air
        outside if left out. The contents start at `build.contents_start`.
    step : float   [s]
    record : bool
        Keep all node temperatures and the water at every instant too.

    Returns
    -------
    histories : Histories

    Raises
    ------
    ValueError
        Arrays that do not fit together, with both shapes.
    """
    intake = np.ascontiguousarray(intake, dtype=np.float64)
    if intake.ndim != 3 or intake.shape[1] < 1 or intake.shape[2] != 3:
        raise ValueError(f"intake has shape {intake.shape}, needed (lane, step, 3), one step or more")
    lanes, steps, _ = intake.shape
    properties = stacked(build, lanes)
    outside = _outside(weather, steps)
    days = _rows("lane_day", lane_day, lanes, len(outside.air))
    tracks = _rows("lane_track", lane_day if lane_track is None else lane_track, lanes, len(outside.tilt))
    out = _empty(lanes, steps, lanes if record else 0)
    start = np.repeat(outside.air[days, :1], OVEN, axis=1) if oven_start is None else _oven(oven_start, lanes)
    march(Lanes(properties, days, tracks, intake, start), outside, float(step), out)
    return out


def _oven(start: Array, lanes: int) -> Array:
    start = np.ascontiguousarray(start, dtype=np.float64)
    if start.shape != (lanes, OVEN):
        raise ValueError(
            f"oven_start has shape {start.shape}, needed ({lanes}, {OVEN}): a node each from the pot on"
        )
    return start


def stacked(build: Build, lanes: int) -> Array:
    """The fields of `Build` as the rows of one matrix, float64[field, lane]."""
    matrix = np.empty((len(build), lanes))
    for row, (name, values) in zip(matrix, build._asdict().items(), strict=True):
        values = np.asarray(values, dtype=np.float64)
        if values.shape not in {(), (lanes,)}:
            raise ValueError(f"build.{name} has shape {values.shape}, needed ({lanes},): one number a lane")
        row[:] = values
    return matrix


def _outside(weather: Weather, steps: int) -> Outside:
    """Weather and tilt, as the march reads them."""
    shape = np.shape(weather.air_temperature)
    if len(shape) != 2 or shape[1] != steps + 1:
        raise ValueError(
            f"weather.air_temperature has shape {shape}, needed (day, {steps + 1}): ends of {steps} steps"
        )
    tilt = np.ascontiguousarray(weather.tilt, dtype=np.float64)
    if tilt.ndim != 2 or tilt.shape[1] != steps:
        raise ValueError(f"weather.tilt has shape {tilt.shape}, needed (track, {steps})")
    vapour = np.zeros(shape) if weather.vapour_pressure is None else weather.vapour_pressure
    return Outside(
        air=_instants("air_temperature", weather.air_temperature, shape),
        sky=_instants("sky_temperature", weather.sky_temperature, shape),
        wind=_instants("wind_speed", weather.wind_speed, shape),
        pressure=_instants("pressure", weather.pressure, shape),
        vapour=_instants("vapour_pressure", vapour, shape),
        tilt=tilt,
    )


def _instants(name: str, values: Array, shape: tuple[int, ...]) -> Array:
    values = np.ascontiguousarray(values, dtype=np.float64)
    if values.shape != shape:
        raise ValueError(f"weather.{name} has shape {values.shape}, the air temperature {shape}")
    return values


def _rows(name: str, rows: Indices, lanes: int, available: int) -> Indices:
    rows = np.ascontiguousarray(rows, dtype=np.int64)
    if rows.shape != (lanes,) or rows.min(initial=0) < 0 or rows.max(initial=0) >= available:
        raise ValueError(
            f"{name} has shape {rows.shape}, needed ({lanes},) with entries 0 to {available - 1}"
        )
    return rows


def _empty(lanes: int, steps: int, recorded: int) -> Histories:
    return Histories(
        core=np.empty((lanes, steps + 1)),
        mean=np.empty((lanes, steps + 1)),
        end=np.empty((lanes, NODES)),
        peak=np.empty((lanes, NODES)),
        end_water=np.empty(lanes),
        flows=np.empty((lanes, FLOWS)),
        status=np.empty(lanes, dtype=np.int64),
        temperatures=np.empty((recorded, steps + 1, NODES)),
        water=np.empty((recorded, steps + 1)),
    )
