"""Unit and long name of every variable a simulation gives: the one list, in the spelling of UDUNITS."""

import xarray as xr

from .described import SI, stored_unit
from .design import Design
from .merit import LIMITS, MERITS

LABELS: dict[str, tuple[str, str]] = {
    "design": ("1", "number of the design"),
    "day": ("1", "number of the day"),
    "day_label": ("1", "which day"),
    "day_month": ("1", "month of the day, from 1"),
    "day_weight": ("d", "real days that the day stands for"),
    "time": ("s", "time since the food was loaded"),
    "clock": ("", "instant, UTC"),
    "node": ("1", "node of the heat balance"),
    "surface": ("1", "where beam light ends"),
    "absorber": ("1", "part that takes in light"),
    "status": ("1", "0 ran to the end, else why the design could not be run"),
    "safe_after": ("s", "loading to safe to eat; nan: never"),
    "done_after": ("s", "loading to done; nan: never"),
    "cook_dose": ("s", "cook value at the end of the day, as time at 100 degC"),
    "lukewarm": (
        "s",
        "time between 5 and 60 degC on the way to safe, and again before it is eaten if it is kept after the day; "
        "all of it on days it never gets safe",
    ),
    "held_hot": ("s", "time above 60 degC after done, by the day's end"),
    "cooled": ("s", "time between 5 and 60 degC after the hottest moment, by the day's end"),
    "warm_for": (
        "s",
        "time above 60 degC in the closed oven after the day's end; 0 where not done or not hot then",
    ),
    "still_warm": (
        "1",
        "1 where still above 60 degC 12 h after the day's end: warm_for is then that or more",
    ),
    "evening": ("s", "time since the day's end"),
    "evening_food_temperature": (
        "K",
        "coldest part of food kept in the closed oven; nan where it was not hot",
    ),
    "evening_air_temperature": ("K", "air after the day's end"),
    "peak_contents": ("K", "hottest the coldest part of the food gets"),
    "light_share": ("1", "share of the day's beam at the mouth that the pot takes in"),
    "steam_heat": ("J", "heat that left as steam"),
    "sun_heat": ("J", "sunlight the pot took in"),
    "temperature": ("K", "temperature of a node"),
    "food_temperature": ("K", "coldest part of the food"),
    "water": ("kg", "water left in the pot"),
    "absorbed": ("W", "light taken in"),
    "beam_ends": ("1", "share of the beam at the mouth that ends on a surface"),
    "aim_azimuth": ("rad", "azimuth the oven is set to, clockwise from north"),
    "aim_elevation": ("rad", "elevation the oven is set to"),
    "aim_azimuth_error": ("rad", "azimuth of the sun less that of the oven"),
    "aim_elevation_error": ("rad", "elevation of the sun less that of the oven"),
    "aim_off_axis": ("rad", "angle between the oven's axis and the sun"),
    "dni": ("W m-2", "beam on a plane facing the sun"),
    "dhi": ("W m-2", "diffuse on a horizontal plane"),
    "ghi": ("W m-2", "global on a horizontal plane"),
    "air_temperature": ("K", "air"),
    "wind_speed": ("m s-1", "wind of the weather"),
    "sun_elevation": ("rad", "elevation of the sun"),
}


def labelled(dataset: xr.Dataset, design: Design, currency: str) -> xr.Dataset:
    """The dataset with a unit and a long name on everything in it."""
    factors = {name: (stored_unit(spec), spec.meaning) for name, spec in design.factors.items()}
    merits = {name: (merit.unit(currency), merit.meaning) for name, merit in (MERITS | LIMITS).items()}
    known = LABELS | factors | merits
    for name in dataset.variables:
        unit, meaning = known[str(name)]
        attributes = {"long_name": meaning} | ({"units": unit} if unit else {})  # xarray keeps clocks' units
        dataset[name].attrs |= attributes
    return dataset


def text_of(dimension: str, meaning: str) -> dict[str, str]:
    """Unit, long name and dimension of a variable, as attributes."""
    return {"units": SI[dimension], "long_name": meaning, "dimension": dimension}
