"""Loss of a hot plate through its glass covers: films and layers put together as a solar collector.

Duffie and Beckman, "Solar Engineering of Thermal Processes", example 6.4.1 (from memory) and
Klein's empirical formula, equation 6.4.9 (Klein 1979), stated good to 0.3 W/(m2 K) between
ambient and 200 degC. The assembly below is the test's; every film in it is the package's.
"""

import math

import pytest
from scipy.optimize import brentq, fsolve

from noonhearth.model.heat import air
from noonhearth.model.heat.convection import nusselt_inclined_layer_hollands, rayleigh
from noonhearth.model.heat.radiation import emittance_between_plates, radiant_film

BOOK = "Duffie and Beckman, Solar Engineering of Thermal Processes, example 6.4.1 (from memory)"
KLEIN = "Klein 1979, by Duffie and Beckman, eq. 6.4.9"
CELSIUS = 273.15
GAP = 0.025


def layer_film(hot, cold, tilt, emittance_hot, emittance_cold):
    """Convection and radiation across one air layer. [W/(m2 K)]"""
    mean = (hot + cold) / 2
    Ra = rayleigh(buoyancy=air.buoyancy(mean, 101325.0), difference=hot - cold, length=GAP)
    stirred = nusselt_inclined_layer_hollands(rayleigh=Ra, tilt=tilt) * air.conductivity(mean) / GAP
    emittance = emittance_between_plates(first=emittance_hot, second=emittance_cold)
    return stirred + emittance * radiant_film(first=hot, second=cold)


def top_loss(plate, ambient, *, covers, tilt, wind_film, emittance, glass=0.88):
    """Loss coefficient [W/(m2 K)] and cover temperatures, by balance at every cover; sky as warm as the air."""
    emittances = [emittance] + [glass] * covers

    def flows(temperatures):
        chain = [plate, *temperatures]
        inside = [
            layer_film(chain[i], chain[i + 1], tilt, emittances[i], glass) * (chain[i] - chain[i + 1])
            for i in range(covers)
        ]
        outside = wind_film + glass * radiant_film(first=chain[-1], second=ambient)
        return [*inside, outside * (chain[-1] - ambient)]

    def gains(temperatures):
        q = flows(temperatures)
        return [q[i] - q[i + 1] for i in range(covers)]

    guess = [plate + (ambient - plate) * (i + 1) / (covers + 1) for i in range(covers)]
    found = fsolve(gains, guess, xtol=1e-12)
    return flows(found)[0] / (plate - ambient), found


def klein(plate, ambient, *, covers, tilt_deg, wind_film, emittance, glass=0.88):
    """Klein's formula as printed: equation 6.4.9."""
    f = (1 + 0.089 * wind_film - 0.1166 * wind_film * emittance) * (1 + 0.07866 * covers)
    c = 520 * (1 - 0.000051 * tilt_deg**2)
    e = 0.430 * (1 - 100 / plate)
    convection = covers / (c / plate * ((plate - ambient) / (covers + f)) ** e)
    radiation = 5.67e-8 * (plate + ambient) * (plate**2 + ambient**2)
    thickness = 1 / (emittance + 0.00591 * covers * wind_film)
    thickness += (2 * covers + f - 1 + 0.133 * emittance) / glass - covers
    return 1 / (convection + 1 / wind_film) + radiation / thickness


def test_duffie_beckman_6_4_1(published):
    """One glass, 25 mm, 45 degrees, plate 100 degC, air and sky 10 degC: 6.6 W/(m2 K), glass at 48.5 degC."""
    loss, glass = top_loss(
        100 + CELSIUS, 10 + CELSIUS, covers=1, tilt=math.radians(45), wind_film=10.0, emittance=0.95
    )
    published(BOOK, "top loss, one glass, plate 100 degC [W/(m2 K)]", "6.6", loss)
    assert loss == pytest.approx(6.621, rel=0.01)
    published(BOOK, "temperature of the glass [degC]", "48.5", glass[0] - CELSIUS, within=0.5)


