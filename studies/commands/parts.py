"""`noonhearth parts` and `sheets`: papers of a chosen design, for the workshop and for the field."""

from pathlib import Path
from typing import Annotated, Any, Literal

import cyclopts

from .speaking import DONE, WRONG, err, out

Folder = Annotated[Path | None, cyclopts.Parameter(name=["--to", "-t"])]
Paper = Literal["A4", "Letter"]


def parts(source: Path, *, to: Folder = None, paper: Paper = "A4") -> int:
    """Draw every piece of a design: stock sheets as DXF and SVG, templates as PDF, and a cut list.

    Parameters
    ----------
    source
        A result file, for the design that it is about or chose; or a config, for its own design.
    to
        Folder of the drawings; `parts` beside the source if not given.
    paper
        Of the templates.
    """
    found = _found(source)
    if found is None:
        return WRONG
    setting, workshop = found
    from ..papers.bundle import write_papers

    folder = to or source.parent / "parts"
    for sentence in write_papers(setting, folder, workshop=workshop, paper=paper):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(
        f"Written to {folder}; begin with cut-list.md, and read its cautions before you cut.", soft_wrap=True
    )
    return DONE


def sheets(source: Path, *, to: Folder = None, paper: Paper = "A4") -> int:
    """Print papers for the field: sun and settings by the clock, meals, the sight's plate, the drive, a log form.

    Parameters
    ----------
    source
        A result file, for the design that it is about or chose; or a config, for its own design.
    to
        Folder of the papers; `field` beside the source if not given.
    paper
        What they are printed on.
    """
    found = _found(source)
    if found is None:
        return WRONG
    from ..papers.field import write_field_papers

    folder = to or source.parent / "field"
    for sentence in write_field_papers(found[0], folder, paper=paper):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(
        f"Written to {folder}. Look at the shadow on the sight, never at the sun or into the mirrors.",
        soft_wrap=True,
    )
    return DONE


def _found(source: Path) -> tuple[Any, Any] | None:
    """The setting with the design to cut, and the workshop; None after saying what is wrong."""
    from ..config import ConfigError, load
    from ..results.reader import open_result
    from ..results.store import StoreError

    try:
        if source.suffix == ".toml":
            plan = load(source)
            return plan.setting, plan.workshop
        opened = open_result(source)
        return opened.outcome, opened.plan.workshop
    except (ConfigError, StoreError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return None
