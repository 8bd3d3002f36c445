"""`noonhearth parts`: from a config and from a result, and what it refuses."""

from pathlib import Path

import pytest

from noonhearth.studies.cli import app
from noonhearth.studies.config import ConfigError, load

OVEN = Path(__file__).parents[1] / "oven.toml"


def called(*words: str) -> int:
    code = app(list(words), result_action="return_value")
    assert isinstance(code, int)
    return code


def test_parts_of_a_config(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = OVEN.read_text("utf-8") + '\n[workshop]\njoint = "seam"\nflange = "15 mm"\n'
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    assert called("parts", str(tmp_path / "mine.toml")) == 0
    page = (tmp_path / "parts/cut-list.md").read_text("utf-8")
    assert "fold both flanges back" in page
    assert "cautions" in capsys.readouterr().out


def test_parts_of_a_result_are_those_of_the_chosen_design(tmp_path: Path) -> None:
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + (
        '[[study]]\nkind = "search"\ngoals = ["mass", "reaims"]\ntrials = 8\npopulation = 4\n'
        '[study.vary]\nfacets = [5, 7]\nmouth = ["500 mm", "700 mm"]\n'
    )
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    assert called("run", str(tmp_path / "mine.toml"), "--to", str(tmp_path)) == 0
    assert called("parts", str(tmp_path / "mine/search.nc"), "--to", str(tmp_path / "cut")) == 0
    import xarray as xr

    with xr.open_dataset(tmp_path / "mine/search.nc") as found:
        facets = int(found["facets"][found.attrs["chosen_trial"]])
    first = (tmp_path / "cut/cut-list.csv").read_text("utf-8").splitlines()[1]
    assert first.startswith(f'"facet, tier 1",{facets},')


def test_a_result_without_its_design_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As `noonhearth batch` writes one over many configs."""
    import xarray as xr

    from noonhearth.studies.results import store
    from noonhearth.studies.results.provenance import Provenance, stamp

    made = Provenance(
        title="many",
        config="",
        model_hash="x",
        versions={},
        seed=1,
        created="2026-03-01T12:00:00+00:00",
        counts={},
    )
    many = xr.Dataset({"status": ((), 0, {"units": "1", "long_name": "status"})})
    store.write(stamp(many, made), tmp_path / "batch.nc")
    assert called("parts", str(tmp_path / "batch.nc")) == 2
    assert "batch.nc does not keep the design it is about; run its config again" in capsys.readouterr().err


def test_wrong_sources_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert called("parts", str(tmp_path / "none.nc")) == 2
    assert "none.nc" in capsys.readouterr().err
    bad = tmp_path / "bad.toml"
    bad.write_text(OVEN.read_text("utf-8") + '\n[workshop]\njoint = "welded"\nneutral = "90 %"\n', "utf-8")
    with pytest.raises(ConfigError) as raised:
        load(bad)
    assert "workshop.joint" in str(raised.value)
    assert "workshop.neutral" in str(raised.value)
    assert called("parts", str(bad)) == 2


def test_the_workshop_does_not_decide_what_is_computed(tmp_path: Path) -> None:
    other = tmp_path / "oven.toml"
    other.write_text(OVEN.read_text("utf-8") + '\n[workshop]\njoint = "strip"\n', "utf-8")
    assert load(other).identity == load(OVEN).identity
    assert load(other).workshop.joint == "strip"


def test_sheets_of_a_config(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.toml").write_text(OVEN.read_text("utf-8").replace("rays = 16", "rays = 4"), "utf-8")
    assert called("sheets", str(tmp_path / "mine.toml"), "--paper", "Letter") == 0
    assert (tmp_path / "field/sight-plate.pdf").stat().st_size > 1000
    assert "never at the sun" in " ".join(capsys.readouterr().out.split())
