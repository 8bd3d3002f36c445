"""A Sobol study here, and by the route one would write from libraries: python tests/bench/bench_route.py [designs].

The route: SALib's sample; each design alone; its beam traced through a triangle mesh (trimesh with embree, the caster
of the twins) at every quarter of an hour with as many rays a day as give the same error of the daily mean, and drawn
straight between; then scipy's solve_ivp with LSODA, steps of a minute at most, on a compiled balance of eleven
equations; then SALib's indices. Ours does the same study of the same sky. Both have no light from sky and ground, and
the route is given the long-wave exchange, the clearance and the bill for nothing. Process CPU time of both in one run,
one worker; the answers of the same designs stand beside, and differ by what a re-aiming between two quarters moves.
"""

import importlib.util
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
from numba import njit
from SALib.analyze import sobol as salib_indices
from SALib.sample import sobol as salib_sample
from scipy.integrate import solve_ivp

from noonhearth.model import simulate
from noonhearth.model.heat import Build
from noonhearth.model.heat.workspace import build_at
from noonhearth.model.light import Surface
from noonhearth.model.pack import optics_of_design
from noonhearth.model.sunlight import aimed
from noonhearth.studies.asking.varying import read_varies, space_round
from noonhearth.studies.config import load
from noonhearth.studies.judging.evaluate import OvenEvaluator, outputs_of
from noonhearth.studies.methods.sensitivity import sobol

ROOT = Path(__file__).parents[2]
FACTORS = {
    "facet_angle": {"within": "3 deg"},
    "soiling": ["0 %", "20 %"],
    "slope_error": ["1 mrad", "15 mrad"],
    "insulation_thickness": ["20 mm", "90 mm"],
    "wind_share": ["20 %", "150 %"],
    "food_mass": ["0.4 kg", "0.6 kg"],
}
OUTPUTS = ("peak_temperature", "light_to_pot")
BASES = 256  # of our study: 2048 designs
QUARTER = 15  # minutes between the mesh's traces
RAYS = 2200  # at each: some 60 000 a day, plain random, for 0.3 % of the daily mean; ours takes 16 a minute
ORDER = {"method": "LSODA", "max_step": 60.0, "rtol": 1e-4, "atol": 1e-4}


def twin(name: str) -> ModuleType:
    """A module of tests/twins."""
    path = ROOT / "tests/twins" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


naive, mesh = twin("naive_oven"), twin("test_mesh_trace")


@njit
def rates(time, y, columns, minutes, felt):
    """Right-hand side of a dry oven; what it feels is drawn straight between instants."""
    place = min(time / 60.0, minutes - 1e-9)
    k = int(place)
    now = felt[k] + (felt[k + 1] - felt[k]) * (place - k)
    here = naive.Now(now[0], now[1], now[2], now[3], now[4], now[5], now[6], now[7], now[8])
    return naive.rates(y, naive.DRY, build_at(columns, 0), here)


class Route:
    """One design at a time, by a mesh ray caster and an adaptive solver."""

    def __init__(self, setting) -> None:
        self.setting, self.builds = setting, []
        module = sys.modules["noonhearth.model.simulate"]
        self.real = module.build_of

    def build_of(self, *args, **kwargs) -> Build:
        """What the heat balance gets, noted: the route is given it for nothing."""
        self.builds.append(self.real(*args, **kwargs))
        return self.builds[-1]

    def given(self, design) -> Build:
        """Areas, capacities and conductances of one design."""
        module = sys.modules["noonhearth.model.simulate"]
        module.build_of = self.build_of
        simulate(design, self.setting.sky, rays=4, evening=False, catalogue=self.setting.catalogue)
        module.build_of = self.real
        return self.builds[-1]

    def answers(self, design, build: Build, seed: int) -> tuple[float, float]:
        """Hottest contents [K] and the pot's share of the beam, mean of the instants."""
        sky, optics = self.setting.sky, optics_of_design(design, self.setting.catalogue)
        way = aimed(design.aiming, sky)
        last = sky.steps
        stops = np.append(np.arange(0, last, QUARTER), last)
        shares = np.array(
            [mesh.mesh_shares(optics, way.to_sun[0, k], way.up[0, k], seed + k)[0] for k in stops]
        )
        minutes = np.arange(last + 1)
        groups = np.array([np.interp(minutes, stops, column) for column in (shares @ GROUPS).T])
        area = mouth(optics)
        sun = sky.dni[0] * design.value("beam_share") * np.maximum(way.to_sun[0, :, 2], 0.0)
        watts = area * sun * groups
        tilt = np.pi / 2 - way.aim.elevation[0]
        wind = design.value("wind_share") * sky.wind_speed[0]
        vapour = np.zeros(last + 1)
        felt = np.column_stack(
            [sky.air_temperature[0], sky.sky_temperature[0], wind, sky.pressure[0], vapour, tilt, *watts]
        )
        columns = np.array([[float(column[0])] for column in build])
        y = np.full(11, sky.air_temperature[0, 0])
        y[:3], y[10] = columns[Build._fields.index("contents_start"), 0], 0.0
        end = 60.0 * last
        found = solve_ivp(
            rates, (0.0, end), y, t_eval=60.0 * minutes, args=(columns, float(last), felt), **ORDER
        )
        return float(found.y[2].max()), float(np.average(shares[:, POT].sum(axis=1)))


