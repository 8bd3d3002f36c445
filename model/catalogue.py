"""What is named rather than measured: materials and foods, the shipped lists with the user's own."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from .food import Food, load_foods
from .materials import Materials, load_materials


@dataclass(frozen=True)
class Catalogue:
    """Materials by group, and foods."""

    materials: Materials
    foods: Mapping[str, Food]

    def names(self) -> dict[str, tuple[str, ...]]:
        """Every name by its group; `foods` is one of the groups."""
        groups = {group: tuple(known) for group, known in self.materials.groups.items()}
        return groups | {"foods": tuple(self.foods)}

    def meaning(self, group: str, name: str) -> str:
        """What an entry is, in a phrase."""
        return self.foods[name].meaning if group == "foods" else self.materials.find(group, name).meaning


def load_catalogue(*, materials: Path | None = None, foods: Path | None = None) -> Catalogue:
    """The shipped lists, with the entries of the user's own files added or in their place.

    Raises
    ------
    DescriptionError
        Every fault of a file at once.
    OSError
        A file that cannot be read.
    """
    return Catalogue(load_materials(materials), load_foods(foods))
