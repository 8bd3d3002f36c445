"""Sensitivity on functions with known indices, against SALib's own analysis, and what happens to gaps."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from SALib.analyze import morris as salib_morris
from SALib.analyze import sobol as salib_sobol

from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods.analysis import SensitivityError
from noonhearth.studies.methods.effects import with_fixed
from noonhearth.studies.methods.explained import sobol_analysed
from noonhearth.studies.methods.indices import sobol_half_widths, sobol_indices
from noonhearth.studies.methods.layout import positions
from noonhearth.studies.methods.sensitivity import morris, sobol
from noonhearth.studies.running.evaluations import EvaluationLog
from noonhearth.studies.telling.tellings import TELLINGS
from noonhearth.studies.telling.words.screening_words import screening_sentences
from noonhearth.studies.telling.words.sensitivity_words import interpretation

LINE = Output(name="line", unit="m", meaning="a x + b y")
BENT = Output(name="bent_sheet", unit="K", meaning="with an interaction")
BOTH = [LINE, BENT]


def _real(name: str, low: float = 0.0, high: float = 1.0) -> Parameter:
    return Parameter(name=name, kind="real", low=low, high=high, meaning=f"factor {name}")


CUBE = Space((_real("x"), _real("y", -1.0, 3.0), _real("z")))


def smooth(columns: Columns) -> Outcomes:
    x, y, z = columns["x"], columns["y"], columns["z"]
    return Outcomes(
        values={"line": 3.0 * x + y, "bent_sheet": x * z + 0.2 * y**2},
        status=np.zeros(row_count(columns), dtype=np.int64),
        margins={},
    )


def gappy(columns: Columns) -> Outcomes:
    """Fails where x is largest; `bent_sheet` is never reached where z is small."""
    whole = smooth(columns)
    bent = np.where(columns["z"] < 0.004, np.nan, whole.values["bent_sheet"])
    status = np.where(columns["x"] > 0.998, 7, 0).astype(np.int64)
    return Outcomes(values={"line": whole.values["line"], "bent_sheet": bent}, status=status, margins={})


def _sobol(evaluate=smooth, **changes: object) -> xr.Dataset:
    arguments: dict[str, object] = {"outputs": BOTH, "base_samples": 256, "seed": 5}
    return sobol(CUBE, evaluate, **(arguments | changes))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def plain() -> xr.Dataset:
    return _sobol()


def _problem(names: list[str]) -> dict[str, object]:
    return {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}


@pytest.mark.parametrize("second_order", [False, True])
@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_indices_and_intervals_are_those_of_salib(second_order: bool, confidence: float) -> None:
    ours = _sobol(second_order=second_order, confidence=confidence, resamples=150)
    rows = 3 + 2 + 3 * second_order
    for size in (64, 128, 256):
        for name in ("line", "bent_sheet"):
            one = ours.sel(output=name, base_samples=size)
            y = ours["sampled"].sel(output=name).values.ravel()[: size * rows]
            theirs = salib_sobol.analyze(
                _problem(["x", "y", "z"]),
                y,
                calc_second_order=second_order,
                num_resamples=150,
                conf_level=confidence,
                seed=5,
            )
            pairs = [("first", "S1"), ("total", "ST"), ("first_half_width", "S1_conf")]
            pairs.append(("total_half_width", "ST_conf"))
            for own, other in pairs:
                np.testing.assert_allclose(one[own].values, theirs[other], rtol=0.0, atol=1e-12)
            if second_order:
                upper = np.triu_indices(3, 1)
                np.testing.assert_allclose(one["second"].values[upper], theirs["S2"][upper], atol=1e-12)
                np.testing.assert_allclose(
                    one["second_half_width"].values[upper], theirs["S2_conf"][upper], atol=1e-12
                )
                np.testing.assert_array_equal(one["second"].values, one["second"].values.T)
                assert np.all(np.isnan(np.diag(one["second"].values)))
    assert ("second" in ours) == second_order


def test_the_vectorised_bootstrap_is_the_one_done_draw_by_draw() -> None:
    """A slow twin: each resample built as rows and analysed on its own, in the standardised output."""
    y = np.random.default_rng(3).normal(size=(32, 8)).cumsum(axis=1)
    layout = positions(("a", "b", "c"), second_order=True)
    width = sobol_half_widths(y, layout, resamples=40, confidence=0.8, seed=9)
    drawn = np.random.default_rng(9).integers(32, size=(32, 40))
    z = (y - y.mean()) / y.std()
    first = []
    for column in drawn.T:
        a, ab, b = z[column, 0], z[column, 1:4], z[column, 7]
        variance = np.concatenate([a, b]).var()
        first.append((b[:, np.newaxis] * (ab - a[:, np.newaxis])).mean(axis=0) / variance)
    quantile = 1.2815515655446004  # of the normal distribution at 0.9: Abramowitz and Stegun, table 26.5
    np.testing.assert_allclose(width.first, quantile * np.std(first, axis=0, ddof=1), rtol=1e-12)


def test_indices_of_a_sum_are_shares_of_variance() -> None:
    """Closed form: 3 x has variance 9/12, y over a range of 4 has 16/12, z has none; no interactions."""
    found = _sobol(base_samples=4096, outputs=[LINE]).isel(base_samples=-1, output=0)
    np.testing.assert_allclose(found["first"].values, [9 / 25, 16 / 25, 0.0], atol=0.01)
    np.testing.assert_allclose(found["total"].values, [9 / 25, 16 / 25, 0.0], atol=0.01)
    assert float(found["total"][2]) == 0.0


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Forty seeds; at 90 % confidence the truth should be outside for about four of each index."""
    truth = np.array([9 / 25, 16 / 25])
    inside = 0
    for seed in range(1, 41):
        found = _sobol(base_samples=64, outputs=[LINE], seed=seed, confidence=0.9).isel(base_samples=-1)
        error = np.abs(found["total"].values[0, :2] - truth)
        inside += int(np.sum(error < found["total_half_width"].values[0, :2]))
    # A quasi-random sample errs less than the bootstrap of independent draws fears, never more.
    assert 0.85 * 80 < inside <= 80


