"""Every config of a folder, one after another, each into its own results as `run` makes them; one table over all."""

import dataclasses
import json
import platform
import shutil
import time
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import xarray as xr

from ..model import source_hash
from .batch_rows import DONE, FAILED, WRONG, Row, factors_of, numbers_of, rows_dataset
from .config import ConfigError, Plan, load
from .folder import carry_out_into
from .kinds import Running
from .results import store
from .results.provenance import Provenance, stamp
from .run import PACKAGES, Failure, Result
from .running.workers import CrewError
from .telling import figures, report
from .telling.words.batch_words import batch_markdown, batch_table

CONFIG_TABLES = ("place", "sky", "oven", "aiming", "meal", "study")
"""What tells a config from lists of materials, foods or prices: it has one of these."""

_UNFINISHED = ".unfinished-batch"


class BatchError(ValueError):
    """A folder that holds nothing to run; the message says what was looked for."""


@dataclass(frozen=True)
class Progress:
    """How far a batch is, told after each config."""

    number: int
    total: int
    rows: tuple[Row, ...]  # of the config just done
    kept: bool  # it was done already, before an interrupt


def configs_in(folder: Path) -> tuple[list[Path], list[Path]]:
    """The configs of a folder by name, and the other TOML files, which are passed over.

    A file that is no TOML counts as a config, so that it is told and not lost.

    Raises
    ------
    BatchError
        There is no such folder, or no config in it.
    """
    if not folder.is_dir():
        raise BatchError(f"there is no folder {folder}")
    found = sorted(path for path in folder.glob("*.toml") if path.is_file())
    configs = [path for path in found if _is_config(path)]
    if not configs:
        raise BatchError(f"{folder}: no config in it; looked for *.toml with {_named_tables()}")
    return configs, [path for path in found if path not in configs]


def _is_config(path: Path) -> bool:
    try:
        raw = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return True
    return any(name in raw for name in CONFIG_TABLES)


def _named_tables() -> str:
    return "one of " + ", ".join(f"[{name}]" for name in CONFIG_TABLES)


def batch(
    folder: Path | str,
    to: Path | str = "results",
    *,
    running: Running | None = None,
    tell: Callable[[Progress], None] | None = None,
) -> xr.Dataset:
    """Run every config of a folder; one that is wrong or fails does not stop the others.

    Each config gets a folder of its own in `to`; beside them come `batch.nc`, `batch.csv`, `batch.md` and figures
    over all. After an interrupt the same call goes on: configs that were done are not run again.

    Parameters
    ----------
    folder : Path
        Its `*.toml` are run, those in its subfolders are not.
    to : Path
        Of the results; made if missing.
    running : Running, optional
        Workers and whoever watches single studies; scratch files lie in `to`.
    tell : callable, optional
        Told after each config.

    Returns
    -------
    Dataset over (row)
        One row for each study of each config, one for each config that is wrong; `status` as in `Row`.

    Raises
    ------
    BatchError
        Nothing to run.
    StoreError, OSError
        The table over all cannot be written.
    """
    configs, passed = configs_in(Path(folder))
    to, running = Path(to), running or Running()
    to.mkdir(parents=True, exist_ok=True)
    rows: list[Row] = []
    for number, path in enumerate(configs, start=1):
        done, kept = _one(path, to, running)
        rows += done
        if tell is not None:
            tell(Progress(number, len(configs), tuple(done), kept))
    names = ", ".join(path.name for path in passed)
    dataset = _stamped(rows_dataset(rows).assign_attrs(passed_over=names), configs)
    _write(dataset, to)
    shutil.rmtree(to / _UNFINISHED, ignore_errors=True)
    return dataset


def _one(path: Path, to: Path, running: Running) -> tuple[list[Row], bool]:
    """The rows of one config, and whether they were known from before an interrupt."""
    start = time.perf_counter()
    try:
        plan = load(path)
    except ConfigError as error:
        fault, seconds = "; ".join(error.faults), time.perf_counter() - start
        return [Row(config=path.stem, status=WRONG, fault=fault, seconds=seconds)], False
    record = to / _UNFINISHED / f"{path.stem}-{plan.identity}-{source_hash()}.json"
    if record.is_file() and (to / path.stem).is_dir():
        return [Row(**row) for row in json.loads(record.read_text("utf-8"))], True
    rows = list(_rows(plan, to / path.stem, running))
    if all(row.status == DONE for row in rows):
        _keep(rows, record)
    return rows, False


