"""Which factors matter, alone and together (Sobol, PAWN), and which may be left alone (Morris)."""

from collections.abc import Callable, Iterator
from typing import Annotated, Any, Literal

import xarray as xr
from pydantic import Field

from ...model import MERITS, Design
from ..asking.fields import Base, Merits, Varies
from ..asking.fits import FitAsked
from ..asking.schema import Section
from ..judging.evaluate import OvenEvaluator, outputs_of
from ..judging.outcomes import Evaluate
from ..judging.posterior import JointEvaluator
from ..judging.single_days import DAY, SingleDayEvaluator, day_factor
from ..judging.space import Parameter, Space
from ..methods.layout import faults_of_parts
from ..methods.sensitivity import morris, sobol
from .kind import CHUNK_ROWS, Given, Kind, Work, output_names

COOKS = "test_cooks"  # the group of all that test cooks leave unknown

Weather = Annotated[
    bool,
    Field(strict=True, description="each design on one day of the sky, drawn as one more factor, `day`"),
]


class SensitivitySection(Section):
    """Sobol indices and PAWN: which factors matter, alone and together."""

    kind: Literal["sensitivity"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1, description="merits whose causes are asked for")]
    fit: FitAsked = None
    base_samples: Annotated[int, Field(strict=True, ge=16)] = Field(
        256, description="rows of the first sample, each with all rows built on it; a power of two"
    )
    second_order: bool = Field(False, description="also what each pair explains beyond each alone")
    groups: dict[str, list[str]] = Field(
        default_factory=dict, description="factors that are moved together, by the name of the group"
    )
    suffered: list[str] = Field(
        default_factory=list, description="factors that nobody decides, set against those that are decided"
    )
    weather: Weather = False


class ScreeningSection(Section):
    """Morris screening: which factors may be left alone."""

    kind: Literal["screening"]
    base: Base = "chosen"
    vary: Varies
    outputs: Annotated[Merits, Field(min_length=1, description="merits whose causes are asked for")]
    fit: FitAsked = None
    trajectories: Annotated[int, Field(strict=True, ge=4)] = Field(
        20, description="walks through the space, each moving every factor once"
    )
    levels: Annotated[int, Field(strict=True, ge=4, multiple_of=2)] = Field(
        4, description="steps of the grid that the walks go on; an even number"
    )
    weather: Weather = False


def _faults(section: SensitivitySection, given: Given) -> Iterator[str]:
    count = section.base_samples
    if count & (count - 1):
        lower = 1 << (count.bit_length() - 1)
        yield f"base_samples = {count}: must be a power of two, such as {lower} or {2 * lower}"
    names = [*section.vary, *([DAY] if section.weather else [])]
    yield from faults_of_parts(names, section.groups, section.suffered)
    yield from _weather_faults(section, given)


def _weather_faults(section: SensitivitySection | ScreeningSection, given: Given) -> Iterator[str]:
    if section.weather and given.sky is not None and given.sky.days < 2:
        yield "weather = true: the sky has one day only; give it more days, or leave weather out"


def _sobol(work: Work) -> tuple[xr.Dataset, Design]:
    section = work.section
    unknown = [parameter.name for parameter in _unknown(work)]
    groups = section.groups | ({COOKS: unknown} if unknown else {})
    suffered = [*section.suffered, *(unknown if section.suffered or section.weather else ())]
    if not section.weather:
        return _sampled(work, sobol, **_parts(section, suffered, groups)), work.design
    suffered = list(dict.fromkeys([*suffered, DAY]))
    return _sampled(work, sobol, together=DAY, **_parts(section, suffered, groups)), work.design


def _unknown(work: Work) -> tuple[Parameter, ...]:
    """What test cooks leave unknown, as factors; none where the study does not ask."""
    return work.posterior.parameters if work.posterior else ()


def _parts(section: SensitivitySection, suffered: list[str], groups: dict[str, list[str]]) -> dict[str, Any]:
    return {
        "base_samples": section.base_samples,
        "second_order": section.second_order,
        "groups": groups,
        "suffered": suffered,
    }


def _morris(work: Work) -> tuple[xr.Dataset, Design]:
    section = work.section
    now = {vary.name: work.design.value(vary.name) for vary in work.varies}
    now |= {parameter.name: 0.0 for parameter in _unknown(work)}
    counts = {"trajectories": section.trajectories, "levels": section.levels}
    return _sampled(work, morris, now=now, **counts), work.design


def _sampled(work: Work, method: Callable[..., xr.Dataset], **how: Any) -> xr.Dataset:
    """A study that samples a space round the base design, on all days or each design on one of them."""
    names = work.section.outputs
    outputs = outputs_of(names, work.setting.currency)
    space = Space((*work.space.parameters, *_unknown(work)))
    evaluate: Evaluate = OvenEvaluator(work.setting, tuple(names))
    if work.section.weather:
        space = Space((*space.parameters, day_factor(work.setting.sky)))
        evaluate = SingleDayEvaluator(work.setting, tuple(names))
    if work.posterior is not None:
        evaluate = JointEvaluator(evaluate, work.posterior)
    found = method(
        space,
        evaluate,
        outputs=outputs,
        seed=work.setting.seed,
        workers=work.running.workers,
        chunk_rows=CHUNK_ROWS if work.section.weather else work.chunk_rows,  # a row is then one day
        log=work.log(space, output_names(outputs), []),
        progress=work.progress,
        **how,
    )
    better = [MERITS[name].better for name in names]
    text = {"units": "1", "long_name": "which way is better"}
    found = found.assign_coords(output_better=("output", better, text))
    return found.assign_attrs(weather=int(work.section.weather))


SENSITIVITY = Kind(word="sensitivity", section=SensitivitySection, carry_out=_sobol, faults=_faults)
SCREENING = Kind(word="screening", section=ScreeningSection, carry_out=_morris, faults=_weather_faults)
