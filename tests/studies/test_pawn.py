"""PAWN and outputs that are never reached: against SALib, scipy, closed forms and brute force."""

import numpy as np
import pytest
import xarray as xr
from SALib.analyze import pawn as salib_pawn
from SALib.sample import latin
from SALib.test_functions import Ishigami, Sobol_G
from scipy.stats import ks_2samp

from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space
from noonhearth.studies.methods.analysis import SensitivityError
from noonhearth.studies.methods.pawn import Pawn, _distances, pawn, ranked_rows, slides_of
from noonhearth.studies.methods.sensitivity import sobol
from noonhearth.studies.telling.words.sensitivity_words import interpretation

Y = [Output(name="y", unit="s", meaning="time that may never come")]
CUBE = Space(tuple(Parameter(name=n, kind="real", low=0.0, high=1.0, meaning=n) for n in ("x1", "x2", "x3")))


def _once(x: np.ndarray, y: np.ndarray, confidence: float = 0.95) -> Pawn:
    return pawn(x, y, counts=np.ones((200, len(y))), seed=1, confidence=confidence)


@pytest.mark.parametrize(("function", "factors"), [(Ishigami, 3), (Sobol_G, 8)])
def test_indices_are_those_of_salib(function: object, factors: int) -> None:
    """SALib's slides are open above, so the greatest value of a factor falls into none; it is put there by hand."""
    bounds = [[-np.pi, np.pi] if factors == 3 else [0.0, 1.0]] * factors
    problem = {"num_vars": factors, "names": [f"x{k}" for k in range(factors)], "bounds": bounds}
    x = latin.sample(problem, 1000, seed=3)
    y = function.evaluate(x)  # type: ignore[attr-defined]
    theirs = salib_pawn.analyze(problem, x, y, S=10)
    ranked = ranked_rows(y)
    for k in range(factors):
        slide = slides_of(x[:, k], 10)
        ours = _distances(ranked, slide, np.ones((1, len(y))))[0]
        slide[x[:, k].argmax()] = 10
        exact = _distances(ranked, slide, np.ones((1, len(y))))[0, :10]
        assert np.median(exact) == pytest.approx(theirs["median"][k], abs=1e-12)
        assert exact.max() == pytest.approx(theirs["maximum"][k], abs=1e-12)
        np.testing.assert_allclose(ours, exact, atol=0.011)  # a hundredth of the last slide
    np.testing.assert_allclose(_once(x, y).median, theirs["median"], atol=0.005)


def test_distances_are_those_of_scipy_with_ties_and_resamples() -> None:
    """A resample that draws a row twice is a sample that holds it twice."""
    rng = np.random.default_rng(4)
    y, slide = np.round(rng.normal(size=150), 1), rng.integers(4, size=150)
    counts = rng.integers(0, 4, size=(3, 150)).astype(np.float64)
    found = _distances(ranked_rows(y), slide, counts)
    for drawn, row in zip(counts.astype(int), found, strict=True):
        whole = np.repeat(y, drawn)
        known = [ks_2samp(np.repeat(y[slide == s], drawn[slide == s]), whole).statistic for s in range(4)]
        np.testing.assert_allclose(row, known, atol=1e-12)


def test_closed_form_of_one_factor_alone() -> None:
    """y = x: in slide s of S the distance is the greater of s / S and 1 - (s + 1) / S; the median of ten is 0.7."""
    x = (np.arange(4000) + 0.5)[:, np.newaxis] / 4000
    slides = _distances(ranked_rows(x[:, 0]), slides_of(x[:, 0], 10), np.ones((1, 4000)))[0]
    np.testing.assert_allclose(slides, [0.9, 0.8, 0.7, 0.6, 0.5, 0.5, 0.6, 0.7, 0.8, 0.9], atol=1e-3)
    assert _once(x, np.exp(9.0 * x[:, 0])).median[0] == pytest.approx(
        0.7, abs=1e-3
    )  # whatever the scale of y


