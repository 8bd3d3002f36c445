"""Fits against closed forms, against scipy's own curve fitting, and against repeats with known truth."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit
from scipy.signal import lfilter

from noonhearth.studies.methods.between import variance_between
from noonhearth.studies.methods.coordinates import Coordinates
from noonhearth.studies.methods.fitting import FitError, fitted
from noonhearth.studies.methods.found import foretold, quantile_of, told_apart, widened
from noonhearth.studies.methods.independence import scatter_of
from noonhearth.studies.methods.least_squares import Prior
from noonhearth.studies.methods.resampling_blocks import block_length

Floats = NDArray[np.float64]

WIDE = ([-1e3, -1e3], [1e3, 1e3])
T = np.linspace(0.0, 1.0, 120)
LINE = np.stack([np.ones_like(T), T])  # an intercept and a slope


def straight(rows: Floats) -> Floats:
    return rows @ LINE


def decay(rows: Floats) -> Floats:
    """Newton's cooling from the first parameter at the rate of the second."""
    return rows[:, :1] * np.exp(-rows[:, 1:] * T)


def autoregressive(rng: np.random.Generator, rho: float, shape: tuple[int, ...]) -> Floats:
    """Noise of variance one whose neighbours share so much."""
    burn = 200
    white = rng.standard_normal((*shape[:-1], shape[-1] + burn)) * np.sqrt(1 - rho**2)
    return np.asarray(lfilter([1.0], [1.0, -rho], white)[..., burn:])


def test_a_line_is_fitted_as_the_normal_equations_say() -> None:
    rng = np.random.default_rng(1)
    observed = straight(np.array([[2.0, -3.0]]))[0] + 0.1 * rng.standard_normal(len(T))
    found = fitted(straight, observed, names=("a", "b"), start=[0.0, 0.0], bounds=WIDE)
    normal = np.linalg.solve(LINE @ LINE.T, LINE @ observed)
    np.testing.assert_allclose(found.values, normal, rtol=1e-6)
    left = observed - normal @ LINE
    np.testing.assert_allclose(found.residuals, left, atol=1e-6)
    # White noise: the covariance is the textbook's but for the slowness that chance shows.
    slowness = found.series[0].slowness
    assert 1.0 <= slowness < 1.6
    textbook = left @ left / (len(T) - 2 * slowness) * np.linalg.inv(LINE @ LINE.T) * slowness
    width = 2e3  # a coordinate is a share of the range
    np.testing.assert_allclose(found.covariance * width**2, textbook, rtol=1e-3)


def test_a_prior_pulls_as_much_as_its_share_of_the_information() -> None:
    """One level read n times with known noise, and a prior: the mean weighted by one over the variances."""
    observed = 5.0 + 0.2 * np.tile([1.0, -1.0], 60)  # scatters by 0.2, not slowly
    prior = Prior(np.array([4.0]), np.array([0.05]))
    found = fitted(
        lambda rows: np.repeat(rows, 120, axis=1),
        observed,
        names=("level",),
        start=[3.0],
        bounds=([0.0], [10.0]),
        logs=[False],
        prior=prior,
        noise=0.2,
    )
    scatter = found.series[0]
    reading = scatter.deviation**2 / scatter.effective
    expected = (5.0 / reading + 4.0 / 0.05**2) / (1 / reading + 1 / 0.05**2)
    assert scatter.slowness == 1.0
    assert found.values[0] == pytest.approx(expected, rel=1e-6)
    assert found.errors[0] * 10 == pytest.approx((1 / reading + 1 / 0.05**2) ** -0.5, rel=1e-6)


def test_decays_are_fitted_as_scipy_fits_curves() -> None:
    rng = np.random.default_rng(5)
    observed = decay(np.array([[80.0, 2.0]]))[0] + 0.5 * rng.standard_normal(len(T))
    found = fitted(decay, observed, names=("a", "k"), start=[50.0, 1.0], bounds=([1.0, 0.1], [500.0, 20.0]))
    values, covariance = curve_fit(lambda t, a, k: a * np.exp(-k * t), T, observed, p0=[50.0, 1.0])
    np.testing.assert_allclose(found.values, values, rtol=1e-5)
    relative = covariance / np.outer(values, values) * found.series[0].slowness
    np.testing.assert_allclose(found.covariance, relative, rtol=0.03)


