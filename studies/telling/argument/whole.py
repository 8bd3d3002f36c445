"""A run as an argument: what was asked and is recommended, why, at what cost; what would change it, what is uncertain.

Sentences and tables come from the results of the run, each with a name; a section that lacks part of its evidence names
the study that would bring it, and what is not looked at at all stands together. Nothing is simulated here.
"""

import json
from collections.abc import Iterator, Sequence
from importlib.resources import files

import xarray as xr

from ..tellings import OVER, TELLINGS, said_of, telling_of
from ..words.phrases import spoken
from .levers import levers_said
from .of_search import asked, bill_table, cost_said, front_said, limit_table, piece_table
from .of_site import site_said, site_table
from .sections import SECTIONS, Said, Section, Table, begun, numbered

TEMPLATES = files("noonhearth.studies") / "templates"


def argument(results: Sequence[xr.Dataset], *, cautions: Sequence[tuple[str, str, str]]) -> list[Section]:
    """Every section in its order.

    Parameters
    ----------
    results : sequence of Dataset
        Of one run, in order; the last search is the one that recommends.
    cautions : sequence of (where, text, who has the last word)
    """
    sections = {name: Section(name) for name in SECTIONS}
    _question(sections["question"], results)
    _site(sections["site"], results)
    for result in results:
        own = telling_of(result).said is not None and _kinds(results).count(_kind(result)) == 1
        _told(sections, result, labelled=not own)
    search = next((one for one in reversed(results) if _kind(one) == "search"), None)
    if search is not None and "chosen_trial" in search.attrs:
        _recommended(sections, search)
    for result in results:
        if _kind(result) == "sobol":
            for one in levers_said(result, search):
                sections[one.section].said.append(one)
    _checks(sections["checks"], sections["doubt"])
    _cautions(sections["cautions"], results, cautions)
    _origin(sections["origin"], results)
    for name, text in _missing(set(_kinds(results))):
        told = sections[name] if sections[name].said else sections["beyond"]
        told.missing.append(text)
    return [section for section in sections.values() if section.said or section.tables or section.missing]


def in_short(sections: Sequence[Section]) -> list[str]:
    """For those who read no further: what is recommended, what it does, and every limit that it exceeds.

    Of a run that recommends nothing, what its test cooks say.
    """
    told = {section.name: section for section in sections}
    lead = told.get("choice") or told.get("cooks")
    if lead is None:
        return []
    first, rest = lead.said[:SHORT], lead.said[SHORT:]
    return [said.text for said in [*first, *(said for said in rest if OVER in said.text)]]


SHORT = 3  # sentences


def _kind(result: xr.Dataset) -> str:
    return str(result.attrs["study"])


def _kinds(results: Sequence[xr.Dataset]) -> list[str]:
    return [_kind(result) for result in results]


def _name(result: xr.Dataset) -> str:
    return str(result.attrs["study_name"])


def _question(section: Section, results: Sequence[xr.Dataset]) -> None:
    """What each study was to answer."""
    for result in results:
        if _kind(result) == "search":
            section.said += asked(result)
        elif telling_of(result).asks:
            text = f"{begun(spoken(_name(result)))}: {telling_of(result).asks}"
            section.said.append(Said(f"asked.{_name(result)}", text, "question"))
        section.studies.append(_name(result))


def _site(section: Section, results: Sequence[xr.Dataset]) -> None:
    """Each place once, with its sky."""
    told = set()
    for result in results:
        where = (result.attrs.get("site"), result.attrs.get("place"), result.attrs.get("sky"))
        if where[0] and where not in told:
            told.add(where)
            section.said += site_said(result)
            section.tables.append(site_table(result))
    if not told:
        section.missing.append(
            "These results are from before the place and its sun were kept: run the config again."
        )


def _told(sections: dict[str, Section], result: xr.Dataset, *, labelled: bool) -> None:
    """The sentences of a result, in the sections they belong to.

    Labelled by their study where several share its kind, or where they were written for the study and not for an
    argument: "build this one" of a season study is not the recommendation of a search.
    """
    name = _name(result)
    for one in said_of(result):
        if one.section:
            text = f"{begun(spoken(name))}: {begun(one.text)}" if labelled else begun(one.text)
            section = sections[one.section]
            section.said.append(Said(f"{name}.{one.name}", text, one.section))
            if name not in section.studies:
                section.studies.append(name)


