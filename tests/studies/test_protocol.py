"""The study of kind `protocol`: what it foretells against refits, the joint inverse and plain brightening; its words.

The oven and its sky are made up; what is held is not what they give but that two ways of getting it agree.
"""

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.model import CookModel, Meal
from noonhearth.studies.config import load
from noonhearth.studies.folder import carry_out_into
from noonhearth.studies.judging import refits
from noonhearth.studies.judging.campaigns import ENDLESS, Campaigns, Protocol, protocols
from noonhearth.studies.judging.imagined import Imagined, imagined
from noonhearth.studies.judging.refits import Errors, refitted
from noonhearth.studies.kinds import Running
from noonhearth.studies.methods.planning import misled, pooled, sharpness
from noonhearth.studies.results import store
from noonhearth.studies.run import Result
from noonhearth.studies.telling import figures, report

OVEN = Path(__file__).parents[1] / "oven.toml"
RATIOS = ("light_ratio", "loss_ratio", "coupling_ratio")
HEAT, SHADE = 5400.0, 2400.0
ERRORS = Errors(reading={"food": 0.5, "pot": 0.8}, offset={"food": 0.4}, sunlight=0.05, memory=120.0)


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    """A small oven with water that does not boil within the heat-up."""
    plan = load(OVEN).setting
    water = Meal(food="water", food_mass=2.0, start_temperature=303.15)
    return replace(plan, rays=4, design=replace(plan.design, meal=water))


@pytest.fixture(scope="module")
def loaded(setting: studies.Setting) -> Imagined:
    return imagined(setting, RATIOS, ("food", "pot"), day=2, heat_up=HEAT, shade=SHADE, every=60.0)


@pytest.fixture(scope="module")
def plan(setting: studies.Setting, loaded: Imagined) -> Campaigns:
    empty = imagined(setting, RATIOS, ("pot",), day=2, heat_up=HEAT, shade=0.0, every=60.0, empty=True)
    return Campaigns(
        loaded=loaded, empty=empty, heat_up=HEAT, every=60.0, errors=ERRORS, between=0.02, prior={}
    )


BOTH = Protocol(("food", "pot"), SHADE, False)
ALONE = Protocol(("food",), 0.0, False)


def test_refits_scatter_as_foretold(plan: Campaigns, loaded: Imagined) -> None:
    """120 fits of the whole model to made-up readings, by the fit of measured cooks.

    A deviation of 120 draws is known to 1 / sqrt(2 * 119), 6.5 %: it lies within three of those of what is foretold,
    and a share of 95 % within three times 2 %.
    """
    found = refitted(loaded, BOTH.sensors, HEAT + SHADE, ERRORS, prior={}, every=60.0, count=120, seed=3)
    foretold = np.sqrt(np.diag(plan.known(BOTH, 1, between=0.0, sunlight=0.0)))
    assert (foretold < 0.2).all()
    ratio = np.log(found.values).std(axis=0, ddof=1) / foretold
    np.testing.assert_allclose(ratio, 1.0, atol=3 * 0.065)
    assert np.abs(np.log(found.values).mean(axis=0)).max() < 4 * (foretold / math.sqrt(120)).max()
    held = ((found.low <= 1) & (found.high >= 1)).mean(axis=0)
    assert (np.abs(held - 0.95) <= 0.06).all()


def test_an_instrument_that_reads_low_moves_a_fit_as_foretold(plan: Campaigns, loaded: Imagined) -> None:
    """Readings of an oven under 3 % less light than was noted: the fit without errors lies where `misled` says."""
    dim = loaded.predicted - 0.03 * loaded.slopes[:, len(RATIOS)]
    quiet = Errors(reading={"food": 1e-3, "pot": 1.6e-3}, offset={}, sunlight=0.0, memory=0.0)
    other = replace(loaded, predicted=dim)
    found = refitted(other, BOTH.sensors, HEAT + SHADE, quiet, prior={}, every=60.0, count=1, seed=1)
    same = replace(plan, errors=quiet, between=0.0)
    unweighted = [
        math.sqrt(one) for one in np.diag(same.known(BOTH, ENDLESS, sunlight=0.03))
    ]  # all of it is the fault
    moved = np.abs(np.log(found.values[0]))
    assert moved[0] == pytest.approx(unweighted[0], rel=0.1)
    assert moved[1] == pytest.approx(unweighted[1], abs=0.003)


