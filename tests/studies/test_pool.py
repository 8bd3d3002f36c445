"""A pool of designs over cells: bests and regrets against closed forms, picks against brute force."""

import itertools
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from noonhearth.studies.judging.outcomes import Columns, Evaluate, Outcomes
from noonhearth.studies.judging.space import Parameter, Space
from noonhearth.studies.methods.breeding import _crossed, _moved, positions
from noonhearth.studies.methods.growing import pooled
from noonhearth.studies.methods.pool import EachCell, Pool, Question, with_cell
from noonhearth.studies.methods.regret import NONE, Choices
from noonhearth.studies.methods.trials import Goal, Limit
from noonhearth.studies.running.evaluations import EvaluationLog

Floats = NDArray[np.float64]

SQUARE = Space(
    tuple(Parameter(name=name, kind="real", meaning=name, low=-1.0, high=3.0) for name in ("x", "y"))
)
GOAL = Goal(
    name="loss", unit="1", meaning="distance from the cell's own optimum, squared", direction="minimize"
)
RATHER = Goal(name="price", unit="1", meaning="what it costs", direction="minimize")

# Optima of a dozen cells in the square, no two alike: their places are all that a valley of squares has.
OPTIMA = np.random.default_rng(5).uniform(-0.5, 2.5, (12, 2))
WEIGHT = np.arange(1.0, 13.0)


def valley(optimum: Floats, floor: float) -> Evaluate:
    """Loss = floor + squared distance from an optimum; price = x."""

    def evaluate(columns: Columns) -> Outcomes:
        loss = floor + (columns["x"] - optimum[0]) ** 2 + (columns["y"] - optimum[1]) ** 2
        return Outcomes(
            values={"loss": loss, "price": np.asarray(columns["x"], np.float64)},
            status=np.zeros(loss.size, np.int64),
            margins={},
        )

    return evaluate


VALLEYS = [valley(optimum, float(floor)) for floor, optimum in enumerate(OPTIMA)]


def grown(question: Question, cells: list[Evaluate] = VALLEYS, **how: object) -> Pool:
    asked: dict[str, object] = {"designs": 240, "rounds": 6, "seed": 3} | how
    return pooled(SQUARE, cells, question, **asked)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def pool() -> Pool:
    return grown(Question(goal=GOAL, weight=WEIGHT))


def at(pool: Pool, row: int) -> Floats:
    return np.array([pool.columns["x"][row], pool.columns["y"][row]])


def test_the_best_of_every_cell_is_found(pool: Pool) -> None:
    """A hundredth of the range off at most, with 20 designs for each of the dozen optima."""
    for cell, optimum in enumerate(OPTIMA):
        assert np.linalg.norm(at(pool, pool.choices.best[cell]) - optimum) < 0.04
    assert (pool.best_so_far[-1] - np.arange(12) < 0.04**2).all()
    assert (np.diff(pool.best_so_far, axis=0) <= 0).all()


def test_regret_is_that_of_the_closed_form(pool: Pool) -> None:
    """(d - o)^2 against the true optimum; short of it by what the pool's best misses, and never more."""
    x, y = pool.columns["x"], pool.columns["y"]
    true = (x[:, None] - OPTIMA[:, 0]) ** 2 + (y[:, None] - OPTIMA[:, 1]) ** 2
    assert (pool.choices.regret >= 0).all()
    short = true - pool.choices.regret
    assert short.min() > -1e-9
    assert short.max() < 0.04**2


def test_least_mean_regret_is_at_the_weighted_middle(pool: Pool) -> None:
    """The sum of weighted squares is least at their centre of mass, and there it is their second moment."""
    middle = WEIGHT @ OPTIMA / WEIGHT.sum()
    assert np.linalg.norm(at(pool, pool.choices.one) - middle) < 0.04
    moment = WEIGHT @ ((OPTIMA - middle) ** 2).sum(axis=1) / WEIGHT.sum()
    assert pool.choices.least_of_one == pytest.approx(moment, abs=2 * 0.04**2)


