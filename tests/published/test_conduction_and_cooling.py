"""Radiation between surfaces, and bodies that warm and cool along an exponential, through the network.

Cengel, "Heat and Mass Transfer", examples 13.6 and 13.7; Incropera, "Fundamentals of Heat and Mass
Transfer", example 13.6. Exponentials and series resistances are closed forms.
"""

import datetime as dt
import itertools
import math
import sys

import numpy as np
import pytest

from noonhearth.model import Air, clear_sky, simulate
from noonhearth.model.constants import STEFAN_BOLTZMANN
from noonhearth.model.heat import Build, Node, Weather, plateau, run
from noonhearth.model.heat.radiation import emittance_between_plates, radiant_film

CENGEL = "Cengel, Heat and Mass Transfer"
CELSIUS = 273.15
CAPACITY = 9092.0  # J/K; 2 kg of water and 0.8 kg of aluminium
CONDUCTANCE = 1.5  # W/K
HUGE = 1e9

# An oven of which nothing is left: no area exchanges, nothing stores. Cases put back what they need.
NOTHING = Build(
    solid_capacity=0.0,
    water_mass=0.0,
    contents_start=298.15,
    shell_conductance=1.0,
    film_conductance=1e-9,
    boiling_temperature=373.15,
    vent_conductance=0.0,
    pot_capacity=1.0,
    pot_lid_area=0.0,
    pot_side_area=0.0,
    pot_bottom_area=0.0,
    pot_radius=0.1,
    pot_height=0.1,
    pot_cover_exchange=0.0,
    pot_sheet_exchange=0.0,
    sheet_cover_exchange=0.0,
    air_capacity=1.0,
    cavity_height=0.1,
    leak_area=0.0,
    sheet_capacity=1.0,
    sheet_area=0.0,
    sheet_length=0.3,
    insulation_conductance=0.0,
    insulation_capacity=1.0,
    rim_conductance=0.0,
    shell_capacity=1.0,
    shell_area=HUGE,
    shell_height=0.3,
    shell_emittance=0.0,
    cover_area=1e-9,
    cover_length=0.1,
    cover_capacity=1.0,
    cover_conductance=100.0,
    gap_thickness=0.0,
    cover_emittance=0.5,
)


def still_day(steps, watts, air=298.15):
    """Constant weather for one lane, and constant heat into pot, sheet and cover."""
    edge = np.full((1, steps + 1), air)
    weather = Weather(edge, edge, 0 * edge, 0 * edge + 101325.0, np.zeros((1, steps)))
    return weather, np.zeros(1, np.int64), np.broadcast_to(np.asarray(watts, float), (1, steps, 3))


def test_lumped_body_cools():
    """90 degC, 1.5 W/K to air of 25 degC: 60.890 degC after an hour.

    The contents are the body; pot and cavity are tied to the air outside by endless areas.
    """
    build = NOTHING._replace(
        solid_capacity=CAPACITY,
        contents_start=90 + CELSIUS,
        shell_conductance=HUGE,
        film_conductance=CONDUCTANCE,
        pot_side_area=HUGE,
        leak_area=HUGE,
    )
    histories = run(build, *still_day(60, (0.0, 0.0, 0.0)))
    assert histories.core[0, -1] - CELSIUS == pytest.approx(60.890, abs=5e-4)
    exact = 298.15 + 65 * np.exp(-CONDUCTANCE / CAPACITY * 60.0 * np.arange(61))
    assert np.abs(histories.mean[0] - exact).max() < 1e-3


@pytest.mark.compiled
@pytest.mark.parametrize(
    ("conductance", "hours"),
    [(0.30, 5.211), (0.25, 6.253), (0.05, 31.27)],  # 9092 s W/K over it, times ln(65/35)
)
def test_a_pot_kept_after_the_day_cools_along_the_exponential(conductance, hours, design, place, monkeypatch):
    """Newton's law of cooling: 90 degC into air of 25 degC comes to 60 degC after C/UA ln(65/35).

    Loaded hot under a sky of three hours; the sun cannot reach a pot that is tied to the air.
    """
    lumped = NOTHING._replace(
        solid_capacity=CAPACITY,
        contents_start=90 + CELSIUS,
        shell_conductance=HUGE,
        film_conductance=conductance,
        pot_side_area=HUGE,
        leak_area=HUGE,
    )
    build = Build(*(np.full(1, float(field)) for field in lumped))
    monkeypatch.setattr(sys.modules["noonhearth.model.simulate"], "build_of", lambda *_, **__: build)
    air = Air(low=25 + CELSIUS, high=25 + CELSIUS, dew_point=280.0, wind_speed=0.0)
    sky = clear_sky(place, start=dt.time(10), stop=dt.time(13), air=air, months=[1])
    kept = simulate(design.with_factors(food="water"), sky, rays=4)
    exact = CAPACITY / conductance * np.log(65 / 35)
    assert exact / 3600 == pytest.approx(hours, rel=1e-3)
    after = min(exact - 3 * 3600, 12 * 3600)
    fall = conductance / CAPACITY * 35  # K/s at 60 degC
    assert kept["warm_for"].item() == pytest.approx(after, abs=5e-4 / fall)
    assert kept["keep_warm_time"].item() == kept["warm_for"].item()
    assert kept["still_warm"].item() == (exact > 15 * 3600)


