"""A config file -> one frozen `Plan`, or one error that lists every fault with its path."""

import dataclasses
import hashlib
import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import BaseModel, RootModel, ValidationError

from ..model import (
    Air,
    Box,
    Catalogue,
    Cover,
    DescriptionError,
    Design,
    DriveTrain,
    Funnel,
    Jacket,
    Meal,
    Oven,
    Place,
    Pot,
    Price,
    Sky,
    SkyError,
    Spec,
    Stand,
    Surroundings,
    clear_sky,
    clearness_sky,
    file_sky,
    load_catalogue,
    misfit,
    specs,
)
from .aiming_parts import AIMINGS, Rigged, rigged
from .quantity import show
from .schema import made, sentence
from .sections import (
    AimingSection,
    AimingSectionOfStudy,
    BoxSection,
    ClearnessSection,
    ClearSection,
    ConfigSection,
    CoverSection,
    DaySection,
    FileSection,
    FunnelSection,
    JacketSection,
    MealSection,
    PlaceSection,
    PotSection,
    SearchSection,
    SensitivitySection,
    SkySection,
    StandSection,
    StudySection,
    SurroundingsSection,
)
from .varying import Vary, VaryError, read_varies

OVEN_PARTS: dict[str, tuple[type, type[BaseModel]]] = {
    "funnel": (Funnel, FunnelSection),
    "cover": (Cover, CoverSection),
    "jacket": (Jacket, JacketSection),
    "pot": (Pot, PotSection),
    "box": (Box, BoxSection),
    "stand": (Stand, StandSection),
}
RootSky = RootModel[SkySection]
RootAiming = RootModel[AimingSection]


class ConfigError(ValueError):
    """Everything that is wrong with a config, one sentence a fault; nothing has been run or written."""

    def __init__(self, source: str, faults: list[str]) -> None:
        self.source, self.faults = source, faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{source}: {count}", *(f"  {fault}" for fault in faults)]))


