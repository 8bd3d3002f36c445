"""From Morris trajectories to the effects of factors, and which of them may be fixed; needs no sampling library."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .analysis import described, with_verdict
from .indices import elementary_effects, mu_star_half_widths

_TEXTS = {
    "mu": "mean change of the output over the factor's range",
    "mu_star": "mean size of the change of the output over the factor's range",
    "sigma": "spread of the change: curvature, or other factors at work",
    "mu_star_half_width": "half width of the interval of mu_star",
}


def morris_analysed(samples: xr.Dataset) -> xr.Dataset:
    """The dataset of Morris trajectories with the statistics of its elementary effects."""
    result = samples.copy()
    attrs, u = result.attrs, result["u"].values
    columns: dict[str, list[NDArray[np.float64]]] = {name: [] for name in _TEXTS}
    dropped = []
    for y in result["sampled"].values:
        whole = np.isfinite(y).all(axis=1)
        dropped.append(1.0 - float(whole.mean()))
        usable = dropped[-1] <= attrs["most_dropped"]
        effects = elementary_effects(u[whole], y[whole]) if usable else np.full((2, u.shape[2]), np.nan)
        columns["mu"].append(effects.mean(axis=0))
        columns["mu_star"].append(np.abs(effects).mean(axis=0))
        columns["sigma"].append(effects.std(axis=0, ddof=1))
        columns["mu_star_half_width"].append(
            mu_star_half_widths(
                effects, resamples=attrs["resamples"], confidence=attrs["confidence"], seed=attrs["seed"]
            )
        )
    for name, text in _TEXTS.items():
        attributes = {"units": "as output_unit", "long_name": text}
        result[name] = (("output", "factor"), np.array(columns[name]), attributes)
    text = "share of trajectories left out: a row had no value"
    result["dropped_share"] = ("output", dropped, described(text))
    result["may_fix"] = ("factor", _may_fix(result), described("1 where the factor hardly moves any output"))
    return with_verdict(result, np.array(dropped), np.zeros(len(dropped), dtype=bool))


def with_fixed(result: xr.Dataset, fixed: NDArray[np.float64]) -> xr.Dataset:
    """The dataset with what became of the first designs of all trajectories, the factors that may be fixed fixed.

    Parameters
    ----------
    fixed : float64[output, trajectory]
    """
    moved = np.abs(fixed - result["sampled"].values[:, :, 0])
    turned = np.isnan(fixed) != np.isnan(result["sampled"].values[:, :, 0])
    known = np.isfinite(moved)
    mean = np.where(known, moved, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    own = {"units": "as output_unit"}
    text = "output of the first design of each trajectory with all factors that may be fixed at fix_at"
    result["fixed"] = (("output", "trajectory"), fixed, own | {"long_name": text})
    text = "mean size of the change by fixing them all at once, of the designs that have a value both ways"
    result["fixing_moves"] = ("output", np.where(known.any(axis=1), mean, np.nan), own | {"long_name": text})
    text = "designs that have a value only before or only after fixing them"
    result["fixing_turns"] = ("output", turned.sum(axis=1), described(text))
    return result


def _may_fix(result: xr.Dataset) -> NDArray[np.int8]:
    """1 for factors whose effect is negligible on every analysed output."""
    upper = (result["mu_star"] + result["mu_star_half_width"]).values
    largest = result["mu_star"].values.max(axis=1, keepdims=True)
    small = upper <= result.attrs["negligible_share"] * largest
    analysed = np.isfinite(upper).all(axis=1)
    fixable: NDArray[np.int8] = (small[analysed].all(axis=0) & analysed.any()).astype(np.int8)
    return fixable
