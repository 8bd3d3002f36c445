"""The search on problems whose answers are known, and the promises it makes about repetition."""

import json
import logging
from pathlib import Path

import numpy as np
import optuna
import pytest
import xarray as xr

from noonhearth.studies.judging.outcomes import NOT_FINITE, Columns, Outcomes, Output, join, reached_key
from noonhearth.studies.judging.space import Parameter, Space, SpaceError, row_count
from noonhearth.studies.methods.front import hypervolume, knee, non_dominated, weighted_pick
from noonhearth.studies.methods.search import Generation, Goal, Limit, search
from noonhearth.studies.running.evaluations import EvaluationLog, LogError


def _real(name: str, low: float, high: float) -> Parameter:
    return Parameter(name=name, kind="real", low=low, high=high, meaning=name)


def _goal(name: str, direction: str = "minimize", unit: str = "1") -> Goal:
    return Goal(name=name, unit=unit, meaning=f"the goal {name}", direction=direction)  # type: ignore[arg-type]


def _ran(columns: Columns) -> np.ndarray:
    return np.zeros(row_count(columns), dtype=np.int64)


PLANE = Space((_real("x", -6.0, 6.0), _real("y", -6.0, 6.0)))
MIXED = Space(
    (
        _real("x", 0.0, 1.0),
        Parameter(name="n", kind="integer", low=3, high=24, meaning="number"),
        Parameter(name="step", kind="real", low=0.0, high=1.0, step=0.1, meaning="stepped"),
        Parameter(name="word", kind="choice", choices=("a", "b", "c"), meaning="word"),
        Parameter(name="small", kind="real", low=1e-4, high=1.0, log=True, meaning="small"),
    )
)


def himmelblau(columns: Columns) -> Outcomes:
    x, y = columns["x"], columns["y"]
    value = (x**2 + y - 11.0) ** 2 + (x + y**2 - 7.0) ** 2
    return Outcomes(values={"f": value}, status=_ran(columns), margins={})


def mixed(columns: Columns) -> Outcomes:
    """Two goals at odds, one limit, and rows that fail where n = 13."""
    word = np.select([columns["word"] == "a", columns["word"] == "b"], [0.3, 0.0], 0.1)
    rest = (columns["n"] - 17.0) ** 2 / 100.0 + (columns["step"] - 0.7) ** 2 + word
    rest = rest + np.log10(columns["small"] / 0.01) ** 2 / 10.0
    return Outcomes(
        values={"f": columns["x"] + rest, "g": (1.0 - columns["x"]) ** 2 + rest, "beside": rest},
        status=np.where(columns["n"] == 13, 2, 0).astype(np.int64),
        margins={"room": columns["x"] - 0.8},
    )


def _mixed_search(**changes: object) -> xr.Dataset:
    arguments: dict[str, object] = {
        "goals": [_goal("f", unit="s"), _goal("g", unit="K")],
        "limits": [Limit(name="room", unit="m", meaning="room at the rim", scale=0.1)],
        "also": [Output(name="beside", unit="1", meaning="kept beside")],
        "trials": 200,
        "population": 20,
        "seed": 3,
    }
    return search(MIXED, mixed, **(arguments | changes))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def mixed_result() -> xr.Dataset:
    return _mixed_search()


# Himmelblau, Applied Nonlinear Programming (1972): four minima of value 0 (from memory; each is put
# into the function below).
HIMMELBLAU = [(3.0, 2.0), (-2.805118, 3.131312), (-3.779310, -3.283186), (3.584428, -1.848127)]


