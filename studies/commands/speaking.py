"""What every command shares: where it prints, its exit codes, and configs read with all faults told."""

import os
from pathlib import Path
from typing import Any

from rich.console import Console

out = Console(highlight=False)
err = Console(stderr=True, highlight=False)

DONE, FAILED, WRONG = 0, 1, 2


def loaded(configs: tuple[Path, ...]) -> list[Any] | None:
    """Every config as a plan, or None after printing the faults of all of them."""
    from ..config import ConfigError, load

    if not configs:
        err.print("no config given: noonhearth run configs/first_oven.toml")
        return None
    plans, wrong = [], False
    for path in configs:
        try:
            plans.append(load(path))
        except ConfigError as error:
            err.print(str(error), markup=False, soft_wrap=True)
            wrong = True
    return None if wrong else plans


def processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
