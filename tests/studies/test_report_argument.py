"""A run told as an argument: its sections, that nothing is lost or made up, and that what is not known is said."""

import json
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from noonhearth.model import CAUTIONS
from noonhearth.studies import Running, load
from noonhearth.studies.run import Result, carry_out
from noonhearth.studies.telling import report
from noonhearth.studies.telling.argument.sections import SECTIONS, Section
from noonhearth.studies.telling.argument.whole import argument, in_short
from noonhearth.studies.telling.pages.page import page
from noonhearth.studies.telling.tellings import TELLINGS, said_of

OVEN = Path(__file__).parents[1] / "oven.toml"
STUDIES = """
[[study]]
kind = "search"
goals = ["time_to_done", "material_cost"]
limits = ["cover_over"]
trials = 32
population = 8
[study.vary]
facets = [6, 10]
facet_angle = ["10 deg", "40 deg"]
insulation_thickness = ["20 mm", "70 mm"]

[[study]]
kind = "day"

[[study]]
kind = "sensitivity"
outputs = ["plateau_temperature", "light_to_pot", "mass"]
base_samples = 32
[study.vary]
soiling = ["0 %", "20 %"]
facets = [6, 8]
insulation_thickness = { within = "10 mm" }
"""
NASTY = '<script>window.broken = 1</script> | `<img src=x>` & "beans"\n# no heading'


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> list[xr.Dataset]:
    """Search, day and sensitivity of one config."""
    text = OVEN.read_text("utf-8")
    text = text[: text.index("[[study]]")] + STUDIES
    for old, new in (("rays = 16", "rays = 4"), ("days_per_month = 5", "days_per_month = 1")):
        text = text.replace(old, new)
    path = tmp_path_factory.mktemp("argued") / "argued.toml"
    path.write_text(text, "utf-8")
    found = list(carry_out(load(path), running=Running()))
    assert all(isinstance(one, Result) for one in found)
    return [one.dataset for one in found if isinstance(one, Result)]


def sections(results: Sequence[xr.Dataset]) -> dict[str, Section]:
    return {section.name: section for section in argument(results, cautions=CAUTIONS)}


def words(section: Section) -> str:
    return " ".join(said.text for said in section.said)


def test_every_section_is_there_in_its_order(run: list[xr.Dataset]) -> None:
    found = argument(run, cautions=CAUTIONS)
    assert [section.name for section in found] == [name for name in SECTIONS if name != "cooks"]
    assert next(iter(SECTIONS)) == "question"
    assert list(SECTIONS)[-2:] == ["cautions", "origin"]
    assert all(section.said for section in found if section.name != "beyond")


def test_sentences_have_names_of_their_own(run: list[xr.Dataset]) -> None:
    names = [said.name for section in argument(run, cautions=CAUTIONS) for said in section.said]
    assert len(names) == len(set(names))
    assert {
        "search.chosen",
        "search.goals",
        "search.went",
        "cost",
        "front",
        "rule",
        "sun",
        "published",
    } <= set(names)
    assert any(name.startswith("sensitivity.plateau_temperature.share.") for name in names)


def test_no_sentence_of_a_study_is_lost_or_said_twice(run: list[xr.Dataset]) -> None:
    whole = sections(run)
    for result in run:
        name = result.attrs["study_name"]
        argued = [
            said.text.removeprefix("Day: ")
            for section in whole.values()
            for said in section.said
            if said.name.startswith(f"{name}.")
        ]
        assert sorted([*argued, *report.details(result)]) == sorted(report.sentences(result))


def test_an_argument_speaks_of_the_first_outputs_and_the_study_of_the_rest(run: list[xr.Dataset]) -> None:
    sensitivity = run[2]
    argued = [said.name for said in said_of(sensitivity) if said.section == "reasons"]
    assert any(name.startswith("light_to_pot.") for name in argued)
    assert not any(name.startswith("mass.") for name in argued)
    assert any("variance of mass" in text for text in report.details(sensitivity))


def test_shares_are_said_with_their_intervals(run: list[xr.Dataset]) -> None:
    said = [one.text for one in said_of(run[2]) if ".share." in one.name]
    assert said
    assert all(re.search(r"explains -?\d+ % \(-?\d+ to -?\d+ %\)", text) for text in said)