def test_an_outlier_moves_a_robust_fit_little() -> None:
    rng = np.random.default_rng(8)
    truth = np.array([2.0, -3.0])
    observed = straight(truth[np.newaxis])[0] + 0.1 * rng.standard_normal(len(T))
    observed[[100, 105, 110]] += 8.0
    plain = fitted(straight, observed, names=("a", "b"), start=[0.0, 0.0], bounds=WIDE, noise=0.1)
    robust = fitted(
        straight, observed, names=("a", "b"), start=[0.0, 0.0], bounds=WIDE, noise=0.1, robust=True
    )
    assert abs(plain.values[1] + 3.0) > 0.2
    assert (np.abs(robust.values - truth) < 0.08).all()
    assert ((robust.low < truth) & (truth < robust.high)).all()


@pytest.mark.parametrize("robust", [False, True])
@pytest.mark.parametrize("rho", [0.0, 0.6, 0.85])
def test_intervals_hold_the_truth_nineteen_times_of_twenty(rho: float, robust: bool) -> None:
    """Also with noise whose neighbours err alike, which an interval for independent readings misses badly."""
    rng = np.random.default_rng(21)
    truth, repeats = np.array([80.0, 2.0]), 400
    noise = 0.5 * autoregressive(rng, rho, (repeats, len(T)))
    hits = np.zeros(2)
    for one in noise:
        observed = decay(truth[np.newaxis])[0] + one
        found = fitted(
            decay,
            observed,
            names=("a", "k"),
            start=[70.0, 2.5],
            bounds=([1.0, 0.1], [500.0, 20.0]),
            noise=0.5,
            robust=robust,
        )
        hits += (found.low <= truth) & (truth <= found.high)
    share = hits / repeats
    assert ((share >= 0.90) & (share <= 0.98)).all(), share


def test_slowness_is_that_of_an_autoregression() -> None:
    """Integrated autocorrelation time of a first-order autoregression: (1 + rho) / (1 - rho)."""
    rng = np.random.default_rng(2)
    for rho in (0.0, 0.5, 0.8):
        noise = autoregressive(rng, rho, (40, 4000))
        time = np.arange(4000.0) * 60
        found = [scatter_of(one, time, taken=0.0, least=0.0) for one in noise]
        assert np.mean([one.slowness for one in found]) == pytest.approx((1 + rho) / (1 - rho), rel=0.12)
        assert np.mean([one.deviation for one in found]) == pytest.approx(1.0, rel=0.03)


def test_gaps_do_not_join_what_they_part() -> None:
    """A series with a long gap is as slow as without it, and no lag reaches across."""
    noise = autoregressive(np.random.default_rng(4), 0.7, (2000,))
    time = np.arange(2000.0) * 10
    torn = np.where(np.arange(2000) < 1000, time, time + 1e7)
    whole = scatter_of(noise, time, taken=0.0, least=0.0)
    assert scatter_of(noise, torn, taken=0.0, least=0.0).slowness == pytest.approx(whole.slowness, rel=0.1)


@pytest.mark.parametrize("rho", [0.0, 0.7])
def test_refits_to_blocks_spread_as_the_jacobian_says(rho: float) -> None:
    """And so as repeats do: the truth's own spread is the third witness."""
    rng = np.random.default_rng(31)
    truth, repeats = np.array([80.0, 2.0]), 100
    noise = 0.5 * autoregressive(rng, rho, (repeats, len(T)))
    found = [
        fitted(
            decay,
            decay(truth[np.newaxis])[0] + one,
            names=("a", "k"),
            start=[70.0, 2.5],
            bounds=([1.0, 0.1], [500.0, 20.0]),
            bootstrap=60,
            seed=3,
        )
        for one in noise
    ]
    by_blocks = np.median([np.log(one.draws).std(axis=0) for one in found], axis=0)
    by_slopes = np.median([one.errors for one in found], axis=0)
    by_repeats = np.std([np.log(one.values) for one in found], axis=0)
    np.testing.assert_allclose(by_blocks, by_slopes, rtol=0.25)
    np.testing.assert_allclose(
        by_slopes, by_repeats, rtol=0.35
    )  # 40 repeats: to 11 %, and the slowness is a guess


