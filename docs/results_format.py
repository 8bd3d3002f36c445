"""Tables of results-format.md: every attribute and variable that a result of each kind of study holds.

    python docs/results_format.py

runs a tiny study of each kind and writes the tables anew from what came out; a test fails while the page does not
show them.
"""

import json
import re
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import xarray as xr

from noonhearth.model import LIMITS, MERITS
from noonhearth.studies.config import load
from noonhearth.studies.kinds import KINDS, Running
from noonhearth.studies.results import store
from noonhearth.studies.run import Failure, carry_out

ROOT = Path(__file__).parents[1]
PAGE = Path(__file__).with_name("results-format.md")
BEGIN, END = "<!-- tables -->", "<!-- end of tables -->"

# Of each kind a study small enough to be run while one waits, with every key that adds something to its result.
STUDIES = {
    "search": """
goals = ["time_to_done", "reaims"]
limits = ["cover_over"]
trials = 16
population = 8
[study.vary]
facet_angle = ["15 deg", "50 deg"]
azimuth_every = ["10 min", "90 min"]
[study.uncertain]
soiling = ["0 %", "20 %"]
""",
    "day": "",
    "aiming": "",
    "sensitivity": """
outputs = ["plateau_temperature", "time_to_done"]
base_samples = 16
second_order = true
weather = true
suffered = ["soiling"]
[study.vary]
facets = [6, 8]
insulation_thickness = { within = "15 mm" }
soiling = ["0 %", "20 %"]
[study.groups]
sheet = ["facets", "insulation_thickness"]
""",
    "screening": """
outputs = ["plateau_temperature"]
trajectories = 4
[study.vary]
soiling = ["0 %", "20 %"]
skin_thickness = ["5 mm", "6 mm"]
""",
    "tolerance": """
ovens = 32
repeats = 2
[study.accuracy]
facet_angle = "1 deg"
soiling = "5 %"
""",
    "compare": """
outcomes = ["time_to_done", "mass"]
other_seeds = 1
draws = 2
[[study.design]]
name = "bigger"
mouth = "650 mm"
[study.uncertain]
soiling = ["0 %", "20 %"]
""",
    "budget": """
trials = 16
population = 8
[study.vary]
facet_angle = ["25 deg", "35 deg"]
insulation_thickness = ["20 mm", "80 mm"]
""",
    "season": """
goal = "time_to_done"
rather = "reaims"
slack = "8 min"
latitudes = ["10 deg", "20 deg"]
months = [1]
designs = 8
rounds = 1
[study.vary]
facet_angle = ["25 deg", "35 deg"]
azimuth_every = ["10 min", "60 min"]
""",
    "cook": "",
    "standard": "",
    "diagnosis": """
causes = ["wavy mirror", "other load"]
""",
    "fit": """
cooks = ["water"]
hold_out = ["water again"]
offset = { food = "0.5 K" }
bootstrap = 8
other_seeds = 1
""",
    "built": "draws = 8",
    "protocol": """
sensors = { food = "0.5 K", pot = "1 K" }
offset = { food = "0.5 K" }
heat_up = "1 h"
shades = ["20 min"]
empty = "1 h"
most_cooks = 2
refits = 2
""",
}

# Test cooks for the studies of them: a made-up warming of water, written down every five minutes.
COOK = """
[[cook]]
name = "{name}"
typed = \"\"\"
clock, food, pot, air, sun, wind
{rows}
\"\"\"
time = {{ column = "clock", day = {day} }}
food = {{ column = "food", unit = "degC" }}
pot = {{ column = "pot", unit = "degC" }}
air = {{ column = "air", unit = "degC" }}
irradiance = {{ column = "sun", unit = "W/m2", plane = "facing the sun" }}
wind = {{ column = "wind", unit = "m/s" }}
meal = {{ food = "water", food_mass = "1.5 kg" }}
reaimed = ["11:20", "11:40"]
"""

