"""One design on one day, minute by minute, and on all days in short."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal

import xarray as xr
from pydantic import Field

from ...model import Design, Stray, flows_of_day, section_of_day, stray_of_day, timetable
from ..asking.fields import Base
from ..asking.schema import Section
from .kind import Given, Kind, Work, middle_day


class DaySection(Section):
    """One design on one day, minute by minute."""

    kind: Literal["day"]
    base: Base = "chosen"
    day: Annotated[int, Field(strict=True, ge=1)] | None = Field(
        None, description="which of the days, from 1"
    )


def _faults(section: DaySection, given: Given) -> Iterator[str]:
    if given.sky is not None and section.day is not None and section.day > given.sky.days:
        yield f"day = {section.day}: the sky has {given.sky.days} days"


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    setting, section = work.setting, work.section
    dataset = setting.simulated(histories=True)
    runs = int(dataset["status"][0]) == 0
    shown = section.day - 1 if section.day else middle_day(dataset["ghi"].to_numpy())
    if runs:
        how: dict[str, Any] = {"rays": setting.rays, "seed": setting.seed, "catalogue": setting.catalogue}
        dataset = dataset.merge(timetable(work.design, setting.sky, **how))
        stray = stray_of_day(work.design, setting.sky, shown, catalogue=setting.catalogue)
        flows = flows_of_day(work.design, setting.sky, shown, **how)
        how.pop("rays")
        section = section_of_day(work.design, setting.sky, shown, **how)
        dataset = xr.merge([dataset, _stray(stray), flows, section, _cover_limit(work)])
    work.progress(1, 1, 0 if runs else 1)
    return dataset.assign_attrs(study="day", shown_day=shown), work.design


def _stray(found: Stray) -> xr.Dataset:
    text = "distance in front of the middle of the mouth"
    meaning = "light thrown back on the brightest hand there, over plain sun; perfect mirrors assumed"
    return xr.Dataset(
        {
            "stray_suns": ("distance", found.concentration, {"units": "1", "long_name": meaning}),
            "stray_plain_beyond": (
                (),
                found.plain_beyond,
                {"units": "m", "long_name": "from here on stray light is no stronger than plain sun"},
            ),
        },
        coords={"distance": ("distance", found.distance, {"units": "m", "long_name": text})},
    )


def _cover_limit(work: Work) -> xr.Dataset:
    """What the sheet of the cover bears."""
    sheet = work.setting.catalogue.materials.numbers("covers", work.design.oven.cover.cover)
    text = {"units": "K", "long_name": "service temperature of the cover", "dimension": "temperature"}
    return xr.Dataset({"cover_limit": ((), float(sheet["service_limit"]), text)})


DAY = Kind(word="day", section=DaySection, carry_out=_carry_out, faults=_faults)
