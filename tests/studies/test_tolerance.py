"""Tolerances on functions whose answers are closed forms: what each quantity may be off, and all of it at once."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from scipy.stats import binomtest, norm

from noonhearth.studies.judging.outcomes import Columns, Outcomes
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods.crossing import passage, points_between
from noonhearth.studies.methods.repeats import BaseError, Repeats
from noonhearth.studies.methods.spread import explained, offsets, share_within, worst_of_best
from noonhearth.studies.methods.sweeps import REACH, Ends, Toleranced, at_design
from noonhearth.studies.methods.together import together
from noonhearth.studies.methods.tolerance import Care, alone
from noonhearth.studies.running.evaluations import EvaluationLog

LEVELS = [300.0, 600.0]
LIMITS = ["hot"]  # fifty under the limit as designed, and one over for each hundredth of an accuracy off
Response = Callable[[np.ndarray], np.ndarray]  # of accuracies off


def part(
    name: str, *, low: float = -1e3, high: float = 1e3, at: float = 5.0, accuracy: float = 0.5
) -> Toleranced:
    """A quantity whose design and accuracy are no round numbers of each other by chance."""
    parameter = Parameter(name=name, kind="real", meaning=f"quantity {name}", low=low, high=high)
    return Toleranced(parameter=parameter, at=at, accuracy=accuracy)


@dataclass
class Sum:
    """An hour and what each quantity adds when it is so many accuracies off; counts what it is asked for."""

    responses: dict[str, tuple[Toleranced, Response]]
    noise: float = 0.0
    seed: int = 1
    unbuilt: Callable[[dict[str, np.ndarray]], np.ndarray] = field(
        default=lambda off: np.zeros(len(next(iter(off.values()))), bool)
    )
    asked: int = 0
    stop_at: int | None = None

    def __call__(self, columns: Columns) -> Outcomes:
        self.asked += row_count(columns)
        if self.stop_at is not None and self.asked > self.stop_at:
            raise KeyboardInterrupt
        off = {name: (columns[name] - one.at) / one.accuracy for name, (one, _) in self.responses.items()}
        goal = 3600.0 + sum(response(off[name]) for name, (_, response) in self.responses.items())
        status = np.where(self.unbuilt(off), 2, 0).astype(np.int64)
        hot = 100 * sum(off.values()) - 50 + self.seed
        return Outcomes(values={"time": goal + self._noise(columns)}, status=status, margins={"hot": hot})

    def _noise(self, columns: Columns) -> np.ndarray:
        """Gaussian, and the same whenever the same row is asked for with the same seed."""
        if not self.noise:
            return np.zeros(row_count(columns))
        rows = np.column_stack([columns[name] for name in self.responses]).view(np.uint64)
        return np.array(
            [
                self.noise * np.random.default_rng([self.seed, *map(int, row)]).standard_normal()
                for row in rows
            ]
        )


def repeats(
    parts: list[Toleranced], *evaluates: Sum, workers: int = 1, folder: Path | None = None, sign: float = 1.0
) -> Repeats:
    space = Space(tuple(one.parameter for one in parts))
    logs = [
        EvaluationLog(
            space, values=["time"], margins=list(LIMITS), key="k", folder=folder and folder / str(number)
        )
        for number, _ in enumerate(evaluates)
    ]
    return Repeats(
        evaluates=evaluates,
        logs=logs,
        goal="time",
        sign=sign,
        base=at_design(parts, 1),
        limits=LIMITS,
        workers=workers,
        chunk_rows=7,
    )


def found(parts: list[Toleranced], evaluate: Sum, **how: object) -> xr.Dataset:
    return alone(parts, repeats(parts, evaluate, **how), levels=LEVELS, unit="s")  # type: ignore[arg-type]


def only(response: Response, **limits: float) -> xr.Dataset:
    """One quantity alone, lengths in accuracies."""
    one = part("x", **limits)
    result = found([one], Sum({"x": (one, response)})).isel(factor=0)
    return result.assign(allowed=result["allowed"] / one.accuracy, tried=result["tried"] / one.accuracy)


def root(bent: float, straight: float, level: float) -> float:
    """Where bent z^2 + straight z first is `level`, z above zero."""
    return (-straight + math.sqrt(straight**2 + 4 * bent * level)) / (2 * bent)


def test_a_parabola_is_passed_where_its_roots_are() -> None:
    result = only(lambda z: 20 * z**2 + 30 * z)
    for side, straight in ((0, -30), (1, 30)):
        for k, level in enumerate(LEVELS):
            assert float(result["allowed"][side, k]) == pytest.approx(root(20, straight, level), rel=1e-9)
    assert (result["ends"] == Ends.PASSED).all()
    assert float(result["ratio"]) == pytest.approx(root(20, 30, 300))
    assert int(result["care"]) == Care.NORMAL
    assert float(result["at_accuracy"][0]) == pytest.approx(-10.0)
    assert np.isnan(result["allowed_error"]).all()  # run once only: nothing is known of the noise


def test_a_kink_on_the_way_and_one_at_the_design() -> None:
    """Flat up to 3, then steep: passed at 3 + 300/200 and 3 + 600/200; the other way a plain line."""
    result = only(lambda z: np.where(z > 0, 200 * np.maximum(z - 3, 0), -75 * z))
    assert result["allowed"][1].to_numpy() == pytest.approx([4.5, 6.0], rel=0.02)
    assert result["allowed"][0].to_numpy() == pytest.approx([4.0, 8.0], rel=1e-9)


def test_the_first_passage_counts_not_the_last() -> None:
    """A hump of 400 between 2 and 4 that comes down again; the far end is no further off than the design."""
    result = only(lambda z: np.where(z > 0, 400 * np.exp(-(((z - 3) / 1.0) ** 2)), 0.0))
    assert float(result["allowed"][1, 0]) == pytest.approx(3 - math.sqrt(math.log(4 / 3)), rel=0.02)
    assert int(result["ends"][1, 1]) == Ends.BEYOND


def test_what_is_not_found_is_said_to_lie_beyond_what_was_tried() -> None:
    result = only(lambda z: 10 * z)
    assert np.isnan(result["allowed"]).all()
    assert (result["ends"] == Ends.BEYOND).all()
    assert (result["tried"] == REACH).all()
    assert np.isnan(float(result["ratio"]))
    assert int(result["care"]) == Care.RELAXED


def test_a_quantity_that_ends_is_told_from_one_that_never_costs() -> None:
    """At the lowest value there is, a side has no room; with room for 1.5 the range is that and no more."""
    result = only(lambda z: 100 * np.abs(z), low=5.0, high=5.75)
    assert result["ends"].to_numpy().tolist() == [[Ends.LAST] * 2, [Ends.LAST] * 2]
    assert result["tried"].to_numpy().tolist() == [0.0, 1.5]


def test_never_reached_and_never_built_end_the_range_openly() -> None:
    one = part("x")
    evaluate = Sum(
        {"x": (one, lambda z: np.where(z > 2.6, np.nan, 30 * np.abs(z)))}, unbuilt=lambda off: off["x"] < -1.7
    )
    result = found([one], evaluate).isel(factor=0)
    assert result["ends"].to_numpy().tolist() == [[Ends.UNBUILT] * 2, [Ends.NEVER] * 2]
    for side, edge in ((0, 1.7), (1, 2.6)):
        allowed, error = (
            float(result[name][side, 0]) / one.accuracy for name in ("allowed", "allowed_error")
        )
        assert edge - 2 * error <= allowed <= edge
        assert error < 0.03 * edge
    assert result["stopped_by"].to_numpy().tolist() == [2, 0]
    assert int(result["care"]) == Care.CAREFUL


def test_more_of_a_goal_is_better_where_the_sign_says_so() -> None:
    one = part("x")
    measure = repeats([one], Sum({"x": (one, lambda z: -60 * z)}), sign=-1.0)
    result = alone([one], measure, levels=LEVELS, unit="s").isel(factor=0)
    assert float(result["allowed"][1, 0]) == pytest.approx(5 * one.accuracy)
    assert int(result["ends"][0, 0]) == Ends.BEYOND


def test_care_goes_by_the_tighter_side() -> None:
    names = {"a": 1.9, "b": 2.1, "c": 4.9, "d": 5.1}
    parts = [part(name) for name in names]
    responses = {
        one.name: (one, lambda z, at=at: np.where(z < 0, -300 / at * z, 0.0))
        for one, at in zip(parts, names.values(), strict=True)
    }
    result = found(parts, Sum(responses))
    assert result["ratio"].to_numpy() == pytest.approx(list(names.values()))
    assert result["care"].to_numpy().tolist() == [Care.CAREFUL, Care.NORMAL, Care.NORMAL, Care.RELAXED]


def test_the_standard_error_is_honest_under_noise() -> None:
    """Forty quantities of one and the same response: their errors over what is claimed have a spread near one."""
    parts = [part(f"x{k}", at=5.0 + 0.01 * k) for k in range(40)]
    evaluates = [
        Sum({one.name: (one, lambda z: 10 * z**2 + 40 * z) for one in parts}, noise=20.0, seed=seed)
        for seed in (1, 2, 3, 4)
    ]
    result = alone(parts, repeats(parts, *evaluates), levels=LEVELS, unit="s")
    off = (result["allowed"][:, 1, 0] / 0.5 - root(10, 40, 300)) / (result["allowed_error"][:, 1, 0] / 0.5)
    # The design's own noise moves all forty together, by about one over the square root of two.
    assert abs(float(off.mean())) < 2.0
    assert 0.25 < float(off.std()) < 1.4
    assert result["noise"].to_numpy() == pytest.approx(20 * math.sqrt(2) / 2, rel=0.5)
    assert float(result["noise"].mean()) == pytest.approx(20 * math.sqrt(2) / 2, rel=0.35)


def test_a_design_without_a_value_is_refused() -> None:
    one = part("x")
    with pytest.raises(BaseError, match="never reaches"):
        found([one], Sum({"x": (one, lambda z: np.full(z.shape, np.nan))}))
    with pytest.raises(BaseError, match="cannot be run"):
        found([one], Sum({"x": (one, lambda z: z)}, unbuilt=lambda off: off["x"] == 0))


@pytest.mark.parametrize("level", [1.0, 7.5, 30.0])
def test_a_passage_of_any_parabola_is_exact(level: float) -> None:
    t = np.array([0.0, 0.7, 1.1, 2.9, 5.3, 8.0])
    assert passage(t, 1.5 * t**2 + 0.5 * t, level).at == pytest.approx(root(1.5, 0.5, level))
    assert passage(t, 5 * t, level).slope == pytest.approx(5.0)


def test_closing_in_stays_inside_and_ends() -> None:
    t, y = np.array([0.0, 1.0, 2.0, 4.0]), np.array([0.0, 1.0, 3.0, 90.0])
    more = points_between(t, y, 80.0)
    assert ((more > 2) & (more < 4)).all()
    assert points_between(np.array([0.0, 1.0, 1.02]), np.array([0.0, 1.0, 3.0]), 2.0).size == 0
    assert points_between(t, y, 100.0).size == 0


# --- all at once


def drawn(
    parts: list[Toleranced],
    *evaluates: Sum,
    spread: str = "normal",
    draws: int = 1024,
    seed: int = 3,
    **how: object,
) -> xr.Dataset:
    return together(
        parts,
        repeats(parts, *evaluates, **how),  # type: ignore[arg-type]
        levels=LEVELS,
        unit="s",
        draws=draws,
        spread=spread,  # type: ignore[arg-type]
        wanted=0.9,
        seed=seed,
    )


def lines(slopes: dict[str, float]) -> tuple[list[Toleranced], Sum]:
    parts = [part(name) for name in slopes]
    return parts, Sum(
        {one.name: (one, lambda z, b=b: b * z) for one, b in zip(parts, slopes.values(), strict=True)}
    )


def test_straight_lines_and_normal_spreads_make_a_normal_spread() -> None:
    """A sum of independent normal deviates is one: the shares are the normal distribution's, and so is the scale."""
    slopes = {"a": 300.0, "b": -400.0, "c": 1200.0}
    result = drawn(*lines(slopes))
    deviation = math.sqrt(
        sum((b / 2) ** 2 for b in slopes.values())
    )  # the accuracy is two standard deviations
    at_usual = result.sel(scale=1.0)
    for k, level in enumerate(LEVELS):
        assert float(at_usual["within"][k]) == pytest.approx(norm.cdf(level / deviation), abs=0.01)
        assert (
            float(at_usual["within_low"][k]) < norm.cdf(level / deviation) < float(at_usual["within_high"][k])
        )
    assert float(result.attrs["scale_needed"]) == pytest.approx(300 / (deviation * norm.ppf(0.9)), rel=0.06)
    shares = [(b / 2) ** 2 / deviation**2 for b in slopes.values()]
    assert result["variance_share"].to_numpy() == pytest.approx(shares, abs=0.005)
    assert float(result.attrs["r_squared"]) == pytest.approx(1.0)