@pytest.mark.parametrize(
    ("celsius", "emittance", "loss"),
    [
        (60, 0.95, "5.896"),
        (100, 0.95, "6.845"),
        (150, 0.95, "8.046"),
        (60, 0.10, "3.176"),
        (100, 0.10, "3.634"),
        (150, 0.10, "4.036"),
    ],
)
def test_one_glass_at_thirty_degrees(celsius, emittance, loss):
    """The same balance solved elsewhere with real-fluid air, black and selective plate, 25 degC outside."""
    found, _ = top_loss(
        celsius + CELSIUS, 25 + CELSIUS, covers=1, tilt=math.radians(30), wind_film=10.0, emittance=emittance
    )
    assert found == pytest.approx(float(loss), rel=0.01)


def test_kleins_formula_is_typed_right():
    """Its values for example 6.4.1 and for 30 degrees."""
    common = {"covers": 1, "wind_film": 10.0, "emittance": 0.95}
    assert klein(373.15, 283.15, tilt_deg=45, **common) == pytest.approx(6.639, rel=1e-3)
    assert klein(333.15, 298.15, tilt_deg=30, **common) == pytest.approx(5.862, rel=1e-3)
    assert klein(393.15, 298.15, tilt_deg=30, **common) == pytest.approx(7.367, rel=1e-3)


@pytest.mark.parametrize("covers", [1, 2])
@pytest.mark.parametrize("emittance", [0.1, 0.95])
@pytest.mark.parametrize("wind_film", [7.0, 10.0, 20.0])
@pytest.mark.parametrize("celsius", [60, 100, 150])
def test_klein_holds_for_our_films(covers, emittance, wind_film, celsius):
    """Within the 0.3 W/(m2 K) he states."""
    ours, _ = top_loss(
        celsius + CELSIUS,
        25 + CELSIUS,
        covers=covers,
        tilt=math.radians(40),
        wind_film=wind_film,
        emittance=emittance,
    )
    theirs = klein(
        celsius + CELSIUS, 298.15, covers=covers, tilt_deg=40, wind_film=wind_film, emittance=emittance
    )
    assert ours == pytest.approx(theirs, abs=0.3)


@pytest.mark.parametrize(
    ("covers", "absorbed", "emittance", "sun", "celsius"),
    [
        (1, 0.81, 0.95, 700, 102.0),
        (1, 0.81, 0.95, 900, 118.2),
        (2, 0.72, 0.95, 700, 124.5),
        (2, 0.72, 0.95, 900, 144.7),
        (1, 0.81, 0.10, 700, 143.7),
        (1, 0.81, 0.10, 900, 170.0),
    ],
)
def test_stagnation(covers, absorbed, emittance, sun, celsius, published):
    """Dry plate, air 30 degC, 30 degrees, 0.9 W/(m2 K) through the back: Klein's temperature, as near as he claims."""

    def surplus(plate, loss):
        return absorbed * sun - (loss(plate) + 0.9) * (plate - 303.15)

    def ours(plate):
        return top_loss(
            plate, 303.15, covers=covers, tilt=math.radians(30), wind_film=10.0, emittance=emittance
        )[0]

    def theirs(plate):
        return klein(plate, 303.15, covers=covers, tilt_deg=30, wind_film=10.0, emittance=emittance)

    by_klein = brentq(surplus, 320, 500, args=(theirs,))
    found = brentq(surplus, 320, 500, args=(ours,))
    slope = surplus(found - 0.5, ours) - surplus(found + 0.5, ours)
    assert by_klein - CELSIUS == pytest.approx(celsius, abs=0.5)
    # 0.3 W/(m2 K), which he states, turned into kelvin; and half a kelvin of the printed temperature
    near = 0.3 * (found - 303.15) / slope
    what = f"stagnation, {covers} cover(s), emittance {emittance}, {sun} W/m2 [degC]"
    published(KLEIN, what, str(celsius), found - CELSIUS, within=near + 0.5, kind="worked")
    assert found == pytest.approx(by_klein, abs=near)