def test_never_is_the_last_rank_and_nothing_more() -> None:
    """Done at one time where x < 1/2, never above: two atoms of 1/2, so every slide is 1/2 off; and so for any number
    put in the place of never, if it is only greater."""
    x = np.random.default_rng(2).random((2000, 2))
    never = np.where(x[:, 0] < 0.5, 1.0, np.nan)
    found = _once(x, never)
    assert found.median[0] == pytest.approx(0.5, abs=0.03)
    for late in (2.0, 1e9):
        np.testing.assert_array_equal(_once(x, np.nan_to_num(never, nan=late)), found)
    assert np.isnan(_once(x, np.full(2000, np.nan)).median).all()
    assert np.isnan(_once(x, np.ones(2000)).median).all()


def test_a_word_is_conditioned_on_as_it_is() -> None:
    """Three values, three slides: y is the value, so F jumps by a third each and the distances are 2/3, 1/3, 2/3."""
    x = np.repeat([0.0, 1.0, 2.0], 100)[:, np.newaxis]
    assert np.unique(slides_of(x[:, 0], 10)).tolist() == [0, 1, 2]
    assert _once(x, x[:, 0]).median[0] == pytest.approx(2 / 3)
    rare = np.repeat([0.0, 1.0, 2.0], [270, 24, 6])
    assert np.bincount(slides_of(rare, 10)).tolist() == [270, 24, 6]
    many = np.repeat(np.arange(20.0), 20)
    assert np.bincount(slides_of(many, 10)).tolist() == [40] * 10


def test_factors_of_no_effect_stay_below_the_threshold_as_often_as_said() -> None:
    """Four factors that do nothing, all of them below in 95 of 100 studies: at least 90 of 100 seeds by chance.

    Of 100 trials at 0.95, fewer than 90 come once in 35 tries (binomial); the seeds are fixed.
    """
    below = 0
    for seed in range(1, 101):
        rng = np.random.default_rng(seed)
        x, y = rng.random((256, 4)), rng.random(256)
        found = pawn(x, y, counts=np.ones((2, 256)), seed=1, confidence=0.95)
        below += bool((found.median < found.threshold).all())
    assert 90 <= below < 100


def _late(limit: float):
    """y = x1 + 2 x2 + x3, never above a limit."""

    def evaluate(columns: Columns) -> Outcomes:
        y = columns["x1"] + 2.0 * columns["x2"] + columns["x3"]
        y = np.where(y > limit, np.nan, y)
        return Outcomes(values={"y": y}, status=np.zeros(len(y), dtype=np.int64), margins={})

    return evaluate


def _brute(limit: float, points: int = 160) -> tuple[np.ndarray, np.ndarray, float]:
    """First and total indices of being above the limit, summed over a grid of midpoints; and how often it is not."""
    u = (np.arange(points) + 0.5) / points
    one = (u[:, None, None] + 2.0 * u[None, :, None] + u[None, None, :] <= limit).astype(np.float64)
    variance = one.var()
    others = [(1, 2), (0, 2), (0, 1)]
    first = [one.mean(axis=axes).var() / variance for axes in others]
    total = [one.var(axis=k).mean() / variance for k in range(3)]
    return np.array(first), np.array(total), float(one.mean())


def _study(limit: float, **more: object) -> xr.Dataset:
    arguments: dict[str, object] = {"outputs": Y, "base_samples": 1024, "seed": 3}
    return sobol(CUBE, _late(limit), **(arguments | more))  # type: ignore[arg-type]


def test_nothing_missing_has_no_account_of_reaching() -> None:
    found = _study(9.0)
    assert float(found["never_share"][0]) == 0.0
    assert "reached_first" not in found
    assert found["analysed"].values.tolist() == [1]
    np.testing.assert_allclose(
        found["first"].isel(output=0, base_samples=-1), [1 / 6, 4 / 6, 1 / 6], atol=0.02
    )