def test_even_spreads_have_the_moments_of_a_rectangle() -> None:
    """b z + c z^2 of z even in -1 to 1 has the variance b^2/3 + 4 c^2/45."""
    shapes = {"a": (300.0, 0.0), "b": (0.0, 600.0), "c": (100.0, -300.0)}
    parts = [part(name) for name in shapes]
    evaluate = Sum(
        {
            one.name: (one, lambda z, bc=bc: bc[0] * z + bc[1] * z**2)
            for one, bc in zip(parts, shapes.values(), strict=True)
        }
    )
    result = drawn(parts, evaluate, spread="even")
    each = np.array([b**2 / 3 + 4 * c**2 / 45 for b, c in shapes.values()])
    assert float(result["drawn_excess"].sel(scale=1.0).var()) == pytest.approx(each.sum(), rel=0.02)
    assert result["variance_share"].to_numpy() == pytest.approx(each / each.sum(), abs=0.01)
    assert result.attrs["bent_fit"] == 1


def test_one_even_quantity_keeps_the_share_that_a_ruler_gives() -> None:
    result = drawn(*lines({"a": 500.0}), spread="even")
    assert float(result["within"].sel(scale=1.0)[0]) == pytest.approx((1 + 300 / 500) / 2, abs=0.005)
    assert float(result.attrs["scale_needed"]) == pytest.approx(300 / (0.8 * 500), rel=0.06)


