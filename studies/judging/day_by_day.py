"""Rows of named designs under draws -> what became of each day, so that designs can be paired day by day."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import Design, Table, table_of
from ..setting import Setting
from .evaluate import OvenEvaluator
from .outcomes import OK, Columns, Outcomes
from .space import row_count

Floats = NDArray[np.float64]

DESIGN_NUMBER = "design_number"
"""Column that says which of the designs a row is; the others are factors of its draw."""


def day_column(merit: str, day: int) -> str:
    """Name of a merit of a single day among the outcomes of a row."""
    return f"{merit} on day {day + 1}"


@dataclass(frozen=True)
class DayEvaluator:
    """Runs designs by their number, each row under its own draw of what nobody decides.

    Parameters
    ----------
    setting : Setting
    designs : tuple of Design
        They may be aimed in different ways.
    by_day : tuple of str
        Merits of single days; keys of `evaluate.BY_DAY`.
    whole : tuple of str
        Merits and limits of all days together.
    """

    setting: Setting
    designs: tuple[Design, ...]
    by_day: tuple[str, ...]
    whole: tuple[str, ...]

    @property
    def value_names(self) -> list[str]:
        """Names of the outcomes of a row."""
        days = range(self.setting.sky.days)
        return [*self.whole, *(day_column(merit, day) for merit in self.by_day for day in days)]

    def __call__(self, columns: Columns) -> Outcomes:
        """Every outcome of each row; status and nan where a design cannot be built."""
        rows = row_count(columns)
        values = {name: np.full(rows, np.nan) for name in self.value_names}
        status = np.full(rows, OK)
        number = columns[DESIGN_NUMBER]
        for aiming in dict.fromkeys(type(design.aiming) for design in self.designs):
            mine = [k for k, design in enumerate(self.designs) if type(design.aiming) is aiming]
            here = np.flatnonzero(np.isin(number, mine))
            if here.size:
                ran = self._ran(mine, columns, here)
                status[here] = ran["status"].to_numpy()
                for name, column in self._columns(ran):
                    values[name][here] = column
        return Outcomes(values=values, status=status, margins={})

    def _ran(self, mine: list[int], columns: Columns, rows: NDArray[np.int64]) -> xr.Dataset:
        """The model on some of the rows, whose designs are aimed in one way."""
        table = table_of([self.designs[k] for k in mine])
        table = table.take(np.searchsorted(mine, columns[DESIGN_NUMBER][rows]))
        # A factor of another way of aiming, such as the fault of a sight, says nothing of this one.
        drawn = {n: c[rows] for n, c in columns.items() if n != DESIGN_NUMBER and n in table.base.factors}
        whole = Table(table.base, {**table.columns, **drawn}, rows.size)
        return self.setting.simulated(whole, evening="keep_warm_time" in (*self.by_day, *self.whole))

    def _columns(self, ran: xr.Dataset) -> Iterable[tuple[str, Floats]]:
        for name in self.whole:
            yield name, ran[name].to_numpy()
        one = OvenEvaluator(self.setting, self.by_day)
        for merit in self.by_day:
            days = one.days(ran, merit)
            if merit.startswith("share_"):
                days = np.where(ran["status"].to_numpy()[:, None] == OK, np.isfinite(days), np.nan)
            for day in range(days.shape[1]):
                yield day_column(merit, day), days[:, day]
