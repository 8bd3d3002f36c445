"""A slow, obvious oven: laws with powers as their sources print them, heat summed node by node, phases by events.

No matrix, no frozen conductance, no step of a minute. Only fits of fluid properties are taken from the
package; they answer to other tests. Sun and tilt run straight between corners and jump there - a re-aiming, a
cloud - and Radau starts afresh at every corner: an adaptive method left alone steps over some of them. Air, sky
and wind change smoothly. Compiled, since Radau asks for the balance some ten thousand times a day.
"""

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from scipy.integrate import solve_ivp

from noonhearth.model.heat import Build, Histories, Weather, air, run, water

SIGMA, GRAVITY, PRANDTL = 5.670374419e-8, 9.80665, 0.70
MINUTES = 360
HEATING, BOILING, DRY = 0, 1, 2


class Now(NamedTuple):
    """What the oven feels at one moment; SI."""

    air: float
    sky: float
    wind: float
    pressure: float
    vapour: float
    tilt: float
    pot: float
    sheet: float
    cover: float


class Course(NamedTuple):
    """The sun on one oven, piece by piece: corners [min], share of full sun at either end, tilt [rad]."""

    corners: np.ndarray
    start: np.ndarray
    end: np.ndarray
    tilt: np.ndarray


class Conductances(NamedTuple):
    """Every conductance that depends on temperature but for radiation. [W/K]"""

    pot_air: float
    sheet_air: float
    cover_air: float
    cover_wind: float
    shell_wind: float
    through_cover: float
    leak: float


def extreme_designs(count, seed):
    """Ovens from cardboard to cast iron: every number drawn over its whole plausible range."""
    draw = np.random.default_rng(seed)

    def spread(low, high):
        return np.exp(draw.uniform(math.log(low), math.log(high), count))

    radius, height, mouth = spread(0.06, 0.16), spread(0.06, 0.22), spread(0.12, 1.4)
    water_mass = np.where(draw.random(count) < 0.3, 0.0, spread(0.3, 4.0))
    return Build(
        solid_capacity=np.where(water_mass > 0, draw.uniform(100, 3e3, count), spread(1.5e3, 1.2e4)),
        water_mass=water_mass,
        contents_start=draw.uniform(277, 310, count),
        shell_conductance=spread(1.0, 3e3),
        film_conductance=spread(2.0, 60.0),
        boiling_temperature=draw.uniform(357, 373.1, count),
        vent_conductance=np.where(draw.random(count) < 0.5, 0.0, spread(1e-11, 2e-9)),
        pot_capacity=spread(200, 4e3),
        pot_lid_area=math.pi * radius**2,
        pot_side_area=2 * math.pi * radius * height,
        pot_bottom_area=math.pi * radius**2 * draw.uniform(0.5, 1.0, count),  # so that lid and bottom differ
        pot_radius=radius,
        pot_height=height,
        pot_cover_exchange=spread(0.005, 0.06),
        pot_sheet_exchange=spread(0.001, 0.03),
        sheet_cover_exchange=spread(0.005, 0.1),
        air_capacity=spread(15, 400),
        cavity_height=spread(0.15, 0.7),
        leak_area=np.where(draw.random(count) < 0.3, 0.0, spread(1e-6, 5e-4)),
        sheet_capacity=spread(200, 8e3),
        sheet_area=mouth * spread(1.5, 3),
        sheet_length=spread(0.15, 0.8),
        insulation_conductance=mouth * spread(0.4, 6),
        insulation_capacity=spread(50, 1e4),
        rim_conductance=np.where(draw.random(count) < 0.3, 0.0, spread(0.01, 1)),
        shell_capacity=spread(300, 3e4),
        shell_area=mouth * spread(2, 5),
        shell_height=spread(0.2, 0.8),
        shell_emittance=draw.uniform(0.05, 0.95, count),
        cover_area=mouth,
        cover_length=0.25 * np.sqrt(mouth),
        cover_capacity=mouth * spread(2e3, 1.5e4),
        cover_conductance=spread(30, 400),
        gap_thickness=np.where(draw.random(count) < 0.5, 0.0, spread(5e-3, 3e-2)),
        cover_emittance=draw.uniform(0.5, 0.95, count),
    )


