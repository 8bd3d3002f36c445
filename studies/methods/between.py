"""How far a quantity differs from trial to trial, beyond what each trial is unsure of by itself.

Source
------
R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986) 177, from memory: the variance between trials by the
method of moments.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def variance_between(values: Floats, errors: Floats) -> float:
    """Variance of the true values of trials round their mean; 0 where their errors explain all, or with one trial.

    Parameters
    ----------
    values, errors : float64[trial]
        What each trial says, and its standard error, above zero; trials with a nan are left out.

    Examples
    --------
    With equal errors it is the variance of the values less that of each error:

    >>> round(variance_between(np.array([1.0, 3.0]), np.array([0.5, 0.5])), 6)
    1.75
    """
    known = np.isfinite(values) & np.isfinite(errors)
    x, weight = values[known], errors[known] ** -2.0
    if len(x) < 2:
        return 0.0
    whole = weight.sum()
    excess = float((weight * (x - (weight * x).sum() / whole) ** 2).sum()) - (len(x) - 1)
    return max(excess / float(whole - (weight**2).sum() / whole), 0.0)
