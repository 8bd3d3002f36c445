"""The one decorator for compiled kernels.

Every kernel of a model version shares a cache folder named by a hash of the
model's sources: numba looks only at the file a kernel stands in, so a kernel
that inlined an edited function of another file would go on with the old one.
"""

import hashlib
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import platformdirs

_HERE = Path(__file__).parent

F = TypeVar("F", bound=Callable[..., Any])


@cache
def source_hash() -> str:
    """Hash of every source and data file of the model; part of a study's identity."""
    digest = hashlib.sha256()
    for path in sorted(p for p in _HERE.rglob("*") if p.suffix in {".py", ".toml"}):
        digest.update(path.relative_to(_HERE).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path | None:
    """Folder for compiled kernels, or None where nothing can be written."""
    folder = Path(platformdirs.user_cache_dir("noonhearth", appauthor=False)) / "kernels" / source_hash()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError:
        return None
    return folder


def kernel(function: F, *, inline: bool = False) -> F:
    """Compile `function`: no GIL, IEEE arithmetic with nan and inf kept, cached on disk if it can be.

    `fastmath` stays off: it deletes the inf and nan that the kernels use as "no hit" and "never".
    """
    before = numba.config.CACHE_DIR  # read by numba while it decorates, so set for that moment only
    folder = cache_folder()
    numba.config.CACHE_DIR = str(folder or "")
    try:
        compiled: F = numba.njit(
            function,
            nogil=True,
            error_model="numpy",
            cache=folder is not None,
            inline="always" if inline else "never",
        )
    finally:
        numba.config.CACHE_DIR = before
    return compiled
