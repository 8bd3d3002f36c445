"""Ovens that lose more heat, or less, than their description says: the heat balance with all its losses in proportion.

Let every conductance from the pot outwards be r times what the description gives - films, long wave, insulation,
rim, joints, cover and shell alike. Then

    capacity dT/dt = watts + r (conductance x difference)

is the same equation as that of an oven with r times less capacity, r times fewer watts and r times less exchange
between pot and food, and it needs no kernel of its own. Without sun and at rest every temperature between pot and
air stays what it was, so that the loss goes exactly with r. The steam that leaves by the lid is of the food, not of
the oven, and is not scaled.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import heat
from .heat import Build, Histories, Plateau, Weather

Floats = NDArray[np.float64]

_AGAINST_THE_LOSSES = (
    *("solid_capacity", "water_mass", "shell_conductance", "film_conductance", "vent_conductance"),
    *("pot_capacity", "air_capacity", "sheet_capacity", "insulation_capacity", "shell_capacity"),
    "cover_capacity",
)
"""Fields of `Build` that stand on the other side of the balance from the losses."""


def run(
    build: Build,
    weather: Weather,
    lane_day: NDArray[np.int64],
    intake: Floats,
    *,
    loss_ratio: Floats,
    **how: Any,
) -> Histories:
    """Temperatures and energy books of all lanes, as `heat.run`.

    Parameters
    ----------
    loss_ratio : float64[lane]
        Heat lost at like temperatures, over what the description says.
    """
    if (loss_ratio == 1.0).all():  # the same bits for less: copies are a twentieth of the march
        return heat.run(build, weather, lane_day, intake, **how)
    watts = np.asarray(intake / loss_ratio[:, None, None])
    out = heat.run(_slowed(build, loss_ratio), weather, lane_day, watts, **how)
    recorded = loss_ratio[: len(out.water), None]
    return out._replace(
        end_water=out.end_water * loss_ratio,
        flows=out.flows * loss_ratio[:, None],
        water=out.water * recorded,
    )


def plateau(build: Build, *, loss_ratio: Floats, intake: Floats, **how: Any) -> Plateau:
    """Where every lane settles under constant sun and weather, as `heat.plateau`."""
    settled = heat.plateau(_slowed(build, loss_ratio), intake=intake / loss_ratio[:, None], **how)
    return settled._replace(steam=settled.steam * loss_ratio)


def _slowed(build: Build, loss_ratio: Floats) -> Build:
    """What answers r times as strongly to the same losses."""
    return build._replace(**{name: getattr(build, name) / loss_ratio for name in _AGAINST_THE_LOSSES})
