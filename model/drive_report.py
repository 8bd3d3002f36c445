"""How well a drive keeps the oven on the sun over the days of a season, and what can go wrong with it."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .aiming import Aim
from .drive import FULL_BEAM, follow, way_of
from .ways import Drive, cells_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SUNSHINE = 120.0  # W m-2 of beam; the sun shines above it (WMO-No. 8, Guide to Instruments, ch. 8)

_TURN = 2 * math.pi
_LATE = 7.3e-4  # rad; the sun's motion in ten seconds, by which the motor may start late


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveReport:
    """A drive over the days of an `Aim`; angles in radians, a row for each day.

    Errors are of the axis in azimuth while the sun shines, seen at whole minutes; above zero the sun is ahead
    in the drive's way. Near the zenith they are large and mean little: `worst_off_axis` is what light sees.
    """

    dead_band: float  # rad, across the mouth, between start and stop in a full, level sun
    mean_error: float  # rad
    rms_error: float  # rad
    worst_error: float  # rad, the largest either way, with its sign
    worst_off_axis: float  # rad, the elevation set by hand included
    travel_per_step: float  # rad, mean of all starts; nan if there was none
    edge_per_step: float  # m, the same at the edge of the base
    edge_travel: Floats  # [row] m
    starts_per_hour: float  # of sunshine; nan if there was none
    duty: float  # share of the cook in which the motor runs
    way: Floats  # [row] +1 clockwise from above, -1 not
    speed: float  # rad/s, of the drive
    fastest_rate: float  # rad/s, of the sun's azimuth in the drive's way
    fastest_at: tuple[int, int]  # row and instant at which that minute begins
    outrun: Bools  # [row, minute] the sun's azimuth is faster than the drive
    reversed: Bools  # [row, minute] the sun's azimuth runs against the drive's way, which cannot follow
    lost: (
        Bools  # [row, time] bright, but so far round that the cell does not see it: the motor waits for ever
    )
    from_east: Floats  # [row] s from the first instant until it is on the sun, left facing east; nan if not in the cook
    from_west: Floats  # [row] s the same, left as the evening before left it; nan if not in the cook
    cloud: float  # s, length of the cloud put before the sun where its azimuth runs fastest
    cloud_drift: Floats  # [row] rad by which the sun got ahead under it
    cloud_recovery: Floats  # [row] s from its end until the oven is back on the sun; nan if not in the cook
    diffuse_hold: float  # W m-2 of diffuse light on the cell that keep a running motor from ever stopping

    @property
    def keeps_up(self) -> bool:
        """Whether the drive is faster than the sun's azimuth at every minute."""
        return not self.outrun.any()

    @property
    def speed_ratio(self) -> float:
        """Speed of the drive over the fastest of the sun's azimuth; under 1 it falls behind."""
        return self.speed / self.fastest_rate

    @property
    def outrun_at(self) -> NDArray[np.int64]:
        """Row and instant of every minute in which it falls behind. int64[minute, 2]"""
        return np.argwhere(self.outrun)

    @property
    def reverses(self) -> Bools:
        """Rows in which the azimuth turns back: the sun passes on the pole side. bool[row]"""
        return np.asarray(self.reversed.any(axis=1))


class _Season(NamedTuple):
    """What the drive meets."""

    to_sun: Floats  # [row, time, 3]
    dni: Floats  # [row, time]
    elevation: Floats  # [row, time] of the axis
    way: Floats  # [row]
    step: float
    first: int
    last: int


