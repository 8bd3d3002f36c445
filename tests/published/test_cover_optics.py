"""Fresnel and Duffie-Beckman optics of clear panes.

Sources: Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed., 2013,
sections 5.1 to 5.3. The tables below are those formulas for common panes, evaluated
apart from this project and printed to the digits shown; the worked examples are the
book's, quoted from memory and therefore never alone. The pile of plates is summed ray
by ray here.
"""

import math
from typing import Any

import numpy as np
import pytest

from noonhearth.model.light.cover import (
    cosine_refracted,
    cover_shares,
    cover_table,
    reflectance_interface_fresnel,
)
from noonhearth.model.light.trace import clear_cover

BOOK = "Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed. (2013)"


def digits(printed: str) -> float:
    """Half a unit of the last printed digit, and a hair for a tie."""
    return 0.5001 * 10.0 ** -len(printed.partition(".")[2])


# index, angle: refracted angle, r perpendicular, r parallel, r, tau of one and of two sheets
INTERFACES = """
1.526  0   0      0.04336 0.04336 0.04336 0.9169 0.8465
1.526 30  19.126  0.06224 0.02764 0.04494 0.9145 0.8441
1.526 60  34.577  0.18548 0.00145 0.09346 0.8421 0.7588
1.526 75  39.270  0.41034 0.10521 0.25777 0.6139 0.4722
1.491  0   0      0.03885 0.03885 0.03885 0.9252 0.8608
1.491 30  19.594  0.05627 0.02444 0.04036 0.9229 0.8582
1.491 60  35.509  0.17345 0.00193 0.08769 0.8503 0.7680
1.491 75  40.379  0.39543 0.10726 0.25135 0.6197 0.4760
1.586  0   0      0.05135 0.05135 0.05135 0.9023 0.8220
1.586 60  33.096  0.20535 0.00075 0.10305 0.8289 0.7444
1.64   0   0      0.05877 0.05877 0.05877 0.8890 0.8002
1.64  60  31.875  0.22246 0.00031 0.11138 0.8177 0.7326
"""


@pytest.mark.parametrize("row", INTERFACES.strip().splitlines())
def test_clear_panes_without_absorption(row: str, published: Any) -> None:
    index, angle, refracted, perpendicular, parallel, mean, one, two = row.split()
    cosine = math.cos(math.radians(float(angle)))
    n = float(index)
    r = reflectance_interface_fresnel(cosine, index=n)
    inside = math.degrees(math.acos(min(float(cosine_refracted(cosine, index=n)), 1.0)))
    assert inside == pytest.approx(float(refracted), abs=digits("0.000"))
    assert r[0] == pytest.approx(float(perpendicular), abs=digits(perpendicular))
    assert r[1] == pytest.approx(float(parallel), abs=digits(parallel))
    assert 0.5 * (r[0] + r[1]) == pytest.approx(float(mean), abs=digits(mean))
    for panes, printed in ((1, one), (2, two)):
        through, back, kept = cover_shares(cosine, index=n, extinction_length=0.0, panes=panes)
        what = f"transmittance of {panes} clear pane(s), n = {index}, at {angle} deg [1]"
        published(f"{BOOK}, eq. 5.1.1 to 5.1.8", what, printed, through, kind="worked")
        assert through + back == pytest.approx(1.0, abs=1e-12)
        assert kept < 1e-12


# extinction times thickness: tau/rho/alpha at 0, 30, 60 and 75 degrees, n = 1.526
PANES = """
0.0125 .9054/.0821/.0124 .9024/.0844/.0131 .8290/.1559/.0150 .6026/.3815/.0159
0.0370 .8835/.0803/.0363 .8792/.0824/.0383 .8041/.1522/.0437 .5812/.3730/.0458
0.0524 .8699/.0792/.0509 .8650/.0812/.0538 .7888/.1500/.0612 .5683/.3680/.0638
0.016  .9023/.0819/.0159 .8991/.0841/.0168 .8254/.1554/.0192 .5995/.3803/.0203
0.128  .8064/.0741/.1195 .7982/.0758/.1259 .7181/.1402/.1417 .5097/.3466/.1437
"""


@pytest.mark.parametrize("row", PANES.strip().splitlines())
def test_absorbing_panes(row: str) -> None:
    extinction_length, *columns = row.split()
    for angle, printed in zip((0, 30, 60, 75), columns, strict=True):
        found = cover_shares(
            math.cos(math.radians(angle)), index=1.526, extinction_length=float(extinction_length)
        )
        for value, text in zip(found, printed.split("/"), strict=True):
            assert value == pytest.approx(float(text), abs=digits(text)), (angle, text)


