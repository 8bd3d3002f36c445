"""Ways of testing an oven compared: how well so many cooks of each kind would tell its ratios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..methods.planning import information, integrated_out, misled, pooled, reach, slowness, varying
from .imagined import FARTHEST, Imagined
from .refits import Errors

Floats = NDArray[np.float64]

LIGHT = "light_ratio"
WIDEST = float(np.log(FARTHEST[1])) / 2  # deviation of a logarithm of which only the bounds of fits are known
ENDLESS = 10**9  # cooks: what is left then is what no number of them takes away


class Protocol(NamedTuple):
    """One way of testing."""

    sensors: tuple[str, ...]
    shade: float  # s, after the heat-up
    empty: bool  # whether one cook without load is done as well


@dataclass(frozen=True, kw_only=True)
class Campaigns:
    """What cooks of each way of testing would tell.

    Parameters
    ----------
    loaded : Imagined
        With all thermometers and the longest shaded part; shorter ones end earlier.
    empty : Imagined, optional
        Without load.
    heat_up, every : float   [s]
    errors : Errors
    between : float
        Deviation of each ratio's logarithm from cook to cook.
    prior : dict
        Relative deviation of ratios known beforehand.
    before : float64[factor, factor], optional
        What cooks already done tell of the factors' logarithms, as information.
    """

    loaded: Imagined
    empty: Imagined | None
    heat_up: float
    every: float
    errors: Errors
    between: float
    prior: dict[str, float]
    before: Floats | None = None

    @property
    def factors(self) -> tuple[str, ...]:
        """Wanted or not, all that is looked for."""
        return self.loaded.factors

    def until(self, shade: float) -> float:
        """Last reading of a loaded cook. [s]"""
        return self.heat_up + shade

    def one(self, protocol: Protocol, *, between: float | None = None) -> Floats:
        """Information of one loaded cook on the factors, the sunlight and the thermometers."""
        return self._told(self.loaded, protocol.sensors, self.until(protocol.shade), between)

    def known(
        self, protocol: Protocol, count: int, *, between: float | None = None, sunlight: float | None = None
    ) -> Floats:
        """Covariance of the factors after so many loaded cooks, float64[factor, factor]; in logarithms.

        The fit is taken to know nothing of an instrument for sunlight that is off. Where the readings hardly know a
        ratio, such a fit pushes the fault into that one rather than into the light; it is not counted upon to: the
        light is never taken for better known than that instrument. `between` and `sunlight` stand in for what cooks
        and the instrument differ by.
        """
        trials = [(self.one(protocol, between=between), count)]
        if protocol.empty and self.empty is not None:
            own = tuple(sensor for sensor in protocol.sensors if sensor in self.empty.sensors)
            trials.append((self._told(self.empty, own, np.inf, between), 1))
        size = len(self.factors)
        if self.before is not None:
            done = np.zeros_like(trials[0][0])
            done[:size, :size] = self.before
            trials.append((done, 1))
        wrong = self.errors.sunlight if sunlight is None else sunlight
        whole = pooled(trials, self._prior())
        covered, true = (misled(whole, size, fault)[:size, :size] for fault in (wrong, 0.0))
        if LIGHT in self.factors:
            light = self.factors.index(LIGHT)
            covered[light, light] = max(covered[light, light], true[light, light] + wrong**2)
        return covered

    def reached(self, protocol: Protocol, counts: Sequence[int]) -> Floats:
        """How far each factor may be above its estimate after so many cooks, float64[count, factor]."""
        return reach(np.array([np.diag(self.known(protocol, count)) for count in counts]))

    def alike(self, protocol: Protocol) -> Floats:
        """Correlations of the factors after one cook, were the sunlight true and every cook the same oven.

        That is what the readings themselves, without any prior, cannot tell apart. float64[factor, factor]
        """
        bare = replace(self, prior=dict.fromkeys(self.factors, np.inf))
        covered = bare.known(protocol, 1, between=0.0, sunlight=0.0)
        errors = np.sqrt(np.diag(covered))
        return np.asarray(covered / np.outer(errors, errors))

    def hours(self, protocol: Protocol, count: int) -> float:
        """Time at the oven. [s]"""
        empty = self.empty.model.time.max() if protocol.empty and self.empty is not None else 0.0
        return float(count * self.until(protocol.shade) + empty)

    def _told(self, one: Imagined, sensors: tuple[str, ...], until: float, between: float | None) -> Floats:
        chosen = one.readings(sensors, until)
        each = np.array([self.errors.reading[series.sensor] for series in one.model.series])
        told = information(
            one.slopes[chosen], each[one.model.numbers][chosen], slowness(self.every, self.errors.memory)
        )
        if one.eats:
            told = integrated_out(told, [len(told) - 1], [self.errors.reading["food"]])
        spread = self.between if between is None else between
        return self._spread_out(one, varying(told, [spread] * len(self.factors)))

    def _spread_out(self, one: Imagined, told: Floats) -> Floats:
        """Over the thermometers of the loaded cook, of which an empty one has fewer."""
        names = (*self.factors, "sunlight", *self.loaded.sensors)
        place = [names.index(name) for name in (*self.factors, *one.shared)]
        wide = np.zeros((len(names), len(names)))
        wide[np.ix_(place, place)] = told
        return wide

    def _prior(self) -> list[float]:
        """Deviation of each parameter that is known before any cook; of the sunlight it is not asked for."""
        nil = 1e-9  # of what cannot be off
        offsets = [self.errors.offset.get(sensor, 0.0) or nil for sensor in self.loaded.sensors]
        usual = WIDEST if self.before is None else np.inf
        return [*(self.prior.get(name, usual) for name in self.factors), np.inf, *offsets]


def protocols(sensors: Sequence[str], shades: Sequence[float], empty: bool) -> list[Protocol]:
    """Every way: the first thermometer, then one more at a time; each length of shade; an empty cook or none."""
    found = []
    for count in range(1, len(sensors) + 1):
        own = tuple(sensors[:count])
        for shade in sorted({0.0, *shades}):
            found.append(Protocol(own, shade, False))
            if empty and set(own) != {"food"}:
                found.append(Protocol(own, shade, True))
    return found
