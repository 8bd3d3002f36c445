"""Parts of a cook in which different things are seen: light while it heats up, losses while it holds or cools."""

import numpy as np
from numpy.typing import NDArray

from ...model import SENSORS, CookRecord

Floats = NDArray[np.float64]

PHASES = ("to 60 degC", "from 60 to 90 degC", "above 90 degC", "cooling down", "shaded")
"""Parts of a cook, by the thermometer in the food, or the one nearest to it."""

_WARM, _HOT = 333.15, 363.15  # K
_DROP = 3.0  # K below the highest, from which it cools down for good


def leading(record: CookRecord) -> str:
    """The thermometer that tells the parts of a cook: in the food, or the nearest to it."""
    return next(sensor for sensor in SENSORS if sensor in record.temperatures)


def phase_of(record: CookRecord) -> NDArray[np.int64]:
    """The part of the cook that each reading is of, as its place in `PHASES`. int64[record]

    Cooling down begins after the last time that the thermometer was within a few kelvin of its highest reading; a part
    begins when its temperature is first reached, and lasts through passing dips.
    """
    time, values = record.instants, record.temperature(leading(record))
    read = np.isfinite(values)
    smooth = np.interp(time, time[read], values[read])
    highest = np.maximum.accumulate(smooth)
    phase = (highest >= _WARM).astype(np.int64) + (highest >= _HOT)
    last = int(np.flatnonzero(smooth >= smooth.max() - _DROP)[-1])
    phase[last + 1 :] = PHASES.index("cooling down")
    phase[record.is_shaded(time)] = PHASES.index("shaded")
    return phase
