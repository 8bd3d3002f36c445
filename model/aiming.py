"""How the oven is kept on the sun: not at all, by hand every so often, or by a small shaded-cell drive.

The stand has two settings, azimuth and elevation of the optical axis. Directions are unit vectors in
east-north-up. Near the zenith the azimuth of the sun runs at any speed and either way:
what counts there is `off_axis`, the angle between axis and sun.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .drive import follow, way_of
from .frame import oven_frame, pot_up, to_oven_frame
from .ways import Aiming, ByHand, Drive, Fixed

__all__ = ["Aim", "Aiming", "ByHand", "Drive", "Fixed", "aim", "oven_frame", "pot_up", "to_oven_frame"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_TURN = 2 * math.pi


@dataclass(frozen=True, kw_only=True, eq=False)
class Aim:
    """Where the axis points and what it took; angles in radians, a row for each path given.

    What follows from sun and setting is worked out when it is first asked for: studies seldom do.
    """

    to_sun: Floats  # [row, time, 3] unit vectors in east-north-up
    azimuth: Floats  # [row, time] setting, clockwise from north
    elevation: Floats  # [row, time] setting, from the horizon
    azimuth_aimings: Indices  # [row] settings by hand after the first
    elevation_aimings: Indices  # [row]
    visits: Indices  # [row] times someone comes to the oven to aim; both settings at once are one visit
    attention: Floats  # [row] s
    motor_starts: Indices  # [row]
    motor_time: Floats  # [row] s

    @cached_property
    def azimuth_error(self) -> Floats:
        """Sun less setting, -pi to pi. float64[row, time]"""
        return _wrapped(_azimuth(self.to_sun) - self.azimuth)

    @cached_property
    def elevation_error(self) -> Floats:
        """Sun less setting. float64[row, time]"""
        return np.asarray(np.arcsin(np.clip(self.to_sun[..., 2], -1, 1)) - self.elevation)

    @cached_property
    def off_axis(self) -> Floats:
        """Angle between axis and sun. float64[row, time]"""
        chord = np.linalg.norm(self.axis - self.to_sun, axis=-1)
        return np.asarray(2 * np.arcsin(np.minimum(chord / 2, 1)))

    @cached_property
    def azimuth_travel(self) -> Floats:
        """All turning after the first setting. float64[row]"""
        return np.asarray(np.abs(_wrapped(np.diff(self.azimuth, axis=1))).sum(axis=1))

    @cached_property
    def elevation_travel(self) -> Floats:
        """All tilting after the first setting. float64[row]"""
        return np.asarray(np.abs(np.diff(self.elevation, axis=1)).sum(axis=1))

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
    start = window.to_sun[:, window.first]
    if aiming.morning_azimuth is None:
        stands = np.arctan2(start[:, 0], start[:, 1])
    else:
        stands = np.full(len(start), aiming.morning_azimuth - aiming.azimuth_bias)
    followed = follow(
        np.ascontiguousarray(window.to_sun),
        np.ascontiguousarray(dni),
        elevation,
        way_of(window.to_sun[:, window.first : window.last + 1]),
        stands,
        aiming.cell,
        window.step,
        window.first,
        window.last,
    )
    return (followed.azimuth + aiming.azimuth_bias) % _TURN, followed.starts, followed.running


def _aim(
    window: _Window,
    azimuth: Floats,
    elevation: Floats,
    *,
    turned: NDArray[np.bool_],
    tilted: NDArray[np.bool_],
    visit: float = 0.0,
) -> Aim:
    rows, visits = len(azimuth), (turned | tilted).sum(axis=1)
    return Aim(
        to_sun=window.to_sun,
        azimuth=azimuth,
        elevation=elevation,
        azimuth_aimings=turned.sum(axis=1),
        elevation_aimings=tilted.sum(axis=1),
        visits=visits,
        attention=visits * visit,
        motor_starts=np.zeros(rows, np.int64),
        motor_time=np.zeros(rows),
    )


def _direction(azimuth: Floats, elevation: Floats) -> Floats:
    flat = np.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), np.sin(elevation)], axis=-1)


def _azimuth(vectors: Floats) -> Floats:
    return np.asarray(np.arctan2(vectors[..., 0], vectors[..., 1]) % _TURN)


def _wrapped(angle: Floats) -> Floats:
    return (angle + math.pi) % _TURN - math.pi
