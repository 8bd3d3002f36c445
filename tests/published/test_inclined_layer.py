"""Air layers between panes.

Hollands, Unny, Raithby and Konicek, J. Heat Transfer 98 (1976) 189: the equation evaluated in
double precision at round numbers. Duffie and Beckman, "Solar Engineering of Thermal Processes",
3rd edition, example 3.11.1 (statement and book values from memory). Hollands, Int. J. Heat Mass
Transfer 27 (1984) 466, another correlation, for level layers only, through the ht library.
"""

import math

import ht
import pytest

from noonhearth.model.heat.convection import (
    HOLLANDS_STEEPEST,
    nusselt_inclined_layer_hollands,
    nusselt_layer_hollands,
    rayleigh,
)

HOLLANDS = "Hollands, Unny, Raithby and Konicek, J. Heat Transfer 98 (1976) 189"
BOOK = "Duffie and Beckman, Solar Engineering of Thermal Processes, 3rd ed., example 3.11.1 (from memory)"

TABLE = {  # Ra: Nu at 0, 20, 45 and 60 degrees
    1_000: ("1", "1", "1", "1"),
    2_000: ("1.2102", "1.0803", "1", "1"),
    5_000: ("1.9481", "1.7742", "1.3918", "1.1686"),
    10_000: ("2.3911", "2.2592", "1.9000", "1.6492"),
    100_000: ("3.9944", "3.9289", "3.6695", "3.3939"),
}


@pytest.mark.parametrize("Ra", TABLE)
@pytest.mark.parametrize(("column", "tilt"), list(enumerate((0, 20, 45, 60))))
def test_equation_at_round_numbers(Ra, column, tilt, published):
    """Both clipped brackets and the one that is not."""
    Nu = nusselt_inclined_layer_hollands(rayleigh=float(Ra), tilt=math.radians(tilt))
    what = f"Nusselt number of an air layer, Ra {Ra}, tilt {tilt} deg [1]"
    published(HOLLANDS, what, TABLE[Ra][column], Nu, within=5.1e-5, kind="worked")


@pytest.mark.parametrize("Ra", [2e3, 5e3, 1e4, 1e5])
def test_level_layer_against_the_later_correlation(Ra):
    """The 1984 correlation for all Prandtl numbers agrees within 1.5 % for air."""
    Nu = nusselt_inclined_layer_hollands(rayleigh=Ra, tilt=0.0)
    assert Nu == pytest.approx(ht.Nu_Nusselt_Rayleigh_Hollands(Pr=0.7, Gr=Ra / 0.7), rel=0.015)


def test_duffie_beckman_3_11_1(published):
    """Plates 25 mm apart at 45 degrees, 70 and 50 degC: Nu 2.4, 2.78 W/(m2 K)."""
    buoyancy = 9.81 / 333.0 / (1.88e-5 * 2.69e-5)
    Ra = rayleigh(buoyancy=buoyancy, difference=20.0, length=0.025)
    Nu = nusselt_inclined_layer_hollands(rayleigh=Ra, tilt=math.radians(45))
    assert Ra == pytest.approx(18_204, rel=1e-3)
    published(BOOK, "Nusselt number between plates at 45 deg [1]", "2.4", Nu)
    published(BOOK, "film between plates at 45 deg [W/(m2 K)]", "2.78", Nu * 0.029 / 0.025, rel=0.01)


def test_layer_at_rest():
    """Heated from above, or too thin to stir: conduction alone."""
    assert nusselt_layer_hollands(rayleigh_across=0.0, obliquity=0.5) == 1.0
    assert nusselt_layer_hollands(rayleigh_across=1708.0, obliquity=0.0) == 1.0


def test_steepest_tilt_is_where_the_law_ends():
    """Extended use to 75 degrees."""
    assert math.degrees(HOLLANDS_STEEPEST) == pytest.approx(75.0)
