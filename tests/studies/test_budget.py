"""Budgets: a bill worked by hand, fronts against every design there is, and what the next step of money buys."""

import math
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import Box, Price, Table, bill
from noonhearth.studies import ConfigError, Running, StudyError, load
from noonhearth.studies.config import loads
from noonhearth.studies.kinds.budget import BUDGET, round_budgets
from noonhearth.studies.results import store
from noonhearth.studies.results.provenance import Provenance, stamp
from noonhearth.studies.telling import figures, report

OVEN = Path(__file__).parents[1] / "oven.toml"
MIRRORS = ["anodised-sheet", "foil-on-card", "aluminised-polyester"]
VARY = {"facets": [6, 8], "panes": [1, 2], "mirror": MIRRORS, "tiers": [1, 2]}
KEYS: dict[str, Any] = {"vary": VARY, "trials": 200, "population": 20, "budgets": [20, 34, 36, 1000]}


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    """Few days and rays; a fold that opens the upper half, and a price for every mirror."""
    text = OVEN.read_text("utf-8")
    for old, new in (
        ("rays = 16", "rays = 4"),
        ("days_per_month = 5", "days_per_month = 2"),
        ("[11, 12, 1, 2]", "[12, 1]"),
        ("[0.62, 0.61, 0.61, 0.62]", "[0.61, 0.61]"),
        ('facet_angle = "30 deg"', 'facet_angle = "24 deg"\ntiers = 2\nsecond_bend = "8 deg"'),
        (
            'steel = "14 each"',
            'steel = "14 each"\nfoil-on-card = "3 per m2"\naluminised-polyester = "7 per m2"',
        ),
    ):
        assert old in text
        text = text.replace(old, new)
    return loads(text, OVEN).setting


@pytest.fixture(scope="module")
def result(setting: studies.Setting) -> xr.Dataset:
    return BUDGET(setting, **KEYS)


@pytest.fixture(scope="module")
def every(setting: studies.Setting) -> xr.Dataset:
    """Every design of the space, run at once."""
    rows = list(product((6, 7, 8), (1, 2), MIRRORS, (1, 2)))
    columns = {name: np.array([row[k] for row in rows]) for k, name in enumerate(VARY)}
    return setting.simulated(Table(setting.design, columns, len(rows)))


class TestBill:
    """Areas, volumes, masses and money of the parts."""

    def test_a_bill_worked_by_hand(self) -> None:
        """The eight-sided funnel of `oven.toml`: school formulas of frustum and prism, its own prices."""
        setting = load(OVEN).setting
        mouth, depth, angle, wool, n = 0.600, 0.300, math.radians(30), 0.050, 8
        throat = mouth - 2 * depth * math.tan(angle)

        def octagon(across: float) -> float:
            return n * (across / 2) ** 2 * math.tan(math.pi / n)

        def trapezia(top: float, bottom: float, height: float) -> float:
            side = math.tan(math.pi / n)  # of the octagon, over its width across the flats
            return n * (top + bottom) * side / 2 * math.hypot(height, (top - bottom) / 2)

        def frustum(top: float, bottom: float, height: float) -> float:
            a, b = octagon(top), octagon(bottom)
            return height / 3 * (a + b + math.sqrt(a * b))

        # The jacket lies 50 mm off facets and plate, square to them; its rim is level with the mouth.
        outer_mouth = mouth + 2 * wool / math.cos(angle)
        outer_throat = outer_mouth - 2 * (depth + wool) * math.tan(angle)
        mirror = trapezia(mouth, throat, depth) + octagon(throat)
        skin = trapezia(outer_mouth, outer_throat, depth + wool) + octagon(outer_throat)
        wool_volume = frustum(outer_mouth, outer_throat, depth + wool) - frustum(mouth, throat, depth)
        pot = math.pi * 0.180 * 0.140 + 2 * math.pi * 0.090**2

        numbers = setting.catalogue.materials.numbers
        sheet, glass = numbers("mirrors", "anodised-sheet"), numbers("covers", "tempered-glass")
        rock, ply = numbers("insulations", "mineral-wool"), numbers("shells", "plywood")
        steel = numbers("pots", "steel")
        wool_mass = wool_volume * rock["density"]
        expected = {
            "mirror": (mirror * sheet["thickness"] * sheet["density"], 18 * mirror),
            "cover": (octagon(mouth) * 0.0032 * glass["density"], 25 * octagon(mouth)),
            "insulation": (wool_mass, 2.5 * wool_mass),
            "skin": (skin * 0.006 * ply["density"], 9 * skin),
            "pot_metal": (pot * 0.001 * steel["density"], 14.0),
        }
        found = bill(setting.design, catalogue=setting.catalogue, prices=setting.prices, currency="shells")
        assert found["part"].to_numpy().tolist() == list(expected)
        for part, (mass, cost) in expected.items():
            one = found.sel(part=part, design=0)
            assert float(one["part_mass"]) == pytest.approx(mass, rel=1e-9), part
            assert float(one["part_cost"]) == pytest.approx(cost, rel=1e-9), part
        assert found["part_material"].to_numpy()[0].tolist() == [
            *("anodised-sheet", "tempered-glass", "mineral-wool", "plywood", "steel")
        ]

    def test_parts_add_up_to_mass_and_cost(self, setting: studies.Setting) -> None:
        boxed = replace(setting.design.oven, box=Box(archetype="funnel over box"))
        for design in (setting.design, replace(setting.design, oven=boxed)):
            designs = [design, design.with_factors(panes=2, insulation_thickness=0.08, mirror="foil-on-card")]
            found = bill(designs, catalogue=setting.catalogue, prices=setting.prices)
            ran = setting.simulated(designs, evening=False)
            assert (ran["status"] == 0).all()
            np.testing.assert_allclose(found["part_mass"].sum("part"), ran["mass"], rtol=1e-12)
            np.testing.assert_allclose(found["part_cost"].sum("part"), ran["material_cost"], rtol=1e-12)

    def test_what_has_no_price_has_no_cost(self, setting: studies.Setting) -> None:
        found = bill(
            setting.design, prices={"steel": Price.read("14 each"), "plywood": Price.read("2 per kg")}
        )
        cost = found["part_cost"].sel(design=0)
        assert float(cost.sel(part="skin")) == pytest.approx(
            2 * float(found["part_mass"].sel(part="skin")[0])
        )
        assert np.isnan(cost.sel(part=["mirror", "cover", "insulation"])).all()