def assess_drive(
    drive: Drive,
    result: Aim,
    *,
    dni: Floats,
    base_radius: float,
    step: float = 60.0,
    first: int = 0,
    last: int | None = None,
    cloud: float = 1800.0,
) -> DriveReport:
    """A drive from what `aim` made of it.

    Rows are taken for days in their order: the evening of the one before is where the oven stands next morning,
    the last before the first.

    Parameters
    ----------
    drive, result, dni, step, first, last
        As given to and got from `aim`.
    base_radius : float   [m]
        Pivot to the edge of the turning base.
    cloud : float   [s]
        A cloud to ride out, shorter than the cook.

    Raises
    ------
    ValueError
        A beam of another shape than the settings, or a cloud as long as the cook.
    """
    if dni.shape != result.azimuth.shape:
        raise ValueError(
            f"dni has shape {dni.shape}, needed {result.azimuth.shape} [row, time], that of the settings"
        )
    last = dni.shape[1] - 1 if last is None else last
    if not step <= cloud < (last - first) * step:
        raise ValueError(
            f"cloud = {cloud:g} s, allowed from one step of {step:g} s to under the cook's {(last - first) * step:g} s"
        )
    season = _season(result, dni, step, first, last)
    rate = _rates(season)
    up = (season.to_sun[:, first:last, 2] > 0) & (season.to_sun[:, first + 1 : last + 1, 2] > 0)
    ahead = np.where(up, rate, -np.inf)
    row, minute = np.unravel_index(int(ahead.argmax()), ahead.shape)
    evening = np.roll(result.azimuth[:, -1], 1) - drive.azimuth_bias
    east = np.full(len(evening), math.pi / 2 - drive.azimuth_bias)
    drift, recovery = _under_cloud(drive, season, ahead, cloud)
    return DriveReport(
        dead_band=drive.start_angle - drive.stop_angle,
        **_errors(result, season),
        **_motion(result, season, base_radius),
        edge_travel=result.edge_travel(base_radius),
        way=season.way,
        speed=drive.speed,
        fastest_rate=float(ahead.max()),
        fastest_at=(int(row), first + int(minute)),
        outrun=_minutes(up & (rate > drive.speed), season),
        reversed=_minutes(up & (rate < 0), season),
        lost=_lost(drive, season, result.azimuth - drive.azimuth_bias),
        from_east=_waking(drive, season, east),
        from_west=_waking(drive, season, evening),
        cloud=cloud,
        cloud_drift=drift,
        cloud_recovery=recovery,
        diffuse_hold=drive.stop_share * FULL_BEAM,
    )


def _season(result: Aim, dni: Floats, step: float, first: int, last: int) -> _Season:
    azimuth, elevation = result.azimuth + result.azimuth_error, result.elevation + result.elevation_error
    flat = np.cos(elevation)
    to_sun = np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), np.sin(elevation)], axis=-1)
    way = way_of(to_sun[:, first : last + 1])
    return _Season(to_sun, np.ascontiguousarray(dni), result.elevation, way, step, first, last)


def _rates(season: _Season) -> Floats:
    """Speed of the sun's azimuth in the drive's way, within the cook. float64[row, minute] [rad/s]"""
    sun = season.to_sun[:, season.first : season.last + 1]
    moved = np.diff(np.arctan2(sun[..., 0], sun[..., 1]), axis=1)
    return np.asarray(season.way[:, None] * _wrapped(moved) / season.step)


def _minutes(within: Bools, season: _Season) -> Bools:
    """A mask of the cook's minutes as one of all minutes. bool[row, minute]"""
    every = np.zeros((len(within), season.dni.shape[1] - 1), bool)
    every[:, season.first : season.last] = within
    return every


def sunshine(to_sun: Floats, dni: Floats) -> Bools:
    """Instants at which the sun shines. float64[row, time, 3], float64[row, time] -> bool[row, time]"""
    return np.asarray((to_sun[..., 2] > 0) & (dni > SUNSHINE))


def _sunshine(season: _Season) -> Bools:
    """Instants of the cook at which it does. bool[row, time]"""
    shines = sunshine(season.to_sun, season.dni)
    shines[:, : season.first] = shines[:, season.last + 1 :] = False
    return shines


def _errors(result: Aim, season: _Season) -> dict[str, float]:
    shines = _sunshine(season)
    if not shines.any():
        return dict.fromkeys(("mean_error", "rms_error", "worst_error", "worst_off_axis"), math.nan)
    error = (season.way[:, None] * result.azimuth_error)[shines]
    return {
        "mean_error": float(error.mean()),
        "rms_error": float(np.sqrt((error**2).mean())),
        "worst_error": float(error[np.abs(error).argmax()]),
        "worst_off_axis": float(result.off_axis[shines].max()),
    }


def _motion(result: Aim, season: _Season, base_radius: float) -> dict[str, float]:
    starts, travel = int(result.motor_starts.sum()), float(result.azimuth_travel.sum())
    hours = float(_sunshine(season).sum()) * season.step / 3600
    cooks = len(season.way) * (season.last - season.first) * season.step
    return {
        "travel_per_step": travel / starts if starts else math.nan,
        "edge_per_step": base_radius * travel / starts if starts else math.nan,
        "starts_per_hour": starts / hours if hours else math.nan,
        "duty": float(result.motor_time.sum()) / cooks,
    }


