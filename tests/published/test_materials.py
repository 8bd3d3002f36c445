"""The list of materials against tables that others ship, and against the lines of a textbook.

ISO 10456 (DIN EN 12524) and ASHRAE Handbook Fundamentals 2013, chapter 26, as the package `ht` carries them;
Incropera et al., Fundamentals of Heat and Mass Transfer, table A.3 (from memory); Duffie & Beckman, Solar
Engineering of Thermal Processes, section 5.2.
"""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from ht.insulation import ASHRAE, building_materials

from noonhearth.model import load_catalogue
from noonhearth.model.described import DescriptionError
from noonhearth.model.materials import (
    GROUPS,
    SHIPPED,
    Cover,
    Glue,
    Insulation,
    Material,
    Mirror,
    load_materials,
    materials,
)

# group, name, entry of the shipped ISO 10456 table (density, conductivity, heat capacity)
ISO_10456 = [
    ("covers", "acrylic", "Plastics, polymethylmethacrylate (PMMA)"),
    ("covers", "polycarbonate", "Plastics, polycarbonates"),
    ("covers", "float-glass", "Glass, soda lime"),
    ("covers", "low-iron-glass", "Glass, soda lime"),
    ("covers", "tempered-glass", "Glass, soda lime"),
    ("covers", "nylon-film", "Plastics, polyamide (nylon)"),
    ("mirrors", "silvered-glass", "Glass, soda lime"),
    ("mirrors", "anodised-sheet", "Metals, aluminium alloys"),
    ("mirrors", "polished-stainless", "Metals, stainless steel"),
    ("pots", "cast-iron", "Metals, iron, cast"),
    ("pots", "steel", "Metals, steel"),
    ("pots", "stainless-steel", "Metals, stainless steel"),
    ("pots", "aluminium", "Metals, aluminium alloys"),
    ("pots", "copper", "Metals, copper"),
    ("shells", "plywood", "Wood, plywood 500 kg/m^3"),
    ("shells", "particleboard", "Wood, particleboard, 600 kg/m^3"),
    ("shells", "fibreboard", "Wood, fibreboard, 400 kg/m^3"),
    ("shells", "hardboard", "Wood, fibreboard, 800 kg/m^3"),
    ("shells", "timber", "Timber, 500 kg/m^3"),
    ("shells", "steel-painted", "Metals, steel"),
]
# group, name, entry of the shipped ASHRAE table (density, heat capacity or None, conductivity)
ASHRAE_2013 = [
    ("insulations", "mineral-wool", "Mineral wool, felted, 32 kg/m^3"),
    ("insulations", "mineral-wool-slab", "Mineral wool, felted, 100 kg/m^3"),
    ("insulations", "glass-fibre-batt", "Glass-fiber batts, 50 mm"),
    ("insulations", "glass-fibre-board", "Glass fiber board"),
    ("insulations", "cellulose-fibre", "Loose fill, Cellulosic"),
    ("insulations", "polyisocyanurate", "Polyisocyanurate, aged, unfaced"),
    ("insulations", "polystyrene-beads", "Expanded polystyrene, molded beads"),
    ("insulations", "polystyrene-extruded", "Expanded polystyrene, extruded"),
    ("insulations", "perlite", "Loose fill, Perlite, expanded, 50 kg/m^3"),
    ("insulations", "vermiculite", "Loose fill, Vermiculite, exfoliated, 120 kg/m^3"),
    ("insulations", "foam-glass", "Cellular glass"),
    ("shells", "paperboard", "Vegetable fiber board, Laminated paperboard"),
]
ALL = [(g, n) for g, known in materials().groups.items() for n in known]


@pytest.mark.parametrize(("group", "name", "entry"), ISO_10456)
def test_iso_10456(group: str, name: str, entry: str, published: Any) -> None:
    own = materials().numbers(group, name)
    assert (own["density"], own["conductivity"], own["specific_heat"]) == building_materials[entry]
    assert "ISO 10456" in materials().source(group, name, "density")
    printed = repr(float(building_materials[entry][1]))
    where = "ISO 10456 (DIN EN 12524), as the package ht carries it"
    published(where, f"conductivity of {group}.{name} [W/(m K)]", printed, own["conductivity"], within=1e-12)