def dominated(points: np.ndarray, k: int) -> bool:
    """Word for word: some other point is nowhere worse and somewhere better."""
    return any(
        all(a <= b for a, b in zip(other, points[k], strict=True))
        and any(a < b for a, b in zip(other, points[k], strict=True))
        for other in points
    )


def test_the_front_is_that_of_every_design_there_is(result: xr.Dataset, every: xr.Dataset) -> None:
    """36 designs, all of them run: the study finds the same ones that no other beats."""
    points = np.column_stack([every["time_to_done"], every["material_cost"]])
    assert np.isfinite(points).all()
    best = {tuple(point) for k, point in enumerate(points) if not dominated(points, k)}
    front = result.where(result["on_front"] == 1, drop=True)
    found = set(zip(front["time_to_done"].to_numpy(), front["material_cost"].to_numpy(), strict=True))
    assert len(best) >= 3
    assert found == best


def test_each_budget_gets_the_quickest_it_can_pay(result: xr.Dataset, every: xr.Dataset) -> None:
    time, cost = every["time_to_done"].to_numpy(), every["material_cost"].to_numpy()
    assert result["budget"].to_numpy().tolist() == [20, 34, 36, 1000]
    assert cost.min() > 20
    assert int(result["budget_trial"][0]) == -1
    assert np.isnan(result["budget_time_to_done"][0])
    assert result["part_material"].to_numpy()[0].tolist() == [""] * 5
    for k in (1, 2, 3):
        within = cost <= float(result["budget"][k])
        assert float(result["budget_time_to_done"][k]) == time[within].min()
        assert (
            float(result["budget_material_cost"][k]) == cost[within][time[within] == time[within].min()].min()
        )
        assert float(result["part_cost"][k].sum()) == pytest.approx(float(result["budget_material_cost"][k]))
        assert float(result["part_mass"][k].sum()) == pytest.approx(float(result["budget_mass"][k]))


def test_limits_are_those_of_the_budgets_designs(setting: studies.Setting, result: xr.Dataset) -> None:
    row = int(result["budget_trial"][3])
    chosen = {name: result[name].isel(trial=row).item() for name in VARY}
    alone = setting.simulated(setting.design.with_factors(**chosen), evening=False)
    for name in ("cover_over", "glue_over", "wind_over"):
        assert float(result[f"budget_{name}"][3]) == float(alone[name][0])
    assert float(result["own_time_to_done"]) == float(setting.simulated(setting.design)["time_to_done"][0])