@dataclass(frozen=True, kw_only=True)
class Step:
    """One study of a plan: its section and the factors it varies."""

    section: StudySection
    varies: tuple[Vary, ...] = ()

    @property
    def kind(self) -> str:
        """The word that names the kind of study."""
        return str(self.section.kind)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All that a config asks for, checked. `sky` is what costs time to make; it is made once, in `load`."""

    title: str
    seed: int
    rays: int
    place: Place
    sky: Sky
    design: Design
    train: DriveTrain | None  # of a drive that is given by its wheel and motor
    catalogue: Catalogue
    currency: str
    prices: Mapping[str, Price]
    steps: tuple[Step, ...]
    source: Path
    text: str
    identity: str  # of what is computed: equal configs in other words have the same


def load(path: Path) -> Plan:
    """Read, check and prepare a config; every fault that can be found without a run is found here.

    Raises
    ------
    ConfigError
        The file is missing, is not TOML, or holds anything that cannot be run.
    """
    text, raw = _read(path)
    faults: list[str] = []
    catalogue = _catalogue(raw, path, faults)
    sections = _validated(raw, catalogue, faults)
    # What can be made is made of the parts that are sound by themselves, so that their faults show as well.
    part = partial(_part, raw, catalogue.names())
    place = _made(Place, part("place", PlaceSection), "", faults)
    sky = _sky(part("sky", RootSky), place, path, faults)
    design, train = _design(part, faults)
    varies = _varies(raw, catalogue, faults)
    faults.extend(_idle_faults(raw, design, varies))
    if sections is not None:
        faults.extend(_study_faults(sections, sky))
    if faults or sections is None or design is None or place is None or sky is None:
        raise ConfigError(str(path), faults)
    reason = misfit(design, sky, catalogue=catalogue)
    if reason is not None:
        raise ConfigError(str(path), [f"oven: {reason}"])
    return Plan(
        title=sections.title,
        seed=sections.seed,
        rays=sections.rays,
        place=place,
        sky=sky,
        design=design,
        train=train,
        catalogue=catalogue,
        currency=sections.prices.currency if sections.prices else "",
        prices=sections.prices.materials if sections.prices else {},
        steps=tuple(Step(section=s, varies=v) for s, v in zip(sections.study, varies, strict=True)),
        source=path,
        text=text,
        identity=_identity(sections, path),
    )


def _read(path: Path) -> tuple[str, dict[str, Any]]:
    try:
        text = path.read_text("utf-8")
        return text, tomllib.loads(text)
    except OSError as error:
        reason = "no such file" if isinstance(error, FileNotFoundError) else error.strerror or str(error)
        raise ConfigError(str(path), [f"cannot be read: {reason}"]) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
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
        known = {name for names in catalogue.names().values() for name in names}
        faults.extend(
            f"prices.materials.{name}: not a name of the catalogue"
            for name in sections.prices.materials
            if name not in known
        )
    return sections


def _varies(raw: dict[str, Any], catalogue: Catalogue, faults: list[str]) -> list[tuple[Vary, ...]]:
    """Factors of every study, read from the raw file so that their faults are found beside all others."""
    factors = _factors(raw)
    studies = raw.get("study")
    varies = []
    for number, study in enumerate(studies if isinstance(studies, list) else [], start=1):
        table = study.get("vary") if isinstance(study, dict) else None
        try:
            varies.append(read_varies(table, factors, catalogue.names()) if isinstance(table, dict) else ())
        except VaryError as error:
            varies.append(())
            faults.extend(f"study[{number}].vary.{fault}" for fault in error.faults)
    return varies


def _idle_faults(raw: dict[str, Any], design: Design | None, varies: list[tuple[Vary, ...]]) -> Iterator[str]:
    """Bends of tiers that neither the oven nor any study has: easily forgotten, and silent."""
    if design is None or any(vary.name == "tiers" for study in varies for vary in study):
        return
    tiers, idle = design.oven.funnel.tiers, design.oven.funnel.idle
    move = f"of no effect with tiers = {tiers}; write tiers = "
    for name in raw["oven"]["funnel"]:
        if name in idle:
            yield f"oven.funnel.{name}: {move}{2 if name.startswith('second') else 3}"
    for number, study in enumerate(varies, start=1):
        for vary in study:
            if vary.name in idle:
                yield f"study[{number}].vary.{vary.name}: {move}{2 if vary.name.startswith('second') else 3}"


def _factors(raw: dict[str, Any]) -> dict[str, Spec]:
    aiming = raw.get("aiming")
    how = aiming.get("how") if isinstance(aiming, dict) else None
    parts = [described for described, _ in OVEN_PARTS.values()]
    # A misspelt aiming is one fault, not one more for each of its fields that a study varies.
    parts += [Meal, Surroundings, *([AIMINGS[how]] if how in AIMINGS else AIMINGS.values())]
    return {name: spec for part in parts for name, spec in specs(part).items()}


def _part(raw: dict[str, Any], names: dict[str, Any], path: str, section: type[BaseModel]) -> Any:
    """One table of the file by itself; None if it is missing or unsound, which is reported elsewhere."""
    table: Any = raw
    for key in path.split("."):
        table = table.get(key, {}) if isinstance(table, dict) else {}
    try:
        return section.model_validate(table, context={"catalogue": names})
    except ValidationError:
        return None


def _made(described: type, values: Any, path: str, faults: list[str]) -> Any:
    """The described thing, or None with its faults told; None also where there are no values."""
    if values is None:
        return None
    try:
        return made(described, values)
    except DescriptionError as error:
        faults.extend(f"{path}{fault}" for fault in error.faults)
        return None


def _design(
    part: Callable[[str, type[BaseModel]], Any], faults: list[str]
) -> tuple[Design | None, DriveTrain | None]:
    """The design, and the wheel and motor of its drive where they are given."""
    oven = {
        name: _made(described, part(f"oven.{name}", section), "oven.", faults)
        for name, (described, section) in OVEN_PARTS.items()
    }
    aimed = _rigged(part("aiming", RootAiming), oven["stand"], faults)
    meal = _made(Meal, part("meal", MealSection), "", faults)
    surroundings = _made(Surroundings, part("surroundings", SurroundingsSection), "", faults)
    if aimed is None or None in (meal, surroundings, *oven.values()):
        return None, None
    try:
        design = Design(oven=Oven(**oven), aiming=aimed.aiming, meal=meal, surroundings=surroundings)
    except DescriptionError as error:
        faults.extend(f"oven.{fault}" for fault in error.faults)
        return None, None
    return design, aimed.train


def _rigged(root: Any, stand: Stand | None, faults: list[str]) -> Rigged | None:
    try:
        return rigged(root.root, stand) if root else None
    except DescriptionError as error:
        faults.extend(error.faults)
        return None


def _sky(root: Any, place: Place | None, path: Path, faults: list[str]) -> Sky | None:
    if root is None or place is None:
        return None
    sky = root.root
    window: dict[str, Any] = {"start": sky.start, "stop": sky.stop, "albedo": sky.albedo}
    try:
        match sky:
            case ClearSection():
                days: dict[str, Any] = {"months": sky.months, "dates": sky.dates, "turbidity": sky.turbidity}
                return clear_sky(place, air=_air(sky.air), **days, **window)
            case ClearnessSection():
                drawn: dict[str, Any] = {"clearness": sky.clearness, "days_per_month": sky.days_per_month}
                return clearness_sky(place, air=_air(sky.air), months=sky.months, **drawn, **window)
            case FileSection():
                days = {"months": sky.months, "dates": sky.dates}
                return file_sky(path.parent / sky.path, place=place, **days, **window)
    except DescriptionError as error:
        faults.extend(f"sky.{fault}" for fault in error.faults)
    except SkyError as error:
        faults.append(f"sky: {error}")
    return None


def _air(section: Any) -> Air:
    return Air(**{f.name: getattr(section, f.name) for f in dataclasses.fields(Air)})


def _study_faults(sections: ConfigSection, sky: Sky | None) -> Iterator[str]:
    """What is wrong with the studies beyond their own tables: their order, picks and counts."""
    searched = False
    for number, study in enumerate(sections.study, start=1):
        here = f"study[{number}]"
        match study:
            case SearchSection():
                searched = True
                yield from _search_faults(study, here, priced=sections.prices is not None)
            case DaySection(day=int() as day) if sky is not None and day > sky.days:
                yield f"{here}.day = {day}: the sky has {sky.days} days"
            case AimingSectionOfStudy(cloud=cloud) if sky is not None and cloud >= sky.step * sky.steps:
                yield (
                    f"{here}.cloud = {show(cloud, 'time')}: allowed under the day's "
                    f"{show(sky.step * sky.steps, 'time')}"
                )
            case SensitivitySection(base_samples=count) if count & (count - 1):
                lower = 1 << (count.bit_length() - 1)
                yield (
                    f"{here}.base_samples = {count}: must be a power of two, such as {lower} or {2 * lower}"
                )
            case _:
                pass
        if not searched and "base" in study.model_fields_set and getattr(study, "base", "") == "chosen":
            yield f'{here}.base = "chosen": no search stands before it; write "config"'


def _search_faults(study: SearchSection, here: str, *, priced: bool) -> Iterator[str]:
    if study.pick != "knee" and study.pick not in study.goals:
        yield f'{here}.pick = "{study.pick}": allowed "knee" or one of the goals'
    if "material_cost" in study.goals and not priced:
        yield f"{here}.goals: material_cost needs a [prices] table"
    if study.trials < study.population:
        yield f"{here}.trials = {study.trials}: allowed {study.population} (one population) or more"


def _identity(sections: ConfigSection, path: Path) -> str:
    """Identity of what will be computed: the effective config and the files it names, not its spelling."""
    digest = hashlib.sha256(json.dumps(sections.model_dump(mode="json"), sort_keys=True).encode())
    named = [sections.materials, sections.foods, getattr(sections.sky, "path", None)]
    for name in filter(None, named):
        digest.update((path.parent / name).read_bytes())
    return digest.hexdigest()[:16]