def test_least_worst_regret_is_half_way_between_the_ends() -> None:
    """Of three optima on a line the middle one does not count: (d - a)^2 = (b - d)^2."""
    ends = [np.array([0.0, 1.0]), np.array([0.3, 1.0]), np.array([2.0, 1.0])]
    cells = [valley(end, 1.0) for end in ends]
    found = grown(Question(goal=GOAL, weight=np.array([9.0, 9.0, 1.0]), rule="worst"), cells)
    assert at(found, found.choices.one) == pytest.approx([1.0, 1.0], abs=0.1)  # flat across, a kink along
    assert found.choices.least_of_one == pytest.approx(1.0, abs=0.02)


def test_two_designs_stand_in_the_middles_of_two_clusters() -> None:
    """A pair serves two far clusters best from their means (as in two-means clustering)."""
    left, right = np.array([[-0.4, 0.0], [0.0, 0.4], [-0.2, 0.2]]), np.array([[2.4, 2.0], [2.0, 2.6]])
    cells = [valley(optimum, 0.0) for optimum in (*left, *right)]
    found = grown(Question(goal=GOAL, weight=np.ones(5)), cells)
    places = sorted((at(found, row) for row in found.choices.two), key=lambda place: float(place[0]))
    assert places[0] == pytest.approx(left.mean(axis=0), abs=0.06)
    assert places[1] == pytest.approx(right.mean(axis=0), abs=0.06)
    first, second = (int(found.choices.used(found.choices.two)[cell]) for cell in (0, 4))
    assert found.choices.used(found.choices.two).tolist() == [first] * 3 + [second] * 2
    spread = sum(((part - part.mean(axis=0)) ** 2).sum() for part in (left, right)) / 5
    assert found.choices.least_of_two == pytest.approx(spread, abs=0.01)


def test_within_the_slack_the_cheapest_is_taken() -> None:
    """Price is x: on the disc of loss <= slack round an optimum the least x is one radius to its left."""
    cells = [valley(np.array(optimum), 0.0) for optimum in ([1.0, 1.0], [2.0, 0.0])]
    question = Question(goal=GOAL, rather=RATHER, weight=np.ones(2), slack=0.25)
    found = grown(question, cells)
    for cell, optimum in enumerate(([1.0, 1.0], [2.0, 0.0])):
        row = int(found.choices.fitting[cell])
        assert found.choices.worth[row, cell] <= found.choices.worth[:, cell].min() + 0.25
        assert at(found, row)[0] == pytest.approx(optimum[0] - 0.5, abs=0.06)


def test_a_goal_out_of_reach_is_counted_and_never_a_number() -> None:
    """Each cell is served within half a unit of its optimum alone; one optimum lies far outside."""

    def near(optimum: Floats) -> Evaluate:
        inner = valley(optimum, 0.0)

        def evaluate(columns: Columns) -> Outcomes:
            plain = inner(columns)
            short = plain.values["loss"] - 0.25
            loss = np.where(short > 0, np.nan, plain.values["loss"])
            values = {"loss": loss, "price": plain.values["price"]}
            return Outcomes(values=values, status=plain.status, margins={"near": short})

        return evaluate

    optima = np.array([[0.0, 0.0], [0.3, 0.0], [2.0, 2.0], [9.0, 9.0]])
    limit = Limit(name="near", unit="1", meaning="too far off", scale=1.0)
    question = Question(goal=GOAL, limits=(limit,), weight=np.ones(4))
    found = grown(question, [near(optimum) for optimum in optima])
    choices = found.choices
    assert choices.can.tolist() == [True, True, True, False]
    assert choices.best[3] == NONE
    assert np.isnan(choices.regret[:, 3]).all()
    assert choices.standing.served.max() == 2.0  # the first two at once
    assert at(found, choices.one) == pytest.approx([0.15, 0.0], abs=0.04)
    assert choices.used(choices.two)[:3].tolist().count(NONE) == 0
    true = ((np.column_stack([found.columns["x"], found.columns["y"]])[:, None] - optima) ** 2).sum(axis=2)
    assert np.array_equal(np.isfinite(choices.regret), true <= 0.25)


def test_a_limit_binds_where_it_is_exceeded() -> None:
    """x <= 0.25: the best within it of a valley at (1, 1) is straight beside it, at (0.25, 1), with loss 0.75^2."""

    def evaluate(columns: Columns) -> Outcomes:
        plain = valley(np.array([1.0, 1.0]), 0.0)(columns)
        return Outcomes(values=plain.values, status=plain.status, margins={"x": columns["x"] - 0.25})

    limit = Limit(name="x", unit="1", meaning="x beyond a quarter", scale=0.1)
    found = grown(Question(goal=GOAL, limits=(limit,), weight=np.ones(1)), [evaluate])
    assert (np.isnan(found.choices.worth[:, 0]) == (found.columns["x"] > 0.25)).all()
    assert found.values["loss"][found.choices.one, 0] == pytest.approx(0.75**2, abs=0.02)


