"""What one may look at of each design of a front: its middle day, its bill, its limits and its pieces."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ...model import LIMITS, MERITS, Blank, Table, bill, blanks_of
from ..methods.front import oriented
from ..methods.thinned import thinned
from ..setting import Setting
from .kind import Work, middle_day

MOST_SHOWN = 60  # designs of a front whose days are kept: 1 MB of a result, and more than anyone looks at
RECORDED_LANES = 1024  # designs times days in a call that keeps every minute: some 100 MB


def front_shown(work: Work, searched: xr.Dataset, chosen: int) -> xr.Dataset:
    """Designs of the front of a search one by one, with everything else as in the config.

    Parameters
    ----------
    searched : Dataset
        Trials, with their front.
    chosen : int
        Trial of the front that is shown whatever is left out.

    Returns
    -------
    Dataset over shown (trials of the front), time, part, piece
        `shown_<merit>` and `shown_<limit>` over all days; the middle day by the minute; the bill by part; the size of
        each piece to cut, edges butted.
    """
    trials = _trials(searched, chosen)
    columns = {name: searched[name].to_numpy()[trials] for name in work.space.names}
    table, setting = Table(work.design, columns, len(trials)), work.setting
    run, day = _simulated(setting, table), middle_day(setting.sky.ghi)
    parts = [_over_days(run), _middle_day(run, setting.sky.day_label[day])]
    whole = xr.merge([*parts, _bill(setting, table), _pieces(setting, table)], combine_attrs="override")
    text = {"units": "1", "long_name": "trial of the front that is shown by itself"}
    return whole.assign_coords(shown=("shown", trials, text)).assign_attrs(shown_day=day)


def _trials(searched: xr.Dataset, chosen: int) -> NDArray[np.int64]:
    """Trials of the front that are shown: the chosen one and the best by each goal are among them."""
    front = np.flatnonzero(searched["on_front"].to_numpy() == 1)
    points = oriented(searched)[front]
    first = [int(np.searchsorted(front, chosen)), *points.argmin(axis=0).tolist()]
    return front[thinned(points, MOST_SHOWN, first=first)]


def _simulated(setting: Setting, table: Table) -> xr.Dataset:
    """Merits and limits over all days, and the minutes of the middle day.

    All days are run, not that one whole: the light of a day depends a little, as the rays fall, on those beside it, and
    a day study of the design is to show the same.
    """
    day, rows = middle_day(setting.sky.ghi), max(1, RECORDED_LANES // setting.sky.days)
    parts = []
    for first in range(0, table.rows, rows):
        some = table.take(np.arange(first, min(first + rows, table.rows)))
        whole = setting.simulated(some, histories=True).isel(day=day)
        parts.append(whole.reset_coords(drop=True)[[*MERITS, *LIMITS, *_HISTORIES]])
    return xr.concat(
        parts,
        "design",
        data_vars="minimal",
        coords="minimal",
        compat="override",
        join="override",
        combine_attrs="override",
    )


_HISTORIES = (
    "food_temperature",
    "temperature",
    "absorbed",
    "aim_off_axis",
    "safe_after",
    "done_after",
    "dni",
    "air_temperature",
)


def _over_days(whole: xr.Dataset) -> xr.Dataset:
    """Every merit and limit of the designs, over all days of the sky."""
    found = {
        f"shown_{name}": (
            "shown",
            whole[name].to_numpy(),
            whole[name].attrs | {"dimension": merit.dimension},
        )
        for name, merit in (MERITS | LIMITS).items()
    }
    return xr.Dataset(found)


# Curves of the middle day: name kept under, variable of the histories, which of its places, dimension.
_CURVES: tuple[tuple[str, str, Mapping[str, str], str], ...] = (
    ("food_temperature", "food_temperature", {}, "temperature"),
    ("pot_temperature", "temperature", {"node": "pot"}, "temperature"),
    ("cover_temperature", "temperature", {"node": "cover_inner"}, "temperature"),
    ("pot_light", "absorbed", {"absorber": "pot"}, "power"),
    ("off_axis", "aim_off_axis", {}, "angle"),
)
_MEANINGS = {
    "pot_temperature": "temperature of the pot",
    "cover_temperature": "temperature of the cover's inner face",
    "pot_light": "light that the pot takes in",
}


def _middle_day(whole: xr.Dataset, label: str) -> xr.Dataset:
    """The day whose sun is in the middle of all days, minute by minute."""
    found: dict[str, Any] = {"time": whole["time"].variable}
    for name, source, place, dimension in _CURVES:
        curve = whole[source].sel(place)
        about = {"units": curve.attrs["units"], "long_name": _MEANINGS.get(name, curve.attrs["long_name"])}
        values = curve.transpose("design", "time").to_numpy()
        found[f"shown_{name}"] = (("shown", "time"), values, about | {"dimension": dimension})
    for name in ("safe_after", "done_after"):
        about = whole[name].attrs | {"dimension": "time"}
        found[f"shown_{name}"] = ("shown", whole[name].to_numpy(), about)
    for name, dimension in (("dni", "irradiance"), ("air_temperature", "temperature")):
        about = whole[name].attrs | {"dimension": dimension}
        found[f"shown_{name}"] = ("time", whole[name].to_numpy(), about)
    text = {"units": "1", "long_name": "which day is shown: its sun is in the middle of all days"}
    return xr.Dataset(found | {"shown_day_label": ((), label, text)})


_BILL = {"part_material": "", "part_mass": "mass", "part_area": "area", "part_cost": "money"}


def _bill(setting: Setting, table: Table) -> xr.Dataset:
    """Material, mass, area and cost by part."""
    priced: dict[str, Any] = {"prices": setting.prices, "currency": setting.currency}
    bills = bill(table, catalogue=setting.catalogue, **priced)
    found: dict[str, Any] = {"part": bills["part"].variable}
    for name, dimension in _BILL.items():
        about = bills[name].attrs | ({"dimension": dimension} if dimension else {})
        found[f"shown_{name}"] = (("shown", "part"), bills[name].to_numpy(), about)
    return xr.Dataset(found)


def _pieces(setting: Setting, table: Table) -> xr.Dataset:
    """Which pieces each design is cut of, how many, of what and how large; edges butted, whatever the workshop."""
    pieces = [
        {blank.name: blank for blank in blanks_of(table.design(row), catalogue=setting.catalogue)}
        for row in range(table.rows)
    ]
    names = sorted({name for of_one in pieces for name in of_one})
    found: dict[str, Any] = {"piece": ("piece", names, {"units": "1", "long_name": "piece to cut"})}
    for name, (read, none, unit, meaning) in _MEASURES.items():
        rows = [[read(of_one[piece]) if piece in of_one else none for piece in names] for of_one in pieces]
        about = {"units": unit, "long_name": meaning} | ({"dimension": "length"} if unit == "m" else {})
        found[f"shown_piece_{name}"] = (("shown", "piece"), np.array(rows), about)
    return xr.Dataset(found)


# Of a piece: how it is read, what stands where a design has no such piece, unit, meaning.
_MEASURES: dict[str, tuple[Callable[[Blank], Any], Any, str, str]] = {
    "count": (lambda blank: blank.count, 0, "1", "pieces like this in one oven; 0: it has none"),
    "material": (lambda blank: blank.material, "", "1", "material of the piece"),
    "thickness": (lambda blank: blank.thickness, np.nan, "m", "thickness of the piece"),
    "width": (lambda blank: blank.size[0], np.nan, "m", "width of the piece as it lies"),
    "height": (lambda blank: blank.size[1], np.nan, "m", "height of the piece as it lies"),
}
