"""Ovens that came out otherwise than described: light, loss and coupling each act where they say, and nowhere else."""

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from noonhearth import studies
from noonhearth.model import AsBuilt, DescriptionError, heat, lossy, simulate
from noonhearth.model.design import Table
from noonhearth.model.heat import Build, Flow, Node, Weather
from noonhearth.studies.config import load

CONFIG = Path(__file__).parents[1] / "oven.toml"
AREAS = (
    *("pot_lid_area", "pot_side_area", "pot_bottom_area", "pot_cover_exchange", "pot_sheet_exchange"),
    *("sheet_cover_exchange", "leak_area", "sheet_area", "insulation_conductance", "rim_conductance"),
    *("shell_area", "cover_area"),
)  # all that heat passes on its way from the pot to the sky; lengths and heights stay
LOSSES = [Flow.COVER_CONVECTION, Flow.COVER_RADIATION, Flow.SHELL_CONVECTION, Flow.SHELL_RADIATION, Flow.LEAK]


def oven(**changes) -> Build:
    """An ordinary oven, made up: a pot with 0.8 kg of solids and 1 kg of water that does not leave."""
    numbers = Build(
        *(2500.0, 1.0, 350.0, 40.0, 12.0, 372.0, 0.0),
        *(600.0, 0.03, 0.07, 0.03, 0.1, 0.12, 0.04, 0.01, 0.03, 90.0, 0.4, 2e-4),
        *(1200.0, 0.7, 0.4, 1.0, 1500.0, 0.05, 4000.0, 1.4, 0.45, 0.9),
        *(0.4, 0.16, 2500.0, 60.0, 0.015, 0.9),
    )
    return numbers._replace(**changes)


def columns(build: Build, lanes: int) -> Build:
    return Build(*(np.broadcast_to(np.asarray(value, float), lanes).copy() for value in build))


def still(steps: int) -> Weather:
    row = np.full((1, steps + 1), 1.0)
    return Weather(295 * row, 280 * row, 1.5 * row, 95e3 * row, np.full((1, steps), 0.6), 800 * row)


@pytest.mark.compiled
def test_more_loss_is_the_same_oven_with_every_area_in_proportion() -> None:
    """Against the plain heat balance of an oven whose faces, joints and bridges are all r times as large."""
    ratio, steps = np.array([0.4, 1.0, 1.7, 3.0]), 300
    build, days = columns(oven(), 4), np.zeros(4, np.int64)
    sun = np.where(np.arange(steps) < 180, 1.0, 0.0)[None, :, None] * np.array([160.0, 50.0, 30.0])
    intake = np.broadcast_to(sun, (4, steps, 3)).copy()
    ours = lossy.run(build, still(steps), days, intake, loss_ratio=ratio, record=True)
    larger = build._replace(**{name: ratio * getattr(build, name) for name in AREAS})
    theirs = heat.run(larger, still(steps), days, intake, record=True)
    assert np.abs(ours.temperatures - theirs.temperatures).max() < 1e-9
    assert ours.flows == pytest.approx(theirs.flows, rel=1e-9, abs=1e-4)
    assert ours.water == pytest.approx(theirs.water, rel=1e-12)
    assert ours.end_water == pytest.approx(theirs.end_water, rel=1e-12)
    settled = lossy.plateau(build, loss_ratio=ratio, intake=intake[:, 0], **rest())
    expected = heat.plateau(larger, intake=intake[:, 0], **rest())
    assert np.abs(settled.temperatures - expected.temperatures).max() < 1e-7
    assert settled.steam == pytest.approx(expected.steam, rel=1e-6, abs=1e-6)


def rest() -> dict[str, float]:
    return {
        "air_temperature": 295.0,
        "sky_temperature": 280.0,
        "wind_speed": 1.5,
        "pressure": 95e3,
        "tilt": 0.6,
    }


