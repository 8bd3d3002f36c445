"""Long-wave exchange between surfaces, and with the sky and the ground."""

from ..compiled import inlined
from ..constants import STEFAN_BOLTZMANN


@inlined
def radiant_film(first: float, second: float) -> float:
    """Black-body exchange per kelvin of difference, sigma (T1^2 + T2^2)(T1 + T2). [W/(m2 K)]

    Exact, not a linearisation: times (T1 - T2) it is sigma (T1^4 - T2^4). An exchange
    area [m2] times this is a conductance.
    """
    return STEFAN_BOLTZMANN * (first * first + second * second) * (first + second)


@inlined
def emittance_between_plates(first: float, second: float) -> float:
    """Effective emittance of two large parallel grey plates. [1]

    Source
    ------
    Closed form, e.g. Duffie and Beckman, "Solar Engineering of Thermal Processes",
    equation 3.8.2.
    """
    return first * second / (first + second - first * second)


@inlined
def sky_view_plane(cosine_of_tilt: float) -> float:
    """Share of the hemisphere over a tilted plane that is sky; the rest is ground. [1]

    Closed form for a level horizon (1 + cos tilt) / 2.
    """
    return 0.5 * (1.0 + cosine_of_tilt)


@inlined
def sky_view_rest(cosine_of_tilt: float, plane_share: float) -> float:
    """Share of sky seen by the rest of a convex body one face of which is a tilted plane. [1]

    The area vectors of a closed surface sum to zero, so a convex body sees sky with half of
    its area, however it lies; what the plane sees is taken off. `plane_share` is the area of
    the plane over the area of the rest. The ground under the body counts as ground seen.
    """
    return 0.5 * max(1.0 - plane_share * cosine_of_tilt, 0.0)
