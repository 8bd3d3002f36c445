"""Results in plain words: sentences a builder can act on, and a Markdown summary with figures.

Everything is read from the Dataset; nothing is simulated here.
"""

import re
from collections.abc import Iterator, Sequence

import xarray as xr

from .argument.sections import Section, Table, begun
from .argument.whole import argument, in_short
from .drawings.drawing import Drawn
from .tellings import said_of, telling_of
from .words.phrases import spoken

NOTHING_LEFT = "What it says stands above."


def sentences(result: xr.Dataset) -> list[str]:
    """What a result says, most important first."""
    return [begun(sentence) for sentence in telling_of(result).sentences(result)]


def details(result: xr.Dataset) -> list[str]:
    """What a result says beyond what an argument takes from it."""
    return [begun(said.text) for said in said_of(result) if not said.section]


def is_empty(result: xr.Dataset) -> bool:
    """Whether nothing came out, such as a search that found no design within its limits."""
    return telling_of(result).is_empty(result)


def markdown(
    title: str,
    parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]],
    *,
    cautions: Sequence[tuple[str, str, str]],
    command: str,
) -> str:
    """A whole run as one Markdown page beside its figures: the argument, then each study.

    Parameters
    ----------
    parts : (result, its figures) of each study, in order
    cautions : (where, text, who has the last word)
    command : the command that makes it all again
    """
    sections = argument([result for result, _ in parts], cautions=cautions)
    lines = [f"# {_plain(title)}", "", *(f"**{_plain(text)}**\n" for text in in_short(sections))]
    for section in sections:
        lines += [f"## {section.title}", "", *_section(section)]
        if section.name == "origin":
            lines += [f"The command that makes this again: `{command}`", ""]
    for result, drawings in parts:
        lines += [f"## {begun(spoken(result.attrs['study_name']))}", ""]
        lines += [f"- {_plain(sentence)}" for sentence in details(result) or [NOTHING_LEFT]]
        lines += ["", *_figures(str(result.attrs["study_name"]), drawings)]
    return "\n".join(lines)


def _section(section: Section) -> Iterator[str]:
    """Lines of one section of the argument."""
    yield from (f"- {_plain(said.text)}" for said in section.said)
    yield from (f"- *{_plain(text)}*" for text in section.missing)
    for table in section.tables:
        yield ""
        yield from _table(table)
    yield ""


def _table(table: Table) -> Iterator[str]:
    yield from (_plain(table.caption), "")
    yield f"| {' | '.join(map(_cell, table.heads))} |"
    yield f"|{'---|' * len(table.heads)}"
    yield from (f"| {' | '.join(map(_cell, row))} |" for row in table.rows)


def _figures(name: str, drawings: Sequence[Drawn]) -> Iterator[str]:
    for drawing in drawings:
        file = f"{name}-{drawing.name}"
        yield f"![{drawing.name}]({file}.svg)"
        yield ""
        yield f"{_plain(drawing.caption)} Numbers: [{file}.csv]({file}.csv)."
        yield ""


def _plain(text: str) -> str:
    """Words that stay words: Markdown takes tags and lines as they come."""
    return re.sub(r"<(?=[A-Za-z/!?])", "&lt;", " ".join(text.split()))


def _cell(text: str) -> str:
    return _plain(text).replace("|", "\\|")