POT, SHEET = [Surface.LID, Surface.SIDE, Surface.BOTTOM], [Surface.WALLS, Surface.PLATE]
GROUPS = np.array([[one in part for part in (POT, SHEET, [Surface.COVER])] for one in Surface], float)


def mouth(optics) -> float:
    """Area of a regular polygon from the width across its flats. [m2]"""
    count, across = int(optics.facet_count[0]), float(optics.top_across[0])
    return float(count / 4 * across**2 * np.tan(np.pi / count))


def main() -> None:
    """Time both, print both."""
    designs = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    setting = load(ROOT / "tests/oven.toml").setting
    setting = replace(setting, sky=one_clear_day(setting.sky), rays=16)
    oil = setting.design.with_factors(food="vegetable-oil", food_mass=0.5)
    setting = replace(setting, design=oil)
    varies = read_varies(FACTORS, oil.factors, setting.catalogue.names())
    space = space_round(varies, oil)
    mesh.RAYS = RAYS

    evaluator = OvenEvaluator(setting, OUTPUTS)
    sobol(space, evaluator, outputs=outputs_of(OUTPUTS, ""), base_samples=16, seed=1)  # compiled
    start = time.process_time()
    sobol(space, evaluator, outputs=outputs_of(OUTPUTS, ""), base_samples=BASES, seed=1, chunk_rows=512)
    ours = (time.process_time() - start) / (BASES * (space.size + 2))

    route = Route(setting)
    problem = {"num_vars": space.size, "names": list(space.names), "bounds": [[0, 1]] * space.size}
    start = time.process_time()
    units = salib_sample.sample(problem, BASES, calc_second_order=False, seed=1)
    salib_indices.analyze(problem, np.arange(len(units)) % 7.0, calc_second_order=False, seed=1)
    around = (time.process_time() - start) / len(units)
    columns = space.from_unit(units[:designs])
    rows = [oil.with_factors(**row) for row in space.rows(columns)]
    builds = [route.given(row) for row in rows]
    route.answers(rows[0], builds[0], 1)  # compiled
    start = time.process_time()
    theirs = [route.answers(row, build, 1000) for row, build in zip(rows, builds, strict=True)]
    each = (time.process_time() - start) / designs + around

    outcomes = evaluator(columns)
    print(f"ours {1e3 * ours:.3g} ms a design, the route {1e3 * each:.4g} ms: {each / ours:.0f} times")
    for k, (peak, share) in enumerate(theirs):
        print(
            f"design {k + 1}: hottest {outcomes.values['peak_temperature'][k] - 273.15:.2f} degC, by the route "
            f"{peak - 273.15:.2f}; pot's share {outcomes.values['light_to_pot'][k]:.4f}, by the route {share:.4f}"
        )


def one_clear_day(sky):
    """The last day alone, with its own course of the sun, and no light but the beam."""
    cut = {name: value[-1:] for name, value in vars(sky).items() if isinstance(value, np.ndarray)}
    evening = type(sky.evening)(*(column[-1:] for column in sky.evening))
    cut |= {"dhi": 0.0 * cut["dhi"], "ghi": 0.0 * cut["ghi"]}
    cut |= {"day_path": np.zeros(1, np.int64), "day_label": sky.day_label[-1:], "evening": evening}
    return type(sky)(**{**vars(sky), **cut})


if __name__ == "__main__":
    main()
