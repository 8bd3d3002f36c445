"""What must hold for every oven: energy closes, lanes do not meet, boiling is held, more is more."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from noonhearth.model.heat import Build, Flow, Node, Weather, plateau, run, water
from noonhearth.model.status import Status

STILL = {"air_temperature": 300.0, "sky_temperature": 285.0, "wind_speed": 1.0, "pressure": 95e3}


def oven(**changes):
    """One ordinary oven with 1.5 kg of water."""
    usual = Build(
        solid_capacity=300.0,
        water_mass=1.5,
        contents_start=293.15,
        shell_conductance=500.0,
        film_conductance=15.0,
        boiling_temperature=370.0,
        vent_conductance=0.0,
        pot_capacity=600.0,
        pot_lid_area=0.0314,
        pot_side_area=0.0754,
        pot_bottom_area=0.0314,
        pot_radius=0.1,
        pot_height=0.12,
        pot_cover_exchange=0.04,
        pot_sheet_exchange=0.01,
        sheet_cover_exchange=0.03,
        air_capacity=90.0,
        cavity_height=0.4,
        leak_area=2e-5,
        sheet_capacity=1200.0,
        sheet_area=0.7,
        sheet_length=0.4,
        insulation_conductance=1.0,
        insulation_capacity=1500.0,
        rim_conductance=0.05,
        shell_capacity=4000.0,
        shell_area=1.4,
        shell_height=0.45,
        shell_emittance=0.9,
        cover_area=0.4,
        cover_length=0.16,
        cover_capacity=2500.0,
        cover_conductance=60.0,
        gap_thickness=0.0,
        cover_emittance=0.9,
    )
    return usual._replace(**changes)


def mixed(count, seed):
    """Many different ovens: wet and dry, one pane and two, tight and leaky."""
    draw = np.random.default_rng(seed)

    def about(value, factor=2.0):
        return value * factor ** draw.uniform(-1, 1, count)

    usual = oven()
    varied = {name: about(value) for name, value in usual._asdict().items() if value}
    return oven(
        **varied
        | {
            "contents_start": draw.uniform(278, 305, count),
            "boiling_temperature": draw.uniform(360, 373, count),
            "water_mass": np.where(draw.random(count) < 0.4, 0.0, about(0.5, 3)),
            "solid_capacity": about(2000.0),
            "vent_conductance": np.where(draw.random(count) < 0.5, 0.0, about(3e-10, 3)),
            "gap_thickness": np.where(draw.random(count) < 0.5, 0.0, 0.015),
            "shell_emittance": draw.uniform(0.1, 0.95, count),
            "cover_emittance": draw.uniform(0.8, 0.95, count),
            "shell_area": 3.0 + about(0.5),
            "cover_area": about(0.4, 1.5),
        }
    )


def cloudy(lanes, steps, seed, days=3):
    """A few days of changing weather, and heat that comes and goes."""
    draw = np.random.default_rng(seed)
    noon = np.sin(np.pi * np.linspace(0, 1, steps + 1))
    weather = Weather(
        air_temperature=290 + 10 * noon + draw.normal(0, 1, (days, 1)),
        sky_temperature=272 + 8 * noon + draw.normal(0, 2, (days, 1)),
        wind_speed=draw.exponential(2.0, (days, steps + 1)),
        pressure=np.full((days, steps + 1), 88e3),
        tilt=draw.uniform(0, 1.3, (2, steps)),
        vapour_pressure=np.full((days, steps + 1), 1200.0),
    )
    sun = 0.5 * (noon[:-1] + noon[1:]) * np.where(draw.random((lanes, steps)) < 0.05, 0.2, 1.0)
    intake = sun[:, :, None] * np.array([260.0, 60.0, 40.0]) * draw.uniform(0.5, 1.5, (lanes, 1, 1))
    return weather, draw.integers(0, days, lanes), intake, draw.integers(0, 2, lanes)


def simulated(build, lanes, steps=240, seed=1, **options):
    weather, lane_day, intake, lane_track = cloudy(lanes, steps, seed)
    return run(build, weather, lane_day, intake, lane_track=lane_track, **options)


def capacities(build, mass):
    """Heat capacity of each node, by hand, float64[lane, node]. [J/K]"""
    third, half_cover = build.solid_capacity / 3, build.cover_capacity / 2
    columns = {
        Node.OUTER: third + mass * water.SPECIFIC_HEAT,
        Node.MIDDLE: third,
        Node.CORE: third,
        Node.POT: build.pot_capacity,
        Node.AIR: build.air_capacity,
        Node.SHEET: build.sheet_capacity,
        Node.INSULATION: build.insulation_capacity,
        Node.SHELL: build.shell_capacity,
        Node.COVER_INNER: half_cover,
        Node.COVER_OUTER: half_cover,
    }
    return np.stack([columns[node] for node in Node], axis=1)


LOSSES = [
    Flow.COVER_CONVECTION,
    Flow.COVER_RADIATION,
    Flow.SHELL_CONVECTION,
    Flow.SHELL_RADIATION,
    Flow.LEAK,
    Flow.STEAM,
]


def test_energy_closes_from_stored_states():
    """Sunlight taken in = losses in the book + heat in the stored temperatures, to 1e-9."""
    lanes = 40
    build = mixed(lanes, seed=2)
    weather, lane_day, intake, lane_track = cloudy(lanes, 240, seed=2)
    h = run(build, weather, lane_day, intake, lane_track=lane_track, record=True)
    stored = (capacities(build, h.water[:, -1]) * (h.temperatures[:, -1] - h.temperatures[:, 0])).sum(axis=1)
    taken_in = 60.0 * intake.sum(axis=(1, 2))
    assert stored + h.flows[:, LOSSES].sum(axis=1) == pytest.approx(taken_in, rel=1e-9)
    assert h.flows[:, Flow.STORED] == pytest.approx(stored, rel=1e-9)
    assert 60.0 * intake.sum(axis=1) == pytest.approx(h.flows[:, :3], rel=1e-12)
    assert (h.end_water < build.water_mass).sum() > 10  # some of them boiled or dried


def test_losses_are_those_of_the_recorded_temperatures():
    """Leak and steam again from the minute-by-minute record, by the trapezium rule."""
    build = oven(vent_conductance=4e-10, leak_area=1e-4)
    edge = np.full((1, 301), 300.0)
    weather = Weather(edge, edge - 15, 0 * edge, 0 * edge + 95e3, np.zeros((1, 300)), 0 * edge + 1500.0)
    intake = np.broadcast_to([110.0, 20.0, 10.0], (1, 300, 3))
    h = run(build, weather, np.zeros(1, int), intake, record=True)
    outer, cavity = h.temperatures[0, :, Node.OUTER], h.temperatures[0, :, Node.AIR]
    assert outer.max() < build.boiling_temperature  # vent only
    pressure = np.array([PropsSI("P", "T", t, "Q", 0, "Water") for t in outer])
    gone = 4e-10 * np.trapezoid(np.maximum(pressure - 1500.0, 0), dx=60.0)
    assert 1.5 - h.end_water[0] == pytest.approx(gone, rel=2e-3)
    mean = (cavity + 300) / 2
    flow = 5e-5 * np.sqrt(9.80665 * 0.4 * np.abs(cavity - 300) / mean)
    leaked = np.trapezoid(flow * 95e3 / (287.05 * mean) * 1007 * (cavity - 300), dx=60.0)
    assert h.flows[0, Flow.LEAK] == pytest.approx(leaked, rel=3e-3)


def test_boiling_is_held_until_the_water_is_gone():
    """Never above boiling while wet; dry pots go on; oil passes boiling without noticing.

    The last drops go within two steps, and the contents may pass boiling in the second.
    """
    lanes = 60
    build = mixed(lanes, seed=4)
    build = build._replace(vent_conductance=0 * build.water_mass)
    weather, lane_day, intake, lane_track = cloudy(lanes, 300, seed=4)
    h = run(build, weather, lane_day, 3 * intake, lane_track=lane_track, record=True)
    outer = h.temperatures[:, :, Node.OUTER]
    wet = np.zeros_like(h.water, dtype=bool)
    wet[:, :-2] = h.water[:, 2:] > 0
    above = outer - build.boiling_temperature[:, None]
    assert above[wet].max() < 1e-9
    assert (h.water >= 0).all()
    assert (np.diff(h.water, axis=1) <= 1e-15).all()
    dried = (build.water_mass > 0) & (h.end_water == 0)
    assert dried.sum() >= 3
    assert (above[dried].max(axis=1) > 1).all()
    dry = build.water_mass == 0
    assert (above[dry].max(axis=1) > 1).any()
    assert (h.water[dry] == 0).all()


def test_boiling_off_takes_the_latent_heat():
    """0.1 kg at 100 degC: 225.6 kJ by the steam tables (IAPWS-95)."""
    build = oven(contents_start=373.124, boiling_temperature=373.124, water_mass=1.0, leak_area=0.0)
    edge = np.full((1, 121), 373.124)
    weather = Weather(edge, edge, 0 * edge, 0 * edge + 101325.0, np.zeros((1, 120)))
    h = run(build, weather, np.zeros(1, int), np.broadcast_to([200.0, 0.0, 0.0], (1, 120, 3)))
    gone = 1.0 - h.end_water[0]
    assert 0.1 < gone < 0.9
    assert h.flows[0, Flow.STEAM] * 0.1 / gone == pytest.approx(225.6e3, rel=1e-3)


def test_evaporation_keeps_the_order():
    """An open pan that loses two thirds of its water: half the step, a quarter of the change.

    No step strays far enough to be taken in parts, but for the first.
    """
    build = oven(vent_conductance=5e-9, water_mass=0.5)

    def core(step):
        steps = round(5400 / step)
        edge = np.full((1, steps + 1), 300.0)
        weather = Weather(edge, edge, 0 * edge, 0 * edge + 95e3, np.zeros((1, steps)))
        h = run(
            build,
            weather,
            np.zeros(1, int),
            np.broadcast_to([180.0, 20.0, 10.0], (1, steps, 3)),
            step=step,
        )
        assert 0.1 < h.end_water[0] < 0.4
        return h.core[0, :: round(120 / step)][10:]

    by_step = [core(step) for step in (60.0, 30.0, 15.0)]
    ratio = np.abs(by_step[0] - by_step[1]).max() / np.abs(by_step[1] - by_step[2]).max()
    assert ratio == pytest.approx(4.0, abs=0.5)


def test_a_tight_lid_keeps_the_water():
    """No vent, no boiling, no loss."""
    h = simulated(oven(boiling_temperature=372.0), 1, steps=60)
    assert 310 < h.core[0, -1] < 371
    assert h.end_water[0] == pytest.approx(1.5, abs=1e-12)


def test_nothing_happens_at_rest():
    """No sun, air and sky as warm as the oven: it stays, and the book stays empty."""
    edge = np.full((1, 61), 300.0)
    weather = Weather(edge, edge, 0 * edge + 2.0, 0 * edge + 1e5, np.full((1, 60), 0.5))
    h = run(oven(contents_start=300.0), weather, np.zeros(1, int), np.zeros((1, 60, 3)), record=True)
    assert np.abs(h.temperatures - 300.0).max() < 1e-9
    assert np.abs(h.flows).max() < 1e-5


def test_lanes_do_not_meet():
    """Bits of a lane are the same alone, in company and in another order."""
    lanes = 41
    build = mixed(lanes, seed=6)
    weather, lane_day, intake, lane_track = cloudy(lanes, 90, seed=6)
    together = run(build, weather, lane_day, intake, lane_track=lane_track)
    order = np.random.default_rng(3).permutation(lanes)
    shuffled = run(
        Build(*(np.broadcast_to(column, lanes)[order] for column in build)),
        weather,
        lane_day[order],
        intake[order],
        lane_track=lane_track[order],
    )
    for lane in (0, 31, 32, 40):
        one = [lane]
        alone = run(
            Build(*(np.broadcast_to(column, lanes)[one] for column in build)),
            weather,
            lane_day[one],
            intake[one],
            lane_track=lane_track[one],
        )
        place = int(np.flatnonzero(order == lane)[0])
        for whole, single, moved in zip(together, alone, shuffled, strict=True):
            if len(whole):
                assert whole[lane].tobytes() == single[0].tobytes() == moved[place].tobytes()


def test_recording_changes_nothing():
    """Histories, ends and peaks agree with the record to the bit."""
    build = mixed(5, seed=8)
    plain, h = simulated(build, 5, seed=8), simulated(build, 5, seed=8, record=True)
    assert plain.temperatures.shape == (0, 241, len(Node))
    for name in ("core", "mean", "end", "peak", "flows", "end_water"):
        assert getattr(plain, name).tobytes() == getattr(h, name).tobytes()
    assert (h.temperatures[:, :, Node.CORE] == h.core).all()
    recorded = h.temperatures.max(axis=1)
    assert (recorded <= h.peak).all()  # a peak may lie between two instants
    assert np.median(recorded == h.peak) == 1.0
    assert h.peak == pytest.approx(recorded, abs=0.5)
    assert (h.temperatures[:, -1] == h.end).all()
    weights = capacities(build, 0.0)[:, None, :3].repeat(241, axis=1)
    weights[:, :, 0] += h.water * water.SPECIFIC_HEAT
    mean = (h.temperatures[:, :, :3] * weights).sum(axis=2) / weights.sum(axis=2)
    assert h.mean == pytest.approx(mean, rel=1e-12)


@pytest.mark.filterwarnings("ignore:.*encountered in:RuntimeWarning")  # numpy's, where nothing is compiled
def test_impossible_numbers_are_reported_and_stay_where_they_are():
    """A lane with a nan says so; its neighbours do not notice."""
    build = mixed(3, seed=9)
    weather, lane_day, intake, lane_track = cloudy(3, 30, seed=9)
    sound = run(build, weather, lane_day, intake, lane_track=lane_track)
    intake = intake.copy()
    intake[1, 10, 0] = np.nan
    broken = run(build, weather, lane_day, intake, lane_track=lane_track)
    assert broken.status.tolist() == [Status.OK, Status.NOT_FINITE, Status.OK]
    assert broken.core[[0, 2]].tobytes() == sound.core[[0, 2]].tobytes()


def settled(**changes):
    """Temperatures of the dry ordinary oven under full sun."""
    build = oven(water_mass=0.0, **changes)
    return plateau(build, **STILL, tilt=0.5, intake=np.array([[200.0, 50.0, 30.0]])).temperatures[0]


@pytest.mark.parametrize(
    ("name", "worse", "better"),
    [
        ("insulation_conductance", 3.0, 1.0),
        ("rim_conductance", 0.5, 0.0),
        ("leak_area", 2e-4, 0.0),
        ("gap_thickness", 0.0, 0.015),
        ("cover_area", 0.5, 0.4),
        ("pot_cover_exchange", 0.06, 0.03),
    ],
)
def test_plateau_rises_with_every_better_part(name, worse, better):
    """Insulation, rim, leak, second pane, smaller cover, blacker to bluer pot: the pot gets hotter."""
    assert settled(**{name: better})[Node.POT] > settled(**{name: worse})[Node.POT] + 0.3


@pytest.mark.parametrize("seed", range(5))
def test_thicker_insulation_is_hotter_in_every_oven(seed):
    """Not only in the ordinary one; how fast it warms is another matter."""
    build = mixed(50, seed)._replace(water_mass=0.0)
    common = STILL | {"tilt": 0.4, "intake": np.tile([200.0, 50.0, 30.0], (50, 1))}
    pots = [
        plateau(build._replace(insulation_conductance=share * build.insulation_conductance), **common)
        for share in (1.0, 0.5, 0.25)
    ]
    temperatures = np.array([found.temperatures[:, Node.POT] for found in pots])
    assert (np.diff(temperatures, axis=0) > 0).all()


def test_faces_of_a_thick_pane_differ():
    """4 mm of acrylic (0.2 W/(m K)): inner face several kelvin hotter, and less so for 1 mm."""
    thick, thin = settled(cover_conductance=50.0), settled(cover_conductance=200.0)
    assert thick[Node.COVER_INNER] - thick[Node.COVER_OUTER] > 3.0
    assert thin[Node.COVER_INNER] - thin[Node.COVER_OUTER] < 0.4 * (
        thick[Node.COVER_INNER] - thick[Node.COVER_OUTER]
    )


def test_a_long_still_day_ends_on_the_plateau():
    """Marching and settling are two ways to one temperature."""
    build = oven(water_mass=0.0)
    edge = np.ones((1, 2001))
    weather = Weather(300 * edge, 285 * edge, edge, 95e3 * edge, np.full((1, 2000), 0.5))
    h = run(build, weather, np.zeros(1, int), np.broadcast_to([200.0, 50.0, 30.0], (1, 2000, 3)))
    assert h.end[0] == pytest.approx(settled(), abs=1e-4)


@pytest.mark.plain
@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"intake": np.zeros((2, 30))}, "intake has shape"),
        ({"intake": np.zeros((2, 0, 3))}, "one step or more"),
        ({"intake": np.zeros((2, 31, 3))}, "air_temperature has shape"),
        ({"lane_day": np.array([0, 3])}, "lane_day has shape"),
        ({"lane_track": np.array([0, -1])}, "lane_track has shape"),
        ({"lane_day": np.zeros(3, int)}, "lane_day has shape"),
        ({"build": mixed(3, seed=1)}, "build.solid_capacity has shape"),
    ],
)
def test_the_door_says_what_does_not_fit(changes, sentence):
    """One sentence with the shape that came and the one that is needed."""
    weather, lane_day, intake, lane_track = cloudy(2, 30, seed=1)
    arguments = {"build": mixed(2, seed=1), "weather": weather, "lane_day": lane_day, "intake": intake}
    with pytest.raises(ValueError, match=sentence):
        run(**arguments | {"lane_track": lane_track} | changes)


def test_no_lanes_is_no_work():
    """An empty batch gives empty histories."""
    weather, _, _, _ = cloudy(1, 30, seed=1)
    nobody = np.empty(0, np.int64)
    h = run(oven(), weather, nobody, np.empty((0, 30, 3)))
    assert h.core.shape == (0, 31)


TINY = """
import importlib.util, json, sys
spec = importlib.util.spec_from_file_location("tiny", sys.argv[1])
tests = importlib.util.module_from_spec(spec)
spec.loader.exec_module(tests)
h = tests.simulated(tests.mixed(2, seed=5), 2, steps=6, seed=5)
settled = tests.settled()
print(json.dumps([h.core.tolist(), h.flows.tolist(), settled.tolist()]))
"""


def test_compiled_is_uncompiled():
    """The same numbers without the compiler, but for the last bits of powers."""
    outcome = subprocess.run(
        [sys.executable, "-W", "error", "-c", TINY, __file__],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    core, flows, still = json.loads(outcome.stdout)
    h = simulated(mixed(2, seed=5), 2, steps=6, seed=5)
    assert h.core == pytest.approx(np.array(core), rel=1e-13)
    assert h.flows == pytest.approx(np.array(flows), rel=1e-9, abs=1e-6)
    assert settled() == pytest.approx(still, rel=1e-12)
