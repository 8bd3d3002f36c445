"""What a batch of configs says: what was done, what was not and why, and how the designs compare."""

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from ..drawings.drawing import Drawn, axis_text, column
from .phrases import listed, said, spoken

_DONE, _FAILED, _WRONG = 0, 1, 2
_STATES = {_DONE: "done", _FAILED: "no result", _WRONG: "config is wrong"}
_SHOWN = ("time_to_done", "share_done", "plateau_temperature", "reaims", "mass", "material_cost")


def batch_sentences(result: xr.Dataset) -> list[str]:
    """What was done, what was not and why, and which design is the quickest."""
    counts = json.loads(str(result.attrs["counts"]))
    lines = [
        f"{counts['configs']} configs, {counts['studies']} studies: {counts['studies'] - counts['failed']} done, "
        f"{counts['failed']} without a result; {counts['wrong']} of the configs "
        f"{'is' if counts['wrong'] == 1 else 'are'} wrong."
    ]
    for k in np.flatnonzero(result["status"].to_numpy() != _DONE):
        row = result.isel(row=k)
        where = f"{row['config'].item()}: {row['study'].item()}".removesuffix(": ")
        lines.append(f"In {where}: {_STATES[int(row['status'])]}. {row['fault'].item()}")
    return [*lines, *_quickest(result), *_over(result), *_passed_over(result)]


def _passed_over(result: xr.Dataset) -> list[str]:
    """Files of the folder that are no configs."""
    names = str(result.attrs["passed_over"])
    return (
        [f"Passed over, as they hold no place, sky, oven, aiming, meal or study: {names}."] if names else []
    )


def _quickest(result: xr.Dataset) -> list[str]:
    """Which design is done first; places and foods may differ, so no more is said."""
    if "time_to_done" not in result or not np.isfinite(result["time_to_done"]).any():
        return []
    row = result.isel(row=int(np.nanargmin(result["time_to_done"].to_numpy())))
    time = said(float(row["time_to_done"]), "time", result.attrs, digits=3)
    return [
        f"Done first, on the middle day of its own place: {row['config'].item()}, after {time}. Places, days and foods "
        "may differ from config to config."
    ]


def _over(result: xr.Dataset) -> list[str]:
    """Configs whose design exceeds a safety limit."""
    lines = []
    for name in limits_in(result):
        over = result["config"].to_numpy()[result[name].to_numpy() > 0]
        if over.size:
            lines.append(
                f"OVER A LIMIT: {result[name].attrs['long_name']}, in {listed(sorted(set(over.tolist())))}."
            )
    return lines


def limits_in(result: xr.Dataset) -> list[str]:
    """Names of the limits in the table."""
    return [str(name) for name in result.data_vars if result[name].attrs.get("role") == "limit"]


def batch_table(result: xr.Dataset) -> pd.DataFrame:
    """Every row with every number, in the units a builder reads."""
    table: dict[str, Any] = {}
    for name, array in result.data_vars.items():
        if array.dtype.kind in "UO" or "dimension" not in array.attrs:
            table[f"{name} [s]" if name == "seconds" else str(name)] = array.to_numpy()
            continue
        values, unit = column(array, result.attrs)
        table[axis_text(name, "" if unit == "1" else unit)] = values
    table["status"] = [_STATES[int(code)] for code in result["status"].to_numpy()]
    return pd.DataFrame(table)


def batch_markdown(result: xr.Dataset, drawings: Sequence[Drawn]) -> str:
    """The batch on one page: what came of each config, the designs side by side, the figures."""
    lines = [f"# {result.attrs['title']}", "", *(f"- {line}" for line in batch_sentences(result))]
    lines += [
        "",
        *_table(["config", "study", "state", *map(spoken, _shown_in(result)), "seconds"], _outcomes(result)),
    ]
    differing = _differing(result)
    if differing:
        heads = ["config", "study", *map(spoken, differing)]
        lines += ["", "## Where the designs differ", "", *_table(heads, _designs(result, differing))]
    for drawing in drawings:
        name = f"batch-{drawing.name}"
        lines += [
            "",
            f"![{drawing.name}]({name}.svg)",
            "",
            f"{drawing.caption} Numbers: [{name}.csv]({name}.csv).",
        ]
    end = "Each config's own folder has its results, its figures and its cautions: read those before you build or cook."
    return "\n".join([*lines, "", end, ""])


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return lines + ["| " + " | ".join(cell.replace("|", "/") for cell in row) + " |" for row in rows]


def _shown_in(result: xr.Dataset) -> list[str]:
    return [name for name in _SHOWN if name in result and np.isfinite(result[name]).any()]


def _outcomes(result: xr.Dataset) -> list[list[str]]:
    rows = []
    for k in range(result.sizes["row"]):
        row = result.isel(row=k)
        config, study = str(row["config"].item()), str(row["study"].item())
        linked = f"[{config}]({config}/summary.md)" if int(row["status"]) == _DONE else config
        cells = [_cell(row, name) for name in _shown_in(result)]
        rows.append([linked, study, _STATES[int(row["status"])], *cells, f"{float(row['seconds']):.1f}"])
    return rows


def _cell(row: xr.Dataset, name: str) -> str:
    """One number or word of a row as text."""
    value, dimension = row[name].item(), str(row[name].attrs["dimension"])
    if isinstance(value, str):
        return value
    if math.isnan(value):
        return "-"
    if dimension == "money":
        return f"{value:.4g} {row['currency'].item()}".strip()
    return said(float(value), dimension, row.attrs, digits=3)


def _differing(result: xr.Dataset) -> list[str]:
    """Factors in which the designs are not all alike."""
    names = []
    for name, array in result.data_vars.items():
        if array.attrs.get("role") == "factor":
            known = array.to_numpy()[result["status"].to_numpy() == _DONE]
            alike = known.dtype.kind == "f" and np.allclose(
                known, known[:1], rtol=1e-9, atol=0.0, equal_nan=True
            )
            if not alike and len(set(known.tolist())) > 1:
                names.append(str(name))
    return names


def _designs(result: xr.Dataset, names: Sequence[str]) -> list[list[str]]:
    done = np.flatnonzero(result["status"].to_numpy() == _DONE)
    return [
        [str(result["config"][k].item()), str(result["study"][k].item())]
        + [_cell(result.isel(row=k), name) for name in names]
        for k in done
    ]