def test_draws_are_the_same_again_with_the_same_seed() -> None:
    observed = decay(np.array([[80.0, 2.0]]))[0] + np.random.default_rng(5).standard_normal(len(T))

    def drawn(seed: int) -> Floats:
        how = {"names": ("a", "k"), "start": [50.0, 1.0], "bounds": ([1.0, 0.1], [500.0, 20.0])}
        return fitted(decay, observed, bootstrap=20, seed=seed, **how).draws  # type: ignore[arg-type]

    np.testing.assert_array_equal(drawn(4), drawn(4))
    assert (drawn(4) != drawn(5)).all()


def test_what_cannot_be_told_apart_is_the_last_direction() -> None:
    """Only the product of two parameters is seen: their logarithms' sum is known, their difference is not."""
    rng = np.random.default_rng(9)

    def product(rows: Floats) -> Floats:
        return rows[:, :1] * rows[:, 1:2] * LINE[1] + 0 * rows[:, :1]

    observed = product(np.array([[2.0, 3.0]]))[0] + 0.01 * rng.standard_normal(len(T))
    prior = Prior(np.array([2.0, 3.0]), np.array([1.0, 1.5]))
    found = fitted(
        product, observed, names=("a", "b"), start=[1.5, 2.0], bounds=([0.1, 0.1], [10.0, 10.0]), prior=prior
    )
    assert found.singular_values[1] < 1e-6 * found.singular_values[0]
    np.testing.assert_allclose(np.abs(found.directions[1]), np.sqrt([0.5, 0.5]), rtol=1e-6)
    assert found.directions[1].prod() < 0
    assert found.correlation[0, 1] < -0.99
    assert found.values.prod() == pytest.approx(6.0, rel=1e-2)
    assert found.errors == pytest.approx(
        [0.5 / np.sqrt(2)] * 2, rel=0.01
    )  # halves of both priors, by symmetry


def test_a_parameter_fixed_wrongly_biases_the_others_as_first_order_says() -> None:
    """Two nodes, food in a pot, integrated by scipy: the loss is held 20 % too high while light is fitted."""
    time = np.linspace(0.0, 4 * 3600.0, 61)

    def two_nodes(light: float, loss: float) -> Floats:
        def rates(_: float, y: Floats) -> list[float]:
            flow = 20.0 * (y[0] - y[1])
            return [(250.0 * light - 1.6 * loss * (y[0] - 25.0) - flow) / 800.0, flow / 6000.0]

        return np.asarray(solve_ivp(rates, (0.0, time[-1]), [25.0, 25.0], t_eval=time, rtol=1e-9).y[1])

    def held(rows: Floats) -> Floats:
        return np.array([two_nodes(light, 1.2) for (light,) in rows])

    observed = two_nodes(1.0, 1.0)
    found = fitted(held, observed, names=("light",), start=[0.8], bounds=([0.3], [3.0]))
    h = 1e-4
    by_light = (two_nodes(np.exp(h), 1.1) - two_nodes(np.exp(-h), 1.1)) / (2 * h)
    by_loss = (two_nodes(1.0, 1.1 * np.exp(h)) - two_nodes(1.0, 1.1 * np.exp(-h))) / (2 * h)
    first_order = -(by_light @ by_loss) / (by_light @ by_light) * np.log(1.2)
    assert first_order > 0.03  # the bias is one that matters
    assert np.log(found.values[0]) == pytest.approx(first_order, rel=0.05)


