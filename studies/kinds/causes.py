"""What may be wrong with an oven that cooks otherwise than its model says: a factor each, and its plausible range."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...model import Design, Quantity

Floats = NDArray[np.float64]
Way = Literal["light", "loss", "pot"]


@dataclass(frozen=True)
class Cause:
    """One thing that may be wrong.

    Parameters
    ----------
    factor : str
        Of the design.
    meaning : str
        In a builder's words.
    way : str
        What it acts on: light into the oven, heat out of it, or what is in the pot.
    look : str
        What to do about it; begins with a verb.
    span : callable
        The factor's own value to the ends of what is plausible (common practice, no source).
    evenly : bool
        Whether its range is gridded evenly, or in ratios.
    """

    factor: str
    meaning: str
    way: Way
    look: str
    span: Callable[[float], tuple[float, float]]
    evenly: bool = True


CAUSES = {
    "dull mirror": Cause(
        "soiling",
        "dust, haze or scratches on the mirror",
        "light",
        "wash the mirror, hold a torch and white card to it, and cook again",
        lambda own: (min(own, 0.0), 0.45),
    ),
    "wavy mirror": Cause(
        "slope_error",
        "facets that are bent or buckled",
        "light",
        "look at a straight line in each facet, and straighten those that bend it",
        lambda own: (0.002, 0.08),
    ),
    "fogged cover": Cause(
        "fog",
        "steam or dirt on the cover",
        "light",
        "wipe the cover inside and out, and vent the pot's steam",
        lambda own: (min(own, 0.0), 0.45),
    ),
    "aimed beside": Cause(
        "azimuth_bias",
        "an oven turned too far or not far enough",
        "light",
        "check the sight with a shadow, and turn the oven on time",
        lambda own: (-0.35, 0.35),
    ),
    "aimed high or low": Cause(
        "elevation_bias",
        "an oven tilted too high or too low",
        "light",
        "check the sight with a shadow, and the tilt on time",
        lambda own: (-0.35, 0.35),
    ),
    "less light": Cause(
        "light_ratio",
        "less light in the pot for another reason: its paint, a shadow, a sunlight meter that reads high",
        "light",
        "look for shadows and worn paint, clean the sunlight meter and hold it beside another one",
        lambda own: (0.35, 1.3),
    ),
    "wet insulation": Cause(
        "insulation_thickness",
        "insulation that is wet, squeezed or missing, as if it were thinner",
        "loss",
        "open a panel: weigh and feel the insulation, dry it and fill the corners",
        lambda own: (0.12 * own, 1.25 * own),
        evenly=False,
    ),
    "leak": Cause(
        "leak_area",
        "gaps at the cover or the door",
        "loss",
        "hold a thread of wool along the joints in a breeze, and tape them for a second cook",
        lambda own: (min(own, 2e-5), 4e-3),
        evenly=False,
    ),
    "other wind": Cause(
        "wind_share",
        "more or less wind at the oven than was taken",
        "loss",
        "measure the wind at the oven's height, or put up a screen",
        lambda own: (0.0, 2.0),
    ),
    "loose lid": Cause(
        "lid_gap",
        "steam that leaves by a loose lid",
        "pot",
        "weigh the pot before and after, and weight the lid down",
        lambda own: (min(own, 2e-6), 2e-3),
        evenly=False,
    ),
    "other load": Cause(
        "food_mass",
        "more or less in the pot than was noted",
        "pot",
        "weigh what goes into the pot",
        lambda own: (0.7 * own, 1.45 * own),
        evenly=False,
    ),
    "poor contact": Cause(
        "coupling_ratio",
        "food that takes heat from the pot more slowly or faster: stirring, or where its thermometer sat",
        "pot",
        "move the thermometer to the middle of the food, and note whether it was stirred",
        lambda own: (0.2, 4.0),
        evenly=False,
    ),
}
"""By the name that a study's key `causes` takes."""

_POINTS = 9


def has_cause(name: str, design: Design) -> bool:
    """Whether a design has the factor that a cause changes."""
    return CAUSES[name].factor in design.factors


def plausible_values(name: str, design: Design) -> Floats:
    """The grid of a cause over its plausible range, the design's own value among its points. float64[point] [SI]"""
    cause = CAUSES[name]
    spec = design.factors[cause.factor]
    assert isinstance(spec, Quantity)
    own = design.value(cause.factor)
    low, high = cause.span(0.0 if own is None else float(own))
    low, high = max(low, spec.low), min(high, spec.high)
    grid = np.linspace(low, high, _POINTS) if cause.evenly else np.geomspace(max(low, 1e-9), high, _POINTS)
    inside = own is not None and low < own < high
    return np.unique([*grid, own]) if inside else np.asarray(grid)