def test_slopes_by_sunlight_are_those_of_a_brighter_record(
    setting: studies.Setting, loaded: Imagined
) -> None:
    """Half a per cent less of all light through a record of its own, another step than the slopes were taken with."""
    record = loaded.model.models[0].record
    assert record.irradiance is not None
    assert record.diffuse is not None
    dimmed = replace(
        record, irradiance=0.995 * np.asarray(record.irradiance), diffuse=0.995 * np.asarray(record.diffuse)
    )
    how = {"place": setting.sky.place, "catalogue": setting.catalogue, "rays": 4, "seed": setting.seed}
    said = CookModel(setting.design, dimmed, **how).temperatures({})
    cooler = np.concatenate([said[sensor][0] for sensor in loaded.sensors])
    slope = (loaded.predicted - cooler) / 0.005
    # Where the march takes a minute in parts in one record and whole in the other, a single reading leaps by 0.1 K.
    apart = np.abs(slope - loaded.slopes[:, 3]) > 0.005 * np.abs(slope).max()
    assert apart.mean() < 0.02


def test_a_thermometer_that_reads_high_reads_high_at_the_start(
    setting: studies.Setting, loaded: Imagined
) -> None:
    """A food thermometer 1 K high: the model starts 1 K too warm, and the readings lie 1 K less that above it."""
    record = loaded.model.models[0].record
    warmer = {sensor: record.temperature(sensor) + float(sensor == "food") for sensor in loaded.sensors}
    how = {"place": setting.sky.place, "catalogue": setting.catalogue, "rays": 4, "seed": setting.seed}
    said = CookModel(setting.design, replace(record, temperatures=warmer), **how).temperatures({})
    started_warm = np.concatenate([said[sensor][0] for sensor in loaded.sensors])
    read = (
        loaded.predicted + (np.array([s.sensor for s in loaded.model.series]) == "food")[loaded.model.numbers]
    )
    column = len(RATIOS) + 1 + loaded.sensors.index("food")
    np.testing.assert_allclose(read - started_warm, loaded.slopes[:, column], atol=0.03)


def test_made_up_readings_start_from_an_erring_one(loaded: Imagined, monkeypatch: pytest.MonkeyPatch) -> None:
    """Errors that never fade are one shift of the food's readings, and of the model's start: they cancel at first."""
    seen: list[np.ndarray] = []

    def fitted(predict, observed, **how):  # type: ignore[no-untyped-def]
        seen.append(observed - loaded.predicted[loaded.readings(("food",), HEAT)])
        return SimpleNamespace(values=np.ones(3), low=np.ones(3), high=np.ones(3))

    monkeypatch.setattr(refits, "fitted", fitted)
    errors = Errors(reading={"food": 0.5, "pot": 0.8}, offset={}, sunlight=0.0, memory=1e12)
    for seed in (1, 2, 1):
        refitted(loaded, ("food",), HEAT, errors, prior={}, every=60.0, count=1, seed=seed)
    left = 1 + loaded.slopes[loaded.readings(("food",), HEAT)][:, -1]
    assert abs(left[0]) < 0.1 < left[-1]
    shifts = seen[0] / left
    np.testing.assert_allclose(shifts, shifts[0], rtol=1e-3)
    assert np.array_equal(seen[0], seen[2])
    assert not np.array_equal(seen[0], seen[1])


def test_slopes_by_a_ratio_are_those_of_the_model(loaded: Imagined) -> None:
    """Two per cent more loss, through the model itself."""
    more = loaded.model(np.array([[1.0, 1.02, 1.0]]))[0]
    slope = (more - loaded.predicted) / math.log(1.02)
    np.testing.assert_allclose(slope, loaded.slopes[:, 1], atol=0.02 * np.abs(slope).max())


def test_shade_tells_loss_from_light(plan: Campaigns) -> None:
    """Without sun nothing depends on light but what it left: shade lowers their correlation and the error of the loss.

    And without shade more of a fault of the sunlight's instrument is pushed into the loss.
    """
    bare, shaded = Protocol(("food", "pot"), 0.0, False), BOTH
    assert plan.alike(bare)[0, 1] > 0.9
    assert plan.alike(shaded)[0, 1] < plan.alike(bare)[0, 1]
    assert plan.reached(shaded, [1])[0, 1] < 0.75 * plan.reached(bare, [1])[0, 1]
    assert plan.reached(shaded, [ENDLESS])[0, 1] < plan.reached(bare, [ENDLESS])[0, 1]


def test_food_alone_does_not_know_the_coupling(plan: Campaigns) -> None:
    assert plan.reached(ALONE, [1])[0, 2] > 1.0
    assert plan.reached(Protocol(("food", "pot"), 0.0, False), [1])[0, 2] < 0.4


