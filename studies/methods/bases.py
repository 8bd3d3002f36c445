"""A Sobol sample as a dataset: the rows of every base, the two samples they are made of, what was swapped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ..judging.outcomes import Outcomes, Output
from ..judging.space import Space
from .analysis import described, sampled_dataset
from .layout import Positions


def base_dataset(
    space: Space,
    outputs: Sequence[Output],
    outcomes: Outcomes,
    cube: NDArray[np.float64],
    layout: Positions,
) -> xr.Dataset:
    """The sampled outputs over (output, base, position), and samples A and B over (base, drawn).

    Parameters
    ----------
    cube : float64[base, position, factor]
        The rows, as positions in the ranges of the factors.
    """
    samples = sampled_dataset(space, outputs, outcomes, cube.shape[:2], ("base", "position"), factors="drawn")
    samples = samples.assign_coords(position=("position", layout.labels, described("row within a base")))
    for name, row in (("a", 0), ("b", -1)):
        text = f"sample {name.upper()}, as positions in the range of each factor"
        samples[name] = (("base", "drawn"), cube[:, row], described(text))
        text = f"sample {name.upper()}, as values in SI, of a choice as its place in the list"
        values = space.matrix(space.from_unit(cube[:, row]))
        samples[f"value_{name}"] = (("base", "drawn"), values, described(text))
    return samples


def with_units(
    samples: xr.Dataset, space: Space, units: Mapping[str, Sequence[str]], suffered: Sequence[str]
) -> xr.Dataset:
    """The dataset with what was swapped together, and whose side each factor is on."""
    meaning = {p.name: p.meaning for p in space.parameters}
    means = [meaning[members[0]] if unit in members else "group" for unit, members in units.items()]
    sides = ["suffered" if name in suffered else "decided" for name in space.names]
    return samples.assign_coords(
        factor=("factor", list(units), described("factor, or group of factors moved together")),
        factor_meaning=("factor", means, described("meaning of the factor")),
        factor_members=("factor", [", ".join(m) for m in units.values()], described("factors it holds")),
        drawn_side=("drawn", sides, described("who settles the factor")),
    )