@njit
def weather_at(time):
    """Air, sky [K], wind [m/s], pressure and vapour [Pa] at a time [s]."""
    noon = math.sin(math.pi * time / (MINUTES * 60.0))
    return 288 + 12 * noon, 265 + 14 * noon, 2.5 + 2.4 * math.sin(time / 1700.0), 84e3, 1100.0


def broken_course(seed, cloudy=0.15):
    """The aim corrected every 4 to 40 minutes, up to two fifths of the sun lost by then, and clouds."""
    draw = np.random.default_rng(seed)
    corners = [0]
    while corners[-1] < MINUTES:
        corners.append(corners[-1] + int(draw.integers(4, 41)))
    corners[-1] = MINUTES
    corners = np.array(corners)
    noon = np.sqrt(np.sin(np.pi * np.clip(corners / MINUTES, 0.01, 0.99)))
    pieces = len(corners) - 1
    cloud = np.where(draw.random(pieces) < cloudy, 0.15, 1.0)
    tilt = 0.15 + 1.1 * np.abs((corners[1:] + corners[:-1]) / MINUTES - 1)
    return Course(corners, noon[:-1] * cloud, noon[1:] * cloud * draw.uniform(0.6, 1.0, pieces), tilt)


def smooth_course():
    """One piece all day: sun that dwindles evenly on an oven that stands still."""
    return Course(np.array([0, MINUTES]), np.array([1.0]), np.array([0.6]), np.array([0.5]))


def full_sun(builds, seed):
    """Watts on pot, sheet and cover at full sun, float64[lane, 3]: 600 to 2400 W for every m2 of pot."""
    count = len(builds.pot_radius)
    draw = np.random.default_rng([seed, 1])
    pot_area = 2 * builds.pot_lid_area + builds.pot_side_area
    shares = [np.ones(count), draw.uniform(0.05, 0.4, count), draw.uniform(0.03, 0.2, count)]
    return (pot_area * draw.uniform(600, 2400, count))[:, None] * np.stack(shares, axis=1)


@njit
def film_of(hot, cold, p):
    """Conductivity of the film, and Rayleigh number per cubic metre."""
    film = (hot + cold) / 2
    nu, alpha = air.kinematic_viscosity(film, p), air.diffusivity(film, p)
    return air.conductivity(film), GRAVITY / film * abs(hot - cold) / (nu * alpha)


@njit
def inclined(surface, fluid, length, along, across, unstable, p):
    """Film coefficient of one side of an inclined plate. [W/(m2 K)]"""
    k, per_volume = film_of(surface, fluid, p)
    Ra = per_volume * length**3
    upright = (0.825 + 0.387 * (Ra * along) ** (1 / 6) / (1 + (0.492 / PRANDTL) ** (9 / 16)) ** (8 / 27)) ** 2
    flat = Ra * across
    level = max(0.54 * flat**0.25, 0.15 * flat ** (1 / 3)) if unstable else 0.27 * flat**0.25
    return k / length * max(upright, level)


