"""What a history does between its samples: exact where it is a parabola or a broken line, close where it bends."""

import numpy as np
import pytest

from noonhearth.model.food import first_time

STEP = 60.0
MINUTES = np.arange(41.0)


def when(history: np.ndarray, required: float) -> float:
    return float(first_time(history, step=STEP, required=required).time) / STEP


@pytest.mark.parametrize("required", [301.0, 314.3, 330.0, 359.9])
def test_a_parabola_is_exact(required: float) -> None:
    """T = 300 + 2 t - 0.01 t^2 to its last step but one."""
    history = 300.0 + 2.0 * MINUTES - 0.01 * MINUTES**2
    assert when(history, required) == pytest.approx(
        100.0 - np.sqrt(1e4 - 100.0 * (required - 300.0)), abs=1e-9
    )


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
@pytest.mark.parametrize(("before", "after"), [(0.2, 2.0), (2.0, 0.2), (1.0, 1.0)])
def test_a_corner_at_a_sample_is_no_bend(before: float, after: float, share: float) -> None:
    """Two straight lines that meet at a sample: the steps on either side of it are straight."""
    history = 300.0 + np.where(MINUTES < 20, before * (MINUTES - 20), after * (MINUTES - 20))
    assert when(history, 300.0 + share * after) == pytest.approx(20 + share, abs=1e-9)
    assert when(history, 300.0 - share * before) == pytest.approx(20 - share, abs=1e-9)


@pytest.mark.parametrize("corner", [20.2, 20.5, 20.8])
def test_water_that_begins_to_boil_within_a_step_makes_a_corner(corner: float) -> None:
    """A steady rise that stops: the line itself up to the corner, and the corner for all the rest of the step."""
    history = 370.0 + 0.7 * np.minimum(MINUTES - corner, 0.0)
    for early in (0.05, 0.15):
        assert when(history, 370.0 - 0.7 * early) == pytest.approx(corner - early, abs=1e-9)
    chord = np.interp(370.0 - 0.035, history[20:22], [20.0, 21.0])
    assert chord > corner  # what a line would have said


def test_an_exponential_is_met_a_hundred_times_closer_than_by_a_line() -> None:
    """A body that warms with a time constant of eight minutes."""
    history = 380.0 - 90.0 * np.exp(-MINUTES / 8.0)
    required = np.linspace(305.0, 375.0, 40)
    exact = -8.0 * np.log((380.0 - required) / 90.0)
    curve = np.array([when(history, one) for one in required])
    line = np.interp(required, history, MINUTES)
    assert np.abs(curve - exact).max() < 0.03 * np.abs(line - exact).max()
    assert np.abs(curve - exact).max() * STEP < 0.05


def test_a_sun_that_jumps_at_a_sample_bends_the_step_after_it_alone() -> None:
    """A body behind a quick pot: its slope is continuous where the sun jumps, its bend is not.

    Slope 0.5 K/min, then up to 2.5 with a time constant of a minute: the integral is a closed form.
    """
    after = np.maximum(MINUTES - 20.0, 0.0)
    history = 340.0 + 0.5 * (MINUTES - 20.0) + 2.0 * (after - 1.0 + np.exp(-after))
    fine = np.linspace(0.0, 1.0, 100_001)
    curve = 340.0 + 0.5 * fine + 2.0 * (fine - 1.0 + np.exp(-fine))
    for required in (340.2, 340.5, 341.0):
        exact = 20.0 + np.interp(required, curve, fine)
        line = np.interp(required, history[20:22], [20.0, 21.0])
        assert abs(when(history, required) - exact) < 0.25 * abs(line - exact)


def test_more_is_later_through_any_step() -> None:
    """Random walks: the time rises with what is asked for, from one end of a step to the other."""
    draw = np.random.default_rng(4)
    for history in 300.0 + np.cumsum(draw.normal(0.0, 1.0, (40, 8)), axis=1):
        k = int(np.diff(history).argmax())
        if history[: k + 1].max() > history[k]:
            continue
        times = [when(history, one) for one in np.linspace(history[k], history[k + 1], 30)[1:]]
        assert (np.diff(times) >= -1e-12).all()
        assert k <= times[0]
        assert times[-1] == pytest.approx(k + 1, abs=1e-6)


def test_two_samples_make_a_line() -> None:
    assert when(np.array([300.0, 310.0]), 304.0) == pytest.approx(0.4, abs=1e-9)
