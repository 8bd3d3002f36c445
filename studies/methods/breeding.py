"""New designs from good ones: two parents crossed, then moved a little.

Simulated binary crossover and polynomial mutation in the unit cube, the operators of Deb and Agrawal, Simulated binary
crossover for continuous search space, Complex Systems 9 (1995) 115-148, and of Deb and Goyal, A combined genetic
adaptive search (GeneAS) for engineering design, Computer Science and Informatics 26 (1996) 30-45 (both from memory).
Crossing scales its steps by how far the parents lie apart, so that it narrows by itself as the good designs gather.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..judging.outcomes import Columns
from ..judging.space import Parameter, Space

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

# Exponent of the crossover: three children in five lie as near to a parent as 4 % of the distance between the two.
CROSSED_NEAR = 10.0
BROOD = 64  # children that a family has where one of them is kept


def positions(space: Space, columns: Columns) -> Floats:
    """Where designs lie in the unit cube, the middle of its bin for a discrete factor: float64[design, factor]."""
    return np.column_stack([_position(p, columns) for p in space.parameters])


def _position(parameter: Parameter, columns: Columns) -> Floats:
    column = columns[parameter.name]
    if parameter.values is not None:
        return (parameter.index(column) + 0.5) / parameter.values.size
    low, high = parameter.range
    x = column.astype(np.float64)
    u = np.log(x / low) / np.log(high / low) if parameter.log else (x - low) / (high - low)
    return np.asarray(np.clip(u, 0.0, 1.0))


class Family(NamedTuple):
    """Designs that may be crossed with each other, and what they are bred for.

    members : int64[member], rows of the pool, the first the one to start from.
    worth : float64[design], less is better; nan where a design does not serve.
    over : float64[design, limit], above zero where a limit is exceeded; nan where it is not known.
    slack, aside : what of worth may be given up for less of `aside`, float64[design].
    """

    members: Rows
    worth: Floats
    over: Floats
    slack: float = 0.0
    aside: Floats | None = None


def children(
    space: Space,
    pool: Floats,
    families: Sequence[Family],
    *,
    count: int,
    moved_near: float,
    rng: np.random.Generator,
) -> Floats:
    """Positions of new designs; families take turns, first in order and then, for the rest, in order again.

    Every other time round, a family has many children and keeps the one that a quadratic through the best of its pool
    promises most: that finds the bottom of a smooth valley in a few rounds, while the unscreened ones look beyond.

    Parameters
    ----------
    pool : float64[design, factor]
        Where the designs so far lie in the unit cube.
    moved_near : float
        Exponent of the mutation: n moves a factor by 1/(n + 2) of its range in the mean.
    """
    turns = [(families[k % len(families)], k // len(families) % 2 == 0) for k in range(count)]
    return np.array([_child(space, pool, family, screened, moved_near, rng) for family, screened in turns])


def _child(
    space: Space, pool: Floats, family: Family, screened: bool, near: float, rng: np.random.Generator
) -> Floats:
    brood = _bred(space, pool[rng.choice(family.members, size=(BROOD, 2))], near, rng)
    if not screened:
        return np.asarray(brood[0])
    return np.asarray(brood[_most_promising(pool, family, positions(space, space.from_unit(brood)))])


def _most_promising(pool: Floats, family: Family, brood: Floats) -> int:
    """The one that is foreseen to keep the limits, or to be least over them, and then to be best."""
    distance = ((pool - pool[family.members[0]]) ** 2).sum(axis=1)
    beyond = np.zeros(len(brood))
    for over in family.over.T:
        beyond += np.maximum(_foreseen(pool, over, distance, brood), 0.0)
    if family.aside is None:
        return int(np.lexsort((_foreseen(pool, family.worth, family.worth, brood), beyond))[0])
    worth = _foreseen(pool, family.worth, distance, brood)
    least, most = np.nanmin(family.worth), np.nanmax(family.worth)
    beyond += np.maximum(worth - least - family.slack, 0.0) / max(most - least, family.slack, 1e-300)
    return int(np.lexsort((_foreseen(pool, family.aside, distance, brood), beyond))[0])


def _foreseen(pool: Floats, values: Floats, rank: Floats, at: Floats) -> Floats:
    """What the quadratic through designs of known value and least rank says elsewhere; 0 if there are too few."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(rank))
    terms = _terms(at)
    if known.size < terms.shape[1]:
        return np.zeros(len(at))
    used = known[np.argsort(rank[known], kind="stable")[: 2 * terms.shape[1]]]
    fit = np.linalg.lstsq(_terms(pool[used]), values[used], rcond=None)[0]
    return np.asarray(terms @ fit)


def _terms(x: Floats) -> Floats:
    """Of a full quadratic: float64[point, term]."""
    first, second = np.triu_indices(x.shape[1])
    return np.column_stack([np.ones(len(x)), x, x[:, first] * x[:, second]])


def _bred(space: Space, pairs: Floats, near: float, rng: np.random.Generator) -> Floats:
    """A child of each pair; a discrete factor is taken from one parent or drawn anew, never blended."""
    discrete = np.array([p.values is not None for p in space.parameters])
    blended = np.clip(_crossed(pairs[:, 0], pairs[:, 1], rng), 0.0, 1.0)
    crossed = np.where(discrete, _either(pairs, rng), blended)
    anew = np.where(discrete, rng.random(crossed.shape), _moved(crossed, near, rng))
    touched = rng.random(crossed.shape) < 1.0 / space.size
    return np.where(touched, anew, crossed)


def _either(pairs: Floats, rng: np.random.Generator) -> Floats:
    """Each factor from one parent or the other."""
    return np.where(rng.random(pairs[:, 0].shape) < 0.5, pairs[:, 0], pairs[:, 1])


def _crossed(one: Floats, other: Floats, rng: np.random.Generator) -> Floats:
    """One child of each pair, as far from the parents' middle as they are, nearly."""
    u = rng.random(one.shape)
    power = 1.0 / (CROSSED_NEAR + 1.0)
    spread = np.where(u < 0.5, (2 * u) ** power, (1 / (2 * (1 - u))) ** power)
    side = np.where(rng.random(one.shape) < 0.5, -1.0, 1.0)
    return np.asarray(0.5 * (one + other + side * spread * (other - one)))


def _moved(x: Floats, near: float, rng: np.random.Generator) -> Floats:
    """Each position moved a little, never out of the cube."""
    u = rng.random(x.shape)
    power = near + 1.0
    left = 1.0 - x
    back = (2 * u + (1 - 2 * u) * left**power) ** (1 / power) - 1.0
    forth = 1.0 - (2 * (1 - u) + (2 * u - 1) * x**power) ** (1 / power)
    return np.clip(x + np.where(u < 0.5, back, forth), 0.0, 1.0)