@njit
def conductances(b, t, now):
    """All of them at temperatures `t`, float64[node]."""
    pot, cavity, sheet, shell, inner, cover = t[3], t[4], t[5], t[7], t[8], t[9]
    p, cosine, sine = now.pressure, math.cos(now.tilt), math.sin(now.tilt)
    shape = 1 + (0.492 / PRANDTL) ** (9 / 16)
    k, per_volume = film_of(pot, cavity, p)
    Ra_side, Ra_disc = per_volume * b.pot_height**3, per_volume * (b.pot_radius / 2) ** 3
    side = 0.68 + 0.670 * Ra_side**0.25 / shape ** (4 / 9)
    strong, weak = max(0.54 * Ra_disc**0.25, 0.15 * Ra_disc ** (1 / 3)), 0.27 * Ra_disc**0.25
    if pot > cavity:
        lid, bottom = strong, weak
    else:
        lid, bottom = weak, strong
    pot_air = k * b.pot_side_area * side / b.pot_height + k * (
        b.pot_lid_area * lid + b.pot_bottom_area * bottom
    ) / (b.pot_radius / 2)
    sheet_air = b.sheet_area * inclined(sheet, cavity, b.sheet_length, 1.0, cosine, sheet > cavity, p)
    cover_air = b.cover_area * inclined(inner, cavity, b.cover_length, sine, cosine, inner < cavity, p)
    free_cover = inclined(cover, now.air, b.cover_length, sine, cosine, cover > now.air, p)
    cover_wind = b.cover_area * max(free_cover, 2.8 + 3 * now.wind)
    k, per_volume = film_of(shell, now.air, p)
    upright = (0.825 + 0.387 * (per_volume * b.shell_height**3) ** (1 / 6) / shape ** (8 / 27)) ** 2
    shell_wind = b.shell_area * max(k * upright / b.shell_height, 2.8 + 3 * now.wind)
    across = 1 / b.cover_conductance
    if b.gap_thickness > 0:
        k, per_volume = film_of(inner, cover, p)
        beta = min(now.tilt, math.radians(75))
        Ra = per_volume * b.gap_thickness**3 * math.cos(beta) if inner > cover else 0.0
        Nu = 1.0
        if Ra > 1708:
            Nu += 1.44 * (1 - 1708 * math.sin(1.8 * beta) ** 1.6 / Ra) * (1 - 1708 / Ra)
        if Ra > 5830:
            Nu += (Ra / 5830) ** (1 / 3) - 1
        radiant = SIGMA * (inner**2 + cover**2) * (inner + cover) / (2 / b.cover_emittance - 1)
        across = 1 / (k * Nu / b.gap_thickness + radiant) + 1 / b.cover_conductance
    through_cover = b.cover_area / across
    mean = (cavity + now.air) / 2
    pull = GRAVITY * b.cavity_height * abs(cavity - now.air) / mean + 0.25 * now.wind**2
    leak = b.leak_area / 2 * math.sqrt(pull) * air.density(mean, p) * air.specific_heat(mean)
    return Conductances(pot_air, sheet_air, cover_air, cover_wind, shell_wind, through_cover, leak)


@njit
def radiated(area_emittance, surface, share, now):
    """Long wave from a surface that sees a share of sky and else ground. [W]"""
    sky, ground = surface**4 - now.sky**4, surface**4 - now.air**4
    return SIGMA * area_emittance * (share * sky + (1 - share) * ground)


