"""What a fit to test cooks holds: factors, what is known of them together, every reading beside the model."""

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from .fit_readings import FitRun, readings_of
from .labels import attributes

Floats = NDArray[np.float64]


def fit_dataset(run: FitRun) -> xr.Dataset:
    """The result of a fit.

    Returns
    -------
    Dataset over (factor, other, direction, draw, cook, series, reading, offset)
    """
    parts = [_factors(run), _directions(run), readings_of(run), _by_cook(run)]
    if run.measured.offsets:
        parts.append(_offsets(run))
    told = {
        "posterior": run.posterior.text,
        "freedom": run.found.freedom,
        "quantile": run.found.quantile,
        "converged": int(run.found.converged),
    }
    return xr.merge(parts, combine_attrs="drop_conflicts").assign_attrs(told)


def _factors(run: FitRun) -> xr.Dataset:
    """Estimates with their intervals, in the factors' own SI units; what is known of them jointly."""
    found, count, own = run.found, len(run.factors), "in its own SI unit"
    draws = found.draws[:, :count]
    blocks = np.quantile(draws, [0.025, 0.975], axis=0) if len(draws) else np.full((2, count), np.nan)
    priors = np.array([factor.prior for factor in run.factors])
    known = np.isfinite(priors[:, 1])
    variables: dict[str, tuple[Any, str]] = {
        "estimate": (found.values[:count], f"the factor as the cooks found it, {own}"),
        "low": (found.low[:count], f"lower end of its 95 % interval, {own}"),
        "high": (found.high[:count], f"upper end of its 95 % interval, {own}"),
        "described": (run.start, f"the factor as described, {own}"),
        "standard_error": (found.errors[:count], "of its logarithm, or as a share of its range"),
        "readings_error": (run.by_readings, "part of the standard error that is the readings' own scatter"),
        "ray_noise": (run.rays, "part of the standard error that is the ray tracer's own noise"),
        "between_cooks": (
            run.between,
            "standard deviation from cook to cook beyond their errors, as standard_error",
        ),
        "at_bound": (found.at_bound[:count], "-1 at the lower end of what was allowed, 1 at the upper one"),
        "block_low": (blocks[0], f"lower end of the middle 95 % of refits to resampled residuals, {own}"),
        "block_high": (blocks[1], f"upper end of the middle 95 % of refits to resampled residuals, {own}"),
        "prior_middle": (
            np.where(known, priors[:, 0], np.nan),
            f"known before the cooks, {own}; nan: nothing",
        ),
        "prior_deviation": (np.where(known, priors[:, 1], np.nan), f"its standard deviation, {own}"),
        "without_prior": (_alone(run), "standard error by the cooks alone, as standard_error; inf: none"),
    }
    coordinates = {
        "factor": ([factor.name for factor in run.factors], "factor that was fitted"),
        "factor_meaning": ([factor.spec.meaning for factor in run.factors], "what it is"),
        "factor_dimension": ([factor.spec.dimension for factor in run.factors], "its dimension"),
        "factor_scale": (
            ["logarithm" if factor.logs else "range" for factor in run.factors],
            "whether it was fitted in its logarithm or as a share of its range",
        ),
        "factor_low": ([factor.low for factor in run.factors], f"least value allowed, {own}"),
        "factor_high": ([factor.high for factor in run.factors], f"greatest value allowed, {own}"),
    }
    pair = ("factor", "other")
    return xr.Dataset(
        {name: ("factor", values, attributes(text)) for name, (values, text) in variables.items()}
        | {
            "correlation": (
                pair,
                found.correlation[:count, :count],
                attributes("correlation of two estimates"),
            ),
            "covariance": (
                pair,
                found.covariance[:count, :count],
                attributes("covariance of two estimates, of logarithms or shares of the range"),
            ),
            "drawn": (
                ("draw", "factor"),
                draws,
                attributes(f"factor fitted to residuals resampled in blocks, {own}"),
            ),
        },
        coords={name: ("factor", values, attributes(text)) for name, (values, text) in coordinates.items()}
        | {
            "other": ("other", [factor.name for factor in run.factors], attributes("the other factor")),
            "draw": ("draw", np.arange(len(draws)), attributes("number of the refit")),
        },
    )


def _alone(run: FitRun) -> Floats:
    """Standard errors by the readings alone; inf where these tell nothing."""
    singular, directions = run.apart
    told = singular > 1e-9 * singular.max(initial=1e-300)
    variance = ((directions[told] / singular[told, None]) ** 2).sum(axis=0)
    blind = (np.abs(directions[~told]) > 1e-6).any(axis=0)
    return np.where(blind, np.inf, np.sqrt(variance))


def _directions(run: FitRun) -> xr.Dataset:
    """What the readings tell well and badly, without any prior."""
    singular, directions = run.apart
    error = np.divide(1.0, singular, out=np.full(len(singular), np.inf), where=singular > 0)
    text = "of the readings, in logarithms or shares of the range; the best known direction first"
    return xr.Dataset(
        {
            "singular_value": ("direction", singular, attributes(f"singular value of the Jacobian {text}")),
            "direction_error": (
                "direction",
                error,
                attributes("standard error along the direction, by readings alone"),
            ),
            "direction_part": (
                ("direction", "factor"),
                directions,
                attributes("part of a factor in the direction"),
            ),
        },
        coords={"direction": ("direction", np.arange(len(singular)), attributes("number of the direction"))},
    )


def _offsets(run: FitRun) -> xr.Dataset:
    """What thermometers were found to be off by."""
    found, count = run.found, len(run.factors)
    records = [model.record.name for model in run.measured.models]
    own = slice(count, count + len(run.measured.offsets))
    kelvin = {"estimate": found.values[own], "low": found.low[own], "high": found.high[own]}
    return xr.Dataset(
        {
            f"offset_{name}": ("offset", values, attributes(f"thermometer reads too high by: {name}", "K"))
            for name, values in kelvin.items()
        },
        coords={
            "offset_cook": (
                "offset",
                [records[one.cook] for one in run.measured.offsets],
                attributes("in this cook"),
            ),
            "offset_sensor": (
                "offset",
                [one.sensor for one in run.measured.offsets],
                attributes("this thermometer"),
            ),
        },
    )


def _by_cook(run: FitRun) -> xr.Dataset:
    """What each cook would say alone; nan of those held out."""
    held = len(run.held.models) if run.held else 0
    values, errors = (np.pad(table, ((0, held), (0, 0)), constant_values=np.nan) for table in run.by_cook)
    pair = ("cook", "factor")
    return xr.Dataset(
        {
            "cook_estimate": (
                pair,
                values,
                attributes("factor by one cook alone, weakly held to all, in its own SI unit"),
            ),
            "cook_error": (
                pair,
                errors,
                attributes("standard error of that, of its logarithm or as a share of its range"),
            ),
        }
    )
