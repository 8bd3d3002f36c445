"""How fast light is traced, with the answers reached: `python tests/bench/bench_light.py`.

Times are of the thread's own processor time, the best of several; compare ratios, not
machines. A change that makes tracing faster and moves an answer by more than its spread
is not a speed-up.
"""

import json
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from noonhearth.model.light import (
    Optics,
    Surface,
    beam_shares,
    beam_shares_of_many,
    dome_shares,
    exchange_areas,
    funnel,
    stack,
)

sys.path.append(str(Path(__file__).parents[1] / "twins"))
from test_mesh_trace import mesh_shares

POT = [Surface.LID, Surface.SIDE, Surface.BOTTOM]
RAYS = 1 << 18
MINUTES = 480


def oven(facets: int) -> Optics:
    """The reference funnel: mirror 0.88, slope 3 mrad, one pane, pot 0.93."""
    return funnel(
        facets=facets,
        mouth=0.6,
        depth=0.3,
        facet_angle=math.radians(27.0),
        wall_reflectance=0.88,
        wall_slope_error=0.003,
        plate_reflectance=0.88,
        plate_slope_error=0.003,
        cover_panes=1,
        cover_extinction_length=0.0125,
        pot_radius=0.09,
        pot_height=0.10,
        pot_centre=0.12,
        pot_absorptance=0.93,
    )


def funnel_over_box() -> Optics:
    """Two cells, the cover at the throat."""
    return stack(
        facets=[8, 4],
        across=[(1.0, 0.45), (0.5, 0.4)],
        heights=[0.6, 0.25, 0.0],
        wall_reflectance=[0.88, 0.88],
        wall_slope_error=[0.003, 0.003],
        plate_reflectance=0.88,
        plate_slope_error=0.003,
        cover_interface=1,
        cover_index=1.526,
        cover_extinction_length=0.0125,
        cover_panes=1,
        pot_radius=0.09,
        pot_height=0.10,
        pot_centre=0.12,
        pot_absorptance=0.93,
        sun_half_angle=0.00465,
    )


def best(run: Callable[[], object], times: int = 9) -> float:
    """Least processor time of one call. [s]"""
    run()
    spent = []
    for _ in range(times):
        start = time.thread_time()
        run()
        spent.append(time.thread_time() - start)
    return min(spent)


def day() -> tuple[np.ndarray, np.ndarray]:
    """A day re-aimed every 20 minutes: to the sun, and the pot's axis, in the oven frame."""
    minute = np.arange(MINUTES)
    tilt = 0.5 + 0.35 * ((minute - 240) / 240.0) ** 2
    error = np.radians((minute % 20 - 10) * 0.25)
    suns = np.stack([np.sin(error), 0.0 * error, np.cos(error)], axis=1)
    return suns, np.stack([0.0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1)


def against_mesh(optics: Optics, tilted: list[list[float]]) -> dict[str, float]:
    """Cost of the pot's share from a mesh ray caster (trimesh and embree) over that of ours, at the same error.

    The caster is the one the twins use: plain random starts, vectorised, its rays all at once. Ours gets the
    fewest rays, doubled from 256 on, whose scatter over seeds is no larger than the caster's standard error.
    """
    axis, up = np.array([0.0, 0.0, 1.0]), np.array(tilted[0])
    mesh_shares(optics, axis, up, 1)
    start = time.process_time()  # embree may use threads of its own
    mesh, _ = mesh_shares(optics, axis, up, 2)
    mesh_seconds = time.process_time() - start
    several = [mesh_shares(optics, axis, up, seed)[0][POT].sum() for seed in range(3, 11)]
    error, rays = float(np.std([mesh[POT].sum(), *several], ddof=1)), 128
    scatter = math.inf
    while scatter > error:
        rays *= 2
        pot = [
            beam_shares(optics, to_sun=[axis], pot_up=[up], rays=rays, seed=seed)[0, POT].sum()
            for seed in range(1, 33)
        ]
        scatter = float(np.std(pot, ddof=1))
    seconds = best(lambda: beam_shares(optics, to_sun=[axis], pot_up=[up], rays=rays))
    return {
        "ratio": mesh_seconds / seconds,
        "error of the mesh": error,
        "ours": scatter,
        "rays": rays,
        "pot by the mesh": float(np.mean(several)),
        "pot by ours": float(np.mean(pot)),
    }


def year(optics: Optics) -> dict[str, float]:
    """A year of days like `day`, each with its own tilts: read from a table of angles, and traced row by row."""
    suns, ups = day()
    tilt = np.arctan2(ups[:, 1], ups[:, 2]) + 0.4 * np.sin(2 * np.pi * np.arange(365) / 365)[:, None]
    tilt = np.clip(tilt, 0.0, 1.4).ravel()
    many = {
        "to_sun": np.tile(suns, (365, 1)),
        "pot_up": np.stack([0 * tilt, np.sin(tilt), np.cos(tilt)], axis=1),
    }
    read, traced = (
        best(lambda f=f: f(optics, rays=32, **many), 3) for f in (beam_shares_of_many, beam_shares)
    )
    return {
        "ms read": 1e3 * read,
        "ms traced": 1e3 * traced,
        "ratio": traced / read,
        "pot read": float(beam_shares_of_many(optics, rays=32, **many)[:, POT].sum(axis=1).mean()),
        "pot traced": float(beam_shares(optics, rays=32, **many)[:, POT].sum(axis=1).mean()),
    }


def main() -> None:
    suns, ups = day()
    axis, tilted = [[0.0, 0.0, 1.0]], [[0.0, math.sin(0.8), math.cos(0.8)]]
    cases = {f"beam, {n} facets": (oven(n), RAYS) for n in (3, 8, 16, 24)}
    cases["beam, funnel over a glazed box"] = (funnel_over_box(), RAYS)
    results = {}
    for name, (optics, rays) in cases.items():
        seconds = best(lambda o=optics, r=rays: beam_shares(o, to_sun=axis, pot_up=tilted, rays=r))
        answer = beam_shares(optics, to_sun=axis, pot_up=tilted, rays=rays)[0]
        results[name] = {"Mrays/s": rays / seconds / 1e6, "shares": answer.round(5).tolist()}
    optics = oven(8)
    results["a day of 480 x 64 rays"] = {
        "ms": 1e3 * best(lambda: beam_shares(optics, to_sun=suns, pot_up=ups, rays=64)),
        "pot": float(beam_shares(optics, to_sun=suns, pot_up=ups, rays=64)[:, POT].sum(axis=1).mean()),
    }
    results["sky and ground, 4096 rays each"] = {
        "ms": 1e3 * best(lambda: dome_shares(optics, pot_up=tilted, rays=4096)),
        "sky": dome_shares(optics, pot_up=tilted, rays=4096)[0][0].round(5).tolist(),
    }
    grey = {"pot_emittance": 0.9, "wall_emittance": 0.05, "cover_emittance": 0.9}
    results["exchange areas, 4096 rays each"] = {
        "ms": 1e3 * best(lambda: exchange_areas(optics, pot_up=tilted, rays=4096, **grey)),
        "m2": exchange_areas(optics, pot_up=tilted, rays=4096, **grey)[0].round(6).tolist(),
    }
    results["a mesh ray caster over ours, same share, same error"] = against_mesh(optics, tilted)
    results["a year of 365 x 480 x 32 rays"] = year(optics)
    rate = {n: results[f"beam, {n} facets"]["Mrays/s"] for n in (8, 16)}
    results["cost of 16 facets over 8"] = rate[8] / rate[16]
    print(json.dumps(results, indent=2))


if __name__ == "__main__":
    main()
