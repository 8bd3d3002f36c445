"""Diagnosis: planted faults are found or honestly tied, and the comparison of explanations against closed forms."""

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

import noonhearth.studies as studies
from noonhearth.model import CookModel, CookRecord, Design, Meal, clear_sky
from noonhearth.studies.kinds.causes import CAUSES, plausible_values
from noonhearth.studies.logs import usual_air
from noonhearth.studies.methods.explanations import TIED, Explanation, Readings, compared

OVEN = Path(__file__).parents[1] / "oven.toml"
Floats = NDArray[np.float64]
STEP = 120.0  # s
SHADE = (6600.0, 9000.0)  # s: the last forty minutes


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    return replace(studies.load(OVEN).setting, rays=6)


def weather(setting: studies.Setting) -> CookRecord:
    """Two and a half hours of a clear morning, every two minutes, an empty thermometer in the food and on the pot."""
    place = setting.sky.place
    start = datetime.datetime(2026, 2, 10, 10, 0, tzinfo=place.zone)
    time = np.arange(0.0, 9001.0, STEP)
    air = usual_air(setting.sky)
    day = clear_sky(place, dates=[start.date()], start=datetime.time(10), stop=datetime.time(13), air=air)
    minutes = np.arange(day.dni.shape[1]) * 60.0
    beam, diffuse = (np.interp(time, minutes, getattr(day, name)[0]) for name in ("dni", "dhi"))
    read = np.full(len(time), np.nan)
    read[0] = 295.0
    settings = tuple(np.arange(0.0, 9000.0, 1200.0).tolist())
    return CookRecord(
        name="made up",
        start=start,
        time=time,
        temperatures={"food": read, "pot": read},
        air=295.0 + time / 3600.0,
        irradiance=beam,
        diffuse=diffuse,
        plane="beam",
        wind=np.full(len(time), 1.5),
        azimuth_settings=settings,
        elevation_settings=settings,
        shaded=(SHADE,),
        meal=Meal(food="water", food_mass=0.8),
    )


def cooked(
    setting: studies.Setting, design: Design, dice: np.random.Generator, noise: float = 0.3
) -> CookRecord:
    """What thermometers of these errors would read in an oven: other rays, errors alike for some minutes; made up."""
    record = weather(setting)
    planted = (
        replace(record, meal=replace(record.meal, food_mass=design.meal.food_mass)) if record.meal else record
    )
    place, catalogue = setting.sky.place, setting.catalogue
    model = CookModel(
        design, planted, place=place, catalogue=catalogue, rays=64, seed=77, air=usual_air(setting.sky)
    )
    read = {}
    for sensor, rows in model.temperatures({"wind_share": np.array([design.value("wind_share")])}).items():
        errors = dice.normal(0.0, noise, len(record.instants) + 1)
        read[sensor] = rows[0] + (errors[1:] + 0.7 * errors[:-1]) / np.hypot(1.0, 0.7)
        read[sensor][0] = 295.0
    return replace(record, temperatures=read)


def planted(setting: studies.Setting, dice: np.random.Generator) -> tuple[str, Design, CookRecord]:
    """A cook in an oven with one fault that moves its thermometers by two kelvin or more."""
    base = setting.design.with_factors(food="water", food_mass=0.8, wind_share=1.0)
    sound = cooked(setting, base, dice, noise=0.0)
    while True:
        name = str(dice.choice(list(CAUSES)))
        grid = plausible_values(name, base)
        value = float(grid[0] + dice.uniform() * (grid[-1] - grid[0]))
        if not CAUSES[name].evenly:
            value = float(np.exp(dice.uniform(np.log(grid[0]), np.log(grid[-1]))))
        faulty = base.with_factors(**{CAUSES[name].factor: value})
        record = cooked(setting, faulty, dice)
        moved = [record.temperature(s) - sound.temperature(s) for s in ("food", "pot")]
        if np.sqrt(np.mean(np.square(moved))) >= 2.0:
            return name, base, record


@pytest.mark.slow
@pytest.mark.compiled
def test_forty_planted_faults_are_first_or_in_an_honest_tie(setting: studies.Setting) -> None:
    """At least nine of ten stand among those that are not told apart, which are few of the twelve causes tried.

    The threshold of a tie was chosen while looking at other draws than this one. Of five such fresh draws of forty
    (seeds 101 to 105) 197 of 200 causes stood in the tie and 178 were first, with 1.3 to 1.6 causes in a tie.
    """
    dice = np.random.default_rng(101)
    held, first, ties = 0, 0, []
    for _ in range(40):
        name, base, record = planted(setting, dice)
        result = studies.diagnosis(
            replace(setting, design=base, cooks=(record,)), noise={"food": "0.3 K", "pot": "0.3 K"}
        )
        tied = result["cause"].to_numpy()[result["tied"].to_numpy() == 1].tolist()
        held += name in tied
        first += name == result["cause"].to_numpy()[0]
        ties.append(len(tied))
    assert held >= 36
    assert first >= 28
    assert np.mean(ties) <= 2.0


def lines(time: Floats) -> tuple[list[Explanation], Floats]:
    """Three explanations whose predictions are straight in their parameter, so that least squares are a formula."""
    shapes = {"slope": time, "bend": time**2, "wave": np.sin(2 * np.pi * time)}
    values = np.linspace(-2.0, 3.0, 6)
    told = [Explanation(n, lambda x, s=s: np.asarray(x)[:, None] * s, values) for n, s in shapes.items()]
    return told, np.zeros(len(time))


