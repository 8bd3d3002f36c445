"""The first run on a machine: every kernel compiled before anything is timed or shown, on two processors if it can.

numba compiles one kernel at a time, so a second process compiles heat and food while this one compiles light; they
meet in the cache on disk. Without a cache, or when it is filled, there is nothing for a second process to do.
"""

import subprocess
import sys

import numpy as np

from . import heat
from .catalogue import Catalogue
from .compiled import cache_folder
from .design import Design
from .food import HeatNeed, cook_value, time_between, time_to
from .heat import Build, Weather
from .simulate import simulate
from .sky import Sky


def prepare(design: Design, sky: Sky, *, catalogue: Catalogue) -> None:
    """Compile every kernel that a run of this design needs, or load it."""
    folder = cache_folder("heat")
    if folder is not None and not any(folder.rglob("*.nbi")):
        code = "from noonhearth.model.prepare import heat_and_food; heat_and_food()"
        with subprocess.Popen([sys.executable, "-c", code], stderr=subprocess.DEVNULL):
            simulate(design, sky, rays=4, catalogue=catalogue)
    else:
        simulate(design, sky, rays=4, catalogue=catalogue)


def heat_and_food() -> None:
    """Run the kernels of heat and food once, on a lane of ones for two steps."""
    day = np.full((1, 3), 300.0)
    build = Build(*np.ones((len(Build._fields), 1)))
    weather = Weather(day, day, 0.0 * day, 300.0 * day, np.zeros((1, 2)), 0.0 * day)
    first = np.zeros(1, np.int64)
    for record in (False, True):
        heat.run(build, weather, first, np.zeros((1, 2, 3)), lane_track=first, record=record)
    heat.plateau(
        build,
        air_temperature=300.0,
        sky_temperature=290.0,
        wind_speed=1.0,
        pressure=9e4,
        tilt=0.5,
        intake=np.zeros((1, 3)),
    )
    need = HeatNeed(
        seconds=60.0, z=10.0, reference=343.0, least_temperature=330.0, source="for compiling only"
    )
    time_to(day, step=60.0, need=need)
    cook_value(day, step=60.0)
    time_between(day, step=60.0)