def heated(step):
    """The sheet as a body of the same capacity under 150 W, tied by the rim to a shell as cold as the air."""
    build = NOTHING._replace(sheet_capacity=CAPACITY, rim_conductance=CONDUCTANCE)
    steps = round(9000 / step)
    return run(build, *still_day(steps, (0.0, 150.0, 0.0)), step=step, record=True).temperatures[
        0, :, Node.SHEET
    ]


def test_lumped_body_warms():
    """150 W from 25 to 95 degC in 121.628 minutes."""
    minutes, sheet = np.arange(151), heated(60.0) - CELSIUS
    assert np.interp(95.0, sheet, minutes) == pytest.approx(121.628, abs=1e-3)


@pytest.mark.parametrize(("capacity", "tolerance"), [(1.0, 1e-5), (CAPACITY, 1e-4)])
def test_bodies_follow_a_ramp(capacity, tolerance):
    """Air that warms by 12 K an hour: a body lags by rate times time constant, a light one by nothing."""
    build = NOTHING._replace(sheet_capacity=capacity, rim_conductance=CONDUCTANCE)
    rate, constant = 12.0 / 3600.0, capacity / CONDUCTANCE
    time = 60.0 * np.arange(121)
    air = 298.15 + rate * time[None]
    weather = Weather(air, air, 0 * air, 0 * air + 101325.0, np.zeros((1, 120)))
    h = run(build, weather, np.zeros(1, np.int64), np.zeros((1, 120, 3)), record=True)
    exact = air[0] - rate * constant * (1 - np.exp(-time / constant))
    assert np.abs(h.temperatures[0, :, Node.SHEET] - exact)[2:].max() < tolerance


def test_method_is_of_second_order():
    """Half the step, a quarter of the error, against the exponential."""

    def error(step):
        time = np.arange(round(9000 / step) + 1) * step
        exact = 298.15 + 100 * (1 - np.exp(-CONDUCTANCE / CAPACITY * time))
        return np.abs(heated(step) - exact).max()

    errors = [error(step) for step in (1800.0, 900.0, 450.0, 225.0)]
    ratios = [coarse / fine for coarse, fine in itertools.pairwise(errors)]
    assert ratios == pytest.approx([4.0] * 3, rel=0.12)
    assert abs(ratios[-1] - 4) < abs(ratios[0] - 4)


def test_stagnation_of_the_lumped_body():
    """150 W over 1.5 W/K: 125 degC."""
    build = NOTHING._replace(rim_conductance=CONDUCTANCE)
    weather = {"air_temperature": 298.15, "sky_temperature": 298.15, "wind_speed": 0.0, "pressure": 101325.0}
    found = plateau(build, **weather, tilt=0.0, intake=np.array([[0.0, 150.0, 0.0]]))
    assert found.temperatures[0, Node.SHEET] - CELSIUS == pytest.approx(125.0, abs=1e-5)


def test_insulation_and_rim_are_parallel_and_the_insulation_is_one_resistance():
    """0.9 W/K of insulation and 0.6 of rim carry 1.5 together, with the insulation half way between."""
    build = NOTHING._replace(rim_conductance=0.6, insulation_conductance=0.9)
    weather = {"air_temperature": 298.15, "sky_temperature": 298.15, "wind_speed": 0.0, "pressure": 101325.0}
    found = plateau(build, **weather, tilt=0.0, intake=np.array([[0.0, 150.0, 0.0]])).temperatures[0]
    assert found[Node.SHEET] - CELSIUS == pytest.approx(125.0, abs=1e-5)
    assert found[Node.INSULATION] - CELSIUS == pytest.approx(75.0, abs=1e-5)


def test_cengel_13_7_grey_plates(published):
    """800 and 500 K, emittance 0.2 and 0.7: 3625 W/m2, with the book's 5.67e-8 W/(m2 K4)."""
    exchanged = emittance_between_plates(first=0.2, second=0.7) * radiant_film(first=800, second=500) * 300
    watts = exchanged * 5.67e-8 / STEFAN_BOLTZMANN
    published(f"{CENGEL}, example 13.7", "radiation between grey plates [W/m2]", "3625", watts)