def _keep(rows: Sequence[Row], record: Path) -> None:
    """Write down that a config is done, at once or not at all."""
    record.parent.mkdir(exist_ok=True)
    partial = record.with_suffix(".partial")
    partial.write_text(json.dumps([dataclasses.asdict(row) for row in rows]), "utf-8")
    partial.replace(record)


def _rows(plan: Plan, folder: Path, running: Running) -> Iterator[Row]:
    """The studies of a plan carried out; what stops one stops those after it, not the other configs."""
    named = [(name, step.kind) for name, step in plan.named_steps()]
    own: dict[str, Any] = {"config": plan.source.stem, "title": plan.title, "seed": plan.setting.seed}
    rows = [Row(**own, study=name, kind=kind, currency=plan.setting.currency) for name, kind in named]
    known: dict[str, dict[str, float]] = {}
    finished, start, fault = 0, time.perf_counter(), ""
    try:
        for result in carry_out_into(folder, plan, running=_watched(running, plan.source.stem)):
            found = _found(rows[finished], result, plan, known)
            finished += 1
            yield dataclasses.replace(found, seconds=time.perf_counter() - start)
            start = time.perf_counter()
        return
    except CrewError:  # no worker is left for anybody
        raise
    except Exception as error:  # whatever it is: it is told, and the other configs are run
        fault = f"{type(error).__name__}: {error}"
    for row in rows[finished:] or [Row(**own, study="summary")]:
        seconds, start = time.perf_counter() - start, time.perf_counter()
        yield dataclasses.replace(row, status=FAILED, fault=fault, seconds=seconds)
        fault = "not run: a study before it stopped with an error"


def _found(row: Row, result: Result | Failure, plan: Plan, known: dict[str, dict[str, float]]) -> Row:
    """What came of one study; `known` keeps the numbers of designs that several studies are about."""
    if isinstance(result, Failure):
        return dataclasses.replace(row, status=FAILED, fault=result.reason)
    if report.is_empty(result.dataset):
        return dataclasses.replace(row, status=FAILED, fault=report.sentences(result.dataset)[0])
    design = repr(result.design)
    if design not in known:
        known[design] = numbers_of(plan.setting, result.design)
    return dataclasses.replace(row, factors=factors_of(result.design), numbers=known[design])


def _watched(running: Running, config: str) -> Running:
    """Whoever watches is told the config with each study."""
    watch = running.watch
    if watch is None:
        return running
    return dataclasses.replace(running, watch=lambda name, *state: watch(f"{config}: {name}", *state))


def _stamped(dataset: xr.Dataset, configs: Sequence[Path]) -> xr.Dataset:
    """The table with where it came from: the text of every config, one after another."""
    texts = [f"# {path.name}\n{path.read_text('utf-8', errors='replace')}" for path in configs]
    status, seeds = dataset["status"].to_numpy(), dataset["seed"].to_numpy()
    counts = {"configs": len(configs), "studies": int((status != WRONG).sum())}
    counts |= {"failed": int((status == FAILED).sum()), "wrong": int((status == WRONG).sum())}
    return stamp(
        dataset,
        Provenance(
            title=f"Batch of {len(configs)} configs",
            config="\n".join(texts),
            model_hash=source_hash(),
            versions={package: version(package) for package in PACKAGES}
            | {"python": platform.python_version()},
            seed=int(seeds.max()),  # each row has its own
            created=datetime.now(UTC).isoformat(timespec="seconds"),
            counts=counts,
        ),
    )


def _write(dataset: xr.Dataset, to: Path) -> None:
    """The table over all as netCDF, CSV and Markdown, with its figures."""
    store.write(dataset, to / "batch.nc")
    batch_table(dataset).to_csv(to / "batch.csv", index=False, float_format="%.6g")
    drawings = list(figures.drawn(dataset))
    for drawing in drawings:
        figures.save(drawing, to, prefix="batch")
    (to / "batch.md").write_text(batch_markdown(dataset, drawings), "utf-8")