def test_himmelblau_minima_are_minima() -> None:
    x, y = np.array(HIMMELBLAU).T
    np.testing.assert_allclose(himmelblau({"x": x, "y": y}).values["f"], 0.0, atol=1e-10)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_single_goal_finds_a_minimum_of_himmelblau(seed: int) -> None:
    found = search(PLANE, himmelblau, goals=[_goal("f")], trials=1500, population=50, seed=seed)
    best = found.isel(trial=int(np.argmin(found["f"].values)))
    assert float(best["f"]) < 0.02
    distance = [np.hypot(float(best["x"]) - x, float(best["y"]) - y) for x, y in HIMMELBLAU]
    assert min(distance) < 0.05  # the least curvature there is 26, and 26/2 0.05^2 is 0.03


def test_a_limit_moves_the_optimum_to_its_edge() -> None:
    """Closed form: the least x^2 + y^2 with x + y >= 2 is 2, at (1, 1)."""

    def sphere(columns: Columns) -> Outcomes:
        x, y = columns["x"], columns["y"]
        return Outcomes(values={"f": x**2 + y**2}, status=_ran(columns), margins={"apart": 2.0 - x - y})

    limit = Limit(name="apart", unit="1", meaning="x and y add to 2")
    found = search(PLANE, sphere, goals=[_goal("f")], limits=[limit], trials=2000, population=50, seed=1)
    assert float(found["f"].min()) < 1.0  # designs over the limit were better, so the limit did bind
    allowed = found.where(found["feasible"] == 1, drop=True)
    best = allowed.isel(trial=int(np.argmin(allowed["f"].values)))
    assert 2.0 <= float(best["f"]) < 2.1
    assert abs(float(best["x"]) - float(best["y"])) < 0.5  # along the edge, x^2 + y^2 = 2 + (x - y)^2 / 2
    assert int(found["on_front"].sum()) == 1


def test_excesses_are_added_after_division_by_their_scales() -> None:
    """With no design within limits, the search goes where the scaled sum of excesses is least."""

    def never(columns: Columns) -> Outcomes:
        x = columns["x"]
        return Outcomes(
            values={"f": x},
            status=_ran(columns),
            margins={"kelvin": 100.0 * (x + 7.0), "metres": 7.0 - x},
        )

    def run(metre_scale: float) -> float:
        limits = [
            Limit(name="kelvin", unit="K", meaning="hot", scale=100.0),
            Limit(name="metres", unit="m", meaning="far", scale=metre_scale),
        ]
        found = search(PLANE, never, goals=[_goal("f")], limits=limits, trials=400, population=20, seed=1)
        assert not found["feasible"].any()
        assert not found["on_front"].any()
        return float(found["x"][-20:].mean())

    assert run(10.0) < -4.0  # a kelvin excess weighs ten times as much per unit of x
    assert run(0.1) > 4.0


def test_goals_never_reached_are_censored_and_lose_to_all_that_were() -> None:
    """x^2 is only reached for x > 4; the margin tells the way there."""

    def reach(columns: Columns) -> Outcomes:
        x = columns["x"]
        value = np.where(x > 4.0, (x - 5.0) ** 2, np.nan)
        return Outcomes(values={"f": value}, status=_ran(columns), margins={reached_key("f"): 4.0 - x})

    limit = Limit(name=reached_key("f"), unit="1", meaning="how far from being reached")
    found = search(PLANE, reach, goals=[_goal("f")], limits=[limit], trials=600, population=20, seed=2)
    assert "margin_f_reached" in found
    missing = np.isnan(found["f"].values)
    assert missing[:20].mean() > 0.5  # at random, 5 of 6 never reach it
    assert missing[-20:].mean() < 0.3  # the margin leads the search there
    assert np.all(found["status"] == 0)
    assert not np.any(found["feasible"].values[missing])
    assert not np.any(np.isinf(found["f"].values))
    best = found.isel(trial=int(np.nanargmin(found["f"].values)))
    assert abs(float(best["x"]) - 5.0) < 0.05