def test_cengel_13_6_black_cube(published):
    """Cube of 5 m, base 800, top 1500, sides 500 K, base to top 0.2: 394, -1319 and -925 kW with the base."""
    base_sides = 25 * 0.8 * radiant_film(first=800, second=500) * 300
    base_top = 25 * 0.2 * radiant_film(first=800, second=1500) * -700
    for name, printed, watts in (
        ("base to sides", "394", base_sides),
        ("base to top", "-1319", base_top),
        ("base, net", "-925", base_sides + base_top),
    ):
        # the book adds what it has rounded to a kilowatt
        published(f"{CENGEL}, example 13.6", f"black cube, {name} [kW]", printed, watts / 1e3, within=1)


def gebhart_areas(view, area, emittance):
    """Total exchange areas of a grey enclosure, area * emittance * absorption factor. [m2]"""
    reflected = view * (1 - emittance)
    absorbed = np.linalg.solve(np.eye(len(area)) - reflected, view * emittance)
    return (area * emittance)[:, None] * absorbed


def test_incropera_13_6_duct_by_exchange_areas(published):
    """Triangular duct, 1200 K at 0.8 and 500 K at 0.4, third side adiabatic: 36.98 kW/m, 1102 K.

    Exchange areas as this package takes them, so the meaning of them is checked too.
    """
    view = np.full((3, 3), 0.5) - 0.5 * np.eye(3)
    areas = gebhart_areas(view, np.ones(3), np.array([0.8, 0.4, 0.8]))
    assert np.abs(areas - areas.T).max() < 1e-12

    third = (areas[2, 0] * 1200**4 + areas[2, 1] * 500**4) / (areas[2, 0] + areas[2, 1])
    third **= 0.25
    sent = areas[0, 1] * radiant_film(first=1200, second=500) * 700
    sent += areas[0, 2] * radiant_film(first=1200, second=third) * (1200 - third)
    where = "Incropera et al., Fundamentals of Heat and Mass Transfer, example 13.6"
    published(where, "adiabatic side of a triangular duct [K]", "1102", third)
    published(where, "power of its hot side [kW/m]", "36.98", sent / 1e3, within=0.02)


def test_pot_and_sheet_exchange_by_their_area():
    """Hot pot in a cold enclosure: the network loses by radiation what the exchange area says."""
    build = NOTHING._replace(pot_sheet_exchange=0.05, rim_conductance=HUGE)
    weather = {"air_temperature": 300.0, "sky_temperature": 300.0, "wind_speed": 0.0, "pressure": 101325.0}
    pot = plateau(build, **weather, tilt=0.0, intake=np.array([[80.0, 0.0, 0.0]])).temperatures[0, Node.POT]
    assert pot == pytest.approx((80.0 / (0.05 * 5.670374419e-8) + 300.0**4) ** 0.25, abs=1e-4)


@pytest.mark.parametrize("panes", [1, 2])
def test_cover_conducts(panes):
    """Flow through one pane, or two with a still layer heated from above, as resistances in series."""
    gap = 0.0 if panes == 1 else 0.02
    build = NOTHING._replace(
        cover_area=1.0,
        cover_conductance=50.0,
        gap_thickness=gap,
        cover_emittance=1e-9,
        sheet_cover_exchange=2.0,
        rim_conductance=HUGE,
    )
    weather = {"air_temperature": 330.0, "sky_temperature": 330.0, "wind_speed": 2.0, "pressure": 101325.0}
    chilled = plateau(build, **weather, tilt=0.0, intake=np.array([[0.0, 0.0, -60.0]])).temperatures[0]
    inner, outer = chilled[Node.COVER_INNER], chilled[Node.COVER_OUTER]
    into_inner = 2.0 * radiant_film(first=330.0, second=inner) * (330.0 - inner)
    through = 30.0 - into_inner  # half of the chill sits at each face
    conductivity = 0.0264 + 7.3e-5 * ((inner + outer) / 2 - 300)  # air near 300 K
    resistance = 1 / 50.0 + gap / conductivity
    assert (outer - inner) / resistance == pytest.approx(through, rel=1e-3)


def test_three_shells_relax_at_their_own_slowest_rate():
    """Middle and core behind a held outer shell: the smaller eigenvalue of two coupled capacities."""
    third, conductance = 2000.0, 4.0
    build = NOTHING._replace(
        solid_capacity=3 * third, contents_start=280.0, shell_conductance=conductance, film_conductance=HUGE
    )
    build = build._replace(pot_side_area=HUGE, leak_area=HUGE)
    core = run(build, *still_day(180, (0.0, 0.0, 0.0), air=350.0)).core[0]
    matrix = np.array([[-2, 1], [1, -1]]) * conductance / third  # middle and core; the outer shell is held
    slowest = np.linalg.eigvalsh(matrix).max()
    late = np.log((350 - core[120]) / (350 - core[180])) / 3600
    assert late == pytest.approx(-slowest, rel=1e-3)
    assert math.isclose(core[0], 280.0)
