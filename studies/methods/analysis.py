"""What the analyses of sampled outputs share: the dataset of a sample, and who of its outputs can be analysed.

A dataset of samples says how it was drawn: the order of its rows, the seed of the bootstrap, the confidence.
All of it is read from the dataset, so that indices can be computed again from a file and come out the same.

Rows without a value (failed, or a goal never reached) cannot enter an estimator of variance. The whole base (Sobol)
or trajectory (Morris) that holds one is dropped for that output, the share dropped is reported, and beyond
`most_dropped` the output's variance is not analysed at all: its indices would describe a part of the space chosen by
the failures. What is left describes designs that give a value, and only those. Nothing is put in the place of a
value that is not there.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import OK, Outcomes, Output
from ..judging.space import Parameter, Space
from ..running.faults import stopped_variables


class SensitivityError(ValueError):
    """A study of sensitivity that would not mean anything; the message says why."""


def described(long_name: str) -> dict[str, str]:
    """Attributes of a variable that is a plain number or a word."""
    return {"units": "1", "long_name": long_name}


def sampled_dataset(
    space: Space,
    outputs: Sequence[Output],
    outcomes: Outcomes,
    shape: tuple[int, int],
    dims: tuple[str, str],
    *,
    factors: str = "factor",
) -> xr.Dataset:
    """The sampled outputs in the shape of their design, with the names of factors and outputs.

    `factors` is the dimension along which the factors of the space stand.
    """
    names = [output.name for output in outputs]
    if not names or len(set(names)) != len(names):
        raise SensitivityError("at least one output is needed, and each only once")
    sampled = np.stack([outcomes.values[name].reshape(shape) for name in names])
    without = np.isnan(sampled).sum(axis=(1, 2))
    own = {
        "": (space.names, "factor"),
        "_meaning": ([p.meaning for p in space.parameters], "meaning of the factor"),
    }
    return xr.Dataset(
        {
            "sampled": (
                ("output", *dims),
                sampled,
                {"units": "as output_unit", "long_name": "output of each design; nan where it has no value"},
            ),
            "status": (dims, outcomes.status.reshape(shape), described("0 where the design ran to the end")),
            "rows_without_value": (
                "output",
                without,
                described("designs that failed or never reached the goal"),
            ),
            **stopped_variables(outcomes),
        },
        coords={
            "output": ("output", names, described("output")),
            "output_unit": ("output", [output.unit for output in outputs], described("unit of the output")),
            "output_meaning": ("output", [o.meaning for o in outputs], described("meaning of the output")),
            "drawn_as": (factors, [p.drawn_as for p in space.parameters], described("how it is drawn")),
            **{f"{factors}{end}": (factors, list(of), described(text)) for end, (of, text) in own.items()},
        },
        attrs={
            "space": json.dumps([_recorded(p) for p in space.parameters]),
            "designs": outcomes.rows,
            "failed_designs": int(np.count_nonzero(outcomes.status != OK)),
        },
    )


def _recorded(parameter: Parameter) -> dict[str, Any]:
    """A factor as it was sampled, for the record."""
    record: dict[str, Any] = {"name": parameter.name, "kind": parameter.kind, "unit": parameter.unit}
    if parameter.kind == "choice":
        record |= {"choices": list(parameter.choices)}
    else:
        low, high = parameter.range
        record |= {"low": low, "high": high, "step": parameter.step, "log": parameter.log}
    if parameter.spread is not None:
        record |= {"spread": type(parameter.spread).__name__.lower(), **vars(parameter.spread)}
    return record


def with_verdict(result: xr.Dataset, dropped: NDArray[np.float64], told: NDArray[np.bool_]) -> xr.Dataset:
    """The dataset with its warnings; refused if nothing can be said of any output.

    Parameters
    ----------
    result : Dataset
    dropped : float64[output]
        Share of the sample left out because a row had no value.
    told : bool[output]
        Whether something is said of the output all the same.
    """
    most = result.attrs["most_dropped"]
    refused = dropped > most
    if (refused & ~told).all():
        names = result["output"].values.astype(str)
        if not result.attrs["failed_designs"] and np.isnan(result["sampled"].values).all():
            raise SensitivityError(
                f"{', '.join(names)} is never reached by any design; vary between designs that get there, or give "
                "them longer days"
            )
        raise SensitivityError(
            f"every output lacks a value in more than {100 * most:.3g} % of the sample "
            f"({result.attrs['failed_designs']} of {result.attrs['designs']} designs failed); "
            "narrow the ranges"
        )
    flat = _flat(result["sampled"].values)
    warnings = []
    for k, name in enumerate(result["output"].values.astype(str)):
        lost = (
            f"{100 * float(result['rows_without_value'][k]) / result.attrs['designs']:.3g} % of the designs"
        )
        left = f"{100 * dropped[k]:.3g} % of the sample"
        if refused[k]:
            allowed = f"with their neighbours that is {left}, allowed {100 * most:.3g} %"
            kept = "its variance is not analysed" if told[k] else "not analysed"
            warnings.append(f"{name}: {kept}, {lost} have no value ({allowed})")
        elif dropped[k] > 0.0:
            warnings.append(
                f"{name}: {lost} have no value; with their neighbours {left} was left out, "
                "and the shares of variance speak of the rest only"
            )
        if flat[k] and not refused[k]:
            warnings.append(f"{name}: does not vary, so nothing explains it")
    result["analysed"] = (
        "output",
        (~refused & ~flat).astype(np.int8),
        described("1 where the variance of the output was analysed"),
    )
    return result.assign_attrs(warnings="\n".join(warnings))


def _flat(sampled: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether all values that an output has are the same: bool[output]."""
    rows = [y[np.isfinite(y)] for y in sampled]
    return np.array([y.size > 0 and np.ptp(y) == 0.0 for y in rows])
