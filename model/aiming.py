"""How the oven is kept on the sun: not at all, by hand every so often, or by a small shaded-cell drive.

The stand has two settings, azimuth and elevation of the optical axis. Directions are unit vectors in
east-north-up. Near the zenith the azimuth of the sun runs at any speed and either way:
what counts there is `off_axis`, the angle between axis and sun.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .drive import follow, way_of
from .frame import oven_frame, pot_up, to_oven_frame
from .ways import Aiming, ByHand, Drive, Fixed, cells_of

__all__ = [
    "Aim",
    "Aiming",
    "ByHand",
    "Drive",
    "Fixed",
    "aim",
    "aims",
    "oven_frame",
    "pot_up",
    "to_oven_frame",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_TURN = 2 * math.pi
_AT_ONCE = 1 << 18  # instants of all ways and rows that are worked out together: some tens of megabytes


@dataclass(frozen=True, kw_only=True, eq=False)
class Aim:
    """Where the axis points and what it took; angles in radians, a row for each path given.

    Of many ways of aiming each has its place on one more axis, in front of the rows.
    What follows from sun and setting is worked out when it is first asked for: studies seldom do.
    """

    to_sun: Floats  # [row, time, 3] unit vectors in east-north-up, the same for all ways
    azimuth: Floats  # [..., row, time] setting, clockwise from north
    elevation: Floats  # [..., row, time] setting, from the horizon
    azimuth_aimings: Indices  # [..., row] settings by hand after the first
    elevation_aimings: Indices  # [..., row]
    visits: Indices  # [..., row] times someone comes to the oven to aim; both settings at once are one visit
    attention: Floats  # [..., row] s
    motor_starts: Indices  # [..., row]
    motor_time: Floats  # [..., row] s

    def way(self, number: int) -> "Aim":
        """One of many ways by itself."""
        own = {f.name: getattr(self, f.name)[number] for f in fields(self) if f.name != "to_sun"}
        return Aim(to_sun=self.to_sun, **own)

    @cached_property
    def azimuth_error(self) -> Floats:
        """Sun less setting, -pi to pi. float64[..., row, time]"""
        return _wrapped(_azimuth(self.to_sun) - self.azimuth)

    @cached_property
    def elevation_error(self) -> Floats:
        """Sun less setting. float64[..., row, time]"""
        return np.asarray(np.arcsin(np.clip(self.to_sun[..., 2], -1, 1)) - self.elevation)

    @cached_property
    def off_axis(self) -> Floats:
        """Angle between axis and sun. float64[..., row, time]"""
        chord = np.linalg.norm(self.axis - self.to_sun, axis=-1)
        return np.asarray(2 * np.arcsin(np.minimum(chord / 2, 1)))

    @cached_property
    def azimuth_travel(self) -> Floats:
        """All turning after the first setting. float64[..., row]"""
        return np.asarray(np.abs(_wrapped(np.diff(self.azimuth, axis=-1))).sum(axis=-1))

    @cached_property
    def elevation_travel(self) -> Floats:
        """All tilting after the first setting. float64[..., row]"""
        return np.asarray(np.abs(np.diff(self.elevation, axis=-1)).sum(axis=-1))

    @property
    def axis(self) -> Floats:
        """Unit vectors of the optical axis, east-north-up. float64[..., row, time, 3]"""
        return _direction(self.azimuth, self.elevation)

    def edge_travel(self, base_radius: float) -> Floats:
        """Way of a point on the edge of the turning base. float64[..., row] [m]"""
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
    how: dict[str, Any] = {"step": step, "first": first, "last": last, "least_elevation": least_elevation}
    return aims([aiming], to_sun, dni=dni, **how).way(0)


def aims(
    aimings: Sequence[Aiming],
    to_sun: Floats,
    *,
    dni: Floats | None = None,
    step: float = 60.0,
    first: int = 0,
    last: int | None = None,
    least_elevation: float = 0.0,
) -> Aim:
    """The same for many aimings of one kind, one or more; each as if it were alone.

    Raises
    ------
    ValueError
        As `aim`.
    """
    rows, times = to_sun.shape[:2]
    last = times - 1 if last is None else last
    if not 0 <= first < last < times:
        raise ValueError(f"cook from instant {first} to {last}: allowed 0 <= first < last <= {times - 1}")
    window = _Window(to_sun=to_sun, step=step, first=first, last=last, least_elevation=least_elevation)
    most = max(1, _AT_ONCE // (rows * times))
    parts = [_aims(aimings[k : k + most], window, dni) for k in range(0, len(aimings), most)]
    if len(parts) == 1:
        return parts[0]
    names = [f.name for f in fields(Aim) if f.name != "to_sun"]
    joined = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    return Aim(to_sun=to_sun, **joined)


def _aims(aimings: Sequence[Aiming], window: "_Window", dni: Floats | None) -> Aim:
    """Some ways of aiming at once."""
    shape = (len(aimings), *window.to_sun.shape[:2])
    untouched = np.zeros(shape, bool)
    if isinstance(aimings[0], Fixed):
        azimuth, elevation = _columns(aimings, "fixed_azimuth", "fixed_elevation")
        elevation = np.maximum(elevation, window.least_elevation)
        still = [np.broadcast_to(angle[:, None, None], shape).copy() for angle in (azimuth, elevation)]
        return _aim(window, *still, turned=untouched, tilted=untouched)
    elevation, tilted = _elevation_by_hand(aimings, window)
    [visit] = _columns(aimings, "visit")
    if isinstance(aimings[0], ByHand):
        azimuth, turned = _azimuth_by_hand(aimings, window)
        return _aim(window, azimuth, elevation, turned=turned, tilted=tilted, visit=visit)
    azimuth, starts, running = _azimuth_by_drive(aimings, window, elevation, dni)
    done = _aim(window, azimuth, elevation, turned=untouched, tilted=tilted, visit=visit)
    return replace(done, motor_starts=starts, motor_time=running)


def _columns(aimings: Sequence[Aiming], *names: str) -> Iterator[Floats]:
    """Fields of all aimings, float64[way] each; nan where one is not given."""
    for name in names:
        yield np.array([getattr(aiming, name) for aiming in aimings], np.float64)


class _Window(NamedTuple):
    """What the sun does and how long the cook lasts."""

    to_sun: Floats
    step: float
    first: int
    last: int
    least_elevation: float


class _Settings(NamedTuple):
    """When each way is set, and at what."""

    made: NDArray[np.bool_]  # [way, setting] the last ones of some ways are none
    when: Indices  # [way, setting] instant
    target: Floats  # [row, way, setting, 3] direction aimed at


def _elevation_by_hand(aimings: Sequence[Aiming], window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    every, lead, bias = _columns(aimings, "elevation_every", "lead", "elevation_bias")
    if np.isnan(every).any():  # a drive always has its own
        [instead] = _columns(aimings, "azimuth_every")
        every = np.where(np.isnan(every), instead, every)
    settings = _settings(window, every, lead)
    wanted = np.arcsin(np.clip(settings.target[..., 2], -1, 1)) + bias[:, None]
    return _held(np.clip(wanted, window.least_elevation, math.pi / 2), settings, window)


def _azimuth_by_hand(aimings: Sequence[Aiming], window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    every, lead, bias = _columns(aimings, "azimuth_every", "lead", "azimuth_bias")
    settings = _settings(window, every, lead)
    return _held((_azimuth(settings.target) + bias[:, None]) % _TURN, settings, window)


def _settings(window: _Window, every: Floats, lead: Floats) -> _Settings:
    """Settings at the first instant and every so often [s] after it; the last looks ahead only to the cook's end."""
    first, last = window.first, window.last
    count = np.ceil((last - first) * window.step / every)[:, None]
    number = np.arange(int(count.max()))
    when = first + np.rint(number * every[:, None] / window.step).astype(np.int64)
    again = np.diff(when, axis=1, prepend=-1) == 0
    when = np.sort(np.where((number < count) & ~again, np.minimum(when, last), last), axis=1)
    ahead = when + lead[:, None] * (np.append(when[:, 1:], np.full((len(when), 1), last), axis=1) - when)
    before = np.minimum(ahead.astype(np.int64), window.to_sun.shape[1] - 2)
    share = (ahead - before)[..., None]
    chord = (1 - share) * window.to_sun[:, before] + share * window.to_sun[:, before + 1]
    return _Settings(when < last, when, chord / np.linalg.norm(chord, axis=-1, keepdims=True))


