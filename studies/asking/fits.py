"""The key `fit` of a study: what test cooks leave unknown of the oven varies too; and where that stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any

import xarray as xr
from pydantic import BeforeValidator, Field, WithJsonSchema

from ...model import DescriptionError, Design
from ..judging.posterior import Posterior
from ..results.store import StoreError, read
from .quantity import QuantityError

CHOSEN = "chosen"


class FitFault(ValueError):
    """A fit that cannot be used; a sentence that begins with the key."""


def is_chosen(asked: Any) -> bool:
    """Whether a study asks for the fit before it in its run."""
    return isinstance(asked, str) and asked == CHOSEN


def _asked(value: Any) -> Any:
    file = value.get("file") if isinstance(value, dict) and set(value) == {"file"} else None
    if value is None or is_chosen(value) or isinstance(value, xr.Dataset) or isinstance(file, str):
        return value
    raise QuantityError(
        f'{value!r} is no fit; write "chosen" for the one before it in this config, or {{ file = "fit.nc" }}'
    )


FitAsked = Annotated[
    Any,
    BeforeValidator(_asked),
    WithJsonSchema(
        {"anyOf": [{"const": CHOSEN}, {"type": "object", "properties": {"file": {"type": "string"}}}]}
    ),
    Field(
        description='what test cooks leave unknown varies too: of the fit before it ("chosen") or of a result, '
        '{ file = "fit.nc" }'
    ),
]
"""What a study says of a fit; its default is None. From Python it may be the result of a fit itself."""


def posterior_asked(asked: Any, folder: Path, decided: Iterable[str]) -> Posterior | None:
    """What the fit says that a study asks for by file or as a result; None where it asks for none, or for the chosen.

    Parameters
    ----------
    asked : value of `FitAsked`
    folder : Path
        That the file is named from.
    decided : iterable of str
        Factors that the study has in hand itself.

    Raises
    ------
    FitFault
        There is no such result, or it is of no fit, or one of its factors varies by itself as well.
    """
    if asked is None or is_chosen(asked):
        return None
    found = Posterior.of(asked) if isinstance(asked, xr.Dataset) else fit_in(folder, asked["file"], "fit")
    refuse_twice(found, decided)
    return found


def fit_in(folder: Path, name: str, key: str) -> Posterior:
    """What the result file of a fit says.

    Raises
    ------
    FitFault
        It cannot be read, or is of another kind of study.
    """
    try:
        dataset = read(folder / name)
    except StoreError as error:
        raise FitFault(f'{key}: "{name}" cannot be used: {error}') from error
    if dataset.attrs.get("study") != "fit":
        raise FitFault(
            f'{key}: "{name}" is of a {dataset.attrs.get("study")} study; name the result of a fit'
        )
    return Posterior.of(dataset)


def as_fitted(design: Design, raw: dict[str, Any], folder: Path, faults: list[str]) -> Design:
    """The design as the fit found it whose result its `[as_built]` table names; as it is where that names none.

    Parameters
    ----------
    design : Design
    raw : dict
        The tables of the config: what they say themselves is not overruled in silence.
    folder : Path
        That the file is named from.
    faults : list of str
        Gets a sentence for all that is wrong.
    """
    table = raw.get("as_built")
    name = table.get("file") if isinstance(table, dict) else None
    if not isinstance(name, str):
        return design
    try:
        found = fit_in(folder, name, "as_built.file")
        said = sorted({key for key in _keys(raw) if key in found.names})
        if said:
            raise FitFault(
                f'as_built.file: the fit "{name}" found {", ".join(said)}, and the config says it as well; take it '
                "out of the one or the other"
            )
        return found.built(design)
    except FitFault as fault:
        faults.append(str(fault))
    except DescriptionError as error:
        faults.extend(f"as_built.file: {fault}" for fault in error.faults)
    return design


def _keys(raw: dict[str, Any]) -> Iterator[str]:
    """Every key by which a config describes its design."""
    for part in ("oven", "aiming", "meal", "surroundings", "as_built"):
        tables = [raw.get(part)]
        while tables:
            table = tables.pop()
            if isinstance(table, dict):
                yield from table
                tables.extend(table.values())


def refuse_twice(posterior: Posterior, decided: Iterable[str]) -> None:
    """Refuse a study that has a factor of the fit in hand itself."""
    twice = sorted(set(posterior.names) & set(decided))
    if twice:
        raise FitFault(
            f"fit: {', '.join(twice)} is in this fit and varies by itself as well; take it out of the study, or "
            "leave the fit out"
        )
