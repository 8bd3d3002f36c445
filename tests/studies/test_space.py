"""Factors: what may be one, how the unit interval maps onto it, and what is refused."""

import numpy as np
import pytest

from noonhearth.studies.judging.space import Parameter, Space, SpaceError

ANGLE = Parameter(name="angle", kind="real", low=0.2, high=0.9, dimension="angle", meaning="facet angle")
FACETS = Parameter(name="facets", kind="integer", low=3, high=12, meaning="number of facets")
EVEN = Parameter(name="even", kind="integer", low=4, high=12, step=2, meaning="even number")
SHEET = Parameter(
    name="sheet", kind="real", low=0.5, high=2.0, step=0.25, dimension="length", meaning="stock"
)
MIRROR = Parameter(name="mirror", kind="choice", choices=("foil", "glass", "steel"), meaning="mirror")
LEAK = Parameter(name="leak", kind="real", low=1e-4, high=1e-1, log=True, dimension="area", meaning="leak")
ALL = Space((ANGLE, FACETS, EVEN, SHEET, MIRROR, LEAK))


def test_units_come_from_the_dimension() -> None:
    assert [p.unit for p in ALL.parameters] == ["rad", "1", "1", "m", "1", "m2"]


def test_every_value_of_a_discrete_factor_owns_an_equal_bin() -> None:
    u = (np.arange(60_000) + 0.5) / 60_000
    for parameter in (FACETS, EVEN, SHEET, MIRROR):
        values = parameter.values
        assert values is not None
        drawn, counts = np.unique(parameter.from_unit(u), return_counts=True)
        assert drawn.tolist() == sorted(values.tolist())
        assert set(counts) == {60_000 // values.size} or np.ptp(counts) <= 1


@pytest.mark.parametrize("n", [2, 3, 5, 6, 7, 9, 11, 49])
def test_bin_edges_computed_in_floats_fall_into_the_upper_bin(n: int) -> None:
    parameter = Parameter(name="k", kind="integer", low=0, high=n - 1, meaning="number")
    edges = [i * (1.0 / n) for i in range(n)]  # e.g. 3 * (1/49) * 49 rounds below 3
    assert parameter.from_unit(np.array([*edges, 1.0])).tolist() == [*range(n), n - 1]


def test_real_factors_reach_both_ends_and_stay_inside() -> None:
    for parameter in (ANGLE, LEAK):
        x = parameter.from_unit(np.linspace(0.0, 1.0, 1001))
        low, high = parameter.range
        assert x[0] == low
        assert x[-1] == high
        assert np.all(np.diff(x) > 0.0)


def test_a_logarithmic_factor_is_uniform_in_its_logarithm() -> None:
    x = LEAK.from_unit(np.array([0.0, 1 / 3, 2 / 3, 1.0]))
    np.testing.assert_allclose(x, [1e-4, 1e-3, 1e-2, 1e-1], rtol=1e-12)


def test_column_types() -> None:
    columns = ALL.from_unit(np.full((2, 6), 0.5))
    assert {name: c.dtype.kind for name, c in columns.items()} == {
        "angle": "f", "facets": "i", "even": "i", "sheet": "f", "mirror": "U", "leak": "f",
    }  # fmt: skip


def test_rows_and_columns_are_inverse() -> None:
    columns = ALL.from_unit(np.random.default_rng(1).random((50, 6)))
    back = ALL.columns(ALL.rows(columns))
    for name in ALL.names:
        assert back[name].dtype.kind == columns[name].dtype.kind
        np.testing.assert_array_equal(back[name], columns[name])


def test_the_matrix_tells_designs_apart() -> None:
    designs = ALL.from_unit(np.random.default_rng(2).random((200, 6)))
    again = ALL.matrix(ALL.columns(ALL.rows(designs)))
    np.testing.assert_array_equal(ALL.matrix(designs), again)
    assert len(np.unique(again, axis=0)) == 200


def test_negative_zero_is_the_same_design_as_zero() -> None:
    space = Space((Parameter(name="x", kind="real", low=-1.0, high=1.0, meaning="x"),))
    zero, minus = (space.matrix({"x": np.array([x])}).tobytes() for x in (0.0, -0.0))
    assert zero == minus


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"kind": "real", "low": 1.0, "high": 1.0}, "low must be below high"),
        ({"kind": "real", "low": 0.0, "high": np.inf}, "both finite"),
        ({"kind": "real", "low": 0.0}, "has low and high"),
        ({"kind": "real", "low": 0.0, "high": 1.0, "choices": ("a", "b")}, "no choices"),
        ({"kind": "real", "low": 0.0, "high": 1.0, "log": True}, "above zero"),
        ({"kind": "real", "low": 0.0, "high": 1.0, "step": 0.3}, "divide the range"),
        ({"kind": "real", "low": 0.0, "high": 1.0, "step": -0.5}, "divide the range"),
        ({"kind": "integer", "low": 1.5, "high": 4}, "whole low"),
        ({"kind": "integer", "low": 1, "high": 4, "step": 2}, "divide the range"),
        ({"kind": "choice", "choices": ("a",)}, "at least two"),
        ({"kind": "choice", "choices": ("a", "a")}, "at least two different"),
        ({"kind": "choice", "choices": ("a", "b"), "low": 0.0}, "a choice has no low"),
        ({"kind": "real", "low": 0.0, "high": 1.0, "dimension": "smell"}, "unknown dimension"),
    ],
)
def test_impossible_factors_are_refused_by_name(wrong: dict[str, object], sentence: str) -> None:
    with pytest.raises(SpaceError, match=r"^x: ") as refusal:
        Parameter(name="x", meaning="x", **wrong)  # type: ignore[arg-type]
    assert sentence in str(refusal.value)


