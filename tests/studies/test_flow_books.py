"""The books of a day's light and heat close, and agree with what the simulation itself says of the day."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import ByHand, flows_of_day
from noonhearth.studies.config import load
from noonhearth.studies.setting import Setting

CLOSED = 1e-9  # of what comes in
DAY = 2
HEAT_OUT = ("cover_convection", "cover_radiation", "shell_convection", "shell_radiation", "leak", "steam")
BOX = {"archetype": "funnel over box", "box_across": 0.4, "box_depth": 0.24}


@pytest.fixture(scope="module")
def setting() -> Setting:
    plan = load(Path(__file__).parents[1] / "oven.toml")
    # Settings near the sun: the light that a cover sends back is then that of normal incidence.
    design = dataclasses.replace(
        plan.setting.design, aiming=ByHand(azimuth_every=240.0, elevation_every=240.0)
    )
    return dataclasses.replace(plan.setting, design=design, rays=8)


def books_of(setting: Setting, **factors: object) -> xr.Dataset:
    design = setting.design.with_factors(**factors)
    how = {"catalogue": setting.catalogue, "rays": setting.rays, "seed": setting.seed}
    return flows_of_day(design, setting.sky, DAY, **how)


@pytest.fixture(scope="module")
def books(setting: Setting) -> xr.Dataset:
    return books_of(setting)


@pytest.mark.parametrize(
    "factors",
    [{}, BOX, {"light_ratio": 0.8, "loss_ratio": 1.3}, {"panes": 2, "fog": 0.1, "food": "lentils"}],
    ids=str,
)
def test_both_books_close(setting: Setting, factors: dict[str, object]) -> None:
    found = books_of(setting, **factors)
    heat = found["heat_flow"].to_pandas().T
    absorbed = heat.loc[["pot_absorbed", "sheet_absorbed", "cover_absorbed"]].sum()
    gone = heat.loc[list(HEAT_OUT)].sum()
    np.testing.assert_allclose(absorbed, gone + heat.loc["stored"], rtol=CLOSED)
    kept = found["heat_kept"].sum("node").to_numpy()
    np.testing.assert_allclose(kept, heat.loc["stored"], atol=CLOSED * float(absorbed.max()))
    np.testing.assert_allclose(found["light_ending"].sum("surface"), found["light_arriving"], rtol=CLOSED)
    into_pot = found["light_ending"].sel(surface=["lid", "side", "bottom"]).sum(("source", "surface"))
    np.testing.assert_allclose(into_pot, heat.loc["pot_absorbed"], rtol=CLOSED)  # light is what heats


def test_the_books_are_those_of_the_simulated_day(setting: Setting, books: xr.Dataset) -> None:
    day = setting.simulated(histories=True).isel(design=0, day=DAY)
    whole = books.sel(span="whole day")
    assert float(whole["heat_flow"].sel(flow="steam")) == pytest.approx(float(day["steam_heat"]), rel=1e-12)
    assert float(whole["heat_flow"].sel(flow="pot_absorbed")) == pytest.approx(
        float(day["sun_heat"]), rel=1e-12
    )
    taken = np.trapezoid(day["absorbed"].transpose("absorber", "time"), dx=60.0)
    ending = whole["light_ending"].sum("source")
    parts = (["lid", "side", "bottom"], ["walls", "plate"], ["cover"])
    by_part = [float(ending.sel(surface=list(part)).sum()) for part in parts]
    np.testing.assert_allclose(by_part, taken, rtol=CLOSED)


def test_light_at_the_mouth_is_beam_times_area_times_cosine(setting: Setting, books: xr.Dataset) -> None:
    """A regular octagon a across the flats has the area 2 (sqrt 2 - 1) a^2."""
    day = setting.simulated(histories=True).isel(design=0, day=DAY)
    area = 2 * (math.sqrt(2) - 1) * setting.design.oven.funnel.mouth**2
    beam = np.trapezoid(day["dni"] * np.cos(day["aim_off_axis"]), dx=60.0) * area
    assert float(books["light_arriving"].sel(span="whole day", source="beam")) == pytest.approx(
        beam, rel=1e-9
    )


def test_what_a_cover_sends_back_at_normal_incidence(setting: Setting, books: xr.Dataset) -> None:
    """One pane: r (1 + t^2 (1 - r)^2 / (1 - r^2 t^2)), r = ((n - 1) / (n + 1))^2, t = exp(-K L)."""
    glass = setting.catalogue.materials.numbers("covers", "tempered-glass")
    n, passage = glass["refractive_index"], math.exp(-glass["extinction"] * 0.0032)
    r = ((n - 1) / (n + 1)) ** 2
    back = r * (1 + passage**2 * (1 - r) ** 2 / (1 - (r * passage) ** 2))
    whole = books.sel(span="whole day")
    share = float(whole["light_sent_back"] / whole["light_arriving"].sel(source="beam"))
    assert share == pytest.approx(back, rel=2e-4)
    assert float(whole["light_sent_back"]) < float(whole["light_ending"].sel(source="beam", surface="lost"))


def test_a_deep_cover_is_not_told_apart(setting: Setting) -> None:
    assert books_of(setting, **BOX)["light_sent_back"].isnull().all()


def test_the_hour_is_the_sunniest(setting: Setting, books: xr.Dataset) -> None:
    day = setting.simulated(histories=True).isel(design=0, day=DAY)
    watts = day["absorbed"].sel(absorber="pot").to_numpy()
    hours = [np.trapezoid(watts[k : k + 61], dx=60.0) for k in range(len(watts) - 60)]
    hour = books.sel(span="sunniest hour")
    assert float(hour["span_from"]) == 60.0 * int(np.argmax(hours))
    assert float(hour["span_to"] - hour["span_from"]) == 3600.0
    assert float(hour["heat_flow"].sel(flow="pot_absorbed")) == pytest.approx(max(hours), rel=1e-9)


def test_a_pot_that_takes_less_light_leaves_it_lost(setting: Setting, books: xr.Dataset) -> None:
    dim = books_of(setting, light_ratio=0.8)["light_ending"].sum("source").sel(span="whole day")
    full = books["light_ending"].sum("source").sel(span="whole day")
    np.testing.assert_allclose(dim.sel(surface="side"), 0.8 * full.sel(surface="side"), rtol=1e-9)
    np.testing.assert_allclose(dim.sum(), full.sum(), rtol=1e-12)


def test_a_design_that_cannot_be_run_is_refused(setting: Setting) -> None:
    with pytest.raises(ValueError, match="cannot be run: status"):
        books_of(setting, pot_diameter=0.5, pot_height=0.29, pot_lift=0.005)
