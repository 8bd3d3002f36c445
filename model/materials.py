"""What ovens are made of: groups of materials read from a list in which every number names its source.

The shipped list is `materials.toml`; a user's file of the same form adds materials or replaces them. Each
property is written `{ value = 0.86, source = "..." }`; keys are in SI unless they end in another unit.
"""

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from .constants import ZERO_CELSIUS
from .described import Checked, DescriptionError, Quantity, quantity, specs, suggestion

SHIPPED = Path(__file__).with_name("materials.toml")
HANDBOOK_TEMPERATURE = 297.15  # K; 24 degC, the mean at which handbooks list conductivities of insulation

# The same property has the same bounds in every group, from the thinnest film and lightest wool to copper.
_THICKNESS = ("length", 5e-6, 0.1, "usual thickness")
_DENSITY = ("density", 5.0, 20_000.0, "density")
_CONDUCTIVITY = ("conductivity", 0.01, 500.0, "thermal conductivity")
_SPECIFIC_HEAT = ("specific heat", 200.0, 4500.0, "heat capacity per mass")
_EMITTANCE = ("share", 0.01, 1.0, "hemispherical emittance in the long wave")
_SERVICE = ("temperature", 310.0, 2000.0, "highest temperature in daily service")


@dataclass(frozen=True, kw_only=True)
class Material(Checked):
    """What every material has: a name, a meaning, what ends its service, and a source per number."""

    name: str
    meaning: str
    limited_by: str
    sources: Mapping[str, str] = field(default_factory=dict, repr=False)
    service_limit: float = quantity(*_SERVICE)

    def source(self, name: str) -> str:
        """Where a property's number comes from."""
        return self.sources[name]

    @property
    def numbers(self) -> dict[str, float]:
        """Property -> value in SI."""
        return {name: getattr(self, name) for name in specs(self)}


@dataclass(frozen=True, kw_only=True)
class Mirror(Material):
    """A mirror sheet with the backing it is bought or glued on."""

    solar_reflectance: float = quantity("share", 0.2, 0.99, "specular, sun's spectrum, new and clean")
    slope_error: float = quantity("angle", 0.0, 0.2, "waviness, one axis, standard deviation")
    emittance: float = quantity(*_EMITTANCE)
    thickness: float = quantity(*_THICKNESS)
    density: float = quantity(*_DENSITY)
    conductivity: float = quantity(*_CONDUCTIVITY)
    specific_heat: float = quantity(*_SPECIFIC_HEAT)


@dataclass(frozen=True, kw_only=True)
class Cover(Material):
    """A clear sheet or film."""

    refractive_index: float = quantity("share", 1.2, 2.0, "refractive index")
    extinction: float = quantity("extinction", 0.0, 2000.0, "absorption per path length, sun's spectrum")
    emittance: float = quantity(*_EMITTANCE)
    thickness: float = quantity(*_THICKNESS)
    density: float = quantity(*_DENSITY)
    conductivity: float = quantity(*_CONDUCTIVITY)
    specific_heat: float = quantity(*_SPECIFIC_HEAT)


@dataclass(frozen=True, kw_only=True)
class Insulation(Material):
    """What fills the jacket. Its conductivity grows with temperature: by a third from room to service."""

    conductivity: float = quantity(*_CONDUCTIVITY)
    temperature_coefficient: float = quantity(
        "per kelvin", 0.0, 0.02, "relative growth of conductivity with temperature"
    )
    density: float = quantity(*_DENSITY)
    specific_heat: float = quantity(*_SPECIFIC_HEAT)

    def conductivity_at(self, temperature: float) -> float:
        """Conductivity at a mean temperature of the layer [K]. [W m-1 K-1]

        Source
        ------
        ISO 10456:2007, section 7.2: factor exp(f (T2 - T1)); f in its annex A, fitted from 0 to 30 degC. At
        80 degC it is an extrapolation, held up by Incropera et al., table A.3: see tests.
        """
        return self.conductivity * math.exp(
            self.temperature_coefficient * (temperature - HANDBOOK_TEMPERATURE)
        )


@dataclass(frozen=True, kw_only=True)
class Shell(Material):
    """The outer skin."""

    emittance: float = quantity(*_EMITTANCE)
    thickness: float = quantity(*_THICKNESS)
    density: float = quantity(*_DENSITY)
    conductivity: float = quantity(*_CONDUCTIVITY)
    specific_heat: float = quantity(*_SPECIFIC_HEAT)


@dataclass(frozen=True, kw_only=True)
class PotMetal(Material):
    """Metal of pot and lid."""

    thickness: float = quantity(*_THICKNESS)
    density: float = quantity(*_DENSITY)
    conductivity: float = quantity(*_CONDUCTIVITY)
    specific_heat: float = quantity(*_SPECIFIC_HEAT)


@dataclass(frozen=True, kw_only=True)
class Finish(Material):
    """Outer finish of pot and lid."""

    solar_absorptance: float = quantity("share", 0.05, 0.99, "hemispherical, sun's spectrum")
    emittance: float = quantity(*_EMITTANCE)


