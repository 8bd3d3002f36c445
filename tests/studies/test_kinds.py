"""Each kind of study as a function: what it takes, what it refuses, and that a config does the same."""

import inspect
from dataclasses import replace
from pathlib import Path

import pytest
import xarray as xr

import noonhearth.studies as studies
from noonhearth.studies import Running, StudyError, load
from noonhearth.studies.kinds import KINDS

OVEN = Path(__file__).parents[1] / "oven.toml"
VARY = {"facet_angle": ["25 deg", "35 deg"], "insulation_thickness": ["20 mm", "60 mm"]}


@pytest.fixture(scope="module")
def setting() -> studies.Setting:
    return load(OVEN).setting


def test_every_public_name_is_there_and_every_kind_is_public() -> None:
    for name in studies.__all__:
        assert getattr(studies, name) is not None
    assert {getattr(studies, word) for word in KINDS} == set(KINDS.values())


def test_a_study_is_one_call(setting: studies.Setting) -> None:
    found = studies.search(setting, vary=VARY, goals=["peak_temperature", "mass"], trials=8, population=4)
    assert isinstance(found, xr.Dataset)
    assert found.sizes["trial"] == 8
    assert found["facet_angle"].attrs["dimension"] == "angle"
    assert studies.sentences(found)
    assert [drawing.name for drawing in studies.drawn(found)]


def test_running_changes_no_number(setting: studies.Setting, tmp_path: Path) -> None:
    told: list[tuple[str, int, int, int]] = []
    keys = {"vary": VARY, "outputs": ["peak_temperature"], "base_samples": 16}
    plain = studies.sensitivity(setting, **keys)
    running = Running(workers=2, scratch=tmp_path, watch=lambda *state: told.append(state))
    xr.testing.assert_identical(plain, studies.sensitivity(setting, running=running, **keys))
    assert told[-1] == ("sensitivity", 64, 64, 0)
    assert any(tmp_path.rglob("*.evaluations"))


def test_all_faults_of_a_call_at_once(setting: studies.Setting) -> None:
    with pytest.raises(StudyError) as raised:
        studies.search(setting, vary=VARY, goals=["time_to_dine"], trials=2, populations=4)
    text = str(raised.value)
    for fault in ("time_to_dine", "trials = 2", "populations"):
        assert fault in text
    with pytest.raises(StudyError, match=r"vary\.facet_angel: no field"):
        studies.search(setting, vary={"facet_angel": ["25 deg", "35 deg"]}, goals=["mass"])
    with pytest.raises(StudyError, match="base_samples = 48: must be a power of two"):
        studies.sensitivity(setting, vary=VARY, outputs=["mass"], base_samples=48)


def test_help_shows_keys_and_defaults() -> None:
    parameters = inspect.signature(studies.search).parameters
    assert next(iter(parameters)) == "setting"
    assert "kind" not in parameters
    assert parameters["vary"].default is inspect.Parameter.empty
    assert parameters["population"].default == 40


def test_settings_that_differ_have_other_identities(setting: studies.Setting) -> None:
    dim = replace(setting.sky, dhi=setting.sky.dhi * 0.5)
    evening = setting.sky.evening._replace(wind_speed=setting.sky.evening.wind_speed + 1.0)
    others = [
        replace(setting, seed=2),
        replace(setting, rays=setting.rays + 4),
        replace(setting, sky=dim),
        replace(setting, sky=replace(setting.sky, evening=evening)),
    ]
    assert len({one.identity for one in (setting, *others)}) == 5
    assert load(OVEN).setting.identity == setting.identity
