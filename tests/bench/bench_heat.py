"""Speed of the heat march, with the answers it gave: python tests/bench/bench_heat.py [result.json] [designs].

Thread CPU time, best of five, of ten-hour days at one-minute steps, beside the answers, so that a faster version
that cooks differently shows; then the same network by LSODA, compiled but adaptive and one design at a time, for the
ratio; then threads. Ratios travel between machines better than times do. With a number of designs it also marches
so many extreme ones against Radau and prints how far the worst go astray (200 take two minutes).
"""

import importlib.util
import json
import math
import sys
import threading
import time
from pathlib import Path

import numpy as np
from numba import njit
from scipy.integrate import odeint, solve_ivp

from noonhearth.model.food import first_time
from noonhearth.model.heat import Build, Node, Weather, run
from noonhearth.model.heat.workspace import build_at

_spec = importlib.util.spec_from_file_location(
    "naive_oven", Path(__file__).parents[1] / "twins" / "naive_oven.py"
)
assert _spec is not None
assert _spec.loader is not None
naive = importlib.util.module_from_spec(_spec)
sys.modules["naive_oven"] = naive
_spec.loader.exec_module(naive)

LANES, STEPS = 1024, 600
DESIGNS = 24  # extreme ones, for LSODA
ORDER = {"rtol": 1e-4, "atol": 1e-4}  # what LSODA is asked for


def batch() -> Build:
    """A thousand ovens around an ordinary one."""
    draw = np.random.default_rng(20)

    def about(value):
        return value * 1.4 ** draw.uniform(-1, 1, LANES)

    return Build(
        solid_capacity=about(500.0),
        water_mass=about(1.5),
        contents_start=about(0.0) + 293.15,
        shell_conductance=about(500.0),
        film_conductance=about(15.0),
        boiling_temperature=np.full(LANES, 369.0),
        vent_conductance=about(1e-10),
        pot_capacity=about(600.0),
        pot_lid_area=about(0.03),
        pot_side_area=about(0.075),
        pot_bottom_area=about(0.03),
        pot_radius=about(0.1),
        pot_height=about(0.12),
        pot_cover_exchange=about(0.04),
        pot_sheet_exchange=about(0.01),
        sheet_cover_exchange=about(0.03),
        air_capacity=about(90.0),
        cavity_height=about(0.4),
        leak_area=about(2e-5),
        sheet_capacity=about(1200.0),
        sheet_area=about(0.7),
        sheet_length=about(0.4),
        insulation_conductance=about(1.0),
        insulation_capacity=about(1500.0),
        rim_conductance=about(0.05),
        shell_capacity=about(4000.0),
        shell_area=about(1.4),
        shell_height=about(0.45),
        shell_emittance=np.full(LANES, 0.9),
        cover_area=about(0.4),
        cover_length=about(0.16),
        cover_capacity=about(2500.0),
        cover_conductance=about(60.0),
        gap_thickness=np.where(draw.random(LANES) < 0.5, 0.0, 0.015),
        cover_emittance=np.full(LANES, 0.9),
    )


def day(corrections: int) -> tuple[Weather, np.ndarray]:
    """One clear day; the sun on the pot sags between corrections of the aim, at the same minutes for all."""
    noon = np.sin(np.pi * np.linspace(0.05, 0.95, STEPS + 1))[None]
    weather = Weather(
        air_temperature=290 + 10 * noon,
        sky_temperature=272 + 8 * noon,
        wind_speed=2 + 0 * noon,
        pressure=88e3 + 0 * noon,
        tilt=np.linspace(1.1, 0.2, STEPS)[None],
        vapour_pressure=1200 + 0 * noon,
    )
    late = (np.arange(STEPS) * corrections / STEPS) % 1.0
    sun = noon[0, :-1] * (1 - 0.3 * late)
    return weather, sun[None, :, None] * np.array([230.0, 60.0, 40.0]) * np.ones((LANES, 1, 1))


