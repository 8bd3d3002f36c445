"""Prices of a config: in its own table, in a file beside it that several configs share, or in both."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationError

from ...model import Price
from .quantity import QuantityError
from .schema import Section, sentence


def _price(text: Any) -> Price:
    try:
        return Price.read(text)
    except ValueError as error:
        raise QuantityError(str(error)) from error


Prices = dict[str, Annotated[Any, BeforeValidator(_price)]]


class PriceFile(Section):
    """What material costs, in a file of its own: name in the catalogue -> "12 per kg", "30 per m2" or "9 each"."""

    currency: str | None = None
    materials: Prices = Field(default_factory=dict)


class PricesSection(PriceFile):
    """What material costs here: name in the catalogue -> "12 per kg", "30 per m2" or "9 each"."""

    file: str | None = Field(None, description="TOML file of prices, from the config's folder")


def with_price_file(table: Any, folder: Path, known: set[str], faults: list[str]) -> Any:
    """A `[prices]` table with what its file adds; an entry of the table stands before the file's.

    Parameters
    ----------
    table : dict
        As it stands in the config; anything else is returned as it is.
    folder : Path
        Where the file is named from.
    known : set of str
        Names of the catalogue.
    faults : list of str
        Takes what is wrong with the file, each sentence with its name.
    """
    if not isinstance(table, dict) or not isinstance(table.get("file"), str):
        return table
    name = table["file"]
    found = [f'prices.file = "{name}": {fault}' for fault in _faults_of(folder / name, known)]
    faults.extend(found)
    raw = {} if found else _tables(folder / name)
    own = table.get("materials", {})
    if found:  # one fault is enough: that currency and prices are missing is not another
        return {"currency": "", "materials": {}, **table}
    return {
        **raw,
        **table,
        "materials": {**raw.get("materials", {}), **own} if isinstance(own, dict) else own,
    }


def _faults_of(path: Path, known: set[str]) -> list[str]:
    """Everything that is wrong with a file of prices."""
    try:
        raw = _tables(path)
        prices = PriceFile.model_validate(raw)
    except OSError as error:
        return [f"cannot be read: {error.strerror}"]
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        return [f"is not TOML: {error}"]
    except ValidationError as error:
        return [sentence(fault, PriceFile) for fault in error.errors()]
    return unknown_names(prices.materials, known)


def unknown_names(prices: Prices, known: set[str]) -> list[str]:
    """Faults of prices for what no catalogue has."""
    return [f"materials.{name}: not a name of the catalogue" for name in prices if name not in known]


def _tables(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text("utf-8"))
