"""What running a study costs beside the model, and what the model itself costs: the figures of `docs/many-machines.md`.

Run: python tests/bench/bench_running.py [overhead | million | days]. `overhead`: a made-up evaluator that takes 1 ms a
design, one worker; the share of its CPU time that asking, packing, looking up and storing add. `million`: a million
designs through the log on disk, with a made-up evaluator that takes no time. `days`: the model on one worker, in ms of
thread CPU time a design-day, for designs that all differ in their light and for designs that share it.
"""

import dataclasses
import datetime
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cloudpickle
import numpy as np

from noonhearth.model import Air, clearness_sky
from noonhearth.studies.config import load
from noonhearth.studies.judging.evaluate import OvenEvaluator
from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods import sensitivity
from noonhearth.studies.methods.search import search
from noonhearth.studies.methods.sensitivity import morris, sobol
from noonhearth.studies.methods.trials import Goal
from noonhearth.studies.running.evaluations import EvaluationLog, evaluate_rows

ROOT = Path(__file__).parents[2]
SPACE = Space(
    (
        *(Parameter(name=f"x{n}", kind="real", low=0.0, high=1.0, meaning="real") for n in range(10)),
        Parameter(name="n", kind="integer", low=3, high=24, meaning="number"),
        Parameter(name="word", kind="choice", choices=("a", "b", "c"), meaning="word"),
    )
)
NAMES = ("f", "g", "h")


class Model:
    """A made-up model that takes a given time a design, and adds up the time spent in it."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.inside = 0.0
        self.rows = 0

    def __call__(self, columns: Columns) -> Outcomes:
        start = time.process_time()
        rows = row_count(columns)
        x = columns["x0"]
        values = {"f": x, "g": 1.0 - np.sqrt(x) + columns["x1"], "h": columns["x2"] + x}
        while time.process_time() - start < self.seconds * rows:
            pass
        self.rows += rows
        self.inside += time.process_time() - start
        return Outcomes(values=values, status=np.zeros(rows, np.int64), margins={})


class Timed:
    """A function that adds up its CPU time."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.function, self.seconds = function, 0.0

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        start = time.process_time()
        try:
            return self.function(*args, **kwargs)
        finally:
            self.seconds += time.process_time() - start


def beside(text: str, study: Callable[[Model, EvaluationLog], object], analysis: Timed | None = None) -> None:
    """Print what a study adds to 1 ms a design; the analysis at its end is told apart."""
    before = analysis.seconds if analysis else 0.0
    with tempfile.TemporaryDirectory() as folder:
        model = Model(1e-3)
        log = EvaluationLog(SPACE, values=NAMES, margins=[], key="k", folder=Path(folder))
        start = time.process_time()
        study(model, log)
        total = time.process_time() - start
    after = analysis.seconds - before if analysis else 0.0
    added = 1e3 * (total - model.inside - after) / model.rows
    end = f"; analysis {after:.2f} s" if analysis else ""
    print(f"{text:34} {model.rows:6} designs: {added:.3f} ms each beside 1 ms, {100 * added:.1f} %{end}")


def overhead() -> None:
    """The share that running a study adds."""
    outputs = [Output(name=name, unit="1", meaning=name) for name in NAMES]
    goals = [Goal(name=name, unit="1", meaning=name, direction="minimize") for name in NAMES]
    ends = Timed(sensitivity.sobol_analysed), Timed(sensitivity.morris_analysed)
    sensitivity.sobol_analysed, sensitivity.morris_analysed = ends  # type: ignore[assignment]
    sobol(
        SPACE, Model(0.0), outputs=outputs, base_samples=16, seed=1
    )  # everything imported before it is timed
    for goal_count in (1, 2, 3):
        beside(
            f"search, {goal_count} goals, populations of 48",
            lambda model, log, k=goal_count: search(  # type: ignore[misc]
                SPACE, model, goals=goals[:k], also=outputs[k:], trials=1440, population=48, chunk_rows=24,
                seed=1, log=log,
            ),
        )  # fmt: skip
    beside(
        "Sobol, 12 factors",
        lambda model, log: sobol(SPACE, model, outputs=outputs, base_samples=256, seed=1, log=log),
        ends[0],
    )
    beside(
        "Morris, 12 factors",
        lambda model, log: morris(SPACE, model, outputs=outputs, trajectories=256, seed=1, log=log),
        ends[1],
    )


def million() -> None:
    """A million designs of no model time: what each costs to look up, store and write."""
    columns = SPACE.from_unit(np.random.default_rng(1).random((1_000_000, SPACE.size)))
    with tempfile.TemporaryDirectory() as folder:
        log = EvaluationLog(SPACE, values=NAMES, margins=[], key="k", folder=Path(folder))
        start = time.perf_counter()
        evaluate_rows(
            Model(0.0), columns, values=NAMES, margins=[], workers=1, chunk_rows=512, log=log
        )  # fmt: skip
        first = time.perf_counter() - start
        files = list(Path(folder).iterdir())
        size = sum(file.stat().st_size for file in files)
        start = time.perf_counter()
        log = EvaluationLog(SPACE, values=NAMES, margins=[], key="k", folder=Path(folder))
        again = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(
        f"1 000 000 designs: {first:.1f} s ({1e3 * first / 1e6:.4f} ms each), {len(files)} files of "
        f"{size / 1e6:.0f} MB; read back in {again:.1f} s; peak {peak:.2f} GiB"
    )


def days() -> None:
    """Rates of the model itself on one worker, for a year of twelve days, each with a course of the sun of its own."""
    setting = load(ROOT / "tests/oven.toml").setting
    air = Air(low=291.15, high=307.15, dew_point=277.15, wind_speed=2.5)
    year = clearness_sky(
        setting.sky.place, start=datetime.time(9, 30), stop=datetime.time(16), air=air,
        months=range(1, 13), clearness=[0.6] * 12, days_per_month=1,
    )  # fmt: skip
    rng = np.random.default_rng(3)
    count = 256
    warm = {
        "insulation_thickness": rng.uniform(0.02, 0.09, count),
        "wind_share": rng.uniform(0.3, 1.2, count),
    }
    lit = warm | {"facet_angle": rng.uniform(0.45, 0.6, count), "depth": rng.uniform(0.25, 0.35, count)}
    for label, columns in (("each with light of its own", lit), ("all of one light", warm)):
        evaluator = OvenEvaluator(
            dataclasses.replace(setting, sky=year), ("time_to_done", "peak_temperature")
        )
        evaluator({name: column[:8] for name, column in columns.items()})  # compiled before anything is timed
        start = time.thread_time()
        evaluator(columns)
        spent = time.thread_time() - start
        print(
            f"{count} designs, {label}, 12 days of {year.steps} minutes, {setting.rays} rays a minute: "
            f"{1e3 * spent / (count * year.days):.3f} ms a design-day"
        )
    size = len(cloudpickle.dumps(evaluator))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**10
    print(
        f"what travels to the workers once a study: {size / 1e6:.2f} MB; memory of a worker: {peak:.0f} MiB"
    )


def main(parts: list[str]) -> None:
    """Run the parts asked for, or all."""
    known: dict[str, Callable[[], Any]] = {"overhead": overhead, "million": million, "days": days}
    for part in parts or known:
        known[part]()


if __name__ == "__main__":
    main(sys.argv[1:])
