"""The one decorator for compiled kernels.

Kernels of one package share a cache folder named by a hash of all its sources:
numba looks only at the file a kernel stands in, so a kernel that calls an
edited function of another file would otherwise go on with the old one. A
package's kernels call only each other and the model's top-level constants.
Folders of earlier sources are removed once nobody has used them for a month.
"""

import hashlib
import os
import re
import shutil
import time
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import platformdirs

_HERE = Path(__file__).parent
_UNUSED = 30 * 86_400.0  # s after which the kernels of earlier sources go; they come back by compiling

F = TypeVar("F", bound=Callable[..., Any])


@cache
def source_hash() -> str:
    """Hash of every source and data file of the model; part of a study's identity."""
    return _hash(p for p in _HERE.rglob("*") if p.suffix in {".py", ".toml"})


def _kernel_hash(package: str) -> str:
    shared = (_HERE / name for name in ("compiled.py", "constants.py", "status.py"))
    alone = _HERE / f"{package}.py"  # a module of kernels that is no folder
    own = [alone] if alone.is_file() else (_HERE / package).rglob("*.py")
    return _hash([*own, *shared])


def _hash(paths: Iterable[Path]) -> str:
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.relative_to(_HERE).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder(package: str) -> Path | None:
    """Folder for the compiled kernels of a package, or None where nothing can be written."""
    base = Path(platformdirs.user_cache_dir("noonhearth", appauthor=False))
    folder = base / "kernels" / f"{package}-{_kernel_hash(package)}"
    new = not folder.exists()
    if not _used(folder):
        return None
    if new:
        prune(folder.parent, package)
    return folder


def _used(folder: Path) -> bool:
    """Make a folder if need be and mark it as used now; whether it can be written to.

    A file that comes and goes moves the folder's own time, by which `prune` knows what is in use.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError:
        return False
    return True


def prune(kernels: Path, package: str, *, unused: float = _UNUSED) -> list[str]:
    """Remove the folders of a package that no process has begun with for `unused` seconds; names of those removed.

    Every process marks its folders when it starts. A folder is first renamed, so that nobody sees half of it; one
    that was marked at that very moment is put back. What cannot be removed stays, and what an earlier process left
    half removed goes as well.
    """
    name = re.compile(rf"{re.escape(package)}-[0-9a-f]{{16}}(\.old-\d+)?")
    removed = []
    for folder in sorted(kernels.iterdir()):
        aside = folder.with_name(f"{folder.name.partition('.')[0]}.old-{os.getpid()}")
        if not name.fullmatch(folder.name) or not _idle(folder, unused):
            continue
        try:
            folder.rename(aside)
            if not _idle(aside, unused):
                aside.rename(folder)
                continue
        except OSError:  # another process was first, or it may not be touched
            continue
        shutil.rmtree(aside, ignore_errors=True)
        removed.append(folder.name)
    return removed


def _idle(folder: Path, unused: float) -> bool:
    """Whether a folder was last used so long ago; not if it is gone."""
    try:
        return folder.stat().st_mtime < time.time() - unused
    except OSError:
        return False


def kernel(function: F, *, inline: bool = False) -> F:
    """Compile `function`: no GIL, IEEE arithmetic with nan and inf kept, cached on disk if it can be.

    `fastmath` stays off: it deletes the inf and nan that the kernels use as "no hit" and "never".
    """
    config: Any = numba.config
    before = config.CACHE_DIR  # read by numba while it decorates, so set for that moment only
    folder = cache_folder(function.__module__.split(".")[2])
    config.CACHE_DIR = str(folder or "")
    try:
        compiled: F = numba.njit(
            function,
            nogil=True,
            error_model="numpy",
            cache=folder is not None,
            forceinline=inline,
        )
    finally:
        config.CACHE_DIR = before
    return compiled


def inlined(function: F) -> F:
    """Compile a kernel that disappears into its callers, as a vectorised loop over lanes needs.

    Left to itself the compiler calls the larger ones, and the loop stays scalar (measured: 4 times slower).
    """
    return kernel(function, inline=True)
