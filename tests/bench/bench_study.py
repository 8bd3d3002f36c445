"""A twelve-factor Sobol study on one design: where its time goes, and the indices it found.

Run: python tests/bench/bench_study.py [base samples]. Thread CPU time on one worker, scaled to 8192 base samples
(114 688 designs) on two cores; then two workers by the clock, which means something on an idle machine alone. One day
of 391 minutes per design, 16 rays a minute.
"""

import resource
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from noonhearth.model import heat, simulate
from noonhearth.studies import setting as settings
from noonhearth.studies.asking.varying import read_varies, space_round
from noonhearth.studies.config import load
from noonhearth.studies.judging.evaluate import OvenEvaluator, outputs_of
from noonhearth.studies.methods.sensitivity import sobol

ROOT = Path(__file__).parents[2]
FACTORS = {
    "facet_angle": {"within": "3 deg"},
    "soiling": ["0 %", "20 %"],
    "slope_error": ["1 mrad", "15 mrad"],
    "azimuth_every": ["10 min", "60 min"],
    "azimuth_bias": ["-3 deg", "3 deg"],
    "elevation_bias": ["-3 deg", "3 deg"],
    "insulation_thickness": ["20 mm", "90 mm"],
    "leak_area": ["0.5 cm2", "10 cm2"],
    "wind_share": ["20 %", "150 %"],
    "food_mass": ["0.4 kg", "0.8 kg"],
    "skin_thickness": ["3 mm", "12 mm"],
    "lid_gap": ["0.05 cm2", "2 cm2"],
}


class Timed:
    """A function that adds up its thread CPU time."""

    def __init__(self, function: Any) -> None:
        self.function, self.seconds = function, 0.0

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        start = time.thread_time()
        try:
            return self.function(*args, **kwargs)
        finally:
            self.seconds += time.thread_time() - start


def main() -> None:
    base_samples = int(sys.argv[1]) if len(sys.argv) > 1 else 64
    plan = load(ROOT / "tests/oven.toml")
    sky = plan.setting.sky
    one_day = type(sky)(**{**vars(sky), **_last_day(sky)})
    setting = replace(plan.setting, sky=one_day)
    varies = read_varies(FACTORS, setting.design.factors, setting.catalogue.names())
    space = space_round(varies, setting.design)
    names = ("time_to_safe", "plateau_temperature", "light_to_pot")
    evaluator = OvenEvaluator(setting, names)
    simulate(setting.design, one_day, rays=4)  # compiled before anything is timed

    light, warmth = Timed(sys.modules["noonhearth.model.simulate"].traced), Timed(heat.run)
    model = Timed(settings.simulate)
    sys.modules["noonhearth.model.simulate"].traced = light  # type: ignore[attr-defined]
    heat.run = warmth  # type: ignore[assignment]
    settings.simulate = model  # type: ignore[assignment]
    start = time.thread_time()
    found = sobol(
        space, evaluator, outputs=outputs_of(names, ""), base_samples=base_samples, seed=1, chunk_rows=512
    )
    total = time.thread_time() - start

    rows = base_samples * (space.size + 2)
    print(f"{rows} designs: {total:.1f} s = light {light.seconds:.1f}, heat {warmth.seconds:.2f}, "
          f"rest of the model {model.seconds - light.seconds - warmth.seconds:.1f}, "
          f"study {total - model.seconds:.2f}")  # fmt: skip
    whole = 8192 * (space.size + 2)
    print(f"{1e3 * total / rows:.2f} ms a design; {whole} on two cores: about {whole * total / rows / 2:.0f} s, "
          f"heat {whole * warmth.seconds / rows / 2:.1f} s")  # fmt: skip
    how: dict[str, Any] = {"outputs": outputs_of(names, ""), "base_samples": base_samples, "seed": 1}
    begin = time.perf_counter()
    again = sobol(space, evaluator, **how, chunk_rows=512, workers=2)
    clock = time.perf_counter() - begin
    assert again.equals(found)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20  # kB on Linux
    print(f"two workers: {clock:.1f} s, {total / clock:.2f} times one; {whole} designs: "
          f"{whole * clock / rows:.0f} s; {peak:.2f} GiB at most")  # fmt: skip
    last = found.isel(base_samples=-1)
    for name in names:
        indices = dict(
            zip(last["factor"].values, last["total"].sel(output=name).values.round(3), strict=True)
        )
        print(name, {key: float(value) for key, value in indices.items()})


def _last_day(sky: Any) -> dict[str, Any]:
    """The last day alone, with its own course of the sun."""
    cut = {name: value[-1:] for name, value in vars(sky).items() if isinstance(value, np.ndarray)}
    evening = type(sky.evening)(*(column[-1:] for column in sky.evening))
    return cut | {"day_path": np.zeros(1, np.int64), "day_label": sky.day_label[-1:], "evening": evening}


if __name__ == "__main__":
    main()
