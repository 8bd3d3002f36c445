"""The [[study]] tables of a config: what varies in each, what its kind makes of it, and what is wrong with them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ...model import AsBuilt, Catalogue, Design, Meal, Spec, Surroundings, specs
from ..judging.posterior import Posterior
from ..kinds import KINDS, Given, StudyError
from ..kinds.kind import decided_in
from .aiming_parts import AIMINGS
from .fits import FitFault, is_chosen, posterior_asked
from .oven_tables import OVEN_PARTS
from .varying import Vary, VaryError, read_varies


@dataclass(frozen=True, kw_only=True)
class Step:
    """One study of a plan: its table, the factors it varies, and what its kind made of the table beyond that."""

    section: Any
    varies: tuple[Vary, ...] = ()
    ready: Any = None
    posterior: Posterior | None = None  # of a fit that it names by file

    @property
    def kind(self) -> str:
        """The word that names the kind of study."""
        return str(self.section.kind)


def varies_of(raw: dict[str, Any], catalogue: Catalogue, faults: list[str]) -> list[tuple[Vary, ...]]:
    """Factors of every study, read from the raw file so that their faults are found beside all others."""
    factors = _factors(raw)
    studies = raw.get("study")
    varies = []
    for number, study in enumerate(studies if isinstance(studies, list) else [], start=1):
        table = study.get("vary") if isinstance(study, dict) else None
        try:
            varies.append(read_varies(table, factors, catalogue.names()) if isinstance(table, dict) else ())
        except VaryError as error:
            varies.append(())
            faults.extend(f"study[{number}].vary.{fault}" for fault in error.faults)
    return varies


def idle_faults(raw: dict[str, Any], design: Design | None, varies: list[tuple[Vary, ...]]) -> Iterator[str]:
    """Bends of tiers that neither the oven nor any study has: easily forgotten, and silent."""
    if design is None or any(vary.name == "tiers" for study in varies for vary in study):
        return
    tiers, idle = design.oven.funnel.tiers, design.oven.funnel.idle
    move = f"of no effect with tiers = {tiers}; write tiers = "
    for name in raw["oven"]["funnel"]:
        if name in idle:
            yield f"oven.funnel.{name}: {move}{2 if name.startswith('second') else 3}"
    for number, study in enumerate(varies, start=1):
        for vary in study:
            if vary.name in idle:
                yield f"study[{number}].vary.{vary.name}: {move}{2 if vary.name.startswith('second') else 3}"


def _factors(raw: dict[str, Any]) -> dict[str, Spec]:
    aiming = raw.get("aiming")
    how = aiming.get("how") if isinstance(aiming, dict) else None
    parts = [described for described, _ in OVEN_PARTS.values()]
    # A misspelt aiming is one fault, not one more for each of its fields that a study varies.
    parts += [Meal, Surroundings, AsBuilt, *([AIMINGS[how]] if how in AIMINGS else AIMINGS.values())]
    return {name: spec for part in parts for name, spec in specs(part).items()}


def steps_of(
    sections: list[Any], varies: list[tuple[Vary, ...]], given: Given, faults: list[str]
) -> Iterator[Step]:
    """The studies, and what is wrong with them beyond single keys: their order, picks, counts and skies."""
    chosen, fitted = False, False
    for number, (section, factors) in enumerate(zip(sections, varies, strict=True), start=1):
        here, kind, ready, posterior = f"study[{number}]", KINDS[section.kind], None, None
        found = [f"{here}.{fault}" for fault in kind.faults(section, given)]
        if not chosen and "base" in section.model_fields_set and section.base == "chosen":
            found.append(f'{here}.base = "chosen": nothing before it chooses a design; write "config"')
        asked = getattr(section, "fit", None)
        if not fitted and is_chosen(asked):
            found.append(f'{here}.fit = "chosen": no fit stands before it; write {{ file = "fit.nc" }}')
        try:
            posterior = posterior_asked(asked, given.folder, decided_in(section))
        except FitFault as fault:
            found.append(f"{here}.{fault}")
        chosen, fitted = chosen or kind.chooses, fitted or kind.word == "fit"
        if not found and given.design is not None and given.sky is not None:
            try:
                ready = kind.ready(section, given)
            except StudyError as error:
                found = [f"{here}.{fault}" for fault in error.faults]
        faults.extend(found)
        yield Step(section=section, varies=factors, ready=ready, posterior=posterior)