def test_interaction_is_what_the_fit_leaves() -> None:
    """z1 z2 of even z has no share of either alone; with a line of the same variance the fit explains half."""
    u = np.random.default_rng(1).uniform(-1, 1, (4096, 3))
    result = explained(u, u[:, 0] * u[:, 1] + math.sqrt(1 / 3) * u[:, 2])
    assert result.r_squared == pytest.approx(0.5, abs=0.03)
    assert result.share == pytest.approx([0.0, 0.0, 0.5], abs=0.03)


def test_spreads_are_cut_where_values_end() -> None:
    """From the lowest value on, half a bell: twice the upper half of the normal distribution."""
    u = (np.arange(4096)[:, None] + 0.5) / 4096
    edge = part("x", low=5.0)
    off = offsets([edge], u, scale=1.0, spread="normal")
    assert off.min() >= 0
    assert (off <= 0.5).mean() == pytest.approx(2 * norm.cdf(1.0) - 1, abs=1e-3)
    even = offsets([part("x", low=4.9)], u, scale=1.0, spread="even")
    assert (even.min(), even.max()) == pytest.approx((-0.2, 1.0), abs=1e-3)


def test_the_scale_is_found_on_both_sides_of_usual_work_or_openly_not() -> None:
    for slope, scale in ((100.0, 3.75), (3000.0, 0.125)):
        assert float(drawn(*lines({"a": slope}), spread="even").attrs["scale_needed"]) == pytest.approx(
            scale, rel=0.06
        )
    for slope in (10.0, 1e6):
        result = drawn(*lines({"a": slope}), spread="even")
        assert math.isnan(result.attrs["scale_needed"])
    assert float(drawn(*lines({"a": 10.0}), spread="even")["scale"].max()) == 4.0