def test_what_moves_a_goal_most_is_said_with_what_the_search_held(run: list[xr.Dataset]) -> None:
    """Indices put in by hand: one factor far above, then two whose intervals overlap."""
    search, indices = run[0], run[2].copy(deep=True)
    indices = indices.assign_coords(output=["time_to_done", *indices["output"].to_numpy()[1:]])

    def lever(totals: dict[str, float]) -> str:
        total, wide = indices["total"].copy(), indices["total_half_width"] * 0 + 0.05
        for factor, value in totals.items():
            total.loc[{"output": "time_to_done", "factor": factor}] = value
        changed = indices.assign(total=total, total_half_width=wide)
        (told,) = [s.text for s in sections([search, changed])["change"].said if s.name.startswith("lever.")]
        return told

    alone = lever({"soiling": 0.70, "facets": 0.2, "insulation_thickness": 0.1})
    assert (
        "moved most by soiling 70 % (65 to 75 %), interactions counted. The search took soiling as in"
        in alone
    )
    searched = lever({"soiling": 0.1, "facets": 0.7, "insulation_thickness": 0.1})
    assert "moved most by facets 70 % (65 to 75 %), interactions counted." in searched
    assert "as in the config" not in searched
    both = lever({"soiling": 0.1, "facets": 0.45, "insulation_thickness": 0.40})
    assert "facets 45 % (40 to 50 %) and insulation thickness 40 % (35 to 45 %)" in both
    assert "too near each other to be ranked" in both


def test_the_question_names_goals_limits_and_ranges(run: list[xr.Dataset]) -> None:
    told = words(sections(run)["question"])
    assert "the least time to done and the least material cost" in told
    assert "within its limits (cover)" in told
    tried = np.degrees(run[0]["facet_angle"].to_numpy())
    assert f"facet angle {tried.min():.3g} deg to {tried.max():.3g} deg" in told
    assert run[0].attrs["place"] in told


def test_the_cost_is_the_sum_of_the_bill(run: list[xr.Dataset]) -> None:
    """The total from the single parts, and the share of the dearest, worked out here."""
    cost = run[0]["shown_part_cost"].sel(shown=run[0].attrs["chosen_trial"]).to_numpy()
    section = sections(run)["cost"]
    assert f"costs {cost.sum():.0f} shells" in words(section)
    assert f"{100 * cost.max() / cost.sum():.0f} % of it" in words(section)
    (table,) = section.tables
    assert [row[0] for row in table.rows][-1] == "all"
    assert len(table.rows) == len(cost) + 1


def test_no_price_is_no_cost(run: list[xr.Dataset]) -> None:
    search = run[0].copy(deep=True)
    at = search["part"].to_numpy().tolist().index("mirror")
    search["shown_part_cost"][:, at] = np.nan
    search["shown_material_cost"][:] = np.nan
    told = words(sections([search])["cost"])
    assert "no price of anodised-sheet (mirror)" in told
    assert "shells" not in told


def test_a_limit_that_is_exceeded_shouts_in_sentence_and_table(run: list[xr.Dataset]) -> None:
    search = run[0].copy(deep=True)
    search["chosen_cover_over"] = search["chosen_cover_over"] * 0 + 12.3
    search["shown_cover_over"].loc[{"shown": search.attrs["chosen_trial"]}] = 12.3
    choice = sections([search])["choice"]
    assert "OVER A LIMIT" in words(choice)
    (loud,) = [text for text in in_short(list(sections([search]).values())) if "OVER A LIMIT" in text]
    assert "12.3 K" in loud
    assert not any("OVER" in text for text in in_short(list(sections(run).values())))
    rows = {row[0]: row for row in choice.tables[0].rows}
    assert rows["cover's inner face above its service limit"][1:] == ("12.3 K over", "OVER")
    assert [row[2] for row in rows.values()].count("OVER") == 1
    day = run[1].copy(deep=True)
    day["cover_over"][0] = 12.3
    assert any(said.text.startswith("Day: OVER A LIMIT") for said in sections([day])["cautions"].said)


def test_what_is_missing_names_the_study_that_would_bring_it(run: list[xr.Dataset]) -> None:
    missing = " ".join(text for section in sections(run).values() for text in section.missing)
    for kind in ("season", "compare", "budget", "tolerance", "aiming"):
        assert f"`{kind}`" in missing
    for kind in ("search", "day", "sensitivity"):
        assert f"`{kind}`" not in missing
    alone = sections([run[1]])
    assert any("`search`" in text for text in alone["choice"].missing)
    assert any("`sensitivity`" in text for text in alone["beyond"].missing)
    assert "reasons" not in alone  # a heading over nothing but what is missing would say nothing