def test_a_maximised_goal_never_reached_does_not_win() -> None:
    def reach(columns: Columns) -> Outcomes:
        x = columns["x"]
        return Outcomes(
            values={"f": np.where(x < 0.0, x, np.nan)}, status=_ran(columns), margins={"f reached": x}
        )

    limit = Limit(name="f reached", unit="1", meaning="how far")
    found = search(
        PLANE, reach, goals=[_goal("f", "maximize")], limits=[limit], trials=400, population=20, seed=2
    )
    best = found.isel(trial=int(np.argmax(found["on_front"].values)))
    assert int(found["on_front"].sum()) == 1
    assert -0.05 < float(best["f"]) <= 0.0


def test_a_row_that_contradicts_itself_is_refused() -> None:
    def liar(columns: Columns) -> Outcomes:
        nothing = np.full(row_count(columns), np.nan)
        return Outcomes(values={"f": nothing}, status=_ran(columns), margins={"f reached": nothing * 0 - 1.0})

    limit = Limit(name="f reached", unit="1", meaning="how far")

    def sure_liar(columns: Columns) -> Outcomes:
        lie = liar(columns)
        return Outcomes(
            values=lie.values, status=lie.status, margins={"f reached": np.full(row_count(columns), -1.0)}
        )

    with pytest.raises(ValueError, match="goal f is nan in a row whose margin says it was reached"):
        search(PLANE, sure_liar, goals=[_goal("f")], limits=[limit], trials=8, population=8, seed=1)
    marked = search(PLANE, liar, goals=[_goal("f")], limits=[limit], trials=8, population=8, seed=1)
    assert np.all(marked["status"] == NOT_FINITE)


def test_infinities_and_missing_goals_are_failures() -> None:
    def broken(columns: Columns) -> Outcomes:
        x = columns["x"]
        value = np.select([x < -2.0, x < 2.0], [np.inf, np.nan], x)
        return Outcomes(values={"f": value}, status=_ran(columns), margins={})

    found = search(PLANE, broken, goals=[_goal("f")], trials=60, population=20, seed=1)
    failed = found["x"].values < 2.0
    assert 0 < failed.sum() < 60
    np.testing.assert_array_equal(found["status"].values, np.where(failed, NOT_FINITE, 0))
    assert np.all(np.isnan(found["f"].values[failed]))


def test_failed_rows_stay_and_have_no_children(mixed_result: xr.Dataset) -> None:
    failed = mixed_result["status"].values == 2
    assert failed.any()
    np.testing.assert_array_equal(failed, mixed_result["n"].values == 13)
    for name in ("f", "g", "beside", "margin_room"):
        assert np.all(np.isnan(mixed_result[name].values[failed]))
    assert not mixed_result["on_front"].values[failed].any()


def test_a_failure_does_not_restart_the_generation() -> None:
    """One failed row in the first batch; the second batch must be children, near the only good corner."""

    def corner(columns: Columns) -> Outcomes:
        x, y = columns["x"], columns["y"]
        status = (np.arange(row_count(columns)) == 0).astype(np.int64)
        return Outcomes(values={"f": x + y}, status=status, margins={})

    found = search(PLANE, corner, goals=[_goal("f")], trials=400, population=40, seed=1)
    mean = found["f"].groupby(found["generation"]).mean().values
    assert mean[1] < mean[0] - 1.0
    assert mean[-1] < -8.0
    assert found["generation"].values.tolist() == np.repeat(np.arange(10), 40).tolist()


def test_a_search_in_which_everything_fails_ends() -> None:
    def fail(columns: Columns) -> Outcomes:
        nothing = np.full(row_count(columns), np.nan)
        return Outcomes(values={"f": nothing}, status=_ran(columns) + 1, margins={})

    found = search(PLANE, fail, goals=[_goal("f")], trials=30, population=10, seed=1)
    assert np.all(found["status"] == 1)
    np.testing.assert_array_equal(found["hypervolume"].values, 0.0)
    with pytest.raises(ValueError, match="no front to pick from"):
        knee(found)