@njit
def heat_into(b, t, now):
    """Heat into each node but for steam, float64[node]. [W]"""
    outer, middle, core, pot, cavity = t[0], t[1], t[2], t[3], t[4]
    sheet, insulation, shell, inner, cover = t[5], t[6], t[7], t[8], t[9]
    g = conductances(b, t, now)
    to_middle, to_core = b.shell_conductance * (outer - middle), b.shell_conductance * (middle - core)
    film = b.film_conductance * (pot - outer)
    convected = g.pot_air * (pot - cavity)
    to_sheet, to_inner = g.sheet_air * (cavity - sheet), g.cover_air * (cavity - inner)
    pot_cover = SIGMA * b.pot_cover_exchange * (pot**4 - inner**4)
    pot_sheet = SIGMA * b.pot_sheet_exchange * (pot**4 - sheet**4)
    sheet_cover = SIGMA * b.sheet_cover_exchange * (sheet**4 - inner**4)
    leaked = g.leak * (cavity - now.air)
    into_wool = 2 * b.insulation_conductance * (sheet - insulation)
    out_of_wool = 2 * b.insulation_conductance * (insulation - shell)
    rim = b.rim_conductance * (sheet - shell)
    through = g.through_cover * (inner - cover)
    view = (1 + math.cos(now.tilt)) / 2
    shell_view = max(b.shell_area - b.cover_area * math.cos(now.tilt), 0.0) / 2 / b.shell_area
    from_cover = g.cover_wind * (cover - now.air) + radiated(
        b.cover_area * b.cover_emittance, cover, view, now
    )
    from_shell = g.shell_wind * (shell - now.air) + radiated(
        b.shell_area * b.shell_emittance, shell, shell_view, now
    )
    heat = np.empty(10)
    heat[0] = film - to_middle
    heat[1] = to_middle - to_core
    heat[2] = to_core
    heat[3] = now.pot - film - convected - pot_cover - pot_sheet
    heat[4] = convected - to_sheet - to_inner - leaked
    heat[5] = now.sheet + to_sheet + pot_sheet - sheet_cover - into_wool - rim
    heat[6] = into_wool - out_of_wool
    heat[7] = out_of_wool + rim - from_shell
    heat[8] = now.cover / 2 + to_inner + pot_cover + sheet_cover - through
    heat[9] = now.cover / 2 + through - from_cover
    return heat


@njit
def capacity(b, mass):
    """Heat capacity of each node. [J/K]"""
    third = b.solid_capacity / 3
    c = np.empty(10)
    c[0] = third + water.SPECIFIC_HEAT * mass
    c[1] = c[2] = third
    c[3] = b.pot_capacity
    c[4] = b.air_capacity
    c[5] = b.sheet_capacity
    c[6] = b.insulation_capacity
    c[7] = b.shell_capacity
    c[8] = c[9] = b.cover_capacity / 2
    return c


@njit
def now_at(time, piece):
    """What is felt at a time in a piece: begin, end, share of sun at either, tilt, watts at full sun."""
    outside, sky, wind, pressure, vapour = weather_at(time)
    sun = piece[2] + (piece[3] - piece[2]) * (time - piece[0]) / (piece[1] - piece[0])
    return Now(outside, sky, wind, pressure, vapour, piece[4], piece[5] * sun, piece[6] * sun, piece[7] * sun)


@njit
def vented(b, outer, now):
    """Heat of steam by the lid. [W]"""
    excess = max(water.saturation_pressure(outer) - now.vapour, 0.0)
    return b.vent_conductance * water.latent_heat(outer) * excess


@njit
def rates(y, phase, b, now):
    """Right-hand side of ten temperatures and the water, in one phase."""
    heat = heat_into(b, y[:10], now)
    steam = 0.0
    if phase == BOILING:
        steam = heat[0]
    elif phase == HEATING:
        steam = vented(b, y[0], now)
    heat[0] -= steam
    out = np.empty(11)
    out[:10] = heat / capacity(b, max(y[10], 0.0))
    out[10] = -steam / water.latent_heat(y[0])
    return out


@njit
def slopes(y, phase, b, now):
    """Jacobian of `rates` by differences, so that Radau need not ask for it a column at a time."""
    here = rates(y, phase, b, now)
    jacobian = np.empty((11, 11))
    for column in range(11):
        beside = y.copy()
        beside[column] += 1e-6 * max(abs(y[column]), 1.0)
        jacobian[:, column] = (rates(beside, phase, b, now) - here) / (beside[column] - y[column])
    return jacobian


@njit
def surplus(y, b, now):
    """Heat that boils water beyond what vents; below zero boiling ends. [W]"""
    return heat_into(b, y[:10], now)[0] - vented(b, y[0], now)