def _followed(drive: Drive, season: _Season, stands: Floats) -> Floats:
    """Azimuth of the shaded cell, left at `stands` at the first instant. float64[row, time]"""
    followed = follow(
        np.ascontiguousarray(season.to_sun),
        season.dni,
        season.elevation[None],
        season.way,
        stands[None],
        cells_of([drive]),
        season.step,
        season.first,
        season.last,
    )
    return np.asarray(followed.azimuth[0])


def _lead(season: _Season, azimuth: Floats) -> Floats:
    """Azimuth by which the sun is ahead of the cell, in the drive's way. float64[row, time]"""
    sun = np.arctan2(season.to_sun[..., 0], season.to_sun[..., 1])
    return season.way[:, None] * _wrapped(sun - azimuth)


def _on_the_sun(drive: Drive, season: _Season, azimuth: Floats) -> Bools:
    """Where the sun is bright enough to be followed and stands within the angle that starts the motor."""
    lead = _lead(season, azimuth)
    lit = np.abs(_lit(drive, season, lead))
    return _bright(drive, season) & (np.cos(lead) > 0) & (lit <= drive.start_share + _LATE * drive.cell.reach)


def _lost(drive: Drive, season: _Season, azimuth: Floats) -> Bools:
    """Where it is bright enough, stands a quarter turn round or more, and still does not start the motor.

    So it is once the sun has passed near the zenith, where the fin throws hardly a shadow while it changes sides;
    and with the oven left to the west in the morning.
    """
    lead = _lead(season, azimuth)
    lost = _bright(drive, season) & (np.cos(lead) <= 0) & (_lit(drive, season, lead) <= drive.start_share)
    lost[:, : season.first] = lost[:, season.last + 1 :] = False
    return lost


def _bright(drive: Drive, season: _Season) -> Bools:
    """Where a cell lit whole would start the motor. bool[row, time]"""
    return np.asarray((season.dni >= drive.least_dni) & (season.to_sun[..., 2] > 0))


def _lit(drive: Drive, season: _Season, lead: Floats) -> Floats:
    """Exposure of the cell at a lead of the sun, without the end of the cell; below zero on the fin's other side."""
    side = np.hypot(season.to_sun[..., 0], season.to_sun[..., 1]) * np.sin(lead)
    return np.asarray(drive.cell.reach * side * season.dni / FULL_BEAM)


def _waking(drive: Drive, season: _Season, stands: Floats) -> Floats:
    """Seconds from the first instant until the oven, left at `stands`, is on the sun; nan if never."""
    on = _on_the_sun(drive, season, _followed(drive, season, stands))
    return _until(on[:, season.first : season.last + 1], season.step)


def _until(happens: Bools, step: float) -> Floats:
    """Seconds until the first instant at which it happens; nan if it does not. bool[row, time] -> [row]"""
    return np.where(happens.any(axis=1), happens.argmax(axis=1) * step, math.nan)


def _under_cloud(drive: Drive, season: _Season, ahead: Floats, cloud: float) -> tuple[Floats, Floats]:
    """Drift of the sun under a cloud at each row's fastest minute, and seconds until the drive is back."""
    rows = np.arange(len(ahead))
    length = round(cloud / season.step)
    middle = season.first + ahead.argmax(axis=1)
    # as much of the cook is left behind the cloud as it lasts, if there is
    latest = max(season.last - 2 * length, season.first)
    begin = np.clip(middle - length // 2, season.first, latest)
    end = begin + length
    instants = np.arange(season.dni.shape[1])
    shade = (instants >= begin[:, None]) & (instants < end[:, None])
    shaded = season._replace(dni=np.where(shade, 0.0, season.dni))
    sun = np.arctan2(season.to_sun[:, season.first, 0], season.to_sun[:, season.first, 1])
    azimuth = _followed(drive, shaded, sun)
    sun_azimuth = np.unwrap(np.arctan2(season.to_sun[..., 0], season.to_sun[..., 1]), axis=1)
    drift = season.way * (sun_azimuth[rows, end] - sun_azimuth[rows, begin])
    after = (instants >= end[:, None]) & (instants <= season.last)
    back = _on_the_sun(drive, shaded, azimuth) & after
    return drift, _until(back, season.step) - end * season.step


def _wrapped(angle: Floats) -> Floats:
    return (angle + math.pi) % _TURN - math.pi
