"""The compiled tracer against a naive one, corner by corner, and against itself uncompiled."""

import importlib.util
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from noonhearth.model.light import Optics, beam_shares, funnel, stack, walk

_spec = importlib.util.spec_from_file_location("naive_tracer", Path(__file__).with_name("naive_tracer.py"))
assert _spec is not None
assert _spec.loader is not None
naive = importlib.util.module_from_spec(_spec)
sys.modules["naive_tracer"] = naive
_spec.loader.exec_module(naive)

RAYS, POINTS = 64, 60


def smooth(
    facets: list[int], across: list[tuple[float, float]], heights: list[float], centre: float
) -> Optics:
    return stack(
        facets=facets,
        across=across,
        heights=heights,
        wall_reflectance=[0.98 - 0.01 * k for k in range(len(facets))],
        wall_slope_error=[0.0] * len(facets),
        plate_reflectance=0.95,
        plate_slope_error=0.0,
        cover_interface=-1,
        cover_index=1.5,
        cover_extinction_length=0.0,
        cover_panes=1,
        pot_radius=0.08,
        pot_height=0.10,
        pot_centre=centre,
        pot_absorptance=1.0,
        sun_half_angle=0.0,
    )


OVENS = {
    "octagon": smooth([8], [(0.6, 0.3)], [0.3, 0.0], 0.12),
    "triangle": smooth([3], [(0.7, 0.3)], [0.4, 0.0], 0.15),
    "24 facets, narrowing": smooth([24], [(0.4, 0.5)], [0.3, 0.0], 0.12),
    "two tiers": smooth([8, 8], [(0.9, 0.5), (0.5, 0.25)], [0.5, 0.2, 0.0], 0.12),
    "funnel over a wider box": smooth([6, 6], [(0.9, 0.4), (0.6, 0.6)], [0.6, 0.25, 0.0], 0.12),
    "octagon over a square box": smooth([8, 4], [(0.9, 0.45), (0.45, 0.45)], [0.6, 0.25, 0.0], 0.12),
    "square over a narrower octagon": smooth(
        [4, 8, 5], [(0.9, 0.6), (0.5, 0.4), (0.5, 0.5)], [0.6, 0.4, 0.25, 0.0], 0.2
    ),
}


@pytest.mark.parametrize("name", OVENS)
@pytest.mark.parametrize(("tilt", "off"), [(0.0, 0.0), (0.6, 0.15)])
def test_paths_corner_by_corner(name: str, tilt: float, off: float) -> None:
    optics = OVENS[name]
    up = np.array([math.sin(tilt) * 0.6, math.sin(tilt) * 0.8, math.cos(tilt)])
    sun = np.array([math.sin(off) * 0.28, math.sin(off) * 0.96, math.cos(off)])
    paths = walk(optics, to_sun=sun, pot_up=up, rays=RAYS, points=POINTS)
    shares = beam_shares(optics, to_sun=[sun], pot_up=[up], rays=RAYS)[0]
    taken = dict.fromkeys(("lid", "side", "bottom", "wall", "plate", "cover", "lost"), 0.0)
    for path in paths:
        corners, kept = naive.follow(optics, up, path[0], -sun)
        found = path[~np.isnan(path[:, 0])]
        shared = min(len(found), len(corners))
        assert len(found) == len(corners) or len(corners) > 12  # faint rays may end early by lot
        assert found[:shared] == pytest.approx(np.array(corners[:shared]), abs=1e-9)
        for kind, part in kept.items():
            taken[kind] += part / RAYS
    assert shares == pytest.approx(list(taken.values()), abs=1e-9)


def shares_of_a_rough_oven() -> np.ndarray:
    """A small case that meets every surface."""
    optics = funnel(
        facets=5,
        mouth=0.6,
        depth=0.3,
        facet_angle=0.45,
        wall_reflectance=0.85,
        wall_slope_error=0.01,
        plate_reflectance=0.8,
        plate_slope_error=0.02,
        cover_panes=2,
        cover_extinction_length=0.03,
        pot_radius=0.09,
        pot_height=0.1,
        pot_centre=0.12,
        pot_absorptance=0.8,
    )
    tilt = [0.0, 0.5]
    up = [[0.0, math.sin(t), math.cos(t)] for t in tilt]
    sun = [[math.sin(0.1 * t), 0.0, math.cos(0.1 * t)] for t in tilt]
    return beam_shares(optics, to_sun=sun, pot_up=up, rays=48)


def test_compiled_equals_uncompiled() -> None:
    """The same file as plain Python, in a process of its own."""
    code = (
        "import importlib.util, numpy as np\n"
        f"spec = importlib.util.spec_from_file_location('twin', {__file__!r})\n"
        "twin = importlib.util.module_from_spec(spec); spec.loader.exec_module(twin)\n"
        "with np.errstate(over='ignore', divide='ignore', invalid='ignore'):\n"
        "    print(twin.shares_of_a_rough_oven().tolist())\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert shares_of_a_rough_oven() == pytest.approx(np.array(json.loads(run.stdout)), abs=1e-12)