def test_indices_of_integers_and_choices() -> None:
    """Closed form: n uniform over 0..4 has variance 2, a word worth 0, 0 or 3 has variance 2, s a step of 1/12.

    With y = n + worth + s, s uniform over 0, 0.5, 1: variance 1/6. Shares: 12/25, 12/25, 1/25.
    """
    space = Space(
        (
            Parameter(name="n", kind="integer", low=0, high=4, meaning="n"),
            Parameter(name="word", kind="choice", choices=("a", "b", "c"), meaning="word"),
            Parameter(name="s", kind="real", low=0.0, high=1.0, step=0.5, meaning="s"),
        )
    )

    def total(columns: Columns) -> Outcomes:
        worth = np.where(columns["word"] == "c", 3.0, 0.0)
        value = columns["n"] + worth + columns["s"]
        return Outcomes(values={"v": value}, status=np.zeros(len(value), dtype=np.int64), margins={})

    found = sobol(
        space, total, outputs=[Output(name="v", unit="1", meaning="v")], base_samples=4096, seed=1
    ).isel(base_samples=-1, output=0)
    expected = [12 / 25, 12 / 25, 1 / 25]
    np.testing.assert_allclose(found["first"].values, expected, atol=0.02)
    np.testing.assert_allclose(found["total"].values, expected, atol=0.02)


@pytest.mark.parametrize("changes", [{"chunk_rows": 1}, {"chunk_rows": 37}, {"chunk_rows": 64, "workers": 3}])
def test_chunks_and_workers_change_nothing(plain: xr.Dataset, changes: dict[str, int]) -> None:
    xr.testing.assert_identical(plain, _sobol(**changes))
    xr.testing.assert_identical(_morris(), _morris(**changes))


