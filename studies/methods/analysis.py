"""From sampled outputs to indices: the second half of a sensitivity study, which needs no sampling library.

A dataset of samples says how it was drawn: the order of its rows, the seed of the bootstrap, the confidence.
All of it is read from the dataset, so that indices can be computed again from a file and come out the same.

Rows without a value (failed, or a goal never reached) cannot enter an estimator. The whole base (Sobol) or
trajectory (Morris) that holds one is dropped for that output, the share dropped is reported, and beyond
`most_dropped` the output is not analysed at all: its indices would describe a part of the space chosen by
the failures. What is left describes designs that give a value, and only those.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..outcomes import OK, Outcomes, Output
from ..space import Parameter, Space
from .indices import (
    Positions,
    elementary_effects,
    mu_star_half_widths,
    positions,
    sobol_half_widths,
    sobol_indices,
)


class SensitivityError(ValueError):
    """A study of sensitivity that would not mean anything; the message says why."""


def sobol_analysed(samples: xr.Dataset) -> xr.Dataset:
    """The dataset of a Sobol sample with its indices, half widths and the share of bases dropped.

    The layout, the seed of the bootstrap and the confidence are read from the dataset, never guessed.
    """
    names = tuple(str(name) for name in samples["factor"].values)
    layout = positions(names, second_order=bool(samples.attrs["second_order"]))
    if [str(label) for label in samples["position"].values] != layout.labels:
        raise SensitivityError("the rows of a base are not in the order this analysis knows")
    y = samples["sampled"].values
    sizes = [y.shape[1] // 4, y.shape[1] // 2, y.shape[1]]
    found = [[_analysed(one[:size], layout, samples.attrs) for size in sizes] for one in y]
    dims = ("output", "base_samples", "factor")
    result = samples.assign_coords(
        base_samples=("base_samples", sizes, described("bases used")),
    )
    kinds = {"first": "by the factor alone", "total": "by the factor with all its interactions"}
    for name, text in kinds.items():
        result[name] = (dims, _stack(found, name), described(f"share of variance explained {text}"))
        result[f"{name}_half_width"] = (
            dims,
            _stack(found, f"{name}_half_width"),
            described(f"half width of the interval of {name}"),
        )
    if layout.ba.stop > layout.ba.start:
        result = result.assign_coords(
            partner=("partner", list(names), described("the other factor of a pair"))
        )
        for name in ("second", "second_half_width"):
            result[name] = (
                (*dims, "partner"),
                _stack(found, name),
                described(
                    "share of variance explained by a pair beyond each alone"
                    if name == "second"
                    else "half width of the interval of second"
                ),
            )
    result["dropped_share"] = (
        dims[:2],
        _stack(found, "dropped_share"),
        described("share of bases left out because a row had no value"),
    )
    return _with_verdict(result, result["dropped_share"].values[:, -1])


def _analysed(y: NDArray[np.float64], layout: Positions, attrs: dict[str, Any]) -> dict[str, Any]:
    """Indices and half widths of one output from its first bases; nan if too many have no value."""
    whole = np.isfinite(y).all(axis=1)
    dropped = 1.0 - float(whole.mean())
    usable = dropped <= attrs["most_dropped"]
    kept = y[whole] if usable else np.zeros_like(y)
    point = sobol_indices(kept, layout)
    width = sobol_half_widths(
        kept,
        layout,
        resamples=int(attrs["resamples"]),
        confidence=float(attrs["confidence"]),
        seed=int(attrs["seed"]),
    )
    return {
        **point._asdict(),
        **{f"{name}_half_width": part for name, part in width._asdict().items()},
        "dropped_share": dropped,
    }


def morris_analysed(samples: xr.Dataset) -> xr.Dataset:
    """The dataset of Morris trajectories with the statistics of its elementary effects."""
    result = samples.copy()
    attrs, u = result.attrs, result["u"].values
    columns: dict[str, list[NDArray[np.float64]]] = {k: [] for k in ("mu", "mu_star", "sigma", "half_width")}
    dropped = []
    for y in result["sampled"].values:
        whole = np.isfinite(y).all(axis=1)
        dropped.append(1.0 - float(whole.mean()))
        usable = dropped[-1] <= attrs["most_dropped"]
        effects = elementary_effects(u[whole], y[whole]) if usable else np.full((2, u.shape[2]), np.nan)
        columns["mu"].append(effects.mean(axis=0))
        columns["mu_star"].append(np.abs(effects).mean(axis=0))
        columns["sigma"].append(effects.std(axis=0, ddof=1))
        columns["half_width"].append(
            mu_star_half_widths(
                effects, resamples=attrs["resamples"], confidence=attrs["confidence"], seed=attrs["seed"]
            )
        )
    texts = {
        "mu": "mean change of the output over the factor's range",
        "mu_star": "mean size of the change of the output over the factor's range",
        "sigma": "spread of the change: curvature, or other factors at work",
        "half_width": "half width of the interval of mu_star",
    }
    for name, text in texts.items():
        key = "mu_star_half_width" if name == "half_width" else name
        result[key] = (
            ("output", "factor"),
            np.array(columns[name]),
            {"units": "as output_unit", "long_name": text},
        )
    result["dropped_share"] = (
        "output",
        dropped,
        described("share of trajectories left out: a row had no value"),
    )
    result["may_fix"] = ("factor", _may_fix(result), described("1 where the factor hardly moves any output"))
    return _with_verdict(result, np.array(dropped))


def _may_fix(result: xr.Dataset) -> NDArray[np.int8]:
    """1 for factors whose effect is negligible on every analysed output."""
    upper = (result["mu_star"] + result["mu_star_half_width"]).values
    largest = result["mu_star"].values.max(axis=1, keepdims=True)
    small = upper <= result.attrs["negligible_share"] * largest
    analysed = np.isfinite(upper).all(axis=1)
    fixable: NDArray[np.int8] = (small[analysed].all(axis=0) & analysed.any()).astype(np.int8)
    return fixable


def described(long_name: str) -> dict[str, str]:
    return {"units": "1", "long_name": long_name}


def _stack(found: list[list[dict[str, Any]]], name: str) -> NDArray[np.float64]:
    return np.array([[one[name] for one in row] for row in found])


def sampled_dataset(
    space: Space, outputs: Sequence[Output], outcomes: Outcomes, shape: tuple[int, int], dims: tuple[str, str]
) -> xr.Dataset:
    """The sampled outputs in the shape of their design, with the names of factors and outputs."""
    names = [output.name for output in outputs]
    if not names or len(set(names)) != len(names):
        raise SensitivityError("at least one output is needed, and each only once")
    sampled = np.stack([outcomes.values[name].reshape(shape) for name in names])
    without = np.isnan(sampled).sum(axis=(1, 2))
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
        },
        coords={
            "output": ("output", names, described("output")),
            "output_unit": ("output", [output.unit for output in outputs], described("unit of the output")),
            "output_meaning": ("output", [o.meaning for o in outputs], described("meaning of the output")),
            "factor": ("factor", list(space.names), described("factor")),
            "factor_meaning": (
                "factor",
                [p.meaning for p in space.parameters],
                described("meaning of the factor"),
            ),
        },
        attrs={
            "space": json.dumps([_described(p) for p in space.parameters]),
            "designs": outcomes.rows,
            "failed_designs": int(np.count_nonzero(outcomes.status != OK)),
        },
    )


def _described(parameter: Parameter) -> dict[str, Any]:
    """A factor's range as it was sampled, for the record."""
    record: dict[str, Any] = {"name": parameter.name, "kind": parameter.kind, "unit": parameter.unit}
    if parameter.kind == "choice":
        return record | {"choices": list(parameter.choices)}
    low, high = parameter.range
    return record | {"low": low, "high": high, "step": parameter.step, "log": parameter.log}


