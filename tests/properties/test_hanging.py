"""Where the pot hangs: gaps by plain geometry."""

import math
from pathlib import Path

import numpy as np
import pytest

from noonhearth.model import load_catalogue, pot_gap, trunnion_height
from noonhearth.studies import load

OVEN = Path(__file__).parents[1] / "oven.toml"
CATALOGUE = load_catalogue()


@pytest.mark.parametrize("degrees", [20.0, 30.0])
@pytest.mark.parametrize("lift", [0.01, 0.05])
def test_looking_straight_up_the_lower_rim_is_nearest(degrees: float, lift: float) -> None:
    """Mouth 600 mm, 300 mm deep, pot 180 by 140 mm: bottom rim to facet, bottom to plate, or lid to cover."""
    design = load(OVEN).setting.design.with_factors(facet_angle=math.radians(degrees), pot_lift=lift)
    slope = math.tan(math.radians(degrees))
    at_rim = 0.3 - (0.3 - lift) * slope  # apothem at the height of the pot's bottom
    square = (at_rim - 0.09) * math.cos(math.radians(degrees))
    under_cover = 0.3 - lift - 0.14
    gap = pot_gap(design, [math.pi / 2], catalogue=CATALOGUE)[0]
    assert gap == pytest.approx(min(square, lift, under_cover), abs=1e-9)


def test_trunnions_stand_at_the_middle_of_the_pot() -> None:
    design = load(OVEN).setting.design
    assert trunnion_height(design) == pytest.approx(0.05 + 0.14 / 2)


def test_a_leaning_funnel_comes_nearer() -> None:
    design = load(OVEN).setting.design
    gaps = pot_gap(design, np.radians([90.0, 60.0, 40.0]), catalogue=CATALOGUE)
    assert gaps[0] >= gaps[1] >= gaps[2]
