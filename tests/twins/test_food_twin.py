"""Food against slow twins: plain Python over one history, from the formulas in the docstrings.

Doses by Gauss-Legendre quadrature of 10^((T - reference)/z) over straight pieces, times by bisection, bands by the
crossings of each piece; boiling by an outside root finder on the printed equation; the atmosphere by its
hydrostatic balance; shells by quadrature of the parabola.
"""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import bisect

from noonhearth.model import Design, Table, load_catalogue
from noonhearth.model.food import (
    COOK_REFERENCE,
    COOK_Z,
    Food,
    HeatNeed,
    boiling_temperature,
    centre_temperature,
    coldest_temperature,
    contents,
    cook_value,
    find_food,
    first_time,
    latent_heat,
    lethality,
    load_foods,
    pressure_at_altitude,
    saturation_pressure,
    time_between,
    time_to,
)
from noonhearth.model.meal import cooked

STEP = 60.0
LOW, HIGH = 278.15, 333.15  # K; the band in which germs grow
NODES, WEIGHTS = (part.tolist() for part in np.polynomial.legendre.leggauss(24))
kelvins = st.floats(270.0, 395.0) | st.sampled_from([LOW, HIGH, 343.15, COOK_REFERENCE])
histories = st.lists(kelvins, min_size=2, max_size=12)
needs = st.builds(
    HeatNeed,
    seconds=st.floats(1.0, 3000.0),
    z=st.floats(5.0, 45.0),
    reference=st.floats(340.0, 375.0),
    least_temperature=st.sampled_from([0.0, HIGH, 338.0]),
    source=st.just("test"),
)
quiet = settings(max_examples=50, deadline=None, derandomize=True)


