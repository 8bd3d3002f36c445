"""A config file -> one frozen `Plan`, or one error that lists every fault with its path."""

import hashlib
import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pydantic import ValidationError

from ..model import (
    Catalogue,
    CookRecord,
    Place,
    Workshop,
    load_catalogue,
    misfit,
)
from .asking.fits import as_fitted
from .asking.named_files import file_names, put_in_place, read_files, renamed
from .asking.oven_tables import RootSky, design_of, made_or_told, sky_or_told, table_of
from .asking.price_list import PricesSection, unknown_names, with_price_file
from .asking.schema import made, sentence
from .asking.sections import (
    ConfigSection,
    PlaceSection,
)
from .asking.study_tables import Step, idle_faults, steps_of, varies_of
from .kinds import Given
from .logs import records_of
from .setting import Setting


class ConfigError(ValueError):
    """Everything that is wrong with a config, one sentence a fault; nothing has been run or written."""

    def __init__(self, source: str, faults: list[str]) -> None:
        self.source, self.faults = source, faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{source}: {count}", *(f"  {fault}" for fault in faults)]))


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All that a config asks for, checked. Its sky is what costs time to make; it is made once, in `load`."""

    title: str
    setting: Setting
    steps: tuple[Step, ...]
    workshop: Workshop  # how the pieces are cut and joined; no study depends on it
    source: Path
    text: str
    identity: str  # of what is computed: equal configs in other words have the same
    inputs: Mapping[str, bytes] = field(default_factory=dict)  # files that the text names

    @property
    def cooks(self) -> tuple[CookRecord, ...]:
        """The test cooks that it names."""
        return self.setting.cooks

    def named_steps(self) -> Iterator[tuple[str, Step]]:
        """Studies with the names of their results: the kind, numbered where there are several of it."""
        kinds = [step.kind for step in self.steps]
        for number, step in enumerate(self.steps):
            several = kinds.count(step.kind) > 1
            yield f"{step.kind}-{kinds[: number + 1].count(step.kind)}" if several else step.kind, step


def load(path: Path | str) -> Plan:
    """Read, check and prepare a config; every fault that can be found without a run is found here.

    Raises
    ------
    ConfigError
        The file is missing, is not TOML, or holds anything that cannot be run.
    """
    path = Path(path)
    return loads(_read(path), path)


def loads(text: str, path: Path, *, inputs: Mapping[str, bytes] | None = None) -> Plan:
    """The same from the text of a config.

    Parameters
    ----------
    text : str
    path : Path
        Names the config in errors; its folder is where files are named from.
    inputs : dict of bytes, optional
        The files that the config names, by those names; then none is looked for on disk.

    Raises
    ------
    ConfigError
        The text is not TOML, or holds anything that cannot be run.
    """
    raw = _parsed(text, path)
    if inputs is None:
        return _planned(raw, text, path, read_files(raw, path.parent))
    missing = [name for name in file_names(raw) if name not in inputs]
    if missing:
        raise ConfigError(
            str(path), [f"the file {name} that it names is not kept with it" for name in missing]
        )
    with TemporaryDirectory() as folder:
        placed = put_in_place(raw, inputs, Path(folder))
        files = {place: inputs[name] for place, name in zip(file_names(placed), file_names(raw), strict=True)}
        return replace(_planned(placed, text, path, files), inputs=inputs)


def _planned(raw: dict[str, Any], text: str, path: Path, files: Mapping[str, bytes]) -> Plan:
    """The plan of a config's tables, whose files can be read under the names they have in them."""
    faults: list[str] = []
    catalogue = _catalogue(raw, path, faults)
    if "prices" in raw:
        raw = raw | {"prices": with_price_file(raw["prices"], path.parent, _known(catalogue), faults)}
    sections = _validated(raw, catalogue, faults)
    # What can be made is made of the parts that are sound by themselves, so that their faults show as well.
    part = partial(table_of, raw, catalogue.names())
    place = made_or_told(Place, part("place", PlaceSection), "", faults)
    sky = sky_or_told(part("sky", RootSky), place, path, faults)
    design, train = design_of(part, faults)
    if design is not None:
        design = as_fitted(design, raw, path.parent, faults)
    varies = varies_of(raw, catalogue, faults)
    faults.extend(idle_faults(raw, design, varies))
    cooks = _cooks(raw, files, place, catalogue, faults)
    steps: tuple[Step, ...] = ()
    if sections is not None:
        given = Given(
            design=design,
            sky=sky,
            catalogue=catalogue,
            priced=sections.prices is not None,
            prices=sections.prices.materials if sections.prices else {},
            folder=path.parent,
            sky_table=sections.sky,
            cooks=cooks,
        )
        steps = tuple(steps_of(sections.study, varies, given, faults))
    if faults or sections is None or design is None or place is None or sky is None:
        raise ConfigError(str(path), faults)
    reason = misfit(design, sky, catalogue=catalogue)
    if reason is not None:
        raise ConfigError(str(path), [f"oven: {reason}"])
    return Plan(
        title=sections.title,
        setting=Setting(
            design=design,
            sky=sky,
            catalogue=catalogue,
            prices=sections.prices.materials if sections.prices else {},
            currency=(sections.prices.currency or "") if sections.prices else "",
            rays=sections.rays,
            seed=sections.seed,
            train=train,
            shown_in=sections.shown_in,
            cooks=cooks or (),
        ),
        steps=steps,
        workshop=made(Workshop, sections.workshop),
        source=path,
        text=text,
        identity=_identity(sections, files),
        inputs=files,
    )


