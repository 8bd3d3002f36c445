"""Studies of solar ovens: each kind is one function from a setting to a Dataset; `load` reads a config.

The command line does the same from a file; see README.md.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .batches import batch
    from .config import ConfigError, Plan, load
    from .kinds import Running, StudyError
    from .kinds.aiming import AIMING as aiming
    from .kinds.budget import BUDGET as budget
    from .kinds.built import BUILT as built
    from .kinds.compare import COMPARE as compare
    from .kinds.cook import COOK as cook
    from .kinds.day import DAY as day
    from .kinds.diagnosis import DIAGNOSIS as diagnosis
    from .kinds.fit import FIT as fit
    from .kinds.protocol import PROTOCOL as protocol
    from .kinds.search import SEARCH as search
    from .kinds.season import SEASON as season
    from .kinds.sensitivity import SCREENING as screening
    from .kinds.sensitivity import SENSITIVITY as sensitivity
    from .kinds.standard import STANDARD as standard
    from .kinds.tolerance import TOLERANCE as tolerance
    from .logs import LogError, read_cook
    from .results.bundle import read_bundle, write_bundle
    from .results.merge import MergeError, merge
    from .results.reader import open_result
    from .results.store import StoreError
    from .run import carry_out
    from .running.cluster import Cluster
    from .setting import Setting
    from .telling.figures import drawn
    from .telling.report import sentences

# Where each public name lives; opened when first asked for, so that the command line starts at once.
_HOMES = {
    "Cluster": ("running.cluster", "Cluster"),
    "ConfigError": ("config", "ConfigError"),
    "LogError": ("logs", "LogError"),
    "MergeError": ("results.merge", "MergeError"),
    "Plan": ("config", "Plan"),
    "Running": ("kinds", "Running"),
    "Setting": ("setting", "Setting"),
    "StoreError": ("results.store", "StoreError"),
    "StudyError": ("kinds", "StudyError"),
    "aiming": ("kinds.aiming", "AIMING"),
    "batch": ("batches", "batch"),
    "budget": ("kinds.budget", "BUDGET"),
    "built": ("kinds.built", "BUILT"),
    "carry_out": ("run", "carry_out"),
    "compare": ("kinds.compare", "COMPARE"),
    "cook": ("kinds.cook", "COOK"),
    "day": ("kinds.day", "DAY"),
    "diagnosis": ("kinds.diagnosis", "DIAGNOSIS"),
    "drawn": ("telling.figures", "drawn"),
    "fit": ("kinds.fit", "FIT"),
    "load": ("config", "load"),
    "merge": ("results.merge", "merge"),
    "open_result": ("results.reader", "open_result"),
    "protocol": ("kinds.protocol", "PROTOCOL"),
    "read_bundle": ("results.bundle", "read_bundle"),
    "read_cook": ("logs", "read_cook"),
    "screening": ("kinds.sensitivity", "SCREENING"),
    "search": ("kinds.search", "SEARCH"),
    "season": ("kinds.season", "SEASON"),
    "sensitivity": ("kinds.sensitivity", "SENSITIVITY"),
    "sentences": ("telling.report", "sentences"),
    "standard": ("kinds.standard", "STANDARD"),
    "tolerance": ("kinds.tolerance", "TOLERANCE"),
    "write_bundle": ("results.bundle", "write_bundle"),
}

__all__ = [
    "Cluster",
    "ConfigError",
    "LogError",
    "MergeError",
    "Plan",
    "Running",
    "Setting",
    "StoreError",
    "StudyError",
    "aiming",
    "batch",
    "budget",
    "built",
    "carry_out",
    "compare",
    "cook",
    "day",
    "diagnosis",
    "drawn",
    "fit",
    "load",
    "merge",
    "open_result",
    "protocol",
    "read_bundle",
    "read_cook",
    "screening",
    "search",
    "season",
    "sensitivity",
    "sentences",
    "standard",
    "tolerance",
    "write_bundle",
]


def __getattr__(name: str) -> Any:
    """The public name, its module opened now."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, own = _HOMES[name]
    return getattr(import_module(f".{module}", __name__), own)
