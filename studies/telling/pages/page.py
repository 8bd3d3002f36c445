"""Results as one HTML page that opens from disk: an argument, the studies behind it, and designs to look through.

Nothing is fetched and nothing is simulated; every number comes from the Datasets. Text from configs is escaped.
"""

import base64
import json
import re
from collections import Counter
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import jinja2
import xarray as xr
from markupsafe import Markup, escape

from ..argument.sections import begun
from ..argument.whole import argument, in_short
from ..drawings.drawing import Drawn
from ..report import NOTHING_LEFT, details
from ..tellings import telling_of
from ..words.phrases import spoken

# What makes the page do something, in the order it is read.
SCRIPTS = ("drawing.js", "scatter.js", "design.js", "slices.js", "table.js", "explorer.js")


def page(
    title: str,
    parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]],
    *,
    cautions: Sequence[tuple[str, str, str]],
    command: str,
) -> str:
    """A whole run as one HTML page; takes what `report.markdown` takes.

    Parameters
    ----------
    parts : (result, its figures) of each study, in order
    cautions : (where, text, who has the last word)
    command : the command that makes it all again
    """
    templates = files("noonhearth.studies") / "templates"
    loader = jinja2.FunctionLoader(lambda name: (templates / name).read_text("utf-8"))
    environment = jinja2.Environment(loader=loader, autoescape=True, undefined=jinja2.StrictUndefined)
    environment.filters["coded"] = _coded
    sections = argument([result for result, _ in parts], cautions=cautions)
    script = "\n".join((templates / name).read_text("utf-8") for name in SCRIPTS)
    return environment.get_template("report.html").render(
        title=title,
        short=in_short(sections),
        argument=sections,
        studies=_studies(parts),
        titles={str(result.attrs["study_name"]): _title(result) for result, _ in parts},
        command=command,
        style=Markup((templates / "report.css").read_text("utf-8")),  # ours, nothing of a config
        script=Markup(script),
    )


def _coded(text: str) -> Markup:
    """Escaped words, with what stands between backticks as code."""
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", str(escape(text))))


def _title(result: xr.Dataset) -> str:
    return begun(spoken(result.attrs["study_name"]))


def _studies(parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]]) -> list[dict[str, Any]]:
    """Every study with a name of its own to link to, also where results of several runs share names."""
    times: Counter[str] = Counter()
    studies = []
    for result, drawings in parts:
        name = str(result.attrs["study_name"])
        times[name] += 1
        again = f"-again-{times[name]}" if times[name] > 1 else ""
        studies.append(_study(result, drawings, f"study-{name}{again}"))
    return studies


def _study(result: xr.Dataset, drawings: Sequence[Drawn], name: str) -> dict[str, Any]:
    data = telling_of(result).explorer(result)
    return {
        "id": name,
        "title": _title(result),
        "sentences": details(result) or [NOTHING_LEFT],
        "figures": [_figure(drawing) for drawing in drawings],
        "json": Markup(_script_safe(data)) if data else "",
    }


def _script_safe(data: dict[str, Any]) -> str:
    """JSON that may stand inside a script element whatever words it holds."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _figure(drawing: Drawn) -> dict[str, Any]:
    coded = base64.b64encode(drawing.svg).decode()
    width, height = drawing.figure.get_size_inches()
    rows = [[_cell(value) for value in row] for row in drawing.table.itertuples(index=False)]
    return {
        "name": spoken(drawing.name),
        "source": f"data:image/svg+xml;base64,{coded}",
        "caption": drawing.caption,
        "width": round(96 * float(width)),
        "height": round(96 * float(height)),
        "columns": [str(column) for column in drawing.table.columns],
        "rows": rows[:MOST_ROWS],
        "more": max(len(rows) - MOST_ROWS, 0),
    }


MOST_ROWS = 60  # of a figure's numbers on the page; the CSV beside it has all


def _cell(value: object) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)
