"""What every result says of its setting and of its variables, whatever the kind of study."""

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from ...model import LIMITS, MERITS, Design, stored_unit
from ..setting import Setting
from .site import site_of


def attributes(meaning: str, unit: str = "1", **more: str) -> dict[str, str]:
    """Attributes of a variable or coordinate."""
    return {"units": unit, "long_name": meaning, **more}


def described(setting: Setting, design: Design, name: str) -> dict[str, Any]:
    """What a reader of the result alone needs to know of the setting, in words and numbers."""
    local = pd.Timestamp(setting.sky.times[0, 0]).tz_localize("UTC").tz_convert(setting.sky.place.zone)
    return {
        "study_name": name,
        "shown_in": setting.shown_in,
        "rays": setting.rays,
        "currency": setting.currency,
        "place": setting.sky.place.name,
        "timezone": str(setting.sky.place.zone),
        "sky": setting.sky.source,
        "site": json.dumps(site_of(setting.sky)),
        "loaded_at": f"{local:%H:%M}",
        "window": setting.sky.step * setting.sky.steps,
        "days_meant": float(setting.sky.day_weight.sum()),
        "food": design.meal.food,
        "food_mass": design.meal.food_mass,
        "food_cautions": json.dumps(setting.catalogue.foods[design.meal.food].cautions),
        "design": json.dumps({name: design.value(name) for name in design.factors}),
    }


def with_dimensions(dataset: xr.Dataset, design: Design) -> xr.Dataset:
    """The dataset with the dimension of every factor, merit and limit, by which reports choose units."""
    known = {name: merit.dimension for name, merit in (MERITS | LIMITS).items()}
    known |= {name: getattr(spec, "dimension", "count") for name, spec in design.factors.items()}
    for name in dataset.variables:
        stem = str(name)
        for prefix in ("slice_", "chosen_", "margin_"):
            stem = stem.removeprefix(prefix)
        if stem in known:
            dataset[name].attrs["dimension"] = known[stem]
    if "output" in dataset.coords:
        dimensions = [known[str(name)] for name in dataset["output"].to_numpy()]
        own = attributes("dimension of the output")
        dataset = dataset.assign_coords(output_dimension=("output", dimensions, own))
    return dataset


def differing(designs: Sequence[Design]) -> dict[str, Any]:
    """Factors in which the designs differ, as coordinates; nan or no word where a design has no such factor."""
    factors = {name: spec for design in designs for name, spec in design.factors.items()}
    coordinates: dict[str, Any] = {}
    for name, spec in factors.items():
        values = [design.value(name) if name in design.factors else None for design in designs]
        if all(value == values[0] for value in values):
            continue
        words = any(isinstance(value, str) for value in values)
        column = [("" if words else np.nan) if value is None else value for value in values]
        own = attributes(spec.meaning, stored_unit(spec), dimension=getattr(spec, "dimension", "count"))
        coordinates[name] = ("design", np.array(column), own)
    ways = [type(design.aiming).__name__.lower().replace("byhand", "by hand") for design in designs]
    if len(set(ways)) > 1:
        coordinates["how"] = ("design", ways, attributes("how the oven is kept on the sun"))
    return coordinates