def test_no_call_is_larger_than_a_chunk() -> None:
    sizes: list[int] = []

    def watch(columns: Columns) -> Outcomes:
        sizes.append(row_count(columns))
        return smooth(columns)

    seen: list[tuple[int, int, int]] = []
    _sobol(watch, chunk_rows=100, progress=lambda *now: seen.append(now))
    assert max(sizes) == 100
    assert sum(sizes) == 256 * 5
    assert seen[-1] == (1280, 1280, 0)


def test_resumed_is_uninterrupted(tmp_path: Path, plain: xr.Dataset) -> None:
    done = 0

    def tired(columns: Columns) -> Outcomes:
        nonlocal done
        if done > 600:
            raise KeyboardInterrupt
        done += row_count(columns)
        return smooth(columns)

    def log() -> EvaluationLog:
        return EvaluationLog(CUBE, values=["line", "bent_sheet"], margins=[], key="k", folder=tmp_path)

    with pytest.raises(KeyboardInterrupt):
        _sobol(tired, log=log(), chunk_rows=50)
    before, done = done, -10_000
    xr.testing.assert_identical(_sobol(tired, log=log(), chunk_rows=50), plain)
    assert before > 600
    assert done + 10_000 == 256 * 5 - before


def test_indices_come_again_from_what_is_stored(plain: xr.Dataset) -> None:
    xr.testing.assert_identical(sobol_analysed(plain.drop_dims("base_samples")), plain)
    turned = plain.assign_coords(position=("position", plain["position"].values[::-1]))
    with pytest.raises(SensitivityError, match="not in the order"):
        sobol_analysed(turned)


def test_the_layout_stands_beside_the_samples(plain: xr.Dataset) -> None:
    """Every stored row is the output of the design its label says, rebuilt from the stored A and B."""
    a, b = plain["a"].values, plain["b"].values
    for label in plain["position"].values:
        u = b.copy() if label == "B" else a.copy()
        if str(label).startswith("AB "):
            k = list(CUBE.names).index(str(label)[3:])
            u[:, k] = b[:, k]
        values = smooth(CUBE.from_unit(u)).values
        for name in ("line", "bent_sheet"):
            np.testing.assert_array_equal(
                plain["sampled"].sel(output=name, position=label).values, values[name]
            )


def test_rows_without_a_value_drop_their_base_and_are_counted() -> None:
    found = _sobol(gappy, base_samples=512)
    y = found["sampled"].values
    assert int(found.attrs["failed_designs"]) == int(np.count_nonzero(found["status"].values == 7)) > 0
    np.testing.assert_array_equal(found["rows_without_value"].values, np.isnan(y).sum(axis=(1, 2)))
    layout = positions(CUBE.names, second_order=False)
    for k, name in enumerate(("line", "bent_sheet")):
        whole = np.isfinite(y[k]).all(axis=1)
        one = found.sel(output=name).isel(base_samples=-1)
        assert float(one["dropped_share"]) == pytest.approx(1.0 - whole.mean(), abs=1e-15)
        assert 0.0 < float(one["dropped_share"]) < 0.1
        np.testing.assert_array_equal(one["first"].values, sobol_indices(y[k][whole], layout).first)
    assert "bent_sheet: " in found.attrs["warnings"]
    assert "of the sample was left out" in found.attrs["warnings"]
    assert any(
        sentence.startswith("bent sheet: ") and "left out" in sentence for sentence in interpretation(found)
    )


