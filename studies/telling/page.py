"""Results as one HTML page that opens from disk: sentences, figures, and the designs of a search to look through.

Nothing is fetched and nothing is simulated; every number comes from the Datasets. Text from configs is escaped.
"""

import base64
import json
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import jinja2
import xarray as xr
from markupsafe import Markup

from .drawing import Drawn
from .phrases import spoken
from .report import sentences
from .tellings import telling_of


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
    first = parts[0][0].attrs if parts else {}
    return environment.get_template("report.html").render(
        title=title,
        sections=[_section(result, drawings) for result, drawings in parts],
        about=_about(first),
        cautions=cautions,
        checks=(templates / "checks.txt").read_text("utf-8").strip(),
        command=command,
        style=Markup((templates / "report.css").read_text("utf-8")),  # ours, nothing of a config
        script=Markup((templates / "report.js").read_text("utf-8")),
    )


def _section(result: xr.Dataset, drawings: Sequence[Drawn]) -> dict[str, Any]:
    name = str(result.attrs["study_name"])
    data = telling_of(result).explorer(result)
    return {
        "id": f"study-{name}",
        "title": spoken(name).capitalize(),
        "sentences": sentences(result),
        "figures": [_figure(drawing) for drawing in drawings],
        "explorer": data,
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


def _about(attrs: dict[Any, Any]) -> list[tuple[str, str]]:
    """Where the results come from, as pairs of words."""
    versions = json.loads(str(attrs.get("versions", "{}")))
    return [
        ("Place", str(attrs.get("place", ""))),
        ("Sky", str(attrs.get("sky", ""))),
        ("Seed", str(attrs.get("seed", ""))),
        ("Made", str(attrs.get("created", ""))),
        ("Model", str(attrs.get("model_hash", ""))),
        ("With", ", ".join(f"{name} {number}" for name, number in versions.items())),
    ]