def _read(path: Path) -> str:
    try:
        return path.read_text("utf-8")
    except OSError as error:
        reason = "no such file" if isinstance(error, FileNotFoundError) else error.strerror or str(error)
        raise ConfigError(str(path), [f"cannot be read: {reason}"]) from error
    except UnicodeDecodeError as error:
        raise ConfigError(str(path), [f"is not TOML: {error}"]) from error


def _parsed(text: str, path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(str(path), [f"is not TOML: {error}"]) from error


def _catalogue(raw: dict[str, Any], path: Path, faults: list[str]) -> Catalogue:
    """Shipped lists with the user's own; a list that cannot be used is a fault, and left out."""
    own: dict[str, Path] = {}
    for kind in ("materials", "foods"):
        if not isinstance(raw.get(kind), str):
            continue
        given = {kind: path.parent / raw[kind]}
        try:
            load_catalogue(**given)
            own |= given
        except OSError as error:
            faults.append(f'{kind} = "{raw[kind]}": cannot be read: {error.strerror}')
        except ValueError as error:
            faults.extend(f'{kind} = "{raw[kind]}": {line}' for line in str(error).splitlines())
    return load_catalogue(**own)


def _validated(raw: dict[str, Any], catalogue: Catalogue, faults: list[str]) -> ConfigSection | None:
    context = {"catalogue": catalogue.names()}
    try:
        sections = ConfigSection.model_validate(raw, context=context)
    except ValidationError as error:
        faults.extend(sentence(fault, ConfigSection) for fault in error.errors())
        return None
    if sections.prices:
        faults.extend(_price_faults(sections.prices, _known(catalogue)))
    return sections


def _known(catalogue: Catalogue) -> set[str]:
    """Every name of the catalogue, whatever its group."""
    return {name for names in catalogue.names().values() for name in names}


def _cooks(
    raw: dict[str, Any],
    files: Mapping[str, bytes],
    place: Place | None,
    catalogue: Catalogue,
    faults: list[str],
) -> tuple[CookRecord, ...] | None:
    """The test cooks; None where one is unsound, or the clock of the place is not known."""
    tables = raw.get("cook", [])
    if place is None or not isinstance(tables, list):
        return None
    return records_of(tables, files=files, place=place, catalogue=catalogue, faults=faults)


def _price_faults(prices: PricesSection, known: set[str]) -> Iterator[str]:
    for name in ("currency", "materials"):
        if name not in prices.model_fields_set:
            yield f"prices.{name}: is missing" + (f', in "{prices.file}" too' if prices.file else "")
    yield from (f"prices.{fault}" for fault in unknown_names(prices.materials, known))


def _identity(sections: ConfigSection, files: Mapping[str, bytes]) -> str:
    """Identity of what will be computed: the effective config and what its files hold, not spelling or names."""
    effective = renamed(
        sections.model_dump(mode="json", exclude={"workshop", "shown_in"}),
        lambda name: hashlib.sha256(files[name]).hexdigest(),
    )
    return hashlib.sha256(json.dumps(effective, sort_keys=True).encode()).hexdigest()[:16]