def test_readings_that_are_missing_or_not_predicted_are_left_out() -> None:
    rng = np.random.default_rng(3)
    observed = straight(np.array([[2.0, -3.0]]))[0] + 0.1 * rng.standard_normal(len(T))
    torn = np.where(np.arange(len(T)) % 7 == 0, np.nan, observed)

    def blind(rows: Floats) -> Floats:
        return np.where(T > 0.9, np.nan, straight(rows))

    found = fitted(blind, torn, names=("a", "b"), start=[0.0, 0.0], bounds=WIDE)
    seen = np.isfinite(torn) & (T <= 0.9)
    normal = np.linalg.lstsq(LINE.T[seen], observed[seen], rcond=None)[0]
    np.testing.assert_allclose(found.values, normal, rtol=1e-6)
    assert (np.isfinite(found.residuals) == seen).all()
    with pytest.raises(FitError, match="1 readings cannot tell 2 factors apart"):
        fitted(
            straight,
            np.where(np.arange(len(T)) == 4, 1.0, np.nan),
            names=("a", "b"),
            start=[0, 0],
            bounds=WIDE,
        )


def test_an_estimate_at_its_bound_says_so() -> None:
    observed = decay(np.array([[80.0, 2.0]]))[0]
    found = fitted(decay, observed, names=("a", "k"), start=[50.0, 1.0], bounds=([1.0, 0.1], [500.0, 1.5]))
    assert found.at_bound.tolist() == [0, 1]
    assert found.high[1] == pytest.approx(1.5)


def test_series_are_weighed_by_how_they_scatter() -> None:
    """Two thermometers of one level, one ten times as noisy: the weighted mean, though both were stated alike."""
    rng = np.random.default_rng(6)
    good, bad = 5.0 + 0.1 * rng.standard_normal(400), 5.0 + 1.0 * rng.standard_normal(400)
    found = fitted(
        lambda rows: np.repeat(rows, 800, axis=1),
        np.concatenate([good, bad]),
        names=("level",),
        start=[3.0],
        bounds=([0.0], [10.0]),
        logs=[False],
        series=np.repeat([0, 1], 400),
        time=np.tile(np.arange(400.0), 2),
    )
    parts = [(one.deviation**2 / one.effective) for one in found.series]
    expected = (good.mean() / parts[0] + bad.mean() / parts[1]) / (1 / parts[0] + 1 / parts[1])
    assert found.values[0] == pytest.approx(expected, rel=1e-3)
    assert abs(found.values[0] - 5.0) < 0.05


def test_coordinates_go_there_and_back() -> None:
    axes = Coordinates.over(([0.1, -2.0], [10.0, 3.0]), None)
    values = np.array([[0.5, 1.0], [2.0, -2.0]])
    np.testing.assert_allclose(axes.values(axes.of(values)), values)
    assert axes.logs.tolist() == [True, False]
    with pytest.raises(ValueError, match="below"):
        Coordinates.over(([1.0], [1.0]), None)
    with pytest.raises(ValueError, match="above zero"):
        Coordinates.over(([0.0], [1.0]), [True])


def test_blocks_are_single_readings_where_these_are_independent() -> None:
    assert block_length(400, 1.0) == 1
    # Politis and White (2004), from memory, for an autoregression of 0.5: (1.5 n (2 rho / (1 - rho^2))^2)^(1/3)
    assert block_length(400, 3.0) == int(np.ceil((1.5 * 400 * (1.0 / 0.75) ** 2) ** (1 / 3)))


def test_fewer_degrees_of_freedom_widen_intervals() -> None:
    """Student's table, from memory: 3.182 for 3, 2.228 for 10."""
    assert quantile_of(3) == pytest.approx(3.182, abs=5e-4)
    assert quantile_of(10) == pytest.approx(2.228, abs=5e-4)


