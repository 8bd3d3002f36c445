"""Which factors matter, alone and together (Sobol), and which may be left alone (Morris)."""

from collections.abc import Callable, Iterator
from typing import Annotated, Literal

import xarray as xr
from pydantic import Field

from ...model import Design
from ..evaluate import OvenEvaluator, outputs_of
from ..fields import Base, Merits, Varies
from ..methods.sensitivity import morris, sobol
from ..schema import Section
from .kind import Given, Kind, Work, output_names


class SensitivitySection(Section):
    """Sobol indices: which factors matter, alone and together."""

    kind: Literal["sensitivity"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1)]
    base_samples: Annotated[int, Field(strict=True, ge=16)] = 256
    second_order: bool = False


class ScreeningSection(Section):
    """Morris screening: which factors may be left alone."""

    kind: Literal["screening"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1)]
    trajectories: Annotated[int, Field(strict=True, ge=4)] = 20
    levels: Annotated[int, Field(strict=True, ge=4, multiple_of=2)] = 4


def _faults(section: SensitivitySection, given: Given) -> Iterator[str]:
    count = section.base_samples
    if count & (count - 1):
        lower = 1 << (count.bit_length() - 1)
        yield f"base_samples = {count}: must be a power of two, such as {lower} or {2 * lower}"


def _sobol(work: Work) -> tuple[xr.Dataset, Design]:
    counts = {"base_samples": work.section.base_samples, "second_order": work.section.second_order}
    return _sampled(work, sobol, **counts), work.design


def _morris(work: Work) -> tuple[xr.Dataset, Design]:
    counts = {"trajectories": work.section.trajectories, "levels": work.section.levels}
    return _sampled(work, morris, **counts), work.design


def _sampled(work: Work, method: Callable[..., xr.Dataset], **counts: int) -> xr.Dataset:
    """A study that samples a space round the base design."""
    names = work.section.outputs
    outputs = outputs_of(names, work.setting.currency)
    return method(
        work.space,
        OvenEvaluator(work.setting, tuple(names)),
        outputs=outputs,
        seed=work.setting.seed,
        workers=work.running.workers,
        chunk_rows=work.chunk_rows,
        log=work.log(work.space, output_names(outputs), []),
        progress=work.progress,
        **counts,
    )


SENSITIVITY = Kind(word="sensitivity", section=SensitivitySection, carry_out=_sobol, faults=_faults)
SCREENING = Kind(word="screening", section=ScreeningSection, carry_out=_morris)