def _held(wanted: Floats, settings: _Settings, window: _Window) -> tuple[Floats, NDArray[np.bool_]]:
    """Settings at every instant, and the instants at which one was changed; none is while the sun is down.

    float64[way, row, time], bool[way, row, time]
    """
    when, (rows, times) = settings.when, window.to_sun.shape[:2]
    made = settings.made & (window.to_sun[:, when, 2] > 0)
    # The first setting is made even before sunrise.
    latest = np.maximum.accumulate(np.where(made, np.arange(when.shape[1]), 0), axis=2)
    setting = np.take_along_axis(wanted, latest, axis=2)
    way, number = np.nonzero(settings.made)
    due = np.zeros((len(when), times), np.int64)
    due[way, when[way, number]] = 1
    now = np.clip(np.cumsum(due, axis=1) - 1, 0, None)
    changed = np.zeros((rows, len(when), times), bool)
    changed[:, way, when[way, number]] = made[:, way, number] & (number > 0)
    held = np.take_along_axis(setting, np.broadcast_to(now, changed.shape), axis=2)
    return np.ascontiguousarray(np.swapaxes(held, 0, 1)), np.swapaxes(changed, 0, 1)


def _azimuth_by_drive(
    aimings: Sequence[Aiming], window: _Window, elevation: Floats, dni: Floats | None
) -> tuple[Floats, Indices, Floats]:
    if dni is None or dni.shape != elevation.shape[1:]:
        shape = None if dni is None else dni.shape
        raise ValueError(
            f"a drive runs on the beam: dni has shape {shape}, needed {elevation.shape[1:]} [row, time]"
        )
    start = window.to_sun[:, window.first]
    morning, bias = _columns(aimings, "morning_azimuth", "azimuth_bias")
    left = np.broadcast_to((morning - bias)[:, None], elevation.shape[:2])
    followed = follow(
        np.ascontiguousarray(window.to_sun),
        np.ascontiguousarray(dni),
        elevation,
        way_of(window.to_sun[:, window.first : window.last + 1]),
        np.where(np.isnan(left), np.arctan2(start[:, 0], start[:, 1]), left),
        cells_of([aiming for aiming in aimings if isinstance(aiming, Drive)]),
        window.step,
        window.first,
        window.last,
    )
    return (followed.azimuth + bias[:, None, None]) % _TURN, followed.starts, followed.running


def _aim(
    window: _Window,
    azimuth: Floats,
    elevation: Floats,
    *,
    turned: NDArray[np.bool_],
    tilted: NDArray[np.bool_],
    visit: Floats | float = 0.0,
) -> Aim:
    visits = (turned | tilted).sum(axis=-1)
    return Aim(
        to_sun=window.to_sun,
        azimuth=azimuth,
        elevation=elevation,
        azimuth_aimings=turned.sum(axis=-1),
        elevation_aimings=tilted.sum(axis=-1),
        visits=visits,
        attention=visits * np.reshape(visit, (-1, 1)),
        motor_starts=np.zeros(visits.shape, np.int64),
        motor_time=np.zeros(visits.shape),
    )


def _direction(azimuth: Floats, elevation: Floats) -> Floats:
    flat = np.cos(elevation)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), np.sin(elevation)], axis=-1)


def _azimuth(vectors: Floats) -> Floats:
    return np.asarray(np.arctan2(vectors[..., 0], vectors[..., 1]) % _TURN)


def _wrapped(angle: Floats) -> Floats:
    return (angle + math.pi) % _TURN - math.pi