def at(history: list[float], time: float) -> float:
    """Temperature on the straight line between two instants."""
    k = min(int(time // STEP), len(history) - 2)
    share = time / STEP - k
    return history[k] + share * (history[k + 1] - history[k])


def cuts(start: float, end: float, levels: tuple[float, ...]) -> list[float]:
    """Shares of a step at which its straight line passes one of the levels, with both ends."""
    inside = [
        (level - start) / (end - start) for level in levels if min(start, end) < level < max(start, end)
    ]
    return sorted([0.0, *inside, 1.0])


def slow_dose(history: list[float], until: float, need: HeatNeed) -> float:
    """Dose up to a moment."""
    dose = 0.0
    for k, (start, end) in enumerate(itertools.pairwise(history)):
        stop = min(max(until / STEP - k, 0.0), 1.0)
        last = start + stop * (end - start)
        edges = cuts(start, last, (need.least_temperature,)) if stop > 0 else [0.0]
        for a, b in itertools.pairwise(edges):
            middle = start + (a + b) / 2 * (last - start)
            if middle >= need.least_temperature:
                half = (b - a) / 2 * (last - start)
                rates = (
                    weight * 10 ** ((middle + half * node - need.reference) / need.z)
                    for node, weight in zip(NODES, WEIGHTS, strict=True)
                )
                dose += stop * STEP * (b - a) / 2 * sum(rates)
    return dose


def slow_time(history: list[float], need: HeatNeed) -> float:
    """When the dose is full; nan if never."""
    whole = STEP * (len(history) - 1)
    if slow_dose(history, whole, need) < need.seconds:
        return math.nan
    return bisect(lambda t: slow_dose(history, t, need) - need.seconds, 0.0, whole, xtol=1e-9)


def slow_band(history: list[float]) -> tuple[float, float]:
    """Seconds between 5 and 60 degC before and after the (first) hottest instant."""
    hottest = history.index(max(history))
    sums = [0.0, 0.0]
    for k, (start, end) in enumerate(itertools.pairwise(history)):
        edges = cuts(start, end, (LOW, HIGH))
        for a, b in itertools.pairwise(edges):
            if LOW <= start + (a + b) / 2 * (end - start) <= HIGH:
                sums[k >= hottest] += STEP * (b - a)
    return sums[0], sums[1]


def slow_first(history: list[float], required: float) -> float:
    """When a history first comes up to a value; nan if never."""
    if history[0] >= required:
        return 0.0
    for k, (start, end) in enumerate(itertools.pairwise(history)):
        if end >= required:
            return STEP * (k + (required - start) / (end - start))
    return math.nan


def slow_hot(history: list[float], since: float) -> float:
    """Seconds at 60 degC or above from a moment on."""
    hot = 0.0
    for k, (start, end) in enumerate(itertools.pairwise(history)):
        edges = sorted({*cuts(start, end, (HIGH,)), min(max(since / STEP - k, 0.0), 1.0)})
        for a, b in itertools.pairwise(edges):
            if STEP * (k + a) >= since - 1e-9 and start + (a + b) / 2 * (end - start) >= HIGH:
                hot += STEP * (b - a)
    return hot


@quiet
@given(histories, needs)
def test_running_dose(history: list[float], need: HeatNeed) -> None:
    fast = lethality(
        np.array(history),
        step=STEP,
        z=need.z,
        reference=need.reference,
        least_temperature=need.least_temperature,
    )
    slow = [slow_dose(history, STEP * k, need) for k in range(len(history))]
    np.testing.assert_allclose(fast, slow, rtol=1e-9, atol=1e-12)


@quiet
@given(histories)
def test_cook_value(history: list[float]) -> None:
    need = HeatNeed(seconds=1.0, z=COOK_Z, reference=COOK_REFERENCE, least_temperature=0.0, source="test")
    fast = cook_value(np.array(history), step=STEP)
    assert fast[-1] == pytest.approx(slow_dose(history, STEP * (len(history) - 1), need), rel=1e-10)


@quiet
@given(histories, needs)
def test_time_of_a_dose(history: list[float], need: HeatNeed) -> None:
    fast, slow = time_to(np.array(history), step=STEP, need=need), slow_time(history, need)
    if not math.isnan(slow) or not math.isnan(fast.time):
        total = slow_dose(history, STEP * (len(history) - 1), need)
        if total == pytest.approx(need.seconds, rel=1e-9):  # full just at the end: rounding decides
            return
        at_it = at(history, slow)
        rate = max(need.rate(at_it + 1e-9), need.rate(at_it - 1e-9), 1e-3)
        assert float(fast.time) == pytest.approx(slow, abs=1e-6 + 1e-8 * need.seconds / rate)
    assert fast.total == pytest.approx(slow_dose(history, STEP * (len(history) - 1), need), rel=1e-9)


@quiet
@given(histories)
def test_time_in_the_band(history: list[float]) -> None:
    fast = time_between(np.array(history), step=STEP)
    assert (float(fast.warming), float(fast.cooling)) == pytest.approx(slow_band(history), abs=1e-6)


@quiet
@given(histories, kelvins)
def test_first_time_at_a_temperature(history: list[float], required: float) -> None:
    """In the step in which the straight line comes up; where in it is another test's."""
    fast, slow = first_time(np.array(history), step=STEP, required=required), slow_first(history, required)
    np.testing.assert_array_equal(np.isnan(fast.time), np.isnan(slow))
    if slow > 0:
        step = math.ceil(slow / STEP - 1e-9)
        assert STEP * (step - 1) - 1e-6 <= fast.time <= STEP * step + 1e-6


@pytest.mark.parametrize("name", ["rice", "beans", "chicken", "water", "bread"])
@settings(max_examples=6, deadline=None, derandomize=True)
@given(data=st.data())
def test_a_meal(name: str, data: st.DataObject, design: Design) -> None:
    """All that is said of a meal, from four hours of its centre and its coldest part."""
    foods = load_catalogue().foods
    food = foods[name]
    centre = rising_and_falling(data)
    coldest = [min(t, t - 8.0 * data.draw(st.floats(0, 1))) for t in centre]
    minutes = [
        [float(t) for t in np.interp(np.arange(241) / 24, np.arange(11), part)] for part in (centre, coldest)
    ]
    table = Table(design.with_factors(food=name, food_mass=0.3), {}, 1)
    fast = cooked(table, *(np.array(part)[None, None] for part in minutes), step=STEP, foods=foods)
    safe = slow_safe(food, minutes[0])
    tender = slow_time(minutes[0], food.cook) if food.cook else safe
    done = max(safe, tender) if safe == safe and tender == tender else math.nan
    warming, cooling = slow_band(minutes[1])
    cook = HeatNeed(seconds=1.0, z=COOK_Z, reference=COOK_REFERENCE, least_temperature=0.0, source="test")
    slow = {
        "safe_after": safe,
        "done_after": done,
        "cook_dose": slow_dose(minutes[0], 240 * STEP, cook),
        "lukewarm": warming + (cooling if math.isnan(safe) else 0.0),
        "held_hot": 0.0 if math.isnan(done) else slow_hot(minutes[1], done),
        "cooled": cooling,
    }
    for field, value in fast._asdict().items():
        np.testing.assert_allclose(value.item(), slow[field], rtol=1e-6, atol=1e-3, err_msg=field)


def rising_and_falling(data: st.DataObject) -> list[float]:
    """Eleven temperatures that rise and fall, most hot enough to cook."""
    return data.draw(st.lists(st.floats(290.0, 375.0), min_size=11, max_size=11))


def slow_safe(food: Food, centre: list[float]) -> float:
    """The later of the killing dose and the peak; nan if either never comes."""
    times = [0.0]
    if food.kill:
        times.append(slow_time(centre, food.kill))
    if food.safe_peak:
        times.append(slow_first(centre, food.safe_peak))
    return math.nan if any(math.isnan(t) for t in times) else max(times)


# ---- boiling


def ln_pressure(temperature: float) -> float:
    """ln(p/pc) of Wagner and Pruss (1993), eq. 1, as printed."""
    t = 1 - temperature / 647.096
    return (647.096 / temperature) * (
        -7.85951783 * t
        + 1.84408259 * t**1.5
        - 11.7866497 * t**3
        + 22.6807411 * t**3.5
        - 15.9618719 * t**4
        + 1.80122502 * t**7.5
    )


def densities(temperature: float) -> tuple[float, float]:
    """Of liquid and vapour, eqs. 2 and 3. [kg/m3]"""
    t = (1 - temperature / 647.096) ** (1 / 6)
    liquid = (
        1
        + 1.99274064 * t**2
        + 1.09965342 * t**4
        - 0.510839303 * t**10
        - 1.75493479 * t**32
        - 45.5170352 * t**86
        - 6.74694450e5 * t**220
    )
    vapour = (
        -2.03150240 * t**2
        - 2.68302940 * t**4
        - 5.38626492 * t**8
        - 17.2991605 * t**18
        - 44.7586581 * t**37
        - 63.9201063 * t**71
    )
    return 322.0 * liquid, 322.0 * math.exp(vapour)


@quiet
@given(st.floats(275.0, 640.0))
def test_saturation_and_its_heat(temperature: float) -> None:
    pressure = 22.064e6 * math.exp(ln_pressure(temperature))
    assert saturation_pressure(temperature) == pytest.approx(pressure, rel=1e-12)
    rise = (
        22.064e6
        * (math.exp(ln_pressure(temperature + 0.01)) - math.exp(ln_pressure(temperature - 0.01)))
        / 0.02
    )
    liquid, vapour = densities(temperature)
    assert latent_heat(temperature) == pytest.approx(temperature * rise * (1 / vapour - 1 / liquid), rel=1e-6)


@quiet
@given(st.floats(1300.0, 1.9e7))
def test_boiling_is_where_saturation_meets_the_pressure(pressure: float) -> None:
    slow = bisect(lambda t: ln_pressure(t) - math.log(pressure / 22.064e6), 274.0, 646.9, xtol=1e-11)
    assert boiling_temperature(pressure) == pytest.approx(slow, abs=1e-8)


@pytest.mark.parametrize("altitude", [-430.0, 0.0, 1450.0, 3600.0, 9000.0])
def test_air_weighs_what_stands_on_it(altitude: float) -> None:
    """dp/dh = -p g(h) M/(R T), gravity falling with height, temperature with geopotential height."""

    def fall(height: float, p: np.ndarray) -> np.ndarray:
        gravity = 9.80665 * (6_356_766.0 / (6_356_766.0 + height)) ** 2
        temperature = 288.15 - 0.0065 * 6_356_766.0 * height / (6_356_766.0 + height)
        return -p * gravity * 0.0289644 / (8.31432 * temperature)

    slow = (
        solve_ivp(fall, (0.0, altitude), [101_325.0], rtol=1e-11, atol=1e-6).y[0, -1]
        if altitude
        else 101_325.0
    )
    assert pressure_at_altitude(altitude) == pytest.approx(slow, rel=1e-9)


# ---- portions


@pytest.mark.parametrize("name", [n for n, f in load_foods().items() if f.kind == "solid"])
@pytest.mark.parametrize("mass", [0.2, 1.7])
def test_shells_of_a_solid(name: str, mass: float) -> None:
    """Conductances and offsets from the parabola of a body that warms by one kelvin a second."""
    food, area = find_food(name), 0.06
    d, radius = food.dimension, float(food.half_width(mass))
    k, density, middle = food.conductivity, food.density, 333.15
    alpha = k / (density * food.composition.specific_heat(middle))
    capacity = mass * food.composition.specific_heat(middle)

    def lag(r: float) -> float:
        return (radius**2 - r**2) / (2 * d * alpha)

    edges = [radius * (third / 3) ** (1 / d) for third in range(4)]
    core, _, outer = (
        quad(lambda r: lag(r) * d * r ** (d - 1), a, b)[0] * 3 / radius**d
        for a, b in itertools.pairwise(edges)
    )
    part = contents(food, mass=mass, wetted_area=area)
    assert part.shell_conductance == pytest.approx(capacity / (core - outer), rel=1e-9)
    face = min(d * mass / density / radius, area)
    assert part.film_conductance == pytest.approx(1 / (1 / (food.film * face) + outer / capacity), rel=1e-9)
    shells = np.array([0.0, -2 / 3, -1.0]) * (
        core - outer
    )  # middle gets 2/3 of the flow it and the core share
    mean = shells.mean() - shells[2]
    assert part.centre_offset == pytest.approx((lag(0.0) - core) / mean, rel=1e-9)
    assert part.surface_offset == pytest.approx(core / mean, rel=1e-9)


@quiet
@given(
    core=st.floats(280.0, 370.0),
    gap=st.floats(-15.0, 15.0),
    offsets=st.tuples(st.floats(0.0, 1.5), st.floats(1.0, 6.0)),
    start=st.floats(275.0, 300.0),
)
def test_coldest_of_all_places(core: float, gap: float, offsets: tuple[float, float], start: float) -> None:
    """Of the centre and the surface the colder, whichever way the parabola stands."""
    centre, surface = core - offsets[0] * gap, core + offsets[1] * gap
    centre = max(centre, min(start, core))
    history = np.array([core, core])
    mean = history + gap
    found = coldest_temperature(
        history, mean, centre_offset=offsets[0], surface_offset=offsets[1], start=start
    )
    np.testing.assert_allclose(found, min(centre, surface), rtol=1e-14)
    np.testing.assert_allclose(centre_temperature(history, mean, offsets[0], start=start), centre, rtol=1e-14)