def _with_verdict(result: xr.Dataset, dropped: NDArray[np.float64]) -> xr.Dataset:
    """The dataset with its warnings; refused if not one output can be analysed."""
    names = result["output"].values.astype(str)
    most = result.attrs["most_dropped"]
    refused = dropped > most
    if refused.all():
        raise SensitivityError(
            f"every output lacks a value in more than {100 * most:.3g} % of the sample "
            f"({result.attrs['failed_designs']} of {result.attrs['designs']} designs failed); "
            "narrow the ranges"
        )
    sampled = result["sampled"].values.reshape(len(names), -1)
    flat = np.array([np.ptp(y[np.isfinite(y)]) == 0.0 if np.isfinite(y).any() else False for y in sampled])
    warnings = [
        f"{name}: not analysed, {100 * share:.3g} % of the sample has no value, allowed {100 * most:.3g} %"
        for name, share in zip(names[refused], dropped[refused], strict=True)
    ]
    partly = ~refused & (dropped > 0.0)
    warnings += [
        f"{name}: {100 * share:.3g} % of the sample has no value and was left out; "
        "the indices speak of the rest only"
        for name, share in zip(names[partly], dropped[partly], strict=True)
    ]
    warnings += [f"{name}: does not vary, so nothing explains it" for name in names[flat & ~refused]]
    result["analysed"] = (
        "output",
        (~refused & ~flat).astype(np.int8),
        described("1 where the output was analysed"),
    )
    return result.assign_attrs(warnings="\n".join(warnings))
