"""Which test cook should come next, for what the cooks so far leave unknown of an oven."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..asking.quantity import parse
from ..methods.planning import reach
from ..setting import Setting
from .campaigns import Campaigns, Protocol
from .imagined import imagined
from .measured import FOOD
from .posterior import Posterior
from .refits import Errors

Floats = NDArray[np.float64]

RATIOS = ("light_ratio", "loss_ratio", "coupling_ratio")
HEAT_UP, SHADE, EMPTY = (parse(text, "time") for text in ("2 h", "30 min", "90 min"))
EVERY, ALIKE_FOR = 60.0, 300.0  # s; as a study of kind protocol takes them
BETWEEN = 0.03  # by which ratios differ from cook to cook; as there
_ENOUGH = 1.1  # of the best reach; what comes that near with less to do is preferred
_POT = "pot"


def next_test(setting: Setting, posterior: Posterior, noise: dict[str, float], *, day: int) -> str | None:
    """The next cook, as JSON for an attribute of a result; None where no ratio of an oven as built was fitted.

    One cook: a heat-up, the same with the mouth shaded at the end, or an empty oven; with the thermometers that were
    used, and with one on the pot if there was none. Of those that narrow the intervals nearly as far as the best one
    does, by their geometric mean, the one with the fewest thermometers, then the simplest.

    Parameters
    ----------
    setting : Setting
        With any design; the oven is taken to be as the posterior estimates it.
    posterior : Posterior
        What the cooks so far know.
    noise : dict
        Deviation of a reading by thermometer. [K]
    day : int
        Of the setting's sky.
    """
    factors = tuple(name for name in RATIOS if name in posterior.names)
    if not factors:
        return None
    place = [posterior.names.index(name) for name in factors]
    covered = np.array(posterior.covariance)[np.ix_(place, place)]
    plan = _plan(setting, posterior, factors, noise, np.linalg.pinv(covered, hermitian=True), day)
    ways = _ways(plan, noise)
    reached = np.array([reach(np.diag(plan.known(way, 0 if way.empty else 1))) for way in ways])
    middle = np.exp(np.log(reached).mean(axis=1))  # of all ratios alike: half of one is worth half of another
    near = [k for k in range(len(ways)) if middle[k] <= _ENOUGH * middle.min()]
    best = min(near, key=lambda k: (len(ways[k].sensors), k))
    return json.dumps(
        _told(plan, ways[best], noise, reach(np.diag(covered)).tolist(), reached[best].tolist())
    )


def _ways(plan: Campaigns, noise: dict[str, float]) -> list[Protocol]:
    """One cook each, the simplest first: loaded, loaded and shaded at the end, empty.

    With the thermometers there were, or one more on the pot; nobody takes one away.
    """
    every = tuple(plan.errors.reading)
    shade = float(plan.loaded.model.time.max()) - plan.heat_up
    found = []
    for sensors in dict.fromkeys((tuple(one for one in every if one in noise), every)):
        found += [Protocol(sensors, 0.0, False), Protocol(sensors, shade, False)]
        if set(sensors) != {FOOD}:
            found.append(Protocol(sensors, 0.0, True))
    return found


def _plan(
    setting: Setting,
    posterior: Posterior,
    factors: tuple[str, ...],
    noise: dict[str, float],
    before: Floats,
    day: int,
) -> Campaigns:
    """Cooks that could come next, of the oven as it is known now; their sunlight is as true as that of those before."""
    built = replace(setting, design=posterior.built(setting.design))
    reading = dict(sorted(noise.items(), key=lambda item: item[0] != FOOD))
    reading = reading if _POT in reading else reading | {_POT: max(noise.values())}
    window = setting.sky.step * setting.sky.steps
    shade = min(SHADE, window / 4)
    heat_up = min(HEAT_UP, window - shade)
    how: dict[str, Any] = {"day": day, "every": EVERY}
    dry = tuple(sensor for sensor in reading if sensor != FOOD)
    return Campaigns(
        loaded=imagined(built, factors, tuple(reading), heat_up=heat_up, shade=shade, **how),
        empty=imagined(built, factors, dry, heat_up=min(EMPTY, window), shade=0.0, empty=True, **how),
        heat_up=heat_up,
        every=EVERY,
        errors=Errors(reading=reading, offset={}, sunlight=0.0, memory=ALIKE_FOR),
        between=BETWEEN,
        prior={},
        before=before,
    )


def _told(
    plan: Campaigns, way: Protocol, noise: dict[str, float], before: list[float], after: list[float]
) -> dict[str, Any]:
    return {
        "sensors": list(way.sensors),
        "new": [sensor for sensor in way.sensors if sensor not in noise],
        "heat_up": 0.0 if way.empty else plan.heat_up,
        "shade": way.shade,
        "empty": float(plan.empty.model.time.max()) if way.empty and plan.empty is not None else 0.0,
        "factors": list(plan.factors),
        "before": before,
        "after": after,
    }
