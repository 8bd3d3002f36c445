"""Speed of the model of a measured cook, with the answers it gave: python tests/bench/bench_cooks.py [result.json].

Thread CPU time, best of five, of a cook of four hours with a reading a minute and five thermometers. Rows that differ
in what light cannot see are the fit's own calls; new mirrors are traced anew, sixteen rays a minute. Beside the
times: the food after half an hour as the model has it, and how far it goes with each ratio. Ratios travel between
machines better than times do.
"""

import datetime
import json
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from noonhearth.model import Air, CookModel, CookRecord, Place, load_catalogue
from noonhearth.studies.config import load

MINUTES = 240
RATIOS = ("light_ratio", "loss_ratio", "coupling_ratio")


def record_of(meal) -> CookRecord:
    """A made-up clear forenoon; what the thermometers read does not matter to the times."""
    instants = 60.0 * np.arange(MINUTES + 1)
    warm = 298.0 + 70.0 * (1 - np.exp(-instants / 5000.0))
    return CookRecord(
        name="bench",
        start=datetime.datetime(2025, 1, 17, 10, tzinfo=datetime.UTC),
        time=instants,
        temperatures={sensor: warm for sensor in ("food", "pot", "plate", "air_inside", "cover")},
        air=300.0 + instants / 3600.0,
        irradiance=np.full(MINUTES + 1, 880.0),
        wind=np.full(MINUTES + 1, 1.5),
        azimuth_settings=tuple(1200.0 * np.arange(12)),
        shaded=((10_800.0, 12_600.0),),
        meal=meal,
    )


def best_of_five(work: Callable[[], object]) -> float:
    """Least time of this thread. [s]"""
    times = []
    for _ in range(5):
        begin = time.thread_time()
        work()
        times.append(time.thread_time() - begin)
    return min(times)


def yardstick() -> None:
    """Twenty million square roots, added up."""
    for _ in range(20):
        np.sqrt(np.arange(1e6)).sum()


def found() -> dict[str, float]:
    """Times and answers."""
    setting = load(Path(__file__).parents[1] / "oven.toml").setting
    place = Place(latitude=math.radians(13.5), longitude=math.radians(-1.5), altitude=320.0, timezone="UTC")
    how = {"place": place, "catalogue": load_catalogue(), "rays": 16}
    how["air"] = Air(low=291.0, high=307.0, dew_point=277.0, wind_speed=2.5)
    record = record_of(setting.design.meal)
    model = CookModel(setting.design, record, **how)
    ruler = best_of_five(yardstick)
    times = {"made_new_ms": 1e3 * best_of_five(lambda: CookModel(setting.design, record, **how))}
    draw = np.random.default_rng(1)
    for rows in (1, 4, 40, 400):
        ratios = {name: draw.uniform(0.8, 1.2, rows) for name in RATIOS}
        fabric = ratios | {"insulation_thickness": draw.uniform(0.03, 0.08, rows)}
        times[f"ratios_{rows}_rows_ms"] = 1e3 * best_of_five(lambda c=ratios: model.temperatures(c))
        times[f"fabric_{rows}_rows_ms"] = 1e3 * best_of_five(lambda c=fabric: model.temperatures(c))
    new_mirrors = (np.full(4, 0.05) + draw.uniform(0, 0.2, (5, 4))).tolist()
    times["four_new_mirrors_ms"] = 1e3 * best_of_five(
        lambda: model.temperatures({"soiling": np.array(new_mirrors.pop())})
    )
    times["ratios_400_rows_yardsticks"] = times["ratios_400_rows_ms"] / (1e3 * ruler)
    base = model.temperatures({})["food"][0, 30]
    answers = {"food_after_half_an_hour_K": float(base)}
    for name in RATIOS:
        more = model.temperatures({name: np.array([1.1])})["food"][0, 30]
        answers[f"food_with_a_tenth_more_{name}_K"] = float(more - base)
    return times | answers


if __name__ == "__main__":
    text = json.dumps(found(), indent=2)
    print(text)
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text + "\n", "utf-8")