def test_the_words_name_money_parts_and_steps(result: xr.Dataset) -> None:
    said = " ".join(report.sentences(result))
    assert "Nothing tried keeps the limits for 20 shells" in said
    assert "more buy" in said
    assert "steel" in said
    assert "Not counted: stand, drive" in said
    cheap, dear = (float(result["budget_material_cost"][k]) for k in (1, 3))
    assert f"It costs {cheap:.0f} shells" in said
    assert f"Where {dear:.0f} shells go" in said


def test_what_nobody_can_reach_is_said(setting: studies.Setting) -> None:
    short = replace(setting, design=setting.design.with_factors(facets=8), rays=4)
    text = (
        OVEN.read_text("utf-8")
        .replace('"16:00"', '"09:50"')
        .replace("days_per_month = 5", "days_per_month = 1")
    )
    late = replace(short, sky=loads(text, OVEN).setting.sky)
    found = BUDGET(late, vary={"facets": [6, 8]}, trials=8, population=4)
    assert report.is_empty(found)
    assert "None of 8 designs" in report.sentences(found)[0]
    assert not list(figures.drawn(found))


@pytest.mark.parametrize(
    ("cost", "budgets"),
    [
        ([31.0, 55.0], [40.0, 50.0, 60.0]),
        ([31.0, 95.0], [40.0, 60.0, 80.0, 100.0]),
        ([412.0, 1980.0], [500.0, 1000.0, 1500.0, 2000.0]),
        ([0.31, 0.47], [0.35, 0.4, 0.45, 0.5]),
        ([60.0], [60.0]),
    ],
)
def test_budgets_of_our_own_are_round(cost: list[float], budgets: list[float]) -> None:
    assert round_budgets(np.array(cost)) == pytest.approx(budgets)


def test_every_material_without_a_price_is_named_before_anything_is_run(setting: studies.Setting) -> None:
    poor = replace(
        setting, prices={name: p for name, p in setting.prices.items() if name not in ("steel", MIRRORS[1])}
    )
    with pytest.raises(StudyError) as raised:
        BUDGET(poor, **KEYS)
    assert 'vary.mirror: "foil-on-card" (mirror) has no price' in str(raised.value)
    assert '"steel" (pot_metal) has no price' in str(raised.value)
    assert "anodised" not in str(raised.value)
    with pytest.raises(StudyError, match=r"needs a \[prices\] table"):
        BUDGET(replace(setting, prices={}), **KEYS)
    with pytest.raises(StudyError, match="goal: material_cost is always looked at"):
        BUDGET(setting, **KEYS, goal="material_cost")
    with pytest.raises(StudyError, match="budgets"):
        BUDGET(setting, **(KEYS | {"budgets": [-4]}))


def test_a_config_asks_for_it_and_its_faults_are_found_on_reading(tmp_path: Path) -> None:
    text = OVEN.read_text("utf-8")
    study = '[[study]]\nkind = "budget"\n[study.vary]\nmirror = ["anodised-sheet", "foil-on-card"]\n'
    path = tmp_path / "money.toml"
    path.write_text(text[: text.index("[[study]]")] + study, "utf-8")
    with pytest.raises(ConfigError, match=r'study\[1\].vary.mirror: "foil-on-card"'):
        load(path)


def test_workers_and_an_interrupt_change_nothing(
    setting: studies.Setting, result: xr.Dataset, tmp_path: Path
) -> None:
    running = Running(workers=2, scratch=tmp_path)
    xr.testing.assert_identical(BUDGET(setting, running=running, **KEYS), result)
    shards = sorted(tmp_path.rglob("*.evaluations"))
    shards[-1].unlink()
    xr.testing.assert_identical(BUDGET(setting, running=running, **KEYS), result)


def test_the_file_keeps_it_and_tells_the_same(result: xr.Dataset, tmp_path: Path) -> None:
    known = Provenance(
        title="x", config="", model_hash="", versions={}, seed=7, created="2026-03-01T12:00:00Z", counts={}
    )
    store.write(stamp(result, known), tmp_path / "budget.nc")
    again = store.read(tmp_path / "budget.nc")
    assert report.sentences(again) == report.sentences(result)
    drawn = {drawing.name: drawing for drawing in figures.drawn(again)}
    assert set(drawn) == {"money", "bills"}
    assert drawn["bills"].table["cost [shells]"].sum() == pytest.approx(float(result["part_cost"].sum()))
    twice = [
        [path.read_bytes() for path in figures.save(drawing, tmp_path, prefix="budget")]
        for drawing in [drawn["money"], next(d for d in figures.drawn(again) if d.name == "money")]
    ]
    assert twice[0] == twice[1]
