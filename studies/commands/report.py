"""`noonhearth report`: results as one page to read and to look through."""

from pathlib import Path
from typing import Annotated

import cyclopts

from .parts import Units
from .speaking import DONE, WRONG, err, out


def report(
    *results: Path,
    to: Annotated[Path, cyclopts.Parameter(name=["--to", "-t"])] = Path("report.html"),
    title: str | None = None,
    units: Units = None,
) -> int:
    """Write results, in the order given, as one HTML page that needs nothing beside it.

    Parameters
    ----------
    results
        Result files (netCDF).
    to
        The page.
    title
        Its heading; that of the first result if not given.
    units
        Of words and figures; those of each result's config if not given.
    """
    from ...model import CAUTIONS
    from ..results.store import StoreError, read
    from ..telling import figures
    from ..telling.pages.page import page
    from ..telling.words.phrases import told_in

    if not results:
        err.print("no result given: noonhearth report results/first_oven/search.nc")
        return WRONG
    parts, faults = [], []
    for path in results:
        try:
            dataset = told_in(read(path), units)
            parts.append((dataset, list(figures.drawn(dataset))))
        except StoreError as error:
            faults.append(str(error))
    for fault in faults:
        err.print(fault, markup=False, soft_wrap=True)
    if faults:
        return WRONG
    text = page(
        title or str(parts[0][0].attrs["title"]),
        parts,
        cautions=CAUTIONS,
        command=f"noonhearth report {' '.join(map(str, results))} --to {to}{f' --units {units}' if units else ''}",
    )
    to.write_text(text, "utf-8")
    out.print(f"Written to {to}; it opens in any browser, from disk.", markup=False, soft_wrap=True)
    return DONE