@pytest.mark.parametrize(("group", "name", "entry"), ASHRAE_2013)
def test_ashrae(group: str, name: str, entry: str, published: Any) -> None:
    density, heat, conductivity, *_ = ASHRAE[entry]
    own = materials().numbers(group, name)
    assert (own["density"], own["conductivity"]) == (density, conductivity)
    if heat is not None:
        assert own["specific_heat"] == heat
    where = "ASHRAE Handbook Fundamentals 2013, chapter 26, as the package ht carries it"
    what = f"conductivity of {group}.{name} [W/(m K)]"
    published(where, what, repr(float(conductivity)), own["conductivity"], within=1e-12)


def test_no_printed_slip_of_those_tables_came_in() -> None:
    """`ht` carries cork tile at 65.0 for 0.065 and high-density particleboard at 1.18 for 0.170 W/(m K)."""
    assert building_materials["Floor covering, tiles, cork"][1] == 65.0
    assert ASHRAE["Particleboard, high density"][2] == 1.18
    for name in materials().groups["insulations"]:
        assert materials().get(Insulation, name).conductivity < 0.08
    for name in ("plywood", "particleboard", "fibreboard", "hardboard", "timber"):
        assert 0.09 < materials().numbers("shells", name)["conductivity"] < 0.2


@pytest.mark.parametrize(("kelvin", "printed"), [(240.0, 0.033), (300.0, 0.046), (365.0, 0.069)])
def test_fibre_blanket_grows_with_temperature(kelvin: float, printed: float, published: Any) -> None:
    """Incropera, table A.3, glass-fibre blanket of 16 kg/m3: within 3 % of our light batt."""
    ours = materials().get(Insulation, "glass-fibre-batt").conductivity_at(kelvin)
    where = "Incropera et al., Fundamentals of Heat and Mass Transfer, table A.3 (from memory)"
    what = f"conductivity of a glass-fibre blanket, {kelvin:.0f} K [W/(m K)]"
    published(where, what, f"{printed:.3f}", ours, rel=0.03)


def test_fibre_blanket_grows_by_half_from_300_to_365_kelvin() -> None:
    """The same line: 0.069 over 0.046, each to half its last digit."""
    batt = materials().get(Insulation, "glass-fibre-batt")
    growth = batt.conductivity_at(365.0) / batt.conductivity_at(300.0)
    assert 0.0685 / 0.0465 <= growth <= 0.0695 / 0.0455


def test_handbook_temperature_is_the_handbook_value() -> None:
    wool = materials().get(Insulation, "mineral-wool")
    assert wool.conductivity_at(297.15) == wool.conductivity
    assert wool.conductivity_at(350.0) > 1.3 * wool.conductivity


def transmittance(cover: Cover, thickness: float) -> float:
    """Normal incidence: (1 - r) / (1 + r) times exp(-K L), Duffie & Beckman, Eqs. 5.1.6, 5.2.2 and 5.3.4."""
    n = cover.refractive_index
    r = ((n - 1) / (n + 1)) ** 2
    return (1 - r) / (1 + r) * math.exp(-cover.extinction * thickness)


@pytest.mark.parametrize(
    ("name", "thickness", "printed"),
    [
        # ASHRAE Fundamentals, fenestration: clear acrylic and polycarbonate 0.85, 3 mm glass 0.83 to 0.86
        ("acrylic", 0.0032, 0.85),
        ("polycarbonate", 0.0032, 0.85),
        ("float-glass", 0.003, 0.84),
        # water-white glass of 4 mm, 0.90 to 0.91 in collector handbooks; all four from memory
        ("tempered-glass", 0.004, 0.905),
    ],
)
def test_covers_let_through_what_handbooks_say(
    name: str, thickness: float, printed: float, published: Any
) -> None:
    ours = transmittance(materials().get(Cover, name), thickness)
    where = "ASHRAE Fundamentals, fenestration, and collector handbooks (from memory)"
    published(
        where, f"transmittance of {1e3 * thickness:g} mm of {name} [1]", str(printed), ours, within=0.01
    )


@pytest.mark.parametrize(("group", "name"), ALL)
def test_every_number_has_its_own_source(group: str, name: str) -> None:
    material = materials().find(group, name)
    assert set(material.sources) == set(material.numbers)
    assert all(len(text) > 3 for text in material.sources.values())
    assert material.meaning
    assert material.limited_by