def test_a_single_survivor_has_no_children_yet() -> None:
    """One parent cannot be crossed: random designs go on until there are two."""

    def one_in_ten(columns: Columns) -> Outcomes:
        status = (np.arange(row_count(columns)) != 4).astype(np.int64)
        return Outcomes(values={"f": columns["x"]}, status=status, margins={})

    found = search(PLANE, one_in_ten, goals=[_goal("f")], trials=30, population=10, seed=1)
    assert np.count_nonzero(found["status"] == 0) == 3


def test_integers_steps_choices_and_logarithms_are_searched(mixed_result: xr.Dataset) -> None:
    """Closed form: n = 17, step = 0.7, word = b and small = 0.01 are best for both goals."""
    late = mixed_result.where((mixed_result["generation"] >= 7) & (mixed_result["on_front"] == 1), drop=True)
    assert np.median(late["n"]) in (16, 17, 18)
    assert abs(np.median(late["step"]) - 0.7) < 0.11
    assert np.mean(late["word"].values == "b") > 0.6
    assert set(mixed_result["word"].values) == {"a", "b", "c"}
    grid = mixed_result["step"].values / 0.1
    np.testing.assert_allclose(grid, np.round(grid), atol=1e-9)


def test_the_front_is_what_pairwise_comparison_says(mixed_result: xr.Dataset) -> None:
    feasible = (mixed_result["status"].values == 0) & (mixed_result["margin_room"].values <= 0.0)
    np.testing.assert_array_equal(mixed_result["feasible"].values, feasible)
    points = np.column_stack([mixed_result["f"].values, mixed_result["g"].values])
    designs = MIXED.matrix({name: mixed_result[name].values for name in MIXED.names})
    rivals = points[feasible]
    for row in range(points.shape[0]):
        beaten = bool(np.any(np.all(rivals <= points[row], axis=1) & np.any(rivals < points[row], axis=1)))
        again = bool(np.any(np.all(designs[:row] == designs[row], axis=1)))
        assert bool(mixed_result["on_front"][row]) == (bool(feasible[row]) and not beaten and not again)


def test_hypervolume_never_shrinks_and_matches_the_front(mixed_result: xr.Dataset) -> None:
    volume = mixed_result["hypervolume"].values
    assert np.all(np.diff(volume) >= 0.0)
    assert volume[-1] > volume[0] > 0.0
    front = mixed_result.where(mixed_result["on_front"] == 1, drop=True)
    points = np.column_stack([front["f"].values, front["g"].values])
    reference = np.array(mixed_result.attrs["hypervolume_reference"])
    assert volume[-1] == pytest.approx(hypervolume(points, reference), rel=1e-12)
    assert mixed_result["hypervolume"].attrs["units"] == "s K"


def test_every_variable_has_a_unit_and_a_meaning(mixed_result: xr.Dataset) -> None:
    for name, variable in mixed_result.variables.items():
        assert variable.attrs["units"], name
        assert variable.attrs["long_name"], name
    assert mixed_result["margin_room"].attrs["role"] == "limit"
    assert mixed_result["f"].attrs["direction"] == "minimize"
    assert "optuna" in mixed_result.attrs["sampler"]


@pytest.mark.parametrize(
    "changes", [{"chunk_rows": 1}, {"chunk_rows": 7}, {"chunk_rows": 7, "workers": 3}, {"workers": 2}]
)
def test_the_split_into_batches_changes_nothing(mixed_result: xr.Dataset, changes: dict[str, int]) -> None:
    xr.testing.assert_identical(mixed_result, _mixed_search(**changes))


def test_another_seed_is_another_search(mixed_result: xr.Dataset) -> None:
    assert not mixed_result["x"].equals(_mixed_search(seed=4)["x"])


def _log(folder: Path | None, key: str = "model 1") -> EvaluationLog:
    return EvaluationLog(MIXED, values=["f", "g", "beside"], margins=["room"], key=key, folder=folder)