def test_ovens_without_a_value_keep_no_step_and_are_counted() -> None:
    parts, evaluate = lines({"a": 100.0})
    evaluate.responses["a"] = (parts[0], lambda z: np.where(z > 0.6, np.nan, 100 * z))
    evaluate.unbuilt = lambda off: off["a"] < -0.8
    at_usual = drawn(parts, evaluate, spread="even").sel(scale=1.0)
    assert float(at_usual["never"]) == pytest.approx(0.2, abs=0.005)
    assert float(at_usual["unbuilt"]) == pytest.approx(0.1, abs=0.005)
    assert float(at_usual["within"][0]) == pytest.approx(0.7, abs=0.005)


def test_a_limit_counts_by_its_worst_repeat() -> None:
    parts, evaluate = lines({"a": 100.0})
    twin = Sum(evaluate.responses, seed=21)
    measure = repeats(parts, evaluate, twin)
    assert measure.at_base() == (3600.0, pytest.approx([-29.0]))
    over = drawn(parts, evaluate, twin, spread="even")["drawn_over"][0]
    assert float((over > 0).mean()) == pytest.approx((1 - 0.29) / 2, abs=0.005)


def test_noise_is_told_from_effect() -> None:
    """Noise of deviation s, a mean of four, on a line of variance b^2/3: its share is s^2/4 over the whole.

    The design's own noise is common to all and no part of the spread between them, but of the claimed error.
    """
    parts, _ = lines({"a": 300.0})
    evaluates = [Sum({"a": (parts[0], lambda z: 300 * z)}, noise=120.0, seed=seed) for seed in (1, 2, 3, 4)]
    result = drawn(parts, *evaluates, spread="even")
    whole = 300**2 / 3 + 120**2 / 4
    assert float(result["variance_share"][0]) == pytest.approx(300**2 / 3 / whole, abs=0.02)
    assert 120**2 / 4 / whole * 0.9 < float(result.attrs["noise_share"]) < 3 * 120**2 / 4 / whole


