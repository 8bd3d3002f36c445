"""Factors that are not drawn evenly: against scipy's distributions and closed forms, and as a config writes them."""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from noonhearth.studies import load
from noonhearth.studies.asking.distributions import Normal, Shares, Triangle
from noonhearth.studies.asking.varying import VaryError, read_varies, space_round
from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space, SpaceError
from noonhearth.studies.methods.sensitivity import sobol

SETTING = load(Path(__file__).parents[1] / "oven.toml").setting
NAMES = SETTING.catalogue.names()


def _real(name: str = "x", low: float = 0.0, high: float = 1.0, **more: object) -> Parameter:
    return Parameter(name=name, kind="real", low=low, high=high, meaning="x", **more)  # type: ignore[arg-type]


def _even(number: int = 200_000) -> np.ndarray:
    return (np.arange(number) + 0.5) / number


# scipy's own moments, from its integrals and not from the quantiles that we draw by.
CASES = [
    (_real(spread=Triangle(likely=0.2)), stats.triang(0.2)),
    (_real(low=-3.0, high=5.0, spread=Triangle(likely=-3.0)), stats.triang(0.0, -3.0, 8.0)),
    (_real(low=1e-3, high=1e2, log=True), stats.loguniform(1e-3, 1e2)),
    (_real(low=-9.0, high=11.0, spread=Normal(mean=1.0, deviation=2.0)), stats.norm(1.0, 2.0)),
    (
        _real(low=0.0, high=0.6, spread=Normal(mean=0.02, deviation=0.03)),
        stats.truncnorm(-2 / 3, 58 / 3, 0.02, 0.03),
    ),
]


@pytest.mark.parametrize(("parameter", "known"), CASES)
def test_mean_variance_and_quantiles_are_those_of_the_distribution(
    parameter: Parameter, known: object
) -> None:
    x = parameter.from_unit(_even())
    assert x.mean() == pytest.approx(known.mean(), rel=1e-4)
    assert x.var() == pytest.approx(known.var(), rel=2e-3)
    np.testing.assert_allclose(known.cdf(x[::9973]), _even()[::9973], atol=1e-6)
    assert (np.diff(x) >= 0).all()
    ends = parameter.from_unit(np.array([0.0, 1.0]))
    assert ends.tolist() == list(parameter.range)


def test_closed_forms_of_triangle_and_log_uniform() -> None:
    """Mean (a + b + c) / 3 and variance (a^2 + b^2 + c^2 - ab - ac - bc) / 18; (b - a) / ln(b / a)."""
    a, b, c = 2.0, 12.0, 5.0
    x = _real(low=a, high=b, spread=Triangle(likely=c)).from_unit(_even())
    assert x.mean() == pytest.approx((a + b + c) / 3, rel=1e-6)
    assert x.var() == pytest.approx((a * a + b * b + c * c - a * b - a * c - b * c) / 18, rel=1e-5)
    y = _real(low=a, high=b, log=True).from_unit(_even())
    assert y.mean() == pytest.approx((b - a) / np.log(b / a), rel=1e-6)


def test_words_come_as_often_as_their_shares() -> None:
    parameter = Parameter(
        name="w", kind="choice", choices=("a", "b", "c"), meaning="w", spread=Shares(each=(0.5, 0.2, 0.3))
    )
    words, counts = np.unique(parameter.from_unit(_even(1000)), return_counts=True)
    assert dict(zip(words, counts, strict=True)) == {"a": 500, "b": 200, "c": 300}
    assert parameter.from_unit(np.array([0.0, 0.5, 0.7, 1.0])).tolist() == ["a", "b", "c", "c"]
    thirds = Parameter(
        name="n", kind="integer", low=1, high=3, meaning="n", spread=Shares(each=(1 / 3, 1 / 3, 1 / 3))
    )
    assert thirds.from_unit(np.array([1 / 3, 2 / 3, 1.0])).tolist() == [2, 3, 3]


def test_indices_of_a_line_of_normal_factors() -> None:
    """Closed form: y = sum a_i x_i of independent factors has first and total index a_i^2 s_i^2 / sum."""
    slopes, deviations = np.array([1.0, -2.0, 0.5]), np.array([3.0, 1.0, 2.0])
    space = Space(
        tuple(
            _real(f"x{k}", -200.0, 200.0, spread=Normal(mean=5.0 * k, deviation=float(s)))
            for k, s in enumerate(deviations)
        )
    )

    def line(columns: Columns) -> Outcomes:
        y = sum(a * columns[f"x{k}"] for k, a in enumerate(slopes))
        return Outcomes(values={"y": y}, status=np.zeros(len(y), dtype=np.int64), margins={})

    outputs = [Output(name="y", unit="1", meaning="y")]
    found = sobol(space, line, outputs=outputs, base_samples=4096, seed=2).isel(base_samples=-1, output=0)
    exact = slopes**2 * deviations**2 / np.sum(slopes**2 * deviations**2)
    np.testing.assert_allclose(found["first"].values, exact, atol=0.01)
    np.testing.assert_allclose(found["total"].values, exact, atol=0.01)


def test_ranged_is_what_ends_alone_say() -> None:
    bell = _real(low=-99.0, high=99.0, spread=Normal(mean=1.0, deviation=2.0)).ranged()
    assert bell.spread is None
    np.testing.assert_allclose(bell.range, [1.0 - 1.959964 * 2.0, 1.0 + 1.959964 * 2.0], atol=1e-4)
    assert _real(spread=Triangle(likely=0.2)).ranged() == _real()
    assert _real(low=0.1, log=True).ranged() == _real(low=0.1, log=True)


