"""Information of planned trials against closed forms, full joint inverses, and straight-line refits."""

import math

import numpy as np
import pytest
from scipy import stats

from noonhearth.studies.methods.planning import (
    MOST,
    correlation,
    covariance,
    errors_in_a_row,
    information,
    integrated_out,
    least_count,
    misled,
    pooled,
    reach,
    sharpness,
    slowness,
    varying,
)

UNKNOWN = math.inf


def line(count: int) -> np.ndarray:
    """Jacobian of a + b t over so many even times from 0 to 1."""
    return np.column_stack([np.ones(count), np.linspace(0, 1, count)])


def test_a_straight_line_has_the_textbook_errors() -> None:
    """var(b) = s2 / Sxx and var(a) = s2 (1/n + m2 / Sxx): Draper and Smith (1998), ch. 1."""
    told = information(line(21), 0.3)
    found = covariance(pooled([(told, 1)], [UNKNOWN, UNKNOWN]))
    t = np.linspace(0, 1, 21)
    spread = np.square(t - 0.5).sum()
    assert found[1, 1] == pytest.approx(0.09 / spread, rel=1e-6)
    assert found[0, 0] == pytest.approx(0.09 * (1 / 21 + 0.25 / spread), rel=1e-6)
    assert correlation(found, 0, 1) == pytest.approx(-0.5 / math.sqrt(0.25 + spread / 21), rel=1e-6)


def test_a_prior_is_one_more_reading() -> None:
    told = information(line(11), 1.0)
    with_prior = covariance(pooled([(told, 1)], [0.2, UNKNOWN]))
    more = covariance(pooled([(told, 1), (information(np.array([[1.0, 0.0]]), 0.2), 1)], [UNKNOWN, UNKNOWN]))
    np.testing.assert_allclose(with_prior, more, rtol=1e-9)


def test_readings_without_a_prediction_tell_nothing() -> None:
    jacobian = line(11)
    jacobian[3:5] = np.nan
    np.testing.assert_allclose(
        information(jacobian, 0.5), information(np.delete(line(11), [3, 4], axis=0), 0.5), rtol=1e-12
    )


def test_integrating_out_is_the_inverse_of_the_joint_covariance() -> None:
    """The block of the inverse of the whole, by numpy alone."""
    rng = np.random.default_rng(1)
    jacobian = rng.normal(size=(40, 5))
    told = information(jacobian, 0.7)
    left = integrated_out(told, [3, 4], [0.4, UNKNOWN])
    whole = told + np.diag([0, 0, 0, 0.4**-2, 0])
    np.testing.assert_allclose(np.linalg.inv(left), np.linalg.inv(whole)[:3, :3], rtol=1e-9)
    assert integrated_out(told, [], []) is told


def test_a_parameter_that_varies_from_trial_to_trial_is_never_known_better_than_its_mean() -> None:
    """k trials that each tell it perfectly: variance s2 / k. And against the joint inverse with a delta per trial."""
    sharp = np.array([[1e8, 0.0], [0.0, 1e8]])
    found = covariance(pooled([(varying(sharp, [0.05, 0.0]), 4)], [UNKNOWN, UNKNOWN]))
    assert found[0, 0] == pytest.approx(0.05**2 / 4, rel=1e-4)
    assert found[1, 1] == pytest.approx(1e-8 / 4, rel=1e-4)
    rng = np.random.default_rng(2)
    jacobians = [rng.normal(size=(15, 3)) for _ in range(3)]  # two aims that vary, one shared parameter
    blocks = [(varying(information(one, 1.0), [0.3, 0.5]), 1) for one in jacobians]
    ours = covariance(pooled(blocks, [UNKNOWN] * 3))
    joint = np.zeros((9, 9))
    for k, one in enumerate(jacobians):
        wide = np.zeros((15, 9))
        wide[:, :3], wide[:, 3 + 2 * k : 5 + 2 * k] = one, one[:, :2]
        joint += wide.T @ wide
    joint += np.diag([0.0] * 3 + [0.3**-2, 0.5**-2] * 3)
    np.testing.assert_allclose(ours, np.linalg.inv(joint)[:3, :3], rtol=1e-7)


def test_a_shared_fault_is_not_averaged_away() -> None:
    """y = a + f: without end of trials the error of a is that of the instrument f."""
    told = information(np.ones((10, 2)), 0.1)
    errors = [math.sqrt(covariance(pooled([(told, k)], [UNKNOWN, 0.05]))[0, 0]) for k in (1, 10, 10_000)]
    assert errors[0] == pytest.approx(math.hypot(0.05, 0.1 / math.sqrt(10)), rel=1e-6)
    assert errors[2] == pytest.approx(0.05, rel=1e-3)