@pytest.mark.parametrize(("inside", "count"), [(0, 32), (31, 64), (115, 128), (64, 64)])
def test_the_interval_of_a_share_is_that_of_wilson(inside: int, count: int) -> None:
    mine = share_within(np.where(np.arange(count) < inside, 0.0, np.nan), 1.0)
    theirs = binomtest(inside, count).proportion_ci(method="wilson")
    assert (mine.low, mine.high) == pytest.approx((theirs.low, theirs.high), abs=1e-4)
    assert mine.value == inside / count


def test_the_worst_of_the_best() -> None:
    assert worst_of_best(np.array([5.0, 1.0, np.nan, 3.0, 2.0]), 0.6) == 3.0
    assert worst_of_best(np.array([5.0, 1.0, np.nan, 3.0, 2.0]), 0.9) == math.inf


def test_workers_and_interrupts_change_no_bit(tmp_path: Path) -> None:
    def study(evaluates: list[Sum], workers: int, folder: Path | None) -> xr.Dataset:
        measure = repeats(parts, *evaluates, workers=workers, folder=folder)
        one = alone(parts, measure, levels=LEVELS, unit="s")
        return one.merge(drawn(parts, *evaluates, draws=64, workers=workers, folder=folder))

    parts = [part("a"), part("b")]

    def twins(**changes: int) -> list[Sum]:
        shapes = {"a": (parts[0], lambda z: 40 * z + 9 * z**2), "b": (parts[1], lambda z: 90 * np.abs(z))}
        return [Sum(dict(shapes), noise=5.0, seed=seed, **changes) for seed in (1, 2)]

    whole = twins()
    expected = study(whole, 1, None)
    xr.testing.assert_identical(expected, study(twins(), 2, None))
    stopped = twins(stop_at=60)
    with pytest.raises(KeyboardInterrupt):
        study(stopped, 1, tmp_path)
    again = twins()
    xr.testing.assert_identical(expected, study(again, 1, tmp_path))
    alone_rows = 7  # a chunk may be lost
    assert sum(one.asked for one in again) < sum(one.asked for one in whole) - 60 + 2 * alone_rows