def best_of_five(work, clock=time.thread_time) -> float:
    """Least time, of this thread unless told otherwise. [s]"""
    times = []
    for _ in range(5):
        begin = clock()
        work()
        times.append(clock() - begin)
    return min(times)


def yardstick() -> None:
    """Twenty million square roots, added up."""
    for _ in range(20):
        np.sqrt(np.arange(1e6)).sum()


def ordinary() -> dict[str, float]:
    """Ten-hour days a second of ordinary ovens, the aim corrected once or thirty times, and their answers."""
    build, days = batch(), np.zeros(LANES, np.int64)
    result = {}
    ruler = best_of_five(yardstick)
    for corrections in (1, 30):
        weather, intake = day(corrections)
        histories = run(build, weather, days, intake)
        seconds = best_of_five(lambda weather=weather, intake=intake: run(build, weather, days, intake))
        result |= {
            f"days_per_second_{corrections}_corrections": LANES / seconds,
            f"yardsticks_per_thousand_days_{corrections}_corrections": 1000 * seconds / LANES / ruler,
            f"mean_core_after_an_hour_{corrections}_corrections": float(histories.core[:, 60].mean()),
            f"mean_water_left_{corrections}_corrections": float(histories.end_water.mean()),
        }
    return result


def threads() -> dict[str, float]:
    """Wall time of two halves in one thread over that in two: means something on an idle machine alone."""
    build, (weather, intake), half = batch(), day(30), LANES // 2
    days = np.zeros(half, np.int64)
    halves = [
        (Build(*(column[part] for column in build)), intake[part])
        for part in (slice(half), slice(half, None))
    ]

    def in_two() -> None:
        workers = [threading.Thread(target=run, args=(b, weather, days, sun)) for b, sun in halves]
        for worker in workers:
            worker.start()
        for worker in workers:
            worker.join()

    one = best_of_five(lambda: [run(b, weather, days, sun) for b, sun in halves], time.perf_counter)
    return {"two_threads_over_one": one / best_of_five(in_two, time.perf_counter)}


@njit
def _rates(time, y, columns, piece):
    """The twin's right-hand side of a dry oven; its fabric as an array, which costs less at the door."""
    return naive.rates(y, naive.DRY, build_at(columns, 0), naive.now_at(time, piece))


def lsoda_core(columns: np.ndarray, course, watts: np.ndarray, solver: str) -> np.ndarray:
    """Core of a dry oven at every minute by LSODA, started afresh at every corner, steps of a minute at most."""
    y = np.full(11, naive.weather_at(0.0)[0])
    y[:3], y[10] = columns[Build._fields.index("contents_start"), 0], 0.0
    core = [y[2]]
    for k in range(len(course.tilt)):
        begin, end = 60.0 * course.corners[k], 60.0 * course.corners[k + 1]
        piece = np.array([begin, end, course.start[k], course.end[k], course.tilt[k], *watts])
        minutes = np.arange(begin, end + 1.0, 60.0)
        if solver == "odeint":
            rows = odeint(_rates, y, minutes, args=(columns, piece), tfirst=True, hmax=60.0, **ORDER)
        else:
            arguments = {"args": (columns, piece), "t_eval": minutes, "max_step": 60.0, **ORDER}
            rows = solve_ivp(_rates, (begin, end), y, method="LSODA", **arguments).y.T
        core.extend(rows[1:, 2])
        y = rows[-1]
    return np.array(core)


def extreme(count: int, seed: int, *, dry: bool):
    """So many extreme ovens, with the courses of their sun and their watts."""
    builds = naive.extreme_designs(count, seed)
    if dry:
        builds = builds._replace(water_mass=np.zeros(count))
    courses = [naive.broken_course([seed, 2, lane]) for lane in range(count)]
    return builds, courses, naive.full_sun(builds, seed)