def test_a_fault_that_a_fit_does_not_know_misleads_it() -> None:
    """y = a + b t + f t fitted as a line: b is off by f, a is not; and readings refitted by numpy with f in them."""
    jacobian = np.column_stack([line(21), np.linspace(0, 1, 21)])
    told = pooled([(information(jacobian, 0.2), 1)], [UNKNOWN] * 3)
    found, plain = misled(told, 2, 0.05), misled(told, 2, 0.0)
    assert found[1, 1] - plain[1, 1] == pytest.approx(0.05**2, rel=1e-6)
    assert found[0, 0] == pytest.approx(plain[0, 0], rel=1e-6)
    endless = pooled([(information(jacobian, 0.2), 10**9)], [UNKNOWN] * 3)
    assert math.sqrt(misled(endless, 2, 0.05)[1, 1]) == pytest.approx(0.05, rel=1e-6)
    bent = np.column_stack([line(21), np.linspace(0, 1, 21) ** 2])
    slopes = np.polyfit(np.linspace(0, 1, 21), 0.05 * bent[:, 2], 1)[0]
    told = pooled([(information(bent, 0.2), 1)], [UNKNOWN] * 3)
    pushed = misled(told, 2, 0.05)[1, 1] - misled(told, 2, 0.0)[1, 1]
    assert math.sqrt(pushed) == pytest.approx(slopes, rel=1e-6)


def test_slowness_is_the_variance_of_a_mean_of_correlated_errors() -> None:
    """4000 means of 600 readings, memory of five steps: their variance times 600 within 5 % of the slowness."""
    errors = errors_in_a_row(np.random.default_rng(3), (4000, 600), 60.0, 300.0)
    assert errors.std() == pytest.approx(1.0, abs=0.01)
    assert 600 * errors.mean(axis=1).var() == pytest.approx(slowness(60.0, 300.0), rel=0.05)
    lag = np.mean(errors[:, :-1] * errors[:, 1:])
    assert lag == pytest.approx(math.exp(-0.2), abs=0.01)
    white = errors_in_a_row(np.random.default_rng(4), (200, 600), 60.0, 0.0)
    assert 600 * white.mean(axis=1).var() == pytest.approx(slowness(60.0, 0.0), rel=0.3)


def test_refits_of_a_line_scatter_as_foretold() -> None:
    """500 lines through errors with a memory, by numpy's least squares: deviation within its sampling error.

    The deviation of 500 draws is known to 1 / sqrt(2 * 499), 3.2 %; three times that, and 2 % for the ends of a row,
    which the slowness of an endless one leaves out.
    """
    count = 400
    rng = np.random.default_rng(5)
    readings = 0.5 * errors_in_a_row(rng, (500, count), 1.0, 4.0)
    slopes = np.array([np.polyfit(np.linspace(0, 1, count), row, 1)[0] for row in readings])
    told = information(line(count), 0.5, slowness(1.0, 4.0))
    foretold = math.sqrt(covariance(pooled([(told, 1)], [UNKNOWN, UNKNOWN]))[1, 1])
    assert slopes.std() / foretold == pytest.approx(1.0, abs=3 * 0.032 + 0.02)


def test_more_is_never_worse() -> None:
    """D-optimality: another trial, another reading, a smaller error or a sharper prior never lowers the sharpness."""
    rng = np.random.default_rng(6)
    for _ in range(50):
        jacobian = rng.normal(size=(12, 4))
        told = varying(information(jacobian, 0.5), [0.1, 0.1])
        priors = [UNKNOWN, UNKNOWN, 0.3, 0.3]
        base = sharpness(covariance(pooled([(told, 1)], priors)), 2)
        assert sharpness(covariance(pooled([(told, 2)], priors)), 2) > base
        more = varying(information(np.vstack([jacobian, rng.normal(size=4)]), 0.5), [0.1, 0.1])
        assert sharpness(covariance(pooled([(more, 1)], priors)), 2) > base
        better = varying(information(jacobian, 0.4), [0.1, 0.1])
        assert sharpness(covariance(pooled([(better, 1)], priors)), 2) > base
        assert sharpness(covariance(pooled([(told, 1)], [UNKNOWN, UNKNOWN, 0.2, 0.3])), 2) > base
        steadier = varying(information(jacobian, 0.5), [0.05, 0.1])
        assert sharpness(covariance(pooled([(steadier, 1)], priors)), 2) > base


def test_sharpness_of_independent_parameters() -> None:
    assert sharpness(np.diag([0.25, 4.0, 9.0]), 2) == pytest.approx(0.0, abs=1e-12)
    assert sharpness(np.diag([0.01, 1.0]), 1) == pytest.approx(math.log(100))


def test_reach_is_the_upper_end_of_a_lognormal_interval() -> None:
    """exp(z s) - 1; what is not known at all is `MOST`."""
    expected = stats.lognorm.ppf(0.975, 0.1) - 1
    assert float(reach(0.01)) == pytest.approx(expected, rel=1e-9)
    assert float(reach(0.01, 0.5)) == pytest.approx(stats.lognorm.ppf(0.75, 0.1) - 1, rel=1e-9)
    assert float(reach(1e9)) == MOST
    nobody = covariance(pooled([], [UNKNOWN]))
    assert float(reach(nobody[0, 0])) == MOST


@pytest.mark.parametrize(
    ("wanted", "count"), [([0.2, np.nan], 2), ([0.2, 0.35], 3), ([np.nan, np.nan], 1), ([0.01, np.nan], None)]
)
def test_the_least_number_of_trials(wanted: list[float], count: int | None) -> None:
    reached = np.array([[0.3, 0.5], [0.2, 0.4], [0.1, 0.3]])
    assert least_count(reached, np.array(wanted)) == count
