"""A number that a standard asks for, with the clause it stands in."""

from collections.abc import Iterable
from dataclasses import dataclass


class ProcedureError(ValueError):
    """A log from which a procedure can make no figure, in a sentence with the next move."""


@dataclass(frozen=True, kw_only=True)
class Clause:
    """One number of a standard, in SI, and what it is for."""

    value: float
    says: str
    source: str
    read: bool = False  # whether the words of the clause were read; if not, it is from memory


def unread(clauses: Iterable[Clause]) -> tuple[str, ...]:
    """A sentence for each clause that stands here from memory."""
    return tuple(f"from memory: {c.says} ({c.source})" for c in clauses if not c.read)