@pytest.mark.parametrize(
    ("spread", "sentence"),
    [
        (Normal(mean=2.0, deviation=1.0), "mean 2 of a normal factor must lie within 0 to 1"),
        (Normal(mean=0.5, deviation=0.0), "standard deviation"),
        (Triangle(likely=-1.0), "likely value -1"),
        (Shares(each=(0.5, 0.5)), "words and whole numbers"),
    ],
)
def test_impossible_spreads_are_refused(spread: object, sentence: str) -> None:
    with pytest.raises(SpaceError, match=sentence):
        _real(spread=spread)


@pytest.mark.parametrize(
    ("each", "sentence"),
    [((0.5, 0.4), "add up to 0.9"), ((1.2, -0.2), "above zero"), ((1.0,), "1 shares for 2 values")],
)
def test_impossible_shares_are_refused(each: tuple[float, ...], sentence: str) -> None:
    with pytest.raises(SpaceError, match=sentence):
        Parameter(name="w", kind="choice", choices=("a", "b"), meaning="w", spread=Shares(each=each))
    with pytest.raises(SpaceError, match="without a step or log"):
        _real(step=0.5, spread=Triangle(likely=0.5))


def _parameter(name: str, value: object) -> Parameter:
    (vary,) = read_varies({name: value}, SETTING.design.factors, NAMES)
    return space_round((vary,), SETTING.design).parameters[0]


def test_a_config_writes_each_of_them() -> None:
    deg = np.pi / 180
    bell = _parameter("facet_angle", {"normal": ["33 deg", "2 deg"]})
    assert bell.spread == Normal(mean=pytest.approx(33 * deg), deviation=pytest.approx(2 * deg))
    assert bell.range == (
        SETTING.design.factors["facet_angle"].low,
        SETTING.design.factors["facet_angle"].high,
    )
    own = _parameter("facet_angle", {"normal": "1 deg"})
    assert own.spread == Normal(mean=SETTING.design.value("facet_angle"), deviation=pytest.approx(deg))
    warm = _parameter("start_temperature", {"normal": ["20 degC", "3 K"]})
    assert warm.spread == Normal(mean=pytest.approx(293.15), deviation=pytest.approx(3.0))
    three = _parameter("insulation_thickness", {"triangle": ["20 mm", "50 mm", "60 mm"]})
    assert three.range == (pytest.approx(0.02), pytest.approx(0.06))
    assert three.spread == Triangle(likely=pytest.approx(0.05))
    leak = _parameter("leak_area", {"log_uniform": ["0.1 cm2", "10 cm2"]})
    assert leak.log
    assert leak.range == (pytest.approx(1e-5), pytest.approx(1e-3))
    words = _parameter("insulation", {"shares": {"mineral-wool": "75 %", "straw": "25 %"}})
    assert words.spread == Shares(each=(0.75, 0.25))


def test_words_say_how_a_factor_is_drawn() -> None:
    cut = _parameter("soiling", {"normal": ["2 %", "3 %"]}).drawn_as
    assert (
        cut == "normal, 2 % with a standard deviation of 3 %, 25 % of it cut off below 0 %"
    )  # Phi(-2/3) = 0.2525
    assert _parameter("soiling", ["0 %", "15 %"]).drawn_as == "0 % to 15 %, evenly"
    assert (
        _parameter("soiling", {"triangle": ["0 %", "5 %", "15 %"]}).drawn_as
        == "0 % to 15 %, most often near 5 %"
    )
    assert _parameter("leak_area", {"log_uniform": ["1 cm2", "10 cm2"]}).drawn_as.endswith(
        "evenly in its logarithm"
    )
    assert _parameter("back_plate", ["mirror", "dark"]).drawn_as == "mirror, dark, each as often"
    shares = {"shares": {"mirror": "60 %", "dark": "40 %"}}
    assert _parameter("back_plate", shares).drawn_as == "mirror 60 %, dark 40 %"


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("facet_angle", {"normal": ["33 deg"]}, "a mean and a standard deviation"),
        ("facet_angle", {"normal": ["33 deg", "0 deg"]}, "standard deviation = 0 deg: must be above"),
        ("facet_angle", {"normal": ["99 deg", "1 deg"]}, "outside what is allowed"),
        ("facet_angle", {"triangle": ["33 deg", "30 deg", "40 deg"]}, "must rise"),
        ("facet_angle", {"triangle": ["33 deg", "30 deg"]}, "three values"),
        ("facet_angle", {"bell": ["33 deg", "30 deg"]}, "or one of"),
        ("facet_angle", {"normal": "1 deg", "within": "2 deg"}, "or one of"),
        ("soiling", {"log_uniform": ["0 %", "10 %"]}, "both ends must be above zero"),
        ("soiling", {"log_uniform": ["10 %", "1 %"]}, "first end must be below"),
        ("soiling", {"log_uniform": "10 %"}, "two ends"),
        ("facets", {"normal": "1"}, "whole number is drawn evenly"),
        ("back_plate", {"shares": {"mirror": "60 %", "dark": "50 %"}}, "add up to 1.1"),
        ("back_plate", {"shares": {"mirror": "60 %", "gold": "40 %"}}, '"gold" is not allowed'),
        ("back_plate", {"normal": "1"}, "write a list of names"),
    ],
)
def test_what_cannot_be_drawn_is_refused_by_name(name: str, value: object, sentence: str) -> None:
    with pytest.raises(VaryError, match=sentence) as refusal:
        _parameter(name, value)
    assert str(refusal.value).startswith(f"{name}: ")


def test_a_bell_needs_a_value_of_the_designs_own() -> None:
    with pytest.raises(SpaceError, match="slope_error: the design leaves it to the catalogue"):
        _parameter("slope_error", {"normal": "1 mrad"})