def test_an_output_with_too_many_gaps_is_not_analysed() -> None:
    def half(columns: Columns) -> Outcomes:
        whole = smooth(columns)
        bent = np.where(columns["z"] < 0.5, np.nan, whole.values["bent_sheet"])
        return Outcomes(
            values={"line": whole.values["line"], "bent_sheet": bent}, status=whole.status, margins={}
        )

    for found in (_sobol(half), _morris(half)):
        assert found["analysed"].values.tolist() == [1, 0]
        for name in ("first", "first_half_width") if "first" in found else ("mu", "mu_star", "sigma"):
            assert np.all(np.isnan(found[name].sel(output="bent_sheet").values))
            assert np.all(np.isfinite(found[name].sel(output="line").values))
        assert "not analysed, " in found.attrs["warnings"]
        assert not any("variance of bent sheet" in s for s in TELLINGS[found.attrs["study"]].sentences(found))
    with pytest.raises(SensitivityError, match="every output lacks a value"):
        _morris(half, outputs=[BENT])
    assert _sobol(half, most_dropped=1.0)["analysed"].values.tolist() == [1, 1]


def test_an_output_that_does_not_vary_has_no_indices() -> None:
    def flat(columns: Columns) -> Outcomes:
        ones = np.ones(row_count(columns))
        return Outcomes(
            values={"line": ones, "bent_sheet": smooth(columns).values["bent_sheet"]},
            status=np.zeros(len(ones), dtype=np.int64),
            margins={},
        )

    found = _sobol(flat)
    assert np.all(np.isnan(found["first"].sel(output="line").values))
    assert found["analysed"].values.tolist() == [0, 1]
    assert "line: does not vary" in found.attrs["warnings"]


