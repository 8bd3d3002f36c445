"""Speed of the heat march, with the answers it gave: python tests/bench/bench_heat.py [result.json].

Thread CPU time, best of five, of ten-hour days at one-minute steps. The answers are stored beside
the times, so that a faster version that cooks differently shows. Ratios to a fixed piece of
arithmetic travel between machines better than times do.
"""

import json
import sys
import time

import numpy as np

from noonhearth.model.heat import Build, Weather, run

LANES, STEPS = 1024, 600


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


def best_of_five(work) -> float:
    """Least CPU time of this thread. [s]"""
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


def measure() -> dict[str, float]:
    """Times, ratios and answers."""
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


if __name__ == "__main__":
    found = json.dumps(measure(), indent=2)
    print(found)
    if len(sys.argv) > 1:
        with open(sys.argv[1], "w", encoding="utf-8") as file:
            file.write(found + "\n")