@pytest.mark.compiled
def test_without_sun_the_loss_of_a_pot_held_hot_goes_exactly_with_the_ratio() -> None:
    ratio, steps = np.array([0.5, 1.0, 2.0, 4.0]), 96
    held = columns(
        oven(water_mass=0.0, solid_capacity=1e13, film_conductance=1e9), 4
    )  # gives and stays as hot
    dark = np.zeros((4, steps, 3))
    how = {"loss_ratio": ratio, "step": 3600.0}
    half = lossy.run(held, still(steps // 2), np.zeros(4, np.int64), dark[:, : steps // 2], **how)
    whole = lossy.run(held, still(steps), np.zeros(4, np.int64), dark, **how)
    lost = (whole.flows - half.flows)[:, LOSSES].sum(axis=1)  # of the second half, at rest
    assert lost == pytest.approx(ratio * lost[1], rel=1e-6)
    assert lost[1] / (3600.0 * steps / 2) > 20.0  # W: it is a pot at 77 degC
    assert whole.end[:, Node.SHEET] == pytest.approx(whole.end[1, Node.SHEET], abs=1e-4)


@pytest.fixture(scope="module")
def as_built():
    """One design in eight builds under two days, with histories."""
    setting = load(CONFIG).setting
    both = list(itertools.product([1.0, 0.7], [1.0, 1.5], [1.0, 0.5]))
    names = ("light_ratio", "loss_ratio", "coupling_ratio")
    table = Table(
        setting.design, {n: np.array(c) for n, c in zip(names, zip(*both, strict=True), strict=True)}, 8
    )
    return simulate(table, setting.sky.only([2, 7]), rays=4, catalogue=setting.catalogue, histories=True)


@pytest.mark.compiled
def test_ratios_are_coordinates_and_each_acts_where_it_says(as_built) -> None:
    assert as_built["loss_ratio"].to_numpy().tolist() == [1.0, 1.0, 1.5, 1.5] * 2
    watts = as_built["absorbed"]
    pot, rest_of_oven = watts.sel(absorber="pot"), watts.sel(absorber=["sheet", "cover"])
    for one in range(4):
        assert pot[one + 4].to_numpy() == pytest.approx(0.7 * pot[one].to_numpy(), rel=1e-12)
        assert (rest_of_oven[one + 4] == rest_of_oven[one]).all()
    shares, heat_in = as_built["light_share"].to_numpy(), as_built["sun_heat"].to_numpy()
    assert shares[4:] == pytest.approx(0.7 * shares[:4], rel=1e-12)
    assert heat_in[4:] == pytest.approx(0.7 * heat_in[:4], rel=1e-9)
    plateau = as_built["plateau_temperature"].to_numpy()
    assert (plateau[4:] < plateau[:4] - 5.0).all()  # less light
    assert (plateau[[2, 3, 6, 7]] < plateau[[0, 1, 4, 5]] - 5.0).all()  # more loss
    assert plateau[[1, 3, 5, 7]] == pytest.approx(
        plateau[[0, 2, 4, 6]], abs=0.01
    )  # food is at rest with its pot


@pytest.mark.compiled
def test_a_badly_coupled_pot_runs_ahead_of_its_food(as_built) -> None:
    temperature = as_built["temperature"].isel(time=60)
    ahead = (temperature.sel(node="pot") - temperature.sel(node="outer")).to_numpy()
    assert (ahead[[1, 3, 5, 7]] > 1.3 * ahead[[0, 2, 4, 6]]).all()


@pytest.mark.compiled
def test_energy_closes_whatever_the_ratios() -> None:
    rng = np.random.default_rng(4)
    lanes, steps = 12, 200
    build = columns(oven(vent_conductance=3e-10, contents_start=300.0), lanes)
    intake = rng.uniform(0, 400, (lanes, steps, 3)) * [1.0, 0.2, 0.1]
    ratio = rng.uniform(0.2, 5.0, lanes)
    out = lossy.run(build, still(steps), np.zeros(lanes, np.int64), intake, loss_ratio=ratio)
    taken = 60.0 * intake.sum(axis=(1, 2))
    spent = out.flows[:, [*LOSSES, Flow.STEAM, Flow.STORED]].sum(axis=1)
    assert spent == pytest.approx(taken, rel=1e-9)
    assert out.flows[:, :3].sum(axis=1) == pytest.approx(taken, rel=1e-12)


@pytest.mark.compiled
def test_an_oven_may_start_warm_and_its_book_still_closes() -> None:
    lanes, steps = 5, 90
    build = columns(oven(), lanes)
    start = np.random.default_rng(9).uniform(290, 370, (lanes, 7))
    dark = np.zeros((lanes, steps, 3))
    out = heat.run(build, still(steps), np.zeros(lanes, np.int64), dark, oven_start=start, record=True)
    assert (out.temperatures[:, 0, Node.POT :] == start).all()
    assert out.flows[:, LOSSES].sum(axis=1) == pytest.approx(-out.flows[:, Flow.STORED], rel=1e-9)
    with pytest.raises(ValueError, match=r"oven_start has shape \(5, 6\), needed \(5, 7\)"):
        heat.run(build, still(steps), np.zeros(lanes, np.int64), dark, oven_start=start[:, :6])


def test_a_ratio_out_of_bounds_is_refused_by_its_table() -> None:
    with pytest.raises(DescriptionError, match=r"as_built.loss_ratio = 20.0: allowed 0.1 to 10"):
        AsBuilt(loss_ratio=20.0)


def test_configs_take_the_table_and_studies_vary_what_is_in_it(tmp_path: Path) -> None:
    text = CONFIG.read_text("utf-8").replace(
        "[meal]", '[as_built]\nlight_ratio = "92 %"\nloss_ratio = 1.2\n\n[meal]'
    )
    text = text.replace(
        'azimuth_every = ["10 min", "90 min"]',
        'azimuth_every = ["10 min", "90 min"]\nlight_ratio = ["80 %", "1.0"]',
    )
    text += 'loss_ratio = { within = "20 %" }\ncoupling_ratio = ["60 %", "140 %"]\n'
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    plan = load(tmp_path / "mine.toml")
    assert plan.setting.design.as_built == AsBuilt(light_ratio=0.92, loss_ratio=1.2)
    assert "light_ratio" in {vary.name for vary in plan.steps[0].varies}
    assert {"loss_ratio", "coupling_ratio"} <= {vary.name for vary in plan.steps[2].varies}


@pytest.mark.compiled
def test_a_search_varies_and_draws_them() -> None:
    """Ovens that may lose up to twice as much are later, judged by nine days of ten, in every trial."""
    setting = load(CONFIG).setting
    small = replace(setting, sky=setting.sky.only([2, 12]), rays=4)
    asked = {
        "goals": ["time_to_done"],
        "vary": {"light_ratio": ["80 %", "100 %"]},
        "judged_by": "90 % of days",
        "trials": 8,
        "population": 4,
    }
    sure = studies.search(small, **asked)
    unsure = studies.search(small, **asked, uncertain={"loss_ratio": ["100 %", "200 %"]}, draws=4)
    assert (unsure["status"] == 0).all()
    first = slice(0, 4)  # drawn before any is judged: the same in both
    assert (sure["light_ratio"][first] == unsure["light_ratio"][first]).all()
    assert (unsure["time_to_done"][first] > sure["time_to_done"][first] + 60.0).all()
