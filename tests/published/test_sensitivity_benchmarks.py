"""Sobol indices of functions whose indices are known in closed form.

Sources
-------
Ishigami and Homma, An importance quantification technique in uncertainty analysis for computer models, Proc.
ISUMA 90 (1990) 398; a = 7, b = 0.1 as in Saltelli, Chan and Scott, Sensitivity Analysis (2000), section 2.6;
b = 0.05 as in Sobol' and Levitan, Comput. Phys. Commun. 117 (1999) 52.
g-function: Saltelli and Sobol', Reliab. Eng. Syst. Saf. 50 (1995) 225; a = 0, 1, 4.5, 9, 99 x 4 as in Saltelli
et al., Comput. Phys. Commun. 181 (2010) 259, whose first-order indices are printed there.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from SALib.analyze import sobol as salib_sobol
from SALib.sample import sobol as salib_sample
from SALib.test_functions import Ishigami, Sobol_G

from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space
from noonhearth.studies.methods.indices import sobol_half_widths, sobol_indices
from noonhearth.studies.methods.layout import positions
from noonhearth.studies.methods.sensitivity import morris, sobol

Array = NDArray[np.float64]
Y = [Output(name="y", unit="1", meaning="value of the test function")]
ISHIGAMI_SPACE = Space(
    tuple(
        Parameter(name=f"x{k}", kind="real", low=-np.pi, high=np.pi, dimension="angle", meaning="x")
        for k in (1, 2, 3)
    )
)
G_A = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0])
G_SPACE = Space(
    tuple(Parameter(name=f"x{k}", kind="real", low=0.0, high=1.0, meaning="x") for k in range(1, 9))
)


def _outcomes(y: Array) -> Outcomes:
    return Outcomes(values={"y": y}, status=np.zeros(len(y), dtype=np.int64), margins={})


def ishigami(columns: Columns) -> Outcomes:
    x1, x2, x3 = columns["x1"], columns["x2"], columns["x3"]
    return _outcomes(np.sin(x1) + 7.0 * np.sin(x2) ** 2 + 0.1 * x3**4 * np.sin(x1))


def ishigami_flat(columns: Columns) -> Outcomes:
    x1, x2, x3 = columns["x1"], columns["x2"], columns["x3"]
    return _outcomes(np.sin(x1) + 7.0 * np.sin(x2) ** 2 + 0.05 * x3**4 * np.sin(x1))


def g_function(columns: Columns) -> Outcomes:
    x = np.column_stack(list(columns.values()))
    return _outcomes(np.prod((np.abs(4.0 * x - 2.0) + G_A) / (1.0 + G_A), axis=1))


def ishigami_indices(a: float, b: float) -> tuple[Array, Array, float]:
    """First order, total order and S13, from the integrals of the function."""
    v1 = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2
    v2 = a**2 / 8.0
    v13 = b**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    total = v1 + v2 + v13
    return np.array([v1, v2, 0.0]) / total, np.array([v1 + v13, v2, v13]) / total, v13 / total


def g_indices(a: Array) -> tuple[Array, Array]:
    part = 1.0 / 3.0 / (1.0 + a) ** 2
    whole = np.prod(1.0 + part)
    return part / (whole - 1.0), part * (whole / (1.0 + part)) / (whole - 1.0)


# The closed forms above against the printed values, so that a slip in one of them shows.
def test_indices_as_printed(published: Any) -> None:
    """Found, not worked out: the estimates of 8192 bases against what is printed, to their noise of 0.01."""
    counts = {"outputs": Y, "base_samples": 8192, "seed": 1, "chunk_rows": 8192}
    found = sobol(ISHIGAMI_SPACE, ishigami, **counts).isel(output=0, base_samples=-1)
    book = "Saltelli, Chan and Scott, Sensitivity Analysis (2000), section 2.6 (Ishigami, a 7, b 0.1)"
    for order, values in (("first", "0.3139 0.4424 0.0000"), ("total", "0.5576 0.4424 0.2437")):
        for k, printed in enumerate(values.split()):
            what = f"{order} index of x{k + 1} [1]"
            published(book, what, printed, found[order].values[k], within=0.01)
    paper = "Saltelli et al., Comput. Phys. Commun. 181 (2010) 259 (g-function)"
    found = sobol(G_SPACE, g_function, **counts).isel(output=0, base_samples=-1)
    for k, printed in enumerate(["0.716", "0.179", "0.0237", "0.0072"]):
        published(paper, f"first index of x{k + 1} [1]", printed, found["first"].values[k], within=0.01)


def test_closed_forms_give_the_published_values() -> None:
    first, total, s13 = ishigami_indices(7.0, 0.1)
    np.testing.assert_allclose(first, [0.313905, 0.442411, 0.0], atol=5e-7)
    np.testing.assert_allclose(total, [0.557589, 0.442411, 0.243684], atol=5e-7)
    assert s13 == pytest.approx(0.243684, abs=5e-7)
    first, total, _ = ishigami_indices(7.0, 0.05)
    np.testing.assert_allclose(first, [0.218519, 0.686895, 0.0], atol=5e-7)
    np.testing.assert_allclose(total[[0, 2]], [0.313105, 0.094587], atol=1.001e-6)
    first, total = g_indices(G_A)
    np.testing.assert_allclose(first[:5], [0.716192, 0.179048, 0.0236758, 0.00716192, 7.16192e-5], rtol=2e-6)
    np.testing.assert_allclose(total[:5], [0.787144, 0.242198, 0.0343169, 0.0104604, 1.04949e-4], rtol=5e-6)


def test_the_functions_are_those_of_salib() -> None:
    u = np.random.default_rng(1).random((50, 3))
    columns = ISHIGAMI_SPACE.from_unit(u)
    theirs = Ishigami.evaluate(np.column_stack(list(columns.values())))
    np.testing.assert_allclose(ishigami(columns).values["y"], theirs, rtol=1e-13)
    x = np.random.default_rng(2).random((50, 8))
    np.testing.assert_allclose(g_function(G_SPACE.from_unit(x)).values["y"], Sobol_G.evaluate(x), rtol=1e-12)


# What SALib 1.6.0 itself (sample.sobol and analyze.sobol) gives with seed 1, to four digits: ours must be the same,
# since sample and estimators are. Against the exact values its noise allows 0.03 and 0.01.
NOISE = [
    (1024, "0.3156 0.4383 0.0014", "0.5575 0.4426 0.2451", "0.2392", 0.03, 0.06),
    (8192, "0.3141 0.4437 -0.0002", "0.5574 0.4424 0.2437", "0.2452", 0.01, 0.02),
]


@pytest.mark.parametrize(("bases", "first", "total", "second", "off", "half"), NOISE)
def test_ishigami_indices(bases: int, first: str, total: str, second: str, off: float, half: float) -> None:
    found = sobol(
        ISHIGAMI_SPACE, ishigami, outputs=Y, base_samples=bases, seed=1, second_order=True, chunk_rows=8192
    ).isel(output=0)
    last = found.isel(base_samples=-1)
    np.testing.assert_allclose(last["first"].values, np.fromstring(first, sep=" "), atol=5.1e-5)
    np.testing.assert_allclose(last["total"].values, np.fromstring(total, sep=" "), atol=5.1e-5)
    assert float(last["second"][0, 2]) == pytest.approx(float(second), abs=5.1e-5)
    exact_first, exact_total, exact_second = ishigami_indices(7.0, 0.1)
    np.testing.assert_allclose(last["first"].values, exact_first, atol=off)
    np.testing.assert_allclose(last["total"].values, exact_total, atol=off)
    assert float(last["second"][0, 2]) == pytest.approx(exact_second, abs=off)
    assert float(last["first_half_width"].max()) == pytest.approx(half, rel=0.2)
    assert found["base_samples"].values.tolist() == [bases // 4, bases // 2, bases]
    width = found["total_half_width"].values.max(axis=1)
    assert width[2] == pytest.approx(width[0] / 2.0, rel=0.25)  # four times the bases, half the width


def test_ishigami_with_a_flatter_third_factor() -> None:
    found = sobol(ISHIGAMI_SPACE, ishigami_flat, outputs=Y, base_samples=4096, seed=1, chunk_rows=8192)
    last = found.isel(output=0, base_samples=-1)
    first, total, _ = ishigami_indices(7.0, 0.05)
    np.testing.assert_allclose(last["first"].values, first, atol=0.015)
    np.testing.assert_allclose(last["total"].values, total, atol=0.015)


def test_g_function_indices() -> None:
    found = sobol(G_SPACE, g_function, outputs=Y, base_samples=4096, seed=1, chunk_rows=8192)
    last = found.isel(output=0, base_samples=-1)
    first, total = g_indices(G_A)
    np.testing.assert_allclose(last["first"].values, first, atol=0.02)
    np.testing.assert_allclose(last["total"].values, total, atol=0.02)
    assert np.all(np.abs(last["first"].values - first) < 1.5 * last["first_half_width"].values + 1e-4)
    assert list(np.argsort(-last["total"].values)[:4]) == [0, 1, 2, 3]


def test_g_function_elementary_effects() -> None:
    """On 4 levels |4 x - 2| is 2, 2/3, 2/3, 2 at 0, 1/3, 2/3, 1, and a step is 2/3 of the range.

    So factor k always moves its own term by 4/3 / (1 + a_k), up or down with equal chance: mu is 0, and mu_star
    is 2 / (1 + a_k) times the mean of the other terms, each (4/3 + a_j) / (1 + a_j).
    """
    found = morris(G_SPACE, g_function, outputs=Y, trajectories=4000, seed=1, chunk_rows=50_000).isel(
        output=0
    )
    mean = (4.0 / 3.0 + G_A) / (1.0 + G_A)
    exact = 2.0 / (1.0 + G_A) * np.prod(mean) / mean
    np.testing.assert_allclose(found["mu_star"].values, exact, rtol=0.04)
    assert np.all(np.abs(found["mu_star"].values - exact) < 2.0 * found["mu_star_half_width"].values)
    assert np.all(np.abs(found["mu"].values) < 0.06 * exact)
    assert found["may_fix"].values.tolist() == [0, 0, 0, 0, 1, 1, 1, 1]


# Groups and sides. The g-function is a product of independent terms 1 + t_j of variance v_j = 1/3 / (1 + a_j)^2, so the
# closed index of a group u is (prod over u of (1 + v_j) - 1) / (prod over all - 1), its total one less that of the
# rest, and what two groups do only together the product of their two closed variances over the whole.
def _closed(members: list[int]) -> float:
    return float(np.prod(1.0 + 1.0 / 3.0 / (1.0 + G_A[members]) ** 2) - 1.0)


G_GROUPS = {"strong": ["x1", "x3"], "weak": ["x4", "x5", "x6", "x7", "x8"]}
G_MEMBERS = {"strong": [0, 2], "x2": [1], "weak": [3, 4, 5, 6, 7]}


def test_g_function_groups() -> None:
    found = sobol(
        G_SPACE,
        g_function,
        outputs=Y,
        base_samples=4096,
        seed=1,
        groups=G_GROUPS,
        second_order=True,
        chunk_rows=8192,
    )
    assert found["factor"].values.tolist() == ["strong", "x2", "weak"]
    assert found.attrs["designs"] == 4096 * (2 * 3 + 2)
    last, whole = found.isel(output=0, base_samples=-1), _closed(list(range(8)))
    for name, members in G_MEMBERS.items():
        rest = [k for k in range(8) if k not in members]
        one = last.sel(factor=name)
        assert float(one["first"]) == pytest.approx(_closed(members) / whole, abs=0.02)
        assert float(one["total"]) == pytest.approx(1.0 - _closed(rest) / whole, abs=0.02)
        assert abs(float(one["first"]) - _closed(members) / whole) < 1.5 * float(one["first_half_width"])
    pair = _closed(G_MEMBERS["strong"]) * _closed(G_MEMBERS["x2"]) / whole
    assert float(last["second"].sel(factor="strong", partner="x2")) == pytest.approx(pair, abs=0.02)


def test_ishigami_group_of_the_two_that_act_together() -> None:
    """x1 and x3 explain together what x1 does with its interactions, for x2 stands alone: no interaction is left."""
    found = sobol(
        ISHIGAMI_SPACE, ishigami, outputs=Y, base_samples=4096, seed=1, groups={"pair": ["x1", "x3"]}
    )
    last = found.isel(output=0, base_samples=-1)
    _, total, _ = ishigami_indices(7.0, 0.1)
    for name in ("first", "total"):
        np.testing.assert_allclose(last[name].values, total[:2], atol=0.015)


def test_groups_are_those_of_salib() -> None:
    names = list(G_SPACE.names)
    groups = ["strong", "x2", "strong", *["weak"] * 5]
    problem = {"num_vars": 8, "names": names, "bounds": [[0.0, 1.0]] * 8, "groups": groups}
    x = salib_sample.sample(problem, 128, calc_second_order=False, seed=3)
    y = g_function(G_SPACE.from_unit(x)).values["y"]
    theirs = salib_sobol.analyze(problem, y, calc_second_order=False, num_resamples=200, seed=3)
    last = sobol(G_SPACE, g_function, outputs=Y, base_samples=128, seed=3, groups=G_GROUPS).isel(
        output=0, base_samples=-1
    )
    np.testing.assert_array_equal(last["sampled"].values.ravel(), y)
    for own, other in (("first", "S1"), ("total", "ST")):
        np.testing.assert_allclose(last[own].values, theirs[other], atol=1e-12)
        np.testing.assert_allclose(last[f"{own}_half_width"].values, theirs[f"{other}_conf"], atol=1e-12)


def test_g_function_sides() -> None:
    suffered = ["x2", "x5", "x6"]
    found = sobol(
        G_SPACE, g_function, outputs=Y, base_samples=4096, seed=1, suffered=suffered, chunk_rows=8192
    )
    last, whole = found.isel(output=0, base_samples=-1), _closed(list(range(8)))
    decided = _closed([0, 2, 3, 6, 7])
    alone = np.array([decided, _closed([1, 4, 5])]) / whole
    np.testing.assert_allclose(last["side_first"].values, alone, atol=0.02)
    np.testing.assert_allclose(last["side_total"].values, 1.0 - alone[::-1], atol=0.02)
    both = decided * _closed([1, 4, 5]) / whole
    assert float(last["side_interaction"]) == pytest.approx(both, abs=0.02)
    assert abs(float(last["side_interaction"]) - both) < 1.5 * float(last["side_interaction_half_width"])
    plain = sobol(G_SPACE, g_function, outputs=Y, base_samples=4096, seed=1, chunk_rows=8192)
    for name in (
        "first",
        "total",
    ):  # the two further rows change nothing beside them, but for the rows' common mean
        np.testing.assert_allclose(
            last[name].values, plain[name].isel(output=0, base_samples=-1).values, atol=0.005
        )


def _covered(rows: Callable[[int], Array]) -> Array:
    """How many of 100 intervals of 95 % hold the exact Ishigami index; first of each factor, then total."""
    layout, held = positions(ISHIGAMI_SPACE.names), np.zeros(6)
    first, total, _ = ishigami_indices(7.0, 0.1)
    for seed in range(1, 101):
        y = ishigami(ISHIGAMI_SPACE.from_unit(rows(seed).reshape(-1, 3))).values["y"].reshape(256, 5)
        found = sobol_indices(y, layout)
        wide = sobol_half_widths(y, layout, resamples=200, confidence=0.95, seed=seed)
        error = np.abs(np.concatenate([found.first - first, found.total - total]))
        held += error < np.concatenate([wide.first, wide.total])
    return held


def _salib_rows(seed: int) -> Array:
    problem = {"num_vars": 3, "names": list(ISHIGAMI_SPACE.names), "bounds": [[0.0, 1.0]] * 3}
    return np.asarray(salib_sample.sample(problem, 256, calc_second_order=False, seed=seed))


def test_intervals_of_independent_draws_hold_as_often_as_they_say() -> None:
    """Measured: 93, 98, 90 of 100 for the first indices, 89, 97, 96 for the total ones."""

    def rows(seed: int) -> Array:
        a, b = np.random.default_rng(seed).random((2, 256, 3))
        return np.stack([a, *(np.where(np.arange(3) == k, b, a) for k in range(3)), b], axis=1)

    held = _covered(rows)
    assert (held >= 88).all()
    assert (held <= 99).all()


def test_intervals_of_a_sobol_sequence_hold_at_least_as_often() -> None:
    """Measured: 99, 97, 94 of 100 first, 100, 97, 100 total: the sequence errs less than the bootstrap, which
    takes its bases for independent, so that the intervals are too wide rather than too narrow."""
    assert (_covered(_salib_rows) >= 88).all()


@pytest.mark.xfail(strict=True, reason="two of six hold 100 of 100, wanted 99 at most: see the test above")
def test_intervals_of_a_sobol_sequence_are_not_too_wide() -> None:
    assert (_covered(_salib_rows) <= 99).all()
