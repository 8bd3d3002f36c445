"""The list of foods: what each is made of, what it needs, and where every number comes from."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..constants import ZERO_CELSIUS
from ..described import Checked, DescriptionError, choice, quantity, suggestion
from .composition import Composition
from .cook import COOK_REFERENCE, COOK_Z, HeatNeed

SHIPPED = Path(__file__).with_name("foods.toml")
KINDS = ("liquid", "pieces in liquid", "solid")
DIMENSIONS = {"slab": 1, "cylinder": 2, "sphere": 3}
MEAN_TEMPERATURE = 333.15  # K; midway from 20 to 100 degC, where a meal's properties are taken


@dataclass(frozen=True, kw_only=True)
class Food(Checked):
    """One food of the list; `source` says where each number comes from."""

    name: str
    meaning: str
    composition: Composition
    kind: str = choice(
        KINDS, "what carries heat inward: its own circulation, liquid round pieces, conduction"
    )
    added_water: float = quantity("share", 0.0, 20.0, "water added per mass of food")
    portion: float = quantity("mass", 0.005, 5.0, "food for one person, before water is added")
    start_temperature: float = quantity("temperature", 273.15, 343.15, "when put in")
    film: float = quantity("conductance", 1.0, 5000.0, "pot to contents")
    shape: str = choice(tuple(DIMENSIONS), "of the pieces of a solid", default="sphere")
    piece: float | None = quantity("mass", 1e-4, 30.0, "of one piece; else all is one piece", default=None)
    aspect: float = quantity(
        "share", 0.2, 20.0, "cylinder length / diameter, slab width / depth", default=1.0
    )
    porosity: float = quantity("share", 0.0, 0.95, "volume of air", default=0.0)
    cook: HeatNeed | None = None
    kill: HeatNeed | None = None
    safe_peak: float | None = quantity(
        "temperature", 313.15, 373.15, "the centre must touch it", default=None
    )
    cautions: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict, repr=False)

    def source(self, name: str) -> str:
        """Where a number of this food comes from, by its key in the foods file."""
        return self.sources[name]

    @property
    def dimension(self) -> int:
        """1 slab, 2 cylinder, 3 sphere."""
        return DIMENSIONS[self.shape]

    @property
    def density(self) -> float:
        """Of the food itself at mid-cook, pores included. [kg m-3]"""
        return self.composition.density(MEAN_TEMPERATURE, porosity=self.porosity)

    @property
    def conductivity(self) -> float:
        """Of the food itself at mid-cook, pores included. [W m-1 K-1]"""
        return self.composition.conductivity(MEAN_TEMPERATURE, porosity=self.porosity)

    def half_width(self, mass: ArrayLike) -> NDArray[np.float64]:
        """Radius, or half the thickness of a slab, of one piece. [m]

        Parameters
        ----------
        mass : float or float64[lane]   [kg]
            Of all the food; matters only where it is one piece.
        """
        volume = np.minimum(np.asarray(mass, np.float64), self.piece or np.inf) / self.density
        match self.shape:
            case "sphere":
                cube = 3 * volume / (4 * math.pi)
            case "cylinder":  # volume = pi R^2 (2 R aspect)
                cube = volume / (2 * math.pi * self.aspect)
            case _:  # slab: square plate of side 2 R aspect, thickness 2 R
                cube = volume / (8 * self.aspect**2)
        return np.cbrt(cube)


def find_food(name: str, foods: Mapping[str, Food] | None = None) -> Food:
    """The food of that name, from the shipped list or another.

    Raises
    ------
    DescriptionError
        No such food; says the nearest known name.
    """
    known = load_foods() if foods is None else foods
    if name in known:
        return known[name]
    raise DescriptionError(
        [f"food = {name!r}: not in the list; {suggestion(name, known)} ({', '.join(known)})"]
    )


def load_foods(extra: Path | None = None) -> Mapping[str, Food]:
    """All foods by name: the shipped file, with those of `extra` added or in their place.

    Raises
    ------
    DescriptionError
        Every fault of the file at once: unknown keys, missing keys or sources, values out of range.
    """
    shipped = _shipped()
    return shipped if extra is None else MappingProxyType({**shipped, **_read(extra)})


@cache
def _shipped() -> Mapping[str, Food]:
    return MappingProxyType(_read(SHIPPED))


def _read(path: Path) -> dict[str, Food]:
    """The foods of one file; its rules and the shipped ones may be named in it."""
    tables = tomllib.loads(path.read_text("utf-8"))
    faults = [f"{path.name}: unknown table {t}; {suggestion(t, _TABLES)}" for t in tables if t not in _TABLES]
    rules = {**_rules(tomllib.loads(SHIPPED.read_text("utf-8"))), **_rules(tables)}
    foods = {}
    for name, entry in tables.get("foods", {}).items():
        wrong = _faults_of(entry, rules)
        if not wrong:
            try:
                foods[name] = _food(name, entry, rules)
            except ValueError as error:
                wrong = str(error).splitlines()
        faults += [f"{path.name}, foods.{name}: {fault}" for fault in wrong]
    if faults:
        raise DescriptionError(faults)
    return foods


def _rules(tables: Mapping[str, Any]) -> dict[str, HeatNeed]:
    return {
        name: HeatNeed(
            seconds=60.0 * rule["minutes"],
            z=rule["z"],
            reference=rule["reference_degC"] + ZERO_CELSIUS,
            least_temperature=rule["least_degC"] + ZERO_CELSIUS,
            source=rule["source"],
        )
        for name, rule in tables.get("rules", {}).items()
    }


_TABLES = ("rules", "foods")
_REQUIRED = ("kind", "meaning", "composition", "added_water", "portion", "start_degC", "film", "sources")
_OPTIONAL = ("shape", "piece", "aspect", "porosity", "cook_minutes", "kill", "safe_peak_degC", "cautions")
_UNSOURCED = {"kind", "meaning", "cautions", "sources"}


def _faults_of(entry: Mapping[str, Any], rules: Mapping[str, HeatNeed]) -> list[str]:
    """What keeps a table of a foods file from being read: keys, sources, names."""
    known = _REQUIRED + _OPTIONAL
    sources, parts, kill = entry.get("sources", {}), entry.get("composition", {}), entry.get("kill")
    components = [f.name for f in fields(Composition)]
    numbers = [key for key in entry if key in known and key not in _UNSOURCED]
    return [
        *(f"{key} is missing" for key in _REQUIRED if key not in entry),
        *(f"unknown key {key}; {suggestion(key, known)}" for key in entry if key not in known),
        *(f"sources.{key} is missing: every number needs one" for key in numbers if not sources.get(key)),
        *(f"unknown component {x}; {suggestion(x, components)}" for x in parts if x not in components),
        *([f"no rule {kill}; {suggestion(kill, rules)}"] if kill is not None and kill not in rules else []),
    ]


def _food(name: str, entry: Mapping[str, Any], rules: Mapping[str, HeatNeed]) -> Food:
    """One faultless table of a foods file as a `Food`."""
    plain = ("kind", "meaning", "added_water", "portion", "film", "shape", "piece", "aspect", "porosity")
    kill, peak = entry.get("kill"), entry.get("safe_peak_degC")
    return Food(
        name=name,
        **{key: entry[key] for key in plain if key in entry},
        composition=Composition(**entry["composition"]),
        start_temperature=entry["start_degC"] + ZERO_CELSIUS,
        cook=_cook_need(entry["cook_minutes"], entry["sources"]) if "cook_minutes" in entry else None,
        kill=None if kill is None else rules[kill],
        safe_peak=None if peak is None else peak + ZERO_CELSIUS,
        cautions=tuple(entry.get("cautions", ())),
        sources=MappingProxyType(dict(entry["sources"])),
    )


def _cook_need(minutes: float, sources: Mapping[str, str]) -> HeatNeed:
    return HeatNeed(
        seconds=60.0 * minutes,
        z=COOK_Z,
        reference=COOK_REFERENCE,
        least_temperature=0.0,
        source=sources["cook_minutes"],
    )
