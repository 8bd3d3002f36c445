"""What a design promised, what was built of it, what the improved one would do; with what cooks leave unknown."""

import json
from collections.abc import Iterator
from typing import Annotated, Any, Literal, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pydantic import Field

from ...model import LIMITS, MERITS, Design, Table
from ..asking.fields import Base, Merits
from ..asking.fits import CHOSEN, FitAsked
from ..asking.schema import Section
from ..judging.posterior import Posterior, drawn_together
from ..judging.robust import kept_by
from .kind import Given, Kind, StudyError, Work
from .labels import attributes, differing

Floats = NDArray[np.float64]

ENDS = (0.025, 0.975)  # of the draws


class BuiltSection(Section):
    """A design as described, as test cooks found it built, and the improved one, on the same days."""

    kind: Literal["built"]
    base: Base = Field("chosen", description="the improved design, in the workmanship that the cooks found")
    fit: FitAsked = CHOSEN
    outcomes: Annotated[Merits, Field(min_length=1)] = Field(
        ["time_to_done", "share_done", "peak_temperature"], description="merits, the most important first"
    )
    draws: Annotated[int, Field(strict=True, ge=8, le=256)] = Field(
        32, description="draws of what the cooks leave unknown; a power of two"
    )


class _Run(NamedTuple):
    """One design as estimated, and under every draw."""

    name: str
    design: Design
    found: xr.Dataset  # over design: the estimate first, then the draws


def _faults(section: BuiltSection, given: Given) -> Iterator[str]:
    if section.draws & (section.draws - 1):
        lower = 1 << (section.draws.bit_length() - 1)
        yield f"draws = {section.draws}: must be a power of two, such as {lower} or {2 * lower}"
    if section.fit is None:
        yield 'fit: a fit is needed, "chosen" for the one before it or { file = "fit.nc" }'
    if "material_cost" in section.outcomes and not given.priced:
        yield "outcomes: material_cost needs a [prices] table"


def _carry_out(work: Work) -> tuple[xr.Dataset, Design]:
    posterior = work.posterior
    if posterior is None:
        raise StudyError(["fit: a fit is needed"])
    draws = drawn_together(None, posterior, work.section.draws, work.setting.seed)
    described = _described(work, posterior)
    built, improved = posterior.built(described), posterior.built(work.design)
    designs = {"as described": described, "as built": built}
    if improved != built:
        designs["improved"] = improved
    runs = []
    for number, (name, design) in enumerate(designs.items()):
        work.progress(number, len(designs), 0)
        own = {} if name == "as described" else draws
        runs.append(_Run(name, design, _ran(work, design, own)))
    work.progress(len(designs), len(designs), 0)
    return _dataset(work, runs).assign_attrs(_about(work, designs)), improved


def _described(work: Work, posterior: Posterior) -> Design:
    """The design as it was before the fit."""
    known = {name: posterior.described[name] for name in work.design.factors if name in posterior.described}
    return work.design.with_factors(**known)


def _ran(work: Work, design: Design, draws: dict[str, Any]) -> xr.Dataset:
    """The design as it stands, and with every draw."""
    columns = {
        name: np.concatenate([[design.value(name)], column]).astype(np.float64)
        for name, column in draws.items()
    }
    evening = "keep_warm_time" in work.section.outcomes
    rows = work.section.draws + 1 if draws else 1
    found: xr.Dataset = work.setting.simulated(Table(design, columns, rows), evening=evening)
    return found


def _dataset(work: Work, runs: list[_Run]) -> xr.Dataset:
    """Outcomes of each design: as estimated, and the ends of what the draws make of it."""
    names = [run.name for run in runs]
    count = work.section.draws
    status = np.zeros((len(runs), count + 1), np.int64)
    for k, run in enumerate(runs):
        status[k] = run.found["status"].to_numpy()  # one row serves all draws of the described design
    variables: dict[str, Any] = {
        "status": (
            ("design", "run"),
            status,
            attributes("0 ran to the end, else why not; run 0 is the estimate"),
        )
    }
    for name in (*work.section.outcomes, *LIMITS):
        variables |= _outcome(work, runs, name, count)
    text = {"design": "the design and how it came out", "run": "the estimate, then the draws"}
    return xr.Dataset(
        variables,
        coords={
            "design": ("design", names, attributes(text["design"])),
            "run": ("run", np.arange(count + 1), attributes(text["run"])),
            **differing([run.design for run in runs]),
        },
    )


def _outcome(work: Work, runs: list[_Run], name: str, count: int) -> dict[str, Any]:
    merit = (MERITS | LIMITS)[name]
    values = np.full((len(runs), count + 1), np.nan)
    for k, run in enumerate(runs):
        values[k] = run.found[name].to_numpy()
    low, high = _ends(values, merit.better)
    about = {"units": merit.unit(work.setting.currency), "dimension": merit.dimension}
    ends = "as the cooks leave it open, in 95 of 100 draws"
    return {
        name: (("design", "run"), values, about | {"long_name": merit.meaning}),
        f"{name}_low": ("design", low, about | {"long_name": f"{merit.meaning}: lower end, {ends}"}),
        f"{name}_high": ("design", high, about | {"long_name": f"{merit.meaning}: upper end, {ends}"}),
    }


def _ends(values: Floats, better: Literal["less", "more"]) -> tuple[Floats, Floats]:
    """Lower and upper end of the draws; never counts as worse than any, and an end that is never is nan."""
    drawn = values[:, 1:]
    weight = np.ones(drawn.shape[1])
    good, bad = (kept_by(drawn, weight, share, better) for share in ENDS)
    return (good, bad) if better == "less" else (bad, good)


def _about(work: Work, designs: dict[str, Design]) -> dict[str, Any]:
    posterior = work.posterior
    assert posterior is not None
    return {
        "study": "built",
        "outcomes": json.dumps(list(work.section.outcomes)),
        "limits": json.dumps(list(LIMITS)),
        "draws": work.section.draws,
        "found": json.dumps(list(posterior.names)),
        "improved": int("improved" in designs),
        "seed": work.setting.seed,
    }


BUILT = Kind(word="built", section=BuiltSection, carry_out=_carry_out, faults=_faults)