def test_light_is_never_known_better_than_its_instrument(plan: Campaigns) -> None:
    """exp(1.96 * 0.05) - 1 = 10.3 % after cooks without end, whatever the thermometers."""
    for way in protocols(("food", "pot"), [SHADE], empty=True):
        assert plan.reached(way, [ENDLESS])[0, 0] >= math.expm1(1.96 * 0.05) - 1e-4
        assert plan.known(way, ENDLESS, sunlight=0.0)[0, 0] < 1e-3


def test_nor_where_a_fit_would_push_the_fault_elsewhere(plan: Campaigns, loaded: Imagined) -> None:
    """Readings that coupling and sunlight move alike: a fit pushes the fault into the coupling, not into light."""
    slopes = loaded.slopes.copy()
    slopes[:, 2] = slopes[:, 3]
    other = replace(plan, loaded=replace(loaded, slopes=slopes))
    told = pooled([(other.one(ALONE), ENDLESS)], [math.inf] * len(other.one(ALONE)))
    assert misled(told, 3, 0.05)[0, 0] < 1e-4
    assert other.reached(ALONE, [ENDLESS])[0, 0] == pytest.approx(math.expm1(1.959964 * 0.05), rel=2e-2)


def test_more_is_never_worse(plan: Campaigns) -> None:
    """D-optimality along every step: more cooks, longer shade, another thermometer, an empty cook, better readings."""

    def sharp(of: Campaigns, way: Protocol, count: int = 1) -> float:
        return sharpness(of.known(way, count, sunlight=0.0), len(RATIOS))

    for way in (ALONE, BOTH, Protocol(("food", "pot"), 0.0, False)):
        assert sharp(plan, way, 2) > sharp(plan, way)
        assert sharp(plan, way._replace(shade=600.0)) >= sharp(plan, way._replace(shade=0.0))
        assert sharp(plan, way._replace(shade=SHADE)) > sharp(plan, way._replace(shade=600.0))
        better = replace(plan, errors=ERRORS._replace(reading={"food": 0.3, "pot": 0.5}))
        assert sharp(better, way) > sharp(plan, way)
        assert sharp(replace(plan, between=0.01), way) > sharp(plan, way)
        assert sharp(replace(plan, prior={"loss_ratio": 0.1}), way) > sharp(plan, way)
    both = Protocol(("food", "pot"), 0.0, False)
    assert sharp(plan, both) > sharp(plan, ALONE)
    assert sharp(plan, both._replace(empty=True)) > sharp(plan, both)


def test_cooks_average_what_differs_between_them(plan: Campaigns) -> None:
    """With readings without error k cooks leave the loss's 2 % over the root of k."""
    sharp = replace(plan, errors=Errors({"food": 1e-4, "pot": 1e-4}, {}, 0.0, 0.0))
    for count in (1, 4, 9):
        found = math.sqrt(sharp.known(BOTH, count)[1, 1])
        assert found == pytest.approx(0.02 / math.sqrt(count), rel=0.01)


def test_the_ways_of_testing() -> None:
    ways = protocols(("food", "pot"), [900.0, 900.0], empty=True)
    assert [(" ".join(way.sensors), way.shade, way.empty) for way in ways] == [
        ("food", 0.0, False),
        ("food", 900.0, False),
        ("food pot", 0.0, False),
        ("food pot", 0.0, True),
        ("food pot", 900.0, False),
        ("food pot", 900.0, True),
    ]


STUDY = """
[[study]]
kind = "protocol"
sensors = { food = "0.5 K", pot = "1 K" }
offset = { food = "0.5 K" }
shades = ["20 min", "40 min"]
heat_up = "90 min"
empty = "90 min"
wanted = { loss_ratio = "6 %" }
refits = 12
"""


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, xr.Dataset]:
    folder = tmp_path_factory.mktemp("protocol")
    head = OVEN.read_text("utf-8")
    head = head[: head.index("[[study]]")].replace("rays = 16", "rays = 4")
    head = head.replace('food = "rice"\nfood_mass = "0.6 kg"', 'food = "water"\nfood_mass = "2 kg"')
    (folder / "planned.toml").write_text(head + STUDY, "utf-8")
    (result,) = carry_out_into(folder / "out", load(folder / "planned.toml"), running=Running())
    assert isinstance(result, Result)
    return folder / "out", result.dataset


def test_a_config_is_carried_out_kept_and_told_the_same(run: tuple[Path, xr.Dataset]) -> None:
    folder, found = run
    again = store.read(folder / "protocol.nc")
    assert report.sentences(again) == report.sentences(found)
    assert [one.svg for one in figures.drawn(again)] == [one.svg for one in figures.drawn(found)]
    assert {"protocol-shade.svg", "protocol-cooks.csv", "summary.md"} <= {
        path.name for path in folder.iterdir()
    }
    assert not (folder / "protocol-report.pdf").exists()


