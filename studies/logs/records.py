"""The [[cook]] tables of a config, or the same keys from Python, as records; every fault at once."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ...model import Catalogue, Place, load_catalogue
from ..asking.cook_tables import CookSection
from ..asking.schema import sentence
from .logged import logged_cook
from .touched import LogError, LoggedCook


def records_of(
    tables: Sequence[Any],
    *,
    files: Mapping[str, bytes],
    place: Place,
    catalogue: Catalogue,
    faults: list[str],
) -> tuple[LoggedCook, ...] | None:
    """The cooks of a config; None if one of them cannot be read.

    Parameters
    ----------
    tables : sequence of dict
        The [[cook]] tables as they stand in the file.
    files : dict of bytes
        By the names that the tables give them.
    place : Place
    catalogue : Catalogue
    faults : list of str
        Takes what is wrong with the logs, with paths; keys that cannot be are left to the check of the whole config.
    """
    records: list[LoggedCook] = []
    names = [table.get("name") for table in tables if isinstance(table, dict)]
    sound = True
    for number, table in enumerate(tables, start=1):
        found = []
        if isinstance(table, dict) and names.count(table.get("name")) > 1:
            found.append(
                f'name = "{table["name"]}": another cook is called so; studies ask for cooks by name'
            )
        section, unsound = _sound_part(table, catalogue)
        try:
            if section is not None:
                records.append(logged_cook(section, files=files, place=place, catalogue=catalogue))
        except LogError as error:
            found += [fault for fault in error.faults if not _is_of(fault, unsound)]
        faults.extend(f"cook[{number}].{fault}" for fault in found)
        sound = sound and not found and not unsound
    return tuple(records) if sound else None


def _sound_part(table: Any, catalogue: Catalogue) -> tuple[CookSection | None, Mapping[str, list[str]]]:
    """A table without the keys that cannot be, so that the faults of its log show as well; those keys' faults."""
    context = {"catalogue": catalogue.names()}
    try:
        return CookSection.model_validate(table, context=context), {}
    except ValidationError as error:
        faults = [fault for fault in error.errors() if fault["loc"]]
        unsound: dict[str, list[str]] = {}
        for fault in faults:
            unsound.setdefault(str(fault["loc"][0]), []).append(sentence(fault, CookSection))
        if not isinstance(table, dict):
            return None, {"table": ["no table"]}
    rest = {"name": "unnamed"} | {key: value for key, value in table.items() if key not in unsound}
    try:
        return CookSection.model_validate(rest, context=context), unsound
    except ValidationError:
        return None, unsound


def _is_of(fault: str, keys: Mapping[str, list[str]]) -> bool:
    """Whether a fault is about keys that were left out for being unsound, or about what they may have given."""
    if keys and (fault.startswith("no ") or ("logger" in keys and ": is missing" in fault)):
        return True
    return re.split(r"[.:\[ =]", fault, maxsplit=1)[0] in keys


def read_cook(
    place: Place, *, folder: Path | str = ".", catalogue: Catalogue | None = None, **keys: Any
) -> LoggedCook:
    """A test cook from its logs; `keys` are those of a [[cook]] table of a config.

    Parameters
    ----------
    place : Place
        Where it was cooked: its clock is that of logs that name no zone.
    folder : Path or str
        From which files are named.
    catalogue : Catalogue, optional
        Foods that the meal may be of.

    Raises
    ------
    LogError
        Keys that cannot be, and columns that the files do not have; every fault at once.

    Examples
    --------
    >>> import math
    >>> yard = Place(latitude=math.radians(14), longitude=0.0, timezone="UTC")
    >>> form = '''time,food
    ... 2026-03-01 10:00,22.5
    ... 2026-03-01 10:10,31.0'''
    >>> record = read_cook(
    ...     yard, name="first", typed=form, time={"column": "time"}, food={"column": "food", "unit": "degC"},
    ...     irradiance="clear sky", meal={"food": "water", "food_mass": "1 kg"},
    ... )
    >>> record.temperature("food").tolist()
    [295.65, 304.15]
    """
    known = catalogue or load_catalogue()
    section, unsound = _sound_part(keys, known)
    faults = [fault for found in unsound.values() for fault in found]
    if section is not None:
        named = [*section.files, *(name for logger in section.logger for name in logger.files)]
        files = {
            name: (Path(folder) / name).read_bytes() for name in named if (Path(folder) / name).is_file()
        }
        try:
            record = logged_cook(section, files=files, place=place, catalogue=known)
            if not faults:
                return record
        except LogError as error:
            faults += [fault for fault in error.faults if not _is_of(fault, unsound)]
    raise LogError(faults)