# What each attribute says. Those of every kind come first.
COMMON = {
    "title": "of the config",
    "study": "what kind of result it is; decides which variables there are",
    "study_name": "of the study in its config: its kind, numbered where there are several of it",
    "config": "the whole config, as text (TOML)",
    "config_hash": "SHA-256 of that text in UTF-8",
    "base_design": "JSON: factor to value, of the design that the study started from [SI]",
    "design": "JSON: the same of the design that the result is about, which a search has chosen",
    "seed": "of the rays and samples",
    "rays": "of beam light, a minute",
    "model_hash": "of the sources of the model: the same hash, the same numbers",
    "versions": "JSON: of this program and of the libraries that matter",
    "created": "when, UTC, ISO 8601",
    "counts": "JSON: designs in all, and designs with another status than 0",
    "place": "where",
    "timezone": "of the clock there",
    "sky": "where the days come from",
    "site": "JSON: latitude, longitude [rad], altitude [m]; by month of the sky: days meant, clearness, hours of sun "
    "and their energy a day within the window, air (`kinds/site.py`) [SI]",
    "loaded_at": "when the food is put in, on the clock of the place",
    "shown_in": "metric or inch: the units of its words and figures; its numbers are SI either way",
    "window": "from then to the day's end [s]",
    "days_meant": "real days that all days together stand for",
    "food": "by its name in the catalogue",
    "food_mass": "[kg]",
    "food_cautions": "JSON: what the catalogue warns of",
    "currency": "of all money; empty where nothing is priced",
    "format": '"noonhearth result"',
    "format_version": "see below",
    "content_hash": "see below",
}
OWN = {
    "accuracies": '"usual" or "given" by the config',
    "alike_for": "time in which errors of readings fade [s]",
    "area_given": "1 where the config gives the intercept area, 0 where it follows from the oven's shape",
    "bent_fit": "1 where the response had to be taken as curved",
    "better": '"less" or "more": which way the goal is better',
    "between_cooks": "standard deviation of each ratio from cook to cook",
    "bootstrap": "refits to resampled residuals",
    "built": "row of the design to build",
    "chosen_trial": "the trial that is chosen; not there where none could be",
    "clauses_read": "JSON: clauses of the standards whose words were read, a sentence each",
    "compared_by": "by which causes are compared",
    "confidence": "of the intervals",
    "converged": "1 where the fit came to rest",
    "cook_foods": "JSON: what each cook had in the pot",
    "cook_masses": "JSON: and how much of it [kg]",
    "day": "which day of the sky the planned cooks are under",
    "designs": "in the sample",
    "draws": "values of the uncertain factors that every design meets; 1 where nothing is uncertain",
    "edition": "of S580",
    "empty_for": "length of an empty cook, 0 where none was considered [s]",
    "estimates": "JSON: what keeps figures from being published as the standard's, a sentence each",
    "every": "between readings [s]",
    "failed_designs": "of them with another status than 0",
    "faults": "JSON: by figure, what the standard asks and the test does not fulfil, a sentence each",
    "first": "row of one of the two designs to build",
    "found": "JSON: factors that the cooks found",
    "freedom": "independent readings less fitted parameters",
    "from_memory": "JSON: clauses of the standards that stand here from memory, a sentence each",
    "goal": "what is judged",
    "goal_designed": "its value for the design itself [SI]",
    "goal_dimension": "its dimension",
    "goal_meaning": "its meaning",
    "groups": "JSON: factors that were moved together, by the name of the group",
    "heat_up": "in the sun, of a planned cook [s]",
    "how": "by hand, fixed or drive",
    "hypervolume_goals": "goals that span the volume, in order",
    "hypervolume_reference": "its far corner, in the goals' own units",
    "idle_factors": "varied factors of no effect in the chosen design",
    "improved": "1 where the improved design is another than the one that was built",
    "independent_readings": "that all readings are worth",
    "instruments": "of the test, a line each, as the config has them",
    "intervals": "how the intervals were made",
    "irradiance_error": "standard deviation of what the instrument for sunlight may be off by",
    "judged_by": "how days become one number",
    "layout": "in which order the rows of a sample stand",
    "least_of_one": "least regret by the rule that one design can have [SI]",
    "least_of_two": "and that two designs can have [SI]",
    "levels": "of the grid",
    "limits": "JSON: safety limits that were looked at",
    "merged": "JSON: seed, created and content_hash of the results that were made into one; only there",
    "most_dropped": "share of the sample without a value up to which an output is analysed",
    "most_reach": "reach from which a ratio is not known at all",
    "negligible_share": "of the largest effect, under which a factor may be fixed",
    "next_test": "JSON: the next test cook, with what is known before and after it; only of ratios of an oven as built",
    "noise_share": "of the variance, that the rays alone bring",
    "offset_error": "what thermometers may be off by in all readings, in words",
    "other_seeds": "repeats with other rays",
    "outcomes": "that were asked for, the most important first",
    "pick": "the rule by which one design of the front is chosen",
    "population": "designs in a generation",
    "posterior": "JSON: what the cooks know of the factors together: estimates, covariance, bounds",
    "quantile": "half width of a 95 % interval over its standard error",
    "r_squared": "share of the variance that the response accounts for",
    "rather": "what decides among designs within the slack of the best",
    "reading_error": "standard deviation of a reading, in words",
    "reasons": "JSON: what each reason means for which a reading was touched",
    "recommended": "way of testing that is recommended, from 0",
    "recommended_cooks": "cooks of it that are needed; 0 where no number of them within the most is enough",
    "refits": "fits to made-up readings",
    "refused": "JSON: by figure, why there is none",
    "repeats": "times that each oven was run with other rays",
    "report_title": "of the test report; empty for that of the config",
    "resamples": "of the bootstrap",
    "robust": "1 where far-off readings counted less",
    "rounds": "of new designs",
    "rule": "by which one design is better for the region than another",
    "sampler": "what drew the designs, and its version",
    "scale_needed": "times the accuracies at which the wanted share is met; nan where none does",
    "second": "row of the other",
    "second_order": "1 where pairs were looked at",
    "shown_day": "which day is shown, from 0",
    "sides": "1 where what is decided was set against what is suffered",
    "slack": "a loss of the goal that counts as none [SI]",
    "space": "JSON: how each factor was drawn",
    "spread": "of each quantity within its accuracy",
    "started": "row of the design that the study started from",
    "tied_within": "of the criterion, within which causes are not told apart",
    "trials": "designs in all",
    "uncertain": "factors that nobody decides",
    "unchanged_criterion": "of the oven as described",
    "unchanged_left": "what the oven as described leaves unexplained, root mean square in deviations",
    "wanted": "share of ovens that shall be at most the first level worse",
    "warnings": "what is to be kept in mind, a line each",
    "weather": "1 where each design met one day drawn by its weight",
}

