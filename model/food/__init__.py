"""Food: boiling, heat doses, composition, and the meals that go into a pot."""

from .boiling import boiling_temperature, latent_heat, pressure_at_altitude, saturation_pressure
from .composition import Composition, component
from .cook import (
    COOK_REFERENCE,
    COOK_Z,
    DANGER_HIGH,
    DANGER_LOW,
    BandTime,
    Dosed,
    HeatNeed,
    Reached,
    cook_value,
    first_time,
    lethality,
    time_between,
    time_to,
)
from .foods import Food, find_food, load_foods
from .portions import (
    Contents,
    Meal,
    centre_offset,
    centre_temperature,
    coldest_temperature,
    contents,
    surface_offset,
)

__all__ = [
    "COOK_REFERENCE",
    "COOK_Z",
    "DANGER_HIGH",
    "DANGER_LOW",
    "BandTime",
    "Composition",
    "Contents",
    "Dosed",
    "Food",
    "HeatNeed",
    "Meal",
    "Reached",
    "boiling_temperature",
    "centre_offset",
    "centre_temperature",
    "coldest_temperature",
    "component",
    "contents",
    "cook_value",
    "find_food",
    "first_time",
    "latent_heat",
    "lethality",
    "load_foods",
    "pressure_at_altitude",
    "saturation_pressure",
    "surface_offset",
    "time_between",
    "time_to",
]
