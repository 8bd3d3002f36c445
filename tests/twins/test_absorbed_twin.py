"""Watts against plain sums, with polynomials from their equations; the sunniest hour against a search of all."""

import numpy as np
import pytest
from numpy.typing import NDArray

from noonhearth.model.light import Courses, Domes, Lights, Sources, Surface, absorbed_watts, sunniest

Floats = NDArray[np.float64]

DAYS, ROWS, INSTANTS, WAYS, BEAMS = 3, 2, 7, 2, 3
DRAW = np.random.default_rng(4)
SOURCES = Sources(*DRAW.uniform(0.0, 1000.0, (3, DAYS, INSTANTS)))
HELD = np.repeat(
    DRAW.uniform(0.3, 1.4, (WAYS, ROWS, 3)), [2, 3, 2], axis=2
)  # settings that stay for some instants
COURSES = Courses(np.array([1, 0, 1]), HELD, np.sin(HELD), DRAW.uniform(0.0, 1.0, HELD.shape))
NODES = np.array([[0.3, 0.9, 1.4], [0.5, 0.0, 0.0]])
DOMES = Domes(np.array([3, 1]), NODES, *DRAW.dirichlet(np.ones(7), (2, 2, 3)))
SHARES = DRAW.dirichlet(np.ones(7), (BEAMS, ROWS, INSTANTS))
LIGHTS = Lights(
    beam=np.array([2, 0, 1, 2]),
    dome=np.array([0, 1, 0, 1]),
    way=np.array([1, 0, 0, 1]),
    area=np.array([0.2, 0.3, 0.4, 0.5]),
    beam_share=np.array([1.0, 0.8, 0.9, 1.0]),
    clear=np.array([1.0, 0.7, 1.0, 0.9]),
)
GROUPS = (("LID", "SIDE", "BOTTOM"), ("WALLS", "PLATE"), ("COVER",))


def slow_dome(shares: Floats, dome: int, elevation: float) -> Floats:
    """Shares at an elevation, by the powers of the polynomial through the nodes that are meant. float64[surface]"""
    used = int(DOMES.used[dome])
    powers = np.vander(NODES[dome, :used])
    return np.vander([elevation], used)[0] @ np.linalg.solve(powers, shares[dome, :used])


def slow_watts(light: int, day: int, instant: int, group: tuple[str, ...]) -> float:
    """What one absorber takes in at one instant. [W]"""
    row, way = COURSES.row_of_day[day], LIGHTS.way[light]
    elevation = HELD[way, row, instant]
    beam = SOURCES.beam[day, instant] * LIGHTS.beam_share[light] * COURSES.facing[way, row, instant]
    sky = SOURCES.sky[day, instant] * (1 + np.sin(elevation)) / 2
    ground = SOURCES.ground[day, instant] * (1 - np.sin(elevation)) / 2
    ends = (
        beam * SHARES[LIGHTS.beam[light], row, instant]
        + sky * slow_dome(DOMES.sky, LIGHTS.dome[light], elevation)
        + ground * slow_dome(DOMES.ground, LIGHTS.dome[light], elevation)
    )
    return float(LIGHTS.area[light] * LIGHTS.clear[light] * sum(ends[Surface[name]] for name in group))


def test_watts_of_sun_sky_and_ground() -> None:
    watts = absorbed_watts(LIGHTS, SHARES, DOMES, COURSES, SOURCES)
    assert watts.shape == (4, DAYS, INSTANTS, 3)
    for light, day, instant, k in np.ndindex(watts.shape):
        assert watts[light, day, instant, k] == pytest.approx(
            slow_watts(light, day, instant, GROUPS[k]), rel=1e-11
        )


@pytest.mark.parametrize("width", [1, 3, INSTANTS])
def test_sunniest_instants(width: int) -> None:
    watts = DRAW.uniform(0.0, 500.0, (5, DAYS, INSTANTS, 3))
    watts[4, 1:] = watts[4, 0]  # of days that are alike the first
    day, start, mean = sunniest(watts, width)
    for light in range(5):
        means = {
            (d, s): watts[light, d, s : s + width].mean(axis=0)
            for d in range(DAYS)
            for s in range(INSTANTS + 1 - width)
        }
        best = max(means, key=lambda place: means[place][0])
        assert (day[light], start[light]) == best
        assert mean[light] == pytest.approx(means[best])