def piece_rows(b, now, span, y, phase, every, **options):
    """One piece through as many phases as it takes: rows, end, phase, and when a phase began.

    `now` gives what is felt at a time within `span`, smoothly.
    """

    def boils(time, y):
        return y[0] - b.boiling_temperature

    def calms(time, y):
        return surplus(y, b, now(time))

    def dries(time, y):
        return y[10]

    boils.terminal = calms.terminal = dries.terminal = True
    boils.direction, calms.direction, dries.direction = 1, -1, -1
    begin, end = span
    marks = begin + np.arange(1, round((end - begin) / every) + 1) * every
    rows, turns = [], []
    while True:
        events = {HEATING: [boils, dries], BOILING: [calms, dries], DRY: []}[phase]
        solution = solve_ivp(
            lambda time, y, phase=phase: rates(y, phase, b, now(time)),
            (begin, end),
            y,
            t_eval=marks[marks > begin],
            events=events,
            **({"jac": lambda time, y, phase=phase: slopes(y, phase, b, now(time))} | options),
        )
        assert solution.success
        if len(solution.t):
            rows.extend(solution.y.T)
        if solution.status == 0:
            return rows, solution.y[:, -1], phase, turns
        which = next(i for i, times in enumerate(solution.t_events) if len(times))
        begin, y = solution.t_events[which][-1], solution.y_events[which][-1].copy()
        if events[which] is dries:
            phase, y[10] = DRY, 0.0
        elif events[which] is boils:
            phase, y[0] = BOILING, b.boiling_temperature
        else:
            phase, y[0] = HEATING, b.boiling_temperature - 1e-9
        turns.append((begin, phase))


RADAU = {"method": "Radau", "rtol": 1e-7, "atol": 1e-7}  # contents within 3e-5 K of a tenth of it


def day_of(b, course, watts, every, options=RADAU):
    """Ten temperatures and the water every so many seconds, float64[moment, 11], and when phases began [s]."""
    y = np.full(11, weather_at(0.0)[0])
    y[:3], y[10] = b.contents_start, b.water_mass
    phase, rows, turns = HEATING if b.water_mass > 0 else DRY, [y.copy()], []
    ends = 60.0 * course.corners
    for begin, end, first, last, tilt in zip(
        ends[:-1], ends[1:], course.start, course.end, course.tilt, strict=True
    ):
        piece = np.array([begin, end, first, last, tilt, *watts])
        more, y, phase, when = piece_rows(
            b, lambda time, piece=piece: now_at(time, piece), (begin, end), y, phase, every, **options
        )
        rows.extend(more)
        turns.extend(when)
    return np.array(rows), turns


def lane_of(builds, lane):
    """One design as floats."""
    return type(builds)(*(float(column[lane]) for column in builds))


def inputs_of(builds: Build, courses: list[Course], watts: np.ndarray, step: float = 60.0) -> dict:
    """What `run` asks for the same days."""
    per_minute = round(60 / step)
    steps = MINUTES * per_minute
    outside = np.array([weather_at(n * step) for n in range(steps + 1)]).T
    sun, tilt = np.empty((2, len(courses), steps))
    for lane, course in enumerate(courses):
        corners = course.corners * per_minute
        for k in range(len(course.tilt)):
            here = slice(corners[k], corners[k + 1])
            along = (np.arange(corners[k + 1] - corners[k]) + 0.5) / (corners[k + 1] - corners[k])
            sun[lane, here] = course.start[k] + (course.end[k] - course.start[k]) * along
            tilt[lane, here] = course.tilt[k]
    warm, sky, wind, pressure, vapour = outside[:, None]
    return {
        "build": builds,
        "weather": Weather(warm, sky, wind, pressure, tilt, vapour),
        "lane_day": np.zeros(len(courses), np.int64),
        "intake": watts[:, None, :] * sun[:, :, None],
        "lane_track": np.arange(len(courses)),
        "step": step,
    }


def marched(builds: Build, courses: list[Course], watts: np.ndarray, step: float = 60.0) -> Histories:
    """The package's answer to the same days, with every node recorded."""
    return run(**inputs_of(builds, courses, watts, step), record=True)