def test_the_place_is_said_with_its_months(run: list[xr.Dataset]) -> None:
    section = sections(run)["site"]
    assert "13.5 deg north, 1.5 deg west, 320 m up" in words(section)
    (table,) = section.tables  # once, though three studies stood there
    assert [row[0] for row in table.rows] == ["January", "February", "November", "December"]
    site = json.loads(run[0].attrs["site"])
    energy = np.average(site["beam_day"], weights=site["days"]) / 3.6e6
    assert f"it brings {energy:.1f} kWh/m2" in words(section)
    assert [row[1] for row in table.rows] == ["31", "28", "30", "31"]


def test_designs_that_failed_are_counted(run: list[xr.Dataset]) -> None:
    failed = int((run[0]["status"] != 0).sum())
    found = sections(run)
    assert f"{failed} could not be built or run" in words(found["doubt"])
    row = next(row for row in found["origin"].tables[0].rows if row[0] == "search")
    assert row[1:3] == (str(run[0].sizes["trial"]), str(failed))


def test_inches_where_they_are_asked_for(run: list[xr.Dataset]) -> None:
    told = sections([run[0].assign_attrs(shown_in="inch")])
    pieces = told["choice"].tables[1]
    assert all(" in x " in row[3] and "mm" not in row[3] for row in pieces.rows)
    assert "degF" in told["site"].tables[0].rows[0][-1]


def test_two_searches_are_told_apart(run: list[xr.Dataset]) -> None:
    found = sections([run[0], run[0].assign_attrs(study_name="search-2")])
    told = [said.text for said in found["choice"].said]
    assert any(text.startswith("Search: Chosen") for text in told)
    assert any(text.startswith("Search-2: Chosen") for text in told)


def test_a_search_that_found_nothing_recommends_nothing(run: list[xr.Dataset]) -> None:
    attrs = {name: value for name, value in run[0].attrs.items() if name not in ("chosen_trial", "shown_day")}
    none = run[0].drop_dims(["shown", "slice_factor"]).copy(deep=True)
    none.attrs = attrs
    none["feasible"][:] = 0
    none["on_front"][:] = 0
    found = sections([none])
    assert "None of 32 designs keeps every limit" in words(found["choice"])
    assert not found["choice"].tables
    assert "cost" not in found


def test_results_of_before_are_told_without_what_they_lack(run: list[xr.Dataset]) -> None:
    old = run[0].drop_dims("shown")
    del old.attrs["site"]
    found = sections([old])
    assert any("run the config again" in text for text in found["site"].missing)
    assert "cost" not in found
    html = page("Old", [(old, [])], cautions=CAUTIONS, command="x")
    assert '"shown":null' in html


def test_hostile_words_stay_words_in_summary_and_page(run: list[xr.Dataset]) -> None:
    named = [result.assign_attrs(place=NASTY, food=NASTY) for result in run]
    parts = [(result, []) for result in named]
    text = report.markdown(NASTY, parts, cautions=CAUTIONS, command="noonhearth run mine.toml")
    assert "<script" not in text
    assert "<img" not in text
    assert "\n# no heading" not in text
    tables = [line for line in text.splitlines() if line.startswith("|")]
    assert tables
    html = page(NASTY, parts, cautions=CAUTIONS, command=NASTY)
    assert "<script>window" not in html
    assert "<img src=x>" not in html


def test_summary_and_page_say_the_same(run: list[xr.Dataset]) -> None:
    parts = [(result, []) for result in run]
    text = report.markdown("T", parts, cautions=CAUTIONS, command="noonhearth run mine.toml")
    html = page("T", parts, cautions=CAUTIONS, command="noonhearth run mine.toml")
    for section in argument(run, cautions=CAUTIONS):
        assert f"## {section.title}" in text
        assert f'id="{section.name}"' in html
        assert all(said.text in text for said in section.said)
    assert text.count("`noonhearth run mine.toml`") == 1
    assert html.count("noonhearth run mine.toml") == 1


@pytest.mark.parametrize("study", sorted(TELLINGS))
def test_every_kind_has_a_question_and_a_place(study: str) -> None:
    telling = TELLINGS[study]
    assert telling.asks or study == "search", "give it `asks` in telling/tellings.py"
    assert telling.said is not None or telling.place in SECTIONS, "give it a `place` in an argument"


def test_nothing_at_all_is_still_a_page() -> None:
    assert "Before anyone builds or cooks" in page("Empty", [], cautions=CAUTIONS, command="x")
    assert "# Empty" in report.markdown("Empty", [], cautions=CAUTIONS, command="x")