def test_what_it_says_is_what_it_holds(run: tuple[Path, xr.Dataset]) -> None:
    """The advised number of cooks is the first that gets there, and the numbers in the sentences are the dataset's."""
    found = run[1]
    best, count = int(found.attrs["recommended"]), int(found.attrs["recommended_cooks"])
    reach = found["reach"].isel(protocol=best).sel(factor="loss_ratio").to_numpy()
    assert count >= 1
    assert reach[count - 1] <= 0.06
    assert count == 1 or reach[count - 2] > 0.06
    hours = found["hours"].to_numpy()
    there = found["cooks_needed"].to_numpy()
    least = min(hours[k, int(need) - 1] for k, need in enumerate(there) if math.isfinite(need))
    assert hours[best, count - 1] == least
    text = " ".join(report.sentences(found))
    assert "To know heat loss within 6 %" in text
    assert f"do {count} cook" in text
    shaded = re.search(r"heat loss is within ([\d.]+) % after one cook without shade", text)
    assert shaded is not None
    plain = found["reach"].sel(cooks=1, factor="loss_ratio").to_numpy()
    same = (found["sensors"] == found["sensors"][best]) & (found["shade"] == 0) & (found["empty"] == 0)
    assert float(shaded[1]) == pytest.approx(100 * plain[same.to_numpy()][0], rel=0.05)
    assert "the instrument for sunlight may be off by 5 %" in text
    assert "dark glasses and gloves" in text


def test_the_same_seed_gives_the_same_bits(setting: studies.Setting) -> None:
    keys = {"sensors": {"food": "0.5 K"}, "shades": ["20 min"], "heat_up": "1 h", "refits": 3}
    one, other = (studies.protocol(setting, **keys) for _ in range(2))
    xr.testing.assert_identical(one, other)
    moved = studies.protocol(replace(setting, seed=setting.seed + 1), **keys)
    assert not np.array_equal(one["refit_error"], moved["refit_error"])


def test_what_cannot_be_reached_is_said(setting: studies.Setting) -> None:
    keys = {
        "sensors": {"food": "0.5 K"},
        "shades": ["20 min"],
        "heat_up": "1 h",
        "refits": 0,
        "most_cooks": 3,
    }
    found = studies.protocol(setting, wanted={"light_ratio": "1 %"}, **keys)
    assert int(found.attrs["recommended_cooks"]) == 0
    assert np.isnan(found["cooks_needed"]).all()
    text = " ".join(report.sentences(found))
    assert "Not one of these ways gets light into the pot within 1 % with up to 3 cooks" in text
    assert "Checked by" not in text


def test_an_oven_as_built_is_the_truth_of_its_plan(setting: studies.Setting) -> None:
    """Refits of an oven that is known to take in 20 % less light look for that."""
    built = replace(setting, design=setting.design.with_factors(light_ratio=0.8))
    keys = {"sensors": {"food": "0.3 K", "pot": "0.3 K"}, "shades": ["20 min"], "heat_up": "1 h"}
    found = studies.protocol(built, refits=8, **keys)
    assert json.loads(found.attrs["design"])["light_ratio"] == 0.8
    assert (found["refit_held"].to_numpy() >= 0.5).all()


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ({"sensors": {}}, "sensors"),
        ({"sensors": {"fod": "0.5 K"}}, 'sensors: "fod" is no place of a thermometer; did you mean food?'),
        ({"offset": {"pot": "1 K"}}, 'offset: "pot" is none of the thermometers at hand: food'),
        (
            {"wanted": {"los_ratio": "5 %"}},
            '"los_ratio" is no ratio of an oven as built; did you mean loss_ratio?',
        ),
        ({"wanted": {"loss_ratio": "0 %"}}, 'loss_ratio = "0 %": allowed above zero'),
        ({"empty": "1 h"}, "empty: a cook without load needs a thermometer elsewhere than in the food"),
        ({"heat_up": "6 h", "shades": ["1 h"]}, "heat_up, shades: 7 h together; the sky's day has 6.5 h"),
        ({"every": "10 min", "heat_up": "1 h"}, "every = 10 min: a heat-up of 60 min needs ten or more"),
    ],
)
def test_what_is_wrong_is_told_with_the_next_move(
    setting: studies.Setting, keys: dict[str, object], fault: str
) -> None:
    with pytest.raises(studies.StudyError, match=re.escape(fault)):
        studies.protocol(setting, **({"sensors": {"food": "0.5 K"}} | keys))
