"""How the oven is kept on the sun: not at all, by hand every so often, or by a small shaded-cell drive.

The stand has two settings, azimuth and elevation of the optical axis. Directions are unit vectors in
east-north-up. Near the zenith the azimuth of the sun runs at any speed and either way:
what counts there is `off_axis`, the angle between axis and sun.
"""

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .described import Checked, DescriptionError, quantity
from .drive import ShadedCell, follow
from .frame import oven_frame, pot_up, to_oven_frame

__all__ = ["Aim", "Aiming", "ByHand", "Drive", "Fixed", "aim", "oven_frame", "pot_up", "to_oven_frame"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_TURN = 2 * math.pi


@dataclass(frozen=True, kw_only=True)
class Fixed(Checked):
    """Set once and left."""

    fixed_azimuth: float = quantity("angle", 0.0, _TURN, "axis of an oven that is not turned, from north")
    fixed_elevation: float = quantity("angle", 0.0, math.pi / 2, "axis of an oven that is not tilted")


@dataclass(frozen=True, kw_only=True)
class ByHand(Checked):
    """Set anew every so often, a little ahead of the sun."""

    azimuth_every: float = quantity("time", 60.0, 86_400.0, "between settings of the azimuth")
    elevation_every: float | None = quantity(
        "time",
        60.0,
        86_400.0,
        "between settings of the elevation; with the azimuth if not given",
        default=None,
    )
    lead: float = quantity(
        "share",
        0.0,
        1.0,
        "how far ahead to aim: 0 at the sun, 0.5 where it is half way to the next",
        default=0.5,
    )
    azimuth_bias: float = quantity("angle", -0.5, 0.5, "constant fault of the azimuth's sight", default=0.0)
    elevation_bias: float = quantity(
        "angle", -0.5, 0.5, "constant fault of the elevation's sight", default=0.0
    )
    visit: float = quantity("time", 0.0, 3600.0, "a cook's time at the oven for one aiming", default=60.0)


@dataclass(frozen=True, kw_only=True)
class Drive(Checked):
    """A motor turns the azimuth after the sun; the elevation is set by hand.

    A fin stands along the middle of the mouth and shades a cell beside it. Once the sun has moved on by an
    angle e, seen across the mouth, the light reaches fin_height tan(e) of the cell's width. The motor starts
    above one lit share and stops below a smaller one. It turns one way only: the way of the day's sun.
    """

    fin_height: float = quantity("length", 1e-3, 1.0, "fin above its cell")
    cell_width: float = quantity("length", 1e-3, 1.0, "cell, away from the fin")
    start_share: float = quantity("share", 0.0, 1.0, "lit share of the cell above which the motor starts")
    stop_share: float = quantity("share", 0.0, 1.0, "lit share of the cell below which it stops")
    speed: float = quantity("angular_speed", 1e-5, 1.0, "turning speed of the oven")
    elevation_every: float = quantity("time", 60.0, 86_400.0, "between settings of the elevation")
    lead: float = quantity("share", 0.0, 1.0, "how far ahead to set the elevation", default=0.5)
    least_dni: float = quantity("irradiance", 0.0, 1000.0, "beam below which the motor stalls", default=150.0)
    azimuth_bias: float = quantity("angle", -0.5, 0.5, "cell out of line with the axis", default=0.0)
    elevation_bias: float = quantity(
        "angle", -0.5, 0.5, "constant fault of the elevation's sight", default=0.0
    )
    visit: float = quantity("time", 0.0, 3600.0, "a cook's time at the oven for one aiming", default=60.0)

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.stop_share >= self.start_share:
            start, stop = self.start_share, self.stop_share
            fault = (
                f"drive.stop_share = {stop:g}, allowed below start_share {start:g}: else the motor chatters"
            )
            raise DescriptionError([fault])


Aiming = Fixed | ByHand | Drive


@dataclass(frozen=True, kw_only=True, eq=False)
class Aim:
    """Where the axis points and what it took; angles in radians, a row for each path given."""

    azimuth: Floats  # [row, time] setting, clockwise from north
    elevation: Floats  # [row, time] setting, from the horizon
    azimuth_error: Floats  # [row, time] sun less setting, -pi to pi
    elevation_error: Floats  # [row, time] sun less setting
    off_axis: Floats  # [row, time] between axis and sun
    azimuth_aimings: Indices  # [row] settings by hand after the first
    elevation_aimings: Indices  # [row]
    visits: Indices  # [row] times someone comes to the oven to aim; both settings at once are one visit
    attention: Floats  # [row] s
    azimuth_travel: Floats  # [row] rad, all turning after the first setting
    elevation_travel: Floats  # [row] rad
    motor_starts: Indices  # [row]
    motor_time: Floats  # [row] s

    @property
    def axis(self) -> Floats:
        """Unit vectors of the optical axis, east-north-up. float64[row, time, 3]"""
        return _direction(self.azimuth, self.elevation)

    def edge_travel(self, base_radius: float) -> Floats:
        """Way of a point on the edge of the turning base. float64[row] [m]"""
        return self.azimuth_travel * base_radius


def aim(
    aiming: Aiming,
    to_sun: Floats,
    *,
    dni: Floats | None = None,
    step: float = 60.0,
    first: int = 0,
    last: int | None = None,
    least_elevation: float = 0.0,
) -> Aim:
    """Settings of the stand through a cook that lasts from instant `first` to instant `last`.

    Before the cook the oven stands as first set, after it as last set. While the sun is down nothing moves.

    Parameters
    ----------
    aiming : Fixed | ByHand | Drive
        How it is kept on the sun.
    to_sun : float64[row, time, 3]
        Unit vectors in east-north-up.
    dni : float64[row, time]   [W/m2]
        Beam, which a drive needs to run; not used otherwise.
    step : float   [s]
        Between instants.
    least_elevation : float   [rad]
        Lowest setting the stand allows; the highest is the zenith.

    Raises
    ------
    ValueError
        A window outside the instants, or a drive without dni of matching shape.
    """
    rows, times = to_sun.shape[:2]
    last = times - 1 if last is None else last
    if not 0 <= first < last < times:
        raise ValueError(f"cook from instant {first} to {last}: allowed 0 <= first < last <= {times - 1}")
    window = _Window(to_sun=to_sun, step=step, first=first, last=last, least_elevation=least_elevation)
    untouched = np.zeros((rows, times), bool)
    if isinstance(aiming, Fixed):
        azimuth = np.full((rows, times), aiming.fixed_azimuth)
        elevation = np.full((rows, times), max(aiming.fixed_elevation, least_elevation))
        return _aim(window, azimuth, elevation, turned=untouched, tilted=untouched)
    elevation, tilted = _elevation_by_hand(aiming, window)
    if isinstance(aiming, ByHand):
        azimuth, turned = _azimuth_by_hand(aiming, window)
        return _aim(window, azimuth, elevation, turned=turned, tilted=tilted, visit=aiming.visit)
    azimuth, starts, running = _azimuth_by_drive(aiming, window, elevation, dni)
    done = _aim(window, azimuth, elevation, turned=untouched, tilted=tilted, visit=aiming.visit)
    return replace(done, motor_starts=starts, motor_time=running)


class _Window(NamedTuple):
    """What the sun does and how long the cook lasts."""

    to_sun: Floats
    step: float
    first: int
    last: int
    least_elevation: float


def _elevation_by_hand(aiming: ByHand | Drive, window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    every = aiming.elevation_every
    if every is None:
        assert isinstance(aiming, ByHand)  # a drive always has its own
        every = aiming.azimuth_every
    target, when = _targets(window, every, aiming.lead)
    wanted = np.arcsin(np.clip(target[..., 2], -1, 1)) + aiming.elevation_bias
    return _held(np.clip(wanted, window.least_elevation, math.pi / 2), when, window)


def _azimuth_by_hand(aiming: ByHand, window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    target, when = _targets(window, aiming.azimuth_every, aiming.lead)
    return _held((_azimuth(target) + aiming.azimuth_bias) % _TURN, when, window)


def _targets(window: _Window, every: float, lead: float) -> tuple[Floats, Indices]:
    """Directions aimed at, float64[row, setting, 3], and the instants at which it is done, int64[setting].

    The last setting looks ahead only to the end of the cook.
    """
    first, last = window.first, window.last
    count = math.ceil((last - first) * window.step / every)
    when = np.unique(first + np.rint(np.arange(count) * every / window.step).astype(np.int64))
    when = when[when < last]
    ahead = when + lead * (np.append(when[1:], last) - when)
    before = np.minimum(ahead.astype(np.int64), len(window.to_sun[0]) - 2)
    share = (ahead - before)[:, None]
    chord = (1 - share) * window.to_sun[:, before] + share * window.to_sun[:, before + 1]
    return chord / np.linalg.norm(chord, axis=-1, keepdims=True), when


def _held(wanted: Floats, when: Indices, window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    """Settings at every instant, and the instants at which one was changed; none is while the sun is down."""
    rows, times = window.to_sun.shape[:2]
    made = window.to_sun[:, when, 2] > 0
    # The first setting is made even before sunrise.
    latest = np.maximum.accumulate(np.where(made, np.arange(len(when)), 0), axis=1)
    setting = np.take_along_axis(wanted, latest, axis=1)
    now = np.clip(np.searchsorted(when, np.arange(times), side="right") - 1, 0, None)
    changed = np.zeros((rows, times), bool)
    changed[:, when[1:]] = made[:, 1:]
    return setting[:, now], changed


def _azimuth_by_drive(
    aiming: Drive, window: _Window, elevation: Floats, dni: Floats | None
) -> tuple[Floats, Indices, Floats]:
    if dni is None or dni.shape != elevation.shape:
        shape = None if dni is None else dni.shape
        raise ValueError(
            f"a drive runs on the beam: dni has shape {shape}, needed {elevation.shape} [row, time]"
        )
    course = np.unwrap(_azimuth(window.to_sun[:, window.first : window.last + 1]), axis=1)
    way = np.where(course[:, -1] >= course[:, 0], 1.0, -1.0)
    cell = ShadedCell(
        start_tangent=aiming.start_share * aiming.cell_width / aiming.fin_height,
        stop_tangent=aiming.stop_share * aiming.cell_width / aiming.fin_height,
        speed=aiming.speed,
        least_dni=aiming.least_dni,
    )
    followed, starts, running = follow(
        np.ascontiguousarray(window.to_sun),
        np.ascontiguousarray(dni),
        elevation,
        way,
        cell,
        window.step,
        window.first,
        window.last,
    )
    return (followed + aiming.azimuth_bias) % _TURN, starts, running


def _aim(
    window: _Window,
    azimuth: Floats,
    elevation: Floats,
    *,
    turned: NDArray[np.bool_],
    tilted: NDArray[np.bool_],
    visit: float = 0.0,
) -> Aim:
    sun = window.to_sun
    visits = (turned | tilted).sum(axis=1)
    chord = np.linalg.norm(_direction(azimuth, elevation) - sun, axis=-1)
    return Aim(
        azimuth=azimuth,
        elevation=elevation,
        azimuth_error=_wrapped(_azimuth(sun) - azimuth),
        elevation_error=np.arcsin(np.clip(sun[..., 2], -1, 1)) - elevation,
        off_axis=2 * np.arcsin(np.minimum(chord / 2, 1)),
        azimuth_aimings=turned.sum(axis=1),
        elevation_aimings=tilted.sum(axis=1),
        visits=visits,
        attention=visits * visit,
        azimuth_travel=np.abs(_wrapped(np.diff(azimuth, axis=1))).sum(axis=1),
        elevation_travel=np.abs(np.diff(elevation, axis=1)).sum(axis=1),
        motor_starts=np.zeros(len(sun), np.int64),
        motor_time=np.zeros(len(sun)),
    )


def _direction(azimuth: Floats, elevation: Floats) -> Floats:
    flat = np.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), np.sin(elevation)], axis=-1)


def _azimuth(vectors: Floats) -> Floats:
    return np.asarray(np.arctan2(vectors[..., 0], vectors[..., 1]) % _TURN)


def _wrapped(angle: Floats) -> Floats:
    return (angle + math.pi) % _TURN - math.pi
