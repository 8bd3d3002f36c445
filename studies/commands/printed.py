"""`noonhearth page`: the page that a result has to print."""

from pathlib import Path
from typing import Annotated

import cyclopts

from .speaking import DONE, WRONG, err, out


def page(result: Path, *, to: Annotated[Path | None, cyclopts.Parameter(name=["--to", "-t"])] = None) -> int:
    """Write the page that a result has to print, as PDF on A4: of kind "standard", the test report.

    Parameters
    ----------
    result
        Result file (netCDF) of a study of the kind "standard".
    to
        Folder of the page; beside the result if not given.
    """
    from ..results.store import StoreError, read
    from ..telling.figures import save_sheet

    try:
        dataset = read(result)
    except StoreError as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return WRONG
    folder = to or result.parent
    folder.mkdir(parents=True, exist_ok=True)
    written = save_sheet(dataset, folder, prefix=result.stem)
    if written is None:
        study = dataset.attrs.get("study", "unknown")
        err.print(
            f'{result} is of the kind "{study}"; a test report is made of kind "standard"', soft_wrap=True
        )
        return WRONG
    out.print(f"Written to {written}; print it at 100 % on A4.", markup=False, soft_wrap=True)
    return DONE