def test_units_of_the_file_become_si() -> None:
    entry = tomllib.loads(SHIPPED.read_text())["mirrors"]["foil-on-card"]
    foil = materials().get(Mirror, "foil-on-card")
    assert foil.slope_error == pytest.approx(entry["slope_error_mrad"]["value"] / 1000)
    assert foil.thickness == pytest.approx(entry["thickness_mm"]["value"] / 1000)
    assert foil.service_limit == pytest.approx(entry["service_limit_degC"]["value"] + 273.15)


def test_acrylic_is_no_inner_cover_of_a_dry_pot() -> None:
    """It softens at 100 degC: the list keeps it well below, and glass above."""
    assert materials().get(Cover, "acrylic").service_limit < 353.15
    assert materials().get(Cover, "tempered-glass").service_limit > 473.15


def test_the_groups_hold_enough_to_choose_from() -> None:
    assert {group: len(known) for group, known in materials().groups.items()}.keys() == GROUPS.keys()
    assert all(len(known) >= 5 for known in materials().groups.values())
    assert materials().get(Glue, "silicone").service_limit > materials().get(Glue, "hot-melt").service_limit


@pytest.mark.parametrize(
    ("group", "name", "nearest"),
    [("covers", "acryllic", "acrylic"), ("cover", "acrylic", "covers"), ("pots", "castiron", "cast-iron")],
)
def test_a_wrong_name_is_answered_with_the_nearest(group: str, name: str, nearest: str) -> None:
    with pytest.raises(DescriptionError, match=f"did you mean {nearest}\\?"):
        materials().find(group, name)


def test_a_catalogue_tells_what_each_name_is() -> None:
    """Materials and foods under one roof; a food is no material."""
    catalogue = load_catalogue()
    names = catalogue.names()
    assert set(names) == {*GROUPS, "foods"}
    for group, known in names.items():
        for name in known:
            assert len(catalogue.meaning(group, name)) > 3
    assert catalogue.meaning("foods", "rice") == catalogue.foods["rice"].meaning
    with pytest.raises(DescriptionError, match="rice"):
        catalogue.meaning("pots", "rice")


OWN = """
[covers.my-sheet]
meaning = "a sheet from the market"
limited_by = "unknown"
refractive_index = { value = 1.5, source = "measured at home" }
extinction = { value = 10, source = "measured at home" }
emittance = { value = 0.9, source = "guess" }
thickness_mm = { value = 4, source = "calliper" }
density = { value = 1200, source = "scales" }
conductivity = { value = 0.2, source = "guess" }
specific_heat = { value = 1300, source = "guess" }
service_limit_degC = { value = 90, source = "kettle" }
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text)
    return path


def test_own_list_is_merged_over_the_shipped_one(tmp_path: Path) -> None:
    both = load_materials(written(tmp_path, OWN + OWN.replace("my-sheet", "acrylic")))
    assert both.get(Cover, "my-sheet").thickness == pytest.approx(0.004)
    assert both.get(Cover, "acrylic").density == 1200
    assert both.get(Cover, "polycarbonate") == materials().get(Cover, "polycarbonate")
    assert materials().get(Cover, "acrylic").density == 1180


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[covers.", "[windows.", "unknown group windows"),
        ("density =", "densty =", "unknown property densty; did you mean density"),
        ('{ value = 1200, source = "scales" }', "1200", "density: write"),
        (', source = "scales"', "", "density: write"),
        ("value = 1200", "value = 0.12", "cover.density = 0.12"),
        ("value = 90", "value = 9000", "cover.service_limit"),
        ('limited_by = "unknown"', "", "limited_by is missing"),
        ('extinction = { value = 10, source = "measured at home" }', "", "extinction is missing"),
    ],
)
def test_faulty_lists_are_refused_with_the_place(tmp_path: Path, old: str, new: str, fault: str) -> None:
    assert old in OWN
    with pytest.raises(DescriptionError) as refusal:
        load_materials(written(tmp_path, OWN.replace(old, new)))
    assert fault in str(refusal.value)
    assert "mine.toml" in str(refusal.value)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = OWN.replace("value = 1200", "value = 0.12").replace("value = 1.5", "value = 15")
    with pytest.raises(DescriptionError) as refusal:
        load_materials(written(tmp_path, text + "[lids.wood]\n"))
    assert len(refusal.value.faults) == 3


def test_materials_are_frozen() -> None:
    material: Material = materials().find("covers", "acrylic")
    with pytest.raises(AttributeError):
        material.name = "other"  # type: ignore[misc]
    with pytest.raises(TypeError):
        materials().groups["covers"]["acrylic"] = material  # type: ignore[index]
