"""Configs: every fault at once with its path, what is allowed and the next move; nothing written."""

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from noonhearth.studies.config import ConfigError, load, loads

ROOT = Path(__file__).parents[2]
SHIPPED = sorted((ROOT / "configs").glob("*.toml"))
FIRST = ROOT / "tests/oven.toml"


def faults(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "oven.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(ConfigError) as caught:
        load(path)
    assert [p.name for p in tmp_path.iterdir()] == ["oven.toml"]
    return caught.value.faults


def changed(*changes: tuple[str, str]) -> str:
    text = FIRST.read_text("utf-8")
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_every_shipped_config_loads(path: Path) -> None:
    plan = load(path)
    assert plan.steps
    assert plan.setting.sky.days >= 1


def test_quantities_arrive_in_si() -> None:
    plan = load(FIRST)
    raw = tomllib.loads(FIRST.read_text("utf-8"))
    mouth = float(raw["oven"]["funnel"]["mouth"].removesuffix(" mm"))
    assert plan.setting.design.value("mouth") == pytest.approx(mouth / 1000)


CASES = {
    "unit missing": (('mouth = "600 mm"', 'mouth = "600"'), r"oven.funnel.mouth: .*has no unit.*length"),
    "number for text": (('mouth = "600 mm"', "mouth = 600"), r"oven.funnel.mouth: .*unit"),
    "wrong unit": (('mouth = "600 mm"', 'mouth = "600 kg"'), r"oven.funnel.mouth: .*is a mass; a length"),
    "out of range": (
        ('mouth = "600 mm"', 'mouth = "600 m"'),
        r"oven.funnel.mouth: .*outside.*100 mm to 4000 mm",
    ),
    "unknown key": (
        ("facets = 8", "facetts = 8"),
        r"oven.funnel.facetts: unknown key; did you mean facets\?",
    ),
    "unknown material": (
        ('mirror = "anodised-sheet"', 'mirror = "anodized-sheet"'),
        r"oven.funnel.mirror: .*did you mean anodised-sheet\?",
    ),
    "unknown aiming": (
        ('how = "by hand"', 'how = "by hnd"'),
        r"aiming.how = 'by hnd': .*did you mean by hand\?",
    ),
    "throat below zero": (
        ('facet_angle = "30 deg"', 'facet_angle = "50 deg"'),
        r"oven.funnel.facet_angle = 50 deg closes the throat.*below 45 deg",
    ),
    "pot over the rim": (('pot_height = "140 mm"', 'pot_height = "290 mm"'), r"oven.pot.pot_height.*cover"),
    "pot through a wall": (
        ('pot_diameter = "180 mm"', 'pot_diameter = "400 mm"'),
        r"oven: .*pot touches the mirror",
    ),
    "meal too large": (
        ('food_mass = "0.6 kg"', 'food_mass = "6 kg"'),
        r"oven: the meal is more than the pot holds",
    ),
    "polar night": (
        ('latitude = "13.5 deg"', 'latitude = "80 deg"'),
        r"sky: the sun stays down at .* on \d+ [A-Z][a-z]+ from 09:30",
    ),
    "unknown zone": (
        ('timezone = "Africa/Ouagadougou"', 'timezone = "Africa/Nowhere"'),
        r"place.timezone = 'Africa/Nowhere' is not known",
    ),
    "zone left out": (('timezone = "Africa/Ouagadougou"\n', ""), r"place.timezone.*is missing"),
    "bad base samples": (("base_samples = 64", "base_samples = 100"), r"base_samples = 100: .*64 or 128"),
    "seed zero": (("seed = 7", "seed = 0"), r"seed = 0: allowed 1 or more"),
    "unknown goal": (('"reaims"]', '"reaim"]'), r"study\[1\].goals: .*did you mean reaims\?"),
    "unknown factor": (
        ("azimuth_every = [", "azimuth_evry = ["),
        r"study\[1\].vary.azimuth_evry: .*azimuth_every",
    ),
    "ends swapped": (
        ('["15 deg", "38 deg"]', '["38 deg", "15 deg"]'),
        r"study\[1\].vary.facet_angle: .*below",
    ),
    "month thirteen": (
        ("months = [11, 12, 1, 2]", "months = [11, 12, 13, 2]"),
        r"sky.months\[3\] = 13: allowed 12",
    ),
    "clearness of one month missing": (
        ("clearness = [0.62, 0.61, 0.61, 0.62]", "clearness = [0.62]"),
        r"sky: clearness has 1 values for 4 months",
    ),
    "clearness as a percentage": (
        ("clearness = [0.62, 0.61, 0.61, 0.62]", "clearness = [62, 61, 61, 62]"),
        r"sky: monthly clearness index = 62",
    ),
    "price of another form": (
        ('"18 per m2"', '"18 euros"'),
        r'prices.materials.anodised-sheet: .*"12 per kg"',
    ),
    "price of nothing": (("plywood =", "plywod ="), r"prices.materials.plywod: not a name of the catalogue"),
    "own list missing": (
        ("seed = 7", 'seed = 7\nmaterials = "mine.toml"'),
        r'materials = "mine.toml": cannot be read',
    ),
}


@pytest.mark.parametrize("case", CASES, ids=list(CASES))
def test_one_fault_is_named_with_the_next_move(case: str, tmp_path: Path) -> None:
    change, expected = CASES[case]
    found = faults(tmp_path, changed(change))
    assert len(found) == 1, found
    assert re.search(expected, found[0]), found[0]


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """Faults of spelling, of units, of one part against another, and of the place, all in one go."""
    found = faults(
        tmp_path,
        changed(
            ("facets = 8", "facets = 2"),
            ('latitude = "13.5 deg"', 'latitude = "13.5"'),
            ('food = "rice"', 'food = "rise"'),
            ('pot_lift = "50 mm"', 'pot_lft = "50 mm"'),
            ("base_samples = 64", "base_samples = 3"),
            ('timezone = "Africa/Ouagadougou"', 'timezone = "Mars/Olympus"'),
        ),
    )
    for word in ("facets", "latitude", "rise", "pot_lft", "base_samples"):
        assert any(word in fault for fault in found), word


@pytest.mark.parametrize("text", ["title = ", "[oven\n", "\x00"])
def test_what_is_not_toml_is_said_to_be(text: str, tmp_path: Path) -> None:
    assert "is not TOML" in faults(tmp_path, text)[0]


def test_a_missing_file_is_one_fault(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="no such file"):
        load(tmp_path / "none.toml")


def weather_config(path: str) -> str:
    text = FIRST.read_text("utf-8")
    start, stop = text.index("[sky]"), text.index("[oven.funnel]")
    sky = f'[sky]\nsource = "file"\npath = "{path}"\nmonths = [6]\nstart = "09:30"\nstop = "16:00"\n\n'
    return text[:start] + sky + text[stop:]


def test_a_missing_weather_file_is_named(tmp_path: Path) -> None:
    assert re.search(r"sky: .*none\.epw", faults(tmp_path, weather_config("none.epw"))[0])


def test_a_truncated_weather_file_is_named(tmp_path: Path) -> None:
    import pvlib

    whole = Path(pvlib.__file__).parent / "data/723170TYA.CSV"
    part = tmp_path / "part.csv"
    part.write_bytes(whole.read_bytes()[:300_000])
    path = tmp_path / "oven.toml"
    path.write_text(weather_config("part.csv"), "utf-8")
    with pytest.raises(ConfigError, match=r"part\.csv"):
        load(path)


def test_a_weather_file_makes_the_sky(tmp_path: Path) -> None:
    import pvlib

    whole = (Path(pvlib.__file__).parent / "data/723170TYA.CSV").as_posix()
    text = weather_config(whole)
    for old, new in (
        ("13.5 deg", "36.1 deg"),
        ("-1.5 deg", "-79.95 deg"),
        ("Africa/Ouagadougou", "UTC-05:00"),
    ):
        text = text.replace(old, new)
    path = tmp_path / "oven.toml"
    path.write_text(text, "utf-8")
    plan = load(path)
    assert plan.setting.sky.days == 30


def test_identity_is_of_what_is_computed_not_of_its_spelling(tmp_path: Path) -> None:
    def identity(*changes: tuple[str, str]) -> str:
        path = tmp_path / "oven.toml"
        path.write_text(changed(*changes), "utf-8")
        return load(path).identity

    same = identity()
    assert identity(('mouth = "600 mm"', 'mouth = "0.6 m"   # the same')) == same
    assert identity(('mouth = "600 mm"', 'mouth = "601 mm"')) != same
    assert identity(("seed = 7", "seed = 8")) != same


PRICES = (
    'currency = "shells"\n[materials]\nsteel = "10 each"\nplywood = "7 per m2"\nfoil-on-card = "2 per m2"\n'
)


def priced_by_file(own: str) -> str:
    """The first config with its prices in a file, and a few beside it."""
    text = FIRST.read_text("utf-8")
    start, stop = text.index("[prices]"), text.index("[[study]]")
    return text[:start] + own + "\n" + text[stop:]


def test_prices_of_a_file_with_the_configs_own_before_them(tmp_path: Path) -> None:
    (tmp_path / "prices.toml").write_text(PRICES, "utf-8")
    path = tmp_path / "oven.toml"
    own = '[prices]\nfile = "prices.toml"\n[prices.materials]\nsteel = "14 each"\n'
    path.write_text(priced_by_file(own), "utf-8")
    plan = load(path)
    assert plan.setting.currency == "shells"
    assert {name: (price.amount, price.per) for name, price in plan.setting.prices.items()} == {
        "steel": (14.0, "each"),
        "plywood": (7.0, "m2"),
        "foil-on-card": (2.0, "m2"),
    }
    assert plan.inputs == {"prices.toml": PRICES.encode()}
    (tmp_path / "prices.toml").write_text(PRICES.replace('"7 per', '"8 per'), "utf-8")
    assert load(path).identity != plan.identity
    path.write_text(priced_by_file('[prices]\nfile = "prices.toml"\ncurrency = "beads"\n'), "utf-8")
    assert load(path).setting.currency == "beads"


@pytest.mark.parametrize(
    ("listed", "own", "sentence"),
    [
        (PRICES.replace("steel", "stel"), "", r'"prices.toml": materials.stel: not a name of the catalogue'),
        (PRICES.replace('"10 each"', '"ten"'), "", r'"prices.toml": materials.steel: .*"12 per kg"'),
        (PRICES.replace("materials", "material"), "", r'"prices.toml": material: unknown key; .*materials'),
        ("steel = ", "", r'"prices.toml": is not TOML'),
        (None, "", r'"prices.toml": cannot be read: No such file'),
        ('[materials]\nsteel = "10 each"\n', "", r'prices.currency: is missing, in "prices.toml" too'),
        (PRICES, '[prices.materials]\nstel = "1 each"\n', r"^prices.materials.stel: not a name"),
        (PRICES, "materials = 3\n", r"^prices.materials = 3"),
    ],
    ids=["name", "price", "key", "TOML", "no file", "no currency", "own name", "own table"],
)
def test_faults_of_a_price_file_come_with_its_name(
    listed: str | None, own: str, sentence: str, tmp_path: Path
) -> None:
    if listed is not None:
        (tmp_path / "prices.toml").write_text(listed, "utf-8")
    path = tmp_path / "oven.toml"
    path.write_text(priced_by_file(f'[prices]\nfile = "prices.toml"\n{own}'), "utf-8")
    with pytest.raises(ConfigError) as caught:
        load(path)
    assert len(caught.value.faults) == 1, caught.value.faults
    assert re.search(sentence, caught.value.faults[0]), caught.value.faults


def test_prices_without_any_are_a_fault(tmp_path: Path) -> None:
    assert faults(tmp_path, priced_by_file("[prices]\n")) == [
        "prices.currency: is missing",
        "prices.materials: is missing",
    ]


MIRRORS = """
[mirrors.tin]
meaning = "tin sheet"
limited_by = "its lacquer"
solar_reflectance = { value = 0.6, source = "made up" }
slope_error_mrad = { value = 9, source = "made up" }
emittance = { value = 0.2, source = "made up" }
thickness_mm = { value = 0.4, source = "made up" }
density = { value = 7200, source = "made up" }
conductivity = { value = 60, source = "made up" }
specific_heat = { value = 230, source = "made up" }
service_limit_degC = { value = 150, source = "made up" }
"""


def test_a_plan_is_made_again_from_text_and_files_alone(tmp_path: Path) -> None:
    """Files beside the config, above it, and named from the root; all gone when the plan is made again."""
    import pvlib

    weather = tmp_path / "far/723170TYA.CSV"
    home = tmp_path / "home/oven.toml"
    for folder in (weather.parent, home.parent):
        folder.mkdir()
    weather.write_bytes((Path(pvlib.__file__).parent / "data/723170TYA.CSV").read_bytes())
    (tmp_path / "mirrors.toml").write_text(MIRRORS, "utf-8")
    (home.parent / "prices.toml").write_text(PRICES.replace("foil-on-card", "tin"), "utf-8")
    text = weather_config(weather.as_posix())
    start, stop = text.index("[prices]"), text.index("[[study]]")
    text = text[:start] + '[prices]\nfile = "prices.toml"\n' + text[stop:]
    for old, new in (
        ("13.5 deg", "36.1 deg"),
        ("-1.5 deg", "-79.95 deg"),
        ("Africa/Ouagadougou", "UTC-05:00"),
        ("seed = 7", 'seed = 7\nmaterials = "../mirrors.toml"'),
        ('"anodised-sheet"', '"tin"'),
    ):
        text = text.replace(old, new)
    home.write_text(text, "utf-8")
    plan = load(home)
    assert set(plan.inputs) == {weather.as_posix(), "../mirrors.toml", "prices.toml"}
    shutil.rmtree(tmp_path / "far")
    shutil.rmtree(tmp_path / "home")
    (tmp_path / "mirrors.toml").unlink()
    again = loads(plan.text, Path("elsewhere/result.nc"), inputs=plan.inputs)
    assert again.setting.identity == plan.setting.identity
    assert again.setting.design == plan.setting.design
    assert (again.identity, again.inputs) == (plan.identity, plan.inputs)
    with pytest.raises(ConfigError, match=r"the file \.\./mirrors\.toml that it names is not kept"):
        loads(plan.text, Path("result.nc"), inputs={})