# Duffie and Beckman, examples 5.1.1, 5.1.2 and 5.2.1 (from memory; confirmed by the tables above)
def test_worked_examples_of_the_book(published: Any) -> None:
    def surface(angle: float) -> float:
        r = reflectance_interface_fresnel(math.cos(math.radians(angle)), index=1.526)
        return float(0.5 * (r[0] + r[1]))

    first = f"{BOOK}, example 5.1.1 (from memory)"
    published(first, "reflectance of a glass surface, 0 deg [1]", "0.0434", surface(0.0))
    published(first, "reflectance of a glass surface, 60 deg [1]", "0.093", surface(60.0))
    for angle, printed in ((0.0, "0.85"), (60.0, "0.76")):
        two = cover_shares(math.cos(math.radians(angle)), index=1.526, extinction_length=0.0, panes=2)
        where = f"{BOOK}, example 5.1.2 (from memory)"
        published(where, f"transmittance of two clear panes, {angle:.0f} deg [1]", printed, two[0])
    pane = cover_shares(0.5, index=1.526, extinction_length=0.0023 * 32.0)
    names = ("transmittance", "reflectance", "absorptance")
    for name, value, printed in zip(names, pane, ("0.768266", "0.147045", "0.084689"), strict=True):
        where = f"{BOOK}, example 5.2.1"
        published(where, f"{name} of a pane, KL 0.0736, 60 deg [1]", printed, value, kind="worked")


@pytest.mark.parametrize(("index", "degrees"), [(1.526, "56.763"), (1.491, "56.151"), (1.586, "57.768")])
def test_brewster_angle_sends_no_parallel_light_back(index: float, degrees: str) -> None:
    """Brewster's law, tan(angle) = n."""
    cosine = math.cos(math.atan(index))
    assert math.degrees(math.atan(index)) == pytest.approx(float(degrees), abs=digits(degrees))
    assert reflectance_interface_fresnel(cosine, index=index)[1] < 1e-25


def pile_followed_by_hand(surface: float, internal: float, panes: int) -> tuple[float, float]:
    """Light through and back from a pile of panes: powers on the 2 * panes surfaces iterated to rest."""
    surfaces = 2 * panes
    down, up = np.zeros(surfaces + 1), np.zeros(surfaces + 1)  # in the gap before each surface
    for _ in range(400):
        new_down, new_up = np.zeros_like(down), np.zeros_like(up)
        new_down[0] = 1.0
        for k in range(surfaces):
            bulk_after = internal if k % 2 == 0 else 1.0
            bulk_before = 1.0 if k % 2 == 0 else internal
            new_down[k + 1] += ((1.0 - surface) * down[k] + surface * up[k + 1]) * bulk_after
            new_up[k] += (surface * down[k] + (1.0 - surface) * up[k + 1]) * bulk_before
        down, up = new_down, new_up
    return float(down[surfaces]), float(up[0])


@pytest.mark.parametrize("panes", [1, 2])
@pytest.mark.parametrize("cosine", [1.0, 0.6, 0.2])
def test_pile_of_plates_summed_ray_by_ray(panes: int, cosine: float) -> None:
    """Stokes (1862): the closed form against the powers on every surface iterated to rest."""
    internal = math.exp(-0.05 / float(cosine_refracted(cosine, index=1.491)))
    by_hand = [
        pile_followed_by_hand(float(r), internal, panes)
        for r in reflectance_interface_fresnel(cosine, index=1.491)
    ]
    through, back, kept = cover_shares(cosine, index=1.491, extinction_length=0.05, panes=panes)
    assert through == pytest.approx(np.mean([t for t, _ in by_hand]), abs=1e-10)
    assert back == pytest.approx(np.mean([b for _, b in by_hand]), abs=1e-10)
    assert kept == pytest.approx(1.0 - through - back, abs=1e-12)


def test_two_sheets_are_not_the_square_of_one() -> None:
    one = cover_shares(0.5, index=1.526, extinction_length=0.0)[0]
    two = cover_shares(0.5, index=1.526, extinction_length=0.0, panes=2)[0]
    assert two - one**2 > 0.02


def test_each_input_alone_moves_the_cover() -> None:
    """Extinction and thickness act only as a product, so it is the product that is asked for."""
    base = {"index": 1.526, "extinction_length": 0.02, "panes": 1}
    kept = cover_shares(0.8, **base)
    for name, other in (("index", 1.6), ("extinction_length", 0.03), ("panes", 2)):
        changed = cover_shares(0.8, **{**base, name: other})
        assert changed[0] < kept[0]
        assert abs(changed[2] - kept[2]) > 1e-4


@pytest.mark.parametrize(("index", "panes"), [(1.35, 1), (1.526, 2), (1.7, 2)])
def test_table_reads_like_the_formula(index: float, panes: int) -> None:
    table = cover_table(index=index, extinction_length=0.03, panes=panes)
    cosines = np.linspace(0.0, 1.0, 3001)
    read = np.array([clear_cover(table, c) for c in cosines])
    exact = cover_shares(cosines, index=index, extinction_length=0.03, panes=panes)
    assert np.abs(read[:, 0] - exact[0]).max() < 1e-4
    assert np.abs(read[:, 1] - exact[1]).max() < 1e-4


def test_grazing_light_is_sent_back() -> None:
    through, back, kept = cover_shares(0.0, index=1.526, extinction_length=0.02)
    assert back > 1.0 - 1e-6
    assert through < 1e-6
    assert 0.0 <= kept < 1e-6
