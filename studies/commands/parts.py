"""`noonhearth parts` and `sheets`: papers of a chosen design, for the workshop and for the field."""

from pathlib import Path
from typing import Annotated, Any, Literal

import cyclopts

from .speaking import DONE, WRONG, err, out

Folder = Annotated[Path | None, cyclopts.Parameter(name=["--to", "-t"])]
Paper = Literal["A4", "Letter"]
Units = Literal["metric", "inch"] | None


def parts(
    source: Path, *, to: Folder = None, paper: Paper = "A4", design: int | None = None, units: Units = None
) -> int:
    """Draw every piece of a design: stock sheets as DXF and SVG, templates as PDF, what to order, and a cut list.

    Parameters
    ----------
    source
        A result file, for the design that it is about or chose; or a config, for its own design.
    to
        Folder of the drawings; `parts` beside the source if not given.
    paper
        Of the templates.
    design
        Number of another design of the result: a trial of a search, such as one of its front.
    units
        Of lists and drawings; as the config has them if not given. DXF is always in millimetres.
    """
    found = _found(source, design, units)
    if found is None:
        return WRONG
    from ..papers.bundle import write_papers

    folder = to or source.parent / "parts"
    for sentence in write_papers(found.setting, folder, workshop=found.workshop, paper=paper):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(
        f"Written to {folder}; begin with cut-list.md, and read its cautions before you cut.", soft_wrap=True
    )
    return DONE


def sheets(
    source: Path, *, to: Folder = None, paper: Paper = "A4", design: int | None = None, units: Units = None
) -> int:
    """Print papers for the field: sun and settings by the clock, meals, the sight's plate, the drive, a log form.

    Parameters
    ----------
    source
        A result file, for the design that it is about or chose; or a config, for its own design.
    to
        Folder of the papers; `field` beside the source if not given.
    paper
        What they are printed on.
    design
        Number of another design of the result: a trial of a search, such as one of its front.
    units
        Of the papers; as the config has them if not given.
    """
    found = _found(source, design, units)
    if found is None:
        return WRONG
    from ..papers.field import write_field_papers

    folder = to or source.parent / "field"
    for sentence in write_field_papers(found.setting, folder, paper=paper, plate=found.plate):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(
        f"Written to {folder}. Look at the shadow on the sight, never at the sun or into the mirrors.",
        soft_wrap=True,
    )
    return DONE


def _found(source: Path, design: int | None, units: Units) -> Any:
    """The source of the papers; None after saying what is wrong."""
    from ..config import ConfigError
    from ..papers.source import UnknownDesign, source_of
    from ..results.store import StoreError

    try:
        return source_of(source, design=design, units=units)
    except (ConfigError, StoreError, UnknownDesign) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return None
