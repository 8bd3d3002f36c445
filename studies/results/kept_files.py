"""Files that a config names, kept byte for byte in its results, so that a result needs nothing beside itself."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr


def with_files(dataset: xr.Dataset, files: Mapping[str, bytes]) -> xr.Dataset:
    """The dataset with files as variables of bytes, `file_1` on.

    Parameters
    ----------
    dataset : Dataset
    files : dict of bytes
        By the name that the config gives them.

    Examples
    --------
    >>> kept_files(with_files(xr.Dataset(), {"mine.toml": b"[mirrors]"}))
    {'mine.toml': b'[mirrors]'}
    """
    variables = {
        f"file_{number}": (
            f"file_{number}_byte",
            np.frombuffer(contents, dtype=np.uint8),
            {"units": "1", "long_name": "bytes of a file that the config names", "file_name": name},
        )
        for number, (name, contents) in enumerate(sorted(files.items()), start=1)
    }
    return dataset.assign(variables)


def kept_files(dataset: xr.Dataset) -> dict[str, bytes]:
    """Files kept in a dataset, by the name that its config gives them."""
    return {
        str(variable.attrs["file_name"]): variable.values.tobytes()
        for variable in dataset.variables.values()
        if is_kept_file(variable)
    }


def is_kept_file(variable: xr.Variable) -> bool:
    """Whether a variable holds a file."""
    return "file_name" in variable.attrs


def without_files(dataset: xr.Dataset) -> xr.Dataset:
    """The dataset without them."""
    return dataset.drop_vars([name for name, array in dataset.variables.items() if is_kept_file(array)])
