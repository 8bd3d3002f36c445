"""A pool grown in rounds, where good designs are.

The first designs are those already known and a scrambled Sobol sample; each further round breeds from the best of
every cell and from those that do best over all. How far the pool still is from the true best, its last round says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from ..judging.outcomes import Column, Columns, Evaluate, Outcomes
from ..judging.space import Space, row_count, take
from ..running.evaluations import EvaluationLog, evaluate_rows
from ..running.workers import Workers
from .breeding import Family, children, positions
from .pool import CELL, EachCell, Pool, Question, allows
from .regret import NONE, Choices

Floats = NDArray[np.float64]

_FIRST = 1 / 3  # share of the pool that is drawn before anything is bred
_FEW = 4  # parents that each cell gives: the best of it
_NEARER = 5.0  # by which the exponent of the mutation grows from round to round


def pooled(
    space: Space,
    cells: Sequence[Evaluate],
    question: Question,
    *,
    known: Sequence[Mapping[str, Any]] = (),
    designs: int,
    rounds: int,
    seed: int,
    workers: Workers = 1,
    chunk_rows: int = 512,
    log: EvaluationLog | None = None,
    progress: Callable[[int, int, int], None] | None = None,
) -> Pool:
    """Designs tried in all cells, in rounds.

    Parameters
    ----------
    space : Space
    cells : sequence of Evaluate
        One evaluator a cell.
    question : Question
    known : sequence of dict
        Designs that come first; one outside the space is left out.
    designs : int
        In the end, at most: a space with fewer different designs gives fewer.
    rounds : int
        Of breeding, after the first sample.
    seed : int
        1 or more.
    chunk_rows : int
        Rows in one call of an evaluator, at most.
    log : EvaluationLog, optional
        Of `with_cell(space, len(cells))`; a pool asked for again finds there what is finished.
    progress : callable, optional
        (tried, to try, failed), a design counting once in every cell.
    """
    task = _Task(space, tuple(cells), question, workers, chunk_rows, log, progress, designs * len(cells))
    first = _first(space, known, count=max(round(designs * _FIRST), 2), seed=seed)
    pool = task.tried(task.nothing(), first)
    ends = np.linspace(row_count(first), designs, rounds + 1).round().astype(int)
    for end in ends[1:].tolist():
        pool = task.tried(pool, _bred(space, pool, count=end - len(pool.born), seed=seed))
    return pool


def _first(space: Space, known: Sequence[Mapping[str, Any]], *, count: int, seed: int) -> dict[str, Column]:
    """What is known already and, after it, scrambled Sobol points."""
    inside = [row for row in known if allows(space, row)]
    sobol = qmc.Sobol(space.size, scramble=True, rng=np.random.default_rng(seed))
    points = sobol.random_base2(int(np.ceil(np.log2(count))))[:count]
    drawn = space.from_unit(points)
    if not inside:
        return _new(space, drawn, None, count)
    given = space.columns(inside)
    both = {name: np.concatenate([given[name], drawn[name]]) for name in space.names}
    return _new(space, both, None, count)


def _new(space: Space, columns: Columns, pool: Pool | None, count: int) -> dict[str, Column]:
    """The first so many different designs that the pool does not hold."""
    matrix = space.matrix(columns)
    seen = set() if pool is None else {row.tobytes() for row in space.matrix(pool.columns)}
    kept: list[int] = []
    for number, row in enumerate(matrix):
        if len(kept) < count and row.tobytes() not in seen:
            seen.add(row.tobytes())
            kept.append(number)
    return take(columns, np.array(kept, dtype=np.int64))


def _bred(space: Space, pool: Pool, *, count: int, seed: int) -> dict[str, Column]:
    """New designs from the best of every cell and the best over all cells."""
    generation = int(pool.born.max()) + 1
    rng = np.random.default_rng([seed, generation])
    everywhere = range(pool.question.weight.size)
    cells = [family for cell in rng.permutation(everywhere) for family in _cell_families(pool, cell)]
    points = children(
        space,
        positions(space, pool.columns),
        [*_region_families(pool), *cells],
        count=2 * count,  # copies of what there is are dropped
        moved_near=_NEARER * generation,
        rng=rng,
    )
    return _new(space, space.from_unit(points), pool, count)


def _cell_families(pool: Pool, cell: int) -> list[Family]:
    """The best designs of a cell, or those nearest to serving it; and those that fit it within the slack."""
    choices, worth, over = pool.choices, pool.choices.worth[:, cell], pool.margins_over[:, cell]
    best = Family(np.lexsort((worth, pool.over[:, cell]))[:_FEW], worth, over)
    if choices.aside is None or choices.best[cell] == NONE:
        return [best]
    return [best, _fitting_family(worth, over, choices.slack, choices.aside[:, cell])]


def _region_families(pool: Pool) -> list[Family]:
    """The designs for all cells, and for those in which each of the best two would be used."""
    choices = pool.choices
    if choices.one == NONE:
        return []
    used = choices.used(choices.two)
    shares = [choices.can, *(used == design for design in np.unique(used[used != NONE]))]
    return [
        family
        for cells in shares
        for family in _share_families(choices.within(cells), pool.margins_over[:, cells].max(axis=1))
    ]


def _share_families(choices: Choices, over: Floats) -> list[Family]:
    widest = choices.widest
    best = Family(np.lexsort((choices.standing.score, -choices.standing.served))[:_FEW], widest, over)
    if choices.aside is None:
        return [best]
    return [best, _fitting_family(widest, over, choices.slack, choices.standing.aside)]


def _fitting_family(worth: Floats, over: Floats, slack: float, aside: Floats) -> Family:
    """Designs within the slack of the best, those with the least aside first."""
    close = np.flatnonzero(worth <= np.nanmin(worth) + slack)
    order = np.lexsort((worth[close], aside[close]))
    return Family(close[order][:_FEW], worth, over, slack, aside)


@dataclass(frozen=True)
class _Task:
    """How designs are tried."""

    space: Space
    cells: tuple[Evaluate, ...]
    question: Question
    workers: Workers
    chunk_rows: int
    log: EvaluationLog | None
    progress: Callable[[int, int, int], None] | None
    total: int

    def nothing(self) -> Pool:
        """A pool without a design."""
        empty = np.empty((0, len(self.cells)))
        return Pool(
            question=self.question,
            columns=self.space.from_unit(np.empty((0, self.space.size))),
            born=np.empty(0, np.int64),
            values=dict.fromkeys(self.question.value_names, empty),
            margins=dict.fromkeys(self.question.margin_names, empty),
            status=empty.astype(np.int64),
        )

    def tried(self, pool: Pool, columns: dict[str, Column]) -> Pool:
        """The pool with more designs, tried in every cell."""
        if not row_count(columns):
            return pool
        outcomes = self._outcomes(pool, columns)
        if self.progress is not None:
            failed = int(np.count_nonzero(pool.status)) + outcomes.failed
            self.progress(pool.status.size + outcomes.rows, self.total, failed)

        def grown(old: NDArray[Any], new: NDArray[Any]) -> NDArray[Any]:
            return np.concatenate([old, new.reshape(len(self.cells), -1).T])

        generation = pool.born.max(initial=-1) + 1
        return Pool(
            question=self.question,
            columns={n: np.concatenate([pool.columns[n], columns[n]]) for n in self.space.names},
            born=np.append(pool.born, np.full(row_count(columns), generation)),
            values={name: grown(pool.values[name], outcomes.values[name]) for name in pool.values},
            margins={name: grown(pool.margins[name], outcomes.margins[name]) for name in pool.margins},
            status=grown(pool.status, outcomes.status),
        )

    def _outcomes(self, pool: Pool, columns: dict[str, Column]) -> Outcomes:
        """Outcomes of new designs, cell after cell."""
        count, cells = row_count(columns), len(self.cells)
        everywhere = {name: np.tile(column, cells) for name, column in columns.items()}
        before, failed_before = pool.status.size, int(np.count_nonzero(pool.status))

        def tell(done: int, total: int, failed: int) -> None:
            if self.progress is not None:
                self.progress(before + count * cells - total + done, self.total, failed_before + failed)

        return evaluate_rows(
            EachCell(self.cells),
            everywhere | {CELL: np.repeat(np.arange(cells), count)},
            values=self.question.value_names,
            margins=self.question.margin_names,
            workers=self.workers,
            chunk_rows=min(count, self.chunk_rows),  # a cell, if it can be: its sun is the same for all
            progress=tell,
            log=self.log,
        )
