"""Wind films and the sky.

Duffie and Beckman, "Solar Engineering of Thermal Processes", section 3.15 (McAdams 1954; Watmuff,
Charters and Proctor 1977; Mitchell 1976). Incropera, equation 7.30. Cengel, "Heat and Mass
Transfer", example 12.5.
"""

import math

import pytest

from noonhearth.model.heat import air, convection
from noonhearth.model.heat.radiation import radiant_film, sky_view_plane, sky_view_rest

BOOK = "Duffie and Beckman, Solar Engineering of Thermal Processes, section 3.15"

SPEEDS = (0.0, 1.0, 2.5, 3.0, 5.0)


@pytest.mark.parametrize(
    ("author", "law", "films"),
    [
        ("McAdams 1954", convection.film_wind_mcadams, ("5.7", "9.5", "15.2", "17.1", "24.7")),
        ("Watmuff et al. 1977", convection.film_wind_watmuff, ("2.8", "5.8", "10.3", "11.8", "17.8")),
        (
            "Mitchell 1976, 0.5 m",
            lambda wind: convection.film_wind_mitchell(wind=wind, length=0.5),
            ("5", "11.35", "19.66", "21.94", "29.81"),
        ),
    ],
)
def test_wind_films(author, law, films, published):
    """The three relations at five speeds, to the digits printed."""
    for speed, film in zip(SPEEDS, films, strict=True):
        published(BOOK, f"wind film at {speed:g} m/s, {author} [W/(m2 K)]", film, law(speed), kind="worked")


def test_the_older_film_contains_radiation():
    """At rest McAdams' film exceeds Watmuff's by about half of a black body's at 285 K."""
    surplus = convection.film_wind_mcadams(0.0) - convection.film_wind_watmuff(0.0)
    assert 0.4 < surplus / radiant_film(first=285.0, second=285.0) < 0.8


def test_laminar_plate_in_a_stream(published):
    """2 m/s along 0.5 m of plate in air of 300 K: Re 63 493, Nu 149.06, 7.866 W/(m2 K) by real-fluid air."""
    Re = 2.0 * 0.5 / air.kinematic_viscosity(300.0, 101325.0)
    Nu = convection.nusselt_plate_forced_laminar_pohlhausen(reynolds=Re, prandtl=air.prandtl(300.0))
    assert Re == pytest.approx(63_493, rel=1e-3)
    assert Nu == pytest.approx(149.06, rel=1e-3)
    film = Nu * air.conductivity(300.0) / 0.5
    where = "Incropera et al., Fundamentals of Heat and Mass Transfer, eq. 7.30"
    published(where, "film on 0.5 m of plate at 2 m/s [W/(m2 K)]", "7.866", film, rel=1e-3, kind="worked")


@pytest.mark.parametrize(("absorptance", "emittance", "net"), [(0.9, 0.9, 306.4), (0.1, 0.1, 34.0)])
def test_cengel_12_5_surface_under_the_sky(absorptance, emittance, net, published):
    """Beam 400 W/m2 at 20 degrees, diffuse 300, surface at 320 K, sky at 260 K."""
    sun = absorptance * (400 * math.cos(math.radians(20)) + 300)
    lost = emittance * radiant_film(first=320.0, second=260.0) * (320 - 260)
    what = f"net gain of a surface under the sky, emittance {emittance} [W/m2]"
    published("Cengel, Heat and Mass Transfer, example 12.5", what, str(net), sun - lost, rel=1.5e-3)


@pytest.mark.parametrize(
    ("temperature", "emittance", "film"), [(300.0, 1.0, "6.124"), (333.15, 0.9, "7.548")]
)
def test_radiant_film_of_equal_temperatures(temperature, emittance, film):
    """4 epsilon sigma T^3."""
    ours = emittance * radiant_film(first=temperature, second=temperature)
    assert ours == pytest.approx(float(film), abs=5e-4)


def test_a_convex_body_sees_sky_with_half_of_its_area():
    """A cube: tilted cover and five other faces, each with its own view, by hand."""
    tilt = math.radians(35)
    faces = [math.pi - tilt, math.pi / 2, math.pi / 2, math.pi / 2 - tilt, math.pi / 2 + tilt]
    rest = sum((1 + math.cos(face)) / 2 for face in faces) / 5
    assert sky_view_rest(cosine_of_tilt=math.cos(tilt), plane_share=1 / 5) == pytest.approx(rest, rel=1e-12)
    whole = sky_view_plane(cosine_of_tilt=math.cos(tilt)) + 5 * rest
    assert whole == pytest.approx(3.0, rel=1e-12)
