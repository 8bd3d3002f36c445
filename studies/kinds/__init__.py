"""Kinds of study: each file holds one's table in a config and the function that does it."""

from functools import reduce
from operator import or_
from typing import Annotated, Any

from pydantic import Field

from .aiming import AIMING
from .budget import BUDGET
from .built import BUILT
from .compare import COMPARE
from .cook import COOK
from .day import DAY
from .diagnosis import DIAGNOSIS
from .fit import FIT
from .kind import Given, Kind, Running, StudyError, Watch, Work
from .protocol import PROTOCOL
from .search import SEARCH
from .season import SEASON
from .sensitivity import SCREENING, SENSITIVITY
from .standard import STANDARD
from .tolerance import TOLERANCE

__all__ = ["KINDS", "Given", "Kind", "Running", "StudyError", "StudySection", "Watch", "Work"]

KINDS = {
    kind.word: kind
    for kind in (
        DAY,
        COOK,
        DIAGNOSIS,
        SEARCH,
        SEASON,
        SENSITIVITY,
        SCREENING,
        AIMING,
        BUDGET,
        COMPARE,
        TOLERANCE,
        STANDARD,
        PROTOCOL,
        FIT,
        BUILT,
    )
}

_tables: Any = reduce(or_, (kind.section for kind in KINDS.values()))
StudySection = Annotated[_tables, Field(discriminator="kind")]