@dataclass(frozen=True, kw_only=True)
class Glue(Material):
    """What holds sheets, seams and seals; only its service limit matters here."""


GROUPS: Mapping[str, type[Material]] = MappingProxyType(
    {
        "mirrors": Mirror,
        "covers": Cover,
        "insulations": Insulation,
        "shells": Shell,
        "pots": PotMetal,
        "finishes": Finish,
        "glues": Glue,
    }
)
M = TypeVar("M", bound=Material)


@dataclass(frozen=True)
class Materials:
    """All groups; frozen, so one list can serve every thread."""

    groups: Mapping[str, Mapping[str, Material]]

    def find(self, group: str, name: str) -> Material:
        """One material.

        Raises
        ------
        DescriptionError
            No such group or name; says the nearest known one.
        """
        if group not in self.groups:
            raise DescriptionError(
                [f"{group!r}: no such group of materials; {suggestion(group, self.groups)}"]
            )
        known = self.groups[group]
        if name not in known:
            raise DescriptionError([f"{name!r}: not among the {group}; {suggestion(name, known)}"])
        return known[name]

    def numbers(self, group: str, name: str) -> dict[str, float]:
        """Property -> value in SI of one material."""
        return self.find(group, name).numbers

    def source(self, group: str, name: str, property_name: str) -> str:
        """Where one number comes from."""
        return self.find(group, name).source(property_name)

    def get(self, kind: type[M], name: str) -> M:
        """One material by its class, as in `get(Insulation, "mineral-wool")`."""
        group = next(group for group, member in GROUPS.items() if member is kind)
        found = self.find(group, name)
        assert isinstance(found, kind)  # `_read` fills a group with its own class only
        return found


@cache
def materials() -> Materials:
    """The shipped list."""
    return _read(SHIPPED)


def load_materials(extra: Path | None = None) -> Materials:
    """The shipped list, with the materials of `extra` added or in their place.

    Raises
    ------
    DescriptionError
        Every fault of the file at once: unknown groups, keys, missing values or sources, values out of range.
    """
    if extra is None:
        return materials()
    more = _read(extra).groups
    return Materials(
        MappingProxyType(
            {group: MappingProxyType({**known, **more[group]}) for group, known in materials().groups.items()}
        )
    )


def _read(path: Path) -> Materials:
    tables = tomllib.loads(path.read_text("utf-8"))
    faults = [f"{path.name}: unknown group {g}; {suggestion(g, GROUPS)}" for g in tables if g not in GROUPS]
    groups: dict[str, dict[str, Material]] = {group: {} for group in GROUPS}
    for group, kind in GROUPS.items():
        for name, entry in tables.get(group, {}).items():
            found, wrong = _material(kind, name, entry)
            faults += [f"{path.name}, {group}.{name}: {fault}" for fault in wrong]
            if found is not None:
                groups[group][name] = found
    if faults:
        raise DescriptionError(faults)
    return Materials(MappingProxyType({g: MappingProxyType(known) for g, known in groups.items()}))


# Endings of keys in a list, as factor and offset to SI.
_UNITS = {"_degC": (1.0, ZERO_CELSIUS), "_mrad": (1e-3, 0.0), "_mm": (1e-3, 0.0)}
_TEXTS = ("meaning", "limited_by")


def _material(kind: type[Material], name: str, entry: Mapping[str, Any]) -> tuple[Material | None, list[str]]:
    """One entry of a list as a material, or the faults that forbid it."""
    known = [f.name for f in fields(kind) if isinstance(f.metadata.get("spec"), Quantity)]
    faults = [f"{key} is missing" for key in _TEXTS if not isinstance(entry.get(key), str)]
    values: dict[str, float] = {}
    sources: dict[str, str] = {}
    for key, given in entry.items():
        if key in _TEXTS:
            continue
        stem, factor, offset = _si(key)
        match given:
            case _ if stem not in known:
                faults.append(f"unknown property {key}; {suggestion(stem, known)}")
            case {"value": int() | float() as value, "source": str() as source, **rest} if (
                source and not rest
            ):
                values[stem], sources[stem] = factor * value + offset, source
            case _:
                faults.append(f'{key}: write {{ value = 1.0, source = "where from" }}')
    faults += [f"{stem} is missing" for stem in known if stem not in values and _si_missing(stem, entry)]
    if faults:
        return None, faults
    details: dict[str, Any] = {key: entry[key] for key in _TEXTS} | values
    try:
        return kind(name=name, sources=MappingProxyType(sources), **details), []
    except DescriptionError as error:
        return None, error.faults


def _si(key: str) -> tuple[str, float, float]:
    """Property a key stands for, with the factor and offset that bring its value to SI."""
    for ending, (factor, offset) in _UNITS.items():
        if key.endswith(ending):
            return key.removesuffix(ending), factor, offset
    return key, 1.0, 0.0


def _si_missing(stem: str, entry: Iterable[str]) -> bool:
    """Whether no key of the entry, faulty or not, stands for the property."""
    return all(_si(key)[0] != stem for key in entry)