def readings(observed: Floats, time: Floats, *, noise: float = 0.1, shared: Floats | None = None) -> Readings:
    count = len(observed)
    nothing = np.empty((0, count))
    return Readings(
        observed, np.zeros(count, np.int64), time, np.array([noise]), nothing if shared is None else shared
    )


def test_the_value_of_a_straight_explanation_is_that_of_least_squares() -> None:
    time = np.linspace(0.0, 1.0, 50)
    observed = 1.234 * time + np.random.default_rng(2).normal(0.0, 0.1, 50)
    told, nothing = lines(time)
    found = compared(told, nothing, readings(observed, time))
    assert found.explained[0].name == "slope"
    assert found.explained[0].value == pytest.approx(float(observed @ time / (time @ time)), rel=1e-9)
    assert found.unchanged > TIED
    assert found.explained[0].criterion == 0.0


def test_a_curved_explanation_is_found_as_scipy_finds_it() -> None:
    time = np.linspace(0.0, 1.0, 80)
    curve = Explanation("decay", lambda x: np.exp(-np.outer(x, time)), np.linspace(0.1, 5.0, 25))
    observed = np.exp(-1.7 * time) + np.random.default_rng(5).normal(0.0, 0.01, 80)
    wanted = minimize_scalar(
        lambda x: float(np.sum((observed - np.exp(-x * time)) ** 2)),
        bounds=(0.1, 5.0),
        method="bounded",
        options={"xatol": 1e-9},
    ).x
    found = compared([curve, lines(time)[0][2]], np.ones(80), readings(observed, time, noise=0.01))
    assert found.explained[0].value == pytest.approx(wanted, rel=2e-3)


def test_nothing_to_explain_is_said() -> None:
    """Of noise alone, nothing changed is among the likely; its criterion is 2 lower per parameter that was not used."""
    time = np.linspace(0.0, 1.0, 200)
    observed = np.random.default_rng(8).normal(0.0, 0.1, 200)
    told, nothing = lines(time)
    assert compared(told, nothing, readings(observed, time)).unchanged <= TIED


def test_explanations_that_say_the_same_are_tied() -> None:
    time = np.linspace(0.0, 1.0, 60)
    twin = Explanation("slope in other words", lambda x: 2.0 * np.outer(x, time), np.linspace(-2.0, 2.0, 5))
    told, nothing = lines(time)
    observed = 1.5 * time + np.random.default_rng(9).normal(0.0, 0.1, 60)
    tied = compared([*told, twin], nothing, readings(observed, time)).tied
    assert {"slope", "slope in other words"} <= set(tied)
    assert "wave" not in tied


def test_an_error_that_readings_share_explains_what_it_can_and_costs_what_it_should() -> None:
    """By the definition of a normal density: the misfit with C = s2 I + j j' is r' C^-1 r."""
    time = np.linspace(0.0, 1.0, 30)
    shared = 0.4 * np.ones((1, 30))
    observed = 0.5 + 0.8 * time + np.random.default_rng(4).normal(0.0, 0.1, 30)
    told, nothing = lines(time)
    found = compared(told, nothing, readings(observed, time, shared=shared))
    each = 30 / found.independent * found.deviation[0] ** 2
    covariance = each * np.eye(30) + shared.T @ shared
    slope = next(one for one in found.explained if one.name == "slope")
    left = observed - slope.value * time
    assert slope.misfit == pytest.approx(float(left @ np.linalg.solve(covariance, left)), rel=1e-9)
    inverse = np.linalg.inv(covariance)
    assert slope.value == pytest.approx(float(time @ inverse @ observed / (time @ inverse @ time)), rel=1e-9)


def test_values_are_plausible_and_hold_what_the_design_says(setting: studies.Setting) -> None:
    for name, cause in CAUSES.items():
        grid, own = plausible_values(name, setting.design), setting.design.value(cause.factor)
        spec = setting.design.factors[cause.factor]
        assert (np.diff(grid) > 0).all()
        assert spec.low <= grid[0] < grid[-1] <= spec.high
        assert own is None or np.isclose(grid, own).any(), name


def test_a_sound_oven_needs_no_explaining_and_a_leak_is_told_with_its_next_test(
    setting: studies.Setting,
) -> None:
    base = setting.design.with_factors(food="water", food_mass=0.8, wind_share=1.0)
    dice = np.random.default_rng(21)
    sound = studies.diagnosis(replace(setting, design=base, cooks=(cooked(setting, base, dice),)))
    assert studies.sentences(sound)[0].startswith("Nothing needs explaining")
    leaky = cooked(setting, base.with_factors(leak_area=3e-3), dice)
    result = studies.diagnosis(
        replace(setting, design=base, cooks=(leaky,)), causes=["leak", "wet insulation", "dull mirror"]
    )
    assert "leak" in result["cause"].to_numpy()[result["tied"].to_numpy() == 1]
    assert {str(d.name) for d in studies.drawn(result)} >= {"causes", "explained"}
    text = " ".join(studies.sentences(result))
    assert "leak" in text
    assert "causes that were not tried are not ruled out" in text


def test_a_cook_with_nothing_to_compare_is_told(setting: studies.Setting) -> None:
    with pytest.raises(studies.StudyError, match="cooks: 0 readings of thermometers can be compared"):
        studies.diagnosis(
            replace(setting, cooks=(weather(setting),))
        )  # whose thermometers were read but once


def test_faults_of_a_diagnosis(setting: studies.Setting) -> None:
    with pytest.raises(studies.StudyError, match=r'causes: "leek" is none; did you mean leak\?'):
        studies.diagnosis(replace(setting, cooks=(weather(setting),)), causes=["leek", "fogged cover"])
    with pytest.raises(studies.StudyError, match="cooks: there is none"):
        studies.diagnosis(setting)
