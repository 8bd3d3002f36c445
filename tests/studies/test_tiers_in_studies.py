"""Tiers as factors: searched, analysed, told; and what a config says of bends that nothing bends."""

from pathlib import Path

import numpy as np
import pytest

from noonhearth.studies.config import ConfigError, load
from noonhearth.studies.kinds import Running
from noonhearth.studies.run import Result, carry_out
from noonhearth.studies.telling import report

ROOT = Path(__file__).parents[2]
BASE = (ROOT / "tests/oven.toml").read_text("utf-8")
BASE = (
    BASE[: BASE.index("[[study]]")]
    .replace("rays = 16", "rays = 8")
    .replace("days_per_month = 5", "days_per_month = 1")
)

SEARCH = """
[[study]]
kind = "search"
goals = ["time_to_done", "mass"]
trials = 48
population = 12
[study.vary]
tiers = [1, 3]
second_bend = ["-15 deg", "15 deg"]
second_from = ["20 %", "80 %"]
third_bend = ["-60 deg", "15 deg"]
"""
SOBOL = """
[[study]]
kind = "sensitivity"
base = "config"
outputs = ["light_to_pot", "mass"]
base_samples = 32
[study.vary]
second_bend = { within = "6 deg" }
second_from = { within = "20 %" }
soiling = ["0 %", "10 %"]
"""
DAY = '\n[[study]]\nkind = "day"\n'


def config(folder: Path, *studies: str, funnel: str = "") -> Path:
    path = folder / "oven.toml"
    text = BASE.replace('facet_angle = "30 deg"', 'facet_angle = "25 deg"\n' + funnel)
    path.write_text(text + "".join(studies), "utf-8")
    return path


def only_result(path: Path) -> Result:
    (result,) = carry_out(load(path), running=Running())
    assert isinstance(result, Result), result
    return result


def test_a_search_chooses_how_many_tiers_and_tells_only_what_is_built(tmp_path: Path) -> None:
    result = only_result(config(tmp_path, SEARCH))
    tried = result.dataset
    assert set(np.unique(tried["tiers"])) == {1, 2, 3}
    assert (tried["status"] == 0).sum() > 24
    row = int(tried.attrs["chosen_trial"])
    tiers = int(tried["tiers"][row])
    assert result.design.oven.funnel.tiers == tiers
    sentences = report.sentences(tried)
    idle = {"second bend": tiers < 2, "second from": tiers < 2, "third bend": tiers < 3}
    for name, unused in idle.items():
        assert (name in sentences[0].lower()) is not unused
        told = [s for s in sentences if s.startswith("Of no effect in the chosen design")]
        assert any(name in s for s in told) is unused
        assert not any(s.lower().startswith(f"{name} anywhere") for s in sentences) or not unused


def test_bends_have_sobol_indices(tmp_path: Path) -> None:
    """The bend moves mirror and skin and so all of the mass; dust weighs nothing."""
    path = config(tmp_path, SOBOL, funnel='tiers = 2\nsecond_bend = "5 deg"\nsecond_from = "50 %"\n')
    found = only_result(path).dataset
    total = found["total"].isel(base_samples=-1)
    mass = total.sel(output="mass")
    assert float(mass.sel(factor="soiling")) == pytest.approx(0.0, abs=1e-12)
    assert float(mass.sel(factor="second_bend")) > 0.3
    assert float(total.sel(output="light_to_pot", factor="second_bend")) > 0.05


@pytest.mark.parametrize(
    ("studies", "funnel", "fault"),
    [
        (
            DAY,
            'second_bend = "10 deg"\n',
            r"oven.funnel.second_bend: of no effect with tiers = 1; write tiers = 2",
        ),
        (
            DAY,
            'tiers = 2\nsecond_bend = "8 deg"\nthird_from = "10 %"\n',
            r"oven.funnel.third_from: of no effect with tiers = 2; write tiers = 3",
        ),
        (
            SOBOL.replace("soiling", "third_bend").replace('["0 %", "10 %"]', '["0 deg", "10 deg"]'),
            "tiers = 2\n",
            r"study\[1\].vary.third_bend: of no effect with tiers = 2; write tiers = 3",
        ),
        (DAY, 'tiers = 2\nsecond_bend = "35 deg"\n', r"oven.funnel.tiers = 2: the facets meet"),
        (DAY, "tiers = 4\n", r"oven.funnel.tiers.*3"),
    ],
)
def test_bends_that_nothing_bends_are_faults(tmp_path: Path, studies: str, funnel: str, fault: str) -> None:
    with pytest.raises(ConfigError, match=fault) as caught:
        load(config(tmp_path, studies, funnel=funnel))
    assert len(caught.value.faults) == 1


def test_a_search_over_tiers_may_bend_what_the_config_leaves_straight(tmp_path: Path) -> None:
    plan = load(config(tmp_path, SEARCH, funnel='second_bend = "4 deg"\n'))
    assert plan.setting.design.oven.funnel.idle == ("second_bend", "second_from", "third_bend", "third_from")
    assert {"pane_gap", "box_across", "second_bend"} < set(plan.setting.design.idle)
