"""Results of several seeds made into one: held against SALib, brute force and the parts; what differs is refused."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from SALib.analyze import morris as salib_morris
from SALib.analyze import sobol as salib_sobol

from noonhearth.studies.commands.results import merge as command
from noonhearth.studies.config import load
from noonhearth.studies.kinds import Running
from noonhearth.studies.results.content import content_hash
from noonhearth.studies.results.merge import MergeError, merge, seeds_of
from noonhearth.studies.results.reader import OpenedResult
from noonhearth.studies.results.store import StoreError, read, write
from noonhearth.studies.run import Result, carry_out
from noonhearth.studies.telling import figures, report

OVEN = Path(__file__).parents[1] / "oven.toml"
SEEDS = (7, 8, 9)
STUDIES = """
[[study]]
kind = "search"
goals = ["time_to_done", "reaims"]
trials = 16
population = 8
[study.vary]
facet_angle = ["15 deg", "50 deg"]
facets = [6, 10]
azimuth_every = ["10 min", "90 min"]
mirror = ["anodised-sheet", "foil-on-card"]

[[study]]
kind = "day"

[[study]]
kind = "sensitivity"
base = "config"
outputs = ["plateau_temperature", "light_to_pot"]
base_samples = 16
[study.vary]
soiling = ["0 %", "20 %"]
facets = [6, 10]
wind_share = ["0 %", "150 %"]