# Above a limit near 4 lies (4 - limit)^3 / 12 of the cube. What comes once in twenty rows has twice the noise of what
# comes in two of five.
@pytest.mark.parametrize(("limit", "never", "off"), [(4.0 - 0.6 ** (1 / 3), 0.05, 0.08), (2.2, 0.4, 0.04)])
def test_reaching_it_or_not_against_brute_force(limit: float, never: float, off: float) -> None:
    found = _study(limit, suffered=["x2"], base_samples=4096)
    first, total, reached = _brute(limit)
    assert float(found["never_share"][0]) == pytest.approx(1.0 - reached, abs=0.01)
    assert 1.0 - reached == pytest.approx(never, abs=0.01)
    last = found.isel(output=0, base_samples=-1)
    for name, exact in (("first", first), ("total", total)):
        error = np.abs(last[f"reached_{name}"].values - exact)
        assert (error < 1.3 * last[f"reached_{name}_half_width"].values).all()
        np.testing.assert_allclose(last[f"reached_{name}"].values, exact, atol=off)
    alone = last["reached_side_first"].values
    assert alone[1] == pytest.approx(first[1], abs=off)
    assert alone[0] == pytest.approx(1.0 - total[1], abs=off)  # closed index of the rest
    assert float(last["reached_side_interaction"]) == pytest.approx(1.0 - alone.sum(), abs=1e-12)
    assert found["analysed"].values.tolist() == [0]  # in bases more than one in ten is hit either way
    assert np.isnan(last["first"].values).all()
    assert (last["pawn_moves"].values == 1).all()
    told = interpretation(found)
    assert any(s.startswith(f"y is never reached in {100 * never:.0f} %") for s in told)
    assert any("whether y is reached" in s for s in told)
    assert any(s.startswith("In ranks, y is moved most by") and ": x2 0." in s for s in told)
    assert any("its variance is not analysed" in s for s in told)


def test_a_little_missing_leaves_the_variance_of_the_rest_and_says_so() -> None:
    found = _study(3.71)
    assert 0.0 < float(found["never_share"][0]) < 0.01
    assert found["analysed"].values.tolist() == [1]
    assert any("shares of variance speak of the rest only" in s for s in interpretation(found))
    assert np.isnan(found["reached_first"].values).all()  # too rare for an account of its own


def test_all_missing_is_refused() -> None:
    with pytest.raises(SensitivityError, match="y is never reached by any design"):
        _study(-1.0)


def test_designs_that_failed_are_no_late_ones() -> None:
    """Failed rows are left out of the ranks; they are not ranked last."""

    def failing(columns: Columns) -> Outcomes:
        whole = _late(2.2)(columns)
        failed = columns["x3"] > 0.97
        y = np.where(failed, np.nan, whole.values["y"])
        return Outcomes(values={"y": y}, status=np.where(failed, 4, 0), margins={})

    found = sobol(CUBE, failing, outputs=Y, base_samples=256, seed=3)
    ran = found["status"].values == 0
    y = found["sampled"].values[0]
    assert float(found["never_share"][0]) == pytest.approx(np.isnan(y[ran]).mean())
    ends = ran[:, [0, -1]].T.ravel()
    x = np.concatenate([found["a"].values, found["b"].values])[ends]
    np.testing.assert_array_equal(_once(x, y[:, [0, -1]].T.ravel()[ends]).median, found["pawn"].values[0])
    assert 0.0 < float(found["reached_dropped_share"][0, -1]) < 0.1


def test_a_factor_that_changes_nothing_moves_nothing_whatever_chance_says() -> None:
    def deaf(columns: Columns) -> Outcomes:
        y = columns["x1"] ** 3
        return Outcomes(values={"y": y}, status=np.zeros(len(y), dtype=np.int64), margins={})

    over = 0
    for seed in range(1, 11):
        found = sobol(
            CUBE, deaf, outputs=Y, base_samples=16, seed=seed, confidence=0.05
        )  # hardly a threshold
        over += int((found["pawn"] > found["pawn_threshold"]).values[0, 1:].sum())
        assert found["pawn_moves"].values[0].tolist() == [1, 0, 0]
    assert over > 0