def test_names_are_identifiers_and_differ() -> None:
    with pytest.raises(SpaceError, match="single word"):
        Parameter(name="two words", kind="integer", low=0, high=1, meaning="x")
    with pytest.raises(SpaceError, match="named twice: facets"):
        Space((FACETS, FACETS))
    with pytest.raises(SpaceError, match="at least one factor"):
        Space(())


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("angle", 1.0, "angle = 1 rad, allowed 0.2 to 0.9"),
        ("angle", np.nan, "angle = nan rad"),
        ("facets", 3.5, "facets = 3.5 1, allowed 3 to 12 in steps of 1"),
        ("even", 5, "in steps of 2"),
        ("sheet", 0.6, "in steps of 0.25"),
        ("mirror", "gold", "mirror = 'gold', allowed foil, glass, steel"),
    ],
)
def test_designs_outside_are_refused(name: str, value: object, sentence: str) -> None:
    design = ALL.rows(ALL.from_unit(np.full((1, 6), 0.3)))[0]
    with pytest.raises(SpaceError) as refusal:
        ALL.columns([design | {name: value}])
    assert sentence in str(refusal.value)


def test_designs_name_every_factor_and_nothing_else() -> None:
    design = ALL.rows(ALL.from_unit(np.full((1, 6), 0.3)))[0]
    with pytest.raises(SpaceError, match="design 2: missing or unknown factor colour"):
        ALL.columns([design, design | {"colour": "red"}])


def test_what_only_some_factors_have_is_refused_for_others() -> None:
    with pytest.raises(SpaceError, match="mirror: a choice has no range"):
        _ = MIRROR.range
    with pytest.raises(SpaceError, match="angle: a continuous factor has no numbered values"):
        ANGLE.index(np.array([0.3]))


def test_positions_outside_the_cube_are_refused() -> None:
    with pytest.raises(SpaceError, match=r"positions must lie in \[0, 1\]"):
        ALL.from_unit(np.full((1, 6), 1.1))
    with pytest.raises(SpaceError, match="needed"):
        ALL.from_unit(np.full((1, 5), 0.5))
