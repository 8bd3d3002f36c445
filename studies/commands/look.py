"""Commands that compute nothing: check a config, show a result, list names, print the schema."""

import json
import sys
from pathlib import Path

from .parts import Units
from .speaking import DONE, WRONG, err, loaded, out


def check(*configs: Path) -> int:
    """Check configs without running them: every fault at once, or what would be run.

    Parameters
    ----------
    configs
        Config files (TOML).
    """
    plans = loaded(configs)
    if plans is None:
        return WRONG
    for plan in plans:
        days = f"{plan.setting.sky.days} days standing for {plan.setting.sky.day_weight.sum():.0f}"
        out.print(
            f"{plan.source}: fine. {plan.title}; {plan.setting.sky.place.name}, {days}.",
            markup=False,
            soft_wrap=True,
        )
        for step in plan.steps:
            names = ", ".join(vary.name for vary in step.varies)
            out.print(f"  {step.kind}{f' over {names}' if names else ''}", markup=False, soft_wrap=True)
    return DONE


def show(*results: Path, units: Units = None) -> int:
    """Print what result files hold: what they say in words, and their variables.

    Parameters
    ----------
    results
        Result files (netCDF).
    units
        Of the words; those of the result's config if not given. The variables are in SI either way.
    """
    from ..results.bundle import results_in
    from ..results.description import describe
    from ..results.store import StoreError
    from ..telling.report import sentences
    from ..telling.words.phrases import told_in

    code = DONE
    for path in results:
        try:
            for dataset in results_in(path).values():
                for sentence in sentences(told_in(dataset, units)):
                    out.print(f"- {sentence}", markup=False, soft_wrap=True)
                out.print(describe(dataset), markup=False, soft_wrap=True)
        except StoreError as error:
            err.print(str(error), markup=False, soft_wrap=True)
            code = WRONG
    return code


def names(group: str | None = None) -> int:
    """List the materials and foods that a config may name.

    Parameters
    ----------
    group
        One group only, for example insulations.
    """
    from ...model import load_catalogue, suggestion

    catalogue = load_catalogue()
    known = catalogue.names()
    if group is not None and group not in known:
        err.print(f"{group}: no such group; {suggestion(group, known)}", markup=False)
        return WRONG
    for each in [group] if group else known:
        out.print(f"[bold]{each}[/bold]")
        for name in known[each]:
            out.print(f"  {name:24} {catalogue.meaning(each, name)}", markup=False)
    return DONE


def schema() -> int:
    """Print the JSON schema of a config, for editors that check and complete TOML."""
    from ..asking.sections import ConfigSection

    sys.stdout.write(json.dumps(ConfigSection.model_json_schema(), indent=2) + "\n")
    return DONE