class _PowerCut(BaseException):
    pass


def test_resumed_is_uninterrupted(tmp_path: Path, mixed_result: xr.Dataset) -> None:
    calls: list[int] = []

    def cut_after(limit: int):
        def evaluate(columns: Columns) -> Outcomes:
            if len(calls) >= limit:
                raise _PowerCut
            calls.append(row_count(columns))
            return mixed(columns)

        return evaluate

    arguments: dict[str, object] = {
        "goals": [_goal("f", unit="s"), _goal("g", unit="K")],
        "limits": [Limit(name="room", unit="m", meaning="room at the rim", scale=0.1)],
        "also": [Output(name="beside", unit="1", meaning="kept beside")],
        "trials": 200,
        "population": 20,
        "seed": 3,
        "chunk_rows": 6,
    }
    for limit in (5, 17, 10_000):
        try:
            resumed = search(MIXED, cut_after(limit), log=_log(tmp_path), **arguments)  # type: ignore[arg-type]
        except _PowerCut:
            continue
    xr.testing.assert_identical(resumed, mixed_result)
    different = len(np.unique(MIXED.matrix({n: mixed_result[n].values for n in MIXED.names}), axis=0))
    assert sum(calls) == different  # every design was evaluated once, over all three runs

    calls.clear()
    xr.testing.assert_identical(
        search(MIXED, cut_after(0), log=_log(tmp_path), **arguments),  # type: ignore[arg-type]
        mixed_result,
    )
    assert not calls


def _filled(folder: Path) -> Path:
    columns = MIXED.from_unit(np.random.default_rng(1).random((5, 5)))
    _log(folder).add(columns, mixed(columns))
    (file,) = folder.iterdir()
    return file


def test_a_log_gives_back_what_it_was_given(tmp_path: Path) -> None:
    _filled(tmp_path)
    columns = MIXED.from_unit(np.random.default_rng(1).random((5, 5)))
    log, expected = _log(tmp_path), mixed(columns)
    assert len(log) == 5
    assert log.unseen(columns).size == 0
    recalled = log.recall(columns)
    np.testing.assert_array_equal(recalled.status, expected.status)
    for name, column in expected.values.items():
        np.testing.assert_array_equal(recalled.values[name], column)
    np.testing.assert_array_equal(recalled.margins["room"], expected.margins["room"])
    with pytest.raises(KeyError):
        log.recall(MIXED.from_unit(np.full((1, 5), 0.123)))


def test_a_log_of_another_study_is_refused(tmp_path: Path) -> None:
    _filled(tmp_path)
    with pytest.raises(LogError, match=r"another study \(its key differ\)"):
        _log(tmp_path, key="model 2")
    with pytest.raises(LogError, match=r"its values, margins differ"):
        EvaluationLog(MIXED, values=["f"], margins=[], key="model 1", folder=tmp_path)
    with pytest.raises(LogError, match=r"its factors differ"):
        EvaluationLog(PLANE, values=["f", "g", "beside"], margins=["room"], key="model 1", folder=tmp_path)


def test_a_log_cut_off_anywhere_is_refused(tmp_path: Path) -> None:
    file = _filled(tmp_path)
    whole = file.read_bytes()
    for length in [*range(0, 60), *range(60, len(whole), 97), len(whole) - 1]:
        file.write_bytes(whole[:length])
        with pytest.raises(LogError, match="damaged; delete it"):
            _log(tmp_path)


def test_a_log_with_a_flipped_bit_is_refused(tmp_path: Path) -> None:
    file = _filled(tmp_path)
    whole = file.read_bytes()
    body = whole.index(b"PK")
    for place in range(body, len(whole), 41):
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
        with pytest.raises(LogError, match="damaged"):
            _log(tmp_path)