def test_rows_of_several_cells_come_back_in_their_order() -> None:
    rows = {"x": np.array([0.0, 1.0, 0.0, 2.0]), "y": np.zeros(4), "cell": np.array([2, 0, 1, 0])}
    at_origin = tuple(valley(np.zeros(2), 10.0 * floor) for floor in range(3))
    assert EachCell(at_origin)(rows).values["loss"].tolist() == [20.0, 1.0, 10.0, 4.0]


def table(rule: str, seed: int = 8) -> Choices:
    """A made-up pool of seven designs over five cells, some not served."""
    rng = np.random.default_rng(seed)
    worth = np.where(rng.random((7, 5)) < 0.3, np.nan, rng.uniform(10, 20, (7, 5)))
    return Choices(
        worth=worth,
        weight=rng.uniform(1, 3, 5),
        rule=rule,  # type: ignore[arg-type]
        slack=1.0,
        aside=rng.integers(1, 4, (7, 5)).astype(float),
    )


@pytest.mark.parametrize("rule", ["mean", "worst"])
@pytest.mark.parametrize("seed", range(1, 9))
def test_picks_are_those_of_brute_force(rule: str, seed: int) -> None:
    """The rule written out for every design and every pair, without arrays."""
    choices = table(rule, seed)
    best = [min((w for w in column if w == w), default=None) for column in choices.worth.T.tolist()]
    worth, weight, aside = choices.worth.tolist(), choices.weight.tolist(), choices.aside.tolist()

    def standing(designs: tuple[int, ...]) -> tuple[float, float, float]:
        served, losses, sides = [], [], []
        for cell, floor in enumerate(best):
            able = [d for d in designs if worth[d][cell] == worth[d][cell]]
            if able and floor is not None:
                used = min(able, key=lambda d: worth[d][cell])
                served.append(weight[cell])
                losses.append(worth[used][cell] - floor)
                sides.append(aside[used][cell])
        total = sum(served)
        average = lambda values: sum(w * v for w, v in zip(served, values, strict=True)) / total  # noqa: E731
        return total, (average(losses) if rule == "mean" else max(losses)), average(sides)

    def picked(options: list[tuple[int, ...]]) -> tuple[int, ...]:
        stands = {option: standing(option) for option in options}
        most = max(total for total, _, _ in stands.values())
        wide = [option for option in options if stands[option][0] > most - 1e-9]
        least = min(stands[option][1] for option in wide)
        close = [option for option in wide if stands[option][1] <= least + 1.0]
        return min(close, key=lambda option: (stands[option][2], stands[option][1]))

    assert (choices.one,) == picked([(d,) for d in range(7)])
    assert choices.two == picked(list(itertools.combinations(range(7), 2)))


def test_a_small_space_is_tried_whole() -> None:
    space = Space(
        (
            Parameter(name="number", kind="integer", meaning="how many", low=1, high=3),
            Parameter(name="word", kind="choice", meaning="which", choices=("a", "b")),
        )
    )

    def evaluate(columns: Columns) -> Outcomes:
        loss = (columns["number"] - 2.0) ** 2 + np.where(columns["word"] == "b", 0.0, 0.5)
        return Outcomes(values={"loss": loss}, status=np.zeros(loss.size, np.int64), margins={})

    found = pooled(space, [evaluate], Question(goal=GOAL, weight=np.ones(1)), designs=40, rounds=4, seed=1)
    tried = set(zip(found.columns["number"].tolist(), found.columns["word"].tolist(), strict=True))
    assert tried == set(itertools.product((1, 2, 3), "ab"))
    assert len(found.born) == 6
    best = found.choices.one
    assert (found.columns["number"][best], found.columns["word"][best]) == (2, "b")


