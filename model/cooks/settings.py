"""How the oven stood during a cook: set to the sun at the times that were noted, or as its aiming says."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..aiming import Aiming, aims, pot_up, to_oven_frame
from ..sky import Sky
from ..sun import STEP
from ..sunlight import Aimed
from .record import CookRecord

Floats = NDArray[np.float64]

_TURN = 2 * np.pi
_HALF_WAY_UP = np.pi / 4  # rad; how an oven is taken to stand where the sun is down all through


def aimed_as_noted(aimings: Sequence[Aiming], sky: Sky, record: CookRecord, minutes: Floats) -> Aimed:
    """Settings through a cook for each way of aiming, as `aimed_in_ways` makes them for a day.

    Where settings of the azimuth or the elevation were noted they were made then, a `lead` of the way to when the
    next one is due, with the fault of the aiming's sight; an elevation that goes with the azimuth is set with it.
    Before the first one the oven stands on the sun of the first reading. Of what was not noted, the aiming decides;
    a drive then turns as if the elevation were set as it says. While the sun is down the oven stands as for the
    first sun, or half way up.

    Parameters
    ----------
    aimings : of one kind
    sky : Sky
        The cook's, of one day.
    minutes : float64[minute]   [s]
        Instants of the sky on the record's own clock.
    """
    to_sun = _by_day(sky.to_sun[0])
    planned = aims(aimings, to_sun[None], dni=sky.dni, step=STEP)
    azimuth, elevation = planned.azimuth.copy(), planned.elevation.copy()
    for way, aiming in enumerate(aimings):
        noted = _Noted(aiming, record)
        if noted.azimuth:
            target = _targets(to_sun, minutes, noted.azimuth, noted.lead, noted.azimuth_every)
            azimuth[way, 0] = (np.arctan2(target[:, 0], target[:, 1]) + noted.azimuth_bias) % _TURN
        if noted.elevation:
            target = _targets(to_sun, minutes, noted.elevation, noted.lead, noted.elevation_every)
            wanted = np.arcsin(np.clip(target[:, 2], -1, 1)) + noted.elevation_bias
            elevation[way, 0] = np.clip(wanted, 0.0, np.pi / 2)
    return Aimed(
        aim=replace(planned, to_sun=sky.to_sun, azimuth=azimuth, elevation=elevation),
        row_of_day=np.zeros(1, np.int64),
        to_sun=to_oven_frame(sky.to_sun, azimuth, elevation),
        up=pot_up(elevation),
    )


class _Noted:
    """What one aiming and the notes of a cook say together of its settings."""

    def __init__(self, aiming: Aiming, record: CookRecord) -> None:
        def of(name: str) -> Any:
            return getattr(aiming, name, None)

        goes_along = of("azimuth_every") is not None and of("elevation_every") is None
        self.azimuth = record.azimuth_settings
        self.elevation = record.elevation_settings or (self.azimuth if goes_along else ())
        self.lead, self.azimuth_every = of("lead") or 0.0, of("azimuth_every") or 0.0
        self.elevation_every = of("elevation_every") or self.azimuth_every
        self.azimuth_bias, self.elevation_bias = of("azimuth_bias") or 0.0, of("elevation_bias") or 0.0


def _by_day(to_sun: Floats) -> Floats:
    """The course of the sun, at night taken as where it first comes up; half way up if it never does."""
    up = np.flatnonzero(to_sun[:, 2] > 0)
    if not up.size:
        flat = to_sun[:, :2] / np.linalg.norm(to_sun[:, :2], axis=1, keepdims=True) * np.cos(_HALF_WAY_UP)
        return np.column_stack([flat, np.full(len(to_sun), np.sin(_HALF_WAY_UP))])
    first, last = up[0], up[-1]
    return to_sun[np.clip(np.arange(len(to_sun)), first, last)]


def _targets(to_sun: Floats, minutes: Floats, noted: Sequence[float], lead: float, every: float) -> Floats:
    """Direction aimed at, at every minute. float64[minute, 3]

    A setting looks ahead a share of the time [s] after which the next is due, or was made if that was sooner.
    """
    times = np.unique(np.clip(noted, minutes[0], minutes[-1]))
    ahead = np.full(len(times), lead)
    if times[0] > minutes[0] + STEP / 2:
        times, ahead = np.insert(times, 0, minutes[0]), np.insert(ahead, 0, 0.0)
    at = times + ahead * np.minimum(every, np.append(times[1:], minutes[-1]) - times)
    place = (at - minutes[0]) / STEP
    before = np.minimum(place.astype(np.int64), len(to_sun) - 2)
    share = (place - before)[:, None]
    chord = (1 - share) * to_sun[before] + share * to_sun[before + 1]
    targets = chord / np.linalg.norm(chord, axis=1, keepdims=True)
    made = np.rint((times - minutes[0]) / STEP)  # a setting holds from its nearest minute on
    return np.asarray(targets[np.searchsorted(made, np.arange(len(to_sun)), side="right") - 1])