@pytest.mark.parametrize("line", [b"not json", b"[]", b"{}", b'"text"'])
def test_a_log_with_a_foreign_heading_is_refused(tmp_path: Path, line: bytes) -> None:
    file = _filled(tmp_path)
    magic, _, body = file.read_bytes().split(b"\n", 2)
    file.write_bytes(magic + b"\n" + line + b"\n" + body)
    with pytest.raises(LogError, match="damaged"):
        _log(tmp_path)


def test_outcomes_of_different_kinds_do_not_join() -> None:
    one = Outcomes(values={"f": np.zeros(2)}, status=np.zeros(2, dtype=np.int64), margins={})
    other = Outcomes(values={"g": np.zeros(2)}, status=np.zeros(2, dtype=np.int64), margins={})
    assert join([one, one]).rows == 4
    with pytest.raises(ValueError, match="named different outcomes"):
        join([one, other])


def test_a_write_that_fails_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_space(*_: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr("noonhearth.studies.running.shards.os.replace", no_space)
    with pytest.raises(OSError, match="no space left"):
        _filled(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_known_designs_come_first(mixed_result: xr.Dataset) -> None:
    known = [
        {"x": 0.25, "n": 17, "step": 0.7, "word": "b", "small": 0.01},
        {"x": 0.75, "n": 4, "step": 1.0, "word": "c", "small": 1.0},
    ]
    found = _mixed_search(known=known, trials=40)
    tried = MIXED.rows({n: found[n].values[:2] for n in MIXED.names})
    for design, wanted in zip(tried, known, strict=True):
        assert design == wanted | {"step": pytest.approx(wanted["step"], rel=1e-15)}
    assert found["generation"].values[:2].tolist() == [0, 0]
    with pytest.raises(SpaceError, match="n = 30"):
        _mixed_search(known=[known[0] | {"n": 30}])
    with pytest.raises(ValueError, match="21 known designs do not fit"):
        _mixed_search(known=[known[0]] * 21)


def test_generations_are_reported() -> None:
    seen: list[Generation] = []
    found = _mixed_search(on_generation=seen.append, trials=70)
    assert [g.number for g in seen] == [0, 1, 2, 3]
    assert [g.done for g in seen] == [20, 40, 60, 70]
    last = seen[-1]
    assert last.total == 70
    assert last.failed == int((found["status"] != 0).sum())
    assert last.feasible == int(found["feasible"].sum())
    assert last.front == int(found["on_front"].sum())


def test_optunas_own_messages_stay_as_the_user_set_them(capsys: pytest.CaptureFixture[str]) -> None:
    before = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(logging.DEBUG)
    try:
        _mixed_search(trials=20)
        assert optuna.logging.get_verbosity() == logging.DEBUG
        assert capsys.readouterr().err == ""
    finally:
        optuna.logging.set_verbosity(before)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"seed": 0}, "seed = 0, allowed a whole number from 1"),
        ({"seed": True}, "seed = True"),
        ({"population": 3}, "population = 3"),
        ({"trials": 19}, "trials = 19, allowed 20"),
        ({"goals": []}, "at least one goal"),
        ({"goals": [_goal("x")]}, "name used twice in a search: x"),
        ({"goals": [_goal("status")]}, "name used twice in a search: status"),
        ({"goals": [_goal("h")]}, "the evaluator did not give: h"),
        ({"limits": [Limit(name="h", unit="m", meaning="h")]}, "did not give: margin of h"),
        ({"limits": [Limit(name="room", unit="m", meaning="r", scale=0.0)]}, "scale must be above zero"),
        ({"reference": {"f": 1.0}}, "names every goal"),
        ({"chunk_rows": -1}, "chunk_rows = -1"),
        ({"log": _log(None), "also": []}, "the log keeps other outcomes"),
    ],
)
def test_what_cannot_be_searched_is_refused(changes: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        _mixed_search(**changes)


def test_an_evaluator_that_loses_rows_is_refused() -> None:
    def short(columns: Columns) -> Outcomes:
        return mixed(columns).take(slice(1, None))

    with pytest.raises(ValueError, match="19 rows for 20 designs"):
        search(MIXED, short, goals=[_goal("f")], trials=20, population=20, seed=1)
    with pytest.raises(ValueError, match=r"outcome f has shape \(2,\)"):
        Outcomes(values={"f": np.zeros(2)}, status=np.zeros(3, dtype=np.int64), margins={})


def _front_dataset(points: list[tuple[float, ...]], directions: list[str]) -> xr.Dataset:
    columns = np.array(points).T
    signs = np.array([1.0 if d == "minimize" else -1.0 for d in directions])
    on_front = non_dominated(columns.T * signs).astype(np.int8)
    return xr.Dataset(
        {
            **{
                f"g{k}": ("trial", column, {"role": "goal", "direction": direction})
                for k, (column, direction) in enumerate(zip(columns, directions, strict=True))
            },
            "on_front": ("trial", on_front),
        },
        coords={"trial": np.arange(len(points))},
    )


def test_the_knee_of_a_bent_line_is_its_bend() -> None:
    points = [(0.0, 100.0), (2.0, 60.0), (4.0, 20.0), (7.0, 10.0), (10.0, 0.0), (9.0, 90.0)]
    assert knee(_front_dataset(points, ["minimize", "minimize"])) == 2
    turned = [(-a, b) for a, b in points]
    assert knee(_front_dataset(turned, ["maximize", "minimize"])) == 2


def test_the_knee_does_not_depend_on_units() -> None:
    """Closed form: 1/x from 1/4 to 4 is the same with x and y exchanged, so its knee is at (1, 1)."""
    x = np.geomspace(0.25, 4.0, 41)
    for scale in (1.0, 1e-6, 1e6):
        points = [(a, scale / a) for a in x]
        assert knee(_front_dataset(points, ["minimize", "minimize"])) == 20


def test_the_knee_of_three_goals_faces_all_of_them() -> None:
    """Closed form: on x + y + z = 1 with one point pulled in, that point; the corners are the extremes."""
    points = [(0.0, 0.5, 0.5), (0.5, 0.0, 0.5), (0.5, 0.5, 0.0), (0.2, 0.2, 0.2), (0.4, 0.1, 0.45)]
    assert knee(_front_dataset(points, ["minimize"] * 3)) == 3


def test_a_front_of_one_is_its_own_knee() -> None:
    assert knee(_front_dataset([(1.0, 1.0), (2.0, 2.0)], ["minimize", "minimize"])) == 0


def test_weights_choose_along_the_front() -> None:
    data = _front_dataset([(0.0, 100.0), (4.0, 20.0), (10.0, 0.0)], ["minimize", "minimize"])
    assert weighted_pick(data, {"g0": 1.0, "g1": 0.0}) == 0
    assert weighted_pick(data, {"g1": 1.0}) == 2
    assert weighted_pick(data, {"g0": 1.0, "g1": 1.0}) == 1  # 0.4 + 0.2 against 1 and 1
    for weights, sentence in [
        ({"h": 1.0}, "no goal named h"),
        ({"g0": -1.0}, "not negative"),
        ({}, "not all zero"),
    ]:
        with pytest.raises(ValueError, match=sentence):
            weighted_pick(data, weights)
    with pytest.raises(ValueError, match="not the result of a search"):
        knee(xr.Dataset())


def test_equal_points_stay_on_the_front_together() -> None:
    points = np.array([[1.0, 2.0], [1.0, 2.0], [2.0, 1.0], [2.0, 2.0], [1.0, 3.0]])
    assert non_dominated(points).tolist() == [True, True, True, False, False]


def test_attributes_are_plain(mixed_result: xr.Dataset) -> None:
    assert all(
        isinstance(v, (str, int, float, list)) and not isinstance(v, bool)
        for v in mixed_result.attrs.values()
    )
    assert json.dumps(mixed_result.attrs)