def test_a_goal_to_be_large_is_turned_both_ways() -> None:
    more = Goal(name="loss", unit="1", meaning="gain", direction="maximize")
    cells: list[Evaluate] = [valley(np.array([0.0, 0.0]), 0.0)]
    found = grown(Question(goal=more, weight=np.ones(1)), cells, designs=60)
    assert at(found, found.choices.one) == pytest.approx([3.0, 3.0], abs=0.02)
    assert found.best_so_far[-1, 0] == found.values["loss"].max()


def test_known_designs_come_first_and_those_outside_are_left_out() -> None:
    known = [{"x": 0.5, "y": 0.25}, {"x": 99.0, "y": 0.0}]
    found = grown(Question(goal=GOAL, weight=WEIGHT), known=known, designs=20, rounds=1)
    assert at(found, 0).tolist() == [0.5, 0.25]
    assert found.row_of(SQUARE, known[0]) == 0
    assert found.row_of(SQUARE, known[1]) == NONE


def same(one: Pool, other: Pool) -> None:
    for name in SQUARE.names:
        assert one.columns[name].tobytes() == other.columns[name].tobytes()
    assert one.values["loss"].tobytes() == other.values["loss"].tobytes()
    assert one.status.tobytes() == other.status.tobytes()


def test_workers_and_chunks_change_nothing(pool: Pool) -> None:
    question = Question(goal=GOAL, weight=WEIGHT)
    same(pool, grown(question, workers=2))
    same(pool, grown(question, workers=2, chunk_rows=7))
    assert grown(question, seed=4).columns["x"][50] != pool.columns["x"][50]


@pytest.mark.parametrize("after", [1, 9, 25])
def test_stopped_anywhere_and_taken_up_again_is_as_if_never_stopped(
    pool: Pool, tmp_path: Path, after: int
) -> None:
    question = Question(goal=GOAL, weight=WEIGHT)
    calls = itertools.count()

    def failing(inner: Evaluate) -> Callable[[Columns], Outcomes]:
        def evaluate(columns: Columns) -> Outcomes:
            if next(calls) == after:
                raise KeyboardInterrupt
            return inner(columns)

        return evaluate

    def log() -> EvaluationLog:
        space = with_cell(SQUARE, len(VALLEYS))
        return EvaluationLog(space, values=["loss"], margins=[], key="valleys", folder=tmp_path)

    with pytest.raises(KeyboardInterrupt):
        grown(question, [failing(cell) for cell in VALLEYS], log=log())
    told: list[tuple[int, int, int]] = []
    same(pool, grown(question, log=log(), progress=lambda *state: told.append(state)))
    assert told[-1] == (240 * 12, 240 * 12, 0)


def test_positions_lead_back_to_the_same_designs() -> None:
    space = Space(
        (
            Parameter(name="real", kind="real", meaning="r", low=2.0, high=5.0),
            Parameter(name="log", kind="real", meaning="l", low=1e-3, high=10.0, log=True),
            Parameter(name="whole", kind="integer", meaning="w", low=3, high=24),
            Parameter(name="word", kind="choice", meaning="c", choices=("a", "b", "c")),
        )
    )
    columns = space.from_unit(np.random.default_rng(2).random((200, 4)))
    again = space.from_unit(positions(space, columns))
    assert np.allclose(space.matrix(again), space.matrix(columns), rtol=1e-12)


def test_children_lie_about_their_parents_and_in_the_cube() -> None:
    """Deb and Agrawal 1995: children are symmetric about the parents' middle. Deb and Goyal 1996: a step d has the
    density (n + 1)/2 (1 - |d|)^n, whose mean size is 1/(n + 2)."""
    rng = np.random.default_rng(4)
    one, other = np.full((40_000, 1), 0.3), np.full((40_000, 1), 0.7)
    born = _crossed(one, other, rng)
    assert born.mean() == pytest.approx(0.5, abs=0.005)
    near = np.minimum(np.abs(born - 0.3), np.abs(born - 0.7)) <= 0.04 * 0.4
    assert near.mean() == pytest.approx(0.6, abs=0.03)  # what the exponent's comment says
    steps = _moved(np.full((40_000, 1), 0.5), 20.0, rng) - 0.5
    assert steps.mean() == pytest.approx(0.0, abs=0.001)
    assert np.abs(steps).mean() == pytest.approx(1 / 22, rel=0.02)
    anywhere = _moved(rng.random((40_000, 1)), 5.0, rng)
    assert ((anywhere >= 0) & (anywhere <= 1)).all()
