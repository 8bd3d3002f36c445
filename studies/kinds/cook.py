"""Test cooks as they were measured and cleaned, and what the model says of the same hours."""

from typing import Literal

import xarray as xr
from pydantic import Field

from ...model import CookModel, CookRecord, DescriptionError, Design, RecordError
from ..asking.cook_tables import CookNames, cook_faults, cooks_named
from ..asking.fields import Base
from ..asking.schema import Section
from ..logs import usual_air
from .cook_result import Compared, cook_dataset
from .kind import Kind, StudyError, Work


class CookStudySection(Section):
    """Test cooks as they were measured and cleaned, and what the model says of the same hours."""

    kind: Literal["cook"]
    base: Base = Field("config", description="the oven that cooked")
    cooks: CookNames = None


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    compared = []
    for record in work.ready:
        compared.append(Compared(record, cook_model(work, record)))
        work.progress(len(compared), len(work.ready), 0)
    return cook_dataset(compared, work.setting.sky.place).assign_attrs(study="cook"), work.design


def cook_model(work: Work, record: CookRecord, *, least_rays: int = 0, again: int = 0) -> CookModel:
    """The model of a cook in the study's oven; its light is traced here, `again` with other rays.

    Raises
    ------
    StudyError
        The oven cannot be built, or holds less than was in the pot.
    """
    setting = work.setting
    try:
        return CookModel(
            work.design,
            record,
            place=setting.sky.place,
            catalogue=setting.catalogue,
            rays=max(setting.rays, least_rays),
            seed=setting.seed + again,
            albedo=setting.sky.albedo,
            air=usual_air(setting.sky),
        )
    except (DescriptionError, RecordError) as error:
        raise StudyError([f"cooks: {fault}" for fault in error.faults]) from error


COOK = Kind(
    word="cook",
    section=CookStudySection,
    carry_out=_carry_out,
    faults=lambda section, given: cook_faults(section.cooks, given.cooks),
    ready=lambda section, given: cooks_named(section.cooks, given.cooks),
)
