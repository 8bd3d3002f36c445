"""The sections of an argument, in their order; a sentence with its name and its place among them; a table."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

# By the name that stays, whatever the heading says.
SECTIONS = {
    "question": "The question",
    "site": "The place and its sun",
    "choice": "The recommended design",
    "reasons": "Why this one",
    "cost": "What it costs",
    "change": "What would change the choice",
    "cooks": "What the test cooks say",
    "doubt": "What is uncertain",
    "checks": "What the model is checked against",
    "beyond": "What this run does not look at",
    "cautions": "Before anyone builds or cooks",
    "origin": "Where this comes from, and how to repeat it",
}

DETAIL = ""  # of a sentence that stands with its study and in no section of the argument


class Said(NamedTuple):
    """A sentence, the name it goes by, and the section of the argument it belongs to."""

    name: str
    text: str
    section: str = DETAIL


def begun(sentence: str) -> str:
    """The sentence with a capital letter."""
    return sentence[:1].upper() + sentence[1:]


def numbered(name: str, texts: Iterable[str], section: str = DETAIL) -> list[Said]:
    """Sentences of one sort, told apart by number where there are several."""
    found = list(texts)
    if len(found) == 1:
        return [Said(name, found[0], section)]
    return [Said(f"{name}.{number}", text, section) for number, text in enumerate(found, start=1)]


@dataclass(frozen=True)
class Table:
    """Rows of words under heads; the first column says what a row is of."""

    caption: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass
class Section:
    """One section of an argument: what it says, from which studies, and what would say more."""

    name: str
    said: list[Said] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    studies: list[str] = field(default_factory=list)  # by name, in which its evidence stands

    @property
    def title(self) -> str:
        """Its heading."""
        return SECTIONS[self.name]