def test_what_stands_in_the_way_takes_its_share_of_what_is_told() -> None:
    """A slope beside a level that is known a little beforehand: the slope's information is the Schur complement."""
    rng = np.random.default_rng(13)
    observed = straight(np.array([[2.0, -3.0]]))[0] + 0.1 * rng.standard_normal(len(T))
    width = 20.0
    prior = Prior(np.array([0.0, 2.0]), np.array([np.inf, 0.02]))
    found = fitted(
        lambda rows: rows[:, ::-1] @ LINE,
        observed,
        names=("slope", "level"),
        start=[0.0, 0.0],
        bounds=([-10.0, -10.0], [10.0, 10.0]),
        prior=prior,
    )
    one = found.series[0].deviation ** 2 * found.series[0].slowness
    slope, both, level = T @ T / one, T.sum() / one, len(T) / one + 1 / 0.02**2
    singular, directions = told_apart(found, prior, 1)
    assert singular[0] / width == pytest.approx(np.sqrt(slope - both**2 / level), rel=1e-6)
    assert directions[0, 0] == pytest.approx(1.0)
    alone = told_apart(found, None, 1)[0][0] / width
    assert alone == pytest.approx(np.sqrt(slope - both**2 / (len(T) / one)), rel=1e-6)
    assert found.errors[0] * width == pytest.approx((slope - both**2 / level) ** -0.5, rel=1e-6)


def test_errors_of_another_kind_add_their_squares() -> None:
    rng = np.random.default_rng(14)
    observed = decay(np.array([[80.0, 2.0]]))[0] + 0.5 * rng.standard_normal(len(T))
    found = fitted(decay, observed, names=("a", "k"), start=[50.0, 1.0], bounds=([1.0, 0.1], [500.0, 20.0]))
    more = widened(found, np.array([[0.03**2]]))
    assert more.errors[0] == pytest.approx(np.hypot(found.errors[0], 0.03), rel=1e-12)
    assert more.errors[1] == found.errors[1]
    assert np.log(more.high[0] / more.values[0]) == pytest.approx(found.quantile * more.errors[0], rel=1e-9)


def test_what_is_foretold_of_a_line_is_as_sure_as_the_textbook_says() -> None:
    """Standard error of a fitted line beyond its readings: sqrt(c' V c), with V the covariance of its two numbers."""
    rng = np.random.default_rng(15)
    observed = straight(np.array([[2.0, -3.0]]))[0] + 0.1 * rng.standard_normal(len(T))
    found = fitted(straight, observed, names=("a", "b"), start=[0.0, 0.0], bounds=WIDE)
    ahead = np.array([1.5, 3.0])
    said, error = foretold(lambda rows: rows[:, :1] + rows[:, 1:] * ahead, found)
    one = found.series[0].deviation ** 2 * found.series[0].slowness
    off, spread = ahead - T.mean(), ((T - T.mean()) ** 2).sum()
    np.testing.assert_allclose(said, found.values[0] + found.values[1] * ahead, rtol=1e-9)
    np.testing.assert_allclose(error, np.sqrt(one * (1 / len(T) + off**2 / spread)), rtol=1e-6)


def test_what_differs_between_trials_is_what_their_errors_do_not_explain() -> None:
    """Of many trials of unlike errors the moments come back; of equal errors it is a closed form."""
    rng = np.random.default_rng(16)
    errors = rng.uniform(0.05, 0.3, 4000)
    values = 1.0 + 0.2 * rng.standard_normal(4000) + errors * rng.standard_normal(4000)
    assert variance_between(values, errors) == pytest.approx(0.2**2, rel=0.06)
    assert variance_between(1.0 + errors * rng.standard_normal(4000), errors) < 0.02**2
    equal = np.array([1.0, 1.4, 1.1, np.nan])
    assert variance_between(equal, np.full(4, 0.1)) == pytest.approx(equal[:3].var(ddof=1) - 0.01)
    assert variance_between(np.array([1.0, 1.01]), np.array([0.1, 0.1])) == 0.0
    assert variance_between(np.array([1.0, np.nan]), np.array([0.1, 0.1])) == 0.0