def _recommended(sections: dict[str, Section], search: xr.Dataset) -> None:
    """What only an argument says of the design that the last search chose."""
    sections["reasons"].said[:0] = front_said(search)
    sections["cost"].said[:0] = cost_said(search)
    for name, table in (
        ("choice", limit_table(search)),
        ("choice", piece_table(search)),
        ("cost", bill_table(search)),
    ):
        if table is not None:
            sections[name].tables.append(table)


def _checks(checks: Section, doubt: Section) -> None:
    """What the tests hold the model against, and what it does not know."""
    text = (TEMPLATES / "checks.txt").read_text("utf-8").strip()
    checks.said.append(
        Said("published", f"Its tests hold the model against published values: {text}", "checks")
    )
    unknown = (TEMPLATES / "unknown.txt").read_text("utf-8").strip()
    doubt.said += numbered("unknown", [unknown], "doubt")


def _cautions(
    section: Section, results: Sequence[xr.Dataset], cautions: Sequence[tuple[str, str, str]]
) -> None:
    """What the food and the oven ask of whoever stands beside it."""
    foods = dict.fromkeys(
        (str(result.attrs["food"]), text)
        for result in results
        for text in json.loads(str(result.attrs.get("food_cautions", "[]")))
    )
    for number, (where, text, who) in enumerate(cautions, start=1):
        section.said.append(
            Said(f"caution.{number}", f"{begun(where)}: {text} Last word: {who}.", "cautions")
        )
    section.said += numbered("food", [f"{begun(spoken(food))}: {text}" for food, text in foods], "cautions")


def _origin(section: Section, results: Sequence[xr.Dataset]) -> None:
    """Which studies, how many designs each ran and how many of them failed, from which seed, by which model."""
    rows = []
    for result in results:
        counts = json.loads(str(result.attrs.get("counts", "{}")))
        rows.append(
            (
                spoken(_name(result)),
                str(counts.get("designs", "")),
                str(counts.get("failed", "")),
                str(result.attrs.get("rays", "")),
                str(result.attrs.get("seed", "")),
                str(result.attrs.get("created", "")),
                str(result.attrs.get("model_hash", "")),
            )
        )
        section.studies.append(_name(result))
    heads = ("study", "designs run", "of them without a result", "rays a minute", "seed", "made", "model")
    if rows:
        section.tables.append(Table("What was run.", heads, rows))
        versions = json.loads(str(results[0].attrs.get("versions", "{}")))
        told = ", ".join(f"{name} {number}" for name, number in versions.items())
        section.said += [
            Said("versions", f"Made with {told}.", "origin"),
            Said(
                "repeat",
                "Each result file keeps its config, the files that names, its seed and its versions: `noonhearth rerun "
                "FILE ROW` makes any row of it again and compares every bit.",
                "origin",
            ),
        ]


# What a section lacks: any of these kinds of result brings it.
_BRINGS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("choice", ("search", "season", "budget"), "No study of this run chooses a design; a `search` would."),
    (
        "choice",
        ("day",),
        "A `day` study would show the design minute by minute, with its stray light and latest start.",
    ),
    (
        "reasons",
        ("sobol", "morris"),
        "Which factors matter, alone and together, is not looked at; a `sensitivity` study would say it.",
    ),
    (
        "reasons",
        ("compare",),
        "A `compare` study would set rivals beside it on the same days, with intervals.",
    ),
    ("cost", ("budget",), "What more or less money buys is not looked at; a `budget` study would say it."),
    (
        "change",
        ("season",),
        "Other places and months are not looked at; a `season` study would say where another oven is better.",
    ),
    (
        "doubt",
        ("tolerance",),
        "How far each cut, bend and material may be off is not looked at; a `tolerance` study would say it.",
    ),
    (
        "doubt",
        ("aiming",),
        "How well the oven follows the sun, and what that costs, an `aiming` study would say.",
    ),
    (
        "cooks",
        ("cook", "fit", "diagnosis", "standard"),
        "No measured cook stands beside these numbers; a study of test cooks would set one there.",
    ),
)


def _missing(kinds: set[str]) -> Iterator[tuple[str, str]]:
    """Sections that lack evidence, and the study that would bring it; kinds that cannot be told are not named."""
    for section, bring, text in _BRINGS:
        if not kinds & set(bring) and set(bring) & set(TELLINGS):
            yield section, text
