"""What a result holds, as a plain table."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr


def describe(dataset: xr.Dataset) -> str:
    """What a result holds, as a plain table."""
    lines = [str(dataset.attrs.get("title", "untitled"))]
    lines += [
        f"{name}: {dataset.attrs[name]}" for name in ("created", "seed", "counts") if name in dataset.attrs
    ]
    rows = [("name", "over", "unit", "least", "most", "meaning")]
    for name, variable in sorted(dataset.variables.items(), key=lambda item: str(item[0])):
        over = " x ".join(f"{dim} {dataset.sizes[dim]}" for dim in variable.dims)
        least, most = _span(variable.values)
        unit, meaning = variable.attrs.get("units", ""), variable.attrs.get("long_name", "")
        rows.append((str(name), over, str(unit), least, most, str(meaning)))
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    table = [
        "  ".join(cell.ljust(width) for cell, width in zip(r, widths, strict=True)).rstrip() for r in rows
    ]
    return "\n".join([*lines, "", *table])


def _span(values: np.ndarray[Any, Any]) -> tuple[str, str]:
    """Least and most of an array as text; of words, in alphabetical order."""
    if values.dtype.kind == "f":
        values = values[np.isfinite(values)]
    if values.size == 0:
        return "-", "-"
    if values.dtype.kind in "UO":
        words = sorted(map(str, values.ravel()))
        return words[0], words[-1]
    least, most = values.min(), values.max()
    return (f"{least:.6g}", f"{most:.6g}") if values.dtype.kind in "iuf" else (str(least), str(most))