def against_lsoda() -> dict[str, float]:
    """Time of six extreme hours by LSODA over ours, in a batch and one design at a time, and both errors."""
    builds, courses, watts = extreme(DESIGNS, 11, dry=True)
    lanes = [np.array([[column[n]] for column in builds]) for n in range(DESIGNS)]
    rows = [
        naive.day_of(naive.lane_of(builds, n), courses[n], watts[n], 60.0)[0][:, Node.CORE]
        for n in range(DESIGNS)
    ]
    many = [np.resize(column, LANES) for column in builds]
    sun = np.resize(watts, (LANES, 3))
    inputs = naive.inputs_of(Build(*many), [courses[n % DESIGNS] for n in range(LANES)], sun)
    ours = run(**inputs).core
    batch_time = best_of_five(lambda: run(**inputs)) / LANES
    single = [naive.inputs_of(Build(*(c[n : n + 1] for c in builds)), courses[n : n + 1], watts[n : n + 1])
              for n in range(DESIGNS)]  # fmt: skip
    scalar_time = best_of_five(lambda: [run(**one) for one in single]) / DESIGNS
    result = {"core_error": float(np.abs(ours[:DESIGNS] - rows).max())}
    for solver in ("solve_ivp", "odeint"):
        theirs = [lsoda_core(lanes[n], courses[n], watts[n], solver) for n in range(DESIGNS)]
        begin = time.thread_time()
        for n in range(DESIGNS):
            lsoda_core(lanes[n], courses[n], watts[n], solver)
        seconds = (time.thread_time() - begin) / DESIGNS
        result |= {
            f"{solver}_lsoda_core_error": float(np.abs(np.array(theirs) - rows).max()),
            f"{solver}_lsoda_over_batch": seconds / batch_time,
            f"{solver}_lsoda_over_one_at_a_time": seconds / scalar_time,
        }
    return result


def against_radau(count: int) -> dict[str, float]:
    """Worst of so many extreme ovens until they run dry: core [K], and thresholds [s]."""
    builds, courses, watts = extreme(count, 11, dry=False)
    ours = naive.marched(builds, courses, watts)
    thresholds = np.arange(318.15, 364.0, 5.0)
    worst, late, sharp = 0.0, [], []
    for n in range(count):
        b = naive.lane_of(builds, n)
        rows, turns = naive.day_of(b, courses[n], watts[n], 5.0)
        dry_at = min((when for when, phase in turns if phase == naive.DRY), default=math.inf)
        wet = np.arange(ours.core.shape[1]) * 60.0 <= dry_at
        worst = max(worst, float(np.abs(ours.core[n] - rows[::12, Node.CORE])[wet].max()))
        for threshold in thresholds:
            if b.water_mass > 0 and b.boiling_temperature <= threshold:
                continue
            exact, early, end = (
                float(first_time(rows[:, Node.CORE], step=5.0, required=threshold + shift).time)
                for shift in (0.0, -0.02, 0.02)
            )
            if 0 < exact < dry_at:
                own = float(first_time(ours.core[n], step=60.0, required=threshold).time)
                late.append(abs(own - min(max(own, early), end if end == end else math.inf)))
                if end - early < 8.0:
                    sharp.append(abs(own - exact))
    quantiles = dict(
        zip(("median", "95", "99", "worst"), np.quantile(sharp, [0.5, 0.95, 0.99, 1.0]), strict=True)
    )
    return {
        "designs": count,
        "not_finite": int((ours.status != 0).sum()),
        "core_worst_K": worst,
        "thresholds": len(late),
        "worst_beyond_0.02_K_s": max(late),
        "thresholds_not_crept_to": len(sharp),
        **{f"late_{name}_s": float(value) for name, value in quantiles.items()},
    }


if __name__ == "__main__":
    found = ordinary() | threads() | against_lsoda()
    if len(sys.argv) > 2:
        found |= against_radau(int(sys.argv[2]))
    text = json.dumps(found, indent=2)
    print(text)
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text + "\n", "utf-8")