def _morris(evaluate=smooth, **changes: object) -> xr.Dataset:
    arguments: dict[str, object] = {"outputs": BOTH, "trajectories": 24, "seed": 5}
    return morris(CUBE, evaluate, **(arguments | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize("levels", [2, 4, 8])
def test_elementary_effects_are_those_of_salib(levels: int) -> None:
    ours = _morris(levels=levels)
    for k, name in enumerate(("line", "bent_sheet")):
        theirs = salib_morris.analyze(
            _problem(["x", "y", "z"]),
            ours["u"].values.reshape(-1, 3),
            ours["sampled"].values[k].ravel(),
            num_levels=levels,
            seed=1,
        )
        one = ours.sel(output=name)
        for own in ("mu", "mu_star", "sigma"):
            np.testing.assert_allclose(one[own].values, theirs[own], rtol=1e-12, atol=1e-12)
        # Another generator of draws, the same spread: two bootstraps of 1000 agree within about 10 %.
        wide = ours["mu_star_half_width"].sel(output=name).values
        np.testing.assert_allclose(wide, theirs["mu_star_conf"], rtol=0.25, atol=1e-9)


def test_effects_of_a_line_are_its_slopes() -> None:
    """Closed form: over their whole ranges x moves the line by 3 and y by 4, always; z by nothing."""
    line = _morris().sel(output="line")
    np.testing.assert_allclose(line["mu"].values, [3.0, 4.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(line["mu_star"].values, [3.0, 4.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(line["sigma"].values, 0.0, atol=1e-12)


def test_effects_of_a_product_spread_as_its_other_factor() -> None:
    """Closed form: x z moves by z when x does; on 4 levels z is one of 0, 1/3, 2/3, 1, with mean 1/2."""
    found = _morris(trajectories=2000, outputs=[BENT]).isel(output=0)
    assert float(found["mu"][0]) == pytest.approx(0.5, abs=0.03)
    assert float(found["sigma"][0]) == pytest.approx(np.sqrt(5.0) / 6.0, abs=0.02)


def test_a_factor_that_moves_nothing_may_be_fixed() -> None:
    found = _morris(outputs=[LINE])
    assert found["may_fix"].values.tolist() == [0, 0, 1]
    assert _morris()["may_fix"].values.tolist() == [0, 0, 0]  # z moves the other output
    assert any(s.endswith("largest effect: z at 0.5.") for s in screening_sentences(found))
    assert screening_sentences(_morris())[-2].endswith("fix none.")


def test_what_fixing_did_is_counted_and_told() -> None:
    """Fixed, each of 24 designs moved by 2 m but one, which has no value any more."""
    found = _morris(outputs=[LINE])
    fixed = found["sampled"].values[:, :, 0] - 2.0
    fixed[0, 5] = np.nan
    found = with_fixed(found, fixed)
    assert float(found["fixing_moves"][0]) == pytest.approx(2.0)
    assert int(found["fixing_turns"][0]) == 1
    (told,) = [s for s in screening_sentences(found) if s.startswith("Checked")]
    assert told == (
        "Checked on 24 designs: fixing them all at once moves line by 2 m on average, beside 4 m of its largest "
        "effect; 1 of them has a value only before or only after."
    )
    never = with_fixed(found, np.full((1, 24), np.nan))
    assert any("is not checked: no design has a value both ways" in s for s in screening_sentences(never))


def test_effects_that_change_sign_or_size_are_spoken_of() -> None:
    """x moves the first output up or down with z; the second only where z is at its top, and then by a lot."""

    def odd(columns: Columns) -> Outcomes:
        x, z = columns["x"], columns["z"]
        values = {"line": x * (2.0 * z - 1.0), "bent_sheet": 9.0 * x * (z > 0.9)}
        return Outcomes(values=values, status=np.zeros(len(x), dtype=np.int64), margins={})

    sentences = screening_sentences(_morris(odd))
    assert any(s.startswith("x ") and " line " in s and "up in some designs" in s for s in sentences)
    assert any(s.startswith("x ") and "bent sheet" in s and "very differently" in s for s in sentences)


def test_trajectories_with_gaps_are_dropped() -> None:
    def gap(columns: Columns) -> Outcomes:
        whole = smooth(columns)
        bent = whole.values["bent_sheet"].copy()
        bent[17] = np.nan  # in the fifth trajectory of four points
        return Outcomes(
            values={"line": whole.values["line"], "bent_sheet": bent}, status=whole.status, margins={}
        )

    found, whole = _morris(gap, chunk_rows=1000), _morris()
    assert found["dropped_share"].values.tolist() == [0.0, pytest.approx(1 / 24)]
    np.testing.assert_array_equal(found["mu"].sel(output="line"), whole["mu"].sel(output="line"))
    assert not np.array_equal(found["mu"].sel(output="bent_sheet"), whole["mu"].sel(output="bent_sheet"))
    assert np.all(np.isfinite(found["mu"].values))


def test_sentences_say_what_the_numbers_say() -> None:
    found = _sobol(base_samples=1024, outputs=[LINE])
    sentences = interpretation(found)
    assert sentences[0].startswith("y alone explains 64 % (")
    assert sentences[1].startswith("x alone explains 36 % (")
    assert "line is hardly moved by z (total at most 0 %)." in sentences
    assert sentences[-1] == (
        "All this holds for factors drawn so: x: 0 to 1, evenly; y: -1 to 3, evenly; z: 0 to 1, evenly."
    )
    bent = interpretation(_sobol(base_samples=1024, outputs=[BENT]))
    assert bent[0].startswith("y alone explains")
    assert "bent sheet" in bent[0]


def test_pairs_that_act_together_are_named() -> None:
    """Closed form of y = (2 x - 1)(2 z - 1): neither explains anything alone, the pair all of it."""

    def product(columns: Columns) -> Outcomes:
        y = (2.0 * columns["x"] - 1.0) * (2.0 * columns["z"] - 1.0)
        return Outcomes(values={"line": y}, status=np.zeros(len(y), dtype=np.int64), margins={})

    found = _sobol(product, outputs=[LINE], base_samples=1024, second_order=True)
    last = found.isel(output=0, base_samples=-1)
    assert float(last["second"].sel(factor="x", partner="z")) == pytest.approx(1.0, abs=0.06)
    (told,) = [s for s in interpretation(found) if "beyond each alone" in s]
    assert told.startswith("x and z together explain 10")


def _faked(first: float, half: float, totals: tuple[float, float], total_half: float = 0.05) -> xr.Dataset:
    """A Sobol dataset of one factor whose numbers are set by hand."""
    found = _sobol(outputs=[LINE])
    found = found.isel(factor=slice(0, 1)).copy(deep=True)
    found["first"][...], found["first_half_width"][...] = first, half
    found["total_half_width"][...] = total_half
    found["total"][0, :, 0] = [totals[0], totals[0], totals[1]]
    found["pawn_moves"][...] = 0
    return found


def test_doubts_are_spoken() -> None:
    covered = interpretation(_faked(-0.02, 0.05, (0.5, 0.5)))
    assert any("(down to -2 %) are noise of the estimate" in s and "cover zero" in s for s in covered)
    beyond = interpretation(_faked(-0.2, 0.05, (0.5, 0.5)))
    assert any("below zero by more than their intervals (down to -20 %)" in s for s in beyond)
    assert not any("below zero by more" in s for s in covered)
    assert not any("noise" in s for s in beyond)
    moving = interpretation(_faked(0.4, 0.05, (0.3, 0.5)))
    assert any("moved a total index of line by 20 points" in s for s in moving)
    wide = interpretation(_faked(0.4, 0.05, (0.5, 0.5), 0.4))
    assert any("up to 40 points to either side: too wide" in s for s in wide)
    far = _sobol(outputs=[LINE]).copy(deep=True)
    far["total"][...], far["total_half_width"][...] = [0.9, 0.1, 0.0], [0.3, 0.05, 0.0]
    assert not any("too wide" in s for s in interpretation(far))  # wide, but clear of all others
    far["total"][...] = [0.9, 0.6, 0.0]
    assert any("too wide" in s for s in interpretation(far))
    unsettled = interpretation(_faked(0.0, 0.05, (0.15, 0.15), 0.2))
    assert unsettled[0] == "How much x moves line is not settled: total 15 % (-5 to 35 %)."
    faint = interpretation(_faked(0.01, 0.05, (0.04, 0.04)))
    assert faint[:-1] == ["line is hardly moved by x (total at most 9 %)."]
    settled = interpretation(_faked(0.4, 0.05, (0.49, 0.5)))
    assert len(settled) == 2
    assert "50 % together with its interactions" in settled[0]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"base_samples": 100}, "base_samples = 100, allowed powers of two from 16; the nearest is 128"),
        ({"base_samples": 8}, "the nearest is 16"),
        ({"base_samples": 0}, "the nearest is 16"),
        ({"seed": 0}, "SALib takes 0 as no seed"),
        ({"seed": 1.5}, "seed = 1.5"),
        ({"confidence": 1.0}, "confidence = 1.0"),
        ({"resamples": 1}, "resamples = 1"),
        ({"outputs": []}, "at least one output"),
        ({"outputs": [LINE, LINE]}, "each only once"),
    ],
)
def test_what_cannot_be_analysed_is_refused(changes: dict[str, object], sentence: str) -> None:
    with pytest.raises(SensitivityError, match=sentence):
        _sobol(**changes)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [({"trajectories": 3}, "trajectories = 3"), ({"levels": 5}, "levels = 5"), ({"seed": 0}, "seed = 0")],
)
def test_what_cannot_be_screened_is_refused(changes: dict[str, object], sentence: str) -> None:
    with pytest.raises(SensitivityError, match=sentence):
        _morris(**changes)


def test_every_variable_has_a_unit_and_a_meaning(plain: xr.Dataset) -> None:
    for dataset in (plain, _morris(), _sobol(second_order=True)):
        for name, variable in dataset.variables.items():
            assert variable.attrs["units"], name
            assert variable.attrs["long_name"], name
