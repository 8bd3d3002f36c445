"""The weather as one more factor of a study: each design on one of the sky's days, drawn by how many days it means.

Days are numbered from the dullest to the brightest, so that the factor has a direction.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ...model import Sky
from ..asking.distributions import Shares
from ..setting import Setting
from .evaluate import OvenEvaluator
from .outcomes import Columns, Outcomes, join
from .space import Parameter, take

DAY = "day"


def by_brightness(sky: Sky) -> NDArray[np.int64]:
    """The days of a sky from the dullest to the brightest, by the light on level ground."""
    return np.argsort(sky.ghi.sum(axis=1), kind="stable")


def day_factor(sky: Sky) -> Parameter:
    """The day as a factor: its number from 1, the dullest, each as often as its weight."""
    weight = sky.day_weight[by_brightness(sky)]
    return Parameter(
        name=DAY,
        kind="integer",
        meaning="one of the days, from the dullest to the brightest",
        low=1,
        high=sky.days,
        spread=Shares(each=tuple((weight / weight.sum()).tolist())),
    )


@dataclass(frozen=True)
class SingleDayEvaluator:
    """Runs each row of factor values on its own day, and on that one only."""

    setting: Setting
    values: tuple[str, ...]

    @cached_property
    def _days(self) -> NDArray[np.int64]:
        return by_brightness(self.setting.sky)

    def __call__(self, columns: Columns) -> Outcomes:
        """Merits of each row on its day; rows of one day run in one call of the model."""
        factors = {name: column for name, column in columns.items() if name != DAY}
        picked, of = np.unique(columns[DAY], return_inverse=True)
        rows = [np.flatnonzero(of == k) for k in range(picked.size)]
        parts = [self._on(int(number))(take(factors, own)) for number, own in zip(picked, rows, strict=True)]
        back = np.argsort(np.concatenate(rows), kind="stable")
        return join(parts).take(back)

    def _on(self, number: int) -> OvenEvaluator:
        """What runs designs on the day of this number."""
        sky = self.setting.sky.only([int(self._days[number - 1])])
        return OvenEvaluator(replace(self.setting, sky=sky), self.values)
