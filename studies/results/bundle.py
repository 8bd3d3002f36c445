"""Several results in one file: a netCDF with a group for each, which any reader of netCDF opens.

Every group is a result as a file of its own would hold it, with its provenance and the hash of its content.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import xarray as xr

from .sealed import write_sealed
from .store import (
    FORMAT_VERSION,
    StoreError,
    checked,
    encoding_of,
    read,
    refuse_damaged,
    refuse_missing_folder,
    refuse_newer,
    trusted,
)

BUNDLE_FORMAT = "noonhearth bundle"
BUNDLE = "all.nc"  # how the bundle of a results folder is called


def write_bundle(results: Mapping[str, xr.Dataset], path: Path) -> None:
    """Write results into one file, each as a group, whole or not at all.

    Parameters
    ----------
    results : dict of Dataset
        By the name of their group, such as "search"; each as `store.write` wants it.
    path : Path

    Raises
    ------
    StoreError
        No result; a name that cannot be a group; a result that may not be written; a folder that is missing.
    """
    refuse_missing_folder(path)
    if not results:
        raise StoreError(f"{path} not written: there is no result to put into it")
    wrong = [name for name in results if not name or {"/", " "} & set(name)]
    if wrong:
        raise StoreError(f"{path} not written: {wrong[0]!r} cannot name a group; no slash and no blank in it")
    groups = {name: checked(dataset, path) for name, dataset in results.items()}
    tree = xr.DataTree.from_dict(groups)
    tree.attrs = {"format": BUNDLE_FORMAT, "format_version": FORMAT_VERSION, "results": " ".join(groups)}
    encoding = {f"/{name}": encoding_of(dataset) for name, dataset in groups.items()}
    write_sealed(
        path,
        lambda partial: tree.to_netcdf(partial, engine="h5netcdf", encoding=encoding),
        lambda partial: _trusted(_opened(partial), partial),
    )


def read_bundle(path: Path) -> xr.DataTree:
    """Every result of a bundle, in memory, each checked against its checksum.

    Raises
    ------
    StoreError
        No such file; no bundle; a newer format; damaged.

    Examples
    --------
    >>> tree = read_bundle(Path("results/first_oven/all.nc"))  # doctest: +SKIP
    >>> tree["search"].to_dataset()["time_to_done"]  # doctest: +SKIP
    """
    refuse_damaged(path)
    return _trusted(_opened(path), path)


def _opened(path: Path) -> xr.DataTree:
    with xr.open_datatree(path, engine="h5netcdf", decode_timedelta=False) as opened:
        return opened.load()


def _trusted(tree: xr.DataTree, path: Path) -> xr.DataTree:
    refuse_newer(tree.attrs, path)
    if tree.attrs.get("format") != BUNDLE_FORMAT:
        raise StoreError(f"{path} is one result, not a bundle of several; open it as it is")
    names = str(tree.attrs["results"]).split()
    if set(names) != set(tree.children):
        raise StoreError(f"{path} should hold {', '.join(names)}, but holds {', '.join(tree.children)}")
    groups = {name: trusted(tree[name].to_dataset(), path) for name in names}
    checked_tree = xr.DataTree.from_dict(groups)
    checked_tree.attrs = dict(tree.attrs)
    return checked_tree


def bundle_folder(folder: Path, to: Path) -> list[str]:
    """Write every result of a folder into one file; their names, in the order of their names.

    Raises
    ------
    StoreError
        A folder without results; a result of it that is damaged; as `write_bundle`.
    """
    if not folder.is_dir():
        raise StoreError(f"there is no folder {folder}")
    files = [path for path in sorted(folder.glob("*.nc")) if path.name not in (BUNDLE, to.name)]
    results = {path.stem: read(path) for path in files}
    if not results:
        raise StoreError(f"{folder} holds no result file (*.nc)")
    write_bundle(results, to)
    return list(results)


def results_in(path: Path) -> dict[str, xr.Dataset]:
    """The results of a file, by name: the one that it is, or those of a bundle.

    Raises
    ------
    StoreError
        As `store.read`.
    """
    refuse_damaged(path)
    tree = _opened(path)
    if tree.attrs.get("format") != BUNDLE_FORMAT:
        dataset = trusted(tree.to_dataset(), path)
        return {str(dataset.attrs.get("study_name", path.stem)): dataset}
    return {name: group.to_dataset() for name, group in _trusted(tree, path).children.items()}
