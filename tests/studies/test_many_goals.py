"""Searches of three and four goals, of whole numbers and words, and several searches told as one: known answers."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.judging.outcomes import Columns, Evaluate, Outcomes
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods.front import hypervolume, non_dominated
from noonhearth.studies.methods.search import Generation, Goal, Limit, search
from noonhearth.studies.running.evaluations import EvaluationLog


def _real(name: str, low: float, high: float, step: float | None = None) -> Parameter:
    return Parameter(name=name, kind="real", low=low, high=high, step=step, meaning=name)


def _goals(count: int) -> list[Goal]:
    return [Goal(name=f"f{k}", unit="1", meaning=f"goal {k}", direction="minimize") for k in range(count)]


def _limit(name: str, scale: float = 1.0) -> Limit:
    return Limit(name=name, unit="1", meaning=name, scale=scale)


def _ran(columns: Columns) -> np.ndarray:
    return np.zeros(row_count(columns), np.int64)


def dtlz2(goals: int) -> Evaluate:
    """Deb, Thiele, Laumanns and Zitzler, Scalable test problems for evolutionary multiobjective optimization (2005).

    Problem DTLZ2 (from memory): the best are the unit sphere's first orthant, where all distance factors are 1/2.
    """

    def evaluate(columns: Columns) -> Outcomes:
        x = np.column_stack(list(columns.values()))
        angle = 0.5 * np.pi * x[:, : goals - 1]
        radius = 1.0 + ((x[:, goals - 1 :] - 0.5) ** 2).sum(axis=1)
        values = {}
        for k in range(goals):
            value = radius * np.prod(np.cos(angle[:, : goals - 1 - k]), axis=1)
            values[f"f{k}"] = value * (np.sin(angle[:, goals - 1 - k]) if k else 1.0)
        return Outcomes(values=values, status=_ran(columns), margins={"in the corner": values["f0"] - 0.25})

    return evaluate


def _cube(size: int) -> Space:
    return Space(tuple(_real(f"x{k}", 0.0, 1.0) for k in range(size)))


def _dtlz2_search(goals: int, **changes: Any) -> xr.Dataset:
    arguments: dict[str, Any] = {
        "goals": _goals(goals),
        "trials": 1000,
        "population": 50,
        "seed": 1,
        "reference": {f"f{k}": 1.1 for k in range(goals)},
    }
    return search(_cube(goals + 4), dtlz2(goals), **(arguments | changes))


# Volume between the sphere and the corner (1.1, ...): the corner's box less an orthant of the unit ball, whose volume
# is pi/6 in three dimensions and pi^2/32 in four. Measured over three seeds: 0.84 to 0.88 and 0.76 to 0.80 of it; as
# many designs at random 0.54 to 0.59 and 0.50 to 0.54.
@pytest.mark.parametrize(
    ("goals", "whole", "least"),
    [(3, 1.1**3 - np.pi / 6, 0.80), (4, 1.1**4 - np.pi**2 / 32, 0.74)],
)
def test_dtlz2_is_closed_in_on(goals: int, whole: float, least: float) -> None:
    found = _dtlz2_search(goals)
    volume = found["hypervolume"].values / whole
    assert volume[0] < 0.4
    assert least < volume[-1] < 1.0
    front = found.where(found["on_front"] == 1, drop=True)
    radius = np.sqrt(sum(front[f"f{k}"].values ** 2 for k in range(goals)))
    assert radius.min() >= 1.0 - 1e-12  # nothing lies inside the sphere
    assert np.median(radius) < 1.1


def test_a_limit_holds_among_four_goals() -> None:
    found = _dtlz2_search(4, limits=[_limit("in the corner", 0.1)], trials=600)
    kept, generation = found["f0"].values <= 0.25, found["generation"].values
    assert kept[generation == 0].mean() < 0.5
    assert kept[generation >= 8].mean() > 0.8
    np.testing.assert_array_equal(found["feasible"].values == 1, kept)
    assert not found["on_front"].values[~kept].any()


def test_four_goals_one_of_which_is_never_reached() -> None:
    """All that is known is how far each design was; the search still goes there, and warns of nothing."""

    def far(columns: Columns) -> Outcomes:
        plain = dtlz2(4)(columns)
        short = columns["x7"] + 0.2  # from reaching f3
        values = {**plain.values, "f3": np.full(len(short), np.nan)}
        return Outcomes(values=values, status=plain.status, margins={"f3 reached": short})

    found = search(
        _cube(8), far, goals=_goals(4), limits=[_limit("f3 reached")], trials=400, population=40, seed=1
    )
    assert not found["feasible"].any()
    assert float(found["x7"][-40:].mean()) < 0.1 < float(found["x7"][:40].mean())
    assert np.all(found["hypervolume"] == 0.0)


def test_the_measured_generations_are_those_of_a_full_count() -> None:
    """With four goals not every volume is taken; those that are belong to the generations they name."""
    found = _dtlz2_search(4, trials=400, population=20)
    numbers = found["generation_number"].values
    assert 2 < len(numbers) < 20
    assert (numbers[0], numbers[-1]) == (0, 19)
    points = np.column_stack([found[f"f{k}"].values for k in range(4)])
    for number, volume in zip(numbers, found["hypervolume"].values, strict=True):
        so_far = points[found["generation"].values <= number]
        assert volume == pytest.approx(hypervolume(so_far[non_dominated(so_far)], np.full(4, 1.1)), rel=1e-12)


# Kannan and Kramer, An augmented Lagrange multiplier based method for mixed integer discrete continuous optimization,
# J. Mech. Design 116 (1994) 405: a vessel of rolled plate in sixteenths of an inch. Its best cost is 6059.714335 at
# shell 0.8125, head 0.4375, radius 42.0984456, length 176.6365958 (both from memory; checked below).
VESSEL = Space(
    (
        _real("shell", 0.0625, 2.0, step=0.0625),
        _real("head", 0.0625, 2.0, step=0.0625),
        _real("radius", 10.0, 200.0),
        _real("length", 10.0, 240.0),
    )
)
VESSEL_LIMITS = [_limit("shell thin", 0.1), _limit("head thin", 0.1), _limit("volume small", 1e5)]


def vessel(columns: Columns) -> Outcomes:
    shell, head, radius, length = (columns[name] for name in VESSEL.names)
    cost = 0.6224 * shell * radius * length + 1.7781 * head * radius**2
    cost = cost + 3.1661 * shell**2 * length + 19.84 * shell**2 * radius
    volume = np.pi * radius**2 * length + 4.0 / 3.0 * np.pi * radius**3
    return Outcomes(
        values={"f0": cost},
        status=_ran(columns),
        margins={
            "shell thin": 0.0193 * radius - shell,
            "head thin": 0.00954 * radius - head,
            "volume small": 1_296_000.0 - volume,
        },
    )


def test_the_vessel_costs_what_is_published() -> None:
    best = {"shell": 0.8125, "head": 0.4375, "radius": 42.0984456, "length": 176.6365958}
    outcomes = vessel({name: np.array([value]) for name, value in best.items()})
    assert float(outcomes.values["f0"][0]) == pytest.approx(6059.714335, abs=5e-4)
    assert float(outcomes.margins["volume small"][0]) == pytest.approx(0.0, abs=1.0)
    assert all(float(margin[0]) < 1.0 for margin in outcomes.margins.values())


def test_stepped_and_real_factors_under_limits_come_near_the_published_best() -> None:
    """Measured over three seeds: 1 to 7 % above the published best; as many designs at random 34 to 69 %."""
    found = search(VESSEL, vessel, goals=_goals(1), limits=VESSEL_LIMITS, trials=2500, population=50, seed=3)
    cost = found["f0"].where(found["feasible"] == 1).values
    assert 6059.714 <= np.nanmin(cost) < 1.1 * 6059.714
    sixteenths = found["shell"].values * 16
    np.testing.assert_allclose(sixteenths, np.round(sixteenths), atol=1e-9)


WORDS = Space(
    (
        _real("x", 0.0, 1.0),
        Parameter(name="n", kind="integer", low=3, high=24, meaning="number"),
        Parameter(name="word", kind="choice", choices=("a", "b", "c", "d", "e"), meaning="word"),
    )
)


def words(columns: Columns) -> Outcomes:
    """(x, (1 - x)^2) plus what the wrong number or word costs; x above 0.8 exceeds the limit."""
    rest = (columns["n"] - 17.0) ** 2 / 100.0 + 0.2 * (columns["word"] != "d")
    x = columns["x"]
    return Outcomes(
        values={"f0": x + rest, "f1": (1.0 - x) ** 2 + rest},
        status=_ran(columns),
        margins={"room": x - 0.8},
    )


def _words_search(**changes: Any) -> xr.Dataset:
    arguments: dict[str, Any] = {
        "goals": _goals(2),
        "limits": [_limit("room", 0.1)],
        "trials": 400,
        "population": 20,
        "seed": 4,
        "reference": {"f0": 1.0, "f1": 1.0},
    }
    return search(WORDS, words, **(arguments | changes))


def test_whole_numbers_words_and_reals_together() -> None:
    """Closed form: n = 17 and d are best, the front is (1 - x)^2 up to 0.8.

    The volume up to (1, 1) is the integral of 1 - (1 - x)^2 from 0 to 0.8, and 0.96 times the 0.2 beyond.
    """
    whole = 0.8 - (1.0 - 0.2**3) / 3.0 + 0.2 * 0.96
    found = _words_search()
    assert 0.96 * whole < float(found["hypervolume"][-1]) < whole
    front = found.where(found["on_front"] == 1, drop=True)
    assert np.mean(front["word"] == "d") > 0.9
    assert float(front["n"].median()) == 17.0
    assert float(abs(front["n"] - 17).max()) <= 1.0  # a neighbour costs 0.01, less than gaps along the front


@pytest.fixture(scope="module")
def three() -> xr.Dataset:
    return _words_search(trials=100, seeds=3)


def test_several_searches_are_the_single_ones_side_by_side(three: xr.Dataset) -> None:
    for run in range(3):
        alone = _words_search(trials=100, seed=4 + run)
        mine = three.isel(trial=three["trial_run"].values == run + 1)
        for name in ("x", "n", "word", "f0", "f1", "margin_room", "generation", "feasible"):
            np.testing.assert_array_equal(mine[name].values, alone[name].values, err_msg=name)
        np.testing.assert_array_equal(three["run_hypervolume"].values[run], alone["hypervolume"].values)
    assert three["run_seed"].values.tolist() == [4, 5, 6]


def test_one_front_over_all_searches(three: xr.Dataset) -> None:
    feasible = three["feasible"].values == 1
    points = np.column_stack([three["f0"].values, three["f1"].values])
    rivals = points[feasible]
    designs = WORDS.matrix({name: three[name].values for name in WORDS.names})
    for row in np.flatnonzero(feasible):
        beaten = np.any(np.all(rivals <= points[row], axis=1) & np.any(rivals < points[row], axis=1))
        again = np.any(np.all(designs[:row] == designs[row], axis=1))
        assert bool(three["on_front"][row]) == (not beaten and not again)
    assert len(np.unique(three["trial_run"].values[three["on_front"].values == 1])) > 1
    merged = hypervolume(points[three["on_front"].values == 1], np.ones(2))
    assert float(three["hypervolume"][-1]) == pytest.approx(merged, rel=1e-12)
    assert np.all(three["hypervolume"] >= three["run_hypervolume"].max("run") - 1e-15)
    assert np.all(np.diff(three["hypervolume"]) >= 0)


def test_the_reference_point_is_a_little_worse_than_the_front() -> None:
    found = _words_search(trials=100, seeds=2, reference=None)
    front = found.where(found["on_front"] == 1, drop=True)
    for goal, corner in zip(("f0", "f1"), found.attrs["hypervolume_reference"], strict=True):
        worst, best = float(front[goal].max()), float(front[goal].min())
        assert corner == pytest.approx(worst + 0.1 * (worst - best), rel=1e-12)
    single = search(WORDS, words, goals=_goals(1), trials=40, population=20, seed=1)
    worst, best = float(single["f0"].max()), float(single["f0"].min())
    assert single.attrs["hypervolume_reference"][0] == pytest.approx(worst + 0.1 * (worst - best))


def test_several_searches_resume_and_share_what_they_know(three: xr.Dataset, tmp_path: Path) -> None:
    calls: list[int] = []

    class PowerCut(BaseException):
        pass

    def cut_after(limit: int) -> Evaluate:
        def evaluate(columns: Columns) -> Outcomes:
            if len(calls) >= limit:
                raise PowerCut
            calls.append(row_count(columns))
            return words(columns)

        return evaluate

    def log() -> EvaluationLog:
        return EvaluationLog(WORDS, values=["f0", "f1"], margins=["room"], key="one", folder=tmp_path)

    arguments: dict[str, Any] = {
        "goals": _goals(2),
        "limits": [_limit("room", 0.1)],
        "trials": 100,
        "population": 20,
        "seed": 4,
        "seeds": 3,
        "reference": {"f0": 1.0, "f1": 1.0},
        "chunk_rows": 7,
    }
    for limit in (3, 11, 10_000):  # cut in the first search, in a later one, not at all
        try:
            resumed = search(WORDS, cut_after(limit), log=log(), workers=2, **arguments)
        except PowerCut:
            continue
    xr.testing.assert_identical(resumed, three)
    different = np.unique(WORDS.matrix({name: three[name].values for name in WORDS.names}), axis=0)
    assert sum(calls) == len(different)


def test_progress_counts_all_searches() -> None:
    seen: list[Generation] = []
    _words_search(trials=40, seeds=2, on_generation=seen.append)
    assert [(told.run, told.number, told.done) for told in seen] == [
        (1, 0, 20),
        (1, 1, 40),
        (2, 0, 60),
        (2, 1, 80),
    ]
    assert {told.total for told in seen} == {80}


def test_a_reason_stands_with_every_design_that_is_no_answer() -> None:
    def explain(outcomes: Outcomes) -> list[str]:
        return [f"over by {margin:.2f}" for margin in outcomes.margins["room"]]

    found = _words_search(trials=40, explain=explain)
    reason, feasible = found["reason"].values, found["feasible"].values == 1
    assert 0 < feasible.sum() < 40
    assert np.all(reason[feasible] == "")
    expected = [f"over by {x - 0.8:.2f}" for x in found["x"].values[~feasible]]
    assert reason[~feasible].tolist() == expected


@pytest.mark.parametrize("goals", [1, 2, 3, 4])
def test_splitting_changes_nothing_whatever_the_goals(goals: int) -> None:
    arguments: dict[str, Any] = {
        "goals": _goals(goals),
        "trials": 90,
        "population": 30,
        "seed": 1,
        "seeds": 2,
    }
    space, evaluate = _cube(6), dtlz2(max(goals, 2))
    whole = search(space, evaluate, **arguments)
    xr.testing.assert_identical(whole, search(space, evaluate, **arguments, chunk_rows=7, workers=2))