# Attributes that are there only at times.
AT_TIMES = {"search": ("idle_factors", "merged"), "sensitivity": ("merged",), "screening": ("merged",)}


def cook_text(name: str, day: str) -> str:
    """A test cook of the config: two hours from half past ten on, water that nears 90 degC."""
    rows = []
    for minute in range(0, 125, 5):
        food = 90 - 60 * 0.985**minute
        clock = f"{10 + (30 + minute) // 60}:{(30 + minute) % 60:02d}"
        rows.append(
            f"{clock}, {food:.1f}, {food + 3:.1f}, {26 + minute / 60:.1f}, {860 + minute / 4:.0f}, 0.6"
        )
    return COOK.format(name=name, day=day, rows="\n".join(rows))


def config_text() -> str:
    """A config with a small study of each kind that there is."""
    text = (ROOT / "tests/oven.toml").read_text("utf-8")
    text = text[: text.index("[[study]]")].replace("rays = 16", "rays = 4")
    text = text.replace("days_per_month = 5", "days_per_month = 1")
    text += cook_text("water", "2026-01-12") + cook_text("water again", "2026-01-13")
    there = [kind for kind in STUDIES if kind in KINDS]
    return text + "".join(f'[[study]]\nkind = "{kind}"\n{STUDIES[kind]}\n' for kind in there)


def results_of_every_kind() -> dict[str, xr.Dataset]:
    """A result of each kind, as it comes out of its file."""
    found = {}
    with TemporaryDirectory() as folder:
        path = Path(folder) / "every.toml"
        path.write_text(config_text(), "utf-8")
        for result in carry_out(load(path), running=Running()):
            assert not isinstance(result, Failure), result.reason
            store.write(result.dataset, path.with_suffix(".nc"))
            found[result.name] = store.read(path.with_suffix(".nc"))
    return found


