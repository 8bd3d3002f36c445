"""Files that a config names: found wherever they are named, read, and put in place again from a result."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

# Keys of a config whose text is the name of a file: own materials and foods, weather, prices.
FILE_KEYS = ("materials", "foods", "path", "file")
FILE_LISTS = ("files",)  # and the key whose list holds such names: the logs of a test cook


def renamed(table: Any, change: Callable[[str], Any]) -> Any:
    """A copy of a config's tables in which every name of a file has become what `change` makes of it.

    Examples
    --------
    >>> renamed({"foods": "mine.toml", "sky": {"path": "a.epw"}, "title": "b"}, str.upper)
    {'foods': 'MINE.TOML', 'sky': {'path': 'A.EPW'}, 'title': 'b'}
    """
    if isinstance(table, list):
        return [renamed(entry, change) for entry in table]
    if not isinstance(table, dict):
        return table
    return {key: _renamed_value(key, value, change) for key, value in table.items()}


def _renamed_value(key: str, value: Any, change: Callable[[str], Any]) -> Any:
    if key in FILE_KEYS and isinstance(value, str):
        return change(value)
    if key in FILE_LISTS and isinstance(value, list):
        return [change(name) if isinstance(name, str) else name for name in value]
    return renamed(value, change)


def file_names(table: dict[str, Any]) -> list[str]:
    """Names of all files in a config, each once, in order."""
    names: dict[str, None] = {}
    renamed(table, lambda name: names.setdefault(name))
    return list(names)


def read_files(table: dict[str, Any], folder: Path) -> dict[str, bytes]:
    """Contents of the files that a config in this folder names.

    Those that cannot be read are left out: whoever needs them says so with the key.
    """
    found = {}
    for name in file_names(table):
        try:
            found[name] = (folder / name).read_bytes()
        except (OSError, ValueError):  # a name may hold a null character
            continue
    return found


def put_in_place(table: dict[str, Any], files: Mapping[str, bytes], folder: Path) -> dict[str, Any]:
    """A config that finds its files in a folder, where they are written for it.

    Raises
    ------
    KeyError
        A file that the config names is not among them.
    """
    places = {}
    for number, (name, contents) in enumerate(files.items()):
        # Each in a folder of its own: readers go by the ending of a name, and show its last part.
        places[name] = folder / str(number) / Path(name).name
        places[name].parent.mkdir()
        places[name].write_bytes(contents)
    copy: dict[str, Any] = renamed(table, lambda name: str(places[name]))
    return copy
