"""How the oven is kept on the sun: what it takes, what it costs in light, what else could be done."""

import math
from collections.abc import Iterator
from typing import Annotated, Literal

import xarray as xr
from pydantic import Field

from ...model import INTERVALS, Design, Drive, DriveTrain, Quantity, Sight, assess_aiming, specs
from ..asking.aiming_parts import AIMINGS
from ..asking.fields import Base
from ..asking.quantity import show
from ..asking.schema import Section, annotation_of
from .kind import Given, Kind, Work, middle_day

PostHeight = annotation_of(specs(Sight)["post_height"])
Shadow = annotation_of(
    Quantity(dimension="length", low=1e-4, high=0.5, meaning="shadow that counts as centred")
)
Span = annotation_of(Quantity(dimension="time", low=60.0, high=86_400.0, meaning="whole minutes"))


class AimingStudySection(Section):
    """How the oven is kept on the sun: what it takes, what it costs in light, what else could be done."""

    kind: Literal["aiming"]
    base: Base = "chosen"
    post_height: PostHeight = Field(0.10, description="tip of the sight's post above its plate")  # type: ignore[valid-type]
    centred_within: Shadow = Field(3e-3, description="shadow that still counts as centred")  # type: ignore[valid-type]
    cloud: Span = Field(1800.0, description="length of a cloud for a drive to ride out")  # type: ignore[valid-type]
    intervals: Annotated[list[Span], Field(min_length=2)] = Field(  # type: ignore[valid-type]
        list(INTERVALS), description="between settings by hand, to compare"
    )


def _faults(section: AimingStudySection, given: Given) -> Iterator[str]:
    if given.sky is None:
        return
    day = given.sky.step * given.sky.steps
    if section.cloud >= day:
        yield f"cloud = {show(section.cloud, 'time')}: allowed under the day's {show(day, 'time')}"


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    setting, section = work.setting, work.section
    dataset = assess_aiming(
        work.design,
        setting.sky,
        sight=Sight(post_height=section.post_height),
        centred_within=section.centred_within,
        cloud=section.cloud,
        intervals=section.intervals,
        train=train_of(setting.train, work.design),
        rays=setting.rays,
        seed=setting.seed,
        catalogue=setting.catalogue,
    )
    work.progress(1, 1, 0)
    how = {kind: how for how, kind in AIMINGS.items()}[type(work.design.aiming)]
    return dataset.assign_attrs(study="aiming", shown_day=middle_day(setting.sky.ghi), how=how), work.design


def train_of(train: DriveTrain | None, design: Design) -> DriveTrain | None:
    """The wheel and motor as long as the design still turns as they turn it: a search may have changed that."""
    aiming = design.aiming
    if train is None or not isinstance(aiming, Drive) or not math.isclose(aiming.speed, train.speed):
        return None
    return train if train.base_radius == design.oven.stand.base_radius else None


AIMING = Kind(word="aiming", section=AimingStudySection, carry_out=_carry_out, faults=_faults)