[[study]]
kind = "screening"
base = "config"
outputs = ["plateau_temperature"]
trajectories = 4
[study.vary]
soiling = ["0 %", "20 %"]
skin_thickness = ["5 mm", "6 mm"]
"""


def config_text(seed: int) -> str:
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + STUDIES
    for old, new in (("seed = 7", f"seed = {seed}"), ("rays = 16", "rays = 4"), ("month = 5", "month = 1")):
        text = text.replace(old, new)
    return text


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[xr.Dataset]]:
    """Results of one config from three seeds, by kind, as read from their files."""
    folder = tmp_path_factory.mktemp("parts")
    found: dict[str, list[xr.Dataset]] = {}
    for seed in SEEDS:
        config = folder / f"seed-{seed}.toml"
        config.write_text(config_text(seed), "utf-8")
        for result in carry_out(load(config), running=Running()):
            assert isinstance(result, Result), result
            path = folder / f"{result.name}-{seed}.nc"
            write(result.dataset, path)
            found.setdefault(result.name, []).append(read(path))
    return found


@pytest.fixture(scope="module")
def merged(parts: dict[str, list[xr.Dataset]]) -> dict[str, xr.Dataset]:
    return {name: merge(parts[name]) for name in ("search", "sensitivity", "screening")}


def test_all_trials_stand_in_order(parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]) -> None:
    whole = merged["search"]
    assert whole["trial"].values.tolist() == list(range(48))
    for name in (
        "facet_angle",
        "facets",
        "mirror",
        "time_to_done",
        "reaims",
        "status",
        "reason",
        "generation",
    ):
        joined = np.concatenate([part[name].values for part in parts["search"]])
        np.testing.assert_array_equal(whole[name].values, joined)
        assert whole[name].attrs == parts["search"][0][name].attrs
    assert whole["run_seed"].values.tolist() == whole["rays_seed"].values.tolist() == list(SEEDS)
    assert json.loads(whole.attrs["counts"])["designs"] == 48
    told = json.loads(whole.attrs["merged"])
    assert [part["seed"] for part in told] == list(SEEDS)
    assert [part["content_hash"] for part in told] == [content_hash(part) for part in parts["search"]]


def goals_of(whole: xr.Dataset) -> np.ndarray:
    return np.column_stack([whole["time_to_done"].values, whole["reaims"].values])


def test_the_front_is_that_of_all_by_brute_force(merged: dict[str, xr.Dataset]) -> None:
    whole = merged["search"]
    points, fine = goals_of(whole), whole["feasible"].values == 1
    on_front = []
    for row, own in enumerate(points):
        beaten = any(np.all(other <= own) and np.any(other < own) for other in points[fine])
        if fine[row] and not beaten:
            on_front.append(row)
    assert 0 < len(on_front) < fine.sum()
    assert np.flatnonzero(whole["on_front"].values).tolist() == on_front


def test_the_hypervolume_is_that_of_all_by_counting_cells(merged: dict[str, xr.Dataset]) -> None:
    """The area between front and reference as a sum over the cells of the grid that all points span."""
    whole = merged["search"]
    corner = np.asarray(whole.attrs["hypervolume_reference"], float)
    points = goals_of(whole)[whole["feasible"].values == 1]
    x, y = (np.unique(np.append(points[:, k], corner[k])) for k in (0, 1))
    area = sum(
        (right - left) * (top - low)
        for left, right in pairwise(x)
        for low, top in pairwise(y)
        if right <= corner[0] and top <= corner[1] and np.any((points[:, 0] <= left) & (points[:, 1] <= low))
    )
    assert float(whole["hypervolume"][-1]) == pytest.approx(area, rel=1e-12)
    assert (whole["run_hypervolume"].values[:, -1] <= area * (1 + 1e-12)).all()
    assert whole["run_hypervolume"].shape[0] == 3


def test_the_chosen_one_is_the_best_of_the_chosen(
    parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]
) -> None:
    whole = merged["search"]
    trial = int(whole.attrs["chosen_trial"])
    number, own = divmod(trial, 16)
    part = parts["search"][number]
    assert part.attrs["chosen_trial"] == own
    front = goals_of(whole)[whole["on_front"].values == 1]
    scaled = (goals_of(whole) - front.min(0)) / (front.max(0) - front.min(0))
    rivals = [16 * k + int(other.attrs["chosen_trial"]) for k, other in enumerate(parts["search"])]
    rivals = [rival for rival in rivals if whole["on_front"][rival] == 1]
    assert min(rivals, key=lambda rival: scaled[rival].sum()) == trial
    about = [
        name for name in part.variables if str(name).startswith(("slice_", "chosen_", "flat_", "known_"))
    ]
    assert len(about) > 20
    for name in about:
        xr.testing.assert_identical(whole[name].variable, part[name].variable)
    assert whole.attrs["design"] == part.attrs["design"]


@pytest.mark.parametrize(
    ("pick", "weights"),
    [
        ('{"time_to_done": 4, "reaims": 1}', (4, 1)),
        ("time_to_done", (1, 0)),
        ("reaims", (0, 1)),
        ('{"time_to_done": 1, "reaims": 4}', (1, 4)),
    ],
)
def test_of_several_chosen_ones_the_rule_of_the_config_takes_one(
    pick: str, weights: tuple[float, float], parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]
) -> None:
    """With two of the whole front, as unlike by the rule as can be, as the designs that two of the parts chose."""
    members = np.flatnonzero(merged["search"]["on_front"].values)
    points = goals_of(merged["search"])
    front = points[members]
    loss = ((points - front.min(0)) / (front.max(0) - front.min(0))) @ weights
    pairs = [(one, two) for one in members for two in members if one // 16 < two // 16]
    one, two = max(pairs, key=lambda pair: abs(loss[pair[0]] - loss[pair[1]]))
    chosen = {int(trial) // 16: int(trial) % 16 for trial in (one, two)}
    results = []
    for number, part in enumerate(parts["search"]):
        told = {name: value for name, value in part.attrs.items() if name != "chosen_trial"} | {"pick": pick}
        told |= {"chosen_trial": chosen[number]} if number in chosen else {}
        results.append(part.drop_attrs(deep=False).assign_attrs(told))
    assert loss[one] != loss[two]
    assert merge(results).attrs["chosen_trial"] == (one if loss[one] < loss[two] else two)


def test_pooled_indices_are_those_of_the_whole_sample(
    parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]
) -> None:
    """By SALib, of the outputs of all seeds one after another."""
    whole = merged["sensitivity"]
    assert whole["base_samples"].values.tolist() == [12, 24, 48]
    assert whole["rays_seed"].values.tolist() == np.repeat(SEEDS, 16).tolist()
    names = [str(name) for name in whole["factor"].values]
    problem = {"num_vars": 3, "names": names, "bounds": [[0.0, 1.0]] * 3}
    for k in range(2):
        y = np.concatenate([part["sampled"].values[k] for part in parts["sensitivity"]]).ravel()
        np.testing.assert_array_equal(whole["sampled"].values[k].ravel(), y)
        known = salib_sobol.analyze(problem, y, calc_second_order=False, num_resamples=2, seed=1)
        np.testing.assert_allclose(whole["first"].values[k, -1], known["S1"], rtol=1e-9, atol=1e-12)
        np.testing.assert_allclose(whole["total"].values[k, -1], known["ST"], rtol=1e-9, atol=1e-12)
    alone = parts["sensitivity"][0]
    assert (whole["total_half_width"].values[:, -1] < alone["total_half_width"].values[:, -1]).mean() > 0.5
    assert whole.attrs["designs"] == 3 * alone.attrs["designs"]


def test_pooled_effects_are_those_of_all_trajectories(
    parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]
) -> None:
    whole = merged["screening"]
    problem = {"num_vars": 2, "names": ["a", "b"], "bounds": [[0.0, 1.0]] * 2}
    u = np.concatenate([part["u"].values for part in parts["screening"]]).reshape(-1, 2)
    y = np.concatenate([part["sampled"].values[0] for part in parts["screening"]]).ravel()
    known = salib_morris.analyze(problem, u, y, num_levels=4, num_resamples=2, seed=1)
    np.testing.assert_allclose(whole["mu"].values[0], known["mu"], rtol=1e-9)
    np.testing.assert_allclose(whole["mu_star"].values[0], known["mu_star"], rtol=1e-9)
    np.testing.assert_allclose(whole["sigma"].values[0], known["sigma"], rtol=1e-9)
    assert whole["may_fix"].values.tolist() == [0, 1]  # a millimetre of skin
    assert whole["fixed"].shape == (1, 12)


def test_what_was_held_otherwise_is_left_out(parts: dict[str, list[xr.Dataset]]) -> None:
    odd = parts["screening"][1].copy(deep=True)
    odd["may_fix"][:] = [1, 1]
    whole = merge([parts["screening"][0], odd])
    assert not {"fixed", "fixing_moves", "fixing_turns"} & set(map(str, whole.variables))


@pytest.mark.parametrize("name", ["search", "sensitivity", "screening"])
def test_merging_in_steps_is_merging_at_once(
    name: str, parts: dict[str, list[xr.Dataset]], merged: dict[str, xr.Dataset]
) -> None:
    one, two, three = parts[name]
    xr.testing.assert_identical(merge([merge([one, two]), three]), merged[name])
    assert seeds_of(merged[name]) == list(SEEDS)


@pytest.mark.parametrize("name", ["search", "sensitivity", "screening"])
def test_a_merged_result_is_kept_told_and_made_again_row_by_row(
    name: str, merged: dict[str, xr.Dataset], tmp_path: Path
) -> None:
    write(merged[name], tmp_path / "merged.nc")
    opened = OpenedResult(tmp_path / "merged.nc", read(tmp_path / "merged.nc"))
    rows = opened.dataset["status"].size
    for row in (0, rows // 2, rows - 1):  # of the first, the second and the third seed
        again = opened.rerun(row)
        assert again.same, again.sentences()
    with pytest.raises(StoreError, match="was merged from several results"):
        opened.rerun()
    assert all(report.sentences(opened.dataset))
    assert list(figures.drawn(opened.dataset))


def test_designs_that_stopped_the_model_keep_their_place(parts: dict[str, list[xr.Dataset]]) -> None:
    text = {"units": "1", "long_name": "made up"}
    odd = parts["sensitivity"][1].assign(
        stopped_row=("stopped", [5], text), stopped_reason=("stopped", ["it broke"], text)
    )
    whole = merge([parts["sensitivity"][0], odd, parts["sensitivity"][2]])
    assert whole["stopped_row"].values.tolist() == [5 + 80]
    assert whole["stopped_reason"].values.tolist() == ["it broke"]


def with_config(result: xr.Dataset, old: str, new: str) -> xr.Dataset:
    assert old in result.attrs["config"]
    return result.assign_attrs(config=result.attrs["config"].replace(old, new))


def test_what_differs_is_refused_by_name(parts: dict[str, list[xr.Dataset]]) -> None:
    one, two, three = parts["sensitivity"]
    base = json.loads(two.attrs["base_design"])
    file = {"units": "1", "long_name": "a file", "file_name": "mine.toml"}
    cases = [
        ([one], "two results or more"),
        ([one, one], "seed 7 is there twice"),
        (
            [one, three, one.assign_attrs(model_hash="ab12")],
            "result 3: another version of the model, ab12 for ",
        ),
        ([one, parts["screening"][1]], "result 2: another study, screening for sensitivity"),
        (
            [one, with_config(two, "days_per_month = 1", "days_per_month = 2")],
            "result 2: sky.days_per_month = 2 for 1",
        ),
        (
            [one, with_config(two, 'soiling = ["0 %", "20 %"]', 'soiling = ["0 %", "30 %"]')],
            r'result 2: study[3].vary.soiling[2] = "30 %" for "20 %"',
        ),
        ([one, with_config(two, "altitude =", "# altitude =")], 'place.altitude = nothing for "320 m"'),
        (
            [one, two.assign_attrs(base_design=json.dumps(base | {"facets": 9}))],
            "result 2: it starts from another design (facets)",
        ),
        (
            [one, two.assign_attrs(space=two.attrs["space"].replace('"high": 0.2', '"high": 0.3'))],
            "result 2: other ranges of soiling",
        ),
        (
            [one, two.assign(file_1=("file_1_byte", np.frombuffer(b"a", np.uint8), file))],
            "result 2: another file mine.toml",
        ),
        (parts["day"], "a day study cannot be merged; searches, "),
    ]
    for results, sentence in cases:
        with pytest.raises(MergeError) as refusal:
            merge(results)
        assert sentence in str(refusal.value)
    both = with_config(two, "days_per_month = 1", "days_per_month = 2").assign_attrs(model_hash="ab12")
    with pytest.raises(MergeError, match=r"version of the model.*; .*days_per_month"):
        merge([one, both])


def test_a_remark_or_a_title_makes_no_other_config(parts: dict[str, list[xr.Dataset]]) -> None:
    one, two, _ = parts["screening"]
    same = with_config(two, 'title = "', '# a remark\ntitle = "Other: ')
    assert merge([one, same]).sizes["trajectory"] == 8


def test_the_command_merges_or_says_why_not(
    parts: dict[str, list[xr.Dataset]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    a, b, c, to = map(Path, ("a.nc", "b.nc", "c.nc", "all-seeds.nc"))
    for path, part in zip((a, b, c), parts["search"], strict=True):
        write(part, path)
    assert command(a, b, c, to=to) == 0
    assert "Written to all-seeds.nc." in capsys.readouterr().out
    assert read(to).sizes["trial"] == 48
    assert command(a, a) == 2
    assert "a.nc, a.nc: not merged: seed 7 is there twice" in capsys.readouterr().err
    assert command(a, Path("none.nc")) == 2
    assert "none.nc does not exist" in capsys.readouterr().err
    assert not Path("merged.nc").exists()
