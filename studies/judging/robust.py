"""One number from many days, and from many draws of what nobody decides: how the goals of a search are judged.

A value that is nan was never reached; it counts as worse than any other, and a number that falls among the never
is nan itself. Days carry weights: how many real days each of them stands for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from ..asking.quantity import QuantityError, parse, show
from .outcomes import Column
from .space import Space

Floats = NDArray[np.float64]
Better = Literal["less", "more"]
How = Literal["usual", "middle", "mean", "share", "worst month"]

_ROUNDING = 1e-12  # of the whole weight: sums of equal weights round to just below their half
_SHARE = re.compile(r"(?P<share>.+?) of days")

# The word of each way of judging in a config.
_WORDS: dict[str, How] = {
    "usual": "usual",
    "middle day": "middle",
    "mean": "mean",
    "worst month": "worst month",
}


@dataclass(frozen=True)
class Rule:
    """How one number is made of many days.

    Parameters
    ----------
    how : str
        "usual": as each merit is defined; "middle": the day that half of the days keep; "mean"; "share": what so many
        of the days keep; "worst month": the middle day of the month in which it is worst.
    share : float
        Of the days that must keep the value.
    """

    how: How = "usual"
    share: float = 0.5

    @property
    def needed(self) -> float:
        """Share of the days on which a value must be reached, for the number to be one."""
        return 1.0 if self.how == "mean" else self.share

    @property
    def phrase(self) -> str:
        """What it is, for meanings and sentences."""
        return {
            "usual": "each in its usual way",
            "middle": "on the middle one of the days",
            "mean": "mean of all days",
            "share": f"kept on {show(self.share, 'share')} of the days",
            "worst month": "on the middle day of the worst month",
        }[self.how]


USUAL = Rule()


def rule_of(text: object) -> Rule:
    """The rule that a config writes as text.

    Raises
    ------
    QuantityError
        It names none.
    """
    if isinstance(text, str) and text in _WORDS:
        return Rule(_WORDS[text])
    found = _SHARE.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        words = ", ".join(f'"{word}"' for word in _WORDS)
        raise QuantityError(f'{text!r} is not allowed; allowed: {words}, or a share such as "90 % of days"')
    share = parse(found["share"], "share")
    if not 0.5 < share <= 1.0:
        raise QuantityError(f'"{text}": allowed above 50 % and up to 100 % of days')
    return Rule("share", share)


def judged(rule: Rule, values: Floats, weight: Floats, month: NDArray[np.int64], better: Better) -> Floats:
    """One number for each row of values.

    Parameters
    ----------
    rule : Rule
        Any but the usual one, which differs from merit to merit.
    values : float64[row, sample]
        nan: never reached.
    weight : float64[sample]
    month : int64[sample]
    better : "less" or "more"

    Returns
    -------
    float64[row]
    """
    if rule.how == "mean":
        return mean_of_all(values, weight)
    if rule.how == "worst month":
        return worst_month(values, weight, month, better)
    if rule.how in ("middle", "share"):
        return kept_by(values, weight, rule.share, better)
    raise ValueError("the usual way of judging differs from merit to merit")


def kept_by(values: Floats, weight: Floats, share: float, better: Better = "less") -> Floats:
    """The best value that at least this share of the weight keeps, being no worse.

    Of 100 equal days, the cooking time kept by 0.9 is the 90th shortest, and the peak temperature kept by 0.9 the
    90th from the top. nan where fewer than that ever reach a value.

    Parameters
    ----------
    values : float64[row, sample]
    weight : float64[sample]
    share : float
        Above 0, up to 1.
    better : "less" or "more"

    Source
    ------
    Inverse of the empirical distribution function: Hyndman and Fan, Sample quantiles in statistical packages, The
    American Statistician 50 (1996) 361, definition 1; here with weights.
    """
    sign = 1.0 if better == "less" else -1.0
    ranked = np.where(np.isnan(values), np.inf, sign * values)
    order = np.argsort(ranked, axis=-1, kind="stable")
    passed = np.cumsum(weight[order], axis=-1)
    index = np.argmax(passed >= share * weight.sum() * (1 - _ROUNDING), axis=-1)[..., None]
    found = np.take_along_axis(np.take_along_axis(ranked, order, axis=-1), index, axis=-1)[..., 0]
    return np.where(np.isfinite(found), sign * found, np.nan)


def mean_of_all(values: Floats, weight: Floats) -> Floats:
    """Weighted mean; nan where any sample with weight never reached a value. float64[row]"""
    counts = weight > 0
    return np.asarray((values[..., counts] * weight[counts]).sum(axis=-1) / weight.sum())


def mean_of_reached(values: Floats, weight: Floats) -> Floats:
    """Weighted mean over the samples that reached a value; nan where none did. float64[row]"""
    has = ~np.isnan(values)
    total = (has * weight).sum(axis=-1)
    summed = (np.where(has, values, 0.0) * weight).sum(axis=-1)
    return np.asarray(np.divide(summed, total, out=np.full(total.shape, np.nan), where=total > 0))


def worst_month(values: Floats, weight: Floats, month: NDArray[np.int64], better: Better) -> Floats:
    """The middle sample of the month in which it is worst; nan where a month's middle one was never reached.

    float64[row]
    """
    sign = 1.0 if better == "less" else -1.0
    middles = [kept_by(values[..., month == m], weight[month == m], 0.5, better) for m in np.unique(month)]
    ranked = np.where(np.isnan(middles), np.inf, sign * np.asarray(middles)).max(axis=0)
    return np.where(np.isfinite(ranked), sign * ranked, np.nan)


def share_reached(rule: Rule, values: Floats, weight: Floats, month: NDArray[np.int64]) -> Floats:
    """Share of the weight that reached a value; for the worst month, that of the month with the least. float64[row]"""
    reached = (~np.isnan(values)).astype(np.float64)
    if rule.how != "worst month":
        return mean_of_all(reached, weight)
    shares = [mean_of_all(reached[..., month == m], weight[month == m]) for m in np.unique(month)]
    return np.asarray(np.min(shares, axis=0))


def common_draws(space: Space, count: int, seed: int) -> dict[str, Column]:
    """Values of uncertain factors, one per draw: points of a scrambled Sobol sequence, the same for every design.

    Parameters
    ----------
    space : Space
        Of the uncertain factors.
    count : int
        A power of two, so that every factor's range is covered evenly.
    seed : int
    """
    return space.from_unit(
        qmc.Sobol(space.size, scramble=True, rng=np.random.default_rng(seed)).random(count)
    )
