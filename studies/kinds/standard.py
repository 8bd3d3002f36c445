"""Figures of published test procedures from measured cooks, with what keeps them from being published."""

from collections.abc import Iterator
from typing import Annotated, Literal

import xarray as xr
from pydantic import Field

from ...model import CookRecord, Design, Quantity, assess_standard
from ..asking.cook_tables import CookNames, cook_faults, cooks_named
from ..asking.fields import Base, Share
from ..asking.schema import Section, annotation_of
from .kind import Given, Kind, Work

Area = annotation_of(
    Quantity(dimension="area", low=1e-3, high=50.0, meaning="area of a cooker", optional=True)
)


class StandardSection(Section):
    """Standardised cooking power and figures of merit from measured cooks."""

    kind: Literal["standard"]
    base: Base = Field("config", description="the oven that was tested")
    cooks: CookNames = None
    edition: Literal["1997", "2003"] = Field(
        "2003", description="of S580; they differ in the water temperatures that count"
    )
    intercept_area: Area = Field(  # type: ignore[valid-type]
        None, description="mirrors and aperture square to the beam; from the oven's shape if left out"
    )
    aperture_area: Area = Field(  # type: ignore[valid-type]
        None, description="clear aperture, for the figures of merit; from the oven's shape if left out"
    )
    covered: list[str] = Field([], description="cooks during which the mirror was covered")
    confidence: Annotated[Share, Field(gt=0.5, lt=1.0)] = Field(
        0.95, description="of the interval of the power at 50 K"
    )
    measured_only: bool = Field(
        False, description="leave out cooks whose irradiance was not measured on the standard's plane"
    )
    title: str = Field("", description="of the test report; the config's if left out")
    instruments: list[str] = Field(
        [], description='for the test report, such as "thermocouple K, 0.5 K, calibrated 2026-02"'
    )


def _faults(section: StandardSection, given: Given) -> Iterator[str]:
    yield from cook_faults(section.cooks, given.cooks)
    if given.cooks is None:
        return
    used = [record.name for record in cooks_named(_known(section.cooks, given.cooks), given.cooks)]
    for name in section.covered:
        if name not in used:
            yield f'covered: "{name}" is none of the cooks of this study: {", ".join(used) or "there are none"}'


def _known(names: list[str] | None, cooks: tuple[CookRecord, ...]) -> list[str] | None:
    """Those of the names that there are; the others are told as faults of their own."""
    there = {record.name for record in cooks}
    return None if names is None else [name for name in names if name in there]


def _ready(section: StandardSection, given: Given) -> tuple[CookRecord, ...]:
    return cooks_named(section.cooks, given.cooks)


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    section, setting = work.section, work.setting
    dataset = assess_standard(
        work.ready,
        design=work.design,
        place=setting.sky.place,
        catalogue=setting.catalogue,
        edition=section.edition,
        covered=section.covered,
        intercept_area=section.intercept_area,
        aperture_area=section.aperture_area,
        confidence=section.confidence,
        measured_only=section.measured_only,
        albedo=setting.sky.albedo,
    )
    work.progress(1, 1, 0)
    about = {
        "study": "standard",
        "report_title": section.title,
        "instruments": "\n".join(section.instruments),
    }
    return dataset.assign_attrs(about), work.design


STANDARD = Kind(word="standard", section=StandardSection, carry_out=_carry_out, faults=_faults, ready=_ready)