def tables(results: Mapping[str, xr.Dataset]) -> Iterator[str]:
    """Lines of the part of the page that is written from results."""
    yield from ("### Every kind", "", *_heads("attribute", "what it says"))
    yield from (f"| `{name}` | {text} |" for name, text in COMMON.items())
    for kind, result in results.items():
        yield from section(kind, result)


def section(kind: str, result: xr.Dataset) -> Iterator[str]:
    """Lines on one kind of study."""
    yield from ("", f"### {kind}", "", f'`study = "{result.attrs["study"]}"`', "")
    own = {str(name) for name in result.attrs if name not in COMMON} | set(AT_TIMES.get(kind, ()))
    if own:
        yield from _heads("attribute", "what it says")
        yield from (f"| `{name}` | {OWN[name]} |" for name in sorted(own))
        yield ""
    yield from _heads("variable", "over", "unit", "what it is")
    rows: dict[str, str] = {}
    factors = json.loads(result.attrs["base_design"])
    goal = str(result.attrs.get("goal", ""))
    for name, variable in result.variables.items():
        shown, rest = _row(str(name), variable, set(factors), str(result.attrs["currency"]))
        rows.setdefault(shown, _of_goal(rest, goal) if goal else rest)
    yield from (f"| `{shown}` | {rest} |" for shown, rest in sorted(rows.items()))


def _heads(*names: str) -> tuple[str, str]:
    return f"| {' | '.join(names)} |", f"|{'---|' * len(names)}"


def _row(name: str, variable: xr.Variable, factors: set[str], currency: str) -> tuple[str, str]:
    """A variable's name and the rest of its line; factors, merits and limits give way to what they are."""
    over, unit = " x ".join(map(str, variable.dims)), str(variable.attrs.get("units", "time"))
    meaning = str(variable.attrs["long_name"]).replace("|", "/")
    if name in factors and over in ("trial", "design", "draw"):
        return "<factor>", f"{over} | its own | value of the factor"
    if name.endswith("hypervolume"):
        unit = "those of its goals, multiplied"
    unit = "money" if unit == currency else unit
    for known, what in _KNOWN:
        if re.search(rf"(?:^|_){known}(?:_|$)", name) and not name.startswith(
            ("part_", "shown_part_", "food_")
        ):
            if (unit == (MERITS | LIMITS)[known].unit("money") and unit != "1") or name == known:
                unit = "its own"
            name = name.replace(known, f"<{what}>")
            meaning = _without(meaning, known, what)
            break
    return name, f"{over} | {unit} | {meaning}"


def _of_goal(rest: str, goal: str) -> str:
    """The rest of a line in which the goal of the small study has given way to any."""
    over, unit, meaning = rest.split(" | ")
    meaning = meaning.replace(goal, "the goal")
    unit = "the goal's" if "the goal" in meaning and unit == MERITS[goal].unit("") != "1" else unit
    return f"{over} | {unit} | {meaning}"


def _without(meaning: str, known: str, what: str) -> str:
    """A meaning in which a merit or limit has given way to what it is."""
    whole = (MERITS | LIMITS)[known].meaning
    for text in (whole, whole.partition(",")[0], known):
        meaning = meaning.replace(text, f"<{what}>")
    judged = r", (?:on the middle one|mean) of the days|,? (?:and of|over) \d+ draws"
    meaning = re.sub(f"(<merit>)(?:{judged})+", r"\1", meaning)
    return f"{what}, by its name" if meaning == f"<{what}>" else meaning


_KNOWN = sorted(
    [*((name, "merit") for name in MERITS), *((name, "limit") for name in LIMITS)],
    key=lambda pair: -len(pair[0]),
)


def page_with(lines: Iterator[str]) -> str:
    """The page with its tables written anew."""
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    return "\n".join([before + BEGIN, "", *lines, "", END]) + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(page_with(tables(results_of_every_kind())), "utf-8")
    sys.stdout.write(f"{PAGE.name} written\n")
