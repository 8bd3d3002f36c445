"""Results in plain words: sentences a builder can act on, and a Markdown summary with figures.

Everything is read from the Dataset; nothing is simulated here.
"""

import json
from collections.abc import Sequence

import xarray as xr

from .drawing import Drawn
from .tellings import telling_of


def sentences(result: xr.Dataset) -> list[str]:
    """What a result says, most important first."""
    return [sentence[:1].upper() + sentence[1:] for sentence in telling_of(result).sentences(result)]


def is_empty(result: xr.Dataset) -> bool:
    """Whether nothing came out, such as a search that found no design within its limits."""
    return telling_of(result).is_empty(result)


def markdown(
    title: str,
    parts: Sequence[tuple[xr.Dataset, Sequence[Drawn]]],
    *,
    cautions: Sequence[tuple[str, str, str]],
    command: str,
) -> str:
    """A whole run as one Markdown page beside its figures.

    Parameters
    ----------
    parts : (result, its figures) of each study, in order
    cautions : (where, text, who has the last word)
    command : the command that makes it all again
    """
    lines = [f"# {title}", ""]
    for result, drawings in parts:
        lines += [f"## {str(result.attrs['study_name']).capitalize()}", ""]
        lines += [f"- {sentence}" for sentence in sentences(result)]
        lines.append("")
        for drawing in drawings:
            name = f"{result.attrs['study_name']}-{drawing.name}"
            lines += [
                f"![{drawing.name}]({name}.svg)",
                "",
                f"{drawing.caption} Numbers: [{name}.csv]({name}.csv).",
                "",
            ]
    lines += ["## Before anyone builds or cooks", ""]
    lines += [f"- **{where}**: {text} Last word: {who}." for where, text, who in cautions]
    first = parts[0][0].attrs if parts else {}
    versions = json.loads(str(first.get("versions", "{}")))
    lines += [
        "",
        "## Where this comes from",
        "",
        f"- Made {first.get('created', '')} by model {first.get('model_hash', '')}, "
        f"seed {first.get('seed', '')}; "
        + ", ".join(f"{name} {number}" for name, number in versions.items())
        + ".",
        f"- Sky: {first.get('sky', '')}.",
        f"- Again, from the same config: `{command}`",
        "",
    ]
    return "\n".join(lines)
