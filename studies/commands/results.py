"""Commands on result files: make one of several seeds, put all into one file, make a number again."""

from pathlib import Path
from typing import Annotated

import cyclopts

from .speaking import DONE, FAILED, WRONG, err, out, processors


def merge(
    *results: Path, to: Annotated[Path, cyclopts.Parameter(name=["--to", "-t"])] = Path("merged.nc")
) -> int:
    """Make one result of those of the same study run with other seeds.

    Parameters
    ----------
    results
        Result files (netCDF) of one config that differ only in its seed.
    to
        The file to write.
    """
    from ..results.merge import MergeError
    from ..results.merge import merge as merged
    from ..results.store import StoreError, read, write
    from ..telling.report import sentences

    try:
        dataset = merged([read(path) for path in results])
        write(dataset, to)
    except MergeError as error:
        names = ", ".join(map(str, results))
        err.print(f"{names}: not merged: {error}", markup=False, soft_wrap=True)
        return WRONG
    except (StoreError, OSError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return WRONG
    for sentence in sentences(dataset):
        out.print(f"- {sentence}", markup=False, soft_wrap=True)
    out.print(f"Written to {to}.", markup=False, soft_wrap=True)
    return DONE


def bundle(
    folder: Path, *, to: Annotated[Path | None, cyclopts.Parameter(name=["--to", "-t"])] = None
) -> int:
    """Put all results of a run into one file, each as a group with its own provenance.

    Parameters
    ----------
    folder
        Results folder of a config, such as results/first_oven.
    to
        The file to write; all.nc in the folder if not given.
    """
    from ..results.bundle import BUNDLE, bundle_folder
    from ..results.store import StoreError

    to = to or folder / BUNDLE
    try:
        names = bundle_folder(folder, to)
    except (StoreError, OSError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return WRONG
    out.print(f"Written to {to}: {', '.join(names)}", markup=False, soft_wrap=True)
    return DONE


def rerun(
    result: Path,
    row: int | None = None,
    *,
    study: str | None = None,
    workers: Annotated[int | None, cyclopts.Parameter(name=["--workers", "-w"])] = None,
) -> int:
    """Compute a row of a result again, or the whole study, from the file alone, and compare every bit.

    Parameters
    ----------
    result
        Result file (netCDF).
    row
        Counted from 0: the trial of a search, the design of a sample. The whole study if left out.
    study
        Which result of a bundle, by its name.
    workers
        Threads for a whole study; as many as there are processors if not given.
    """
    from ..config import ConfigError
    from ..kinds import Running, StudyError
    from ..results.reader import open_result
    from ..results.store import StoreError

    try:
        again = open_result(result, study).rerun(row, running=Running(workers=workers or processors()))
    except (StoreError, ConfigError) as error:
        err.print(str(error), markup=False, soft_wrap=True)
        return WRONG
    except StudyError as error:
        err.print(f"{result}: {error}", markup=False, soft_wrap=True)
        return FAILED
    for sentence in again.sentences():
        out.print(sentence, markup=False, soft_wrap=True)
    return DONE if again.same else FAILED
